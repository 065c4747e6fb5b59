//! Words the findings about a day: what, why and what to do, as errors that carry the code and the values of
//! the finding. Layer: `present`.
//!
//! The words of a finding stand here and nowhere else; `tests/layers` finds sentences in other layers.

mod basis;
mod clock;
mod conflict;
mod elevation;
mod input;
mod notebook;
mod record;
mod season;
mod track;
mod unlocated;
mod unsearched;
mod waypoint;

pub(crate) use basis::anchor_words;
pub(crate) use clock::wrong_date;
pub(crate) use unlocated::{joined, lacking};

use std::fmt::{self, Display};

use serde::Serialize;

use crate::error::Error;
use crate::model::FindReference;
use crate::units::Seconds;

/// The number of names shown of a long list.
const SHOWN: usize = 6;

/// A finding in words.
fn worded(
    finding: &impl Serialize,
    what: impl Into<String>,
    why: impl Into<String>,
    hint: impl Into<String>,
) -> Error {
    Error::input(what).because(why).hint(hint).of(finding)
}

impl Display for FindReference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(number) = &self.number {
            return write!(f, "find {number}");
        }
        let row = if self.in_workbook { "row" } else { "line" };
        write!(f, "the find without a number on {row} {}", self.line)
    }
}

/// The first few of a list.
fn listed(names: &[impl Display]) -> String {
    let shown: Vec<String> = names.iter().take(SHOWN).map(ToString::to_string).collect();
    let shown = shown.join(", ");
    match names.len().saturating_sub(SHOWN) {
        0 => shown,
        rest => format!("{shown} and {rest} more"),
    }
}

/// The first few of a list of finds; those without a number together.
fn finds_listed(finds: &[FindReference]) -> String {
    let bare: Vec<&FindReference> = finds.iter().filter(|find| find.number.is_none()).collect();
    let [first, _, ..] = bare[..] else { return listed(finds) };
    let rows = if first.in_workbook { "rows" } else { "lines" };
    let places: Vec<String> = bare.iter().map(|find| find.line.to_string()).collect();
    let bare = format!("the finds without a number on {rows} {}", listed(&places));
    let numbered: Vec<&FindReference> = finds.iter().filter(|find| find.number.is_some()).collect();
    if numbered.is_empty() { bare } else { format!("{} and {bare}", listed(&numbered)) }
}

/// `1 min 12 s behind`.
fn beside(ahead: Seconds) -> String {
    if ahead.0 < 0.0 { format!("{} behind", -ahead) } else { format!("{ahead} ahead of") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lists_are_counted() {
        let names: Vec<String> = (1..=8).map(|number| number.to_string()).collect();
        assert_eq!(listed(&names), "1, 2, 3, 4, 5, 6 and 2 more");
        assert_eq!(listed(&names[..2]), "1, 2");
        let find = |number: Option<&str>, line| FindReference {
            number: number.map(str::to_owned),
            line,
            in_workbook: true,
        };
        let several = [find(Some("7"), 2), find(None, 3), find(None, 4)];
        let listed = finds_listed(&several);
        assert_eq!(listed, "find 7 and the finds without a number on rows 3, 4");
        assert_eq!(finds_listed(&several[1..2]), "the find without a number on row 3");
    }
}
