//! Assigns waypoints to the outing of their time, else of their name, else of their file; and copies one to
//! every outing whose records name it but that does not hold it. Layer: `join`.

use jiff::tz::TimeZone;

use crate::model::{Record, RecordNumber, Waypoint};

use super::super::written::waypoint_named;
use super::draft::Draft;
use super::group::{Group, group_of};
use super::share::on_date;

pub(super) fn share(waypoints: Vec<(usize, Waypoint)>, groups: &[Group], outings: &mut Vec<Draft>) {
    let all = waypoints.clone();
    for (file, point) in waypoints {
        give(file, point, groups, outings);
    }
    for outing in outings.iter_mut() {
        lend(&all, outing);
    }
}

fn give(file: usize, point: Waypoint, groups: &[Group], outings: &mut Vec<Draft>) {
    let time = point.fix.time;
    let by_time = time.and_then(|time| {
        outings.iter().position(|outing| outing.span.is_some_and(|span| span.near(time)))
    });
    let by_file = || outings.iter().position(|outing| outing.pieces.iter().any(|p| p.file == file));
    let named = |record: &Record| {
        let means = |name: &str| {
            record.number.as_ref().is_some_and(|number: &RecordNumber| number.means(name))
        };
        point.name.as_deref().is_some_and(means)
    };
    let names = |outing: &Draft| outing.records.iter().any(|(_, record)| named(record));
    let by_name = || outings.iter().position(names);
    let home = by_time.or_else(by_name).or_else(by_file);
    let party = home.and_then(|home| group_of(groups, home)).and_then(|group| {
        group
            .by_file(file)
            .or_else(|| group.outings().find(|&outing| names(&outings[outing])))
            .or_else(|| group.by_place(std::iter::once((time, point.fix.at))))
    });
    let home = party.or(home).unwrap_or_else(|| {
        on_date(outings, time.map(|time| time.to_zoned_datetime(TimeZone::UTC).date()))
    });
    outings[home].waypoints.push((file, point));
}

/// Copies of waypoints of other outings that the records of this one name and that it does not hold:
/// by the name in the waypoint column, or by a find's number where the waypoint is of the same day.
fn lend(all: &[(usize, Waypoint)], outing: &mut Draft) {
    let mut lent: Vec<(usize, Waypoint)> = Vec::new();
    for (_, record) in &outing.records {
        let own = outing.waypoints.iter().chain(&lent).map(|(_, point)| point);
        let own: Vec<&Waypoint> = own.collect();
        let found = match record.waypoint.as_deref() {
            Some(name) if waypoint_named(name, own.iter().copied()).is_none() => {
                waypoint_named(name, all.iter().map(|(_, point)| point))
            }
            Some(_) => None,
            None => by_number(record, &own, all, outing),
        };
        lent.extend(found.map(|found| all[found].clone()));
    }
    outing.waypoints.extend(lent);
}

fn by_number(
    record: &Record,
    own: &[&Waypoint],
    all: &[(usize, Waypoint)],
    outing: &Draft,
) -> Option<usize> {
    let number = &record.number.as_ref()?.0;
    if waypoint_named(number, own.iter().copied()).is_some() {
        return None;
    }
    let zone = outing.local_zone().unwrap_or(TimeZone::UTC);
    let same_day = |point: &Waypoint| {
        let taken = point.fix.time.map(|time| time.to_zoned_datetime(zone.clone()).date());
        taken.is_some() && taken == record.date
    };
    let of_the_day: Vec<usize> = (0..all.len()).filter(|&k| same_day(&all[k].1)).collect();
    let found = waypoint_named(number, of_the_day.iter().map(|&k| &all[k].1))?;
    Some(of_the_day[found])
}
