//! Counts days without a value within a series. Layer: `analyse`.

use jiff::ToSpan;
use jiff::civil::Date;
use serde::Serialize;

/// Days of a series with and without a value.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Gaps {
    /// The first day with a value.
    pub first: Option<Date>,
    /// The last one.
    pub last: Option<Date>,
    /// Days with a value.
    pub days: usize,
    /// Days without one between the first and the last.
    pub missing: usize,
    /// Runs of such days.
    pub gaps: usize,
    /// The longest of them, days.
    pub longest: usize,
    /// Its first day.
    pub longest_from: Option<Date>,
}

/// The gaps of a series of one entry a day.
#[must_use]
pub fn gaps(first: Date, known: impl IntoIterator<Item = bool>) -> Gaps {
    let date = |place: usize| first.checked_add(i64::try_from(place).unwrap_or(0).days()).ok();
    let mut found = Gaps::default();
    let mut last = None;
    for (place, known) in known.into_iter().enumerate() {
        if !known {
            continue;
        }
        if let Some(last) = last
            && place > last + 1
        {
            let length = place - last - 1;
            found.missing += length;
            found.gaps += 1;
            if length > found.longest {
                (found.longest, found.longest_from) = (length, date(last + 1));
            }
        }
        found.first = found.first.or(date(place));
        found.last = date(place);
        found.days += 1;
        last = Some(place);
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn gaps_lie_between_the_first_and_the_last_value() {
        let known = [false, true, false, false, true, false, true, false];
        let found = gaps(date(2026, 2, 27), known);
        assert_eq!((found.days, found.missing, found.gaps, found.longest), (3, 3, 2, 2));
        assert_eq!(found.longest_from, Some(date(2026, 3, 1)));
        assert_eq!((found.first, found.last), (Some(date(2026, 2, 28)), Some(date(2026, 3, 5))));
        assert_eq!(gaps(date(2026, 1, 1), [false]), Gaps::default());
    }
}
