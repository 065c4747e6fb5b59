//! Chooses the track of each bundle of records and photographs. The candidate tracks are compared
//! ([`association`]) with the evidence of folders, names and companions. Layer: `join`.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;

use crate::model::{Association, AssociationEvidence, EvidenceKind, Photo, Record};
use crate::units::{Seconds, TimeZone, Timestamp};

use super::super::association::{self, Material, TrackView, Weighed};
use super::super::day::track_of;
use super::super::estimated_track::EstimatedTrack;
use super::super::{CameraClockOption, Options};
use super::bundles::{Bundle, Parts};
use super::draft::Draft;
use super::group::{Group, Inputs, group_of, majority};
use super::names::{names_file, same_person};
use super::owner_names::another_named;
use super::piece::Span;
use super::sessions::{Tracked, by_local_zone};
use super::sharing::{self, Shared};

/// Log Bayes factors of what ties a bundle to a track (common practice).
const FOLDER: f64 = 5.7;
const COLLECTOR: f64 = 5.7;
const WAYPOINTS: f64 = 4.6;
/// A record that names photographs of a session whose track is known.
const COMPANY: f64 = 6.2;
/// Records of the same file without a date.
const SAME_FILE: f64 = 4.6;
/// Another collector has that track.
const OTHER_OWNER: f64 = -4.6;
/// The shares of one's own tracks, and of other people's, that bear the name of another person (common practice).
const ANOTHER_NAMED: (f64, f64) = (0.005, 0.3);
/// More tracks than this are not compared.
const MOST: usize = 6;

/// What was found for a bundle.
pub(super) enum Home {
    /// The outing of its track, with a report where dates differ.
    Outing(usize, Option<Association>),
    /// No track of these is surely its own.
    Open {
        report: Association,
        /// The most probable outing, whose place gives the zone.
        nearest: Option<usize>,
    },
    /// There is no track to compare it with.
    Alone,
}

/// The tracked outings as they are compared.
pub(super) struct Pairing<'a> {
    pub(super) outings: &'a [Draft],
    /// Those of the outings that have a track.
    pub(super) with_track: Tracked,
    pub(super) groups: &'a [Group],
    pub(super) inputs: &'a Inputs<'a>,
    pub(super) options: &'a Options,
    pub(super) ways: BTreeMap<usize, EstimatedTrack>,
    /// For each bundle the sessions whose camera's date is not of the day.
    pub(super) misdated: BTreeMap<usize, Vec<usize>>,
}

impl Parts for Pairing<'_> {
    /// Where tracks part a date, the group that a record lies nearest to by its photographs or time.
    fn of_record(&self, record: &Record, claimed: &[&Photo]) -> Option<usize> {
        let date = record.date?;
        let covering: Vec<usize> =
            self.tracked().filter(|&outing| self.outings[outing].covers(date)).collect();
        let first = *covering.first()?;
        if covering.iter().all(|&other| self.overlap(first, other)) {
            return None;
        }
        let instant = claimed
            .iter()
            .find_map(|photo| by_local_zone(photo, self.zone(first).as_ref()))
            .or_else(|| {
                let local = date.to_datetime(record.time?.clock);
                let zone = self.zone(first).unwrap_or(TimeZone::UTC);
                zone.to_ambiguous_timestamp(local).compatible().ok()
            })?;
        let away = |outing: usize| {
            self.outings[outing].span.map_or(f64::INFINITY, |span| {
                Seconds::between(instant, span.start)
                    .0
                    .max(Seconds::between(span.end, instant).0)
                    .max(0.0)
            })
        };
        covering.into_iter().min_by(|&a, &b| away(a).total_cmp(&away(b)))
    }

    fn several_at_once(&self, date: Option<Date>) -> bool {
        let covers = |outing: usize| date.is_none_or(|date| self.outings[outing].covers(date));
        self.groups.iter().any(|group| group.outings().any(covers))
    }
}

