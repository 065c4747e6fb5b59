//! Tests of occupancy and detection probabilities on simulated visits with known truth.
//! Layer: `analyse`.

use super::*;
use crate::analyse::statistics::Rng;

fn site(season: Vec<Search>) -> SiteHistory {
    SiteHistory { seasons: vec![season], known_by_find: false }
}

#[test]
fn number_of_visits_without_a_find_matches_the_table() {
    assert_eq!(visits_for_95(0.26), 10);
    assert_eq!(visits_for_95(0.49), 5);
    assert_eq!(visits_for_95(1.0), 1);
}

#[test]
fn what_cannot_be_fitted_is_refused() {
    assert!(fit(&[], None).is_none());
    assert!(fit(&[site(alike(5, 0))], None).is_none());
    assert!(fit(&[site(alike(1, 1))], None).is_none());
    let odd = Search { minutes: Some(f64::NAN), found: true };
    assert!(fit(&[site(vec![odd, odd])], None).is_some_and(|result| result.usual.is_none()));
}

#[test]
fn visits_without_a_find_lower_the_probability() {
    assert!((present_after_non_detections(0.5, 0.5, 0) - 0.5).abs() < 1e-12);
    assert!((present_after_non_detections(0.5, 0.5, 3) - 0.111_111).abs() < 1e-5);
    assert_eq!(present_after_non_detections(1.0, 1.0, 4), 1.0);
}

#[test]
fn one_site_with_two_visits_leaves_occupancy_undetermined() {
    let result =
        fit(&[SiteHistory { seasons: vec![alike(2, 1)], known_by_find: true }], None).unwrap();
    assert!(result.present.tells_nothing(), "{result:?}");
}

/// The truth of simulated sites.
#[derive(Clone, Copy, Debug)]
struct Truth {
    present: f64,
    /// Of a visit of two minutes.
    per_visit: f64,
    power: f64,
    by_find: bool,
}

/// Sixty places for three seasons, visited two to seven times for half a minute to ten, two in the
/// middle; those where nothing was ever found stay unknown where only finds make places known.
fn simulated(rng: &mut Rng, truth: Truth) -> Vec<SiteHistory> {
    let hazard = -(1.0 - truth.per_visit).ln();
    let mut sites = Vec::new();
    for _ in 0..60 {
        let seasons: Vec<Vec<Search>> = (0..3)
            .map(|_| {
                let there = rng.uniform() < truth.present;
                let mut search = || {
                    let minutes = (2.0 * (0.8 * rng.normal()).exp()).clamp(0.5, 10.0);
                    let missed = (-hazard * (minutes / 2.0).powf(truth.power)).exp();
                    let found = there && rng.uniform() >= missed;
                    Search { minutes: Some(minutes), found }
                };
                let mut season = vec![search(), search()];
                season.extend((0..3).map(|_| search()));
                season
            })
            .collect();
        let site = SiteHistory { seasons, known_by_find: truth.by_find };
        if !truth.by_find || site.searches().any(|search| search.found) {
            sites.push(site);
        }
    }
    sites
}

/// Of so many simulated cases: how often the intervals of occupancy and of detection cover the
/// truth, and the mean of both estimates.
fn held(truth: Truth, cases: u32, seed: u64) -> ([f64; 2], [f64; 2]) {
    let mut rng = Rng::new(seed);
    let (mut held, mut mean) = ([0.0; 2], [0.0; 2]);
    for _ in 0..cases {
        let result = fit(&simulated(&mut rng, truth), Some(2.0)).unwrap();
        for (place, (estimate, truth)) in
            [(result.present, truth.present), (result.per_visit, truth.per_visit)]
                .iter()
                .enumerate()
        {
            let inside = (estimate.low95..=estimate.high95).contains(truth);
            held[place] += f64::from(u8::from(inside)) / f64::from(cases);
            mean[place] += estimate.value / f64::from(cases);
        }
    }
    (held, mean)
}

