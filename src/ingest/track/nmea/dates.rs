//! Dates the times of day of a log: only some sentences carry a date, and midnight may pass between
//! two that do. Layer: `ingest`.

use jiff::civil::Date;

use crate::model::Fix;
use crate::units::Timestamp;

/// Nanoseconds of a day.
const DAY: i64 = 86_400 * 1_000_000_000;

/// The date that the log has reached, and the fixes that still wait for one.
#[derive(Debug, Default)]
pub(super) struct Dates {
    last: Option<(Date, i64)>,
    /// Places in the list of fixes, with their times of day.
    waiting: Vec<(usize, i64)>,
}

impl Dates {
    /// A time of day with its date, as a sentence states it. Earlier fixes without a date are dated from
    /// here backwards.
    pub(super) fn state(&mut self, date: Date, clock: i64, fixes: &mut [Fix]) {
        let (mut day, mut later) = (date, clock);
        for (place, clock) in std::mem::take(&mut self.waiting).into_iter().rev() {
            if clock - later > DAY / 2 {
                day = day.yesterday().unwrap_or(day);
            }
            later = clock;
            if let Some(fix) = fixes.get_mut(place) {
                fix.time = instant(day, clock);
            }
        }
        self.last = Some((date, clock));
    }

    /// The instant of a time of day without a date of its own, which comes after everything before.
    pub(super) fn follow(&mut self, clock: i64) -> Option<Timestamp> {
        let (date, before) = self.last?;
        let passed = before - clock > DAY / 2;
        let date = if passed { date.tomorrow().unwrap_or(date) } else { date };
        self.last = Some((date, clock));
        instant(date, clock)
    }

    /// Remembers a fix whose date may come later.
    pub(super) fn wait(&mut self, place: usize, clock: i64) {
        self.waiting.push((place, clock));
    }

    /// The fixes that no date ever came for: how many, and the time of day of the first.
    pub(super) fn undated(&self) -> Option<(u64, usize, i64)> {
        let (place, clock) = self.waiting.first()?;
        Some((self.waiting.len() as u64, *place, *clock))
    }
}

/// The instant of a time of day in UTC.
pub(super) fn instant(date: Date, clock: i64) -> Option<Timestamp> {
    let midnight = date.at(0, 0, 0, 0).in_tz("UTC").ok()?.timestamp();
    midnight.checked_add(jiff::SignedDuration::from_nanos(clock)).ok()
}
