//! Converts instants to seconds since the day's origin and back. A day of fixes is computed in `f64`
//! seconds (a microsecond of resolution over a century). Layer: `join`.

use crate::units::{Seconds, Timestamp};

/// The instant from which a day counts its seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Origin(pub(crate) Timestamp);

impl Origin {
    /// Seconds from the origin to an instant.
    pub(crate) fn seconds(self, instant: Timestamp) -> f64 {
        Seconds::between(self.0, instant).0
    }

    /// The instant so many seconds after the origin.
    pub(crate) fn instant(self, seconds: f64) -> Timestamp {
        Seconds(seconds).after(self.0)
    }
}

/// The median; `None` if empty. Reorders what it is given.
pub(crate) fn median(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let (middle, odd) = (values.len() / 2, values.len() % 2 == 1);
    let (below, &mut upper, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    if odd {
        return Some(upper);
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(f64::midpoint(lower, upper))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn median_of_an_even_count_is_the_midpoint() {
        assert_eq!(median(&mut [3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(median(&mut [4.0, 1.0, 2.0, 3.0]), Some(2.5));
        assert_eq!(median(&mut []), None);
    }
}
