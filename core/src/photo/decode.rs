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
    if format == ImageFormat::Jpeg && is_cut_off(bytes) {
        return Err(Refusal::File(
            "the picture is cut off: the file has no end; copy it from the camera again".into(),
        ));
    }
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

/// Whether a JPEG lacks its end: decoders fill what is missing with grey, in which nothing would be found, or the wrong thing.
/// The end is looked for behind the start of the picture's own data: a preview before it has an end of its own.
fn is_cut_off(bytes: &[u8]) -> bool {
    let mut at = 2;
    while let Some([0xFF, marker, high, low]) = bytes.get(at..at + 4) {
        if *marker == 0xDA {
            return !bytes
                .get(at..)
                .is_some_and(|rest| rest.windows(2).any(|w| w == [0xFF, 0xD9]));
        }
        at += 2 + usize::from(u16::from_be_bytes([*high, *low]));
    }
    // Fill bytes or a broken order of segments: the decoder says what is wrong with it.
    at >= bytes.len()
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_is_cut_off_anywhere_is_refused() {
        let whole = include_bytes!("../../../examples/photos/shelf_gusset.jpg");
        assert!(decode(whole).is_ok());
        for share in [0.001, 0.01, 0.3, 0.7, 0.999] {
            let part = whole.get(..(whole.len() as f64 * share) as usize);
            assert!(part.is_some_and(|p| decode(p).is_err()), "{share}");
        }
    }
}
