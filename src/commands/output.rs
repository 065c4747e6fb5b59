//! Files that trug makes: written whole or not at all, and never over a file that a collector brought
//! home. Layer: `commands`.

use std::fs::{self, File};
use std::io::{self, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::process;

use crate::error::{Error, Result};
use crate::present::darwin_core::TERMS;
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
    let mut file = Unfinished::over(path)?;
    match file.write_all(bytes) {
        Ok(()) => file.into_place(),
        Err(error) => Err(Error::file("write", path, &error)),
    }
}

/// A file on its way into place: whole, or gone again.
#[derive(Debug)]
pub(super) struct Unfinished {
    /// `None` once it is in place.
    file: Option<BufWriter<File>>,
    beside: PathBuf,
    path: PathBuf,
}

impl Unfinished {
    /// Begins a file that will take the place of what is at the path.
    ///
    /// # Errors
    /// As [`fn@write`].
    pub(super) fn at(path: &Path) -> Result<Self> {
        refuse_originals(path)?;
        Self::over(path)
    }

    fn over(path: &Path) -> Result<Self> {
        let beside = unfinished(path);
        let file = File::create(&beside).map_err(|error| Error::file("write", path, &error))?;
        Ok(Self { file: Some(BufWriter::new(file)), beside, path: path.to_owned() })
    }

    /// Puts the file into its place in one step.
    ///
    /// # Errors
    /// When the disk refuses.
    pub(super) fn into_place(mut self) -> Result<()> {
        let Some(mut file) = self.file.take() else { return Ok(()) };
        let placed = file
            .flush()
            .and_then(|()| file.get_ref().sync_all())
            .and_then(|()| fs::rename(&self.beside, &self.path));
        placed.map_err(|error| {
            // the half file is of no use to anybody; its removal may fail for the same reason
            let _ = fs::remove_file(&self.beside);
            Error::file("write", &self.path, &error)
        })
    }
}

impl Write for Unfinished {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.file.as_mut().map_or(Ok(0), |file| file.write(bytes))
    }

    fn flush(&mut self) -> io::Result<()> {
        self.file.as_mut().map_or(Ok(()), Write::flush)
    }
}

impl Drop for Unfinished {
    fn drop(&mut self) {
        if self.file.take().is_some() {
            let _ = fs::remove_file(&self.beside);
        }
    }
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
    let ends = match ends(path) {
        Ok(ends) => ends,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(error) => return Err(Error::file("write", path, &error)),
    };
    match original(&ends) {
        None => Ok(()),
        Some(kind) => Err(Error::input(format!("will not write over {}", path.display()))
            .because(format!("it is {kind}, which trug did not make"))
            .hint("name another file; trug never changes what you brought home")
            .in_file(path)),
    }
}

/// Where trug says that it made a file: its first and last 4 KiB.
struct Ends {
    head: Vec<u8>,
    tail: Vec<u8>,
}

fn ends(path: &Path) -> io::Result<Ends> {
    const LONG: u64 = 4_096;
    let mut file = File::open(path)?;
    let (mut head, mut tail) = (Vec::new(), Vec::new());
    Read::by_ref(&mut file).take(LONG).read_to_end(&mut head)?;
    let length = file.metadata()?.len();
    file.seek(SeekFrom::Start(length.saturating_sub(LONG)))?;
    file.take(LONG).read_to_end(&mut tail)?;
    Ok(Ends { head, tail })
}

/// What kind of original a file is that begins and ends like this; `None` for an empty file and for what
/// trug writes itself.
fn original(Ends { head, tail }: &Ends) -> Option<&'static str> {
    let holds = |part: &[u8], word: &[u8]| memchr::memmem::find(part, word).is_some();
    let made_here = holds(head, b"trug") || holds(tail, b"trug");
    if head.starts_with(b"\xff\xd8\xff") || head.get(4..8) == Some(b"ftyp") {
        Some("a photograph")
    } else if head.starts_with(b"SQLite format 3") {
        Some("a store or another database")
    } else if head.is_empty() || made_here || unmarked_output(head) {
        None
    } else if holds(head, b"<gpx") {
        Some("a GPX file")
    } else if head.starts_with(b"\x89PNG")
        || head.starts_with(b"II*\0")
        || head.starts_with(b"MM\0*")
    {
        Some("a picture")
    } else {
        Some("a file")
    }
}

