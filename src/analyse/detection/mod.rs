//! Estimates occupancy (the probability that a site holds a taxon) and detection probability from
//! repeated visits and their duration. Layer: `analyse`.
//!
//! # Method
//! Single-season occupancy: in a season a site holds the taxon with probability psi, and a visit of
//! t minutes to a site that holds it finds it with probability p = 1 - exp(-h (t/u)^b), u the
//! length of a usual visit. With b = 0 all visits are equal. The power b is used where it lowers
//! Akaike's criterion, and the choice is reported. Fitted by maximum likelihood; intervals contain
//! the values that the likelihood ratio does not reject at 5 %, which remain valid near 0 and 1
//! where standard errors are not.
//!
//! Sites that are known because the taxon was found there at least once are a biased sample: their
//! histories are conditioned on the probability of any find. So psi is the probability for one
//! season of such a place, for example the next one, and less than the observed share of seasons
//! with a find.
//!
//! # Accuracy
//! Gives the published fit of 39 sites: psi 0.5946, p 0.2587, AIC 165.7586 (`tests/reference`), and the same
//! intervals as scipy within 0.001 (`tests/outside/detection.py`). The coverage on simulated stores is 93 to 96 %
//! (`docs/sites-and-visits.md`, "Detection").
//!
//! # References
//! `MacKenzie`, Nichols, Lachman, Droege, Royle & Langtimm 2002, Estimating site occupancy rates
//! when detection probabilities are less than one, Ecology 83:2248, equation 1. Garrard, Bekessy,
//! `McCarthy` & Wintle 2008, When have we looked hard enough?, Austral Ecology 33:986 (detection
//! probability as a function of search time).

mod climb;
mod table;

use std::collections::HashSet;

use serde::Serialize;
use uuid::Uuid;

use crate::model::{SiteId, Visit};
use crate::units::Seconds;
use climb::{HIGH, LOW, Point, Summit, climb, interval};
use table::Table;

/// One visit that searched for the taxon.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Search {
    /// Minutes of search; `None` where unknown.
    pub minutes: Option<f64>,
    /// Whether it was found.
    pub found: bool,
}

/// The least time in motion that makes a visit a search, seconds (project choice).
pub const LEAST: Seconds = Seconds(1.0);

/// The time of a visit that counts as search whether or not something was found; `None` where there is none, so
/// that the visit is no trial of the model.
///
/// Stops are left out on all visits: a collector stops because something was seen. If a stop made a visit a search,
/// visits with a find would be counted and the same visits without one would not.
#[must_use]
pub fn search_time(visit: &Visit) -> Option<Seconds> {
    let moving = Seconds(visit.searched.0 - visit.stopped.0);
    (moving >= LEAST).then_some(moving)
}

/// The visits that are trials of the model, in order of time, each with its search.
///
/// Once something was found at a site on an outing, its later visits on that outing are none: nobody records it again.
pub fn trials(visits: &[Visit], found: impl Fn(&Visit) -> bool) -> Vec<(&Visit, Search)> {
    let mut in_order: Vec<&Visit> = visits.iter().collect();
    in_order.sort_by_key(|visit| visit.start);
    let mut known: HashSet<(SiteId, Uuid)> = HashSet::new();
    let mut trials = Vec::new();
    for visit in in_order {
        let place = (visit.site, visit.outing);
        if known.contains(&place) {
            continue;
        }
        let found = found(visit);
        if found {
            known.insert(place);
        }
        if let Some(time) = search_time(visit) {
            trials.push((visit, Search { minutes: Some(time.0 / 60.0), found }));
        }
    }
    trials
}

/// The seasons of one site.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SiteHistory {
    /// The visits of each season that had any.
    pub seasons: Vec<Vec<Search>>,
    /// Whether the site is known only because the taxon was found there.
    pub known_by_find: bool,
}

impl SiteHistory {
    /// Every visit.
    pub fn searches(&self) -> impl Iterator<Item = &Search> {
        self.seasons.iter().flatten()
    }
}

/// A season of visits of unknown length, with a find on so many of them.
#[must_use]
pub fn alike(visits: usize, found: usize) -> Vec<Search> {
    (0..visits).map(|visit| Search { minutes: None, found: visit < found }).collect()
}

/// A value with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Estimate {
    /// The most likely value.
    pub value: f64,
    /// The lower end.
    pub low95: f64,
    /// The upper end.
    pub high95: f64,
}