const TRUTHS: [Truth; 5] = [
    Truth { present: 0.65, per_visit: 0.45, power: 1.0, by_find: true },
    Truth { present: 0.65, per_visit: 0.45, power: 0.0, by_find: true },
    Truth { present: 0.6, per_visit: 0.3, power: 1.0, by_find: false },
    Truth { present: 0.9, per_visit: 0.2, power: 0.7, by_find: true },
    Truth { present: 0.3, per_visit: 0.3, power: 0.5, by_find: true },
];

/// A binomial count of 40 with probability 0.95 is below 34 with a probability of 0.01 only, and
/// the mean of 40 estimates is off by 0.05 by more than three of its standard errors.
#[test]
fn intervals_hold_the_truth_as_often_as_they_say() {
    for truth in TRUTHS {
        let (held, mean) = held(truth, 40, 17);
        assert!(held.iter().all(|share| *share >= 0.85), "{truth:?}: {held:?}");
        assert!((mean[0] - truth.present).abs() < 0.05, "{truth:?}: {mean:?}");
        assert!((mean[1] - truth.per_visit).abs() < 0.05, "{truth:?}: {mean:?}");
    }
}

/// The coverage in the table of the docs: `cargo test --lib -- --ignored coverage_of_detection`.
#[test]
#[ignore = "takes a minute"]
fn coverage_of_detection() {
    for truth in TRUTHS {
        let (held, mean) = held(truth, 1000, 4711);
        let nominal = held.iter().all(|share| (0.93..=0.97).contains(share));
        assert!(nominal, "{truth:?}: held {held:.3?}, mean {mean:.3?}");
    }
}

/// An effect proportional to duration is detected; without an effect it is seldom selected.
#[test]
fn the_time_searched_is_taken_up_where_it_matters() {
    let mut rng = Rng::new(5);
    let mut used = [0, 0];
    for (place, power) in [0.0, 1.0].into_iter().enumerate() {
        let truth = Truth { present: 0.65, per_visit: 0.45, power, by_find: true };
        for _ in 0..20 {
            let result = fit(&simulated(&mut rng, truth), None).unwrap();
            let by_time = result.by_time.unwrap();
            used[place] += u32::from(by_time.used);
            assert!((result.aic - by_time.aic_alike.min(by_time.aic_by_time)).abs() < 1e-9);
            assert!(by_time.power.low95 <= by_time.power.value + 1e-9);
            assert!((1.7..2.3).contains(&result.usual.unwrap()), "{result:?}");
        }
    }
    assert!(used[1] >= 19 && used[0] <= 9, "{used:?}");
}

/// Where the interval reaches 0 no number of visits indicates absence.
#[test]
fn a_probability_that_may_be_nothing_is_not_determined() {
    let season = || alike(30, 1);
    let sites: Vec<SiteHistory> =
        (0..3).map(|_| SiteHistory { seasons: vec![season()], known_by_find: true }).collect();
    let rare = fit(&sites, None).unwrap();
    assert!(rare.per_visit.low95 <= 0.0 && rare.per_visit.high95 < 0.2, "{rare:?}");
    assert!(!rare.per_visit_determined() && !rare.visits_determined());
    let often: Vec<SiteHistory> = (0..20).map(|_| site(alike(6, 3))).collect();
    let often = fit(&often, None).unwrap();
    assert!(often.per_visit_determined() && often.visits_determined(), "{often:?}");
}

#[test]
fn an_asked_length_counts_only_where_length_has_an_effect() {
    let visit = |minutes, found| Search { minutes: Some(minutes), found };
    let equal: Vec<SiteHistory> = (0..12)
        .map(|n| site(vec![visit(3.0, n % 2 == 0), visit(5.0, n % 2 == 0), visit(4.0, n % 3 == 0)]))
        .collect();
    let fitted = fit(&equal, Some(10.0)).unwrap();
    assert!(fitted.by_time.is_none_or(|by_time| !by_time.used), "{fitted:?}");
    assert_eq!(fitted.usual, Some(4.0));
}
