//! Draws the page of a collecting area, A5 landscape: for each square of the map grid an arrow, a
//! bearing and a distance in large type. Layer: `present`.

use super::text::{cell_name, light_of};
use crate::earth::grid;
use crate::present::fonts::{self, Face};
use crate::present::map::furniture;
use crate::present::map::ground::outline;
use crate::present::markup::{Element, Elements};
use crate::present::round::walked as walked_words;
use crate::present::style::{self, line};
use crate::present::svg::{self, Anchor, Frame, Letters, POINTS_PER_MILLIMETRE, Point, Stroke};
use crate::units::{LatLon, Metres};
use crate::wayout::area::{AreaCell, AreaPage};

const WIDE: f64 = 210.0 * POINTS_PER_MILLIMETRE;
const HIGH: f64 = 148.0 * POINTS_PER_MILLIMETRE;
const MARGIN: f64 = 20.0;
/// Ink stays this far from the edge, which every printer reaches.
const PRINTABLE: f64 = 12.0 * POINTS_PER_MILLIMETRE;
/// The page is laid out to its margin and drawn at this scale.
const SCALE: f64 = 0.9;
/// The first line of the words above the squares, and the distance between lines.
const WORDS: (f64, f64) = (40.0, 9.0);
const FOOT: f64 = 16.0;
/// The least size of type, 6 points as printed; that of the lines below the squares, and their distance.
const LEAST: f64 = 6.0 / SCALE;
const FACT: f64 = 7.2;
const LINE: f64 = 9.0;

/// The page as SVG, with the lines that were walked.
#[must_use]
pub fn drawing(page: &AreaPage, walked: &[Vec<LatLon>]) -> String {
    let mut drawn = Elements::default();
    let top = head(&mut drawn, page);
    let lines = foot_lines(page);
    let below = FOOT + LINE * lines.len() as f64;
    let room =
        Frame::new(MARGIN + 14.0, top, WIDE - 2.0 * MARGIN - 64.0, HIGH - top - below - 13.0);
    let (columns, rows) = (page.columns.max(1) as f64, page.rows.len().max(1) as f64);
    let side = (room.wide / columns).min(room.high / rows);
    let left = room.corner.x + (room.wide - side * columns) / 2.0;
    let squares = Squares { of: page, left, side, foot: top + side * rows };
    let frame = Frame::new(left, top, side * columns, side * rows);
    drawn.push(squares.walked(walked, frame));
    drawn.push(squares.trailheads(frame));
    for (row, cells) in page.rows.iter().enumerate() {
        for (column, cell) in cells.iter().enumerate() {
            let frame =
                Frame::new(left + side * column as f64, top + side * row as f64, side, side);
            drawn.push(cell_drawn(page, cell, frame, &cell_name(column, row)));
        }
    }
    figures_of_lines(&mut drawn, page, Point::new(left, top + side * rows), side);
    let foot_of_arrow = Point::new(WIDE - MARGIN - 40.0, top + 44.0);
    let turn = format!(
        "rotate({} {} {})",
        svg::short(-page.convergence.0.0),
        svg::short(foot_of_arrow.x),
        svg::short(foot_of_arrow.y)
    );
    drawn.push(
        svg::group()
            .set("transform", turn)
            .with(furniture::north_arrow(foot_of_arrow, Some(&page.declination))),
    );
    foot(&mut drawn, &lines);
    let inset = ((WIDE - SCALE * WIDE) / 2.0, PRINTABLE - SCALE * 15.0);
    let place = format!(
        "translate({} {}) scale({})",
        svg::short(inset.0),
        svg::short(inset.1),
        svg::short(SCALE)
    );
    svg::drawing(WIDE, HIGH, "Way out of the whole area")
        .with(svg::rectangle(Frame::new(0.0, 0.0, WIDE, HIGH)).filled(style::PAPER))
        .with(svg::group().set("transform", place).with(drawn))
        .to_string()
}

