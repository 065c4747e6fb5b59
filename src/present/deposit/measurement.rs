//! Writes substrate and fresh characters as measurements or facts. Layer: `present`.

use super::table::Table;
use crate::analyse::sizes::Sizes;
use crate::model::{Field, KeptFind, term};
use crate::present::darwin_core::{self, Value, urn};

const COLUMNS: [&str; 5] =
    ["eventID", "occurrenceID", "measurementID", "measurementType", "measurementValue"];

/// One row for each recorded character. Taste is a character of the fresh fungus and says nothing
/// about edibility.
pub(super) fn table(finds: &[&KeptFind]) -> Table {
    let mut table = Table::new(
        "measurementorfact.csv",
        "http://rs.iobis.org/obis/terms/ExtendedMeasurementOrFact",
        COLUMNS,
    );
    for find in finds {
        for (kind, value) in characters(find) {
            let id = uuid::Uuid::new_v5(&find.id, kind.as_bytes());
            table.push(&[
                ("eventID", Value::Text(urn(find.outing))),
                ("occurrenceID", Value::Text(urn(find.id))),
                ("measurementID", Value::Text(urn(id))),
                ("measurementType", Value::from(kind.as_str())),
                ("measurementValue", Value::from(value.as_str())),
            ]);
        }
    }
    table
}

fn characters(find: &KeptFind) -> Vec<(String, String)> {
    let record = &find.record;
    let own = [("substrate", &record.substrate), ("container", &record.container)];
    let own = own.into_iter().filter_map(|(kind, value)| Some((kind.to_owned(), value.clone()?)));
    let counted =
        record.fields.get(&Field::Quantity).is_some_and(|text| darwin_core::is_quantity(text));
    let fields = record.fields.iter().filter(|(field, _)| {
        let elsewhere = field.darwin_core_term().is_some()
            || field.is_written_form()
            || darwin_core::beside(field).is_some()
            || term::is_of_duplicates(field.heading());
        let of_find = matches!(field, Field::Notes | Field::IdentifiedBy);
        !(elsewhere || of_find || **field == Field::Quantity && counted)
    });
    let described = record.fields.iter().filter_map(|(field, value)| {
        let sizes = Sizes::of_field(field.heading(), value)?;
        Some((format!("{}, described", field.heading()), sizes.description()))
    });
    own.chain(fields.map(|(field, value)| (field.heading().to_owned(), value.clone())))
        .chain(described)
        .filter(|(_, value)| !value.trim().is_empty())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;

    #[test]
    fn columns_with_a_term_are_no_measurements() {
        let mut find = fixture::kept_find("TH-0012");
        for (heading, text) in
            [("Locality", "Fern Bank"), ("Duplicates", "Nordquell"), ("wind", "strong")]
        {
            find.record.fields.insert(Field::Other(heading.into()), text.into());
        }
        let kinds: Vec<String> = characters(&find).into_iter().map(|(kind, _)| kind).collect();
        assert!(kinds.contains(&"wind".to_owned()), "{kinds:?}");
        assert!(!kinds.iter().any(|kind| ["Locality", "Duplicates"].contains(&kind.as_str())));
        let place = find.record.place.clone().unwrap();
        let terms = darwin_core::occurrence(&find);
        let locality = terms.iter().find(|(term, _)| *term == "locality").unwrap();
        assert_eq!(locality.1, Value::Text(format!("{place} | Fern Bank")));
    }
}
