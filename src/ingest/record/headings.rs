//! Maps the headings of a table to fields: Darwin Core terms and the usual words of field labels,
//! ignoring case, spaces, marks and accents. An unknown heading is kept as it is. Layer: `ingest`.

use super::length::Unit;
use super::translated;
use crate::model::Field;

/// The content of a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Column {
    Number,
    Date,
    Year,
    Month,
    Day,
    Time,
    Place,
    Country,
    State,
    County,
    Municipality,
    Substrate,
    Host,
    Habitat,
    Name,
    Genus,
    Epithet,
    Author,
    Collector,
    Container,
    Photos,
    Waypoint,
    Coordinates,
    Latitude,
    Longitude,
    Easting,
    Northing,
    Zone,
    Datum,
    Uncertainty,
    Measured,
    Elevation,
    Bruising,
    Latex,
    Smell,
    Taste,
    SporePrint,
    Colour,
    Quantity,
    IdentifiedBy,
    DateIdentified,
    Institution,
    Collection,
    CatalogNumber,
    OtherCatalogNumbers,
    Disposition,
    Notes,
    /// Columns of a prepared notebook, which repeat what other inputs say.
    ProposedTime,
    ProposedPosition,
    Thumbnail,
}

/// The rank of a heading in another language: after every English word.
const TRANSLATED: usize = 90;

