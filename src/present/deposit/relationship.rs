//! Lists pairs of finds that share one collector's number. Layer: `present`.

use super::table::Table;
use crate::model::KeptFind;
use crate::present::darwin_core::{Value, urn};

const COLUMNS: [&str; 5] = [
    "eventID",
    "resourceRelationshipID",
    "resourceID",
    "relatedResourceID",
    "relationshipOfResource",
];

/// One row for each pair of finds with the same collector and number.
pub(super) fn table(finds: &[&KeptFind]) -> Table {
    let mut table = Table::new(
        "resourcerelationship.csv",
        "http://rs.tdwg.org/dwc/terms/ResourceRelationship",
        COLUMNS,
    );
    let mut by_number: Vec<(String, &KeptFind)> =
        finds.iter().filter_map(|find| Some((key(find)?, *find))).collect();
    by_number.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.id.cmp(&b.1.id)));
    for same in by_number.chunk_by(|a, b| a.0 == b.0) {
        let Some(((_, first), others)) = same.split_first() else { continue };
        for (_, other) in others {
            let id = uuid::Uuid::new_v5(&first.id, other.id.as_bytes());
            table.push(&[
                ("eventID", Value::Text(urn(other.outing))),
                ("resourceRelationshipID", Value::Text(urn(id))),
                ("resourceID", Value::Text(urn(other.id))),
                ("relatedResourceID", Value::Text(urn(first.id))),
                ("relationshipOfResource", "has the same collector's number as".into()),
            ]);
        }
    }
    table
}

/// Collector, series and number, as collectors compare them.
fn key(find: &KeptFind) -> Option<String> {
    let number = find.record.number.as_ref()?;
    let bare = |text: &str| -> String {
        text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
    };
    let collector = bare(find.collector.as_deref().unwrap_or_default());
    let number = match number.ordinal() {
        Some(ordinal) => format!("{} {ordinal}", bare(number.series())),
        None => bare(&number.0),
    };
    Some(format!("{collector} {number}"))
}