/// Forms that trug writes without a word of its own in them, and in which nobody takes field notes.
fn unmarked_output(head: &[u8]) -> bool {
    let objects = [&b"{"[..], b"[", b"ncols"];
    let table = [TERMS[0], TERMS[1], TERMS[2]].join(",");
    head.starts_with(table.as_bytes()) || objects.iter().any(|form| head.starts_with(form))
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
        write(&map, b"<svg class=\"trug\"/>").unwrap();
        write(&map, b"<svg></svg>").unwrap();
        assert_eq!(fs::read(&map).unwrap(), b"<svg></svg>");
        assert!(write(&map, b"<svg/>").is_err(), "a drawing of somebody else");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[test]
    fn every_form_that_trug_writes_may_be_written_again_and_others_may_not() {
        use crate::present::{csv, exchange::Form, fixture, render, svg};
        let folder = tempfile::tempdir().unwrap();
        let drawing = svg::drawing(20.0, 20.0, "x").to_string();
        let mut forms = vec![
            ("svg", drawing.clone().into_bytes()),
            ("png", render::png(&drawing, 72.0).unwrap()),
            ("pdf", render::pdf(&drawing, "x").unwrap()),
            ("csv", csv::finds(&[fixture::kept_find("AQ-1")]).into_bytes()),
        ];
        for (end, form) in [("kml", Form::Kml), ("gpx", Form::Gpx), ("parquet", Form::GeoParquet)] {
            let mut bytes = Vec::new();
            let mut file = form.begin(&mut bytes).unwrap();
            file.find(&fixture::kept_find("AQ-1")).unwrap();
            file.end().unwrap();
            forms.push((end, bytes));
        }
        for (end, bytes) in forms {
            let path = folder.path().join(format!("own.{end}"));
            write(&path, &bytes).unwrap();
            write(&path, &bytes).unwrap_or_else(|told| panic!("{end}: {told}"));
        }
        for (name, bytes) in [
            ("notes.csv", &b"number,date\nTH-1,2026-05-02\n"[..]),
            ("scan.png", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"),
            ("scan.tif", b"II*\0\x08\0\0\0"),
            ("book.pdf", b"%PDF-1.7\n"),
            ("theses.zip", b"PK\x03\x04"),
            ("photo.heic", b"\0\0\0\x18ftypheic"),
        ] {
            let path = folder.path().join(name);
            fs::write(&path, bytes).unwrap();
            assert!(write(&path, b"x").is_err(), "{name}");
            assert_eq!(fs::read(&path).unwrap(), bytes);
        }
    }

    #[test]
    fn an_exported_table_is_no_notebook() {
        use crate::ingest::record;
        use crate::present::{csv, fixture};
        let own = csv::finds(&[fixture::kept_find("AQ-1")]);
        assert!(record::is_own_export(own.as_bytes()));
        assert!(record::is_own_export(own.replace(',', ";").as_bytes()));
        let notebook = b"recordNumber,eventDate,basisOfRecord,occurrenceID\n1,2026-05-02,x,y\n";
        assert!(record::is_table(notebook) && !record::is_own_export(notebook));
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("finds.csv");
        fs::write(&path, &own).unwrap();
        let gather = |path: &Path| crate::ingest::folder::gather(&[path.to_owned()], &|_| {});
        let beside = gather(folder.path());
        assert_eq!((beside.records.len(), beside.passed_over.len()), (0, 1));
        let named = gather(&path);
        assert!(named.set_aside[0].what().contains("that trug exported"), "{:?}", named.set_aside);
    }

    #[test]
    fn a_file_that_is_given_up_leaves_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let mut file = Unfinished::at(&folder.path().join("finds.csv")).unwrap();
        file.write_all(b"half").unwrap();
        drop(file);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    }

    #[test]
    fn a_missing_folder_is_told_with_its_path() {
        let told = write(Path::new("no/such/folder/map.svg"), b"<svg/>").unwrap_err();
        assert!(told.what().contains("no/such/folder/map.svg"), "{told}");
    }
}
