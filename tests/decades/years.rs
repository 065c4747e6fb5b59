//! Decades whose seasons drift and whose years differ.

use trug::analyse::season::{DayEstimate, Stint, phase};
use trug::analyse::statistics::Rng;
use trug::analyse::years::{YearsOf, compare, name_years};

use crate::collector::{FROM, UNTIL, decade_day};
use crate::truth::TAXA;

/// How the years of a decade differ.
#[derive(Clone, Copy, Debug)]
struct Differs {
    /// Days later by decade.
    drift: f64,
    /// The standard deviation of shifts between years, days.
    shifts: f64,
    /// The standard deviation of the logarithm of amounts between years.
    levels: f64,
    /// The overdispersion between outings.
    spread: f64,
}

/// The decade, and the shift of each year.
fn decade(differs: Differs, seed: u64) -> (Vec<Stint>, Vec<f64>) {
    let mut rng = Rng::new(seed);
    let mut stints = Vec::new();
    let mut shifts = Vec::new();
    for year in 0..10_usize {
        let own = differs.shifts * rng.normal();
        let shift = differs.drift * (year as f64 - 4.5) / 10.0 + own;
        let level = (differs.levels * rng.normal()).exp();
        shifts.push(shift);
        for outing in 0..16 {
            let day = FROM + (UNTIL - FROM) * rng.uniform();
            let date = decade_day(year, day);
            let excess = (differs.spread * rng.normal() - 0.5 * differs.spread.powi(2)).exp();
            let hours = 1.5 + 2.0 * rng.uniform();
            let rate = level * TAXA[0].rate(phase(date) * 365.0 + 0.5 - shift);
            let finds = rng.poisson(rate * hours * excess);
            stints.push(Stint { outing: 16 * year + outing, date, elevation: None, hours, finds });
        }
    }
    (stints, shifts)
}

fn compared(differs: Differs, seed: u64) -> (YearsOf, Vec<f64>) {
    let (stints, shifts) = decade(differs, seed);
    let mut all = [compare("x", &stints, None).unwrap()];
    name_years(&mut all);
    let [of] = all;
    (of, shifts)
}

/// That of the typical year.
fn median(shifts: &[f64]) -> f64 {
    let mut sorted = shifts.to_vec();
    sorted.sort_by(f64::total_cmp);
    0.5 * (sorted[(sorted.len() - 1) / 2] + sorted[sorted.len() / 2])
}

fn holds(estimate: DayEstimate, truth: f64) -> bool {
    estimate.low95 <= truth && truth <= estimate.high95
}

const STEADY: Differs = Differs { drift: 0.0, shifts: 0.0, levels: 0.0, spread: 0.5 };
const DRIFTING: Differs = Differs { drift: 10.0, shifts: 3.0, levels: 0.4, spread: 0.5 };

#[test]
fn a_drifting_season_is_recovered_and_a_steady_one_stays() {
    let (drifting, shifts) = compared(DRIFTING, 1_031);
    assert!(
        drifting.shift.unwrap().low95 <= 10.0 && 10.0 <= drifting.shift.unwrap().high95,
        "{:?}",
        drifting.shift
    );
    let held = drifting
        .years
        .iter()
        .zip(&shifts)
        .filter(|(year, shift)| year.peak.is_some_and(|peak| holds(peak, 285.0 + **shift)));
    assert!(held.count() >= 8, "{:?} {shifts:?}", drifting.years);
    let (steady, _) = compared(STEADY, 1_032);
    assert!(steady.years.iter().all(|year| year.named.is_empty()), "{:?}", steady.years);
    assert!(
        steady.shift.unwrap().low95 <= 0.0 && 0.0 <= steady.shift.unwrap().high95,
        "{:?}",
        steady.shift
    );
}

#[test]
#[ignore = "minutes"]
fn years_report() {
    let from: u64 = std::env::var("SEED").map_or(1_000, |seed| seed.parse().unwrap());
    let count: u64 = std::env::var("DECADES").map_or(20, |count| count.parse().unwrap());
    let far = TAXA[0].spread * 1.281_551_6;
    for differs in [
        STEADY,
        Differs { spread: 0.0, ..STEADY },
        DRIFTING,
        Differs { drift: 0.0, ..DRIFTING },
        Differs { drift: 5.0, shifts: 6.0, ..DRIFTING },
    ] {
        let (mut trends, mut marks, mut decades, mut amounts) = (0, [0; 3], 0, 0);
        let mut stated = [0; 3];
        let (mut seen, mut named, mut wrong) = (0, 0, 0);
        for seed in from..from + count {
            let (of, shifts) = compared(differs, seed);
            decades += 1;
            trends += usize::from(
                of.shift.unwrap().low95 <= differs.drift
                    && differs.drift <= of.shift.unwrap().high95,
            );
            amounts +=
                usize::from(of.amount.unwrap().low95 <= 1.0 && 1.0 <= of.amount.unwrap().high95);
            seen += usize::from(of.shift.unwrap().p <= 0.05);
            let middle = median(&shifts);
            for (year, shift) in of.years.iter().zip(&shifts) {
                let truths = [285.0 - far + shift, 285.0 + shift, 285.0 + far + shift];
                let estimates = [Some(year.onset), year.peak, Some(year.end)];
                for (mark, (estimate, truth)) in estimates.into_iter().zip(truths).enumerate() {
                    stated[mark] += usize::from(estimate.is_some());
                    marks[mark] +=
                        usize::from(estimate.is_some_and(|estimate| holds(estimate, truth)));
                }
                let timed = year.shift.q.is_some_and(|q| q <= 0.05);
                named += usize::from(timed);
                wrong += usize::from(timed && year.shift.value * (shift - middle) <= 0.0);
            }
        }
        let of = |part: usize, all: usize| 100.0 * part as f64 / all.max(1) as f64;
        println!(
            "{differs:?}: trend held {:.0}, amount {:.0}, trend p <= 0.05 {:.0}; years held: onset {:.1}, \
             peak {:.1} of {} stated, end {:.1} (of 100); named {named} of {}, {wrong} wrong",
            of(trends, decades),
            of(amounts, decades),
            of(seen, decades),
            of(marks[0], stated[0]),
            of(marks[1], stated[1]),
            stated[1],
            of(marks[2], stated[2]),
            10 * decades,
        );
    }
}
