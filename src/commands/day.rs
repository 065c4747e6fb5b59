//! Reads the paths and clock options that `import` and `check` share, and joins the files into days.
//! Layer: `commands`.

use std::path::PathBuf;
use std::str::FromStr;

use clap::Args;
use jiff::Timestamp;
use jiff::civil::{Date, DateTime};
use jiff::fmt::temporal::Pieces;
use jiff::tz::{Offset, TimeZone};

use super::console::Console;
use crate::analyse::spotted::nearest_words;
use crate::error::{Error, Result};
use crate::ingest::folder;
use crate::ingest::record::{Columns, Remembered};
use crate::join::{self, CameraClockOption, GroundHeights, Options};
use crate::model::{
    Association, Day, IgnoredFile, Photo, Unlocated, UnlocatedReason, Waypoint, ZoneChoice,
    ZoneSource,
};
use crate::present::summary;
use crate::units::{Metres, Seconds};

/// A day's files and how to read them.
#[derive(Debug, Args)]
pub(super) struct DayArguments {
    /// Folders or files: GPX tracks, photographs, tables of records.
    #[arg(required = true, value_name = "PATH")]
    paths: Vec<PathBuf>,

    /// The time zone of written and camera times, such as Australia/Hobart or +10:00.
    #[arg(long, value_name = "ZONE", allow_hyphen_values = true)]
    zone: Option<String>,

    /// How camera clocks are corrected: `auto` estimates the offset, `none` assumes zero,
    /// +HH:MM:SS states how far the camera is ahead, PHOTO=INSTANT names a photograph of a clock.
    #[arg(
        long,
        value_name = "auto|none|+HH:MM:SS|PHOTO=INSTANT",
        default_value = "auto",
        allow_hyphen_values = true
    )]
    camera_clock: String,

    /// The collector of records that name none.
    #[arg(long, value_name = "NAME")]
    collector: Option<String>,

    /// What columns mean whose headings are not known: a file with lines such as "Fotos" = "photos"
    /// below `[columns]`.
    #[arg(long, value_name = "FILE")]
    columns: Option<PathBuf>,

    /// What one column means, such as "Fotos=photos"; "Wetter=keep" keeps it without a note.
    #[arg(long, value_name = "HEADING=MEANING")]
    column: Vec<String>,

    /// The usual distance between you and the find when you photograph it.
    #[arg(long, value_name = "METRES", default_value_t = 2.0, value_parser = crate::commands::numbers::finite)]
    stand_off: f64,
}

/// The days, and the files that were set aside entirely.
pub(super) struct Joined {
    pub(super) days: Vec<Day>,
    pub(super) set_aside: Vec<Error>,
    /// Files beside them that are not read though nothing is wrong with them.
    pub(super) passed_over: Vec<IgnoredFile>,
    /// The waypoints of all receivers.
    pub(super) waypoints: Vec<Waypoint>,
    /// The meanings of columns that a store is to remember.
    pub(super) to_remember: Option<Remembered>,
}

impl Joined {
    /// Whether any input was set aside, or finds are not placed because the pairing with a track is in
    /// doubt, no fix of their track has a usable time, or their coordinates do not fit those of other finds.
    pub(super) fn left_something(&self) -> bool {
        let doubtful = |day: &Day| day.associations.iter().any(Association::is_refusal);
        let apart =
            |reason: &UnlocatedReason| matches!(reason, UnlocatedReason::CoordinatesApart { .. });
        let misplaced = |day: &Day| {
            let unplaced = day.finds.iter().filter_map(|find| find.place.as_ref().err());
            unplaced.flat_map(Unlocated::reasons).any(apart)
        };
        let untimed = |day: &Day| {
            let unplaced = day.finds.iter().any(|find| find.place.is_err());
            unplaced && day.track.is_empty() && !day.fixes.is_empty()
        };
        let left = |day: &Day| {
            !day.set_aside.is_empty() || doubtful(day) || untimed(day) || misplaced(day)
        };
        !self.set_aside.is_empty() || self.days.iter().any(left)
    }
}

impl DayArguments {
    /// These paths with the usual options.
    pub(super) fn of(paths: Vec<PathBuf>, zone: Option<String>) -> Self {
        Self {
            paths,
            zone,
            camera_clock: "auto".into(),
            collector: None,
            columns: None,
            column: Vec::new(),
            stand_off: 2.0,
        }
    }

    /// Reads and joins the files.
    ///
    /// # Errors
    /// When an option cannot be read, a path is not there, or nothing in the paths is of use.
    pub(super) fn join(&self, console: &mut Console) -> Result<Joined> {
        self.join_with(Remembered::default(), &|places| vec![None; places.len()], console)
    }

