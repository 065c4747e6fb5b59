//! Words the findings about the track and its receiver. Layer: `present`.

use jiff::civil::Time;

use super::clock::day;
use super::{listed, worded};
use crate::error::Error;
use crate::model::{
    FaultInterval, FindReference, NoTrack, PhotoPositions, ReceiverFault, TrackNote,
};
use crate::units::Seconds;

const WIDE: &str =
    "finds of that time have a large radius: add coordinates or a waypoint for important ones";

impl From<TrackNote> for Error {
    fn from(note: TrackNote) -> Self {
        match &note {
            TrackNote::NoTrack { date, reason, fixes, photo_positions } => worded(
                &note,
                format!("the outing of {} has no track", day(*date)),
                no_track(*reason, *fixes, photo_positions.as_ref()),
                if photo_positions.is_some() {
                    "finds with only a time lie between these positions; add the receiver's track for smaller circles"
                } else {
                    "only coordinates and waypoints give positions"
                },
            ),
            TrackNote::Gaps { count, total, longest, from } => worded(
                &note,
                gaps(*count, *total, *longest, *from),
                "without fixes a position rests on interpolation",
                "add coordinates or a waypoint to finds within a gap: their radius is large",
            ),
            TrackNote::FewFixesUsed { used, fixes } => worded(
                &note,
                format!("only {used} of {fixes} fixes are used"),
                "the others conflict with each other, with their times or with walking speed",
                "see the reasons; poor reception or a damaged receiver is possible",
            ),
            TrackNote::ReceiverFault(interval) => {
                let (what, why, hint) = fault_words(interval.fault, &Interval::of(interval));
                worded(&note, what, why, hint)
            }
            TrackNote::Undated { files, instant, records } => {
                let why = match instant {
                    Some(instant) => format!(
                        "the only time is {}, and the local date is that of its time zone, which is not known",
                        instant.strftime("%Y-%m-%d %H:%M UTC")
                    ),
                    None if records.is_empty() => {
                        "no fix or photograph in it has a date".to_owned()
                    }
                    None if records.len() == 1 => {
                        format!("its record has no date that can be read: {}", listed(records))
                    }
                    None => format!(
                        "none of its {} records has a date that can be read: {}",
                        records.len(),
                        listed(records)
                    ),
                };
                let hint = match instant {
                    Some(_) => {
                        "state the zone with --zone, or add the date to the notebook; an undated \
                         outing is shown but not stored"
                    }
                    None => {
                        "add the date to the notebook and import it again; an undated outing is shown but not stored"
                    }
                };
                let what = format!("the date of {} cannot be determined", listed(files));
                worded(&note, what, why, hint)
            }
        }
    }
}

fn no_track(reason: NoTrack, fixes: usize, photos: Option<&PhotoPositions>) -> String {
    let why = match reason {
        NoTrack::NotAssociated => "no track is certainly that of its finds".to_owned(),
        NoTrack::NoFile => "no file holds a track of that day".to_owned(),
        NoTrack::NoFixUsed => format!("none of its {fixes} fixes can be used"),
    };
    match photos {
        Some(PhotoPositions { count, camera }) => {
            format!("{why}; {count} positions of photographs ({camera}) serve as a sparse track")
        }
        None => why,
    }
}

/// `1 gap in the track: 14 min 30 s from 10:37:00`.
fn gaps(count: usize, total: Seconds, longest: Seconds, from: Time) -> String {
    let from = from.strftime("%H:%M:%S");
    if count == 1 {
        return format!("1 gap in the track: {longest} from {from}");
    }
    format!("{count} gaps in the track: {total} in total, the longest {longest} from {from}")
}

/// The longest interval of a fault in words.
struct Interval {
    count: usize,
    from: String,
    until: String,
    lasting: Seconds,
    /// How often it happened, where more than once.
    repeated: String,
    /// Which finds are affected.
    affected: String,
}

impl Interval {
    fn of(interval: &FaultInterval) -> Self {
        let repeated = if interval.intervals > 1 {
            let (often, all) = (times(interval.intervals), interval.fixes_in_all);
            format!("; this happened {often}, {all} fixes in total")
        } else {
            String::new()
        };
        Self {
            count: interval.fixes,
            from: interval.from.strftime("%H:%M:%S").to_string(),
            until: interval.until.strftime("%H:%M:%S").to_string(),
            lasting: interval.lasting,
            repeated,
            affected: affected(&interval.finds),
        }
    }

    /// A reason with how often it happened and which finds are affected.
    fn why(&self, why: &str) -> String {
        format!("{why}{}; {}", self.repeated, self.affected)
    }
}

fn affected(finds: &[FindReference]) -> String {
    match finds {
        [] => "no find is affected".to_owned(),
        [one] => format!("{one} is affected"),
        all => format!("{} are affected", listed(all)),
    }
}

fn times(count: usize) -> String {
    match count {
        1 => "once".into(),
        2 => "twice".into(),
        n => format!("{n} times"),
    }
}

