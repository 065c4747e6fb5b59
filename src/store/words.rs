//! Converts instants, dates, choices and structures to and from columns: GeoPackage text where it
//! has a form, one keyword for a choice, JSON for nested values. Layer: `store`.

use jiff::civil::{Date, DateTime, Time};
use jiff::{Timestamp, Unit};
use serde::Serialize;
use serde::de::DeserializeOwned;
use uuid::Uuid;

use super::fault::{Attempt, Fault};
use crate::error::{ChangeFault, Error, RowDamage, RowForm};

/// The form of GeoPackage 1.3, table 1: `2026-05-03T04:00:00.000Z`; rounded to the millisecond.
pub(super) fn instant(when: Timestamp) -> String {
    let rounded = when.round(Unit::Millisecond).unwrap_or(when);
    rounded.strftime("%Y-%m-%dT%H:%M:%S%.3fZ").to_string()
}

/// A choice as its one word, a structure as JSON.
pub(super) fn json<T: Serialize + ?Sized>(value: &T) -> Attempt<String> {
    serde_json::to_string(value)
        .map_err(|error| Error::from(ChangeFault::ValueNotKept { cause: error.to_string() }).into())
}

/// The keyword of a choice: `photo-time`.
pub(super) fn word<T: Serialize>(choice: T) -> Attempt<String> {
    match serde_json::to_value(choice) {
        Ok(serde_json::Value::String(word)) => Ok(word),
        other => Err(Error::from(ChangeFault::NoKeyword { value: format!("{other:?}") }).into()),
    }
}

/// Where a value was read, for error messages.
#[derive(Clone, Copy)]
pub(super) struct Cell {
    pub(super) table: &'static str,
    pub(super) row: i64,
}

impl Cell {
    fn damaged(self, expected: RowForm, text: &str) -> Fault {
        let text = text.chars().take(60).collect();
        Fault::damaged(self.table, self.row, RowDamage::NotA { expected, text })
    }

    pub(super) fn instant(self, text: &str) -> Attempt<Timestamp> {
        text.parse().map_err(|_| self.damaged(RowForm::Time, text))
    }

    pub(super) fn date(self, text: &str) -> Attempt<Date> {
        text.parse().map_err(|_| self.damaged(RowForm::Date, text))
    }

    pub(super) fn time(self, text: &str) -> Attempt<Time> {
        text.parse().map_err(|_| self.damaged(RowForm::TimeOfDay, text))
    }

    pub(super) fn wall_clock(self, text: &str) -> Attempt<DateTime> {
        text.parse().map_err(|_| self.damaged(RowForm::DateAndTime, text))
    }

    pub(super) fn uuid(self, text: &str) -> Attempt<Uuid> {
        text.parse().map_err(|_| self.damaged(RowForm::Uuid, text))
    }

    pub(super) fn json<T: DeserializeOwned>(self, text: &str) -> Attempt<T> {
        serde_json::from_str(text).map_err(|_| self.damaged(RowForm::Value, text))
    }

    pub(super) fn word<T: DeserializeOwned>(self, text: &str) -> Attempt<T> {
        serde_json::from_value(text.into()).map_err(|_| self.damaged(RowForm::Keyword, text))
    }

    /// The same for a cell that may be empty.
    pub(super) fn some<T>(
        self,
        text: Option<&str>,
        read: impl FnOnce(Self, &str) -> Attempt<T>,
    ) -> Attempt<Option<T>> {
        text.map(|text| read(self, text)).transpose()
    }

    /// A report as an error has it in JSON.
    pub(super) fn report(self, text: &str) -> Attempt<Error> {
        Ok(Error::of_json(self.json(text)?))
    }
}

/// A report in one sentence, for a GIS user.
pub(super) fn sentence(report: &Error) -> String {
    match report.why() {
        Some(why) => format!("{}: {why}", report.what()),
        None => report.what().to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{AnchorKind, Verdict};

    const CELL: Cell = Cell { table: "finds", row: 7 };

    #[test]
    fn an_instant_has_the_form_of_the_standard() {
        let when: Timestamp = "2026-05-03T04:00:00.9996Z".parse().unwrap();
        assert_eq!(instant(when), "2026-05-03T04:00:01.000Z");
        assert_eq!(
            CELL.instant("2026-05-03T04:00:01.000Z").unwrap(),
            when.round(Unit::Millisecond).unwrap()
        );
    }

    #[test]
    fn choices_are_keywords() {
        assert_eq!(word(AnchorKind::PhotoTime).unwrap(), "photo-time");
        assert_eq!(CELL.word::<Verdict>("start-up").unwrap(), Verdict::StartUp);
        let report = CELL.word::<Verdict>("vanished").unwrap_err();
        assert!(format!("{report:?}").contains("vanished"), "{report:?}");
    }

    #[test]
    fn a_report_comes_back_with_its_parts() {
        let report = Error::input("a").because("b").hint("c").in_file("d.csv").at_line(3);
        let back = CELL.report(&json(&report).unwrap()).unwrap();
        assert_eq!(json(&back).unwrap(), json(&report).unwrap());
    }
}
