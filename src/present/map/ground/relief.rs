//! Draws hill shading as nested shapes and contours as lines, within a bounded number of vertices.
//! Layer: `present`.

use std::fmt::Write;

use super::labels::Label;
use super::outline::{self, TOLERANCE};
use super::style::{self, width};
use super::{DrawnGround, GroundKind};
use crate::earth::contours::{contours as lines_of, interval};
use crate::earth::height_grid::HeightGrid;
use crate::earth::hillshade::{NORTH_WEST, gradient, hillshade};
use crate::present::map::MapSheet;
use crate::present::markup::{Element, Elements};
use crate::present::style as palette;
use crate::present::svg::{self, Point};
use crate::units::Metres;

/// The step of the grid on paper, points.
pub(super) const FINEST: f64 = 2.0;
/// Loss of light against level ground, 0 to 1: each class lies on the one before.
const CLASSES: [f64; 12] = [0.04, 0.08, 0.12, 0.16, 0.21, 0.26, 0.32, 0.38, 0.45, 0.52, 0.6, 0.68];
/// The opacity of one class: a step that the eye does not take for a line; all twelve leave the paper three
/// quarters of its lightness.
const DARK: f64 = 0.025;
/// Slopes that are this steep or gentler are exaggerated to it (assumption: legible and still muted).
const SHOWN: f64 = 0.45;
/// The most exaggeration of slopes.
const MOST_EXAGGERATED: f64 = 4.0;
/// Vertices of the shading and of the contours at the most.
const MOST_VERTICES: usize = 24_000;
/// The reach of the shading's average, points.
const GENERAL: f64 = 4.0;
/// Shapes of the shading smaller than this are noise, square points.
const SMALLEST: f64 = 6.0;
/// Contours that end sooner are left out, points.
const SHORTEST: f64 = 5.0;

/// Draws the shading and returns by how much slopes are exaggerated.
pub(super) fn shading(grid: &HeightGrid, sheet: &MapSheet, drawn: &mut Elements) -> f64 {
    let exaggeration = exaggeration(grid);
    let mut steeper = grid.clone();
    steeper.heights.iter_mut().for_each(|height| *height *= exaggeration);
    let level = NORTH_WEST.altitude.radians().sin();
    let dark = |light: f64| if light.is_nan() { 0.0 } else { (level - light) / level };
    let mut values: Vec<f64> = hillshade(&steeper, NORTH_WEST).into_iter().map(dark).collect();
    for _ in 0..2 {
        values = blurred(&values, grid.columns, reach(grid, sheet));
    }
    let mut tolerance = 2.0 * TOLERANCE;
    loop {
        let (paths, vertices) = shapes(grid, &values, sheet, tolerance);
        if vertices <= MOST_VERTICES || tolerance > 4.0 {
            let mut group = svg::group().set("class", "shading");
            for path in paths.into_iter().filter(|path| !path.is_empty()) {
                group = group.with(
                    Element::new("path")
                        .set("d", path)
                        .set("fill-rule", "evenodd")
                        .set("fill", palette::INK)
                        .set("fill-opacity", DARK),
                );
            }
            drawn.push(group);
            return exaggeration;
        }
        tolerance *= 1.6;
    }
}

/// Nodes on each side over which the shading is averaged: forms smaller than that are noise on paper.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a few nodes")]
fn reach(grid: &HeightGrid, sheet: &MapSheet) -> usize {
    (GENERAL / sheet.points(grid.step)).round().clamp(1.0, 8.0) as usize
}

/// The mean over a square about each node (Imhof 1982: shading generalises the form).
fn blurred(values: &[f64], columns: usize, reach: usize) -> Vec<f64> {
    let rows = values.len() / columns.max(1);
    let mean = |count: usize, at: usize, value: &dyn Fn(usize) -> f64| {
        let (from, to) = (at.saturating_sub(reach), (at + reach + 1).min(count));
        (from..to).map(value).sum::<f64>() / (to - from) as f64
    };
    let across: Vec<f64> = (0..values.len())
        .map(|i| mean(columns, i % columns, &|column| values[i / columns * columns + column]))
        .collect();
    (0..values.len())
        .map(|i| mean(rows, i / columns, &|row| across[row * columns + i % columns]))
        .collect()
}