/// The squares on paper.
struct Squares<'a> {
    of: &'a AreaPage,
    left: f64,
    side: f64,
    /// The southern edge.
    foot: f64,
}

impl Squares<'_> {
    /// A place on paper; `None` in another zone of the grid.
    fn at(&self, place: LatLon) -> Option<Point> {
        let (grid, corner) = (grid::utm(place), self.of.corner);
        let same = grid.zone() == corner.zone() && grid.is_north() == corner.is_north();
        let points = |metres: f64| metres * self.side / self.of.side.0;
        same.then(|| {
            let east = grid.easting().0 - corner.easting().0;
            let north = grid.northing().0 - corner.northing().0;
            Point::new(self.left + points(east), self.foot - points(north))
        })
    }

    /// Lines that were walked, below everything.
    fn walked(&self, lines: &[Vec<LatLon>], frame: Frame) -> Element {
        let mut path = String::new();
        for line in lines {
            let points: Vec<Point> = line.iter().filter_map(|place| self.at(*place)).collect();
            for part in outline::within(&outline::simplified(&points, 0.4), frame) {
                path.push_str(&outline::path(&part, false));
            }
        }
        // paler than every figure that lies above them
        let stroke = Stroke::new(style::FAINT, line::CURVE);
        Element::new("path")
            .set("class", "walked")
            .set("d", path)
            .set("fill", "none")
            .stroked(stroke)
    }

    /// Trailheads at their places, below the bearings: no figure may be covered.
    fn trailheads(&self, frame: Frame) -> Elements {
        let mut drawn = Elements::default();
        for goal in &self.of.goals {
            let Some(at) = self.at(goal.at).filter(|at| frame.holds(*at)) else { continue };
            let mark = Frame::new(at.x - 5.0, at.y - 5.0, 10.0, 10.0);
            let edge = Stroke::new(style::INK, line::FINE);
            drawn.push(
                svg::rectangle(mark).set("class", "trailhead").filled(style::RAW).stroked(edge),
            );
        }
        drawn
    }
}

/// Eastings below the lines between columns, northings to the left of those between rows, as a map
/// has them; `below` is the south-west corner.
fn figures_of_lines(drawn: &mut Elements, page: &AreaPage, below: Point, side: f64) {
    let letters = Letters::new(LEAST).colour(style::SOFT_INK);
    for line in 0..=page.columns {
        let metres = page.corner.easting().0 + page.side.0 * line as f64;
        let at = below.plus(side * line as f64, 8.0);
        drawn.push(svg::text(at, &kilometres(metres), letters.anchor(Anchor::Middle)));
    }
    for line in 0..=page.rows.len() {
        let metres = page.corner.northing().0 + page.side.0 * line as f64;
        let at = below.plus(-3.0, 2.2 - side * line as f64);
        drawn.push(svg::text(at, &kilometres(metres), letters.anchor(Anchor::End)));
    }
}

/// `447.5`: grid kilometres, as labelled on grid lines.
fn kilometres(metres: f64) -> String {
    let tenths = (metres / 100.0).round();
    if tenths % 10.0 == 0.0 {
        format!("{:.0}", tenths / 10.0)
    } else {
        format!("{:.1}", tenths / 10.0)
    }
}

