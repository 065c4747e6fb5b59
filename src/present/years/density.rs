//! Draws density maps: classes on one scale, unsearched ground blank, contours of 50 % and 95 % of the
//! finds, scale bar, north arrow and legend. Layer: `present`.

use serde_json::{Value, json};

use super::shade::{self, Shade};
use super::sites::rounded;
use crate::analyse::density::DensityMap;
use crate::analyse::density::bandwidth::{Bandwidth, Origin};
use crate::analyse::density::isopleth::{level, outlines};
use crate::present::fonts::Face;
use crate::present::map::MapSheet;
use crate::present::map::furniture::{north_arrow, scale_bar};
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, Colour, line, size};
use crate::present::summary::words::counted;
use crate::present::svg::{self, Frame, Letters, Point, Stroke};
use crate::units::{LatLon, Metres};

/// Six classes from light to dark, distinguishable with colour blindness and in grey print: scheme `YlOrBr`
/// of Harrower & Brewer 2003, `ColorBrewer.org`, Cartographic Journal 40:27 (Apache licence 2.0).
pub(in crate::present) const CLASSES: [Colour; 6] = [
    Colour("#ffffd4"),
    Colour("#fee391"),
    Colour("#fec44f"),
    Colour("#fe9929"),
    Colour("#d95f0e"),
    Colour("#993404"),
];
/// Searched, (almost) nothing found.
const NOT_FOUND: Colour = Colour("#e4e8eb");

/// The mapped quantity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// Finds per searched kilometre.
    PerKm,
    /// Finds per hectare.
    Finds,
    /// Searched kilometres per hectare.
    Effort,
    /// Share among all finds relative to the whole map.
    Relative,
}

/// Class breaks of relative density, in powers of two.
const TIMES: [(f64, &str); 5] =
    [(0.25, "\u{bc}"), (0.5, "\u{bd}"), (1.0, "1"), (2.0, "2"), (4.0, "4 times")];

impl Measure {
    /// Its values; NaN where unknown.
    #[must_use]
    pub fn values(self, map: &DensityMap) -> Vec<f64> {
        let masked = |values: &[f64]| {
            values
                .iter()
                .zip(&map.per_km)
                .map(|(value, mask)| if mask.is_nan() { f64::NAN } else { *value })
                .collect()
        };
        match self {
            Self::PerKm => map.per_km.clone(),
            Self::Finds => masked(&map.finds),
            Self::Effort => masked(&map.effort),
            Self::Relative => map.relative.clone(),
        }
    }

    /// 0 for searched, nothing found, 1 to 6 for the classes, `None` for not searched.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
    fn class(self, value: f64, step: f64) -> Option<usize> {
        if value.is_nan() {
            None
        } else if self == Self::Relative {
            Some(TIMES.iter().filter(|(from, _)| value >= *from).count() + 1)
        } else if value < 0.1 * step {
            Some(0)
        } else {
            Some(((value / step).floor() as usize + 1).min(CLASSES.len()))
        }
    }

    /// The label at the left edge of each class.
    fn words(self, class: usize, step: f64) -> String {
        match (self, class) {
            (Self::Relative, 0) => "less".to_owned(),
            (Self::Relative, class) => TIMES[class - 1].1.to_owned(),
            _ => svg::short(step * class as f64),
        }
    }

    fn title(self) -> &'static str {
        match self {
            Self::PerKm => "finds per searched km",
            Self::Finds => "finds per hectare",
            Self::Effort => "searched km per hectare",
            Self::Relative => "share of all finds relative to the whole map",
        }
    }
}

/// One map with its heading and finds.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// For instance the year.
    pub heading: String,
    /// The densities.
    pub map: DensityMap,
    /// Positions of the finds.
    pub finds: Vec<LatLon>,
}

/// A map summarised in one line.
#[must_use]
pub fn summary(sheet: &Sheet) -> String {
    let map = &sheet.map;
    let searched: Vec<f64> = map.per_km.iter().copied().filter(|rate| !rate.is_nan()).collect();
    let peak = searched.iter().copied().fold(0.0, f64::max);
    let risk = map.relative.iter().copied().filter(|risk| !risk.is_nan());
    let (least, most) =
        risk.fold((f64::INFINITY, 0.0_f64), |(least, most), r| (least.min(r), most.max(r)));
    let relative = if least <= most {
        format!("; share of all finds {least:.2} to {most:.2} times that of the whole map")
    } else {
        String::new()
    };
    let caution =
        if few(sheet) { "; too few finds for a surface: figures show points only" } else { "" };
    format!(
        "{}: {}, {:.1} km searched, {:.1} ha searched; maximum {peak:.1} finds per \
         searched km{relative}{caution}",
        sheet.heading,
        counted(map.count, "find", "finds"),
        map.searched_km,
        searched.len() as f64 * map.grid.cell_area() / 1e4,
    )
}

