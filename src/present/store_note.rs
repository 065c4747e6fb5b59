//! Words the notes on an import and the conflicts of merged stores. Layer: `present`.

use crate::model::{AmendmentConflict, ImportNote, MergeConflict, StationProperty};

/// More numbers than this are counted only.
const SHOWN: usize = 6;

/// The sentence of a note on an import, without a full stop.
#[must_use]
pub fn import(note: &ImportNote) -> String {
    match note {
        ImportNote::InputsAgreeWithAmendment { find, property, amendment, value } => format!(
            "{find}: the inputs now agree with amendment {amendment} ({property} {})",
            shown(value.as_deref())
        ),
        ImportNote::InputsDifferFromAmendment {
            find,
            property,
            amendment,
            value,
            stated,
            stated_before,
        } => format!(
            "{find}: the inputs now state the {property} {} instead of {}; amendment {amendment} ({}) stays in \
             force. If the inputs are right: trug undo {amendment}",
            shown(stated.as_deref()),
            shown(stated_before.as_deref()),
            shown(value.as_deref())
        ),
        ImportNote::MeasuredCoordinatesKept { find, coordinates, row_in, stated_in } => format!(
            "{find} keeps its measured coordinates {coordinates}; the row in {row_in} does not replace them. \
             Correct them in {stated_in} if they are wrong"
        ),
        ImportNote::Restored { find } => format!("{find} was withdrawn and is restored"),
        ImportNote::PositionKept { find } => format!(
            "{find} keeps its earlier position: this import did not include its track; import the whole \
             folder to locate it again"
        ),
        ImportNote::TracksLeftOut { files } => format!(
            "this import did not include {}, which was part of this outing before; its fixes stay in the \
             store, but the track was estimated without them",
            files.join(", ")
        ),
        ImportNote::PartOfOuting { files, more } => {
            let more = if *more == 0 { String::new() } else { format!(" and {more} more") };
            format!(
                "the store has this outing with more files ({}{more}), so nothing was changed; import them \
                 together",
                files.join(", ")
            )
        }
        ImportNote::TrackOfSameWalk { date, percent, .. } => format!(
            "the track shows a walk that a track of {date} in the store shows as well ({percent} % of its time): \
             analyses count that time once; check that the finds of both are not the same"
        ),
        ImportNote::NumbersUsed { date, numbers } => numbers_used(date, numbers),
    }
}

fn numbers_used(date: &str, numbers: &[String]) -> String {
    let shown: Vec<&str> = numbers.iter().take(SHOWN).map(String::as_str).collect();
    let shown = shown.join(", ");
    let rest = numbers.len().saturating_sub(SHOWN);
    let more = if rest > 0 { format!(" and {rest} more") } else { String::new() };
    let (what, verb) = if numbers.len() == 1 { ("number", "is") } else { ("numbers", "are") };
    format!(
        "the {what} {shown}{more} {verb} used on {date} already; labels and deposits show the number \
         alone, so go on counting from day to day, or put the date or a series before it"
    )
}

/// The sentence of a conflict of two stores, without a full stop.
#[must_use]
pub fn merge(conflict: &MergeConflict) -> String {
    match conflict {
        MergeConflict::OutingDiffers { date, collector } => format!(
            "{}: both stores have this outing with different content; it stays as it is here. To take the \
             other one: trug remove --day {date}, then merge again",
            outing(date, collector.as_deref())
        ),
        MergeConflict::OutingRemoved { date, collector, change } => format!(
            "{}: the outing was removed here by change {change}; it is not added. To have it back: trug undo \
             {change}",
            outing(date, collector.as_deref())
        ),
        MergeConflict::FindsInAnotherOuting { date, collector, other_date } => format!(
            "{}: its finds belong to another outing here, of {other_date}; it is not added",
            outing(date, collector.as_deref())
        ),
        MergeConflict::Amendments(conflict) => amendments(conflict),
        MergeConflict::TrailheadPosition { name } => {
            format!("trailhead {name}: the stores have different positions; it stays as it is here")
        }
        MergeConflict::WeatherDays { station, days } => format!(
            "weather station {station}: days on which the stores have different values: {days}; they stay as \
             they are here"
        ),
        MergeConflict::Station { station, property } => {
            let what = match property {
                StationProperty::Position => "positions",
                StationProperty::Name => "names",
                StationProperty::Elevation => "elevations",
            };
            format!(
                "weather station {station}: the stores have different {what}; it stays as it is here"
            )
        }
        MergeConflict::BaseMap { path } => {
            format!("base map {path}: the stores have different contents; it stays as it is here")
        }
        MergeConflict::SiteNotMatched { name } => {
            format!("site {name}: its finds are in no site or in several here")
        }
        MergeConflict::SiteName { site, here, there } => {
            format!("site {} is named {here} here, {there} there", site.0)
        }
        MergeConflict::SiteNameTaken { site, name } => {
            format!("site {}: another site is named {name} here", site.0)
        }
    }
}

fn amendments(conflict: &AmendmentConflict) -> String {
    let AmendmentConflict { property, here_change, there_change, .. } = conflict;
    let later = if conflict.here_is_later { "the one here is" } else { "the one there is" };
    let some = |value: &str| if value.is_empty() { "nothing".to_owned() } else { value.to_owned() };
    format!(
        "{} {property}: {} here (change {here_change}), {} there (change {there_change}); {later} later and in \
         force",
        conflict.subject.as_deref().unwrap_or("a find"),
        some(&conflict.here),
        some(&conflict.there),
    )
}

fn outing(date: &str, collector: Option<&str>) -> String {
    match collector {
        Some(collector) => format!("{date}, {collector}"),
        None => date.to_owned(),
    }
}

fn shown(value: Option<&str>) -> &str {
    value.unwrap_or("nothing")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_lists_of_numbers_are_counted() {
        let numbers = (1..=8).map(|number| format!("R{number}")).collect();
        let note = import(&ImportNote::NumbersUsed { date: "2026-05-02".into(), numbers });
        assert!(
            note.starts_with("the numbers R1, R2, R3, R4, R5, R6 and 2 more are used"),
            "{note}"
        );
    }
}
