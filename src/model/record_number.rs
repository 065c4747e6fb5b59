//! Compares the numbers of records, alone and in ranges. Layer: `model`.

use std::fmt;

use serde::{Deserialize, Serialize};

/// The collector's number, kept as written; compared by its letters and its number.
///
/// # Examples
/// ```
/// use trug::model::RecordNumber;
///
/// let number = RecordNumber("TH-0017".into());
/// assert_eq!((number.series(), number.ordinal()), ("TH-", Some(17)));
/// assert!(number.means("th 17"));
/// assert!(!number.means("TH-0018"));
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(transparent)]
pub struct RecordNumber(pub String);

impl RecordNumber {
    /// The number's digits at its end, for finding gaps in a series: 17 for `TH-0017`.
    #[must_use]
    pub fn ordinal(&self) -> Option<u64> {
        let digits = self.unmarked().rsplit(|c: char| !c.is_ascii_digit()).next()?;
        digits.parse().ok()
    }

    /// What stands before the digits at its end: `TH-` for `TH-0017`.
    #[must_use]
    pub fn series(&self) -> &str {
        self.unmarked().trim_end_matches(|c: char| c.is_ascii_digit())
    }

    /// Without a mark behind its digits: `4*`.
    fn unmarked(&self) -> &str {
        self.0.trim_end_matches([' ', '*', '\u{a0}'])
    }

    fn mark(&self) -> &str {
        self.0[self.unmarked().len()..].trim()
    }

    /// Whether another way of writing means the same number: case, spaces, hyphens and leading
    /// zeros aside.
    #[must_use]
    pub fn means(&self, written: &str) -> bool {
        let other = Self(written.to_owned());
        match (self.ordinal(), other.ordinal()) {
            (Some(a), Some(b)) => {
                a == b && bare(self.series()) == bare(other.series()) && self.mark() == other.mark()
            }
            _ => bare(&self.0) == bare(written),
        }
    }
}

/// One number or a range of numbers of one series, as a user asks for them.
///
/// # Examples
/// ```
/// use trug::model::{NumberChoice, RecordNumber};
///
/// let choice = NumberChoice::read("TH-0017..30");
/// assert!(choice.holds(&RecordNumber("TH-0030".into())));
/// assert!(!choice.holds(&RecordNumber("TH-0031".into())));
/// assert!(!choice.holds(&RecordNumber("MB-0020".into())));
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NumberChoice {
    /// This number, however it is written.
    One(String),
    /// From the first to the second, both included.
    Range(RecordNumber, RecordNumber),
}

impl NumberChoice {
    /// Reads `TH-0017`, or `TH-0017..TH-0030`, also with ` to ` between and with the bare digits of the
    /// last number. Anything else is one number.
    #[must_use]
    pub fn read(text: &str) -> Self {
        let parts = text.split_once("..").or_else(|| text.split_once(" to "));
        let Some((first, last)) = parts else { return Self::One(text.to_owned()) };
        let first = RecordNumber(first.trim().to_owned());
        let last = last.trim_matches(['.', ' ']);
        let digits_only = !last.is_empty() && last.bytes().all(|byte| byte.is_ascii_digit());
        let last = if digits_only { format!("{}{last}", first.series()) } else { last.to_owned() };
        let last = RecordNumber(last);
        let one_series = bare(first.series()) == bare(last.series());
        if one_series && first.ordinal().is_some() && last.ordinal().is_some() {
            Self::Range(first, last)
        } else {
            Self::One(text.to_owned())
        }
    }

    /// Whether a number is meant.
    #[must_use]
    pub fn holds(&self, number: &RecordNumber) -> bool {
        match self {
            Self::One(written) => number.means(written),
            Self::Range(first, last) => {
                bare(number.series()) == bare(first.series())
                    && number.ordinal().is_some_and(|ordinal| {
                        first.ordinal().is_some_and(|first| first <= ordinal)
                            && last.ordinal().is_some_and(|last| ordinal <= last)
                    })
            }
        }
    }
}

fn bare(text: &str) -> String {
    text.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

impl fmt::Display for RecordNumber {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_compared_ignoring_case_and_zeros() {
        let number = RecordNumber("TH-0017".into());
        assert_eq!(number.ordinal(), Some(17));
        assert_eq!(number.series(), "TH-");
        assert!(number.means("th 17"));
        assert!(!number.means("TH-170"));
        assert!(!number.means("17"));
        // a mark is no part of the series, and tells two numbers apart
        let marked = RecordNumber("4*".into());
        assert_eq!((marked.ordinal(), marked.series()), (Some(4), ""));
        assert!(marked.means("04*") && !marked.means("4"));
    }

    #[test]
    fn a_range_of_numbers_holds_those_of_its_series() {
        let number = |text: &str| RecordNumber(text.into());
        for range in ["TH-0017..TH-0030", "th 17 .. 30", "TH17 to TH30", "TH-17...TH-30"] {
            let choice = NumberChoice::read(range);
            assert!(choice.holds(&number("TH-0017")) && choice.holds(&number("TH 30")), "{range}");
            assert!(!choice.holds(&number("TH-0031")) && !choice.holds(&number("AQ-0020")));
        }
        assert_eq!(NumberChoice::read("TH-0017"), NumberChoice::One("TH-0017".into()));
        assert_eq!(NumberChoice::read("TH-1..AQ-2"), NumberChoice::One("TH-1..AQ-2".into()));
    }
}
