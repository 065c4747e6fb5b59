//! The messages for each kind of fault. Layer: `ingest`.

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
                "point with an impossible latitude or longitude was skipped",
                "points with an impossible latitude or longitude were skipped",
                "latitude runs from -90 to 90 and longitude from -180 to 180; the first reads",
                "check whether latitude and longitude are swapped; every other point is kept",
            ),
            Self::NoCoordinates => (
                "point without coordinates was skipped",
                "points without coordinates were skipped",
                "a point needs both lat and lon; the first reads",
                "the receiver may have had no fix there; every other point is kept",
            ),
            Self::CoordinatesUnreadable => (
                "point with unreadable coordinates was skipped",
                "points with unreadable coordinates were skipped",
                "lat and lon must be decimal degrees; the first reads",
                "write it as decimal degrees in a copy of the file; every other point is kept",
            ),
            Self::PointsHidden => (
                "point inside an unclosed element was skipped",
                "points inside an unclosed element were skipped",
                "the content of an unknown element is not read, and no end tag closes",
                "correct or remove that tag in a copy of the file, then import the copy",
            ),
            Self::CutOff => (
                "file is truncated",
                "files are truncated",
                "the file ends before",
                "copy it from the receiver again if the day seems short; all complete points are \
                 kept",
            ),
            Self::NeverClosed => (
                "comment or block is not closed, and everything after it was skipped",
                "comments or blocks are not closed, and everything after them was skipped",
                "the file ends before the mark that closes",
                "close it in a copy of the file, then import the copy",
            ),
            Self::TagBroken => (
                "damaged tag was skipped",
                "damaged tags were skipped",
                "a tag must end before the next one begins; the first reads",
                "everything around it was read; check that line if a point is missing",
            ),
            Self::TimeUnreadable => (
                "time was ignored",
                "times were ignored",
                "it is not a valid date and time; the first reads",
                "the positions are kept, but a find cannot be placed on them by its time",
            ),
            Self::HeightUnreadable => (
                "height was ignored",
                "heights were ignored",
                "it is not a height in metres; the first reads",
                "the positions are kept without it",
            ),
            Self::DilutionUnreadable => (
                "dilution of precision was ignored",
                "dilutions of precision were ignored",
                "it must be a number of 0 or more; the first reads",
                "the positions are kept without it",
            ),
            Self::SatellitesUnreadable => (
                "number of satellites was ignored",
                "numbers of satellites were ignored",
                "it must be a whole number from 0 to 255; the first reads",
                "the positions are kept without it",
            ),
            Self::FixUnreadable => (
                "fix type was ignored",
                "fix types were ignored",
                "GPX defines none, 2d, 3d, dgps and pps; the first reads",
                "the positions are kept without it",
            ),
            Self::TextTooLong => (
                "text was truncated",
                "texts were truncated",
                "at most 64 KiB of one text is kept; the first begins",
                "the original file is unchanged and still has all of it",
            ),
            Self::EntityRefused => (
                "unknown entity was left as written",
                "unknown entities were left as written",
                "only &amp; &lt; &gt; &quot; &apos; and character references are defined; the \
                 first is",
                "write the character itself in a copy of the file",
            ),
            Self::OwnEntities => (
                "document type that defines entities was ignored",
                "document types that define entities were ignored",
                "such entities can grow without bound or fetch other files; it begins",
                "check names that look odd; points are not affected",
            ),
            Self::ZoneAssumed => (
                "time without a zone was read as UTC",
                "times without a zone were read as UTC",
                "GPX times are UTC and end in Z; the first reads",
                "if finds are in the wrong place, the receiver may have written local time",
            ),
            Self::DecimalComma => (
                "decimal comma was read as a point",
                "decimal commas were read as points",
                "GPX writes a point; the first reads",
                "check that the track lies where you walked",
            ),
            Self::UnitDropped => (
                "height was read without its unit",
                "heights were read without their unit",
                "GPX heights are plain numbers of metres; the first reads",
                "nothing to do",
            ),
            Self::ForeignBytes => (
                "byte that is invalid in the file's encoding was read by a guess",
                "bytes that are invalid in the file's encoding were read by a guess",
                "the file is not written in the encoding that it states or implies",
                "check names with accents; positions and times are not affected",
            ),
            Self::UnknownEncoding => (
                "unknown encoding was read as UTF-8",
                "unknown encodings were read as UTF-8",
                "the file names its encoding",
                "check names with accents; positions and times are not affected",
            ),
            Self::EndsMismatched => (
                "tag does not match its end tag",
                "tags do not match their end tags",
                "each start tag needs its end tag; the first that does not match is",
                "points were separated by their own tags; check whether their count is right",
            ),
            Self::NoRoot => (
                "file lacks its <gpx> tag",
                "files lack their <gpx> tag",
                "it begins with",
                "it may be part of a longer file; its content was read",
            ),
        };
        Wording { one, many, why, hint }
    }
}
