use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use super::*;

const ASKED: Overwrite = Overwrite { overwrite: true };
const NOT_ASKED: Overwrite = Overwrite { overwrite: false };

fn refusal(path: &Path, overwrite: Overwrite) -> String {
    write(path, b"x", overwrite).unwrap_err().to_string()
}

#[test]
fn foreign_files_are_not_replaced_whatever_their_header() {
    let folder = tempfile::tempdir().unwrap();
    for (name, bytes) in [
        ("notes.csv", &b"number,date\nTH-1,2026-05-02\n"[..]),
        ("map.geojson", b"{\"type\":\"FeatureCollection\",\"features\":[]}"),
        ("list.json", b"[1, 2]"),
        ("ground.asc", b"ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n1 2\n3 4\n"),
        ("diary.txt", b"Today I packed my trug and went out. trug trug"),
        ("drawing.svg", b"<svg class=\"trug\"/>"),
        ("table.csv", b"occurrenceID,basisOfRecord,recordNumber\n"),
        ("scan.png", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR trug"),
        ("scan.tif", b"II*\0\x08\0\0\0 trug"),
        ("book.pdf", b"%PDF-1.7\n% trug"),
        ("theses.zip", b"PK\x03\x04 trug"),
        ("photo.heic", b"\0\0\0\x18ftypheic trug"),
        ("empty.svg", b""),
    ] {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        assert!(refusal(&path, NOT_ASKED).contains("will not overwrite"), "{name}");
        assert_eq!(fs::read(&path).unwrap(), bytes, "{name}");
    }
}

#[test]
fn overwrite_replaces_files_but_not_originals() {
    let folder = tempfile::tempdir().unwrap();
    let put = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path
    };
    let replaced = put("drawing.svg", b"<svg/>");
    write(&replaced, b"x", ASKED).unwrap();
    assert_eq!(fs::read(&replaced).unwrap(), b"x");
    for (name, bytes, kind) in [
        ("notes.csv", &b"number,date\nTH-1,2026-05-02\n"[..], "field records"),
        ("walk.gpx", b"<?xml version=\"1.0\"?><gpx creator=\"hand\"></gpx>", "GPX"),
        ("photo.jpg", b"\xff\xd8\xff\xe1\0\x10Exif", "photograph"),
        ("photo.heic", b"\0\0\0\x18ftypheic", "photograph"),
        ("a.gpkg", b"SQLite format 3\0", "store"),
    ] {
        let path = put(name, bytes);
        assert!(refusal(&path, ASKED).contains(kind), "{name}: {}", refusal(&path, ASKED));
        assert_eq!(fs::read(&path).unwrap(), bytes);
    }
}

/// A packed file of one entry.
fn zip(name: &str, text: &[u8]) -> Vec<u8> {
    let mut file = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    file.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
    file.write_all(text).unwrap();
    file.finish().unwrap().into_inner()
}

fn book(rows: &[&[&str]]) -> Vec<u8> {
    let mut book = rust_xlsxwriter::Workbook::new();
    let sheet = book.add_worksheet();
    for (row, cells) in (0..).zip(rows) {
        for (column, cell) in (0..).zip(*cells) {
            sheet.write_string(row, column, *cell).unwrap();
        }
    }
    book.save_to_buffer().unwrap()
}

const GEOJSON: &[u8] =
    b"{\"type\":\"Feature\",\"properties\":{},\"geometry\":{\"type\":\"LineString\",\
    \"coordinates\":[[146,-42],[146.1,-42]]}}";
const KML: &[u8] = b"<kml xmlns=\"http://www.opengis.net/kml/2.2\"><Placemark><LineString>\
    <coordinates>146,-42 146.1,-42</coordinates></LineString></Placemark></kml>";

#[test]
fn overwrite_keeps_whatever_an_import_reads() {
    let folder = tempfile::tempdir().unwrap();
    let headings: &[&str] = &["Number", "Date", "Name"];
    let filled = book(&[headings, &["TH-1", "2026-05-02", "Mycena"]]);
    for (name, bytes, kept) in [
        ("filled.xlsx", filled, true),
        ("empty.xlsx", book(&[headings]), false),
        ("other.xlsx", book(&[&["budget", "2026"], &["mushroom knife", "20"]]), true),
        ("empty.csv", b"Number,Date,Name\n".to_vec(), false),
        ("walk.kml", KML.to_vec(), true),
        ("walk.kmz", zip("doc.kml", KML), true),
        ("walk.zip", zip("walk.geojson", GEOJSON), true),
        ("letter.zip", zip("letter.txt", b"Dear friends"), false),
        ("walk.geojson", GEOJSON.to_vec(), true),
        ("empty.geojson", b"{\"type\":\"FeatureCollection\",\"features\":[]}".to_vec(), false),
        (
            "walk.nmea",
            b"$GPRMC,101115.00,A,4736.00,N,00806.00,E,1.7,45.0,030925,,,A*69\r\n".to_vec(),
            true,
        ),
    ] {
        let path = folder.path().join(name);
        fs::write(&path, &bytes).unwrap();
        assert_eq!(write(&path, b"x", ASKED).is_err(), kept, "{name}");
        assert_eq!(fs::read(&path).unwrap() == bytes, kept, "{name}");
    }
}

