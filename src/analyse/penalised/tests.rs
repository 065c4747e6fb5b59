use super::*;

fn problem(effect: f64, rng: &mut Rng) -> Problem {
    // a constant, and ten groups that differ
    let groups: Vec<f64> = (0..10).map(|_| effect * rng.normal()).collect();
    let observations = (0..400)
        .map(|index| {
            let group = index % 10;
            let mean = 4.0 * groups[group].exp();
            Observation {
                row: vec![(0, 1.0), (1 + group, 1.0)],
                offset: 2.0_f64.ln(),
                count: f64::from(rng.poisson(2.0 * mean)),
            }
        })
        .collect();
    Problem { observations, columns: 11, penalties: vec![Penalty::ridge(1, 10)] }
}

#[test]
fn the_variance_of_groups_is_recovered_and_vanishes_where_there_is_none() {
    let mut rng = Rng::new(4);
    let variances: Vec<f64> = (0..20)
        .map(|_| {
            1.0 / problem(0.6, &mut rng).fit_with(Scatter::POISSON, None, 60).unwrap().lambda[0]
        })
        .collect();
    let mean = variances.iter().sum::<f64>() / 20.0;
    // the standard error of a mean of twenty variances of ten groups is 0.04
    assert!((mean - 0.36).abs() < 0.12, "{mean}");
    let none = problem(0.0, &mut rng).fit_with(Scatter::POISSON, None, 60).unwrap();
    assert!(1.0 / none.lambda[0] < 0.01, "{:?}", none.lambda);
    assert!((none.beta[0] - 4.0_f64.ln()).abs() < 0.1 && none.freedom < 6.0, "{}", none.freedom);
}

#[test]
fn penalties_of_bends_and_lines_share_nothing_and_cover_everything() {
    let (bends, lines) = (Penalty::bends(0, 7, false), Penalty::lines(0, 7));
    let line: Vec<f64> = (0..7).map(|i| 3.0 - 0.5 * f64::from(i)).collect();
    assert!(bends.size_of(&line) < 1e-20);
    let length: f64 = line.iter().map(|b| b * b).sum();
    assert!((lines.size_of(&line) - length).abs() < 1e-9);
    for i in 0..7 {
        for j in 0..7 {
            let product: f64 = (0..7).map(|k| bends.entry(i, k) * lines.entry(k, j)).sum();
            assert!(product.abs() < 1e-9);
        }
    }
    assert_eq!(Penalty::bends(0, 7, true).rank, 6.0);
}

#[test]
fn without_a_count_there_is_no_panic() {
    let empty = Problem { observations: Vec::new(), columns: 2, penalties: Vec::new() };
    let fit = empty.fit();
    assert!(fit.is_none_or(|fit| fit.beta.iter().all(|b| b.is_finite())));
}
