//! Lists conflicts, finds without a position, rejected inputs and notes of a day. Layer: `present`.

use crate::error::Error;
use crate::model::Day;
use crate::present::markup::{Element, Elements};

pub(super) fn of(day: &Day) -> Elements {
    let conflicts: Vec<&Error> = day.conflicts.iter().map(|conflict| &conflict.report).collect();
    let unlocated: Vec<&Error> =
        day.finds.iter().filter_map(|find| Some(&find.place.as_ref().err()?.0)).collect();
    let parts = [
        ("Conflicts", conflicts),
        ("Not located", unlocated),
        ("Set aside", day.set_aside.iter().collect()),
        ("Notes", day.remarks.iter().collect()),
    ];
    let mut all = Elements::default();
    for (heading, errors) in parts {
        if errors.is_empty() {
            continue;
        }
        all.push(Element::new("h3").with_text(&format!("{heading} ({})", errors.len())));
        all.push(Element::new("ul").set("class", "reports").with_all(errors.into_iter().map(item)));
    }
    if all.is_empty() {
        all.push(Element::new("p").with_text("No conflicts, nothing set aside."));
    }
    all
}

fn item(error: &Error) -> Element {
    let mut item =
        Element::new("li").with(Element::new("b").set("dir", "auto").with_text(error.what()));
    if let Some(why) = error.why() {
        item =
            item.with(Element::new("p").set("dir", "auto").with_text(&format!("because: {why}")));
    }
    if let Some(hint) = error.advice() {
        let hint = format!("hint: {hint}");
        item =
            item.with(Element::new("p").set("class", "soft").set("dir", "auto").with_text(&hint));
    }
    item
}
