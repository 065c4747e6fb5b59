//! Represents what a finished output would reveal of a sensitive place, and what to do about it. Layer: `model`.

use std::fmt;

/// Something in a finished output that would reveal a sensitive place.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Leak {
    /// The find, by its number or identifier, or what else of the output reveals it.
    pub of: String,
    /// What reveals it.
    pub kind: LeakKind,
}

/// What reveals a sensitive place.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum LeakKind {
    /// Its exact coordinates are a number of the output.
    ExactCoordinates,
    /// Its exact coordinates stand in a text.
    CoordinatesInText,
    /// Coordinates of any sensitive place stand in a text.
    PlaceInText,
    /// A text that is withheld.
    WithheldText(String),
    /// Coordinates where none are to be given.
    CoordinatesWithheld,
    /// A position finer than the grid of its level.
    FinerThanGrid,
    /// A position other than the centre of the cell.
    NotTheCentre,
    /// A circle that does not contain the true position.
    CircleMissesPosition,
    /// Another find of the site is exact.
    SiteMemberExact,
    /// Finds of the site lie in several cells.
    SiteInSeveralCells,
    /// The cell and one published before overlap only narrowly.
    NarrowOverlap,
    /// A track passes a sensitive place.
    Track,
    /// A drawing shows a sensitive place.
    Drawn,
    /// A drawing shows something other than the published cells.
    DrawnBesideCells,
    /// A drawing cannot be checked.
    Unchecked(&'static str),
}

/// What the user can do about a leak.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum LeakRemedy {
    /// Change or leave out words.
    Words,
    /// Look at the sites.
    Sites,
    /// Exclude the finds.
    Exclude,
}

impl Leak {
    /// What the user can do about it.
    pub(crate) fn remedy(&self) -> LeakRemedy {
        match self.kind {
            LeakKind::ExactCoordinates
            | LeakKind::CoordinatesInText
            | LeakKind::PlaceInText
            | LeakKind::WithheldText(_) => LeakRemedy::Words,
            LeakKind::CircleMissesPosition
            | LeakKind::SiteMemberExact
            | LeakKind::SiteInSeveralCells
            | LeakKind::NarrowOverlap => LeakRemedy::Sites,
            _ => LeakRemedy::Exclude,
        }
    }
}

impl fmt::Display for Leak {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.of, self.kind)
    }
}

impl fmt::Display for LeakKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::WithheldText(text) => write!(f, "withheld text is in the output: \"{text}\""),
            Self::Unchecked(why) => f.write_str(why),
            plain => f.write_str(plain.words()),
        }
    }
}

impl LeakKind {
    fn words(&self) -> &'static str {
        match self {
            Self::ExactCoordinates => "its exact coordinates are in the output",
            Self::CoordinatesInText => "its exact coordinates are in a text of the output",
            Self::PlaceInText => "coordinates of a sensitive place are in the output",
            Self::CoordinatesWithheld => "it has coordinates although they are withheld",
            Self::FinerThanGrid => "its position is finer than its grid",
            Self::NotTheCentre => "its position is not the centre of its cell",
            Self::CircleMissesPosition => "its circle does not contain the true position",
            Self::SiteMemberExact => "another find of its site is exact",
            Self::SiteInSeveralCells => "finds of its site lie in several cells",
            Self::NarrowOverlap => "its cell and an earlier published cell overlap only narrowly",
            Self::Track => "it passes a sensitive place",
            Self::Drawn => "it shows a sensitive place",
            Self::DrawnBesideCells => "it shows something other than the published cells",
            Self::WithheldText(_) | Self::Unchecked(_) => "",
        }
    }
}
