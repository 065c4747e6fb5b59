//! Decides with the effort of which outing finds count, from date, collector and place of each outing, and which
//! time two tracks of one walk share. For all analyses that divide finds by effort. Layer: `analyse`.
//!
//! Records often make an outing of their own beside that of the track: without times, or with times outside of
//! it. Their finds count with the track of the same date and collector; otherwise the hours of that day would count
//! as searched without a find.

use std::collections::BTreeSet;

use jiff::Timestamp;
use jiff::civil::Date;

use super::carriers::Carrier;
use super::spatial_index::Ecef;
use crate::model::TrackPoint;
use crate::units::{LatLon, Metres, Seconds};

/// What decides about an outing.
#[derive(Clone, Debug)]
pub struct Candidate<'a> {
    /// Its local date.
    pub date: Date,
    /// Who collected, as its records name them.
    pub collector: Option<&'a str>,
    /// Who carried its receiver; without a track, who collected.
    pub carrier: Carrier,
    /// Whether the import declined to associate its finds with a track.
    pub refused: bool,
    /// First and last instant of its track; none without a track.
    pub walked: Option<(Timestamp, Timestamp)>,
    /// Where it began.
    pub began: Option<LatLon>,
    /// The length of its track.
    pub length: Metres,
    /// Its finds.
    pub finds: usize,
    /// The position of one of its finds that does not come from a track.
    pub find_at: Option<LatLon>,
}

/// Where the finds of an outing count.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CountedWith {
    /// With its own effort, or with none.
    Own,
    /// With that of another outing, by its index.
    Other(usize),
    /// With that of one of several people: nobody knows whose.
    Unknown,
}

/// The result for all outings.
#[derive(Clone, Debug, PartialEq)]
pub struct Assigned {
    /// Where the finds of each outing count.
    pub with: Vec<CountedWith>,
    /// Outings whose effort is left out of rates, since finds of their day cannot be counted with it.
    pub left_out: BTreeSet<usize>,
}

/// How far beyond the length of a track from its start a find may be (project choice).
const REACH: f64 = 1_000.0;

/// Assigns the finds of outings without a track to the track of the same date: of the same collector, else of an
/// unknown one. A find farther from the start of a track than the track is long was not made on it. Finds that the
/// import declined to associate with a track may have been made on it or not.
#[must_use]
pub fn assign(outings: &[Candidate<'_>]) -> Assigned {
    let mut of_date: std::collections::HashMap<Date, Vec<usize>> = std::collections::HashMap::new();
    for (index, outing) in outings.iter().enumerate() {
        if outing.walked.is_some() {
            of_date.entry(outing.date).or_default().push(index);
        }
    }
    let mut left_out = BTreeSet::new();
    let with = outings
        .iter()
        .map(|own| {
            if own.walked.is_some() || own.finds == 0 {
                return CountedWith::Own;
            }
            let tracks = of_date.get(&own.date).map_or(&[][..], Vec::as_slice);
            let possible = possible(own, tracks, outings);
            let people: BTreeSet<String> =
                possible.iter().filter_map(|index| person(&outings[*index])).collect();
            if people.len() > 1 || own.refused && !possible.is_empty() {
                left_out.extend(possible);
                return CountedWith::Unknown;
            }
            let longest = |a: &usize, b: &usize| {
                outings[*a].length.0.total_cmp(&outings[*b].length.0).then(b.cmp(a))
            };
            possible.into_iter().max_by(longest).map_or(CountedWith::Own, CountedWith::Other)
        })
        .collect();
    Assigned { with, left_out }
}

/// The tracks of a date on which finds may have been made; those of the same collector before others.
fn possible(own: &Candidate<'_>, tracks: &[usize], outings: &[Candidate<'_>]) -> Vec<usize> {
    let near = |index: &usize| {
        let track = &outings[*index];
        own.find_at.zip(track.began).is_none_or(|(find, began)| {
            Ecef::of(find).distance(Ecef::of(began)).0 <= track.length.0 + REACH
        })
    };
    let name = person(own);
    let here = || tracks.iter().copied().filter(near);
    let same: Vec<usize> =
        here().filter(|index| name.is_some() && person(&outings[*index]) == name).collect();
    if !same.is_empty() {
        return same;
    }
    let is_named =
        |index: &usize| outings[*index].collector.is_some_and(|own| !own.trim().is_empty());
    here().filter(|index| name.is_none() || !is_named(index)).collect()
}

