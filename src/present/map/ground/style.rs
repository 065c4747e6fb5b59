//! Defines colours and widths of the ground: muted, so that finds and tracks stand out, and distinguished
//! by dash, width or shape as well as by colour. Layer: `present`.

use crate::present::style::Colour;

/// Contours.
pub const CONTOUR: Colour = Colour("#9a7846");
/// Figures of contours.
pub const CONTOUR_FIGURE: Colour = Colour("#7a5a2c");
/// Edges of water, streams.
pub const WATER: Colour = Colour("#4f8aa8");
/// Areas of water.
pub const WATER_FILL: Colour = Colour("#dbe9f0");
/// Names of water.
pub const WATER_NAME: Colour = Colour("#2f6680");
/// Edges of roads.
pub const ROAD: Colour = Colour("#7d8388");
/// Paths of base maps.
pub const PATH: Colour = Colour("#7b6a58");
/// Tracks of other days.
pub const WALKED: Colour = Colour("#8f8678");
/// Boundaries.
pub const BOUNDARY: Colour = Colour("#84779a");
/// What trug does not know.
pub const OTHER: Colour = Colour("#8b9297");

/// Widths of lines in points.
pub mod width {
    /// Contours.
    pub const CONTOUR: f64 = 0.3;
    /// Every fifth contour.
    pub const INDEX: f64 = 0.55;
    /// Streams, paths.
    pub const LINE: f64 = 0.7;
    /// Roads with their edges.
    pub const ROAD: f64 = 2.2;
    /// The paper within a road.
    pub const ROAD_INSIDE: f64 = 1.3;
}

/// The size of figures of contours, points.
pub const FIGURE: f64 = 6.0;
/// The size of names, points.
pub const NAME: f64 = 6.4;

#[cfg(test)]
mod tests {
    use super::*;

    /// Contrast on paper as WCAG 2.2 defines it.
    fn contrast(colour: Colour) -> f64 {
        let channel = |at: usize| {
            let value = f64::from(u8::from_str_radix(&colour.0[at..at + 2], 16).unwrap()) / 255.0;
            if value <= 0.04045 { value / 12.92 } else { ((value + 0.055) / 1.055).powf(2.4) }
        };
        1.05 / (0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5) + 0.05)
    }

    #[test]
    fn words_of_the_ground_have_six_points_and_more() {
        const { assert!(FIGURE >= 6.0 && NAME >= 6.0) };
    }

    #[test]
    fn words_and_lines_of_the_ground_have_the_contrast_of_wcag() {
        for colour in [CONTOUR_FIGURE, WATER_NAME] {
            assert!(contrast(colour) >= 4.5, "{colour}: {:.2}", contrast(colour));
        }
        for colour in [CONTOUR, WATER, ROAD, PATH, WALKED, BOUNDARY, OTHER] {
            assert!(contrast(colour) >= 3.0, "{colour}: {:.2}", contrast(colour));
        }
    }
}
