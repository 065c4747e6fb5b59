//! Words each kind of fault for the collector. Layer: `ingest`.

use super::Fault;

/// What a kind of fault is called, why it is one, and what to do.
pub(super) struct Wording {
    pub(super) one: &'static str,
    pub(super) many: &'static str,
    pub(super) why: &'static str,
    pub(super) hint: &'static str,
}

impl Fault {
    #[allow(clippy::too_many_lines, reason = "one table of wordings")]
    pub(super) fn wording(self) -> Wording {
        let (one, many, why, hint) = match self {
            Self::OffTheGlobe => (
                "point off the globe was set aside",
                "points off the globe were set aside",
                "latitude runs from -90 to 90 and longitude from -180 to 180; the first reads",
                "see whether latitude and longitude were exchanged; every other point is kept",
            ),
            Self::NoCoordinates => (
                "point without coordinates was set aside",
                "points without coordinates were set aside",
                "a point needs both lat and lon; the first reads",
                "the receiver may have had no fix there; every other point is kept",
            ),
            Self::CoordinatesUnreadable => (
                "point with unreadable coordinates was set aside",
                "points with unreadable coordinates were set aside",
                "lat and lon must be decimal degrees; the first reads",
                "write it as decimal degrees in a copy of the file; every other point is kept",
            ),
            Self::PointsHidden => (
                "point inside an element that never ends was set aside",
                "points inside an element that never ends were set aside",
                "what an unknown element holds is not read, and no end tag closes",
                "mend or remove that tag in a copy of the file, then import the copy",
            ),
            Self::CutOff => (
                "file is cut off",
                "files are cut off",
                "the end of the file comes before",
                "copy it from the receiver again if the day seems short; what was complete is kept",
            ),
            Self::NeverClosed => (
                "comment or block never ends, and all that follows was set aside",
                "comments or blocks never end, and all that follows was set aside",
                "the end of the file comes before the mark that closes",
                "close it in a copy of the file, then import the copy",
            ),
            Self::TagBroken => (
                "damaged tag was passed over",
                "damaged tags were passed over",
                "a tag must end before the next one begins; the first reads",
                "everything round it was read; look at that line if a point is missing",
            ),
            Self::TimeUnreadable => (
                "time was set aside",
                "times were set aside",
                "it is no date and time of the calendar; the first reads",
                "the positions are kept, but a find cannot be placed on them by its time",
            ),
            Self::HeightUnreadable => (
                "height was set aside",
                "heights were set aside",
                "it is no height in metres; the first reads",
                "the positions are kept without it",
            ),
            Self::DilutionUnreadable => (
                "dilution of precision was set aside",
                "dilutions of precision were set aside",
                "it must be a number of 0 or more; the first reads",
                "the positions are kept without it",
            ),
            Self::SatellitesUnreadable => (
                "number of satellites was set aside",
                "numbers of satellites were set aside",
                "it must be a whole number from 0 to 255; the first reads",
                "the positions are kept without it",
            ),
            Self::FixUnreadable => (
                "kind of fix was set aside",
                "kinds of fix were set aside",
                "GPX knows none, 2d, 3d, dgps and pps; the first reads",
                "the positions are kept without it",
            ),
            Self::TextTooLong => (
                "text was cut short",
                "texts were cut short",
                "no more than 64 KiB of one text is kept; the first begins",
                "the original file still holds all of it",
            ),
            Self::EntityRefused => (
                "unknown entity was left as it stands",
                "unknown entities were left as they stand",
                "only &amp; &lt; &gt; &quot; &apos; and numbered characters are known; the first is",
                "write the character itself in a copy of the file",
            ),
            Self::OwnEntities => (
                "document type with entities of its own was refused",
                "document types with entities of their own were refused",
                "such entities can grow without bound or fetch other files; it begins",
                "nothing to do unless a name looks odd: points are read all the same",
            ),
            Self::ZoneAssumed => (
                "time without a zone was read as UTC",
                "times without a zone were read as UTC",
                "GPX times are UTC and end in Z; the first reads",
                "if the finds lie at the wrong place, the receiver may have written local time",
            ),
            Self::DecimalComma => (
                "decimal comma was read as a point",
                "decimal commas were read as points",
                "GPX writes a point; the first reads",
                "nothing to do if the track lies where you walked",
            ),
            Self::UnitDropped => (
                "height was read without the unit behind it",
                "heights were read without the unit behind them",
                "GPX heights are plain numbers of metres; the first reads",
                "nothing to do",
            ),
            Self::ForeignBytes => (
                "byte that is no character of the file's encoding was read by guess",
                "bytes that are no characters of the file's encoding were read by guess",
                "the file is not written in the encoding that it states or implies",
                "look at names with accents; positions and times are not touched by this",
            ),
            Self::UnknownEncoding => (
                "unknown encoding was read as UTF-8",
                "unknown encodings were read as UTF-8",
                "the file calls its encoding",
                "look at names with accents; positions and times are not touched by this",
            ),
            Self::EndsMismatched => (
                "tag does not close as it should",
                "tags do not close as they should",
                "each start tag needs its end tag; the first that does not fit is",
                "points were distinguished by their own tags; see whether their count is right",
            ),
            Self::NoRoot => (
                "file lacks its <gpx> tag",
                "files lack their <gpx> tag",
                "it begins with",
                "it may be a piece of a longer file; what is there was read",
            ),
        };
        Wording { one, many, why, hint }
    }
}
