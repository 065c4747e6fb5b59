//! Lists uncertain tracks, conflicts, finds without a position, rejected inputs and notes of a day. Layer: `present`.

use crate::error::Error;
use crate::model::Day;
use crate::present::markup::{Element, Elements};
use crate::present::summary;

use super::local_time;

/// Everything that a person has to decide or should know, the most serious kind first; a sentence where there is
/// nothing.
pub(super) fn of(day: &Day) -> Elements {
    let associations: Vec<Error> = day.associations.iter().map(summary::association).collect();
    let conflicts: Vec<&Error> = day.conflicts.iter().map(|conflict| &conflict.report).collect();
    let unlocated = day.finds.iter().filter_map(|find| find.place.as_ref().err());
    let unlocated: Vec<Error> = unlocated.map(Error::from).collect();
    let parts = [
        ("Tracks and finds", associations.iter().collect()),
        ("Conflicts", conflicts),
        ("Not located", unlocated.iter().collect()),
        ("Set aside", day.set_aside.iter().collect()),
        ("Notes", day.remarks.iter().collect()),
    ];
    let mut all = Elements::default();
    for (heading, errors) in parts {
        if errors.is_empty() {
            continue;
        }
        all.push(Element::new("h3").with_text(&format!("{heading} ({})", errors.len())));
        all.push(
            Element::new("ul")
                .set("class", "reports")
                .with_all(errors.into_iter().map(|error| item(error, day))),
        );
    }
    if all.is_empty() {
        all.push(Element::new("p").with_text("No conflicts, nothing set aside."));
    }
    all
}

fn item(error: &Error, day: &Day) -> Element {
    let what = local_time::of(error.what(), day);
    let mut item = Element::new("li").with(Element::new("b").with_own_direction(&what));
    if let Some(why) = error.why() {
        let why = format!("because: {}", local_time::of(why, day));
        item = item.with(Element::new("p").with_own_direction(&why));
    }
    if let Some(hint) = error.advice() {
        let hint = format!("hint: {}", local_time::of(hint, day));
        item = item.with(Element::new("p").set("class", "soft").with_own_direction(&hint));
    }
    item
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Association, AssociationKind};

    #[test]
    fn uncertain_tracks_are_listed_first() {
        let mut day = crate::present::fixture::day();
        day.associations.push(Association {
            kind: AssociationKind::TrackShared,
            records: 4,
            photographs: 0,
            collector: Some("Noel Brambletoft".into()),
            written_dates: Vec::new(),
            camera_dates: Vec::new(),
            gps_dates: Vec::new(),
            tracks: Vec::new(),
            none: 0.5,
        });
        let shown = of(&day).to_string();
        assert!(shown.contains("<h3>Tracks and finds (1)</h3>"), "{shown}");
        assert!(shown.contains("4 records of Noel Brambletoft are not placed"), "{shown}");
    }
}
