//! Builds the page and serves it on this machine.
//!
//! ```text
//! cargo run --release -p trued-web -- build            www/pkg/ and target/trued.html
//! cargo run --release -p trued-web -- serve [--port N] the same, then http://127.0.0.1:N/
//! ```
//!
//! Three stages, one file each: the wasm module and its glue, the one self-contained file, the
//! local server.

#[cfg(not(target_arch = "wasm32"))]
mod build;

#[cfg(not(target_arch = "wasm32"))]
const USAGE: &str = "usage: trued-web build | serve [--port N]";

#[cfg(not(target_arch = "wasm32"))]
fn main() -> std::process::ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match run(&arguments) {
        Ok(()) => std::process::ExitCode::SUCCESS,
        Err(problem) if problem == USAGE => {
            eprintln!("{problem}");
            std::process::ExitCode::from(2)
        }
        Err(problem) => {
            eprintln!("trued-web: {problem}");
            std::process::ExitCode::FAILURE
        }
    }
}

#[cfg(not(target_arch = "wasm32"))]
fn run(arguments: &[String]) -> Result<(), String> {
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["build"] => build::build(&build::Places::find()?),
        ["serve"] => serve(8137),
        ["serve", "--port", port] => serve(port.parse().map_err(|_| USAGE.to_owned())?),
        _ => Err(USAGE.to_owned()),
    }
}

#[cfg(not(target_arch = "wasm32"))]
fn serve(port: u16) -> Result<(), String> {
    let places = build::Places::find()?;
    build::build(&places)?;
    build::serve(&places.www, port)
}

#[cfg(target_arch = "wasm32")]
fn main() {}
