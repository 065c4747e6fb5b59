//! Fuzzes the readers alone: invariants for any bytes.

use std::cell::RefCell;
use std::fs;
use std::io::{Cursor, Write as _};
use std::path::{Path, PathBuf};

use trug::commands::wayout_lines;
use trug::earth::elevation::{Bounds, Relief};
use trug::error::Error;
use trug::ingest::{base_map, folder, photo, position, record, track};
use trug::model::{FileKind, TrackFile};
use trug::present::label::Layout;
use trug::units::{LatLon, Metres};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

use crate::pipeline;

/// Lines of a text, however they end.
fn lines(bytes: &[u8]) -> u64 {
    bytes.iter().filter(|&&byte| byte == b'\n' || byte == b'\r').count() as u64 + 1
}

fn has_reason(error: &Error) {
    assert!(!error.what().is_empty());
    assert!(!error.to_string().contains('\0'));
}

fn on_the_globe(at: LatLon) {
    assert!((-90.0..=90.0).contains(&at.latitude()) && at.longitude().abs() <= 180.0, "{at:?}");
}

pub(crate) fn gpx(bytes: &[u8]) {
    track(bytes, FileKind::Gpx);
}

pub(crate) fn kml(bytes: &[u8]) {
    track(bytes, FileKind::Kml);
}

pub(crate) fn geojson(bytes: &[u8]) {
    track(bytes, FileKind::GeoJson);
}

pub(crate) fn nmea(bytes: &[u8]) {
    track(bytes, FileKind::Nmea);
}

fn track(bytes: &[u8], format: FileKind) {
    match track::read_from(bytes, Path::new("any.track"), format, None) {
        Ok(file) => sound_track(&file),
        Err(error) => has_reason(&error),
    }
}

fn sound_track(file: &TrackFile) {
    let tracks = file.tracks.iter().flat_map(|track| &track.segments);
    for fix in tracks.flat_map(|segment| &segment.fixes) {
        on_the_globe(fix.at);
        assert!(fix.height.is_none_or(|height| height.0.0.is_finite()));
        assert!(fix.hdop.is_none_or(f32::is_finite));
    }
    for point in &file.waypoints {
        on_the_globe(point.fix.at);
    }
    file.set_aside.iter().chain(&file.remarks).for_each(has_reason);
}

pub(crate) fn photo(bytes: &[u8]) {
    match photo::read_from(Cursor::new(bytes), Path::new("any.jpg")) {
        Ok(photo) => {
            assert!(photo.remarks.iter().all(|remark| !remark.is_empty()));
            assert!(photo.gps.error.is_none_or(|error| error.0.is_finite() && error.0 > 0.0));
            photo.gps.at.into_iter().for_each(on_the_globe);
        }
        Err(error) => has_reason(&error),
    }
}

pub(crate) fn records(bytes: &[u8]) {
    let file = match record::read_from(bytes, Path::new("any.csv")) {
        Ok(file) => file,
        Err(error) => return has_reason(&error),
    };
    let lines = lines(bytes);
    assert!(file.records.is_sorted_by_key(|record| record.line));
    for record in &file.records {
        assert!((1..=lines).contains(&record.line));
        assert!(record.elevation.is_none_or(|metres| metres.0.is_finite()));
        for reading in record.coordinates.iter().flat_map(|written| &written.readings) {
            on_the_globe(reading.at);
        }
    }
    file.set_aside.iter().chain(&file.remarks).for_each(has_reason);
}

/// The type of a file by its first bytes.
pub(crate) fn front(bytes: &[u8]) {
    let kind = folder::identify(bytes);
    // no file has two types, and the result is repeatable
    assert_eq!(kind, folder::identify(bytes));
}

/// A position as people write it; the first line is its system, or empty.
pub(crate) fn position(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let (system, text) = text.split_once('\n').unwrap_or(("", &text));
    let system = (!system.is_empty()).then_some(system);
    match position::read(text, system) {
        Ok(written) => {
            for reading in written.readings.iter().chain(&written.slips) {
                on_the_globe(reading.at);
            }
        }
        Err(error) => has_reason(&error),
    }
    for near in [None, LatLon::new(-42.5, 146.25).ok()] {
        for one in position::mentioned(text, near) {
            on_the_globe(one.at);
        }
    }
    let (latitude, longitude) = text.split_once(' ').unwrap_or((text, text));
    if let Ok(written) = position::read_columns(latitude, longitude, system) {
        written.readings.iter().for_each(|reading| on_the_globe(reading.at));
    }
}

thread_local! {
    /// A folder of this thread's own, for readers that take a path.
    static FOLDER: RefCell<Option<tempfile::TempDir>> = const { RefCell::new(None) };
}

/// A path in this thread's folder; in memory where the system has such a file system.
pub(crate) fn path(name: &str) -> PathBuf {
    FOLDER.with(|folder| {
        let mut folder = folder.borrow_mut();
        let memory = Path::new("/dev/shm");
        let fresh = || tempfile::tempdir_in(memory).or_else(|_| tempfile::tempdir()).unwrap();
        folder.get_or_insert_with(fresh).path().join(name)
    })
}

