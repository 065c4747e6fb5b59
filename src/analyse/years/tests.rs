use super::*;
use crate::analyse::season::Stint;
use crate::analyse::statistics::Rng;
use jiff::civil::date;

/// Twelve outings a year in September to November; the season of a year is shifted by days and its level
/// multiplied.
fn stints(rng: &mut Rng, years: &[(f64, f64)]) -> Vec<Stint> {
    let mut all = Vec::new();
    for (place, (shift, level)) in years.iter().enumerate() {
        for outing in 0..12 {
            let day = 232.0 + 100.0 * rng.uniform();
            let hours = 2.0 + rng.uniform();
            let away = (day - 285.0 - shift) / 12.0;
            let rate = 6.0 * level * (-0.5 * away * away).exp();
            #[allow(clippy::cast_possible_truncation)]
            let days = jiff::Span::new().days(day as i64 - 1);
            all.push(Stint {
                outing: 12 * place + outing,
                date: date(2010 + i16::try_from(place).unwrap(), 1, 1) + days,
                elevation: None,
                hours,
                finds: rng.poisson(rate * hours),
            });
        }
    }
    all
}

fn names(of: &YearsOf) -> Vec<(i32, Named)> {
    of.years.iter().flat_map(|year| year.named.iter().map(|named| (year.year, *named))).collect()
}

/// Of ten years the fourth is early and the eighth rich; outings are drawn by the seed.
fn early_and_rich(seed: u64) -> YearsOf {
    let mut years = vec![(0.0, 1.0); 10];
    years[3].0 = -18.0;
    years[7].1 = 5.0;
    let mut all = [compare("x", &stints(&mut Rng::new(seed), &years), None).unwrap()];
    name_years(&mut all);
    let [of] = all;
    of
}

/// With the mean of all years as the typical year, more than one other year in each decade was called poor or late.
#[test]
fn one_year_far_from_the_others_gives_no_name_to_the_others() {
    let (mut missed, mut others) = (0, 0);
    for seed in 100..110 {
        let named = names(&early_and_rich(seed));
        let expected = [(2013, Named::Early), (2017, Named::Rich)];
        missed += expected.iter().filter(|name| !named.contains(name)).count();
        others += named.iter().filter(|name| !expected.contains(name)).count();
    }
    assert!(missed <= 1 && others <= 2, "{missed} missed, {others} others");
}

#[test]
fn an_early_and_a_rich_year_are_named_and_others_are_not() {
    let all = [early_and_rich(5)];
    assert_eq!(names(&all[0]), [(2013, Named::Early), (2017, Named::Rich)]);
    let mut other_habits = all.clone();
    other_habits[0].leave_amounts_unnamed();
    assert_eq!(names(&other_habits[0]), [(2013, Named::Early)]);
    let early = &all[0].years[3];
    let peak = early.peak.unwrap();
    assert!(peak.low95 <= 267.0 && 267.0 <= peak.high95, "{peak:?}");
    assert!(early.onset.day < peak.day && peak.day < early.end.day);
    let rich = &all[0].years[7].amount;
    assert!(rich.low95 <= 5.0 / 1.1 && 3.0 <= rich.high95 && rich.low95 > 1.5, "{rich:?}");
    let shift = all[0].shift.unwrap();
    assert!(shift.low95 < 0.0 && 0.0 < shift.high95, "{shift:?}");
}

#[test]
fn a_steady_drift_is_estimated_with_its_interval() {
    let years: Vec<(f64, f64)> = (0..10).map(|year| (1.2 * (f64::from(year) - 4.5), 1.0)).collect();
    let of = compare("x", &stints(&mut Rng::new(6), &years), None).unwrap();
    let (shift, amount) = (of.shift.unwrap(), of.amount.unwrap());
    assert!(shift.low95 <= 12.0 && 12.0 <= shift.high95, "{shift:?}");
    assert!(shift.p < 0.01 && amount.p > 0.01, "{shift:?} {amount:?}");
}

#[test]
fn too_few_years_are_not_compared() {
    let few = compare("x", &stints(&mut Rng::new(7), &[(0.0, 1.0); 2]), None).unwrap_err();
    assert_eq!(few.years, 2);
    assert_eq!(compare("x", &[], None).unwrap_err(), TooFew { finds: 0, years: 0 });
}

#[test]
fn amounts_balance_about_one_and_shifts_about_none() {
    let mut rng = Rng::new(8);
    let years: Vec<(f64, f64)> =
        (0..10).map(|_| (8.0 * rng.normal(), (0.6 * rng.normal()).exp())).collect();
    let of = compare("x", &stints(&mut rng, &years), None).unwrap();
    let middle = |pick: fn(&YearLine) -> f64| super::curve::median(of.years.iter().map(pick));
    assert!(middle(|year| year.amount.factor.ln()).abs() < 1e-9);
    assert!(middle(|year| year.shift.value).abs() < 1e-9);
    assert!(of.years.iter().any(|year| year.amount.factor < 0.9), "{:?}", of.years);
}

