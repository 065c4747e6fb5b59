//! Represents one outing with all its results. Layer: `model`.
//!
//! A [`Day`] is the whole answer of [`join::join`](crate::join::join) for one outing, evidence included. It refers
//! to its parts by index, so that one photograph or source exists once.

use jiff::Timestamp;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::find::{AnchorKind, Located};
use super::note::Unlocated;
use super::{Association, Camera, ClockBasis, Find, Fix, Photo, SourceFile};
use crate::error::Error;
use crate::units::{GpsHeight, LatLon, Metres, Radius95, Seconds};

/// The results of one outing: what `import` stores and `check` reports.
///
/// It can stand alone: nothing in it refers to the store or to other days.
///
/// # Indices
/// `usize` fields named after a list (`finds`, `photos`, `cameras`, `sources`) are indices into that list of the
/// same day. They are valid for the day as it was made; adding or removing elements makes them wrong.
///
/// # Reports
/// Three lists hold what a person should read, the most serious first: `conflicts` (two sources cannot both be
/// right), `set_aside` (a part of the input is not used), `remarks` (notes).
#[derive(Clone, Debug)]
pub struct Day {
    /// Who, when, in which zone.
    pub outing: Outing,
    /// Every file that was used.
    pub sources: Vec<SourceFile>,
    /// Every fix that was read, in order of time, with what became of it; those without a time and then
    /// those with a stray time stand at the end.
    pub fixes: Vec<JudgedFix>,
    /// The estimated track, one point for each kept fix, in order of time.
    pub track: Vec<TrackPoint>,
    /// The stops of the collector.
    pub stops: Vec<Stop>,
    /// One for each camera that took a photograph of this outing.
    pub cameras: Vec<CameraClock>,
    /// The photographs of this outing in order of time, then of name.
    pub photos: Vec<PlacedPhoto>,
    /// The finds in the order of their records.
    pub finds: Vec<Find>,
    /// Groups of photographs that no record names, in order of time: what a table of records can be
    /// begun from. Not kept in a store.
    pub photo_groups: Vec<PhotoGroup>,
    /// Pairings of tracks with records and photographs that are in doubt, or differ from what was
    /// written.
    pub associations: Vec<Association>,
    /// Conflicts, the most serious first.
    pub conflicts: Vec<Conflict>,
    /// Parts of the input that were set aside, and why.
    pub set_aside: Vec<Error>,
    /// Notes: number gaps, missing fields, photographs without a record.
    pub remarks: Vec<Error>,
}

/// Photographs that were taken at one place and that no record names.
///
/// A collector who photographs first and writes later begins a table of records from them: each group is probably
/// one find.
#[derive(Clone, Debug)]
pub struct PhotoGroup {
    /// Indices into [`Day::photos`], in order of time.
    pub photos: Vec<usize>,
    /// When they were taken by the corrected clock, with half of the 95 % interval.
    pub when: Option<(Timestamp, Seconds)>,
    /// How the position was found, as of a find.
    pub anchors: Vec<AnchorKind>,
    /// The position that a find in them has, or why there is none.
    pub place: Result<Located, Unlocated>,
}

/// An outing.
///
/// One walk of one collector, from the start of a track to its end. Two walks of one day are two outings.
#[derive(Clone, Debug, PartialEq)]
pub struct Outing {
    /// Stable for the same collector and first track.
    pub id: Uuid,
    /// The local date on which it began; [`Outing::UNDATED`] where nothing says so, see
    /// [`Outing::dated`].
    pub date: Date,
    /// The first instant of its track, photographs or records.
    pub start: Option<Timestamp>,
    /// The last one.
    pub end: Option<Timestamp>,
    /// The zone of its notebook.
    pub zone: ZoneChoice,
    /// Who collected.
    pub collector: Option<String>,
}

impl Outing {
    /// Stands for no date: before any that can be written.
    ///
    /// Shown as undated and not stored.
    pub const UNDATED: Date = Date::MIN;

    /// The local date on which it began; `None` where no fix, photograph or record has one.
    #[must_use]
    pub fn dated(&self) -> Option<Date> {
        (self.date != Self::UNDATED).then_some(self.date)
    }
}

/// The zone in which local times are read, and its source.
///
/// Local times in a notebook have no zone; the same figures an hour apart put a find on another hill. So the choice
/// is always stated with its source.
#[derive(Clone, Debug, PartialEq)]
pub struct ZoneChoice {
    /// The zone.
    pub zone: TimeZone,
    /// Its name: `Australia/Hobart`, or `+10:00`.
    pub name: String,
    /// Where it came from.
    pub source: ZoneSource,
}

/// Where a zone came from, most trusted first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum ZoneSource {
    /// `--zone`.
    Stated,
    /// The offset that the photographs claim.
    Photograph,
    /// Where the track is.
    Place,
    /// No information: UTC.
    Assumed,
}