    /// As [`Self::join`], with the meanings of columns that a store remembers, and heights of the ground.
    ///
    /// # Errors
    /// As [`Self::join`].
    pub(super) fn join_with(
        &self,
        remembered: Remembered,
        ground: &GroundHeights,
        console: &mut Console,
    ) -> Result<Joined> {
        let columns = self.columns(remembered)?;
        let options = Stated { day: self.options()? };
        for path in &self.paths {
            path.metadata().map_err(|error| Error::file("read", path, &error))?;
        }
        let bar = console.progress("reading", 0);
        let mut intake = folder::gather_with(&self.paths, &columns, &|step| {
            bar.set_length(step.of as u64);
            bar.set_position(step.done as u64);
        });
        bar.finish_and_clear();
        let mut set_aside = std::mem::take(&mut intake.set_aside);
        let empty =
            intake.tracks.is_empty() && intake.photos.is_empty() && intake.records.is_empty();
        if empty && set_aside.is_empty() {
            return Err(self.nothing_there(&intake.passed_over));
        }
        options.named_photo_is_there(&intake.photos)?;
        if let Some(heading) = columns.unused().first() {
            return Err(no_such_column(heading));
        }
        let passed_over = std::mem::take(&mut intake.passed_over);
        let waypoints = intake.tracks.iter().flat_map(|track| track.waypoints.clone()).collect();
        let (mut days, of_no_outing) = join::join_on_ground(intake, &options.day, ground);
        join::note_future_dates(&mut days, latest_date());
        set_aside.extend(of_no_outing);
        Ok(Joined { days, set_aside, passed_over, waypoints, to_remember: columns.to_remember() })
    }

    /// The meanings of columns: remembered, of a file, of options; the last one counts.
    fn columns(&self, remembered: Remembered) -> Result<Columns> {
        let mut columns = Columns::remembering(remembered);
        if let Some(path) = &self.columns {
            columns.read_file(path)?;
        }
        for mapping in &self.column {
            columns.state(mapping)?;
        }
        Ok(columns)
    }

    fn nothing_there(&self, ignored: &[IgnoredFile]) -> Error {
        let paths: Vec<String> = self.paths.iter().map(|path| path.display().to_string()).collect();
        let mut why =
            vec!["no track, no photograph and no table of field records is there".to_owned()];
        let ignored = summary::passed_over(ignored);
        why.extend(ignored.iter().map(|line| line.replacen("Ignored", "ignored", 1)));
        Error::input(format!("nothing to read in {}", paths.join(", ")))
            .because(why.join("; "))
            .hint("name the folder that holds the day's files")
    }

    fn options(&self) -> Result<Options> {
        let zone = self.zone.as_deref().map(zone).transpose()?;
        let stand_off = Metres(self.stand_off);
        if !(0.0..=1000.0).contains(&self.stand_off) {
            return Err(Error::input(format!("a stand-off of {} m is not valid", self.stand_off))
                .hint("give the usual distance between you and the find, as --stand-off 2"));
        }
        let camera_clock = camera_clock(&self.camera_clock, zone.as_ref())?;
        Ok(Options { zone, camera_clock, collector: self.collector.clone(), stand_off })
    }
}

/// The latest date that it is anywhere on Earth now.
pub(super) fn latest_date() -> Date {
    // the easternmost offset in use, in Kiribati
    let east = Offset::from_seconds(14 * 3_600).unwrap_or(Offset::UTC);
    Timestamp::now().to_zoned_datetime(TimeZone::fixed(east)).date()
}

fn no_such_column(heading: &str) -> Error {
    Error::input(format!("there is no column \"{heading}\""))
        .because("it is given a meaning, and no table that was read has it")
        .hint("write the heading as it stands in the table")
}

/// Statements of the user about the day.
struct Stated {
    day: Options,
}

impl Stated {
    /// # Errors
    /// When the photograph of a clock is not among those that were read.
    fn named_photo_is_there(&self, photos: &[Photo]) -> Result<()> {
        let CameraClockOption::Shown { photo: asked, .. } = &self.day.camera_clock else {
            return Ok(());
        };
        let names: Vec<String> = photos.iter().map(Photo::name).collect();
        if names.iter().any(|name| join::names_photo(asked, name)) {
            return Ok(());
        }
        let nearest = nearest_words(names.iter().map(String::as_str), asked);
        Err(Error::input(format!("there is no photograph {asked}"))
            .because(format!("--camera-clock names it; {} photographs were read", names.len()))
            .hint(if nearest.is_empty() {
                "name the folder of the photographs, too".to_owned()
            } else {
                format!("names most like it: {}", nearest.join(", "))
            }))
    }
}

