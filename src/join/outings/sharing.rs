//! Detects that more collectors than receivers were out on a day, and computes what tells that one of them
//! walked with the track: finds at the same times and places as the others', one series of numbers, one
//! camera. Layer: `join`.

use jiff::civil::Date;

use crate::model::{AssociationEvidence, EvidenceKind, Record};
use crate::units::{ClockOffset, Seconds, TimeZone, Timestamp};

use super::super::written;
use super::bundles::Bundle;
use super::group::Inputs;
use super::names::{names_file, same_person};

/// The prior probability that a collector of a shared list walked apart from the track; and one with a list
/// of his own (common practice: who keeps one list mostly walks together).
const APART_ONE_LIST: f64 = 0.1;
const APART_TWO_LISTS: f64 = 0.3;
/// The same for one of two lists of a day of which neither names a collector: mostly both are of one person.
const APART_UNNAMED: f64 = 0.005;
/// Half of the time about another's find in which a find counts as at the same stop, seconds; and the shares
/// of finds that are, where both walked together, by their habits (common practice).
const SAME_STOP: (f64, [f64; 3]) = (180.0, [0.3, 0.6, 0.9]);
/// The same for finds that bear the same place name.
const SAME_PLACE: (f64, [f64; 3]) = (900.0, [0.8, 0.85, 0.9]);
/// What a log Bayes factor of times is worth, since finds come in clusters.
const WORTH: f64 = 0.7;
/// The limits of the log Bayes factors of times and places: at least, at most.
const OF_TIMES: (f64, f64) = (-1.0, 4.0);
const OF_PLACES: (f64, f64) = (-4.0, 4.0);
/// The log Bayes factor of one series of numbers that changes between the collectors (common practice).
const ONE_SERIES: f64 = 2.0;
/// The log Bayes factor of a camera, known by its serial number, that both used within minutes.
const ONE_CAMERA: f64 = 4.6;
/// How far apart in time a camera is used from hand to hand, seconds.
const HAND_TO_HAND: f64 = 300.0;

/// The track that may be shared.
pub(super) struct Shared {
    pub(super) zone: TimeZone,
    pub(super) date: Date,
    pub(super) span: (Timestamp, Timestamp),
    pub(super) files: Vec<usize>,
    /// Receivers that ran at the same time.
    pub(super) receivers: usize,
}

/// The other collectors' bundles of a bundle's day; where no collector is named, those of other lists.
fn others(bundles: &[Bundle], index: usize) -> Vec<&Bundle> {
    let bundle = &bundles[index];
    let other = |other: &&Bundle| {
        let same_day = other.date == bundle.date || other.date.is_none() || bundle.date.is_none();
        let apart = match (&bundle.collector, &other.collector) {
            (Some(own), Some(name)) => !same_party(own, name),
            (None, None) => bundle.file.is_some() && other.file != bundle.file,
            _ => false,
        };
        !other.records.is_empty() && same_day && apart
    };
    bundles.iter().filter(other).collect()
}

/// Whether one of the names is, or holds, the other.
pub(super) fn same_party(one: &str, other: &str) -> bool {
    let people = |names: &str| -> Vec<String> {
        let marked = names.replace(" and ", "&").replace(" und ", "&").replace(" et ", "&");
        marked.split(['&', '+', ';', ',', '/', '|']).map(|name| name.trim().to_owned()).collect()
    };
    let (a, b) = (people(one), people(other));
    a.iter().any(|one| b.iter().any(|other| same_person(one, other)))
        || one.trim().eq_ignore_ascii_case(other.trim())
}

