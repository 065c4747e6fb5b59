//! Draws the card of one find: photographs, position with its error budget, record, conflicts. Layer:
//! `present`.

use super::{Thumbnails, anchor, local_time, policy};
use crate::earth::grid;
use crate::error::Error;
use crate::model::{Day, Field, Find, Located};
use crate::present::day_map::layers;
use crate::present::derived_time;
use crate::present::fonts::Face;
use crate::present::markup::{Element, Elements};
use crate::present::scientific_name;
use crate::present::summary::words;
use crate::units::Metres;

/// The photographs that are shown on a card.
pub(super) fn shown<'a>(
    find: &'a Find,
    thumbnails: &'a Thumbnails,
) -> impl Iterator<Item = (usize, &'a Vec<u8>)> {
    find.photos.iter().filter_map(|index| Some((*index, thumbnails.get(index)?)))
}

/// The card of the find at this index. Its parts are in the order in which a specimen is checked: number and name,
/// photographs, position and record, conflicts.
pub(super) fn of(day: &Day, index: usize, thumbnails: &Thumbnails) -> Element {
    let find = &day.finds[index];
    Element::new("article")
        .set("class", "card")
        .set("id", anchor(index))
        .with(
            Element::new("h3")
                .with(Element::new("b").set("class", "number").with_text(&layers::number(find)))
                .with(name(find)),
        )
        .with(photographs(day, find, thumbnails))
        .with(Element::new("dl").with(entries(day, find, thumbnails)))
        .with_all(conflicts(day, index))
}

/// The determined name, in italics where required.
pub(super) fn name(find: &Find) -> Element {
    let name = find.record.name.as_deref().map(str::trim).filter(|name| !name.is_empty());
    let Some(name) = name else {
        return Element::new("span").set("class", "soft").with_text("not determined ");
    };
    let words = scientific_name::words(name);
    let runs = words.chunk_by(|a, b| a.1 == b.1).map(|run| {
        let words: Vec<&str> = run.iter().map(|(word, _)| *word).collect();
        let element = if run[0].1 == Face::Italic { "i" } else { "span" };
        Element::new(element).with_text(&format!("{} ", words.join(" ")))
    });
    // isolates the text direction of the name
    Element::new("bdi").with_all(runs)
}

/// The photographs that are in the page, and how many are not.
fn photographs(day: &Day, find: &Find, thumbnails: &Thumbnails) -> Elements {
    let number = layers::number(find);
    let figures = shown(find, thumbnails).filter_map(|(index, jpeg)| {
        let file = day.photos.get(index)?.photo.name();
        let size = jpeg_size(jpeg);
        let picture = Element::new("img")
            .set("alt", format_args!("Photograph {file} of {number}"))
            .set_some("width", size.map(|(wide, _)| wide))
            .set_some("height", size.map(|(_, high)| high))
            .set("src", policy::jpeg(jpeg));
        let caption = Element::new("figcaption").with_text(&file);
        Some(Element::new("figure").with(picture).with(caption))
    });
    let figures: Vec<Element> = figures.collect();
    let missing = find.photos.len() - figures.len();
    let note = (missing > 0 && !thumbnails.is_empty()).then(|| {
        let words = format!(
            "{} not shown here",
            words::counted(missing, "photograph is", "photographs are")
        );
        Element::new("p").set("class", "soft").with_text(&words)
    });
    let mut all = Elements::default();
    all.push(Element::new("div").set("class", "photographs").with_all(figures));
    all.extend(note);
    all
}

/// Width and height of a JPEG in pixels, from its frame header (ITU-T T.81, B.2.2).
fn jpeg_size(jpeg: &[u8]) -> Option<(u16, u16)> {
    let mut at = 2;
    loop {
        let segment = jpeg.get(at..at + 4)?;
        let length = usize::from(u16::from_be_bytes([segment[2], segment[3]]));
        if segment[0] != 0xff || length < 2 {
            return None;
        }
        if matches!(segment[1], 0xc0..=0xc2) {
            let frame = jpeg.get(at + 5..at + 9)?;
            let number = |at: usize| u16::from_be_bytes([frame[at], frame[at + 1]]);
            return Some((number(2), number(0)));
        }
        at += 2 + length;
    }
}

