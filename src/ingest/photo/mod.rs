//! Reads time, camera and position from the header of a photograph, at most 32 KiB of an ordinary
//! one. Keeps the readable part of a damaged header. Refuses files that are not photographs; never
//! reads pixels. Layer: `ingest`.
//!
//! # Cost
//! At most 32 KiB of an ordinary photograph of 4 MB are read, of any photograph at most 4 MiB; tests count the
//! bytes. A day of 300 photographs takes 3 ms from a cached disk (`docs/reading-photographs.md`).
//!
//! # The hash
//! BLAKE3 over the length of the file and what was read of it: enough to know a photograph again, without reading 4
//! MB.

mod block;
mod boxes;
mod container;
mod crx;
mod header;
mod moment;
mod receiver;
mod tags;
mod texts;

#[cfg(test)]
mod specimen;
#[cfg(test)]
mod tests;

use std::io::{self, Read, Seek};
use std::path::Path;

use exif::{Exif, Reader, Tag};

use self::container::{Container, Place};
use self::header::Header;
use self::tags::Tags;
pub use self::texts::texts;
use crate::error::{Error, Result, open_regular};
use crate::model::{Camera, FileKind, Photo, PhotoGps, SourceFile};

/// Reads the header of a photograph: JPEG, HEIF, PNG, WebP, TIFF, the raw forms built on TIFF, CR3 and RAF,
/// determined by content.
///
/// A picture without a time, without Exif or with a damaged header is a [`Photo`] with remarks.
///
/// # Errors
/// When the file cannot be opened or read, or is no picture of these kinds.
///
/// # Examples
/// ```no_run
/// let photo = trug::ingest::photo::read("P1004.jpg".as_ref())?;
/// println!("{} by {}: {:?} on its own clock", photo.name(), photo.camera, photo.taken);
/// for remark in &photo.remarks {
///     eprintln!("{remark}");
/// }
/// # Ok::<(), trug::error::Error>(())
/// ```
///
/// # References
/// CIPA DC-008-2023, Exif 3.0: tables 4 to 6 and 15 (entries), 4.6.5 (time, offset), 4.6.6 (GPS).
pub fn read(path: &Path) -> Result<Photo> {
    let file = open_regular(path).map_err(|source| Error::file("open", path, &source))?;
    read_from(file, path)
}

/// Reads the header of a photograph from an open file or from memory; `path` names it.
///
/// # Errors
/// As [`read`].
///
/// # Examples
/// Bytes that are no picture are refused:
///
/// ```
/// use std::io::Cursor;
/// use trug::ingest::photo;
///
/// assert!(photo::read_from(Cursor::new(b"GIF89a"), "cap.gif".as_ref()).is_err());
/// ```
pub fn read_from(source: impl Read + Seek, path: &Path) -> Result<Photo> {
    let failed = |source: io::Error| Error::file("read", path, &source);
    let mut header = Header::open(source).map_err(failed)?;
    let container = Container::of(header.front()).ok_or_else(|| no_picture(path))?;
    let mut remarks = Vec::new();
    let (entries, damaged) = entries(container, &mut header, &mut remarks).map_err(failed)?;
    let source = SourceFile {
        path: path.to_owned(),
        kind: FileKind::Photo,
        bytes: header.length(),
        hash: header.hash(),
    };
    let Some(entries) = entries else {
        return Ok(Photo {
            source,
            camera: Camera::default(),
            taken: None,
            offset: None,
            gps: PhotoGps::default(),
            remarks,
            damaged,
        });
    };
    let tags = Tags(&entries);
    let moment = moment::read(&tags, &mut remarks);
    let gps = receiver::read(&tags, &moment, &mut remarks);
    Ok(Photo {
        source,
        camera: camera(&tags),
        taken: moment.taken,
        offset: moment.offset,
        gps,
        remarks,
        damaged,
    })
}

/// Whether a file that begins like this is a picture that [`read`] takes.
#[must_use]
pub fn is_picture(front: &[u8]) -> bool {
    Container::of(front).is_some()
}

