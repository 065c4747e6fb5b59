//! Computes the position of each find of an outing from all anchors of its record, or the reason why there
//! is no position. Layer: `join`.

use std::collections::{HashMap, HashSet};

use uuid::Uuid;

use crate::error::Error;
use crate::model::{
    Anchor, AnchorKind, Association, Combination, Conflict, Find, FindReference, Located, PartKind,
    Photo, PhotoGroup, RadiusPart, Record, TrackPoint, Unlocated,
};
use crate::units::{GpsHeight, LatLon, Metres, Seconds, Timestamp};

use super::super::conflict;
use super::super::estimated_track::radius95;
use super::super::locate::{
    self, BEYOND, Decided, Draft, Moments, combine, decide, from_photo_position, from_reading,
    from_times, from_waypoint, stop,
};
use super::super::notebook_clock::{NotebookClock, Watch};
use super::super::outings::Filed;
use super::super::written::{self, Read};
use super::cameras::{SetCamera, reading};
use super::stale_positions::moved;
use super::undated_waypoints::{Standing, UndatedWaypoints};
use super::waypoint_doubt::Doubt;
use super::written_moments::{of_watch, written_moments, written_within};
use super::{PhotoTrack, Scene};

/// Photographs of one find farther apart in time than this are from different stops, seconds.
const ONE_PLACE: f64 = 150.0;

/// Locates every find; with the conflicts that this shows.
pub(super) fn locate(
    scene: &Scene,
    cameras: &[SetCamera],
    notebook: &NotebookClock,
) -> (Vec<Find>, Vec<Conflict>) {
    let whole = Whole { cameras, notebook, undated: UndatedWaypoints::of(scene) };
    let mut conflicts = Vec::new();
    let mut seen: HashMap<String, u32> = HashMap::new();
    let mut finds = Vec::with_capacity(scene.gathered.records.len());
    for index in 0..scene.gathered.records.len() {
        let attempt = Attempt::of(scene, &whole, index, &mut conflicts);
        let id = find_id(scene, &scene.gathered.records[index], &mut seen);
        finds.push(attempt.find(scene, id, &mut conflicts));
    }
    (finds, conflicts)
}

/// The groups of photographs that no record names, each with the position of a find in it.
pub(super) fn photo_groups(scene: &Scene, cameras: &[SetCamera]) -> Vec<PhotoGroup> {
    // a record of nothing: it stands for a find in the photographs
    let nothing = Filed { source: 0, record: Record::default() };
    let mut groups: Vec<PhotoGroup> = unclaimed(scene, cameras)
        .iter()
        .map(|photos| {
            let attempt = Attempt::of_photos(scene, cameras, &nothing, photos);
            let combined = combine(&attempt.drafts);
            let anchors = combined.as_ref().map_or_else(Vec::new, |combined| {
                let used = attempt.drafts.iter().zip(&combined.used).filter(|(_, used)| **used);
                used.map(|(draft, _)| draft.kind).collect()
            });
            let place = match &combined {
                Some(combined) => Ok(attempt.located(scene, combined)),
                None => Err(Unlocated(attempt.no_position(scene))),
            };
            PhotoGroup { photos: photos.clone(), when: attempt.when, anchors, place }
        })
        .collect();
    groups.sort_by_key(|group| (group.when.map(|when| when.0), group.photos.first().copied()));
    groups
}

/// The photographs that no record names, by camera and stop; one without a time is a group of its own.
fn unclaimed(scene: &Scene, cameras: &[SetCamera]) -> Vec<Vec<usize>> {
    let is_free = |photo: &usize| scene.claims.claimed[*photo].is_empty();
    let mut groups = Vec::new();
    let mut timed = HashSet::new();
    for camera in cameras {
        let mut shots: Vec<(f64, usize)> = camera
            .photos
            .iter()
            .copied()
            .filter(is_free)
            .filter_map(|photo| Some((reading(scene, photo)?, photo)))
            .collect();
        shots.sort_by(|a, b| a.0.total_cmp(&b.0));
        timed.extend(shots.iter().map(|shot| shot.1));
        let names = |group: Vec<(f64, usize)>| -> Vec<usize> {
            group.into_iter().map(|shot| shot.1).collect()
        };
        groups.extend(in_groups(&shots).into_iter().map(names));
    }
    let others = (0..scene.gathered.photos.len()).filter(is_free);
    groups.extend(others.filter(|photo| !timed.contains(photo)).map(|photo| vec![photo]));
    groups
}

