//! Detects a season that reaches to the end of the searched period. A peak or limit reported there
//! would describe the search, not the taxon. Layer: `analyse`.

use serde::Serialize;

use super::DayEstimate;
use super::limits::Limit;
use super::rate::{Curve, KNOTS, basis};
use crate::model::SeasonNote;

/// Days around an outing that count as searched.
pub(super) const NEAR: u16 = 10;

/// Where the searched period does not cover the season.
///
/// A collector who only goes out in October finds everything in October. These flags keep such a search from being
/// reported as a season.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
#[allow(clippy::struct_excessive_bools, reason = "four sides, each open or not")]
pub struct Edges {
    /// The peak may be earlier than anybody searched.
    pub peak_early: bool,
    /// The peak may be later than anybody searched.
    pub peak_late: bool,
    /// The season may begin earlier than anybody searched.
    pub onset: bool,
    /// The season may end later than anybody searched.
    pub end: bool,
    /// The first day of outings about the season, where not all the year was searched.
    pub first_search: Option<f64>,
    /// The last day of outings about the season.
    pub last_search: Option<f64>,
}

/// An unbroken searched part of the year; days are 0 to 364.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Stretch {
    first: u16,
    last: u16,
}

impl Stretch {
    /// The one about a day of the year; `None` when the whole year was searched or not this day.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a day of a year")]
    pub(super) fn about(searched: &[bool; 365], day: f64) -> Option<Self> {
        let day = (day.round() as i32 - 1).rem_euclid(365) as usize;
        if searched.iter().all(|searched| *searched) || !searched[day] {
            return None;
        }
        let on = |by: usize| (day + by) % 365;
        let back = |by: usize| (day + 365 - by) % 365;
        let later = (0..365).take_while(|by| searched[on(*by)]).last().unwrap_or(0);
        let earlier = (0..365).take_while(|by| searched[back(*by)]).last().unwrap_or(0);
        Some(Self { first: back(earlier) as u16, last: on(later) as u16 })
    }

    /// The days of the year of its first and last outing.
    pub(super) fn outings(self) -> (f64, f64) {
        let day = |index: u16| f64::from(index % 365) + 1.0;
        (day(self.first + NEAR), day(self.last + 365 - NEAR))
    }

    /// Whether a day is no later than the first outing.
    fn begins_at(self, day: f64) -> bool {
        (day - 1.0 - f64::from(self.first) + 0.5).rem_euclid(365.0) - 0.5 <= f64::from(NEAR)
    }

    /// Whether a day is no earlier than the last outing.
    fn ends_at(self, day: f64) -> bool {
        (f64::from(self.last) - day + 1.0 + 0.5).rem_euclid(365.0) - 0.5 <= f64::from(NEAR)
    }
}

impl Edges {
    /// Notes where the search around the finds ends, unless the peak note covers it.
    pub(super) fn searched(&mut self, searched: &[bool; 365], from: f64, until: f64) {
        if searched.iter().any(|searched| !searched) {
            self.first_search.get_or_insert(from.round());
            self.last_search.get_or_insert(until.round());
        }
    }
}

/// The days from the first to the last outing of each searched part: days beyond are not known from any outing, and
/// the curve runs on there by its smoothness alone.
pub(super) fn between_outings(searched: &[bool; 365]) -> [bool; 365] {
    let near = usize::from(NEAR);
    std::array::from_fn(|day| (0..=2 * near).all(|by| searched[(day + 365 + by - near) % 365]))
}

/// The share of the peak rate above which a rate at the edge may still be rising (project choice).
const HIGH: f64 = 0.5;

/// The peak restricted to the searched period. Where it lies at an edge, or the rate at an edge is
/// at least half of it and not significantly lower, its interval is widened to all searched days
/// for which that holds.
pub(super) fn peak(
    searched: &[bool; 365],
    peak: DayEstimate,
    curve: &Curve,
    edges: &mut Edges,
) -> DayEstimate {
    let Some(stretch) = Stretch::about(searched, peak.day) else { return peak };
    let (first, last) = stretch.outings();
    let (begins, ends) = (stretch.begins_at(peak.day), stretch.ends_at(peak.day));
    let mut held = peak;
    let (low, high) = not_lower(stretch, peak.day, curve);
    let near_as_high = |day: f64| {
        let rate = |day: f64| curve.rate((day - 0.5) / 365.0);
        rate(day) >= HIGH * rate(peak.day)
    };
    let rises_early = stretch.begins_at(low) && near_as_high(first);
    let rises_late = stretch.ends_at(high) && near_as_high(last);
    if begins || ends || rises_early || rises_late {
        let before = |day: f64| (peak.day - day).rem_euclid(365.0);
        let after = |day: f64| (day - peak.day).rem_euclid(365.0);
        held.low95 = if before(low) > before(peak.low95) { low } else { peak.low95 };
        held.high95 = if after(high) > after(peak.high95) { high } else { peak.high95 };
        if begins || ends {
            held.day = if begins { first } else { last };
        }
    }
    let at = |day: f64, test: fn(Stretch, f64) -> bool| {
        Stretch::about(searched, day).is_some_and(|stretch| test(stretch, day))
    };
    edges.peak_early = begins || rises_early || at(held.low95, Stretch::begins_at);
    edges.peak_late = ends || rises_late || at(held.high95, Stretch::ends_at);
    (edges.first_search, edges.last_search) = (Some(first), Some(last));
    held
}

