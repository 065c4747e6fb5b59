//! Computes the likelihood of detection histories for given probabilities. Visits of similar length
//! are pooled, so that the cost stays small for a store of many years. Layer: `analyse`.
//!
//! Lengths within 5 % of each other are of one class; shorter than a quarter of a minute counts as
//! that, since a cut through a site's circle is not known any finer.

use std::collections::BTreeMap;

use super::climb::Point;
use super::{Search, SiteHistory, logistic};

/// Minutes below which durations are not distinguished.
const SHORTEST: f64 = 0.25;
/// Width of a class of lengths, on the logarithm.
const CLASS: f64 = 0.05;

/// Visits of one season by class: class and count.
type Season = Vec<(usize, f64)>;

/// The histories, counted.
pub(super) struct Table {
    /// Length of each class over the usual one.
    lengths: Vec<f64>,
    /// Visits with a find, by class.
    found: Vec<f64>,
    /// Visits without a find of seasons with a find, by class.
    missed: Vec<f64>,
    /// Seasons with a find.
    bore: f64,
    /// Seasons without a find, with how often each occurs.
    without_find: Vec<(Season, f64)>,
    /// All seasons of sites that are known by a find.
    known: Vec<(Vec<Season>, f64)>,
}

impl Table {
    /// Counts; lengths are taken over the usual one, unknown ones as the usual one.
    pub(super) fn of(sites: &[SiteHistory], usual: f64) -> Self {
        let length = |search: &Search| match search.minutes {
            Some(minutes) if minutes.is_finite() && usual > 0.0 => minutes.max(SHORTEST) / usual,
            _ => 1.0,
        };
        #[allow(clippy::cast_possible_truncation, reason = "a logarithm of minutes is small")]
        let class = |search: &Search| (length(search).ln() / CLASS).round() as i32;
        let mut places: BTreeMap<i32, usize> =
            sites.iter().flat_map(SiteHistory::searches).map(|s| (class(s), 0)).collect();
        for (place, index) in places.values_mut().enumerate() {
            *index = place;
        }
        let mut table = Self {
            lengths: places.keys().map(|class| (f64::from(*class) * CLASS).exp()).collect(),
            found: vec![0.0; places.len()],
            missed: vec![0.0; places.len()],
            bore: 0.0,
            without_find: Vec::new(),
            known: Vec::new(),
        };
        let mut without_find: BTreeMap<Vec<usize>, f64> = BTreeMap::new();
        let mut known: BTreeMap<Vec<Vec<usize>>, f64> = BTreeMap::new();
        for site in sites {
            let mut seasons: Vec<Vec<usize>> = Vec::new();
            for season in &site.seasons {
                let mut classes: Vec<usize> = season.iter().map(|s| places[&class(s)]).collect();
                if season.iter().any(|search| search.found) {
                    table.bore += 1.0;
                    for (search, class) in season.iter().zip(&classes) {
                        let tally = if search.found { &mut table.found } else { &mut table.missed };
                        tally[*class] += 1.0;
                    }
                }
                classes.sort_unstable();
                if season.iter().all(|search| !search.found) {
                    *without_find.entry(classes.clone()).or_insert(0.0) += 1.0;
                }
                seasons.push(classes);
            }
            if site.known_by_find && site.searches().any(|search| search.found) {
                seasons.sort_unstable();
                *known.entry(seasons).or_insert(0.0) += 1.0;
            }
        }
        let of = |season: Vec<usize>| -> Season {
            season.chunk_by(|a, b| a == b).map(|run| (run[0], run.len() as f64)).collect()
        };
        table.without_find =
            without_find.into_iter().map(|(season, times)| (of(season), times)).collect();
        table.known = known
            .into_iter()
            .map(|(seasons, times)| (seasons.into_iter().map(of).collect(), times))
            .collect();
        table
    }

    /// Whether visits differ in length at all.
    pub(super) fn lengths_differ(&self) -> bool {
        self.lengths.len() > 1
    }

    /// The logarithm of the likelihood.
    pub(super) fn log_likelihood(&self, at: &Point) -> f64 {
        let [psi, usual, power] = *at;
        let psi = logistic(psi);
        // the hazard of a visit: minus the logarithm of the probability of missing a present taxon
        let hazard: Vec<f64> =
            self.lengths.iter().map(|length| (usual + power * length.ln()).exp()).collect();
        let without_find = |season: &Season| {
            let sum: f64 = season.iter().map(|(class, count)| count * hazard[*class]).sum();
            psi * (-sum).exp() + 1.0 - psi
        };
        let bore: f64 = hazard
            .iter()
            .zip(self.found.iter().zip(&self.missed))
            .map(|(hazard, (found, missed))| {
                let seen = (-(-hazard).exp_m1()).max(1e-300).ln();
                (if *found > 0.0 { found * seen } else { 0.0 }) - missed * hazard
            })
            .sum();
        let in_without_find: f64 = self
            .without_find
            .iter()
            .map(|(season, times)| times * without_find(season).max(1e-300).ln())
            .sum();
        let ever: f64 = self
            .known
            .iter()
            .map(|(seasons, times)| {
                let never: f64 = seasons.iter().map(without_find).product();
                times * (1.0 - never).max(1e-300).ln()
            })
            .sum();
        self.bore * psi.ln() + bore + in_without_find - ever
    }
}
