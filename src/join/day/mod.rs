//! Computes one outing from its inputs: estimated track, camera clocks, finds, conflicts and notes, in this
//! order. Layer: `join`.

mod attempt;
mod cameras;
mod claims;
mod coordinates_apart;
mod direct_evidence;
mod finds;
mod named_waypoints;
mod photo_track;
mod set_between;
mod stale_positions;
mod undated_waypoints;
mod waypoint_doubt;
mod waypoint_plausibility;
mod written_moments;

use std::collections::BTreeMap;

use jiff::civil::Date;
use uuid::Uuid;

use crate::error::Error;
use crate::model::{
    Anchor, AnchorKind, Association, AssociationKind, ClockMethod, Day, Find, Outing, Record,
    TrackPoint, Verdict, ZoneSource,
};
use crate::units::{ClockOffset, LatLon, Seconds, Timestamp};

use super::clean::Run;
use super::estimated_track::EstimatedTrack;
use super::moment::Origin;
use super::note::Numbers;
use super::notebook_clock::NotebookClock;
use super::outings::{Filed, Gathered};
use super::written::{self, Read};
use super::{Options, association, conflict, note, repeated_hour};

pub(crate) use cameras::{SetCamera, of_another_day, reading};
pub(crate) use claims::{Claims, PhotoIndex};
pub(crate) use coordinates_apart::{Apart, common as common_place};
pub(crate) use photo_track::PhotoTrack;

/// A time this long before or after the track is still of the outing, seconds (project choice).
const BEYOND: f64 = 3.0 * 3_600.0;

/// The data of an outing that its finds use.
pub(crate) struct Scene<'a> {
    pub(crate) gathered: &'a Gathered,
    pub(crate) options: &'a Options,
    pub(crate) estimated_track: &'a EstimatedTrack,
    pub(crate) track: &'a [TrackPoint],
    pub(crate) claims: &'a Claims,
    pub(crate) date: Date,
    pub(crate) span: Option<(Timestamp, Timestamp)>,
    pub(crate) collector: Option<&'a str>,
    /// The positions of photographs, for times that the track does not cover.
    pub(crate) photo_track: Option<&'a PhotoTrack>,
}

impl<'a> Scene<'a> {
    /// The instant of a record's written time.
    pub(crate) fn written(&self, filed: &Filed) -> Option<Read> {
        let of = (&filed.record, filed.occurrence);
        written::instant_of(of, self.date, &self.gathered.zone.zone, self.span)
    }

    /// Whether an instant is of this outing, for a record of its own date: within the track and some hours of it, or
    /// of one of the two dates. One of the day before or after is of another outing.
    pub(crate) fn is_of_the_outing(&self, record: &Record, time: Timestamp) -> bool {
        let date = time.to_zoned_datetime(self.gathered.zone.zone.clone()).date();
        let near = |(start, end)| {
            Seconds::between(start, time).0 >= -BEYOND && Seconds::between(time, end).0 >= -BEYOND
        };
        self.span.is_some_and(near) || date == self.date || record.date == Some(date)
    }

    fn of(
        gathered: &'a Gathered,
        options: &'a Options,
        estimated_track: &'a EstimatedTrack,
        track: &'a [TrackPoint],
        claims: &'a Claims,
        collector: Option<&'a str>,
    ) -> Self {
        let span = estimated_track.span();
        let date = date(gathered, span);
        Self {
            gathered,
            options,
            estimated_track,
            track,
            claims,
            date,
            span,
            collector,
            photo_track: None,
        }
    }
}

/// An outing whose clock offsets are estimated from itself, before other days are used.
pub(crate) struct PartialDay {
    gathered: Gathered,
    estimated_track: EstimatedTrack,
    claims: Claims,
    pub(crate) cameras: Vec<SetCamera>,
}

