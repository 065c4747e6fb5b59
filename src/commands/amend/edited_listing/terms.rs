//! Compares a row under Darwin Core terms, as `trug finds --format csv` lists it. Layer: `commands`.

use super::cells::{plain, same};
use super::columns::Is;
use super::identified::{self, Edited};
use super::{Differences, EditedRow, located};
use crate::error::{Error, Result};
use crate::model::{Field, KeptFind, Patch, TextProperty};
use crate::present::darwin_core::{self, Value, identification};

/// Computed columns, and columns that say nothing of the find: a spreadsheet may format them again.
const IGNORED: [&str; 19] = [
    "occurrenceID",
    "eventID",
    "basisOfRecord",
    "occurrenceStatus",
    "geodeticDatum",
    "coordinatePrecision",
    "georeferenceProtocol",
    "georeferenceSources",
    "georeferenceRemarks",
    "verbatimCoordinates",
    "verbatimCoordinateSystem",
    "verbatimSRS",
    "minimumElevationInMeters",
    "maximumElevationInMeters",
    "informationWithheld",
    "dataGeneralizations",
    "verbatimEventDate",
    "verbatimElevation",
    "previousIdentifications",
];

const AMENDABLE: [&str; 16] = [
    "recordNumber",
    "locality",
    "occurrenceRemarks",
    "habitat",
    "associatedTaxa",
    "recordedBy",
    "scientificName",
    "identificationQualifier",
    "verbatimIdentification",
    "identifiedBy",
    "dateIdentified",
    "identificationRemarks",
    "typeStatus",
    "decimalLatitude",
    "decimalLongitude",
    "coordinateUncertaintyInMeters",
];

pub(super) fn differences(row: EditedRow<'_>) -> Result<Differences> {
    let find = row.find;
    let now = darwin_core::occurrence(find);
    let listed = |term: &str| now.iter().find(|(own, _)| *own == term).map(|(_, value)| value);
    let changed = |term: &str| -> Option<String> {
        let is = |is: &Is| matches!(is, Is::Term(own) if *own == term);
        let cell = row.filled().find(|(column, _)| is(&column.is))?.1;
        (!same(cell, listed(term))).then(|| plain(cell))
    };
    let mut found = Differences::default();
    texts(find, &changed, &mut found)?;
    let edited = edited_identification(find, &changed);
    found.patches.extend(identified::determination(find, edited, row.today)?);
    let terms = ["decimalLatitude", "decimalLongitude", "coordinateUncertaintyInMeters"];
    found.patches.extend(located::by_numbers(find, &terms.map(changed), terms)?);
    for (column, cell) in row.filled() {
        other(find, (&column.is, &column.heading), cell, &listed, &mut found);
    }
    Ok(found)
}

fn texts(
    find: &KeptFind,
    changed: &dyn Fn(&str) -> Option<String>,
    found: &mut Differences,
) -> Result<()> {
    if let Some(number) = changed("recordNumber") {
        found.text(TextProperty::Number, self::number(number)?);
    }
    if let Some(place) = changed("locality") {
        found.text(TextProperty::Place, place);
    }
    if let Some(notes) = changed("occurrenceRemarks") {
        found.text(TextProperty::Field(Field::Notes), notes);
    }
    if let Some(value) = changed("habitat") {
        surroundings(find, &value, found);
    }
    if let Some(value) = changed("associatedTaxa") {
        found.text(TextProperty::Host, host(&value));
    }
    match changed("recordedBy") {
        Some(name) if name.is_empty() => found.not_amendable.push("recordedBy".to_owned()),
        Some(name) => found.patches.push(Patch::Collector(name)),
        None => {}
    }
    Ok(())
}

/// A find does not lose its number.
pub(super) fn number(number: String) -> Result<String> {
    if number.is_empty() {
        return Err(Error::input("a find cannot lose its number")
            .because("the cell of its number is empty")
            .hint(
                "give the right number, or withdraw the find with trug amend NUMBER --withdraw",
            ));
    }
    Ok(number)
}

