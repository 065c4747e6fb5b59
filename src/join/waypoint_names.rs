//! The waypoints of an outing by their names, so that long lists are not compared one with all.
//! Layer: `join`.

use std::collections::HashMap;

use crate::model::{RecordNumber, Waypoint};

/// Waypoints nearer to each other than this are of one place, metres.
const SAME_PLACE: f64 = 5.0;

/// Waypoints in their order, and which of them bear which name.
#[derive(Default)]
pub(crate) struct WaypointNames<'a> {
    points: Vec<&'a Waypoint>,
    by_letters: HashMap<String, Vec<usize>>,
    by_bucket: HashMap<String, Vec<usize>>,
}

impl<'a> WaypointNames<'a> {
    pub(crate) fn of(points: impl Iterator<Item = &'a Waypoint>) -> Self {
        let mut names = Self::default();
        points.for_each(|point| names.add(point));
        names
    }

    /// Adds a waypoint behind the others.
    pub(crate) fn add(&mut self, point: &'a Waypoint) {
        let index = self.points.len();
        self.points.push(point);
        let Some(name) = point.name.as_deref() else { return };
        self.by_letters.entry(letters(name)).or_default().push(index);
        self.by_bucket.entry(bucket(name)).or_default().push(index);
    }

    /// The waypoint that a name means: of exactly that name, else but for case, else but for leading zeros
    /// and marks. Of several alike but in different places none: a choice would be a guess.
    pub(crate) fn named(&self, wanted: &str) -> Option<usize> {
        let alike = self.by_letters.get(&letters(wanted)).map_or(&[][..], Vec::as_slice);
        let exact = |index: &&usize| {
            let name = self.points[**index].name.as_deref();
            name.is_some_and(|name| name.trim() == wanted.trim())
        };
        if alike.iter().any(|index| exact(&index)) {
            return self.one(alike.iter().filter(exact).copied());
        }
        if !alike.is_empty() {
            return self.one(alike.iter().copied());
        }
        let number = RecordNumber(wanted.to_owned());
        let means = |index: &usize| {
            self.points[*index].name.as_deref().is_some_and(|name| number.means(name))
        };
        let near = self.by_bucket.get(&bucket(wanted)).map_or(&[][..], Vec::as_slice);
        self.one(near.iter().copied().filter(means))
    }

    /// The first of these, where all are in one place.
    fn one(&self, mut found: impl Iterator<Item = usize>) -> Option<usize> {
        let first = found.next()?;
        let place = self.points[first].fix.at;
        found
            .all(|other| {
                let at = self.points[other].fix.at;
                crate::earth::geodesic::distance(at, place).0 < SAME_PLACE
            })
            .then_some(first)
    }
}

/// What two numbers have in common that mean the same: letters and figures but for case and noughts. Some
/// that do not mean the same have it in common, too.
pub(crate) fn bucket(name: &str) -> String {
    let kept = |c: &char| c.is_alphanumeric() && *c != '0';
    name.chars().filter(kept).flat_map(char::to_lowercase).collect()
}

fn letters(name: &str) -> String {
    name.trim().to_ascii_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Fix;
    use crate::units::LatLon;

    fn point(name: &str, latitude: f64) -> Waypoint {
        let fix = Fix::bare(LatLon::new(latitude, 146.1).unwrap(), None);
        let name = Some(name.to_owned());
        Waypoint { fix, name, description: None, comment: None, symbol: None, averaged: None }
    }

    #[test]
    fn a_name_means_what_it_meant_when_every_waypoint_was_compared() {
        let written =
            ["TH-0017", "th 17", "17", "Gate", "gate ", "TH-17)", "th17x", "", "0017", " TH-17"];
        let points: Vec<Waypoint> =
            written.iter().enumerate().map(|(k, name)| point(name, -42.0 - k as f64)).collect();
        for size in 1..=points.len() {
            let names = WaypointNames::of(points[..size].iter());
            for wanted in written.iter().chain(&["TH17", "GATE", "017", "th-17)", "none"]) {
                assert_eq!(
                    names.named(wanted),
                    compared(wanted, &points[..size]),
                    "{wanted} {size}"
                );
            }
        }
    }

    /// Compares with all, one way of being alike after the other.
    fn compared(wanted: &str, points: &[Waypoint]) -> Option<usize> {
        let number = RecordNumber(wanted.to_owned());
        let ways: [&dyn Fn(&str) -> bool; 3] = [
            &|name| name.trim() == wanted.trim(),
            &|name| name.trim().eq_ignore_ascii_case(wanted.trim()),
            &|name| number.means(name),
        ];
        let found = ways.iter().map(|alike| {
            let named = |point: &Waypoint| point.name.as_deref().is_some_and(alike);
            (0..points.len()).filter(|&k| named(&points[k])).collect::<Vec<_>>()
        });
        let found = found.into_iter().find(|found| !found.is_empty())?;
        (found.len() == 1).then_some(found[0])
    }
}