/// The words for each column, as [`bare`] leaves them. Darwin Core terms come first.
const WORDS: &[(Column, &[&str])] = &[
    (
        Column::Number,
        &[
            "recordnumber",
            "number",
            "no",
            "nr",
            "num",
            "n",
            "collectornumber",
            "collectorsnumber",
            "collectorno",
            "collectionnumber",
            "collectingnumber",
            "collectionno",
            "collno",
            "findnumber",
            "findno",
            "find",
            "labelnumber",
            "labelno",
            "label",
            "specimennumber",
            "specimenno",
            "specimen",
            "vouchernumber",
            "voucherno",
            "voucher",
            "recordno",
            "record",
            "fieldnumber",
            "fieldno",
            "sample",
            "sampleno",
            "samplenumber",
            "observationnumber",
        ],
    ),
    (
        Column::Date,
        &[
            "eventdate",
            "date",
            "collectiondate",
            "collectingdate",
            "datecollected",
            "datefound",
            "dateofcollection",
            "collected",
            "found",
            "verbatimeventdate",
            "observationdate",
            "datetime",
            "dateandtime",
            "colldate",
            "datecoll",
            "collectdate",
            "finddate",
            "dateoffind",
        ],
    ),
    (Column::Year, &["year"]),
    (Column::Month, &["month"]),
    (Column::Day, &["day"]),
    (
        Column::Time,
        &[
            "eventtime",
            "time",
            "localtime",
            "timecollected",
            "timefound",
            "timeofday",
            "clock",
            "hour",
            "collectingtime",
            "collectiontime",
            "findtime",
            "timeoffind",
        ],
    ),
    (
        Column::Place,
        &[
            "locality",
            "place",
            "location",
            "site",
            "where",
            "placename",
            "verbatimlocality",
            "spot",
            "sitename",
            "localityname",
            "locationname",
            "placeofcollection",
            "collectionsite",
            "collectingsite",
            "collectinglocality",
            "collectionlocality",
        ],
    ),
    (Column::Country, &["country"]),
    (Column::State, &["stateprovince", "state", "province", "stateorprovince"]),
    (Column::County, &["county"]),
    (Column::Municipality, &["municipality"]),
    (
        Column::Substrate,
        &["substrate", "substratum", "growingon", "growson", "grewon", "on", "matrix"],
    ),
    (
        Column::Host,
        &[
            "associatedtaxa",
            "host",
            "hosttree",
            "hostplant",
            "hostspecies",
            "tree",
            "trees",
            "nearesttree",
            "treespecies",
            "associatedtree",
            "associatedplant",
            "growingwith",
            "with",
            "associate",
            "associates",
        ],
    ),
    (
        Column::Habitat,
        &[
            "habitat",
            "vegetation",
            "surroundings",
            "forest",
            "foresttype",
            "biotope",
            "environment",
        ],
    ),
    (
        Column::Name,
        &[
            "scientificname",
            "name",
            "species",
            "taxon",
            "taxonname",
            "determination",
            "determinedname",
            "determinedas",
            "identification",
            "identifiedas",
            "fungus",
            "fungusname",
            "verbatimidentification",
            "speciesname",
            "latinname",
            "currentname",
            "mushroom",
        ],
    ),
    (Column::Genus, &["genus"]),
    (Column::Epithet, &["specificepithet", "epithet"]),
    (Column::Author, &["scientificnameauthorship", "author", "authority", "authorship", "authors"]),
    (
        Column::Collector,
        &[
            "recordedby",
            "collector",
            "collectors",
            "collectedby",
            "foundby",
            "finder",
            "leg",
            "legit",
            "observer",
            "legdet",
            "legetdet",
            "leganddet",
            "detleg",
            "detetleg",
            "legitetdet",
        ],
    ),
    (
        Column::Container,
        &["container", "basket", "bag", "box", "boxnumber", "packet", "tray", "tin", "compartment"],
    ),
    (
        Column::Photos,
        &[
            "associatedmedia",
            "photos",
            "photo",
            "photographs",
            "photograph",
            "pictures",
            "picture",
            "images",
            "image",
            "pics",
            "photonumber",
            "photonumbers",
            "photono",
            "photonos",
            "photofiles",
            "imagenumbers",
            "imagefiles",
            "frames",
            "pictureno",
            "picturenumbers",
            "photoid",
            "photoids",
            "imageid",
            "imageids",
            "photofile",
            "imagefile",
            "photofilenames",
            "imagefilenames",
            "photographnumbers",
        ],
    ),
    (
        Column::Waypoint,
        &[
            "waypoint",
            "waypoints",
            "wpt",
            "wp",
            "waypointname",
            "waypointnumber",
            "waypointno",
            "gpspoint",
            "gpswaypoint",
            "gpsmark",
        ],
    ),
    (
        Column::Coordinates,
        &[
            "verbatimcoordinates",
            "coordinates",
            "coordinate",
            "coords",
            "position",
            "latlon",
            "latlong",
            "latitudelongitude",
            "gps",
            "gpscoordinates",
            "gpsposition",
            "gridreference",
            "gridref",
            "mgrs",
            "utm",
            "utmreference",
        ],
    ),
    (Column::Latitude, &["decimallatitude", "latitude", "lat", "verbatimlatitude", "gpslatitude"]),
    (
        Column::Longitude,
        &[
            "decimallongitude",
            "longitude",
            "lon",
            "long",
            "lng",
            "verbatimlongitude",
            "gpslongitude",
        ],
    ),
    (Column::Easting, &["easting", "eastings", "utmeasting", "utme"]),
    (Column::Northing, &["northing", "northings", "utmnorthing", "utmn"]),
    (Column::Zone, &["zone", "utmzone", "gridzone"]),
    (
        Column::Datum,
        &[
            "geodeticdatum",
            "datum",
            "verbatimsrs",
            "verbatimcoordinatesystem",
            "coordinatesystem",
            "referencesystem",
            "srs",
            "crs",
            "epsg",
            "grid",
            "projection",
            "mapdatum",
            "gpsdatum",
        ],
    ),
    (
        Column::Uncertainty,
        &[
            "coordinateuncertaintyinmeters",
            "coordinateuncertaintyinmetres",
            "coordinateuncertainty",
            "uncertainty",
            "uncertaintyinmeters",
            "uncertaintyinmetres",
            "uncertaintym",
            "accuracy",
            "accuracym",
            "gpsaccuracy",
            "gpsaccuracym",
            "gpserror",
            "error",
            "radius",
            "radiusm",
        ],
    ),
    (
        Column::Measured,
        &[
            "positionfinal",
            "finalposition",
            "coordinatesmeasured",
            "measuredcoordinates",
            "positionmeasured",
            "measuredposition",
            "fixedposition",
            "positionfixed",
            "coordinatesfinal",
            "finalcoordinates",
            "coordinatesfixed",
            "positionsurveyed",
            "surveyed",
        ],
    ),
    (
        Column::Elevation,
        &[
            "minimumelevationinmeters",
            "verbatimelevation",
            "elevation",
            "elevationm",
            "elevationinmeters",
            "elevationinmetres",
            "altitude",
            "altitudem",
            "elev",
            "alt",
            "heightabovesealevel",
            "masl",
        ],
    ),
    (
        Column::Bruising,
        &[
            "bruising",
            "bruise",
            "bruises",
            "bruisingcolour",
            "bruisingcolor",
            "colourchange",
            "colorchange",
            "staining",
            "stains",
            "discolouration",
            "discoloration",
        ],
    ),
    (Column::Latex, &["latex", "milk", "latexcolour", "latexcolor"]),
    (Column::Smell, &["smell", "odour", "odor", "scent", "aroma"]),
    (Column::Taste, &["taste", "flavour", "flavor"]),
    (
        Column::SporePrint,
        &[
            "sporeprint",
            "sporeprintcolour",
            "sporeprintcolor",
            "spores",
            "print",
            "sporecolour",
            "sporecolor",
        ],
    ),
    (
        Column::Colour,
        &[
            "colour",
            "color",
            "colours",
            "colors",
            "freshcolour",
            "colourwhenfresh",
            "colorwhenfresh",
            "freshcolor",
            "capcolour",
            "capcolor",
        ],
    ),
    (
        Column::Quantity,
        &[
            "organismquantity",
            "individualcount",
            "quantity",
            "count",
            "howmany",
            "amount",
            "fruitbodies",
            "fruitingbodies",
            "numberoffruitbodies",
            "abundance",
        ],
    ),
    (
        Column::IdentifiedBy,
        &["identifiedby", "determinedby", "determiner", "detby", "det", "namedby", "identifier"],
    ),
    (
        Column::DateIdentified,
        &["dateidentified", "identificationdate", "detdate", "datedetermined"],
    ),
    (Column::Institution, &["institutioncode", "institution", "herbarium", "ownerinstitutioncode"]),
    (Column::Collection, &["collectioncode", "collection"]),
    (
        Column::CatalogNumber,
        &[
            "catalognumber",
            "cataloguenumber",
            "catalogno",
            "catalogueno",
            "accessionnumber",
            "accessionno",
            "herbariumnumber",
            "herbariumno",
            "herbaccno",
            "accno",
            "accession",
            "barcode",
        ],
    ),
    (Column::OtherCatalogNumbers, &["othercatalognumbers", "othercataloguenumbers"]),
    (Column::Disposition, &["disposition"]),
    (
        Column::Notes,
        &[
            "occurrenceremarks",
            "notes",
            "note",
            "fieldnotes",
            "remarks",
            "remark",
            "comments",
            "comment",
            "description",
            "eventremarks",
            "observations",
            "characters",
            "freshcharacters",
            "notesonfreshmaterial",
            "additionalnotes",
            "generalnotes",
            "otherremarks",
            "fieldremarks",
        ],
    ),
    (Column::ProposedTime, &["proposedtime"]),
    (Column::ProposedPosition, &["proposedposition"]),
    (Column::Thumbnail, &["thumbnail"]),
];

