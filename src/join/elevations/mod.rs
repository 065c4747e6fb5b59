//! Decides elevations that a table leaves open: whether numbers without a unit are metres or feet, and whether
//! the mark in `1.350` separates decimals or thousands. Each column is one question. Its readings are compared
//! with the heights of the ground or of the track where the finds are, and with what is usual at the place; one
//! is used if it has a probability of 99 %, otherwise the elevations stay open and are reported once.
//! Layer: `join`.

mod column;
mod other_unit;

use std::collections::BTreeMap;

use crate::earth::geodesic;
use crate::error::Error;
use crate::model::{Day, ElevationManner, ElevationReading, Find};
use crate::units::{LatLon, SeaLevelHeight};

use column::{Column, Height, Written};

/// Heights of the ground at places, where they are known.
pub type GroundHeights<'a> = dyn Fn(&[LatLon]) -> Vec<Option<SeaLevelHeight>> + 'a;

/// No heights of the ground.
pub(super) fn unknown(places: &[LatLon]) -> Vec<Option<SeaLevelHeight>> {
    vec![None; places.len()]
}

/// The most finds of a column that are compared; more say nothing new.
const COMPARED: usize = 100;
/// How far from a find a point of the track tells its height, metres (chosen).
const NEAR: f64 = 300.0;

/// The finds of one table whose elevations are open, as places in days and finds.
type Places = Vec<(usize, usize)>;

/// Sets the elevations that can be decided; reports those that cannot, and on which assumption others are read.
pub(super) fn decide(days: &mut [Day], ground: &GroundHeights) {
    let mut tables: BTreeMap<(std::path::PathBuf, Option<u32>), Places> = BTreeMap::new();
    for (day_place, day) in days.iter().enumerate() {
        for (place, find) in day.finds.iter().enumerate() {
            if find.record.elevation.is_none() && !find.record.elevation_readings.is_empty() {
                let path = day.sources.get(find.source).map(|source| source.path.clone());
                let sheet = find.record.sheet.as_ref().map(|sheet| sheet.number);
                let key = (path.unwrap_or_default(), sheet);
                tables.entry(key).or_default().push((day_place, place));
            }
        }
    }
    for ((path, _), places) in tables {
        let column = read(days, &places, ground);
        let outcome = column.decided();
        if let Ok(manner) = &outcome {
            for &(day, find) in &places {
                set(&mut days[day].finds[find], *manner);
            }
        }
        let (day, find) = places[0];
        let record = &days[day].finds[find].record;
        let report = |error: Error| error.in_sheet(record.sheet_name()).in_file(&path);
        match outcome {
            Ok(manner) => {
                let note = column.note(manner, places.len()).map(|note| report(note.into()));
                days[day].remarks.extend(note);
            }
            Err(why) => {
                let note = Error::from(column.doubt(why, record, places.len()));
                let refused = report(note.at_line(record.line));
                days[day].set_aside.push(refused);
            }
        }
    }
    other_unit::report(days);
}

fn set(find: &mut Find, manner: ElevationManner) {
    let readings = std::mem::take(&mut find.record.elevation_readings);
    if let Some(reading) = readings.iter().find(|reading| reading.manner.follows(manner)) {
        reading.set(&mut find.record);
    }
}

/// What is compared: the readings of each find and the height of its place.
fn read(days: &[Day], places: &[(usize, usize)], ground: &GroundHeights) -> Column {
    let step = places.len().div_ceil(COMPARED).max(1);
    let sample: Vec<(&Day, &Find)> = places
        .iter()
        .step_by(step)
        .map(|&(day, find)| (&days[day], &days[day].finds[find]))
        .collect();
    let located = |find: &Find| find.place.as_ref().ok().map(|place| place.at);
    let at: Vec<LatLon> = sample.iter().filter_map(|(_, find)| located(find)).collect();
    let mut of_ground = ground(&at).into_iter();
    let written = sample
        .iter()
        .map(|(day, find)| {
            let ground = located(find).and_then(|_| of_ground.next().flatten());
            let ground = ground.filter(|height| height.0.0.is_finite());
            let height = match ground {
                Some(height) => Some(Height::Ground(height.0.0)),
                None => of_track(day, find),
            };
            Written { readings: find.record.elevation_readings.clone(), height }
        })
        .collect();
    let feet_usual = sample.iter().any(|(day, find)| feet_are_usual(day, find));
    Column::of(written, feet_usual)
}

/// The height of the track at the find, otherwise those of the whole track.
fn of_track(day: &Day, find: &Find) -> Option<Height> {
    if let Ok(place) = &find.place {
        if let Some(height) = place.height.filter(|height| height.0.0.is_finite()) {
            return Some(Height::Track(height.0.0));
        }
        let near = day.track.iter().filter_map(|point| Some((point.at, point.height?)));
        let near = near.filter(|(at, height)| {
            // a degree of latitude is 111 km
            let north = (at.latitude() - place.at.latitude()).abs() * 111_000.0;
            north <= NEAR + 100.0 && height.0.0.is_finite()
        });
        let away = near.map(|(at, height)| (geodesic::distance(at, place.at).0, height));
        let nearest = away.min_by(|one, other| one.0.total_cmp(&other.0));
        if let Some((_, height)) = nearest.filter(|(away, _)| *away <= NEAR) {
            return Some(Height::Track(height.0.0));
        }
    }
    let mut all: Vec<f64> = day
        .track
        .iter()
        .filter_map(|point| Some(point.height?.0.0))
        .filter(|h| h.is_finite())
        .collect();
    all.sort_by(f64::total_cmp);
    // stray heights aside
    let aside = all.len() / 50;
    let high = all.len().checked_sub(aside + 1)?;
    Some(Height::Somewhere(*all.get(aside)?, *all.get(high)?))
}

/// Whether elevations are usually written in feet there: in the United States (common practice).
fn feet_are_usual(day: &Day, find: &Find) -> bool {
    const ZONES: [&str; 19] = [
        "US/",
        "America/New_York",
        "America/Detroit",
        "America/Kentucky/",
        "America/Indiana/",
        "America/Chicago",
        "America/Menominee",
        "America/North_Dakota/",
        "America/Denver",
        "America/Boise",
        "America/Phoenix",
        "America/Los_Angeles",
        "America/Anchorage",
        "America/Juneau",
        "America/Sitka",
        "America/Nome",
        "America/Adak",
        "America/Puerto_Rico",
        "Pacific/Honolulu",
    ];
    const COUNTRY: [&str; 6] =
        ["us", "usa", "u.s.", "u.s.a.", "united states", "united states of america"];
    if let Some(country) = find.record.other("country") {
        return COUNTRY.contains(&country.trim().to_lowercase().as_str());
    }
    ZONES.iter().any(|zone| day.outing.zone.name.starts_with(zone))
}

/// The readings that follow from an assumption.
fn under(readings: &[ElevationReading], manner: ElevationManner) -> Option<ElevationReading> {
    readings.iter().copied().find(|reading| reading.manner.follows(manner))
}
