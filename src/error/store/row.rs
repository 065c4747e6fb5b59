//! Represents what is wrong with a row of a store, and words it. Layer: `error`.

use std::fmt;

use serde::Serialize;

/// What is wrong with a row.
#[derive(Debug, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
pub(crate) enum RowDamage {
    /// Packed data cannot be unpacked.
    Packed { content: Unpacked },
    /// A text has not the form that it must have.
    NotA { expected: RowForm, text: String },
    /// A geometry cannot be read as a position.
    Geometry,
    /// The row has no position.
    NoPosition,
    /// The row has no position or no radius.
    NoPositionOrRadius,
    /// A radius is zero or negative.
    Radius,
    /// A position is outside the Earth.
    Position { cause: String },
    /// The row is missing.
    Gone,
    /// An amendment has no subject.
    NoSubject,
    /// The row has no time.
    NoTime,
    /// An edit names an unknown column.
    UnknownColumn,
    /// A day is not in order of time.
    NotInOrder { date: String },
    /// The subject of a sensitivity rule is not valid.
    Subject { subject: String, name: String },
}

/// The form that a text must have.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum RowForm {
    /// An instant.
    Time,
    /// A date.
    Date,
    /// A time of day.
    TimeOfDay,
    /// A date and a time of day.
    DateAndTime,
    /// A UUID.
    Uuid,
    /// A nested value.
    Value,
    /// The keyword of a choice.
    Keyword,
    /// The name of a time zone.
    Zone,
}

impl RowForm {
    fn words(self) -> &'static str {
        match self {
            Self::Time => "time",
            Self::Date => "date",
            Self::TimeOfDay => "time of day",
            Self::DateAndTime => "date and time",
            Self::Uuid => "UUID",
            Self::Value => "value",
            Self::Keyword => "keyword",
            Self::Zone => "time zone",
        }
    }
}

/// What packed data hold.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Unpacked {
    /// Finds.
    Finds,
    /// Points of a track.
    Points,
    /// An archived outing.
    Outing,
    /// Fixes.
    Fixes,
    /// The curve of a clock.
    Curve,
    /// Places of a base map.
    Places,
}

impl fmt::Display for RowDamage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Packed { content } => f.write_str(content.words()),
            Self::NotA { expected, text } => write!(f, "\"{text}\" is not a {}", expected.words()),
            Self::Geometry => f.write_str("the geometry is not a valid position"),
            Self::NoPosition => f.write_str("it has no position"),
            Self::NoPositionOrRadius => f.write_str("it has no position or no radius"),
            Self::Radius => f.write_str("its radius is not positive"),
            Self::Position { cause } => f.write_str(cause),
            Self::Gone => f.write_str("the outing is missing"),
            Self::NoSubject => f.write_str("an amendment has no subject"),
            Self::NoTime => f.write_str("no time"),
            Self::UnknownColumn => f.write_str("an unknown column"),
            Self::NotInOrder { date } => write!(f, "{date} is not in order"),
            Self::Subject { subject, name } => {
                write!(f, "\"{subject} {name}\" is not a valid subject of a sensitivity rule")
            }
        }
    }
}

impl Unpacked {
    fn words(self) -> &'static str {
        match self {
            Self::Finds => "the finds cannot be unpacked",
            Self::Points => "the points cannot be unpacked",
            Self::Outing => "the outing cannot be unpacked",
            Self::Fixes => "the fixes cannot be unpacked",
            Self::Curve => "the curve cannot be unpacked",
            Self::Places => "its places cannot be unpacked",
        }
    }
}
