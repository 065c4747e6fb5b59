//! How long and how far was searched, and how much ground was swept: for each day, week, cell and
//! band of elevation, and at each site. Layer: `analyse`.
//!
//! Time and length come from the smoothed way, since noise lengthens a recorded one. What counts as
//! searching is the gait of the way: searching and standing, not walking on.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;

use super::strips::{PlanePoint, Swept};
use super::walk::{Piece, Walk};
use crate::earth::equal_area::EqualArea;
use crate::model::Site;
use crate::units::{LatLon, Metres, Seconds};

/// What was spent on the ground.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Effort {
    /// Time on the way, without gaps.
    pub time: Seconds,
    /// Of that, time searching or standing.
    pub searched: Seconds,
    /// Length of the way.
    pub length: Metres,
    /// Of that, length while searching.
    pub searched_length: Metres,
    /// Ground swept while searching, square metres, each place once.
    pub area: f64,
    /// Outings that have part in it.
    pub outings: usize,
}

/// How effort is reckoned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct EffortRule {
    /// How far to each side of the way the ground is seen.
    pub half_width: Metres,
    /// The size of a cell.
    pub cell: Metres,
    /// The height of a band of elevation.
    pub band: Metres,
}

impl Default for EffortRule {
    /// 5 m to each side, cells of 100 m, bands of 100 m.
    fn default() -> Self {
        Self { half_width: Metres(5.0), cell: Metres(100.0), band: Metres(100.0) }
    }
}

/// The effort of many outings, by what it is asked for. Walks are added one by one, so that a decade
/// of them is never held at once.
#[derive(Clone, Debug)]
pub struct Ledger {
    plane: EqualArea,
    rule: EffortRule,
    total: Account,
    days: BTreeMap<Date, Account>,
    weeks: BTreeMap<Date, Account>,
    cells: BTreeMap<(i64, i64), Account>,
    bands: BTreeMap<i64, Account>,
    no_height: Account,
}

/// Effort under one heading, with the ground swept so far.
#[derive(Clone, Debug, Default)]
struct Account {
    effort: Effort,
    swept: Option<Swept>,
    last: Option<uuid::Uuid>,
}

impl Account {
    fn add(&mut self, piece: &Part, outing: uuid::Uuid) {
        self.effort.time = self.effort.time + piece.time;
        self.effort.length = self.effort.length + piece.length;
        if piece.search {
            self.effort.searched = self.effort.searched + piece.time;
            self.effort.searched_length = self.effort.searched_length + piece.length;
        }
        if self.last != Some(outing) {
            self.last = Some(outing);
            self.effort.outings += 1;
        }
    }

    fn sweep(&mut self, half_width: Metres, run: &[(f64, f64)]) {
        self.swept.get_or_insert_with(|| Swept::new(half_width.0)).add(run);
    }

    fn closed(mut self) -> Effort {
        self.effort.area = self.swept.as_mut().map_or(0.0, Swept::area);
        self.effort
    }
}

/// A short part of a piece: its time and length, and the place of its middle.
struct Part {
    time: Seconds,
    length: Metres,
    search: bool,
    middle: (f64, f64),
    height: Option<f64>,
}

/// Effort by all headings.
#[derive(Clone, Debug)]
pub struct EffortReport {
    /// Everything.
    pub total: Effort,
    /// By local date.
    pub days: Vec<(Date, Effort)>,
    /// By week, named by its Monday.
    pub weeks: Vec<(Date, Effort)>,
    /// By square cell, named by its middle.
    pub cells: Vec<(LatLon, Effort)>,
    /// By band of elevation, named by its lower edge in metres.
    pub bands: Vec<(Metres, Effort)>,
    /// Where no elevation is known.
    pub no_height: Effort,
}

/// An unbroken searched way: points of the plane with the receiver's height.
type Run = Vec<(PlanePoint, Option<f64>)>;

/// Parts are no longer than this, so that each belongs to one cell and band well enough.
const PART: f64 = 10.0;

impl Ledger {
    /// An empty ledger on this plane.
    #[must_use]
    pub fn new(plane: EqualArea, rule: EffortRule) -> Self {
        Self {
            plane,
            rule,
            total: Account::default(),
            days: BTreeMap::new(),
            weeks: BTreeMap::new(),
            cells: BTreeMap::new(),
            bands: BTreeMap::new(),
            no_height: Account::default(),
        }
    }

