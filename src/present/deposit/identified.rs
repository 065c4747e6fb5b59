//! Writes the identification history of finds: one row for each identification, the accepted one marked.
//! Layer: `present`.

use std::collections::HashMap;
use std::sync::Arc;

use super::table::Table;
use crate::model::{Determination, KeptFind, NameCheck};
use crate::present::darwin_core::{
    self, Value, identification, identification_remarks, of_identification, urn,
};

/// The columns: the terms of an identification between those that join the row to the other tables and the mark of
/// the accepted one.
fn columns() -> Vec<&'static str> {
    let keys = ["eventID", "occurrenceID", "identificationID"];
    keys.into_iter().chain(of_identification()).chain(["isAcceptedIdentification"]).collect()
}

/// The table; `None` where no find has another identification than that of its record.
///
/// # References
/// Darwin Core quick reference guide, class Identification.
pub(super) fn table(finds: &[&KeptFind], names: &HashMap<String, Arc<NameCheck>>) -> Option<Table> {
    let mut table =
        Table::new("identification.csv", "http://rs.tdwg.org/dwc/terms/Identification", columns());
    let mut any = false;
    for find in finds {
        for (place, named) in find.determinations.iter().enumerate() {
            any = true;
            let check = names.get(&named.full_name()).map(Arc::as_ref);
            table.push(&row(find, place, named, check));
        }
    }
    any.then_some(table)
}

fn row(
    find: &KeptFind,
    place: usize,
    named: &Determination,
    check: Option<&NameCheck>,
) -> Vec<(&'static str, Value)> {
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
    row.extend(check.map(darwin_core::taxonomy::terms).unwrap_or_default());
    row
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Lineage, Taxon};
    use crate::present::fixture;

    #[test]
    fn every_identification_has_a_row_and_one_is_accepted() {
        let mut find = fixture::kept_find("TH-0012");
        assert!(table(&[&find], &HashMap::new()).is_none());
        let named = |name: &str, accepted| Determination {
            name: name.into(),
            determiner: Some("Iren Marrowby".into()),
            on: Some(jiff::civil::date(2026, 6, 1)),
            accepted,
            ..Determination::default()
        };
        find.determinations =
            vec![named("Mycena interrupta", false), named("Mycena cf. nargan", true)];
        let taxon = Taxon {
            name: "Mycena interrupta".into(),
            author: Some("(Berk.) Sacc.".into()),
            rank: None,
            lineage: Lineage { family: Some("Mycenaceae".into()), ..Lineage::default() },
        };
        let check = Arc::new(NameCheck::Accepted { taxon });
        let names = HashMap::from([("Mycena interrupta".to_owned(), check)]);
        let text = table(&[&find], &names).unwrap().text();
        let headings = text.lines().next().unwrap();
        assert!(headings.starts_with("eventID,occurrenceID,identificationID,scientificName,"));
        assert!(headings.ends_with(",typeStatus,isAcceptedIdentification"), "{headings}");
        assert_eq!(text.lines().count(), 3, "{text}");
        assert_eq!(text.matches(",false\n").count(), 1, "{text}");
        assert_eq!(text.matches(",true\n").count(), 1, "{text}");
        assert!(text.contains(",cf. nargan,Mycena cf. nargan,Iren Marrowby,2026-06-01"), "{text}");
        assert_eq!(text.matches("(Berk.) Sacc.,").count(), 2, "{text}");
        assert_eq!(text.matches(",Mycenaceae,").count(), 1, "{text}");
    }
}