fn no_picture(path: &Path) -> Error {
    let name = path.file_name().unwrap_or(path.as_os_str());
    Error::input(format!("{} is not a photograph", name.to_string_lossy()))
        .because("its first bytes are not those of JPEG, HEIF, PNG, WebP or TIFF")
        .hint("rename it to match its content, or leave it out")
        .in_file(path)
}

/// A directory that ends before its pointer to the next, or points to an invalid one: nothing is
/// lost, and some cameras and programs write this.
const HARMLESS: [&str; 2] = ["Truncated next IFD offset", "Unexpected next IFD"];

/// The entries of the Exif block and whether some were lost; what is missing or damaged goes to the
/// remarks.
fn entries<R: Read + Seek>(
    container: Container,
    header: &mut Header<R>,
    remarks: &mut Vec<String>,
) -> io::Result<(Option<Exif>, bool)> {
    let reader = {
        let mut reader = Reader::new();
        reader.continue_on_error(true);
        reader
    };
    let read = match container.find_exif(header)? {
        Place::At(place) => reader.read_raw(block::gather(header, place)?),
        Place::InBoxes => in_boxes(&reader, header)?,
        Place::Made(block) => reader.read_raw(block),
        Place::Nowhere => Err(exif::Error::NotFound(container.name())),
        Place::Broken(why) => Err(exif::Error::InvalidFormat(why)),
    };
    let mut damaged = false;
    let read = read.or_else(|error| {
        error.distill_partial_result(|errors| {
            let reported: Vec<String> = errors.iter().map(ToString::to_string).collect();
            let costly = reported.iter().find(|fault| !HARMLESS.contains(&fault.as_str()));
            if let Some(first) = costly {
                damaged = true;
                remarks
                    .push(format!("its header is damaged ({first}); the readable part was kept"));
            }
        })
    });
    match read {
        Ok(entries) => Ok((Some(entries), damaged)),
        Err(exif::Error::Io(error)) if container != Container::Heif => Err(error),
        Err(exif::Error::NotFound(_)) => {
            let name = container.name();
            remarks.push(format!("this {name} file has no Exif: no time, no camera"));
            Ok((None, false))
        }
        Err(error) => {
            remarks.push(format!("its header cannot be read: {error}"));
            Ok((None, true))
        }
    }
}

/// The general reader takes small Exif items only; a larger one is found by its boxes.
fn in_boxes<R: Read + Seek>(
    reader: &Reader,
    header: &mut Header<R>,
) -> io::Result<std::result::Result<Exif, exif::Error>> {
    const LARGEST: u64 = 128 * 1024 - 2;
    let place = if header.holds_metadata() { boxes::exif(header)? } else { None };
    if let Some(place) = place.filter(|place| place.end - place.start > LARGEST) {
        return Ok(reader.read_raw(block::gather(header, place)?));
    }
    // the second pass reads no new bytes
    let fault = match reader.read_from_container(&mut header.stream()) {
        Err(exif::Error::PartialResult(partial)) => {
            let (_, faults) = partial.into_inner();
            faults.iter().map(ToString::to_string).find(|fault| fault == "Invalid pointer")
        }
        Err(exif::Error::InvalidFormat(why)) => Some(why.to_owned()),
        _ => None,
    };
    let own =
        fault.is_some_and(|fault| ["Invalid pointer", "Exif data too large"].contains(&&*fault));
    match if own { boxes::exif(header)? } else { None } {
        Some(place) => Ok(reader.read_raw(block::gather(header, place)?)),
        None => Ok(reader.read_from_container(&mut header.stream())),
    }
}

fn camera(tags: &Tags<'_>) -> Camera {
    // entry of digital negatives that the crate has no name for
    let negative_serial = Tag(exif::Context::Tiff, 0xc62f);
    Camera {
        make: tags.text(Tag::Make),
        model: tags.text(Tag::Model),
        serial: tags.text(Tag::BodySerialNumber).or_else(|| tags.text(negative_serial)),
    }
}