/// The prior probability that the collector of a bundle walked apart from the track; `None` where nobody
/// shares it.
pub(super) fn apart(
    inputs: &Inputs,
    bundles: &[Bundle],
    index: usize,
    track: &Shared,
) -> Option<f64> {
    let bundle = &bundles[index];
    let others = others(bundles, index);
    let Some(own) = bundle.collector.as_deref() else {
        return (!others.is_empty() && track.receivers == 1).then_some(APART_UNNAMED);
    };
    let mut people: Vec<&str> = Vec::new();
    for name in others.iter().filter_map(|other| other.collector.as_deref()) {
        if !people.iter().any(|known| same_party(known, name)) {
            people.push(name);
        }
    }
    if people.is_empty() || people.len() < track.receivers {
        return None;
    }
    let named =
        |person: &str| track.files.iter().any(|&file| names_file(person, &inputs.files[file].path));
    let of_another = people.iter().any(|person| named(person));
    match (named(own), of_another) {
        (true, false) => None,
        (_, true) => Some(APART_TWO_LISTS),
        _ if others.iter().all(|other| other.file == bundle.file) => Some(APART_ONE_LIST),
        _ => Some(APART_TWO_LISTS),
    }
}

/// What tells that the collector of a bundle walked with the others of that track.
pub(super) fn companions(
    inputs: &Inputs,
    bundles: &[Bundle],
    index: usize,
    track: &Shared,
) -> Option<AssociationEvidence> {
    let bundle = &bundles[index];
    let records = |bundle: &Bundle| -> Vec<&Record> {
        bundle.records.iter().map(|&record| &inputs.records[record].1).collect()
    };
    let own = records(bundle);
    let others = others(bundles, index);
    let theirs: Vec<&Record> = others.iter().flat_map(|other| records(other)).collect();
    let times = times(&own, &theirs, track);
    let series =
        if others.iter().any(|other| other.file == bundle.file) && one_series(&own, &theirs) {
            ONE_SERIES
        } else {
            0.0
        };
    let camera =
        if others.iter().any(|other| hand_to_hand(bundle, other)) { ONE_CAMERA } else { 0.0 };
    let log_factor = times + places(&own, &theirs, track) + series + camera;
    (!theirs.is_empty()).then_some(AssociationEvidence {
        kind: EvidenceKind::Companions,
        log_factor,
        count: own.len(),
    })
}

/// Written times, seconds since the track began.
fn instants(records: &[&Record], track: &Shared) -> Vec<f64> {
    let instant = |record: &&Record| {
        let undated = Record { date: None, ..(*record).clone() };
        let read = written::instant(&undated, track.date, &track.zone, Some(track.span))?;
        Some(Seconds::between(track.span.0, read.instant).0)
    };
    let mut times: Vec<f64> = records.iter().filter_map(instant).collect();
    times.sort_by(f64::total_cmp);
    times
}

fn times(own: &[&Record], theirs: &[&Record], track: &Shared) -> f64 {
    let log = coincidence(&instants(own, track), &instants(theirs, track), track, SAME_STOP);
    (WORTH * log).clamp(OF_TIMES.0, OF_TIMES.1)
}

fn places(own: &[&Record], theirs: &[&Record], track: &Shared) -> f64 {
    let place = |record: &Record| record.place.as_deref().map(|name| name.trim().to_lowercase());
    let mut names: Vec<String> = own.iter().filter_map(|record| place(record)).collect();
    names.sort_unstable();
    names.dedup();
    let of = |records: &[&Record], name: &String| -> Vec<f64> {
        let same: Vec<&Record> =
            records.iter().filter(|record| place(record).as_ref() == Some(name)).copied().collect();
        instants(&same, track)
    };
    let log = |name: &String| coincidence(&of(own, name), &of(theirs, name), track, SAME_PLACE);
    let log: f64 = names.iter().map(log).sum();
    (WORTH * log).clamp(OF_PLACES.0, OF_PLACES.1)
}

