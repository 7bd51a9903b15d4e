//! Entities that a document type declares: allowed while they are harmless.
//!
//! Files of some drawing programs declare a few short entities for their name spaces, so the
//! declaration alone is no reason to refuse. What makes a bomb of them is growth: an entity that
//! refers to others, or a long one referred to many times. Both are refused before the text goes
//! to the XML parser, so nothing ever grows.
//!
//! The parser also holds every attribute of an element against all others of it, so an element of very many
//! is refused before.

/// Longest text, in bytes, that an entity may stand for.
pub const LONGEST_ENTITY: usize = 256;
/// Most references (`&…;`) in a file that declares entities.
pub const MOST_REFERENCES: usize = 1000;

/// Most attributes of one element.
const MOST_ATTRIBUTES: usize = 256;

/// Refuses a text whose entities could grow, or whose elements have more attributes than any drawing's.
pub(super) fn check(text: &str) -> Result<(), String> {
    attributes(text.as_bytes())?;
    let mut rest = text;
    let mut declared = 0;
    while let Some((_, after)) = rest.split_once("<!ENTITY") {
        declared += 1;
        let value = quoted(after);
        if value.is_some_and(|v| v.contains(['&', '%'])) {
            return Err("the file declares entities made of other entities".into());
        }
        if value.is_none_or(|v| v.len() > LONGEST_ENTITY) {
            return Err(format!(
                "the file declares an entity of more than {LONGEST_ENTITY} bytes"
            ));
        }
        rest = after;
    }
    if declared == 0 {
        return Ok(());
    }
    let references = text.bytes().filter(|b| *b == b'&').count();
    if references > MOST_REFERENCES {
        return Err(format!(
            "the file declares entities and refers to such {references} times, over the limit of {MOST_REFERENCES}"
        ));
    }
    Ok(())
}

/// The first quoted text.
fn quoted(text: &str) -> Option<&str> {
    let at = text.find(['"', '\''])?;
    let (_, quoted) = text.split_at(at);
    let mark = quoted.chars().next()?;
    let (_, inside) = quoted.split_at(1);
    inside.split_once(mark).map(|(value, _)| value)
}

/// Counts the attributes of each element: the signs = within a tag and outside quotation marks. Of what is no tag, as
/// within CDATA, that counts too many rather than too few.
fn attributes(text: &[u8]) -> Result<(), String> {
    let (mut count, mut mark, mut inside) = (0, None, false);
    for byte in text {
        match (byte, mark) {
            (b, Some(m)) if *b == m => mark = None,
            (_, Some(_)) => {}
            (b'"' | b'\'', None) if inside => mark = Some(*byte),
            (b'<', None) => (inside, count) = (true, 0),
            (b'>', None) => inside = false,
            (b'=', None) if inside => {
                count += 1;
                if count > MOST_ATTRIBUTES {
                    return Err(format!(
                        "an element of the file has more than {MOST_ATTRIBUTES} attributes"
                    ));
                }
            }
            _ => {}
        }
    }
    Ok(())
}
