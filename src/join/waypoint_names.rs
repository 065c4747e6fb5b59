//! The waypoints of an outing by their names, so that long lists are not compared one with all.
//! Layer: `join`.

use std::collections::HashMap;

use jiff::civil::Date;
use jiff::tz::TimeZone;

use crate::model::{RecordNumber, Waypoint};

/// Waypoints nearer to each other than this are of one place, metres.
const SAME_PLACE: f64 = 5.0;

/// Waypoints in their order, and which of them bear which name.
#[derive(Default)]
pub(crate) struct WaypointNames<'a> {
    points: Vec<&'a Waypoint>,
    by_letters: HashMap<String, Vec<usize>>,
    by_bucket: HashMap<String, Vec<usize>>,
}

impl<'a> WaypointNames<'a> {
    pub(crate) fn of(points: impl Iterator<Item = &'a Waypoint>) -> Self {
        let mut names = Self::default();
        points.for_each(|point| names.add(point));
        names
    }

    /// Adds a waypoint behind the others.
    pub(crate) fn add(&mut self, point: &'a Waypoint) {
        let index = self.points.len();
        self.points.push(point);
        let Some(name) = point.name.as_deref() else { return };
        self.by_letters.entry(letters(name)).or_default().push(index);
        self.by_bucket.entry(bucket(name)).or_default().push(index);
    }

    /// The waypoint that a name means to somebody on a day: of exactly that name, else but for case, else but for
    /// leading zeros and marks; one that was marked on another day only where there is no other. Of several alike
    /// those of the day, then undated ones; of several alike but in different places none: a choice would be a guess.
    pub(crate) fn named(&self, wanted: &str, day: &MarkedOn) -> Option<usize> {
        let ways = self.alike(wanted);
        let of = |other_day: bool| {
            let on = move |index: &usize| {
                let order = day.order(self.points[*index]);
                ((order == Order::OtherDay) == other_day).then_some((order, *index))
            };
            let found = ways.iter().map(|way| way.iter().filter_map(on).collect::<Vec<_>>());
            found.into_iter().find(|found| !found.is_empty())
        };
        let found = of(false).or_else(|| of(true))?;
        let first = found.iter().map(|(order, _)| *order).min()?;
        self.one(found.into_iter().filter(|(order, _)| *order == first).map(|(_, index)| index))
    }

    /// How many waypoints a name can mean.
    pub(crate) fn count(&self, wanted: &str) -> usize {
        self.alike(wanted).iter().map(Vec::len).max().unwrap_or(0)
    }

    /// The waypoints of exactly a name, those but for case, and those but for leading zeros and marks.
    fn alike(&self, wanted: &str) -> [Vec<usize>; 3] {
        let letters = self.by_letters.get(&letters(wanted)).map_or(&[][..], Vec::as_slice);
        let near = self.by_bucket.get(&bucket(wanted)).map_or(&[][..], Vec::as_slice);
        let named = |index: &usize, is: &dyn Fn(&str) -> bool| {
            self.points[*index].name.as_deref().is_some_and(is)
        };
        let number = RecordNumber(wanted.to_owned());
        let exact = |index: &&usize| named(index, &|name| name.trim() == wanted.trim());
        let means = |index: &&usize| named(index, &|name| number.means(name));
        [
            letters.iter().filter(exact).copied().collect(),
            letters.to_vec(),
            near.iter().filter(means).copied().collect(),
        ]
    }

    /// The first of these, where all are in one place.
    fn one(&self, mut found: impl Iterator<Item = usize>) -> Option<usize> {
        let first = found.next()?;
        let place = self.points[first].fix.at;
        found
            .all(|other| {
                let at = self.points[other].fix.at;
                crate::earth::geodesic::distance(at, place).0 < SAME_PLACE
            })
            .then_some(first)
    }
}

/// The day for which a waypoint is wanted; without a date all days are alike.
pub(crate) struct MarkedOn<'a> {
    pub(crate) date: Option<Date>,
    pub(crate) zone: &'a TimeZone,
}

/// Which of several waypoints of a name comes first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Order {
    OnTheDay,
    DayBeforeOrAfter,
    Undated,
    OtherDay,
}

impl MarkedOn<'_> {
    fn order(&self, waypoint: &Waypoint) -> Order {
        let Some(date) = self.date else { return Order::OnTheDay };
        let days = marked_on(waypoint, date, self.zone).and_then(|on| on.until(date).ok());
        match days.map(|days| days.get_days().abs()) {
            None => Order::Undated,
            Some(0) => Order::OnTheDay,
            Some(1) => Order::DayBeforeOrAfter,
            Some(_) => Order::OtherDay,
        }
    }
}