fn file(name: &str, bytes: &[u8]) -> PathBuf {
    let path = path(name);
    fs::write(&path, bytes).unwrap();
    path
}

/// An elevation tile: a GeoTIFF or an ASCII grid.
pub(crate) fn elevation(bytes: &[u8]) {
    let path = file("tile", bytes);
    let relief = match Relief::open(&[path]) {
        Ok(relief) => relief,
        Err(error) => return has_reason(&error),
    };
    let middle = LatLon::new(-42.5, 146.25).unwrap();
    assert!(relief.spacing(middle).is_none_or(|metres| metres.0 > 0.0));
    let Some(bounds) = Bounds::about(&[middle], Metres(500.0)) else { return };
    match relief.read(&bounds) {
        Ok(ground) => {
            let height = ground.height(middle);
            assert!(height.is_none_or(|height| (-600.0..=9_000.0).contains(&height.0.0)));
        }
        Err(error) => has_reason(&error),
    }
}

/// A workbook: the first byte says whether the rest is the sheet of an XLSX or the content of an ODS, or a whole
/// archive.
pub(crate) fn workbook(bytes: &[u8]) {
    let Some((form, content)) = bytes.split_first() else { return };
    let whole = match form % 4 {
        0 => content.to_vec(),
        1 => packed(&[(ODS_TYPE, ODS_MIME), ("content.xml", content)]),
        _ => {
            let [package, book, links] = XLSX_FRAME;
            packed(&[package, book, links, ("xl/worksheets/sheet1.xml", content)])
        }
    };
    match record::read_from(&whole, Path::new("any.xlsx")) {
        Ok(file) => file.set_aside.iter().chain(&file.remarks).for_each(has_reason),
        Err(error) => has_reason(&error),
    }
}

const ODS_TYPE: &str = "mimetype";
const ODS_MIME: &[u8] = b"application/vnd.oasis.opendocument.spreadsheet";
const XLSX_FRAME: [(&str, &[u8]); 3] = [
    (
        "_rels/.rels",
        br#"<Relationships><Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>"#,
    ),
    (
        "xl/workbook.xml",
        br#"<workbook><sheets><sheet name="2026" sheetId="1" r:id="r1"/></sheets></workbook>"#,
    ),
    (
        "xl/_rels/workbook.xml.rels",
        br#"<Relationships><Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>"#,
    ),
];

/// An archive of these files, uncompressed.
fn packed(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    let options = SimpleFileOptions::default().compression_method(CompressionMethod::Stored);
    for (name, content) in files {
        // a name can be impossible or there twice
        if zip.start_file(*name, options).is_ok() {
            zip.write_all(content).unwrap();
        }
    }
    zip.finish().unwrap().into_inner()
}

/// An archive of the files of a case; where the case has none, the case itself.
pub(crate) fn archive(bytes: &[u8]) {
    let files = pipeline::parts(bytes);
    let whole = if files.is_empty() {
        bytes.to_vec()
    } else {
        let named: Vec<(&str, &[u8])> =
            files.iter().map(|(name, content)| (name.as_str(), *content)).collect();
        packed(&named)
    };
    let path = file("archive.zip", &whole);
    let gathered = folder::gather(&[path], &|_| {});
    gathered.set_aside.iter().for_each(has_reason);
    gathered.tracks.iter().for_each(sound_track);
}

/// A file that says what columns mean.
pub(crate) fn columns(bytes: &[u8]) {
    let mut columns = record::Columns::default();
    if let Err(error) = columns.read_from(bytes, Path::new("columns.toml")) {
        has_reason(&error);
    }
    let path = file("columns.csv", b"Fotos,number,date\nP1,1,2026-05-03\n");
    match record::read_with(&path, &columns) {
        Ok(file) => assert!(file.records.len() <= 1),
        Err(error) => has_reason(&error),
    }
}

/// A layout of labels.
pub(crate) fn layout(bytes: &[u8]) {
    if let Err(error) = Layout::from_toml(&String::from_utf8_lossy(bytes)) {
        has_reason(&error);
    }
}

/// Lines and areas to walk along or around: GeoJSON or GPX.
pub(crate) fn lines_and_areas(bytes: &[u8]) {
    let path = file("lines", bytes);
    for shapes in [wayout_lines::areas(&path), wayout_lines::lines(&path).map(|all| vec![all])] {
        match shapes {
            Ok(areas) => {
                assert!(areas.iter().flatten().all(|ring| ring.len() > 1));
                areas.into_iter().flatten().flatten().for_each(on_the_globe);
            }
            Err(error) => has_reason(&error),
        }
    }
}

/// A base map: GeoJSON, GPX, KML or GeoPackage.
pub(crate) fn map(bytes: &[u8]) {
    match base_map::read(&file("map", bytes)) {
        Ok(map) => {
            assert!(!map.features.is_empty());
            for feature in &map.features {
                assert!(feature.shape.places().count() > 0);
                feature.shape.places().for_each(on_the_globe);
                assert!(feature.name.as_ref().is_none_or(|name| name.chars().count() <= 80));
            }
        }
        Err(error) => has_reason(&error),
    }
}
