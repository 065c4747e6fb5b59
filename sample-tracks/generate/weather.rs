//! Generates twenty years of daily weather of an invented station near the reserve, with a gap. In the
//! three autumns it rains on the days after which Tove likes to go out.

use std::fmt::Write as _;

use jiff::civil::{Date, date};

use crate::autumns;
use crate::rng::Rng;

/// A table with ISO dates and headings in words.
pub(crate) fn table() -> String {
    let mut rng = Rng::named("weather of Nettlewick");
    let mut text = "date,rain mm,max temp C,min temp C\n".to_owned();
    let (mut wet, mut warm) = (false, 0.0);
    let mut day = date(2006, 1, 1);
    while day <= date(2026, 6, 30) {
        let chance = if wet { 0.62 } else { 0.24 };
        wet = rng.even() < chance;
        if let Some(fell) = autumns::was_wet(day) {
            wet = fell;
        }
        let depth = -9.0 * (1.0 - rng.even()).ln() * rng.between(0.3, 1.0);
        let rain = if wet { depth.max(0.2) } else { 0.0 };
        warm = 0.75 * warm + rng.normal(1.6);
        let turn = 2.0 * std::f64::consts::PI * f64::from(day.day_of_year()) / 365.25;
        let middle = 9.5 + 5.0 * turn.cos() + warm - if wet { 1.0 } else { 0.0 };
        let half = rng.between(2.5, 6.5);
        row(&mut text, day, rain, (middle + half, middle - half));
        day = day.tomorrow().unwrap_or(Date::MAX);
    }
    text
}

/// The gauge was away in August 2019; on one day of 2024 nobody read it.
fn row(text: &mut String, day: Date, rain: f64, (high, low): (f64, f64)) {
    if (date(2019, 8, 6)..=date(2019, 8, 19)).contains(&day) {
        return;
    }
    let rain = if day == date(2024, 5, 11) { String::new() } else { format!("{rain:.1}") };
    let _ = writeln!(text, "{day},{rain},{high:.1},{low:.1}");
}
