//! Tests that each form of a base map gives the same features, and that damage is counted. Layer:
//! `ingest`.

use std::fs;
use std::path::PathBuf;

use super::*;
use crate::model::{BaseClass, BaseShape};

fn file(folder: &tempfile::TempDir, name: &str, text: &str) -> PathBuf {
    let path = folder.path().join(name);
    fs::write(&path, text).unwrap();
    path
}

fn kinds(map: &BaseMap) -> Vec<(BaseClass, &str, usize)> {
    let of = |feature: &crate::model::BaseFeature| match &feature.shape {
        BaseShape::Point(_) => 0,
        BaseShape::Line(_) => 1,
        BaseShape::Area(rings) => 1 + rings.len(),
    };
    map.features
        .iter()
        .map(|feature| (feature.class, feature.name.as_deref().unwrap_or(""), of(feature)))
        .collect()
}

const GEOJSON: &str = r#"{"type":"FeatureCollection","name":"area","features":[
{"type":"Feature","properties":{"waterway":"stream","name":"Tallow Creek"},
 "geometry":{"type":"LineString","coordinates":[[146.0,-42.0],[146.01,-42.01,300],[null,3]]}},
{"type":"Feature","properties":{"natural":"water"},
 "geometry":{"type":"Polygon","coordinates":[[[146,-42],[146.1,-42],[146.1,-42.1],[146,-42]]]}},
{"type":"Feature","properties":{"amenity":"parking","name":"Gate"},
 "geometry":{"type":"Point","coordinates":[146.0,-42.0]}},
{"type":"Feature","properties":{"natural":"wood"},
 "geometry":{"type":"MultiPolygon","coordinates":[[[[146,-42],[146.1,-42],[146.1,-42.1]]]]}},
{"type":"Feature","properties":{},"geometry":null}"#;

#[test]
fn geojson_is_classed_and_its_good_features_are_kept() {
    let folder = tempfile::tempdir().unwrap();
    let whole = read(&file(&folder, "a.geojson", &format!("{GEOJSON}]}}"))).unwrap();
    let expected = [
        (BaseClass::Stream, "Tallow Creek", 1),
        (BaseClass::Water, "", 2),
        (BaseClass::Parking, "Gate", 0),
        (BaseClass::Other, "", 2),
    ];
    assert_eq!(kinds(&whole), expected);
    assert_eq!(whole.unknown, [("natural=wood".to_owned(), 1)]);
    assert_eq!((whole.without_place, whole.damage.as_deref()), (1, None));
    let cut = read(&file(&folder, "b.geojson", GEOJSON)).unwrap();
    assert_eq!(kinds(&cut), expected);
    assert!(cut.damage.unwrap().contains("damaged in line"), "the end is missing");
}

#[test]
fn geojson_of_another_system_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let crs = r#"],"crs":{"properties":{"name":"urn:ogc:def:crs:EPSG::28355"}}}"#;
    let error = read(&file(&folder, "a.geojson", &format!("{GEOJSON}{crs}"))).unwrap_err();
    assert!(error.why().unwrap().contains("28355"), "{error}");
}

#[test]
fn kml_gives_areas_lines_and_points_of_its_folders() {
    let folder = tempfile::tempdir().unwrap();
    let kml = r#"<?xml version="1.0"?><kml xmlns="http://www.opengis.net/kml/2.2"><Document><name>all</name>
<Folder><name>Streams</name><Placemark><name>Tallow &amp; Creek</name><LineString><coordinates>
146,-42,0 146.1,-42.1,0</coordinates></LineString></Placemark></Folder>
<Placemark><ExtendedData><Data name="Kind"><value>lake</value></Data></ExtendedData><Polygon>
<outerBoundaryIs><LinearRing><coordinates>146,-42 146.1,-42 146.1,-42.1 146,-42</coordinates></LinearRing></outerBoundaryIs>
<innerBoundaryIs><LinearRing><coordinates>146.04,-42.01 146.05,-42.01 146.05,-42.02 146.04,-42.01</coordinates></LinearRing></innerBoundaryIs>
</Polygon></Placemark><Placemark><name>Hill</name><Point><coordinates>146,-42</coordinates></Point></Placemark>"#;
    let map = read(&file(&folder, "a.kml", kml)).unwrap();
    let expected = [
        (BaseClass::Stream, "Tallow & Creek", 1),
        (BaseClass::Water, "", 3),
        (BaseClass::Other, "Hill", 0),
    ];
    assert_eq!(kinds(&map), expected);
}

