//! How likely is a find on a visit, where the kind is there? How likely is it there? Tells absence
//! from oversight by repeated visits. Layer: `analyse`.
//!
//! # Method
//! Single-season occupancy: in a season a site holds the kind with probability psi, and each visit to
//! a site that holds it finds it with probability p. Fitted by maximum likelihood; intervals are
//! those values that the likelihood ratio does not reject at 5 %, which stay true near 0 and 1 where
//! plus and minus two standard errors do not.
//!
//! Sites that are known because the kind was found there at least once are no fair sample of sites:
//! their histories are weighed by the probability of having been found at all.
//!
//! # References
//! `MacKenzie`, Nichols, Lachman, Droege, Royle & Langtimm 2002, Estimating site occupancy rates when
//! detection probabilities are less than one, Ecology 83:2248, equation 1.

use serde::Serialize;

/// One season at one site.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct History {
    /// Visits on which it was looked for.
    pub visits: u32,
    /// Visits on which it was found.
    pub found: u32,
}

/// The seasons of one site.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SiteHistory {
    /// One for each season with visits.
    pub seasons: Vec<History>,
    /// Whether the site is only known because the kind was found there.
    pub known_by_find: bool,
}

/// A probability with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Chance {
    /// The most likely value.
    pub value: f64,
    /// The lower end.
    pub low95: f64,
    /// The upper end.
    pub high95: f64,
}

/// What the visits say.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Occupancy {
    /// That the kind is at a site in a season.
    pub present: Chance,
    /// That a visit finds it where it is.
    pub per_visit: Chance,
    /// Vain visits after which it is missed with less than 5 % probability if it were there:
    /// for the value and the ends of the interval of `per_visit` (fewest and most).
    pub visits_for_95: (u32, u32, u32),
    /// Log likelihood at its maximum.
    pub log_likelihood: f64,
    /// Akaike's criterion, two parameters.
    pub aic: f64,
    /// Seasons at sites that went in.
    pub seasons: usize,
    /// Visits that went in.
    pub visits: u32,
}

/// Fits; `None` when there is nothing to fit: no visits, nothing ever found, or no season with a
/// second visit (then being there and being seen cannot be told apart).
#[must_use]
pub fn fit(sites: &[SiteHistory]) -> Option<Occupancy> {
    let seasons = sites.iter().flat_map(|site| &site.seasons);
    let visits: u32 = seasons.clone().map(|season| season.visits).sum();
    let found: u32 = seasons.clone().map(|season| season.found).sum();
    if visits == 0 || found == 0 || seasons.clone().all(|season| season.visits < 2) {
        return None;
    }
    let table = Table::of(sites);
    let (best_p, top) = peak(|p| peak(|psi| table.log_likelihood(psi, p)).1);
    let (best_psi, _) = peak(|psi| table.log_likelihood(psi, best_p));
    let per_visit = interval(best_p, top, |p| peak(|psi| table.log_likelihood(psi, p)).1);
    let present = interval(best_psi, top, |psi| peak(|p| table.log_likelihood(psi, p)).1);
    Some(Occupancy {
        present,
        per_visit,
        visits_for_95: (
            visits_for_95(per_visit.value),
            visits_for_95(per_visit.high95),
            visits_for_95(per_visit.low95),
        ),
        log_likelihood: top,
        aic: 4.0 - 2.0 * top,
        seasons: seasons.count(),
        visits,
    })
}

/// The log likelihood of these histories for given probabilities, both above 0 and below 1.
#[must_use]
pub fn log_likelihood(sites: &[SiteHistory], present: f64, per_visit: f64) -> f64 {
    let logit = |p: f64| (p / (1.0 - p)).ln();
    Table::of(sites).log_likelihood(logit(present), logit(per_visit))
}

/// Vain visits after which a kind that is there would have been missed with less than 5 %.
#[must_use]
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
pub fn visits_for_95(per_visit: f64) -> u32 {
    if per_visit >= 0.95 {
        return 1;
    }
    let visits = 0.05_f64.ln() / (-per_visit.max(1e-9)).ln_1p();
    visits.ceil().clamp(1.0, 1e9) as u32
}

/// The probability that it is there although so many visits this season were in vain.
#[must_use]
pub fn there_after_vain(present: f64, per_visit: f64, vain: u32) -> f64 {
    let missed = present * (1.0 - per_visit).powi(i32::try_from(vain).unwrap_or(i32::MAX));
    let absent = 1.0 - present;
    if missed + absent > 0.0 { missed / (missed + absent) } else { present }
}

/// Histories counted: most are alike.
struct Table {
    counted: Vec<(History, f64)>,
    conditioned: Vec<(Vec<u32>, f64)>,
}

impl Table {
    fn of(sites: &[SiteHistory]) -> Self {
        use std::collections::BTreeMap;
        let mut counted: BTreeMap<(u32, u32), f64> = BTreeMap::new();
        let mut conditioned: BTreeMap<Vec<u32>, f64> = BTreeMap::new();
        for site in sites {
            for season in &site.seasons {
                *counted.entry((season.visits, season.found.min(season.visits))).or_insert(0.0) +=
                    1.0;
            }
            if site.known_by_find && site.seasons.iter().any(|season| season.found > 0) {
                let mut visits: Vec<u32> =
                    site.seasons.iter().map(|season| season.visits).collect();
                visits.sort_unstable();
                *conditioned.entry(visits).or_insert(0.0) += 1.0;
            }
        }
        Self {
            counted: counted
                .into_iter()
                .map(|((visits, found), count)| (History { visits, found }, count))
                .collect(),
            conditioned: conditioned.into_iter().collect(),
        }
    }

