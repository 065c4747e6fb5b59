//! Words the findings about the times of a notebook. Layer: `present`.

use std::fmt;

use super::worded;
use crate::error::Error;
use crate::model::{NotebookNote, WatchOffset};
use crate::units::Seconds;

impl From<NotebookNote> for Error {
    fn from(note: NotebookNote) -> Self {
        match &note {
            NotebookNote::NotebookOff {
                ahead,
                sure,
                probability,
                probability_correct,
                written_times,
                in_utc,
                zone_offset,
                track_zone_assumed,
            } => {
                let utc = if *in_utc { ", as if kept in UTC" } else { "" };
                let verb = if *sure { "is" } else { "may be" };
                worded(
                    &note,
                    format!(
                        "the notebook {verb} about {}{utc}: its times place no find",
                        early_or_late(*ahead)
                    ),
                    format!(
                        "{written_times} written times fit the stops and the photographs with this offset \
                         (probability {:.0} %), with correct times the probability is {}",
                        100.0 * probability,
                        percent(*probability_correct)
                    ),
                    if *track_zone_assumed {
                        local_track(*zone_offset)
                    } else {
                        action(*ahead, *zone_offset, *in_utc, *sure)
                    },
                )
            }
            NotebookNote::WatchOff { watch, written_times } => worded(
                &note,
                format!("the watch of the notebook is {watch}"),
                format!(
                    "with this offset the {written_times} written times fall in the stops of the track and on \
                     the photographs of their finds; positions allow for it"
                ),
                "if the watch was correct, the track may be another's; correct the written times otherwise",
            ),
            NotebookNote::WatchOpen { watch, written_times } => worded(
                &note,
                "the error of the watch of the notebook cannot be determined",
                format!(
                    "the {written_times} written times fit the stops of the track with a watch {watch}; the \
                     radii of finds placed by a written time include this"
                ),
                "photograph the watch once beside the receiver's clock",
            ),
        }
    }
}

/// `2 h 00 min early`: an offset of hours.
pub(super) fn early_or_late(ahead: Seconds) -> String {
    let minutes = (ahead.0.abs() / 60.0).round();
    let (hours, rest) = ((minutes / 60.0).floor(), minutes % 60.0);
    let size = if hours < 1.0 {
        format!("{rest:.0} min")
    } else {
        format!("{hours:.0} h {rest:02.0} min")
    };
    let side = if ahead.0 < 0.0 { "early" } else { "late" };
    format!("{size} {side}")
}

/// What settles it where the times of the track may be local.
fn local_track(zone_offset: Seconds) -> String {
    format!(
        "the times of the track state no zone and were read as UTC; if they are local, write their offset behind \
         them in a copy of the file, as in 2026-05-02T09:14:30{}",
        signed(zone_offset.0)
    )
}

/// What settles it: the zone in which the notebook is kept.
fn action(ahead: Seconds, zone_offset: Seconds, in_utc: bool, sure: bool) -> String {
    let zone = zone_offset.0 + ahead.0;
    let kept = if in_utc {
        "if the notebook is kept in UTC, use --zone UTC; ".to_owned()
    } else if zone.abs() <= 14.0 * 3_600.0 && zone % 900.0 == 0.0 {
        format!("if the notebook is kept in that zone, use --zone {}; ", signed(zone))
    } else {
        String::new()
    };
    if sure {
        let other = if kept.is_empty() { "" } else { "else " };
        return format!("{kept}{other}correct the written times");
    }
    format!(
        "{kept}if the times are right, write their offset from UTC beside them, as in 14:30{}",
        signed(zone_offset.0)
    )
}

/// An offset from UTC as in `+02:00`.
fn signed(zone: f64) -> String {
    let minutes = (zone.abs() / 60.0).round();
    let sign = if zone < 0.0 { '-' } else { '+' };
    format!("{sign}{:02.0}:{:02.0}", (minutes / 60.0).floor(), minutes % 60.0)
}

fn percent(probability: f64) -> String {
    if probability < 0.001 {
        "below 0.1 %".to_owned()
    } else {
        format!("{:.1} %", 100.0 * probability)
    }
}