/// The bandwidth as text.
#[must_use]
pub fn bandwidth(chosen: &Bandwidth) -> String {
    let how = match chosen.origin {
        Origin::Rule => {
            "by the rule of thumb: chosen, or too few finds or outings for cross-validation"
        }
        Origin::CrossValidation => "by cross-validation, leaving out one outing at a time",
        Origin::Stated => "as stated",
    };
    let held = if chosen.before_floor < chosen.floor {
        format!(" (raised from {:.0} m to the position uncertainty)", chosen.before_floor)
    } else {
        String::new()
    };
    format!("bandwidth {:.0} m {how}{held}", chosen.metres)
}

const WIDE: f64 = 482.0;
const TOP: f64 = 44.0;

/// The maps side by side with one colour scale and one map scale, over hill shading
/// where available; all must have the same grid.
#[must_use]
pub fn figure(title: &str, sheets: &[Sheet], measure: Measure, shade: Option<&Shade>) -> String {
    let Some(Layout { across, tall, grounds }) = layout(sheets) else {
        return svg::drawing(WIDE, 40.0, title).to_string();
    };
    let first = grounds[0];
    let values: Vec<Vec<f64>> = sheets.iter().map(|sheet| measure.values(&sheet.map)).collect();
    let drawn = values.iter().zip(sheets).filter(|(_, sheet)| surface(sheet, measure));
    let most = drawn.flat_map(|(v, _)| v).copied().filter(|v| !v.is_nan()).fold(0.0, f64::max);
    // the top class is open, so that one peak does not dominate the scale
    let step = class_step(most);
    let rows = sheets.len().div_ceil(across);
    let high = TOP + tall * rows as f64 + 74.0;
    let mut drawing = svg::drawing(WIDE, high, title)
        .with(svg::rectangle(Frame::new(0.0, 0.0, WIDE, high)).filled(style::PAPER))
        .with(svg::text(Point::new(14.0, 20.0), title, Letters::new(size::TITLE).face(Face::Bold)))
        .with(subtitle(sheets));
    for (index, (sheet, values)) in sheets.iter().zip(&values).enumerate() {
        let paper = grounds[index];
        let frame = paper.frame;
        if across > 1 {
            let words = format!("{}: {}", sheet.heading, counted(sheet.map.count, "find", "finds"));
            let letters = Letters::new(size::BODY).face(Face::Bold);
            drawing = drawing.with(svg::text(
                Point::new(frame.corner.x, frame.corner.y - 4.0),
                &words,
                letters,
            ));
        }
        let classes = classes(sheet, values, measure, step);
        drawing = drawing.with(panel(sheet, &classes, &paper, index, shade));
    }
    let foot = high - 62.0;
    if shade.is_some() {
        let at = Point::new(14.0, foot + 54.0);
        let words = "hill shading, light from the north-west";
        let letters = Letters::new(size::SMALL).colour(style::SOFT_INK);
        drawing = drawing.with(svg::text(at, words, letters));
    }
    drawing
        .with(legend(Point::new(14.0, foot), measure, step, sheets))
        .with(scale_bar(&first, Point::new(WIDE - 170.0, foot + 14.0), 80.0))
        .with(north_arrow(Point::new(WIDE - 24.0, foot + 28.0), None))
        .to_string()
}

/// The arrangement of maps side by side.
struct Layout {
    across: usize,
    /// The height of a row, points.
    tall: f64,
    grounds: Vec<MapSheet>,
}

/// `None` where there is nothing to show.
fn layout(sheets: &[Sheet]) -> Option<Layout> {
    const GAP: f64 = 10.0;
    let across = match sheets.len() {
        0 | 1 => 1,
        2 | 4 => 2,
        _ => 3,
    };
    let wide = (WIDE - 28.0 - GAP * (across as f64 - 1.0)) / across as f64;
    let (lowest, head) = if across == 1 { (200.0, 0.0) } else { (60.0, 12.0) };
    let whole = Frame::new(14.0, TOP, wide, wide * 1.1);
    let first = sheet_of(&sheets.first()?.map, whole, lowest)?;
    let tall = first.frame.high + head + GAP;
    let grounds = (0..sheets.len()).map(|index| {
        let (column, row) = ((index % across) as f64, (index / across) as f64);
        let corner = (14.0 + column * (wide + GAP), TOP + head + row * tall);
        first.moved(Frame::new(corner.0, corner.1, wide, first.frame.high))
    });
    Some(Layout { across, tall, grounds: grounds.collect() })
}

