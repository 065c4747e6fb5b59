//! Lays out density maps: a block for each study area, effort beside the map, one legend. Layer: `present`.

use super::legend::{TALL, classes, legend};
use super::surface::panel;
use super::{Area, Measure, Sheet, class_step, summary, surface};
use crate::analyse::density::DensityMap;
use crate::earth::declination;
use crate::present::fonts::{self, Face};
use crate::present::map::furniture::{
    arrow_foot, arrow_room, north_arrow, scale_bar, scale_bar_long,
};
use crate::present::map::ground::MapGround;
use crate::present::map::{MapSheet, grid};
use crate::present::markup::Element;
use crate::present::style::{self, size};
use crate::present::summary::words::counted;
use crate::present::svg::{self, Frame, Letters, Point};
use crate::present::years::shade::Shade;
use crate::units::{Declination, Metres};

const WIDE: f64 = 482.0;
const LEFT: f64 = 14.0;
const TOP: f64 = 44.0;
const GAP: f64 = 10.0;
/// Room for the figures of the grid between a map and the effort beside it.
const GRID: f64 = 16.0;
/// The width of the effort beside a map.
const BESIDE: f64 = 150.0;
/// The most study areas that are drawn.
const AREAS: usize = 6;

/// One panel: its map, measure and place.
struct Placed<'a> {
    sheet: &'a Sheet,
    measure: Measure,
    paper: MapSheet,
    heading: String,
    shade: Option<&'a Shade>,
    ground: Option<&'a MapGround>,
}

/// The maps of all study areas with one colour scale, over hill shading where there is any.
#[must_use]
pub fn figure(
    title: &str,
    areas: &[Area],
    measure: Measure,
    (shades, grounds): (&[Option<Shade>], &[MapGround]),
) -> String {
    let drawn_areas = &areas[..areas.len().min(AREAS)];
    let step = class_step(highest(drawn_areas, measure));
    let effort_step = class_step(highest(drawn_areas, Measure::Effort));
    let mut down = TOP;
    let mut panels: Vec<Placed<'_>> = Vec::new();
    let mut bars = Vec::new();
    let mut headings = Vec::new();
    for (index, area) in drawn_areas.iter().enumerate() {
        if areas.len() > 1 {
            headings.push((down + 9.0, format!("{} {}", area.number, heading(area))));
            down += 16.0;
        }
        let under = (shades.get(index).and_then(Option::as_ref), grounds.get(index));
        let block = block(area, measure, under, down);
        let Some(first) = block.first() else { continue };
        bars.push((first.paper, declination_of(area, &first.paper), down_of(&block) + 21.0));
        down = down_of(&block) + 32.0;
        panels.extend(block);
    }
    let beside = panels.iter().any(|panel| panel.measure != measure);
    let high = down + 8.0 + TALL + if beside { 34.0 } else { 0.0 };
    let mut drawing = svg::described(WIDE, high, title, &description(areas))
        .with(svg::rectangle(Frame::new(0.0, 0.0, WIDE, high)).filled(style::PAPER))
        .with(svg::text(Point::new(LEFT, 20.0), title, Letters::new(size::TITLE).face(Face::Bold)))
        .with(subtitle(areas));
    for (at, words) in headings {
        let letters = Letters::new(size::HEADING).face(Face::Bold);
        drawing = drawing.with(svg::text(Point::new(LEFT, at), &words, letters));
    }
    for (index, placed) in panels.iter().enumerate() {
        let own = if placed.measure == measure { step } else { effort_step };
        let corner = placed.paper.frame.corner;
        if !placed.heading.is_empty() {
            let letters = Letters::new(size::BODY).face(Face::Bold);
            let at = Point::new(corner.x, corner.y - 4.0);
            drawing = drawing.with(svg::text(at, &placed.heading, letters));
        }
        let id = format!("density-{index}");
        let Placed { sheet, measure, paper, shade, ground, .. } = placed;
        drawing = drawing.with(panel(sheet, *measure, own, paper, &id, (*shade, *ground)));
    }
    for (paper, declination, at) in &bars {
        drawing = drawing.with_all(scale_line(paper, declination.as_ref(), *at));
    }
    let foot = down + 12.0;
    drawing = drawing.with(legend(Point::new(LEFT, foot), measure, step, areas));
    if beside {
        let at = Point::new(LEFT, foot + TALL - 4.0);
        let letters = Letters::new(size::BODY).face(Face::Bold);
        drawing = drawing.with(svg::text(at, Measure::Effort.band().0, letters)).with(classes(
            Point::new(LEFT, at.y + 6.0),
            Measure::Effort,
            effort_step,
            super::surface::classes_of(areas, Measure::Effort, effort_step),
        ));
    }
    if shades.iter().any(Option::is_some) {
        let words = "hill shading, light from the north-west; contours with heights in metres";
        let letters = Letters::new(size::SMALL).colour(style::SOFT_INK).anchor(svg::Anchor::End);
        drawing = drawing.with(svg::text(Point::new(WIDE - LEFT, high - 6.0), words, letters));
    }
    // areas apart have declinations of their own, beside their scales
    let declination = bars.first().filter(|_| bars.len() == 1).and_then(|bar| bar.1.as_ref());
    let (wide, tall) = arrow_room(declination);
    let room = Frame::new(WIDE - LEFT - wide, foot - 18.0, wide, tall);
    drawing.with(north_arrow(arrow_foot(room, declination), declination)).to_string()
}

