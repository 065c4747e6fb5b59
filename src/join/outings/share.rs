//! Assigns photographs, records and waypoints to outings. Records and photographs that belong together
//! ([`super::bundles`]) go to their track if the probability is high enough ([`super::pairing`]); otherwise
//! they make a separate outing without a track, and the comparison is reported. Layer: `join`.

use std::collections::HashSet;
use std::path::PathBuf;

use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::earth::zone;
use crate::model::{Association, AssociationKind, Photo};
use crate::units::WallClock;

use super::super::Options;
use super::bundles::{self, Bundle};
use super::draft::Draft;
use super::group::{self, Inputs};
use super::pairing::{Home, Pairing};
use super::pool::Pool;
use super::sessions::{Tracked, sessions};
use super::waypoints;

/// Shares out everything but the tracks, which are in the outings already.
pub(super) fn all(pool: &mut Pool, outings: &mut Vec<Draft>, options: &Options) {
    let photos = std::mem::take(&mut pool.photos);
    let records = std::mem::take(&mut pool.records);
    let points = std::mem::take(&mut pool.waypoints);
    let named: Vec<(usize, Option<String>)> =
        points.iter().map(|(file, point)| (*file, point.name.clone())).collect();
    let inputs = Inputs { files: &pool.files, records: &records, waypoints: &named };
    let groups = group::groups(outings, &inputs);
    let mut untimed = Vec::new();
    let sessions = sessions(photos, &groups, &mut untimed);
    let mut pairing = Pairing {
        outings,
        with_track: Tracked::of(outings),
        groups: &groups,
        inputs: &inputs,
        options,
        ways: std::collections::BTreeMap::new(),
        misdated: std::collections::BTreeMap::new(),
    };
    let bundles = bundles::gathered(&inputs, sessions, untimed, &pairing);
    let homes = pairing.decide(&bundles);
    let with_records: Vec<usize> = bundles
        .iter()
        .zip(&homes)
        .filter_map(|(bundle, home)| match home {
            Home::Outing(outing, _) if !bundle.records.is_empty() => Some(*outing),
            _ => None,
        })
        .collect();
    let ways = std::mem::take(&mut pairing.ways);
    let misdated = misdated(&bundles, &pairing.misdated);
    for (outing, estimated_track) in ways {
        outings[outing].estimated_track = Some(estimated_track);
    }
    let mut given = Giving { outings, with_records, apart: Vec::new(), records: Vec::new() };
    for (bundle, home) in bundles.into_iter().zip(homes) {
        given.give(bundle, home);
    }
    let given = given.records;
    for outing in outings.iter_mut().filter(|_| !misdated.is_empty()) {
        let photos = outing.photos.iter().map(|photo| photo.source.path.clone());
        outing.misdated = photos.filter(|path| misdated.contains(path)).collect();
    }
    // moved, not copied: a table may have a hundred thousand of them
    let mut records: Vec<_> = records.into_iter().map(Some).collect();
    for (index, outing) in given {
        outings[outing].records.extend(records[index].take());
    }
    for outing in outings.iter_mut() {
        outing.records.sort_by_key(|(file, record)| {
            (*file, record.sheet.as_ref().map(|sheet| sheet.number), record.line)
        });
    }
    waypoints::share(points, &groups, outings);
}

/// The photographs of these sessions of bundles.
fn misdated(
    bundles: &[Bundle],
    sessions: &std::collections::BTreeMap<usize, Vec<usize>>,
) -> HashSet<PathBuf> {
    let photos = sessions.iter().flat_map(|(&bundle, sessions)| {
        sessions.iter().flat_map(move |&session| &bundles[bundle].sessions[session])
    });
    photos.map(|photo| photo.source.path.clone()).collect()
}

/// The outings while bundles are given to them.
struct Giving<'a> {
    outings: &'a mut Vec<Draft>,
    /// Each record, and its outing.
    records: Vec<(usize, usize)>,
    /// Outings whose track has its own records.
    with_records: Vec<usize>,
    /// Outings without a track of bundles whose owner is open: date, collector, outing.
    apart: Vec<(Option<Date>, Option<String>, usize)>,
}

