//! Writes the identification history of finds: one row for each identification, the accepted one marked.
//! Layer: `present`.

use super::table::Table;
use crate::model::{Determination, KeptFind};
use crate::present::darwin_core::{Value, identification, identification_remarks, urn};

const COLUMNS: [&str; 11] = [
    "eventID",
    "occurrenceID",
    "identificationID",
    "verbatimIdentification",
    "scientificName",
    "identificationQualifier",
    "identifiedBy",
    "dateIdentified",
    "typeStatus",
    "identificationRemarks",
    "isAcceptedIdentification",
];

/// The table; `None` where no find has another identification than that of its record.
///
/// # References
/// Darwin Core quick reference guide, class Identification.
pub(super) fn table(finds: &[&KeptFind]) -> Option<Table> {
    let mut table =
        Table::new("identification.csv", "http://rs.tdwg.org/dwc/terms/Identification", COLUMNS);
    let mut any = false;
    for find in finds {
        for (place, named) in find.determinations.iter().enumerate() {
            any = true;
            table.push(&row(find, place, named));
        }
    }
    any.then_some(table)
}

fn row(find: &KeptFind, place: usize, named: &Determination) -> Vec<(&'static str, Value)> {
    let id = uuid::Uuid::new_v5(&find.id, format!("identification {place}").as_bytes());
    let whole = named.full_name();
    let parts = identification(&whole);
    let mut row: Vec<(&'static str, Value)> = vec![
        ("eventID", urn(find.outing).into()),
        ("occurrenceID", urn(find.id).into()),
        ("identificationID", urn(id).into()),
        ("verbatimIdentification", whole.into()),
        ("isAcceptedIdentification", if named.accepted { "true" } else { "false" }.into()),
    ];
    let mut add = |term: &'static str, value: Option<String>| {
        row.extend(value.map(|value| (term, Value::Text(value))));
    };
    add("scientificName", parts.name);
    add("identificationQualifier", parts.qualifier);
    add("identifiedBy", named.determiner.clone());
    add("dateIdentified", named.on.map(|on| on.to_string()));
    add("typeStatus", named.type_status.clone());
    add("identificationRemarks", identification_remarks(named));
    row
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;

    #[test]
    fn every_identification_has_a_row_and_one_is_accepted() {
        let mut find = fixture::kept_find("TH-0012");
        assert!(table(&[&find]).is_none());
        let named = |name: &str, accepted| Determination {
            name: name.into(),
            determiner: Some("Iren Marrowby".into()),
            on: Some(jiff::civil::date(2026, 6, 1)),
            accepted,
            ..Determination::default()
        };
        find.determinations =
            vec![named("Mycena interrupta", false), named("Mycena cf. nargan", true)];
        let text = table(&[&find]).unwrap().text();
        assert_eq!(text.lines().count(), 3, "{text}");
        assert_eq!(text.matches(",false\n").count(), 1, "{text}");
        assert_eq!(text.matches(",true\n").count(), 1, "{text}");
        assert!(text.contains("Mycena,cf. nargan,Iren Marrowby,2026-06-01"), "{text}");
    }
}
