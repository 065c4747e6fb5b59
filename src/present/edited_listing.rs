//! Compares an edited row of a listing with the find that it lists and reads the differences as
//! amendments. Cells that a spreadsheet only formatted again count as unchanged. Layer: `present`.

use super::csv::harmless;
use super::darwin_core::{self, Value, identification};
use crate::error::{Error, Result};
use crate::model::{Determination, Field, KeptFind, Patch, TextProperty};

/// The differences of a row.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Differences {
    /// What was changed.
    pub patches: Vec<Patch>,
    /// Headings of changed cells that cannot be amended in a listing.
    pub not_amendable: Vec<&'static str>,
}

/// Computed columns, and columns that say nothing of the find: a spreadsheet may format them again.
const IGNORED: [&str; 32] = [
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
    "dateIdentified",
    "identificationRemarks",
    "previousIdentifications",
    "typeStatus",
    "scientificNameAuthorship",
    "taxonRank",
    "taxonomicStatus",
    "acceptedNameUsage",
    "kingdom",
    "phylum",
    "class",
    "order",
    "family",
    "genus",
];

/// A row as seen by its headings.
pub struct Row<'a> {
    /// The cell under a heading; `None` where the file lacks the column.
    pub cell: &'a dyn Fn(&str) -> Option<String>,
}

impl std::fmt::Debug for Row<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Row").finish_non_exhaustive()
    }
}

/// The differences between a row and the find as it is now.
///
/// # Errors
/// When changed coordinates are no numbers or not on the globe.
pub fn differences(find: &KeptFind, row: &Row<'_>) -> Result<Differences> {
    let now = darwin_core::occurrence(find);
    let listed = |term: &str| now.iter().find(|(own, _)| *own == term).map(|(_, value)| value);
    let changed = |term: &str| -> Option<String> {
        let cell = (row.cell)(term)?;
        (!same(&cell, listed(term))).then(|| plain(&cell))
    };
    let mut found = Differences::default();
    let texts = [
        ("recordNumber", TextProperty::Number),
        ("locality", TextProperty::Place),
        ("occurrenceRemarks", TextProperty::Field(Field::Notes)),
    ];
    for (term, property) in texts {
        if let Some(value) = changed(term) {
            found.text(property, value);
        }
    }
    if let Some(value) = changed("habitat") {
        surroundings(find, &value, &mut found);
    }
    if let Some(value) = changed("associatedTaxa") {
        found.text(TextProperty::Host, host(&value));
    }
    if let Some(name) = changed("recordedBy") {
        if name.is_empty() {
            found.not_amendable.push("recordedBy");
        } else {
            found.patches.push(Patch::Collector(name));
        }
    }
    found.patches.extend(determination(find, &changed));
    found.patches.extend(position(find, &changed)?);
    for term in darwin_core::TERMS {
        if !IGNORED.contains(&term) && !AMENDABLE.contains(&term) && changed(term).is_some() {
            found.not_amendable.push(term);
        }
    }
    Ok(found)
}

const AMENDABLE: [&str; 13] = [
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
    "decimalLatitude",
    "decimalLongitude",
    "coordinateUncertaintyInMeters",
];

impl Differences {
    fn text(&mut self, property: TextProperty, value: String) {
        let value = Some(value).filter(|value| !value.is_empty());
        self.patches.push(Patch::Text { property, value });
    }
}

/// Whether a cell says what is listed: numbers by their value, with a decimal comma too; text without
/// blanks at its ends and without the apostrophe that keeps a spreadsheet from computing.
fn same(cell: &str, listed: Option<&Value>) -> bool {
    match listed {
        None => cell.trim().is_empty(),
        Some(Value::Number(number)) => {
            number_of(cell).is_some_and(|own| (own - number).abs() <= 1e-9 * number.abs().max(1.0))
        }
        Some(Value::Text(text)) => {
            let unified = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
            unified(cell) == unified(text) || unified(cell) == unified(&harmless(text))
        }
    }
}

