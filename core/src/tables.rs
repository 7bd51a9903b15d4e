//! Small text files of tables: the machine profile and the material file.
//!
//! Both are TOML, and of TOML they need little: tables and rows of tables, one `key = value` a line, texts,
//! numbers, and arrays of numbers. That part is read here, by the rules of TOML 1.0 (toml.io); the rest (dates,
//! inline tables, dotted keys, values over several lines) is refused with its line. A whole TOML reader weighs more in
//! the page than everything that reads drawings. What is read carries its line, so that whoever takes a
//! table can say where a figure is wrong.

use crate::Refusal;

/// Most tables in one file.
const MAX_TABLES: usize = 20_000;

/// What stands behind a key.
#[derive(Clone, Debug, PartialEq)]
enum Value {
    Text(String),
    Number(f64),
    Numbers(Vec<f64>),
    /// True or false, which no key here takes.
    Flag,
}

#[derive(Clone, Debug)]
struct Entry {
    key: String,
    value: Value,
    line: usize,
}

/// A table with its entries in order.
#[derive(Clone, Debug, Default)]
pub(crate) struct Table {
    /// Parts of its name: `[arm.tips]` has two.
    pub name: Vec<String>,
    /// A row of a list of tables, `[[name]]`.
    pub row: bool,
    /// Line of its head.
    pub line: usize,
    entries: Vec<Entry>,
}

/// Reads all tables of a text, in order. What stands before the first head is a table without a name; it
/// is left out where it is empty.
///
/// # Errors
/// Names the line that is none of this.
pub(crate) fn read(text: &str) -> Result<Vec<Table>, Refusal> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut tables = vec![Table::default()];
    for (i, line) in text.lines().enumerate() {
        let line_number = i + 1;
        let refused = |problem: String| Refusal::Line {
            line: line_number,
            problem,
        };
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        if line.starts_with('[') {
            let table = head(line, line_number).map_err(refused)?;
            if !table.row && tables.iter().any(|t| t.name == table.name) {
                return Err(refused(format!(
                    "[{}] stands here a second time",
                    table.name.join(".")
                )));
            }
            if tables.len() > MAX_TABLES {
                return Err(refused(format!("more than {MAX_TABLES} tables")));
            }
            tables.push(table);
            continue;
        }
        let entry = entry(line, line_number).map_err(refused)?;
        if let Some(table) = tables.last_mut() {
            if table.entries.iter().any(|e| e.key == entry.key) {
                return Err(refused(format!("{} stands here a second time", entry.key)));
            }
            table.entries.push(entry);
        }
    }
    tables.retain(|t| !(t.name.is_empty() && t.entries.is_empty()));
    Ok(tables)
}

impl Table {
    /// Its name as written, without brackets.
    pub fn title(&self) -> String {
        self.name.join(".")
    }

    /// Refuses every key but these.
    pub fn only(&self, keys: &[&str]) -> Result<(), Refusal> {
        let odd = self
            .entries
            .iter()
            .find(|e| !keys.contains(&e.key.as_str()));
        odd.map_or(Ok(()), |e| {
            Err(Refusal::Line {
                line: e.line,
                problem: format!("unknown key {}; here may stand {}", e.key, keys.join(", ")),
            })
        })
    }

    /// All keys, in order.
    pub fn keys(&self) -> impl Iterator<Item = &str> {
        self.entries.iter().map(|e| e.key.as_str())
    }

    /// The number of a key, where it stands.
    pub fn number(&self, key: &str) -> Result<Option<f64>, Refusal> {
        self.take(key, "a number", |v| match v {
            Value::Number(n) => Some(*n),
            _ => None,
        })
    }

    /// The number of a key that must stand.
    pub fn need(&self, key: &str) -> Result<f64, Refusal> {
        self.number(key)?.ok_or_else(|| self.missing(key))
    }

    /// The pair of numbers of a key, where it stands.
    pub fn pair(&self, key: &str) -> Result<Option<[f64; 2]>, Refusal> {
        self.take(key, "two numbers in brackets", |v| match v {
            Value::Numbers(n) => n.as_slice().try_into().ok(),
            _ => None,
        })
    }

    /// The text of a key, where it stands.
    pub fn text(&self, key: &str) -> Result<Option<&str>, Refusal> {
        self.take(key, "a text in quotes", |v| match v {
            Value::Text(t) => Some(t.as_str()),
            _ => None,
        })
    }

    /// Says that a key is missing.
    pub fn missing(&self, key: &str) -> Refusal {
        Refusal::Line {
            line: self.line,
            problem: format!("[{}] has no {key}", self.title()),
        }
    }

    fn take<'a, T>(
        &'a self,
        key: &str,
        wanted: &str,
        of: impl Fn(&'a Value) -> Option<T>,
    ) -> Result<Option<T>, Refusal> {
        let Some(entry) = self.entries.iter().find(|e| e.key == key) else {
            return Ok(None);
        };
        of(&entry.value).map(Some).ok_or_else(|| Refusal::Line {
            line: entry.line,
            problem: format!("{key} must be {wanted}"),
        })
    }
}

