//! Draws the surface of a density map: cells by class, faded where the evidence is thin, the edge of the
//! searched ground, isopleths and finds. Layer: `present`.

use super::{Measure, Sheet, few, surface};
use crate::analyse::density::DensityMap;
use crate::analyse::density::isopleth::{Outline, level, outlines};
use crate::present::map::ground::{self, MapGround};
use crate::present::map::names::Obstacles;
use crate::present::map::{MapSheet, grid};
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, line};
use crate::present::svg::{self, Point, Stroke};
use crate::present::years::shade::{self, Shade};
use crate::units::LatLon;

/// The opacity of cells by evidence, and the finds expected below which it is used.
pub(super) const FADES: [(f64, f64); 3] = [(1.0, 0.3), (4.0, 0.6), (f64::INFINITY, 1.0)];

/// The map within its frame.
pub(super) fn panel(
    sheet: &Sheet,
    measure: Measure,
    step: f64,
    paper: &MapSheet,
    id: &str,
    (shade, ground): (Option<&Shade>, Option<&MapGround>),
) -> Elements {
    let mut drawn = Elements::default();
    drawn.push(svg::clip(id, paper.frame));
    let mut inside = svg::group().set("clip-path", format_args!("url(#{id})"));
    inside = inside.with(cells(sheet, measure, step, paper));
    if let Some(shade) = shade {
        inside = inside.with(shadows(&sheet.map, shade, paper));
    }
    let ground = ground.map(|ground| lines_of_ground(ground, sheet, paper));
    if let Some((lines, _)) = &ground {
        inside = inside.with(lines);
    }
    let grid = grid::grid(paper);
    if let Some(grid) = &grid {
        inside = inside.with(&grid.lines);
    }
    inside = inside.with(edge(&sheet.map, paper));
    if measure != Measure::Effort {
        if !few(sheet) {
            inside = inside.with(isopleths(&sheet.map, paper));
        }
        for find in &sheet.finds {
            inside = inside.with(dot(paper.at(*find), dot_radius(sheet)));
        }
    }
    if let Some((_, words)) = &ground {
        inside = inside.with(words);
    }
    drawn.push(inside);
    let edge = Stroke::new(style::SOFT_INK, line::FINE);
    drawn.push(svg::rectangle(paper.frame).set("fill", "none").stroked(edge));
    if let Some(grid) = grid {
        drawn.push(grid.figures);
    }
    drawn
}

/// The radius of the dot of a find.
pub(super) fn dot_radius(sheet: &Sheet) -> f64 {
    if few(sheet) { 1.8 } else { 0.9 }
}

/// The dot of a find with a white ring around it, so that it is seen on every class.
pub(super) fn dot(at: Point, radius: f64) -> Element {
    let ring = Stroke::new(style::PAPER, RING);
    svg::circle(at, radius + RING / 2.0).filled(style::INK).stroked(ring)
}

/// The width of the ring around a dot.
const RING: f64 = 0.6;

/// Contours, water, roads and paths over the cells, and their words over everything. No shading: grey elsewhere would look like
/// searched, nothing found.
fn lines_of_ground(ground: &MapGround, sheet: &Sheet, paper: &MapSheet) -> (Element, Elements) {
    let drawn = ground::draw_lines(ground, paper);
    let mut obstacles = Obstacles::default();
    for find in &sheet.finds {
        obstacles.mark(paper.at(*find), 1.8);
    }
    let words = drawn.words(paper, &mut obstacles);
    (drawn.group().set("opacity", 0.75), words)
}

/// The class of each cell: with few finds only whether it was searched, and never "nothing found" at a find.
pub(super) fn classes(sheet: &Sheet, measure: Measure, step: f64) -> Vec<Option<usize>> {
    let map = &sheet.map;
    if !surface(sheet, measure) {
        return map.per_km.iter().map(|rate| (!rate.is_nan()).then_some(0)).collect();
    }
    let mut classes: Vec<Option<usize>> =
        measure.values(map).iter().map(|value| measure.class(*value, step)).collect();
    if matches!(measure, Measure::PerKm | Measure::Finds) {
        for index in sheet.finds.iter().flat_map(|find| about(map, *find)) {
            classes[index] = classes[index].map(|class| class.max(1));
        }
    }
    classes
}

