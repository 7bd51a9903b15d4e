//! Picture files: JPEG, PNG and WebP become upright RGB.

use super::picture::{Picture, check_size};
use crate::Refusal;
use image::{DynamicImage, ImageDecoder, ImageFormat, ImageReader, Limits};
use std::io::Cursor;

/// The largest that decoding may take for itself, bytes.
const MOST_MEMORY: u64 = 512 << 20;

/// Whether bytes begin like a picture of a kind that can be read.
#[must_use]
pub fn is_picture(bytes: &[u8]) -> bool {
    format_of(bytes).is_some()
}

fn format_of(bytes: &[u8]) -> Option<ImageFormat> {
    let known = [ImageFormat::Jpeg, ImageFormat::Png, ImageFormat::WebP];
    image::guess_format(bytes)
        .ok()
        .filter(|f| known.contains(f))
}

/// Reads a picture file and turns it upright, as its EXIF orientation says.
///
/// # Errors
/// Refuses what is no such picture, is broken or cut off, or passes a limit, in one sentence.
pub fn decode(bytes: &[u8]) -> Result<Picture, Refusal> {
    let format = format_of(bytes).ok_or_else(|| {
        Refusal::File(
            "this is no picture that can be read: JPEG, PNG or WebP are; save it as one of them"
                .into(),
        )
    })?;
    let broken = |e: image::ImageError| {
        Refusal::File(format!(
            "the picture is broken or cut off ({e}): copy it from the camera again"
        ))
    };
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut limits = Limits::default();
    limits.max_alloc = Some(MOST_MEMORY);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(broken)?;
    let (width, height) = decoder.dimensions();
    check_size(width as usize, height as usize)?;
    let orientation = decoder.orientation().map_err(broken)?;
    let mut picture = DynamicImage::from_decoder(decoder).map_err(broken)?;
    if matches!(
        picture.color(),
        image::ColorType::Rgba8 | image::ColorType::La8
    ) {
        picture = on_white(&picture);
    }
    picture.apply_orientation(orientation);
    let rgb = picture.into_rgb8();
    let (width, height) = rgb.dimensions();
    Picture::from_rgb(width as usize, height as usize, rgb.into_raw())
}

/// What can be seen through lies on white, as a browser shows it.
fn on_white(picture: &DynamicImage) -> DynamicImage {
    let mut rgba = picture.to_rgba8();
    for pixel in rgba.pixels_mut() {
        let image::Rgba([r, g, b, a]) = *pixel;
        let over = |v: u8| {
            let (v, a) = (u32::from(v), u32::from(a));
            ((v * a + 255 * (255 - a) + 127) / 255) as u8
        };
        *pixel = image::Rgba([over(r), over(g), over(b), 255]);
    }
    DynamicImage::ImageRgba8(rgba)
}