impl Estimate {
    /// Whether the data leave a probability undetermined: its interval covers nearly all of 0 to 1, or more than half
    /// of it with ends that differ by more than a factor of 100.
    #[must_use]
    pub fn tells_nothing(&self) -> bool {
        let wide = self.high95 - self.low95;
        wide > 0.9 || (wide > 0.5 && self.high95 > 100.0 * self.low95)
    }
}

/// How the detection probability depends on the duration of a visit.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ByTime {
    /// The power of the duration: 0 where it has no effect, 1 where search effort is proportional
    /// to it.
    pub power: Estimate,
    /// Akaike's criterion with equal visits.
    pub aic_alike: f64,
    /// And with the power fitted.
    pub aic_by_time: f64,
    /// Whether the criterion selects it, so that the probabilities were fitted with it.
    pub used: bool,
}

/// The estimates from the visits.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Occupancy {
    /// The probability that the taxon is at a site in a season.
    pub present: Estimate,
    /// The probability that a visit of the usual length finds it where it is present.
    pub per_visit: Estimate,
    /// The length that the probability is for, minutes: where visits are treated as equal, the median whatever was
    /// asked for. `None` where no length is known.
    pub usual: Option<f64>,
    /// Visits of that length without a find after which presence has been missed with less than 5 %
    /// probability: for the value and the ends of the interval of `per_visit` (fewest and most).
    pub visits_for_95: (u32, u32, u32),
    /// The effect of duration; `None` where durations are unknown or all equal.
    pub by_time: Option<ByTime>,
    /// Log likelihood at its maximum.
    pub log_likelihood: f64,
    /// Akaike's criterion of the fit that is reported.
    pub aic: f64,
    /// The number of site seasons used.
    pub seasons: usize,
    /// The number of visits used.
    pub visits: usize,
}

impl Occupancy {
    /// Whether the data determine the detection probability: not where its interval tells nothing, or reaches 0,
    /// where no number of visits indicates absence.
    #[must_use]
    pub fn per_visit_determined(&self) -> bool {
        !self.per_visit.tells_nothing() && self.per_visit.low95 > 0.0
    }

    /// Whether they determine how many visits without a find indicate absence.
    #[must_use]
    pub fn visits_determined(&self) -> bool {
        /// Beyond this ratio of its ends an interval says nothing (project choice).
        const WIDEST: f64 = 100.0;
        let (_, fewest, most) = self.visits_for_95;
        self.per_visit_determined() && f64::from(most) <= WIDEST * f64::from(fewest)
    }
}

impl ByTime {
    /// Whether the power is the largest that is tried: the data would have it larger.
    #[must_use]
    pub fn is_at_limit(&self) -> bool {
        self.power.value >= HIGH[2] - 1e-6
    }
}

/// Number of parameters with equal visits, and with the power of the duration.
const ALIKE: [usize; 2] = [0, 1];
const TIMED: [usize; 3] = [0, 1, 2];

/// Fits the model, and gives the detection probability for a visit of `minutes`, or of the median
/// duration. `None` without data to fit: no visits, no finds, or no season with a second visit
/// (then presence and detection cannot be separated).
///
/// # Examples
/// ```
/// use trug::analyse::detection::{SiteHistory, alike, fit};
///
/// // twelve sites with four visits each; something was found on two visits at half of them
/// let site = |found| SiteHistory { seasons: vec![alike(4, found)], known_by_find: false };
/// let sites: Vec<SiteHistory> = (0..12).map(|index| site(2 * (index % 2))).collect();
/// let fitted = fit(&sites, None).ok_or("no fit")?;
/// // a little above the share of sites with a find: some were missed
/// assert!(fitted.present.value > 0.5 && fitted.present.value < 0.6);
/// assert!(fitted.present.low95 < 0.5 && fitted.present.high95 > 0.6);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn fit(sites: &[SiteHistory], minutes: Option<f64>) -> Option<Occupancy> {
    let seasons = || sites.iter().flat_map(|site| &site.seasons);
    let visits = seasons().map(Vec::len).sum();
    let ever = seasons().flatten().any(|search| search.found);
    if !ever || seasons().all(|season| season.len() < 2) {
        return None;
    }
    let median = median_minutes(sites);
    let usual = median.map(|median| minutes.unwrap_or(median));
    let table = Table::of(sites, usual.unwrap_or(1.0));
    let f = |at: &Point| table.log_likelihood(at);
    let starts = [[0.0, -1.0, 0.0], [2.0, 0.0, 0.0], [-2.0, -2.0, 0.0]];
    let alike = highest(starts.iter().map(|start| climb(&f, *start, &ALIKE)))?;
    let timed = table.lengths_differ().then(|| {
        let start = |power: f64| climb(&f, [alike.at[0], alike.at[1], power], &TIMED);
        highest([0.5, 1.5].map(start).into_iter().chain([alike]))
    });
    let by_time = timed.flatten().map(|timed| by_time(&f, &alike, &timed));
    let (summit, free): (Summit, &[usize]) = match (by_time, timed.flatten()) {
        (Some(ByTime { used: true, .. }), Some(timed)) => (timed, &TIMED),
        _ => (alike, &ALIKE),
    };
    let result = |which: usize, read: fn(f64) -> f64| {
        let (low, high) = interval(&f, &summit, which, free);
        Estimate {
            value: read(summit.at[which]),
            low95: if low <= LOW[which] { 0.0 } else { read(low) },
            high95: if high >= HIGH[which] { 1.0 } else { read(high) },
        }
    };
    let per_visit = result(1, |hazard| -(-hazard.exp()).exp_m1());
    Some(Occupancy {
        present: result(0, logistic),
        per_visit,
        usual: if by_time.is_some_and(|by_time| by_time.used) { usual } else { median },
        visits_for_95: (
            visits_for_95(per_visit.value),
            visits_for_95(per_visit.high95),
            visits_for_95(per_visit.low95),
        ),
        by_time,
        log_likelihood: summit.height,
        aic: aic(&summit, free),
        seasons: seasons().count(),
        visits,
    })
}

