//! Written positions against published tables. Sources: the headers of
//! `data/coordinate_precision.csv` and `data/grid_references.csv`.

use trug::earth::geodesic;
use trug::ingest::position;
use trug::units::LatLon;

fn rows(text: &'static str) -> impl Iterator<Item = csv::StringRecord> {
    let reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(text.as_bytes());
    reader.into_records().map(Result::unwrap)
}

fn number(row: &csv::StringRecord, index: usize) -> f64 {
    row[index].parse().unwrap()
}

#[test]
fn the_precision_of_coordinates_is_that_of_the_published_table() {
    let mut count = 0;
    for row in rows(include_str!("data/coordinate_precision.csv")) {
        let at = LatLon::new(number(&row, 0), 0.0).unwrap();
        let ours = position::cell_diagonal(at, number(&row, 1), number(&row, 1)).0;
        let (published, rounding) = (number(&row, 2), number(&row, 3));
        // published figures are rounded up, the worked case to its last figure
        let off = published - ours;
        assert!(off.abs() < rounding && off > -0.1, "{row:?}: {ours}");
        count += 1;
    }
    assert_eq!(count, 9);
}

#[test]
fn precision_reaches_the_reading_through_every_form() {
    // 1,570 m, 44 m, 27 m and 3 m at the equator, as above; longitudes alike, so any will do
    for (text, published) in [
        ("0.01 N 10.01 E", 1570.0),
        ("0 0 1 N 10 0 1 E", 44.0),
        ("0 0.01 N 10 0.01 E", 27.0),
        ("0 0.001 N 10 0.001 E", 3.0),
    ] {
        let written = position::read(text, Some("WGS84")).unwrap();
        assert_eq!(written.readings[0].precision.0.ceil(), published, "{text}");
    }
}

#[test]
fn grid_references_are_the_published_places() {
    let mut count = 0;
    for row in rows(include_str!("data/grid_references.csv")) {
        let written = position::read(&row[0], Some("WGS84")).unwrap();
        assert_eq!(written.readings.len(), 1, "{row:?}");
        let place = LatLon::new(number(&row, 1), number(&row, 2)).unwrap();
        let off = geodesic::distance(written.readings[0].at, place).0;
        // a reference of a metre names a square: its centre is up to 0.71 m away
        assert!(off <= number(&row, 3), "{row:?}: {off} m");
        count += 1;
    }
    assert_eq!(count, 7);
}

/// Zermoglio et al. 2020, Georeferencing Quick Reference Guide, doi:10.35035/e09p-h128: 1, 7, 71
/// and 707 m (rounded) for references of 1, 10, 100 and 1,000 m; Darwin Core,
/// coordinateUncertaintyInMeters has the 71 m as an example.
#[test]
fn radii_of_grid_references() {
    for (text, published) in [
        ("31NAA6602100000", 1.0),
        ("31NAA66020000", 7.0),
        ("31NAA660000", 71.0),
        ("31NAA6600", 707.0),
    ] {
        let written = position::read(text, Some("WGS84")).unwrap();
        assert_eq!(written.readings[0].precision.0.round(), published, "{text}");
    }
}
