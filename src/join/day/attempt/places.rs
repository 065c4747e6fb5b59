//! Computes the anchors of a find that are places: written coordinates, a waypoint, the position in a photograph.
//! Layer: `join`.

use crate::model::{AnchorKind, Conflict, Photo, UnlocatedReason};
use crate::units::{LatLon, Metres, Seconds};

use super::super::super::conflict;
use super::super::super::locate::{
    Decided, decide, from_photo_position, from_reading, from_waypoint, off_track,
};
use super::super::Scene;
use super::super::cameras::SetCamera;
use super::super::stale_positions::moved;
use super::super::undated_waypoints::Standing;
use super::super::waypoint_doubt::Doubt;
use super::{Attempt, Whole};

impl Attempt<'_> {
    pub(super) fn coordinates(
        &mut self,
        scene: &Scene,
        whole: &Whole,
        conflicts: &mut Vec<Conflict>,
    ) {
        let Some(written) = &self.record().coordinates else { return };
        let file = &scene.gathered.sources[self.filed.source];
        let Some(decided) = decide(written, scene.track) else { return };
        let reported = conflict::coordinates(self.index, self.record(), file, written, &decided);
        conflicts.extend(reported);
        if let Some(apart) = whole.apart.get(&self.index) {
            let from = &scene.gathered.records[apart.from].record;
            conflicts.push(conflict::coordinates_apart(
                self.index,
                self.record(),
                file,
                from,
                apart,
            ));
            if !apart.used {
                let (verbatim, away) = (written.verbatim.clone(), apart.away);
                self.reasons.push(UnlocatedReason::CoordinatesApart { verbatim, away });
                return;
            }
        }
        match decided {
            Decided::Clear(reading) | Decided::Chosen { reading, .. } => {
                let has_track = !scene.track.is_empty();
                let (plane, receiver) =
                    (&scene.estimated_track.plane, &scene.estimated_track.receiver);
                self.measured = written.measured.then_some(self.drafts.len());
                self.drafts.push(from_reading(written, &reading, plane, receiver, has_track));
            }
            Decided::Refused(_) => self
                .reasons
                .push(UnlocatedReason::CoordinatesOpen { verbatim: written.verbatim.clone() }),
        }
    }

    pub(super) fn waypoint(&mut self, scene: &Scene, whole: &Whole, conflicts: &mut Vec<Conflict>) {
        let Some(index) = scene.claims.waypoint[self.index] else {
            if let Some(name) = &self.record().waypoint {
                let (waypoint, waypoints) = (name.clone(), scene.claims.alike[self.index]);
                self.reasons.push(if waypoints > 1 {
                    UnlocatedReason::WaypointsAlike { waypoint, waypoints }
                } else {
                    UnlocatedReason::NoSuchWaypoint { waypoint }
                });
            }
            return;
        };
        let waypoint = &scene.gathered.waypoints[index];
        // one of another day gives the place, not the time
        let time = waypoint.fix.time.filter(|time| scene.is_of_the_outing(self.record(), *time));
        if let Some(contradicted) = whole.named.contradicted(scene, self.index) {
            let doubt = Doubt::of_file(scene, waypoint, &contradicted);
            let file = &scene.gathered.sources[self.filed.source];
            conflicts.push(doubt.conflict(self.index, self.record(), file));
            self.reasons.push(doubt.reason());
            return;
        }
        self.standing = whole.undated.standing(self.index);
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

    /// The best known position in its photographs.
    pub(super) fn photo_position(&mut self, scene: &Scene, cameras: &[SetCamera]) {
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
            let draft = from_photo_position(&photo.gps, at, plane, when, stand_off, photo.name());
            self.drafts.push(match moved {
                Some(metres) => draft.since_moved(Metres(metres)),
                None => draft,
            });
        }
    }

    /// A waypoint of another day may not be meant, and an undated one that only bears the find's number may be of
    /// another outing: unless those of other finds agree with their times, whatever else places the find counts more.
    pub(super) fn rank_waypoint(&mut self) {
        let place = self.drafts.iter().position(|draft| draft.kind == AnchorKind::Waypoint);
        if let Some(place) = place
            && self.standing.is_some_and(|standing| standing != Standing::Confirmed)
        {
            let waypoint = self.drafts.remove(place);
            self.measured = self.measured.map(|own| if own > place { own - 1 } else { own });
            self.drafts.push(waypoint);
        }
    }

    /// Coordinates off the track of the day by more than a detour, unless they are stated as measured, count less than
    /// a time or a photograph that places the find on it: a wrong figure is more probable.
    pub(super) fn rank_coordinates(&mut self, scene: &Scene) {
        /// Metres (common practice, as for a correction by hand).
        const OFF_TRACK: f64 = 1_000.0;
        let place = self.drafts.iter().position(|draft| draft.kind == AnchorKind::Coordinates);
        let Some(place) = place.filter(|_| self.measured.is_none()) else { return };
        let (east, north) = self.drafts[place].point();
        let away = off_track(scene.estimated_track.plane.from_plane(east, north), scene.track);
        if away.is_some_and(|away| away.0 > OFF_TRACK) {
            let coordinates = self.drafts.remove(place);
            self.drafts.push(coordinates);
        }
    }

    /// Where nothing else places the find, such a waypoint does only where its place is one of this outing.
    pub(super) fn doubt_waypoint(
        &mut self,
        scene: &Scene,
        whole: &Whole,
        conflicts: &mut Vec<Conflict>,
    ) {
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
}