/// What happened, why its fixes are not used, what to do.
fn fault_words(fault: ReceiverFault, interval: &Interval) -> (String, String, String) {
    let Interval { count, from, until, lasting, .. } = interval;
    match fault {
        ReceiverFault::ClockSetBack { by } => set_back(by, interval),
        ReceiverFault::ClockAhead { ahead } => clock_ahead(ahead, interval),
        ReceiverFault::SameTime => (
            format!("{count} fixes have the same time, {from}"),
            interval.why("only the first fix of each time is used"),
            "check whether another program rounded the times; export the track with unrounded times"
                .into(),
        ),
        ReceiverFault::Frozen => (
            format!("the track repeats one position for {lasting} from {from}"),
            interval.why(&format!(
                "the position is the same until {until} and then jumps; these {count} fixes are not used \
                 and the track between is interpolated"
            )),
            WIDE.into(),
        ),
        ReceiverFault::Repeating { each } => (
            format!("the receiver shows a new position about every {each} and repeats it until then"),
            format!(
                "{count} fixes are repetitions, which are no measurements; they are not used and the track \
                 between new positions is interpolated"
            ),
            "let the receiver, or the program that records the track, determine a position at each fix"
                .into(),
        ),
        ReceiverFault::Implausible => (
            format!("implausible positions for {lasting} from {from}"),
            interval.why(&format!(
                "{count} fixes until {until} cannot be reached on foot in the time and are not used"
            )),
            WIDE.into(),
        ),
        ReceiverFault::Settling => (
            format!("poor first fixes for {lasting} from {from}"),
            interval.why(&format!(
                "the first {count} fixes, until {until}, lie far from those after them and are not used"
            )),
            "switch the receiver on in the open some minutes before the first find".into(),
        ),
        ReceiverFault::NoFix => (
            format!("no satellite fix for {lasting} from {from}"),
            interval.why(&format!(
                "the file marks {count} positions until {until} as invalid; they are not used"
            )),
            WIDE.into(),
        ),
        ReceiverFault::Untimed => (
            format!("{count} fixes in succession have no time"),
            interval.why(&format!("they are from {from} to {until} in the file and are not used")),
            "export the track again with its times".into(),
        ),
    }
}

/// A clock set back affects more than its interval, so that no finds are named.
fn set_back(by: Seconds, interval: &Interval) -> (String, String, String) {
    let Interval { count, from, repeated, .. } = interval;
    (
        format!("the receiver's clock was set back by {by} about {from}"),
        format!(
            "{count} fixes around it overlap the others and are not used; it is not known which side was \
             right, so finds before it, or after it, may be displaced by {by} along the track{repeated}"
        ),
        format!(
            "if the clock was ahead until then, subtract {by} from the times before it in the file; check \
             the positions of finds around that time"
        ),
    )
}

fn clock_ahead(ahead: Seconds, interval: &Interval) -> (String, String, String) {
    let Interval { count, from, until, .. } = interval;
    let size = ahead.abs();
    let (beside, amend) = if ahead.0 < 0.0 {
        ("slow", format!("add {size} to"))
    } else {
        ("fast", format!("subtract {size} from"))
    };
    (
        format!("the receiver's clock was {size} {beside} for {count} fixes"),
        interval.why(&format!(
            "their times conflict with the rest of the file and are not used; corrected, they run from \
             {from} to {until}, where the track has a gap"
        )),
        format!(
            "{amend} their times in the file to use them; until then finds of that time have a large radius"
        ),
    )
}

#[cfg(test)]
mod tests {
    use jiff::civil::time;

    use super::*;

    #[test]
    fn gaps_are_reported_with_duration_and_time() {
        let from = time(10, 37, 0, 0);
        let one = gaps(1, Seconds(870.0), Seconds(870.0), from);
        assert_eq!(one, "1 gap in the track: 14 min 30 s from 10:37:00");
        let two = gaps(2, Seconds(900.0), Seconds(600.0), from);
        assert!(two.starts_with("2 gaps in the track: 15 min 00 s in total"), "{two}");
        assert!(two.ends_with("the longest 10 min 00 s from 10:37:00"), "{two}");
    }

    #[test]
    fn a_fault_names_how_often_and_which_finds() {
        let find = FindReference { number: Some("K-1".into()), line: 2, in_workbook: false };
        let note = TrackNote::ReceiverFault(FaultInterval {
            fault: ReceiverFault::NoFix,
            fixes: 9,
            from: time(10, 37, 0, 0),
            until: time(10, 38, 0, 0),
            lasting: Seconds(60.0),
            intervals: 3,
            fixes_in_all: 20,
            finds: vec![find],
        });
        let error = Error::from(note);
        let why = "the file marks 9 positions until 10:38:00 as invalid; they are not used; this happened 3 \
                   times, 20 fixes in total; find K-1 is affected";
        assert_eq!(error.why(), Some(why));
        assert_eq!(error.code(), Some("receiver-fault"));
        assert_eq!(serde_json::to_value(&error).unwrap()["fault"], "no-fix");
    }
}