impl Pairing<'_> {
    fn tracked(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.outings.len()).filter(|&outing| self.outings[outing].span.is_some())
    }

    fn zone(&self, outing: usize) -> Option<TimeZone> {
        let stated = self.options.zone.as_ref().map(|zone| zone.zone.clone());
        stated.or_else(|| self.outings[outing].local_zone())
    }

    fn overlap(&self, one: usize, other: usize) -> bool {
        let (one, other) = (self.outings[one].span, self.outings[other].span);
        one.zip(other).is_some_and(|(a, b)| a.start <= b.end && b.start <= a.end)
    }

    /// The local dates of an outing's first and last fix: in the zone of the place, and in the stated one
    /// where they differ.
    fn dates(&self, outing: usize) -> Option<(Date, Date)> {
        let span = self.outings[outing].span?;
        let of_place = self.outings[outing].local_zone();
        let zones = [of_place.unwrap_or(TimeZone::UTC), self.zone(outing).unwrap_or(TimeZone::UTC)];
        let date = |time: Timestamp, zone: &TimeZone| time.to_zoned_datetime(zone.clone()).date();
        let first = zones.iter().map(|zone| date(span.start, zone)).min()?;
        let last = zones.iter().map(|zone| date(span.end, zone)).max()?;
        Some((first, last))
    }

    /// Compares the tracks for each bundle, the largest first; where one collector's track is known, it
    /// is hardly another's.
    pub(super) fn decide(&mut self, bundles: &[Bundle]) -> Vec<Home> {
        let mut order: Vec<usize> = (0..bundles.len()).collect();
        order.sort_by_key(|&b| {
            (!bundles[b].lenders.is_empty(), std::cmp::Reverse(bundles[b].size()))
        });
        let mut homes: Vec<Home> = bundles.iter().map(|_| Home::Alone).collect();
        let mut known: BTreeMap<usize, usize> = BTreeMap::new();
        for again in [false, true] {
            for &index in &order {
                if again && !matches!(homes[index], Home::Open { .. }) {
                    continue;
                }
                let home = self.home(bundles, index, &known);
                if let Home::Outing(outing, _) = home {
                    known.insert(index, outing);
                }
                homes[index] = home;
            }
        }
        homes
    }

    fn home(&mut self, bundles: &[Bundle], index: usize, known: &BTreeMap<usize, usize>) -> Home {
        let bundle = &bundles[index];
        let candidates = self.candidates(bundle);
        if candidates.is_empty() || bundle.size() == 0 {
            return Home::Alone;
        }
        let outings = self.outings;
        for &outing in &candidates {
            self.ways.entry(outing).or_insert_with(|| track_of(&outings[outing].runs()));
        }
        let apart = self.apart(bundles, index, &candidates);
        let views: Vec<TrackView> = candidates
            .iter()
            .filter_map(|&outing| self.view(outing, bundles, index, known, apart.is_some()))
            .collect();
        let material = Material {
            records: bundle.records.iter().map(|&k| &self.inputs.records[k].1).collect(),
            sessions: bundle.sessions.iter().map(Vec::as_slice).collect(),
            vouched: matches!(
                self.options.camera_clock,
                CameraClockOption::None | CameraClockOption::Ahead(_)
            ),
            apart,
        };
        let weighed = association::weigh(&material, &views);
        let misdated =
            if weighed.sure().is_some() { Vec::new() } else { material.misdated(&views) };
        if !misdated.is_empty() {
            // the notebook alone may tell the day
            let notes = material.without(&misdated);
            let weighed = association::weigh(&notes, &views);
            if weighed.sure().is_some() {
                let home = Self::reported(&weighed, &notes, &views, &candidates);
                self.misdated.insert(index, misdated);
                return home;
            }
        }
        Self::reported(&weighed, &material, &views, &candidates)
    }

    fn reported(
        weighed: &Weighed,
        material: &Material,
        views: &[TrackView],
        candidates: &[usize],
    ) -> Home {
        let report = || weighed.report(material, views);
        match weighed.sure() {
            Some(best) => {
                let reserved = weighed.reservation(best, material, views).is_some();
                Home::Outing(candidates[best], reserved.then(report))
            }
            None => Home::Open {
                report: report(),
                nearest: weighed.best().map(|best| candidates[best]),
            },
        }
    }

    /// The outings whose tracks may be a bundle's: of its dates, near them or a slip away, those that
    /// its photographs lie nearest to, and the only one there is.
    fn candidates(&self, bundle: &Bundle) -> Vec<usize> {
        // which day it was is written and not known: nothing else but photographs may tell it
        if bundle.date_unread && bundle.sessions.is_empty() {
            return Vec::new();
        }
        let mut dates: BTreeSet<Date> = bundle.date.into_iter().collect();
        let mut found: BTreeSet<usize> = BTreeSet::new();
        for session in &bundle.sessions {
            dates.extend(session.iter().filter_map(|photo| Some(photo.taken?.date())));
            if let Some(outing) = self.with_track.nearest(session) {
                found.extend(self.party_of(outing));
            }
            for time in session.iter().filter_map(|photo| photo.gps.time) {
                let near = |&o: &usize| self.outings[o].span.is_some_and(|span| span.near(time));
                found.extend(self.tracked().filter(near));
            }
        }
        for outing in self.tracked() {
            let Some((first, last)) = self.dates(outing) else { continue };
            let near = |date: &Date| {
                (first <= *date && *date <= last)
                    || association::may_be_slip(*date, first)
                    || association::may_be_slip(*date, last)
            };
            if dates.is_empty() || dates.iter().any(near) {
                found.insert(outing);
            }
        }
        if found.is_empty() {
            let mut all = self.tracked();
            if let Some(first) = all.next() {
                let group = self.outings[first].group;
                if all.all(|other| self.outings[other].group == group) {
                    found.extend(self.party_of(first));
                }
            }
        }
        let mut found: Vec<usize> = found.into_iter().collect();
        let away = |outing: &usize| {
            let (Some(date), Some((first, _))) = (dates.first(), self.dates(*outing)) else {
                return 0;
            };
            first.until(*date).map_or(i32::MAX, |span| span.get_days().abs())
        };
        found.sort_by_key(|outing| (away(outing), *outing));
        found.truncate(MOST);
        found
    }

    /// Everybody who was out together with an outing.
    fn party_of(&self, outing: usize) -> Vec<usize> {
        match group_of(self.groups, outing) {
            Some(group) => group.outings().collect(),
            None => vec![outing],
        }
    }

    fn view(
        &self,
        outing: usize,
        bundles: &[Bundle],
        index: usize,
        known: &BTreeMap<usize, usize>,
        shared: bool,
    ) -> Option<TrackView<'_>> {
        let draft = &self.outings[outing];
        let span = draft.span?;
        let mut files: Vec<usize> = draft.pieces.iter().map(|piece| piece.file).collect();
        files.dedup();
        Some(TrackView {
            files: files.iter().map(|&file| self.inputs.files[file].name()).collect(),
            dates: self.dates(outing)?,
            span: (span.start, span.end),
            zone: self.zone(outing).unwrap_or(TimeZone::UTC),
            estimated_track: self.ways.get(&outing)?,
            own_name: self.holds_name_of(&files, &bundles[index]),
            ties: self.ties(outing, bundles, index, known, shared),
        })
    }

    /// Whether the name of one of these files, or of its folder, holds that of a bundle's collector.
    fn holds_name_of(&self, files: &[usize], bundle: &Bundle) -> bool {
        let collector = bundle.collector.as_ref().or(self.options.collector.as_ref());
        collector.is_some_and(|collector| {
            files.iter().any(|&file| names_file(collector, &self.inputs.files[file].path))
        })
    }

    /// The log Bayes factor of another person's name in the name of every file of a track.
    fn another_name(&self, outing: usize, bundle: &Bundle) -> f64 {
        let collector = bundle.collector.as_deref().or(self.options.collector.as_deref());
        let Some(collector) = collector else { return 0.0 };
        let others =
            self.inputs.records.iter().filter_map(|(_, record)| record.collector.as_deref());
        let others: BTreeSet<&str> =
            others.filter(|other| !sharing::same_party(collector, other)).collect();
        let others: Vec<&str> = others.into_iter().collect();
        let of_file = |piece: &super::Piece| {
            let file = &self.inputs.files[piece.file];
            let beside = file.folder().is_some_and(|folder| self.lies_in(bundle, folder));
            another_named(collector, &file.path, &others, beside)
        };
        let pieces = &self.outings[outing].pieces;
        let named = pieces.iter().map(|piece| of_file(piece).unwrap_or(0.0));
        let named = named.fold(1.0, f64::min);
        (named * ANOTHER_NAMED.0 / ANOTHER_NAMED.1 + 1.0 - named).ln()
    }

    /// Whether the records of a bundle, or without them its photographs, lie in a folder.
    fn lies_in(&self, bundle: &Bundle, folder: &std::path::Path) -> bool {
        let photo = || bundle.sessions.iter().flatten().next().map(|photo| &photo.source.path);
        let path = bundle.file.map(|file| &self.inputs.files[file].path).or_else(photo);
        path.is_some_and(|path| path.starts_with(folder))
    }

    /// The prior probability that the bundle's collector walked apart from the only track of its day.
    fn apart(&self, bundles: &[Bundle], index: usize, candidates: &[usize]) -> Option<f64> {
        let of_that_day = |outing: &&usize| {
            bundles[index].date.is_none_or(|date| self.outings[**outing].covers(date))
        };
        let mut tracks = candidates.iter().filter(of_that_day);
        let (first, None) = (tracks.next()?, tracks.next()) else { return None };
        sharing::apart(self.inputs, bundles, index, &self.shared(*first)?)
    }

    fn shared(&self, outing: usize) -> Option<Shared> {
        let draft = &self.outings[outing];
        let span = draft.span?;
        let mut spans: BTreeMap<usize, Span> = BTreeMap::new();
        for piece in &draft.pieces {
            if let Some(span) = piece.span() {
                let whole = spans.entry(piece.file).or_insert(span);
                *whole = whole.with(span);
            }
        }
        let beside = |one: &Span| spans.values().filter(|other| one.shared(other) > 0.0).count();
        Some(Shared {
            zone: self.zone(outing).unwrap_or(TimeZone::UTC),
            date: self.dates(outing)?.0,
            span: (span.start, span.end),
            receivers: spans.values().map(beside).max().unwrap_or(1).max(1),
            files: spans.into_keys().collect(),
        })
    }

    /// What folders, names and companions say of a track.
    fn ties(
        &self,
        outing: usize,
        bundles: &[Bundle],
        index: usize,
        known: &BTreeMap<usize, usize>,
        shared: bool,
    ) -> Vec<AssociationEvidence> {
        let bundle = &bundles[index];
        let mut ties = Vec::new();
        let mut tie = |kind: EvidenceKind, log_factor: f64, count: usize| {
            if count > 0 {
                ties.push(AssociationEvidence { kind, log_factor, count });
            }
        };
        if let Some(group) = group_of(self.groups, outing) {
            let here = |found: Option<usize>| usize::from(found == Some(outing));
            tie(EvidenceKind::Folder, FOLDER, here(self.by_folder(group, bundle)));
            let by_name = bundle.collector.as_deref().and_then(|name| group.by_collector(name));
            tie(EvidenceKind::Collector, COLLECTOR, here(by_name));
            let waypoints = bundle.records.iter().filter_map(|&record| {
                group.by_waypoint(self.inputs, &self.inputs.records[record].1)
            });
            tie(EvidenceKind::Waypoints, WAYPOINTS, here(majority(waypoints)));
        }
        if shared && let Some(track) = self.shared(outing) {
            ties.extend(sharing::companions(self.inputs, bundles, index, &track));
            let named = self.waypoints_in(&track.files, bundle);
            let log_factor = if named >= 2 { WAYPOINTS } else { 0.0 };
            ties.push(AssociationEvidence {
                kind: EvidenceKind::Waypoints,
                log_factor,
                count: named,
            });
        }
        let mut tie = |kind: EvidenceKind, log_factor: f64, count: usize| {
            if count > 0 {
                ties.push(AssociationEvidence { kind, log_factor, count });
            }
        };
        let another = if shared { 0.0 } else { self.another_name(outing, bundle) };
        tie(EvidenceKind::AnotherName, another, usize::from(another < -0.05));
        let lent = bundle.lenders.iter().filter(|lender| known.get(lender) == Some(&outing));
        let lent = lent.count();
        tie(EvidenceKind::Company, COMPANY * lent.min(2) as f64, lent);
        let companion = |other: &usize| {
            let other = &bundles[*other];
            bundle.date.is_none()
                && !bundle.date_unread
                && bundle.file.is_some()
                && other.file == bundle.file
                && other.collector == bundle.collector
        };
        let companions = known.iter().filter(|(b, o)| **o == outing && companion(b)).count();
        tie(EvidenceKind::Company, SAME_FILE, companions);
        let camera = |b: &Bundle| b.sessions.first().and_then(|s| Some(s.first()?.camera.clone()));
        let same_camera = known.iter().filter(|(other, home)| {
            bundle.records.is_empty()
                && **home == outing
                && **other != index
                && camera(&bundles[**other]).is_some_and(|own| Some(own) == camera(bundle))
        });
        tie(EvidenceKind::Company, SAME_FILE, same_camera.count());
        let strangers = known.iter().filter(|(other, home)| {
            // people who share the only track were out together
            let shared = group_of(self.groups, outing).is_none();
            let theirs = &bundles[**other].collector;
            !shared
                && **home == outing
                && **other != index
                && matches!((theirs, &bundle.collector), (Some(a), Some(b)) if !same_person(a, b))
        });
        tie(EvidenceKind::OtherOwner, OTHER_OWNER, strangers.count());
        ties
    }

    /// How many records name a waypoint of these files.
    fn waypoints_in(&self, files: &[usize], bundle: &Bundle) -> usize {
        let named = |&&record: &&usize| {
            let name = self.inputs.records[record].1.waypoint.as_deref().map(str::trim);
            let of_file = |(file, other): &(usize, Option<String>)| {
                files.contains(file) && other.as_deref().map(str::trim) == name
            };
            name.is_some_and(|name| !name.is_empty()) && self.inputs.waypoints.iter().any(of_file)
        };
        bundle.records.iter().filter(named).count()
    }

    fn by_folder(&self, group: &Group, bundle: &Bundle) -> Option<usize> {
        let file = bundle.file.and_then(|file| group.by_folder(&self.inputs.files[file].path));
        let photos = || {
            let photos = bundle.sessions.iter().flatten();
            majority(photos.filter_map(|photo| group.by_folder(&photo.source.path)))
        };
        file.or_else(photos)
    }
}