/// The first and last day of the stretch whose rate is not lower than that of a day by more than
/// 1.96 standard errors of the difference of their logarithms.
fn not_lower(stretch: Stretch, peak: f64, curve: &Curve) -> (f64, f64) {
    const WIDE: f64 = 1.959_964;
    let row = |day: f64| {
        let mut row = vec![0.0; KNOTS];
        for (k, value) in basis((day - 0.5) / 365.0, KNOTS) {
            row[k] += value;
        }
        row
    };
    let top = row(peak);
    let possible = |day: f64| {
        let away: Vec<f64> = row(day).iter().zip(&top).map(|(a, b)| a - b).collect();
        let lower: f64 = away.iter().zip(&curve.coefficients).map(|(a, b)| a * b).sum();
        let mut variance = 0.0;
        for (i, a) in away.iter().enumerate() {
            for (j, b) in away.iter().enumerate() {
                variance += a * b * curve.covariance[i * KNOTS + j];
            }
        }
        lower + WIDE * variance.max(0.0).sqrt() >= 0.0
    };
    let count = (stretch.last + 365 - stretch.first) % 365;
    let day = |on: u16| f64::from((stretch.first + on) % 365) + 1.0;
    let days: Vec<f64> = (0..=count).map(day).filter(|day| possible(*day)).collect();
    (days.first().copied().unwrap_or(peak), days.last().copied().unwrap_or(peak))
}

/// How many days from the cut the search about the first and the last find began and ended.
pub(super) fn searched_about(
    searched: &[bool; 365],
    first_find: (f64, f64),
    last_find: (f64, f64),
) -> (f64, f64) {
    // dates of leap years differ by a fraction of a day
    let ahead = |days: f64| ((days + 2.0).rem_euclid(365.0) - 2.0).max(0.0);
    let back = Stretch::about(searched, first_find.0)
        .map(|stretch| ahead(first_find.0 - stretch.outings().0));
    let on = Stretch::about(searched, last_find.0)
        .map(|stretch| ahead(stretch.outings().1 - last_find.0));
    let all = searched.iter().all(|searched| *searched);
    let unsearched = if all { 365.0 } else { 0.0 };
    (first_find.1 - back.unwrap_or(unsearched), last_find.1 + on.unwrap_or(unsearched))
}

/// The onset, if it lies within the searched period.
pub(super) fn onset(limit: Option<Limit>, from: f64, edges: &mut Edges) -> Option<Limit> {
    edges.onset = limit.is_some_and(|limit| limit.low95 < from);
    limit.filter(|limit| limit.at >= from)
}

/// The end, if it lies within the searched period.
pub(super) fn end(limit: Option<Limit>, until: f64, edges: &mut Edges) -> Option<Limit> {
    edges.end = limit.is_some_and(|limit| limit.high95 > until);
    limit.filter(|limit| limit.at <= until)
}

/// The note on a peak at an end of the searched period.
pub(super) fn remark(edges: &Edges, peak: DayEstimate) -> Option<SeasonNote> {
    let (first_searched, last_searched) = (edges.first_search?, edges.last_search?);
    let (earlier, later) = (edges.peak_early, edges.peak_late);
    (earlier || later).then_some(SeasonNote::PeakAtEnd {
        highest: [first_searched, last_searched].contains(&peak.day),
        first_searched,
        last_searched,
        earlier,
        later,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn from_to(first: usize, last: usize) -> [bool; 365] {
        std::array::from_fn(|day| {
            if first <= last { (first..=last).contains(&day) } else { day >= first || day <= last }
        })
    }

    #[test]
    fn searched_period_continues_across_new_year() {
        let spring = Stretch::about(&from_to(90, 150), 100.0).unwrap();
        assert_eq!(spring.outings(), (101.0, 141.0));
        assert!(spring.begins_at(91.0) && spring.begins_at(101.0) && !spring.begins_at(102.0));
        assert!(spring.ends_at(151.0) && spring.ends_at(141.0) && !spring.ends_at(140.0));
        let winter = Stretch::about(&from_to(340, 30), 1.0).unwrap();
        assert_eq!(winter.outings(), (351.0, 21.0));
        assert!(winter.begins_at(345.0) && winter.ends_at(25.0) && !winter.ends_at(1.0));
        assert_eq!(Stretch::about(&[true; 365], 5.0), None);
        assert_eq!(Stretch::about(&from_to(90, 150), 10.0), None);
    }

    #[test]
    fn limits_outside_of_the_search_are_not_reported() {
        let limit = |at: f64| Some(Limit { at, low95: at - 9.0, high95: at + 2.0, dates: 10 });
        let mut edges = Edges::default();
        assert_eq!(onset(limit(98.0), 100.0, &mut edges), None);
        assert!(edges.onset);
        assert_eq!(onset(limit(105.0), 100.0, &mut edges), limit(105.0));
        assert!(edges.onset);
        assert_eq!(onset(limit(110.0), 100.0, &mut edges), limit(110.0));
        assert!(!edges.onset);
        assert_eq!(end(limit(98.0), 99.0, &mut edges), limit(98.0));
        assert!(edges.end);
        assert_eq!(end(None, 99.0, &mut edges), None);
        assert!(!edges.end);
    }
}
