//! Whether a waypoint that bears the number or nearly the name that a record gives was marked for it.
//! A receiver keeps waypoints of earlier outings under the same short names. Layer: `join`.

use jiff::civil::Date;

use crate::model::{
    Conflict, ConflictKind, ConflictSize, FindReference, PositionConflict, Record, SourceFile,
    UnlocatedReason, Waypoint, WaypointDoubt, WaypointDoubtReason,
};
use crate::units::Metres;

use super::super::conflict;
use super::super::locate::off_track;
use super::super::waypoint_names::marked_on;
use super::Scene;
use super::named_waypoints::Contradicted;

/// A waypoint without a date that only bears a find's number, or one of another day that the record names, is used
/// this near to the track, metres (common practice: noise of receivers and a short detour in a gap).
const BESIDE: f64 = 300.0;

/// A waypoint that a record names lies no farther than this from the track of its day, metres (common
/// practice).
const WITHIN_REACH: f64 = 5_000.0;

/// What speaks against a waypoint that was not marked on this outing.
pub(super) struct Doubt {
    /// Whether it places the find all the same, where nothing else does: the record names exactly this one, and
    /// the track shows no other place.
    pub(super) stands: bool,
    finding: WaypointDoubt,
}

impl Doubt {
    /// The doubt, if any, about a waypoint whose time shows no visit on this outing.
    pub(super) fn about(scene: &Scene, record: &Record, waypoint: &Waypoint) -> Option<Self> {
        let away = off_track(waypoint.fix.at, scene.track);
        let day = marked_on(waypoint, scene.date, &scene.gathered.zone.zone);
        match (&record.waypoint, day) {
            (None, Some(marked)) => {
                let reason = WaypointDoubtReason::NumberOfAnotherDay { marked };
                Some(Self::of(waypoint, away, reason))
            }
            (Some(written), Some(marked)) => {
                let found = record.date.unwrap_or(scene.date);
                Some(Self::of_another_day(waypoint, written, (marked, found), away))
            }
            (named, None) => {
                let limit = if named.is_some() { WITHIN_REACH } else { BESIDE };
                let far = away.is_some_and(|away| away.0 > limit);
                let reason = WaypointDoubtReason::UndatedFarFromTrack;
                far.then(|| Self::of(waypoint, away, reason))
            }
        }
    }

    fn of(waypoint: &Waypoint, from_track: Option<Metres>, reason: WaypointDoubtReason) -> Self {
        let name = waypoint.name.as_deref().map(|name| name.trim().to_owned());
        Self { stands: false, finding: WaypointDoubt { waypoint: name, from_track, reason } }
    }

    /// The doubt about a waypoint that a record names and that was marked on another day.
    fn of_another_day(
        waypoint: &Waypoint,
        written: &str,
        (marked, found): (Date, Date),
        away: Option<Metres>,
    ) -> Self {
        let name = waypoint.name.as_deref().unwrap_or_default();
        let exact = written.trim().eq_ignore_ascii_case(name.trim());
        let off_track = away.is_some_and(|away| away.0 > BESIDE);
        let reason = WaypointDoubtReason::MarkedOnAnotherDay { marked, found, off_track };
        Self { stands: exact && !off_track, ..Self::of(waypoint, away, reason) }
    }

    /// The doubt about an undated waypoint that lies where hardly any find of this outing was marked.
    pub(super) fn of_place(scene: &Scene, waypoint: &Waypoint, probability: f64) -> Self {
        let away = off_track(waypoint.fix.at, scene.track);
        Self::of(waypoint, away, WaypointDoubtReason::UndatedImprobable { probability })
    }

    /// The doubt about a waypoint whose file is of another outing.
    pub(super) fn of_file(scene: &Scene, waypoint: &Waypoint, contradicted: &Contradicted) -> Self {
        let away = off_track(waypoint.fix.at, scene.track);
        let Contradicted { differ, compared } = *contradicted;
        Self::of(waypoint, away, WaypointDoubtReason::FileContradicted { differ, compared })
    }

    pub(super) fn reason(&self) -> UnlocatedReason {
        UnlocatedReason::WaypointInDoubt { doubt: self.finding.clone() }
    }

    pub(super) fn conflict(&self, index: usize, record: &Record, file: &SourceFile) -> Conflict {
        let finding = PositionConflict::WaypointInDoubt {
            find: FindReference::of(record),
            named: record.waypoint.is_some(),
            used: self.stands,
            doubt: self.finding.clone(),
        };
        Conflict {
            kind: ConflictKind::Anchors,
            size: ConflictSize::Distance(self.finding.from_track.unwrap_or(Metres(0.0))),
            chance: None,
            finds: vec![index],
            report: conflict::at(file, record, finding),
        }
    }
}