impl Column {
    /// Whether the texts of several columns with this meaning are joined.
    pub(super) fn joins(self) -> bool {
        matches!(
            self,
            Self::Notes
                | Self::Habitat
                | Self::Place
                | Self::Photos
                | Self::Colour
                | Self::Datum
                | Self::Bruising
                | Self::Substrate
                | Self::Host
                | Self::Collector
        )
    }

    /// The field name for values without their own place in the record.
    pub(super) fn field(self) -> Option<Field> {
        Some(match self {
            Self::Bruising => Field::Bruising,
            Self::Latex => Field::Latex,
            Self::Smell => Field::Smell,
            Self::Taste => Field::Taste,
            Self::SporePrint => Field::SporePrint,
            Self::Colour => Field::Colour,
            Self::Quantity => Field::Quantity,
            Self::IdentifiedBy => Field::IdentifiedBy,
            Self::Notes => Field::Notes,
            _ => Field::Other(self.term()?.to_owned()),
        })
    }

    /// The Darwin Core term under which values without their own place in the record are kept.
    fn term(self) -> Option<&'static str> {
        Some(match self {
            Self::Country => "country",
            Self::State => "stateProvince",
            Self::County => "county",
            Self::Municipality => "municipality",
            Self::DateIdentified => "dateIdentified",
            Self::Institution => "institutionCode",
            Self::Collection => "collectionCode",
            Self::CatalogNumber => "catalogNumber",
            Self::OtherCatalogNumbers => "otherCatalogNumbers",
            Self::Disposition => "disposition",
            _ => return None,
        })
    }

    /// The English words of a column.
    pub(super) fn words(self) -> &'static [&'static str] {
        WORDS.iter().find(|(column, _)| *column == self).map_or(&[], |(_, words)| words)
    }

    /// All columns, in the order of the guide.
    pub(super) fn all() -> impl Iterator<Item = Self> {
        WORDS.iter().map(|(column, _)| *column)
    }

    /// The column in words, as the guide names it.
    pub(super) fn word(self) -> &'static str {
        match self {
            Self::Number => "number",
            Self::Date => "date",
            Self::Year => "year",
            Self::Month => "month",
            Self::Day => "day",
            Self::Time => "time",
            Self::Place => "place",
            Self::Country => "country",
            Self::State => "state or province",
            Self::County => "county",
            Self::Municipality => "municipality",
            Self::Substrate => "substrate",
            Self::Host => "host",
            Self::Habitat => "habitat",
            Self::Name => "name",
            Self::Genus => "genus",
            Self::Epithet => "epithet",
            Self::Author => "author",
            Self::Collector => "collector",
            Self::Container => "container",
            Self::Photos => "photos",
            Self::Waypoint => "waypoint",
            Self::Coordinates => "coordinates",
            Self::Latitude => "latitude",
            Self::Longitude => "longitude",
            Self::Easting => "easting",
            Self::Northing => "northing",
            Self::Zone => "zone",
            Self::Datum => "datum",
            Self::Uncertainty => "uncertainty",
            Self::Measured => "position final",
            Self::Elevation => "elevation",
            Self::Bruising => "bruising",
            Self::Latex => "latex",
            Self::Smell => "smell",
            Self::Taste => "taste",
            Self::SporePrint => "spore print",
            Self::Colour => "colour",
            Self::Quantity => "quantity",
            Self::IdentifiedBy => "identified by",
            Self::DateIdentified => "date identified",
            Self::Institution => "institution",
            Self::Collection => "collection",
            Self::CatalogNumber => "catalogue number",
            Self::OtherCatalogNumbers => "other catalogue numbers",
            Self::Disposition => "disposition",
            Self::Notes => "notes",
            Self::ProposedTime => "proposed time",
            Self::ProposedPosition => "proposed position",
            Self::Thumbnail => "thumbnail",
        }
    }
}

