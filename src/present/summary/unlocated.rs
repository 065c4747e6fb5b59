//! Lists the finds without a position and the reason. Finds with the same reason are listed together.
//! Layer: `present`.

use std::fmt::Write as _;

use super::text::bullet;
use super::words::counted;
use crate::error::Error;
use crate::model::{Day, Find, Unlocated};
use crate::present::note::{joined, lacking};

/// The number of finds from which the same reason is reported once.
const MANY: usize = 3;

/// A find without a position.
struct Missing<'day> {
    find: &'day Find,
    report: Error,
    /// The reason without the photographs and the time of this find: "there is no track with usable times".
    lacking: String,
}

/// The finds of a day without a position, one item per reason; empty where all have one.
pub(super) fn list(day: &Day) -> String {
    let mut text = String::new();
    for group in groups(day) {
        if group.len() < MANY {
            for missing in group {
                let _ = writeln!(text, "{}", bullet(&missing.report));
            }
        } else {
            let _ = writeln!(text, "{}", bullet(&together(&group)));
        }
    }
    text
}

/// Finds with the same reason, in the order of the records.
fn groups(day: &Day) -> Vec<Vec<Missing<'_>>> {
    let mut groups: Vec<Vec<Missing>> = Vec::new();
    for find in &day.finds {
        let Err(unlocated) = &find.place else { continue };
        let missing = Missing::of(find, unlocated);
        match groups.iter_mut().find(|group| group[0].is_alike(&missing)) {
            Some(group) => group.push(missing),
            None => groups.push(vec![missing]),
        }
    }
    groups
}

impl<'day> Missing<'day> {
    fn of(find: &'day Find, unlocated: &Unlocated) -> Self {
        let report = Error::from(unlocated);
        let lacking = match unlocated.reasons() {
            [] => report.why().unwrap_or_default().to_owned(),
            reasons => joined(reasons.iter().map(lacking)),
        };
        Self { find, report, lacking }
    }

    fn is_alike(&self, other: &Self) -> bool {
        let (one, two) = (&self.report, &other.report);
        one.where_file() == two.where_file()
            && one.where_sheet() == two.where_sheet()
            && one.advice() == two.advice()
            && !self.lacking.is_empty()
            && self.lacking == other.lacking
    }
}

fn together(group: &[Missing]) -> Error {
    let (one, other) = (&group[0], &group[group.len() - 1]);
    let (first, last) = (&one.report, &other.report);
    let mut what = format!("{} have no position", counted(group.len(), "find", "finds"));
    if let (Some(from), Some(to)) = (number(one.find), number(other.find)) {
        let _ = write!(what, ", {from} to {to}");
    }
    if let (Some(from), Some(to)) = (first.where_line(), last.where_line()) {
        let rows = if first.where_cell().is_some() { "rows" } else { "lines" };
        let _ = write!(what, ", {rows} {from} to {to}");
    }
    let mut error = Error::input(what).because(&one.lacking);
    if let Some(hint) = first.advice() {
        error = error.hint(hint);
    }
    let error = error.in_sheet(first.where_sheet());
    match first.where_file() {
        Some(file) => error.in_file(file),
        None => error,
    }
}

fn number(find: &Find) -> Option<String> {
    find.record.number.as_ref().map(ToString::to_string)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{
        FindReference, LocalInstant, NotLocated, OffTrack, UnlocatedFinding, UnlocatedReason,
    };
    use crate::present::fixture;
    use jiff::tz::TimeZone;

    fn no_track(time: &str) -> UnlocatedReason {
        let at = format!("2026-05-02T{time}:00Z").parse().unwrap();
        let at = LocalInstant::new(at, &TimeZone::UTC);
        UnlocatedReason::WrittenTimeOffTrack { at, track: OffTrack::NoTrack }
    }

    fn no_waypoint(waypoint: &str) -> UnlocatedReason {
        UnlocatedReason::NoSuchWaypoint { waypoint: waypoint.to_owned() }
    }

    fn day_lacking(reasons: &[Vec<UnlocatedReason>]) -> Day {
        let mut day = fixture::day();
        let find = day.finds[0].clone();
        let lacking = |(index, reasons): (usize, &Vec<UnlocatedReason>)| {
            let line = index as u64 + 2;
            let known = NotLocated {
                finding: UnlocatedFinding::FindNotLocated {
                    find: FindReference { number: None, line, in_workbook: false },
                    reasons: reasons.clone(),
                },
                file: Some("finds.csv".into()),
                line: Some(line),
                sheet: None,
            };
            Find { place: Err(known.into()), ..find.clone() }
        };
        day.finds = reasons.iter().enumerate().map(lacking).collect();
        day
    }

    #[test]
    fn finds_with_the_same_reason_are_grouped() {
        let day = day_lacking(&[
            vec![no_track("09:14")],
            vec![no_track("10:00")],
            vec![no_track("10:30")],
            vec![no_waypoint("X: 7"), no_track("11:00")],
        ]);
        let text = list(&day);
        assert_eq!(text.matches("  - ").count(), 2, "{text}");
        assert!(text.contains("3 finds have no position"), "{text}");
        assert!(text.contains("lines 2 to 4"), "{text}");
        assert!(text.contains("because: there is no track with usable times\n"), "{text}");
        assert!(text.contains("on line 5 has no position"), "{text}");
        let why = "because: none of the outing's waypoints is named X: 7; written time 11:00:00: there is no track";
        assert!(text.contains(why), "{text}");
    }

    #[test]
    fn two_finds_are_listed_separately() {
        let text = list(&day_lacking(&[vec![no_track("09:14")], vec![no_track("10:00")]]));
        assert_eq!(text.matches("has no position").count(), 2, "{text}");
    }

    #[test]
    fn reasons_that_are_known_in_words_are_grouped_where_they_are_the_same() {
        let mut day = day_lacking(&[vec![], vec![], vec![]]);
        for find in &mut day.finds {
            let report = Error::input("no position").because("edited: no track");
            find.place = Err(report.into());
        }
        let text = list(&day);
        assert!(text.contains("3 finds have no position"), "{text}");
        assert!(text.contains("because: edited: no track\n"), "{text}");
    }
}
