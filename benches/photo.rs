//! Measures headers of photographs read per second and bytes read per file: 300 sparse photographs
//! of 4 MB, against opening each and reading 16 KiB, and against crate `kamadak-exif`; all in one
//! run.
//!
//! `cargo bench --bench photo`

#![allow(clippy::print_stdout, clippy::unwrap_used, missing_docs)]

use std::fs::File;
use std::hint::black_box;
use std::io::{BufReader, Read, Seek, SeekFrom};
use std::path::PathBuf;
use std::time::Instant;

use exif::{In, Tag};
use trug::ingest::{folder, photo};

#[path = "shared/photograph.rs"]
mod photograph;

use photograph::{BYTES, photograph};

const PHOTOS: usize = 300;
const ROUNDS: usize = 40;

type Contestant = (&'static str, fn(&[PathBuf]));

const CONTESTANTS: [Contestant; 5] = [
    ("open and read 16 KiB (floor)", floor),
    ("the same, and its BLAKE3", hashed),
    ("crate kamadak-exif, plainly", library),
    ("trug photo::read", alone),
    ("trug folder::gather, all cores", together),
];

fn main() {
    let folder = tempfile::tempdir().unwrap();
    let paths: Vec<PathBuf> =
        (0..PHOTOS).map(|number| photograph(folder.path(), number, number * 2)).collect();
    println!("{PHOTOS} photographs of {} MB, best of {ROUNDS} rounds", BYTES / 1_000_000);
    println!("{:<34} {:>12} {:>10}", "", "photos/s", "ratio");
    let mut floor_rate = None;
    for (name, read) in CONTESTANTS {
        let best = (0..ROUNDS).map(|_| seconds(|| read(&paths))).fold(f64::MAX, f64::min);
        let rate = PHOTOS as f64 / best;
        let floor_rate = *floor_rate.get_or_insert(rate);
        println!("{name:<34} {rate:>12.0} {:>10.2}", rate / floor_rate);
    }
    let mut source = Counted { file: File::open(&paths[0]).unwrap(), bytes: 0, reads: 0 };
    photo::read_from(&mut source, &paths[0]).unwrap();
    println!("read of each photograph: {} bytes in {} reads", source.bytes, source.reads);
}

fn seconds(work: impl FnOnce()) -> f64 {
    let start = Instant::now();
    work();
    start.elapsed().as_secs_f64()
}

fn floor(paths: &[PathBuf]) {
    for path in paths {
        let mut front = vec![0; 16 * 1024];
        File::open(path).unwrap().read_exact(&mut front).unwrap();
        black_box(front);
    }
}

fn hashed(paths: &[PathBuf]) {
    for path in paths {
        let mut front = vec![0; 16 * 1024];
        File::open(path).unwrap().read_exact(&mut front).unwrap();
        black_box(blake3::hash(&front));
    }
}

fn library(paths: &[PathBuf]) {
    for path in paths {
        let mut file = BufReader::with_capacity(16 * 1024, File::open(path).unwrap());
        let exif = exif::Reader::new().read_from_container(&mut file).unwrap();
        black_box(exif.get_field(Tag::DateTimeOriginal, In::PRIMARY).is_some());
    }
}

fn alone(paths: &[PathBuf]) {
    for path in paths {
        let photo = photo::read(path).unwrap();
        assert!(photo.taken.is_some() && photo.gps.at.is_some());
    }
}

fn together(paths: &[PathBuf]) {
    let folder = paths[0].parent().unwrap().to_owned();
    let intake = folder::gather(&[folder], &|_| {});
    assert_eq!(intake.photos.len(), PHOTOS);
}

/// A file that counts what is read from it.
struct Counted {
    file: File,
    bytes: usize,
    reads: usize,
}

impl Read for Counted {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        let count = self.file.read(into)?;
        self.bytes += count;
        self.reads += 1;
        Ok(count)
    }
}

impl Seek for Counted {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.file.seek(to)
    }
}