/// The words above the squares; returns the upper edge of the squares.
fn head(drawn: &mut Elements, page: &AreaPage) -> f64 {
    drawn.push(svg::text(
        Point::new(MARGIN, 30.0),
        "Without a receiver: compass bearing from your square",
        Letters::new(14.0).face(Face::Bold),
    ));
    let half = if page.declination.east.0 < 0.0 { "W" } else { "E" };
    let line = if page.has_lines { " or the nearest safe line" } else { "" };
    let of = page.corner;
    let zone = match (of.zone(), of.is_north()) {
        (0, _) => "the polar grid (UPS)".to_owned(),
        (zone, true) => format!("UTM zone {zone} north"),
        (zone, false) => format!("UTM zone {zone} south"),
    };
    let to = match page.goals.as_slice() {
        [goal] => format!("{}{line}", goal.name),
        _ => format!("the nearest trailhead{line}"),
    };
    let words = format!(
        "Compass bearings (declination {:.0}\u{b0} {half}, {}) from the middle of a square of {} to {to}; \u{b1}: elsewhere in the square. Squares, figures in km and the top of the page: {zone}, WGS 84. Small: 100 m figures of the middle.{}",
        page.declination.east.0.abs(),
        page.declination.date,
        page.side,
        marks(page),
    );
    let lines = fonts::lines(&words, Face::Regular, 7.6, WIDE - 2.0 * MARGIN);
    for (index, line) in lines.iter().enumerate() {
        let at = Point::new(MARGIN, WORDS.0 + WORDS.1 * index as f64);
        drawn.push(svg::text(at, line, Letters::new(7.6)));
    }
    WORDS.0 + WORDS.1 * lines.len() as f64 + 2.0
}

/// What the grey marks are, and the names of several trailheads by their numbers.
fn marks(page: &AreaPage) -> String {
    let mut words = match page.goals.len() {
        0 => " Grey: tracks.".to_owned(),
        1 => " Grey: tracks; grey square: trailhead.".to_owned(),
        _ => " Grey: tracks; grey squares: trailheads.".to_owned(),
    };
    if page.goals.len() > 1 {
        let named = page.goals.iter().enumerate();
        let named: Vec<String> =
            named.map(|(index, goal)| format!("T{} {}", index + 1, goal.name)).collect();
        words.push(' ');
        words.push_str(&named.join(", "));
        words.push('.');
    }
    words
}

/// Where a square leads to, for a page with several goals.
fn target(page: &AreaPage, cell: &AreaCell) -> Option<String> {
    match (cell.goal, page.goals.len()) {
        (None, 0) | (Some(_), 1) if !page.has_lines || page.goals.is_empty() => None,
        (None, _) => Some("to the line".to_owned()),
        (Some(_), 1) => Some("to the trailhead".to_owned()),
        (Some(goal), _) => Some(format!("to T{}", goal + 1)),
    }
}

fn cell_drawn(page: &AreaPage, cell: &AreaCell, frame: Frame, name: &str) -> Element {
    let side = frame.wide;
    let middle = frame.middle();
    let (sine, cosine) = cell.grid_bearing.radians().sin_cos();
    let long = side * 0.17;
    let centre = middle.plus(0.0, -side * 0.19);
    let along =
        |by: f64, aside: f64| centre.plus(sine * by + cosine * aside, -cosine * by + sine * aside);
    let head = [along(long, 0.0), along(long * 0.2, long * 0.42), along(long * 0.2, -long * 0.42)];
    let small = (side * 0.1).clamp(LEAST, 7.4);
    let mut drawn = svg::group().with(
        svg::rectangle(frame).set("fill", "none").stroked(Stroke::new(style::SOFT_INK, line::HAIR)),
    );
    if cell.here {
        drawn = drawn.with(here(page, cell, frame));
    } else {
        let arrow = Stroke::new(style::INK, line::STRONG);
        drawn = drawn
            .with(svg::line(along(-long, 0.0), along(long * 0.3, 0.0), arrow))
            .with(svg::polygon(&head, style::INK))
            .with(leading(page, cell, frame));
    }
    drawn
        .with(svg::text(
            Point::new(frame.right() - 2.0, frame.corner.y + small + 1.0),
            figures(&cell.mgrs),
            Letters::new(small).anchor(Anchor::End).colour(style::SOFT_INK).rimmed(),
        ))
        .with(svg::text(
            frame.corner.plus(2.0, small + 1.0),
            name,
            Letters::new(small).face(Face::Bold).colour(style::SOFT_INK).rimmed(),
        ))
}