/// Stable for the same collector, number and day; without a number, for the same line of the day's
/// records. A number used again that day is distinguished by its turn.
fn find_id(scene: &Scene, filed: &Filed, seen: &mut HashMap<String, u32>) -> Uuid {
    let key = match &filed.record.number {
        Some(number) => number.0.trim().to_lowercase(),
        None => filed.record.origin(),
    };
    let turn = seen.entry(key.clone()).or_default();
    *turn += 1;
    let collector = filed.record.collector.as_deref().or(scene.collector).unwrap_or_default();
    let date = filed.record.date.unwrap_or(scene.date);
    let seed = format!("find\n{collector}\n{date}\n{key}\n{turn}");
    Uuid::new_v5(&Uuid::NAMESPACE_OID, seed.as_bytes())
}

/// The data that all finds of a day share.
struct Whole<'a> {
    cameras: &'a [SetCamera],
    /// The clock of its notebook.
    notebook: &'a NotebookClock,
    undated: UndatedWaypoints,
}

/// A find before its anchors are combined.
struct Attempt<'a> {
    index: usize,
    filed: &'a Filed,
    /// Its photographs, in order of time.
    photos: &'a [usize],
    drafts: Vec<Draft>,
    when: Option<(Timestamp, Seconds)>,
    written: Option<Read>,
    /// The watch of that time, unless it states its own zone.
    watch: Option<&'a Watch>,
    /// The draft that the record states as measured and final.
    measured: Option<usize>,
    /// What the other finds show of its undated waypoint; one of another day counts as refuted.
    standing: Option<Standing>,
    /// Why named anchors could not be used.
    reasons: Vec<String>,
}

impl<'a> Attempt<'a> {
    fn of(
        scene: &Scene<'a>,
        whole: &Whole<'a>,
        index: usize,
        conflicts: &mut Vec<Conflict>,
    ) -> Self {
        let filed = &scene.gathered.records[index];
        let zone = &scene.gathered.zone.zone;
        let mut attempt = Self {
            written: written::instant(&filed.record, scene.date, zone, scene.span),
            ..Self::empty(index, filed, &scene.claims.photos[index])
        };
        let own_zone = filed.record.time_offset().is_some();
        if attempt.written.is_some() && !own_zone {
            if let Some(offset) = &whole.notebook.offset {
                attempt.written = None;
                attempt.reasons.push(offset.reason());
            }
            attempt.watch = Some(&whole.notebook.watch);
        }
        attempt.coordinates(scene, conflicts);
        attempt.waypoint(scene, conflicts, &whole.undated);
        attempt.photo_position(scene, whole.cameras);
        attempt.photo_times(scene, whole.cameras);
        attempt.written_time(scene);
        attempt.rank_waypoint();
        attempt.doubt_waypoint(scene, whole, conflicts);
        attempt
    }

    fn empty(index: usize, filed: &'a Filed, photos: &'a [usize]) -> Self {
        Self {
            index,
            filed,
            photos,
            drafts: Vec::new(),
            when: None,
            written: None,
            watch: None,
            measured: None,
            standing: None,
            reasons: Vec::new(),
        }
    }

    /// As of a find of which only the photographs are known.
    fn of_photos(
        scene: &Scene<'a>,
        cameras: &[SetCamera],
        filed: &'a Filed,
        photos: &'a [usize],
    ) -> Self {
        let mut attempt = Self::empty(0, filed, photos);
        attempt.photo_position(scene, cameras);
        attempt.photo_times(scene, cameras);
        attempt
    }