/// Computes one outing up to its camera clocks: offsets are estimated from the track, and again if the
/// track changes with the receiver error shown at photographs.
pub(super) fn begin(mut gathered: Gathered, options: &Options) -> PartialDay {
    gathered.photos.sort_by_key(|photo| (photo.taken, photo.name()));
    let known = gathered.estimated_track.take();
    let mut estimated_track = known
        .unwrap_or_else(|| EstimatedTrack::of(&gathered.runs, origin(&gathered), about(&gathered)));
    estimated_track.add_strays(&gathered.strays, gathered.runs.len());
    if let Some(disagreement) = &gathered.disagreement {
        estimated_track.disagrees_by(disagreement.distance);
    }
    let span = estimated_track.span();
    let date = date(&gathered, span);
    repeated_hour::note(&mut gathered.records, date, &gathered.zone.zone, span);
    let claims = Claims::of(&gathered, date);
    let set = |estimated_track: &EstimatedTrack| {
        let scene = Scene::of(&gathered, options, estimated_track, &[], &claims, None);
        let cameras = cameras::set(&scene);
        let intervals = cameras::intervals(&scene, &cameras);
        (cameras, intervals)
    };
    let (mut cameras, intervals) = set(&estimated_track);
    if !intervals.is_empty() && estimated_track.update(&intervals) {
        cameras = set(&estimated_track).0;
    }
    PartialDay { gathered, estimated_track, claims, cameras }
}

impl PartialDay {
    /// From the first to the last kept fix.
    pub(crate) fn span(&self) -> Option<(Timestamp, Timestamp)> {
        self.estimated_track.span()
    }

    /// Its records, who collected where they do not say, and its date.
    pub(crate) fn records(&self) -> impl Iterator<Item = (&Record, Option<&str>, Date)> {
        let date = date(&self.gathered, self.estimated_track.span());
        let collector = most_named(&self.gathered);
        self.gathered.records.iter().map(move |filed| (&filed.record, collector, date))
    }

    /// Computes the rest: the track smoothed with stops at photographs, finds, conflicts.
    pub(super) fn finish(self, options: &Options, numbers: &Numbers) -> Day {
        let Self { gathered, mut estimated_track, claims, cameras } = self;
        let observed_by_photos = {
            let scene = Scene::of(&gathered, options, &estimated_track, &[], &claims, None);
            let pictured = cameras::intervals(&scene, &cameras);
            with_waypoint_intervals(pictured, &waypoint_times(&gathered, &claims, &estimated_track))
        };
        if !observed_by_photos.is_empty() {
            estimated_track.settle(&observed_by_photos);
        }
        joined(gathered, estimated_track, &claims, cameras, options, numbers)
    }
}

/// When the waypoints of finds were marked, seconds since the day's origin.
fn waypoint_times(
    gathered: &Gathered,
    claims: &Claims,
    estimated_track: &EstimatedTrack,
) -> Vec<f64> {
    let marked = claims.waypoint.iter().flatten();
    let times = marked.filter_map(|&index| gathered.waypoints[index].fix.time);
    let mut times: Vec<f64> = times.map(|time| estimated_track.origin.seconds(time)).collect();
    times.sort_by(f64::total_cmp);
    times
}

/// The intervals that photographs show, and those about waypoints that none does: the collector marks a find
/// while stationary.
fn with_waypoint_intervals(mut intervals: Vec<(f64, f64)>, marked: &[f64]) -> Vec<(f64, f64)> {
    /// Half of the time that a waypoint shows, seconds (common practice).
    const HALF: f64 = 20.0;
    for &time in marked {
        let interval = (time - HALF, time + HALF);
        if intervals.iter().all(|other| other.1 < interval.0 || interval.1 < other.0) {
            intervals.push(interval);
        }
    }
    intervals.sort_by(|a, b| a.0.total_cmp(&b.0));
    intervals
}

fn joined(
    gathered: Gathered,
    estimated_track: EstimatedTrack,
    claims: &Claims,
    cameras: Vec<SetCamera>,
    options: &Options,
    numbers: &Numbers,
) -> Day {
    let collector = collector(&gathered, options);
    let track = estimated_track.track();
    let mut scene =
        Scene::of(&gathered, options, &estimated_track, &track, claims, collector.as_deref());
    let photo_track = PhotoTrack::of(&scene, &cameras);
    scene.photo_track = photo_track.as_ref();
    let photos = cameras::place(&scene, &cameras);
    let notebook = NotebookClock::of(&scene, &cameras);
    let (finds, mut conflicts) = finds::locate(&scene, &cameras, &notebook);
    let photo_groups = finds::photo_groups(&scene, &cameras);
    conflicts.extend(conflict::find(&scene, &finds, &photos));
    conflict::order(&mut conflicts);
    let remarks = note::make(&scene, &finds, &photos, &cameras, numbers, notebook.offset.is_some());
    let (start, end) = ends(&scene, &photos, &finds);
    let mut set_aside = gathered.set_aside.clone();
    set_aside.extend(notebook.report().map(Error::from));
    set_aside.extend((scene.date == Outing::UNDATED).then(|| note::undated(&gathered)));
    let outing = Outing {
        id: outing_id(&gathered, collector.as_deref(), scene.date),
        date: scene.date,
        start,
        end,
        zone: gathered.zone.clone(),
        collector,
    };
    let stops = estimated_track.stops();
    let associations = worth_reporting(gathered.associations, &finds, &cameras);
    Day {
        outing,
        stops,
        cameras: cameras.into_iter().map(|camera| camera.clock).collect(),
        photos,
        finds,
        photo_groups,
        associations,
        conflicts,
        remarks: gathered.remarks.into_iter().chain(remarks).collect(),
        set_aside,
        sources: gathered.sources,
        fixes: estimated_track.fixes,
        track,
    }
}

