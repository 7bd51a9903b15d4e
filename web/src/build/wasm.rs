//! The wasm module and its JavaScript glue.
//!
//! A toolchain that has the target `wasm32-unknown-unknown`, or can fetch it, is used as it is.
//! Where rustup can fetch nothing, a system compiler (`/usr/bin/rustc`) that is new enough builds
//! the standard library for wasm from its own sources, with the linker of the rustup toolchain.
//! Which way was taken is printed.
//!
//! Panic messages carry the paths the code was built from. Those of this machine are nobody's
//! business, so every prefix is mapped to a short word. The module is not stripped before the glue
//! is made: the glue needs a section that stripping removes.

use super::Places;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

const TARGET: &str = "wasm32-unknown-unknown";

/// How the target is had.
enum Way {
    Ordinary,
    System { sysroot: PathBuf, linker: PathBuf },
}

/// The modules, by the names of their packages: the page's own, and the one that is loaded for a picture.
const MODULES: [&str; 2] = ["trued-web", "trued-photo"];
/// What unpacks the one file: numbers cross its border, so it needs no glue.
const UNPACK: &str = "trued-unpack";

/// Compiles the modules and writes them with their glue and types into `pkg`.
pub fn build(places: &Places, pkg: &Path) -> Result<(), String> {
    let way = find_way(places)?;
    for package in MODULES {
        let name = package.replace('-', "_");
        glue(&compile(places, &way, package)?, pkg, &name)?;
    }
    let unpack = super::bytes(&compile(places, &way, UNPACK)?)?;
    let beside = pkg.join("trued_unpack.wasm");
    let plain = bare(&unpack).ok_or("the unpacker is no wasm module")?;
    std::fs::write(&beside, plain).map_err(|e| format!("{}: {e}", beside.display()))?;
    Ok(())
}

fn find_way(places: &Places) -> Result<Way, String> {
    if has_target() {
        println!("wasm target: from the toolchain");
        return Ok(Way::Ordinary);
    }
    let added = Command::new("rustup")
        .args(["target", "add", TARGET])
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .status();
    if added.is_ok_and(|s| s.success()) && has_target() {
        println!("wasm target: added by rustup");
        return Ok(Way::Ordinary);
    }
    let way = system_way().or_else(|| {
        println!("wasm target: rustup could not fetch it; asking the system's packages");
        let script = places.root.join("tests/setup-wasm.sh");
        Command::new("sh").arg(script).status().ok()?;
        system_way()
    });
    let way = way.ok_or(
        "no way to the target wasm32-unknown-unknown: `rustup target add wasm32-unknown-unknown` \
         failed, and there is no system rustc with its library sources (on Debian: packages \
         rustc-web and rust-web-src)",
    )?;
    println!("wasm target: standard library built from the system compiler's sources");
    Ok(way)
}

fn has_target() -> bool {
    output("rustc", &["--print", "target-libdir", "--target", TARGET])
        .is_some_and(|folder| Path::new(&folder).is_dir())
}

/// A system compiler with its library sources, and a linker for wasm from the other toolchain.
fn system_way() -> Option<Way> {
    let sysroot = PathBuf::from(output("/usr/bin/rustc", &["--print", "sysroot"])?);
    let sources = sysroot.join("lib/rustlib/src/rust/library/std/Cargo.toml");
    let host = output("rustc", &["--print", "host-tuple"])?;
    let toolchain = PathBuf::from(output("rustc", &["--print", "sysroot"])?);
    let linker = toolchain.join(format!("lib/rustlib/{host}/bin/rust-lld"));
    (sources.is_file() && linker.is_file()).then_some(Way::System { sysroot, linker })
}

fn output(program: &str, arguments: &[&str]) -> Option<String> {
    let done = Command::new(program)
        .args(arguments)
        .stderr(Stdio::null())
        .output()
        .ok()?;
    let text = String::from_utf8(done.stdout).ok()?;
    done.status.success().then(|| text.trim().to_owned())
}

