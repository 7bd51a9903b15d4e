//! Entities that a document type declares: allowed while they are harmless.
//!
//! Files of some drawing programs declare a few short entities for their name spaces, so the
//! declaration alone is no reason to refuse. What makes a bomb of them is growth: an entity that
//! refers to others, or a long one referred to many times. Both are refused before the text goes
//! to the XML parser, so nothing ever grows.

/// Longest text, in bytes, that an entity may stand for.
pub const LONGEST_ENTITY: usize = 256;
/// Most references (`&…;`) in a file that declares entities.
pub const MOST_REFERENCES: usize = 1000;

/// Refuses a text whose entities could grow.
pub(super) fn check(text: &str) -> Result<(), String> {
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
