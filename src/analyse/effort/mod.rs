//! Computes search time, length and searched area by day, week, grid cell, band of elevation and
//! site. Layer: `analyse`.
//!
//! Time and length are those of the smoothed track, since noise lengthens a recorded one. What
//! counts as search does not depend on what was found: time at finds is taken out ([`handling`]),
//! and each manner of moving counts by how much is found in it ([`weights`]). Each outing is
//! tallied separately ([`Tally`]), in parallel; a [`Ledger`] adds them up.
//!
//! | module | content |
//! |---|---|
//! | [`day`] | time of one day by manner, before weights |
//! | [`handling`] | time at finds |
//! | [`judge`] | the manner of each part of a track |
//! | [`manner`], [`weights`] | manners of moving, and how much each counts |
//! | [`paths`] | paths that are used on many outings |
//! | [`styles`] | weights apart for outings of each style |
//!
//! # Accuracy
//! The searched area is within 0.5 %; four slow tracks with many crossings are within 0.3 % of shapely's union
//! (`tests/outside/searched_area.py`).

pub mod day;
pub mod handling;
pub mod judge;
pub mod manner;
pub mod paths;
pub mod styles;
mod tally;
pub mod weights;

use std::collections::BTreeMap;
use std::ops::AddAssign;

use jiff::civil::Date;
use serde::Serialize;

use super::searched_area::SearchedArea;
use crate::earth::equal_area::EqualArea;
use crate::model::Site;
use crate::units::{LatLon, Metres, Seconds};

pub use tally::Tally;

/// Search effort.
///
/// `searched` is weighted: an hour in a manner in which half as much is found counts as half an hour. So
/// `searched`, `at_finds` and `rests` need not add up to `time`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Effort {
    /// Time on the track, without gaps.
    pub time: Seconds,
    /// Of that, time that counts as search.
    pub searched: Seconds,
    /// Of the time, that spent at finds.
    pub at_finds: Seconds,
    /// Of the time, rests: the rest of long stops without a find.
    pub rests: Seconds,
    /// Of the time, that on regular paths.
    pub on_paths: Seconds,
    /// Length of the track.
    pub length: Metres,
    /// Of that, length that counts as searched.
    pub searched_length: Metres,
    /// Searched area, square metres, each place counted once.
    pub area: f64,
    /// Outings that contribute to it.
    pub outings: usize,
}

impl AddAssign for Effort {
    fn add_assign(&mut self, other: Self) {
        self.time = self.time + other.time;
        self.searched = self.searched + other.searched;
        self.at_finds = self.at_finds + other.at_finds;
        self.rests = self.rests + other.rests;
        self.on_paths = self.on_paths + other.on_paths;
        self.length = self.length + other.length;
        self.searched_length = self.searched_length + other.searched_length;
        self.area += other.area;
        self.outings += other.outings;
    }
}

/// Groupings of effort, besides the total.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Heading {
    /// The local date.
    Day,
    /// The week, keyed by its Monday.
    Week,
    /// The month, keyed by its first day.
    Month,
    /// The year, keyed by its first day.
    Year,
    /// Square cells.
    Cell,
    /// Bands of elevation.
    Band,
}

/// Options of the effort.
///
/// The half width decides the searched area alone; times and lengths do not depend on it.
#[derive(Clone, Debug, PartialEq)]
pub struct EffortRule {
    /// How far to each side of the track the ground is searched.
    pub half_width: Metres,
    /// The size of a cell.
    pub cell: Metres,
    /// The height of a band of elevation.
    pub band: Metres,
    /// Groupings to compute; others stay empty.
    pub by: Vec<Heading>,
}

impl Default for EffortRule {
    /// 5 m to each side, cells of 100 m, bands of 100 m, by everything.
    fn default() -> Self {
        let by = vec![Heading::Day, Heading::Week, Heading::Cell, Heading::Band];
        Self { half_width: Metres(5.0), cell: Metres(100.0), band: Metres(100.0), by }
    }
}

/// The effort of many outings. Tallies are added one by one, so that many years of tracks are never
/// in memory at once.
///
/// Areas are kept as sets, so that ground that was searched on several outings counts once in each group.
#[derive(Clone, Debug)]
pub struct Ledger {
    plane: EqualArea,
    rule: EffortRule,
    total: Account,
    days: BTreeMap<Date, Account>,
    weeks: BTreeMap<Date, Account>,
    months: BTreeMap<Date, Account>,
    years: BTreeMap<Date, Account>,
    cells: BTreeMap<(i64, i64), Effort>,
    bands: BTreeMap<Option<i64>, Account>,
}