    fn record(&self) -> &'a Record {
        &self.filed.record
    }

    fn coordinates(&mut self, scene: &Scene, conflicts: &mut Vec<Conflict>) {
        let Some(written) = &self.record().coordinates else { return };
        let file = &scene.gathered.sources[self.filed.source];
        let Some(decided) = decide(written, scene.track) else { return };
        let reported = conflict::coordinates(self.index, self.record(), file, written, &decided);
        conflicts.extend(reported);
        match decided {
            Decided::Clear(reading) | Decided::Chosen { reading, .. } => {
                let has_track = !scene.track.is_empty();
                let (plane, receiver) =
                    (&scene.estimated_track.plane, &scene.estimated_track.receiver);
                self.measured = written.measured.then_some(self.drafts.len());
                self.drafts.push(from_reading(written, &reading, plane, receiver, has_track));
            }
            Decided::Refused(_) => self.reasons.push(format!(
                "its coordinates \"{}\" have more than one possible reading",
                written.verbatim
            )),
        }
    }

    fn waypoint(
        &mut self,
        scene: &Scene,
        conflicts: &mut Vec<Conflict>,
        undated: &UndatedWaypoints,
    ) {
        let Some(index) = scene.claims.waypoint[self.index] else {
            if let Some(name) = &self.record().waypoint {
                let alike = scene.claims.alike[self.index];
                self.reasons.push(if alike > 1 {
                    format!("{alike} waypoints that {name} can mean lie in different places")
                } else {
                    format!("none of the outing's waypoints is named {name}")
                });
            }
            return;
        };
        let waypoint = &scene.gathered.waypoints[index];
        let time = waypoint.fix.time.filter(|time| self.is_of_the_outing(scene, *time));
        self.standing = undated.standing(self.index);
        if time.is_none()
            && let Some(doubt) = Doubt::about(scene, self.record(), waypoint)
        {
            let file = &scene.gathered.sources[self.filed.source];
            conflicts.push(doubt.conflict(self.index, self.record(), file));
            if !doubt.stands {
                self.reasons.push(doubt.reason());
                self.standing = None;
                return;
            }
            self.standing = Some(Standing::Refuted);
        }
        let when = time.map(|time| scene.estimated_track.origin.seconds(time));
        self.drafts.push(from_waypoint(
            waypoint,
            &scene.estimated_track.plane,
            &scene.estimated_track.receiver,
            !scene.track.is_empty(),
            when,
            scene.options.stand_off,
        ));
        self.when = time.map(|time| (time, Seconds(30.0)));
    }

    /// Whether a waypoint was marked on this outing; one of another day gives the place, not the time.
    fn is_of_the_outing(&self, scene: &Scene, time: Timestamp) -> bool {
        let date = time.to_zoned_datetime(scene.gathered.zone.zone.clone()).date();
        let near =
            |day: jiff::civil::Date| day.until(date).is_ok_and(|span| span.get_days().abs() <= 1);
        let within = scene.span.is_some_and(|(start, end)| (start..=end).contains(&time));
        within || near(scene.date) || self.record().date.is_some_and(near)
    }

    /// The best known position in its photographs.
    fn photo_position(&mut self, scene: &Scene, cameras: &[SetCamera]) {
        let best = self
            .photos
            .iter()
            .filter_map(|&index| {
                let photo = &scene.gathered.photos[index];
                Some((photo, photo.gps.at?, moved(scene, cameras, index)))
            })
            .min_by(|a, b| {
                let error = |(photo, _, moved): &(&Photo, LatLon, Option<f64>)| {
                    photo.gps.error.map_or(30.0, |error| error.0) + moved.unwrap_or(0.0)
                };
                error(a).total_cmp(&error(b))
            });
        if let Some((photo, at, moved)) = best {
            let when = photo.gps.time.map(|time| scene.estimated_track.origin.seconds(time));
            let stand_off = scene.options.stand_off;
            let plane = &scene.estimated_track.plane;
            let name = photo.name();
            let draft = from_photo_position(&photo.gps, at, plane, when, stand_off, &name);
            self.drafts.push(match moved {
                Some(metres) => draft.since_moved(Metres(metres)),
                None => draft,
            });
        }
    }

    fn photo_times(&mut self, scene: &Scene, cameras: &[SetCamera]) {
        for camera in cameras {
            let mut shots: Vec<(f64, usize)> = self
                .photos
                .iter()
                .filter(|photo| camera.photos.contains(photo))
                .filter_map(|&photo| Some((reading(scene, photo)?, photo)))
                .collect();
            shots.sort_by(|a, b| a.0.total_cmp(&b.0));
            let mut groups = in_groups(&shots);
            // the group with most photographs comes first
            groups.sort_by_key(|group| std::cmp::Reverse(group.len()));
            for group in groups.iter().take(3) {
                self.photo_group(scene, camera, group);
            }
        }
    }

    fn photo_group(&mut self, scene: &Scene, camera: &SetCamera, group: &[(f64, usize)]) {
        let (first, last) = (group[0].0, group[group.len() - 1].0);
        let names = group_names(scene, group);
        let Some(offset) = camera.offset() else {
            self.reasons
                .push(format!("{names}: the clock offset of {} is unknown", camera.clock.camera));
            return;
        };
        let moments: Moments =
            camera.nodes.iter().map(|&(o, weight)| (first - o, last - o, weight)).collect();
        let middle = scene.estimated_track.origin.instant(f64::midpoint(first, last) - offset);
        let half = Seconds(2.0 * camera.spread(offset) + 0.5 * (last - first) + 1.0);
        if self.drafts.iter().all(|draft| draft.kind != AnchorKind::PhotoTime) {
            self.when = Some((middle, half));
        }
        let basis = format!("{names}, {}", clock_words(middle));
        let track_model = scene.estimated_track.track_model();
        let stand_off = scene.options.stand_off;
        let kind = AnchorKind::PhotoTime;
        let on_track =
            from_times(track_model, kind, &moments, PartKind::Clock, stand_off, basis.clone());
        match on_track
            .or_else(|| self.between_photos(scene, kind, &moments, PartKind::Clock, &basis))
        {
            Some(draft) => self.drafts.push(draft),
            None => self
                .reasons
                .push(off_track(scene, &format!("{names}, {}", local_words(scene, middle)))),
        }
    }

    fn written_time(&mut self, scene: &Scene) {
        let Some(read) = self.written else { return };
        let watch = self.watch.filter(|_| read.step.0 > 1.0);
        let (ahead, open) = watch.map_or((Seconds(0.0), Seconds(0.0)), Watch::ahead);
        let instant = Seconds(-ahead.0).after(read.instant);
        self.when.get_or_insert((instant, Seconds(written_within(read.step).0.max(open.0))));
        let seconds = scene.estimated_track.origin.seconds(read.instant);
        let moments = match watch {
            Some(watch) => of_watch(scene, seconds, read.step.0, watch),
            None => written_moments(scene, seconds, read.step.0),
        };
        let clock =
            watch.and_then(Watch::words).map_or_else(String::new, |off| format!(", watch {off}"));
        let words = format!("written time {}{clock}", clock_words(read.instant));
        let track_model = scene.estimated_track.track_model();
        let stand_off = scene.options.stand_off;
        let (kind, part) = (AnchorKind::WrittenTime, PartKind::TimeRounding);
        let on_track = from_times(track_model, kind, &moments, part, stand_off, words.clone());
        match on_track.or_else(|| self.between_photos(scene, kind, &moments, part, &words)) {
            Some(draft) => self.drafts.push(draft),
            None => self.reasons.push(off_track(
                scene,
                &format!("written time {}", local_words(scene, read.instant)),
            )),
        }
    }

    /// The anchor of a time that no track covers, between positions of photographs, where nothing else places the
    /// find: its own photograph's position is one of them.
    fn between_photos(
        &self,
        scene: &Scene,
        kind: AnchorKind,
        moments: &Moments,
        part: PartKind,
        words: &str,
    ) -> Option<Draft> {
        let photos = scene.photo_track.filter(|_| self.drafts.is_empty())?;
        photos.draft(kind, moments, part, scene.options.stand_off, words)
    }

    /// A waypoint of another day may not be meant, and an undated one that only bears the find's number may be of
    /// another outing: unless those of other finds agree with their times, whatever else places the find counts more.
    fn rank_waypoint(&mut self) {
        let place = self.drafts.iter().position(|draft| draft.kind == AnchorKind::Waypoint);
        if let Some(place) = place
            && self.standing.is_some_and(|standing| standing != Standing::Confirmed)
        {
            let waypoint = self.drafts.remove(place);
            self.measured = self.measured.map(|own| if own > place { own - 1 } else { own });
            self.drafts.push(waypoint);
        }
    }

    /// Where nothing else places the find, such a waypoint does only where its place is one of this outing.
    fn doubt_waypoint(&mut self, scene: &Scene, whole: &Whole, conflicts: &mut Vec<Conflict>) {
        /// What a radius promises.
        const REQUIRED: f64 = 0.95;
        let alone = self.drafts.len() == 1 && self.drafts[0].kind == AnchorKind::Waypoint;
        let probability = whole.undated.probability(self.index).filter(|_| alone);
        let waypoint = scene.claims.waypoint[self.index].map(|k| &scene.gathered.waypoints[k]);
        if let (Some(probability), Some(waypoint)) = (probability, waypoint)
            && self.standing != Some(Standing::Confirmed)
            && probability < REQUIRED
        {
            self.drafts.clear();
            self.standing = None;
            let file = &scene.gathered.sources[self.filed.source];
            let doubt = Doubt::of_place(scene, waypoint, probability);
            conflicts.push(doubt.conflict(self.index, self.record(), file));
            self.reasons.push(doubt.reason());
        }
    }

    /// The radius that also holds a waypoint which nothing confirms or refutes.
    fn widened(&self, combined: &locate::Combined, (point, radius): ((f64, f64), f64)) -> f64 {
        let open = |k: usize| {
            self.drafts[k].kind == AnchorKind::Waypoint && self.standing == Some(Standing::Open)
        };
        let unused = (0..self.drafts.len()).filter(|&k| !combined.used[k] && open(k));
        let alone = self.drafts.len() == 2 && self.measured.is_none();
        let reach = unused.filter(|_| alone).map(|k| {
            let other = self.drafts[k].point();
            let apart = (other.0 - point.0).hypot(other.1 - point.1);
            apart + self.drafts[k].radius_about(other)
        });
        reach.fold(radius, f64::max)
    }

    fn find(self, scene: &Scene, id: Uuid, conflicts: &mut Vec<Conflict>) -> Find {
        let anchors = |used: &[bool]| -> Vec<Anchor> {
            self.drafts
                .iter()
                .zip(used)
                .map(|(draft, used)| reported(scene, draft, *used))
                .collect()
        };
        let combined = match self.measured {
            Some(measured) => stop(&self.drafts, measured),
            None => combine(&self.drafts),
        };
        let (place, anchors) = match combined {
            Some(combined) => {
                let file = &scene.gathered.sources[self.filed.source];
                for disagreement in &combined.disagreements {
                    let record = self.record();
                    conflicts.push(conflict::anchors(
                        self.index,
                        record,
                        file,
                        &self.drafts,
                        disagreement,
                    ));
                }
                let located = self.located(scene, &combined);
                (Ok(located), anchors(&combined.used))
            }
            None => (Err(Unlocated(self.why_not(scene))), Vec::new()),
        };
        Find {
            id,
            record: self.filed.record.clone(),
            source: self.filed.source,
            when: self.when,
            photos: self.photos.to_vec(),
            anchors,
            place,
        }
    }

    fn located(&self, scene: &Scene, combined: &locate::Combined) -> Located {
        let (point, radius) = combined.point_and_radius();
        let radius = self.widened(combined, (point, radius));
        let at = scene.estimated_track.plane.from_plane(point.0, point.1);
        let combination = match (self.drafts.len(), combined.disagreements.is_empty()) {
            (1, _) => Combination::Single,
            (_, true) => Combination::Agreed,
            (_, false) => Combination::MostTrusted,
        };
        let mut parts = combined.parts(&self.drafts);
        parts.sort_by(|a: &RadiusPart, b| b.size.0.total_cmp(&a.size.0));
        let height = self.when.and_then(|(when, _)| height_at(scene.track, when));
        Located { at, radius: radius95(radius), parts, height, combination }
    }

    /// Why photographs without a record have no position.
    fn no_position(&self, scene: &Scene) -> Error {
        let shots: Vec<(f64, usize)> = self.photos.iter().map(|photo| (0.0, *photo)).collect();
        let why = if self.reasons.is_empty() {
            "neither a position in the file nor a time on a track".to_owned()
        } else {
            self.reasons.join("; ")
        };
        Error::input(format!("{} has no position", group_names(scene, &shots)))
            .because(why)
            .hint("add the track of that time")
    }

    fn why_not(&self, scene: &Scene) -> Error {
        let file = &scene.gathered.sources[self.filed.source];
        let why = if self.reasons.is_empty() {
            "it has no coordinates, no waypoint, no photograph with a time and no time".to_owned()
        } else {
            self.reasons.join("; ")
        };
        Error::input(format!("{} has no position", FindReference::of(self.record())))
            .because(why)
            .hint("add the track of that time, a time, or coordinates to the record")
            .in_file(&file.path)
            .at_line(self.record().line)
            .in_sheet(self.record().sheet_name())
    }
}

