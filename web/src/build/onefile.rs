//! The page as one file that opens from disk with everything inside.
//!
//! The style sheet and a few lines of script go inline, each named in the Content-Security-Policy by
//! its hash. All else lies packed in data blocks that nothing executes, as text ([`ascii`]). Those lines unpack the page's
//! own script, which is gzipped: a browser without WebAssembly can still say so. The script unpacks the rest
//! (`www/parts.js`), which is packed by LZMA, with a module for that, gzipped, in one of the blocks (`web/unpack`).

use super::{ascii, bundle::bundle, bytes, gzip, read};
use base64::{Engine as _, engine::general_purpose::STANDARD};
use lzma_rust2::{LzmaOptions, LzmaWriter};
use sha2::{Digest as _, Sha256};
use std::io::Write as _;
use std::path::Path;

const STYLE_LINK: &str = "<link rel=\"stylesheet\" href=\"page.css\">";
const SCRIPT_TAG: &str = "<script type=\"module\" src=\"main.js\"></script>";
const POLICY_START: &str = "<meta http-equiv=\"Content-Security-Policy\" content=\"";

/// Reads blocks of text, unpacks and runs the page's script, and leaves the reading to it.
const LOADER: &str = r#"
const bytes = (id) => {
  const block = document.getElementById(id), text = block.textContent, all = new Uint8Array(text.length / 7 * 6);
  for (let i = 0, at = 0; i < text.length; i += 7) {
    let n = 0;
    for (let k = 6; k >= 0; k--) { const c = text.charCodeAt(i + k); n = n * 125 + c - (c > 60 ? 3 : c > 13 ? 2 : 1); }
    const high = Math.floor(n / 16777216), low = n - high * 16777216;
    for (const three of [low, high]) { all[at++] = three; all[at++] = three >> 8; all[at++] = three >> 16; }
  }
  return all.subarray(0, Number(block.dataset.bytes));
};
const inflate = (packed) => new Response(new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"))).arrayBuffer();
globalThis.inside = { bytes, inflate };
await import(URL.createObjectURL(new Blob([await inflate(bytes("main.js"))], { type: "text/javascript" })));
"#;

/// The whole page as text.
pub fn assemble(www: &Path) -> Result<String, String> {
    let style = read(&www.join("page.css"))?;
    let page = read(&www.join("index.html"))?;
    let script = |name: &str| bundle(&www.join(name)).map(String::into_bytes);
    let module = |name: &str| bytes(&www.join("pkg").join(name));
    let parts = [
        ("main.js", gzip(&script("main.js")?)?),
        ("unpack.wasm", gzip(&module("trued_unpack.wasm")?)?),
        ("worker.js", lzma(&script("worker.js")?)?),
        ("trued_web_bg.wasm", lzma(&module("trued_web_bg.wasm")?)?),
        ("photoworker.js", lzma(&script("photoworker.js")?)?),
        (
            "trued_photo_bg.wasm",
            lzma(&module("trued_photo_bg.wasm")?)?,
        ),
    ];
    let mut blocks = String::new();
    for (name, packed) in parts {
        let (length, text) = (packed.len(), ascii::text(&packed));
        blocks += &format!(
            "<script type=\"text/plain\" id=\"{name}\" data-bytes=\"{length}\">{text}</script>\n"
        );
    }
    blocks += &format!("<script type=\"module\">{LOADER}</script>");

    let policy = format!(
        "default-src 'none'; script-src 'sha256-{}' 'wasm-unsafe-eval' blob:; worker-src blob:; \
         style-src 'sha256-{}'; img-src data: blob:; base-uri 'none'; form-action 'none'",
        hash(LOADER),
        hash(&style)
    );
    let page = with_policy(&page, &policy)?;
    let page = replace(&page, STYLE_LINK, &format!("<style>{style}</style>"))?;
    replace(&page, SCRIPT_TAG, &blocks)
}

fn replace(page: &str, what: &str, by: &str) -> Result<String, String> {
    let (before, after) = page
        .split_once(what)
        .ok_or_else(|| format!("index.html: no {what}"))?;
    Ok(format!("{before}{by}{after}"))
}

fn with_policy(page: &str, policy: &str) -> Result<String, String> {
    let missing = || "index.html: no Content-Security-Policy".to_owned();
    let (before, rest) = page.split_once(POLICY_START).ok_or_else(missing)?;
    let (_, after) = rest.split_once('"').ok_or_else(missing)?;
    Ok(format!("{before}{POLICY_START}{policy}\"{after}"))
}

/// Packed by LZMA, its length at the head.
fn lzma(plain: &[u8]) -> Result<Vec<u8>, String> {
    let size = u32::try_from(plain.len()).map_err(|e| e.to_string())?;
    let options = LzmaOptions {
        dict_size: size.next_power_of_two().max(4096),
        // WebAssembly is aligned to nothing.
        pb: 0,
        ..LzmaOptions::with_preset(9)
    };
    let writer = LzmaWriter::new_use_header(Vec::new(), &options, Some(u64::from(size)));
    let packed = writer.and_then(|mut w| {
        w.write_all(plain)?;
        w.finish()
    });
    packed.map_err(|e| format!("packing: {e}"))
}

fn hash(text: &str) -> String {
    STANDARD.encode(Sha256::digest(text.as_bytes()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_packed_comes_back() {
        let plain: Vec<u8> = (0..100_000_u32).map(|i| (i / 7 % 251) as u8).collect();
        let packed = lzma(&plain).expect("it packs");
        assert!(packed.len() < plain.len());
        assert_eq!(trued_unpack::unpacked(&packed), Some(plain));
    }
}