/// Effort of one group, with the area searched so far.
#[derive(Clone, Debug)]
struct Account {
    effort: Effort,
    searched_area: SearchedArea,
}

impl Account {
    fn new(rule: &EffortRule) -> Self {
        Self { effort: Effort::default(), searched_area: SearchedArea::new(rule.half_width.0) }
    }

    fn add(&mut self, effort: Effort, searched_area: &SearchedArea) {
        self.effort += effort;
        self.searched_area.absorb(searched_area);
    }

    /// The same, taking ownership where the group is empty.
    fn take(&mut self, effort: Effort, searched_area: SearchedArea) {
        if self.searched_area.is_empty() {
            self.effort += effort;
            self.searched_area = searched_area;
        } else {
            self.add(effort, &searched_area);
        }
    }

    fn closed(mut self) -> Effort {
        self.effort.area = self.searched_area.area();
        self.effort
    }
}

/// Effort by all groupings.
#[derive(Clone, Debug)]
pub struct EffortReport {
    /// Everything.
    pub total: Effort,
    /// By local date.
    pub days: Vec<(Date, Effort)>,
    /// By week, keyed by its Monday.
    pub weeks: Vec<(Date, Effort)>,
    /// By month, keyed by its first day.
    pub months: Vec<(Date, Effort)>,
    /// By year, keyed by its first day.
    pub years: Vec<(Date, Effort)>,
    /// By square cell, keyed by its centre.
    pub cells: Vec<(LatLon, Effort)>,
    /// By band of elevation, keyed by its lower bound in metres.
    pub bands: Vec<(Metres, Effort)>,
    /// Effort at unknown elevation.
    pub no_height: Effort,
}

impl Ledger {
    /// An empty ledger on this plane.
    #[must_use]
    pub fn new(plane: EqualArea, rule: EffortRule) -> Self {
        Self {
            plane,
            total: Account::new(&rule),
            rule,
            days: BTreeMap::new(),
            weeks: BTreeMap::new(),
            months: BTreeMap::new(),
            years: BTreeMap::new(),
            cells: BTreeMap::new(),
            bands: BTreeMap::new(),
        }
    }

    /// Adds one outing, tallied on the same plane with the same options.
    pub fn add(&mut self, tally: Tally) {
        let rule = &self.rule;
        let wants = |heading| rule.by.contains(&heading);
        self.total.add(tally.total, &tally.searched_area);
        for (key, effort) in tally.cells {
            *self.cells.entry(key).or_default() += effort;
        }
        for (band, (effort, searched_area)) in tally.bands {
            self.bands
                .entry(band)
                .or_insert_with(|| Account::new(rule))
                .take(effort, searched_area);
        }
        for (heading, accounts, key) in [
            (Heading::Week, &mut self.weeks, monday(tally.date)),
            (Heading::Month, &mut self.months, tally.date.first_of_month()),
            (Heading::Year, &mut self.years, tally.date.first_of_year()),
        ] {
            if tally.total.outings > 0 && wants(heading) {
                let account = accounts.entry(key).or_insert_with(|| Account::new(rule));
                account.add(tally.total, &tally.searched_area);
            }
        }
        if tally.total.outings > 0 && wants(Heading::Day) {
            let day = self.days.entry(tally.date).or_insert_with(|| Account::new(rule));
            day.take(tally.total, tally.searched_area);
        }
    }

    /// Area searched within a distance of each site's centre, square metres.
    pub fn area_at(&mut self, sites: &[Site], within: Metres) -> Vec<f64> {
        let plane = self.plane;
        let searched_area = &mut self.total.searched_area;
        searched_area.settle();
        sites
            .iter()
            .map(|site| searched_area.area_within(plane.to_plane(site.at), within.0))
            .collect()
    }

    /// Computes the totals.
    #[must_use]
    pub fn report(mut self) -> EffortReport {
        let cell = self.rule.cell.0.max(1.0);
        if self.rule.by.contains(&Heading::Cell) {
            for (key, area) in self.total.searched_area.area_by_cell(cell) {
                self.cells.entry(key).or_default().area = area;
            }
        }
        let plane = self.plane;
        let middle =
            |(x, y): (i64, i64)| plane.from_plane((x as f64 + 0.5) * cell, (y as f64 + 0.5) * cell);
        let closed = |accounts: BTreeMap<Date, Account>| {
            accounts.into_iter().map(|(date, account)| (date, account.closed())).collect()
        };
        let no_height = self.bands.remove(&None).map(Account::closed).unwrap_or_default();
        let height = self.rule.band;
        EffortReport {
            total: self.total.closed(),
            days: closed(self.days),
            weeks: closed(self.weeks),
            months: closed(self.months),
            years: closed(self.years),
            cells: self.cells.into_iter().map(|(key, effort)| (middle(key), effort)).collect(),
            bands: self
                .bands
                .into_iter()
                .filter_map(|(band, account)| Some((height * band? as f64, account.closed())))
                .collect(),
            no_height,
        }
    }
}

