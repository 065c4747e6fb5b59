//! Draws the interactive map of the day page: the day map with selectable marks that keep their size
//! when it is zoomed. Layer: `present`.

use crate::model::Day;
use crate::present::day_map::layers::{self, Kind, Layers};
use crate::present::map::names::Obstacles;
use crate::present::map::{MapSheet, grid};
use crate::present::markup::{Element, Elements};
use crate::present::scientific_name;
use crate::present::style;
use crate::present::svg::{self, Frame, Point};
use crate::present::{day_map, map};

const WIDE: f64 = 430.0;
const HIGHEST: f64 = 340.0;
const LOWEST: f64 = 210.0;

pub(super) fn of(day: &Day) -> Element {
    let frame = Frame::new(0.0, 0.0, WIDE, HIGHEST);
    let Some(sheet) = day_map::fit(day, frame, LOWEST) else {
        return Element::new("p").with_text("No map: no position is known on this day.");
    };
    let mut obstacles = Obstacles::default();
    let ground = layers::ground(day, &sheet, &mut obstacles);
    let arrow = day_map::arrow(day, &sheet, &mut obstacles);
    let names = layers::names(day, &sheet, &mut obstacles);
    let mut world = Elements::default();
    let grid = grid::grid(&sheet);
    if let Some(grid) = &grid {
        world.push(&grid.lines);
    }
    world.push(&ground.drawn);
    world.push(&names.drawn);
    world.extend(pins(day, &sheet));
    world.push(&ground.photos);
    let high = sheet.frame.high;
    let drawing = Element::new("svg")
        .set("id", "map")
        .set("viewBox", format_args!("0 0 {} {}", svg::short(WIDE), svg::short(high)))
        .set("font-family", style::FAMILY)
        .set("role", "group")
        .set(
            "aria-label",
            "Map of the day. Each find is a button; arrow keys pan, plus and minus zoom.",
        )
        .with(svg::rectangle(sheet.frame).filled(style::PAPER))
        .with(Element::new("g").set("id", "world").with(world))
        .with(arrow)
        .with(scale(&sheet));
    Element::new("div")
        .set("class", "map")
        .with(tools())
        .with(drawing)
        .with(legend(&ground, grid.map(|grid| grid.words)))
}

/// Buttons that the script shows when it runs.
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
    Element::new("div").set("class", "tools").set("hidden", "").with_all(buttons)
}

/// A find is a button with a large target.
fn pins<'a>(day: &'a Day, sheet: &'a MapSheet) -> impl Iterator<Item = Element> + 'a {
    let finds = day.finds.iter().enumerate();
    finds.filter_map(move |(index, find)| {
        let at = sheet.at(find.place.as_ref().ok()?.at);
        let words: Vec<&str> = scientific_name::words(find.record.name.as_deref().unwrap_or(""))
            .into_iter()
            .map(|(word, _)| word)
            .collect();
        let label = format!("{} {}", layers::number(find), words.join(" "));
        let target = svg::circle(Point::default(), 8.0).set("fill", "transparent");
        let mark = svg::group()
            .set("class", "choice")
            .set("data-find", index)
            .set("role", "button")
            .set("tabindex", "0")
            .set("aria-label", label.trim())
            .set("aria-pressed", "false")
            .with(target.set("class", "target"))
            .with(layers::find_mark());
        Some(svg::pin(at, mark))
    })
}

/// A scale bar that the script updates when the map is zoomed.
fn scale(sheet: &MapSheet) -> Element {
    let at = Point::new(8.0, sheet.frame.bottom() - 8.0);
    Element::new("g")
        .set("id", "scale")
        .set("data-metres", sheet.metres(1.0).0)
        .set("transform", format_args!("translate({} {})", svg::short(at.x), svg::short(at.y)))
        .with(map::furniture::scale_bar(sheet, Point::default(), 84.0))
}

fn legend(layers: &Layers, grid: Option<String>) -> Element {
    let words = |kind| match kind {
        Kind::Recorded => "as recorded",
        Kind::Aside => "fix set aside",
        Kind::Walk => "walking",
        Kind::Search => "searching",
        Kind::Stop => "stop",
        Kind::Gap => "gap in the track",
        Kind::Photo => "photograph",
        Kind::Find => "find with its 95 % circle",
        Kind::Conflict => "conflicting position, not used",
    };
    let mut kinds: Vec<Kind> = layers.kinds.iter().map(|(kind, _)| *kind).collect();
    kinds.insert(0, Kind::Find);
    let items = kinds.into_iter().map(|kind| {
        let picture = Element::new("svg")
            .set("viewBox", "-2 -8 20 16")
            .set("aria-hidden", "true")
            .with(layers::swatch(kind, Point::new(0.0, 0.0)));
        Element::new("li").with(picture).with(Element::new("span").with_text(words(kind)))
    });
    let list = Element::new("ul").set("class", "legend").with_all(items);
    let note = grid.map(|words| {
        Element::new("p")
            .set("class", "soft")
            .with_text(&format!("{words}; WGS 84, true north up."))
    });
    Element::new("div").with(list).with_all(note)
}
