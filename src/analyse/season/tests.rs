//! Tests of the season on simulated years with known truth. Layer: `analyse`.

use super::*;
use crate::analyse::statistics::Rng;
use jiff::Span;
use jiff::civil::date;

/// Outings of some years with a bias: most are made about day `busy`; the rate peaks on day `peak`.
fn years(rng: &mut Rng, count: i16, peak: f64, busy: f64, per_100_m: f64) -> Vec<Stint> {
    let mut stints = Vec::new();
    let mut outing = 0;
    for year in 0..count {
        for _ in 0..30 {
            let offset = busy + 30.0 * rng.normal();
            let days = offset.round().clamp(-360.0, 700.0);
            #[allow(clippy::cast_possible_truncation, reason = "held in range")]
            let day =
                date(2015 + year, 1, 1).checked_add(Span::new().days(days as i64 - 1)).unwrap();
            // a day with its own overdispersion
            let overdispersion = (0.4 * rng.normal()).exp();
            for elevation in [200.0, 600.0] {
                let hours = 0.5 + 2.0 * rng.uniform();
                let here = peak + per_100_m * (elevation - 400.0) / 100.0;
                let away = (phase(day) * 365.0 + 0.5 - here + 182.5).rem_euclid(365.0) - 182.5;
                let rate = 2.0 * overdispersion * (-0.5 * (away / 20.0).powi(2)).exp();
                let finds = rng.poisson(rate * hours);
                stints.push(Stint { outing, date: day, elevation: Some(elevation), hours, finds });
            }
            outing += 1;
        }
    }
    stints
}

fn holds(estimate: DayEstimate, truth: f64, slack: f64) -> bool {
    let low = (truth - estimate.low95 + slack).rem_euclid(365.0);
    let width = (estimate.high95 - estimate.low95).rem_euclid(365.0) + 2.0 * slack;
    low <= width
}

#[test]
fn the_true_peak_is_in_its_interval_though_effort_peaks_elsewhere() {
    let mut rng = Rng::new(77);
    let (mut held, mut raw_held, mut widths) = (0, 0, 0.0);
    let tries = 20;
    for _ in 0..tries {
        let season = estimate(&years(&mut rng, 4, 130.0, 98.0, 0.0)).unwrap();
        // the peak week: within three and a half days
        held += u32::from(holds(season.peak, 130.0, 3.5));
        raw_held += u32::from(holds(season.find_dates.median, 130.0, 0.0));
        widths += (season.peak.high95 - season.peak.low95).rem_euclid(365.0);
    }
    assert!(held >= 18, "{held} of {tries}");
    assert!(raw_held <= 10, "raw dates should mislead here: {raw_held} of {tries}");
    assert!(widths / f64::from(tries) < 40.0, "no safety by exaggeration: {widths}");
}

#[test]
fn a_season_across_new_year_is_one_season() {
    let mut stated = 0;
    for seed in 78..84 {
        let season = estimate(&years(&mut Rng::new(seed), 5, 2.0, 370.0, 0.0)).unwrap();
        let away = (season.peak.day - 2.0 + 182.5).rem_euclid(365.0) - 182.5;
        assert!(away.abs() < 15.0, "{seed}: {:?}", season.peak);
        assert!(season.onset.is_none_or(|onset| onset.day > 250.0), "{seed}: {:?}", season.onset);
        assert!(season.end.is_none_or(|end| end.day < 120.0), "{seed}: {:?}", season.end);
        assert!(season.find_dates.first.day > 250.0, "{seed}");
        stated += u32::from(season.onset.is_some() && season.end.is_some());
    }
    // without a search late enough there is no end
    assert!(stated >= 3, "{stated} of 6");
}

#[test]
fn a_shift_by_elevation_is_found_and_none_is_invented() {
    let mut rng = Rng::new(79);
    let season = estimate(&years(&mut rng, 6, 130.0, 130.0, 4.0)).unwrap();
    let shift = &season.by_elevation;
    assert!(shift.low95.unwrap() <= 4.0 && 4.0 <= shift.high95.unwrap(), "{shift:?}");
    assert!(shift.low95.unwrap() > 0.0, "{shift:?}");
}

#[test]
fn three_finds_are_too_few() {
    let stint = |day: i8| Stint {
        outing: usize::try_from(day).unwrap(),
        date: date(2026, 5, day),
        elevation: None,
        hours: 2.0,
        finds: 1,
    };
    let refused = estimate(&[stint(1), stint(2), stint(3)]).unwrap_err();
    assert_eq!((refused.finds, refused.outings_with_find), (3, 3));
    assert!(estimate(&[]).is_err());
    let untracked: Vec<Stint> = (1..9).map(|day| Stint { hours: 0.0, ..stint(day) }).collect();
    assert_eq!(estimate(&untracked).unwrap_err().why, NoSeason::NoSearchTime);
}

#[test]
fn the_same_outings_give_the_same_intervals() {
    let stints = years(&mut Rng::new(80), 3, 130.0, 120.0, 0.0);
    assert_eq!(estimate(&stints).unwrap().peak, estimate(&stints).unwrap().peak);
}