/// The reports, given what the finds and the cameras show of them.
fn worth_reporting(
    associations: Vec<Association>,
    finds: &[Find],
    cameras: &[SetCamera],
) -> Vec<Association> {
    use AnchorKind::{PhotoTime, WrittenTime};
    let on_track = |anchor: &Anchor| anchor.used && matches!(anchor.kind, PhotoTime | WrittenTime);
    let placed = finds.iter().any(|find| find.place.is_ok() && find.anchors.iter().any(on_track));
    let declined = |camera: &SetCamera| camera.clock.method == ClockMethod::Declined;
    let nothing = !finds.is_empty() && finds.iter().all(|find| find.place.is_err());
    retained(associations, placed, nothing && cameras.iter().any(declined))
}

/// Without reports on tracks that place no find by its time, or are shown to be theirs; where no offset of a camera is
/// known and nothing is placed (`unmatched`), this is what is reported.
fn retained(mut associations: Vec<Association>, placed: bool, unmatched: bool) -> Vec<Association> {
    let of_photographs =
        |one: &Association| one.kind == AssociationKind::ByDateOnly && one.photographs > 0;
    for one in associations.iter_mut().filter(|one| unmatched && of_photographs(one)) {
        one.kind = AssociationKind::PhotographsUnmatched;
    }
    let shown = |one: &Association| {
        one.tracks.first().is_some_and(|track| association::shows_whose(&track.evidence))
    };
    let open = |one: &Association| {
        matches!(one.kind, AssociationKind::ByDateOnly | AssociationKind::Undated)
    };
    associations.retain(|one| !open(one) || placed && !shown(one));
    associations
}

fn collector(gathered: &Gathered, options: &Options) -> Option<String> {
    most_named(gathered).map(str::to_owned).or_else(|| options.collector.clone())
}

/// The collector whom most records name.
fn most_named(gathered: &Gathered) -> Option<&str> {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for name in gathered.records.iter().filter_map(|filed| filed.record.collector.as_deref()) {
        *counts.entry(name).or_default() += 1;
    }
    let most = counts.into_iter().max_by_key(|&(name, count)| (count, std::cmp::Reverse(name)));
    most.map(|(name, _)| name)
}

/// The track of the runs of an outing, before anything else of it is known.
pub(crate) fn track_of(runs: &[Run]) -> EstimatedTrack {
    let first = runs.iter().flat_map(|run| &run.fixes).filter_map(|fix| fix.time).min();
    let longest = runs.iter().max_by_key(|run| run.fixes.len());
    let middle = longest.and_then(|run| Some(run.fixes.get(run.fixes.len() / 2)?.at));
    let about = middle.unwrap_or_else(|| LatLon::clamped(0.0, 0.0));
    EstimatedTrack::of(runs, Origin(first.unwrap_or(Timestamp::UNIX_EPOCH)), about)
}

/// The first instant that anything names.
fn origin(gathered: &Gathered) -> Origin {
    let fixes = gathered.runs.iter().flat_map(|run| &run.fixes).filter_map(|fix| fix.time);
    let points = gathered.waypoints.iter().filter_map(|point| point.fix.time);
    let photos = gathered.photos.iter().filter_map(|p| Some(ClockOffset::as_if_utc(p.taken?)));
    let first = fixes.min().or_else(|| points.min()).or_else(|| photos.min());
    // without any time nothing is counted from it
    Origin(first.unwrap_or_default())
}

