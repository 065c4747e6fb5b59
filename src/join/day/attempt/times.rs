//! Computes the anchors of a find that are times on a track: those of its photographs, by the clock of their camera,
//! and the written one, by the watch of the notebook. Layer: `join`.

use crate::model::{
    AnchorBasis, AnchorKind, Association, LocalInstant, OffTrack, PartKind, PhotographRange,
    UnlocatedReason,
};
use crate::units::{Seconds, Timestamp};

use super::super::super::locate::{BEYOND, Draft, Moments, from_times};
use super::super::super::notebook_clock::Watch;
use super::super::cameras::{SetCamera, reading};
use super::super::written_moments::{of_watch, written_moments, written_within};
use super::super::{PhotoTrack, Scene};
use super::Attempt;

/// Photographs of one find farther apart in time than this are from different stops, seconds.
const ONE_PLACE: f64 = 150.0;

impl Attempt<'_> {
    pub(super) fn photo_times(&mut self, scene: &Scene, cameras: &[SetCamera]) {
        for camera in cameras {
            let mut shots: Vec<(f64, usize)> = self
                .photos
                .iter()
                .filter(|photo| camera.photos.contains(photo))
                .filter_map(|&photo| Some((reading(scene, photo)?, photo)))
                .collect();
            shots.sort_by(|a, b| a.0.total_cmp(&b.0));
            let mut groups = by_stop(&shots);
            // the group with most photographs comes first
            groups.sort_by_key(|group| std::cmp::Reverse(group.len()));
            for group in groups.iter().take(3) {
                self.photo_group(scene, camera, group);
            }
        }
    }

    fn photo_group(&mut self, scene: &Scene, camera: &SetCamera, group: &[(f64, usize)]) {
        let (first, last) = (group[0].0, group[group.len() - 1].0);
        let photographs = photograph_range(scene, group.iter().map(|shot| shot.1));
        let Some(offset) = camera.offset() else {
            let camera = camera.clock.camera.clone();
            self.reasons.push(UnlocatedReason::CameraOffsetUnknown { photographs, camera });
            return;
        };
        let moments: Moments =
            camera.nodes.iter().map(|&(o, weight)| (first - o, last - o, weight)).collect();
        let middle = scene.estimated_track.origin.instant(f64::midpoint(first, last) - offset);
        let half = Seconds(2.0 * camera.spread(offset) + 0.5 * (last - first) + 1.0);
        if self.drafts.iter().all(|draft| draft.kind != AnchorKind::PhotoTime) {
            self.when = Some((middle, half));
        }
        let basis = AnchorBasis::PhotographTimes {
            photographs: photographs.clone(),
            at: middle,
            positions_of: None,
        };
        let track_model = scene.estimated_track.track_model();
        let stand_off = scene.options.stand_off;
        let kind = AnchorKind::PhotoTime;
        let on_track =
            from_times(track_model, kind, &moments, PartKind::Clock, stand_off, basis.clone());
        let draft = on_track
            .or_else(|| self.between_photos(scene, kind, &moments, PartKind::Clock, &basis));
        if let Some(draft) = draft {
            self.drafts.push(draft);
        } else {
            let (at, track) = (local(scene, middle), off_track(scene));
            self.reasons.push(UnlocatedReason::PhotographsOffTrack { photographs, at, track });
        }
    }

    pub(super) fn written_time(&mut self, scene: &Scene) {
        let Some(read) = self.written else { return };
        let watch = self.watch.filter(|_| read.step.0 > 1.0);
        let (ahead, open) = watch.map_or((Seconds(0.0), Seconds(0.0)), Watch::ahead);
        let instant = Seconds(-ahead.0).after(read.instant);
        let within = written_within(read.step).0.max(open.0);
        let to_other = read.other.map_or(0.0, |other| Seconds::between(read.instant, other).0);
        // halfway between two occurrences, where either may be meant
        let middle = Seconds(to_other / 2.0).after(instant);
        self.when.get_or_insert((middle, Seconds(within + to_other / 2.0)));
        let moments_of = |instant: Timestamp| {
            let seconds = scene.estimated_track.origin.seconds(instant);
            match watch {
                Some(watch) => of_watch(scene, seconds, read.step.0, watch),
                None => written_moments(scene, seconds, read.step.0),
            }
        };
        let moments = match read.other {
            Some(other) => {
                [normalised(moments_of(read.instant)), normalised(moments_of(other))].concat()
            }
            None => moments_of(read.instant),
        };
        let basis = AnchorBasis::WrittenTime {
            at: read.instant,
            watch: watch.and_then(Watch::offset),
            positions_of: None,
        };
        let track_model = scene.estimated_track.track_model();
        let stand_off = scene.options.stand_off;
        let (kind, part) = (AnchorKind::WrittenTime, PartKind::TimeRounding);
        let on_track = from_times(track_model, kind, &moments, part, stand_off, basis.clone());
        let draft = on_track.or_else(|| self.between_photos(scene, kind, &moments, part, &basis));
        if let Some(draft) = draft {
            self.drafts.push(draft);
        } else {
            let (at, track) = (local(scene, read.instant), off_track(scene));
            self.reasons.push(UnlocatedReason::WrittenTimeOffTrack { at, track });
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
        basis: &AnchorBasis,
    ) -> Option<Draft> {
        let photos = scene.photo_track.filter(|_| self.drafts.is_empty())?;
        photos.draft(kind, moments, part, scene.options.stand_off, basis)
    }
}

