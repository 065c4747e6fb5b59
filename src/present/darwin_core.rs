//! Expresses a find in Darwin Core terms, once for all exchange formats. Unknown values are omitted.
//! Layer: `present`.
//!
//! Terms after the quick reference guide of Darwin Core (Darwin Core Maintenance Group, TDWG,
//! <http://rs.tdwg.org/dwc/terms/>). Edibility is never stated.

mod event_date;
mod georeference;
mod remarks;
pub(crate) mod taxonomy;

use std::collections::BTreeMap;

use uuid::Uuid;

use crate::model::{Determination, Field, KeptFind, term};

pub use crate::model::{Identification, identification};
pub(crate) use georeference::{elevation_of, seven_decimals};
pub(crate) use remarks::is_quantity;

/// A value with its type, so that a format can write numbers as numbers.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Text.
    Text(String),
    /// A number, rounded as it should be shown.
    Number(f64),
}

impl From<String> for Value {
    fn from(text: String) -> Self {
        Self::Text(text)
    }
}

impl From<&str> for Value {
    fn from(text: &str) -> Self {
        Self::Text(text.to_owned())
    }
}

impl From<f64> for Value {
    fn from(number: f64) -> Self {
        Self::Number(number)
    }
}

impl std::fmt::Display for Value {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Text(text) => f.write_str(text),
            Self::Number(number) => write!(f, "{number}"),
        }
    }
}

/// The terms of a find in the order of a table.
pub const TERMS: [&str; 59] = [
    "occurrenceID",
    "eventID",
    "basisOfRecord",
    "occurrenceStatus",
    "institutionCode",
    "collectionCode",
    "catalogNumber",
    "otherCatalogNumbers",
    "disposition",
    "recordNumber",
    "recordedBy",
    "eventDate",
    "verbatimEventDate",
    "scientificName",
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
    "identificationQualifier",
    "verbatimIdentification",
    "identifiedBy",
    "dateIdentified",
    "identificationRemarks",
    "previousIdentifications",
    "typeStatus",
    "decimalLatitude",
    "decimalLongitude",
    "geodeticDatum",
    "coordinateUncertaintyInMeters",
    "coordinatePrecision",
    "georeferenceProtocol",
    "georeferenceSources",
    "georeferenceRemarks",
    "verbatimCoordinates",
    "verbatimCoordinateSystem",
    "verbatimSRS",
    "minimumElevationInMeters",
    "maximumElevationInMeters",
    "verbatimElevation",
    "country",
    "stateProvince",
    "county",
    "municipality",
    "locality",
    "habitat",
    "associatedTaxa",
    "associatedMedia",
    "organismQuantity",
    "organismQuantityType",
    "occurrenceRemarks",
    "dynamicProperties",
    "informationWithheld",
    "dataGeneralizations",
];

/// The terms of [`TERMS`] that state one identification: from the name to the type status, without those of others.
pub(crate) fn of_identification() -> impl Iterator<Item = &'static str> {
    let from_name = TERMS.into_iter().skip_while(|term| *term != "scientificName");
    let to_position = from_name.take_while(|term| *term != "decimalLatitude");
    to_position.filter(|term| *term != "previousIdentifications")
}

/// The values of `occurrenceStatus`, which Darwin Core changed.
///
/// A portal that has not yet changed may expect the former words.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum StatusWords {
    /// `detected` and `notDetected`, recommended since 2026-05-26.
    #[default]
    Detected,
    /// `present` and `absent`, recommended before.
    Present,
}

impl StatusWords {
    /// The value for a find.
    #[must_use]
    pub fn found(self) -> &'static str {
        match self {
            Self::Detected => "detected",
            Self::Present => "present",
        }
    }

    /// The value for a non-detection.
    #[must_use]
    pub fn not_found(self) -> &'static str {
        match self {
            Self::Detected => "notDetected",
            Self::Present => "absent",
        }
    }
}

/// The identifier of a find or an outing as a globally unique name.
///
/// # Examples
/// ```
/// use trug::present::darwin_core::urn;
///
/// assert_eq!(urn(uuid::Uuid::nil()), "urn:uuid:00000000-0000-0000-0000-000000000000");
/// ```
///
/// # References
/// RFC 9562 (2024), Universally Unique Identifiers; RFC 8141 (2017), Uniform Resource Names.
#[must_use]
pub fn urn(id: Uuid) -> String {
    format!("urn:uuid:{id}")
}

/// The filled terms of a find, in the order of [`TERMS`].
///
/// The same for every format, so that a find reads alike in GeoJSON, KML, CSV, GeoParquet and a deposit. Unknown
/// terms are left out. `docs/deposit.md` states the content of each term.
///
/// # Units
/// Degrees on WGS 84 to seven decimals (a centimetre); metres, the uncertainty rounded up to a tenth.
#[must_use]
pub fn occurrence(find: &KeptFind) -> Vec<(&'static str, Value)> {
    let mut terms = Terms::default();
    terms
        .text("occurrenceID", urn(find.id))
        .text("eventID", urn(find.outing))
        .text("basisOfRecord", "HumanObservation")
        .text("occurrenceStatus", StatusWords::default().found());
    written(&mut terms, find);
    named(&mut terms, find);
    georeference::add(&mut terms, find);
    surroundings(&mut terms, find);
    remarks::add(&mut terms, find);
    for (field, text) in &find.record.fields {
        if let Some(term) = field.term().filter(|term| !terms.has(term)) {
            terms.text(term, text.as_str());
        }
        if let Some(term) = beside(field).filter(|_| !field.is_written_form()) {
            terms.join(term, text);
        }
    }
    terms.in_order()
}