fn person(outing: &Candidate<'_>) -> Option<String> {
    outing.carrier.person.clone()
}

/// Pairs of outings whose tracks ran at the same time and may be of one person; the longer in time first.
#[must_use]
pub fn at_one_time(outings: &[Candidate<'_>]) -> Vec<(usize, usize)> {
    let mut walked: Vec<(Timestamp, Timestamp, usize)> = outings
        .iter()
        .enumerate()
        .filter_map(|(index, own)| own.walked.map(|(from, to)| (from, to, index)))
        .collect();
    walked.sort_unstable();
    let mut pairs = Vec::new();
    for (place, (from, to, index)) in walked.iter().enumerate() {
        for (later, until, other) in walked[place + 1..].iter().take_while(|next| next.0 < *to) {
            if outings[*index].carrier.may_be(&outings[*other].carrier) {
                let longer = Seconds::between(*from, *to).0 >= Seconds::between(*later, *until).0;
                pairs.push(if longer { (*index, *other) } else { (*other, *index) });
            }
        }
    }
    pairs
}

/// Seconds between the times at which two tracks are compared (as for two receivers of one import).
const STEP: f64 = 20.0;
/// Metres within which they are at one place.
const NEAR: f64 = 60.0;
/// The largest median distance of two receivers on one person, metres: two of a radius of 25 m each, as under closed
/// canopy, are 17 m apart in the median (project choice).
const ON_ONE: f64 = 20.0;
/// The share of the common time at one place that makes them one walk.
const MOSTLY: f64 = 0.85;
/// The fewest common times.
const LEAST: usize = 6;
/// Seconds without a fix that leave the position open.
const GAP: f64 = 120.0;

/// The share of the second track's time that the first one shows as well; none where they are not of one walk: they
/// are within 60 m of each other for less than 85 % of their common time, or half of that time more than 20 m apart.
#[must_use]
pub fn shared(main: &[TrackPoint], other: &[TrackPoint]) -> Option<f64> {
    let (first, last) = (other.first()?.time, other.last()?.time);
    let steps = (Seconds::between(first, last).0 / STEP).floor().clamp(0.0, 100_000.0);
    let (mut own, mut apart) = (0_usize, Vec::new());
    let mut step = 0.0;
    while step <= steps {
        let when = Seconds(step * STEP).after(first);
        step += 1.0;
        let Some(here) = at(other, when) else { continue };
        own += 1;
        let Some(there) = at(main, when) else { continue };
        apart.push(here.distance(there).0);
    }
    let within = |metres: f64| apart.iter().filter(|apart| **apart <= metres).count() as f64;
    let common = apart.len() as f64;
    let is_one = within(NEAR) >= MOSTLY * common && within(ON_ONE) >= 0.5 * common;
    (apart.len() >= LEAST && is_one).then(|| common / own.max(1) as f64)
}

/// The position at a time, between two points no more than two minutes apart.
fn at(points: &[TrackPoint], when: Timestamp) -> Option<Ecef> {
    let after = points.partition_point(|point| point.time <= when);
    let before = points.get(after.checked_sub(1)?)?;
    let Some(next) = points.get(after) else {
        return (before.time == when).then(|| Ecef::of(before.at));
    };
    let apart = Seconds::between(before.time, next.time).0;
    if before.gap_after || apart > GAP {
        return None;
    }
    let nearer = Seconds::between(before.time, when).0 <= apart / 2.0;
    Some(Ecef::of(if nearer { before.at } else { next.at }))
}

/// The share of a track's time from which it counts as the same walk as a whole (project choice).
pub const WHOLE: f64 = MOSTLY;

/// A track without the time that another one of the same walk shows.
#[must_use]
pub fn without(
    (points, lengths): (Vec<TrackPoint>, Vec<Metres>),
    shown: &[(Timestamp, Timestamp)],
) -> (Vec<TrackPoint>, Vec<Metres>) {
    let is_shown = |when: Timestamp| shown.iter().any(|(from, to)| (*from..=*to).contains(&when));
    let mut kept: (Vec<TrackPoint>, Vec<Metres>) = (Vec::new(), Vec::new());
    for (point, length) in points.into_iter().zip(lengths) {
        if is_shown(point.time) {
            if let Some(last) = kept.0.last_mut() {
                last.gap_after = true;
            }
        } else {
            kept.0.push(point);
            kept.1.push(length);
        }
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::carriers::{Carried, carriers};
    use crate::analyse::statistics::Rng;
    use crate::model::Activity;
    use crate::units::Radius95;
    use jiff::civil::date;
    use std::path::PathBuf;

    fn outing(collector: Option<&str>, track: Option<i64>, finds: usize) -> Candidate<'_> {
        let at = |second| Timestamp::from_second(second).unwrap();
        Candidate {
            date: date(2021, 9, 16),
            collector,
            carrier: Carrier::of(collector),
            refused: false,
            walked: track.map(|start| (at(start), at(start + 3_600))),
            began: track.map(|_| LatLon::clamped(47.0, 8.0)),
            length: Metres(1_200.0),
            finds,
            find_at: None,
        }
    }

    #[test]
    fn finds_count_with_the_track_of_their_date_and_collector() {
        let orla = Some("Orla Winterhagen");
        let outings = [
            outing(Some("Bo Tarn"), Some(0), 0),
            outing(Some("orla winterhagen "), Some(0), 2),
            outing(orla, None, 3),
            outing(Some("Mo Fell"), None, 4),
        ];
        let assigned = assign(&outings);
        assert_eq!(assigned.with[2], CountedWith::Other(1));
        assert_eq!(assigned.with[3], CountedWith::Own);
        assert!(assigned.left_out.is_empty());
        let unknown = [outing(None, Some(0), 0), outing(orla, None, 3)];
        assert_eq!(assign(&unknown).with[1], CountedWith::Other(0));
    }

    #[test]
    fn finds_of_one_of_two_people_leave_out_the_effort_of_both() {
        let outings = [
            outing(Some("Bo Tarn"), Some(0), 1),
            outing(Some("Orla Winterhagen"), Some(0), 1),
            outing(None, None, 3),
        ];
        let assigned = assign(&outings);
        assert_eq!(assigned.with[2], CountedWith::Unknown);
        assert_eq!(assigned.left_out, BTreeSet::from([0, 1]));
    }

    #[test]
    fn finds_elsewhere_do_not_count_with_a_track() {
        let mut far = outing(None, None, 3);
        far.find_at = Some(LatLon::clamped(47.1, 8.0));
        let assigned = assign(&[outing(None, Some(0), 0), far]);
        assert_eq!(assigned.with[1], CountedWith::Own);
        assert!(assigned.left_out.is_empty());
    }

    #[test]
    fn finds_that_the_import_did_not_place_on_a_track_do_not_count_with_it() {
        let orla = Some("Orla Winterhagen");
        let refused = Candidate { refused: true, ..outing(orla, None, 3) };
        let assigned = assign(&[outing(orla, Some(0), 2), refused.clone()]);
        assert_eq!(assigned.with[1], CountedWith::Unknown);
        assert_eq!(assigned.left_out, BTreeSet::from([0]));
        // without a track of that date nothing is left out
        let mut later = outing(orla, Some(0), 2);
        later.date = date(2021, 9, 17);
        assert!(assign(&[later, refused]).left_out.is_empty());
    }

    fn track(start: i64, north: f64) -> Vec<TrackPoint> {
        let point = |index: i64| TrackPoint {
            time: Timestamp::from_second(start + 10 * index).unwrap(),
            at: LatLon::clamped(47.0 + north, 8.0 + (start + 10 * index) as f64 * 1e-5),
            height: None,
            radius: Radius95::new(Metres(8.0)).unwrap(),
            activity: Activity::Searching,
            gap_after: false,
        };
        (0..=60).map(point).collect()
    }

    #[test]
    fn a_second_receiver_of_one_walk_is_recognised_and_its_time_taken_out() {
        let (main, other) = (track(0, 0.0), track(300, 0.000_1));
        assert!((shared(&main, &other).unwrap() - 0.5).abs() < 0.05);
        assert_eq!(shared(&main, &track(300, 0.01)), None);
        // 40 m beside: two people
        assert_eq!(shared(&main, &track(300, 0.000_36)), None);
        let lengths = vec![Metres(1.0); other.len()];
        let shown = [(main[0].time, main[60].time)];
        let (left, lengths) = without((other, lengths), &shown);
        assert_eq!((left.len(), lengths.len()), (30, 30));
        assert!(left[0].time > main[60].time);
    }

    #[test]
    fn tracks_of_two_people_at_one_time_are_not_compared() {
        let pair = |a, b| at_one_time(&[outing(a, Some(0), 0), outing(b, Some(60), 0)]).len();
        assert_eq!(pair(Some("Bo Tarn"), Some("Orla Winterhagen")), 0);
        assert_eq!(pair(Some("Bo Tarn"), None), 1);
        assert_eq!(pair(Some("Bo Tarn"), Some("bo tarn")), 1);
    }

    /// The tracks of each date that count, for a party of so many people on twelve dates, each of whom finds something
    /// as `finds` says.
    fn tracks_that_count(
        people: &[&'static str],
        file: impl Fn(&str, i8) -> String,
        finds: impl Fn(usize, i8) -> bool,
    ) -> Vec<usize> {
        let days: Vec<(i8, usize)> =
            (1..=12).flat_map(|day| (0..people.len()).map(move |person| (day, person))).collect();
        let files: Vec<_> =
            days.iter().map(|(day, person)| PathBuf::from(file(people[*person], *day))).collect();
        let carried: Vec<Carried<'_>> = (days.iter().zip(&files))
            .map(|((day, person), file)| Carried {
                date: date(2021, 9, *day),
                collector: finds(*person, *day).then_some(people[*person]),
                file: Some(file),
            })
            .collect();
        let of = |(carrier, (day, _)): (Carrier, &(i8, usize))| Candidate {
            date: date(2021, 9, *day),
            carrier,
            ..outing(None, Some(86_400 * i64::from(*day)), 0)
        };
        let outings: Vec<_> = carriers(&carried).into_iter().zip(&days).map(of).collect();
        let mut dropped = BTreeSet::new();
        for (main, other) in at_one_time(&outings) {
            let (one, two) = (track(0, 0.0), track(0, 0.000_03));
            if !dropped.contains(&main) && shared(&one, &two).is_some() {
                dropped.insert(other);
            }
        }
        let counts = |day: i8| days.iter().enumerate().filter(move |(_, own)| own.0 == day);
        (1..=12).map(|day| counts(day).filter(|(k, _)| !dropped.contains(k)).count()).collect()
    }

    #[test]
    fn hours_of_a_party_do_not_depend_on_its_finds() {
        type Layout<'a> = &'a dyn Fn(&str, i8) -> String;
        let everybody = ["Ilse Fennwick", "Bo Harlan", "Cato Merrin", "Dagny Wolt"];
        let first = |name: &str| name.split(' ').next().unwrap_or_default().to_owned();
        let layouts: [Layout<'_>; 5] = [
            &|name, day| format!("d/{}/2021-09-{day}.gpx", first(name)),
            &|name, day| format!("d/2021/{day}-{}.gpx", first(name)),
            &|name, day| format!("d/{day}/{}.gpx", name.len()),
            &|name, day| format!("d/{}/{day}.gpx", name.len()),
            &|name, day| format!("d/{day}-{}.gpx", name.len()),
        ];
        let mut rng = Rng::new(9);
        for people in 2..=4 {
            for (number, layout) in layouts.iter().enumerate() {
                for _ in 0..10 {
                    let drawn: Vec<bool> = (0..12 * people).map(|_| rng.uniform() < 0.4).collect();
                    // everybody finds something on the first two dates, and nobody on the third
                    let finds = |person: usize, day: i8| {
                        day < 3
                            || day > 3
                                && drawn[usize::from(day.unsigned_abs() - 1) * people + person]
                    };
                    let counted = tracks_that_count(&everybody[..people], layout, finds);
                    assert_eq!(counted, [people; 12], "{people} people, layout {number}");
                }
            }
        }
        // one person with two receivers walks once, whichever of them the finds are on
        let one = ["Ilse Fennwick", "Ilse Fennwick"];
        let files = std::cell::Cell::new(0);
        let file = |_: &str, day: i8| {
            files.set(files.get() + 1);
            format!("d/{day}-{}.gpx", files.get())
        };
        assert_eq!(
            tracks_that_count(&one, file, |person, day| person == 0 && day % 2 == 0),
            [1; 12]
        );
    }
}
