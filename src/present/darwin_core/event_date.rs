//! Writes the date of a find as an ISO 8601 interval as wide as its uncertainty. Layer: `present`.

use jiff::fmt::temporal::DateTimeParser;
use jiff::tz::TimeZone;

use crate::model::{Field, KeptFind, Record};
use crate::present::derived_time;
use crate::units::{Seconds, Timestamp};

/// The largest half width at which a time is written to the second; above it an interval is written.
const TO_THE_POINT: Seconds = Seconds(1.0);

/// `eventDate`: the local date, or the local time with its offset, as an interval where it is not known
/// to a second. Where the written date or time differs from the derived one, the written date.
pub(super) fn derived(find: &KeptFind) -> String {
    let Some((when, within)) = find.when else { return find.date.to_string() };
    let zone = zone(&find.zone);
    // a written date is not replaced by a derived one
    if derived_time::differing(&find.record, (when, within), &zone).is_some() {
        return find.date.to_string();
    }
    if within.abs() <= TO_THE_POINT {
        return local(when, &zone);
    }
    let half = within.abs();
    format!("{}/{}", local((-half).after(when), &zone), local(half.after(when), &zone))
}

/// The zone by its name; an unknown one is read as UTC, visible in the offset.
pub(super) fn zone(name: &str) -> TimeZone {
    DateTimeParser::new().parse_time_zone(name).unwrap_or(TimeZone::UTC)
}

fn local(when: Timestamp, zone: &TimeZone) -> String {
    when.to_zoned_datetime(zone.clone()).strftime("%Y-%m-%dT%H:%M:%S%:z").to_string()
}

/// `verbatimEventDate`: date and time as typed, else as read, whatever was amended.
pub(super) fn written(find: &KeptFind) -> Option<String> {
    let record = &find.record;
    if let Some(typed) = record.other(Record::VERBATIM_DATE) {
        return Some(typed.to_owned());
    }
    let imported = find.as_imported.as_ref();
    let (date, time) = imported.map_or((record.date, record.time), |own| (own.date, own.time));
    let date = date.map(|date| date.to_string());
    let offset = record.fields.get(&Field::Other(Record::TIME_OFFSET.to_owned()));
    let offset = offset.map_or("", String::as_str);
    let time = time.map(|time| format!("{}{offset}", time.clock.strftime("%H:%M")));
    let parts: Vec<String> = date.into_iter().chain(time).collect();
    (!parts.is_empty()).then(|| parts.join(" "))
}
