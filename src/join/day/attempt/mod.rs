//! Computes the anchors of one find, or of photographs without a record, and combines them into a position.
//! Layer: `join`.

mod places;
mod times;

use std::collections::HashMap;

use uuid::Uuid;

use crate::model::{
    Anchor, AnchorKind, Combination, Conflict, Find, FindReference, Located, NotLocated,
    RadiusPart, Record, TrackPoint, Unlocated, UnlocatedFinding, UnlocatedReason,
};
use crate::units::{GpsHeight, Metres, Seconds, Timestamp};

use super::super::conflict;
use super::super::estimated_track::radius95;
use super::super::locate::{Combined, Draft, combine, stop};
use super::super::notebook_clock::{NotebookClock, Watch};
use super::super::outings::Filed;
use super::super::written::Read;
use super::Scene;
use super::cameras::SetCamera;
use super::coordinates_apart::Apart;
use super::named_waypoints::NamedWaypoints;
use super::undated_waypoints::{Standing, UndatedWaypoints};
use times::photograph_range;

pub(super) use times::by_stop;

/// The data that all finds of a day share.
pub(super) struct Whole<'a> {
    pub(super) cameras: &'a [SetCamera],
    /// The clock of its notebook.
    pub(super) notebook: &'a NotebookClock,
    pub(super) undated: UndatedWaypoints,
    pub(super) named: NamedWaypoints,
    /// Written coordinates that do not fit those of other finds of their date.
    pub(super) apart: HashMap<usize, Apart>,
}

/// A find before its anchors are combined.
pub(super) struct Attempt<'a> {
    index: usize,
    filed: &'a Filed,
    /// Its photographs, in order of time.
    photos: &'a [usize],
    pub(super) drafts: Vec<Draft>,
    pub(super) when: Option<(Timestamp, Seconds)>,
    written: Option<Read>,
    /// The watch of that time, unless it states its own zone.
    watch: Option<&'a Watch>,
    /// The draft that the record states as measured and final.
    measured: Option<usize>,
    /// What the other finds show of its undated waypoint; one of another day counts as refuted.
    standing: Option<Standing>,
    /// Why named anchors could not be used.
    reasons: Vec<UnlocatedReason>,
}

impl<'a> Attempt<'a> {
    pub(super) fn of(
        scene: &Scene<'a>,
        whole: &Whole<'a>,
        index: usize,
        conflicts: &mut Vec<Conflict>,
    ) -> Self {
        let filed = &scene.gathered.records[index];
        let mut attempt = Self {
            written: scene.written(filed),
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
        if filed.record.has_unread_date() && filed.record.time.is_some() {
            let date = filed.record.other(Record::UNREAD_DATE).unwrap_or_default().to_owned();
            attempt.reasons.push(UnlocatedReason::DateNotKnown { date });
        }
        attempt.coordinates(scene, whole, conflicts);
        attempt.waypoint(scene, whole, conflicts);
        attempt.photo_position(scene, whole.cameras);
        attempt.photo_times(scene, whole.cameras);
        attempt.written_time(scene);
        attempt.rank_waypoint();
        attempt.rank_coordinates(scene);
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
    pub(super) fn of_photos(
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

    /// The radius that also holds a waypoint which nothing confirms or refutes.
    fn widened(&self, combined: &Combined, (point, radius): ((f64, f64), f64)) -> f64 {
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

    pub(super) fn find(self, scene: &Scene, id: Uuid, conflicts: &mut Vec<Conflict>) -> Find {
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
            None => (Err(self.find_not_located(scene)), Vec::new()),
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

    pub(super) fn located(&self, scene: &Scene, combined: &Combined) -> Located {
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

    fn find_not_located(&self, scene: &Scene) -> Unlocated {
        let record = self.record();
        let finding = UnlocatedFinding::FindNotLocated {
            find: FindReference::of(record),
            reasons: self.reasons.clone(),
        };
        NotLocated {
            finding,
            file: Some(scene.gathered.sources[self.filed.source].path.clone()),
            line: Some(record.line),
            sheet: record.sheet_name().map(str::to_owned),
        }
        .into()
    }

    /// Why photographs without a record have no position.
    pub(super) fn photographs_not_located(&self, scene: &Scene) -> Unlocated {
        let finding = UnlocatedFinding::PhotographsNotLocated {
            photographs: photograph_range(scene, self.photos.iter().copied()),
            reasons: self.reasons.clone(),
        };
        NotLocated { finding, file: None, line: None, sheet: None }.into()
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
        basis: draft.basis.clone(),
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