/// Whether a heading names collector and determiner in one: `leg./det.`.
pub(super) fn is_both(heading: &str) -> bool {
    BOTH.contains(&bare(heading).as_str())
}

const BOTH: [&str; 6] = ["legdet", "legetdet", "leganddet", "detleg", "detetleg", "legitetdet"];

/// The meaning of a heading; the index of its word among those of its column ranks the match.
pub(super) fn column(heading: &str) -> Option<Column> {
    ranked(heading).map(|(column, _)| column)
}

/// The column with the rank of the word: 0 is the best.
pub(super) fn ranked(heading: &str) -> Option<(Column, usize)> {
    if ["#", "\u{2116}"].contains(&heading.trim()) {
        return Some((Column::Number, 2));
    }
    let bare = bare(heading);
    let known = |bare: &str| {
        WORDS.iter().find_map(|(column, words)| {
            words.iter().position(|word| *word == bare).map(|rank| (*column, rank))
        })
    };
    let translated = |bare: &str| Some((translated::column(bare)?, TRANSLATED));
    known(&bare).or_else(|| translated(&bare)).or_else(|| {
        let of_length = |&(column, _): &(Column, usize)| {
            matches!(column, Column::Elevation | Column::Uncertainty)
        };
        let word = without_unit(&bare).map_or(bare.as_str(), |(word, _)| word);
        // a height alone may be that of a tree, or above the ground
        let height =
            (is_height(word) && unit(heading).is_some()).then_some((Column::Elevation, 99));
        known(word).or_else(|| translated(word)).filter(of_length).or(height)
    })
}

/// Whether a word means a height, which may be that of a place, a tree or a fruiting body.
pub(super) fn is_height(heading: &str) -> bool {
    let bare = bare(heading);
    bare == "height" || translated::is_height(&bare)
}

/// The unit that a heading of lengths names, in brackets or as its last word.
pub(super) fn unit(heading: &str) -> Option<Unit> {
    let in_brackets = heading.split_once(['(', '[', '{']).and_then(|(_, behind)| {
        let word = behind.split([')', ']', '}']).next().unwrap_or(behind);
        Unit::of(word.trim().strip_prefix("in ").unwrap_or(word))
    });
    in_brackets.or_else(|| Some(without_unit(&bare(heading))?.1))
}

/// A heading without the unit at its end: `altft` is `alt` in feet.
fn without_unit(bare: &str) -> Option<(&str, Unit)> {
    const ENDS: [&str; 10] =
        ["feet", "foot", "ft", "metres", "meters", "metre", "meter", "masl", "m", "fuss"];
    let (front, end) = ENDS.into_iter().find_map(|end| Some((bare.strip_suffix(end)?, end)))?;
    let unit = if end == "masl" { Unit::Metre } else { Unit::of(end)? };
    Some((front.strip_suffix("in").unwrap_or(front), unit))
}

