//! Lists the finds without a position and the reason. Finds with the same reason are listed together.
//! Layer: `present`.

use std::fmt::Write as _;

use super::text::bullet;
use super::words::counted;
use crate::error::Error;
use crate::model::{Day, Find};

/// The number of finds from which the same reason is reported once.
const MANY: usize = 3;

/// The finds of a day without a position, one item per reason; empty where all have one.
pub(super) fn list(day: &Day) -> String {
    let mut text = String::new();
    for group in groups(day) {
        if group.len() < MANY {
            for (_, error) in group {
                let _ = writeln!(text, "{}", bullet(error));
            }
        } else {
            let _ = writeln!(text, "{}", bullet(&together(&group)));
        }
    }
    text
}

type SameReason<'day> = Vec<(&'day Find, &'day Error)>;

/// Finds with the same reason, in the order of the records.
fn groups(day: &Day) -> Vec<SameReason<'_>> {
    let mut groups: Vec<SameReason> = Vec::new();
    for find in &day.finds {
        let Err(unlocated) = &find.place else { continue };
        let error = &unlocated.0;
        match groups.iter_mut().find(|group| alike(group[0].1, error)) {
            Some(group) => group.push((find, error)),
            None => groups.push(vec![(find, error)]),
        }
    }
    groups
}

fn alike(one: &Error, other: &Error) -> bool {
    one.where_file() == other.where_file()
        && one.where_sheet() == other.where_sheet()
        && one.advice() == other.advice()
        && reason(one).is_some()
        && reason(one) == reason(other)
}

/// The reason without its anchor: "written time 09:14 UTC: there is no track".
fn reason(error: &Error) -> Option<&str> {
    error.why().map(|why| why.rsplit_once(": ").map_or(why, |(_, lack)| lack))
}

fn together(group: &SameReason) -> Error {
    let (first, last) = (group[0].1, group[group.len() - 1].1);
    let mut what = format!("{} have no position", counted(group.len(), "find", "finds"));
    if let (Some(from), Some(to)) = (number(group[0].0), number(group[group.len() - 1].0)) {
        let _ = write!(what, ", {from} to {to}");
    }
    if let (Some(from), Some(to)) = (first.where_line(), last.where_line()) {
        let rows = if first.where_cell().is_some() { "rows" } else { "lines" };
        let _ = write!(what, ", {rows} {from} to {to}");
    }
    let mut error = Error::input(what).because(reason(first).unwrap_or_default());
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
    use crate::model::Unlocated;
    use crate::present::fixture;

    fn day_lacking(reasons: &[&str]) -> Day {
        let mut day = fixture::day();
        let find = day.finds[0].clone();
        let lacking = |(line, reason): (usize, &&str)| {
            let error = Error::input(format!("find {line} has no position"))
                .because(*reason)
                .hint("add the track")
                .in_file("finds.csv")
                .at_line(line as u64 + 2);
            Find { place: Err(Unlocated(error)), ..find.clone() }
        };
        day.finds = reasons.iter().enumerate().map(lacking).collect();
        day
    }

    #[test]
    fn finds_with_the_same_reason_are_grouped() {
        let day = day_lacking(&[
            "written time 09:14 UTC: no track",
            "written time 10 UTC: no track",
            "no track",
            "no number",
        ]);
        let text = list(&day);
        assert_eq!(text.matches("  - ").count(), 2, "{text}");
        assert!(text.contains("3 finds have no position"), "{text}");
        assert!(text.contains("lines 2 to 4"), "{text}");
        assert!(text.contains("because: no track\n"), "{text}");
        assert!(text.contains("find 3 has no position"), "{text}");
    }

    #[test]
    fn two_finds_are_listed_separately() {
        let text = list(&day_lacking(&["no track", "no track"]));
        assert_eq!(text.matches("has no position").count(), 2, "{text}");
    }
}
