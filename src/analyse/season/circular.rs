//! Computes circular statistics of dates within the year: circular mean, concentration and the
//! Rayleigh test. Layer: `analyse`.
//!
//! # References
//! Fisher 1993, Statistical Analysis of Circular Data, 2.3 and 4.3; Zar 2010, Biostatistical
//! Analysis, 5th ed., equation 27.4 (the probability).

use serde::Serialize;

/// A mean direction with its concentration.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Circular {
    /// The mean, as a share of the circle: 0 (included) to 1 (excluded).
    pub mean: f64,
    /// The mean resultant length: 0 for evenly spread, 1 for all at one point.
    pub resultant: f64,
    /// The p-value of the Rayleigh test of uniform directions. Not meaningful where the search
    /// effort is seasonal.
    pub rayleigh: f64,
    /// How many.
    pub count: usize,
}

/// The circular mean of shares of a circle; `None` where there are none, or they cancel out.
///
/// # Examples
/// Six dates about New Year, as days of 365.25:
///
/// ```
/// use trug::analyse::season::circular;
///
/// let days = [350.0, 355.0, 360.0, 5.0, 10.0, 15.0].map(|day| day / 365.25);
/// let about = circular::mean(&days).ok_or("no mean")?;
/// assert!((about.mean * 365.25 - 365.1).abs() < 0.1);
/// assert!((about.resultant - 0.9824).abs() < 1e-4);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn mean(shares: &[f64]) -> Option<Circular> {
    let turn = 2.0 * std::f64::consts::PI;
    let (sine, cosine) = shares.iter().fold((0.0, 0.0), |(s, c), share| {
        let (sine, cosine) = (share * turn).sin_cos();
        (s + sine, c + cosine)
    });
    let n = shares.len() as f64;
    let length = f64::hypot(sine, cosine);
    if length < 1e-9 {
        return None;
    }
    let mean = (sine.atan2(cosine) / turn).rem_euclid(1.0);
    let rayleigh =
        ((1.0 + 4.0 * n + 4.0 * (n * n - length * length)).sqrt() - (1.0 + 2.0 * n)).exp().min(1.0);
    Some(Circular { mean, resultant: length / n, rayleigh, count: shares.len() })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn dates_about_new_year_have_their_mean_there() {
        let shares: Vec<f64> = [350.0, 355.0, 360.0, 5.0, 10.0, 15.0].map(|d| d / 365.25).to_vec();
        let circular = mean(&shares).unwrap();
        assert!((circular.mean * 365.25 - 365.1).abs() < 0.05, "{circular:?}");
        assert!((circular.resultant - 0.9824).abs() < 5e-5);
    }

    #[test]
    fn opposite_dates_have_no_mean() {
        assert_eq!(mean(&[0.0, 0.5]), None);
        assert_eq!(mean(&[]), None);
    }
}
