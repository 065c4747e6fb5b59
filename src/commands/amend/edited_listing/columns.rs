//! Decides what each column of an edited listing is: as the listing heads it, however a spreadsheet or a
//! person wrote the heading again, or a column that was added. Layer: `commands`.

use std::collections::{BTreeMap, BTreeSet};

use crate::ingest::record::{column_word, listing};
use crate::model::Field;
use crate::present::darwin_core::TERMS;
use crate::present::field_records::{self, IDENTIFIER};

/// What a column is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Column {
    /// Its heading in the file.
    pub(super) heading: String,
    pub(super) is: Is,
    /// Whether the heading is that of the listing but for case and blanks. Only then an empty cell can have been
    /// emptied; another heading is of a column that was added, whose empty cells say nothing.
    pub(super) as_listed: bool,
}

/// The content of a column.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Is {
    /// A column of a record, by the word of its meaning.
    Record(&'static str),
    /// A field of the find.
    Field(Field),
    /// A Darwin Core term.
    Term(&'static str),
    /// A column that stands again: what the first one says counts.
    Again(Box<Is>),
    /// A column under terms whose heading is not known.
    Unknown,
    /// Without a heading.
    Nothing,
}

/// The columns of a file.
#[derive(Clone, Debug)]
pub(in super::super) struct Columns {
    columns: Vec<Column>,
    /// Whether it is a listing under Darwin Core terms.
    pub(super) has_terms: bool,
}

impl Columns {
    /// The columns under these headings, where the finds of the store have these fields.
    pub(in super::super) fn of(headings: &[String], fields: &BTreeSet<Field>) -> Self {
        let headings: Vec<&str> = headings.iter().map(|heading| heading.trim()).collect();
        let known = Known { fields, has_terms: has_terms(&headings) };
        let mut assigned = Assigned { found: vec![None; headings.len()], first: BTreeMap::new() };
        assigned.take(&headings, |heading, _| known.exactly(heading));
        assigned.take(&headings, |heading, _| known.alike(heading));
        // a heading in other words stands for one that the file lacks
        assigned.take(&headings, |heading, first| {
            known.meant(heading).filter(|(is, _)| !first.contains_key(&key(is)))
        });
        assigned.take(&headings, |heading, _| Some((known.added(heading), false)));
        let columns = headings.into_iter().zip(assigned.found).filter_map(|(heading, found)| {
            let (is, as_listed) = found?;
            Some(Column { heading: heading.to_owned(), is, as_listed })
        });
        Self { columns: columns.collect(), has_terms: known.has_terms }
    }

    /// The columns with their cells; missing cells at the end are empty.
    pub(super) fn cells<'r>(
        &'r self,
        row: &'r [String],
    ) -> impl Iterator<Item = (&'r Column, &'r str)> + 'r {
        let cell = |place: usize| row.get(place).map_or("", String::as_str);
        self.columns.iter().enumerate().map(move |(place, column)| (column, cell(place)))
    }
}

/// The columns that are decided so far, and where each stands first.
struct Assigned {
    found: Vec<Option<(Is, bool)>>,
    first: BTreeMap<String, usize>,
}

impl Assigned {
    /// Decides open columns.
    fn take(
        &mut self,
        headings: &[&str],
        by: impl Fn(&str, &BTreeMap<String, usize>) -> Option<(Is, bool)>,
    ) {
        for (place, heading) in headings.iter().enumerate() {
            if self.found[place].is_some() {
                continue;
            }
            let Some((is, as_listed)) = by(heading, &self.first) else { continue };
            let again = !matches!(is, Is::Unknown | Is::Nothing)
                && *self.first.entry(key(&is)).or_insert(place) != place;
            let is = if again { Is::Again(Box::new(is)) } else { is };
            self.found[place] = Some((is, as_listed));
        }
    }
}

/// Whether these are headings of a listing under Darwin Core terms: one of the terms that name a find, and not what
/// names it in the other listing, which can have a column of the user that is headed like the term.
fn has_terms(headings: &[&str]) -> bool {
    let naming = ["occurrenceID", "recordNumber", "eventDate"];
    let is_naming = |heading: &&str| naming.contains(heading);
    let has = |heading: &str| headings.contains(&heading);
    let names_records = has(IDENTIFIER) || has("number") && has("date");
    headings.iter().any(is_naming) && !names_records
}

/// The same for two columns that are the same.
fn key(is: &Is) -> String {
    match is {
        Is::Record(word) => format!("record {word}"),
        Is::Field(field) => format!("field {}", field.heading()),
        Is::Term(term) => format!("term {term}"),
        Is::Again(first) => key(first),
        Is::Unknown | Is::Nothing => String::new(),
    }
}

/// Columns of a record that a notebook can have, and a listing has not.
const OF_NOTEBOOK: [&str; 6] =
    ["year", "month", "day", "proposed time", "proposed position", "thumbnail"];

/// Whether a word means a column of a record; every other column is a field under its heading.
fn is_of_record(word: &str) -> bool {
    field_records::column_heading(word).is_some() || OF_NOTEBOOK.contains(&word)
}

/// The headings that a listing of this store can have.
struct Known<'s> {
    fields: &'s BTreeSet<Field>,
    has_terms: bool,
}

