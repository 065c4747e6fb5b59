//! Defines the palette, type sizes and line widths shared by maps, charts, labels and pages. Layer:
//! `present`.
//!
//! The hues are the eight of Okabe & Ito, chosen so that people with protan, deutan and tritan eyes
//! distinguish them. No meaning is coded by hue alone: width, dash, shape or a word repeats it.
//!
//! # References
//! Okabe, M. & Ito, K. 2008. Color Universal Design: how to make figures and presentations that are
//! friendly to colorblind people. University of Tokyo. (Values from memory.)

use std::fmt;

/// A colour as the web writes it, `#rrggbb`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Colour(pub &'static str);

impl fmt::Display for Colour {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.0)
    }
}

impl Colour {
    /// Red, green and blue.
    #[must_use]
    pub fn rgb(self) -> (u8, u8, u8) {
        let part = |at: usize| {
            self.0.get(at..at + 2).and_then(|digits| u8::from_str_radix(digits, 16).ok())
        };
        (part(1).unwrap_or(0), part(3).unwrap_or(0), part(5).unwrap_or(0))
    }

    /// The colour of the palette with this red, green and blue; ink for any other.
    #[must_use]
    pub(crate) fn of(rgb: (u8, u8, u8)) -> Self {
        PALETTE.into_iter().find(|colour| colour.rgb() == rgb).unwrap_or(INK)
    }
}

const PALETTE: [Colour; 10] = [INK, SOFT_INK, FAINT, RAW, PAPER, SEARCH, STOP, FIND, PHOTO, ASIDE];

/// Text and outlines.
pub const INK: Colour = Colour("#1d2327");
/// Text of lesser weight; still 4.5 to 1 and more on paper.
pub const SOFT_INK: Colour = Colour("#57616a");
/// Grid lines and frames.
pub const FAINT: Colour = Colour("#ccd2d7");
/// Raw fixes as recorded.
pub const RAW: Colour = Colour("#858e96");
/// The background.
pub const PAPER: Colour = Colour("#ffffff");

/// Walking from place to place.
pub const WALK: Colour = SOFT_INK;
/// Searching.
pub const SEARCH: Colour = Colour("#0072b2");
/// A stop: paler orange, so that a find on it is visible in grey print too.
pub const STOP: Colour = Colour("#f2bf4a");
/// A find and its circle.
pub const FIND: Colour = Colour("#d55e00");
/// A photograph.
pub const PHOTO: Colour = Colour("#009e73");
/// Rejected fixes and conflicts.
pub const ASIDE: Colour = Colour("#8b0a3d");

/// Sizes of type in points. Only the figures of a grid and the last line of a label are smaller.
pub mod size {
    /// The title of a figure.
    pub const TITLE: f64 = 13.0;
    /// A heading.
    pub const HEADING: f64 = 9.5;
    /// Ordinary text.
    pub const BODY: f64 = 8.0;
    /// Axis labels, map labels.
    pub const SMALL: f64 = 6.8;
}

/// Widths of lines in points. The finest still prints on an office printer at 600 dots per inch.
pub mod line {
    /// Grids.
    pub const HAIR: f64 = 0.35;
    /// Axes, outlines, leaders.
    pub const FINE: f64 = 0.6;
    /// A curve.
    pub const CURVE: f64 = 1.1;
    /// Emphasis.
    pub const STRONG: f64 = 1.8;
}

/// The font family; the embedded one first, so that print and screen look alike where it is
/// installed.
pub const FAMILY: &str = "Noto Sans, sans-serif";

/// The colours of pages in the dark, by those of print; `sheet/style.css` has the same.
#[cfg(test)]
const DARK: [(Colour, Colour); 10] = [
    (PAPER, Colour("#14181b")),
    (INK, Colour("#e8ecef")),
    (SOFT_INK, Colour("#a9b3bb")),
    (FAINT, Colour("#3d464d")),
    (RAW, Colour("#6f7b84")),
    (SEARCH, Colour("#56b4e9")),
    (STOP, Colour("#f2bf4a")),
    (FIND, Colour("#ff7a33")),
    (PHOTO, Colour("#3cc99c")),
    (ASIDE, Colour("#c77dff")),
];

#[cfg(test)]
pub(crate) mod contrast;
