//! Writes the sortable table of finds. Layer: `present`.

use super::card;
use crate::model::{Day, Find};
use crate::present::markup::Element;
use crate::units::Seconds;

pub(super) fn of(day: &Day) -> Element {
    let headings = [
        ("number", "text"),
        ("time", "number"),
        ("name", "text"),
        ("place", "text"),
        ("substrate", "text"),
        ("host", "text"),
        ("container", "text"),
        ("95 % radius", "number"),
        ("photographs", "number"),
    ];
    let head = headings.map(|(words, kind)| {
        Element::new("th").set("scope", "col").set("data-kind", kind).with_text(words)
    });
    let rows = day.finds.iter().enumerate().map(|(index, find)| row(day, index, find));
    let table = Element::new("table")
        .set("id", "finds")
        .set("class", "sorts")
        .with(
            Element::new("caption")
                .with_text("All finds. Choose a heading to sort, a number to see the find."),
        )
        .with(Element::new("thead").with(Element::new("tr").with_all(head)))
        .with(Element::new("tbody").with_all(rows));
    Element::new("div")
        .set("class", "wide")
        .set("role", "region")
        .set("aria-label", "Table of finds")
        .set("tabindex", "0")
        .with(table)
}

fn row(day: &Day, index: usize, find: &Find) -> Element {
    let record = &find.record;
    let text =
        |words: Option<&str>| Element::new("td").with_own_direction(words.unwrap_or_default());
    let minutes =
        find.when.zip(day.outing.start).map(|((when, _), start)| Seconds::between(start, when).0);
    let radius = find.place.as_ref().ok().map(|place| place.radius);
    let photographs = find.photos.len();
    let count = if photographs == 0 { String::new() } else { photographs.to_string() };
    Element::new("tr")
        .set("data-row", index)
        .with(Element::new("th").set("scope", "row").with(super::link(day, index)))
        .with(sorted(minutes, &card::time(day, find).unwrap_or_default()))
        .with(Element::new("td").set("class", "name").with(card::name(find)))
        .with(text(record.place.as_deref()))
        .with(text(record.substrate.as_deref()))
        .with(text(record.host.as_deref()))
        .with(text(record.container.as_deref()))
        .with(sorted(
            radius.map(|radius| radius.metres().0),
            &radius.map_or_else(|| "no position".to_owned(), |radius| radius.to_string()),
        ))
        .with(sorted(Some(photographs as f64), &count))
}

/// A cell that is sorted by its value, not its text.
pub(super) fn sorted(value: Option<f64>, words: &str) -> Element {
    let rounded = value.map(|value| (value * 100.0).round() / 100.0);
    Element::new("td").set_some("data-value", rounded).with_text(words)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;
    use crate::present::sheet::STYLE;

    /// On a narrow screen the style names each value, since there are no headings.
    #[test]
    fn values_of_the_narrow_table_have_the_names_of_their_headings() {
        let page = of(&fixture::day()).to_string();
        let (head, _) = page.split_once("</thead>").unwrap();
        let headings = head.split("<th ").skip(1).map(|cell| cell.split_once('>').unwrap().1);
        for (place, heading) in headings.enumerate().filter(|(place, _)| ![0, 2].contains(place)) {
            let rule = format!("td:nth-child({})::before {{ content: \"{heading} \"", place + 1);
            assert!(STYLE.contains(&rule), "{rule}");
        }
    }
}