fn reported(scene: &Scene, draft: &Draft, used: bool) -> Anchor {
    let point = draft.point();
    let mut parts = draft.parts.clone();
    parts.sort_by(|a, b| b.size.0.total_cmp(&a.size.0));
    Anchor {
        kind: draft.kind,
        at: scene.estimated_track.plane.from_plane(point.0, point.1),
        radius: radius95(draft.radius_about(point)),
        parts,
        when: draft.when.map(|time| scene.estimated_track.origin.instant(time)),
        used,
        basis: draft.basis.clone().into(),
    }
}

/// Photographs grouped by stop.
fn in_groups(shots: &[(f64, usize)]) -> Vec<Vec<(f64, usize)>> {
    let mut groups: Vec<Vec<(f64, usize)>> = Vec::new();
    for &shot in shots {
        match groups.last_mut() {
            Some(group) if shot.0 - group[group.len() - 1].0 <= ONE_PLACE => group.push(shot),
            _ => groups.push(vec![shot]),
        }
    }
    groups
}

fn group_names(scene: &Scene, group: &[(f64, usize)]) -> String {
    let name = |k: usize| scene.gathered.photos[group[k].1].name();
    if group.len() == 1 {
        format!("photograph {}", name(0))
    } else {
        format!("photographs {} to {}", name(0), name(group.len() - 1))
    }
}