/// Gentle ground is shown steeper, so that its form is seen.
fn exaggeration(grid: &HeightGrid) -> f64 {
    let mut slopes: Vec<f64> = (0..grid.heights.len())
        .step_by(3)
        .filter_map(|index| gradient(grid, index % grid.columns, index / grid.columns))
        .map(|(east, north)| east.hypot(north))
        .collect();
    slopes.sort_unstable_by(f64::total_cmp);
    let steep = slopes.get(slopes.len() * 9 / 10).copied().unwrap_or(0.0);
    // level ground stays level: noise of a plain is no relief
    if steep < 0.01 { 1.0 } else { (SHOWN / steep).clamp(1.0, MOST_EXAGGERATED) }
}

fn shapes(
    grid: &HeightGrid,
    values: &[f64],
    sheet: &MapSheet,
    tolerance: f64,
) -> (Vec<String>, usize) {
    let builder = contour::ContourBuilder::new(grid.columns, grid.rows, true)
        .x_origin(grid.west - grid.step.0 / 2.0)
        .y_origin(grid.south - grid.step.0 / 2.0)
        .x_step(grid.step.0)
        .y_step(grid.step.0);
    let Ok(found) = builder.contours(values, &CLASSES) else { return (Vec::new(), 0) };
    let frame = sheet.frame.inset(-1.0);
    let mut vertices = 0;
    let class = |contour: &contour::Contour| {
        let mut path = String::new();
        for polygon in contour.geometry() {
            for ring in std::iter::once(polygon.exterior()).chain(polygon.interiors()) {
                let ring: Vec<Point> =
                    ring.coords().map(|at| sheet.on_paper(Metres(at.x), Metres(at.y))).collect();
                let ring = outline::ring_within(&ring, frame);
                if outline::double_area(&ring).abs() < 2.0 * SMALLEST {
                    continue;
                }
                let ring = outline::simplified(&ring, tolerance);
                vertices += ring.len();
                let _ = write!(path, "{}", outline::path(&ring, true));
            }
        }
        path
    };
    let paths = found.iter().map(class).collect();
    (paths, vertices)
}

/// Draws the contours at the interval that suits slope and scale; a longer one where they would be too
/// many to draw.
pub(super) fn contours(grid: &HeightGrid, sheet: &MapSheet, drawn: &mut DrawnGround) {
    let Some(mut step) = interval(grid, sheet.denominator) else { return };
    for _ in 0..6 {
        let (common, strong, labels) = contour_paths(grid, sheet, step);
        if common.1 + strong.1 > MOST_VERTICES {
            step = Metres(2.0 * step.0);
            continue;
        }
        if common.1 + strong.1 == 0 {
            return;
        }
        let lines = [(common.0, width::CONTOUR), (strong.0, width::INDEX)];
        for (path, wide) in lines.into_iter().filter(|(path, _)| !path.is_empty()) {
            drawn.drawn.push(
                Element::new("path")
                    .set("class", "contours")
                    .set("d", path)
                    .set("fill", "none")
                    .set("stroke", style::CONTOUR)
                    .set("stroke-width", wide)
                    .set("stroke-linejoin", "round"),
            );
        }
        drawn.labels.contours = labels;
        drawn.interval = Some(step);
        drawn.kinds.push(GroundKind::Contour);
        return;
    }
}

type Path = (String, usize);

fn contour_paths(
    grid: &HeightGrid,
    sheet: &MapSheet,
    interval: Metres,
) -> (Path, Path, Vec<Label>) {
    let (mut common, mut strong) = ((String::new(), 0), (String::new(), 0));
    let mut labels = Vec::new();
    let found = lines_of(grid, interval);
    // where few contours cross the map each of them has a figure
    let mut levels: Vec<i64> = found.iter().map(|contour| level(contour.height)).collect();
    levels.sort_unstable();
    levels.dedup();
    let strong_levels = found.iter().filter(|contour| contour.index).count();
    let all = levels.len() < 5 || strong_levels == 0;
    for contour in &found {
        let line: Vec<Point> =
            contour.line.iter().map(|(x, y)| sheet.on_paper(Metres(*x), Metres(*y))).collect();
        for part in outline::within(&line, sheet.frame.inset(-1.0)) {
            let long: f64 = part.windows(2).map(|pair| pair[0].distance(pair[1])).sum();
            if long < SHORTEST {
                continue;
            }
            let part = outline::simplified(&part, TOLERANCE);
            let into = if contour.index { &mut strong } else { &mut common };
            into.1 += part.len();
            into.0.push_str(&outline::path(&part, false));
            if contour.index || all {
                labels.push(Label { words: format!("{:.0}", contour.height.0), line: part });
            }
        }
    }
    (common, strong, labels)
}

#[allow(clippy::cast_possible_truncation, reason = "heights are whole metres")]
fn level(height: Metres) -> i64 {
    height.0.round() as i64
}
