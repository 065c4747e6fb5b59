//! Summarises one day as text. Layer: `present`.

use std::fmt::Write as _;

use super::words::{anchor, clock, count, counted, day_of, fates, method, offset, zone_source};
use crate::analyse::effort::day::DayTime;
use crate::error::{Error, merged};
use crate::model::{Anchor, AnchorKind, CameraClock, Conflict, ConflictKind, Day, Find, Located};
use crate::present::scientific_name::without_authors;
use crate::present::table::{Column, Table};
use crate::present::{derived_time, note};
use crate::units::Seconds;

/// The summary of one outing. Ends with a line break; no colour.
#[must_use]
pub fn day(day: &Day) -> String {
    let mut text = heading(day);
    for part in [track(day), cameras(day), located(day), unlocated(day), reports(day)] {
        if !part.is_empty() {
            text.push('\n');
            text.push_str(&part);
        }
    }
    text
}

fn heading(day: &Day) -> String {
    let outing = &day.outing;
    let mut text = day_of(outing);
    if let (Some(start), Some(end)) = (outing.start, outing.end) {
        let zone = &outing.zone.zone;
        // Writing to a string cannot fail.
        let _ = write!(text, ", {} to {}", clock(start, zone), clock(end, zone));
    }
    if let Some(collector) = &outing.collector {
        let _ = write!(text, ", {collector}");
    }
    let _ = writeln!(text, "\nTimes in {}, {}", outing.zone.name, zone_source(outing.zone.source));
    text
}

fn without_track(day: &Day) -> String {
    let by_time = |anchor: &Anchor| {
        anchor.used && matches!(anchor.kind, AnchorKind::PhotoTime | AnchorKind::WrittenTime)
    };
    let between = day.finds.iter().filter(|find| find.anchors.iter().any(by_time)).count();
    if between == 0 {
        return "Track: none; finds with only a time cannot be located\n".to_owned();
    }
    format!(
        "Track: none; {} located by time between positions of photographs\n",
        counted(between, "find", "finds")
    )
}

fn track(day: &Day) -> String {
    if day.fixes.is_empty() {
        return without_track(day);
    }
    let fates = fates(day);
    let aside: usize = fates.values().sum();
    let mut text = format!(
        "Track: {} read, {} kept, {} set aside",
        counted(day.fixes.len(), "fix", "fixes"),
        count(day.fixes.len() - aside),
        count(aside)
    );
    if aside > 0 {
        let parts: Vec<String> =
            fates.iter().map(|(fate, number)| format!("{} {fate}", count(*number))).collect();
        let _ = write!(text, " ({})", parts.join(", "));
    }
    text.push('\n');
    let gaps = gaps(day);
    if let Some(longest) = gaps.iter().copied().reduce(|a, b| if b > a { b } else { a }) {
        let number = counted(gaps.len(), "gap", "gaps");
        let _ = writeln!(text, "       {number} in the track, longest {longest}");
    }
    let DayTime { searching, walking, at_finds, resting } = DayTime::of(day);
    let _ = writeln!(
        text,
        "       searching {searching}, walking {walking}, at finds {at_finds}, resting {resting}; {}",
        counted(day.stops.len(), "stop", "stops")
    );
    text
}

fn gaps(day: &Day) -> Vec<Seconds> {
    let pairs = day.track.windows(2).filter(|pair| pair[0].gap_after);
    pairs.map(|pair| Seconds::between(pair[0].time, pair[1].time)).collect()
}

fn cameras(day: &Day) -> String {
    if day.cameras.is_empty() {
        return String::new();
    }
    let mut table = Table::new([
        Column::left("camera"),
        Column::right("photos"),
        Column::right("ahead by"),
        Column::right("95 % interval"),
        Column::left("method"),
    ]);
    for camera in &day.cameras {
        table.row([
            camera.camera.to_string(),
            camera.photos.to_string(),
            camera.ahead.map_or("?".into(), offset),
            camera.interval95.map_or(String::new(), |(low, high)| {
                format!("{} to {}", offset(low), offset(high))
            }),
            method(camera),
        ]);
    }
    let mut text = table.to_string();
    for camera in &day.cameras {
        text.push_str(&camera_note(camera));
    }
    text
}

fn camera_note(camera: &CameraClock) -> String {
    let mut text = format!("  {}: {}\n", camera.camera, camera.basis);
    if let (Some(zone), Some(error)) = (camera.zone_of_day(), camera.error_part) {
        let date = note::wrong_date(camera.date_ahead())
            .map_or_else(String::new, |date| format!("{date}, "));
        let zone = if zone.0 == 0.0 {
            "no zone error".into()
        } else {
            format!("{} from the zone", offset(zone))
        };
        let _ = writeln!(text, "    {date}{zone}, {} clock error", offset(error));
    }
    for alternative in camera.alternatives.iter().take(3) {
        let share = alternative.probability * 100.0;
        let _ = writeln!(text, "    alternative: {} ({share:.1} %)", offset(alternative.ahead));
    }
    text
}

