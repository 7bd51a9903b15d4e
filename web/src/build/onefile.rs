//! The page as one file that opens from disk with everything inside.
//!
//! The style sheet and a few lines of script go inline, each named in the Content-Security-Policy by
//! its hash. The page's script, the worker's and the wasm module lie gzipped (base64) in data blocks
//! that nothing executes until those lines unpack the first, and it the others.

use super::{bundle::bundle, bytes, gzip, read};
use base64::{Engine as _, engine::general_purpose::STANDARD};
use sha2::{Digest as _, Sha256};
use std::path::Path;

const STYLE_LINK: &str = "<link rel=\"stylesheet\" href=\"page.css\">";
const SCRIPT_TAG: &str = "<script type=\"module\" src=\"main.js\"></script>";
const POLICY_START: &str = "<meta http-equiv=\"Content-Security-Policy\" content=\"";

/// Unpacks and runs the page's script.
const LOADER: &str = r#"
const packed = Uint8Array.from(atob(document.getElementById("page-script").textContent), (c) => c.charCodeAt(0));
const plain = new Blob([packed]).stream().pipeThrough(new DecompressionStream("gzip"));
const script = new Blob([await new Response(plain).arrayBuffer()], { type: "text/javascript" });
await import(URL.createObjectURL(script));
"#;

/// The whole page as text.
pub fn assemble(www: &Path) -> Result<String, String> {
    let style = read(&www.join("page.css"))?;
    let page = read(&www.join("index.html"))?;
    let parts = [
        ("page-script", bundle(&www.join("main.js"))?.into_bytes()),
        (
            "worker-script",
            bundle(&www.join("worker.js"))?.into_bytes(),
        ),
        ("worker-wasm", bytes(&www.join("pkg/trued_web_bg.wasm"))?),
        (
            "photo-script",
            bundle(&www.join("photoworker.js"))?.into_bytes(),
        ),
        ("photo-wasm", bytes(&www.join("pkg/trued_photo_bg.wasm"))?),
    ];
    let mut blocks = String::new();
    for (name, content) in parts {
        let packed = STANDARD.encode(gzip(&content)?);
        blocks += &format!("<script type=\"text/plain\" id=\"{name}\">{packed}</script>\n");
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

fn hash(text: &str) -> String {
    STANDARD.encode(Sha256::digest(text.as_bytes()))
}