/// The ground that each map of a figure shows, for reading it back.
#[must_use]
pub fn grounds(sheets: &[Sheet]) -> Vec<MapSheet> {
    layout(sheets).map_or_else(Vec::new, |layout| layout.grounds)
}

/// Whether a colour is that of a class with finds.
#[must_use]
pub fn is_class(colour: &str) -> bool {
    CLASSES.iter().any(|class| class.0 == colour)
}

fn subtitle(sheets: &[Sheet]) -> Element {
    let finds: usize = sheets.iter().map(|sheet| sheet.map.count).sum();
    let km: f64 = sheets.iter().map(|sheet| sheet.map.searched_km).sum();
    let bandwidth = sheets.first().map_or(0.0, |sheet| sheet.map.bandwidth.metres);
    let words = format!(
        "{}, {km:.1} km searched; kernel of {bandwidth:.0} m bandwidth; exact positions: confidential",
        counted(finds, "find", "finds")
    );
    svg::text(Point::new(14.0, 34.0), &words, Letters::new(size::BODY).colour(style::SOFT_INK))
}

/// Fits the map to the searched area.
fn sheet_of(map: &DensityMap, frame: Frame, lowest: f64) -> Option<MapSheet> {
    let mut corners = Vec::new();
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
    for (column, row) in [(west, south), (east, south), (west, north), (east, north)] {
        corners.push((map.place(grid.x(column), grid.y(row)), Metres(grid.cell)));
    }
    MapSheet::fit(&corners, frame, 6.0, lowest)
}

fn panel(
    sheet: &Sheet,
    classes: &[Option<usize>],
    paper: &MapSheet,
    index: usize,
    shade: Option<&Shade>,
) -> Elements {
    let mut drawn = Elements::default();
    let id = format!("density-{index}");
    drawn.push(svg::clip(&id, paper.frame));
    let mut inside = svg::group().set("clip-path", format_args!("url(#{id})"));
    inside = inside.with(cells(&sheet.map, classes, paper));
    if let Some(shade) = shade {
        inside = inside.with(shadows(&sheet.map, shade, paper));
    }
    let lines = if few(sheet) { 0 } else { 2 };
    for (share, stroke) in [
        (0.95, Stroke::new(style::INK, line::FINE).dashed(3.0, 2.0)),
        (0.5, Stroke::new(style::INK, line::CURVE)),
    ]
    .into_iter()
    .take(lines)
    {
        inside = inside.with(isopleth(&sheet.map, share, stroke, paper));
    }
    for find in &sheet.finds {
        let dot = svg::circle(paper.at(*find), if lines == 0 { 1.8 } else { 0.9 })
            .filled(style::INK)
            .set("fill-opacity", 0.7);
        inside = inside.with(dot);
    }
    drawn.push(inside);
    let edge = Stroke::new(style::SOFT_INK, line::FINE);
    drawn.push(svg::rectangle(paper.frame).set("fill", "none").stroked(edge));
    drawn
}

/// The least number of finds for a surface; below it a map shows points (chosen).
const LEAST_FINDS: usize = 8;

/// Whether there are too few finds for a surface.
fn few(sheet: &Sheet) -> bool {
    sheet.map.count < LEAST_FINDS
}

/// Whether a surface is drawn; effort maps need no finds.
fn surface(sheet: &Sheet, measure: Measure) -> bool {
    measure == Measure::Effort || !few(sheet)
}