/// The lowest and the highest class that maps have.
pub(super) fn classes_of(areas: &[super::Area], measure: Measure, step: f64) -> (usize, usize) {
    let sheets = areas.iter().flat_map(|area| &area.sheets);
    let all = sheets.flat_map(|sheet| classes(sheet, measure, step)).flatten();
    all.fold(None, |ends: Option<(usize, usize)>, class| {
        Some(ends.map_or((class, class), |(low, high)| (low.min(class), high.max(class))))
    })
    .unwrap_or((0, 0))
}

/// The cells within half a bandwidth of a place.
#[allow(clippy::cast_possible_truncation, reason = "a few cells")]
fn about(map: &DensityMap, place: LatLon) -> Vec<usize> {
    let (x, y) = map.plane.to_plane(place);
    let reach = 0.5 * map.bandwidth.metres;
    let steps = (reach / map.grid.cell).ceil().clamp(1.0, 8.0) as i32;
    let mut cells: Vec<usize> = map.grid.index(x, y).into_iter().collect();
    for (east, north) in (-steps..=steps).flat_map(|e| (-steps..=steps).map(move |n| (e, n))) {
        let (dx, dy) = (f64::from(east) * map.grid.cell, f64::from(north) * map.grid.cell);
        if dx.hypot(dy) <= reach {
            cells.extend(map.grid.index(x + dx, y + dy));
        }
    }
    cells
}

/// How strongly a cell is drawn, an index into [`FADES`].
fn fade(map: &DensityMap, index: usize) -> usize {
    let evidence = map.evidence.get(index).copied().unwrap_or(0.0);
    FADES.iter().position(|(below, _)| evidence < *below).unwrap_or(FADES.len() - 1)
}

fn cells(sheet: &Sheet, measure: Measure, step: f64, paper: &MapSheet) -> Elements {
    let map = &sheet.map;
    let classes = classes(sheet, measure, step);
    let (colours, faded) = if surface(sheet, measure) {
        (measure.colours(), !matches!(measure, Measure::Effort | Measure::Error))
    } else {
        (vec![super::NOT_FOUND], false)
    };
    let mut drawn = Elements::default();
    for (strength, (_, opacity)) in FADES.iter().enumerate() {
        let of = |index: usize| {
            let own = if faded { fade(map, index) } else { FADES.len() - 1 };
            classes[index].filter(|_| own == strength)
        };
        let mut group = svg::group();
        if *opacity < 1.0 {
            group = group.set("opacity", opacity);
        }
        let paths = paths(map, colours.len(), of, paper);
        let mut any = false;
        for (path, colour) in paths.into_iter().zip(&colours).filter(|(path, _)| !path.is_empty()) {
            // a hairline of the same colour closes seams between rows
            let seam = Stroke::new(*colour, 0.3);
            group =
                group.with(Element::new("path").set("d", path).set("fill", colour).stroked(seam));
            any = true;
        }
        if any {
            drawn.push(group);
        }
    }
    drawn
}

/// Hill shading of searched ground: grey elsewhere would look like searched, nothing found.
fn shadows(map: &DensityMap, shade: &Shade, paper: &MapSheet) -> Elements {
    let mut drawn = Elements::default();
    let searched = |index: &usize| !map.per_km[*index].is_nan();
    let class = |index: usize| Some(index).filter(searched).and_then(|index| shade.class(index));
    let paths = paths(map, shade::CLASSES, class, paper);
    for (class, path) in paths.into_iter().enumerate().filter(|(_, path)| !path.is_empty()) {
        let dark = 0.06 * (class + 1) as f64;
        drawn.push(
            Element::new("path").set("d", path).set("fill", style::INK).set("fill-opacity", dark),
        );
    }
    drawn
}

