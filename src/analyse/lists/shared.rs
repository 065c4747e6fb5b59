//! Compares two lists: shared species, similarity, and the least number of species that both would
//! share if they were complete. Layer: `analyse`.

use serde::Serialize;

/// What two lists have in common.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Shared {
    /// Species on both lists.
    pub observed: usize,
    /// At least so many shared species are estimated; none where a list has fewer than five outings.
    pub at_least: Option<f64>,
    /// Sørensen's similarity of the lists as they are: 0 to 1.
    pub sorensen: f64,
    /// Jaccard's similarity of the lists as they are: 0 to 1.
    pub jaccard: f64,
}

/// Compares the incidences of the same species, in the same order, on two lists.
///
/// The same list of species on both sides, with 0 for a species that one of them lacks.
///
/// # Examples
/// ```
/// use trug::analyse::lists::shared;
///
/// let both = shared(&[2, 1, 0], &[1, 0, 3], (4, 5));
/// assert_eq!(both.observed, 1);
/// assert!((both.sorensen - 0.5).abs() < 1e-12);
/// assert!((both.jaccard - 1.0 / 3.0).abs() < 1e-12);
/// ```
///
/// # References
/// Sørensen 1948, Biol. Skr. 5(4):1; Jaccard 1901, Bull. Soc. Vaudoise Sci. Nat. 37:547; Pan, Chao &
/// Foissner 2009, A nonparametric lower bound for the number of species shared by multiple communities,
/// J. Agric. Biol. Environ. Stat. 14:452 (bias-corrected, for incidences; from memory).
#[must_use]
pub fn shared(of_first: &[u32], of_second: &[u32], outings: (usize, usize)) -> Shared {
    let count = |chosen: &dyn Fn(u32, u32) -> bool| {
        of_first.iter().zip(of_second).filter(|(a, b)| chosen(**a, **b)).count()
    };
    let both = count(&|a, b| a > 0 && b > 0);
    let (first, second) = (count(&|a, _| a > 0), count(&|_, b| b > 0));
    let of =
        |chosen: &dyn Fn(u32, u32) -> bool| count(&|a, b| a > 0 && b > 0 && chosen(a, b)) as f64;
    let few = |outings: usize| (outings as f64 - 1.0) / outings as f64;
    let missing = |ones: f64, twos: f64| ones * (ones - 1.0).max(0.0) / (2.0 * (twos + 1.0));
    let at_least = (outings.0.min(outings.1) >= super::LEAST_OUTINGS).then(|| {
        let (a, b) = (few(outings.0), few(outings.1));
        both as f64
            + a * missing(of(&|a, _| a == 1), of(&|a, _| a == 2))
            + b * missing(of(&|_, b| b == 1), of(&|_, b| b == 2))
            + a * b * missing(of(&|a, b| a == 1 && b == 1), of(&|a, b| a == 2 && b == 2)) / 2.0
    });
    let ratio = |top: f64, bottom: f64| if bottom > 0.0 { top / bottom } else { 0.0 };
    let both_of = both as f64;
    Shared {
        observed: both,
        at_least,
        sorensen: ratio(2.0 * both_of, (first + second) as f64),
        jaccard: ratio(both_of, (first + second - both) as f64),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn similarity_and_least_shared_by_hand() {
        let a = [3, 1, 1, 0, 2, 1];
        let b = [1, 1, 0, 4, 2, 1];
        let both = shared(&a, &b, (10, 5));
        assert_eq!(both.observed, 4);
        assert!((both.sorensen - 8.0 / 10.0).abs() < 1e-12);
        assert!((both.jaccard - 4.0 / 6.0).abs() < 1e-12);
        // shared: (3,1) (1,1) (2,2) (1,1)
        let expected = 4.0 + 0.9 * 2.0 / 4.0 + 0.8 * 6.0 / 4.0 + 0.72 * 2.0 / 4.0 / 2.0;
        assert!((both.at_least.unwrap() - expected).abs() < 1e-12, "{both:?}");
        assert!(shared(&a, &b, (10, 4)).at_least.is_none());
        assert_eq!(shared(&[], &[], (0, 0)).jaccard, 0.0);
    }
}
