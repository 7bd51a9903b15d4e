//! The binary form of the format, told anew as the plain one.
//!
//! Both hold the same groups. In the binary form a code is two bytes (one before release 13), and the code
//! says what the value is: text that ends with a zero byte, a number of 8 bytes, whole numbers of 1 to 8
//! bytes, or a chunk with its length before it (published reference, group code value types). As text the
//! shortest digits that read back the same are written, so nothing is lost.

use super::pairs::cut_off;
use crate::Refusal;
use std::io::Write as _;

/// How the binary form begins.
const SENTINEL: &[u8] = b"AutoCAD Binary DXF\r\n\x1a\0";

/// The file as plain text; nothing where it is not binary.
pub(super) fn as_text(bytes: &[u8]) -> Option<Result<Vec<u8>, Refusal>> {
    let rest = bytes.strip_prefix(SENTINEL)?;
    // The first group is 0 SECTION: after a code of one byte the text follows at once.
    let wide = rest.get(1) == Some(&0);
    let mut groups = Groups { rest, wide };
    let mut text = Vec::with_capacity(2 * rest.len());
    let mut count = 0;
    while !groups.rest.is_empty() {
        count += 1;
        if groups.next(&mut text).is_none() {
            return Some(Err(cut_off(2 * count)));
        }
    }
    Some(Ok(text))
}

struct Groups<'a> {
    rest: &'a [u8],
    wide: bool,
}

impl<'a> Groups<'a> {
    fn take(&mut self, n: usize) -> Option<&'a [u8]> {
        let (taken, rest) = self.rest.split_at_checked(n)?;
        self.rest = rest;
        Some(taken)
    }

    fn whole<const N: usize>(&mut self) -> Option<[u8; N]> {
        self.take(N)?.try_into().ok()
    }

    fn code(&mut self) -> Option<i16> {
        if self.wide {
            return self.whole().map(i16::from_le_bytes);
        }
        match self.whole()? {
            [255] => self.whole().map(i16::from_le_bytes),
            [code] => Some(i16::from(code)),
        }
    }

    /// Writes one group as two lines.
    fn next(&mut self, text: &mut Vec<u8>) -> Option<()> {
        let code = self.code()?;
        // Writing into memory cannot fail.
        let _ = writeln!(text, "{code}");
        match code {
            10..=59 | 110..=149 | 210..=239 | 460..=469 | 1010..=1059 => {
                let _ = write!(text, "{:?}", f64::from_le_bytes(self.whole()?));
            }
            60..=79 | 170..=179 | 270..=289 | 370..=389 | 400..=409 | 1060..=1070 => {
                let _ = write!(text, "{}", i16::from_le_bytes(self.whole()?));
            }
            90..=99 | 420..=429 | 440..=459 | 1071 => {
                let _ = write!(text, "{}", i32::from_le_bytes(self.whole()?));
            }
            160..=169 => {
                let _ = write!(text, "{}", i64::from_le_bytes(self.whole()?));
            }
            290..=299 => {
                let [flag] = self.whole()?;
                let _ = write!(text, "{flag}");
            }
            // What chunks hold is no geometry.
            310..=319 | 1004 => {
                let [length] = self.whole()?;
                self.take(usize::from(length))?;
            }
            _ => {
                let end = memchr::memchr(0, self.rest)?;
                let value = self.take(end)?;
                self.take(1)?;
                text.extend(
                    value
                        .iter()
                        .map(|b| if matches!(b, b'\n' | b'\r') { b' ' } else { *b }),
                );
            }
        }
        text.push(b'\n');
        Some(())
    }
}
