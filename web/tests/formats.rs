//! The page names files and formats in its own texts; they go by the one list of the core.

use trued::format::Format;

fn page(file: &str) -> String {
    let path = format!("{}/../www/{file}", env!("CARGO_MANIFEST_DIR"));
    std::fs::read_to_string(path).expect("the page's files are beside its crate")
}

/// Endings of the pictures that every browser decodes.
const PICTURES: [&str; 4] = ["jpg", "jpeg", "png", "webp"];

#[test]
fn the_page_offers_to_open_what_is_read() {
    let index = page("index.html");
    let (_, rest) = index.split_once("accept=\"").expect("the input of files");
    let (offered, _) = rest.split_once('"').expect("the end of the attribute");
    let offered: Vec<&str> = offered
        .split(',')
        .filter_map(|e| e.strip_prefix('.'))
        .collect();
    let read = Format::all().filter(|f| f.is_read());
    let mut endings: Vec<&str> = read.flat_map(Format::endings).copied().collect();
    // Pictures are read by a module of their own; the browser decodes them.
    endings.extend(PICTURES);
    assert_eq!(offered, endings);
}

#[test]
fn files_that_the_page_saves_have_the_media_types_of_their_formats() {
    let saving = page("saving.js");
    let mut seen = 0;
    // Rows such as `svg: ["outline.svg", "image/svg+xml"],`.
    for row in saving.lines().filter(|l| l.trim_end().ends_with("\"],")) {
        let parts: Vec<&str> = row.split('"').collect();
        let (Some(name), Some(media)) = (
            parts.get(parts.len().wrapping_sub(4)),
            parts.get(parts.len().wrapping_sub(2)),
        ) else {
            continue;
        };
        if let Some(format) = Format::of_name(name) {
            assert_eq!(*media, format.media(), "{row}");
            assert!(format.ending().len() < name.len(), "{row}");
            seen += 1;
        }
    }
    assert!(seen >= 8, "{seen} rows were found");
}
