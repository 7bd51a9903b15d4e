//! A small server for the page on this machine: 127.0.0.1 only, the folder `www` only, GET and HEAD
//! only. It is a convenience at the desk, not something to put on a network.

use std::fs;
use std::io::{Error, ErrorKind, Read as _, Write as _};
use std::net::{Ipv4Addr, TcpListener, TcpStream};
use std::path::{Component, Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

/// Longest request head that is read.
const MAX_HEAD: usize = 8 * 1024;
/// Most requests answered at once.
const MAX_AT_ONCE: usize = 32;
/// Longest wait for a request's whole head, or for the other side to take more of an answer.
const PATIENCE: Duration = Duration::from_secs(5);

/// Sent with every answer. The page carries the same policy itself.
const HEADERS: &str = "Content-Security-Policy: default-src 'none'; script-src 'self' \
'wasm-unsafe-eval'; worker-src 'self'; style-src 'self'; connect-src 'self'; img-src 'self' data: \
blob:; base-uri 'none'; form-action 'none'; frame-ancestors 'none'\r\n\
X-Content-Type-Options: nosniff\r\n\
Referrer-Policy: no-referrer\r\n\
Cross-Origin-Opener-Policy: same-origin\r\n\
Cross-Origin-Resource-Policy: same-origin\r\n\
Cache-Control: no-cache\r\n\
Connection: close\r\n";

/// An answer: its status, the media type and what is sent.
struct Answer {
    status: &'static str,
    kind: &'static str,
    body: Vec<u8>,
}

/// Serves the folder until the program is ended. Port 0 takes any free one.
pub fn serve(www: &Path, port: u16) -> Result<(), String> {
    let root = www
        .canonicalize()
        .map_err(|e| format!("{}: {e}", www.display()))?;
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, port))
        .map_err(|e| format!("port {port}: {e}; choose another with --port"))?;
    let port = listener.local_addr().map_or(port, |a| a.port());
    println!("http://127.0.0.1:{port}/");
    let busy = Arc::new(AtomicUsize::new(0));
    for stream in listener.incoming().flatten() {
        if busy.fetch_add(1, Ordering::SeqCst) >= MAX_AT_ONCE {
            busy.fetch_sub(1, Ordering::SeqCst);
            continue;
        }
        let (root, done) = (root.clone(), Arc::clone(&busy));
        std::thread::spawn(move || {
            // A connection that breaks off is the other side's affair.
            let _ = converse(&root, stream, port);
            done.fetch_sub(1, Ordering::SeqCst);
        });
    }
    Ok(())
}

fn converse(root: &Path, mut stream: TcpStream, port: u16) -> std::io::Result<()> {
    stream.set_write_timeout(Some(PATIENCE))?;
    let head = read_head(&mut stream, PATIENCE)?;
    let answer = answer(root, &head, port);
    let length = answer.body.len();
    let (status, kind) = (answer.status, answer.kind);
    write!(
        stream,
        "HTTP/1.1 {status}\r\nContent-Type: {kind}\r\nContent-Length: {length}\r\n{HEADERS}\r\n"
    )?;
    if !head.starts_with("HEAD ") {
        stream.write_all(&answer.body)?;
    }
    stream.flush()
}

/// The request line and its headers; cut off where it is longer than [`MAX_HEAD`]. Whoever sends it
/// byte by byte is not waited for any longer than whoever sends nothing.
fn read_head(stream: &mut TcpStream, patience: Duration) -> std::io::Result<String> {
    let until = Instant::now() + patience;
    let mut head = Vec::new();
    let mut some = [0; 1024];
    loop {
        let left = until.saturating_duration_since(Instant::now());
        if left.is_zero() {
            return Err(Error::from(ErrorKind::TimedOut));
        }
        stream.set_read_timeout(Some(left))?;
        let room = some.len().min(MAX_HEAD - head.len());
        let read = stream.read(&mut some[..room])?;
        head.extend_from_slice(&some[..read]);
        let ended = [&b"\r\n\r\n"[..], b"\n\n"].iter().find_map(|end| {
            let at = head.windows(end.len()).position(|w| w == *end)?;
            Some(at + end.len())
        });
        if let Some(end) = ended {
            head.truncate(end);
        }
        if ended.is_some() || read == 0 {
            return Ok(String::from_utf8_lossy(&head).into_owned());
        }
    }
}

fn answer(root: &Path, head: &str, port: u16) -> Answer {
    if !(head.ends_with("\r\n\r\n") || head.ends_with("\n\n")) {
        return refusal("431 Request Header Fields Too Large");
    }
    let mut words = head.lines().next().unwrap_or("").split(' ');
    let (method, target, version) = (words.next(), words.next(), words.next());
    if !version.is_some_and(|v| v.starts_with("HTTP/1.")) || words.next().is_some() {
        return refusal("400 Bad Request");
    }
    if !matches!(method, Some("GET" | "HEAD")) {
        return refusal("405 Method Not Allowed");
    }
    if !host_is_ours(head, port) {
        return refusal("421 Misdirected Request");
    }
    let Some(path) = target.and_then(|t| locate(root, t)) else {
        return refusal("404 Not Found");
    };
    match fs::read(&path) {
        Ok(body) => Answer {
            status: "200 OK",
            kind: media_type(&path),
            body,
        },
        Err(_) => refusal("404 Not Found"),
    }
}

