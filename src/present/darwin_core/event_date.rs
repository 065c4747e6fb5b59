//! Writes the date of a find as an ISO 8601 interval as wide as its uncertainty. Layer: `present`.

use jiff::fmt::temporal::DateTimeParser;
use jiff::tz::TimeZone;

use crate::model::{KeptFind, Record};
use crate::present::derived_time;
use crate::units::{Seconds, Timestamp};

/// The largest half width at which a time is written to the second; above it an interval is written.
const TO_THE_POINT: Seconds = Seconds(1.0);

/// `eventDate`: the local date, or the local time with its offset, as an interval where it is not known
/// to a second; without an offset where the zone is only assumed. Where the written date or time differs from the derived one, the written date.
pub(super) fn derived(find: &KeptFind) -> String {
    let Some((when, within)) = find.when else { return find.date.to_string() };
    let zone = zone(&find.zone);
    // a written date is not replaced by a derived one
    if derived_time::differing(&find.record, (when, within), &zone).is_some() {
        return find.date.to_string();
    }
    if within.abs() <= TO_THE_POINT {
        return local(when, &zone, find.zone_assumed);
    }
    let half = within.abs();
    let end = |when| local(when, &zone, find.zone_assumed);
    format!("{}/{}", end((-half).after(when)), end(half.after(when)))
}

/// The zone by its name; an unknown one is read as UTC, visible in the offset.
pub(super) fn zone(name: &str) -> TimeZone {
    DateTimeParser::new().parse_time_zone(name).unwrap_or(TimeZone::UTC)
}

fn local(when: Timestamp, zone: &TimeZone, assumed: bool) -> String {
    let form = if assumed { "%Y-%m-%dT%H:%M:%S" } else { "%Y-%m-%dT%H:%M:%S%:z" };
    when.to_zoned_datetime(zone.clone()).strftime(form).to_string()
}

/// `verbatimEventDate`: date and time as typed, whatever was amended.
pub(super) fn written(find: &KeptFind) -> Option<String> {
    let record = &find.record;
    match find.as_imported.as_ref().filter(|_| record.other(Record::VERBATIM_DATE).is_none()) {
        Some(own) => record.date_and_time_of(own.date, own.time),
        None => record.written_date_and_time(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture::kept_find;

    #[test]
    fn a_time_in_an_assumed_zone_has_no_offset() {
        let mut find = kept_find("AQ-1");
        assert!(derived(&find).contains("+10:00"), "{}", derived(&find));
        find.zone_assumed = true;
        assert!(!derived(&find).contains('+'), "{}", derived(&find));
    }
}