/// Runs of cells of one class as one shape, all of a class in one path.
fn paths(
    map: &DensityMap,
    classes: usize,
    class: impl Fn(usize) -> Option<usize>,
    paper: &MapSheet,
) -> Vec<String> {
    let grid = &map.grid;
    let mut paths: Vec<String> = vec![String::new(); classes];
    for row in 0..grid.rows {
        let line: Vec<Option<usize>> =
            (0..grid.columns).map(|column| class(row * grid.columns + column)).collect();
        let mut start = 0;
        for run in line.chunk_by(|a, b| a == b) {
            if let Some(class) = run[0] {
                let corner = |column: usize, up: usize| {
                    let x = grid.west + column as f64 * grid.cell;
                    let y = grid.south + up as f64 * grid.cell;
                    paper.at(map.place(x, y))
                };
                let end = start + run.len();
                let points = [
                    corner(start, row),
                    corner(end, row),
                    corner(end, row + 1),
                    corner(start, row + 1),
                ];
                paths[class].push_str(&svg::path(&points));
                paths[class].push('Z');
            }
            start += run.len();
        }
    }
    paths
}

/// The edge of the searched ground.
fn edge(map: &DensityMap, paper: &MapSheet) -> Elements {
    let mut drawn = Elements::default();
    let mask: Vec<f64> =
        map.per_km.iter().map(|rate| if rate.is_nan() { 0.0 } else { 1.0 }).collect();
    let stroke = Stroke::new(style::SOFT_INK, line::HAIR);
    for points in lines(map, &mask, 0.5, paper) {
        drawn.push(svg::polyline(&points, stroke));
    }
    drawn
}

fn lines(map: &DensityMap, values: &[f64], level: f64, paper: &MapSheet) -> Vec<Vec<Point>> {
    outlines(values, &map.grid, level)
        .into_iter()
        .flatten()
        .map(|ring| ring.iter().map(|(x, y)| paper.at(map.place(*x, *y))).collect())
        .collect()
}

/// The strokes of the isopleths of 95 and 50 of 100 finds.
pub(super) fn isopleth_strokes() -> [(f64, Stroke); 2] {
    [
        (0.95, Stroke::new(style::INK, line::FINE).dashed(3.0, 2.0)),
        (0.5, Stroke::new(style::INK, line::CURVE)),
    ]
}

/// The parts of outlines within the searched ground: where an outline follows the edge of that, the line of the
/// edge stands for it.
pub(super) fn inner_parts(map: &DensityMap, outlines: Vec<Outline>) -> Vec<Vec<(f64, f64)>> {
    let searched =
        |x: f64, y: f64| map.grid.index(x, y).is_some_and(|cell| !map.per_km[cell].is_nan());
    let near = 0.49 * map.grid.cell;
    let inner = |(x, y): (f64, f64)| {
        [(-near, -near), (near, -near), (-near, near), (near, near)]
            .iter()
            .all(|(dx, dy)| searched(x + dx, y + dy))
    };
    let mut parts = Vec::new();
    for ring in outlines.into_iter().flatten() {
        let mut part: Vec<(f64, f64)> = Vec::new();
        for pair in ring.windows(2) {
            if inner(pair[0]) || inner(pair[1]) {
                if part.is_empty() {
                    part.push(pair[0]);
                }
                part.push(pair[1]);
            } else {
                parts.push(std::mem::take(&mut part));
            }
        }
        parts.push(part);
    }
    parts.retain(|part| part.len() > 1);
    parts
}

/// The isopleths, each on a white line so that it is seen on every class.
fn isopleths(map: &DensityMap, paper: &MapSheet) -> Elements {
    let mut drawn = Elements::default();
    for (share, stroke) in isopleth_strokes() {
        let Some(level) = level(&map.finds, share) else { continue };
        let rings: Vec<Vec<Point>> = inner_parts(map, outlines(&map.finds, &map.grid, level))
            .into_iter()
            .map(|part| part.iter().map(|(x, y)| paper.at(map.place(*x, *y))).collect())
            .collect();
        for points in &rings {
            drawn.push(svg::polyline(points, Stroke::new(style::PAPER, 3.0 * line::CURVE)));
        }
        for points in &rings {
            drawn.push(svg::polyline(points, stroke));
        }
    }
    drawn
}