/// A fix with what became of it.
///
/// A fix that is not used is kept with its verdict: nothing of a recorded track is thrown away.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct JudgedFix {
    /// As recorded (its time corrected where [`Verdict::Kept`] follows a correction of the date).
    pub fix: Fix,
    /// Index into [`Day::sources`].
    pub source: u16,
    /// Which unbroken run it belongs to, counted over the whole day.
    pub segment: u16,
    /// Kept, or why not.
    pub verdict: Verdict,
}

/// The verdict on a fix.
///
/// Everything but [`Verdict::Kept`] is a reason. A later run with other options can decide otherwise, since all
/// fixes are kept.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Verdict {
    /// Used.
    Kept,
    /// Too far from its neighbours for anybody on foot.
    Jump,
    /// One or a few fixes out and back.
    Spike,
    /// The receiver repeated its last position.
    Frozen,
    /// The same time as another.
    Duplicate,
    /// Earlier than the one before.
    Backward,
    /// Another receiver, recording more, was running at that time.
    SecondReceiver,
    /// Before the receiver had settled.
    StartUp,
    /// The receiver's clock stepped.
    ClockStep,
    /// The file marks it as without a fix.
    NoFix,
    /// It has no time.
    Untimed,
    /// Its time lies hours or years from all others of its file.
    StrayTime,
}

/// What the collector was doing.
///
/// Estimated from the steps of the track by a hidden Markov model (`docs/position.md`, "Method"). How much of it
/// counts as search is judged later, in `analyse::effort`.
///
/// # Accuracy
/// On days of the first simulator 14.8 % of the time of true searching is reported as walking through, and 8.3 % of
/// true walking as searching (`docs/position.md`).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Activity {
    /// Walking from one place to another.
    #[serde(alias = "walk")]
    Walking,
    /// Slowly, to and fro.
    #[serde(alias = "search")]
    Searching,
    /// Stationary at one place.
    #[serde(alias = "stand")]
    Stationary,
}

/// A point of the estimated track.
///
/// Smoothed: not the fix as recorded, which is in [`Day::fixes`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TrackPoint {
    /// When.
    pub time: Timestamp,
    /// Where.
    pub at: LatLon,
    /// The receiver's height, smoothed.
    pub height: Option<GpsHeight>,
    /// The uncertainty of `at`.
    pub radius: Radius95,
    /// What the collector was doing.
    pub activity: Activity,
    /// Whether a gap (signal lost or receiver off) lies between this point and the next.
    pub gap_after: bool,
}

/// A time during which the collector stood at one place.
///
/// Most finds are at a stop, which is why the time of a photograph locates one better than the speed of the walk
/// suggests.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stop {
    /// From.
    pub start: Timestamp,
    /// Until.
    pub end: Timestamp,
    /// Where.
    pub at: LatLon,
    /// How sure; the correlated error of the receiver limits the mean of many fixes.
    pub radius: Radius95,
}

/// A photograph at a time covered by the track.
#[derive(Clone, Debug)]
pub struct PlacedPhoto {
    /// Its header.
    pub photo: Photo,
    /// Index into [`Day::cameras`].
    pub camera: usize,
    /// When it was taken, corrected.
    pub when: Option<Timestamp>,
    /// Where the camera was then.
    pub at: Option<(LatLon, Radius95)>,
    /// Indices into [`Day::finds`] of the finds that claim it.
    pub finds: Vec<usize>,
}

/// What is known of one camera's clock.
///
/// `ahead` is the difference that a person sees between two clocks: the camera's reading less local time. What part
/// of it is a wrong zone and what part a wrong clock is a matter of habit only; both are reported, and their sum
/// counts.
///
/// # Accuracy
/// The 95 % interval holds the true offset about as often as stated on simulated days; the tables are in
/// `docs/position.md`. An interval wider than ten minutes is not used to place finds.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct CameraClock {
    /// Which camera.
    pub camera: Camera,
    /// How many photographs of this outing it took.
    pub photos: usize,
    /// How it was found.
    pub method: ClockMethod,
    /// The camera's reading less the local time of the outing's zone: +62 minutes is a camera that
    /// is ahead. `None` where the data cannot tell.
    pub ahead: Option<Seconds>,
    /// The ends of the 95 % interval.
    pub interval95: Option<(Seconds, Seconds)>,
    /// The part of `ahead` that is a zone or daylight saving: a multiple of a quarter of an hour.
    pub zone_part: Option<Seconds>,
    /// The rest: the error of the clock itself.
    pub error_part: Option<Seconds>,
    /// Seconds that it gains in a day, where several days tell.
    pub drift_per_day: Option<Seconds>,
    /// How many other days of this camera were used.
    #[serde(default)]
    pub other_days: usize,
    /// Other offsets that explain the day almost as well, best first.
    pub alternatives: Vec<ClockPeak>,
    /// The log likelihood over `ahead`, for a figure: coarse over hours, fine about the peak.
    pub profile: Vec<(Seconds, f64)>,
    /// What it rests on; where it declines, why.
    #[serde(default)]
    pub basis: ClockBasis,
}

