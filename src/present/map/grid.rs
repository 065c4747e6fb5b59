//! Draws the UTM grid of a map with its coordinates at the edge, so that a position can be transferred
//! to another map. Layer: `present`.

use super::MapSheet;
use crate::earth::grid::{self, Utm};
use crate::present::chart::round_step;
use crate::present::markup::Elements;
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Anchor, Letters, Point, Stroke};
use crate::units::Metres;

/// Lines are at least this far apart on paper, points.
const CLOSEST: f64 = 62.0;

/// The grid of one map.
#[derive(Clone, Debug)]
pub struct Grid {
    /// Its lines, to be clipped to the frame.
    pub lines: Elements,
    /// Its figures below and to the left of the frame.
    pub figures: Elements,
    /// In words: `UTM zone 55 south, lines every 200 m`.
    pub words: String,
}

/// The grid; `None` near the poles.
#[must_use]
pub fn grid(sheet: &MapSheet) -> Option<Grid> {
    let middle = grid::utm(sheet.middle());
    if middle.zone() == 0 {
        return None;
    }
    let step = line_step(sheet.metres(CLOSEST));
    let reach = sheet.metres(sheet.frame.wide.hypot(sheet.frame.high) / 2.0).0;
    let mut grid = Grid {
        lines: Elements::default(),
        figures: Elements::default(),
        words: words(middle, step),
    };
    let hair = Stroke::new(style::FAINT, line::HAIR);
    let ends = |along: f64| [-1.2, 0.0, 1.2].map(|share| along + share * reach);
    for easting in rounds(middle.easting().0, reach, step) {
        let points =
            ends(middle.northing().0).map(|northing| point(sheet, middle, easting, northing));
        grid.lines.push(svg::polyline(&points, hair));
        if let Some(x) = crossing(&points, sheet.frame.bottom(), |p| p.y, |p| p.x)
            && (sheet.frame.corner.x + 20.0..sheet.frame.right() - 20.0).contains(&x)
        {
            let at = Point::new(x, sheet.frame.bottom() + size::SMALL + 1.5);
            grid.figures.push(figure(at, easting, 'E'));
        }
    }
    for northing in rounds(middle.northing().0, reach, step) {
        let points =
            ends(middle.easting().0).map(|easting| point(sheet, middle, easting, northing));
        grid.lines.push(svg::polyline(&points, hair));
        if let Some(y) = crossing(&points, sheet.frame.corner.x, |p| p.x, |p| p.y)
            && (sheet.frame.corner.y + 20.0..sheet.frame.bottom() - 20.0).contains(&y)
        {
            let at = Point::new(sheet.frame.corner.x - 3.0, y);
            let turn = format!("rotate(-90 {} {})", svg::short(at.x), svg::short(at.y));
            grid.figures.push(figure(at, northing, 'N').set("transform", turn));
        }
    }
    Some(grid)
}

fn figure(at: Point, metres: f64, letter: char) -> crate::present::markup::Element {
    let letters = Letters::new(size::SMALL - 0.8).colour(style::SOFT_INK).anchor(Anchor::Middle);
    let digits = format!("{metres:07.0}");
    let (first, last) = digits.split_at(digits.len() - 3);
    svg::text(at, &format!("{} {last} {letter}", first.trim_start_matches('0')), letters)
}

fn line_step(at_least: Metres) -> f64 {
    // 25 and 250 m are not used as grid steps
    let step = round_step(at_least.0);
    let first = step / 10_f64.powf(step.log10().floor());
    if (first - 2.5).abs() < 0.01 { 2.0 * step } else { step }
}

fn rounds(middle: f64, reach: f64, step: f64) -> impl Iterator<Item = f64> {
    let first = ((middle - reach) / step).ceil();
    (0..200)
        .map(move |count| (first + f64::from(count)) * step)
        .take_while(move |at| *at <= middle + reach)
}

fn point(sheet: &MapSheet, of: Utm, easting: f64, northing: f64) -> Point {
    Utm::new(of.zone(), of.is_north(), easting, northing)
        .map_or_else(|_| sheet.frame.middle(), |grid| sheet.at(grid.to_latlon()))
}

/// The point on a line through three points where `along` equals `value`, by `across`.
fn crossing(
    points: &[Point; 3],
    value: f64,
    along: impl Fn(Point) -> f64,
    across: impl Fn(Point) -> f64,
) -> Option<f64> {
    points.windows(2).find_map(|pair| {
        let (from, to) = (along(pair[0]), along(pair[1]));
        let share = (value - from) / (to - from);
        (0.0..=1.0)
            .contains(&share)
            .then(|| across(pair[0]) + share * (across(pair[1]) - across(pair[0])))
    })
}

fn words(middle: Utm, step: f64) -> String {
    let half = if middle.is_north() { "north" } else { "south" };
    let step = if step >= 1_000.0 {
        format!("{} km", svg::short(step / 1_000.0))
    } else {
        format!("{} m", svg::short(step))
    };
    format!("UTM zone {} {half}, a line every {step}", middle.zone())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::svg::Frame;
    use crate::units::LatLon;

    fn sheet(latitude: f64, longitude: f64) -> MapSheet {
        let circle = [(LatLon::new(latitude, longitude).unwrap(), Metres(500.0))];
        MapSheet::fit(&circle, Frame::new(20.0, 10.0, 500.0, 400.0), 10.0, 400.0).unwrap()
    }

    #[test]
    fn grid_lines_match_utm() {
        let sheet = sheet(-42.6, 146.1);
        let grid = grid(&sheet).unwrap();
        assert_eq!(grid.words, "UTM zone 55 south, a line every 200 m");
        let east = grid::utm(sheet.middle()).easting().0;
        let nearest = (east / 200.0).round() * 200.0;
        let figure = format!("{:.0} {:03.0} E", (nearest / 1000.0).floor(), nearest % 1000.0);
        assert!(grid.figures.to_string().contains(&figure), "{figure} in {}", grid.figures);
    }

    #[test]
    fn no_grid_at_a_pole() {
        assert!(grid(&sheet(89.0, 0.0)).is_none());
        assert!(grid(&sheet(-17.0, 180.0)).is_some());
    }
}
