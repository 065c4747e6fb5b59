//! Computes the part of the year that season figures show: the searched weeks, on one axis for all panels.
//! Layer: `present`.

use crate::analyse::season::{MONTHS, Season};
use crate::present::chart::Axis;

/// Days shown beyond the searched ones.
const MARGIN: u16 = 7;

/// A part of the year, in days from its first one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SeasonAxis {
    /// Day of the year at the left.
    pub first: u16,
    /// How many days are shown, at most 365.
    pub days: u16,
}

impl SeasonAxis {
    /// The shortest part of the year that holds every day searched, or with a find, in any of the
    /// seasons.
    #[must_use]
    pub fn of<'a>(seasons: impl IntoIterator<Item = &'a Season>) -> Self {
        let mut wanted = [false; 365];
        for season in seasons {
            for day in season.curve.iter().filter(|day| day.searched) {
                wanted[usize::from(day.day - 1) % 365] = true;
            }
            for week in season.weeks.iter().filter(|week| week.finds > 0 || week.hours > 0.0) {
                for day in week.day..week.day + 7 {
                    wanted[usize::from(day - 1) % 365] = true;
                }
            }
        }
        Self::about(&wanted)
    }

    /// The part of the year outside of the longest run of unwanted days.
    fn about(wanted: &[bool; 365]) -> Self {
        let run = |start: usize| (0..365).take_while(|by| !wanted[(start + by) % 365]).count();
        let longest = (0..365_usize)
            .filter(|start| wanted[(start + 364) % 365])
            .map(|start| (start, run(start)))
            .max_by_key(|(start, length)| (*length, std::cmp::Reverse(*start)));
        let whole = Self { first: 1, days: 365 };
        let Some((start, length)) = longest else { return whole };
        let (Ok(start), Ok(length)) = (u16::try_from(start), u16::try_from(length)) else {
            return whole;
        };
        if length <= 4 * MARGIN {
            // hardly anything to leave out
            return Self { first: (start + length) % 365 + 1, days: 365 };
        }
        Self { first: (start + length + 365 - MARGIN) % 365 + 1, days: 365 - length + 2 * MARGIN }
    }

    /// Days from the left edge.
    #[must_use]
    pub fn after(self, day: f64) -> f64 {
        (day - f64::from(self.first)).rem_euclid(365.0)
    }

    /// Whether the axis holds the day.
    #[must_use]
    pub fn holds(self, day: f64) -> bool {
        self.after(day) <= f64::from(self.days)
    }

    /// Whether New Year lies within.
    #[must_use]
    pub fn crosses_new_year(self) -> bool {
        self.first > 1 && self.first + self.days > 366
    }

    /// The axis with the first of each month, and tenths of months where there is room.
    #[must_use]
    pub fn drawn(self, titled: bool) -> Axis {
        let within: &[u16] = match self.days {
            0..=75 => &[0, 10, 20],
            76..=140 => &[0, 14],
            _ => &[0],
        };
        let mut ticks: Vec<(f64, String)> = Vec::new();
        for (name, first) in MONTHS {
            for by in within {
                let at = self.after(f64::from(first + by));
                if at > f64::from(self.days) {
                    continue;
                }
                let words = match by {
                    0 => name.to_owned(),
                    by => (by + 1).to_string(),
                };
                ticks.push((at, if titled { words } else { String::new() }));
            }
        }
        ticks.sort_by(|a, b| a.0.total_cmp(&b.0));
        Axis { ticks, ..Axis::bare(0.0, f64::from(self.days)) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wanted(from: u16, until: u16) -> [bool; 365] {
        let mut days = [false; 365];
        let mut day = from;
        loop {
            days[usize::from(day - 1)] = true;
            if day == until {
                return days;
            }
            day = day % 365 + 1;
        }
    }

    #[test]
    fn axis_is_cropped_to_the_searched_days() {
        let autumn = SeasonAxis::about(&wanted(98, 195));
        assert_eq!(autumn, SeasonAxis { first: 91, days: 112 });
        assert!(autumn.holds(98.0) && autumn.holds(195.0) && !autumn.holds(80.0));
        assert!(!autumn.crosses_new_year());
        let ticks = autumn.drawn(true).ticks;
        assert_eq!(ticks.first().map(|tick| tick.1.as_str()), Some("Apr"));
        assert!(ticks.iter().any(|tick| tick.1 == "15"));
    }

    #[test]
    fn axis_goes_across_new_year_and_may_be_the_whole_year() {
        let summer = SeasonAxis::about(&wanted(330, 40));
        assert_eq!(summer, SeasonAxis { first: 323, days: 90 });
        assert!(summer.crosses_new_year() && summer.holds(1.0) && !summer.holds(200.0));
        assert_eq!(SeasonAxis::about(&[true; 365]).days, 365);
        assert_eq!(SeasonAxis::about(&[false; 365]), SeasonAxis { first: 1, days: 365 });
        let mut nearly = [true; 365];
        nearly[100..110].fill(false);
        assert_eq!(SeasonAxis::about(&nearly).days, 365);
    }
}
