//! Reads tracks within ZIP (also KMZ) and gzip archives in place, without writing anything. What they
//! unpack to is limited, and archives within archives are refused. Layer: `ingest`.
//!
//! Limits: one level deep, 2,000 files, 256 MiB unpacked in all. An archive that unpacks to more than that is cut
//! off at the limit, and said so.

mod member;
mod report;

#[cfg(test)]
mod tests;

use std::borrow::Cow;
use std::ffi::OsStr;
use std::fs::File;
use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};

use flate2::read::MultiGzDecoder;
use zip::ZipArchive;

use self::member::{Budget, Member, Unread};
use super::sort::Content;
use super::walk::{Found, ignored, is_leaving, is_skipped};
use crate::error::{Error, Result, open_regular};

/// Bytes that the files of one archive may unpack to, together.
const MOST_BYTES: u64 = 256 * 1024 * 1024;

/// Files of one archive that are looked at.
const MOST_FILES: usize = 2_000;

/// The kinds of archive that are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Archive {
    Zip,
    Gzip,
}

/// The archive that begins with these bytes. A document of an office program is a ZIP file, too, but no
/// archive of tracks.
pub(super) fn identify(front: &[u8]) -> Option<Archive> {
    if front.starts_with(b"\x1F\x8B") {
        return Some(Archive::Gzip);
    }
    if front.starts_with(b"PK\x05\x06") {
        return Some(Archive::Zip);
    }
    let name = front.strip_prefix(b"PK\x03\x04").map(|rest| rest.get(26..).unwrap_or_default())?;
    let office = [&b"[Content_Types]"[..], b"mimetype", b"_rels/", b"xl/", b"docProps/"];
    (!office.iter().any(|start| name.starts_with(start))).then_some(Archive::Zip)
}

/// The kind of a file that is known to be an archive.
pub(super) fn kind(front: &[u8]) -> Archive {
    if front.starts_with(b"\x1F\x8B") { Archive::Gzip } else { Archive::Zip }
}

/// Everything that an archive gives.
pub(super) fn read(file: &Found, kind: Archive) -> Vec<Content> {
    let read = match kind {
        Archive::Zip => read_zip(file),
        Archive::Gzip => read_gzip(file),
    };
    read.unwrap_or_else(|error| vec![Content::Refused(error)])
}

fn open(path: &Path) -> Result<BufReader<File>> {
    let file = open_regular(path).map_err(|fault| Error::file("open", path, &fault))?;
    Ok(BufReader::new(file))
}

/// Whether an archive holds tracks or other inputs, or what cannot be read of it may be one.
pub(super) fn holds_inputs(file: &Found, kind: Archive) -> bool {
    let contents = match kind {
        Archive::Zip => of_zip(file).map(|(contents, _)| contents),
        Archive::Gzip => of_gzip(file).map(|content| content.into_iter().collect()),
    };
    let others =
        |contents: Vec<Content>| contents.iter().all(|one| matches!(one, Content::Other(_)));
    !contents.is_ok_and(others)
}

fn read_zip(file: &Found) -> Result<Vec<Content>> {
    let (contents, files) = of_zip(file)?;
    if contents.iter().all(|content| matches!(content, Content::Other(_))) {
        return Err(report::without_tracks(&file.path, files));
    }
    Ok(contents)
}

/// What the files of an archive give, and how many they are.
fn of_zip(file: &Found) -> Result<(Vec<Content>, usize)> {
    let path = &file.path;
    let mut zip =
        ZipArchive::new(open(path)?).map_err(|fault| report::damaged(path, &fault.to_string()))?;
    let named = |index: usize| zip.name_for_index(index)?.ok().map(Cow::into_owned);
    let names: Vec<String> = (0..zip.len()).map(|index| named(index).unwrap_or_default()).collect();
    let is_map = is_kmz(path, &names);
    let mut contents = Vec::new();
    let mut unread = Unread::default();
    let mut budget = Budget::of(MOST_BYTES);
    for (index, name) in names.iter().enumerate() {
        let has =
            |wanted: fn(&OsStr) -> bool| name.split(['/', '\\']).any(|part| wanted(part.as_ref()));
        if name.ends_with('/') || has(is_leaving) {
            continue;
        }
        if index >= MOST_FILES {
            contents.push(Content::Refused(report::too_many(path, zip.len(), MOST_FILES)));
            break;
        }
        let inner = within(path, name);
        if has(is_skipped) {
            contents.extend((!is_map).then(|| Content::Other(ignored(inner))));
            continue;
        }
        match zip.by_index(index) {
            Ok(entry) => {
                let length = Some(entry.size());
                let member = Member { path: inner, named: file.named, quiet: is_map, length };
                contents.extend(member.read(entry, &mut budget, &mut unread));
            }
            Err(fault) => {
                contents.push(Content::Refused(report::locked(&inner, &fault.to_string())));
            }
        }
    }
    contents.extend(unread.report(path).map(Content::Refused));
    Ok((contents, names.len()))
}

fn read_gzip(file: &Found) -> Result<Vec<Content>> {
    let content = of_gzip(file)?;
    Ok(vec![content.ok_or_else(|| report::without_tracks(&file.path, 1))?])
}

fn of_gzip(file: &Found) -> Result<Option<Content>> {
    let path = &file.path;
    let packed = open(path)?;
    let name = path.file_stem().unwrap_or(path.as_os_str()).to_os_string();
    let ends_in_gz = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("gz"));
    let inner = if ends_in_gz { path.join(name) } else { path.clone() };
    let member = Member { path: inner, named: file.named, quiet: false, length: None };
    let mut unread = Unread::default();
    let read = member.read(MultiGzDecoder::new(packed), &mut Budget::of(MOST_BYTES), &mut unread);
    Ok(read.or_else(|| unread.report(path).map(Content::Refused)))
}

/// The path of a file within an archive: only the plain parts of its name, since it is never opened.
fn within(archive: &Path, name: &str) -> PathBuf {
    let parts = name.split(['/', '\\']).filter(|part| !matches!(*part, "" | "." | ".."));
    archive.join(parts.collect::<PathBuf>())
}

/// Whether an archive is a packed KML file, whose pictures belong to the map.
fn is_kmz(path: &Path, names: &[String]) -> bool {
    let ending = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("kmz"));
    ending || names.iter().any(|name| name == "doc.kml")
}

/// The first bytes of a stream.
fn front_of(stream: &mut impl Read, most: u64) -> std::io::Result<Vec<u8>> {
    let mut front = Vec::new();
    stream.take(most).read_to_end(&mut front)?;
    Ok(front)
}