/// A text as it is written in quotes.
pub(crate) fn quoted(text: &str) -> String {
    let mut out = String::from('"');
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            '\n' => out.push_str("\\n"),
            '\t' => out.push_str("\\t"),
            c if c.is_control() => out.push_str(&format!("\\u{:04X}", u32::from(c))),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

/// A key as it is written: bare where it can be.
pub(crate) fn key_of(name: &str) -> String {
    let bare = !name.is_empty() && name.chars().all(bare);
    if bare { name.to_owned() } else { quoted(name) }
}

const BY_HAND: &str = "every table and row must stand under a head of its own, such as [[material]]; write it so by hand";

fn bare(c: char) -> bool {
    c.is_ascii_alphanumeric() || c == '_' || c == '-'
}

fn head(line: &str, number: usize) -> Result<Table, String> {
    let row = line.starts_with("[[");
    let mut rest = line.trim_start_matches('[');
    let mut name = Vec::new();
    loop {
        let (part, after) = key(rest.trim_start())?;
        name.push(part);
        rest = after.trim_start();
        match rest.strip_prefix('.') {
            Some(next) => rest = next,
            None => break,
        }
    }
    let closed = rest.strip_prefix(if row { "]]" } else { "]" });
    match closed {
        Some(after) if nothing(after) => Ok(Table {
            name,
            row,
            line: number,
            entries: Vec::new(),
        }),
        _ => Err(format!("\"{line}\" is no head of a table")),
    }
}

fn entry(line: &str, number: usize) -> Result<Entry, String> {
    let (key, rest) = key(line)?;
    let rest = rest.trim_start();
    if rest.starts_with('.') {
        return Err(BY_HAND.into());
    }
    let rest = rest
        .strip_prefix('=')
        .ok_or_else(|| format!("\"{line}\" is no row of key = value"))?;
    let (value, after) = value(&key, rest.trim_start())?;
    if !nothing(after) {
        return Err(format!(
            "after the value of {key} stands \"{}\"",
            after.trim()
        ));
    }
    Ok(Entry {
        key,
        value,
        line: number,
    })
}

/// Nothing but a comment.
fn nothing(rest: &str) -> bool {
    let rest = rest.trim_start();
    rest.is_empty() || rest.starts_with('#')
}

fn key(text: &str) -> Result<(String, &str), String> {
    if text.starts_with(['"', '\'']) {
        return quote(text);
    }
    let end = text.find(|c| !bare(c)).unwrap_or(text.len());
    let (key, rest) = text.split_at(end);
    if key.is_empty() {
        return Err(format!("\"{text}\" is no row of key = value"));
    }
    Ok((key.to_owned(), rest))
}

fn value<'a>(key: &str, text: &'a str) -> Result<(Value, &'a str), String> {
    match text.chars().next() {
        Some('"' | '\'') => {
            let (text, rest) = quote(text)?;
            Ok((Value::Text(text), rest))
        }
        Some('[') => {
            let (inside, rest) = text
                .trim_start_matches('[')
                .split_once(']')
                .ok_or_else(|| format!("the brackets of {key} must close on its own line"))?;
            if text.starts_with("[[") || inside.contains(['{', '"', '\'', '#']) {
                return Err(BY_HAND.into());
            }
            let inside = inside.trim_end();
            let inside = inside.strip_suffix(',').unwrap_or(inside);
            let list: Result<Vec<f64>, String> = match inside.trim() {
                "" => Ok(Vec::new()),
                _ => inside.split(',').map(|n| number(key, n.trim())).collect(),
            };
            Ok((Value::Numbers(list?), rest))
        }
        Some('{') => Err(BY_HAND.into()),
        _ => {
            let end = text.find('#').unwrap_or(text.len());
            let (word, rest) = text.split_at(end);
            match word.trim() {
                "true" | "false" => Ok((Value::Flag, rest)),
                word => Ok((Value::Number(number(key, word)?), rest)),
            }
        }
    }
}

fn number(key: &str, word: &str) -> Result<f64, String> {
    let bytes = word.as_bytes();
    let digit = |i: usize| bytes.get(i).is_some_and(u8::is_ascii_digit);
    // An underscore stands between two digits.
    let fine = bytes.iter().enumerate().all(|(i, b)| match b {
        b'_' => i > 0 && digit(i - 1) && digit(i + 1),
        b => b.is_ascii_digit() || b"+-.eE".contains(b),
    });
    let plain: String = word.chars().filter(|c| *c != '_').collect();
    let value = if fine { plain.parse().ok() } else { None };
    value
        .filter(|v: &f64| v.is_finite())
        .ok_or_else(|| format!("{key} is \"{word}\": that is no number"))
}

