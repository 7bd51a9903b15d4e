//! Bytes in, whole files out.
//!
//! A file is written beside its destination under a passing name, flushed to the disk and then
//! renamed over it: at any moment, killed or not, the destination is absent, old or whole.

use super::Stop;
use std::fs::File;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use trued::limits::MAX_FILE_BYTES;

/// The name by which standard input is asked for.
pub const STDIN: &str = "-";

/// A file as it was read.
pub struct Source {
    /// Its name as given; `standard input` for `-`.
    pub name: String,
    /// All of it.
    pub bytes: Vec<u8>,
}

/// Reads a file, or standard input for `-`. The error is a sentence that names the file.
pub fn read_source(path: &str) -> Result<Source, String> {
    let name = if path == STDIN {
        "standard input"
    } else {
        path
    };
    let mut bytes = Vec::new();
    // One byte over the limit is enough to know that it is passed.
    let limit = MAX_FILE_BYTES as u64 + 1;
    let read = if path == STDIN {
        std::io::stdin().lock().take(limit).read_to_end(&mut bytes)
    } else {
        File::open(path).and_then(|file| {
            let size = file.metadata().map_or(0, |m| m.len().min(limit));
            bytes.reserve_exact(usize::try_from(size).unwrap_or(0).saturating_add(1));
            file.take(limit).read_to_end(&mut bytes)
        })
    };
    match read {
        Ok(_) => Ok(Source {
            name: name.into(),
            bytes,
        }),
        Err(e) => Err(format!("{name}: cannot be read: {}", reason(&e))),
    }
}

/// Makes sure that files can be written into a folder, before any work is done.
pub fn check_folder(folder: &Path) -> Result<(), Stop> {
    let shown = folder.display();
    if !folder.is_dir() {
        return Err(Stop::Usage(format!("{shown}: there is no such folder")));
    }
    tempfile::tempfile_in(folder)
        .map(drop)
        .map_err(|e| Stop::Usage(format!("{shown}: cannot be written into: {}", reason(&e))))
}

/// The folder a file lies in.
pub fn folder_of(path: &Path) -> PathBuf {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_path_buf(),
        _ => PathBuf::from("."),
    }
}

/// Makes sure that `path` can be written: its folder is there and it is no folder itself.
pub fn check_file(path: &Path) -> Result<(), Stop> {
    if path.is_dir() {
        let shown = path.display();
        return Err(Stop::Usage(format!("{shown}: is a folder, not a file")));
    }
    check_folder(&folder_of(path))
}

/// Makes sure that no file is both read and written, and none written twice: an input that is
/// overwritten is lost.
pub fn check_apart<'a>(
    read: impl IntoIterator<Item = &'a str>,
    written: &[&Path],
) -> Result<(), Stop> {
    // A file that is not there yet lies in a folder that is.
    let place = |path: &Path| {
        std::fs::canonicalize(path).unwrap_or_else(|_| {
            let folder = folder_of(path);
            let folder = std::fs::canonicalize(&folder).unwrap_or(folder);
            folder.join(path.file_name().unwrap_or_default())
        })
    };
    let read: Vec<PathBuf> = read
        .into_iter()
        .filter(|r| *r != STDIN)
        .map(|r| place(Path::new(r)))
        .collect();
    let mut seen: Vec<PathBuf> = Vec::with_capacity(written.len());
    for path in written {
        let own = place(path);
        let shown = path.display();
        if read.contains(&own) {
            return Err(Stop::Usage(format!(
                "{shown}: is read and would be overwritten; write to another name or folder"
            )));
        }
        if seen.contains(&own) {
            return Err(Stop::Usage(format!("{shown}: would be written twice")));
        }
        seen.push(own);
    }
    Ok(())
}

/// Replaces a file whole. The error is a sentence that names the file.
pub fn replace_file(path: &Path, bytes: &[u8]) -> Result<(), String> {
    staged(path, bytes)?.put()
}

/// Replaces several files: all of them are on the disk before the first is put in its place, so that what
/// cannot be written (no room, no right) leaves none.
pub fn replace_files(files: &[(&Path, String)]) -> Result<(), String> {
    let staged: Result<Vec<Staged<'_>>, String> = files
        .iter()
        .map(|(path, text)| staged(path, text.as_bytes()))
        .collect();
    staged?.into_iter().try_for_each(Staged::put)
}

/// A file under its passing name.
struct Staged<'a> {
    path: &'a Path,
    passing: tempfile::NamedTempFile,
}

impl Staged<'_> {
    fn put(self) -> Result<(), String> {
        let put = self.passing.persist(self.path);
        put.map(drop).map_err(|e| unwritten(self.path, &e.error))
    }
}

fn unwritten(path: &Path, e: &std::io::Error) -> String {
    format!("{}: cannot be written: {}", path.display(), reason(e))
}

fn staged<'a>(path: &'a Path, bytes: &[u8]) -> Result<Staged<'a>, String> {
    let fail = |e: &std::io::Error| unwritten(path, e);
    let mut passing = tempfile::Builder::new()
        .prefix(".trued-")
        .suffix(".part")
        .tempfile_in(folder_of(path))
        .map_err(|e| fail(&e))?;
    let whole = passing
        .write_all(bytes)
        .and_then(|()| keep_permissions(path, passing.as_file()))
        .and_then(|()| passing.as_file().sync_all());
    whole.map_err(|e| fail(&e))?;
    Ok(Staged { path, passing })
}

/// A passing file is private to its owner; the finished one is as open as the file it replaces or
/// as any new file.
#[cfg(unix)]
fn keep_permissions(path: &Path, file: &File) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    let mode = match std::fs::metadata(path) {
        Ok(old) => old.permissions().mode() & 0o777,
        Err(_) => 0o644,
    };
    file.set_permissions(std::fs::Permissions::from_mode(mode))
}

#[cfg(not(unix))]
fn keep_permissions(_: &Path, _: &File) -> std::io::Result<()> {
    Ok(())
}

/// Writes to standard output; a reader that has gone away is no error.
pub fn print(bytes: &[u8]) -> Result<(), String> {
    let mut out = std::io::stdout().lock();
    match out.write_all(bytes).and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => {
            Err(format!("standard output: {}", reason(&e)))
        }
        _ => Ok(()),
    }
}

/// An error of the system in lower case and without its number.
fn reason(e: &std::io::Error) -> String {
    let text = e.to_string();
    let text = text.split(" (os error").next().unwrap_or(&text);
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |c| {
        c.to_lowercase().chain(chars).collect::<String>()
    })
}
