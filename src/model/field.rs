//! Names the fields of a record that have no place of their own. Layer: `model`.

use serde::{Deserialize, Serialize};

use super::{Record, term};

/// The heading of a field that has no place of its own in [`Record`].
///
/// In JSON and in the store it is its heading: `spore print`.
///
/// # Examples
/// ```
/// use trug::model::Field;
///
/// assert_eq!(Field::from("spore print".to_owned()), Field::SporePrint);
/// assert_eq!(Field::from("slope facing".to_owned()).heading(), "slope facing");
/// ```
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(from = "String", into = "String")]
pub enum Field {
    /// Colour change when cut or handled.
    Bruising,
    /// Milk from cut flesh.
    Latex,
    /// Smell.
    Smell,
    /// Taste (noted by those who know how to; never a sign that anything is edible).
    Taste,
    /// Colour of the spore print.
    SporePrint,
    /// Colour of cap and other parts when fresh.
    Colour,
    /// How many, with the unit as written.
    Quantity,
    /// Who named it.
    IdentifiedBy,
    /// Anything else.
    Notes,
    /// A column that trug has no word for, kept under its own heading.
    Other(String),
}

impl Field {
    /// The fields that have a word of their own, in the order of a label.
    pub const NAMED: [Self; 9] = [
        Self::Colour,
        Self::Bruising,
        Self::Latex,
        Self::Smell,
        Self::Taste,
        Self::SporePrint,
        Self::Quantity,
        Self::IdentifiedBy,
        Self::Notes,
    ];

    /// Darwin Core terms of places, collections and determinations that records keep under their names.
    pub const TERMS: [&'static str; 10] = [
        "country",
        "stateProvince",
        "county",
        "municipality",
        "institutionCode",
        "collectionCode",
        "catalogNumber",
        "otherCatalogNumbers",
        "disposition",
        "dateIdentified",
    ];

    /// The Darwin Core term that this field is, if any of [`Field::TERMS`].
    #[must_use]
    pub fn term(&self) -> Option<&'static str> {
        let Self::Other(heading) = self else { return None };
        Self::TERMS.into_iter().find(|term| term == heading)
    }

    /// The Darwin Core term that its heading is, of all that people record.
    #[must_use]
    pub fn darwin_core_term(&self) -> Option<&'static str> {
        let Self::Other(heading) = self else { return None };
        self.term().or_else(|| term::of_heading(heading))
    }

    /// The terms of [`Self::is_written_form`].
    const WRITTEN_FORMS: [&'static str; 10] = [
        Record::VERBATIM_DATE,
        "verbatimLocality",
        Record::VERBATIM_ELEVATION,
        Record::HIGHEST,
        "verbatimIdentification",
        "verbatimLatitude",
        "verbatimLongitude",
        "verbatimCoordinates",
        "verbatimCoordinateSystem",
        "verbatimSRS",
    ];

    /// Whether it repeats a part of the record as typed, or is the other end of one, and therefore needs no
    /// line of its own.
    #[must_use]
    pub fn is_written_form(&self) -> bool {
        let Self::Other(heading) = self else { return false };
        Self::WRITTEN_FORMS.contains(&heading.as_str())
    }

    /// The heading in words.
    #[must_use]
    pub fn heading(&self) -> &str {
        match self {
            Self::Bruising => "bruising",
            Self::Latex => "latex",
            Self::Smell => "smell",
            Self::Taste => "taste",
            Self::SporePrint => "spore print",
            Self::Colour => "colour",
            Self::Quantity => "quantity",
            Self::IdentifiedBy => "identified by",
            Self::Notes => "notes",
            Self::Other(heading) => heading,
        }
    }
}

impl From<String> for Field {
    fn from(heading: String) -> Self {
        let named = Self::NAMED.into_iter().find(|field| field.heading() == heading);
        named.unwrap_or(Self::Other(heading))
    }
}

impl From<Field> for String {
    fn from(field: Field) -> Self {
        field.heading().to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_field_goes_by_its_heading() {
        for field in Field::NAMED {
            assert_eq!(Field::from(field.heading().to_owned()), field);
        }
        let json = serde_json::to_string(&Field::SporePrint).unwrap();
        assert_eq!(json, r#""spore print""#);
        let other: Field = serde_json::from_str(r#""Wetter""#).unwrap();
        assert_eq!(other, Field::Other("Wetter".into()));
    }
}