fn edited_identification(find: &KeptFind, changed: &dyn Fn(&str) -> Option<String>) -> Edited {
    let parts = identification(find.record.name.as_deref().unwrap_or_default());
    let whole = changed("verbatimIdentification");
    let (name, qualifier) = (changed("scientificName"), changed("identificationQualifier"));
    let name = whole.or_else(|| {
        if name.is_none() && qualifier.is_none() {
            return None;
        }
        let name = name.or(parts.name).unwrap_or_default();
        let qualifier = qualifier.or(parts.qualifier).unwrap_or_default();
        Some(format!("{name} {qualifier}").trim().to_owned())
    });
    Edited {
        name,
        determiner: changed("identifiedBy"),
        on: changed("dateIdentified"),
        type_status: changed("typeStatus"),
        remarks: changed("identificationRemarks"),
    }
}

/// Terms and fields that are kept under their own names; other changed columns are named.
fn other<'v>(
    find: &KeptFind,
    (is, heading): (&Is, &str),
    cell: &str,
    listed: &dyn Fn(&str) -> Option<&'v Value>,
    found: &mut Differences,
) {
    let not_amendable = |found: &mut Differences| found.not_amendable.push(heading.to_owned());
    match is {
        Is::Term(term) if IGNORED.contains(term) || AMENDABLE.contains(term) => {}
        Is::Term(term) if same(cell, listed(term)) => {}
        Is::Term(term) => {
            let field = Field::from((*term).to_owned());
            match field.term() {
                Some(_) => found.text(TextProperty::Field(field), plain(cell)),
                None => not_amendable(found),
            }
        }
        // the listing has no such column: an empty cell says nothing
        Is::Field(field) if !cell.trim().is_empty() => {
            let now = find.record.fields.get(field).map(|text| Value::Text(text.clone()));
            if !same(cell, now.as_ref()) {
                found.text(TextProperty::Field(field.clone()), plain(cell));
            }
        }
        Is::Again(first) if !cell.trim().is_empty() => {
            let now = if let Is::Term(term) = &**first { listed(term) } else { None };
            if !same(cell, now) {
                not_amendable(found);
            }
        }
        Is::Unknown if !cell.trim().is_empty() => not_amendable(found),
        _ => {}
    }
}

/// `wet forest | substrate: soil`: each part that differs.
fn surroundings(find: &KeptFind, cell: &str, found: &mut Differences) {
    let parts = cell.split('|').map(str::trim).filter(|part| !part.is_empty());
    let (substrates, habitats): (Vec<&str>, Vec<&str>) =
        parts.partition(|part| part.to_lowercase().starts_with("substrate:"));
    let habitat = habitats.join(" | ");
    let substrate: Vec<&str> =
        substrates.iter().filter_map(|part| Some(part.split_once(':')?.1.trim())).collect();
    let substrate = substrate.join(" | ");
    let is = |own: &Option<String>, value: &str| own.as_deref().unwrap_or_default() == value;
    if !is(&find.record.habitat, &habitat) {
        found.text(TextProperty::Habitat, habitat);
    }
    if !is(&find.record.substrate, &substrate) {
        found.text(TextProperty::Substrate, substrate);
    }
}

/// `"host":"Nothofagus"`, or the bare name.
fn host(cell: &str) -> String {
    let bare = cell.trim().trim_start_matches("\"host\":").trim();
    bare.trim_matches('"').trim().to_owned()
}

#[cfg(test)]
mod tests {
    use super::super::Columns;
    use super::*;
    use crate::present::csv::harmless;
    use crate::present::darwin_core::TERMS;
    use crate::present::fixture;