/// A text in quotes, and what stands behind it.
fn quote(text: &str) -> Result<(String, &str), String> {
    let open = || format!("the quotes of {text} do not close on their line");
    if text.starts_with("\"\"\"") || text.starts_with("'''") {
        return Err("a text must stand on one line".into());
    }
    if let Some(rest) = text.strip_prefix('\'') {
        let (inside, rest) = rest.split_once('\'').ok_or_else(open)?;
        return Ok((inside.to_owned(), rest));
    }
    let mut out = String::new();
    let mut rest = text.get(1..).unwrap_or("");
    loop {
        let mut chars = rest.chars();
        let c = chars.next().ok_or_else(open)?;
        rest = chars.as_str();
        match c {
            '"' => return Ok((out, rest)),
            '\\' => {
                let (c, after) =
                    escaped(rest).ok_or_else(|| format!("\"\\{rest}\" is no sign of a text"))?;
                out.push(c);
                rest = after;
            }
            c if c.is_control() && c != '\t' => {
                return Err("a sign that cannot be seen stands in the text".into());
            }
            c => out.push(c),
        }
    }
}

fn escaped(rest: &str) -> Option<(char, &str)> {
    let mut chars = rest.chars();
    let c = match chars.next()? {
        'n' => '\n',
        't' => '\t',
        'r' => '\r',
        'b' => '\u{8}',
        'f' => '\u{c}',
        c @ ('"' | '\\') => c,
        c @ ('u' | 'U') => {
            let length = if c == 'u' { 4 } else { 8 };
            let digits = rest.get(1..=length)?;
            let code = u32::from_str_radix(digits, 16)
                .ok()
                .filter(|_| !digits.starts_with('+'))?;
            return Some((char::from_u32(code)?, rest.get(length + 1..)?));
        }
        _ => return None,
    };
    Some((c, chars.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_rows_texts_and_numbers_are_read() {
        let text = "\u{feff}# a file\n[a.\"b c\"] # head\nx = 1_000.5 # mm\n 'k' = 'C:\\new'\ny=[1, -2e3,]\n[[row]]\n\"name\" = \"\\\"\\u00e9\\U0001F525\"\n[[row]]\n";
        let tables = read(text).unwrap();
        assert_eq!(tables.len(), 3);
        assert_eq!(tables[0].name, ["a", "b c"]);
        assert_eq!(tables[0].need("x").unwrap(), 1000.5);
        assert_eq!(tables[0].text("k").unwrap(), Some("C:\\new"));
        assert_eq!(tables[0].pair("y").unwrap(), Some([1.0, -2000.0]));
        assert!(tables[1].row && !tables[0].row);
        assert_eq!(tables[1].text("name").unwrap(), Some("\"\u{e9}\u{1F525}"));
    }

    #[test]
    fn what_is_none_is_refused_with_its_line() {
        for (text, line) in [
            ("\nnonsense", 2),
            ("[a", 1),
            ("[]", 1),
            ("[a]\n[a]", 2),
            ("[a]\nx = 1\nx = 2", 3),
            ("x = 1 2", 1),
            ("x = nan", 1),
            ("x = 1__0", 1),
            ("x = _1", 1),
            ("x = 0x10", 1),
            ("x = [1, 2", 1),
            ("x = [1,, 2]", 1),
            ("x = {a = 1}", 1),
            ("x.y = 1", 1),
            ("x = \"open", 1),
            ("x = \"\\q\"", 1),
            ("x = \"\\u12\"", 1),
            ("x = \"\\uD800\"", 1),
            ("x = \"\"\"\n", 1),
            ("x =", 1),
            ("= 1", 1),
            ("x = 1979-05-27", 1),
        ] {
            let refused = read(text);
            assert!(
                matches!(&refused, Err(Refusal::Line { line: l, .. }) if *l == line),
                "{text:?}: {refused:?}"
            );
        }
    }

    #[test]
    fn a_key_of_the_wrong_kind_is_named() {
        let tables = read("[a]\nx = \"wide\"\nflag = true\n").unwrap();
        for said in [tables[0].number("x"), tables[0].number("flag")] {
            assert!(matches!(said, Err(Refusal::Line { .. })));
        }
        assert!(
            tables[0]
                .only(&["x"])
                .unwrap_err()
                .to_string()
                .contains("flag")
        );
        assert!(tables[0].need("y").is_err());
    }

    #[test]
    fn what_is_quoted_reads_back() {
        for text in ["", "plain", "a \"b\" \\ c", "tab\tnew\nline\u{1}", "é🔥"] {
            let line = format!("{} = {}", key_of(text), quoted(text));
            let tables = read(&line).unwrap();
            assert_eq!(tables[0].keys().next(), Some(text));
            assert_eq!(tables[0].text(text).unwrap(), Some(text));
        }
    }
}
