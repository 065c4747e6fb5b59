//! Opens ordinary files only: a pipe would wait for a writer for ever, a device may have no end, and a
//! folder holds no bytes. Used by everything that reads a file that a user named. Layer: `error`.

use std::fs::{self, File, Metadata};
use std::io::{self, Read};
use std::path::Path;

/// Opens a file for reading. Links are followed.
///
/// The path is looked at before it is opened, since opening a pipe would wait for whoever writes into it.
///
/// # Errors
/// When it is not there or cannot be read, and when it is no ordinary file: then the kind of the error is
/// `IsADirectory` or `InvalidInput`, and its text says what is there instead.
pub fn open_regular(path: &Path) -> io::Result<File> {
    match other_than_a_file(&fs::metadata(path)?) {
        None => File::open(path),
        Some("a folder") => Err(io::Error::new(io::ErrorKind::IsADirectory, "it is a folder")),
        Some(what) => Err(io::Error::new(io::ErrorKind::InvalidInput, format!("it is {what}"))),
    }
}

/// Reads a whole file as [`open_regular`] opens it.
///
/// # Errors
/// As [`open_regular`].
pub fn read_regular(path: &Path) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    open_regular(path)?.read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// What is there where it is no ordinary file.
#[must_use]
pub fn other_than_a_file(found: &Metadata) -> Option<&'static str> {
    if found.is_file() {
        return None;
    }
    Some(if found.is_dir() { "a folder" } else { special(found) })
}

#[cfg(unix)]
fn special(found: &Metadata) -> &'static str {
    use std::os::unix::fs::FileTypeExt;
    let kind = found.file_type();
    if kind.is_fifo() {
        "a pipe"
    } else if kind.is_socket() {
        "a socket"
    } else if kind.is_char_device() || kind.is_block_device() {
        "a device"
    } else {
        "not an ordinary file"
    }
}

#[cfg(not(unix))]
fn special(_: &Metadata) -> &'static str {
    "not an ordinary file"
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_ordinary_files_are_opened() {
        let folder = tempfile::tempdir().unwrap();
        let refused = open_regular(folder.path()).unwrap_err();
        assert_eq!(refused.kind(), io::ErrorKind::IsADirectory);
        assert_eq!(
            open_regular(&folder.path().join("none")).unwrap_err().kind(),
            io::ErrorKind::NotFound
        );
        let file = folder.path().join("notes.csv");
        fs::write(&file, "number\n").unwrap();
        assert_eq!(read_regular(&file).unwrap(), b"number\n");
    }

    #[cfg(unix)]
    #[test]
    fn a_pipe_and_a_device_are_refused_at_once() {
        let folder = tempfile::tempdir().unwrap();
        let pipe = folder.path().join("pipe.gpx");
        assert!(std::process::Command::new("mkfifo").arg(&pipe).status().unwrap().success());
        assert_eq!(open_regular(&pipe).unwrap_err().to_string(), "it is a pipe");
        assert_eq!(open_regular(Path::new("/dev/zero")).unwrap_err().to_string(), "it is a device");
    }
}
