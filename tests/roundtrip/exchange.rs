//! Exported finds are read by other libraries with the same positions and text, and hostile text is
//! escaped.

use geojson::{FeatureCollection, GeoJson, GeometryValue};
use quick_xml::Reader;
use quick_xml::events::Event;
use trug::model::{Field, KeptFind, RecordNumber, TrackPoint};
use trug::present::track_line::TrackLine;
use trug::present::{csv as table, darwin_core, geojson as collection, kml};
use trug::store::{FindQuery, Store};
use trug::units::LatLon;

use crate::some_day::day;

const HOSTILE: &str = "<script>alert('x')</script> & \"quoted\" \u{202e}rtl \u{1f344} ]]>";

/// The finds of a day as a store gives them, one with hostile words.
fn kept() -> Vec<KeptFind> {
    let folder = tempfile::tempdir().unwrap();
    let mut store = Store::create_or_open(&folder.path().join("trug.gpkg")).unwrap();
    let mut given = day("Tamsin Hale", "2026-05-03", 5);
    given.finds[0].record.fields.insert(Field::Notes, format!("=cmd|' /C calc'!A0 {HOSTILE}"));
    given.finds[0].record.number = Some(RecordNumber("=1+1".into()));
    given.finds[2].record.name = Some("Hygrocybe cf. graminicolor".into());
    store.import(&[given], "2026-06-01T12:00:00Z".parse().unwrap()).unwrap();
    store.finds(&FindQuery::default()).unwrap()
}

fn track() -> TrackLine {
    let given = day("Tamsin Hale", "2026-05-03", 1);
    TrackLine {
        outing: given.outing.id,
        date: given.outing.date,
        collector: given.outing.collector,
        points: given.track,
    }
}

fn read_collection(text: &str) -> FeatureCollection {
    match text.parse().unwrap() {
        GeoJson::FeatureCollection(read) => read,
        other => panic!("no collection: {other}"),
    }
}

#[test]
fn geojson_is_read_back_by_its_own_library() {
    let finds = kept();
    let read = read_collection(&collection::finds(&finds));
    assert_eq!(read.features.len(), finds.len());
    for (feature, find) in read.features.iter().zip(&finds) {
        let property = |name: &str| feature.property(name).cloned().unwrap_or_default();
        let number = find.record.number.as_ref().unwrap();
        assert_eq!(property("recordNumber"), number.0.as_str());
        match (&feature.geometry, &find.place) {
            (Some(geometry), Some(place)) => {
                let GeometryValue::Point { coordinates } = &geometry.value else { panic!() };
                assert!((coordinates[0] - place.at.longitude()).abs() < 1e-7);
                assert!((coordinates[1] - place.at.latitude()).abs() < 1e-7);
                let stated = property("coordinateUncertaintyInMeters").as_f64().unwrap();
                let radius = place.radius.metres().0;
                assert!((radius..radius + 0.1).contains(&stated), "{stated} for {radius}");
                assert_eq!(property("geodeticDatum"), "EPSG:4326");
                assert!(property("georeferenceSources").as_str().unwrap().contains("GPS track"));
                assert!(property("georeferenceRemarks").as_str().unwrap().contains("GPS 8.0 m"));
            }
            (None, None) => {
                assert!(property("georeferenceRemarks").as_str().unwrap().contains("no position"));
                assert!(property("decimalLatitude").is_null());
            }
            other => panic!("{other:?}"),
        }
    }
    let doubtful = read.features.iter().find(|feature| {
        feature.property("identificationQualifier").is_some_and(|q| q == "cf. graminicolor")
    });
    assert_eq!(doubtful.unwrap().property("scientificName").unwrap(), "Hygrocybe");
}

#[test]
fn every_property_is_a_term_that_the_table_has_too() {
    for find in kept() {
        for (term, _) in darwin_core::occurrence(&find) {
            assert!(darwin_core::TERMS.contains(&term), "{term}");
        }
    }
}

#[test]
fn times_say_how_well_they_are_known() {
    let mut find = kept().remove(1);
    find.record.time = None;
    let date = |find: &KeptFind| {
        let terms = darwin_core::occurrence(find);
        terms.into_iter().find(|(term, _)| *term == "eventDate").unwrap().1.to_string()
    };
    let when = find.when.unwrap().0;
    assert_eq!(date(&find), "2026-05-03T08:59:55+10:00/2026-05-03T09:00:25+10:00");
    find.when = Some((when, trug::units::Seconds(0.5)));
    assert_eq!(date(&find), "2026-05-03T09:00:10+10:00");
    find.when = None;
    assert_eq!(date(&find), "2026-05-03");
}

