//! The season of simulated decades.

use trug::analyse::season::{DayEstimate, Season, Stint, estimate, phase};
use trug::analyse::statistics::Rng;

use crate::collector::{Decade, FROM, Outing, UNTIL, decade_day};
use crate::measured::{Counted, Measured};
use crate::truth::{STYLES, Style, TAXA, Taxon};

fn holds(estimate: DayEstimate, truth: f64) -> bool {
    estimate.low95 <= truth && truth <= estimate.high95
}

/// The day by which a share of the rate has passed between the first and the last outing, which is what the
/// program states; 160 outings reach both ends to within a day.
fn reached(taxon: Taxon, share: f64) -> f64 {
    taxon.reached(share, FROM - 0.5, UNTIL + 0.5)
}

/// Sums over decades.
#[derive(Default)]
struct Sums {
    decades: f64,
    peak: f64,
    tenth: f64,
    median: f64,
    ninetieth: f64,
    days: [f64; 4],
    widths: f64,
    clear: f64,
}

impl Sums {
    fn add(&mut self, season: &Season, taxon: usize) {
        let taxon = TAXA[taxon];
        let truth = |share| reached(taxon, share);
        let hit = |estimate, truth| f64::from(u8::from(holds(estimate, truth)));
        self.decades += 1.0;
        self.clear += f64::from(u8::from(season.clear_peak));
        if let Some(peak) = taxon.peak {
            self.peak += hit(season.peak, peak);
            self.widths += season.peak.high95 - season.peak.low95;
        }
        self.tenth += hit(season.tenth, truth(0.1));
        self.median += hit(season.median, truth(0.5));
        self.ninetieth += hit(season.ninetieth, truth(0.9));
        let days = [season.tenth.day, season.median.day, season.ninetieth.day, season.peak.day];
        for (sum, day) in self.days.iter_mut().zip(days) {
            *sum += day;
        }
    }

    fn print(&self, what: &str, taxon: usize) {
        let n = self.decades.max(1.0);
        let share = |hits: f64| 100.0 * hits / n;
        let taxon = TAXA[taxon];
        let truth = |share| reached(taxon, share);
        println!(
            "{what}: 10 % {:.1} ({:.1}), median {:.1} ({:.1}), 90 % {:.1} ({:.1}), peak {:.1} ({:?}) \
             +-{:.1}; held: {:.0} {:.0} {:.0}, peak {:.0}; clear {:.0} %",
            self.days[0] / n,
            truth(0.1),
            self.days[1] / n,
            truth(0.5),
            self.days[2] / n,
            truth(0.9),
            self.days[3] / n,
            taxon.peak,
            self.widths / n / 2.0,
            share(self.tenth),
            share(self.median),
            share(self.ninetieth),
            share(self.peak),
            share(self.clear)
        );
    }
}

fn run(style: Style, counted: &[Counted], overdispersion: f64, seeds: std::ops::Range<u64>) {
    let mut sums: Vec<[Sums; 3]> = counted.iter().map(|_| Default::default()).collect();
    let mut weights = [0.0; 4];
    let count = (seeds.end - seeds.start) as f64;
    for seed in seeds {
        let outings = Decade { style, overdispersion, seed }.outings();
        let measured = Measured::of(&outings);
        for (sum, weight) in weights.iter_mut().zip(measured.weights[0].hour) {
            *sum += weight / count;
        }
        for (how, sums) in counted.iter().zip(&mut sums) {
            for (taxon, sums) in sums.iter_mut().enumerate() {
                if let Ok(season) = estimate(&measured.stints(&outings, taxon, *how)) {
                    sums.add(&season, taxon);
                }
            }
        }
    }
    println!("{style:?}, overdispersion {overdispersion}: weights {weights:.2?}");
    for (how, sums) in counted.iter().zip(&sums) {
        for (taxon, sums) in sums.iter().enumerate() {
            sums.print(&format!("  {how:?} taxon {taxon}"), taxon);
        }
    }
}

/// The effort counted per true hour on rich days over that on poor days, by finds on the outing.
fn rich_over_poor(measured: &Measured, outings: &[Outing], how: Counted) -> f64 {
    let mut order: Vec<usize> = (0..outings.len()).collect();
    order.sort_by_key(|index| outings[*index].finds.len());
    let share = |part: &[usize]| {
        let sum = |how| part.iter().map(|i| measured.counted(*i, &outings[*i], how)).sum::<f64>();
        sum(how) / sum(Counted::Truth)
    };
    share(&order[3 * order.len() / 4..]) / share(&order[..order.len() / 4])
}

