//! Weather of known effect on simulated decades: rain that acts after a fortnight, and rain that does
//! nothing.

use std::collections::BTreeMap;

use jiff::ToSpan;
use jiff::civil::{Date, date};
use trug::analyse::next::weather::{Recent, recent};
use trug::analyse::season::{Stint, phase};
use trug::analyse::statistics::Rng;
use trug::analyse::weather::effect::{Verdict, WeatherEffect};
use trug::analyse::weather::{Local, LocalDay, estimate, rain_scale};
use trug::model::SiteId;

use crate::collector::{FROM, UNTIL, decade_day};
use crate::truth::{TAXA, Taxon};

/// Weather begins so many years before the outings do.
const BEFORE: i16 = 15;

/// What rain does.
#[derive(Clone, Copy, Debug)]
pub struct Pulse {
    /// The lag of the middle of its effect, days.
    pub lag: f64,
    /// Its spread, days.
    pub spread: f64,
    /// The logarithm of the factor for one unit of rain on each day.
    pub strength: f64,
}

impl Pulse {
    /// The logarithm of the factor of one unit of rain so many days before.
    pub fn at(&self, lag: usize) -> f64 {
        let away = (lag as f64 - self.lag) / self.spread;
        let height = self.strength / (self.spread * (2.0 * std::f64::consts::PI).sqrt());
        height * (-0.5 * away * away).exp()
    }
}

/// A decade of outings with 25 years of weather.
pub struct WetDecade {
    pub stints: Vec<Stint>,
    pub local: Local,
}

/// Rain in spells of wet days, temperatures that remember those of the day before.
pub fn weather(rng: &mut Rng) -> Local {
    let first = date(2011 - BEFORE, 1, 1);
    let (mut wet, mut warm) = (false, 0.0);
    let days = (0..365 * (i64::from(BEFORE) + 11))
        .map(|place| {
            wet = rng.uniform() < if wet { 0.6 } else { 0.25 };
            let rain = if wet { 8.0 * rng.gamma(0.7) } else { 0.0 };
            warm = 0.8 * warm + 1.8 * rng.normal();
            let turn = 2.0 * std::f64::consts::PI * phase(first + place.days());
            let mean = 9.0 - 8.0 * turn.cos() + warm;
            LocalDay { rain: Some(rain), mean: Some(mean), minimum: Some(mean - 5.0) }
        })
        .collect();
    Local { first: Some(first), days, served: Vec::new() }
}

/// The logarithm of what the rain before a date did, against usual rain.
fn effect_of(local: &Local, date: Date, pulse: Pulse, usual: f64) -> f64 {
    let place = local.place(date).unwrap();
    (0..=60)
        .map(|lag| {
            let rain = local.days[place - lag].rain.unwrap();
            pulse.at(lag) * (rain_scale(rain) - usual)
        })
        .sum()
}

pub fn wet_decade(pulse: Pulse, spread: f64, taxon: Taxon, best: f64, seed: u64) -> WetDecade {
    let mut rng = Rng::new(seed);
    let local = weather(&mut rng);
    let usual = local.days.iter().map(|day| rain_scale(day.rain.unwrap())).sum::<f64>()
        / local.days.len() as f64;
    let stints = (0..160)
        .map(|outing| {
            let day = if rng.uniform() < 0.5 {
                FROM + (UNTIL - FROM) * rng.uniform()
            } else {
                (272.0 + 18.0 * rng.normal()).clamp(FROM, UNTIL)
            };
            let date = decade_day(outing / 16, day);
            let excess = (spread * rng.normal() - 0.5 * spread * spread).exp();
            let hours = 1.5 + 2.0 * rng.uniform();
            let season = best * taxon.rate(phase(date) * 365.0 + 0.5) / taxon.best;
            let rate = season * effect_of(&local, date, pulse, usual).exp();
            Stint {
                outing,
                date,
                elevation: None,
                hours,
                finds: rng.poisson(rate * hours * excess),
            }
        })
        .collect();
    WetDecade { stints, local }
}

impl WetDecade {
    pub fn estimated(&self) -> WeatherEffect {
        estimate(&self.stints, &[((0..160).collect(), &self.local)]).unwrap()
    }
}

/// The share of the rain curve whose interval holds the truth.
fn held(effect: &WeatherEffect, pulse: Pulse) -> f64 {
    let step = rain_scale(10.0);
    let holds = effect.rain.curve.iter().filter(|of| {
        let truth = (step * pulse.at(of.lag)).exp();
        of.factor.low95 <= truth && truth <= of.factor.high95
    });
    holds.count() as f64 / effect.rain.curve.len() as f64
}

const NONE: Pulse = Pulse { lag: 14.0, spread: 4.0, strength: 0.0 };
const FORTNIGHT: Pulse = Pulse { lag: 14.0, spread: 4.0, strength: 2.0 };