fn refusal(status: &'static str) -> Answer {
    Answer {
        status,
        kind: "text/plain; charset=utf-8",
        body: format!("{status}\n").into_bytes(),
    }
}

/// A page elsewhere that had its name point at this machine would come with its own host name.
fn host_is_ours(head: &str, port: u16) -> bool {
    let mut hosts = head.lines().skip(1).filter_map(|line| {
        let (name, value) = line.split_once(':')?;
        name.eq_ignore_ascii_case("host").then(|| value.trim())
    });
    let Some(host) = hosts.next() else {
        return false;
    };
    let ours = [format!("127.0.0.1:{port}"), format!("localhost:{port}")];
    hosts.next().is_none() && ours.iter().any(|o| o.eq_ignore_ascii_case(host))
}

/// The file a request names, if it lies in the folder, is no hidden one, and goes nowhere by a link.
fn locate(root: &Path, target: &str) -> Option<PathBuf> {
    let path = target.split(['?', '#']).next()?.strip_prefix('/')?;
    let path = unescape(path)?;
    if path.contains(['\\', '\0', ':']) {
        return None;
    }
    let path = if path.is_empty() { "index.html" } else { &path };
    for part in Path::new(path).components() {
        match part {
            Component::Normal(name) if !name.to_string_lossy().starts_with('.') => {}
            _ => return None,
        }
    }
    let file = root.join(path).canonicalize().ok()?;
    (file.starts_with(root) && file.is_file()).then_some(file)
}

fn unescape(path: &str) -> Option<String> {
    let mut out = Vec::with_capacity(path.len());
    let mut bytes = path.bytes();
    while let Some(byte) = bytes.next() {
        if byte == b'%' {
            let high = char::from(bytes.next()?).to_digit(16)?;
            let low = char::from(bytes.next()?).to_digit(16)?;
            out.push(u8::try_from(high * 16 + low).ok()?);
        } else {
            out.push(byte);
        }
    }
    String::from_utf8(out).ok()
}

