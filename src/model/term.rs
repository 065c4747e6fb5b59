//! Recognises columns of a notebook that are Darwin Core terms by their headings. Layer: `model`.

/// Terms of the classes Record-level, Occurrence, Material Entity, Organism, Event, Location, Identification and
/// Taxon that people record and that are not computed.
///
/// # References
/// Darwin Core quick reference guide (TDWG), <http://rs.tdwg.org/dwc/terms/>; `tests/reference` compares the list.
pub const RECORDED: [&str; 105] = [
    "institutionID",
    "collectionID",
    "institutionCode",
    "collectionCode",
    "datasetName",
    "ownerInstitutionCode",
    "catalogNumber",
    "otherCatalogNumbers",
    "disposition",
    "preparations",
    "materialEntityID",
    "materialEntityRemarks",
    "verbatimLabel",
    "recordedByID",
    "individualCount",
    "sex",
    "lifeStage",
    "reproductiveCondition",
    "caste",
    "behavior",
    "vitality",
    "establishmentMeans",
    "degreeOfEstablishment",
    "pathway",
    "associatedOccurrences",
    "associatedOrganisms",
    "associatedReferences",
    "associatedSequences",
    "organismName",
    "organismRemarks",
    "organismScope",
    "previousIdentifications",
    "fieldNumber",
    "fieldNotes",
    "eventRemarks",
    "verbatimLocality",
    "locationRemarks",
    "locationAccordingTo",
    "locationID",
    "higherGeography",
    "higherGeographyID",
    "continent",
    "waterBody",
    "islandGroup",
    "island",
    "country",
    "countryCode",
    "stateProvince",
    "county",
    "municipality",
    "verbatimDepth",
    "minimumDepthInMeters",
    "maximumDepthInMeters",
    "verticalDatum",
    "georeferencedBy",
    "georeferencedDate",
    "georeferenceVerificationStatus",
    "verbatimLatitude",
    "verbatimLongitude",
    "identificationID",
    "identifiedByID",
    "dateIdentified",
    "identificationReferences",
    "identificationRemarks",
    "identificationVerificationStatus",
    "typeStatus",
    "taxonID",
    "scientificNameID",
    "acceptedNameUsage",
    "acceptedNameUsageID",
    "parentNameUsage",
    "originalNameUsage",
    "nameAccordingTo",
    "namePublishedIn",
    "namePublishedInYear",
    "higherClassification",
    "kingdom",
    "phylum",
    "class",
    "order",
    "superfamily",
    "family",
    "subfamily",
    "tribe",
    "subtribe",
    "genus",
    "genericName",
    "subgenus",
    "infragenericEpithet",
    "specificEpithet",
    "infraspecificEpithet",
    "cultivarEpithet",
    "taxonRank",
    "verbatimTaxonRank",
    "scientificNameAuthorship",
    "vernacularName",
    "nomenclaturalCode",
    "taxonomicStatus",
    "nomenclaturalStatus",
    "taxonRemarks",
    "license",
    "rightsHolder",
    "accessRights",
    "bibliographicCitation",
    "language",
];

/// Those of Dublin Core, which have another address.
pub const DUBLIN_CORE: [&str; 5] =
    ["license", "rightsHolder", "accessRights", "bibliographicCitation", "language"];

/// Those that belong to one identification, not to the find.
pub const OF_IDENTIFICATION: [&str; 7] = [
    "identificationID",
    "identifiedByID",
    "dateIdentified",
    "identificationReferences",
    "identificationRemarks",
    "identificationVerificationStatus",
    "typeStatus",
];

/// Terms with a place of their own in a record or computed from it, that a column beside it can have, too.
pub const BESIDE: [&str; 7] = [
    "locality",
    "habitat",
    "verbatimEventDate",
    "verbatimElevation",
    "verbatimCoordinates",
    "verbatimCoordinateSystem",
    "verbatimSRS",
];

/// Headings of the column that states to whom duplicates went, in letters and digits.
pub const DUPLICATES: &[&str] = &["duplicates", "duplicatesto", "dupl", "duplto"];

/// Headings of chemical reactions, in letters and digits.
pub const REACTIONS: &[&str] = &["reactions", "chemicalreactions", "koh", "feso4"];

/// Headings of microscopic measurements, in letters and digits.
pub const MICROSCOPY: &[&str] = &["microscopy", "spores", "sporesize", "microscopicmeasurements"];

/// Whether a heading has a line of its own on labels, though it is no term: duplicates, reactions, microscopy.
#[must_use]
pub fn is_of_label(heading: &str) -> bool {
    let bare = bare(heading);
    [DUPLICATES, REACTIONS, MICROSCOPY].iter().any(|words| words.contains(&bare.as_str()))
}

/// Whether a heading is one of [`DUPLICATES`], whatever its case and spaces.
#[must_use]
pub fn is_of_duplicates(heading: &str) -> bool {
    DUPLICATES.contains(&bare(heading).as_str())
}

fn bare(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

/// The term of [`BESIDE`] that a heading is, whatever its case, spaces and prefix.
#[must_use]
pub fn beside(heading: &str) -> Option<&'static str> {
    of_list(heading, &BESIDE)
}

/// The term that a heading is, whatever its case, spaces and prefix: `dwc:lifeStage`, `Life stage`.
#[must_use]
pub fn of_heading(heading: &str) -> Option<&'static str> {
    of_list(heading, &RECORDED)
}

fn of_list(heading: &str, list: &'static [&'static str]) -> Option<&'static str> {
    let heading = heading.trim();
    let heading = ["dwc:", "dcterms:"]
        .iter()
        .find_map(|prefix| heading.strip_prefix(prefix))
        .unwrap_or(heading);
    let same = |term: &&'static str| {
        let letters = heading.chars().filter(|c| c.is_alphanumeric());
        letters.flat_map(char::to_lowercase).eq(term.chars().map(|c| c.to_ascii_lowercase()))
    };
    list.iter().copied().find(same)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_are_terms_in_any_spelling() {
        for heading in ["lifeStage", "dwc:lifeStage", "Life stage", "LIFE_STAGE"] {
            assert_eq!(of_heading(heading), Some("lifeStage"), "{heading}");
        }
        assert_eq!(of_heading("dcterms:rightsHolder"), Some("rightsHolder"));
        assert_eq!((beside("Locality"), beside("place")), (Some("locality"), None));
        for heading in ["", "Wetter", "lifeStages", "scientificName", "decimalLatitude", "order no"]
        {
            assert_eq!(of_heading(heading), None, "{heading}");
        }
    }

    #[test]
    fn every_term_is_listed_once() {
        let mut terms = RECORDED.to_vec();
        terms.sort_unstable();
        terms.dedup();
        assert_eq!(terms.len(), RECORDED.len());
        assert!(DUBLIN_CORE.iter().chain(&OF_IDENTIFICATION).all(|term| terms.contains(term)));
    }
}