/// The Monday of the week of a date.
#[must_use]
pub fn monday(date: Date) -> Date {
    let back = i64::from(date.weekday().to_monday_zero_offset());
    date.checked_sub(jiff::Span::new().days(back)).unwrap_or(date)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::walk::Walk;
    use crate::model::{Activity, TrackPoint};
    use crate::units::{GpsHeight, Radius95};
    use jiff::Timestamp;
    use jiff::civil::date;
    use uuid::Uuid;

    fn walk(day: i8, activities: &[Activity]) -> Walk {
        let points = activities
            .iter()
            .enumerate()
            .map(|(i, activity)| TrackPoint {
                time: Timestamp::from_second(1_777_000_000 + 60 * i64::try_from(i).unwrap())
                    .unwrap(),
                at: LatLon::clamped(-42.0 + 50.0 * i as f64 / 111_080.0, 146.0),
                height: Some(GpsHeight(Metres(480.0 + 10.0 * i as f64))),
                radius: Radius95::new(Metres(8.0)).unwrap(),
                activity: *activity,
                gap_after: false,
            })
            .collect();
        Walk::straight(Uuid::from_u128(u128::try_from(day).unwrap()), date(2026, 5, day), points)
    }

    #[test]
    fn effort_is_reported_by_day_week_cell_and_band() {
        let plane = EqualArea::about(LatLon::clamped(-42.0, 146.0));
        let mut ledger = Ledger::new(plane, EffortRule::default());
        for day in [1, 2] {
            let activities = [
                Activity::Walking,
                Activity::Walking,
                Activity::Searching,
                Activity::Stationary,
                Activity::Searching,
            ];
            ledger
                .add(Tally::of(&walk(day, &activities), &plane, &EffortRule::default(), |_| None));
        }
        let report = ledger.report();
        assert_eq!(report.total.outings, 2);
        assert!((report.total.time.0 - 480.0).abs() < 1e-6);
        assert!((report.total.searched.0 - 240.0).abs() < 1e-6);
        assert!((report.total.searched_length.0 - 200.0).abs() < 0.3);
        // both days searched the same 100 m: counted once in all, once on each day
        let strip = 100.0 * 10.0 + std::f64::consts::PI * 25.0;
        assert!((report.total.area / strip - 1.0).abs() < 5e-3, "{}", report.total.area);
        assert_eq!(report.days.len(), 2);
        assert!((report.days[1].1.area / strip - 1.0).abs() < 5e-3);
        assert_eq!(report.weeks[0].0, date(2026, 4, 27));
        assert!(report.months.is_empty() && report.years.is_empty());
        let cells: f64 = report.cells.iter().map(|(_, effort)| effort.time.0).sum();
        let searched_area: f64 = report.cells.iter().map(|(_, effort)| effort.area).sum();
        assert!(
            (cells - 480.0).abs() < 1e-6 && (searched_area / report.total.area - 1.0).abs() < 1e-9
        );
        assert_eq!(report.bands.iter().map(|(low, _)| low.0).collect::<Vec<_>>(), [400.0, 500.0]);
        assert!((report.bands[0].1.time.0 - 240.0).abs() < 1e-6);
    }

    #[test]
    fn months_and_years_count_each_place_once() {
        let plane = EqualArea::about(LatLon::clamped(-42.0, 146.0));
        let rule = EffortRule { by: vec![Heading::Month, Heading::Year], ..EffortRule::default() };
        let mut ledger = Ledger::new(plane, rule.clone());
        let activities = [Activity::Searching, Activity::Searching, Activity::Searching];
        for day in [1, 2, 30] {
            ledger.add(Tally::of(&walk(day, &activities), &plane, &rule, |_| None));
        }
        let report = ledger.report();
        for (result, first) in
            [(&report.months, date(2026, 5, 1)), (&report.years, date(2026, 1, 1))]
        {
            assert_eq!((result.len(), result[0].0, result[0].1.outings), (1, first, 3));
            assert!((result[0].1.area / report.total.area - 1.0).abs() < 1e-9);
        }
    }

    #[test]
    fn a_week_begins_on_monday() {
        assert_eq!(monday(date(2026, 5, 3)), date(2026, 4, 27));
        assert_eq!(monday(date(2026, 5, 4)), date(2026, 5, 4));
    }
}
