//! The messages about archives. Layer: `ingest`.

use std::io;
use std::path::{Path, PathBuf};

use super::member::Unread;
use crate::error::Error;
use crate::model::name_of;

/// The archive itself cannot be opened.
pub(super) fn damaged(archive: &Path, why: &str) -> Error {
    Error::input(format!("{} cannot be unpacked", name_of(archive)))
        .because(why)
        .hint("copy or download it again, or unpack it with another program")
        .in_file(archive)
}

/// One file of it cannot be opened.
pub(super) fn locked(member: &Path, why: &str) -> Error {
    Error::input(format!("{} cannot be unpacked", name_of(member)))
        .because(why)
        .hint("unpack it, with its password if it has one, then import its contents")
        .in_file(member)
}

/// The data of one file end too early or are damaged.
pub(super) fn cut(member: &Path, fault: &io::Error) -> Error {
    Error::input(format!("{}: the archive is damaged", name_of(member)))
        .because(fault.to_string())
        .hint("everything before the damage was read; copy or download the archive again")
        .in_file(member)
}

/// More than the limit.
pub(super) fn too_large(member: &Path, most: u64) -> Error {
    Error::input(format!("{} was not read", name_of(member)))
        .because(format!(
            "the files of its archive unpack to more than {} MiB",
            most / (1024 * 1024)
        ))
        .hint("unpack it yourself if you trust it, then import its contents")
        .in_file(member)
}

/// More files than the limit.
pub(super) fn too_many(archive: &Path, files: usize, most: usize) -> Error {
    Error::input(format!("{} was read in part", name_of(archive)))
        .because(format!("it holds {files} files, and only the first {most} are read"))
        .hint("unpack it, then import its contents")
        .in_file(archive)
}

/// An archive within an archive.
pub(super) fn nested(member: &Path) -> Error {
    Error::input(format!("{} is an archive within an archive", name_of(member)))
        .because("archives are read one level deep, since deeper ones can grow without bound")
        .hint("unpack the outer archive, then import its contents")
        .in_file(member)
}

/// No track at all.
pub(super) fn without_tracks(archive: &Path, files: usize) -> Error {
    Error::input(format!("{} is an archive without a track", name_of(archive)))
        .because(format!("none of its files ({files}) is GPX, KML, GeoJSON or an NMEA log"))
        .hint("unpack it, then import its contents")
        .in_file(archive)
}

/// Photographs and tables in it.
pub(super) fn unread(archive: &Path, unread: &Unread) -> Error {
    let counted = |files: &[PathBuf], one: &str, many: &str| match files.len() {
        0 => None,
        1 => Some(format!("1 {one}")),
        count => Some(format!("{count} {many}")),
    };
    let parts = [
        counted(&unread.photographs, "photograph", "photographs"),
        counted(&unread.tables, "table", "tables"),
    ];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    let inner = |path: &PathBuf| path.strip_prefix(archive).unwrap_or(path).display().to_string();
    let files: Vec<String> = unread.photographs.iter().chain(&unread.tables).map(inner).collect();
    Error::input(format!("{}: {} not read", name_of(archive), parts.join(" and ")))
        .because(format!("only tracks are read within an archive: {}", files.join(", ")))
        .hint("unpack it, then import its contents")
        .in_file(archive)
}
