//! Defines the prior of camera clock offsets: most clocks are on local time, some on another zone or on
//! summer time, some on UTC; each is a little fast or slow, and a few were never set. Layer: `join`.

use super::grid::Grid;

/// The scale of a clock's own error and the freedom of its Student law. Ordinary drift is under a
/// second a day, so minutes are half a year unset (published user reports: 0.3 to 0.7 s a day).
const ERROR_SCALE: f64 = 75.0;
const ERROR_FREEDOM: f64 = 1.6;
/// The share of clocks that were set anyhow; and of those whose date is of another day altogether, which started
/// again at any hour.
const SET_ANYHOW: f64 = 0.03;
const STARTED_AGAIN: f64 = 0.95;
/// A date no farther off than this, or by whole years, was set so, days.
const SLIP: f64 = 40.0;
const YEAR: f64 = 365.25;

/// A value that a clock may have been set to, with its share.
pub(super) fn settings(zone: f64, claimed: Option<f64>) -> Vec<(f64, f64)> {
    let mut settings = vec![(0.0, 0.62), (3_600.0, 0.1), (-3_600.0, 0.1), (-zone, 0.06)];
    if let Some(claimed) = claimed {
        settings.push((claimed - zone, 0.5));
    }
    for quarter in -56_i32..=56 {
        let share = match quarter {
            0 => 0.0,
            q if q % 4 == 0 => 0.004,
            q if q % 2 == 0 => 0.000_4,
            _ => 0.000_1,
        };
        settings.push((f64::from(quarter) * 900.0, share));
    }
    let total: f64 = settings.iter().map(|setting| setting.1).sum();
    settings.into_iter().map(|(ahead, share)| (ahead, share / total)).collect()
}

/// The density of an error of the clock itself.
pub(super) fn error_density(error: f64) -> f64 {
    // Student's law; its constant for a freedom of 1.6, from the gamma function
    const CONSTANT: f64 = 0.343_8;
    let ratio = error / ERROR_SCALE;
    CONSTANT / ERROR_SCALE
        * (1.0 + ratio * ratio / ERROR_FREEDOM).powf(-0.5 * (ERROR_FREEDOM + 1.0))
}

/// The log prior at each offset of the grid.
pub(super) fn over(grid: &Grid, zone: f64, claimed: Option<f64>) -> Vec<f64> {
    let whole_days = ((grid.offset(grid.count / 2) - zone) / 86_400.0).round() * 86_400.0;
    let settings = settings(zone, claimed);
    let anyhow = if started_again(whole_days / 86_400.0) { STARTED_AGAIN } else { SET_ANYHOW };
    let mut density = vec![anyhow / grid.count as f64; grid.count];
    let errors: Vec<f64> = (0..=REACH).map(|k| error_density(f64::from(k))).collect();
    let last = i64::try_from(grid.count).unwrap_or(i64::MAX) - 1;
    for (ahead, share) in settings {
        #[allow(clippy::cast_possible_truncation, reason = "within a century of seconds")]
        let centre = (ahead + zone + whole_days - grid.from).round() as i64;
        let reach = i64::from(REACH);
        for k in (centre - reach).max(0)..=(centre + reach).min(last) {
            let (place, error) = (k.unsigned_abs(), (k - centre).unsigned_abs());
            let sum = &mut density[usize::try_from(place).unwrap_or(0)];
            *sum += (1.0 - anyhow) * share * errors[usize::try_from(error).unwrap_or(0)];
        }
    }
    density.into_iter().map(f64::ln).collect()
}

/// Whether a date that is so many days off is no slip of the hand.
fn started_again(days: f64) -> bool {
    let of_years = (days / YEAR).round();
    days.abs() > SLIP && (days - YEAR * of_years).abs() > 2.0
}

/// Errors beyond this are those of a clock that was set anyhow, seconds.
const REACH: u32 = 3_600;

/// The part of an offset that is a zone or daylight saving, the rest being the clock's error.
pub(super) fn zone_part(ahead: f64, zone: f64, claimed: Option<f64>) -> f64 {
    let days = (ahead / 86_400.0).round() * 86_400.0;
    let within = ahead - days;
    let best = settings(zone, claimed)
        .into_iter()
        .max_by(|a, b| {
            let worth = |s: &(f64, f64)| s.1 * error_density(within - s.0);
            worth(a).total_cmp(&worth(b))
        })
        .map_or(0.0, |setting| setting.0);
    days + (best / 900.0).round() * 900.0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clock_error_density_agrees_with_a_general_library() {
        let table = include_str!("../../../tests/reference/data/laws.csv");
        for row in table.lines().filter(|line| line.starts_with("clock_error")) {
            let n: Vec<f64> = row.split(',').skip(1).map(|part| part.parse().unwrap()).collect();
            // the constant has four figures
            assert!((error_density(n[0]) / n[1] - 1.0).abs() < 1e-3, "{row}");
        }
    }

    #[test]
    fn zone_and_clock_error_are_separated() {
        // 23:19:27 shown, 22:19:46 read: an hour of zone and 19 s of error
        let ahead = -3_581.0;
        assert_eq!(zone_part(ahead, 36_000.0, None), -3_600.0);
        assert_eq!(zone_part(3_720.0, 36_000.0, None), 3_600.0);
        assert_eq!(zone_part(-37.0, 36_000.0, None), 0.0);
        assert_eq!(zone_part(420.0, 36_000.0, None), 0.0);
        assert_eq!(zone_part(-35_990.0, 36_000.0, None), -36_000.0);
    }
}