fn number_of(cell: &str) -> Option<f64> {
    let cell = cell.trim().replace('\u{2212}', "-");
    let number = cell.parse().ok().or_else(|| cell.replacen(',', ".", 1).parse().ok());
    number.filter(|number: &f64| number.is_finite())
}

fn plain(cell: &str) -> String {
    let cell = cell.trim();
    match cell.strip_prefix('\'') {
        Some(rest) if harmless(rest) == cell => rest.trim().to_owned(),
        _ => cell.to_owned(),
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

/// A changed name is a new identification, by the person in the row if that was changed too.
fn determination(find: &KeptFind, changed: &dyn Fn(&str) -> Option<String>) -> Option<Patch> {
    let parts = identification(find.record.name.as_deref().unwrap_or_default());
    let (name, qualifier) = (changed("scientificName"), changed("identificationQualifier"));
    let whole = changed("verbatimIdentification");
    let person = changed("identifiedBy");
    if name.is_none() && qualifier.is_none() && whole.is_none() && person.is_none() {
        return None;
    }
    let name = whole.unwrap_or_else(|| {
        let name = name.or(parts.name).unwrap_or_default();
        let qualifier = qualifier.or(parts.qualifier).unwrap_or_default();
        format!("{name} {qualifier}").trim().to_owned()
    });
    let determiner = person.filter(|person| !person.is_empty());
    Some(Patch::Determination(Determination {
        name,
        determiner,
        accepted: true,
        ..Determination::default()
    }))
}

fn position(find: &KeptFind, changed: &dyn Fn(&str) -> Option<String>) -> Result<Option<Patch>> {
    let terms = ["decimalLatitude", "decimalLongitude", "coordinateUncertaintyInMeters"];
    let cells = terms.map(changed);
    if cells.iter().all(Option::is_none) {
        return Ok(None);
    }
    let own = find
        .place
        .as_ref()
        .map(|place| [place.at.latitude(), place.at.longitude(), place.radius.metres().0]);
    if cells.iter().flatten().all(String::is_empty) && cells.iter().flatten().count() >= 2 {
        return Ok(Some(Patch::Unlocated));
    }
    let mut values = [0.0; 3];
    for (place, (cell, term)) in cells.iter().zip(terms).enumerate() {
        let number = match cell {
            Some(cell) => number_of(cell),
            None => own.map(|own| own[place]),
        };
        values[place] = number.ok_or_else(|| {
            Error::input(format!("{term} is not a number"))
                .because(format!("\"{}\"", cell.as_deref().unwrap_or_default()))
                .hint("give latitude, longitude and uncertainty as decimal numbers")
        })?;
    }
    let [latitude, longitude, within_m] = values;
    let on_globe = crate::units::LatLon::new(latitude, longitude)
        .map_err(|off| Error::input("the position is not on the globe").because(off.to_string()))?;
    if within_m <= 0.0 || within_m > 100_000.0 {
        return Err(Error::input("coordinateUncertaintyInMeters is not a radius")
            .because(format!("{within_m} is not between 0 and 100 km")));
    }
    let (latitude, longitude) = (on_globe.latitude(), on_globe.longitude());
    Ok(Some(Patch::Position { latitude, longitude, within_m }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;

    fn edited(edits: &[(&str, &str)]) -> Result<Differences> {
        let find = fixture::kept_find("TH-0012");
        let now = darwin_core::occurrence(&find);
        let cell = |heading: &str| {
            let edit = edits.iter().find(|(term, _)| *term == heading);
            Some(match edit {
                Some((_, value)) => (*value).to_owned(),
                None => now
                    .iter()
                    .find(|(term, _)| *term == heading)
                    .map(|(_, value)| harmless(&value.to_string()))
                    .unwrap_or_default(),
            })
        };
        differences(&find, &Row { cell: &cell })
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
        let found = edited(&[("eventDate", "03/05/2026")]).unwrap();
        assert_eq!((found.patches.len(), &found.not_amendable[..]), (0, &["eventDate"][..]));
    }
}
