//! Writes finds and non-detections as occurrences. Layer: `present`.

use super::absence::Absence;
use super::table::Table;
use super::{Basis, Holding, StatusWords};
use crate::model::{KeptFind, term};
use crate::present::darwin_core::{self, TERMS, Value, identification, urn};

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
    absences: &[Absence],
    holding: &Holding,
    (status, basis): (StatusWords, Basis),
) -> Table {
    let rows: Vec<Row> = finds.iter().map(|find| row(find, holding, status, basis)).collect();
    let row_type = "http://rs.tdwg.org/dwc/terms/Occurrence";
    let mut table = Table::new("occurrence.csv", row_type, columns(&rows));
    for row in &rows {
        table.push(row);
    }
    for absence in absences {
        table.push(&non_detections(absence, status));
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
    for (term, value) in holding.terms() {
        add(term, value.into());
    }
    row
}

fn non_detections(absence: &Absence, status: StatusWords) -> Vec<(&'static str, Value)> {
    let name = identification(&absence.kind).name.unwrap_or_default();
    let sites = if absence.sites == 1 { "site" } else { "sites" };
    vec![
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
    ]
}
