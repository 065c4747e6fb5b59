//! Keeps values whose record has nothing that they belong to: an uncertainty without coordinates, an easting
//! without a northing, a qualifier without a name, a month without a year. They stay as written in the fields of the
//! record and are reported. Layer: `ingest`.

use super::column::Column;
use super::row::Reader;
use super::shortened;
use super::table::Row;
use crate::error::Error;
use crate::model::{Field, Record};

/// What only says something beside coordinates.
const OF_POSITION: [Column; 6] = [
    Column::Easting,
    Column::Northing,
    Column::Zone,
    Column::Datum,
    Column::Uncertainty,
    Column::Measured,
];

impl Reader<'_> {
    /// Values about coordinates that a row does not have. A datum alone is often filled in beforehand and not
    /// reported.
    pub(super) fn without_coordinates(&mut self, row: &Row, record: &mut Record) {
        if record.coordinates.is_some() {
            return;
        }
        let kept = self.kept_as_written(row, record, &OF_POSITION);
        if kept.iter().any(|column| *column != Column::Datum) {
            let grid = [Column::Easting, Column::Northing].iter().any(|own| kept.contains(own));
            let why = if grid {
                "easting and northing make a position only together, and the row has no others"
            } else {
                "the row has no coordinates that they belong to"
            };
            self.without(&kept, why, "fill in the coordinates of the row", row.line);
        }
    }

    /// A qualifier without a name that it qualifies.
    pub(super) fn without_name(&mut self, row: &Row, record: &Record) {
        if record.name.is_none() && self.layout.text(row, Column::Qualifier).is_some() {
            let why = "the row has no name that it belongs to";
            self.without(&[Column::Qualifier], why, "fill in the name of the row", row.line);
        }
    }

    /// Year, month and day that make no date, or another one than the date of the row.
    pub(super) fn without_date(&mut self, row: &Row, record: &mut Record) {
        let parts = [Column::Year, Column::Month, Column::Day];
        let differs = |column: &Column| match (self.layout.text(row, *column), record.date) {
            (Some(text), Some(date)) => {
                let own = match column {
                    Column::Year => date.year(),
                    Column::Month => date.month().into(),
                    _ => date.day().into(),
                };
                text.trim().parse().is_ok_and(|value: f64| value != f64::from(own))
            }
            (text, _) => text.is_some(),
        };
        let other: Vec<Column> = parts.into_iter().filter(differs).collect();
        let kept = self.kept_as_written(row, record, &other);
        if !kept.is_empty() {
            let why = match record.date {
                Some(_) => "the date of the row is another one",
                None => "they give no date",
            };
            self.without(&kept, why, "write the whole date, like 2026-05-03", row.line);
        }
    }

    /// Keeps the filled cells of some columns under their words; gives those columns.
    fn kept_as_written(&self, row: &Row, record: &mut Record, columns: &[Column]) -> Vec<Column> {
        let mut kept = Vec::new();
        for column in columns {
            if let Some(text) = self.layout.text(row, *column) {
                let field = Field::Other(format!("{} as written", column.word()));
                record.fields.entry(field).or_insert(text);
                kept.push(*column);
            }
        }
        kept
    }

    fn without(&mut self, columns: &[Column], why: &str, hint: &str, line: u64) {
        let words: Vec<&str> = columns.iter().map(|column| column.word()).collect();
        let is = if words.len() == 1 { "is" } else { "are" };
        let what = format!("{} {is} kept as written and not used", shortened(&words.join(", ")));
        self.remarks.push(Error::input(what).because(why).hint(hint).at_line(line));
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{file, messages};

    #[test]
    fn values_without_what_they_belong_to_are_kept_and_reported_once() {
        let read = file(
            "number;date;uncertainty (m);datum;zone;easting;northing;qualifier;name;position final\n\
             1;2026-05-03;7.7;MGI;;;;;Mycena;\n\
             2;2026-05-03;;WGS84;;;;;Mycena;\n\
             3;2026-05-03;;;33T;391777;;cf.;;yes\n",
        );
        let other = |place: usize, name: &str| read.records[place].other(name);
        assert_eq!(other(0, "uncertainty as written"), Some("7.7"));
        assert_eq!(other(0, "datum as written"), Some("MGI"));
        assert_eq!(other(1, "datum as written"), Some("WGS84"));
        assert_eq!(other(2, "easting as written"), Some("391777"));
        assert_eq!(other(2, "zone as written"), Some("33T"));
        assert_eq!(other(2, "position final as written"), Some("yes"));
        assert_eq!(other(2, "identificationQualifier"), Some("cf."));
        let notes = messages(&read.remarks);
        assert_eq!(notes.len(), 3, "{notes:?}");
        assert!(notes[0].contains("datum, uncertainty are kept as written"), "{notes:?}");
    }

    #[test]
    fn parts_of_a_date_that_give_none_are_kept() {
        let read = file(
            "number;date;year;month;name\n1;2026-05-03;2024;5;a\n2;2026-05-03;2026;05;b\n3;;2026;5;c\n",
        );
        let other = |place: usize, name: &str| read.records[place].other(name);
        assert_eq!(
            (other(0, "year as written"), other(0, "month as written")),
            (Some("2024"), None)
        );
        assert_eq!(other(1, "year as written"), None);
        assert_eq!(other(2, "month as written"), Some("5"));
        assert_eq!(read.remarks.len(), 2, "{:?}", messages(&read.remarks));
    }
}
