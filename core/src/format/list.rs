//! The one list of file formats: what they are called, how names end, who reads and who writes them.
//!
//! The program's `--format`, the endings it goes by, what the page offers to open, and what a plan can be
//! written as are all looked up here. A new format is one more row.

use super::drawing::doubted;
use super::{Input, Wanted, csv, document, dxf, svg};
#[cfg(feature = "cut")]
use super::{plan_dxf, plan_json, plan_svg, rs274};
#[cfg(feature = "cut")]
use crate::cut::{Accepted, Plan};
use crate::report::Report;
use crate::units::Units;
use crate::{Outline, Refusal};

/// A file format.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[cfg_attr(feature = "cli", derive(clap::ValueEnum))]
#[non_exhaustive]
pub enum Format {
    /// Rows of points with a header x,y and perhaps t and stroke
    Csv,
    /// A document of this tool: an outline with its sizes and relations, a job, hints, a plan
    Json,
    /// A picture in real mm (or inches)
    Svg,
    /// A drawing for other programs
    Dxf,
    /// A program for the machine (RS-274)
    Rs274,
}

#[cfg(feature = "cut")]
/// How a plan is written, where its format leaves a choice.
#[derive(Clone, Debug, Default)]
pub struct PlanOptions {
    /// Unit of length of the file.
    pub units: Units,
    /// A program with the torch off.
    pub dry_run: bool,
    /// How a drawing states the cuts.
    pub entities: plan_dxf::Entities,
    /// The doubts that were looked at and accepted.
    pub accepted: Accepted,
}

type Read = fn(&[u8], &Wanted) -> Result<Input, Refusal>;
type WriteOutline = fn(&Outline, &Report, Units) -> String;
#[cfg(feature = "cut")]
type WritePlan = fn(&Plan, &PlanOptions) -> Result<String, Refusal>;

/// A row of the list.
struct Row {
    format: Format,
    /// How file names end; the first is what is written.
    endings: &'static [&'static str],
    /// The media type, by which browsers and servers know it.
    media: &'static str,
    read: Option<Read>,
    outline: Option<WriteOutline>,
    #[cfg(feature = "cut")]
    plan: Option<WritePlan>,
}

const LIST: [Row; 5] = [
    Row {
        format: Format::Csv,
        endings: &["csv", "txt", "tsv", "tab", "dat", "xyz"],
        media: "text/csv",
        read: Some(csv::read),
        outline: None,
        #[cfg(feature = "cut")]
        plan: None,
    },
    Row {
        format: Format::Json,
        endings: &["json"],
        media: "application/json",
        read: Some(|bytes, _| document::read(bytes)),
        outline: Some(|outline, report, _| document::write(outline, report)),
        #[cfg(feature = "cut")]
        plan: Some(|plan, _| Ok(plan_json::write(plan))),
    },
    Row {
        format: Format::Svg,
        endings: &["svg"],
        media: "image/svg+xml",
        read: Some(svg::read),
        outline: Some(|outline, report, units| doubted(svg::write(outline, units), &report.doubts)),
        #[cfg(feature = "cut")]
        plan: Some(|plan, o| Ok(plan_svg::write(plan, o.units))),
    },
    Row {
        format: Format::Dxf,
        endings: &["dxf"],
        media: "image/vnd.dxf",
        read: Some(dxf::read),
        outline: Some(|outline, report, units| doubted(dxf::write(outline, units), &report.doubts)),
        #[cfg(feature = "cut")]
        plan: Some(|plan, o| {
            let plan = plan.cleared(&o.accepted)?;
            Ok(plan_dxf::write(plan, o.units, o.entities))
        }),
    },
    Row {
        format: Format::Rs274,
        endings: &["ngc"],
        media: "text/plain",
        read: None,
        outline: None,
        #[cfg(feature = "cut")]
        plan: Some(|plan, o| {
            let PlanOptions { units, dry_run, .. } = *o;
            Ok(rs274::write(
                plan.cleared(&o.accepted)?,
                rs274::Options { units, dry_run },
            ))
        }),
    },
];

impl Format {
    /// All formats.
    pub fn all() -> impl Iterator<Item = Self> {
        LIST.iter().map(|row| row.format)
    }

