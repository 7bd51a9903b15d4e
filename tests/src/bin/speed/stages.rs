//! A trace on its way to the outline, stage by stage: each stage fed with what the one before it gave.

use trued::reading::evidence::Instrument;
use trued::reading::search;
use trued::relate::blocks::Noise;
use trued::trace::{CleanPath, Stations, clean};
use trued::{Point, Settings, Trace, true_up};
use trued_tests::pace::Timed;

/// A trace of one path with what every stage but the last makes of it.
pub struct Staged {
    settings: Settings,
    trace: Trace,
    path: CleanPath,
    stations: Stations,
    noise: Noise,
}

impl Staged {
    /// `None` where the trace is refused.
    pub fn of(points: Vec<Point>) -> Option<Self> {
        let settings = Settings::default();
        let trace = Trace::from_strokes([points]);
        let path = clean(&trace, &settings).ok()?.paths.first()?.clone();
        let stations = along(&path, &settings);
        let (_, noise) = search::hand_of(&stations, &settings);
        Some(Self {
            settings,
            trace,
            path,
            stations,
            noise,
        })
    }

    /// How many stations the path has.
    pub fn stations(&self) -> usize {
        self.stations.len()
    }

    /// The whole way.
    pub fn whole(&self) -> Result<trued::Trued, trued::Refusal> {
        true_up(&self.trace, &self.settings, &[])
    }

    /// The whole way and its stages, to be timed.
    pub fn timed(&self) -> Vec<Timed<'_>> {
        vec![
            Timed::new("**trace to outline, with its report**", || self.whole()),
            Timed::new("· cleaning", || clean(&self.trace, &self.settings)),
            Timed::new("· stations", || along(&self.path, &self.settings)),
            Timed::new("· wander", || {
                search::hand_of(&self.stations, &self.settings)
            }),
            Timed::new("· readings", || {
                search::read_path(&self.stations, &self.noise, Instrument::Traced)
            }),
        ]
    }
}

fn along(path: &CleanPath, settings: &Settings) -> Stations {
    Stations::along(
        &path.points,
        path.closed,
        &path.bridged,
        path.step,
        settings.station,
    )
}
