//! Occupancy against the published worked example, and the Poisson model against statsmodels.

use trug::analyse::detection::{SiteHistory, alike, fit, log_likelihood, visits_for_95};
use trug::analyse::season::rate::{Scatter, Tally, fit_with};

/// 39 sites visited five times; the kind found at 18 of them, 30 times in all. `MacKenzie` and
/// others 2002 as worked with the usual occupancy software: psi 0.5946, p 0.2587, AIC 165.7586 (the
/// counts 18 and 30 are worked back from these results).
#[test]
fn the_published_case_of_39_sites() {
    let found = [2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 1, 1, 1, 1, 1, 1];
    let sites: Vec<SiteHistory> = (0..39)
        .map(|site| SiteHistory {
            seasons: vec![alike(5, found.get(site).copied().unwrap_or(0))],
            known_by_find: false,
        })
        .collect();
    let fitted = fit(&sites, None).unwrap();
    assert!((fitted.present.value - 0.5946).abs() < 5e-5, "{fitted:?}");
    assert!((fitted.per_visit.value - 0.2587).abs() < 5e-5, "{fitted:?}");
    assert!((fitted.aic - 165.7586).abs() < 5e-5, "{fitted:?}");
    // the published intervals are 1.96 standard errors of the logits to each side
    let (psi, p) = curvature_intervals(&sites, fitted.present.value, fitted.per_visit.value);
    assert!((psi.0 - 0.3512).abs() < 2e-4 && (psi.1 - 0.7990).abs() < 2e-4, "{psi:?}");
    assert!((p.0 - 0.1622).abs() < 2e-4 && (p.1 - 0.3863).abs() < 2e-4, "{p:?}");
    // ours are by the likelihood ratio, which is asymmetric like the likelihood
    assert!(fitted.present.high95 > psi.1 && fitted.present.low95 > psi.0, "{fitted:?}");
    assert_eq!(visits_for_95(0.26), 10);
    assert_eq!(visits_for_95(0.49), 5);
}

fn curvature_intervals(sites: &[SiteHistory], psi: f64, p: f64) -> ((f64, f64), (f64, f64)) {
    let logistic = |x: f64| 1.0 / (1.0 + (-x).exp());
    let logit = |p: f64| (p / (1.0 - p)).ln();
    let (a, b, h) = (logit(psi), logit(p), 1e-3);
    let f = |x: f64, y: f64| log_likelihood(sites, logistic(x), logistic(y));
    let aa = (f(a + h, b) - 2.0 * f(a, b) + f(a - h, b)) / (h * h);
    let bb = (f(a, b + h) - 2.0 * f(a, b) + f(a, b - h)) / (h * h);
    let ab =
        (f(a + h, b + h) - f(a + h, b - h) - f(a - h, b + h) + f(a - h, b - h)) / (4.0 * h * h);
    let determinant = aa * bb - ab * ab;
    let (error_a, error_b) = ((-bb / determinant).sqrt(), (-aa / determinant).sqrt());
    let ends = |x: f64, error: f64| (logistic(x - 1.96 * error), logistic(x + 1.96 * error));
    (ends(a, error_a), ends(b, error_b))
}

#[test]
fn the_poisson_model_agrees_with_statsmodels() {
    let text = include_str!("data/poisson_glm.csv");
    let (mut rows, mut beta, mut deviance) = (Vec::new(), Vec::new(), 0.0);
    for line in text.lines().filter(|line| !line.starts_with('#')) {
        let parts: Vec<&str> = line.split(',').collect();
        let number = |place: usize| parts[place].parse::<f64>().unwrap();
        match parts[0] {
            "row" => {
                let phase = (number(1) - 0.5) / 365.0;
                rows.push(Tally { phase, hours: number(2), finds: number(3), times: 1.0 });
            }
            "beta" => beta.push((number(2), number(3))),
            _ => deviance = number(2),
        }
    }
    let curve = fit_with(&rows, beta.len(), 0.0, Scatter::POISSON).unwrap();
    for (place, (coefficient, error)) in beta.iter().enumerate() {
        let ours = curve.coefficients[place];
        assert!((ours / coefficient - 1.0).abs() < 1e-6, "{place}: {ours} {coefficient}");
        let variance = curve.covariance[place * beta.len() + place];
        assert!((variance.sqrt() / error - 1.0).abs() < 1e-6, "{place}: {variance} {error}");
    }
    assert!((curve.deviance / deviance - 1.0).abs() < 1e-8);
}