/// Outings from April to June with a constant rate and overdispersion.
fn even(rng: &mut Rng, overdispersion: f64) -> Vec<Stint> {
    (0..80_i64)
        .map(|outing| {
            let day = date(2020, 4, 1)
                .checked_add(Span::new().days(outing % 8 * 365 + (outing * 37) % 90))
                .unwrap();
            let hours = 1.0 + 2.0 * rng.uniform();
            let overdispersion = (overdispersion * rng.normal()).exp();
            let finds = rng.poisson(1.5 * hours * overdispersion);
            let outing = usize::try_from(outing).unwrap();
            Stint { outing, date: day, elevation: None, hours, finds }
        })
        .collect()
}

#[test]
fn taxon_without_a_season_has_no_peak() {
    let mut rng = Rng::new(81);
    for overdispersion in [0.0, 0.8] {
        let season = estimate(&even(&mut rng, overdispersion)).unwrap();
        assert!(!season.clear_peak, "{overdispersion}: p {}", season.p_value);
        assert!(season.peak.low95 <= 92.0 && season.peak.high95 > 178.0, "{:?}", season.peak);
        let no_peak = |remark: &SeasonNote| matches!(remark, SeasonNote::NoClearPeak { .. });
        assert!(season.remarks.iter().any(no_peak), "{:?}", season.remarks);
    }
}

#[test]
fn overdispersion_widens_the_band() {
    let mut rng = Rng::new(82);
    let (steady, lucky) =
        (estimate(&even(&mut rng, 0.0)).unwrap(), estimate(&even(&mut rng, 1.0)).unwrap());
    assert!(
        steady.overdispersion < 0.3 && lucky.overdispersion > 0.7,
        "{} {}",
        steady.overdispersion,
        lucky.overdispersion
    );
    let width = |season: &Season| {
        let day = &season.curve[134];
        (day.high95.unwrap() / day.low95.unwrap()).ln()
    };
    assert!(width(&lucky) > 1.5 * width(&steady), "{} {}", width(&lucky), width(&steady));
}

/// Most outings find a few; two late ones, by overdispersion, very many.
#[test]
fn two_outings_with_many_finds_do_not_make_a_peak() {
    let mut rng = Rng::new(83);
    let mut stints = years(&mut rng, 3, 130.0, 130.0, 0.0);
    for stint in stints.iter_mut().filter(|stint| stint.elevation == Some(200.0)).take(60) {
        let day = phase(stint.date) * 365.0;
        if (147.0..160.0).contains(&day) && rng.uniform() < 0.2 {
            stint.finds += 12;
        }
    }
    let season = estimate(&stints).unwrap();
    assert!(holds(season.peak, 130.0, 3.5), "{:?}", season.peak);
}

#[test]
fn peak_at_the_edge_of_search_is_open_and_inside_is_not() {
    let mut rng = Rng::new(81);
    let (mut late, mut early, mut within) = (0, 0, 0);
    for _ in 0..10 {
        let all = years(&mut rng, 4, 130.0, 130.0, 0.0);
        let part = |from: i16, until: i16| {
            let days = from..until;
            let stints: Vec<Stint> = all
                .iter()
                .filter(|stint| days.contains(&stint.date.day_of_year()))
                .copied()
                .collect();
            estimate(&stints).unwrap()
        };
        // searched only while the rate rises, or falls
        let (rising, falling) = (part(95, 126), part(136, 170));
        late += u32::from(rising.edges.peak_late || !rising.clear_peak);
        early += u32::from(falling.edges.peak_early || !falling.clear_peak);
        for season in [&rising, &falling] {
            assert!(season.onset.is_none_or(|onset| onset.day >= 94.0), "{:?}", season.onset);
            assert!(season.end.is_none_or(|end| end.day <= 171.0), "{:?}", season.end);
            if season.edges.peak_late || season.edges.peak_early {
                let at_end = |remark: &SeasonNote| matches!(remark, SeasonNote::PeakAtEnd { .. });
                assert!(season.remarks.iter().any(at_end), "{:?}", season.remarks);
            }
        }
        let whole = part(60, 200);
        within += u32::from(!whole.edges.peak_early && !whole.edges.peak_late);
    }
    assert!(late >= 9 && early >= 9 && within == 10, "{late} {early} {within}");
}

#[test]
fn days_beyond_the_outings_take_no_part_in_the_peak() {
    // outings from day 200 to day 300, ever more finds: the curve rises on beyond the last
    let mut stints = Vec::new();
    for year in 2018..2024_i16 {
        for (place, finds) in [0_u32, 0, 1, 1, 2, 3, 4, 6, 8, 12, 16].into_iter().enumerate() {
            let days = jiff::Span::new().days(199 + 10 * i64::try_from(place).unwrap());
            let date = jiff::civil::date(year, 1, 1) + days;
            stints.push(Stint { outing: stints.len(), date, elevation: None, hours: 1.0, finds });
        }
    }
    let season = estimate(&stints).unwrap();
    assert!((200.0..=301.0).contains(&season.peak.day), "{:?}", season.peak);
    assert!(season.ninetieth.day <= 301.0 && season.edges.peak_late, "{:?}", season.ninetieth);
    let beyond = season.curve.iter().filter(|of| !(200..=301).contains(&of.day));
    assert!(beyond.clone().all(|of| !of.searched && of.high95.is_none()));
}
