//! Files that trug makes: written whole or not at all, and never over a file that a collector brought
//! home. Layer: `commands`.

use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::process;

use crate::error::{Error, Result};
use crate::present::render;

/// Writes the bytes to the path: into a file beside it first, then in one step into place.
///
/// # Errors
/// When the disk refuses, or when the path holds an original: a photograph, a track that trug did not
/// write, a table of records, a store.
pub fn write(path: &Path, bytes: &[u8]) -> Result<()> {
    refuse_originals(path)?;
    replace(path, bytes)
}

/// Writes the bytes in place of a file that is known to be of trug's own making.
///
/// # Errors
/// When the disk refuses.
pub(super) fn replace(path: &Path, bytes: &[u8]) -> Result<()> {
    let beside = unfinished(path);
    let written = File::create(&beside)
        .and_then(|mut file| file.write_all(bytes).and_then(|()| file.sync_all()))
        .and_then(|()| fs::rename(&beside, path));
    written.map_err(|error| {
        // The half file is of no use to anybody; its removal may fail for the same reason.
        let _ = fs::remove_file(&beside);
        Error::file("write", path, &error)
    })
}

/// Writes a drawing in the form that the end of the path asks for: `.svg`, `.png` or `.pdf`.
///
/// # Errors
/// As [`fn@write`], and for another end.
pub fn picture(path: &Path, svg: &str) -> Result<()> {
    let end = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    let title = path.file_stem().unwrap_or_default().to_string_lossy();
    match end.as_str() {
        "svg" => write(path, svg.as_bytes()),
        "png" => write(path, &render::png(svg, 200.0)?),
        "pdf" => write(path, &render::pdf(svg, &title)?),
        _ => Err(Error::input(format!("cannot draw into {}", path.display()))
            .because(format!("\"{end}\" is no form of picture that trug writes"))
            .hint("end the name with .svg, .png or .pdf")),
    }
}

fn unfinished(path: &Path) -> PathBuf {
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    path.with_file_name(format!(".{name}.{}.unfinished", process::id()))
}

fn refuse_originals(path: &Path) -> Result<()> {
    let head = match head(path) {
        Ok(head) => head,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(error) => return Err(Error::file("write", path, &error)),
    };
    match original(&head) {
        None => Ok(()),
        Some(kind) => Err(Error::input(format!("will not write over {}", path.display()))
            .because(format!("it is {kind}, which trug did not make"))
            .hint("name another file; trug never changes what you brought home")
            .in_file(path)),
    }
}

fn head(path: &Path) -> io::Result<Vec<u8>> {
    let mut head = Vec::new();
    File::open(path)?.take(4096).read_to_end(&mut head)?;
    Ok(head)
}

/// What kind of original a file that begins like this is; `None` for an empty file and for what trug
/// writes itself.
fn original(head: &[u8]) -> Option<&'static str> {
    let text = String::from_utf8_lossy(head);
    let made_here = text.contains("trug");
    if head.starts_with(b"\xff\xd8\xff") || head.get(4..8) == Some(b"ftyp") {
        Some("a photograph")
    } else if head.starts_with(b"SQLite format 3") {
        Some("a store or another database")
    } else if text.contains("<gpx") && !made_here {
        Some("a GPX file")
    } else if !head.is_empty() && !made_here && !known_output(head) {
        Some("a file")
    } else {
        None
    }
}

/// Forms in which trug writes and nobody takes field notes.
fn known_output(head: &[u8]) -> bool {
    const BEGINNINGS: [&[u8]; 9] =
        [b"\x89PNG", b"%PDF", b"<svg", b"<?xml", b"<!doctype", b"{", b"PK", b"PAR1", b"II*\0"];
    let lower = head.to_ascii_lowercase();
    BEGINNINGS.iter().any(|beginning| lower.starts_with(&beginning.to_ascii_lowercase()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_original_is_never_written_over() {
        let folder = tempfile::tempdir().unwrap();
        let notes = folder.path().join("notes.csv");
        fs::write(&notes, "number,date\nTH-1,2026-05-02\n").unwrap();
        let refused = write(&notes, b"x").unwrap_err();
        assert!(refused.to_string().contains("will not write over"), "{refused}");
        assert_eq!(fs::read_to_string(&notes).unwrap(), "number,date\nTH-1,2026-05-02\n");
    }

    #[test]
    fn what_trug_wrote_is_replaced_whole() {
        let folder = tempfile::tempdir().unwrap();
        let map = folder.path().join("map.svg");
        write(&map, b"<svg/>").unwrap();
        write(&map, b"<svg></svg>").unwrap();
        assert_eq!(fs::read(&map).unwrap(), b"<svg></svg>");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_missing_folder_is_told_with_its_path() {
        let told = write(Path::new("no/such/folder/map.svg"), b"<svg/>").unwrap_err();
        assert!(told.what().contains("no/such/folder/map.svg"), "{told}");
    }
}
