//! Resolves elevations such as `1,350`, one metre and 35 centimetres or 1350 metres. If no other cell of the
//! column decides, the reading is used that lies near the heights of the tracks, provided only one does.
//! Otherwise the elevations remain open and are reported once. Layer: `join`.

use std::collections::BTreeMap;

use crate::error::Error;
use crate::model::{Field, Record};
use crate::units::Metres;

use super::draft::Draft;
use super::pool::Pool;

/// How far a find lies above or below the track of its day, at most; heights of receivers above the ellipsoid
/// and above the sea differ by up to 100 m. Metres (common practice).
const NEAR: f64 = 300.0;
/// The order of [`Record::elevation_readings`].
const MARKS: [&str; 2] = ["decimals", "thousands"];

/// Sets the elevation of records that can be read in two ways.
pub(super) fn decide(pool: &mut Pool, outings: &[Draft]) {
    let mut open: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (place, (file, record)) in pool.records.iter().enumerate() {
        if record.elevation.is_none() && record.elevation_readings.is_some() {
            open.entry(*file).or_default().push(place);
        }
    }
    if open.is_empty() {
        return;
    }
    let heights = heights(outings);
    for (file, places) in open {
        let near =
            |low: f64, high: f64, metres: Metres| (low - NEAR..=high + NEAR).contains(&metres.0);
        let fits = |order: usize| {
            let mut readings =
                places.iter().filter_map(|&place| pool.records[place].1.elevation_readings);
            heights.is_some_and(|(low, high)| readings.all(|both| near(low, high, both[order])))
        };
        let path = pool.files[file].path.clone();
        match (fits(0), fits(1), heights) {
            (true, false, Some(range)) => {
                set(pool, &places, 0);
                pool.remarks.push(decided(places.len(), 0, range).in_file(path));
            }
            (false, true, Some(range)) => {
                set(pool, &places, 1);
                pool.remarks.push(decided(places.len(), 1, range).in_file(path));
            }
            (both, _, _) => {
                let record = &pool.records[places[0]].1;
                let error = undecided(record, places.len(), heights.map(|range| (range, both)));
                pool.set_aside.push(error.in_file(path));
            }
        }
    }
}

fn set(pool: &mut Pool, places: &[usize], order: usize) {
    for &place in places {
        let record = &mut pool.records[place].1;
        record.elevation = record.elevation_readings.map(|both| both[order]);
    }
}

/// The lowest and the highest height of the tracks, stray ones aside.
fn heights(outings: &[Draft]) -> Option<(f64, f64)> {
    let fixes = outings.iter().flat_map(|outing| &outing.pieces).flat_map(|piece| &piece.fixes);
    let mut all: Vec<f64> = fixes.filter_map(|fix| Some(fix.height?.0.0)).collect();
    all.retain(|height| height.is_finite());
    all.sort_by(f64::total_cmp);
    let aside = all.len() / 50;
    Some((*all.get(aside)?, *all.get(all.len().checked_sub(aside + 1)?)?))
}

fn decided(count: usize, order: usize, (low, high): (f64, f64)) -> Error {
    let cells = if count == 1 { "1 elevation".into() } else { format!("{count} elevations") };
    let verb = if count == 1 { "was" } else { "were" };
    Error::input(format!("{cells} {verb} read with a mark before {}", MARKS[order])).because(
        format!(
            "only these readings lie near the heights of the tracks, {} to {}",
            Metres(low),
            Metres(high)
        ),
    )
}

fn undecided(record: &Record, count: usize, tracks: Option<((f64, f64), bool)>) -> Error {
    let written = record.fields.get(&Field::Other("elevation as written".into()));
    let written = written.map_or("", String::as_str);
    let what = match count {
        1 => format!("the elevation \"{written}\" cannot be read"),
        _ => format!("the elevation of {count} rows cannot be read, first \"{written}\""),
    };
    let tracks = match tracks {
        None => "no track has heights to compare it with".to_owned(),
        Some(((low, high), both)) => format!(
            "{} with the heights of the tracks, {} to {}",
            if both { "both agree" } else { "neither agrees for every row" },
            Metres(low),
            Metres(high)
        ),
    };
    let [decimal, thousands] = record.elevation_readings.unwrap_or_default().map(|metres| metres.0);
    Error::input(what)
        .because(format!(
            "it is {decimal} m with a mark before decimals and {thousands} m with a mark between \
             thousands; no other cell of the column decides, and {tracks}"
        ))
        .hint("write it like 412 m or 1350 ft")
        .at_line(record.line)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{FileKind, Fix, Intake, RecordFile, SourceFile};
    use crate::units::{GpsHeight, LatLon};

    fn read(height: Option<f64>) -> (Option<Metres>, usize, usize) {
        let path = std::path::PathBuf::from("d/notes.csv");
        let source = SourceFile { path, kind: FileKind::Records, bytes: 1, hash: "n".into() };
        let both = Some([Metres(1.35), Metres(1350.0)]);
        let record = Record { elevation_readings: both, line: 2, ..Record::default() };
        let records = RecordFile {
            source,
            records: vec![record.clone(), record],
            set_aside: Vec::new(),
            remarks: Vec::new(),
        };
        let mut pool = Pool::of(Intake { records: vec![records], ..Intake::default() });
        let mut fix = Fix::bare(LatLon::new(47.3, 9.9).unwrap(), None);
        fix.height = height.map(|metres| GpsHeight(Metres(metres)));
        let piece = super::super::piece::Piece { file: 0, fixes: vec![fix] };
        decide(&mut pool, &[Draft { pieces: vec![piece], ..Draft::default() }]);
        (pool.records[0].1.elevation, pool.remarks.len(), pool.set_aside.len())
    }

    #[test]
    fn the_heights_of_the_track_decide_where_one_reading_fits() {
        assert_eq!(read(Some(1340.0)), (Some(Metres(1350.0)), 1, 0));
        assert_eq!(read(Some(12.0)), (Some(Metres(1.35)), 1, 0));
        assert_eq!(read(Some(4000.0)), (None, 0, 1));
        assert_eq!(read(None), (None, 0, 1));
    }
}