/// Letters and digits in lower case, without accents, without a unit in brackets or the prefix of a
/// vocabulary.
pub(super) fn bare(heading: &str) -> String {
    let heading = heading.trim();
    let heading = heading.strip_prefix("dwc:").unwrap_or(heading);
    let heading = heading.split(['(', '[', '{']).next().unwrap_or(heading);
    let mut bare = String::with_capacity(heading.len());
    for c in heading.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase) {
        match plain(c) {
            Some(letters) => bare.push_str(letters),
            None => bare.push(c),
        }
    }
    bare
}

/// The letters without accents; the signs of ordinals vanish.
fn plain(c: char) -> Option<&'static str> {
    Some(match c {
        '\u{e0}'..='\u{e5}' | '\u{101}' | '\u{103}' | '\u{105}' => "a",
        '\u{e6}' => "ae",
        '\u{e7}' | '\u{107}' | '\u{10d}' => "c",
        '\u{10f}' | '\u{111}' | '\u{f0}' => "d",
        '\u{e8}'..='\u{eb}' | '\u{113}' | '\u{119}' | '\u{11b}' => "e",
        '\u{ec}'..='\u{ef}' | '\u{12b}' => "i",
        '\u{142}' | '\u{13e}' => "l",
        '\u{f1}' | '\u{144}' | '\u{148}' => "n",
        '\u{f2}'..='\u{f6}' | '\u{f8}' | '\u{151}' => "o",
        '\u{153}' => "oe",
        '\u{159}' => "r",
        '\u{15b}' | '\u{161}' => "s",
        '\u{df}' => "ss",
        '\u{165}' => "t",
        '\u{f9}'..='\u{fc}' | '\u{16b}' | '\u{16f}' | '\u{171}' => "u",
        '\u{fd}' | '\u{ff}' => "y",
        '\u{17a}' | '\u{17c}' | '\u{17e}' => "z",
        '\u{aa}' | '\u{ba}' => "",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_are_known_in_every_spelling() {
        for heading in
            ["recordNumber", "Record Number", "RECORD_NUMBER", "Collector's number", "No.", "#"]
        {
            assert_eq!(column(heading), Some(Column::Number), "{heading}");
        }
        assert_eq!(column("dwc:eventDate"), Some(Column::Date));
        assert_eq!(column("Elevation (m)"), Some(Column::Elevation));
        assert_eq!(column("H\u{f4}st"), Some(Column::Host));
        assert_eq!(column("Spore-print"), Some(Column::SporePrint));
        assert_eq!(column("Weather"), None);
        for (heading, expected) in [
            ("Elevation (ft)", Unit::Foot),
            ("Elevation [feet]", Unit::Foot),
            ("elevation_ft", Unit::Foot),
            ("Elevation in feet", Unit::Foot),
            ("alt. m", Unit::Metre),
            ("height [m]", Unit::Metre),
            ("height ft", Unit::Foot),
            ("minimumElevationInMeters", Unit::Metre),
            ("m a.s.l.", Unit::Metre),
            ("Altitude (m a.s.l.)", Unit::Metre),
        ] {
            assert_eq!(column(heading), Some(Column::Elevation), "{heading}");
            assert_eq!(unit(heading), Some(expected), "{heading}");
        }
        assert_eq!(
            (column("accuracy ft"), unit("accuracy ft")),
            (Some(Column::Uncertainty), Some(Unit::Foot))
        );
        assert_eq!(unit("Elevation"), None);
        assert_eq!(unit("Elevation (GPS)"), None);
        assert_eq!(column("height"), None);
        assert_eq!(column("sitem"), None);
        assert_eq!(column(""), None);
    }

    #[test]
    fn no_word_means_two_columns() {
        let mut words: Vec<_> = WORDS.iter().flat_map(|(_, words)| *words).collect();
        let count = words.len();
        words.sort_unstable();
        words.dedup();
        assert_eq!(words.len(), count);
        for word in words {
            assert_eq!(&bare(word), word);
        }
    }
    #[test]
    fn the_guide_lists_every_word() {
        let guide = include_str!("../../../docs/reading-records.md");
        for (column, words) in WORDS {
            let row = words.join(", ");
            assert!(guide.contains(&format!("| {row} |")), "{column:?}: {row}");
        }
    }
}