#[test]
fn effort_does_not_depend_on_what_was_found() {
    for style in STYLES {
        let outings = Decade { style, overdispersion: 0.5, seed: 1_001 }.outings();
        let measured = Measured::of(&outings);
        let of = |how| rich_over_poor(&measured, &outings, how);
        let (before, hours, km) = (of(Counted::Stationary), of(Counted::Hours), of(Counted::Km));
        println!("{style:?}: before {before:.2}, hours {hours:.3}, km {km:.3}");
        assert!(before > 1.1, "{style:?}: the simulator shows nothing: {before}");
        assert!((hours - 1.0).abs() < 0.1 && (km - 1.0).abs() < 0.1, "{style:?}: {hours} {km}");
    }
}

/// Line by line in the first five years, from spot to spot in the others: one set of weights for both would take the
/// one for poor years and the other for rich ones.
#[test]
fn hours_count_alike_where_the_style_changes_between_years() {
    let of = |style| Decade { style, overdispersion: 0.5, seed: 1_003 }.outings();
    let mut outings = of(Style::Systematic);
    let first = outings.len() / 2;
    outings.truncate(first);
    outings.extend(of(Style::SpotToSpot).into_iter().skip(first));
    let measured = Measured::of(&outings);
    let ratio = |from: usize, to: usize| {
        let sum = |how| (from..to).map(|i| measured.counted(i, &outings[i], how)).sum::<f64>();
        sum(Counted::Hours) / sum(Counted::Truth)
    };
    let apart = ratio(0, first) / ratio(first, outings.len());
    assert!((apart - 1.0).abs() < 0.1, "{apart}");
}

#[test]
fn three_styles_of_searching_give_one_season() {
    let truth = |share| reached(TAXA[0], share);
    for style in STYLES {
        let outings = Decade { style, overdispersion: 0.0, seed: 1_002 }.outings();
        let measured = Measured::of(&outings);
        let season = estimate(&measured.stints(&outings, 0, Counted::Hours)).unwrap();
        let off = [
            season.tenth.day - truth(0.1),
            season.median.day - truth(0.5),
            season.ninetieth.day - truth(0.9),
            season.peak.day - 285.0,
        ];
        assert!(off.iter().all(|off| off.abs() < 3.0), "{style:?}: {off:.1?}");
        assert!(season.clear_peak && season.p_value < 0.001, "{style:?}");
    }
}

#[test]
#[ignore = "minutes"]
fn all_styles() {
    let from: u64 = std::env::var("SEED").map_or(1_000, |seed| seed.parse().unwrap());
    let count: u64 = std::env::var("DECADES").map_or(20, |count| count.parse().unwrap());
    let spread: f64 = std::env::var("SPREAD").map_or(0.0, |spread| spread.parse().unwrap());
    let counted = [Counted::Stationary, Counted::Hours, Counted::Km, Counted::Truth];
    for style in STYLES {
        run(style, &counted, spread, from..from + count);
    }
}

/// Outings of a decade with hours as they were: the season alone.
fn plain(taxon: Taxon, overdispersion: f64, best: f64, rng: &mut Rng) -> Vec<Stint> {
    (0..160)
        .map(|outing| {
            let day = if rng.uniform() < 0.5 {
                FROM + (UNTIL - FROM) * rng.uniform()
            } else {
                (272.0 + 18.0 * rng.normal()).clamp(FROM, UNTIL)
            };
            let date = decade_day(outing / 16, day);
            let spread = overdispersion;
            let excess = (spread * rng.normal() - 0.5 * spread * spread).exp();
            let hours = 1.5 + 2.0 * rng.uniform();
            let rate = best * taxon.rate(phase(date) * 365.0 + 0.5) / taxon.best;
            let finds = rng.poisson(rate * hours * excess);
            Stint { outing, date, elevation: None, hours, finds }
        })
        .collect()
}

#[test]
#[ignore = "minutes"]
fn plain_decades() {
    let from: u64 = std::env::var("SEED").map_or(1_000, |seed| seed.parse().unwrap());
    let count: u64 = std::env::var("DECADES").map_or(20, |count| count.parse().unwrap());
    for best in [2.0, 8.0, 0.3] {
        for spread in [0.0, 0.7] {
            for taxon in [0, 2] {
                let mut sums = Sums::default();
                for seed in from..from + count {
                    let mut rng = Rng::new(seed * 7 + 3);
                    let stints = plain(TAXA[taxon], spread, best, &mut rng);
                    if let Ok(season) = estimate(&stints) {
                        sums.add(&season, taxon);
                    }
                }
                sums.print(&format!("best {best} spread {spread} taxon {taxon}"), taxon);
            }
        }
    }
}

/// How often intervals of the season hold the truth, by style, and how often a taxon that fruits evenly is
/// called seasonal: effort by manner, per hour.
#[test]
#[ignore = "minutes"]
fn coverage_by_style() {
    let from: u64 = std::env::var("SEED").map_or(1_000, |seed| seed.parse().unwrap());
    let count: u64 = std::env::var("DECADES").map_or(20, |count| count.parse().unwrap());
    for spread in [0.0, 0.5] {
        for style in STYLES {
            run(style, &[Counted::Hours], spread, from..from + count);
        }
    }
}
