//! Compares a row of field records, as `trug finds --format xlsx` lists it. Layer: `commands`.

use std::collections::BTreeMap;

use super::cells::{plain, same_text};
use super::columns::{Column, Is};
use super::identified::{self, Edited};
use super::terms::number;
use super::{Differences, EditedRow, located};
use crate::error::{Error, Result};
use crate::ingest::record::listing;
use crate::model::{Field, KeptFind, Patch, TextProperty};
use crate::present::field_records;
use crate::units::Seconds;

/// A row beside what is listed of its find.
struct Beside<'a> {
    find: &'a KeptFind,
    listed: BTreeMap<String, String>,
    edited: Edited,
    found: Differences,
    /// Changed and unchanged parts of the position.
    coordinates: Option<String>,
    pair: [Option<String>; 2],
    datum: Option<String>,
    uncertainty: Option<String>,
    is_moved: bool,
}

pub(super) fn differences(row: EditedRow<'_>) -> Result<Differences> {
    let find = row.find;
    let mut beside = Beside {
        find,
        listed: field_records::cells(find),
        edited: Edited::default(),
        found: Differences::default(),
        coordinates: None,
        pair: [None, None],
        datum: None,
        uncertainty: None,
        is_moved: false,
    };
    for (column, cell) in row.filled() {
        // an empty cell of a column that was added says nothing
        if column.as_listed || !cell.trim().is_empty() {
            beside.column(column, cell)?;
        }
    }
    let Beside { edited, mut found, .. } = beside.position()?;
    found.patches.extend(identified::determination(find, edited, row.today)?);
    Ok(found)
}

/// The heading under which a listing has the column that a word means.
fn listed_as(word: &str) -> &str {
    field_records::column_heading(word).unwrap_or(word)
}

