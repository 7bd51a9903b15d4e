//! Bytes to text: UTF-8, UTF-16 with or without a mark, and else one byte a letter (Latin-1).
//!
//! What is read from a file is numbers and a few words, which are the same in all of these; so a letter
//! that comes out wrong spoils a name, never a length, and nothing is refused for it.

use std::borrow::Cow;

/// The bytes as UTF-8, without a mark: untouched where they are already.
pub(super) fn decoded(bytes: &[u8]) -> Cow<'_, [u8]> {
    if let Some(rest) = bytes.strip_prefix(b"\xEF\xBB\xBF") {
        return Cow::Borrowed(rest);
    }
    match wide(bytes) {
        None => Cow::Borrowed(bytes),
        Some((rest, order)) => {
            let units = rest.chunks_exact(2).map(|pair| match pair {
                [a, b] => order([*a, *b]),
                _ => 0,
            });
            let text = char::decode_utf16(units).map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER));
            Cow::Owned(text.collect::<String>().into_bytes())
        }
    }
}

/// How two bytes are a number.
type Order = fn([u8; 2]) -> u16;

/// What follows the mark of UTF-16, and the order of its bytes. Without a mark every other byte of the
/// first letters is zero.
fn wide(bytes: &[u8]) -> Option<(&[u8], Order)> {
    if let Some(rest) = bytes.strip_prefix(b"\xFF\xFE") {
        return Some((rest, u16::from_le_bytes));
    }
    if let Some(rest) = bytes.strip_prefix(b"\xFE\xFF") {
        return Some((rest, u16::from_be_bytes));
    }
    match bytes {
        [a, 0, b, 0, ..] if *a != 0 && *b != 0 => Some((bytes, u16::from_le_bytes)),
        [0, a, 0, b, ..] if *a != 0 && *b != 0 => Some((bytes, u16::from_be_bytes)),
        _ => None,
    }
}

/// Bytes in UTF-8 or Latin-1 as text.
pub(super) fn of_any(bytes: &[u8]) -> Cow<'_, str> {
    match core::str::from_utf8(bytes) {
        Ok(text) => Cow::Borrowed(text),
        Err(_) => Cow::Owned(bytes.iter().map(|b| char::from(*b)).collect()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_text_comes_out_the_same_whatever_it_was_written_in() {
        let text = "0\nX [µm]\n1,5";
        let utf16 =
            |order: fn(u16) -> [u8; 2]| text.encode_utf16().flat_map(order).collect::<Vec<u8>>();
        let latin: Vec<u8> = text.chars().map(|c| c as u32 as u8).collect();
        let with = |mark: &[u8], rest: &[u8]| [mark, rest].concat();
        for bytes in [
            text.as_bytes().to_vec(),
            with(b"\xEF\xBB\xBF", text.as_bytes()),
            utf16(u16::to_le_bytes),
            utf16(u16::to_be_bytes),
            with(b"\xFF\xFE", &utf16(u16::to_le_bytes)),
            with(b"\xFE\xFF", &utf16(u16::to_be_bytes)),
            latin,
        ] {
            assert_eq!(of_any(&decoded(&bytes)), text, "{bytes:?}");
        }
    }
}