#[test]
fn overwrite_keeps_whatever_any_command_reads() {
    let folder = tempfile::tempdir().unwrap();
    let area = b"{\"type\":\"Feature\",\"properties\":{},\"geometry\":{\"type\":\"Polygon\",\
        \"coordinates\":[[[146,-42],[146.1,-42],[146.1,-42.1],[146,-42]]]}}";
    let weather = b"date,rain mm,tmin C,tmax C\n2026-05-01,3.2,4,11\n2026-05-02,0,2,12\n";
    let checklist = b"taxonID\tscientificName\tacceptedNameUsageID\n1\tMycena pura\t1\n";
    let columns = b"[columns]\n\"Fotos\" = \"photos\"\n";
    let layout = b"heading = [\"Fungarium Nordquell\"]\nlines = [\"place\", \"host\"]\n";
    let grid = b"ncols 2\nnrows 2\nxllcorner 146\nyllcorner -43\ncellsize 0.5\n1 2\n3 4\n";
    let metric = b"NCOLS 2\nNROWS 2\nXLLCORNER 500000\nYLLCORNER 5200000\nCELLSIZE 25\n1 2\n3 4\n";
    for (name, bytes, kind) in [
        ("S43E146.hgt", &vec![0; 2 * 1201 * 1201][..], "elevation tile"),
        ("renamed.dat", &vec![0; 2 * 1201 * 1201][..], "elevation tile"),
        ("ground.asc", grid, "elevation tile"),
        ("metric.txt", metric, "elevation tile"),
        ("large.tif", b"II\x2b\0\x08\0\0\0", "elevation tile"),
        ("area.geojson", area, "track"),
        ("columns.toml", columns, "settings"),
        ("layout.toml", layout, "settings"),
        ("layout.txt", layout, "settings"),
        ("weather.csv", weather, "weather"),
        ("checklist.tsv", checklist, "checklist"),
        ("foreign.csv", b"occurrenceID,basisOfRecord,recordNumber,eventDate\nx:1,HumanObservation,1,2026-05-02\n", "field records"),
    ] {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        let reported = refusal(&path, ASKED);
        assert!(reported.contains(kind), "{name}: {reported}");
        assert!(fs::read(&path).unwrap() == bytes, "{name}");
    }
    for (name, bytes) in [
        ("drawing.svg", &b"<svg/>"[..]),
        ("empty.toml", b"# nothing yet\n"),
        ("page.html", b"<!DOCTYPE html><p>a page</p>"),
        ("list.json", b"{\"finds\": 3}"),
        ("letter.txt", b"Dear friends,\nit rained.\n"),
        ("prices.csv", b"thing,price\nknife,20\n"),
    ] {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        write(&path, b"x", ASKED).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"x", "{name}");
    }
}

#[test]
fn own_files_are_replaced_while_unchanged() {
    let folder = tempfile::tempdir().unwrap();
    let map = folder.path().join("map.svg");
    write(&map, b"<svg>first</svg>", NOT_ASKED).unwrap();
    write(&map, b"<svg>second</svg>", NOT_ASKED).unwrap();
    assert_eq!(fs::read(&map).unwrap(), b"<svg>second</svg>");
    fs::write(&map, b"<svg>Second</svg>").unwrap();
    assert!(refusal(&map, NOT_ASKED).contains("changed since"));
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1, "nothing is left beside it");
}

#[test]
fn several_files_are_placed_all_or_none() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    write(&path("map.svg"), b"<svg>before</svg>", NOT_ASKED).unwrap();
    let mut outputs = Outputs::new(NOT_ASKED);
    outputs.write(&path("map.svg"), b"<svg>after</svg>").unwrap();
    outputs.write(&path("grid.asc"), b"after").unwrap();
    outputs.write(&path("lines.json"), b"after").unwrap();
    // another process creates a file at the last target
    fs::write(path("lines.json"), b"somebody else's").unwrap();
    assert!(outputs.place().is_err());
    assert_eq!(fs::read(path("map.svg")).unwrap(), b"<svg>before</svg>");
    assert!(!path("grid.asc").exists());
    assert_eq!(fs::read(path("lines.json")).unwrap(), b"somebody else's");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2, "nothing is left beside them");
}

