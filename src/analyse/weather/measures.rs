//! Sums up the weather before a day in single numbers: rain of the last days, days since a soaking,
//! degree-days, frost days. Layer: `analyse`.

use serde::Serialize;

use super::local::LocalDay;

/// A single number of the weather before a day, that day included.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Measure {
    /// Rain of the last 7 days, mm.
    RainWeek,
    /// Rain of the last 14 days, mm.
    RainFortnight,
    /// Rain of the last 28 days, mm.
    RainMonth,
    /// Days since three days together brought at least [`SOAKING`] mm; 60 where none of the last 60.
    SinceSoaking,
    /// Sum over 28 days of the mean temperature above [`BASE`], degree-days.
    DegreeDays,
    /// Days with frost (a minimum below 0 degrees Celsius) of the last 28.
    FrostDays,
}

/// Rain of three days that soaks the ground, mm (project choice).
pub const SOAKING: f64 = 20.0;
/// The base of degree-days, degrees Celsius (common practice in phenology).
pub const BASE: f64 = 5.0;
/// The longest time since a soaking that is looked at, days.
const LOOKED: usize = 60;
/// The share of the days of a sum that must be known; the sum is scaled up for the rest.
const KNOWN: f64 = 0.9;

/// All of them.
pub const MEASURES: [Measure; 6] = [
    Measure::RainWeek,
    Measure::RainFortnight,
    Measure::RainMonth,
    Measure::SinceSoaking,
    Measure::DegreeDays,
    Measure::FrostDays,
];

impl Measure {
    /// The step that an effect is stated for, in the unit of the measure.
    #[must_use]
    pub fn step(self) -> f64 {
        match self {
            Self::RainWeek | Self::RainFortnight | Self::RainMonth => 10.0,
            Self::SinceSoaking => 7.0,
            Self::DegreeDays => 50.0,
            Self::FrostDays => 1.0,
        }
    }

    /// One value for each day.
    #[must_use]
    pub fn series(self, days: &[LocalDay]) -> Vec<Option<f64>> {
        let rain = |day: &LocalDay| day.rain;
        let warm = |day: &LocalDay| day.mean.map(|mean| (mean - BASE).max(0.0));
        let frost = |day: &LocalDay| day.minimum.map(|low| f64::from(u8::from(low < 0.0)));
        match self {
            Self::RainWeek => sums(days, 7, rain),
            Self::RainFortnight => sums(days, 14, rain),
            Self::RainMonth => sums(days, 28, rain),
            Self::DegreeDays => sums(days, 28, warm),
            Self::FrostDays => sums(days, 28, frost),
            Self::SinceSoaking => (0..days.len()).map(|place| since_soaking(days, place)).collect(),
        }
    }
}

/// Sums over so many days up to each; none where too few are known.
fn sums(
    days: &[LocalDay],
    length: usize,
    of: impl Fn(&LocalDay) -> Option<f64>,
) -> Vec<Option<f64>> {
    let (mut sum, mut known) = (0.0, 0_usize);
    (0..days.len())
        .map(|place| {
            if let Some(value) = of(&days[place]) {
                (sum, known) = (sum + value, known + 1);
            }
            if let Some(value) = place.checked_sub(length).and_then(|gone| of(&days[gone])) {
                (sum, known) = (sum - value, known - 1);
            }
            let share = known as f64 / length as f64;
            (place + 1 >= length && share >= KNOWN).then(|| (sum / share).max(0.0))
        })
        .collect()
}

/// Days since the last soaking; none where a gap comes first.
fn since_soaking(days: &[LocalDay], place: usize) -> Option<f64> {
    for back in 0..=LOOKED {
        let end = place.checked_sub(back)?;
        let three: Option<f64> =
            (0..3).map(|before| days.get(end.checked_sub(before)?)?.rain).sum();
        if three? >= SOAKING {
            return Some(back as f64);
        }
    }
    Some(LOOKED as f64)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn days(rain: &[Option<f64>]) -> Vec<LocalDay> {
        rain.iter()
            .map(|rain| LocalDay { rain: *rain, mean: Some(8.0), minimum: Some(-1.0) })
            .collect()
    }

    #[test]
    fn sums_need_nearly_all_days_and_read_no_gap_as_dry() {
        let mut rain = vec![Some(2.0); 20];
        assert_eq!(Measure::RainWeek.series(&days(&rain))[6..8], [Some(14.0), Some(14.0)]);
        assert_eq!(Measure::RainWeek.series(&days(&rain))[5], None);
        rain[15] = None;
        let fortnight = Measure::RainFortnight.series(&days(&rain));
        assert!(
            (fortnight[19].unwrap() - 28.0).abs() < 1e-9,
            "scaled up for the day that is missing"
        );
        assert_eq!(Measure::RainWeek.series(&days(&rain))[16], None);
    }

    #[test]
    fn a_soaking_is_twenty_millimetres_in_three_days() {
        let mut rain = vec![Some(0.0); 80];
        (rain[10], rain[11], rain[12]) = (Some(8.0), Some(8.0), Some(4.0));
        let since = Measure::SinceSoaking.series(&days(&rain));
        assert_eq!((since[12], since[15], since[79]), (Some(0.0), Some(3.0), Some(60.0)));
        assert_eq!(since[11], None, "before there is no 60 days of rain to look at");
        rain[14] = None;
        assert_eq!(Measure::SinceSoaking.series(&days(&rain))[15], None);
    }

    #[test]
    fn degree_days_and_frost_days_are_of_four_weeks() {
        let all = days(&[Some(0.0); 30]);
        assert_eq!(Measure::DegreeDays.series(&all)[29], Some(84.0));
        assert_eq!(Measure::FrostDays.series(&all)[29], Some(28.0));
        assert_eq!(Measure::FrostDays.series(&all)[26], None);
    }
}
