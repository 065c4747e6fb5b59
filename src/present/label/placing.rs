//! Assigns the columns of a record to the lines of a label: place from large to small, catalogue
//! number, duplicates, reactions, microscopy. Columns without a line of their own are listed under
//! their own headings. Layer: `present`.

use super::language::Language;
use crate::analyse::sizes::Sizes;
use crate::model::{Field, Record, term};
use crate::present::paragraph::Paragraph;

/// Headings of a value, without case, spaces and points: Darwin Core terms and common headings.
pub(super) type Headings = &'static [&'static str];

const COUNTRY: Headings = &["country"];
const STATE: Headings = &["stateprovince", "stateorprovince", "state", "province"];
const COUNTY: Headings = &["county", "district"];
const MUNICIPALITY: Headings = &["municipality"];
const LOCALITY: Headings = &["locality"];
const INSTITUTION: Headings = &["institutioncode"];
const COLLECTION: Headings = &["collectioncode"];
const CATALOGUE: Headings =
    &["catalognumber", "cataloguenumber", "catalogueno", "accessionnumber", "accessionno"];
pub(super) const TYPE_STATUS: Headings = &["typestatus"];
pub(super) const DATE_IDENTIFIED: Headings = &["dateidentified", "identifiedon", "determinedon"];
pub(super) const DUPLICATES: Headings = term::DUPLICATES;
const REACTIONS: Headings = term::REACTIONS;
const MICROSCOPY: Headings = term::MICROSCOPY;

/// All of these: their columns are not listed again among the others.
const ALL: [Headings; 13] = [
    COUNTRY,
    STATE,
    COUNTY,
    MUNICIPALITY,
    LOCALITY,
    INSTITUTION,
    COLLECTION,
    CATALOGUE,
    TYPE_STATUS,
    DATE_IDENTIFIED,
    DUPLICATES,
    REACTIONS,
    MICROSCOPY,
];

/// The values of the columns with one of these headings, each once.
pub(super) fn named(record: &Record, headings: Headings) -> Option<String> {
    let mut all: Vec<&str> = under(record, headings).map(|(_, words)| words).collect();
    all.dedup();
    (!all.is_empty()).then(|| all.join("; "))
}

/// The filled columns with one of these headings.
fn under(record: &Record, headings: Headings) -> impl Iterator<Item = (&str, &str)> {
    let filled = record.fields.iter().map(|(field, words)| (field.heading(), words.trim()));
    filled.filter(move |(heading, words)| {
        !words.is_empty() && headings.contains(&bare(heading).as_str())
    })
}

/// Chemical reactions; the reagent of a column of its own before its text.
pub(super) fn reactions(record: &Record) -> Option<String> {
    let all: Vec<String> = under(record, REACTIONS)
        .map(|(heading, words)| match bare(heading).as_str() {
            "reactions" | "chemicalreactions" => words.to_owned(),
            _ => format!("{heading} {words}"),
        })
        .collect();
    (!all.is_empty()).then(|| all.join("; "))
}

/// Country, state or province, county, municipality, locality: from large to small, each once.
pub(super) fn place(record: &Record) -> Option<String> {
    let mut parts: Vec<String> = Vec::new();
    for headings in [COUNTRY, STATE, COUNTY, MUNICIPALITY, LOCALITY] {
        parts.extend(named(record, headings));
    }
    parts.extend(record.place.clone());
    parts.dedup();
    (!parts.is_empty()).then(|| parts.join(", "))
}

/// Institution, collection and catalogue number.
pub(super) fn catalogue(record: &Record) -> Option<String> {
    let number = named(record, CATALOGUE)?;
    let before = [named(record, INSTITUTION), named(record, COLLECTION)];
    Some(before.into_iter().flatten().chain([number]).collect::<Vec<_>>().join(" "))
}

/// Microscopic measurements: a list of sizes with its statistics, other text as written.
pub(super) fn microscopy(record: &Record) -> Option<String> {
    let several = under(record, MICROSCOPY).count() > 1;
    let all: Vec<String> = under(record, MICROSCOPY)
        .map(|(heading, words)| {
            let sizes = Sizes::of_field(heading, words).map(|sizes| sizes.description());
            let words = sizes.unwrap_or_else(|| words.to_owned());
            let is_general =
                ["microscopy", "microscopicmeasurements"].contains(&bare(heading).as_str());
            if several && !is_general { format!("{heading} {words}") } else { words }
        })
        .collect();
    (!all.is_empty()).then(|| all.join("; "))
}

/// The names of the smell in the languages, in their order.
const SMELL: [&str; 5] = ["smell", "Geruch", "odeur", "olor", "odor"];

/// The smell with its name; `None` where none is written.
pub(super) fn smell(record: &Record, language: Language) -> Option<Paragraph> {
    let words = record.fields.get(&Field::Smell).filter(|words| !words.trim().is_empty())?;
    Some(Paragraph::captioned(SMELL[language as usize], words))
}

/// Fresh characters, each with its name.
pub(super) fn characters(record: &Record, language: Language) -> Option<String> {
    let list = [
        (Field::Colour, ["colour", "Farbe", "couleur", "color", "color"]),
        (Field::Bruising, ["bruising", "Verfärbung", "virage", "viraje", "tactu"]),
        (Field::Latex, ["latex", "Milch", "lait", "látex", "lac"]),
        (Field::Smell, SMELL),
        (Field::Taste, ["taste", "Geschmack", "saveur", "sabor", "sapor"]),
    ];
    let known: Vec<String> = list
        .iter()
        .filter_map(|(field, names)| {
            let words = record.fields.get(field)?.trim();
            (!words.is_empty()).then(|| format!("{} {words}", names[language as usize]))
        })
        .collect();
    (!known.is_empty()).then(|| known.join("; "))
}

/// Columns without a line of their own, under their headings.
pub(super) fn others(record: &Record) -> impl Iterator<Item = (&str, &str)> {
    let fields = record.fields.iter().filter(|(field, _)| !field.is_written_form());
    fields.filter_map(|(field, words)| match field {
        Field::Other(heading) => {
            let bare = bare(heading);
            let placed = ALL.iter().any(|headings| headings.contains(&bare.as_str()));
            (!placed).then_some((heading.as_str(), words.as_str()))
        }
        _ => None,
    })
}

fn bare(heading: &str) -> String {
    heading.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn record(fields: &[(&str, &str)]) -> Record {
        let mut record = Record { place: Some("Quellbach".into()), ..Record::default() };
        for (heading, words) in fields {
            record.fields.insert(Field::from((*heading).to_owned()), (*words).to_owned());
        }
        record
    }

    #[test]
    fn place_goes_from_large_to_small() {
        let record =
            record(&[("county", "Moorland"), ("country", "Nordland"), ("locality", "Quellbach")]);
        assert_eq!(place(&record).as_deref(), Some("Nordland, Moorland, Quellbach"));
    }

    #[test]
    fn columns_appear_once() {
        let record =
            record(&[("catalogNumber", "12"), ("institutionCode", "NQ"), ("weather", "dry")]);
        assert_eq!(catalogue(&record).as_deref(), Some("NQ 12"));
        assert_eq!(others(&record).collect::<Vec<_>>(), [("weather", "dry")]);
    }

    #[test]
    fn fresh_characters_are_named_in_the_language() {
        let record = record(&[("smell", "radish"), ("taste", " ")]);
        assert_eq!(characters(&record, Language::German).as_deref(), Some("Geruch radish"));
    }
}
