//! Draws the page of a collecting area, A5 landscape: for each square of the map grid an arrow, a
//! bearing and a distance in large type. Layer: `present`.

use super::text::{cell_name, goal_name, light_of};
use crate::earth::grid;
use crate::present::fonts::{self, Face};
use crate::present::map::furniture;
use crate::present::map::ground::outline;
use crate::present::markup::{Element, Elements};
use crate::present::round::walked as walked_words;
use crate::present::style::{self, line};
use crate::present::svg::{self, Anchor, Frame, Letters, POINTS_PER_MILLIMETRE, Point, Stroke};
use crate::units::LatLon;
use crate::wayout::area::{AreaCell, AreaPage};

const WIDE: f64 = 210.0 * POINTS_PER_MILLIMETRE;
const HIGH: f64 = 148.0 * POINTS_PER_MILLIMETRE;
const MARGIN: f64 = 20.0;
/// Ink stays this far from the edge, which every printer reaches.
const PRINTABLE: f64 = 12.0 * POINTS_PER_MILLIMETRE;
/// The page is laid out to its margin and drawn at this scale.
const SCALE: f64 = 0.9;
const HEAD: f64 = 60.0;
const FOOT: f64 = 52.0;

/// The page as SVG, with the lines that were walked.
#[must_use]
pub fn drawing(page: &AreaPage, walked: &[Vec<LatLon>]) -> String {
    let mut drawn = Elements::default();
    head(&mut drawn, page);
    let room =
        Frame::new(MARGIN + 14.0, HEAD, WIDE - 2.0 * MARGIN - 64.0, HIGH - HEAD - FOOT - 8.0);
    let (columns, rows) = (page.columns.max(1) as f64, page.rows.len().max(1) as f64);
    let side = (room.wide / columns).min(room.high / rows);
    let left = room.corner.x + (room.wide - side * columns) / 2.0;
    let squares = Squares { of: page, left, side, foot: HEAD + side * rows };
    let frame = Frame::new(left, HEAD, side * columns, side * rows);
    drawn.push(squares.walked(walked, frame));
    drawn.push(squares.trailheads(frame));
    for (row, cells) in page.rows.iter().enumerate() {
        for (column, cell) in cells.iter().enumerate() {
            let frame =
                Frame::new(left + side * column as f64, HEAD + side * row as f64, side, side);
            drawn.push(cell_drawn(page, cell, frame, &cell_name(column, row)));
        }
    }
    figures_of_lines(&mut drawn, page, Point::new(left, HEAD + side * rows), side);
    let foot_of_arrow = Point::new(WIDE - MARGIN - 40.0, HEAD + 44.0);
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
    foot(&mut drawn, page);
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
            let mark = Frame::new(at.x - 6.0, at.y - 6.0, 12.0, 12.0);
            let edge = Stroke::new(style::SOFT_INK, line::FINE);
            drawn.push(svg::rectangle(mark).filled(style::RAW).stroked(edge));
        }
        drawn
    }
}

