//! Writes the page of a chart: paper, title, the sentence that states the finding, and its description for
//! readers who do not see it. Layer: `present`.

use crate::present::fonts::{self, Face};
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, Colour, size};
use crate::present::svg::{self, Frame, Letters, Point};

/// The width of a chart, for print at 170 mm.
pub const WIDE: f64 = 482.0;
/// The distance between lines of text.
const LEADING: f64 = 11.0;

/// Title and sentence with their left edge at `left`; returns the lower edge.
pub fn head(left: f64, title: &str, sentence: &str, drawn: &mut Elements) -> f64 {
    let bold = Letters::new(size::TITLE).face(Face::Bold);
    drawn.push(svg::text(Point::new(left, 19.0), title, bold));
    let soft = Letters::new(size::BODY).colour(style::SOFT_INK);
    text(sentence, Point::new(left, 31.5), soft, drawn) - LEADING + 4.0
}

/// An arrowhead at the edge of a panel: what is drawn continues beyond it, in this direction.
pub fn beyond(at: Point, (dx, dy): (f64, f64), colour: Colour) -> Element {
    let corner = |along: f64, aside: f64| at.plus(along * dx - aside * dy, along * dy + aside * dx);
    svg::polygon(&[corner(0.0, 0.0), corner(-4.6, 2.5), corner(-4.6, -2.5)], colour)
        .set("class", "beyond")
}

/// Text in lines from a place to the right edge; returns where the next line would be.
pub fn text(words: &str, at: Point, letters: Letters, drawn: &mut Elements) -> f64 {
    let mut foot = at.y;
    // viewers that substitute the font may need more room
    let widest = 0.94 * (WIDE - at.x - 12.0);
    for line in fonts::lines(words, letters.face, letters.size, widest) {
        drawn.push(svg::text(Point::new(at.x, foot), &line, letters));
        foot += LEADING.max(letters.size * 1.25);
    }
    foot
}

/// The drawing on its paper.
pub fn page(high: f64, title: &str, description: &str, drawn: &Elements) -> String {
    svg::described(WIDE, high, title, description)
        .with(svg::rectangle(Frame::new(0.0, 0.0, WIDE, high)).filled(style::PAPER))
        .with(drawn)
        .to_string()
}
