//! One outing from what was gathered to what is kept: the order in which the questions are asked.
//! Layer: `join`.

mod cameras;
mod claims;
mod finds;
mod set_between;
mod testimony;

use std::collections::BTreeMap;

use jiff::civil::Date;
use uuid::Uuid;

use crate::model::{Day, Outing, TrackPoint, Verdict};
use crate::units::{ClockOffset, LatLon, Timestamp};

use super::clean::Run;
use super::moment::Origin;
use super::outings::Gathered;
use super::way::Way;
use super::{Options, conflict, remark};

pub(crate) use cameras::{SetCamera, of_another_day, reading};
pub(crate) use claims::{Claims, Shelf};

/// The outing as far as its finds need it.
pub(crate) struct Scene<'a> {
    pub(crate) gathered: &'a Gathered,
    pub(crate) options: &'a Options,
    pub(crate) way: &'a Way,
    pub(crate) track: &'a [TrackPoint],
    pub(crate) claims: &'a Claims,
    pub(crate) date: Date,
    pub(crate) span: Option<(Timestamp, Timestamp)>,
    pub(crate) collector: Option<&'a str>,
}

impl<'a> Scene<'a> {
    fn of(
        gathered: &'a Gathered,
        options: &'a Options,
        way: &'a Way,
        track: &'a [TrackPoint],
        claims: &'a Claims,
        collector: Option<&'a str>,
    ) -> Self {
        let span = way.span();
        let date = date(gathered, span);
        Self { gathered, options, way, track, claims, date, span, collector }
    }
}

/// An outing whose clocks are set from itself; other days may have more to say of them.
pub(crate) struct Begun {
    gathered: Gathered,
    way: Way,
    claims: Claims,
    pub(crate) cameras: Vec<SetCamera>,
}

/// Joins one outing as far as its cameras: they are set against the way, then once more where the way is
/// told anew with what their pictures witness of the receiver.
pub(super) fn begin(mut gathered: Gathered, options: &Options) -> Begun {
    gathered.photos.sort_by_key(|photo| (photo.taken, photo.name()));
    let mut way = Way::of(&gathered.runs, origin(&gathered), about(&gathered));
    let claims = Claims::of(&gathered);
    let set = |way: &Way| {
        let scene = Scene::of(&gathered, options, way, &[], &claims, None);
        let cameras = cameras::set(&scene);
        let spells = cameras::spells(&scene, &cameras);
        (cameras, spells)
    };
    let (mut cameras, spells) = set(&way);
    if !spells.is_empty() && way.hear(&spells) {
        cameras = set(&way).0;
    }
    Begun { gathered, way, claims, cameras }
}

impl Begun {
    /// From the first to the last kept fix.
    pub(crate) fn span(&self) -> Option<(Timestamp, Timestamp)> {
        self.way.span()
    }

    /// Joins the rest: the way smoothed with what the pictures witness, finds, contradictions.
    pub(super) fn finish(self, options: &Options) -> Day {
        let Self { gathered, mut way, claims, cameras } = self;
        let witnessed = {
            let scene = Scene::of(&gathered, options, &way, &[], &claims, None);
            cameras::spells(&scene, &cameras)
        };
        if !witnessed.is_empty() {
            way.settle(&witnessed);
        }
        joined(gathered, way, &claims, cameras, options)
    }
}