/// The middle of the longest run, else whatever has a place.
fn about(gathered: &Gathered) -> LatLon {
    let longest = gathered.runs.iter().max_by_key(|run| run.fixes.len());
    let run = longest.and_then(|run| Some(run.fixes.get(run.fixes.len() / 2)?.at));
    let waypoint = || gathered.waypoints.first().map(|point| point.fix.at);
    let photo = || gathered.photos.iter().find_map(|photo| photo.gps.at);
    let record = || {
        let first = || {
            gathered.records.iter().find_map(|filed| {
                let written = filed.record.coordinates.as_ref()?;
                written.readings.first().or(written.slips.first()).map(|reading| reading.at)
            })
        };
        common_place(gathered.records.iter().map(|filed| &filed.record)).or_else(first)
    };
    run.or_else(waypoint)
        .or_else(photo)
        .or_else(record)
        .unwrap_or_else(|| LatLon::clamped(0.0, 0.0))
}

/// The local date on which it began, [`Outing::UNDATED`] where nothing has one.
fn date(gathered: &Gathered, span: Option<(Timestamp, Timestamp)>) -> Date {
    let local = |time: Timestamp| time.to_zoned_datetime(gathered.zone.zone.clone()).date();
    let photo = || gathered.photos.iter().find_map(|photo| Some(photo.taken?.date()));
    let record = || gathered.records.iter().find_map(|filed| filed.record.date);
    let unread = gathered.records.iter().any(|filed| filed.record.has_unread_date());
    let waypoints = if unread { &[] } else { &gathered.waypoints[..] };
    let fix = || waypoints.iter().find_map(|point| Some(local(point.fix.time?)));
    // an instant is of a local date only where the zone is known
    let zoned = gathered.zone.source != ZoneSource::Assumed;
    let gps = || gathered.photos.iter().find_map(|photo| Some(local(photo.gps.time?)));
    span.map(|(start, _)| local(start))
        .or_else(record)
        .or_else(photo)
        .or_else(fix)
        .or_else(|| gps().filter(|_| zoned))
        .unwrap_or(Outing::UNDATED)
}

/// The first and the last instant of track, photographs and finds.
fn ends(
    scene: &Scene,
    photos: &[crate::model::PlacedPhoto],
    finds: &[crate::model::Find],
) -> (Option<Timestamp>, Option<Timestamp>) {
    if let Some((start, end)) = scene.span {
        return (Some(start), Some(end));
    }
    let times = || {
        let photos = photos.iter().filter_map(|photo| photo.when);
        photos.chain(finds.iter().filter_map(|find| Some(find.when?.0)))
    };
    (times().min(), times().max())
}

/// The same for the same collector and first track (or, without one, date), whatever is added.
fn outing_id(gathered: &Gathered, collector: Option<&str>, date: Date) -> Uuid {
    let track = gathered.runs.first().map(|run| &gathered.sources[usize::from(run.source)].hash);
    let seed = format!(
        "outing\n{}\n{}\n{date}",
        collector.unwrap_or_default(),
        track.map_or("", String::as_str)
    );
    Uuid::new_v5(&Uuid::NAMESPACE_OID, seed.as_bytes())
}

/// How many fixes were kept.
pub(crate) fn kept(estimated_track: &EstimatedTrack) -> usize {
    estimated_track.fixes.iter().filter(|fix| fix.verdict == Verdict::Kept).count()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{AssociationEvidence, EvidenceKind, TrackCandidate};

    fn by_date(stops: f64) -> Vec<Association> {
        let evidence =
            AssociationEvidence { kind: EvidenceKind::Stops, log_factor: stops, count: 20 };
        let date = jiff::civil::date(2026, 10, 17);
        vec![Association {
            kind: AssociationKind::ByDateOnly,
            records: 18,
            photographs: 59,
            collector: None,
            written_dates: vec![date],
            camera_dates: vec![date],
            gps_dates: Vec::new(),
            tracks: vec![TrackCandidate {
                files: vec!["walk.gpx".into()],
                first_date: date,
                last_date: date,
                probability: 0.997,
                evidence: vec![evidence],
            }],
            none: 0.003,
        }]
    }

    #[test]
    fn photographs_that_no_offset_joins_with_the_only_track_are_an_error() {
        for stops in [-0.7, 3.0] {
            let reported = retained(by_date(stops), false, true);
            assert_eq!(reported[0].kind, AssociationKind::PhotographsUnmatched);
            assert!(reported[0].is_refusal());
        }
        let placed = |stops: f64| retained(by_date(stops), true, false);
        assert_eq!(placed(-0.7)[0].kind, AssociationKind::ByDateOnly);
        assert!(placed(3.0).is_empty());
        assert!(retained(by_date(-0.7), false, false).is_empty());
    }
}
