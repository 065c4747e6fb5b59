//! Defines the data of an outing: fixes, tracks, photographs, records as inputs; outings, stops, finds,
//! sites and visits as results. Plain data without behaviour beyond its own consistency. Layer: `model`.
//!
//! # Stages of the data
//! | stage | made by | types |
//! |---|---|---|
//! | what files hold | [`ingest`](crate::ingest) | [`Intake`]: [`TrackFile`], [`Photo`], [`RecordFile`] |
//! | one outing with its results | [`join`](mod@crate::join) | [`Day`]: [`TrackPoint`], [`Find`], [`Conflict`] |
//! | what the store keeps of a find | [`store`](crate::store) | [`KeptFind`], with corrections, names and history |
//! | places over years | [`analyse`](crate::analyse) | [`Site`], [`Visit`] |
//!
//! Two rules hold for all of them. A value that is not known is `None`, never zero, never a very large number. And
//! what was written is kept beside what was made of it: [`Record`] holds texts as typed, [`WrittenCoordinates`] all
//! their readings, [`Find`] every anchor with the reason why it was or was not used.
//!
//! What trug has to say about data is a typed value here (`…Note`, `…Conflict`, `…Reason`) with its quantities and
//! a stable code; `docs/findings.md` lists the codes. Sentences are made of them in [`present`](crate::present).

mod amendment;
mod association;
mod base_map;
mod checklist;
mod day;
mod field;
mod find;
mod fix;
mod identification;
mod intake;
mod kept;
mod leak;
pub(crate) mod name_words;
mod note;
mod person;
mod photo;
mod record;
mod record_number;
mod season_note;
mod sensitivity;
mod site;
mod store_note;
mod taxon;
pub(crate) mod taxon_match;
#[doc(hidden)]
pub mod taxon_name;
#[doc(hidden)]
pub mod term;
mod unsearched_note;
mod way_out;
mod weather;
mod written_elevation;

pub use amendment::{
    AmendedProperty, AmendedSubject, Authored, Change, ChangeKind, ChangeLine, ChangedOuting,
    Determination, Patch, RADII, Refusal, TextProperty,
};
pub use association::{
    Association, AssociationEvidence, AssociationKind, EvidenceKind, TrackCandidate,
};
pub use base_map::{BaseClass, BaseFeature, BaseMap, BaseShape};
pub use checklist::{ChecklistCounts, ChecklistEntry};
pub use day::{
    Activity, CameraClock, ClockMethod, ClockPeak, Conflict, ConflictKind, ConflictSize, Day,
    JudgedFix, Outing, PhotoGroup, PlacedPhoto, Stop, TrackPoint, Verdict, ZoneChoice, ZoneSource,
};
pub use field::Field;
pub use find::{Anchor, AnchorKind, Combination, Find, Located, PartKind, RadiusPart};
pub use fix::{Fix, FixKind, Route, Segment, Track, TrackFile, Waypoint};
pub use identification::{Identification, identification};
pub use intake::{FileKind, IgnoredCause, IgnoredFile, Intake, SourceFile, name_of, on_disk};
pub use kept::{AsImported, GroundElevation, KeptFind, KeptPhoto};
pub(crate) use leak::LeakRemedy;
pub use leak::{Leak, LeakKind};
pub(crate) use note::{
    AmendedUnlocated, ApartReason, ClockChange, ClockNote, ConflictingPosition, CoordinatesApart,
    ElevationDistance, ElevationDoubt, ElevationNote, FaultInterval, FileNote, FittingReading,
    MovedDates, NoEvidence, NoTrack, NotebookNote, NumberRange, OpenReadingNote, PhotoPositions,
    PhotographsNote, PositionConflict, ReadingFinding, ReceiverFault, RecordConflict, RecordNote,
    RolloverBasis, TimesKind, TimesNote, TrackNote, TrackTimesNote, UnusedReason, UnusedTimes,
    ZoneNote, ZoneReason,
};
pub use note::{
    AnchorBasis, ClockBasis, ClockEvidence, FindReference, LocalInstant, NotLocated, OffTrack,
    PhotographRange, Unlocated, UnlocatedFinding, UnlocatedReason, WatchOffset, WaypointDoubt,
    WaypointDoubtReason,
};
pub use person::same_person;
pub use photo::{Camera, Direction, Photo, PhotoGps};
pub use record::{
    CoordinateReading, DateOrder, DateReading, PhotoRef, Record, RecordFile, Sheet, TimePrecision,
    WrittenCoordinates, WrittenTime,
};
pub use record_number::{NumberChoice, RecordNumber};
pub use season_note::{EffortNote, NoSeason, SeasonNote, ShiftNote, YearsWeatherNote};
pub use sensitivity::{
    BoundPlace, Generalised, GridCell, Mentioned, MentionedForm, Published, ReadPositions,
    RuleSubject, Sensitivity, SensitivityNotice, SensitivityRule,
};
pub use site::{Site, SiteId, Visit};
pub use store_note::{AmendmentConflict, ImportNote, MergeConflict, StationProperty};
pub use taxon::{Lineage, Meaning, NameCheck, OpenSynonym, Taxon};
pub use taxon_name::TaxonName;
pub use unsearched_note::UnsearchedNote;
pub use way_out::{
    Caution, Landmark, NoRoute, OffsetLine, RankReason, RouteNote, Side, StartOrigin, TrackGoal,
    WayOutWarning,
};
pub use weather::{
    DailyWeather, StationSeries, StationValues, WeatherElement, WeatherFile, WeatherNote,
    WeatherStation, WeatherValue,
};
pub use written_elevation::{DigitMark, ElevationManner, ElevationReading, ElevationUnit};