fn joined(
    gathered: Gathered,
    way: Way,
    claims: &Claims,
    cameras: Vec<SetCamera>,
    options: &Options,
) -> Day {
    let collector = collector(&gathered, options);
    let track = way.track();
    let scene = Scene::of(&gathered, options, &way, &track, claims, collector.as_deref());
    let photos = cameras::place(&scene, &cameras);
    let (finds, mut conflicts) = finds::locate(&scene, &cameras);
    conflicts.extend(conflict::find(&scene, &finds, &photos));
    conflict::order(&mut conflicts);
    let remarks = remark::make(&scene, &finds, &photos, &cameras);
    let (start, end) = ends(&scene, &photos, &finds);
    let outing = Outing {
        id: outing_id(&gathered, collector.as_deref(), scene.date),
        date: scene.date,
        start,
        end,
        zone: gathered.zone.clone(),
        collector,
    };
    let stands = way.stands();
    Day {
        outing,
        stands,
        cameras: cameras.into_iter().map(|camera| camera.clock).collect(),
        photos,
        finds,
        associations: gathered.associations,
        conflicts,
        remarks: gathered.remarks.into_iter().chain(remarks).collect(),
        set_aside: gathered.set_aside,
        sources: gathered.sources,
        fixes: way.fixes,
        track,
    }
}

fn collector(gathered: &Gathered, options: &Options) -> Option<String> {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for name in gathered.records.iter().filter_map(|filed| filed.record.collector.as_deref()) {
        *counts.entry(name).or_default() += 1;
    }
    let most = counts.into_iter().max_by_key(|&(name, count)| (count, std::cmp::Reverse(name)));
    most.map(|(name, _)| name.to_owned()).or_else(|| options.collector.clone())
}

/// The way of the runs of an outing, before anything else of it is known.
pub(crate) fn way_of(runs: &[Run]) -> Way {
    let first = runs.iter().flat_map(|run| &run.fixes).filter_map(|fix| fix.time).min();
    let longest = runs.iter().max_by_key(|run| run.fixes.len());
    let middle = longest.and_then(|run| Some(run.fixes.get(run.fixes.len() / 2)?.at));
    let about = middle.unwrap_or_else(|| LatLon::clamped(0.0, 0.0));
    Way::of(runs, Origin(first.unwrap_or(Timestamp::UNIX_EPOCH)), about)
}

/// The first instant that anything names.
fn origin(gathered: &Gathered) -> Origin {
    let fixes = gathered.runs.iter().flat_map(|run| &run.fixes).filter_map(|fix| fix.time);
    let points = gathered.waypoints.iter().filter_map(|point| point.fix.time);
    let photos = gathered.photos.iter().filter_map(|p| Some(ClockOffset::as_if_utc(p.taken?)));
    let first = fixes.min().or_else(|| points.min()).or_else(|| photos.min());
    Origin(first.unwrap_or(Timestamp::UNIX_EPOCH))
}

/// The middle of the longest run, else whatever has a place.
fn about(gathered: &Gathered) -> LatLon {
    let longest = gathered.runs.iter().max_by_key(|run| run.fixes.len());
    let run = longest.and_then(|run| Some(run.fixes.get(run.fixes.len() / 2)?.at));
    let waypoint = || gathered.waypoints.first().map(|point| point.fix.at);
    let photo = || gathered.photos.iter().find_map(|photo| photo.gps.at);
    let record = || {
        gathered.records.iter().find_map(|filed| {
            let written = filed.record.coordinates.as_ref()?;
            written.readings.first().or(written.slips.first()).map(|reading| reading.at)
        })
    };
    run.or_else(waypoint)
        .or_else(photo)
        .or_else(record)
        .unwrap_or_else(|| LatLon::clamped(0.0, 0.0))
}

/// The local date on which it began.
fn date(gathered: &Gathered, span: Option<(Timestamp, Timestamp)>) -> Date {
    let local = |time: Timestamp| time.to_zoned_datetime(gathered.zone.zone.clone()).date();
    let photo = || gathered.photos.iter().find_map(|photo| Some(photo.taken?.date()));
    let record = || gathered.records.iter().find_map(|filed| filed.record.date);
    let fix = || gathered.waypoints.iter().find_map(|point| Some(local(point.fix.time?)));
    span.map(|(start, _)| local(start))
        .or_else(record)
        .or_else(photo)
        .or_else(fix)
        .unwrap_or(jiff::civil::date(1970, 1, 1))
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
pub(crate) fn kept(way: &Way) -> usize {
    way.fixes.iter().filter(|fix| fix.verdict == Verdict::Kept).count()
}
