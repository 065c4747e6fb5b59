//! Classes features of base maps by open keys, words and names of layers. The table stands in
//! `docs/maps.md`. Layer: `ingest`.

use crate::model::BaseClass;

/// Keys whose mere presence tells the class. The first key that a feature has counts.
const KEYS: [(&str, BaseClass); 11] = [
    ("waterway", BaseClass::Stream),
    ("water", BaseClass::Water),
    ("highway", BaseClass::Road),
    ("railway", BaseClass::Road),
    ("boundary", BaseClass::Boundary),
    ("admin_level", BaseClass::Boundary),
    ("natural", BaseClass::Other),
    ("amenity", BaseClass::Other),
    ("leisure", BaseClass::Other),
    ("landuse", BaseClass::Other),
    ("place", BaseClass::Place),
];

/// Keys whose value is a word for the class, in the order in which they count.
const KINDS: [&str; 8] =
    ["kind", "class", "fclass", "featurecla", "type", "category", "feature", "layer"];

/// Words that tell the class, as whole words of a value or of a layer's name.
const WORDS: [(BaseClass, &[&str]); 8] = [
    (BaseClass::Parking, &["parking", "carpark", "car park", "car parks", "carparks"]),
    (
        BaseClass::Path,
        &[
            "path",
            "paths",
            "footpath",
            "footpaths",
            "footway",
            "track",
            "tracks",
            "trail",
            "trails",
            "bridleway",
            "cycleway",
            "steps",
            "pedestrian",
            "walkway",
        ],
    ),
    (
        BaseClass::Stream,
        &[
            "stream",
            "streams",
            "river",
            "rivers",
            "creek",
            "creeks",
            "brook",
            "beck",
            "burn",
            "rivulet",
            "ditch",
            "drain",
            "canal",
            "watercourse",
            "watercourses",
            "waterway",
            "waterways",
            "rill",
        ],
    ),
    (
        BaseClass::Water,
        &[
            "lake",
            "lakes",
            "pond",
            "ponds",
            "water",
            "waters",
            "waterbody",
            "reservoir",
            "tarn",
            "lagoon",
            "sea",
            "ocean",
            "coast",
            "coastline",
            "shoreline",
            "riverbank",
            "loch",
        ],
    ),
    (
        BaseClass::Road,
        &[
            "road",
            "roads",
            "street",
            "streets",
            "highway",
            "motorway",
            "trunk",
            "primary",
            "secondary",
            "tertiary",
            "residential",
            "unclassified",
            "service",
            "railway",
            "railways",
            "rail",
            "tramway",
        ],
    ),
    (
        BaseClass::Boundary,
        &[
            "boundary",
            "boundaries",
            "border",
            "borders",
            "limit",
            "reserve",
            "reserves",
            "park",
            "parish",
            "municipality",
            "county",
            "nature_reserve",
            "protected_area",
        ],
    ),
    (BaseClass::Summit, &["peak", "peaks", "summit", "summits", "hill", "mountain", "spot height"]),
    (
        BaseClass::Place,
        &[
            "place",
            "places",
            "name",
            "names",
            "locality",
            "hamlet",
            "village",
            "town",
            "city",
            "settlement",
            "settlements",
            "hut",
            "shelter",
            "label",
            "labels",
        ],
    ),
];

/// The class of a feature by its properties (keys in lower case) and the name of its layer; with an
/// unknown class the kind as written.
pub(super) fn classify(
    properties: &[(String, String)],
    layer: Option<&str>,
) -> (BaseClass, Option<String>) {
    let value =
        |key: &str| properties.iter().find(|(own, _)| own == key).map(|(_, value)| value.trim());
    let mut written = None;
    for (key, class) in KEYS {
        let Some(value) = value(key).filter(|value| !value.is_empty() && *value != "no") else {
            continue;
        };
        if let Some(class) =
            worded(value).or(Some(class)).filter(|class| *class != BaseClass::Other)
        {
            return (class, None);
        }
        written.get_or_insert_with(|| format!("{key}={value}"));
    }
    for key in KINDS {
        let Some(value) = value(key).filter(|value| !value.is_empty()) else { continue };
        if let Some(class) = worded(value) {
            return (class, None);
        }
        written.get_or_insert_with(|| format!("{key}={value}"));
    }
    if let Some(class) = layer.and_then(worded) {
        return (class, None);
    }
    let kind =
        written.or_else(|| layer.map(str::to_owned)).unwrap_or_else(|| "no class".to_owned());
    (BaseClass::Other, Some(kind))
}

/// The class that a value or a layer's name states.
fn worded(text: &str) -> Option<BaseClass> {
    let text = text.to_lowercase().replace(['_', '-', '.', '/'], " ");
    let text = format!(" {} ", text.split_whitespace().collect::<Vec<_>>().join(" "));
    let says = |word: &str| text.contains(&format!(" {} ", word.replace('_', " ")));
    WORDS.iter().find(|(_, words)| words.iter().any(|word| says(word))).map(|(class, _)| *class)
}

/// The name of a feature, by the keys that vector data use for it.
pub(super) fn name(properties: &[(String, String)]) -> Option<String> {
    ["name", "label", "title", "name_en", "namn", "nom", "nombre"].iter().find_map(|key| {
        let found = properties.iter().find(|(own, _)| own == key)?;
        let name = found.1.split_whitespace().collect::<Vec<_>>().join(" ");
        Some(name.chars().filter(|c| !c.is_control()).take(80).collect::<String>())
            .filter(|name| !name.is_empty())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn class(properties: &[(&str, &str)], layer: Option<&str>) -> BaseClass {
        let owned: Vec<(String, String)> =
            properties.iter().map(|(key, value)| ((*key).into(), (*value).into())).collect();
        classify(&owned, layer).0
    }

    #[test]
    fn open_keys_and_words_tell_the_class() {
        for (key, value, expected) in [
            ("waterway", "stream", BaseClass::Stream),
            ("waterway", "riverbank", BaseClass::Water),
            ("natural", "water", BaseClass::Water),
            ("natural", "peak", BaseClass::Summit),
            ("natural", "wood", BaseClass::Other),
            ("highway", "footway", BaseClass::Path),
            ("highway", "track", BaseClass::Path),
            ("highway", "tertiary", BaseClass::Road),
            ("highway", "no", BaseClass::Other),
            ("boundary", "protected_area", BaseClass::Boundary),
            ("place", "isolated_dwelling", BaseClass::Place),
            ("amenity", "parking", BaseClass::Parking),
            ("kind", "Forest road", BaseClass::Road),
            ("type", "Walking-track", BaseClass::Path),
            ("fclass", "car_park", BaseClass::Parking),
            ("height", "12", BaseClass::Other),
        ] {
            assert_eq!(class(&[(key, value)], None), expected, "{key}={value}");
        }
        assert_eq!(class(&[("width", "2")], Some("hydro_rivers")), BaseClass::Stream);
        assert_eq!(class(&[("width", "2")], Some("streamside")), BaseClass::Other);
    }

    #[test]
    fn unknown_kinds_are_kept_as_written() {
        let wood = [("natural".to_owned(), "wood".to_owned())];
        assert_eq!(classify(&wood, Some("areas")).1.as_deref(), Some("natural=wood"));
        assert_eq!(classify(&[], None).1.as_deref(), Some("no class"));
    }

    #[test]
    fn name_is_one_short_line() {
        let named = [("name".to_owned(), "  Sawmill \n Creek\u{7} ".to_owned())];
        assert_eq!(name(&named).as_deref(), Some("Sawmill Creek"));
        assert_eq!(name(&[("name".to_owned(), " ".to_owned())]), None);
    }
}
