//! Effects that are spread over the days before: cubic B-splines over the lag. Layer: `analyse`.
//!
//! # References
//! Gasparrini, Armstrong & Kenward 2010, Distributed lag non-linear models, Statistics in Medicine
//! 29:2224; Gasparrini, Scheipl, Armstrong & Kenward 2017, A penalized framework for distributed lag
//! non-linear models, Biometrics 73:938.

/// The longest lag, days.
///
/// With the day itself 61 days count.
pub const LONGEST: usize = 60;
/// Coefficients of an effect over the lag: a knot each four days.
pub(super) const COEFFICIENTS: usize = 18;

/// The four functions that are not zero at a lag.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a lag is in 0..=60")]
pub(super) fn basis(lag: f64) -> [(usize, f64); 4] {
    let pieces = COEFFICIENTS - 3;
    let place = (lag / LONGEST as f64).clamp(0.0, 1.0) * pieces as f64;
    let first = (place.floor() as usize).min(pieces - 1);
    let u = place - first as f64;
    let v = 1.0 - u;
    [
        (first, v * v * v / 6.0),
        (first + 1, (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0),
        (first + 2, (3.0 * v * v * v - 6.0 * v * v + 4.0) / 6.0),
        (first + 3, u * u * u / 6.0),
    ]
}

/// The columns of a model: the sum over lags of the basis times the weather of that day.
pub(super) fn columns(before: &[f64]) -> [f64; COEFFICIENTS] {
    let mut columns = [0.0; COEFFICIENTS];
    for (lag, value) in before.iter().enumerate() {
        for (k, weight) in basis(lag as f64) {
            columns[k] += weight * value;
        }
    }
    columns
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_basis_adds_up_to_one_at_every_lag() {
        for lag in [0.0, 0.5, 6.7, 33.3, 59.9, 60.0] {
            let sum: f64 = basis(lag).iter().map(|(_, value)| value).sum();
            assert!((sum - 1.0).abs() < 1e-12, "{lag}");
            assert!(basis(lag).iter().all(|(k, _)| *k < COEFFICIENTS));
        }
        let sum: f64 = columns(&[1.0; LONGEST + 1]).iter().sum();
        assert!((sum - 61.0).abs() < 1e-9);
    }
}