fn compile(places: &Places, way: &Way, package: &str) -> Result<PathBuf, String> {
    let folder = places.target.join("wasm");
    let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
    let mut command = Command::new(cargo);
    command
        .current_dir(&places.root)
        .args(["build", "--lib", "--profile", "wasm", "-p", package])
        .args(["--target", TARGET, "--target-dir"])
        .arg(&folder)
        .env_remove("RUSTFLAGS")
        .env("CARGO_ENCODED_RUSTFLAGS", flags(places, way));
    if let Way::System { linker, .. } = way {
        command
            .arg("-Zbuild-std=std,panic_abort")
            .env("RUSTC", "/usr/bin/rustc")
            .env("RUSTC_BOOTSTRAP", "1")
            .env("CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER", linker);
    }
    let status = command
        .status()
        .map_err(|e| format!("cargo did not start: {e}"))?;
    if !status.success() {
        return Err("the wasm module did not compile; see above".into());
    }
    Ok(folder
        .join(TARGET)
        .join("wasm")
        .join(package.replace('-', "_"))
        .with_extension("wasm"))
}

/// Two numbers abreast, which all browsers of 2023 and later can, and every folder of this machine that
/// could end up in a message mapped to a short word.
fn flags(places: &Places, way: &Way) -> String {
    let home = std::env::var_os("CARGO_HOME")
        .map(PathBuf::from)
        .or_else(|| Some(PathBuf::from(std::env::var_os("HOME")?).join(".cargo")));
    let mut maps = Vec::new();
    if let Some(home) = home {
        maps.push((home.clone(), "deps"));
        if let Ok(entries) = std::fs::read_dir(home.join("registry/src")) {
            maps.extend(entries.flatten().map(|e| (e.path(), "deps")));
        }
    }
    maps.push((places.root.clone(), "app"));
    if let Way::System { sysroot, .. } = way {
        maps.push((sysroot.join("lib/rustlib/src/rust"), "std"));
        if let Ok(real) = sysroot.join("lib/rustlib/src/rust").canonicalize() {
            maps.push((real, "std"));
        }
    }
    // Where several prefixes fit, the compiler takes the last.
    let mapped = maps
        .iter()
        .map(|(from, to)| format!("--remap-path-prefix={}={to}", from.display()));
    let flags: Vec<String> = std::iter::once("-Ctarget-feature=+simd128".to_owned())
        .chain(mapped)
        .collect();
    flags.join("\u{1f}")
}

/// A module without its custom sections: names, producers.
fn bare(module: &[u8]) -> Option<Vec<u8>> {
    let (head, mut rest) = module.split_at_checked(8)?;
    let mut out = head.to_vec();
    while let Some((&id, after)) = rest.split_first() {
        // A length of 7 bits a byte, the least first; the last has no bit on top.
        let digits = after.iter().position(|b| b & 0x80 == 0)? + 1;
        let read = after.iter().take(digits).rev();
        let length = read.fold(0, |n, b| (n << 7) | usize::from(b & 0x7f));
        let (section, next) = rest.split_at_checked(length.checked_add(1 + digits)?)?;
        if id != 0 {
            out.extend_from_slice(section);
        }
        rest = next;
    }
    Some(out)
}

fn glue(module: &Path, pkg: &Path, name: &str) -> Result<(), String> {
    let mut bindgen = wasm_bindgen_cli_support::Bindgen::new();
    let result = bindgen.input_path(module).web(true).and_then(|b| {
        b.typescript(true)
            .omit_default_module_path(true)
            .remove_name_section(true)
            .remove_producers_section(true)
            .generate(pkg)
    });
    result.map_err(|e| format!("the glue for the wasm module was not made: {e:#}"))?;
    if name == "trued_web" {
        let types = pkg.join(name).with_extension("d.ts");
        let text = super::read(&types)? + &trued_web::types::typescript();
        super::write(&types, &text)?;
    }
    // Its comments are in the types beside it too.
    let script = pkg.join(name).with_extension("js");
    super::write(&script, &super::bundle::bare(&super::read(&script)?))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn custom_sections_are_left_out_and_nothing_else() {
        let module = b"\0asm\x01\0\0\0\x01\x02ab\0\x81\0x\x03\x00";
        assert_eq!(
            bare(module).as_deref(),
            Some(&b"\0asm\x01\0\0\0\x01\x02ab\x03\x00"[..])
        );
        assert_eq!(bare(b"\0asm\x01\0\0\0\x01\x05ab"), None);
    }
}