/// The term of a column beside that of the record's own place for it.
pub(crate) fn beside(field: &Field) -> Option<&'static str> {
    match field {
        Field::Other(heading) => term::beside(heading),
        _ => None,
    }
}

/// Columns of the record that are Darwin Core terms, beyond [`TERMS`]; of several that mean one term all texts.
#[must_use]
pub fn recorded(find: &KeptFind) -> Vec<(&'static str, Value)> {
    let mut texts: BTreeMap<&'static str, Vec<&str>> = BTreeMap::new();
    for (field, text) in &find.record.fields {
        let text = text.trim();
        if let Some(term) = field.darwin_core_term().filter(|_| !text.is_empty()) {
            texts.entry(term).or_default().push(text);
        }
    }
    texts.into_iter().map(|(term, texts)| (term, texts.join(" | ").into())).collect()
}

/// Collects the terms of a row.
#[derive(Default)]
struct Terms(Vec<(&'static str, Value)>);

impl Terms {
    fn has(&self, term: &str) -> bool {
        self.0.iter().any(|(own, _)| *own == term)
    }

    fn text(&mut self, term: &'static str, text: impl Into<String>) -> &mut Self {
        self.some(term, Some(text.into()))
    }

    fn some(&mut self, term: &'static str, text: Option<String>) -> &mut Self {
        let text = text.map(|text| text.trim().to_owned()).filter(|text| !text.is_empty());
        self.0.extend(text.map(|text| (term, Value::Text(text))));
        self
    }

    /// Adds a text to a term, unless it is there.
    fn join(&mut self, term: &'static str, text: &str) {
        let text = text.trim();
        match self.0.iter_mut().find(|(own, _)| *own == term) {
            Some((_, Value::Text(own))) if !own.split(" | ").any(|part| part == text) => {
                *own = format!("{own} | {text}");
            }
            Some(_) => {}
            None => {
                self.text(term, text);
            }
        }
    }

    fn number(&mut self, term: &'static str, number: Option<f64>) -> &mut Self {
        self.0.extend(number.filter(|n| n.is_finite()).map(|n| (term, Value::Number(n))));
        self
    }

    fn in_order(mut self) -> Vec<(&'static str, Value)> {
        let rank = |term: &str| TERMS.iter().position(|other| *other == term);
        self.0.sort_by_key(|(term, _)| rank(term));
        self.0
    }
}

fn written(terms: &mut Terms, find: &KeptFind) {
    let record = &find.record;
    terms
        .some("recordNumber", record.number.as_ref().map(|number| number.0.clone()))
        .some("recordedBy", find.collector.clone())
        .text("eventDate", event_date::derived(find))
        .some("verbatimEventDate", event_date::written(find));
}

fn named(terms: &mut Terms, find: &KeptFind) {
    let record = &find.record;
    let Some(name) = record.name.as_deref() else { return };
    let named = identification(name);
    terms
        .some("scientificName", named.name)
        .some("identificationQualifier", named.qualifier)
        .text("verbatimIdentification", record.other("verbatimIdentification").unwrap_or(name))
        .some("identifiedBy", record.fields.get(&Field::IdentifiedBy).cloned());
    taxonomy::add(terms, find);
    determined(terms, find);
}

/// The accepted identification in detail, and the others in words.
fn determined(terms: &mut Terms, find: &KeptFind) {
    let (accepted, others): (Vec<_>, Vec<_>) =
        find.determinations.iter().partition(|named| named.accepted);
    if let Some(named) = accepted.first() {
        terms
            .some("dateIdentified", named.on.map(|on| on.to_string()))
            .some("identificationRemarks", identification_remarks(named))
            .some("typeStatus", named.type_status.clone());
    }
    let others: Vec<String> = others.iter().map(|named| in_words(named)).collect();
    terms.text("previousIdentifications", others.join(" | "));
}

/// Method and remarks.
#[must_use]
pub fn identification_remarks(named: &Determination) -> Option<String> {
    let method = named.method.as_ref().map(|method| format!("method: {method}"));
    let parts: Vec<String> = method.into_iter().chain(named.remarks.clone()).collect();
    (!parts.is_empty()).then(|| parts.join("; "))
}

/// `Mycena interrupta, det. T. Hale, 2026-05-03`.
fn in_words(named: &Determination) -> String {
    let mut text = named.full_name();
    if let Some(determiner) = &named.determiner {
        text = format!("{text}, det. {determiner}");
    }
    match named.on {
        Some(on) => format!("{text}, {on}"),
        None => text,
    }
}

fn surroundings(terms: &mut Terms, find: &KeptFind) {
    let record = &find.record;
    let substrate = record.substrate.as_ref().map(|substrate| format!("substrate: {substrate}"));
    let habitat: Vec<String> = record.habitat.clone().into_iter().chain(substrate).collect();
    let host = record.host.as_ref().map(|host| format!("\"host\":\"{}\"", host.replace('"', "'")));
    // paths on the collector's machine are useless to others and private
    let photos: Vec<&str> = find.photos.iter().map(|photo| file_name(&photo.path)).collect();
    terms
        .some("locality", record.place.clone())
        .text("habitat", habitat.join(" | "))
        .some("associatedTaxa", host)
        .text("associatedMedia", photos.join(" | "));
}

/// The last component of a path with `/` or `\`.
fn file_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}
