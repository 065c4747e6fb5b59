//! Converts dates to phases of a circular year. Layer: `analyse`.

use jiff::civil::Date;

use super::DayEstimate;

/// The share of its year that a date's middle has reached: 0 to 1, leap years or not.
///
/// # Examples
/// ```
/// use jiff::civil::date;
/// use trug::analyse::season::{day_of_year, day_words, phase};
///
/// // the same phase in a leap year and in another, to a fraction of a day
/// assert!((phase(date(2024, 7, 1)) - phase(date(2025, 7, 1))).abs() < 0.003);
/// assert_eq!(day_words(day_of_year(phase(date(2025, 5, 12)))), "12 May");
/// ```
#[must_use]
pub fn phase(date: Date) -> f64 {
    (f64::from(date.day_of_year()) - 0.5) / f64::from(date.days_in_year())
}

/// The day of a year of 365 days at this share of it: 1 (from 0.5) to 365 (to 365.5).
#[must_use]
pub fn day_of_year(phase: f64) -> f64 {
    let day = phase.rem_euclid(1.0) * 365.0 + 0.5;
    (day * 10.0).round() / 10.0
}

/// The season a date belongs to, named by the year in which it begins, for a year of the taxon that
/// begins at `cut`.
pub(in crate::analyse) fn season_year(date: Date, cut: f64) -> i32 {
    let year = i32::from(date.year());
    // a cut in the second half of the year begins the season that is named by the next
    let offset = i32::from(cut >= 0.5);
    if phase(date) >= cut { year + offset } else { year - 1 + offset }
}

/// The calendar year in which the season of a date begins.
pub(super) fn season_start(date: Date, cut: f64) -> i32 {
    i32::from(date.year()) - i32::from(phase(date) < cut)
}

/// An estimate in days from the cut as days of the year.
pub(in crate::analyse) fn along(cut: f64, at: f64, low: f64, high: f64) -> DayEstimate {
    // an interval longer than a year covers the whole year
    let hold = |days: f64| days.clamp(at - 182.0, at + 182.0) / 365.0;
    DayEstimate {
        day: day_of_year(cut + at / 365.0),
        low95: day_of_year(cut + hold(low)),
        high95: day_of_year(cut + hold(high)),
    }
}

/// The months with the first day of the year of each.
pub const MONTHS: [(&str, u16); 12] = [
    ("Jan", 1),
    ("Feb", 32),
    ("Mar", 60),
    ("Apr", 91),
    ("May", 121),
    ("Jun", 152),
    ("Jul", 182),
    ("Aug", 213),
    ("Sep", 244),
    ("Oct", 274),
    ("Nov", 305),
    ("Dec", 335),
];

/// A day of the year in words: `12 May`.
#[must_use]
pub fn day_words(day: f64) -> String {
    let day = day.round().clamp(1.0, 365.0);
    let (name, first) = MONTHS
        .iter()
        .rev()
        .find(|(_, first)| f64::from(*first) <= day)
        .copied()
        .unwrap_or(MONTHS[0]);
    format!("{:.0} {name}", day - f64::from(first) + 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn days_are_reported_alike_in_all_years() {
        assert_eq!(day_of_year(phase(date(2026, 5, 3))), 123.0);
        assert_eq!(day_of_year(phase(date(2026, 1, 1))), 1.0);
        assert_eq!(day_of_year(phase(date(2026, 12, 31))), 365.0);
        assert!((day_of_year(phase(date(2024, 12, 31))) - 365.0).abs() <= 0.1);
    }

    #[test]
    fn a_season_across_new_year_is_one() {
        let cut = 0.6;
        assert_eq!(season_year(date(2025, 12, 20), cut), season_year(date(2026, 1, 20), cut));
        assert_eq!(season_year(date(2026, 1, 20), cut), 2026);
        assert_eq!(season_year(date(2026, 5, 1), 0.1), 2026);
    }
}
