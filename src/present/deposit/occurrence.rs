//! Writes finds and non-detections as occurrences. Layer: `present`.

use std::sync::LazyLock;

use super::absence::Absence;
use super::table::Table;
use super::{Basis, StatusWords};
use crate::model::KeptFind;
use crate::present::darwin_core::{self, TERMS, Value, identification, urn};

/// The terms of a find, the event first: its identifier joins the table to the core. Columns with the
/// collector's own headings are in the measurement table and omitted here.
static COLUMNS: LazyLock<Vec<&'static str>> = LazyLock::new(|| {
    let rest = TERMS.into_iter().filter(|term| !["eventID", "dynamicProperties"].contains(term));
    std::iter::once("eventID").chain(rest).collect()
});

pub(super) fn table(
    finds: &[&KeptFind],
    absences: &[Absence],
    status: StatusWords,
    basis: Basis,
) -> Table {
    let mut table =
        Table::new("occurrence.csv", "http://rs.tdwg.org/dwc/terms/Occurrence", &COLUMNS);
    for find in finds {
        let mut row = darwin_core::occurrence(find);
        for (term, value) in &mut row {
            match *term {
                "occurrenceStatus" => *value = status.found().into(),
                "basisOfRecord" => *value = basis.word().into(),
                _ => {}
            }
        }
        table.push(&row);
    }
    for absence in absences {
        table.push(&non_detections(absence, status));
    }
    table
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