pub(super) fn zone(text: &str) -> Result<ZoneChoice> {
    let stated = offset(text);
    if let Some(offset) = stated {
        possible(text, offset)?;
    } else if text.starts_with(['+', '-']) && signed_clock(text).is_some() {
        return Err(impossible_offset(text, text));
    }
    let zone = if let Some(offset) = stated {
        Some(TimeZone::fixed(offset))
    } else {
        TimeZone::get(text).ok()
    };
    zone.map(|zone| ZoneChoice { zone, name: text.to_owned(), source: ZoneSource::Stated })
        .ok_or_else(|| {
            Error::input(format!("{text} is not a time zone"))
                .because("it is neither a name of the time zone database nor an offset")
                .hint("write it as --zone Australia/Hobart or --zone +10:00")
        })
}

/// The offsets from UTC that clocks keep anywhere, hours: west of the date line to Kiribati.
const OFFSETS: (i32, i32) = (-12, 14);

/// An instant with its offset, as `2026-05-03T15:20+10:00`; `None` where the text is none.
///
/// # Errors
/// When the offset is one that no clock keeps.
pub(super) fn instant(text: &str) -> Result<Option<Timestamp>> {
    let stated = Pieces::parse(text).ok().and_then(|pieces| pieces.to_numeric_offset());
    if let Some(offset) = stated {
        possible(text, offset)?;
    } else if let Some(clock) = trailing_clock(text) {
        return Err(impossible_offset(text, clock));
    }
    Ok(Timestamp::from_str(text).ok())
}

/// The `+25:00` at the end of a text, where nothing reads it as an offset.
fn trailing_clock(text: &str) -> Option<&str> {
    let start = text.rfind(['+', '\u{2212}'])?;
    let clock = &text[start..];
    let digits = clock.chars().filter(char::is_ascii_digit).count();
    (digits > 1 && clock.chars().skip(1).all(|it| it.is_ascii_digit() || it == ':'))
        .then_some(clock)
}

fn possible(text: &str, offset: Offset) -> Result<()> {
    let (west, east) = OFFSETS;
    if (west * 3_600..=east * 3_600).contains(&offset.seconds()) {
        return Ok(());
    }
    Err(impossible_offset(text, &offset.to_string()))
}

fn impossible_offset(text: &str, offset: &str) -> Error {
    let (west, east) = OFFSETS;
    Error::input(format!("{} has an impossible offset from UTC", text.escape_debug()))
        .because(format!(
            "{offset} is the time of no place: offsets run from {west}:00 to +{east}:00"
        ))
        .hint("write the offset of the place, as +10:00, or Z for UTC")
}

fn offset(text: &str) -> Option<Offset> {
    if matches!(text, "Z" | "UTC") {
        return Some(Offset::UTC);
    }
    let seconds = signed_clock(text)?;
    Offset::from_seconds(i32::try_from(seconds).ok()?).ok()
}

/// Seconds in `+HH`, `+HH:MM` or `+HH:MM:SS`; the sign must be there.
pub(super) fn signed_clock(text: &str) -> Option<i64> {
    let (sign, digits) = match text.split_at_checked(1)? {
        ("+", digits) => (1, digits),
        ("-" | "\u{2212}", digits) => (-1, digits),
        _ => return None,
    };
    let mut seconds = 0;
    let mut parts = 0;
    for (part, unit) in digits.split(':').zip([3600, 60, 1]) {
        let digits_only = !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
        let number: i64 = if digits_only { part.parse().ok()? } else { return None };
        if unit != 3600 && number >= 60 {
            return None;
        }
        seconds = number.checked_mul(unit)?.checked_add(seconds)?;
        parts += 1;
    }
    (parts == digits.split(':').count()).then_some(sign * seconds)
}

/// The largest camera offset that is accepted, seconds: a hundred years.
pub(super) const LARGEST_OFFSET: i64 = 100 * 366 * 86_400;

fn camera_clock(text: &str, zone: Option<&ZoneChoice>) -> Result<CameraClockOption> {
    if let Some((photo, instant)) = text.split_once('=') {
        let instant = shown_instant(instant.trim(), zone)?;
        return Ok(CameraClockOption::Shown { photo: photo.trim().to_owned(), instant });
    }
    match text {
        "auto" => Ok(CameraClockOption::Auto),
        "none" => Ok(CameraClockOption::None),
        _ => signed_clock(text)
            .filter(|seconds| seconds.abs() <= LARGEST_OFFSET)
            .map(|seconds| CameraClockOption::Ahead(Seconds(seconds as f64)))
            .ok_or_else(|| {
                Error::input(format!("--camera-clock {text} cannot be read"))
                    .because("expected auto, none, +HH:MM:SS (100 years at most) or PHOTO=INSTANT")
                    .hint(
                        "a camera that is 1 h 2 min ahead: --camera-clock +01:02:00; a photograph \
                           of a clock: --camera-clock IMG_0001.jpg=2026-05-02T09:14:30+10:00",
                    )
            }),
    }
}

