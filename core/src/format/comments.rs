//! Sentences as comments of files that machines read.
//!
//! Comments are for the eye, and readers differ in what else they do with them: one ends a line at `;`, one
//! takes a bracket within a bracket for the end, one cuts off what is long, one shows whatever begins with
//! `MSG`, one knows plain ASCII alone. So a sentence becomes short lines of plain words.

/// Longest line, characters.
const LONGEST: usize = 72;

/// The sentence as lines of plain ASCII without brackets and semicolons.
pub(crate) fn lines(text: &str) -> Vec<String> {
    let mut plain = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '(' | ')' | '[' | ']' | '{' | '}' => {}
            ';' => plain.push(','),
            '±' => plain.push_str("+-"),
            '×' => plain.push('x'),
            '⌀' => plain.push_str("dia "),
            '°' => plain.push_str(" deg"),
            '–' | '—' => plain.push('-'),
            '…' => plain.push_str("..."),
            c if c.is_ascii_graphic() => plain.push(c),
            c if c.is_whitespace() => plain.push(' '),
            _ => plain.push('_'),
        }
    }
    let mut all: Vec<String> = vec![String::new()];
    for word in plain.split_whitespace() {
        // A word may be a file's name, of any length.
        let mut word = word;
        while let Some(line) = all.last_mut() {
            let room = LONGEST.saturating_sub(line.len() + usize::from(!line.is_empty()));
            if word.len() <= room {
                line.push_str(if line.is_empty() { "" } else { " " });
                line.push_str(word);
                break;
            }
            if line.is_empty() {
                let (part, rest) = word.split_at_checked(LONGEST).unwrap_or((word, ""));
                line.push_str(part);
                word = rest;
            }
            all.push(String::new());
        }
    }
    for line in &mut all {
        let words = ["MSG", "DEBUG", "PRINT", "LOG", "PROBE"];
        let upper = line.to_ascii_uppercase();
        if words.iter().any(|w| upper.starts_with(w)) {
            line.insert_str(0, "- ");
        }
    }
    all.retain(|l| !l.is_empty());
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sentence_becomes_short_plain_lines() {
        let text = "the kerf (20 mm); a bridge of 3 × 2 ± 1 mm: ";
        let said = lines(&text.repeat(5));
        assert!(said.len() >= 3 && said.iter().all(|l| l.len() <= LONGEST && l.is_ascii()));
        assert!(said[0].starts_with("the kerf 20 mm, a bridge of 3 x 2 +- 1 mm: the kerf"));
        assert!(!said.iter().any(|l| l.contains([';', '(', ')'])));
        assert_eq!(lines(&"x".repeat(100)).len(), 2);
        assert_eq!(lines("msg, look"), ["- msg, look"]);
        assert!(lines("").is_empty());
    }
}
