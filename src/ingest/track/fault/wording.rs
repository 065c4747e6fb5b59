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
                "a point needs both latitude and longitude; the first reads",
                "the receiver may have had no fix there; every other point is kept",
            ),
            Self::CoordinatesUnreadable => (
                "point with unreadable coordinates was skipped",
                "points with unreadable coordinates were skipped",
                "latitude and longitude must be decimal degrees; the first reads",
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
            Self::JsonDamaged => (
                "damaged place ends the JSON",
                "damaged places end the JSON",
                "everything before it was read, nothing after it; there it reads",
                "export the file again, or correct that place in a copy and import the copy",
            ),
            Self::TooMany => (
                "point was skipped, because the file holds too many",
                "points were skipped, because the file holds too many",
                "at most 1,000,000 points of a GeoJSON file are read",
                "divide a copy of the file, or export it as GPX",
            ),
            Self::NoRoom => (
                "point was skipped, because the file holds too many",
                "points were skipped, because the file holds too many",
                "of a file 370,000 points are read and one more for each 200 bytes of it (of waypoints 100,000 \
                 and one for each 500 bytes); the first after them is",
                "divide a copy of the file",
            ),
            Self::ChecksumWrong => (
                "line whose checksum does not fit was skipped",
                "lines whose checksums do not fit were skipped",
                "the two digits behind * are not the checksum of what is before it, so the line was damaged or \
                 edited; the first reads",
                "copy the log from the receiver again, unedited; every other sentence is kept",
            ),
            Self::SentenceDamaged => (
                "damaged sentence was skipped",
                "damaged sentences were skipped",
                "it ends too early, or a value in it is impossible; the first reads",
                "every other sentence is kept; save the log again if there are many",
            ),
            Self::TimesUnmatched => (
                "line was read without its times",
                "lines were read without their times",
                "it has another number of times than of points, so that no time has a certain \
                 point:",
                "export it again, as GPX if possible; without times it places no find",
            ),
            Self::DateUnknown => (
                "time of day was ignored",
                "times of day were ignored",
                "no sentence of the log gives its date; the first time is",
                "log RMC or ZDA sentences too, or export the track as GPX; the positions are kept",
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
                "times of tracks are UTC and end in Z; the first reads",
                "if finds are in the wrong place, the receiver may have written local time",
            ),
            Self::DecimalComma => (
                "decimal comma was read as a point",
                "decimal commas were read as points",
                "the format writes a point; the first reads",
                "check that the track lies where you walked",
            ),
            Self::UnitDropped => (
                "height was read without its unit",
                "heights were read without their unit",
                "heights are plain numbers of metres; the first reads",
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
            Self::PointsAsTrack => (
                "point with a time was read as a track",
                "points with times were read as a track",
                "they are single points, each with its time and without a name of its own, from",
                "if they are finds and not a recorded track, leave the file out",
            ),
            Self::LineWithSpan => (
                "line with a time only at its ends was read as a line to walk",
                "lines with a time only at their ends were read as lines to walk",
                "its points in between have no time, and the walk is longer than a minute:",
                "export the track with a time at each point, as GPX if possible",
            ),
            Self::LinkNotFollowed => (
                "link to another file was not followed",
                "links to other files were not followed",
                "trug reads only the files that you give; the first leads to",
                "save what it leads to into the same folder, if it is part of the day",
            ),
            Self::ChecksumMissing => (
                "sentence without a checksum was read",
                "sentences without a checksum were read",
                "damage to them cannot be noticed; the first reads",
                "check that the track lies where you walked",
            ),
            Self::NoFix => (
                "sentence says that the receiver had no fix",
                "sentences say that the receiver had no fix",
                "no position of the log is measured; the first reads",
                "nothing can be located with this log",
            ),
            Self::FourthNumber => (
                "fourth number of a point was read as its time",
                "fourth numbers of points were read as their times",
                "GeoJSON defines three; as seconds since 1970 the first is",
                "check that the times are those of the walk",
            ),
        };
        Wording { one, many, why, hint }
    }
}
