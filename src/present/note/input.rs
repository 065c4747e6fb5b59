//! Words the findings about inputs. Layer: `present`.

use jiff::tz::TimeZone;
use serde::Serialize;

use super::{listed, worded};
use crate::error::Error;
use crate::model::{
    ApartReason, FileNote, MovedDates, OpenReadingNote, PhotographsNote, RolloverBasis,
    TrackTimesNote, UnusedReason, UnusedTimes,
};
use crate::units::{Metres, Seconds, Timestamp};

impl From<TrackTimesNote> for Error {
    fn from(note: TrackTimesNote) -> Self {
        of_times(&note).of(&note)
    }
}

impl From<OpenReadingNote> for Error {
    fn from(note: OpenReadingNote) -> Self {
        of_readings(&note).of(&note)
    }
}

impl From<FileNote> for Error {
    fn from(note: FileNote) -> Self {
        of_files(&note).of(&note)
    }
}

impl Words {
    fn of(self, note: &impl Serialize) -> Error {
        let error = Error::input(self.what).because(self.why).of(note);
        match self.hint {
            Some(hint) => error.hint(hint),
            None => error,
        }
    }
}

struct Words {
    what: String,
    why: String,
    hint: Option<&'static str>,
}

fn words(what: String, why: String, hint: &'static str) -> Words {
    Words { what, why, hint: Some(hint) }
}

fn of_times(note: &TrackTimesNote) -> Words {
    match note {
        TrackTimesNote::TrackWithoutTimes { file_name, fixes, date, dates } => {
            let why = match date {
                Some(date) => format!(
                    "none of its {fixes} fixes has one; the records in its folder are of {date}, so it is \
                     assigned to that day, and its place gives the time zone"
                ),
                None if *dates == 0 => format!(
                    "none of its {fixes} fixes has one, and there are no dated records in its folder"
                ),
                None => format!(
                    "none of its {fixes} fixes has one, and the records in its folder are of {dates} dates"
                ),
            };
            let hint = if date.is_some() {
                "export it again with its times; without times it places no find"
            } else {
                "export it again with its times, or put it into one folder with the records of its day; \
                 without times it places no find"
            };
            words(format!("{file_name} is a track without times"), why, hint)
        }
        TrackTimesNote::DatesMoved(dates) => dates_moved(dates),
        TrackTimesNote::StrayTimes { file_name, fixes, dates, others, span } => {
            let what = if *fixes == 1 { "1 fix".to_owned() } else { format!("{fixes} fixes") };
            let verb = if *fixes == 1 { "is" } else { "are" };
            let others = span.map_or_else(
                || format!("none of the other {others} has a time"),
                |(from, to)| {
                    format!("the other {others} run from {} to {}", minute(from), minute(to))
                },
            );
            words(
                format!(
                    "{what} of {file_name} {verb} timed far from the others: {}",
                    listed(dates)
                ),
                format!(
                    "{others}; too few and too far off in time to be a walk, so they are not used"
                ),
                "no action needed: the receiver's clock was probably not yet set",
            )
        }
        TrackTimesNote::TimesNotUsed { file_name, reason } => words(
            format!("the times of {file_name} are not used"),
            times_not_used(*reason),
            "export the track again with its true times",
        ),
    }
}

fn dates_moved(dates: &MovedDates) -> Words {
    let MovedDates { file_name, moved, fixes, from, to, weeks, basis } = dates;
    let all = moved == fixes;
    let (what, whose) = if all {
        (
            format!("the dates of {file_name} were moved from {from} to {to}"),
            "the receiver's dates are",
        )
    } else {
        (
            format!("{moved} of {fixes} fixes of {file_name} were moved from {from} to {to}"),
            "the receiver's dates were",
        )
    };
    let why = match basis {
        RolloverBasis::Inputs => format!("{to} is the date of photographs or records"),
        RolloverBasis::Neighbours => {
            "after the correction they continue the adjacent fixes in the file".into()
        }
    };
    let until = if all { "" } else { " for these fixes" };
    words(
        what,
        format!("{whose} {weeks} weeks early{until}, and {why}"),
        "GPS week numbers roll over after 1,024 weeks in old receivers; the times of day are right",
    )
}

fn times_not_used(reason: UnusedTimes) -> String {
    let shown = |time: Option<Timestamp>| time.map_or_else(String::new, minute);
    match reason {
        UnusedTimes::Impossible { first } => format!(
            "they begin at {}, before such receivers existed, so their epoch is unknown",
            shown(first)
        ),
        UnusedTimes::Scattered { times, span } => format!(
            "its {times} times run from {} to {}, and no two lie within 5 hours",
            shown(span.map(|span| span.0)),
            shown(span.map(|span| span.1))
        ),
    }
}

