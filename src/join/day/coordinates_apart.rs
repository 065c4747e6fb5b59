//! Compares the written coordinates of one collector and date with each other where no track can show a writing error:
//! a place that nobody reaches in the time between, far from all others, or one that a common writing error would bring
//! beside them. Layer: `join`.

use std::collections::{BTreeMap, HashMap};

use jiff::civil::Date;

use crate::earth::local;
use crate::model::{FittingReading, Record};
use crate::units::{LatLon, Metres, Seconds};

use super::Scene;

/// Finds nearer to each other than this are of one area, metres; a writing error is considered only beyond it.
const AREA: f64 = 20_000.0;
/// The fastest way from find to find: 120 km an hour by road (common practice), metres a second.
const SPEED: f64 = 120.0 / 3.6;
/// Without times, places farther than this from all others are not of one day (project choice: a degree or more of
/// error is; a drive between two areas mostly is not), metres.
const OF_A_DAY: f64 = 350_000.0;
/// A place that only the times contradict is not used beyond this, metres: nearer, the time may be the error.
const FAR: f64 = 100_000.0;
/// A writing error fits that brings the place so near to another find, metres, and so many times nearer than it was.
const FITS: f64 = 5_000.0;
const TIMES_NEARER: f64 = 5.0;
/// Records that are compared with each other, at most; a longer list is compared in parts.
const MOST: usize = 600;
/// Places nearer than this are one that was copied, metres.
const SAME: f64 = 10.0;
/// Of those in a conflict, places are counted once that were copied figure by figure, metres.
const COPIED: f64 = 0.5;

/// What the other finds of its date show of the coordinates of a find.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Apart {
    /// The record of the nearest find that it conflicts with, and how far that is.
    pub(crate) from: usize,
    pub(crate) away: Metres,
    /// The time between, where it is too short.
    pub(crate) within: Option<Seconds>,
    /// The writing error that would bring it beside other finds.
    pub(crate) fits: Option<FittingReading>,
    /// Whether more places agree with each other than with this one.
    pub(crate) outnumbered: bool,
    /// Whether it still places the find.
    pub(crate) used: bool,
}

/// A place of a find: what is written, or what a photograph or a waypoint shows.
struct Place<'a> {
    find: usize,
    at: LatLon,
    /// The largest distance that its figures and its datum make, metres.
    bound: f64,
    /// Seconds of the day.
    time: Option<f64>,
    step: f64,
    /// The record, where the place is the written one and may be in error.
    record: Option<&'a Record>,
}

/// The coordinates that do not fit the others of their date, by the index of the record.
pub(super) fn find(scene: &Scene) -> HashMap<usize, Apart> {
    let mut found = HashMap::new();
    if !scene.track.is_empty() {
        return found;
    }
    let mut days: BTreeMap<(String, Date), Vec<Place>> = BTreeMap::new();
    for (index, filed) in scene.gathered.records.iter().enumerate() {
        let Some(date) = filed.record.date else { continue };
        let collector = filed.record.collector.as_deref().unwrap_or_default();
        let key = (collector.trim().to_lowercase(), date);
        days.entry(key).or_default().extend(places(scene, index));
    }
    for places in days.values() {
        for part in places.chunks(MOST) {
            found.extend(judged(part));
        }
    }
    found
}

/// A place near which most clear readings of these records lie.
pub(crate) fn common<'a>(records: impl Iterator<Item = &'a Record>) -> Option<LatLon> {
    /// So many are asked, and compared.
    const ENOUGH: usize = 60;
    let clear =
        records.filter_map(|record| match record.coordinates.as_ref()?.readings.as_slice() {
            [only] => Some(only.at),
            _ => None,
        });
    let all: Vec<LatLon> = clear.take(20 * ENOUGH).collect();
    let some: Vec<LatLon> =
        all.iter().step_by(all.len().div_ceil(ENOUGH).max(1)).copied().collect();
    let beside = |at: &LatLon| {
        some.iter().filter(|other| local::distance(*at, **other).0 < OF_A_DAY).count()
    };
    // the first of those with most
    some.iter().rev().max_by_key(|at| beside(at)).copied()
}

