//! Identifies the type of a file from its first bytes. Its name only decides whether a file of
//! unknown type was meant as an input, so that its reader can report what is wrong.
//! Layer: `ingest`.

use std::io::Read;
use std::path::Path;

use super::archive;
use super::walk::Found;
use crate::error::{Error, Result, open_regular, read_regular};
use crate::ingest::record::Columns;
use crate::ingest::{photo, record, track};
use crate::model::{IgnoredCause, IgnoredFile, Photo, RecordFile, TrackFile, name_of};

/// The bytes read to identify a file; they must include the titles and headings of a table.
pub(super) const FRONT: u64 = 8 * 1024;

/// What a file gave.
#[derive(Debug)]
pub(super) enum Content {
    Track(Box<TrackFile>),
    Photo(Box<Photo>),
    Records(Box<RecordFile>),
    /// An input that cannot be read.
    Refused(Error),
    /// Not an input.
    Other(IgnoredFile),
}

/// What to do with a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Sorted {
    Read(Kind),
    Ignored(IgnoredCause),
}

/// The kinds of file that trug reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// GPX, KML, GeoJSON or NMEA sentences.
    Track,
    /// A picture that can carry Exif.
    Photo,
    /// A table of field records.
    Records,
    /// ZIP (also KMZ) or gzip, in which tracks are read.
    Archive,
}

/// The kind of a file that begins with these bytes; `None` where it is none that trug reads.
///
/// 8 KiB are enough: the titles and headings of a table have to be among them.
///
/// # Examples
/// ```
/// use trug::ingest::folder::identify;
///
/// assert!(identify(b"<?xml version=\"1.0\"?><gpx version=\"1.1\">").is_some());
/// assert!(identify(b"\x7fELF").is_none());
/// ```
#[must_use]
pub fn identify(front: &[u8]) -> Option<Kind> {
    if archive::identify(front).is_some() { Some(Kind::Archive) } else { identify_input(front) }
}

/// The same without archives.
pub(super) fn identify_input(front: &[u8]) -> Option<Kind> {
    if photo::is_picture(front) {
        Some(Kind::Photo)
    } else if track::format(front).is_some() {
        Some(Kind::Track)
    } else if record::is_table(front) {
        Some(Kind::Records)
    } else {
        None
    }
}

/// The type of a file, by content, otherwise by name; what is not an input is ignored in a folder.
pub(super) fn kind(file: &Found, columns: &Columns) -> Result<Sorted> {
    let path = &file.path;
    let failed = |source| Error::file("read", path, &source);
    let mut front = Vec::new();
    open_regular(path).map_err(failed)?.take(FRONT).read_to_end(&mut front).map_err(failed)?;
    let ignored = |cause, named: fn(&Path) -> Error| {
        if file.named { Err(named(path)) } else { Ok(Sorted::Ignored(cause)) }
    };
    let kind = by_content(path, &front, columns);
    if kind == Some(Kind::Records) && record::is_own_export(&front) {
        return ignored(IgnoredCause::WrittenByTrug, own_export);
    }
    if kind == Some(Kind::Records) && record::is_checklist(&front) {
        return ignored(IgnoredCause::Checklist, checklist);
    }
    if kind == Some(Kind::Track) && track::is_own_export(&front) {
        return ignored(IgnoredCause::WrittenByTrug, own_track);
    }
    let ending = path.extension().map(|end| end.to_string_lossy().to_lowercase());
    let ending = ending.as_deref().unwrap_or_default();
    // a damaged workbook is a ZIP file, but not an archive of tracks
    let books = ["xlsx", "xlsm", "xlsb", "ods", "numbers"];
    let is_book = kind == Some(Kind::Archive) && books.contains(&ending);
    if let Some(kind) = kind.filter(|_| !is_book) {
        return Ok(Sorted::Read(kind));
    }
    match ending {
        "gpx" | "kml" | "geojson" => Ok(Sorted::Read(Kind::Track)),
        "csv" | "tsv" | "tab" | "txt" | "xlsx" | "xlsm" | "xls" | "ods" => {
            Ok(Sorted::Read(Kind::Records))
        }
        "jpg" | "jpeg" | "heic" | "heif" | "tif" | "tiff" | "png" | "webp" => {
            Ok(Sorted::Read(Kind::Photo))
        }
        _ if is_ending_of_inputs(ending) && front.is_empty() => Err(empty(path)),
        "xlsb" | "numbers" | "fods" | "gnumeric" => Err(spreadsheet(path)),
        "cr3" | "crw" | "mrw" | "orf" | "raf" | "rw2" | "x3f" => Err(other_raw(path)),
        "zip" | "kmz" | "gz" | "tgz" | "7z" | "rar" | "xz" | "bz2" | "tar" => {
            Err(other_archive(path))
        }
        "fit" | "tcx" | "nmea" | "ubx" | "sbp" | "igc" => Err(other_track(path)),
        _ if file.named => Err(unknown(path, &front)),
        _ if front.is_empty() => Ok(Sorted::Ignored(IgnoredCause::Empty)),
        _ => Ok(Sorted::Ignored(IgnoredCause::UnsupportedFormat)),
    }
}