    /// Adds one outing. `height` gives the elevation of a place where it is known better than by the
    /// receiver; without one the receiver's own height is used.
    pub fn add(&mut self, walk: &Walk, height: impl Fn(LatLon) -> Option<f64>) {
        for piece in walk.pieces() {
            for part in self.parts(&piece, &height) {
                self.enter(walk, &part);
            }
        }
        for run in self.searched_runs(walk) {
            let points: Vec<(f64, f64)> = run.iter().map(|(point, _)| *point).collect();
            self.total.sweep(self.rule.half_width, &points);
            self.days.entry(walk.date).or_default().sweep(self.rule.half_width, &points);
            self.weeks.entry(monday(walk.date)).or_default().sweep(self.rule.half_width, &points);
            self.sweep_bands(&run, &height);
        }
    }

    fn enter(&mut self, walk: &Walk, part: &Part) {
        self.total.add(part, walk.outing);
        self.days.entry(walk.date).or_default().add(part, walk.outing);
        self.weeks.entry(monday(walk.date)).or_default().add(part, walk.outing);
        let cell = self.rule.cell.0.max(1.0);
        let key = (floor(part.middle.0 / cell), floor(part.middle.1 / cell));
        self.cells.entry(key).or_default().add(part, walk.outing);
        match part.height {
            Some(height) => self.bands.entry(self.band(height)).or_default().add(part, walk.outing),
            None => self.no_height.add(part, walk.outing),
        }
    }

    fn band(&self, height: f64) -> i64 {
        floor(height / self.rule.band.0.max(1.0))
    }

    fn parts(&self, piece: &Piece<'_>, height: &impl Fn(LatLon) -> Option<f64>) -> Vec<Part> {
        let (time, length) = (piece.time(), piece.length());
        let count = (length.0 / PART).ceil().clamp(1.0, 1e4);
        (0..floor(count))
            .map(|index| {
                let at = piece.at((index as f64 + 0.5) / count);
                Part {
                    time: Seconds(time.0 / count),
                    length: length / count,
                    search: piece.is_search(),
                    middle: self.plane.to_plane(at),
                    height: height(at).or_else(|| piece.from.height.map(|h| h.0.0)),
                }
            })
            .collect()
    }

    /// The searched ways, each unbroken, on the plane, with the receiver's height.
    fn searched_runs(&self, walk: &Walk) -> Vec<Run> {
        let mut runs: Vec<Run> = Vec::new();
        let mut last_time = None;
        for piece in walk.pieces().filter(Piece::is_search) {
            let own = |point: &crate::model::TrackPoint| {
                (self.plane.to_plane(point.at), point.height.map(|h| h.0.0))
            };
            if last_time != Some(piece.from.time) {
                runs.push(vec![own(piece.from)]);
            }
            if let Some(run) = runs.last_mut() {
                run.push(own(piece.to));
            }
            last_time = Some(piece.to.time);
        }
        runs
    }

    fn sweep_bands(
        &mut self,
        run: &[((f64, f64), Option<f64>)],
        height: &impl Fn(LatLon) -> Option<f64>,
    ) {
        let mut open: Option<(Option<i64>, Vec<PlanePoint>)> = None;
        for (point, own) in run {
            let at = height(self.plane.from_plane(point.0, point.1)).or(*own);
            let band = at.map(|h| self.band(h));
            match &mut open {
                Some((now, points)) if *now == band => points.push(*point),
                _ => {
                    if let Some((band, mut points)) = open.take() {
                        points.push(*point);
                        self.sweep_band(band, &points);
                    }
                    open = Some((band, vec![*point]));
                }
            }
        }
        if let Some((band, points)) = open {
            self.sweep_band(band, &points);
        }
    }

    fn sweep_band(&mut self, band: Option<i64>, points: &[(f64, f64)]) {
        let account = match band {
            Some(band) => self.bands.entry(band).or_default(),
            None => &mut self.no_height,
        };
        account.sweep(self.rule.half_width, points);
    }

    /// Ground swept within a distance of a site's middle, square metres.
    pub fn area_at(&mut self, site: &Site, within: Metres) -> f64 {
        let middle = self.plane.to_plane(site.at);
        self.total.swept.as_mut().map_or(0.0, |swept| swept.area_within(middle, within.0))
    }

