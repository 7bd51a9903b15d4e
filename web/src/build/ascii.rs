//! Bytes as text that an HTML page may hold between two tags, in any encoding that knows ASCII.
//!
//! Six bytes are seven characters, a sixth more, where base64 takes a third more: seven digits to the base of 125 hold
//! them. A page's text may be of every ASCII character but three: NUL, which is no character there; the carriage return,
//! which a browser reads as a line's end; and `<`, with which a tag begins. What is unpacked in the page knows this by
//! heart (`www/files.js` and the few lines of script in `onefile.rs`).

/// Bytes that go together, and the digits they are.
const GROUP: (usize, usize) = (6, 7);
const BASE: u64 = 125;

/// The bytes as text; the last group is filled up with zeros.
pub fn text(bytes: &[u8]) -> String {
    let mut out = String::with_capacity(bytes.len() / GROUP.0 * GROUP.1 + GROUP.1);
    for group in bytes.chunks(GROUP.0) {
        let mut number = group.iter().rev().fold(0, |n, b| (n << 8) | u64::from(*b));
        for _ in 0..GROUP.1 {
            out.push(character(number % BASE));
            number /= BASE;
        }
    }
    out
}

/// The character of a digit.
fn character(digit: u64) -> char {
    let past = [13, 60].iter().fold(
        digit + 1,
        |c, left_out| {
            if c >= *left_out { c + 1 } else { c }
        },
    );
    // Of 125 digits none comes past 127.
    char::from(u8::try_from(past).unwrap_or(b'?'))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// As the page does it.
    fn bytes(text: &str, length: usize) -> Vec<u8> {
        let digit = |c: u8| {
            u64::from(c)
                - if c > 60 {
                    3
                } else if c > 13 {
                    2
                } else {
                    1
                }
        };
        let groups = text.as_bytes().chunks(GROUP.1).flat_map(|group| {
            let number = group.iter().rev().fold(0, |n, c| n * BASE + digit(*c));
            (0..GROUP.0).map(move |k| (number >> (8 * k) & 0xff) as u8)
        });
        groups.take(length).collect()
    }

    #[test]
    fn every_byte_comes_back_and_no_character_is_one_of_the_three() {
        let all: Vec<u8> = (0..=255).cycle().take(1001).chain([0xff; 12]).collect();
        let text = text(&all);
        assert_eq!(bytes(&text, all.len()), all);
        assert!(text.bytes().all(|c| c > 0 && c < 128 && c != 13 && c != 60));
        assert_eq!(text.len(), all.len().div_ceil(6) * 7);
    }

    #[test]
    fn the_digits_are_all_different() {
        let all: std::collections::BTreeSet<char> = (0..BASE).map(character).collect();
        assert_eq!(all.len(), 125);
    }
}
