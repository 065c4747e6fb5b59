//! Maps quantities, notes and fresh characters to Darwin Core terms; what has no term goes into
//! `dynamicProperties`. Layer: `present`.

use serde_json::{Map, Value as Json};

use super::{Terms, beside};
use crate::model::{Field, KeptFind};

pub(super) fn add(terms: &mut Terms, find: &KeptFind) {
    let record = &find.record;
    let mut properties = Map::new();
    let mut keep = |heading: &str, text: &str| {
        properties.insert(heading.to_owned(), Json::from(text));
    };
    for (heading, text) in [("substrate", &record.substrate), ("container", &record.container)] {
        if let Some(text) = text {
            keep(heading, text);
        }
    }
    let mut counted = None;
    for (field, text) in &record.fields {
        match field {
            Field::Notes | Field::IdentifiedBy => {}
            field if field.term().is_some() || field.is_written_form() => {}
            field if beside(field).is_some() => {}
            Field::Quantity => match quantity(text) {
                Some(found) => counted = Some(found),
                None => keep(field.heading(), text),
            },
            _ => keep(field.heading(), text),
        }
    }
    if let Some((number, unit)) = counted {
        terms.number("organismQuantity", Some(number)).text("organismQuantityType", unit);
    }
    terms.some("occurrenceRemarks", record.fields.get(&Field::Notes).cloned());
    if !properties.is_empty() {
        terms.text("dynamicProperties", Json::Object(properties).to_string());
    }
}

/// Whether a quantity has its unit and becomes a term.
pub(crate) fn is_quantity(text: &str) -> bool {
    quantity(text).is_some()
}

/// A quantity with its unit; Darwin Core requires both.
fn quantity(text: &str) -> Option<(f64, String)> {
    let text = text.trim();
    let end = text.find(|c: char| !c.is_ascii_digit() && c != '.')?;
    let (number, unit) = text.split_at(end);
    let number = number.parse().ok()?;
    let unit = unit.trim();
    unit.starts_with(char::is_alphabetic).then(|| (number, unit.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::quantity;

    #[test]
    fn quantity_requires_number_and_unit() {
        assert_eq!(quantity("12 fruit bodies"), Some((12.0, "fruit bodies".into())));
        assert_eq!(quantity("12"), None);
        assert_eq!(quantity("several"), None);
        assert_eq!(quantity("10-20 caps"), None);
    }
}