/// The count of weeks of the older satellite message, days.
const ROLLOVER: i32 = 1024 * 7;

/// The local date of a waypoint; `None` where the receiver's date was not set or is 1,024 weeks before that of the
/// outing.
pub(crate) fn marked_on(waypoint: &Waypoint, outing: Date, zone: &TimeZone) -> Option<Date> {
    let date = waypoint.fix.time?.to_zoned_datetime(zone.clone()).date();
    let days = date.until(outing).map_or(0, |span| span.get_days());
    let rolled = days > ROLLOVER / 2 && (days + 1) % ROLLOVER <= 2;
    (date.year() > 1980 && !rolled).then_some(date)
}

/// What two numbers have in common that mean the same: letters and figures but for case and noughts. Some
/// that do not mean the same have it in common, too.
pub(crate) fn bucket(name: &str) -> String {
    let kept = |c: &char| c.is_alphanumeric() && *c != '0';
    name.chars().filter(kept).flat_map(char::to_lowercase).collect()
}

fn letters(name: &str) -> String {
    name.trim().to_ascii_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Fix;
    use crate::units::LatLon;

    fn point(name: &str, latitude: f64) -> Waypoint {
        let fix = Fix::bare(LatLon::new(latitude, 146.1).unwrap(), None);
        let name = Some(name.to_owned());
        Waypoint { fix, name, description: None, comment: None, symbol: None, averaged: None }
    }

    #[test]
    fn a_name_means_what_it_meant_when_every_waypoint_was_compared() {
        let written =
            ["TH-0017", "th 17", "17", "Gate", "gate ", "TH-17)", "th17x", "", "0017", " TH-17"];
        let points: Vec<Waypoint> =
            written.iter().enumerate().map(|(k, name)| point(name, -42.0 - k as f64)).collect();
        for size in 1..=points.len() {
            let names = WaypointNames::of(points[..size].iter());
            for wanted in written.iter().chain(&["TH17", "GATE", "017", "th-17)", "none"]) {
                let any = MarkedOn { date: None, zone: &TimeZone::UTC };
                assert_eq!(
                    names.named(wanted, &any),
                    compared(wanted, &points[..size]),
                    "{wanted} {size}"
                );
            }
        }
    }

    #[test]
    fn of_several_alike_the_one_of_the_day_is_meant() {
        let marked = |name: &str, latitude: f64, time: Option<&str>| {
            let mut point = point(name, latitude);
            point.fix.time = time.map(|time| time.parse().unwrap());
            point
        };
        let (today, last_year) = (Some("2026-10-17T07:20:00Z"), Some("2025-09-02T08:15:00Z"));
        let points = [
            marked("001", -42.1, last_year),
            marked("001", -42.2, today),
            marked("002", -42.3, last_year),
            marked("2", -42.4, today),
            marked("003", -42.5, last_year),
            marked("003", -42.6, None),
            marked("004", -42.7, last_year),
            marked("005", -42.8, today),
            marked("005", -42.9, today),
        ];
        let names = WaypointNames::of(points.iter());
        let day = MarkedOn { date: Some(jiff::civil::date(2026, 10, 17)), zone: &TimeZone::UTC };
        let found = ["001", "002", "003", "004", "005"].map(|name| names.named(name, &day));
        assert_eq!(found, [Some(1), Some(3), Some(5), Some(6), None]);
        assert_eq!(names.count("005"), 2);
        let rolled = MarkedOn { date: Some(jiff::civil::date(2045, 4, 18)), ..day };
        assert_eq!(rolled.order(&points[0]), Order::Undated);
    }

    /// Compares with all, one way of being alike after the other.
    fn compared(wanted: &str, points: &[Waypoint]) -> Option<usize> {
        let number = RecordNumber(wanted.to_owned());
        let ways: [&dyn Fn(&str) -> bool; 3] = [
            &|name| name.trim() == wanted.trim(),
            &|name| name.trim().eq_ignore_ascii_case(wanted.trim()),
            &|name| number.means(name),
        ];
        let found = ways.iter().map(|alike| {
            let named = |point: &Waypoint| point.name.as_deref().is_some_and(alike);
            (0..points.len()).filter(|&k| named(&points[k])).collect::<Vec<_>>()
        });
        let found = found.into_iter().find(|found| !found.is_empty())?;
        (found.len() == 1).then_some(found[0])
    }
}