fn of_readings(note: &OpenReadingNote) -> Words {
    match note {
        OpenReadingNote::DateOrder { dates, day_first, year_first, date, tracked } => {
            let whose = if *tracked { "a track" } else { "photographs" };
            let dates = dates_were(*dates);
            let first = match (day_first, year_first) {
                (_, true) => "year",
                (true, false) => "day",
                (false, false) => "month",
            };
            let what = format!("{dates} read with the {first} first");
            let why = format!(
                "{} possible; only this one gives a day of {whose}, {date}",
                if *year_first { "several orders are" } else { "both orders of day and month are" }
            );
            Words { what, why, hint: None }
        }
        OpenReadingNote::LanguageDateOrder { dates, date, both } => {
            let fit = if *both { "both orders give" } else { "neither order gives" };
            let why = format!(
                "the headings are in a language that puts the day first (common practice); the first is \
                 {date}, and {fit} a day of a track or of photographs"
            );
            let what = format!("{} read with the day first", dates_were(*dates));
            words(what, why, "write dates like 2026-05-03 if the month stands first")
        }
        OpenReadingNote::DateOrderOpen {
            written,
            rows,
            day_first,
            month_first,
            year_first,
            both,
        } => {
            let readings = [("day", day_first), ("month", month_first), ("year", year_first)];
            let readings = readings.into_iter().filter_map(|(word, date)| Some((word, (*date)?)));
            let readings: Vec<String> =
                readings.map(|(word, date)| format!("{date} with the {word} first")).collect();
            let tracks = match (both, readings.len()) {
                (true, 2) => "both orders fall",
                (true, _) => "several orders fall",
                (false, 2) => "neither order falls",
                (false, _) => "no order falls",
            };
            let (last, others) =
                readings.split_last().map_or(("", &[][..]), |(last, others)| (last, others));
            let others = others.join(", ");
            words(
                unread(written, *rows),
                format!(
                    "it is {others} and {last}; no other date of the column decides, and {tracks} on a day of the \
                     tracks"
                ),
                "write it like 2026-05-03 or 3 May 2026",
            )
        }
    }
}

fn dates_were(count: usize) -> String {
    match count {
        1 => "1 date was".to_owned(),
        several => format!("{several} dates were"),
    }
}

fn unread(written: &str, rows: usize) -> String {
    match rows {
        1 => format!("the date \"{written}\" cannot be read"),
        _ => format!("the date of {rows} rows cannot be read, first \"{written}\""),
    }
}

fn receivers_disagree((lead, second): (&str, &str), distance: Metres, lag: Seconds) -> Words {
    /// Smaller disagreements are within the errors of receivers.
    const FAR: f64 = 15.0;
    const LATE: f64 = 10.0;
    let mut parts = Vec::new();
    if distance.0 > FAR {
        parts.push(format!("lie {distance} apart on the mean"));
    }
    if lag.0.abs() >= LATE {
        let side = if lag.0 < 0.0 { "behind" } else { "ahead of" };
        let size = Seconds(lag.0.abs());
        parts.push(format!("record the same places at other times: the clock of {second} is {size} {side} that of {lead}"));
    }
    let used = if lag.0.abs() >= LATE {
        format!("{lead} has more fixes and is used alone")
    } else {
        format!("{lead} has more fixes and leads; the radii hold both")
    };
    words(
        format!("{lead} and {second} disagree"),
        format!("they are receivers of one walk and {}; {used}", parts.join(" and ")),
        "import the day again with the better of the two only",
    )
}

