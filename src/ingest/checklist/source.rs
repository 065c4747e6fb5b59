//! Opens the table of a checklist: a text, also gzipped, or the core table of a Darwin Core Archive
//! with what its `meta.xml` says of it. What is unpacked is bounded. Layer: `ingest`.

use std::borrow::Cow;
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read};
use std::path::{Path, PathBuf};

use flate2::read::MultiGzDecoder;
use zip::ZipArchive;

use super::meta::{self, Described};
use crate::error::{Error, Result, open_regular};

/// The most that is unpacked, bytes (chosen).
const MOST_UNPACKED: u64 = 4 << 30;
/// The longest `meta.xml`, bytes (chosen).
const LONGEST_META: u64 = 1 << 20;

/// Where the table is.
#[derive(Debug)]
pub(super) struct Source {
    path: PathBuf,
    packing: Packing,
    /// What an archive says of it.
    pub(super) described: Option<Described>,
}

#[derive(Debug)]
enum Packing {
    None,
    Gzip,
    /// A file of an archive, by its place.
    Zip(usize),
}

impl Source {
    pub(super) fn of(path: &Path) -> Result<Self> {
        let mut head = [0; 4];
        let mut file = open(path)?;
        let read = file.read(&mut head).map_err(|error| Error::file("read", path, &error))?;
        let packing = match &head[..read] {
            [b'P', b'K', 3 | 5, ..] => return in_archive(path),
            [0x1f, 0x8b, ..] => Packing::Gzip,
            [0xff, 0xfe, ..] | [0xfe, 0xff, ..] => {
                return Err(refused(path, "it is UTF-16").hint("save it as UTF-8"));
            }
            [] => return Err(refused(path, "it is empty").hint("name a table of taxa")),
            _ => Packing::None,
        };
        Ok(Self { path: path.to_owned(), packing, described: None })
    }

    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Reads the table from its beginning.
    pub(super) fn read<T>(&self, look: &mut dyn FnMut(&mut dyn BufRead) -> Result<T>) -> Result<T> {
        let file = open(&self.path)?;
        match self.packing {
            Packing::None => look(&mut BufReader::with_capacity(1 << 16, file)),
            Packing::Gzip => {
                let plain = Bounded { inner: MultiGzDecoder::new(file), left: MOST_UNPACKED };
                look(&mut BufReader::with_capacity(1 << 16, plain))
            }
            Packing::Zip(place) => {
                let mut archive = archive(&self.path, file)?;
                let part = archive.by_index(place).map_err(|error| damaged(&self.path, &error))?;
                let plain = Bounded { inner: part, left: MOST_UNPACKED };
                look(&mut BufReader::with_capacity(1 << 16, plain))
            }
        }
    }
}

fn open(path: &Path) -> Result<File> {
    open_regular(path).map_err(|error| Error::file("read", path, &error))
}

pub(super) fn refused(path: &Path, why: impl Into<String>) -> Error {
    Error::input(format!("{} is not a checklist", path.display())).because(why).in_file(path)
}

fn damaged(path: &Path, error: &zip::result::ZipError) -> Error {
    refused(path, format!("the archive is damaged: {error}")).hint("download it again")
}

fn archive(path: &Path, file: File) -> Result<ZipArchive<BufReader<File>>> {
    ZipArchive::new(BufReader::new(file)).map_err(|error| damaged(path, &error))
}

/// The core table of an archive, or its only table.
fn in_archive(path: &Path) -> Result<Source> {
    let mut archive = archive(path, open(path)?)?;
    let names: Vec<String> = archive.file_names().flatten().map(Cow::into_owned).collect();
    let place_of = |wanted: &str| {
        let ends = |name: &String| name == wanted || name.ends_with(&format!("/{wanted}"));
        names.iter().find(|name| ends(name)).cloned()
    };
    let (table, described) = if let Some(meta) = place_of("meta.xml") {
        let mut text = String::new();
        let part = archive.by_name(&meta).map_err(|error| damaged(path, &error))?;
        part.take(LONGEST_META)
            .read_to_string(&mut text)
            .map_err(|error| refused(path, format!("its meta.xml cannot be read: {error}")))?;
        let described = meta::read(&text).map_err(|why| refused(path, why))?;
        let table = place_of(&described.file).ok_or_else(|| {
            refused(path, format!("its meta.xml names {}, which it does not hold", described.file))
        })?;
        (table, Some(described))
    } else {
        (only_table(path, &names)?, None)
    };
    let place = archive.index_for_name(&table).ok_or_else(|| refused(path, "its table is gone"))?;
    Ok(Source { path: path.to_owned(), packing: Packing::Zip(place), described })
}

fn only_table(path: &Path, names: &[String]) -> Result<String> {
    let is_table = |name: &&String| {
        let low = name.to_lowercase();
        [".txt", ".tsv", ".csv", ".tab"].iter().any(|end| low.ends_with(end))
    };
    let tables: Vec<&String> = names.iter().filter(is_table).collect();
    if let [table] = tables[..] {
        return Ok(table.clone());
    }
    let held: Vec<&str> = names.iter().take(6).map(String::as_str).collect();
    Err(refused(path, format!("it has no meta.xml and holds {}", held.join(", ")))
        .hint("name a Darwin Core Archive, or one of its tables of taxa unpacked"))
}

/// A reader that ends with an error at the limit.
struct Bounded<R> {
    inner: R,
    left: u64,
}

impl<R: Read> Read for Bounded<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.inner.read(buffer)?;
        self.left = self.left.checked_sub(read as u64).ok_or_else(|| {
            io::Error::other(format!("it unpacks to more than {} GiB", MOST_UNPACKED >> 30))
        })?;
        Ok(read)
    }
}
