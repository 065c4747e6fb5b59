//! Draws a number as a Code 128 bar code (ISO/IEC 15417), with the number below. Layer: `present`.

use std::fmt::Write as _;

use barcoders::sym::code128::Code128;

use crate::present::fonts::{self, Face};
use crate::present::markup::{Element, Elements};
use crate::present::style;
use crate::present::svg::{self, Letters, Point, short};

/// Height of the bars, points.
const BARS: f64 = 15.0;
/// Height with the number below.
pub(super) const HEIGHT: f64 = BARS + 8.0;
/// Bars narrower than this are not read from an office printer, points (0.19 mm, common practice).
const NARROWEST: f64 = 0.54;
/// The widest narrow bar that is drawn, points.
const WIDEST: f64 = 0.94;
/// Clear modules on both sides.
const QUIET: f64 = 10.0;

/// The code of these words with its upper left corner here, no wider than `widest`; `None` where it has
/// characters beyond ASCII or is too long to be read.
pub(super) fn draw(words: &str, corner: Point, widest: f64) -> Option<Elements> {
    if words.is_empty() || !words.chars().all(|letter| (' '..='~').contains(&letter)) {
        return None;
    }
    // U+0181 chooses character set B
    let code = Code128::new(format!("\u{181}{words}")).ok()?.encode();
    let modules = code.len() as f64 + 2.0 * QUIET;
    let module = (widest / modules).min(WIDEST);
    if module < NARROWEST {
        return None;
    }
    let mut path = String::new();
    let mut at = QUIET;
    for run in code.chunk_by(|a, b| a == b) {
        if run[0] == 1 {
            let _ = write!(path, "M{at} 0h{}v{BARS}h-{}z", run.len(), run.len());
        }
        at += run.len() as f64;
    }
    let place = format!("translate({} {}) scale({module:.5} 1)", short(corner.x), short(corner.y));
    let mut drawn = Elements::default();
    drawn.push(Element::new("path").set("d", path).set("fill", style::INK).set("transform", place));
    let size = 6.0;
    let middle = corner.x + module * modules / 2.0 - fonts::width(words, Face::Regular, size) / 2.0;
    drawn.push(svg::text(Point::new(middle, corner.y + BARS + 6.5), words, Letters::new(size)));
    Some(drawn)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn code_is_drawn_only_where_it_can_be_read() {
        let corner = Point::new(0.0, 0.0);
        assert!(draw("NQ-F-001234", corner, 180.0).is_some());
        assert!(draw("Ü-12", corner, 180.0).is_none());
        assert!(draw("", corner, 180.0).is_none());
        assert!(draw(&"9".repeat(60), corner, 180.0).is_none());
    }

    #[test]
    fn bars_have_the_published_pattern() {
        // ISO/IEC 15417, from memory: start B is 11010010000, "A" is value 33 (10100011000), stop is 1100011101011
        let code = Code128::new("\u{181}A").unwrap().encode();
        let bits: String = code.iter().map(|bit| char::from(b'0' + bit)).collect();
        assert!(bits.starts_with("1101001000010100011000"), "{bits}");
        assert!(bits.ends_with("1100011101011"), "{bits}");
    }
}
