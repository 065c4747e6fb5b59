//! Reports elevations that are far from the track where the find is and would agree with it in the other unit:
//! 2340 among 712 and 715 at 713 m is in feet. Layer: `join`.

use std::collections::BTreeMap;
use std::path::PathBuf;

use crate::error::Error;
use crate::model::{Day, ElevationNote, ElevationUnit, Find, Record};

/// The international foot, metres (1959).
const FOOT: f64 = 0.3048;
/// An elevation that is nearer to the track agrees with it, metres.
const FAR: f64 = 300.0;
/// How far an elevation in its unit lies from a receiver's height at the most, metres: the geoid lies within
/// 107 m of the ellipsoid (EGM2008, Pavlis et al. 2012).
const NEAR: f64 = 110.0;

/// Reports them once for each table.
pub(super) fn report(days: &mut [Day]) {
    for day in days {
        let mut tables: BTreeMap<(PathBuf, Option<u32>, bool), (&Find, usize)> = BTreeMap::new();
        for find in &day.finds {
            let Some((other, ..)) = in_other_unit(find) else { continue };
            let path = day.sources.get(find.source).map(|source| source.path.clone());
            let sheet = find.record.sheet.as_ref().map(|sheet| sheet.number);
            let key = (path.unwrap_or_default(), sheet, other == ElevationUnit::Foot);
            tables.entry(key).or_insert((find, 0)).1 += 1;
        }
        let notes = tables.into_iter().filter_map(|((path, ..), (find, count))| {
            let record = &find.record;
            let note = Error::from(note(find, count)?).at_line(record.line);
            Some(note.in_sheet(record.sheet_name()).in_file(path))
        });
        let notes: Vec<Error> = notes.collect();
        day.remarks.extend(notes);
    }
}

fn note(find: &Find, elevations: usize) -> Option<ElevationNote> {
    let (other, read_m, other_m, height_m) = in_other_unit(find)?;
    let written = find.record.written_elevation().unwrap_or_default();
    Some(ElevationNote::OtherUnitElevations {
        written,
        elevations,
        read_m,
        other_m,
        other,
        height_m,
    })
}

/// The unit in which the elevation of a find agrees with the track, the elevation as read and in that unit, and the
/// height of the track, metres.
fn in_other_unit(find: &Find) -> Option<(ElevationUnit, f64, f64, f64)> {
    let read = find.record.elevation?.0;
    let height = find.place.as_ref().ok()?.height?.0.0;
    let (unit, other) = agreeing(read, height)?;
    // only what was read in feet may be in metres
    if (unit == ElevationUnit::Metre)
        != was_in_feet(find.record.other(Record::VERBATIM_ELEVATION), read)
    {
        return None;
    }
    Some((unit, read, other, height))
}

/// Whether an elevation as typed is the one that was read, in feet.
fn was_in_feet(typed: Option<&str>, read: f64) -> bool {
    let figures = |text: &str| -> Option<f64> {
        let text = text.trim_start_matches(|c: char| !c.is_ascii_digit());
        let end = text.find(|c: char| !c.is_ascii_digit() && !matches!(c, '.' | ',' | '\'' | ' '));
        text[..end.unwrap_or(text.len())].replace([',', '\'', ' '], "").parse().ok()
    };
    typed.and_then(figures).is_some_and(|typed| (typed * FOOT - read).abs() < 1.0)
}

/// The other unit and the elevation in it, where only that agrees with the height.
fn agreeing(read: f64, height: f64) -> Option<(ElevationUnit, f64)> {
    let units = [(ElevationUnit::Foot, read * FOOT), (ElevationUnit::Metre, read / FOOT)];
    let agrees = |(_, other): &(ElevationUnit, f64)| (other - height).abs() <= NEAR;
    units.into_iter().find(agrees).filter(|_| (read - height).abs() > FAR)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_read_in_metres_is_not_in_metres() {
        assert!(was_in_feet(Some("1,120 ft"), 341.4) && was_in_feet(Some("ca. 390"), 118.9));
        for (typed, read) in [(Some("90 m"), 90.0), (None, 90.0), (Some("120,5"), 120.5)] {
            assert!(!was_in_feet(typed, read), "{typed:?}");
        }
    }

    #[test]
    fn only_an_elevation_that_agrees_in_the_other_unit_is_one() {
        let unit = |read, height| agreeing(read, height).map(|(unit, _)| unit);
        assert_eq!(unit(2340.0, 712.0), Some(ElevationUnit::Foot));
        // a receiver's height is above the ellipsoid
        assert_eq!(unit(2340.0, 760.0), Some(ElevationUnit::Foot));
        assert_eq!(unit(217.0, 712.0), Some(ElevationUnit::Metre));
        for (read, height) in [(712.0, 712.0), (712.0, 760.0), (1500.0, 712.0), (300.0, 95.0)] {
            assert_eq!(unit(read, height), None, "{read} at {height}");
        }
    }
}