fn located(day: &Day) -> String {
    let located: Vec<(&Find, &Located)> =
        day.finds.iter().filter_map(|find| Some((find, find.place.as_ref().ok()?))).collect();
    if day.finds.is_empty() {
        let groups = super::photo_groups::list(day);
        return format!("Finds: no records in these files\n{groups}");
    }
    let mut text = format!(
        "Finds: {} located, {} not\n",
        count(located.len()),
        count(day.finds.len() - located.len())
    );
    if located.is_empty() {
        return text;
    }
    let mut table = Table::new([
        Column::left("number"),
        Column::left("time"),
        Column::left("name"),
        Column::right("latitude"),
        Column::right("longitude"),
        Column::right("95 % radius"),
        Column::left("located by"),
        Column::left("largest part"),
    ]);
    for (find, place) in located {
        table.row([
            number(find),
            time(day, find),
            find.record.name.as_deref().map(without_authors).unwrap_or_default(),
            format!("{:.5}", place.at.latitude()),
            format!("{:.5}", place.at.longitude()),
            place.radius.to_string(),
            evidence(find),
            place.parts.first().map_or("", |part| part.kind.words()).to_owned(),
        ]);
    }
    text.push_str(&table.to_string());
    text
}

/// The time used for the position of a find; the written one first where it differs.
fn time(day: &Day, find: &Find) -> String {
    let Some((when, half)) = find.when else { return String::new() };
    let zone = &day.outing.zone.zone;
    let derived = clock(when, zone);
    if derived_time::differing(&find.record, (when, half), zone).is_none() {
        return derived;
    }
    let local = when.to_zoned_datetime(zone.clone()).date();
    let other_day = find.record.date.is_some_and(|date| date != local);
    let derived = if other_day { format!("{local} {derived}") } else { derived };
    let date = find.record.date.filter(|date| other_day || *date != day.outing.date);
    let date = date.map_or_else(String::new, |date| format!("{date} "));
    let time =
        find.record.time.map_or_else(String::new, |t| t.clock.strftime("%H:%M ").to_string());
    format!("{date}{time}(derived: {derived})")
}

fn number(find: &Find) -> String {
    find.record.number.as_ref().map_or_else(|| "-".to_owned(), ToString::to_string)
}

fn evidence(find: &Find) -> String {
    let mut kinds: Vec<AnchorKind> =
        find.anchors.iter().filter(|anchor| anchor.used).map(|anchor| anchor.kind).collect();
    kinds.dedup();
    kinds.into_iter().map(anchor).collect::<Vec<_>>().join(", ")
}

fn unlocated(day: &Day) -> String {
    section("Not located", &super::unlocated::list(day))
}

fn reports(day: &Day) -> String {
    let list = |errors: &mut dyn Iterator<Item = &Error>| -> String {
        errors.map(|error| bullet(error) + "\n").collect()
    };
    let parts = [
        section("Conflicts", &list(&mut conflicts(day).iter())),
        section("Set aside", &list(&mut day.set_aside.iter())),
        section("Notes", &list(&mut day.remarks.iter())),
    ];
    parts.iter().filter(|part| !part.is_empty()).cloned().collect::<Vec<_>>().join("\n")
}

/// The messages of the conflicts; coordinates and dates of many finds that are read alike are one.
pub(super) fn conflicts(day: &Day) -> Vec<Error> {
    let of_kind = |conflicts: &[Conflict]| -> Vec<Error> {
        let reports: Vec<Error> = conflicts.iter().map(|one| one.report.clone()).collect();
        match conflicts.first().map(|one| one.kind) {
            Some(ConflictKind::Coordinates | ConflictKind::Date) => merged(reports, "line"),
            _ => reports,
        }
    };
    // they are in the order of their kinds
    day.conflicts.chunk_by(|one, next| one.kind == next.kind).flat_map(of_kind).collect()
}

pub(super) fn section(heading: &str, text: &str) -> String {
    if text.is_empty() { String::new() } else { format!("{heading}\n{text}") }
}

/// An error as a list item, with its further lines indented.
pub(super) fn bullet(error: &Error) -> String {
    format!("  - {}", error.to_string().replace('\n', "\n    "))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;

    #[test]
    fn the_time_of_a_day_is_divided_among_manners() {
        let all = |time: DayTime| (time.searching + time.walking + time.at_finds + time.resting).0;
        let mut day = fixture::day();
        let pieces = day.track.windows(2).filter(|pair| !pair[0].gap_after);
        let out: f64 = pieces.map(|pair| Seconds::between(pair[0].time, pair[1].time).0).sum();
        let timed = DayTime::of(&day);
        assert!((all(timed) - out).abs() < 1e-3 && timed.at_finds.0 > 0.0, "{timed:?}");
        day.finds.iter_mut().for_each(|find| find.when = None);
        let untimed = DayTime::of(&day);
        assert!((all(untimed) - out).abs() < 1e-3 && untimed.at_finds.0 == 0.0, "{untimed:?}");
        assert!(untimed.resting > timed.resting, "a stop without a find is a rest");
        assert!(track(&day).contains("at finds 0 s, resting "), "{}", track(&day));
    }
}
