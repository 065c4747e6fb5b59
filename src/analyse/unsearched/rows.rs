//! Sums what an outing searched and found by square of ground and step of elevation. Layer: `analyse`.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::analyse::walk::Walk;
use crate::earth::equal_area::EqualArea;
use crate::units::LatLon;

/// The height of a step of elevation, metres (project choice): about the error of an elevation tile.
pub const STEP: f64 = 25.0;
/// The side of a square of ground, metres (project choice): finds of one square share soil, trees and patches.
pub const SQUARE: f64 = 500.0;
/// A find farther from the searched track of its outing than this and than twice its radius was not made from it, metres
/// (as on maps of density).
const FAR: f64 = 50.0;
/// Pieces of track are split to at most this length, metres.
const PART: f64 = 10.0;

/// A square of ground on the plane, by its column and row.
pub type Square = (i64, i64);

/// A square of ground at a step of elevation.
type Key = (Square, i64);
/// A place on the plane with what it belongs to.
type Place = ((f64, f64), Key);

/// Search and finds of one outing, or of people who walked together, on one square at one step of elevation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Row {
    /// The outing, or the unit of those who walked together.
    pub unit: usize,
    /// Its local date.
    pub date: Date,
    /// The ground.
    pub square: Square,
    /// The step of elevation: the elevation over [`STEP`], rounded down.
    pub step: i64,
    /// Hours searched.
    pub hours: f64,
    /// Finds.
    pub finds: f64,
}

/// What one outing searched.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Looked {
    /// Hours and finds by ground and step of elevation.
    pub of: BTreeMap<(Square, i64), (f64, f64)>,
    /// Hours where no tile has a height.
    pub unknown_hours: f64,
    /// Finds that were not made from searched track of known elevation.
    pub off_track: usize,
}

/// The step of an elevation in metres.
#[must_use]
#[allow(clippy::cast_possible_truncation, reason = "heights of the Earth")]
pub fn step_of(elevation: f64) -> i64 {
    (elevation / STEP).floor() as i64
}

/// The elevation in the middle of a step.
#[must_use]
pub fn middle_of(step: i64) -> f64 {
    (step as f64 + 0.5) * STEP
}

#[allow(clippy::cast_possible_truncation, reason = "squares of the Earth")]
fn square_of((x, y): (f64, f64)) -> Square {
    ((x / SQUARE).floor() as i64, (y / SQUARE).floor() as i64)
}

impl Looked {
    /// Sums a walk. `finds` are positions with their 95 % radii in metres, `height` is the elevation of the ground.
    ///
    /// A find counts at the nearest place of the searched track, as effort does: both then have the same errors.
    #[must_use]
    pub fn of(
        walk: &Walk,
        finds: &[(LatLon, f64)],
        plane: &EqualArea,
        height: impl Fn(LatLon) -> Option<f64>,
    ) -> Self {
        let mut looked = Self::default();
        let mut places: Vec<Place> = Vec::new();
        for piece in walk.pieces() {
            let hours = piece.searched().0 / 3_600.0;
            if hours <= 0.0 {
                continue;
            }
            let parts = (piece.length.0 / PART).ceil().clamp(1.0, 1e4);
            let mut part = 0.5;
            while part < parts {
                let at = piece.at(part / parts);
                part += 1.0;
                let Some(height) = height(at).filter(|height| height.is_finite()) else {
                    looked.unknown_hours += hours / parts;
                    continue;
                };
                let place = plane.to_plane(at);
                let key = (square_of(place), step_of(height));
                looked.of.entry(key).or_default().0 += hours / parts;
                if !finds.is_empty() {
                    places.push((place, key));
                }
            }
        }
        for (at, radius) in finds {
            looked.take(plane.to_plane(*at), FAR.max(2.0 * radius), &places);
        }
        looked
    }

    /// Counts a find at the nearest place within a distance.
    fn take(&mut self, (x, y): (f64, f64), far: f64, places: &[Place]) {
        let away = |place: &(f64, f64)| (place.0 - x).hypot(place.1 - y);
        let nearest = places.iter().min_by(|a, b| away(&a.0).total_cmp(&away(&b.0)));
        let made = nearest.filter(|(place, _)| away(place) <= far);
        match made.and_then(|(_, key)| self.of.get_mut(key)) {
            Some(own) => own.1 += 1.0,
            None => self.off_track += 1,
        }
    }
}

/// The rows of all outings, those of people who walked together summed; `of` is the unit and date of each outing.
#[must_use]
pub fn rows<'a>(outings: impl Iterator<Item = (usize, Date, &'a Looked)>) -> Vec<Row> {
    let mut sums: BTreeMap<(usize, Square, i64), Row> = BTreeMap::new();
    for (unit, date, looked) in outings {
        for ((square, step), (hours, finds)) in &looked.of {
            let row = Row { unit, date, square: *square, step: *step, hours: 0.0, finds: 0.0 };
            let own = sums.entry((unit, *square, *step)).or_insert(row);
            own.hours += hours;
            own.finds += finds;
        }
    }
    sums.into_values().collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Activity, TrackPoint};
    use crate::units::{Metres, Radius95};
    use jiff::Timestamp;
    use jiff::civil::date;
    use uuid::Uuid;

    #[test]
    fn hours_and_finds_are_summed_where_the_track_was_searched() {
        let plane = EqualArea::about(LatLon::clamped(47.0, 8.0));
        let place = |east: f64| plane.from_plane(east, 5.0);
        let point = |minute: i64, east: f64, activity| TrackPoint {
            time: Timestamp::from_second(60 * minute).unwrap(),
            at: place(east),
            height: None,
            radius: Radius95::new(Metres(8.0)).unwrap(),
            activity,
            gap_after: false,
        };
        let points = vec![
            point(0, 10.0, Activity::Searching),
            point(30, 210.0, Activity::Walking),
            point(40, 510.0, Activity::Searching),
            point(50, 610.0, Activity::Searching),
        ];
        let walk = Walk::straight(Uuid::nil(), date(2024, 9, 1), points);
        // the ground rises by 1 m in 4 m, and has no height beyond 560 m
        let height = |at: LatLon| {
            let east = plane.to_plane(at).0;
            (east < 560.0).then_some(east / 4.0)
        };
        let finds = [(place(60.0), 8.0), (place(205.0), 8.0), (place(300.0), 8.0)];
        let looked = Looked::of(&walk, &finds, &plane, height);
        let hours = |square, step| looked.of.get(&((square, 0), step)).copied().unwrap_or_default();
        assert!((hours(0, 0).0 - 0.225).abs() < 1e-9 && (hours(0, 1).0 - 0.25).abs() < 0.03);
        assert!((hours(1, 5).0 - 1.0 / 12.0).abs() < 0.01, "{looked:?}");
        assert!((looked.unknown_hours - 1.0 / 12.0).abs() < 0.01);
        assert_eq!((hours(0, 0).1, hours(0, 2).1, looked.off_track), (1.0, 1.0, 1));
        let twice =
            rows([(3, date(2024, 9, 1), &looked), (3, date(2024, 9, 1), &looked)].into_iter());
        assert_eq!(twice.len(), looked.of.len());
        assert!((twice[0].hours - 2.0 * hours(0, 0).0).abs() < 1e-9 && twice[0].unit == 3);
    }
}
