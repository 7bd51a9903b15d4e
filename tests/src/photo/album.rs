//! Pictures with their truth, kept in a folder so that they are rendered once.

use super::render::{Film, corners, file, render};
use super::scene::{Scene, Wish};
use crate::rng::Rng;
use crate::shapes::{Case, family};
use serde::{Deserialize, Serialize};
use std::path::Path;
use trued::Point;

/// What is true of a picture.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Truth {
    /// W and H of the frame, mm; of a sheet, its sides.
    pub frame: (f64, f64),
    /// An A4 sheet tells the scale.
    pub sheet: bool,
    /// A mark is missing: the picture must be refused.
    pub missing: bool,
    /// Ground, pen, marks, width, for people to read.
    pub about: String,
    /// Middles of the lines, loop by loop.
    pub lines: Vec<Vec<Point>>,
    /// Dotted hole centres.
    pub dots: Vec<Point>,
    /// Where the frame's corners are seen in the upright picture.
    pub corners: [Point; 4],
    /// The outline's family and numbers, where it is of the list.
    pub case: Option<(String, Vec<f64>)>,
    /// Height of the camera, mm.
    pub height: f64,
}

impl Truth {
    /// The outline as a case of the list.
    #[must_use]
    pub fn case(&self) -> Option<Case> {
        let (name, numbers) = self.case.as_ref()?;
        Some(Case::new(family(name)?, numbers.clone()))
    }
}

/// The picture of a seed, from the folder or rendered into it.
///
/// # Errors
/// Says what cannot be read or written.
pub fn picture(folder: Option<&Path>, seed: u64, wish: Wish) -> Result<(Vec<u8>, Truth), String> {
    let name = format!(
        "{seed}-{}{}{}{}{}",
        wish.size.0,
        if wish.held { "-held" } else { "" },
        if wish.other { "-other" } else { "" },
        if wish.missing { "-missing" } else { "" },
        if wish.part { "-part" } else { "" }
    );
    let kept = folder.map(|f| {
        (
            f.join(format!("{name}.jpg")),
            f.join(format!("{name}.json")),
        )
    });
    if let Some((jpg, json)) = &kept
        && let (Ok(bytes), Ok(text)) = (std::fs::read(jpg), std::fs::read(json))
    {
        let truth = serde_json::from_slice(&text).map_err(|e| e.to_string())?;
        return Ok((bytes, truth));
    }
    let mut rng = Rng::named(seed, "photo");
    let scene = Scene::draw(wish, &mut rng);
    let film = match wish.other {
        true => Film::harsh(&mut rng),
        false => Film::draw(&mut rng),
    };
    let bytes = file(&render(&scene, film, &mut rng), film);
    let truth = Truth {
        frame: scene.frame,
        sheet: scene.marks == super::scene::Marks::Sheet,
        missing: scene.missing,
        about: format!(
            "{:?} {:?} {:?} {:.1} mm, blur {:.1} noise {:.1}",
            scene.ground, scene.marks, scene.ink, scene.width, film.blur, film.noise
        ),
        corners: corners(&scene),
        case: scene
            .cases
            .first()
            .map(|c| (c.family.to_owned(), c.numbers.clone())),
        height: scene.camera.eye[2],
        lines: scene.lines,
        dots: scene.dots,
    };
    if let Some((jpg, json)) = &kept {
        let text = serde_json::to_vec(&truth).map_err(|e| e.to_string())?;
        std::fs::write(jpg, &bytes).map_err(|e| e.to_string())?;
        std::fs::write(json, text).map_err(|e| e.to_string())?;
    }
    Ok((bytes, truth))
}
