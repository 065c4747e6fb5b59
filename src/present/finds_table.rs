//! Formats the finds of all days as a table for a terminal. Layer: `present`.

use crate::model::KeptFind;
use crate::present::derived_time;
use crate::present::scientific_name::without_authors;
use crate::present::table::{Column, Table};

/// The written date, and the derived date and time where they differ.
fn date(find: &KeptFind) -> String {
    match derived_time::beside_written(find) {
        Some(derived) => format!("{} (derived: {derived})", find.date),
        None => find.date.to_string(),
    }
}

/// The number, with an asterisk where the user amended the find.
fn number(find: &KeptFind) -> String {
    let number = find.record.number.as_ref().map_or("-", |number| number.0.as_str());
    if find.amended.is_empty() { number.to_owned() } else { format!("{number} *") }
}

/// One line for each find; empty without finds.
///
/// Amended finds have an asterisk behind their number. A column with accepted names appears where a checklist takes
/// a written name for a synonym.
#[must_use]
pub fn table(finds: &[KeptFind]) -> String {
    if finds.is_empty() {
        return String::new();
    }
    let synonyms = finds.iter().any(|find| find.other_accepted().is_some());
    let accepted = synonyms.then(|| Column::left("accepted name"));
    let columns = [Column::left("number"), Column::left("date"), Column::left("name")];
    let places = [
        Column::right("latitude"),
        Column::right("longitude"),
        Column::right("95 % radius"),
        Column::left("place"),
        Column::left("host or substrate"),
    ];
    let mut table =
        Table::new(columns.into_iter().chain(accepted).chain(places).collect::<Vec<_>>());
    for find in finds {
        let record = &find.record;
        let (latitude, longitude, radius) = match &find.place {
            Some(place) => (
                format!("{:.5}", place.at.latitude()),
                format!("{:.5}", place.at.longitude()),
                place.radius.to_string(),
            ),
            None => ("-".into(), "-".into(), "not located".into()),
        };
        let grown = record.host.as_ref().or(record.substrate.as_ref());
        let name = record.name.as_deref().map(without_authors).unwrap_or_default();
        let accepted = find.other_accepted().map_or_else(String::new, |taxon| taxon.name.clone());
        let named = [number(find), date(find), name];
        let rest = [
            latitude,
            longitude,
            radius,
            record.place.clone().unwrap_or_default(),
            grown.cloned().unwrap_or_default(),
        ];
        table.row(named.into_iter().chain(synonyms.then_some(accepted)).chain(rest));
    }
    table.to_string()
}