/// An instant with its offset, or a local time where the zone is stated.
fn shown_instant(text: &str, zone: Option<&ZoneChoice>) -> Result<Timestamp> {
    if let Some(instant) = instant(text)? {
        return Ok(instant);
    }
    let local = DateTime::from_str(text).map_err(|_| {
        Error::input(format!("{text} is not an instant"))
            .because("an instant needs a date, a time and an offset from UTC")
            .hint("write it as 2026-05-02T09:14:30+10:00")
    })?;
    let Some(zone) = zone else {
        return Err(Error::input(format!("{text} has no time zone"))
            .because("without an offset from UTC the time is ambiguous")
            .hint("add the offset, as 2026-05-02T09:14:30+10:00, or give --zone as well"));
    };
    zone.zone.to_ambiguous_timestamp(local).unambiguous().map_err(|error| {
        Error::input(format!("{text} does not name one instant in {}", zone.name))
            .because(error.to_string())
            .hint("add the offset, as 2026-05-02T09:14:30+10:00")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn camera_offset_is_read_with_its_sign() {
        assert_eq!(signed_clock("+01:02:05"), Some(3_725));
        assert_eq!(signed_clock("-00:00:19"), Some(-19));
        assert_eq!(signed_clock("+10"), Some(36_000));
        assert_eq!(signed_clock("01:02:05"), None);
        assert_eq!(signed_clock("+1:99"), None);
        assert_eq!(signed_clock("+1:2:3:4"), None);
        assert_eq!(signed_clock("+"), None);
        assert_eq!(signed_clock("+999999"), Some(3_599_996_400));
        assert_eq!(signed_clock("+99999999999999999999"), None);
        assert_eq!(signed_clock("+2562047788015215:59:59"), None);
    }

    #[test]
    fn camera_offset_is_limited_to_a_century() {
        for absurd in ["+999999999:00:00", "-999999999:00:00", "+2562047788015215:59:59"] {
            assert!(camera_clock(absurd, None).is_err(), "{absurd}");
        }
        // a camera that fell back to the year 1980
        assert!(camera_clock("-403248:00:00", None).is_ok());
    }

    #[test]
    fn clock_photograph_requires_an_instant() {
        let shown = camera_clock("IMG_1.jpg=2026-05-02T09:14:30+10:00", None).unwrap();
        let CameraClockOption::Shown { photo, instant } = shown else { panic!("{shown:?}") };
        assert_eq!(
            (photo.as_str(), instant.to_string().as_str()),
            ("IMG_1.jpg", "2026-05-01T23:14:30Z")
        );
        let refused = camera_clock("IMG_1.jpg=2026-05-02T09:14:30", None).unwrap_err();
        assert!(refused.to_string().contains("has no time zone"), "{refused}");
        let zone = zone("Australia/Hobart").unwrap();
        assert!(camera_clock("IMG_1.jpg=2026-05-02T09:14:30", Some(&zone)).is_ok());
        // the hour that daylight saving repeats
        assert!(camera_clock("IMG_1.jpg=2026-04-05T02:30:00", Some(&zone)).is_err());
    }

    #[test]
    fn an_instant_with_an_impossible_offset_is_refused() {
        assert!(instant("2026-05-03T15:20+10:00").unwrap().is_some());
        assert!(instant("2026-05-03T15:20+14:00").unwrap().is_some());
        assert!(instant("2026-05-03T15:20Z").unwrap().is_some());
        for none in ["2026-05-03T15:20", "15:20", "2026-05-03", "noon"] {
            assert!(instant(none).unwrap().is_none(), "{none}");
        }
        for impossible in
            ["2026-05-03T15:20+25:00", "2026-05-03T15:20-12:30", "2026-05-03T15:20+99:00", "+25:00"]
        {
            let refused = instant(impossible).unwrap_err().to_string();
            assert!(refused.contains("impossible offset from UTC"), "{refused}");
        }
    }

    #[test]
    fn a_zone_is_a_name_or_an_offset() {
        assert_eq!(zone("+10:00").unwrap().zone.to_fixed_offset().unwrap().seconds(), 36_000);
        for impossible in ["+25:00", "-13:00", "+14:01", "+99:00"] {
            let refused = zone(impossible).unwrap_err().to_string();
            assert!(refused.contains("offsets run from -12:00 to +14:00"), "{refused}");
        }
        assert!(zone("Nowhere/Else").unwrap_err().to_string().contains("--zone +10:00"));
    }
}
