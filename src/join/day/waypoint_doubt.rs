//! Whether a waypoint that bears the number or nearly the name that a record gives was marked for it.
//! A receiver keeps waypoints of earlier outings under the same short names. Layer: `join`.

use jiff::civil::Date;

use crate::model::{
    Conflict, ConflictKind, ConflictSize, FindReference, Record, SourceFile, Waypoint,
};
use crate::units::Metres;

use super::super::locate::off_track;
use super::super::waypoint_names::marked_on;
use super::Scene;

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
    why: String,
    away: Metres,
}

impl Doubt {
    /// The doubt, if any, about a waypoint whose time shows no visit on this outing.
    pub(super) fn about(scene: &Scene, record: &Record, waypoint: &Waypoint) -> Option<Self> {
        let name = waypoint.name.as_deref().unwrap_or("without a name").trim();
        let away = off_track(waypoint.fix.at, scene.track);
        let day = marked_on(waypoint, scene.date, &scene.gathered.zone.zone);
        match (&record.waypoint, day) {
            (None, Some(day)) => {
                let why = format!("waypoint {name} has its number but was marked on {day}");
                Some(Self { stands: false, why, away: away.unwrap_or(Metres(0.0)) })
            }
            (Some(written), Some(day)) => {
                let exact = written.trim().eq_ignore_ascii_case(name);
                Some(Self::of_other_day(name, exact, day, record.date.unwrap_or(scene.date), away))
            }
            (_, None) => Self::of_distance(name, record, away?),
        }
    }

    /// The doubt about a waypoint that a record names and that was marked on another day.
    fn of_other_day(
        name: &str,
        exact: bool,
        marked: Date,
        found: Date,
        away: Option<Metres>,
    ) -> Self {
        let off = away.filter(|away| away.0 > BESIDE);
        let off = off.map_or_else(String::new, |away| format!(", and lies {away} from the track"));
        let why = format!("waypoint {name} was marked on {marked}, not on {found}{off}");
        let stands = exact && off.is_empty();
        Self { stands, why, away: away.unwrap_or(Metres(0.0)) }
    }

    /// The doubt, if any, about a waypoint without a date.
    fn of_distance(name: &str, record: &Record, away: Metres) -> Option<Self> {
        let limit = if record.waypoint.is_some() { WITHIN_REACH } else { BESIDE };
        let why = format!(
            "waypoint {name} lies {away} from the track, and no time shows that it was marked on this \
             outing"
        );
        (away.0 > limit).then_some(Self { stands: false, why, away })
    }

    /// The doubt about an undated waypoint that lies where hardly any find of this outing was marked.
    pub(super) fn of_place(scene: &Scene, waypoint: &Waypoint, probability: f64) -> Self {
        let name = waypoint.name.as_deref().unwrap_or("without a name").trim();
        let away = off_track(waypoint.fix.at, scene.track).unwrap_or(Metres(0.0));
        let percent = (100.0 * probability).floor();
        let why = format!(
            "waypoint {name} has its number but no time, and lies {away} from the track; by where the undated \
             waypoints lie, the probability that it was marked on this outing is {percent:.0} %"
        );
        Self { stands: false, why, away }
    }

    pub(super) fn reason(&self) -> String {
        format!("{}, so it is not used", self.why)
    }

    pub(super) fn conflict(&self, index: usize, record: &Record, file: &SourceFile) -> Conflict {
        let name = FindReference::of(record);
        let named = record.waypoint.is_some();
        let what = match (named, self.stands) {
            (_, true) => format!("{name}: its waypoint was marked on another day"),
            (true, false) => format!("{name}: the waypoint that it names is not used"),
            (false, false) => format!("{name}: a waypoint of its number is not used"),
        };
        let hint = if named {
            "see whether it is a waypoint of another outing; write its coordinates in the record if it is meant"
        } else {
            "see whether it is a waypoint of another outing; write its exact name under waypoint if it is meant"
        };
        let report = crate::error::Error::input(what)
            .because(self.why.clone())
            .hint(hint)
            .in_file(&file.path)
            .at_line(record.line)
            .in_sheet(record.sheet_name());
        Conflict {
            kind: ConflictKind::Anchors,
            size: ConflictSize::Distance(self.away),
            chance: None,
            finds: vec![index],
            report,
        }
    }
}
