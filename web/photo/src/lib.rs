//! The browser's door to pictures: a translator, in a module of its own that the page loads only when a picture is
//! brought. Pixels come in as a canvas gives them, with what is asked as JSON text; a trace goes out, and the plate as
//! it looks straight from above.

use js_sys::{Float64Array, Function, Uint32Array};
use serde::{Deserialize, Serialize};
use trued::format::template::Paper;
use trued::photo::{self, Ask, Photo, Picture, Scale, TARGET, Wanted, read, target};
use trued::{Doubt, Note, Point, Refusal};
use wasm_bindgen::prelude::*;

/// What the form asks. Lengths are mm.
#[derive(Deserialize)]
struct Asked {
    scale: ScaleAsked,
    /// The frame's corners in the picture, pixels, where the person showed them.
    corners: Option<[Point; 4]>,
    line: LineAsked,
    part: bool,
    thickness: Option<f64>,
}

#[derive(Deserialize)]
#[serde(rename_all = "lowercase")]
enum ScaleAsked {
    Frame(f64, f64),
    A4,
    Letter,
    /// Its lengths as measured on the print, where they were.
    Target(Option<(f64, f64)>),
    Across(f64),
}

#[derive(Deserialize)]
#[serde(rename_all = "lowercase")]
enum LineAsked {
    Middle,
    Inside,
    Outside,
}

impl From<Asked> for Ask {
    fn from(asked: Asked) -> Self {
        let scale = match asked.scale {
            ScaleAsked::Frame(w, h) => Scale::Frame(w, h),
            ScaleAsked::A4 => Scale::Sheet(Paper::A4),
            ScaleAsked::Letter => Scale::Sheet(Paper::Letter),
            ScaleAsked::Target(measured) => {
                let (w, h) = measured.unwrap_or(TARGET);
                Scale::Target(w, h)
            }
            ScaleAsked::Across(w) => Scale::Across(w),
        };
        Self {
            corners: asked.corners,
            line: match asked.line {
                LineAsked::Middle => Wanted::Middle,
                LineAsked::Inside => Wanted::Inside,
                LineAsked::Outside => Wanted::Outside,
            },
            part: asked.part,
            thickness: asked.thickness.unwrap_or(0.0),
            ..Self::of(scale)
        }
    }
}

/// What is told of a picture beside its trace.
#[derive(Serialize)]
struct Told<'a> {
    notes: &'a [Note],
    doubts: &'a [Doubt],
    corners: [Point; 4],
    /// Half-width of the 95 % interval of the scale, as a share.
    plus_minus: f64,
    /// mm from a pixel of the flat picture to the next, and where the middle of its upper left one lies.
    step: f64,
    from: Point,
}

/// What came of a picture.
#[wasm_bindgen]
pub struct Seen(Photo);

#[wasm_bindgen]
impl Seen {
    /// Reads a picture: `rgba` as a canvas gives it, upright. `watch` is told how far the work is, 0 to 1.
    ///
    /// # Errors
    /// The library's refusal, one sentence that says what to do.
    #[wasm_bindgen(constructor)]
    pub fn new(
        width: usize,
        height: usize,
        rgba: Vec<u8>,
        asked: &str,
        watch: &Function,
    ) -> Result<Self, JsError> {
        let asked: Asked =
            serde_json::from_str(asked).map_err(|e| Refusal::Setting(e.to_string()))?;
        let picture = Picture::from_rgba(width, height, rgba)?;
        let mut tell = |share: f64| watch.call1(&JsValue::NULL, &share.into()).is_ok();
        Ok(Self(read(&picture, &asked.into(), &mut tell)?))
    }

    /// Points of the line, x and y by turns, mm.
    #[must_use]
    pub fn points(&self) -> Float64Array {
        let points = self.0.trace.strokes.iter().flat_map(|s| &s.points);
        Float64Array::from(
            points
                .flat_map(|p| [p.x, p.y])
                .collect::<Vec<_>>()
                .as_slice(),
        )
    }

    /// Number of the first point of each stroke.
    #[must_use]
    pub fn starts(&self) -> Uint32Array {
        let mut next = 0;
        let start = |s: &trued::Stroke| {
            let start = next;
            next += u32::try_from(s.points.len()).unwrap_or(u32::MAX);
            start
        };
        Uint32Array::from(
            (self.0.trace.strokes.iter().map(start))
                .collect::<Vec<_>>()
                .as_slice(),
        )
    }

    /// Notes, doubts, scale: JSON text.
    ///
    /// # Errors
    /// Never for what a picture gives.
    pub fn told(&self) -> Result<String, JsError> {
        let photo = &self.0;
        Ok(serde_json::to_string(&Told {
            notes: &photo.notes,
            doubts: &photo.doubts,
            corners: photo.corners,
            plus_minus: photo.plus_minus,
            step: photo.flat.step,
            from: photo.flat.from,
        })?)
    }

    /// Pixels across of the plate from above.
    #[must_use]
    pub fn flat_width(&self) -> usize {
        self.0.flat.size().0
    }

    /// The plate from above, RGBA.
    #[must_use]
    pub fn flat(&self) -> Vec<u8> {
        self.0.flat.rgba()
    }
}

/// What tells the scale in a picture, JSON text: the frame's four corners in pixels and its sides in mm. Nothing is read.
///
/// # Errors
/// The library's refusal, one sentence that says what to do.
#[wasm_bindgen]
pub fn find_frame(
    width: usize,
    height: usize,
    rgba: Vec<u8>,
    asked: &str,
) -> Result<String, JsError> {
    let asked: Asked = serde_json::from_str(asked).map_err(|e| Refusal::Setting(e.to_string()))?;
    let picture = Picture::from_rgba(width, height, rgba)?;
    let framed = photo::find_frame(&picture, &asked.into())?;
    Ok(serde_json::to_string(&Framed {
        corners: framed.corners,
        size: framed.size,
    })?)
}

/// What [`find_frame`] tells.
#[derive(Serialize)]
struct Framed {
    corners: [Point; 4],
    size: (f64, f64),
}

/// The target to print, SVG; on Letter instead of A4 where that is the paper.
#[wasm_bindgen]
#[must_use]
pub fn target_to_print(letter: bool) -> String {
    target(if letter { Paper::Letter } else { Paper::A4 })
}