#[test]
fn gpx_gives_paths_and_places() {
    let folder = tempfile::tempdir().unwrap();
    let gpx = r#"<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><wpt lat="-42" lon="146"><name>Hut</name></wpt>
<rte><name>Ridge</name><rtept lat="-42" lon="146"/><rtept lat="-42.1" lon="146"/></rte></gpx>"#;
    let map = read(&file(&folder, "a.gpx", gpx)).unwrap();
    assert_eq!(kinds(&map), [(BaseClass::Path, "Ridge", 1), (BaseClass::Place, "Hut", 0)]);
}

#[test]
fn geopackage_layers_of_any_system_are_read() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.gpkg");
    let made = rusqlite::Connection::open(&path).unwrap();
    made.execute_batch(
        "CREATE TABLE gpkg_contents (table_name TEXT, data_type TEXT);
         CREATE TABLE gpkg_spatial_ref_sys (srs_id INTEGER, organization TEXT, organization_coordsys_id INTEGER);
         CREATE TABLE gpkg_geometry_columns (table_name TEXT, column_name TEXT, srs_id INTEGER);
         CREATE TABLE roads (id INTEGER PRIMARY KEY, geom BLOB, name TEXT);
         INSERT INTO gpkg_contents VALUES ('roads', 'features');
         INSERT INTO gpkg_spatial_ref_sys VALUES (28355, 'epsg', 28355);
         INSERT INTO gpkg_geometry_columns VALUES ('roads', 'geom', 28355);",
    )
    .unwrap();
    let mut blob = b"GP\0\x01".to_vec();
    blob.extend(28355_i32.to_le_bytes());
    blob.push(1);
    blob.extend(1002_u32.to_le_bytes());
    blob.extend(2_u32.to_le_bytes());
    for number in [500_000.0_f64, 5_250_000.0, 3.0, 501_000.0, 5_250_000.0, 3.0] {
        blob.extend(number.to_le_bytes());
    }
    made.execute(
        "INSERT INTO roads (geom, name) VALUES (?1, 'Mill Road'), (x'4750', 'bad')",
        [blob],
    )
    .unwrap();
    drop(made);
    let map = read(&path).unwrap();
    assert_eq!(kinds(&map), [(BaseClass::Road, "Mill Road", 1)]);
    assert_eq!(map.without_place, 1);
    let BaseShape::Line(line) = &map.features[0].shape else { panic!("{map:?}") };
    let long = crate::earth::geodesic::distance(line[0], line[1]).0;
    assert!((long - 1_000.4).abs() < 0.5, "{long}");

    // as a GIS leaves it: with a write-ahead log, and a row in it
    let open = rusqlite::Connection::open(&path).unwrap();
    open.pragma_update(None, "journal_mode", "wal").unwrap();
    open.execute("UPDATE roads SET name = 'Weir Road' WHERE name = 'Mill Road'", []).unwrap();
    let files = || std::fs::read_dir(folder.path()).unwrap().count();
    let before = files();
    assert_eq!(kinds(&read(&path).unwrap()), [(BaseClass::Road, "Weir Road", 1)]);
    assert_eq!(files(), before);
    drop(open);
    assert_eq!(files(), 1);
    assert_eq!(kinds(&read(&path).unwrap()), [(BaseClass::Road, "Weir Road", 1)]);
    assert_eq!(files(), 1, "reading leaves no file beside it");
}

#[test]
fn other_files_are_refused_with_the_reason() {
    let folder = tempfile::tempdir().unwrap();
    for (name, text) in [
        ("a.txt", "no map"),
        ("b.geojson", r#"{"type":"FeatureCollection","features":[]}"#),
        ("c.gpkg", "SQLite format 3\0 and then nothing"),
        ("d.geojson", r#"{"type":"Feature","geometry":{"type":"Point","coordinates":[999,99]}}"#),
        ("e.kml", "<kml><Placemark/></kml>"),
        ("f", ""),
    ] {
        let error = read(&file(&folder, name, text)).unwrap_err();
        assert!(error.why().is_some() && error.advice().is_some(), "{name}: {error}");
    }
}