    /// At these values of logit psi and logit p.
    fn log_likelihood(&self, psi: f64, p: f64) -> f64 {
        let (psi, p) = (logistic(psi), logistic(p));
        let vain = |visits: u32| psi * (1.0 - p).powf(f64::from(visits)) + 1.0 - psi;
        let histories: f64 = self
            .counted
            .iter()
            .map(|(history, count)| {
                let (found, missed) =
                    (f64::from(history.found), f64::from(history.visits - history.found));
                count
                    * if history.found == 0 {
                        vain(history.visits).ln()
                    } else {
                        psi.ln() + found * p.ln() + missed * (-p).ln_1p()
                    }
            })
            .sum();
        let ever: f64 = self
            .conditioned
            .iter()
            .map(|(visits, count)| {
                let never: f64 = visits.iter().map(|visits| vain(*visits)).product();
                count * (1.0 - never).max(1e-300).ln()
            })
            .sum();
        histories - ever
    }
}

fn logistic(logit: f64) -> f64 {
    1.0 / (1.0 + (-logit).exp())
}

/// The ends of the logits that are looked at: probabilities of 5e-6 and its complement.
const FAR: f64 = 12.2;

/// The place and height of the highest point of a function with one summit on the logits.
fn peak(f: impl Fn(f64) -> f64) -> (f64, f64) {
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    let (mut low, mut high) = (-FAR, FAR);
    let (mut a, mut b) = (high - golden * (high - low), low + golden * (high - low));
    let (mut at_a, mut at_b) = (f(a), f(b));
    for _ in 0..38 {
        if at_a >= at_b {
            (high, b, at_b) = (b, a, at_a);
            a = high - golden * (high - low);
            at_a = f(a);
        } else {
            (low, a, at_a) = (a, b, at_b);
            b = low + golden * (high - low);
            at_b = f(b);
        }
    }
    let middle = f64::midpoint(low, high);
    (middle, f(middle).max(at_a).max(at_b))
}

/// Where the profile has fallen by half the 95 % point of chi-square with one degree.
fn interval(best: f64, top: f64, profile: impl Fn(f64) -> f64) -> Chance {
    const FALL: f64 = 3.841_458_820_694_124 / 2.0;
    let end = |outer: f64| {
        if profile(outer) >= top - FALL {
            return outer;
        }
        let (mut inside, mut outside) = (best, outer);
        for _ in 0..26 {
            let middle = f64::midpoint(inside, outside);
            if profile(middle) >= top - FALL {
                inside = middle;
            } else {
                outside = middle;
            }
        }
        f64::midpoint(inside, outside)
    };
    let open = |logit: f64| {
        if logit >= FAR {
            1.0
        } else if logit <= -FAR {
            0.0
        } else {
            logistic(logit)
        }
    };
    let value = if best > FAR - 0.1 { 1.0 } else { logistic(best) };
    Chance { value, low95: open(end(-FAR)), high95: open(end(FAR)) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::chance::Dice;

    #[test]
    fn vain_visits_needed_are_those_of_the_table() {
        assert_eq!(visits_for_95(0.26), 10);
        assert_eq!(visits_for_95(0.49), 5);
        assert_eq!(visits_for_95(1.0), 1);
    }

    #[test]
    fn what_cannot_be_fitted_is_refused() {
        assert!(fit(&[]).is_none());
        let vain =
            SiteHistory { seasons: vec![History { visits: 5, found: 0 }], known_by_find: false };
        assert!(fit(&[vain]).is_none());
        let once =
            SiteHistory { seasons: vec![History { visits: 1, found: 1 }], known_by_find: false };
        assert!(fit(&[once]).is_none());
    }

    #[test]
    fn vain_visits_lower_the_belief() {
        assert!((there_after_vain(0.5, 0.5, 0) - 0.5).abs() < 1e-12);
        assert!((there_after_vain(0.5, 0.5, 3) - 0.111_111).abs() < 1e-5);
        assert_eq!(there_after_vain(1.0, 1.0, 4), 1.0);
    }

    /// Sites with known truth; those where nothing was ever found stay unknown when `by_find`.
    fn simulated(dice: &mut Dice, psi: f64, p: f64, by_find: bool) -> Vec<SiteHistory> {
        let mut sites = Vec::new();
        for _ in 0..60 {
            let seasons: Vec<History> = (0..3)
                .map(|_| {
                    let visits = 2 + u32::try_from(dice.below(6)).unwrap();
                    let there = dice.uniform() < psi;
                    let found = (0..visits).filter(|_| there && dice.uniform() < p).count();
                    History { visits, found: u32::try_from(found).unwrap() }
                })
                .collect();
            if !by_find || seasons.iter().any(|season| season.found > 0) {
                sites.push(SiteHistory { seasons, known_by_find: by_find });
            }
        }
        sites
    }

    #[test]
    fn intervals_hold_the_truth_as_often_as_they_say() {
        let mut dice = Dice::new(17);
        for (psi, p, by_find) in [(0.6, 0.3, false), (0.9, 0.2, true)] {
            let (mut psi_held, mut p_held, tries) = (0, 0, 100);
            for _ in 0..tries {
                let fitted = fit(&simulated(&mut dice, psi, p, by_find)).unwrap();
                psi_held +=
                    u32::from((fitted.present.low95..=fitted.present.high95).contains(&psi));
                p_held +=
                    u32::from((fitted.per_visit.low95..=fitted.per_visit.high95).contains(&p));
            }
            let share = |held: u32| f64::from(held) / f64::from(tries);
            assert!(share(psi_held) >= 0.90 && share(p_held) >= 0.90, "{psi} {p} {by_find}");
        }
    }
}
