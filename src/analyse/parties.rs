//! Finds people who walked together: their outings share weather, place and what grew there, and are one unit
//! wherever outings are resampled, permuted or left out. Layer: `analyse`.
//!
//! Two outings of one date are together where their tracks, compared at each whole minute that both show, are within
//! 500 m of each other for at least half of the shorter one's time, and at least five minutes (project choices). What
//! is together with the same outing is one unit.

use std::collections::HashMap;

use jiff::civil::Date;

use super::counted_with::Candidate;
use super::spatial_index::Ecef;
use crate::model::TrackPoint;

/// Metres within which people search the same ground.
const NEAR: f64 = 500.0;
/// The share of the shorter track's time.
const PART: f64 = 0.5;
/// The fewest minutes.
const LEAST: usize = 5;
/// Milliseconds between two points beyond which the straight line says nothing.
const LONGEST: i64 = 3_600_000;

/// A track at each whole minute that it shows.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trail(Vec<(i64, Ecef)>);

impl Trail {
    /// The positions on the straight lines between points; none in gaps.
    #[must_use]
    pub fn of(points: &[TrackPoint]) -> Self {
        let mut at = Vec::new();
        for pair in points.windows(2).filter(|pair| !pair[0].gap_after) {
            let (from, to) = (pair[0].time.as_millisecond(), pair[1].time.as_millisecond());
            if to - from > LONGEST {
                continue;
            }
            let (start, end) = (Ecef::of(pair[0].at), Ecef::of(pair[1].at));
            let first = (from + 59_999).div_euclid(60_000);
            for minute in first..(to + 59_999).div_euclid(60_000) {
                let along = (minute * 60_000 - from) as f64 / (to - from).max(1) as f64;
                at.push((minute, start + (end - start) * along));
            }
        }
        Self(at)
    }

    fn is_with(&self, other: &Self) -> bool {
        let there: HashMap<i64, Ecef> = other.0.iter().copied().collect();
        let near = |(minute, here): &&(i64, Ecef)| {
            there.get(minute).is_some_and(|there| here.distance(*there).0 <= NEAR)
        };
        let near = self.0.iter().filter(near).count();
        near >= LEAST && near as f64 >= PART * self.0.len().min(other.0.len()) as f64
    }
}

/// Pairs of outings of one date that may be together, by the times, starts and lengths of their tracks.
#[must_use]
pub fn possible(outings: &[Candidate<'_>]) -> Vec<(usize, usize)> {
    let mut of_date: HashMap<Date, Vec<usize>> = HashMap::new();
    for (index, own) in outings.iter().enumerate().filter(|(_, own)| own.walked.is_some()) {
        of_date.entry(own.date).or_default().push(index);
    }
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for own in of_date.values() {
        for (place, a) in own.iter().enumerate() {
            let others = own[place + 1..].iter().filter(|b| may_meet(&outings[*a], &outings[**b]));
            pairs.extend(others.map(|b| (*a, *b)));
        }
    }
    pairs.sort_unstable();
    pairs
}

fn may_meet(a: &Candidate<'_>, b: &Candidate<'_>) -> bool {
    let overlap = a.walked.zip(b.walked).is_some_and(|(a, b)| a.0 < b.1 && b.0 < a.1);
    let reach = NEAR + a.length.0 + b.length.0;
    let near = |(a, b)| Ecef::of(a).distance(Ecef::of(b)).0 <= reach;
    overlap && a.began.zip(b.began).is_none_or(near)
}

/// The unit of each of so many outings: the first outing of those that are together with it.
#[must_use]
pub fn units(
    outings: usize,
    pairs: &[(usize, usize)],
    trails: &HashMap<usize, Trail>,
) -> Vec<usize> {
    let mut unit: Vec<usize> = (0..outings).collect();
    for (a, b) in pairs {
        let (Some(one), Some(other)) = (trails.get(a), trails.get(b)) else { continue };
        let (kept, merged) = (unit[*a].min(unit[*b]), unit[*a].max(unit[*b]));
        if kept != merged && one.is_with(other) {
            unit.iter_mut().filter(|own| **own == merged).for_each(|own| *own = kept);
        }
    }
    unit
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::carriers::Carrier;
    use crate::model::Activity;
    use crate::units::{LatLon, Metres, Radius95};
    use jiff::Timestamp;
    use jiff::civil::date;

    /// Points every two minutes for so many minutes.
    fn walk(start: i64, minutes: i64, north: f64) -> Vec<TrackPoint> {
        let point = |index: i64| TrackPoint {
            time: Timestamp::from_second(60 * start + 120 * index).unwrap(),
            at: LatLon::clamped(47.0 + north / 111_000.0, 8.0 + index as f64 * 1e-4),
            height: None,
            radius: Radius95::new(Metres(8.0)).unwrap(),
            activity: Activity::Searching,
            gap_after: false,
        };
        (0..=minutes / 2).map(point).collect()
    }

    fn outing(day: i8, points: &[TrackPoint]) -> Candidate<'static> {
        Candidate {
            date: date(2021, 9, day),
            collector: None,
            carrier: Carrier::default(),
            refused: false,
            walked: Some((points[0].time, points[points.len() - 1].time)),
            began: Some(points[0].at),
            length: Metres(300.0),
            finds: 0,
            find_at: None,
        }
    }

    fn units_of(walks: &[(i8, Vec<TrackPoint>)]) -> Vec<usize> {
        let outings: Vec<_> = walks.iter().map(|(day, points)| outing(*day, points)).collect();
        let trails = walks.iter().map(|(_, points)| Trail::of(points)).enumerate().collect();
        units(walks.len(), &possible(&outings), &trails)
    }

    #[test]
    fn people_side_by_side_are_one_unit() {
        let together =
            [walk(0, 60, 0.0), walk(5, 60, 300.0), walk(10, 50, 600.0)].map(|own| (1, own));
        assert_eq!(units_of(&together), [0, 0, 0]);
    }

    #[test]
    fn other_dates_places_and_times_are_units_of_their_own() {
        let apart = [
            (1, walk(0, 60, 0.0)),
            (2, walk(0, 60, 0.0)),
            (1, walk(0, 60, 900.0)),
            (1, walk(50, 60, 0.0)),
            (1, walk(61, 60, 0.0)),
        ];
        // the fourth shares ten of its sixty minutes with the first, most with the last
        assert_eq!(units_of(&apart), [0, 1, 2, 3, 3]);
    }
}