/// Whether a file of this ending was meant as an input, though no reader takes it by its name.
fn is_ending_of_inputs(ending: &str) -> bool {
    let archives = ["zip", "kmz", "gz", "tgz", "7z", "rar", "xz", "bz2", "tar"];
    let tracks = ["fit", "tcx", "nmea", "ubx", "sbp", "igc"];
    archives.contains(&ending) || tracks.contains(&ending)
}

/// The kind of input in a file that begins with these bytes, whatever its name.
pub(super) fn by_content(path: &Path, front: &[u8], columns: &Columns) -> Option<Kind> {
    let kind = identify(front);
    // an object of JSON whose first names are those of columns reads like a table
    if matches!(kind, None | Some(Kind::Records)) && track::format_of(path, front).is_some() {
        return Some(Kind::Track);
    }
    let open = matches!(kind, None | Some(Kind::Archive));
    if open && record::may_be_workbook(front) && is_workbook(path) {
        return Some(Kind::Records);
    }
    kind.or_else(|| record::is_table_with(front, columns).then_some(Kind::Records))
}

/// Whether a file that may be a workbook is one.
fn is_workbook(path: &Path) -> bool {
    let length = path.metadata().map_or(u64::MAX, |found| found.len());
    length <= record::LARGEST && read_regular(path).is_ok_and(|bytes| record::is_workbook(&bytes))
}

fn name(path: &Path) -> String {
    path.file_name().unwrap_or(path.as_os_str()).to_string_lossy().into_owned()
}

fn spreadsheet(path: &Path) -> Error {
    Error::input(format!("{} is a spreadsheet in a format that is not supported", name(path)))
        .because("trug reads field records as XLSX, XLS, ODS and CSV")
        .hint("save it as XLSX or ODS in the same folder")
        .in_file(path)
}

pub(super) fn empty(path: &Path) -> Error {
    Error::input(format!("{} is empty", name_of(path)))
        .because("it holds no byte, so nothing can be read from it")
        .hint("copy it from the receiver or the camera again, or leave it out")
        .in_file(path)
}

fn other_archive(path: &Path) -> Error {
    Error::input(format!("{} is an archive that is not supported, or is damaged", name(path)))
        .because("trug reads tracks within ZIP, KMZ and gzip")
        .hint("unpack it, then import its contents")
        .in_file(path)
}

fn own_export(path: &Path) -> Error {
    Error::input(format!(
        "{} is a table of finds that trug exported, not field records",
        name(path)
    ))
    .because("its columns hold identifiers and positions that trug computed")
    .hint("import the field records that the finds came from")
    .in_file(path)
}

fn checklist(path: &Path) -> Error {
    Error::input(format!("{} is a checklist of taxa, not field records", name(path)))
        .because("its columns refer from names to accepted names")
        .hint("keep it in the store with trug checklist FILE")
        .in_file(path)
}

pub(super) fn own_track(path: &Path) -> Error {
    Error::input(format!("{} was written by trug and is not a record of a receiver", name_of(path)))
        .because("its positions are computed; as observations they would confirm themselves")
        .hint("give the file of the receiver")
        .in_file(path)
}

fn other_track(path: &Path) -> Error {
    Error::input(format!("{} is in a receiver's own format, which is not supported", name(path)))
        .because("trug reads tracks as GPX, KML, GeoJSON and NMEA sentences")
        .hint("export it as GPX from the receiver or its program into the same folder")
        .in_file(path)
}

fn other_raw(path: &Path) -> Error {
    Error::input(format!("{} is a raw photograph in a format that is not supported", name(path)))
        .because("its header is not a TIFF header")
        .hint("add the camera's JPEG to the folder, or convert it to DNG")
        .in_file(path)
}

fn unknown(path: &Path, front: &[u8]) -> Error {
    let why = match front {
        [] => "it is empty".to_owned(),
        text if record::is_text(text) => "it is text, but neither a track nor a table".to_owned(),
        bytes => {
            let first: Vec<String> =
                bytes.iter().take(4).map(|byte| format!("{byte:02x}")).collect();
            format!("its first bytes are {}", first.join(" "))
        }
    };
    Error::input(format!("{} is not a track, a photograph or a table of field records", name(path)))
        .because(why)
        .hint("give tracks (GPX, KML, GeoJSON, NMEA), photographs (JPEG, HEIF, PNG, WebP, TIFF), workbooks and CSV")
        .in_file(path)
}