/// Bearing and distance with their range over the square, and the goal.
fn leading(page: &AreaPage, cell: &AreaCell, frame: Frame) -> Elements {
    let (side, middle) = (frame.wide, frame.middle());
    let mut drawn = Elements::default();
    let mut write = |y: f64, words: &str, size: f64, face: Face| {
        let size = fitting(words, face, size, side - 3.0);
        let letters = Letters::new(size).face(face).anchor(Anchor::Middle).rimmed();
        drawn.push(svg::text(middle.plus(0.0, side * y), words, letters));
    };
    let degrees = cell.magnetic_bearing.degrees().0.round() % 360.0;
    let bearing = format!("{degrees:03.0}\u{b0}\u{b1}{:.0}\u{b0}", cell.bearing_range.0.ceil());
    write(0.21, &bearing, side * 0.2, Face::Bold);
    write(0.35, &with_range(cell.distance, cell.distance_range), side * 0.13, Face::Regular);
    if let Some(target) = target(page, cell) {
        write(0.46, &target, side * 0.1, Face::Regular);
    }
    drawn
}

/// The square that holds the goal: no bearing, the words beside the mark.
fn here(page: &AreaPage, cell: &AreaCell, frame: Frame) -> Elements {
    let (side, middle) = (frame.wide, frame.middle());
    let what = match (cell.goal, page.goals.len()) {
        (None, _) => "line".to_owned(),
        (Some(_), 1) => "trailhead".to_owned(),
        (Some(goal), _) => format!("trailhead T{}", goal + 1),
    };
    // the mark lies where its bearing leads from the middle
    let upper = cell.grid_bearing.radians().cos() > 0.0;
    let top = if upper { 0.24 } else { -0.2 };
    let mut drawn = Elements::default();
    for (row, words) in [what.as_str(), "in this square"].into_iter().enumerate() {
        let size = fitting(words, Face::Bold, side * 0.14, side - 3.0);
        let at = middle.plus(0.0, side * (top + 0.16 * row as f64));
        let letters = Letters::new(size).face(Face::Bold).anchor(Anchor::Middle).rimmed();
        drawn.push(svg::text(at, words, letters));
    }
    drawn
}

/// The size at which words fit into a width, at most the wished one.
fn fitting(words: &str, face: Face, size: f64, width: f64) -> f64 {
    size.min(size * width / fonts::width(words, face, size).max(1e-9)).max(LEAST)
}

/// `1.2 km ±0.1`: a distance as it is walked with its range, rounded up.
fn with_range(distance: Metres, range: Metres) -> String {
    let unit = match distance.0 {
        metres if metres < 995.0 => (10.0, 1.0, 0),
        metres if metres < 9_950.0 => (100.0, 1_000.0, 1),
        _ => (1_000.0, 1_000.0, 0),
    };
    let (step, metres, decimals) = unit;
    let range = (range.0 / step).ceil().max(1.0) * step / metres;
    format!("{} \u{b1}{range:.decimals$}", walked_words(distance))
}

/// The figures of an MGRS reference without zone and letters.
fn figures(mgrs: &str) -> &str {
    mgrs.rfind(|c: char| c.is_ascii_alphabetic())
        .and_then(|last| mgrs.get(last + 1..))
        .unwrap_or(mgrs)
}

/// The lines below the squares: the light in bold, then cautions.
fn foot_lines(page: &AreaPage) -> Vec<(String, Face)> {
    let light = format!(
        "{}. It gets dark earlier under trees. If the light is not sufficient, stay where you are.",
        light_of(page)
    );
    let facts = [
        (light.as_str(), Face::Bold),
        (
            "Locate your square on the map; if you cannot, stop and stay. Map, compass and what you see come first: the ground between was not checked.",
            Face::Regular,
        ),
        (
            "Hurt, exhausted or dark: stay put, keep warm, be seen. Call 112 or the local number. Six blasts or flashes a minute, pause a minute (three in North America).",
            Face::Regular,
        ),
        (
            "Leave your route and return time with someone. Local advice, closures and weather first.",
            Face::Regular,
        ),
    ];
    let broken = |(words, face): (&str, Face)| {
        let lines = fonts::lines(words, face, FACT, WIDE - 2.0 * MARGIN);
        lines.into_iter().map(move |line| (line, face)).collect::<Vec<_>>()
    };
    facts.into_iter().flat_map(broken).collect()
}