#[test]
fn the_table_is_read_back_and_runs_nothing() {
    let finds = kept();
    let text = table::finds(&finds);
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let headings = reader.headers().unwrap().clone();
    assert_eq!(headings.iter().collect::<Vec<_>>(), darwin_core::TERMS);
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), finds.len());
    for (row, find) in rows.iter().zip(&finds) {
        for cell in row {
            let formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r']);
            assert!(!formula || cell.parse::<f64>().is_ok(), "{cell}");
        }
        let column = headings.iter().position(|heading| heading == "decimalLatitude").unwrap();
        match &find.place {
            Some(place) => {
                let read: f64 = row[column].parse().unwrap();
                assert!((read - place.at.latitude()).abs() < 1e-7);
            }
            None => assert_eq!(&row[column], ""),
        }
    }
    let notes = headings.iter().position(|heading| heading == "occurrenceRemarks").unwrap();
    assert!(rows.iter().any(|row| row[notes].starts_with("'=cmd") && row[notes].contains(HOSTILE)));
}

#[test]
fn kml_is_read_back_by_an_xml_reader() {
    let finds = kept();
    let text = kml::finds_and_tracks(&finds, &[track()]);
    let mut reader = Reader::from_str(&text);
    let (mut marks, mut said) = (0, String::new());
    loop {
        match reader.read_event().unwrap() {
            Event::Start(start) if start.name().as_ref() == "Placemark" => marks += 1,
            Event::Start(start) => assert_ne!(start.name().as_ref(), "script"),
            Event::Text(words) => said.push_str(&words),
            Event::GeneralRef(entity) => said.push_str(match &*entity {
                "lt" => "<",
                "gt" => ">",
                "amp" => "&",
                "quot" => "\"",
                "apos" => "'",
                other => panic!("&{other};"),
            }),
            Event::Eof => break,
            _ => {}
        }
    }
    assert_eq!(marks, finds.len() + 1);
    // a character that turns the direction of writing is shown instead
    assert!(said.contains(&HOSTILE.replace('\u{202e}', "\u{fffd}")), "{said}");
}

#[test]
fn a_control_character_cannot_spoil_a_document() {
    let mut finds = kept();
    finds[0].record.place = Some("Gully\u{0}\u{b} of \u{fffe}".into());
    assert!(kml::finds(&finds).contains("Gully\u{fffd}\u{fffd} of \u{fffd}"));
    read_collection(&collection::finds(&finds));
}

#[test]
fn track_across_the_date_line_is_cut_in_every_format() {
    let mut across = track();
    let lon = |step: i32| if step < 200 { 179.99 } else { -179.99 };
    let moved: Vec<TrackPoint> = across
        .points
        .iter()
        .enumerate()
        .map(|(step, point)| TrackPoint {
            at: LatLon::new(-17.0, lon(i32::try_from(step).unwrap())).unwrap(),
            gap_after: false,
            ..*point
        })
        .collect();
    across.points = moved;
    let read = read_collection(&collection::tracks(&[across.clone()]));
    let geometry = read.features[0].geometry.as_ref().unwrap();
    let GeometryValue::MultiLineString { coordinates } = &geometry.value else { panic!() };
    assert_eq!(coordinates.len(), 2);
    for line in coordinates {
        let all: Vec<f64> = line.iter().map(|point| point[0]).collect();
        assert!(all.iter().all(|x| x.signum() == all[0].signum()), "{all:?}");
    }
    assert!(kml::finds_and_tracks(&[], &[across]).contains("180,-17 "));
}

#[test]
fn geoparquet_is_read_back_by_its_own_library() {
    use parquet::file::reader::{FileReader, SerializedFileReader};
    use parquet::record::Field as Cell;
    use trug::present::geoparquet;
    let finds = kept();
    let mut file = tempfile::tempfile().unwrap();
    std::io::Write::write_all(&mut file, &geoparquet::finds(&finds).unwrap()).unwrap();
    let reader = SerializedFileReader::new(file).unwrap();
    let rows: Vec<_> = reader.get_row_iter(None).unwrap().map(Result::unwrap).collect();
    assert_eq!(rows.len(), finds.len());
    for (row, find) in rows.iter().zip(&finds) {
        let cell = |name: &str| row.get_column_iter().find(|(n, _)| *n == name).unwrap().1.clone();
        let number = find.record.number.as_ref().unwrap();
        assert_eq!(cell("recordNumber"), Cell::Str(number.0.clone()));
        match (&find.place, cell("decimalLatitude"), cell("geometry")) {
            (Some(place), Cell::Double(latitude), Cell::Bytes(point)) => {
                assert!((latitude - place.at.latitude()).abs() < 1e-7);
                assert_eq!(point.data()[13..21], latitude.to_le_bytes());
            }
            (None, Cell::Null, Cell::Null) => {}
            other => panic!("{other:?}"),
        }
    }
    assert!(geoparquet::finds(&[]).unwrap().starts_with(b"PAR1"));
}
