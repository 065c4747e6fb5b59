//! Writes one day as a single HTML file that works offline, on a phone and on paper: order of
//! processing, map with finds and photographs, height and time of the walk, table, problems.
//!
//! It loads nothing: a strict content security policy lists the digests of its own style and program
//! and allows nothing else. All text from input files is escaped. Layer: `present`.
//!
//! # Size
//! Photographs take what the rest leaves of 490 KB for up to 36 of them and 1.48 MB for 300; nothing but their
//! pixels is taken over (`docs/day-sheet.md`).
//!
//! # Privacy
//! Positions are exact, and the page says so at its top.

mod activity;
mod attention;
mod card;
mod local_time;
mod map;
mod map_grid;
mod overview;
mod policy;
mod processing;
mod profile;
pub mod season;
mod table;
mod timeline;

use std::collections::HashMap;

use super::day_map;
use super::markup::{Element, Elements};
use crate::earth::height_grid::GroundArea;
use crate::model::Day;
use crate::present::map::ground::MapGround;
use crate::units::Timestamp;

/// Small JPEGs of photographs, by their index in [`Day::photos`].
pub type Thumbnails = HashMap<usize, Vec<u8>>;

const STYLE: &str = include_str!("style.css");
const PROGRAM: &str = include_str!("program.js");
/// Runs before anything is laid out, so that cards which are shown by choice never are.
const EARLY: &str = "document.documentElement.classList.add(\"js\")";

/// The sheet of a day. `now` is when it is made: containers are sorted by the hours until then.
#[must_use]
#[cfg(test)]
pub fn page(day: &Day, thumbnails: &Thumbnails, now: Timestamp, exact: &str) -> String {
    page_on(day, thumbnails, now, exact, &MapGround::default())
}

/// The ground within the frame of the page's map; `None` where there is no map.
#[must_use]
pub fn area(day: &Day) -> Option<GroundArea> {
    map::area(day)
}

/// The sheet of a day, its map on the ground of [`area`].
#[must_use]
pub fn page_on(
    day: &Day,
    thumbnails: &Thumbnails,
    now: Timestamp,
    exact: &str,
    ground: &MapGround,
) -> String {
    let title = day_map::title(day);
    let head = head(&title, policy::of(&[STYLE], &[EARLY, PROGRAM]));
    let body = Element::new("body")
        .with(header(day, &title, exact))
        .with(main(day, thumbnails, now, ground))
        .with(footer())
        .with(Element::new("script").with_verbatim(PROGRAM));
    let html = Element::new("html").set("lang", "en").with(head).with(body);
    format!("<!doctype html>\n{html}\n")
}

fn head(title: &str, policy: Element) -> Element {
    Element::new("head")
        .with(Element::new("meta").set("charset", "utf-8"))
        .with(policy)
        .with(
            Element::new("meta")
                .set("name", "viewport")
                .set("content", "width=device-width, initial-scale=1"),
        )
        .with(Element::new("meta").set("name", "referrer").set("content", "no-referrer"))
        .with(Element::new("meta").set("name", "generator").set("content", "trug"))
        .with(Element::new("title").with_text(title))
        .with(Element::new("style").with_verbatim(STYLE))
        .with(Element::new("script").with_verbatim(EARLY))
}

fn header(day: &Day, title: &str, exact: &str) -> Element {
    let parts = [
        ("#processing-part", "Processing"),
        ("#map-part", "Map"),
        ("#walk-part", "Walk"),
        ("#finds-part", "Finds"),
        ("#attention-part", "Attention"),
        ("#overview-part", "Figures"),
    ];
    let links = parts.map(|(target, words)| Element::new("a").set("href", target).with_text(words));
    let zone = format!("All times on this page: {}.", day.outing.zone.name);
    Element::new("header")
        .with(Element::new("h1").with_text(title))
        .with(Element::new("p").set("class", "soft").with_text(&day_map::subtitle(day)))
        .with(Element::new("p").set("class", "soft").with_text(&zone))
        .with(Element::new("p").with(Element::new("strong").with_text(exact)))
        .with(Element::new("nav").set("aria-label", "Parts of this sheet").with_all(links))
}

fn main(day: &Day, thumbnails: &Thumbnails, now: Timestamp, under: &MapGround) -> Element {
    let cards: Elements =
        (0..day.finds.len()).map(|index| card::of(day, index, thumbnails)).collect();
    let panel = Element::new("div")
        .set("id", "panel")
        .set("aria-live", "polite")
        .with(
            Element::new("p").set("id", "choose").set("class", "soft").set("hidden", "").with_text(
                "Choose a find on the map, among the photographs, on the walk or in the table.",
            ),
        )
        // where programs run this is text, of which a card is made when its find is chosen
        .with(Element::new("noscript").set("id", "cards").with(cards));
    // the script fills it with the photographs of the cards
    let strip = Element::new("div")
        .set("id", "strip")
        .set("role", "group")
        .set("aria-label", "Photographs in order of finds")
        .set("hidden", "");
    let ground = Element::new("div")
        .set("class", "ground")
        .with(strip)
        .with(map::of(day, under))
        .with(panel);
    let walk = Element::new("div")
        .set("class", "walk")
        .with(profile::of(day))
        .with(timeline::of(day))
        .with(activity::swatches());
    Element::new("main")
        .with(part("processing-part", "Order of processing", processing::of(day, now)))
        .with(part("map-part", "Map", Element::new("div").with(tools()).with(ground)))
        .with(part("walk-part", "Walk", later(walk)))
        .with(part("finds-part", "Finds", later(table::of(day))))
        .with(part("attention-part", "Needs attention", attention::of(day)))
        .with(part("overview-part", "The day in figures", overview::of(day)))
}

