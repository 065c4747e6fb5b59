//! Draws the interactive map of the day page: the day map with selectable marks that keep their size
//! when it is zoomed. Layer: `present`.

use crate::earth::height_grid::GroundArea;
use crate::model::Day;
use crate::present::day_map::layers::{self, FIND_REACH, Kind, Layers};
use crate::present::day_map::naming::{Labels, Named};
use crate::present::map::ground::{DrawnGround, MapGround};
use crate::present::map::names::Obstacles;
use crate::present::map::{MapSheet, grid};
use crate::present::markup::{Element, Elements, Markup};
use crate::present::scientific_name;
use crate::present::style;
use crate::present::svg::{self, Frame, Point};
use crate::present::{day_map, map};

use super::map_grid;

const WIDE: f64 = 430.0;
const HIGHEST: f64 = 400.0;
const LOWEST: f64 = 290.0;
/// The height of the ground: on a telephone the map is 62 % of the screen's height.
const TALL: f64 = 640.0;
/// The room of the grid's figures inside the frame, points.
const FIGURES: f64 = 10.0;
/// About the length of the scale bar, points.
const BAR: f64 = 84.0;

/// The ground of the page's map; `None` where there is none.
pub(super) fn area(day: &Day) -> Option<GroundArea> {
    let frame = Frame::new(0.0, 0.0, WIDE, HIGHEST);
    day_map::fit(day, frame, LOWEST).map(|sheet| tall(sheet).area())
}

/// The same map as high as a telephone shows it.
fn tall(sheet: MapSheet) -> MapSheet {
    let beyond = (TALL - sheet.frame.high).max(0.0) / 2.0;
    let frame = sheet.frame;
    sheet.moved(Frame::new(
        frame.corner.x,
        frame.corner.y - beyond,
        frame.wide,
        frame.high + 2.0 * beyond,
    ))
}

pub(super) fn of(day: &Day, under: &MapGround) -> Element {
    let frame = Frame::new(0.0, 0.0, WIDE, HIGHEST);
    let Some(sheet) = day_map::fit(day, frame, LOWEST) else {
        return Element::new("div")
            .set("class", "map")
            .with(Element::new("p").with_text("No map: no position is known on this day."))
            .with_all(unlocated(day));
    };
    let mut obstacles = Obstacles::default();
    for frame in furniture(&sheet) {
        obstacles.block(frame);
    }
    let ground = layers::ground(day, &sheet, &mut obstacles);
    let (arrow, room) = day_map::arrow(day, &sheet, &mut obstacles);
    let labels = Labels::of(day, &sheet, &mut obstacles);
    let named = labels.draw();
    let grid = grid::grid(&sheet.moved(sheet.frame.inset(FIGURES)));
    let tall = tall(sheet);
    let terrain = map::ground::draw(under, &tall);
    let mut world = Elements::default();
    world.push(terrain.group());
    if let Some(grid) = &grid {
        world.push(svg::group().set("id", "grid").with(&grid.lines).with(&grid.figures));
    }
    let names = svg::group().set("id", "names").with(terrain.words(&tall, &mut obstacles));
    world.push(names);
    world.push(&ground.drawn);
    world.push(&named.drawn);
    world.extend(pins(day, &sheet));
    world.push(&ground.photos);
    let high = sheet.frame.high;
    let drawing = Element::new("svg")
        .set("id", "map")
        .set("viewBox", format_args!("0 0 {} {}", svg::short(WIDE), svg::short(high)))
        .set("font-family", style::FAMILY)
        .set("role", "group")
        .set("aria-label", "Map of the day: finds as buttons. Arrow keys go from find to find; with Shift they move the map; plus, minus and 0 zoom.")
        .set("data-metres", sheet.metres(1.0).0)
        .set_some("data-grid", map_grid::transfer(&sheet))
        .set("data-others", other_labels(&labels.others()))
        .with(Element::new("g").set("id", "world").with(world))
        .with(svg::group().set("id", "arrow").set("data-room", corners(room)).with(arrow))
        .with(scale(&sheet));
    Element::new("div")
        .set("class", "map")
        .with(drawing)
        .with(legend(&ground, grid.map(|grid| grid.words)))
        .with_all(terrain_legend(&terrain))
        .with(listed(&named))
        .with_all(off_the_map(day, &sheet))
        .with_all(unlocated(day))
}

/// Left, top, right and lower edge.
fn corners(frame: Frame) -> String {
    [frame.corner.x, frame.corner.y, frame.right(), frame.bottom()].map(svg::short).join(" ")
}

/// What stands on the map besides the day: the grid's figures and the scale bar.
pub(super) fn furniture(sheet: &MapSheet) -> [Frame; 3] {
    let frame = sheet.frame;
    [
        Frame::new(0.0, frame.bottom() - FIGURES, frame.wide, FIGURES),
        Frame::new(0.0, 0.0, FIGURES, frame.high),
        // a bar may be half as long again as wished; its figures are centred on its ends
        Frame::new(FIGURES, frame.bottom() - FIGURES - 18.0, 1.5 * BAR + 24.0, 18.0),
    ]
}

/// A find is a button; the one nearest to a tap is chosen.
fn pins<'a>(day: &'a Day, sheet: &'a MapSheet) -> impl Iterator<Item = Element> + 'a {
    let finds = day.finds.iter().enumerate();
    finds.filter_map(move |(index, find)| {
        let at = sheet.at(find.place.as_ref().ok()?.at);
        let words: Vec<&str> = scientific_name::words(find.record.name.as_deref().unwrap_or(""))
            .into_iter()
            .map(|(word, _)| word)
            .collect();
        let label = format!("{} {}", layers::number(find), words.join(" "));
        let mark = choice(index, label.trim());
        Some(svg::pin(at, mark))
    })
}