fn entries(day: &Day, find: &Find, thumbnails: &Thumbnails) -> Elements {
    let record = &find.record;
    let mut entries = Entries::default();
    entries.add("time", time(day, find).as_deref());
    match &find.place {
        Ok(place) => position(&mut entries, day, find, place),
        Err(unlocated) => {
            let report = Error::from(unlocated);
            let why = local_time::of(report.why().unwrap_or(report.what()), day);
            entries.add("position", Some(&format!("no position: {why}")));
        }
    }
    let written = record.coordinates.as_ref().map(|written| written.verbatim.as_str());
    entries.add("as written", written);
    entries.add("place", record.place.as_deref());
    entries.add("substrate", record.substrate.as_deref());
    entries.add("host", record.host.as_deref());
    entries.add("habitat", record.habitat.as_deref());
    for (field, words) in &record.fields {
        entries.add(caption(field), Some(words));
    }
    entries.add("container", record.container.as_deref());
    // the title of the page states the collector of the outing
    let another = record.collector.as_deref().filter(|_| record.collector != day.outing.collector);
    entries.add("collector", another);
    entries.add("photographs", Some(&listed(day, find, thumbnails)));
    entries.0
}

/// The photographs by name; none where each is shown with its name below it.
fn listed(day: &Day, find: &Find, thumbnails: &Thumbnails) -> String {
    if shown(find, thumbnails).count() == find.photos.len() {
        return String::new();
    }
    let photos = find.photos.iter().filter_map(|index| day.photos.get(*index));
    photos.map(|photo| photo.photo.name()).collect::<Vec<_>>().join(", ")
}

/// The caption of a field.
fn caption(field: &Field) -> &str {
    match field {
        Field::Bruising => "bruising",
        Field::Latex => "latex",
        Field::Smell => "smell",
        Field::Taste => "taste",
        Field::SporePrint => "spore print",
        Field::Colour => "colour",
        Field::Quantity => "quantity",
        Field::IdentifiedBy => "determined by",
        Field::Notes => "notes",
        Field::Other(heading) => heading,
    }
}

fn position(entries: &mut Entries, day: &Day, find: &Find, place: &Located) {
    entries.add("position", Some(&format!("{} (WGS 84)", place.at)));
    entries.add("95 % radius", Some(&place.radius.to_string()));
    let parts: Vec<String> =
        place.parts.iter().map(|part| format!("{} {}", part.kind.words(), part.size)).collect();
    entries.add("radius from", Some(&parts.join(", ")));
    let used = find.anchors.iter().filter(|anchor| anchor.used);
    let basis: Vec<String> = used.map(|anchor| local_time::of_basis(&anchor.basis, day)).collect();
    entries.add("located by", Some(&basis.join("; ")));
    let side = if place.radius.metres().0 < 50.0 { 10.0 } else { 100.0 };
    entries.add("grid", Some(&grid::mgrs(place.at, Metres(side))));
    entries
        .add("height", place.height.map(|height| format!("{:.0} m (GPS)", height.0.0)).as_deref());
}

/// The local time, with its half width where that exceeds five minutes.
pub(super) fn time(day: &Day, find: &Find) -> Option<String> {
    let (when, half) = find.when?;
    let zone = &day.outing.zone.zone;
    if let Some(derived) = derived_time::differing(&find.record, (when, half), zone) {
        let date = find.record.date.unwrap_or(day.outing.date);
        let clock = find
            .record
            .time
            .map_or_else(String::new, |time| time.clock.strftime(", %H:%M").to_string());
        let derived = derived_time::words(derived);
        return Some(format!("{date}{clock} as written; {derived} derived"));
    }
    let clock = words::clock(when, zone);
    Some(if half.0 > 300.0 { format!("{clock} +- {half}") } else { clock })
}

fn conflicts(day: &Day, index: usize) -> Vec<Element> {
    day.conflicts
        .iter()
        .filter(|conflict| conflict.finds.contains(&index))
        .map(|conflict| {
            let words = local_time::of(conflict.report.what(), day);
            Element::new("p").set("class", "warns").with_text(&words)
        })
        .collect()
}

#[derive(Default)]
struct Entries(Elements);

impl Entries {
    fn add(&mut self, caption: &str, words: Option<&str>) {
        let Some(words) = words.map(str::trim).filter(|words| !words.is_empty()) else { return };
        self.0.push(
            Element::new("div")
                .with(Element::new("dt").with_text(caption))
                .with(Element::new("dd").with_own_direction(words)),
        );
    }
}