fn media_type(path: &Path) -> &'static str {
    match path.extension().and_then(|e| e.to_str()) {
        Some("html") => "text/html; charset=utf-8",
        Some("css") => "text/css; charset=utf-8",
        Some("js") => "text/javascript; charset=utf-8",
        Some("wasm") => "application/wasm",
        Some("svg") => "image/svg+xml",
        Some("png") => "image/png",
        Some("json") => "application/json",
        _ => "text/plain; charset=utf-8",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ask(line: &str) -> Answer {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
        let root = root
            .canonicalize()
            .expect("the crate's own sources are there");
        answer(&root, &format!("{line}\r\nHost: 127.0.0.1:1\r\n\r\n"), 1)
    }

    #[test]
    fn a_file_of_the_folder_is_served() {
        let got = ask("GET /main.rs HTTP/1.1");
        assert_eq!(got.status, "200 OK");
        assert!(!got.body.is_empty());
    }

    #[test]
    fn nothing_outside_the_folder_is() {
        for path in [
            "/../Cargo.toml",
            "/%2e%2e/Cargo.toml",
            "/build/../../Cargo.toml",
            "/..%2fCargo.toml",
            "/..\\Cargo.toml",
            "//etc/passwd",
            "/%00",
            "/%zz",
            "/.hidden",
            "/build",
            "etc/passwd",
            "http://127.0.0.1/main.rs",
        ] {
            let got = ask(&format!("GET {path} HTTP/1.1"));
            assert_eq!(got.status, "404 Not Found", "{path}");
        }
    }

    #[test]
    fn odd_requests_are_refused() {
        for (line, status) in [
            ("POST /main.rs HTTP/1.1", "405 Method Not Allowed"),
            ("DELETE / HTTP/1.1", "405 Method Not Allowed"),
            ("GET /main.rs", "400 Bad Request"),
            ("GET /main.rs HTTP/1.1 more", "400 Bad Request"),
            ("", "400 Bad Request"),
        ] {
            assert_eq!(ask(line).status, status, "{line}");
        }
    }

    #[test]
    fn another_host_is_refused() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR"));
        for host in ["evil.example:1", "127.0.0.1:2", ""] {
            let head = format!("GET /Cargo.toml HTTP/1.1\r\nHost: {host}\r\n\r\n");
            assert_eq!(answer(root, &head, 1).status, "421 Misdirected Request");
        }
    }

    #[test]
    fn an_endless_head_is_cut_off() {
        let head = format!("GET / HTTP/1.1\r\nX: {}", "a".repeat(9000));
        let got = answer(Path::new("."), &head, 1);
        assert_eq!(got.status, "431 Request Header Fields Too Large");
    }

    /// What comes back for raw bytes through a real socket of this machine, and how long it takes.
    fn over_a_socket(bytes: &[u8], pause: Option<Duration>) -> (String, Duration) {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a free port");
        let port = listener.local_addr().expect("an address").port();
        let server = std::thread::spawn(move || {
            let (stream, from) = listener.accept().expect("a connection");
            assert!(from.ip().is_loopback());
            let root = root.canonicalize().expect("the sources");
            let _ = converse(&root, stream, port);
        });
        let began = Instant::now();
        let mut stream = TcpStream::connect((Ipv4Addr::LOCALHOST, port)).expect("it listens");
        let text = String::from_utf8_lossy(bytes).replace("PORT", &port.to_string());
        // The server may hang up before all is sent.
        if let Some(pause) = pause {
            for byte in text.bytes() {
                if stream.write_all(&[byte]).is_err() {
                    break;
                }
                std::thread::sleep(pause);
            }
        } else {
            let _ = stream.write_all(text.as_bytes());
            let _ = stream.shutdown(std::net::Shutdown::Write);
        }
        let mut got = Vec::new();
        let _ = stream.read_to_end(&mut got);
        server.join().expect("the server does not panic");
        (String::from_utf8_lossy(&got).into_owned(), began.elapsed())
    }

    #[test]
    fn through_a_socket_only_the_folder_comes_out() {
        let host = "Host: 127.0.0.1:PORT\r\n\r\n";
        for (line, status) in [
            ("GET /main.rs HTTP/1.1", "200"),
            ("HEAD /main.rs HTTP/1.1", "200"),
            ("GET /../Cargo.toml HTTP/1.1", "404"),
            ("GET /build/%2e%2e/%2e%2e/Cargo.toml HTTP/1.1", "404"),
            ("GET /%252e%252e/Cargo.toml HTTP/1.1", "404"),
            ("GET /..;/Cargo.toml HTTP/1.1", "404"),
            ("GET /./main.rs/../../Cargo.toml HTTP/1.1", "404"),
            ("GET file:///etc/passwd HTTP/1.1", "404"),
            ("TRACE / HTTP/1.1", "405"),
            ("CONNECT 127.0.0.1:22 HTTP/1.1", "405"),
            ("get /main.rs HTTP/1.1", "405"),
            ("\0\u{1}\u{2}", "400"),
            ("GET /main.rs HTTP/2.0", "400"),
            ("GET  /main.rs HTTP/1.1", "400"),
        ] {
            let (got, _) = over_a_socket(format!("{line}\r\n{host}").as_bytes(), None);
            assert!(
                got.starts_with(&format!("HTTP/1.1 {status} ")),
                "{line}: {got}"
            );
            assert!(
                got.contains("Content-Security-Policy: default-src 'none'"),
                "{line}"
            );
            assert!(
                !got.contains("[package]") && !got.contains("root:"),
                "{line}: {got}"
            );
            if line.starts_with("HEAD") {
                assert!(got.ends_with("\r\n\r\n"), "{got}");
            }
        }
    }

    #[test]
    fn heads_that_are_huge_or_never_end_are_given_up() {
        let huge = format!("GET / HTTP/1.1\r\nX: {}\r\n\r\n", "a".repeat(4_000_000));
        let (got, took) = over_a_socket(huge.as_bytes(), None);
        // With more still on the way the answer itself may be lost, but nothing is served.
        let refused = "HTTP/1.1 431 ";
        assert!(
            refused.starts_with(&got) || got.starts_with(refused),
            "{got}"
        );
        assert!(took < PATIENCE, "{took:?}");
        // Byte by byte: 40 bytes at 0.2 s are not waited for.
        let dribble = [b'a'; 40];
        let (got, took) = over_a_socket(&dribble, Some(Duration::from_millis(200)));
        assert!(got.is_empty() && took < 2 * PATIENCE, "{took:?}: {got}");
    }

    #[cfg(unix)]
    #[test]
    fn a_link_out_of_the_folder_is_not_followed() {
        let folder = std::env::temp_dir().join(format!("trued-web-{}", std::process::id()));
        let inside = folder.join("www");
        fs::create_dir_all(&inside).expect("a folder");
        fs::write(folder.join("secret.txt"), "secret").expect("a file");
        std::os::unix::fs::symlink(folder.join("secret.txt"), inside.join("a.txt"))
            .expect("a link");
        std::os::unix::fs::symlink(&folder, inside.join("up")).expect("a link");
        let root = inside.canonicalize().expect("the folder");
        for path in ["/a.txt", "/up/secret.txt"] {
            let head = format!("GET {path} HTTP/1.1\r\nHost: 127.0.0.1:1\r\n\r\n");
            assert_eq!(answer(&root, &head, 1).status, "404 Not Found", "{path}");
        }
        fs::remove_dir_all(&folder).expect("cleared");
    }
}