/// The class of each cell: with few finds only whether it was searched, and never "nothing found" at a find.
fn classes(sheet: &Sheet, values: &[f64], measure: Measure, step: f64) -> Vec<Option<usize>> {
    let map = &sheet.map;
    if !surface(sheet, measure) {
        return map.per_km.iter().map(|rate| (!rate.is_nan()).then_some(0)).collect();
    }
    let mut classes: Vec<Option<usize>> =
        values.iter().map(|value| measure.class(*value, step)).collect();
    if measure != Measure::Effort {
        for index in sheet.finds.iter().flat_map(|find| about(map, *find)) {
            classes[index] = classes[index].map(|class| class.max(1));
        }
    }
    classes
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

/// A round width of the classes under which the highest value is in the topmost of the six, which is open.
fn class_step(most: f64) -> f64 {
    let at_least = 0.9 * most / CLASSES.len() as f64;
    if !(at_least.is_finite() && at_least > 0.0) {
        return 1.0;
    }
    let power = 10_f64.powf(at_least.log10().floor());
    let round = [1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0];
    power * round.into_iter().find(|step| step * power >= at_least * (1.0 - 1e-9)).unwrap_or(10.0)
}

/// The colours of the classes.
fn cells(map: &DensityMap, classes: &[Option<usize>], paper: &MapSheet) -> Elements {
    let mut drawn = Elements::default();
    let colours = std::iter::once(NOT_FOUND).chain(CLASSES);
    let paths = paths(map, CLASSES.len() + 1, |index| classes[index], paper);
    for (path, colour) in paths.into_iter().zip(colours).filter(|(path, _)| !path.is_empty()) {
        // a hairline of the same colour closes seams between rows
        let seam = Stroke::new(colour, 0.3);
        drawn.push(Element::new("path").set("d", path).set("fill", colour).stroked(seam));
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

fn isopleth(map: &DensityMap, share: f64, stroke: Stroke, paper: &MapSheet) -> Elements {
    let mut drawn = Elements::default();
    let Some(level) = level(&map.finds, share) else { return drawn };
    for ring in outlines(&map.finds, &map.grid, level).into_iter().flatten() {
        let points: Vec<Point> = ring.iter().map(|(x, y)| paper.at(map.place(*x, *y))).collect();
        drawn.push(svg::polyline(&points, stroke));
    }
    drawn
}

fn legend(at: Point, measure: Measure, step: f64, sheets: &[Sheet]) -> Elements {
    let mut drawn = Elements::default();
    let letters = Letters::new(size::SMALL);
    let scaled = sheets.iter().any(|sheet| surface(sheet, measure));
    let title = if scaled { measure.title() } else { "too few finds for a surface: points only" };
    drawn.push(svg::text(at, title, Letters::new(size::BODY).face(Face::Bold)));
    let (wide, high) = (30.0, 9.0);
    let top = at.y + 6.0;
    let edge = Stroke::new(style::RAW, line::HAIR);
    for (index, colour) in CLASSES.iter().enumerate().filter(|_| scaled) {
        let left = at.x + wide * index as f64;
        drawn.push(svg::rectangle(Frame::new(left, top, wide, high)).filled(*colour).stroked(edge));
        drawn.push(svg::text(
            Point::new(left, top + high + 8.0),
            &measure.words(index, step),
            letters,
        ));
    }
    if scaled {
        let end = Point::new(at.x + wide * 6.0, top + high + 8.0);
        drawn.push(svg::text(end, "and more", letters));
    }
    let row = top + high + 16.0;
    let mut key = |x: f64, colour: Colour, words: &str| {
        drawn.push(svg::rectangle(Frame::new(x, row, 10.0, 8.0)).filled(colour).stroked(edge));
        drawn.push(svg::text(Point::new(x + 14.0, row + 7.0), words, letters));
    };
    if measure != Measure::Relative || !scaled {
        let mixed = sheets.iter().any(few);
        key(at.x, NOT_FOUND, if mixed { "searched" } else { "searched, nothing found" });
    }
    key(
        at.x + if measure == Measure::Relative && scaled { 0.0 } else { 84.0 },
        style::PAPER,
        "not searched",
    );
    if !sheets.iter().all(few) {
        let y = row + 4.0;
        let x = at.x + 186.0;
        drawn.push(svg::line(
            Point::new(x, y),
            Point::new(x + 16.0, y),
            Stroke::new(style::INK, line::CURVE),
        ));
        drawn.push(svg::text(Point::new(x + 19.0, y + 3.0), "50 % of the finds", letters));
        let dashed = Stroke::new(style::INK, line::FINE).dashed(3.0, 2.0);
        drawn.push(svg::line(Point::new(x + 80.0, y), Point::new(x + 96.0, y), dashed));
        drawn.push(svg::text(Point::new(x + 99.0, y + 3.0), "95 % of the finds", letters));
    }
    drawn
}

/// The contours of the given shares of the finds, RFC 7946: outer rings anticlockwise.
#[must_use]
pub fn contours(map: &DensityMap, shares: &[f64]) -> Value {
    let mut features = Vec::new();
    for share in shares {
        let Some(level) = level(&map.finds, *share) else { continue };
        let polygons: Vec<Value> = outlines(&map.finds, &map.grid, level)
            .iter()
            .map(|outline| {
                let rings: Vec<Value> = outline
                    .iter()
                    .enumerate()
                    .map(|(index, ring)| ring_of(map, ring, index == 0))
                    .collect();
                json!(rings)
            })
            .collect();
        features.push(json!({
            "type": "Feature",
            "geometry": {"type": "MultiPolygon", "coordinates": polygons},
            "properties": {
                "share": share,
                "finds_per_hectare": rounded(level, 6),
                "bandwidth_m": rounded(map.bandwidth.metres, 1),
                "finds": map.count,
            },
        }));
    }
    json!({"type": "FeatureCollection", "positions": "exact", "features": features})
}

fn ring_of(map: &DensityMap, ring: &[(f64, f64)], outer: bool) -> Value {
    let twice: f64 = ring.windows(2).map(|p| p[0].0 * p[1].1 - p[1].0 * p[0].1).sum();
    let turned = (twice > 0.0) != outer;
    let position = |at: &(f64, f64)| {
        let place = map.place(at.0, at.1);
        json!([rounded(place.longitude(), 6), rounded(place.latitude(), 6)])
    };
    let mut positions: Vec<Value> = ring.iter().map(position).collect();
    if turned {
        positions.reverse();
    }
    if positions.first() != positions.last() {
        positions.extend(positions.first().cloned());
    }
    json!(positions)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::density::kernel::{Grid, Mass};
    use crate::earth::equal_area::EqualArea;

    fn sheet(count: u32) -> Sheet {
        let plane = EqualArea::about(LatLon::clamped(-42.0, 146.0));
        let grid = Grid { west: -300.0, south: -300.0, cell: 10.0, columns: 60, rows: 60 };
        let bandwidth =
            Bandwidth { origin: Origin::Stated, metres: 30.0, before_floor: 30.0, floor: 5.0 };
        let ways: Vec<Mass> =
            (-20..=20).map(|i| Mass { x: 10.0 * f64::from(i), y: 0.0, weight: 10.0 }).collect();
        // all at one place except one far away
        let finds: Vec<Mass> = (0..count)
            .map(|i| Mass { x: if i == 0 { -150.0 } else { 100.0 }, y: 0.0, weight: 1.0 })
            .collect();
        let at = finds.iter().map(|m| plane.from_plane(m.x, m.y)).collect();
        let map = DensityMap::of(plane, grid, bandwidth, &finds, &ways);
        Sheet { heading: "2026".to_owned(), map, finds: at }
    }

    #[test]
    fn finds_are_never_in_the_not_found_class() {
        let sheet = sheet(200);
        let values = Measure::PerKm.values(&sheet.map);
        let step = class_step(values.iter().copied().filter(|v| !v.is_nan()).fold(0.0, f64::max));
        let classes = classes(&sheet, &values, Measure::PerKm, step);
        let of = |x: f64, y: f64| classes[sheet.map.grid.index(x, y).unwrap()];
        let value = values[sheet.map.grid.index(-150.0, 0.0).unwrap()];
        assert!(value < 0.1 * step, "{value} of {step}");
        assert_eq!((of(-150.0, 0.0), of(0.0, 0.0), of(100.0, 0.0)), (Some(1), Some(0), Some(6)));
        assert_eq!(of(0.0, 250.0), None);
    }

    #[test]
    fn few_finds_are_points_without_a_surface() {
        let few = figure("Mycena", &[sheet(3)], Measure::PerKm, None);
        assert!(few.contains("points only") && !few.contains(CLASSES[5].0), "{few}");
        assert!(!few.contains("nothing found") && summary(&sheet(3)).contains("too few finds"));
        let many = figure("Mycena", &[sheet(8)], Measure::PerKm, None);
        assert!(many.contains(CLASSES[5].0) && !many.contains("points only"));
    }

    #[test]
    fn the_highest_value_is_in_the_topmost_class() {
        for most in [0.03, 0.9, 1.0, 17.8, 25.0, 30.1, 512.0] {
            let step = class_step(most);
            assert!((5.0..=7.0).contains(&(most / step)), "{most}: {step}");
        }
        assert_eq!(class_step(f64::NAN), 1.0);
    }
}
