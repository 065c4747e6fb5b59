//! Draws the number of finds in each cell of the decimal grid: the map of generalised positions, no
//! finer than the positions published. Layer: `present`.

use crate::model::GridCell;
use crate::present::fonts::Face;
use crate::present::map::MapSheet;
use crate::present::map::furniture::{north_arrow, scale_bar};
use crate::present::markup::Elements;
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};
use crate::present::years::density::CLASSES;
use crate::units::{LatLon, Metres};

const WIDE: f64 = 482.0;
const EDGE: f64 = 14.0;
const TOP: f64 = 44.0;
/// The least drawn size of a cell, points.
const SMALLEST: f64 = 3.0;
/// Finds from which each class begins.
const FROM: [usize; 6] = [1, 2, 4, 8, 16, 32];

/// The map; `None` without a cell.
pub(super) fn figure(cells: &[(GridCell, usize)]) -> Option<String> {
    let paper = paper(cells)?;
    let high = paper.frame.bottom() + 66.0;
    let finds: usize = cells.iter().map(|(_, finds)| finds).sum();
    let sides = half_sides(&cells.first()?.0);
    let caption = format!(
        "{finds} finds in {} cells, about {:.0} m west to east by {:.0} m south to north",
        cells.len(),
        2.0 * sides.1,
        2.0 * sides.0,
    );
    let title = "Finds in each cell of the grid";
    let soft = Letters::new(size::BODY).colour(style::SOFT_INK);
    let foot = paper.frame.bottom() + 16.0;
    let drawing = svg::drawing(WIDE, high, title)
        .with(svg::rectangle(Frame::new(0.0, 0.0, WIDE, high)).filled(style::PAPER))
        .with(svg::text(Point::new(EDGE, 20.0), title, Letters::new(size::TITLE).face(Face::Bold)))
        .with(svg::text(Point::new(EDGE, 34.0), &caption, soft))
        .with(svg::clip("cells", paper.frame))
        .with(svg::group().set("clip-path", "url(#cells)").with(shapes(cells, &paper)))
        .with(
            svg::rectangle(paper.frame)
                .set("fill", "none")
                .stroked(Stroke::new(style::SOFT_INK, line::FINE)),
        )
        .with(legend(Point::new(EDGE, foot)))
        .with(scale_bar(&paper, Point::new(WIDE - 170.0, foot + 12.0), 80.0))
        .with(north_arrow(Point::new(WIDE - 24.0, foot + 32.0), None));
    Some(drawing.to_string())
}

/// The ground that the map shows; `None` without a cell.
pub(super) fn paper(cells: &[(GridCell, usize)]) -> Option<MapSheet> {
    let circles: Vec<(LatLon, Metres)> = cells
        .iter()
        .map(|(cell, _)| (cell.at, Metres(half_sides(cell).0.max(half_sides(cell).1))))
        .collect();
    let frame = Frame::new(EDGE, TOP, WIDE - 2.0 * EDGE, 400.0);
    MapSheet::fit(&circles, frame, 12.0, 200.0)
}

/// Half a cell's sides on the ground, metres to the north and to the east.
fn half_sides(cell: &GridCell) -> (f64, f64) {
    let at = cell.at;
    let side = |lat: f64, lon: f64| {
        let other = LatLon::clamped(at.latitude() + lat, at.longitude() + lon);
        crate::earth::geodesic::distance(at, other).0
    };
    let half = (cell.latitude_step / 2.0, cell.longitude_step / 2.0);
    let north = if at.latitude() > 0.0 { -half.0 } else { half.0 };
    (side(north, 0.0), side(0.0, if at.longitude() > 0.0 { -half.1 } else { half.1 }))
}

fn shapes(cells: &[(GridCell, usize)], paper: &MapSheet) -> Elements {
    let mut drawn = Elements::default();
    let edge = Stroke::new(style::SOFT_INK, line::HAIR);
    for (cell, finds) in cells {
        let middle = paper.at(cell.at);
        let (north, east) = half_sides(cell);
        let wide = (2.0 * paper.points(Metres(east))).max(SMALLEST);
        let high = (2.0 * paper.points(Metres(north))).max(SMALLEST);
        let frame = Frame::new(middle.x - wide / 2.0, middle.y - high / 2.0, wide, high);
        drawn.push(svg::rectangle(frame).filled(CLASSES[class(*finds)]).stroked(edge));
        let letters = Letters::new(size::SMALL).anchor(Anchor::Middle);
        let letters = match class(*finds) {
            5 => letters.colour(style::PAPER),
            // neither black nor white has enough contrast on it
            4 => letters.rimmed(),
            _ => letters,
        };
        if wide > 14.0 && high > 10.0 {
            drawn.push(svg::text(middle.plus(0.0, 2.4), &finds.to_string(), letters));
        }
    }
    drawn
}