/// Eastings below the lines between columns, northings to the left of those between rows, as a map
/// has them; `below` is the south-west corner.
fn figures_of_lines(drawn: &mut Elements, page: &AreaPage, below: Point, side: f64) {
    let letters = Letters::new(6.4).colour(style::SOFT_INK);
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

fn head(drawn: &mut Elements, page: &AreaPage) {
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
    let words = format!(
        "Compass bearings (declination {:.0}\u{b0} {half}, {}) from the middle of a square of {} to the nearest trailhead{line}. Squares, figures in km and the top of the page: {zone}, WGS 84. Small: 100 m figures of the middle. Grey: tracks; grey square: trailhead.",
        page.declination.east.0.abs(),
        page.declination.date,
        page.side
    );
    for (index, line) in
        fonts::lines(&words, Face::Regular, 7.6, WIDE - 2.0 * MARGIN).iter().enumerate()
    {
        drawn.push(svg::text(
            Point::new(MARGIN, 40.0 + 9.0 * index as f64),
            line,
            Letters::new(7.6),
        ));
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
    let centred = |size: f64| Letters::new(size).anchor(Anchor::Middle).rimmed();
    let bearing = format!("{:03.0}\u{b0}", cell.magnetic_bearing.degrees().0.round() % 360.0);
    let goal = goal_name(page, cell.goal);
    let small = (side * 0.1).clamp(5.2, 7.0);
    svg::group()
        .with(
            svg::rectangle(frame)
                .set("fill", "none")
                .stroked(Stroke::new(style::SOFT_INK, line::HAIR)),
        )
        .with(svg::line(
            along(-long, 0.0),
            along(long * 0.3, 0.0),
            Stroke::new(style::INK, line::STRONG),
        ))
        .with(svg::polygon(&head, style::INK))
        .with(svg::text(
            middle.plus(0.0, side * 0.22),
            &bearing,
            centred(side * 0.24).face(Face::Bold),
        ))
        .with(svg::text(
            middle.plus(0.0, side * 0.36),
            &walked_words(cell.distance),
            centred(side * 0.13),
        ))
        .with(svg::text(
            middle.plus(0.0, side * 0.47),
            &fitted(&goal, small, side),
            centred(small).colour(style::SOFT_INK),
        ))
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

/// The figures of an MGRS reference without zone and letters.
fn figures(mgrs: &str) -> &str {
    mgrs.rfind(|c: char| c.is_ascii_alphabetic())
        .and_then(|last| mgrs.get(last + 1..))
        .unwrap_or(mgrs)
}

/// The words, cut with a mark where they are wider.
fn fitted(words: &str, size: f64, width: f64) -> String {
    let fits = |words: &str| fonts::width(words, Face::Regular, size) <= width - 3.0;
    if fits(words) {
        return words.to_owned();
    }
    let mut cut = words.to_owned();
    while cut.pop().is_some() {
        let marked = format!("{}\u{2026}", cut.trim_end());
        if fits(&marked) {
            return marked;
        }
    }
    String::new()
}

fn foot(drawn: &mut Elements, page: &AreaPage) {
    let top = HIGH - FOOT + 10.0;
    let light = format!(
        "{}. It gets dark earlier under trees. If the light is not sufficient, stay where you are.",
        light_of(page)
    );
    for (index, fact) in [
        light.as_str(),
        "Locate your square on the map; if you cannot, stop and stay. Map, compass and what you see come first: the ground between was not checked.",
        "Hurt, exhausted or dark: stay put, keep warm, be seen. Call 112 or the local number. Six blasts or flashes a minute, pause a minute (three in North America).",
        "Leave your route and return time with someone. Local advice, closures and weather first.",
    ]
    .iter()
    .enumerate()
    {
        let face = if index == 0 { Face::Bold } else { Face::Regular };
        let size = across(fact, face);
        let at = Point::new(MARGIN, top + 9.2 * index as f64);
        drawn.push(svg::text(at, fact, Letters::new(size).face(face)));
    }
}

/// The size at which a line stays within the margins.
fn across(words: &str, face: Face) -> f64 {
    const MOST: f64 = 7.4;
    MOST.min(MOST * (WIDE - 2.0 * MARGIN) / fonts::width(words, face, MOST))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn cut_names_end_with_a_mark() {
        let name = "Upper Sawmill gate by the old tramway";
        let cut = fitted(name, 6.0, 60.0);
        assert!(cut.ends_with('\u{2026}') && cut.len() < name.len(), "{cut}");
        assert!(fonts::width(&cut, Face::Regular, 6.0) <= 57.0, "{cut}");
        assert_eq!(fitted("Gate", 6.0, 60.0), "Gate");
        assert_eq!(fitted(name, 6.0, 3.0), "");
    }

    #[test]
    fn the_line_about_the_light_stays_on_the_page_in_bold() {
        let light = "Light on 2026-05-23: first light 06:56, sunrise 07:27, sunset 16:56, end of civil twilight 17:27. Under trees it is dark sooner. Not light enough for the way? Stay put.";
        for face in [Face::Bold, Face::Regular] {
            let size = across(light, face);
            assert!(fonts::width(light, face, size) <= WIDE - 2.0 * MARGIN + 1e-6, "{size}");
            assert!(size > 6.0, "{size}");
        }
    }
}