fn highest(summits: impl IntoIterator<Item = Summit>) -> Option<Summit> {
    summits.into_iter().max_by(|a, b| a.height.total_cmp(&b.height))
}

fn aic(summit: &Summit, free: &[usize]) -> f64 {
    2.0 * free.len() as f64 - 2.0 * summit.height
}

fn by_time(f: &impl Fn(&Point) -> f64, alike: &Summit, timed: &Summit) -> ByTime {
    let (low95, high95) = interval(f, timed, 2, &TIMED);
    let (aic_alike, aic_by_time) = (aic(alike, &ALIKE), aic(timed, &TIMED));
    ByTime {
        power: Estimate { value: timed.at[2], low95, high95 },
        aic_alike,
        aic_by_time,
        used: aic_by_time < aic_alike,
    }
}

/// The median length of the visits whose length is known.
fn median_minutes(sites: &[SiteHistory]) -> Option<f64> {
    let mut minutes: Vec<f64> = sites
        .iter()
        .flat_map(SiteHistory::searches)
        .filter_map(|search| search.minutes)
        .filter(|minutes| minutes.is_finite() && *minutes > 0.0)
        .collect();
    minutes.sort_unstable_by(f64::total_cmp);
    crate::analyse::statistics::quantile(&minutes, 0.5)
}

/// The log likelihood of these histories for given probabilities, both above 0 and below 1, with
/// equal visits.
#[must_use]
pub fn log_likelihood(sites: &[SiteHistory], present: f64, per_visit: f64) -> f64 {
    let hazard = -(-per_visit).ln_1p();
    Table::of(sites, 1.0).log_likelihood(&[(present / (1.0 - present)).ln(), hazard.ln(), 0.0])
}

/// Visits without a find after which a taxon that is present has been missed with less than 5 %
/// probability.
///
/// # Examples
/// ```
/// use trug::analyse::detection::visits_for_95;
///
/// assert_eq!(visits_for_95(0.26), 10);
/// assert_eq!(visits_for_95(0.49), 5);
/// ```
#[must_use]
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
pub fn visits_for_95(per_visit: f64) -> u32 {
    if per_visit >= 0.95 {
        return 1;
    }
    let visits = 0.05_f64.ln() / (-per_visit.max(1e-9)).ln_1p();
    visits.ceil().clamp(1.0, 1e9) as u32
}

/// The probability of presence after so many visits without a find in this season.
///
/// Bayes' theorem, with `present` as the probability before the first visit.
///
/// # Examples
/// ```
/// use trug::analyse::detection::present_after_non_detections;
///
/// let after = present_after_non_detections(0.6, 0.5, 3);
/// assert!((after - 0.6 * 0.125 / (0.6 * 0.125 + 0.4)).abs() < 1e-12);
/// ```
#[must_use]
pub fn present_after_non_detections(present: f64, per_visit: f64, without_find: u32) -> f64 {
    let missed = present * (1.0 - per_visit).powi(i32::try_from(without_find).unwrap_or(i32::MAX));
    let absent = 1.0 - present;
    if missed + absent > 0.0 { missed / (missed + absent) } else { present }
}

fn logistic(logit: f64) -> f64 {
    1.0 / (1.0 + (-logit).exp())
}

#[cfg(test)]
mod tests;