fn foot(drawn: &mut Elements, lines: &[(String, Face)]) {
    let top = HIGH - FOOT - LINE * lines.len() as f64 + 10.0;
    for (index, (line, face)) in lines.iter().enumerate() {
        let at = Point::new(MARGIN, top + LINE * index as f64);
        drawn.push(svg::text(at, line, Letters::new(FACT).face(*face)));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::style::size;
    use crate::units::{Declination, Degrees, MagneticModel, TimeZone, Timestamp};
    use crate::wayout::Goal;
    use crate::wayout::area;

    #[test]
    fn ranges_are_rounded_up_to_the_unit_of_the_distance() {
        for (distance, range, words) in [
            (140.0, 12.0, "140 m \u{b1}20"),
            (1_214.0, 141.0, "1.2 km \u{b1}0.2"),
            (12_300.0, 300.0, "12 km \u{b1}1"),
            (400.0, 0.0, "400 m \u{b1}10"),
        ] {
            assert_eq!(with_range(Metres(distance), Metres(range)), words);
        }
    }

    #[test]
    fn the_square_of_the_trailhead_has_no_bearing_and_every_word_fits() {
        let place = |east: f64, north: f64| {
            crate::earth::local::Plane::about(LatLon::new(-42.0, 146.0).unwrap())
                .from_plane(east, north)
        };
        let goal = |name: &str, at| Goal { name: name.into(), at };
        let declination = |at| {
            Ok(Declination {
                east: Degrees(14.0),
                uncertainty: Degrees(0.4),
                model: MagneticModel::Stated,
                date: jiff::civil::date(2026, 5, 1),
                place: at,
            })
        };
        let noon: Timestamp = "2026-05-01T02:00:00Z".parse().unwrap();
        let long = "start of the track by the old tramway";
        for goals in [
            vec![goal(long, place(20.0, 30.0))],
            vec![goal(long, place(20.0, 30.0)), goal("Upper Sawmill gate", place(700.0, 600.0))],
        ] {
            let places = [place(-800.0, -700.0), place(800.0, 800.0)];
            let page =
                area::page(&places, &goals, &[], declination, (noon, &TimeZone::UTC)).unwrap();
            let drawn = drawing(&page, &[]);
            assert_eq!(drawn.matches("in this square").count() / 2, goals.len(), "{drawn}");
            assert_eq!(drawn.matches("class=\"trailhead\"").count(), goals.len());
            assert!(!drawn.contains('\u{2026}') && drawn.contains("old tramway"));
            assert!(drawn.contains('\u{b1}'));
        }
    }

    #[test]
    fn no_words_are_smaller_than_six_points_as_printed() {
        let wide = WIDE - 2.0 * MARGIN;
        const { assert!(FACT * SCALE >= 6.0 && LEAST * SCALE >= 6.0 && size::SMALL * SCALE >= 6.0) };
        assert!(fitting("to the trailhead of the lower track", Face::Regular, 4.0, 30.0) >= LEAST);
        let light = "Light on 2026-05-23: first light 06:56, sunrise 07:27, sunset 16:56, end of civil twilight 17:27. It gets dark earlier under trees. If the light is not sufficient, stay where you are.";
        for line in fonts::lines(light, Face::Bold, FACT, wide) {
            assert!(fonts::width(&line, Face::Bold, FACT) <= wide + 1e-6, "{line}");
        }
    }
}