fn class(finds: usize) -> usize {
    FROM.iter().rposition(|from| finds >= *from).unwrap_or(0)
}

fn legend(at: Point) -> Elements {
    let mut drawn = Elements::default();
    drawn.push(svg::text(at, "finds in a cell", Letters::new(size::BODY).face(Face::Bold)));
    let (wide, high, top) = (38.0, 9.0, at.y + 6.0);
    let letters = Letters::new(size::SMALL);
    let edge = Stroke::new(style::RAW, line::HAIR);
    for (index, colour) in CLASSES.iter().enumerate() {
        let left = at.x + wide * index as f64;
        drawn.push(svg::rectangle(Frame::new(left, top, wide, high)).filled(*colour).stroked(edge));
        let words = match FROM.get(index + 1) {
            Some(next) if next - 1 > FROM[index] => format!("{} to {}", FROM[index], next - 1),
            Some(_) => FROM[index].to_string(),
            None => format!("{} and more", FROM[index]),
        };
        drawn.push(svg::text(Point::new(left, top + high + 8.0), &words, letters));
    }
    let words = "A blank cell has no find that may be shown; it may not have been searched.";
    let soft = letters.colour(style::SOFT_INK);
    drawn.push(svg::text(Point::new(at.x, top + high + 20.0), words, soft));
    drawn
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn classes_double() {
        assert_eq!([1, 2, 3, 4, 7, 8, 31, 32, 900].map(class), [0, 1, 1, 2, 2, 3, 4, 5, 5]);
    }

    #[test]
    fn figures_have_the_contrast_of_text_on_every_class() {
        for (class, finds) in FROM.iter().enumerate() {
            let drawn = figure(&[(cell(-42.618, 146.096), *finds)]).unwrap();
            let cells = drawn.split("url(#cells)").nth(1).unwrap();
            let cells = &cells[..cells.rfind(&format!(">{finds}</text>")).unwrap()];
            let text = &cells[cells.rfind("<text").unwrap()..];
            let colour = [style::INK, style::PAPER]
                .into_iter()
                .find(|colour| text.contains(&format!("fill=\"{colour}\"")))
                .unwrap();
            let below = if cells.contains("class=\"rim\"") { style::PAPER } else { CLASSES[class] };
            let ratio = style::contrast::contrast(colour, below);
            assert!(ratio >= 4.5, "{finds}: {ratio:.2}");
        }
    }

    #[test]
    fn cells_lie_side_by_side_across_the_date_line() {
        let cells: Vec<(GridCell, usize)> =
            [179.999, -180.0, -179.999].map(|east| (cell(-16.8, east), 3)).to_vec();
        let drawn = figure(&cells).unwrap();
        assert!(drawn.contains("9 finds in 3 cells"));
        assert_eq!(drawn.matches(">3</text>").count(), 3, "{drawn}");
    }

    fn cell(latitude: f64, longitude: f64) -> GridCell {
        let at = LatLon::new(latitude, longitude).unwrap();
        GridCell { at, latitude_step: 0.001, longitude_step: 0.002 }
    }

    /// Reads the drawing back: every coloured square except the legend is as large as its cell and is offset
    /// by an integer number of cells from the first.
    #[test]
    fn drawing_shows_cells_only() {
        let cells =
            [(cell(-42.618, 146.096), 1), (cell(-42.617, 146.096), 2), (cell(-42.611, 146.106), 9)];
        let drawn = figure(&cells).unwrap();
        let squares = drawn.split("clip-path=\"url(#cells)\"").nth(1).unwrap();
        let squares = &squares[..squares.find("</g>").unwrap()];
        let number = |tag: &str, name: &str| -> f64 {
            let (_, rest) = tag.split_once(&format!(" {name}=\"")).unwrap();
            rest[..rest.find('"').unwrap()].parse().unwrap()
        };
        let frames: Vec<[f64; 4]> = squares
            .split("<rect")
            .skip(1)
            .map(|tag| ["x", "y", "width", "height"].map(|name| number(tag, name)))
            .collect();
        assert_eq!(frames.len(), cells.len());
        for frame in &frames {
            let steps = [
                (frame[0] - frames[0][0]) / frames[0][2],
                (frame[1] - frames[0][1]) / frames[0][3],
            ];
            for step in steps {
                assert!((step - step.round()).abs() < 0.02, "{frames:?}");
            }
            assert!((frame[2] / frames[0][2] - 1.0).abs() < 0.01, "{frames:?}");
        }
    }

    #[test]
    fn no_cells_give_no_map() {
        assert!(figure(&[]).is_none());
    }
}
