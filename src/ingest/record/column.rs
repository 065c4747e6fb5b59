//! Names the columns of a table of field records: what each holds, its Darwin Core term, and the
//! field that keeps it. Layer: `ingest`.

use super::english::WORDS;
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
    Qualifier,
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
    Highest,
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
    /// The identifier in a listing that trug wrote, by which edits of the listing find their find.
    FindIdentifier,
}

impl Column {
    /// Whether the texts of several columns with this meaning are joined.
    pub(super) fn joins(self) -> bool {
        matches!(
            self,
            Self::Notes
                | Self::Habitat
                | Self::Place
                | Self::Photos
                | Self::Datum
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
            Self::Highest => "maximumElevationInMeters",
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
            Self::Qualifier => "qualifier",
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
            Self::Highest => "highest elevation",
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
            Self::FindIdentifier => "find identifier",
        }
    }
}