impl Known<'_> {
    /// As a listing heads it. Fields have no column under terms, so that an empty cell says nothing there.
    fn exactly(&self, heading: &str) -> Option<(Is, bool)> {
        if let Some(term) = TERMS.iter().find(|term| self.has_terms && **term == heading) {
            return Some((Is::Term(term), true));
        }
        if !self.has_terms && field_records::is_column(heading) {
            return column_word(heading).map(|word| (Is::Record(word), true));
        }
        let field = field_records::field(heading);
        let listed = self.fields.contains(&field) || Field::NAMED.contains(&field);
        (listed || field.term().is_some()).then_some((Is::Field(field), !self.has_terms))
    }

    /// The same but for case and blanks.
    fn alike(&self, heading: &str) -> Option<(Is, bool)> {
        let own = unified(heading);
        if let Some(term) = TERMS.iter().find(|term| self.has_terms && unified(term) == own) {
            return Some((Is::Term(term), true));
        }
        let alike = |field: &&Field| unified(&field_records::heading(field)) == own;
        let mut fields = self.fields.iter().filter(alike);
        let first = fields.next().cloned();
        // of two that differ by case only it could be either
        if fields.next().is_some() {
            return None;
        }
        self.exactly(&own).or_else(|| Some((Is::Field(first?), !self.has_terms)))
    }

    /// By what the words of the heading mean.
    fn meant(&self, heading: &str) -> Option<(Is, bool)> {
        let field = listing::field(heading).map(Is::Field);
        let record = || column_word(heading).filter(|word| is_of_record(word)).map(Is::Record);
        Some((field.or_else(|| record().filter(|_| !self.has_terms))?, false))
    }

    /// A column that was added.
    fn added(&self, heading: &str) -> Is {
        match heading {
            "" => Is::Nothing,
            _ if self.has_terms => Is::Unknown,
            _ => Is::Field(field_records::field(heading)),
        }
    }
}

fn unified(heading: &str) -> String {
    heading.to_lowercase().split_whitespace().collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn columns(headings: &[&str], fields: &[&str]) -> Vec<(Is, bool)> {
        let fields = fields.iter().map(|own| Field::from((*own).to_owned())).collect();
        let headings: Vec<String> = headings.iter().map(|own| (*own).to_owned()).collect();
        let columns = Columns::of(&headings, &fields).columns;
        columns.into_iter().map(|column| (column.is, column.as_listed)).collect()
    }

    fn field(heading: &str) -> Is {
        Is::Field(Field::from(heading.to_owned()))
    }

    #[test]
    fn a_heading_is_that_of_the_store_before_what_it_means() {
        let found =
            columns(&["cap colour", "colour", "find identifier"], &["cap colour", "colour"]);
        assert_eq!(found[0], (field("cap colour"), true));
        assert_eq!(found[1], (field("colour"), true));
        assert_eq!(found[2], (Is::Record("find identifier"), true));
        // also where the other column was dropped
        assert_eq!(
            columns(&["cap colour"], &["cap colour", "colour"])[0],
            (field("cap colour"), true)
        );
    }

    #[test]
    fn an_added_column_is_what_its_heading_means_and_never_empties_anything() {
        let found = columns(&["number", "cap colour", "wind"], &["colour"]);
        assert_eq!(found[1], (field("colour"), false));
        assert_eq!(found[2], (field("wind"), false));
        // the listing has the column that is meant
        assert_eq!(columns(&["colour", "cap colour"], &[])[1], (field("cap colour"), false));
    }

    #[test]
    fn case_and_blanks_make_no_other_column() {
        assert_eq!(columns(&["NUMBER", "Spore  Print"], &[])[0], (Is::Record("number"), true));
        assert_eq!(columns(&["Spore  Print"], &[])[0], (field("spore print"), true));
        assert_eq!(columns(&["wind force"], &["Wind Force"])[0], (field("Wind Force"), true));
        let both = columns(&["Wind", "wind"], &["Wind", "wind"]);
        assert_eq!(both, [(field("Wind"), true), (field("wind"), true)]);
        // of two that differ by case a third could be either
        assert_eq!(columns(&["WIND"], &["Wind", "wind"])[0], (field("WIND"), false));
        let again = columns(&["colour", "Colour", ""], &[]);
        assert_eq!(again[1].0, Is::Again(Box::new(field("colour"))));
        assert_eq!(again[2].0, Is::Nothing);
    }

    #[test]
    fn terms_and_field_records_are_distinguished() {
        let found = columns(&["occurrenceID", "Locality", "smell", "to do"], &[]);
        let expected =
            [Is::Term("occurrenceID"), Is::Term("locality"), field("smell"), Is::Unknown];
        assert_eq!(found.iter().map(|(is, _)| is.clone()).collect::<Vec<_>>(), expected);
        assert!(!found[2].1);
        // a notebook with a column of that name
        let own = columns(&["number", "occurrenceID", "find identifier"], &["occurrenceID"]);
        assert_eq!(own[1], (field("occurrenceID"), true));
        let dropped = columns(&["number", "date", "occurrenceID"], &["occurrenceID"]);
        assert_eq!(dropped[1], (Is::Record("date"), true));
    }
}