fn of_files(note: &FileNote) -> Words {
    match note {
        FileNote::OnePerson { lead, second, near, share } => words(
            format!("{lead} and {second} are treated as receivers of one person"),
            format!(
                "at the same times they lie within {near} m of each other {:.0} % of the time; {lead} has \
                 more fixes and leads, {second} fills its gaps",
                100.0 * share
            ),
            "if two people carried them, use one folder for each person with their records, which name the \
             collector",
        ),
        FileNote::ReceiversDisagree { lead, second, distance, lag } => {
            receivers_disagree((lead, second), *distance, *lag)
        }
        FileNote::TwoPeople { own, other, reason } => words(
            format!("{own} and {other} are treated as tracks of two people"),
            apart(reason),
            "each has a separate outing; photographs and records go with the track in their folder, else by \
             collector and position",
        ),
        FileNote::FileNotUsed { file_name, reason } => words(
            format!("{file_name} is not used by any outing"),
            unused(*reason),
            "check whether it is the intended file",
        ),
        FileNote::RoutesNotUsed { file_name, routes, points } => words(
            match routes {
                1 => format!("the route in {file_name} is not used"),
                several => format!("the {several} routes in {file_name} are not used"),
            },
            format!(
                "a route ({points} points) has no times: it is a line to walk, not a record of a walk"
            ),
            "give the file with --base to draw it on maps; if it was recorded, export it as a track with times",
        ),
        FileNote::WaypointsFar { file_name, waypoints, distance } => words(
            format!("{file_name}: {} not used", were(*waypoints)),
            far_away(*waypoints, *distance),
            "check whether they are of another journey",
        ),
        FileNote::PhotographsOfNoOuting { photographs, first, names } => words(
            match photographs {
                1 => format!("{first} belongs to no outing"),
                several => format!("{several} photographs belong to no outing, {first} the first"),
            },
            match photographs {
                1 => {
                    "its header has no time, and there is no track or record of its day".to_owned()
                }
                _ => format!(
                    "their headers have no time, and there is no track or record of their day: {}",
                    names.join(", ")
                ),
            },
            "import them together with the track or the records of their day",
        ),
    }
}

fn apart(reason: &ApartReason) -> String {
    match reason {
        ApartReason::Collectors { one, one_track, other, other_track } => format!(
            "{one} wrote the records beside {one_track}, {other} those beside {other_track}"
        ),
        ApartReason::Distance { median, near, share } => format!(
            "their median distance at the same times is {median:.0} m, within {near} m only {:.0} % of the \
             time",
            100.0 * share
        ),
    }
}

fn unused(reason: UnusedReason) -> String {
    match reason {
        UnusedReason::Fixes { fixes } => format!("its {fixes} fixes belong to no outing"),
        UnusedReason::RouteOnly { points } => {
            format!("it contains only a route or a line without times ({points} points)")
        }
        UnusedReason::WaypointsOnly { waypoints } => {
            format!("it contains waypoints only ({waypoints}), and they match no outing")
        }
        UnusedReason::WaypointsFar { waypoints, distance } => {
            format!("it contains waypoints only ({waypoints}); {}", far_away(waypoints, distance))
        }
        UnusedReason::AllSetAside { points } => {
            format!("all of its points ({points}) were set aside")
        }
        UnusedReason::ChecksumsWrong { lines } => {
            format!("it contains no usable position: the checksums of {lines} lines do not fit")
        }
        UnusedReason::AreasOnly { areas } => {
            format!("it contains areas only ({areas}); trug reads points and lines")
        }
        UnusedReason::Empty => "it contains no track, route or waypoint".to_owned(),
        UnusedReason::HeadingsOnly => "it has headings, but no row below them".to_owned(),
        UnusedReason::NoRow { set_aside } => {
            format!("it has no row that can be read ({set_aside} set aside)")
        }
        UnusedReason::NoDates { rows } => {
            format!("its {rows} rows belong to no outing: they have no date")
        }
    }
}

fn were(waypoints: usize) -> String {
    match waypoints {
        1 => "1 waypoint is".to_owned(),
        several => format!("{several} waypoints are"),
    }
}

fn far_away(waypoints: usize, distance: Metres) -> String {
    let all = if waypoints == 1 { "it has no time and is" } else { "they have no times and are" };
    format!("{all} at least {:.0} km from every track, photograph and record", distance.0 / 1_000.0)
}

fn minute(time: Timestamp) -> String {
    time.to_zoned_datetime(TimeZone::UTC).strftime("%Y-%m-%d %H:%M UTC").to_string()
}

impl From<PhotographsNote> for Error {
    fn from(note: PhotographsNote) -> Self {
        let (photographs, problem, [one, several], hint) = match &note {
            PhotographsNote::PhotographsDamaged { photographs, problem } => (
                photographs,
                problem,
                ["was not read completely", "were not read completely"],
                "copy it again from the camera; the readable part is used",
            ),
            PhotographsNote::HeadersIncomplete { photographs, problem } => (
                photographs,
                problem,
                ["has an incomplete header", "have incomplete headers"],
                "add a time or coordinates to the record",
            ),
        };
        let verb = if photographs.len() == 1 { one } else { several };
        worded(&note, format!("{} {verb}", listed(photographs)), problem, hint)
    }
}