impl Giving<'_> {
    fn give(&mut self, bundle: Bundle, home: Home) {
        match home {
            Home::Outing(outing, report) => {
                self.put(bundle, outing);
                if let Some(report) = report {
                    merge(&mut self.outings[outing].associations, report);
                }
            }
            Home::Open { report, nearest } => self.apart(bundle, report, nearest),
            Home::Alone => {
                let date = date_of(&bundle);
                let outing = if date.is_none() && !bundle.records.is_empty() {
                    undated(self.outings)
                } else {
                    on_date(self.outings, date)
                };
                self.put(bundle, outing);
            }
        }
    }

    /// An outing without a track.
    fn apart(&mut self, bundle: Bundle, report: Association, nearest: Option<usize>) {
        let date = date_of(&bundle);
        let owned = report.kind != AssociationKind::AnotherDay;
        let collector = if owned { bundle.collector.clone() } else { None };
        let known = self.apart.iter().find(|(d, c, _)| *d == date && *c == collector);
        let outing = if let Some((_, _, outing)) = known {
            *outing
        } else {
            let place = nearest.and_then(|outing| self.outings[outing].place);
            self.outings.push(Draft { date, place, ..Draft::default() });
            self.apart.push((date, collector, self.outings.len() - 1));
            self.outings.len() - 1
        };
        if self.is_worth_reporting(&report, nearest) {
            merge(&mut self.outings[outing].associations, report);
        }
        self.put(bundle, outing);
    }

    /// Records of a day without a track are no error, unless a track without records lies there; nor
    /// are photographs of another day.
    fn is_worth_reporting(&self, report: &Association, nearest: Option<usize>) -> bool {
        /// Photographs alone that more probably belong to the track than this are uncertain.
        const DOUBT: f64 = 0.01;
        if report.kind != AssociationKind::AnotherDay {
            return true;
        }
        let best = report.tracks.first().map_or(0.0, |track| track.probability);
        let orphan = nearest.is_some_and(|outing| !self.with_records.contains(&outing));
        if report.records > 0 { orphan || best > DOUBT } else { best > DOUBT }
    }

    fn put(&mut self, bundle: Bundle, outing: usize) {
        self.records.extend(bundle.records.iter().map(|&index| (index, outing)));
        let draft = &mut self.outings[outing];
        draft.photos.extend(bundle.sessions.into_iter().flatten());
        draft.photos.extend(bundle.untimed);
    }
}

/// The date of a bundle: as written, else that of its cameras, else of its GPS times, where the photograph says in
/// what zone.
fn date_of(bundle: &Bundle) -> Option<Date> {
    let photos = || bundle.sessions.iter().flatten().chain(&bundle.untimed);
    let camera = || photos().find_map(|photo| photo.taken.map(WallClock::date));
    let gps = |photo: &Photo| {
        let zone = photo.gps.at.and_then(zone::at).map_or(TimeZone::UTC, |(_, zone)| zone);
        photo.gps.time.map(|time| time.to_zoned_datetime(zone).date())
    };
    bundle.date.or_else(camera).or_else(|| photos().find_map(gps))
}

/// One report for what was compared with the same tracks.
fn merge(reports: &mut Vec<Association>, report: Association) {
    let files = |report: &Association| -> Vec<Vec<String>> {
        let mut files: Vec<_> = report.tracks.iter().map(|track| track.files.clone()).collect();
        files.sort();
        files
    };
    let same = |other: &&mut Association| {
        other.kind == report.kind
            && other.collector == report.collector
            && files(other) == files(&report)
    };
    let Some(known) = reports.iter_mut().find(same) else {
        reports.push(report);
        return;
    };
    known.records += report.records;
    known.photographs += report.photographs;
    for (all, more) in [
        (&mut known.written_dates, report.written_dates),
        (&mut known.camera_dates, report.camera_dates),
        (&mut known.gps_dates, report.gps_dates),
    ] {
        all.extend(more);
        all.sort_unstable();
        all.dedup();
    }
}

fn outing_on(outings: &[Draft], date: Option<Date>) -> Option<usize> {
    let date = date?;
    outings.iter().position(|outing| outing.covers(date))
}

/// The outing of records without a date: one that has none either, or a new one; that of other records is another day.
fn undated(outings: &mut Vec<Draft>) -> usize {
    let without = |outing: &Draft| outing.span.is_none() && outing.date.is_none();
    outings.iter().position(without).unwrap_or_else(|| {
        outings.push(Draft::default());
        outings.len() - 1
    })
}

/// The outing of a date, made where there is none. No date: the first one.
pub(super) fn on_date(outings: &mut Vec<Draft>, date: Option<Date>) -> usize {
    let found = match date {
        Some(_) => outing_on(outings, date),
        None => (!outings.is_empty()).then_some(0),
    };
    found.unwrap_or_else(|| {
        outings.push(Draft { date, ..Draft::default() });
        outings.len() - 1
    })
}
