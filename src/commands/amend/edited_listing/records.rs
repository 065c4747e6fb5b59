//! Compares a row of field records, as `trug finds --format xlsx` lists it. Layer: `commands`.

use std::collections::{BTreeMap, BTreeSet};

use super::cells::{plain, same_text};
use super::identified::{self, Edited};
use super::terms::number;
use super::{Differences, Row, located};
use crate::error::{Error, Result};
use crate::ingest::record::{column_word, listing};
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
    /// The columns that were met.
    seen: BTreeSet<&'static str>,
}

pub(super) fn differences(find: &KeptFind, row: &Row<'_>) -> Result<Differences> {
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
        seen: BTreeSet::new(),
    };
    // of two columns with the same letters the one in lower case, as a listing writes it, counts
    let again = |heading: &str| {
        let lower = heading.to_lowercase();
        lower != heading && row.headings.iter().any(|own| own.trim() == lower)
    };
    for (heading, cell) in row.columns().filter(|(heading, _)| !heading.is_empty()) {
        if !again(heading) {
            beside.column(heading, cell)?;
        } else if !cell.trim().is_empty() {
            beside.found.not_amendable.push(heading.to_owned());
        }
    }
    let Beside { edited, mut found, .. } = beside.position()?;
    found.patches.extend(identified::determination(find, edited)?);
    Ok(found)
}

impl Beside<'_> {
    fn column(&mut self, heading: &str, cell: &str) -> Result<()> {
        // a heading of the find itself counts before what it could mean, and the first of several
        let own = self.listed.keys().find(|own| own.eq_ignore_ascii_case(heading));
        let means_itself = own.is_some_and(|own| !field_records::is_column(own));
        let word = column_word(heading).filter(|_| !means_itself);
        let known = word.filter(|word| self.seen.insert(word));
        let text = plain(cell);
        let place = match known {
            Some("latitude") => Some(0),
            Some("longitude") => Some(1),
            _ => None,
        };
        if let Some(place) = place {
            self.is_moved |= self.is_changed(known.unwrap_or_default(), cell);
            self.pair[place] = Some(text);
            return Ok(());
        }
        match known {
            Some("find identifier" | "proposed time" | "proposed position" | "thumbnail") => {}
            Some("coordinates") => {
                self.is_moved |= self.is_changed("coordinates", cell);
                self.coordinates = Some(text).filter(|text| !text.is_empty());
            }
            Some("datum") => {
                self.is_moved |= self.is_changed("datum", cell);
                self.datum = Some(text).filter(|text| !text.is_empty());
            }
            Some("uncertainty") => {
                self.is_moved |= self.is_changed("uncertainty (m)", cell);
                self.uncertainty = Some(text);
            }
            Some(word) if self.text(word, heading, cell)? => {}
            Some("elevation") => self.not_amendable("elevation (m)", heading, cell),
            Some(word @ ("date" | "photos" | "waypoint" | "year" | "month" | "day")) => {
                self.not_amendable(word, heading, cell);
            }
            _ => self.field(known.is_some(), heading, cell),
        }
        Ok(())
    }

    fn is_changed(&self, listed: &str, cell: &str) -> bool {
        !same_text(cell, self.listed.get(listed).map_or("", String::as_str))
    }

    fn not_amendable(&mut self, listed: &str, heading: &str, cell: &str) {
        if self.is_changed(listed, cell) {
            self.found.not_amendable.push(heading.to_owned());
        }
    }

    /// Columns with a place of their own in a record; whether the word is one.
    fn text(&mut self, word: &str, heading: &str, cell: &str) -> Result<bool> {
        let property = match word {
            "number" | "place" | "substrate" | "host" | "habitat" | "container" => {
                TextProperty::of(word)
            }
            "name" | "identified by" | "date identified" | "collector" | "time" => {
                self.special(word, heading, cell)?;
                return Ok(true);
            }
            _ => return Ok(false),
        };
        if self.is_changed(word, cell) {
            let text = plain(cell);
            let text = if word == "number" { number(text)? } else { text };
            self.found.text(property, text);
        }
        Ok(true)
    }

    fn special(&mut self, word: &str, heading: &str, cell: &str) -> Result<()> {
        let listed = if word == "date identified" { "dateIdentified" } else { word };
        if !self.is_changed(listed, cell) {
            return Ok(());
        }
        let text = plain(cell);
        match word {
            "name" => self.edited.name = Some(text),
            "identified by" => self.edited.determiner = Some(text),
            "date identified" => self.edited.on = Some(text),
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
    fn field(&mut self, is_known: bool, heading: &str, cell: &str) {
        let own = self.listed.keys().find(|own| own.eq_ignore_ascii_case(heading));
        let known = || listing::field(heading).filter(|_| is_known);
        let field = match own {
            Some(own) => Field::from(own.clone()),
            None => known().unwrap_or_else(|| Field::from(heading.to_owned())),
        };
        if self.is_changed(field.heading(), cell) {
            self.found.text(TextProperty::Field(field), plain(cell));
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
    use super::super::differences;
    use super::*;
    use crate::present::fixture;

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
        differences(&find, &Row { headings: &headings, cells: &cells })
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