    fn row(self) -> Option<&'static Row> {
        LIST.iter().find(|row| row.format == self)
    }

    /// How the names of its files end, without the dot; the first is what is written.
    #[must_use]
    pub fn endings(self) -> &'static [&'static str] {
        self.row().map_or(&[], |row| row.endings)
    }

    /// How the name of a file ends that is written in it.
    #[must_use]
    pub fn ending(self) -> &'static str {
        self.endings().first().copied().unwrap_or_default()
    }

    /// Its media type.
    #[must_use]
    pub fn media(self) -> &'static str {
        self.row()
            .map_or("application/octet-stream", |row| row.media)
    }

    /// It can be read.
    #[must_use]
    pub fn is_read(self) -> bool {
        self.row().is_some_and(|row| row.read.is_some())
    }

    /// An outline can be written in it.
    #[must_use]
    pub fn takes_outlines(self) -> bool {
        self.row().is_some_and(|row| row.outline.is_some())
    }

    #[cfg(feature = "cut")]
    /// A plan can be written in it.
    #[must_use]
    pub fn takes_plans(self) -> bool {
        self.row().is_some_and(|row| row.plan.is_some())
    }

    /// The format a file name's ending says, if it is one of ours.
    #[must_use]
    pub fn of_name(name: &str) -> Option<Self> {
        let (_, ending) = name.rsplit_once('.')?;
        let named = |row: &&Row| row.endings.iter().any(|e| e.eq_ignore_ascii_case(ending));
        LIST.iter().find(named).map(|row| row.format)
    }

    /// The format the first bytes look like. Anything that is none of the others is taken as CSV,
    /// whose reader says best what is wrong with it.
    #[must_use]
    pub fn of_bytes(bytes: &[u8]) -> Self {
        let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
        let start = bytes.trim_ascii_start();
        match start.first() {
            Some(b'{') => Self::Json,
            Some(b'<') => Self::Svg,
            Some(b'0' | b'9') if first_line_is_group_code(start) => Self::Dxf,
            _ => Self::Csv,
        }
    }

    /// Reads a file of this format.
    pub(super) fn read(self, bytes: &[u8], wanted: &Wanted) -> Result<Input, Refusal> {
        let read = self.row().and_then(|row| row.read);
        let read = read.ok_or_else(|| self.cannot("read, only written"))?;
        read(bytes, wanted)
    }

    /// An outline in this format.
    ///
    /// # Errors
    /// Refuses a format in which no outline is written.
    pub fn write_outline(
        self,
        outline: &Outline,
        report: &Report,
        units: Units,
    ) -> Result<String, Refusal> {
        let write = self.row().and_then(|row| row.outline);
        let write = write.ok_or_else(|| self.cannot("written for an outline"))?;
        Ok(write(outline, report, units))
    }

    #[cfg(feature = "cut")]
    /// A plan in this format.
    ///
    /// # Errors
    /// Refuses a format in which no plan is written, and names the doubts that stand before a file for a machine.
    pub fn write_plan(self, plan: &Plan, options: &PlanOptions) -> Result<String, Refusal> {
        let write = self.row().and_then(|row| row.plan);
        write.ok_or_else(|| self.cannot("written for a plan"))?(plan, options)
    }

    fn cannot(self, what: &str) -> Refusal {
        Refusal::File(format!("files ending in .{} are not {what}", self.ending()))
    }
}

/// A DXF file opens with the group code 0 or 999 alone on its line.
fn first_line_is_group_code(start: &[u8]) -> bool {
    let end = start.iter().position(|b| matches!(b, b'\r' | b'\n'));
    let line = end.and_then(|e| start.get(..e)).unwrap_or(start);
    matches!(line.trim_ascii(), b"0" | b"999")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_format_is_listed_once_and_found_by_each_of_its_endings() {
        let all: Vec<Format> = Format::all().collect();
        for (i, format) in all.iter().enumerate() {
            assert!(!all[..i].contains(format), "{format:?} twice");
            assert!(format.is_read() || format.takes_plans());
            for ending in format.endings() {
                let name = format!("a.b.{}", ending.to_uppercase());
                assert_eq!(Format::of_name(&name), Some(*format));
            }
        }
        assert_eq!(Format::of_name("no ending"), None);
        assert_eq!(Format::of_name("picture.jpg"), None);
    }

    #[test]
    fn a_program_for_the_machine_is_not_read_as_points() {
        let refusal = crate::format::read("cut.ngc", b"G21\nG0 X0 Y0\n", Units::Mm);
        let sentence = refusal.expect_err("nothing reads it").to_string();
        assert!(sentence.contains(".ngc are not read"), "{sentence}");
    }
}