#[test]
fn rain_a_fortnight_before_is_found_with_its_lag() {
    let of = |seed| wet_decade(FORTNIGHT, 0.5, TAXA[0], 4.0, seed);
    let all: Vec<_> = (1_011..1_014).map(|seed| (seed, of(seed).estimated())).collect();
    let mut earned = all.iter().filter(|(_, effect)| effect.verdict == Verdict::Earned);
    // of such decades 19 of 20 show it
    assert!(earned.clone().count() >= 2, "{:?}", all.iter().map(|(_, of)| of.rain.p));
    let (seed, effect) = earned.next_back().unwrap();
    assert!(effect.rain.included && effect.gain.unwrap().per_outing > 0.0);
    let lag = effect.rain.strongest;
    assert!(lag.low95 <= 14.0 && 14.0 <= lag.high95 && lag.high95 - lag.low95 < 20.0, "{lag:?}");
    assert!(held(effect, FORTNIGHT) > 0.7, "{}", held(effect, FORTNIGHT));
    // more rain than usual in the fortnight before makes the forecast better than usual
    let decade = of(*seed);
    let wettest = (100..decade.local.days.len())
        .max_by(|a, b| {
            let of = |place: usize| -> f64 {
                (10..19).map(|lag| decade.local.days[place - lag].rain.unwrap()).sum()
            };
            of(*a).total_cmp(&of(*b))
        })
        .unwrap();
    let day = decade.local.first.unwrap() + i64::try_from(wettest).unwrap().days();
    let (factor, known) = effect.forecast(0, day).unwrap();
    assert!(factor.low95 > 1.0 && known == 61, "{factor:?} {known}");
    // of two sites only that in the area has that weather, and none after the last known day
    let (near, far) = (SiteId(1), SiteId(2));
    let of = |date| recent(effect, &[near, far], &BTreeMap::from([(near, 0)]), date);
    let (state, factors) = of(day);
    assert_eq!(state, Recent::Applied { known_days: 61, of_days: 61, sites: 1, sites_without: 1 });
    assert_eq!(factors, BTreeMap::from([(near, factor)]));
    let last =
        decade.local.first.unwrap() + i64::try_from(decade.local.days.len() - 1).unwrap().days();
    let known = |after: i64| match of(last + after.days()).0 {
        Recent::Applied { known_days, .. } => (true, known_days),
        Recent::Missing { known_days, .. } => (false, known_days),
        other => panic!("{other:?}"),
    };
    assert_eq!([known(6), known(7), known(90)], [(true, 55), (false, 54), (false, 0)]);
}

#[test]
fn rain_that_does_nothing_adds_nothing() {
    let earned = (1_021..1_024)
        .filter(|seed| {
            wet_decade(NONE, 0.5, TAXA[0], 4.0, *seed).estimated().verdict == Verdict::Earned
        })
        .count();
    // one of three has a probability of at most 0.15, two of 0.007
    assert!(earned <= 1, "{earned} of 3");
}

/// How often weather that does nothing is included.
#[test]
#[ignore = "minutes"]
fn no_weather_report() {
    let from: u64 = std::env::var("SEED").map_or(1_000, |seed| seed.parse().unwrap());
    let count: u64 = std::env::var("DECADES").map_or(20, |count| count.parse().unwrap());
    let mut sums = [0; 5];
    for seed in from..from + count {
        let effect = wet_decade(NONE, 0.7, TAXA[0], 4.0, seed).estimated();
        let small = |p: Option<f64>| p.is_some_and(|p| p <= 0.05);
        let own = [
            small(effect.rain.p),
            small(effect.warmth.p),
            effect.rain.included || effect.warmth.included,
            effect.verdict == Verdict::Earned,
            effect.measures.iter().any(|of| small(of.q)),
        ];
        sums.iter_mut().zip(own).for_each(|(sum, own)| *sum += usize::from(own));
    }
    println!("of {count}: rain, temperature p <= 0.05, included, earned, a measure: {sums:?}");
}

#[test]
#[ignore = "minutes"]
fn weather_report() {
    let from: u64 = std::env::var("SEED").map_or(1_000, |seed| seed.parse().unwrap());
    let count: u64 = std::env::var("DECADES").map_or(20, |count| count.parse().unwrap());
    for (name, pulse, spread) in [
        ("none", NONE, 0.0),
        ("none", NONE, 0.7),
        ("14 days", FORTNIGHT, 0.0),
        ("14 days", FORTNIGHT, 0.7),
        ("14 days, weak", Pulse { strength: 1.0, ..FORTNIGHT }, 0.7),
        ("28 days", Pulse { lag: 28.0, ..FORTNIGHT }, 0.7),
    ] {
        let mut sums = [0.0; 8];
        for seed in from..from + count {
            let effect = wet_decade(pulse, spread, TAXA[0], 4.0, seed).estimated();
            let lag = effect.rain.strongest;
            let share = |yes: bool| f64::from(u8::from(yes));
            let total = (rain_scale(10.0) * (0..=60).map(|lag| pulse.at(lag)).sum::<f64>()).exp();
            let whole = effect.rain.total;
            let own = [
                share(effect.rain.p.is_some_and(|p| p <= 0.05)),
                share(effect.warmth.p.is_some_and(|p| p <= 0.05)),
                share(effect.rain.included || effect.warmth.included),
                share(effect.verdict == Verdict::Earned),
                held(&effect, pulse),
                share(lag.low95 <= pulse.lag && pulse.lag <= lag.high95),
                share(whole.low95 <= total && total <= whole.high95),
                share(effect.measures.iter().any(|of| of.q.is_some_and(|q| q <= 0.05))),
            ];
            sums.iter_mut().zip(own).for_each(|(sum, own)| *sum += own);
        }
        let of = |place: usize| 100.0 * sums[place] / count as f64;
        println!(
            "{name}, overdispersion {spread}: rain p <= 0.05 {:.0}, temperature {:.0}, included {:.0}, \
             earned {:.0}; held: curve {:.1}, lag {:.0}, total {:.0}; a measure {:.0} (of 100)",
            of(0),
            of(1),
            of(2),
            of(3),
            of(4),
            of(5),
            of(6),
            of(7)
        );
    }
}
