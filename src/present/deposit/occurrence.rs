//! Writes finds and non-detections as occurrences. Layer: `present`.

use std::collections::HashMap;
use std::sync::Arc;

use super::absence::Absence;
use super::table::Table;
use super::{Basis, Holding, StatusWords};
use crate::model::{KeptFind, NameCheck, term};
use crate::present::darwin_core::{self, TERMS, Value, identification, taxonomy, urn};

/// The terms of a find, the event first: its identifier joins the table to the core; then those that records of
/// these finds have columns for. Other columns of the collector are in the measurement table and omitted here.
fn columns(rows: &[Row]) -> Vec<&'static str> {
    let computed =
        TERMS.into_iter().filter(|term| !["eventID", "dynamicProperties"].contains(term));
    let mut columns: Vec<&'static str> = std::iter::once("eventID").chain(computed).collect();
    for term in term::RECORDED {
        let is_filled = |row: &Row| row.iter().any(|(own, _)| *own == term);
        if !columns.contains(&term) && rows.iter().any(is_filled) {
            columns.push(term);
        }
    }
    columns
}

type Row = Vec<(&'static str, Value)>;

pub(super) fn table(
    finds: &[&KeptFind],
    (absences, names): (&[Absence], &HashMap<String, Arc<NameCheck>>),
    holding: &Holding,
    (status, basis): (StatusWords, Basis),
) -> Table {
    let rows: Vec<Row> = finds
        .iter()
        .map(|find| {
            let mut row = row(find, holding, status, basis);
            // columns of the collector come first
            let genus = taxonomy::genus_alone(find).and_then(|genus| names.get(genus));
            for (term, value) in genus.map(|check| taxonomy::of_genus(check)).unwrap_or_default() {
                if !row.iter().any(|(own, _)| *own == term) {
                    row.push((term, value));
                }
            }
            row
        })
        .collect();
    let row_type = "http://rs.tdwg.org/dwc/terms/Occurrence";
    let mut table = Table::new("occurrence.csv", row_type, columns(&rows));
    for row in &rows {
        table.push(row);
    }
    for absence in absences {
        let check = names.get(&absence.kind).map(Arc::as_ref);
        table.push(&non_detections(absence, check, status));
    }
    table
}

fn row(find: &KeptFind, holding: &Holding, status: StatusWords, basis: Basis) -> Row {
    let mut row = darwin_core::occurrence(find);
    for (term, value) in &mut row {
        match *term {
            "occurrenceStatus" => *value = status.found().into(),
            "basisOfRecord" => *value = basis.word().into(),
            _ => {}
        }
    }
    let mut add = |term: &'static str, value: Value| {
        if !row.iter().any(|(own, _)| *own == term) {
            row.push((term, value));
        }
    };
    for (term, value) in darwin_core::recorded(find) {
        add(term, value);
    }
    // the vocabulary's word for it; to whom they went has no term of its own
    if let Some(duplicates) = duplicates(find) {
        add("disposition", "duplicates elsewhere".into());
        add("materialEntityRemarks", format!("duplicates: {duplicates}").into());
    }
    for (term, value) in holding.terms() {
        add(term, value.into());
    }
    row
}

/// To whom duplicates went.
fn duplicates(find: &KeptFind) -> Option<String> {
    let filled =
        find.record.fields.iter().filter(|(field, text)| {
            term::is_of_duplicates(field.heading()) && !text.trim().is_empty()
        });
    let all: Vec<&str> = filled.map(|(_, text)| text.trim()).collect();
    (!all.is_empty()).then(|| all.join("; "))
}

fn non_detections(
    absence: &Absence,
    check: Option<&NameCheck>,
    status: StatusWords,
) -> Vec<(&'static str, Value)> {
    let name = identification(&absence.kind).name.unwrap_or_default();
    let sites = if absence.sites == 1 { "site" } else { "sites" };
    let mut row: Row = vec![
        ("eventID", urn(absence.outing).into()),
        ("occurrenceID", urn(absence.id()).into()),
        ("basisOfRecord", Basis::Observation.word().into()),
        ("occurrenceStatus", status.not_found().into()),
        ("scientificName", name.into()),
        ("eventDate", absence.date.to_string().into()),
        (
            "occurrenceRemarks",
            format!(
                "not found at {} {sites} with finds on other days; total search time {}",
                absence.sites, absence.searched
            )
            .into(),
        ),
    ];
    row.extend(check.map(taxonomy::terms).unwrap_or_default());
    row
}