/// The mark of a find, of which the script makes a button with a ring: without it there is nothing to press. The
/// style sheet has its colours.
pub(super) fn choice(index: usize, label: &str) -> Element {
    let reach = FIND_REACH;
    svg::group().set("class", "choice").set("data-find", index).set("aria-label", label).with(
        Element::new("path").set("d", format_args!("M0-{reach}L{reach} 0 0 {reach}-{reach} 0z")),
    )
}

/// The labels of finds that have none at this scale, each as x, y and words: the script shows them where zooming makes
/// room.
fn other_labels(labels: &[(Point, String)]) -> String {
    let hundredth = |number: f64| (number * 100.0).round() / 100.0;
    let all = labels.iter().map(|(at, words)| (hundredth(at.x), hundredth(at.y), words));
    serde_json::to_string(&all.collect::<Vec<_>>()).unwrap_or_default()
}

/// A scale bar that the script updates when the map is zoomed.
fn scale(sheet: &MapSheet) -> Element {
    let at = Point::new(FIGURES + 10.0, sheet.frame.bottom() - FIGURES - 6.0);
    Element::new("g")
        .set("id", "scale")
        .set("transform", format_args!("translate({} {})", svg::short(at.x), svg::short(at.y)))
        .with(map::furniture::scale_bar(sheet, Point::default(), BAR))
}

/// What the marks of the ground mean.
fn terrain_legend(terrain: &DrawnGround) -> Option<Element> {
    let items = terrain.kinds.iter().map(|kind| {
        let sample = map::ground::legend_sample(*kind, Point::default());
        entry(sample, &map::ground::legend_words(terrain, *kind))
    });
    let list = Element::new("ul").set("class", "legend").with_all(items);
    (!terrain.kinds.is_empty()).then_some(list)
}

/// An entry of a legend: its sample and its words.
fn entry(sample: impl Markup, words: &str) -> Element {
    let picture =
        Element::new("svg").set("viewBox", "-2 -8 20 16").set("aria-hidden", "true").with(sample);
    Element::new("li").with(picture).with(Element::new("span").with_text(words))
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
    let items =
        kinds.into_iter().map(|kind| entry(layers::swatch(kind, Point::default()), words(kind)));
    let list = Element::new("ul").set("class", "legend").with_all(items);
    let words = match grid {
        Some(words) => format!("{words}, figures in metres; WGS 84, true north up."),
        None => "No grid this near to a pole; WGS 84, true north up.".to_owned(),
    };
    Element::new("div")
        .with(list)
        .with(Element::new("p").set("class", "soft").set("id", "grid-words").with_text(&words))
}

/// What the keys of crowds on the map stand for.
fn listed(named: &Named) -> Elements {
    let lines: Vec<Element> = named
        .listed
        .iter()
        .map(|listed| {
            let words = day_map::legend::listed(listed);
            Element::new("li").with_own_direction(&words)
        })
        .collect();
    let mut all = Elements::default();
    if !lines.is_empty() {
        all.push(Element::new("ul").set("class", "keys soft").with_all(lines));
    }
    all
}

/// Finds whose position is beyond the frame.
fn off_the_map(day: &Day, sheet: &MapSheet) -> Option<Element> {
    let off = day.finds.iter().enumerate().filter(|(_, find)| {
        find.place.as_ref().is_ok_and(|place| !sheet.frame.holds(sheet.at(place.at)))
    });
    links("Off this map: ", off.map(|(index, _)| index).collect(), day)
}

/// Finds without a position.
fn unlocated(day: &Day) -> Option<Element> {
    let without = day.finds.iter().enumerate().filter(|(_, find)| find.place.is_err());
    links("No position, not on the map: ", without.map(|(index, _)| index).collect(), day)
}

fn links(words: &str, finds: Vec<usize>, day: &Day) -> Option<Element> {
    if finds.is_empty() {
        return None;
    }
    let last = finds.len() - 1;
    let links = finds.into_iter().enumerate().map(|(place, index)| {
        Element::new("span").with(super::link(day, index)).with_text(if place == last {
            "."
        } else {
            ", "
        })
    });
    Some(Element::new("p").set("class", "without").with_text(words).with_all(links))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;

    #[test]
    fn finds_without_a_position_are_listed_below_the_map() {
        let page = of(&fixture::day(), &MapGround::default()).to_string();
        assert!(page.contains("No position, not on the map: "), "{page}");
        let (_, after) = page.split_once("No position").unwrap();
        assert!(after.contains("NBP 0220"), "{after}");
    }

    #[test]
    fn figures_of_the_grid_are_inside_the_frame_and_no_label_covers_them() {
        let day = fixture::day();
        let page = of(&day, &MapGround::default()).to_string();
        let (_, grid) = page.split_once("id=\"grid\"").unwrap();
        let (grid, _) = grid.split_once("</g>").unwrap();
        assert!(grid.matches("<text").count() >= 4, "{grid}");
        assert!(page.contains("data-grid=\""));
    }

    #[test]
    fn marks_are_named() {
        let day = fixture::day();
        let page = of(&day, &MapGround::default()).to_string();
        let located = day.finds.iter().filter(|find| find.place.is_ok()).count();
        assert_eq!(page.matches("class=\"choice\" data-find=").count(), located);
        assert!(!page.contains("role=\"button\""), "buttons are made by the script");
    }
}