    fn edited(edits: &[(&str, &str)]) -> Result<Differences> {
        let find = fixture::kept_find("TH-0012");
        let now = darwin_core::occurrence(&find);
        let mut headings: Vec<String> = TERMS.iter().map(|term| (*term).to_owned()).collect();
        let added = edits.iter().map(|(heading, _)| (*heading).to_owned());
        headings.extend(added.filter(|heading| !TERMS.contains(&heading.as_str())));
        let cell = |heading: &String| {
            let edit = edits.iter().find(|(term, _)| *term == heading.as_str());
            match edit {
                Some((_, value)) => (*value).to_owned(),
                None => now
                    .iter()
                    .find(|(term, _)| *term == heading.as_str())
                    .map(|(_, value)| harmless(&value.to_string()))
                    .unwrap_or_default(),
            }
        };
        let cells: Vec<String> = headings.iter().map(cell).collect();
        let columns = Columns::of(&headings, &find.record.fields.keys().cloned().collect());
        let today = jiff::civil::date(2031, 1, 1);
        EditedRow { find: &find, columns: &columns, cells: &cells, today }.differences()
    }

    #[test]
    fn listing_as_written_has_no_differences() {
        assert_eq!(edited(&[]).unwrap(), Differences::default());
    }

    #[test]
    fn changed_cells_are_amendments() {
        let found =
            edited(&[("locality", "Quillback Spur, north"), ("scientificName", "Laccaria")])
                .unwrap();
        assert_eq!(found.patches.len(), 2, "{found:?}");
        assert!(
            matches!(&found.patches[1], Patch::Determination(named) if named.name.starts_with("Laccaria"))
        );
    }

    #[test]
    fn decimal_commas_and_formats_are_no_changes() {
        let find = fixture::kept_find("TH-0012");
        let place = find.place.unwrap();
        let latitude = format!("{:.7}", place.at.latitude()).replace('.', ",");
        assert_eq!(edited(&[("decimalLatitude", &latitude)]).unwrap(), Differences::default());
        let moved = edited(&[("decimalLatitude", "-42.5"), ("coordinateUncertaintyInMeters", "5")])
            .unwrap();
        assert!(matches!(moved.patches[..], [Patch::Position { within_m: 5.0, .. }]), "{moved:?}");
        assert!(edited(&[("decimalLatitude", "north")]).is_err());
        assert!(edited(&[("decimalLatitude", "-142.5")]).is_err());
    }

    #[test]
    fn other_columns_are_reported() {
        let found = edited(&[("eventDate", "03/05/2026"), ("to do", "ask")]).unwrap();
        assert_eq!(
            (found.patches.len(), &found.not_amendable[..]),
            (0, &["eventDate".to_owned(), "to do".into()][..])
        );
    }

    #[test]
    fn collection_terms_and_fresh_characters_are_fields() {
        let found = edited(&[("catalogNumber", "QF 1042"), ("Smell", "of aniseed")]).unwrap();
        let field = |field: Field, value: &str| Patch::Text {
            property: TextProperty::Field(field),
            value: Some(value.to_owned()),
        };
        let expected = [
            field(Field::Other("catalogNumber".into()), "QF 1042"),
            field(Field::Smell, "of aniseed"),
        ];
        assert_eq!(found.patches, expected);
    }

    #[test]
    fn another_determiner_or_date_corrects_the_identification() {
        let find = fixture::kept_find("TH-0012");
        let found =
            edited(&[("identifiedBy", "I. Marrowby"), ("dateIdentified", "2030-01-02")]).unwrap();
        let [Patch::Determination(named)] = &found.patches[..] else { panic!("{found:?}") };
        assert_eq!(Some(&named.name), find.record.name.as_ref());
        assert_eq!(
            (named.determiner.as_deref(), named.on),
            (Some("I. Marrowby"), "2030-01-02".parse().ok())
        );
        for date in ["1999-01-02", "03/05/2030", "soon", "2031-01-02"] {
            assert!(edited(&[("dateIdentified", date)]).is_err(), "{date}");
        }
        assert!(edited(&[("recordNumber", "")]).is_err());
    }
}
