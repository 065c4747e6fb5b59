//! Writes the sortable tables of a season page: taxa, sites, outings. Layer: `present`.

use jiff::civil::Date;

use super::{OutingLine, SeasonSheet, SitePlace, TaxonLine};
use crate::present::fonts::Face;
use crate::present::markup::{Element, Elements};
use crate::present::scientific_name;
use crate::present::sheet::table::sorted;
use crate::units::Metres;

/// Headings with the taxon of their values.
type Headings<'a> = &'a [(&'static str, &'static str)];

fn table(caption: &str, headings: Headings<'_>, rows: impl Iterator<Item = Element>) -> Element {
    let head = headings.iter().map(|(words, kind)| {
        Element::new("th").set("scope", "col").set("data-kind", *kind).with_text(words)
    });
    let table = Element::new("table")
        .set("class", "sorts")
        .with(Element::new("caption").with_text(caption))
        .with(Element::new("thead").with(Element::new("tr").with_all(head)))
        .with(Element::new("tbody").with_all(rows));
    Element::new("div")
        .set("class", "wide")
        .set("role", "region")
        .set("aria-label", caption)
        .set("tabindex", "0")
        .with(table)
}

fn number(count: usize) -> Element {
    sorted(Some(count as f64), &count.to_string())
}

fn date(date: Option<Date>) -> Element {
    Element::new("td")
        .set("class", "date")
        .with_text(&date.map_or_else(String::new, |date| date.to_string()))
}

/// A name, in italics where required.
fn name(name: &str) -> Element {
    let words = scientific_name::words(name);
    let runs = words.chunk_by(|a, b| a.1 == b.1).map(|run| {
        let words: Vec<&str> = run.iter().map(|(word, _)| *word).collect();
        let element = if run[0].1 == Face::Italic { "i" } else { "span" };
        Element::new(element).with_text(&format!("{} ", words.join(" ")))
    });
    Element::new("bdi").with_all(runs)
}

/// How many of each taxon.
pub(super) fn taxa(sheet: &SeasonSheet) -> Element {
    let headings = [
        ("taxon", "text"),
        ("finds", "number"),
        ("outings", "number"),
        ("sites", "number"),
        ("first", "text"),
        ("last", "text"),
        ("finds in earlier years", "number"),
    ];
    table(
        "Finds of each taxon. Choose a heading to sort.",
        &headings,
        sheet.taxa.iter().map(taxon_row),
    )
}

fn taxon_row(line: &TaxonLine) -> Element {
    let called = match &line.name {
        Some(words) => {
            Element::new("th").set("scope", "row").set("class", "taxon").with(name(words))
        }
        None => Element::new("th")
            .set("scope", "row")
            .set("class", "taxon soft")
            .with_text("not determined"),
    };
    Element::new("tr")
        .with(called)
        .with(number(line.finds))
        .with(number(line.outings))
        .with(number(line.sites))
        .with(date(Some(line.first)))
        .with(date(Some(line.last)))
        .with(sorted(
            Some(line.before as f64),
            &if line.before == 0 { "none".to_owned() } else { line.before.to_string() },
        ))
}

/// The sites, with published positions.
pub(super) fn sites(sheet: &SeasonSheet) -> Element {
    if sheet.sites.is_empty() {
        return Element::new("p").with_text("No site was visited.");
    }
    // an empty column wastes space
    let named = sheet.sites.iter().any(|site| name_of(site).is_some());
    let headings: Vec<(&str, &str)> = [
        ("site", "number"),
        ("name", "text"),
        ("taxa", "text"),
        ("visits", "number"),
        ("searched", "number"),
        ("with find", "number"),
        ("last find", "text"),
        ("latitude", "number"),
        ("longitude", "number"),
        ("95 % radius", "number"),
    ]
    .into_iter()
    .filter(|(words, _)| named || *words != "name")
    .collect();
    table(
        "Sites visited. Choose a heading to sort.",
        &headings,
        sheet.sites.iter().map(|place| site(place, named)),
    )
}

/// The user's name for it, where it may be published.
fn name_of(place: &SitePlace) -> Option<&str> {
    place.line.name.as_deref().filter(|_| !place.nameless)
}

fn site(place: &SitePlace, named: bool) -> Element {
    let line = &place.line;
    let called = named.then(|| {
        Element::new("td").set("dir", "auto").with_text(name_of(place).unwrap_or_default())
    });
    let mut taxa = Elements::default();
    for (index, taxon) in line.taxa.iter().enumerate() {
        if index > 0 {
            taxa.push(Element::new("br"));
        }
        taxa.push(name(&scientific_name::without_authors(taxon)));
    }
    let degrees = |value: Option<f64>| {
        let words = value.map(|value| format!("{value:.*}", place.decimals));
        sorted(value, words.as_deref().unwrap_or("not given"))
    };
    Element::new("tr")
        .with(
            Element::new("th")
                .set("scope", "row")
                .set("data-value", line.site)
                .with_text(&line.site.to_string()),
        )
        .with_all(called)
        .with(Element::new("td").with(taxa))
        .with(number(line.visits))
        .with(number(line.visits_searched))
        .with(number(line.visits_with_find))
        .with(date(line.last))
        .with(degrees(place.place.map(|(at, _)| at.latitude())))
        .with(degrees(place.place.map(|(at, _)| at.longitude())))
        .with(sorted(
            place.place.map(|(_, radius)| radius.0),
            &place.place.map_or_else(String::new, |(_, radius)| radius.to_string()),
        ))
}

/// The outings in order.
pub(super) fn outings(sheet: &SeasonSheet) -> Element {
    let headings = [
        ("date", "text"),
        ("collector", "text"),
        ("time out", "number"),
        ("searched", "number"),
        ("distance", "number"),
        ("finds", "number"),
        ("taxa", "number"),
    ];
    table("Outings. Choose a heading to sort.", &headings, sheet.outings.iter().map(outing))
}

fn outing(line: &OutingLine) -> Element {
    let seconds = |time: Option<crate::units::Seconds>| {
        sorted(
            time.map(|time| time.0),
            &time.map_or_else(|| "no track".to_owned(), |t| t.to_string()),
        )
    };
    Element::new("tr")
        .with(
            Element::new("th")
                .set("scope", "row")
                .set("class", "date")
                .with_text(&line.date.to_string()),
        )
        .with(
            Element::new("td")
                .set("dir", "auto")
                .with_text(line.collector.as_deref().unwrap_or_default()),
        )
        .with(sorted(
            line.spent.map(|time| time.0),
            &line.spent.map_or_else(String::new, |time| time.to_string()),
        ))
        .with(seconds(line.searched))
        .with(sorted(
            line.length.map(|Metres(length)| length),
            &line.length.map_or_else(|| "no track".to_owned(), |length| length.to_string()),
        ))
        .with(number(line.finds))
        .with(number(line.taxa))
}