/// A filter and buttons, which the script shows when it runs.
fn tools() -> Element {
    let tools =
        [("in", "+", "Zoom in"), ("out", "\u{2013}", "Zoom out"), ("all", "All", "Show all")];
    let buttons = tools.map(|(action, sign, words)| {
        Element::new("button")
            .set("type", "button")
            .set("data-map", action)
            .set("aria-label", words)
            .set("title", words)
            .with_text(sign)
    });
    let filter = Element::new("label")
        .set("class", "filter")
        .with(Element::new("span").with_text("Filter finds by name, number, place or host"))
        .with(
            Element::new("input")
                .set("id", "filter")
                .set("type", "search")
                .set("autocomplete", "off"),
        );
    Element::new("div")
        .set("class", "tools")
        .set("hidden", "")
        .with_all(buttons)
        .with(filter)
        .with(Element::new("output").set("id", "matches").set("for", "filter"))
}

/// A part below the map: where programs run it is text until it is needed, so that the map answers soon.
fn later(content: impl super::markup::Markup) -> Element {
    Element::new("noscript").set("class", "later").with(content)
}

/// A drawing that scrolls sideways where the screen is narrow.
fn scrolling(words: &str, drawing: Element) -> Element {
    Element::new("div")
        .set("class", "wide")
        .set("role", "region")
        .set("aria-label", words)
        .set("tabindex", "0")
        .with(drawing)
}

/// A link that chooses a find.
fn link(day: &Day, index: usize) -> Element {
    Element::new("a")
        .set("href", format_args!("#{}", anchor(index)))
        .set("data-find", index)
        .with_text(&day_map::layers::number(&day.finds[index]))
}

fn part(id: &str, heading: &str, content: impl super::markup::Markup) -> Element {
    let title = format!("{id}-title");
    Element::new("section")
        .set("id", id)
        .set("aria-labelledby", &title)
        .with(Element::new("h2").set("id", &title).with_text(heading))
        .with(content)
}

fn footer() -> Element {
    let cautions = "Nothing here says that a fungus is edible. Positions are estimates with the \
        stated radius. Ask before you go on private land, keep to the rules of the reserve, and keep \
        places of rare species confidential.";
    let made =
        format!("Made by trug {}. This file holds everything it shows.", env!("CARGO_PKG_VERSION"));
    Element::new("footer")
        .with(Element::new("p").with_text(cautions))
        .with(Element::new("p").set("class", "soft").with_text(&made))
}

/// A find's anchor in the page.
fn anchor(index: usize) -> String {
    format!("find-{index}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Field, RecordNumber};
    use crate::present::fixture;

    fn now() -> Timestamp {
        "2026-05-02T08:00:00Z".parse().unwrap()
    }

    #[test]
    fn page_loads_no_external_resource() {
        let thumbnails = Thumbnails::from([(0, vec![0xff, 0xd8, 0xff])]);
        let page = page(&fixture::day(), &thumbnails, now(), "Exact positions.");
        assert!(page.contains("<strong>Exact positions.</strong>"));
        for word in ["src=\"http", "href=\"http", "url(http", "@import", "<link", "<iframe"] {
            assert!(!page.contains(word), "{word}");
        }
        assert!(page.contains("default-src &#39;none&#39;"));
        assert!(page.contains("src=\"data:image/jpeg;base64,/9j/\""));
        assert!(!page.contains(" style=\"") && !page.contains(" onclick"));
    }

    #[test]
    fn hostile_text_is_escaped() {
        let hostile = "</script><script>alert(1)</script>\u{202e}\"'><img src=x onerror=alert(1)>";
        let mut day = fixture::day();
        day.outing.collector = Some(hostile.into());
        for find in &mut day.finds {
            find.record.number = Some(RecordNumber(hostile.into()));
            find.record.name = Some(hostile.into());
            find.record.container = Some(hostile.into());
            find.record.fields.insert(Field::Other(hostile.into()), hostile.into());
        }
        let page = page(&day, &Thumbnails::new(), now(), "Exact positions.");
        assert_eq!(page.matches("<script").count(), 2);
        assert_eq!(page.matches("</script").count(), 2);
        assert!(!page.contains("<img src=x"));
    }

    #[test]
    fn every_find_has_a_card_a_row_and_those_located_a_pin() {
        let day = fixture::day();
        let page = page(&day, &Thumbnails::new(), now(), "Exact positions.");
        for (index, find) in day.finds.iter().enumerate() {
            assert!(page.contains(&format!("id=\"find-{index}\"")));
            let pins = page.matches(&format!("data-find=\"{index}\"")).count();
            assert!(pins >= if find.place.is_ok() { 3 } else { 1 }, "{index}: {pins}");
        }
    }

    #[test]
    fn empty_day_gives_a_page() {
        let mut day = fixture::day();
        day.track.clear();
        day.fixes.clear();
        day.stops.clear();
        day.photos.clear();
        day.finds.clear();
        day.cameras.clear();
        let page = page(&day, &Thumbnails::new(), now(), "Exact positions.");
        assert!(page.contains("no position is known"));
    }
}
