//! JSON laid out for people: one edge, size or hint a line, numbers short but exact.

use serde::Serialize;

/// A value on one line.
pub(super) fn compact<T: Serialize + ?Sized>(value: &T) -> String {
    // Writing plain structs with string keys into memory has no way to fail.
    serde_json::to_string(value).unwrap_or_default()
}

/// `"key": [ … ]` as a further key of the document, one item a line.
pub(super) fn list<T: Serialize>(text: &mut String, key: &str, values: &[T]) {
    text.push_str(",\n  \"");
    text.push_str(key);
    text.push_str("\": [");
    items(text, values, 4);
    text.push(']');
}

/// The items of a list, each on a line of its own.
pub(super) fn items<T: Serialize>(text: &mut String, values: &[T], indent: usize) {
    for (i, value) in values.iter().enumerate() {
        text.push_str(if i == 0 { "\n" } else { ",\n" });
        text.extend(core::iter::repeat_n(' ', indent));
        text.push_str(&compact(value));
    }
}
