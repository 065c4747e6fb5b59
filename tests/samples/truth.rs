//! Reads the truth of the sample days, `sample-tracks/truth`.

use std::path::{Path, PathBuf};

use trug::ingest::folder;
use trug::join::{Options, join};
use trug::model::{Day, Find};
use trug::units::LatLon;

/// The truth of a find.
pub(crate) struct TrueFind {
    pub(crate) folder: String,
    pub(crate) file: String,
    pub(crate) line: u64,
    pub(crate) at: LatLon,
}

/// The truth of a camera.
pub(crate) struct TrueCamera {
    pub(crate) folder: String,
    pub(crate) model: String,
    pub(crate) photographs: usize,
    pub(crate) ahead: f64,
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-tracks")
}

fn rows(name: &str) -> Vec<csv::StringRecord> {
    let mut reader = csv::Reader::from_path(root().join("truth").join(name)).unwrap();
    reader.records().map(Result::unwrap).collect()
}

pub(crate) fn finds() -> Vec<TrueFind> {
    let find = |row: &csv::StringRecord| TrueFind {
        folder: row[0].to_owned(),
        file: row[1].to_owned(),
        line: row[2].parse().unwrap(),
        at: LatLon::new(row[4].parse().unwrap(), row[5].parse().unwrap()).unwrap(),
    };
    rows("finds.csv").iter().map(find).collect()
}

pub(crate) fn cameras() -> Vec<TrueCamera> {
    let camera = |row: &csv::StringRecord| TrueCamera {
        folder: row[0].to_owned(),
        model: row[2].to_owned(),
        photographs: row[4].parse().unwrap(),
        ahead: row[5].parse().unwrap(),
    };
    rows("cameras.csv").iter().map(camera).collect()
}

/// A folder of the samples, read and joined.
pub(crate) fn joined(folder: &str) -> Vec<Day> {
    joined_from(&[root().join(folder)])
}

pub(crate) fn joined_from(paths: &[PathBuf]) -> Vec<Day> {
    join(folder::gather(paths, &|_| {}), &Options::default())
}

/// The true position of the find of a record, by file and line.
pub(crate) fn of<'a>(truth: &'a [TrueFind], day: &Day, find: &Find) -> &'a TrueFind {
    let path = &day.sources[find.source].path;
    let is_it = |truth: &&TrueFind| {
        path.ends_with(Path::new(&truth.folder).join(&truth.file)) && truth.line == find.record.line
    };
    truth.iter().find(is_it).unwrap_or_else(|| panic!("{} {}", path.display(), find.record.line))
}