/// The places of a find that can be compared.
fn places<'a>(scene: &Scene<'a>, index: usize) -> Vec<Place<'a>> {
    let record = &scene.gathered.records[index].record;
    let time = record.time.map(|time| {
        let midnight = time.clock.duration_since(jiff::civil::Time::midnight());
        (midnight.as_secs_f64(), time.precision.step().0)
    });
    let place = |at: LatLon, bound: f64, own: bool| Place {
        find: index,
        at,
        bound,
        time: time.map(|time| time.0),
        step: time.map_or(0.0, |time| time.1),
        record: own.then_some(record),
    };
    if let Some(written) = &record.coordinates
        && let [only] = written.readings.as_slice()
    {
        return vec![place(only.at, only.precision.0 + only.datum.0, true)];
    }
    let pictured = scene.claims.photos[index].iter();
    let pictured = pictured.filter_map(|&photo| scene.gathered.photos[photo].gps.at);
    pictured.take(1).map(|at| place(at, 0.0, false)).collect()
}

/// Places with the evidence for each pair.
struct Compared<'a> {
    places: &'a [Place<'a>],
    away: Vec<Vec<f64>>,
    /// The area of each place, and whether it has one place only.
    areas: Vec<usize>,
    /// The same for what a day's travel reaches.
    regions: Vec<usize>,
    /// For each place, the reading that a writing error would explain.
    fits: Vec<Option<FittingReading>>,
    /// Which places cannot both be right.
    against: Vec<Vec<usize>>,
}

fn judged(places: &[Place]) -> Vec<(usize, Apart)> {
    let compared = Compared::of(places);
    if compared.against.iter().all(Vec::is_empty) {
        return Vec::new();
    }
    let kept = compared.kept();
    let outnumbered = compared.count(&kept, true) > compared.count(&kept, false);
    (0..places.len()).filter_map(|k| compared.apart(k, &kept, outnumbered)).collect()
}

