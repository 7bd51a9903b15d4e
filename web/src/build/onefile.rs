//! The page as one file that opens from disk with everything inside.
//!
//! The style sheet and the script go inline, each named in the Content-Security-Policy by its hash;
//! the worker's script and the wasm module (gzipped, base64) lie in data blocks that nothing
//! executes until the page makes a worker of them.

use super::{bundle::bundle, bytes, gzip, read};
use base64::{Engine as _, engine::general_purpose::STANDARD};
use sha2::{Digest as _, Sha256};
use std::path::Path;

const STYLE_LINK: &str = "<link rel=\"stylesheet\" href=\"page.css\">";
const SCRIPT_TAG: &str = "<script type=\"module\" src=\"main.js\"></script>";
const POLICY_START: &str = "<meta http-equiv=\"Content-Security-Policy\" content=\"";

/// The whole page as text.
pub fn assemble(www: &Path) -> Result<String, String> {
    let style = read(&www.join("page.css"))?;
    let script = safe(&bundle(&www.join("main.js"))?, "main.js")?;
    let worker = safe(&bundle(&www.join("worker.js"))?, "worker.js")?;
    let module = STANDARD.encode(gzip(&bytes(&www.join("pkg/trued_web_bg.wasm"))?)?);
    let page = read(&www.join("index.html"))?;

    let policy = format!(
        "default-src 'none'; script-src 'sha256-{}' 'wasm-unsafe-eval' blob:; worker-src blob:; \
         style-src 'sha256-{}'; img-src data: blob:; base-uri 'none'; form-action 'none'",
        hash(&script),
        hash(&style)
    );
    let page = with_policy(&page, &policy)?;
    let page = replace(&page, STYLE_LINK, &format!("<style>{style}</style>"))?;
    let blocks = format!(
        "<script type=\"text/plain\" id=\"worker-script\">{worker}</script>\n\
         <script type=\"text/plain\" id=\"worker-wasm\">{module}</script>\n\
         <script type=\"module\">{script}</script>"
    );
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

/// A script that would end its own block early is refused.
fn safe(script: &str, name: &str) -> Result<String, String> {
    let lower = script.to_ascii_lowercase();
    if lower.contains("</script") || lower.contains("<!--") {
        return Err(format!("{name}: holds text that would end its block"));
    }
    Ok(script.to_owned())
}

fn hash(text: &str) -> String {
    STANDARD.encode(Sha256::digest(text.as_bytes()))
}
