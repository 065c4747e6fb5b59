//! Derives the type status of a duplicate from that of its specimen: a holotype is one specimen, its duplicates are
//! isotypes. Layer: `present`.
//!
//! # References
//! International Code of Nomenclature for algae, fungi, and plants, Art. 8.1 and 9.1 (a holotype is one specimen),
//! 9.5 (an isotype is a duplicate of it), 9.4 and 9.6 (isolectotypes, isoneotypes, isoepitypes, isosyntypes). From memory.

/// The kinds of which one specimen has the name and its duplicates another; of the forms in the languages of labels
/// what they have in common.
const OF_ONE: [(&str, &str); 10] = [
    ("holotyp", "isotyp"),
    ("holotip", "isotip"),
    ("lectotyp", "isolectotyp"),
    ("lectotip", "isolectotip"),
    ("neotyp", "isoneotyp"),
    ("neotip", "isoneotip"),
    ("epityp", "isoepityp"),
    ("epitip", "isoepitip"),
    ("syntyp", "isosyntyp"),
    ("sintip", "isosintip"),
];
/// The kinds that any number of specimens have.
const OF_SEVERAL: [&str; 5] = ["isotyp", "isotip", "iso", "paratyp", "paratip"];

/// The status of a duplicate; `None` where that of the specimen does not say what its duplicates are.
pub(super) fn of_duplicate(status: &str) -> Option<String> {
    let mut is_known = false;
    let words: Vec<String> = status
        .split_whitespace()
        .map(|word| {
            let lower = word.to_lowercase();
            is_known |= OF_SEVERAL.iter().any(|kind| lower.starts_with(kind));
            let Some((one, duplicate)) = OF_ONE.iter().find(|(one, _)| lower.starts_with(one))
            else {
                return word.to_owned();
            };
            is_known = true;
            let duplicate = if word.starts_with(char::is_uppercase) {
                format!("I{}", &duplicate[1..])
            } else {
                (*duplicate).to_owned()
            };
            format!("{duplicate}{}", lower.get(one.len()..).unwrap_or_default())
        })
        .collect();
    is_known.then(|| words.join(" "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_one_sheet_is_the_holotype() {
        for (status, duplicate) in [
            ("holotype of Mycena exempla", Some("isotype of Mycena exempla")),
            ("Holotypus", Some("Isotypus")),
            ("holotipo", Some("isotipo")),
            ("Lectotype", Some("Isolectotype")),
            ("neotype", Some("isoneotype")),
            ("epitype of Mycena exempla", Some("isoepitype of Mycena exempla")),
            ("syntype", Some("isosyntype")),
            ("isotype", Some("isotype")),
            ("paratype", Some("paratype")),
            ("type", None),
            ("Typus", None),
            ("", None),
        ] {
            assert_eq!(of_duplicate(status).as_deref(), duplicate, "{status}");
        }
    }
}