impl<'a> Compared<'a> {
    fn of(places: &'a [Place<'a>]) -> Self {
        let from = |a: &Place| -> Vec<f64> {
            let to = |b: &Place| (local::distance(a.at, b.at).0 - a.bound - b.bound).max(0.0);
            places.iter().map(to).collect()
        };
        let away: Vec<Vec<f64>> = places.iter().map(from).collect();
        let (areas, regions) = (linked(&away, AREA), linked(&away, OF_A_DAY));
        let empty = vec![Vec::new(); places.len()];
        let fits = vec![None; places.len()];
        let mut compared = Self { places, away, areas, regions, fits, against: empty };
        for a in 0..places.len() {
            for b in 0..a {
                if compared.too_fast(a, b).is_some() || compared.too_far(a, b) {
                    compared.oppose(a, b);
                }
            }
        }
        for k in 0..places.len() {
            compared.writing_error(k);
        }
        compared
    }

    fn oppose(&mut self, a: usize, b: usize) {
        if !self.against[a].contains(&b) {
            self.against[a].push(b);
            self.against[b].push(a);
        }
    }

    /// The time between two finds, where it is too short for the way.
    fn too_fast(&self, a: usize, b: usize) -> Option<Seconds> {
        let (one, other) = (&self.places[a], &self.places[b]);
        let between = (one.time? - other.time?).abs();
        let allowed = AREA + SPEED * (between + one.step + other.step);
        (self.away[a][b] > allowed).then_some(Seconds(between))
    }

    /// Whether a place by itself lies beyond a day's travel of another, whose time is not known.
    fn too_far(&self, a: usize, b: usize) -> bool {
        let timed = self.places[a].time.is_some() && self.places[b].time.is_some();
        let lone = self.is_lone(&self.regions, a) || self.is_lone(&self.regions, b);
        !timed && self.regions[a] != self.regions[b] && lone
    }

    /// Whether all of its group are one place.
    fn is_lone(&self, groups: &[usize], k: usize) -> bool {
        let mut own = (0..groups.len()).filter(|&other| groups[other] == groups[k]);
        own.all(|other| self.away[k][other] < SAME)
    }

    /// Opposes the finds beside which a writing error would bring a place.
    fn writing_error(&mut self, k: usize) {
        let written = self.places[k].record.and_then(|record| record.coordinates.as_ref());
        for slip in written.iter().flat_map(|written| &written.slips) {
            let bound = slip.precision.0 + slip.datum.0;
            let near = |other: &usize| {
                let place = &self.places[*other];
                let distance = local::distance(slip.at, place.at).0 - bound - place.bound;
                let nearer = self.away[k][*other] > AREA + TIMES_NEARER * distance.max(0.0);
                self.areas[*other] != self.areas[k] && distance <= FITS && nearer
            };
            let others: Vec<usize> = (0..self.places.len()).filter(near).collect();
            if others.is_empty() {
                continue;
            }
            let fits = FittingReading { manner: slip.manner.clone(), at: slip.at };
            self.fits[k].get_or_insert(fits);
            for other in others {
                self.oppose(k, other);
            }
        }
    }

    /// A set of places that do not conflict: without those that conflict with most, one after the other; of equal
    /// ones the one that a writing error explains.
    fn kept(&self) -> Vec<bool> {
        let mut kept = vec![true; self.places.len()];
        loop {
            let conflicts = |k: usize| self.against[k].iter().filter(|&&other| kept[other]).count();
            let left = (0..kept.len()).filter(|&k| kept[k]);
            let worst = left.max_by_key(|&k| (conflicts(k), self.fits[k].is_some(), k));
            match worst.filter(|&k| conflicts(k) > 0) {
                Some(worst) => kept[worst] = false,
                None => return kept,
            }
        }
    }

    /// How many different places or times among those in a conflict are kept, or not.
    fn count(&self, kept: &[bool], which: bool) -> usize {
        let mut different: Vec<usize> = Vec::new();
        for k in (0..kept.len()).filter(|&k| kept[k] == which && !self.against[k].is_empty()) {
            let time = |k: usize| self.places[k].time.map(f64::to_bits);
            let another = |other: &usize| {
                let (one, two) = (self.places[k].at, self.places[*other].at);
                local::distance(one, two).0 >= COPIED || time(k) != time(*other)
            };
            if different.iter().all(another) {
                different.push(k);
            }
        }
        different.len()
    }

    /// What is to be said of a place, if anything: of those that are not kept, and of all in a conflict where no
    /// majority shows which are right.
    fn apart(&self, k: usize, kept: &[bool], outnumbered: bool) -> Option<(usize, Apart)> {
        let record = self.places[k].record?;
        let nearer = |a: &&usize, b: &&usize| self.away[k][**a].total_cmp(&self.away[k][**b]);
        let others = || self.against[k].iter().filter(|&&other| kept[other] != kept[k]);
        let from = *others().min_by(nearer)?;
        if outnumbered && kept[k] {
            return None;
        }
        let within = self.too_fast(k, from);
        let explained = |k: usize| self.fits[k].is_some();
        let lone = |k: usize| {
            let far = self.against[k].iter().all(|&other| self.away[k][other] > FAR);
            self.is_lone(&self.areas, k) && far
        };
        let wrong = explained(k) || lone(k);
        let wrong = wrong || !outnumbered && others().any(|&other| explained(other) || lone(other));
        let measured = record.coordinates.as_ref().is_some_and(|written| written.measured);
        let apart = Apart {
            from: self.places[from].find,
            away: Metres(self.away[k][from]),
            within,
            fits: self.fits[k].clone(),
            outnumbered,
            used: measured || !wrong,
        };
        Some((self.places[k].find, apart))
    }
}

/// The number of the group of each, where places nearer than this are linked.
fn linked(away: &[Vec<f64>], reach: f64) -> Vec<usize> {
    let mut groups: Vec<Option<usize>> = vec![None; away.len()];
    for first in 0..away.len() {
        if groups[first].is_some() {
            continue;
        }
        let mut open = vec![first];
        groups[first] = Some(first);
        while let Some(k) = open.pop() {
            for other in 0..away.len() {
                if groups[other].is_none() && away[k][other] <= reach {
                    groups[other] = Some(first);
                    open.push(other);
                }
            }
        }
    }
    groups.into_iter().map(Option::unwrap_or_default).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_place_far_from_all_others_is_set_aside_alone() {
        let record = Record::default();
        let place = |find: usize, at: LatLon| Place {
            find,
            at,
            bound: 0.0,
            time: None,
            step: 0.0,
            record: Some(&record),
        };
        // a site has places a metre apart; figures that were copied are one place
        for (step, alone) in [(0.000_01, true), (0.0, false)] {
            let near = |k: usize| LatLon::clamped(51.7512 + step * k as f64, 10.6123);
            let mut places: Vec<Place> = (0..9).map(|k| place(k, near(k))).collect();
            places.push(place(9, LatLon::clamped(15.7512, 10.6124)));
            let found: Vec<usize> = judged(&places).into_iter().map(|(find, _)| find).collect();
            assert_eq!(found == [9], alone, "{found:?}");
        }
    }
}