/// The moments with weights that sum to one.
fn normalised(moments: Moments) -> Moments {
    let sum: f64 = moments.iter().map(|moment| moment.2).sum();
    moments.into_iter().map(|(from, to, weight)| (from, to, weight / sum.max(1e-12))).collect()
}

/// Photographs grouped by stop.
pub(in crate::join::day) fn by_stop(shots: &[(f64, usize)]) -> Vec<Vec<(f64, usize)>> {
    let mut groups: Vec<Vec<(f64, usize)>> = Vec::new();
    for &shot in shots {
        match groups.last_mut() {
            Some(group) if shot.0 - group[group.len() - 1].0 <= ONE_PLACE => group.push(shot),
            _ => groups.push(vec![shot]),
        }
    }
    groups
}

/// The names of photographs that follow each other.
pub(super) fn photograph_range(
    scene: &Scene,
    mut photos: impl ExactSizeIterator<Item = usize> + DoubleEndedIterator,
) -> PhotographRange {
    let name = |photo: Option<usize>| {
        photo.map_or_else(String::new, |photo| scene.gathered.photos[photo].name())
    };
    let count = photos.len();
    let first = photos.next();
    let last = photos.next_back().or(first);
    PhotographRange { first: name(first), last: name(last), count }
}

/// An instant in the zone of the outing.
fn local(scene: &Scene, instant: Timestamp) -> LocalInstant {
    LocalInstant::new(instant, &scene.gathered.zone.zone)
}

/// Why no track covers a time.
fn off_track(scene: &Scene) -> OffTrack {
    let refused = || scene.gathered.associations.iter().any(Association::is_refusal);
    match (scene.span, scene.photo_track.and_then(PhotoTrack::span)) {
        (Some((from, to)), _) => OffTrack::OutsideTrack {
            from: local(scene, from),
            to: local(scene, to),
            beyond: Seconds(BEYOND),
        },
        (None, _) if refused() => OffTrack::NotAssociated,
        (None, Some((from, to))) => {
            OffTrack::PhotoPositionsOnly { from: local(scene, from), to: local(scene, to) }
        }
        (None, None) if scene.estimated_track.fixes.is_empty() => OffTrack::NoTrackOfDay,
        (None, None) => OffTrack::NoTrack,
    }
}