/// `11:12:30`, in the zone of the outing.
fn local_words(scene: &Scene, instant: Timestamp) -> String {
    let zone = scene.gathered.zone.zone.clone();
    instant.to_zoned_datetime(zone).strftime("%H:%M:%S").to_string()
}

/// `09:12:30 UTC`.
fn clock_words(instant: Timestamp) -> String {
    instant.to_zoned_datetime(jiff::tz::TimeZone::UTC).strftime("%H:%M:%S UTC").to_string()
}

fn off_track(scene: &Scene, what: &str) -> String {
    match scene.span {
        None if scene.gathered.associations.iter().any(Association::is_refusal) => {
            format!("{what}: no track is associated with it with enough certainty")
        }
        None => match scene.photo_track.and_then(PhotoTrack::span) {
            Some((start, end)) => format!(
                "{what}: there is no track with times, and the positions of photographs run from {} to {}",
                local_words(scene, start),
                local_words(scene, end)
            ),
            None => format!("{what}: there is no track with times"),
        },
        Some((start, end)) => format!(
            "{what}: the track runs from {} to {}; no position is estimated more than {} outside it",
            local_words(scene, start),
            local_words(scene, end),
            Seconds(BEYOND)
        ),
    }
}

/// The track's height at an instant, where it has one within two minutes.
fn height_at(track: &[TrackPoint], when: Timestamp) -> Option<GpsHeight> {
    let after = track.partition_point(|point| point.time < when);
    let near = |k: usize| {
        let point = track.get(k)?;
        let apart = Seconds::between(point.time, when).0.abs();
        (apart < 120.0).then_some((apart, point.height?))
    };
    let around = [after.checked_sub(1).and_then(near), near(after)];
    around
        .into_iter()
        .flatten()
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, height)| GpsHeight(Metres(height.0.0)))
}
