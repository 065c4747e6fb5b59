//! A receiver that counts its weeks from the wrong start: its dates are 1,024 weeks early. The
//! correction is made only where it lands on a date of the day's photographs or records and the
//! dates as recorded match none. Layer: `join`.

use std::collections::BTreeMap;

use jiff::ToSpan;
use jiff::civil::Date;

use crate::error::Error;
use crate::model::SourceFile;
use crate::units::{Seconds, TimeZone, Timestamp};

use super::outings::Piece;

/// 1,024 weeks of seven days, seconds (IS-GPS-200: the week number has ten bits).
const ROLLOVER: f64 = 7_168.0 * 86_400.0;

/// The pieces with dates set right, and a remark for each file that needed it.
pub(super) fn corrected(
    mut pieces: Vec<Piece>,
    files: &[SourceFile],
    dates: &[Date],
) -> (Vec<Piece>, Vec<Error>) {
    let mut early: BTreeMap<usize, (Date, Date, u32)> = BTreeMap::new();
    for piece in &pieces {
        let Some(time) = piece.fixes.iter().find_map(|fix| fix.time) else { continue };
        if lands_on(time, dates) {
            continue;
        }
        let landed = (1..=2_u32).find(|n| lands_on(later(time, *n), dates));
        if let Some(n) = landed {
            let date = |time: Timestamp| time.to_zoned_datetime(TimeZone::UTC).date();
            early.entry(piece.file).or_insert((date(time), date(later(time, n)), n));
        }
    }
    for piece in &mut pieces {
        let Some(&(_, _, n)) = early.get(&piece.file) else { continue };
        for fix in &mut piece.fixes {
            fix.time = fix.time.map(|time| later(time, n));
        }
    }
    let notes = early
        .iter()
        .map(|(&file, (from, to, n))| {
            let name = files[file].name();
            Error::input(format!("the dates of {name} were moved from {from} to {to}"))
                .because(format!(
                    "the receiver's dates are {} weeks early, and {to} is the date of photographs \
                     or records",
                    1_024 * n
                ))
                .hint("an old receiver counts weeks to 1,024 and begins again; its times of day are right")
                .in_file(&files[file].path)
        })
        .collect();
    (pieces, notes)
}

fn later(time: Timestamp, times: u32) -> Timestamp {
    Seconds(ROLLOVER * f64::from(times)).after(time)
}

/// Whether an instant's date is one of these, a day either way for the zone.
fn lands_on(time: Timestamp, dates: &[Date]) -> bool {
    let date = time.to_zoned_datetime(TimeZone::UTC).date();
    let (before, after) = (date.saturating_sub(1.day()), date.saturating_add(1.day()));
    dates.iter().any(|other| (before..=after).contains(other))
}