#[test]
fn two_outputs_with_one_path_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let mut outputs = Outputs::new(NOT_ASKED);
    outputs.write(&folder.path().join("a.svg"), b"1").unwrap();
    let again = folder.path().join("./a.svg");
    assert!(outputs.write(&again, b"2").unwrap_err().to_string().contains("named twice"));
    drop(outputs);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn dropped_file_leaves_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut file = Unfinished::at(&folder.path().join("finds.csv"), NOT_ASKED).unwrap();
    file.write_all(b"half").unwrap();
    drop(file);
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn pictures_that_trug_did_not_write_are_never_replaced() {
    let folder = tempfile::tempdir().unwrap();
    let fronts: [(&str, &[u8]); 9] = [
        ("scan.png", b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR"),
        ("scan.tif", b"II\x2a\0\x08\0\0\0\0\0"),
        ("web.webp", b"RIFF\x10\0\0\0WEBPVP8 "),
        ("phone.heic", b"\0\0\0\x18ftypheic"),
        ("camera.jpg", b"\xff\xd8\xff\xd9"),
        ("raw.orf", b"IIRO\x08\0\0\0"),
        ("raw.rw2", b"IIU\0\x18\0\0\0"),
        ("raw.raf", b"FUJIFILMCCD-RAW 0201"),
        ("film.jxl", b"\xff\x0a\xfa\x1f"),
    ];
    for (name, bytes) in fronts {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        let reported = refusal(&path, ASKED);
        assert!(
            reported.contains("it is a photograph, which trug did not make"),
            "{name}: {reported}"
        );
        assert_eq!(fs::read(&path).unwrap(), bytes, "{name}");
    }
    // its own drawing is replaced
    let own = folder.path().join("own.png");
    write(&own, b"\x89PNG\r\n\x1a\nfirst", NOT_ASKED).unwrap();
    write(&own, b"\x89PNG\r\n\x1a\nsecond", NOT_ASKED).unwrap();
}

#[test]
fn paths_without_a_file_name_are_reported() {
    let folder = tempfile::tempdir().unwrap();
    let missing = refusal(&folder.path().join("no/such/map.svg"), NOT_ASKED);
    assert!(missing.contains("no/such/map.svg"), "{missing}");
    assert!(refusal(folder.path(), ASKED).contains("a folder"));
    assert!(refusal(&folder.path().join("new/"), ASKED).contains("does not name a file"));
    assert!(refusal(Path::new(""), ASKED).contains("does not name a file"));
    assert!(refusal(Path::new(".."), ASKED).contains("does not name a file"));
    let long = folder.path().join("x".repeat(300));
    assert_eq!(write(&long, b"x", ASKED).unwrap_err().fault(), crate::error::Fault::Input);
}

#[cfg(unix)]
#[test]
fn pipes_devices_and_links() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name);
    assert!(std::process::Command::new("mkfifo").arg(path("pipe")).status().unwrap().success());
    assert!(refusal(&path("pipe"), ASKED).contains("a pipe"));
    // as /dev/stdout leads to a pipe that has no path: the link can be followed, and not be resolved
    let (reader, _writer) = std::io::pipe().unwrap();
    let descriptor = std::os::fd::AsRawFd::as_raw_fd(&reader);
    let through = PathBuf::from(format!("/proc/self/fd/{descriptor}"));
    if through.exists() {
        symlink(&through, path("stdout")).unwrap();
        let reported = refusal(&path("stdout"), ASKED);
        assert!(reported.contains("it is a pipe, not a regular file"), "{reported}");
        assert!(reported.contains("standard output") && !reported.contains("broken"), "{reported}");
    }
    assert!(refusal(Path::new("/dev/null"), ASKED).contains("a device"));
    symlink("/dev/null", path("null.svg")).unwrap();
    assert!(refusal(&path("null.svg"), ASKED).contains("a device"));
    symlink(path("nowhere"), path("broken.svg")).unwrap();
    assert!(refusal(&path("broken.svg"), ASKED).contains("a broken link"));
    // a link stays a link, and what it leads to is replaced
    write(&path("real.svg"), b"<svg>1st</svg>", NOT_ASKED).unwrap();
    fs::set_permissions(path("real.svg"), fs::Permissions::from_mode(0o600)).unwrap();
    symlink(path("real.svg"), path("link.svg")).unwrap();
    write(&path("link.svg"), b"<svg>2nd</svg>", NOT_ASKED).unwrap();
    assert!(path("link.svg").symlink_metadata().unwrap().is_symlink());
    assert_eq!(fs::read(path("real.svg")).unwrap(), b"<svg>2nd</svg>");
    assert_eq!(path("real.svg").metadata().unwrap().permissions().mode() & 0o777, 0o600);
    // a write-protected file is not replaced
    fs::set_permissions(path("real.svg"), fs::Permissions::from_mode(0o400)).unwrap();
    assert!(refusal(&path("real.svg"), ASKED).contains("write-protected"));
}

#[test]
fn exported_table_is_not_read_as_records() {
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
