//! Applies a listing of finds that was edited in a spreadsheet: shows the differences first, applies them
//! with `--yes`. Layer: `commands`.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use uuid::Uuid;

use super::super::console::Console;
use crate::error::{Error, Result};
use crate::ingest::record::listing::{self, Listing};
use crate::model::{AmendedSubject, KeptFind, Patch};
use crate::present::edited_listing::{Row, differences};
use crate::present::summary::words::counted;
use crate::store::{FindQuery, Store};

/// The differences of a listing.
pub(super) struct Edited {
    /// In the order of the file.
    pub(super) amendments: Vec<(AmendedSubject, Patch)>,
    /// A line for each.
    pub(super) lines: Vec<String>,
    /// Rows that were set aside.
    pub(super) set_aside: Vec<Error>,
}

pub(super) fn read(store: &Store, path: &Path, console: &mut Console) -> Result<Edited> {
    let listing = listing::read(path)?;
    let mut edited = Edited { amendments: Vec::new(), lines: Vec::new(), set_aside: Vec::new() };
    let (mut seen, mut columns) = (BTreeSet::new(), BTreeMap::<&str, usize>::new());
    for (line, cells) in &listing.rows {
        let aside = |error: Error| error.in_file(path).at_line(*line);
        let find = match find_of(store, &listing, cells) {
            Ok(find) if seen.insert(find.id) => find,
            Ok(_) => {
                edited.set_aside.push(aside(
                    Error::input("a find is listed twice").because("only its first row is used"),
                ));
                continue;
            }
            Err(error) => {
                edited.set_aside.push(aside(error));
                continue;
            }
        };
        let cell = |heading: &str| listing.cell(cells, heading).map(str::to_owned);
        match differences(&find, &Row { cell: &cell }) {
            Ok(found) => {
                for column in found.not_amendable {
                    *columns.entry(column).or_default() += 1;
                }
                for patch in found.patches {
                    edited.lines.push(line_of(&find, &patch));
                    edited.amendments.push((AmendedSubject::Find(find.id), patch));
                }
            }
            Err(error) => edited.set_aside.push(aside(error)),
        }
    }
    for (column, count) in columns {
        console.note(&format!(
            "Changes in column {column} are not applied ({}): it cannot be amended in a listing.",
            counted(count, "row", "rows")
        ));
    }
    Ok(edited)
}

fn find_of(store: &Store, listing: &Listing, cells: &[String]) -> Result<KeptFind> {
    let text = listing.cell(cells, "occurrenceID").unwrap_or_default().trim();
    let id: Uuid = text.trim_start_matches("urn:uuid:").parse().map_err(|_| {
        Error::input("the row has no valid occurrenceID")
            .because(format!("\"{text}\" is not an identifier of a find"))
            .hint("new finds come in by trug import")
    })?;
    let query = FindQuery { id: Some(id), withdrawn: true, ..FindQuery::default() };
    store.finds(&query)?.into_iter().next().ok_or_else(|| {
        Error::input("the store has no such find")
            .because(format!("no find has the identifier {id}"))
    })
}

fn line_of(find: &KeptFind, patch: &Patch) -> String {
    let number = find.record.number.as_ref().map_or_else(|| find.id.to_string(), |n| n.0.clone());
    let nothing = || "nothing".to_owned();
    let record = &find.record;
    let (before, after) = match patch {
        Patch::Text { property, value } => {
            let before = match property {
                crate::model::TextProperty::Number => record.number.as_ref().map(|n| n.0.clone()),
                crate::model::TextProperty::Place => record.place.clone(),
                crate::model::TextProperty::Substrate => record.substrate.clone(),
                crate::model::TextProperty::Host => record.host.clone(),
                crate::model::TextProperty::Habitat => record.habitat.clone(),
                crate::model::TextProperty::Container => record.container.clone(),
                crate::model::TextProperty::Field(field) => record.fields.get(field).cloned(),
            };
            (before, value.clone())
        }
        Patch::Collector(name) => (find.collector.clone(), Some(name.clone())),
        Patch::Determination(named) => (record.name.clone(), Some(named.full_name())),
        Patch::Position { latitude, longitude, within_m } => {
            let before = find.place.as_ref().map(|p| format!("{}, within {}", p.at, p.radius));
            (before, Some(format!("{latitude} {longitude}, within {within_m} m")))
        }
        _ => (None, None),
    };
    format!(
        "{number} {}: {} -> {}",
        patch.property(),
        before.unwrap_or_else(nothing),
        after.filter(|after| !after.is_empty()).unwrap_or_else(nothing)
    )
}