    /// Closes the ledger.
    #[must_use]
    pub fn report(mut self) -> EffortReport {
        let cell = self.rule.cell.0.max(1.0);
        let areas =
            self.total.swept.as_mut().map(|swept| swept.area_by_cell(cell)).unwrap_or_default();
        for (key, area) in areas {
            self.cells.entry(key).or_default().effort.area = area;
        }
        let plane = self.plane;
        let middle =
            |(x, y): (i64, i64)| plane.from_plane((x as f64 + 0.5) * cell, (y as f64 + 0.5) * cell);
        EffortReport {
            total: self.total.closed(),
            days: self.days.into_iter().map(|(day, account)| (day, account.closed())).collect(),
            weeks: self.weeks.into_iter().map(|(week, account)| (week, account.closed())).collect(),
            cells: self
                .cells
                .into_iter()
                .map(|(key, account)| (middle(key), account.effort))
                .collect(),
            bands: self
                .bands
                .into_iter()
                .map(|(band, account)| (self.rule.band * band as f64, account.closed()))
                .collect(),
            no_height: self.no_height.closed(),
        }
    }
}

/// The Monday of the week of a date.
#[must_use]
pub fn monday(date: Date) -> Date {
    let back = i64::from(date.weekday().to_monday_zero_offset());
    date.checked_sub(jiff::Span::new().days(back)).unwrap_or(date)
}

#[allow(clippy::cast_possible_truncation, reason = "within the Earth's size")]
fn floor(number: f64) -> i64 {
    number.floor() as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Gait, TrackPoint};
    use crate::units::{GpsHeight, Radius95};
    use jiff::Timestamp;
    use jiff::civil::date;
    use uuid::Uuid;

    fn walk(day: i8, gaits: &[Gait]) -> Walk {
        let points = gaits
            .iter()
            .enumerate()
            .map(|(i, gait)| TrackPoint {
                time: Timestamp::from_second(1_777_000_000 + 60 * i64::try_from(i).unwrap())
                    .unwrap(),
                at: LatLon::clamped(-42.0 + 50.0 * i as f64 / 111_080.0, 146.0),
                height: Some(GpsHeight(Metres(480.0 + 10.0 * i as f64))),
                radius: Radius95::new(Metres(8.0)).unwrap(),
                gait: *gait,
                gap_after: false,
            })
            .collect();
        Walk {
            outing: Uuid::from_u128(u128::try_from(day).unwrap()),
            date: date(2026, 5, day),
            points,
        }
    }

    #[test]
    fn effort_is_told_by_day_week_cell_and_band() {
        let plane = EqualArea::about(LatLon::clamped(-42.0, 146.0));
        let mut ledger = Ledger::new(plane, EffortRule::default());
        ledger.add(
            &walk(1, &[Gait::Walk, Gait::Walk, Gait::Search, Gait::Stand, Gait::Search]),
            |_| None,
        );
        ledger.add(
            &walk(2, &[Gait::Walk, Gait::Walk, Gait::Search, Gait::Stand, Gait::Search]),
            |_| None,
        );
        let report = ledger.report();
        assert_eq!(report.total.outings, 2);
        assert!((report.total.time.0 - 480.0).abs() < 1e-6);
        assert!((report.total.searched.0 - 240.0).abs() < 1e-6);
        assert!((report.total.searched_length.0 - 200.0).abs() < 0.3);
        // both days swept the same 100 m: counted once in all, once on each day
        let strip = 100.0 * 10.0 + std::f64::consts::PI * 25.0;
        assert!((report.total.area / strip - 1.0).abs() < 5e-3, "{}", report.total.area);
        assert_eq!(report.days.len(), 2);
        assert!((report.days[1].1.area / strip - 1.0).abs() < 5e-3);
        assert_eq!(report.weeks[0].0, date(2026, 4, 27));
        let cells: f64 = report.cells.iter().map(|(_, effort)| effort.time.0).sum();
        let swept: f64 = report.cells.iter().map(|(_, effort)| effort.area).sum();
        assert!((cells - 480.0).abs() < 1e-6 && (swept / report.total.area - 1.0).abs() < 1e-9);
        assert_eq!(report.bands.iter().map(|(low, _)| low.0).collect::<Vec<_>>(), [400.0, 500.0]);
        assert!((report.bands[0].1.time.0 - 240.0).abs() < 1e-6);
    }

    #[test]
    fn a_week_begins_on_monday() {
        assert_eq!(monday(date(2026, 5, 3)), date(2026, 4, 27));
        assert_eq!(monday(date(2026, 5, 4)), date(2026, 5, 4));
    }
}