/// One year has two finds at the ends of the search and none in the season.
#[test]
fn no_peak_is_stated_outside_the_season() {
    let mut years = stints(&mut Rng::new(9), &[(0.0, 1.0); 6]);
    for (place, stint) in years.iter_mut().enumerate().filter(|(place, _)| place / 12 == 3) {
        let day = 215 + 12 * i64::try_from(place % 12).unwrap();
        stint.date = date(2013, 1, 1) + jiff::Span::new().days(day);
        stint.finds = if (240..330).contains(&day) { 0 } else { 9 };
    }
    let of = compare("x", &years, None).unwrap();
    let typical = of.peak.expect("six years agree");
    for year in of.years.iter().filter(|year| year.year != 2013) {
        let peak = year.peak.expect("a plain year");
        assert!((peak.day - typical.day).abs() < 20.0, "{peak:?}");
    }
    assert_eq!(of.years[3].peak, None, "{:?}", of.years[3]);
}

#[test]
fn trends_with_and_without_weather_are_corrected_together() {
    let years = stints(&mut Rng::new(10), &[(0.0, 1.0); 6]);
    let none: Adjust = years.iter().map(|stint| (stint.outing, 0.0)).collect();
    let mut all = [compare("x", &years, Some(&none)).unwrap()];
    name_years(&mut all);
    assert_eq!(trends_tested(&all), 4);
    let (shift, amount) = all[0].with_weather.unwrap();
    assert!(shift.q.unwrap() >= shift.p && amount.q.unwrap() >= amount.p);
}

#[test]
fn finds_without_an_elevation_count_with_the_hours_of_their_outing() {
    let plain = stints(&mut Rng::new(5), &[(0.0, 1.0); 6]);
    let mut split = Vec::new();
    for stint in &plain {
        let elevation = Some(650.0);
        let known = stint.date.year() >= 2013;
        split.push(Stint { elevation, finds: if known { stint.finds } else { 0 }, ..*stint });
        if !known {
            split.push(Stint { elevation: None, hours: 0.0, ..*stint });
        }
    }
    let (plain, split) = (compare("x", &plain, None).unwrap(), compare("x", &split, None).unwrap());
    assert_eq!(plain.finds, split.finds);
    assert_eq!(plain.years, split.years);
}

#[test]
fn no_year_of_a_taxon_without_a_season_is_early_or_late() {
    let mut rng = Rng::new(11);
    let mut stints = stints(&mut rng, &[(0.0, 1.0); 10]);
    for stint in &mut stints {
        // evenly through the search, but for one year whose finds are all late
        let late = stint.date.year() == 2014;
        let rate = if late && stint.date.day_of_year() < 290 { 0.2 } else { 1.0 };
        stint.finds = rng.poisson(rate * stint.hours);
    }
    let mut all = [compare("x", &stints, None).unwrap()];
    name_years(&mut all);
    assert!(!all[0].clear_season);
    assert_eq!((all[0].onset, all[0].peak, all[0].end), (None, None, None));
    let dated = |year: &YearLine| {
        year.shift.q.is_some()
            || year.named.iter().any(|of| matches!(of, Named::Early | Named::Late))
    };
    assert!(!all[0].years.iter().any(dated), "{:?}", all[0].years);
}

#[test]
fn an_amount_of_a_wide_interval_is_not_determined() {
    let amount = |factor, low95, high95| Amount { factor, low95, high95 }.is_determined();
    assert!(amount(11.7, 1.3, 38.0));
    assert!(!amount(51.24, 0.0, 148_063_308.0));
    assert!(!amount(5.28, 0.4, 0.82));
}

#[test]
fn amounts_by_decade_and_between_years_are_those_of_the_lines_where_dates_drift() {
    let years: Vec<(f64, f64)> = (0..10).map(|year| (5.0 * (f64::from(year) - 4.5), 1.0)).collect();
    let of = compare("x", &stints(&mut Rng::new(8), &years), None).unwrap();
    assert!(of.shift.unwrap().low95 > 25.0, "{:?}", of.shift);
    let logs: Vec<f64> = of.years.iter().map(|year| year.amount.factor.ln()).collect();
    let slope: f64 =
        logs.iter().zip(0..).map(|(log, year)| log * (f64::from(year) - 4.5)).sum::<f64>() / 82.5;
    let amount = of.amount.unwrap();
    assert!((amount.by_decade.ln() - 10.0 * slope).abs() < 1e-6, "{amount:?}, lines {slope}");
    assert!(amount.low95 < 1.0 && 1.0 < amount.high95, "{amount:?}");
    assert!(amount.high95 < 10.0 * amount.low95, "{amount:?}");
    let mean = logs.iter().sum::<f64>() / 10.0;
    let squares: f64 = logs.iter().map(|log| (log - mean).powi(2)).sum();
    assert!((of.amount_between_years - (squares / 9.0).sqrt()).abs() < 1e-6, "{logs:?}");
    assert!(of.shift_about_trend);
}

#[test]
fn a_season_across_new_year_has_the_names_of_both_years() {
    // the same autumns, moved to begin in the middle of November
    let moved: Vec<Stint> = stints(&mut Rng::new(9), &[(0.0, 1.0); 5])
        .into_iter()
        .map(|stint| Stint { date: stint.date + jiff::Span::new().days(80), ..stint })
        .collect();
    let all = [compare("x", &moved, None).unwrap()];
    let named: Vec<(i32, i32)> =
        all[0].years.iter().map(|year| (year.year, year.until_year)).collect();
    assert_eq!(named[0], (2010, 2011));
    assert_eq!(named.len(), 5);
}
