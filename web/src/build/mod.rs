//! From the sources to a page: the wasm module, its demos, the one file, the weights.

mod ascii;
mod bundle;
mod onefile;
mod server;
mod wasm;

pub use server::serve;

use base64::{Engine as _, engine::general_purpose::STANDARD};
use flate2::{Compression, write::GzEncoder};
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use trued::cut::Figures;
use trued::cut::figures::FORM;

/// Where things lie.
pub struct Places {
    /// The workspace.
    pub root: PathBuf,
    /// The page's sources.
    pub www: PathBuf,
    /// What cargo builds.
    pub target: PathBuf,
}

impl Places {
    /// From where this program's own sources lie, or else from the working folder upwards.
    pub fn find() -> Result<Self, String> {
        let here = std::env::current_dir().map_err(|e| format!("no working folder: {e}"))?;
        let given = std::env::var_os("CARGO_MANIFEST_DIR").map(PathBuf::from);
        let root = given
            .iter()
            .chain([&here])
            .flat_map(|start| start.ancestors())
            .find(|folder| folder.join("www/index.html").is_file())
            .ok_or("run this from inside the project: no folder above holds www/index.html")?
            .to_path_buf();
        Ok(Self {
            www: root.join("www"),
            target: root.join("target"),
            root,
        })
    }
}

/// Builds `www/pkg/` and `target/trued.html`, and says what each weighs.
pub fn build(places: &Places) -> Result<(), String> {
    let pkg = places.www.join("pkg");
    wasm::build(places, &pkg)?;
    write(&pkg.join("demos.js"), &demos(places)?)?;
    write(&pkg.join("forms.js"), &forms()?)?;
    let page = onefile::assemble(&places.www)?;
    fs::create_dir_all(&places.target).map_err(|e| format!("{}: {e}", places.target.display()))?;
    let file = places.target.join("trued.html");
    write(&file, &page)?;
    weigh(places, &file)
}

/// The demo data named in `www/demos.list`, gzipped, as a module, so that the page asks for no file.
fn demos(places: &Places) -> Result<String, String> {
    let list = read(&places.www.join("demos.list"))?;
    let mut module = String::from("export const demos = [\n");
    for line in list.lines().filter(|l| !l.starts_with('#')) {
        let Some((name, title)) = line.split_once('\t') else {
            continue;
        };
        let folder = if name.contains('/') {
            "examples"
        } else {
            "examples/traces"
        };
        let text = bytes(&places.root.join(folder).join(name))?;
        module.push_str(&format!(
            "  {{ name: {}, title: {}, packed: {} }},\n",
            quoted(name),
            quoted(title.trim()),
            quoted(&STANDARD.encode(gzip(&text)?))
        ));
    }
    module.push_str("];\n");
    Ok(module)
}

/// What the library says of the figures of a cut, as a module.
fn forms() -> Result<String, String> {
    let none = serde_json::to_string(&Figures::default()).map_err(|e| e.to_string())?;
    let form = serde_json::to_string(FORM).map_err(|e| e.to_string())?;
    Ok(format!(
        "/** @type {{import(\"./trued_web.js\").Figures}} */\nexport const NO_FIGURES = {none};\n\
         /** @type {{import(\"./trued_web.js\").Row[]}} */\nexport const CUT_FORM = {form};\n"
    ))
}

/// A JavaScript string literal that is also safe inside a `<script>`.
fn quoted(text: &str) -> String {
    let mut out = String::with_capacity(text.len() + 2);
    out.push('"');
    for c in text.chars() {
        match c {
            '"' => out.push_str("\\\""),
            '\\' => out.push_str("\\\\"),
            '\n' => out.push_str("\\n"),
            '\r' => out.push_str("\\r"),
            '<' => out.push_str("\\x3c"),
            c if (c as u32) < 0x20 || c == '\u{2028}' || c == '\u{2029}' => {
                out.push_str(&format!("\\u{:04x}", c as u32));
            }
            c => out.push(c),
        }
    }
    out.push('"');
    out
}

fn weigh(places: &Places, onefile: &Path) -> Result<(), String> {
    let module = bytes(&places.www.join("pkg/trued_web_bg.wasm"))?;
    let (mut all, mut asked) = (0, 0);
    for file in page_files(&places.www)? {
        let weight = gzip(&bytes(&file)?)?.len();
        let name = file.file_name().unwrap_or_default().to_string_lossy();
        match name.starts_with("trued_photo") || name == "photoworker.js" {
            true => asked += weight,
            false => all += weight,
        }
    }
    println!(
        "wasm       {:>7} B, {:>6} B gzipped",
        module.len(),
        gzip(&module)?.len()
    );
    println!("everything           {all:>6} B gzipped, file by file");
    println!("for pictures         {asked:>6} B gzipped, when asked for");
    println!("one file   {:>7} B", bytes(onefile)?.len());
    Ok(())
}

/// Everything the served page loads.
fn page_files(www: &Path) -> Result<Vec<PathBuf>, String> {
    let mut files = Vec::new();
    for folder in [www.to_path_buf(), www.join("jobs"), www.join("pkg")] {
        let entries = fs::read_dir(&folder).map_err(|e| format!("{}: {e}", folder.display()))?;
        for entry in entries.flatten() {
            let path = entry.path();
            let kind = path.extension().and_then(|e| e.to_str()).unwrap_or("");
            let types_only = path.to_string_lossy().ends_with(".d.ts");
            // What unpacks the one file is not asked for where there is a folder.
            let one_file_only = path.ends_with("trued_unpack.wasm");
            if matches!(kind, "html" | "css" | "js" | "wasm") && !types_only && !one_file_only {
                files.push(path);
            }
        }
    }
    files.sort();
    Ok(files)
}

fn gzip(data: &[u8]) -> Result<Vec<u8>, String> {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(data).map_err(|e| e.to_string())?;
    encoder.finish().map_err(|e| e.to_string())
}

fn read(path: &Path) -> Result<String, String> {
    fs::read_to_string(path).map_err(|e| format!("{}: {e}", path.display()))
}

fn bytes(path: &Path) -> Result<Vec<u8>, String> {
    fs::read(path).map_err(|e| format!("{}: {e}", path.display()))
}

/// Whole or not at all: written beside, then moved into place.
fn write(path: &Path, text: &str) -> Result<(), String> {
    let beside = path.with_extension("part");
    fs::write(&beside, text)
        .and_then(|()| fs::rename(&beside, path))
        .map_err(|e| format!("{}: {e}", path.display()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_quoted_text_cannot_leave_its_script() {
        let text = quoted("</script>\"\\\n\u{2028}");
        assert_eq!(text, "\"\\x3c/script>\\\"\\\\\\n\\u2028\"");
    }
}
