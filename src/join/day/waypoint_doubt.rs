//! Whether a waypoint that bears the number or nearly the name that a record gives was marked for it.
//! A receiver keeps waypoints of earlier outings under the same short names. Layer: `join`.

use jiff::civil::Date;

use crate::model::{
    Conflict, ConflictKind, ConflictSize, FindReference, Record, SourceFile, Waypoint,
};
use crate::units::{Metres, Timestamp};

use super::super::locate::off_track;
use super::Scene;

/// A waypoint without a date that only bears a find's number is used this near to the track, metres
/// (common practice: noise of receivers and a short detour in a gap).
const BESIDE: f64 = 300.0;

/// A waypoint that a record names lies no farther than this from the track of its day, metres (common
/// practice).
const WITHIN_REACH: f64 = 5_000.0;

/// The count of weeks of the older satellite message, days.
const ROLLOVER: i32 = 1024 * 7;

/// What speaks against a waypoint that was not marked on this outing.
pub(super) struct Doubt {
    /// Whether it places the find all the same: the record names exactly this one.
    pub(super) stands: bool,
    why: String,
    away: Metres,
}

impl Doubt {
    /// The doubt, if any, about a waypoint whose time shows no visit on this outing.
    pub(super) fn about(scene: &Scene, record: &Record, waypoint: &Waypoint) -> Option<Self> {
        let name = waypoint.name.as_deref().unwrap_or("without a name").trim();
        let away = off_track(waypoint.fix.at, scene.track);
        let day = waypoint.fix.time.and_then(|time| other_day(scene, time));
        if let (None, Some(day)) = (&record.waypoint, day) {
            let why = format!("waypoint {name} has its number but was marked on {day}");
            return Some(Self { stands: false, why, away: away.unwrap_or(Metres(0.0)) });
        }
        let away = away?;
        let limit = if record.waypoint.is_some() { WITHIN_REACH } else { BESIDE };
        let why = format!(
            "waypoint {name} lies {away} from the track, and no time shows that it was marked on this \
             outing"
        );
        let exact = |written: &String| written.trim().eq_ignore_ascii_case(name);
        let stands = record.waypoint.as_ref().is_some_and(exact);
        (away.0 > limit).then_some(Self { stands, why, away })
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
        let what = if self.stands {
            format!("{name}: its waypoint is far from the track")
        } else {
            format!("{name}: a waypoint of its number is not used")
        };
        let hint = "see whether it is a waypoint of another outing; write its exact name under waypoint \
                    if it is meant";
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

/// The date of a waypoint; `None` where the receiver's date was not set or is 1,024 weeks off.
fn other_day(scene: &Scene, time: Timestamp) -> Option<Date> {
    let date = time.to_zoned_datetime(scene.gathered.zone.zone.clone()).date();
    let days = date.until(scene.date).map_or(0, |span| span.get_days());
    let rolled = days > ROLLOVER / 2 && (days + 1) % ROLLOVER <= 2;
    (date.year() > 1980 && !rolled).then_some(date)
}