/// `12 min slow (9 to 14)`; where it is not determined, `from 3 min slow to 20 min fast`.
impl fmt::Display for WatchOffset {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (low, high) = (self.low.0, self.high.0);
        let Some(ahead) = self.ahead else {
            return write!(f, "from {} to {}", slow_or_fast(low), slow_or_fast(high));
        };
        let (near, far) = (low.abs().min(high.abs()), low.abs().max(high.abs()));
        write!(f, "{} ({} to {})", slow_or_fast(ahead.0), minutes(near), minutes(far))
    }
}

fn slow_or_fast(seconds: f64) -> String {
    format!("{} min {}", minutes(seconds), if seconds < 0.0 { "slow" } else { "fast" })
}

fn minutes(seconds: f64) -> String {
    format!("{:.0}", (seconds / 60.0).abs().round())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn off(ahead: f64, sure: bool, in_utc: bool, zone_offset: f64) -> Error {
        NotebookNote::NotebookOff {
            ahead: Seconds(ahead),
            sure,
            probability: 0.957,
            probability_correct: if sure { 1e-5 } else { 0.08 },
            written_times: 9,
            in_utc,
            track_zone_assumed: false,
            zone_offset: Seconds(zone_offset),
        }
        .into()
    }

    #[test]
    fn a_notebook_off_by_hours_is_reported_with_its_zone() {
        assert_eq!(
            off(-7_200.0, true, true, 7_200.0).to_string(),
            "the notebook is about 2 h 00 min early, as if kept in UTC: its times place no find\n\
             because: 9 written times fit the stops and the photographs with this offset (probability 96 %), with \
             correct times the probability is below 0.1 %\n\
             hint: if the notebook is kept in UTC, use --zone UTC; else correct the written times"
        );
        let open = off(1_800.0, false, false, 34_200.0);
        assert_eq!(
            open.to_string(),
            "the notebook may be about 30 min late: its times place no find\n\
             because: 9 written times fit the stops and the photographs with this offset (probability 96 %), with \
             correct times the probability is 8.0 %\n\
             hint: if the notebook is kept in that zone, use --zone +10:00; if the times are right, write their \
             offset from UTC beside them, as in 14:30+09:30"
        );
        assert_eq!(open.code(), Some("notebook-off"));
        let odd = off(3_660.0, true, false, -3_600.0);
        assert_eq!(odd.advice(), Some("correct the written times"));
        let west = off(-3_600.0, true, false, -14_400.0);
        assert!(west.advice().unwrap().contains("--zone -05:00; else correct"), "{west}");
    }

    #[test]
    fn a_track_whose_times_state_no_zone_may_be_in_local_time() {
        let note = NotebookNote::NotebookOff {
            ahead: Seconds(-7_200.0),
            sure: true,
            probability: 0.957,
            probability_correct: 1e-5,
            written_times: 9,
            in_utc: true,
            track_zone_assumed: true,
            zone_offset: Seconds(7_200.0),
        };
        let error = Error::from(note);
        let advice = error.advice().unwrap();
        assert!(advice.contains("as in 2026-05-02T09:14:30+02:00"), "{advice}");
        assert!(!advice.contains("--zone"), "{advice}");
    }

    #[test]
    fn a_watch_is_slow_or_fast_within_its_interval() {
        let watch = |ahead: Option<f64>, low, high| WatchOffset {
            ahead: ahead.map(Seconds),
            low: Seconds(low),
            high: Seconds(high),
        };
        let slow = watch(Some(-720.0), -840.0, -560.0);
        assert_eq!(slow.to_string(), "12 min slow (9 to 14)");
        assert_eq!(watch(Some(600.0), 540.0, 700.0).to_string(), "10 min fast (9 to 12)");
        let open = watch(None, -180.0, 1_200.0);
        assert_eq!(open.to_string(), "from 3 min slow to 20 min fast");
        let off = Error::from(NotebookNote::WatchOff { watch: slow, written_times: 11 });
        assert_eq!(off.what(), "the watch of the notebook is 12 min slow (9 to 14)");
        let open = Error::from(NotebookNote::WatchOpen { watch: open, written_times: 11 });
        let why = "the 11 written times fit the stops of the track with a watch from 3 min slow to 20 min fast; \
                   the radii of finds placed by a written time include this";
        assert_eq!(open.why(), Some(why));
    }
}