impl CameraClock {
    /// The clock of a camera of which nothing is known but how many photographs it took.
    ///
    /// Its photographs place no find.
    #[must_use]
    pub fn unknown(camera: Camera, photos: usize) -> Self {
        Self {
            camera,
            photos,
            method: ClockMethod::Declined,
            ahead: None,
            interval95: None,
            zone_part: None,
            error_part: None,
            drift_per_day: None,
            other_days: 0,
            alternatives: Vec::new(),
            profile: Vec::new(),
            basis: ClockBasis::None,
        }
    }

    /// No zone is farther from another that a camera would be set to; what is more is a wrong date,
    /// seconds.
    const ANY_ZONE: f64 = 14.0 * 3_600.0 + 900.0;

    /// The whole days by which the camera's date is ahead: a wrong date, not a zone.
    #[must_use]
    pub fn date_ahead(&self) -> Seconds {
        let zone = self.zone_part.unwrap_or_default().0;
        let days = if zone.abs() > Self::ANY_ZONE { (zone / 86_400.0).round() } else { 0.0 };
        Seconds(86_400.0 * days)
    }

    /// The zone or daylight saving in `ahead`, the date aside.
    #[must_use]
    pub fn zone_of_day(&self) -> Option<Seconds> {
        self.zone_part.map(|zone| zone - self.date_ahead())
    }
}

/// How a camera's clock was set against the day.
///
/// Stated ones are taken as they are. The others are estimates, and their interval flows into each position.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum ClockMethod {
    /// `--camera-clock +HH:MM:SS`.
    Stated,
    /// `--camera-clock none`: taken as right.
    Trusted,
    /// A photograph of a clock, `--camera-clock PHOTO=INSTANT`.
    ClockPhotograph,
    /// GPS times inside the photographs.
    GpsTime,
    /// Photographs against stops, written times, waypoints and positions.
    Day,
    /// The data cannot tell; the camera's times are used with the uncertainty that follows.
    Declined,
}

/// An alternative value of a camera's offset.
///
/// Peaks a whole or half an hour apart are the usual ones: zone and daylight saving.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct ClockPeak {
    /// Where, as [`CameraClock::ahead`].
    pub ahead: Seconds,
    /// Its posterior probability.
    pub probability: f64,
}

/// Two things that cannot both be true.
///
/// Never resolved without a report: the most trusted source is used, and both are reported with their distance.
#[derive(Clone, Debug)]
pub struct Conflict {
    /// What kind.
    pub kind: ConflictKind,
    /// How large.
    pub size: ConflictSize,
    /// How likely so large a disagreement is by chance alone, 0 to 1, where that can be said.
    pub chance: Option<f64>,
    /// Indices into [`Day::finds`].
    pub finds: Vec<usize>,
    /// The message.
    pub report: Error,
}

/// The kinds of conflict.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum ConflictKind {
    /// Two anchors of one find are too far apart.
    Anchors,
    /// Two finds claim one photograph.
    SharedPhoto,
    /// A number used twice.
    RepeatedNumber,
    /// Timed where the track has no stop.
    OutsideStops,
    /// The number does not follow the time.
    NumberOrder,
    /// The place name belongs elsewhere.
    PlaceName,
    /// Coordinates that has more than one possible reading.
    Coordinates,
    /// A date that is not the day's.
    Date,
}

/// The size of a conflict.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub enum ConflictSize {
    /// On the ground.
    Distance(Metres),
    /// In time.
    Time(Seconds),
    /// How many are concerned.
    Count(usize),
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wrong_date_and_zone_are_distinguished() {
        let clock = |zone_part: f64| CameraClock {
            zone_part: Some(Seconds(zone_part)),
            ..CameraClock::unknown(Camera::default(), 1)
        };
        let three = clock(3.0 * 86_400.0 + 3_600.0);
        assert_eq!(three.date_ahead(), Seconds(3.0 * 86_400.0));
        assert_eq!(three.zone_of_day(), Some(Seconds(3_600.0)));
        assert_eq!(clock(-86_400.0).date_ahead(), Seconds(-86_400.0));
        // a camera that was left on the time of the other side of the world
        assert_eq!(clock(-13.0 * 3_600.0).date_ahead(), Seconds(0.0));
        assert_eq!(clock(f64::NAN).date_ahead(), Seconds(0.0));
    }
}
