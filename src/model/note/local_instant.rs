//! An instant with the offset of the zone in which it is shown. Layer: `model`.

use std::fmt;

use jiff::civil::DateTime;
use jiff::fmt::temporal::Pieces;
use jiff::tz::{Offset, TimeZone};
use serde::{Deserialize, Serialize};

use crate::units::Timestamp;

/// An instant with the offset from UTC of the zone in which it is shown.
///
/// In JSON a text with the offset: `2026-10-17T11:12:30+02:00`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(into = "String", try_from = "String")]
pub struct LocalInstant {
    /// The instant.
    pub at: Timestamp,
    /// The offset from UTC.
    pub offset: Offset,
}

impl LocalInstant {
    /// An instant in a zone.
    #[must_use]
    pub fn new(at: Timestamp, zone: &TimeZone) -> Self {
        Self { at, offset: zone.to_offset(at) }
    }

    /// Date and time on a clock of the zone.
    #[must_use]
    pub fn clock(self) -> DateTime {
        self.offset.to_datetime(self.at)
    }
}

impl From<LocalInstant> for String {
    fn from(local: LocalInstant) -> Self {
        local.at.display_with_offset(local.offset).to_string()
    }
}

/// A text is no instant with an offset.
#[derive(Debug)]
pub struct NotAnInstant;

impl fmt::Display for NotAnInstant {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("no instant with an offset")
    }
}

impl TryFrom<String> for LocalInstant {
    type Error = NotAnInstant;

    fn try_from(text: String) -> Result<Self, NotAnInstant> {
        let offset = Pieces::parse(&text).ok().and_then(|pieces| pieces.to_numeric_offset());
        let at = text.parse().ok();
        at.zip(offset).map(|(at, offset)| Self { at, offset }).ok_or(NotAnInstant)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn instants_keep_their_offset_in_json() {
        let at: Timestamp = "2026-10-17T09:12:30.25Z".parse().unwrap();
        let hours = |hours| TimeZone::fixed(jiff::tz::offset(hours));
        for (zone, shown) in [
            (hours(2), "\"2026-10-17T11:12:30.25+02:00\""),
            (hours(0), "\"2026-10-17T09:12:30.25+00:00\""),
            (hours(-10), "\"2026-10-16T23:12:30.25-10:00\""),
        ] {
            let local = LocalInstant::new(at, &zone);
            assert_eq!(serde_json::to_string(&local).unwrap(), shown);
            assert_eq!(serde_json::from_str::<LocalInstant>(shown).unwrap(), local);
        }
        assert!(serde_json::from_str::<LocalInstant>("\"2026-10-17T09:12:30\"").is_err());
        assert!(serde_json::from_str::<LocalInstant>("\"nothing\"").is_err());
    }
}
