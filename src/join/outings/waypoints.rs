//! Assigns waypoints to the outing of their time, else of their name, else of their file; and copies one to
//! every outing whose records name it but that does not hold it. Layer: `join`.

use std::collections::{BTreeMap, HashMap};

use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::earth::zone;
use crate::model::{Record, RecordNumber, Waypoint};

use super::super::waypoint_names::{MarkedOn, WaypointNames, bucket};
use super::draft::Draft;
use super::group::{Group, group_of};
use super::share::on_date;

pub(super) fn share(waypoints: Vec<(usize, Waypoint)>, groups: &[Group], outings: &mut Vec<Draft>) {
    let all = waypoints.clone();
    let numbers: Vec<Numbers> = outings.iter().map(Numbers::of).collect();
    for (file, point) in waypoints {
        give((file, point), groups, &numbers, outings);
    }
    let offered = Offered::of(&all);
    for outing in outings.iter_mut() {
        lend(&offered, outing);
    }
}

/// The numbers of an outing's records.
struct Numbers(HashMap<String, Vec<RecordNumber>>);

impl Numbers {
    fn of(outing: &Draft) -> Self {
        let mut numbers: HashMap<String, Vec<RecordNumber>> = HashMap::new();
        for number in outing.records.iter().filter_map(|(_, record)| record.number.as_ref()) {
            numbers.entry(bucket(&number.0)).or_default().push(number.clone());
        }
        Self(numbers)
    }

    fn mean(&self, name: &str) -> bool {
        self.0.get(&bucket(name)).is_some_and(|near| near.iter().any(|number| number.means(name)))
    }
}

fn give(
    (file, point): (usize, Waypoint),
    groups: &[Group],
    numbers: &[Numbers],
    outings: &mut Vec<Draft>,
) {
    let time = point.fix.time;
    let by_time = time.and_then(|time| {
        outings.iter().position(|outing| outing.span.is_some_and(|span| span.near(time)))
    });
    let by_file = || outings.iter().position(|outing| outing.pieces.iter().any(|p| p.file == file));
    let names = |outing: usize| {
        let name = point.name.as_deref();
        name.zip(numbers.get(outing)).is_some_and(|(name, numbers)| numbers.mean(name))
    };
    let by_name = || (0..numbers.len()).find(|&outing| names(outing));
    let home = by_time.or_else(by_name).or_else(by_file);
    let party = home.and_then(|home| group_of(groups, home)).and_then(|group| {
        group
            .by_file(file)
            .or_else(|| group.outings().find(|&outing| names(outing)))
            .or_else(|| group.by_place(std::iter::once((time, point.fix.at))))
    });
    let home = party.or(home).unwrap_or_else(|| {
        let zone = || zone::at(point.fix.at).map_or(TimeZone::UTC, |(_, zone)| zone);
        on_date(outings, time.map(|time| time.to_zoned_datetime(zone()).date()))
    });
    outings[home].waypoints.push((file, point));
}

/// The waypoints of all files, by name and by day.
struct Offered<'a> {
    all: &'a [(usize, Waypoint)],
    names: WaypointNames<'a>,
    /// By the date in UTC; the local date is at most a day away.
    by_date: BTreeMap<Date, Vec<usize>>,
}

impl<'a> Offered<'a> {
    fn of(all: &'a [(usize, Waypoint)]) -> Self {
        let mut by_date: BTreeMap<Date, Vec<usize>> = BTreeMap::new();
        for (index, (_, point)) in all.iter().enumerate() {
            if let Some(time) = point.fix.time {
                let date = time.to_zoned_datetime(TimeZone::UTC).date();
                by_date.entry(date).or_default().push(index);
            }
        }
        Self { all, names: WaypointNames::of(all.iter().map(|(_, point)| point)), by_date }
    }

    /// Those of a local day.
    fn of_day(&self, day: Date, zone: &TimeZone) -> OfDay<'a> {
        let first = day.yesterday().unwrap_or(day);
        let last = day.tomorrow().unwrap_or(day);
        let mut indices: Vec<usize> =
            self.by_date.range(first..=last).flat_map(|(_, found)| found).copied().collect();
        indices.retain(|&index| {
            let time = self.all[index].1.fix.time;
            time.is_some_and(|time| time.to_zoned_datetime(zone.clone()).date() == day)
        });
        indices.sort_unstable();
        let names = WaypointNames::of(indices.iter().map(|&index| &self.all[index].1));
        OfDay { indices, names }
    }
}

/// The waypoints of one local day.
struct OfDay<'a> {
    indices: Vec<usize>,
    names: WaypointNames<'a>,
}

/// Copies of waypoints of other outings that the records of this one name and that it does not hold:
/// by the name in the waypoint column, or by a find's number where the waypoint is of the same day.
fn lend(offered: &Offered, outing: &mut Draft) {
    let mut lent: Vec<(usize, Waypoint)> = Vec::new();
    let mut own = WaypointNames::of(outing.waypoints.iter().map(|(_, point)| point));
    let mut days: HashMap<Date, OfDay> = HashMap::new();
    let zone = &outing.local_zone().unwrap_or(TimeZone::UTC);
    let started = outing.span.map(|span| span.start.to_zoned_datetime(zone.clone()).date());
    for (_, record) in &outing.records {
        let on = MarkedOn { date: record.date.or(outing.date).or(started), zone };
        let found = match record.waypoint.as_deref() {
            Some(name) if own.named(name, &on).is_none() => offered.names.named(name, &on),
            Some(_) => None,
            None => wanted(record, &own, &on).and_then(|(number, day)| {
                let day = days.entry(day).or_insert_with(|| offered.of_day(day, zone));
                day.names.named(number, &on).map(|found| day.indices[found])
            }),
        };
        if let Some(found) = found {
            own.add(&offered.all[found].1);
            lent.push(offered.all[found].clone());
        }
    }
    outing.waypoints.extend(lent);
}

/// The number and the day of a record whose number names no waypoint of its outing.
fn wanted<'a>(record: &'a Record, own: &WaypointNames, on: &MarkedOn) -> Option<(&'a str, Date)> {
    let number = record.number.as_ref()?.0.as_str();
    own.named(number, on).is_none().then_some(number).zip(record.date)
}