/// What the maps show: a sentence for each.
fn description(areas: &[Area]) -> String {
    let of = |area: &Area| {
        let named = |sheet: &Sheet| format!("{}, {}.", area.name, summary(sheet));
        area.sheets.iter().map(named).collect::<Vec<_>>().join(" ")
    };
    areas.iter().map(of).collect::<Vec<_>>().join(" ")
}

/// The declination in the middle of an area on the day of the last walk there.
fn declination_of(area: &Area, paper: &MapSheet) -> Option<Declination> {
    area.last.and_then(|date| declination::at(paper.middle(), date).ok())
}

/// The scale bar of one area, and beside it scale, grid, datum and magnetic north in words.
fn scale_line(paper: &MapSheet, declination: Option<&Declination>, down: f64) -> Vec<Element> {
    let mut words = vec![format!("{} at print size", paper.scale())];
    words.extend(grid::grid(paper).map(|grid| grid.words));
    words.push("WGS 84, true north up".to_owned());
    words.extend(declination.map(|declination| {
        let half = if declination.east.0 < 0.0 { "W" } else { "E" };
        format!("magnetic north {:.0}\u{b0} {half}", declination.east.0.abs())
    }));
    let letters = Letters::new(size::SMALL).colour(style::SOFT_INK);
    let left = LEFT + scale_bar_long(paper, 80.0) + 10.0;
    let lines =
        fonts::lines(&words.join("  \u{b7}  "), Face::Regular, size::SMALL, WIDE - LEFT - left);
    let first = down + 2.5 - 4.5 * (lines.len() as f64 - 1.0);
    let drawn = lines
        .iter()
        .enumerate()
        .map(|(row, line)| svg::text(Point::new(left, first + 9.0 * row as f64), line, letters));
    std::iter::once(scale_bar(paper, Point::new(LEFT, down), 80.0)).chain(drawn).collect()
}

/// The ground that each map of a figure of this area alone shows, in the order of its identifiers, for
/// reading it back. Effort beside a map is not among them.
#[must_use]
pub fn grounds(area: &Area, measure: Measure) -> Vec<MapSheet> {
    let maps =
        block(area, measure, (None, None), TOP).into_iter().filter(|map| map.measure == measure);
    maps.map(|map| map.paper).collect()
}