impl Beside<'_> {
    fn column(&mut self, column: &Column, cell: &str) -> Result<()> {
        let heading = column.heading.as_str();
        match &column.is {
            Is::Record("find identifier" | "proposed time" | "proposed position" | "thumbnail")
            | Is::Nothing => {}
            Is::Record(
                word @ ("latitude" | "longitude" | "coordinates" | "datum" | "uncertainty"),
            ) => {
                self.part_of_position(word, cell);
            }
            Is::Record(
                word @ ("date" | "photos" | "waypoint" | "elevation" | "year" | "month" | "day"),
            ) => self.not_amendable(listed_as(word), heading, cell),
            Is::Record(word) => self.text(word, heading, cell)?,
            Is::Field(Field::IdentifiedBy) => self.special("identified by", heading, cell)?,
            Is::Field(field) if field.term() == Some("dateIdentified") => {
                self.special("dateIdentified", heading, cell)?;
            }
            Is::Field(field) => self.field(field, cell),
            Is::Again(first) => self.again(first, heading, cell),
            Is::Term(_) | Is::Unknown => {
                if !cell.trim().is_empty() {
                    self.found.not_amendable.push(heading.to_owned());
                }
            }
        }
        Ok(())
    }

    /// Collects the parts of a position; whether one was changed shows only with all of them.
    fn part_of_position(&mut self, word: &str, cell: &str) {
        self.is_moved |= self.is_changed(listed_as(word), cell);
        let text = plain(cell);
        match word {
            "latitude" => self.pair[0] = Some(text),
            "longitude" => self.pair[1] = Some(text),
            "coordinates" => self.coordinates = Some(text).filter(|text| !text.is_empty()),
            "datum" => self.datum = Some(text).filter(|text| !text.is_empty()),
            _ => self.uncertainty = Some(text),
        }
    }

    /// A column that stands again says nothing, unless it is filled differently.
    fn again(&mut self, first: &Is, heading: &str, cell: &str) {
        let listed = match first {
            Is::Field(field) => field_records::heading(field).into_owned(),
            Is::Record(word) => listed_as(word).to_owned(),
            _ => String::new(),
        };
        if !cell.trim().is_empty() {
            self.not_amendable(&listed, heading, cell);
        }
    }

    fn is_changed(&self, listed: &str, cell: &str) -> bool {
        !same_text(cell, self.listed.get(listed).map_or("", String::as_str))
    }

    fn not_amendable(&mut self, listed: &str, heading: &str, cell: &str) {
        if self.is_changed(listed, cell) {
            self.found.not_amendable.push(heading.to_owned());
        }
    }

    /// Columns with a place of their own in a record.
    fn text(&mut self, word: &str, heading: &str, cell: &str) -> Result<()> {
        if ["name", "collector", "time"].contains(&word) {
            return self.special(word, heading, cell);
        }
        if self.is_changed(word, cell) {
            let text = plain(cell);
            let text = if word == "number" { number(text)? } else { text };
            self.found.text(TextProperty::of(word), text);
        }
        Ok(())
    }

    fn special(&mut self, word: &str, heading: &str, cell: &str) -> Result<()> {
        if !self.is_changed(word, cell) {
            return Ok(());
        }
        let text = plain(cell);
        match word {
            "name" => self.edited.name = Some(text),
            "identified by" => self.edited.determiner = Some(text),
            "dateIdentified" => self.edited.on = Some(text),
            "time" => self.time(&text)?,
            _ if text.is_empty() => self.found.not_amendable.push(heading.to_owned()),
            _ => self.found.patches.push(Patch::Collector(text)),
        }
        Ok(())
    }

    /// A spreadsheet writes 9:05 as 09:05:00, so that no seconds are half a minute either way.
    fn time(&mut self, cell: &str) -> Result<()> {
        let listed = self.listed.get("time").and_then(|listed| listing::time_of_day(listed));
        let Some(time) = listing::time_of_day(cell) else {
            return Err(Error::input(format!("the time \"{cell}\" cannot be read"))
                .because("a time cannot be removed or written in words in a listing")
                .hint("write it as 14:32"));
        };
        if listed.is_some_and(|listed| listed.clock == time.clock) {
            return Ok(());
        }
        let within =
            if time.clock.second() == 0 { time.precision.step().0.max(60.0) / 2.0 } else { 1.0 };
        let clock = self.find.date.to_datetime(time.clock);
        self.found.patches.push(Patch::Time { clock, within: Seconds(within) });
        Ok(())
    }

    /// Any other column is a field under its heading.
    fn field(&mut self, field: &Field, cell: &str) {
        if self.is_changed(&field_records::heading(field), cell) {
            self.found.text(TextProperty::Field(field.clone()), plain(cell));
        }
    }

    /// The stated position where a part of it was changed.
    fn position(mut self) -> Result<Self> {
        let text = match &self.pair {
            [Some(latitude), Some(longitude)] if !(latitude.is_empty() && longitude.is_empty()) => {
                Some(format!("{latitude} {longitude}"))
            }
            _ => self.coordinates.clone(),
        };
        if !self.is_moved {
            return Ok(self);
        }
        let patch = match text {
            None => Patch::Unlocated,
            Some(text) => {
                let uncertainty = self.uncertainty.as_deref().unwrap_or_default();
                located::as_written(&text, self.datum.as_deref(), uncertainty)?
            }
        };
        self.found.patches.push(patch);
        Ok(self)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Columns;
    use super::*;
    use crate::present::fixture;

    fn differences_of(find: &KeptFind, columns: &Columns, cells: &[String]) -> Result<Differences> {
        EditedRow { find, columns, cells, today: jiff::civil::date(2026, 12, 31) }.differences()
    }

    fn edited(edits: &[(&str, &str)]) -> Result<Differences> {
        let find = fixture::kept_find("TH 17");
        let sheet = field_records::sheet(std::slice::from_ref(&find));
        let (mut headings, mut cells) = (sheet.headings, sheet.rows[0].clone());
        for (heading, value) in edits {
            if let Some(place) = headings.iter().position(|own| own == heading) {
                (*value).clone_into(&mut cells[place]);
            } else {
                headings.push((*heading).to_owned());
                cells.push((*value).to_owned());
            }
        }
        let columns = Columns::of(&headings, &find.record.fields.keys().cloned().collect());
        differences_of(&find, &columns, &cells)
    }

    #[test]
    fn listing_as_written_has_no_differences() {
        assert_eq!(edited(&[]).unwrap(), Differences::default());
        assert_eq!(
            edited(&[("Smell", ""), ("latex", ""), ("wind", " ")]).unwrap(),
            Differences::default()
        );
    }

    #[test]
    fn an_empty_cell_of_a_column_of_like_meaning_removes_nothing() {
        let own = |heading: &str| Field::from(heading.to_owned());
        let mut find = fixture::kept_find("TH 17");
        find.record.fields.insert(own("colour"), "red".into());
        let mut other = fixture::kept_find("TH 18");
        other.record.fields.insert(own("cap colour"), "brown".into());
        let both = [find.clone(), other.clone()];
        let fields = both.iter().flat_map(|find| find.record.fields.keys().cloned()).collect();
        let sheet = field_records::sheet(&both);
        let columns = Columns::of(&sheet.headings, &fields);
        for (find, row) in both.iter().zip(&sheet.rows) {
            assert_eq!(differences_of(find, &columns, row).unwrap(), Differences::default());
        }
        // emptied under its own heading, the value is removed
        let place = sheet.headings.iter().position(|heading| heading == "colour").unwrap();
        let mut row = sheet.rows[0].clone();
        row[place].clear();
        let found = differences_of(&find, &columns, &row).unwrap();
        let removed = Patch::Text { property: TextProperty::Field(own("colour")), value: None };
        assert_eq!(found.patches, [removed]);
        // the column is dropped; the other one is no place for its value
        let (mut headings, mut row) = (sheet.headings.clone(), sheet.rows[0].clone());
        headings.remove(place);
        row.remove(place);
        let columns = Columns::of(&headings, &fields);
        assert_eq!(differences_of(&find, &columns, &row).unwrap(), Differences::default());
    }

    #[test]
    fn columns_of_any_kind_are_amended() {
        let found = edited(&[
            ("host", "Acacia"),
            ("smell", "of aniseed"),
            ("wind", "strong"),
            ("name", "Laccaria sp."),
            ("identified by", "I. Marrowby"),
        ])
        .unwrap();
        assert_eq!(found.not_amendable, Vec::<String>::new());
        let text = |property: TextProperty, value: &str| Patch::Text {
            property,
            value: Some(value.to_owned()),
        };
        assert!(found.patches.contains(&text(TextProperty::Host, "Acacia")), "{found:?}");
        assert!(found.patches.contains(&text(TextProperty::Field(Field::Smell), "of aniseed")));
        assert!(found.patches.contains(&text(TextProperty::of("wind"), "strong")));
        let Some(Patch::Determination(named)) = found.patches.last() else { panic!("{found:?}") };
        assert_eq!(
            (named.name.as_str(), named.determiner.as_deref()),
            ("Laccaria sp.", Some("I. Marrowby"))
        );
    }

    #[test]
    fn positions_need_a_radius_and_enough_digits() {
        let place = |text: &str, within: &str| {
            edited(&[("coordinates", text), ("datum", "WGS 84"), ("uncertainty (m)", within)])
        };
        let found = place("42.61230 S 146.12345 E", "5").unwrap();
        assert!(matches!(found.patches[..], [Patch::Position { within_m: 5.0, .. }]), "{found:?}");
        assert!(place("42.61230 S 146.12345 E", "").is_err());
        assert!(place("42.6 S 146.1 E", "5").is_err());
        assert!(place("over there", "5").is_err());
        assert!(place("42.61230 S 146.12345 E", "-5").is_err());
    }

    #[test]
    fn times_are_compared_as_times() {
        let find = fixture::kept_find("TH 17");
        let listed = field_records::cells(&find).get("time").cloned();
        if let Some(listed) = listed {
            assert_eq!(
                edited(&[("time", &format!("{listed}:00"))]).unwrap(),
                Differences::default()
            );
        }
        let found = edited(&[("time", "03:07:00")]).unwrap();
        assert!(
            matches!(found.patches[..], [Patch::Time { within: Seconds(30.0), .. }]),
            "{found:?}"
        );
        assert!(edited(&[("time", "after lunch")]).is_err());
        let date = edited(&[("date", "1999-01-01")]).unwrap();
        assert_eq!(date.not_amendable, ["date"]);
    }
}
