//! Models how often a date is wrong and by how much, for notebooks, cameras and receivers: correct nearly
//! always; then a day off, another year, day and month exchanged, another month; and default dates of unset
//! clocks. Layer: `join`.

use jiff::civil::Date;

/// The source of a date.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Source {
    Notebook,
    Camera,
    Gps,
}

/// The shares of one source: right, a day off (each side), two days off, another year, day and month
/// changed over, another month, any other given date.
struct Law {
    right: f64,
    day: f64,
    two_days: f64,
    year: f64,
    swapped: f64,
    month: f64,
    any: f64,
    /// A date that several records bear was copied; wrong ones are rarer by this.
    copied: f64,
}

/// Project choice: of the dates of a notebook's days six in a thousand are a day off, fewer are off in year
/// or month. A day with tracks of its own date and of both neighbouring dates is then assigned by the
/// date alone.
const NOTEBOOK: Law = Law {
    right: 0.98,
    day: 0.003,
    two_days: 0.000_5,
    year: 0.001,
    swapped: 0.001,
    month: 0.000_5,
    any: 1e-6,
    copied: 0.3,
};
/// Common practice: a camera keeps its date for years unless its battery was out, which gives any date.
const CAMERA: Law = Law {
    right: 0.97,
    day: 0.004,
    two_days: 0.000_5,
    year: 0.004,
    swapped: 0.002,
    month: 0.001,
    any: 2e-6,
    copied: 1.0,
};
/// A GPS date is right but for a stale one, or one that was written in local time.
const GPS: Law = Law {
    right: 0.99,
    day: 0.003,
    two_days: 1e-5,
    year: 1e-6,
    swapped: 1e-6,
    month: 1e-6,
    any: 1e-6,
    copied: 1.0,
};

/// The share of cameras whose clock starts again at a first of January (common practice: the battery was out), over
/// so many years that makers begin with, and how many days a camera has run since, on the mean.
const RESET: f64 = 0.004;
const FIRST_YEARS: f64 = 30.0;
const DAYS_SINCE: f64 = 3.0;
/// A date is of a clock that started again no longer than this after a first of January, days.
const LONGEST_SINCE: i16 = 20;

impl Source {
    fn law(self) -> &'static Law {
        match self {
            Self::Notebook => &NOTEBOOK,
            Self::Camera => &CAMERA,
            Self::Gps => &GPS,
        }
    }
}

/// The natural logarithm of the share of dates that say `given` on a day that is `truth`.
pub(super) fn log_share(source: Source, given: Date, truth: Date, copies: usize) -> f64 {
    let law = source.law();
    if given == truth {
        return law.right.ln();
    }
    let days = truth.until(given).map_or(i32::MAX, |span| span.get_days().abs());
    let same_day = given.day() == truth.day();
    let same_month = given.month() == truth.month();
    let swapped = given.year() == truth.year()
        && given.month() == truth.day()
        && given.day() == truth.month();
    let mut share = law.any;
    for (holds, of_that) in [
        (days == 1, law.day),
        (days == 2, law.two_days),
        (same_day && same_month, law.year),
        (swapped, law.swapped),
        (same_day && given.year() == truth.year(), law.month),
    ] {
        if holds {
            share = share.max(of_that);
        }
    }
    if source == Source::Camera && is_reset(given, truth) {
        share = share.max(share_of_reset(given));
    }
    let copied = if copies >= 3 { law.copied } else { 1.0 };
    (share * copied).ln()
}

/// The logarithm of the share of wrong dates.
pub(super) fn log_any(source: Source) -> f64 {
    (1.0 - source.law().right).ln()
}

/// Whether a camera's date is that of a clock that started again: soon after a first of January, of a year before.
pub(super) fn is_reset(given: Date, truth: Date) -> bool {
    given.year() < truth.year() && given.day_of_year() <= LONGEST_SINCE
}

/// The share of cameras whose clock started again and shows this date.
fn share_of_reset(given: Date) -> f64 {
    let since = f64::from(given.day_of_year() - 1);
    RESET / FIRST_YEARS * (-since / DAYS_SINCE).exp() * (1.0 - (-1.0 / DAYS_SINCE).exp())
}

/// The same as a logarithm, of a date that is no nearer to any day.
pub(super) fn log_reset(given: Date) -> f64 {
    share_of_reset(given).ln()
}

/// Whether a date may be a writing error for another, as opposed to the date of another day altogether.
pub(super) fn is_slip(given: Date, truth: Date) -> bool {
    given != truth && log_share(Source::Notebook, given, truth, 1) > (10.0 * NOTEBOOK.any).ln()
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;

    #[test]
    fn smaller_date_error_is_more_probable() {
        let truth = date(2026, 10, 7);
        let share = |given| log_share(Source::Notebook, given, truth, 1);
        let order =
            [truth, date(2026, 10, 8), date(2025, 10, 7), date(2026, 10, 9), date(2026, 10, 20)];
        assert!(order.windows(2).all(|pair| share(pair[0]) > share(pair[1])));
        assert!(share(date(2026, 7, 10)) > share(date(2026, 10, 9)));
        assert!(share(date(2026, 9, 7)) > share(date(2026, 9, 8)));
        assert!(
            log_share(Source::Notebook, date(2026, 10, 8), truth, 9) < share(date(2026, 10, 8))
        );
        assert!(is_slip(date(2026, 10, 8), truth) && !is_slip(date(2026, 10, 12), truth));
    }

    #[test]
    fn first_of_january_of_an_earlier_year_is_a_clock_that_started_again() {
        let truth = date(2026, 10, 7);
        let share = |given| log_share(Source::Camera, given, truth, 1);
        assert!(is_reset(date(2015, 1, 1), truth) && !is_reset(date(2026, 1, 1), truth));
        assert!(share(date(2015, 1, 1)) > share(date(2015, 1, 4)));
        assert!(share(date(2015, 1, 4)) > share(date(2015, 6, 4)));
        assert!(share(date(2025, 10, 7)) > share(date(2015, 1, 1)));
    }

    #[test]
    fn shares_of_a_source_sum_to_at_most_one() {
        for source in [Source::Notebook, Source::Camera, Source::Gps] {
            let law = source.law();
            let all = law.right
                + 2.0 * (law.day + law.two_days)
                + 4.0 * law.year
                + law.swapped
                + 11.0 * law.month;
            assert!(all < 1.1, "{source:?}: {all}");
        }
    }
}