/// The lower edge of a block.
fn down_of(block: &[Placed<'_>]) -> f64 {
    block.iter().map(|panel| panel.paper.frame.bottom()).fold(TOP, f64::max)
}

/// The highest value of all maps with a surface, where the evidence is not thin.
fn highest(areas: &[Area], measure: Measure) -> f64 {
    let sheets = areas.iter().flat_map(|area| &area.sheets);
    let drawn = sheets.filter(|sheet| surface(sheet, measure));
    let mut most = (0.0_f64, 0.0_f64);
    for sheet in drawn {
        for (value, evidence) in measure.values(&sheet.map).iter().zip(&sheet.map.evidence) {
            if !value.is_nan() {
                most.1 = most.1.max(*value);
                if *evidence >= 1.0 || measure == Measure::Effort {
                    most.0 = most.0.max(*value);
                }
            }
        }
    }
    if most.0 > 0.0 { most.0 } else { most.1 }
}

fn heading(area: &Area) -> String {
    let finds: usize = area.sheets.iter().map(|sheet| sheet.map.count).sum();
    let km: f64 = area.sheets.iter().map(|sheet| sheet.map.searched_km).sum();
    format!("{}: {}, {km:.1} km searched", area.name, counted(finds, "find", "finds"))
}

/// The panels of one area: its map with effort beside it, or one panel for each year.
fn block<'a>(
    area: &'a Area,
    measure: Measure,
    (shade, ground): (Option<&'a Shade>, Option<&'a MapGround>),
    top: f64,
) -> Vec<Placed<'a>> {
    let whole = WIDE - 2.0 * LEFT;
    let across: usize = match area.sheets.len() {
        0 | 1 => 1,
        2 | 4 => 2,
        _ => 3,
    };
    let alone = across == 1;
    let beside = alone && measure != Measure::Effort;
    let wide = match (alone, beside) {
        (true, true) => whole - BESIDE - GRID,
        (true, false) => whole,
        _ => (whole - GAP * (across as f64 - 1.0)) / across as f64,
    };
    let head = if alone && !beside { 0.0 } else { 12.0 };
    let Some(first) = area.sheets.first() else { return Vec::new() };
    let Some(fitted) = sheet_of(&first.map, Frame::new(LEFT, top + head, wide, 1.1 * wide)) else {
        return Vec::new();
    };
    let mut placed = Vec::new();
    for (index, sheet) in area.sheets.iter().enumerate() {
        let (column, row) = ((index % across) as f64, (index / across) as f64);
        let x = LEFT + column * (wide + GAP);
        let y = top + head + row * (fitted.frame.high + head + GAP);
        let paper = fitted.moved(Frame::new(x, y, wide, fitted.frame.high));
        let heading = match (alone, beside) {
            (true, true) => measure.band().0.to_owned(),
            (true, false) => String::new(),
            _ => format!("{}: {}", sheet.heading, counted(sheet.map.count, "find", "finds")),
        };
        placed.push(Placed { sheet, measure, paper, heading, shade, ground });
    }
    if beside {
        let frame = Frame::new(LEFT + wide + GRID, top + head, BESIDE, fitted.frame.high);
        if let Some(paper) = sheet_of(&first.map, frame) {
            let heading = format!("searched km per hectare, {}", paper.scale());
            placed.push(Placed {
                sheet: first,
                measure: Measure::Effort,
                paper,
                heading,
                shade: None,
                ground: None,
            });
        }
    }
    placed
}

fn subtitle(areas: &[Area]) -> Element {
    let sheets = || areas.iter().flat_map(|area| &area.sheets);
    let finds: usize = sheets().map(|sheet| sheet.map.count).sum();
    let km: f64 = sheets().map(|sheet| sheet.map.searched_km).sum();
    let each = |pick: fn(&DensityMap) -> f64| {
        let values = areas.iter().filter_map(|area| area.sheets.first()).map(|s| pick(&s.map));
        values.fold((f64::INFINITY, 0.0_f64), |(a, b), value| (a.min(value), b.max(value)))
    };
    let (least, most) = each(|map| map.bandwidth.metres);
    let kernel = if most - least > 0.5 {
        format!("{least:.0} to {most:.0} m")
    } else {
        format!("{most:.0} m")
    };
    let more = if areas.len() > AREAS {
        format!("; {} of {} study areas drawn", AREAS, areas.len())
    } else {
        String::new()
    };
    let words = format!(
        "{}, {km:.1} km searched; kernel of {kernel} bandwidth; exact positions: confidential{more}",
        counted(finds, "find", "finds")
    );
    svg::text(Point::new(LEFT, 34.0), &words, Letters::new(size::BODY).colour(style::SOFT_INK))
}

/// Fits the map to the searched area; the frame becomes no higher than that needs.
fn sheet_of(map: &DensityMap, frame: Frame) -> Option<MapSheet> {
    let grid = &map.grid;
    let searched = |index: &usize| !map.per_km[*index].is_nan();
    let cells: Vec<usize> = (0..map.per_km.len()).filter(searched).collect();
    let all: Vec<usize> = if cells.is_empty() { (0..map.per_km.len()).collect() } else { cells };
    let (mut west, mut east, mut south, mut north) = (usize::MAX, 0, usize::MAX, 0);
    for index in all {
        let (row, column) = (index / grid.columns, index % grid.columns);
        (west, east) = (west.min(column), east.max(column));
        (south, north) = (south.min(row), north.max(row));
    }
    let corners: Vec<_> = [(west, south), (east, south), (west, north), (east, north)]
        .into_iter()
        .map(|(column, row)| (map.place(grid.x(column), grid.y(row)), Metres(grid.cell)))
        .collect();
    MapSheet::fit(&corners, frame, 6.0, 60.0)
}