/// The log Bayes factor of how many of some times lie within `reach` of others: of so large a share where
/// both are of one party, else of the share of the outing that lies within reach.
fn coincidence(
    own: &[f64],
    theirs: &[f64],
    track: &Shared,
    (reach, shares): (f64, [f64; 3]),
) -> f64 {
    let mut own = own.to_vec();
    own.dedup_by(|later, kept| *later - *kept < reach);
    if own.is_empty() || theirs.is_empty() {
        return 0.0;
    }
    let end = Seconds::between(track.span.0, track.span.1).0.max(1.0);
    let mut covered = 0.0;
    let mut until = 0.0_f64;
    for time in theirs {
        let (from, to) = ((time - reach).clamp(until, end.max(until)), (time + reach).min(end));
        covered += (to - from).max(0.0);
        until = until.max(to);
    }
    let by_chance = (covered / end).clamp(0.05, 0.95);
    let near = |time: &&f64| theirs.iter().any(|other| (*time - other).abs() <= reach);
    let together = own.iter().filter(near).count() as f64;
    let alone = own.len() as f64 - together;
    let of_habit = |share: f64| {
        let share = share.max(by_chance);
        together * (share / by_chance).ln() + alone * ((1.0 - share) / (1.0 - by_chance)).ln()
    };
    let sum: f64 = shares.into_iter().map(|share| of_habit(share).exp()).sum();
    (sum / shares.len() as f64).ln()
}

/// Whether one series of numbers changes twice or more between the collectors.
fn one_series(own: &[&Record], theirs: &[&Record]) -> bool {
    let key = |record: &Record, mine: bool| {
        let number = record.number.as_ref()?;
        Some((number.series().to_lowercase(), number.ordinal()?, mine))
    };
    let mut all: Vec<(String, u64, bool)> = own
        .iter()
        .filter_map(|record| key(record, true))
        .chain(theirs.iter().filter_map(|record| key(record, false)))
        .collect();
    all.sort_unstable();
    all.windows(2).filter(|two| two[0].0 == two[1].0 && two[0].2 != two[1].2).count() >= 2
}

/// Whether both used one camera, known by its serial number, within minutes.
fn hand_to_hand(one: &Bundle, other: &Bundle) -> bool {
    let readings = |bundle: &Bundle| -> Vec<(String, Timestamp)> {
        let photos = bundle.sessions.iter().flatten();
        photos
            .filter_map(|photo| {
                Some((photo.camera.serial.clone()?, ClockOffset::as_if_utc(photo.taken?)))
            })
            .collect()
    };
    let theirs = readings(other);
    readings(one).iter().any(|(serial, time)| {
        theirs.iter().any(|(other, then)| {
            serial == other && Seconds::between(*time, *then).0.abs() <= HAND_TO_HAND
        })
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn track() -> Shared {
        let start: Timestamp = "2026-05-02T00:00:00Z".parse().unwrap();
        Shared {
            zone: TimeZone::UTC,
            date: jiff::civil::date(2026, 5, 2),
            span: (start, Seconds(10_800.0).after(start)),
            files: vec![0],
            receivers: 1,
        }
    }

    #[test]
    fn names_of_one_party_hold_each_other() {
        assert!(same_party("Ada Quillfeather & Noel Brambletoft", "Noel Brambletoft"));
        assert!(same_party("A. Quillfeather", "Ada Quillfeather"));
        assert!(!same_party("Ada Quillfeather", "Noel Brambletoft"));
    }

    #[test]
    fn finds_at_the_same_times_support_a_common_walk() {
        let theirs = [1_000.0, 3_000.0, 5_000.0, 8_000.0];
        let with = coincidence(&[1_060.0, 2_950.0, 5_100.0], &theirs, &track(), SAME_STOP);
        let apart = coincidence(&[2_000.0, 4_000.0, 6_500.0], &theirs, &track(), SAME_STOP);
        assert!(with > 3.0 && apart < -1.0, "{with} {apart}");
        // where every time lies near another's, nothing can be seen
        let dense: Vec<f64> = (0..60).map(|k| f64::from(k) * 180.0).collect();
        assert!(coincidence(&[500.0, 900.0], &dense, &track(), SAME_STOP).abs() < 0.2);
    }
}
