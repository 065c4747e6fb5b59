//! Estimates the probability of a find at each site on a date from earlier visits, weighted by
//! season and age and shrunk towards the seasonal mean of all sites. States an interval.
//! Layer: `analyse`.
//!
//! # Method
//! m(d) is the expected share of visits with a find on day d over all sites: the curve of [`rate`]
//! through the shares of visits with a find, with weights halved every five years. With finds on
//! fewer than five days it is (weights with a find) / (weights + 1), the weights as below.
//!
//! A visit t days of the year away and y years ago weighs w = exp(-t²/(2·14²)) · 2^(-y/5); it
//! counts as n = w m(its day) / m visits on the date. The probability is (sum of w with a find + k
//! m) / (sum of n + k): a prior worth k visits, k by maximum likelihood (beta-binomial) from a
//! quarter to 16 with a weak prior about 2; 2 for fewer than five sites. Where sites differ, k is
//! small, and many visits without a find indicate absence. The weights are project choices; the
//! evidence is printed beside each probability.
//!
//! The interval is the central 95 % of posterior draws: the season from the band of its curve
//! (without a curve from a beta distribution worth as many visits as there were days of search near
//! the date, since finds of one day are dependent), then the probability from the beta distribution
//! of these sums. Effects of the coming year common to all sites are not included.
//!
//! # Accuracy
//! In sixty simulated decades of twelve sites the expected number of finds is within 15 % of the simulated one, and
//! the intervals contain the true probability of a site in at least 93 % of cases (tests of this file).
//!
//! # References
//! Skellam 1948, A probability distribution derived from the binomial by regarding the probability
//! of success as variable between the sets of trials, JRSS B 10:257 (the beta-binomial). Kish 1965,
//! Survey Sampling, 8.2 (how many equal weights unequal ones are worth).

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;

use crate::analyse::season::phase;
use crate::analyse::season::rate::{self, Curve, Tally};
use crate::analyse::statistics::{Rng, quantile};
use crate::analyse::weather::Chance;
use crate::analyse::weather::effect::Factor;
use crate::model::SiteId;

/// A visit that searched, or that found something in passing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PastVisit {
    /// Where.
    pub site: SiteId,
    /// When.
    pub date: Date,
    /// Whether any of the requested taxa was found.
    pub found: bool,
    /// Whether it counts with a find and without one
    /// ([`search_time`](crate::analyse::detection::search_time)). A find in passing shows where, not how often.
    pub searched: bool,
}

/// A site with its probability and the evidence for it.
///
/// `determined` decides whether the probability is shown at all.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Prospect {
    /// The site.
    pub site: SiteId,
    /// The probability of a find on that date.
    pub chance: f64,
    /// The lower end of its 95 % interval.
    pub chance_low95: f64,
    /// The upper end.
    pub chance_high95: f64,
    /// Whether the data are informative: there were searches near that time of the year, and the
    /// interval is not all of 0 to 1.
    pub determined: bool,
    /// Visits within three weeks of the date in any year.
    pub visits_in_season: usize,
    /// Those with a find.
    pub found_in_season: usize,
    /// All searched visits.
    pub visits: usize,
    /// The last date of a find.
    pub last_found: Option<Date>,
    /// The expected share from the season alone, over all sites.
    pub season_alone: f64,
    /// What the weather before the date changed; none where it is not used.
    pub weather: Option<Weathered>,
}

/// What the weather before a date changed at a site.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Weathered {
    /// The probability at usual weather.
    pub chance_at_usual_weather: f64,
    /// The factor on the rate of finds.
    #[serde(flatten)]
    pub factor: Factor,
}

const SPREAD_DAYS: f64 = 14.0;
const HALF_LIFE_YEARS: f64 = 5.0;
const PRIOR_VISITS: f64 = 2.0;
const IN_SEASON_DAYS: f64 = 21.0;

fn days_apart(a: Date, b: Date) -> f64 {
    let apart = (phase(a) - phase(b) + 0.5).rem_euclid(1.0) - 0.5;
    apart.abs() * 365.0
}

fn weight(visit: &PastVisit, date: Date) -> f64 {
    let days = days_apart(visit.date, date);
    let years =
        (f64::from(date.year()) + phase(date)) - (f64::from(visit.date.year()) + phase(visit.date));
    (-0.5 * (days / SPREAD_DAYS).powi(2)).exp() * (-years.max(0.0) / HALF_LIFE_YEARS).exp2()
}

/// The estimates for a date.
#[derive(Clone, Debug)]
pub struct Outlook {
    /// The sites, highest probability first.
    pub sites: Vec<Prospect>,
    evidence: BTreeMap<SiteId, Evidence>,
    season: Season,
    factors: BTreeMap<SiteId, Factor>,
}

/// Weights of the visits of a site, and their expectation from the season.
#[derive(Clone, Copy, Debug, Default)]
struct Evidence {
    found: f64,
    expected: f64,
}

impl Evidence {
    /// Hits and misses, in visits on a day on which a visit gives `m` over all sites, with a prior
    /// of `worth` visits that gave `prior`.
    fn counted(self, m: f64, prior: f64, worth: f64) -> (f64, f64) {
        let visits = self.expected / m.max(1e-12);
        let missed = (visits - self.found).max(0.0);
        (self.found + worth * prior, missed + worth * (1.0 - prior))
    }

    fn chance(self, season: &Season) -> f64 {
        let (hits, misses) = self.counted(season.value, season.value, season.prior_visits);
        hits / (hits + misses)
    }

    /// Draws from the posterior of one site and of the season.
    fn drawn(self, site: SiteId, season: &Season) -> Vec<f64> {
        let mut rng = Rng::new(0x0dd5 ^ site.0.unsigned_abs());
        let mut draw = |prior: f64| {
            let (hits, misses) = self.counted(season.value, prior, season.prior_visits);
            rng.beta(hits, misses)
        };
        season.drawn.iter().map(|prior| draw(*prior)).collect()
    }
}

/// The expected share of visits with a find on the date, over all sites.
#[derive(Clone, Debug)]
struct Season {
    value: f64,
    /// Its weight as a prior, in visits.
    prior_visits: f64,
    drawn: Vec<f64>,
}

/// The number of posterior draws.
const DRAWS: usize = 400;
/// An interval wider than this says nothing (project choice).
const WIDEST: f64 = 0.9;
/// Weight of visits near a date below which the date counts as unsearched.
const UNSEARCHED: f64 = 1.0;

/// The expectation for each site. Visits on or after the date are ignored.
///
/// Effects that a year has on all sites at once, such as a dry autumn, are not in the intervals.
#[must_use]
pub fn outlook(visits: &[PastVisit], date: Date) -> Outlook {
    let past: Vec<&PastVisit> = visits.iter().filter(|visit| visit.date < date).collect();
    let (mut all, mut found, mut by_day) = (0.0, 0.0, BTreeMap::<Date, f64>::new());
    for visit in past.iter().filter(|visit| visit.searched) {
        let weight = weight(visit, date);
        all += weight;
        found += if visit.found { weight } else { 0.0 };
        *by_day.entry(visit.date).or_default() += weight;
    }
    let curve = curve(&past, date);
    // a pseudo-visit without a find, so that an unvisited season has a low expectation
    let near = found / (all + 1.0);
    let given = |day: Date| curve.as_ref().map_or(near, |curve| curve.rate(phase(day)).min(MOST));
    let mut rng = Rng::new(0x5ea5);
    let value = given(date);
    let drawn = if let Some(curve) = &curve {
        let error = curve.log_error(phase(date));
        (0..DRAWS).map(|_| (value * (error * rng.normal()).exp()).min(MOST)).collect()
    } else {
        let days = worth(&by_day).min(all);
        let mut draw = || rng.beta(days * value + 0.5, days * (1.0 - value) + 0.5);
        (0..DRAWS).map(|_| draw()).collect()
    };
    let mut evidence: BTreeMap<SiteId, Evidence> = BTreeMap::new();
    let mut sites: BTreeMap<SiteId, Vec<&PastVisit>> = BTreeMap::new();
    for visit in past {
        sites.entry(visit.site).or_default().push(visit);
        let own = evidence.entry(visit.site).or_default();
        if !visit.searched {
            continue;
        }
        let weight = weight(visit, date);
        own.found += if visit.found { weight } else { 0.0 };
        own.expected += weight * given(visit.date);
    }
    let prior_visits = prior_visits(evidence.values(), value);
    let season = Season { value, prior_visits, drawn };
    let mut prospects: Vec<Prospect> = sites
        .into_iter()
        .map(|(site, visits)| {
            let own = evidence[&site];
            let mut drawn = own.drawn(site, &season);
            drawn.sort_unstable_by(f64::total_cmp);
            let at = |share: f64| quantile(&drawn, share).unwrap_or(0.0);
            Prospect {
                chance: own.chance(&season),
                chance_low95: at(0.025),
                chance_high95: at(0.975),
                determined: all >= UNSEARCHED && at(0.975) - at(0.025) <= WIDEST,
                season_alone: value,
                ..prospect(site, &visits, date)
            }
        })
        .collect();
    prospects.sort_by(|a, b| b.chance.total_cmp(&a.chance).then(a.site.cmp(&b.site)));
    Outlook { sites: prospects, evidence, season, factors: BTreeMap::new() }
}

/// The prior weight of the season in visits: the maximum-likelihood value, with a weak prior around
/// two.
fn prior_visits<'a>(sites: impl Iterator<Item = &'a Evidence>, m: f64) -> f64 {
    const LEAST_SITES: usize = 5;
    let ln_beta = |a: f64, b: f64| libm::lgamma(a) + libm::lgamma(b) - libm::lgamma(a + b);
    let m = m.clamp(1e-3, 1.0 - 1e-3);
    let tried: Vec<(f64, f64)> = sites
        .filter(|own| own.expected > 0.0)
        .map(|own| (own.found, (own.expected / m - own.found).max(0.0)))
        .collect();
    if tried.len() < LEAST_SITES {
        return PRIOR_VISITS;
    }
    let likelihood = |worth: f64| -> f64 {
        let (a, b) = (worth * m, worth * (1.0 - m));
        let of_sites: f64 = tried
            .iter()
            .map(|(found, missed)| ln_beta(a + found, b + missed) - ln_beta(a, b))
            .sum();
        // one or two sites that differ by overdispersion must not dominate it
        of_sites - 0.5 * (worth / PRIOR_VISITS).ln().powi(2)
    };
    (-6..=6)
        .map(|step| PRIOR_VISITS * (0.5 * f64::from(step)).exp2())
        .max_by(|a, b| likelihood(*a).total_cmp(&likelihood(*b)))
        .unwrap_or(PRIOR_VISITS)
}

/// The upper bound of the expected share from the curve.
const MOST: f64 = 0.98;
/// The fewest days with a find for fitting a curve.
const LEAST_DAYS: usize = 5;

/// The share of visits with a find through the year, all sites together; `None` for few days with
/// one.
fn curve(past: &[&PastVisit], date: Date) -> Option<Curve> {
    let mut days: BTreeMap<Date, Tally> = BTreeMap::new();
    for visit in past.iter().filter(|visit| visit.searched) {
        let years = f64::from(date.year() - visit.date.year());
        let day = days.entry(visit.date).or_insert(Tally {
            phase: phase(visit.date),
            hours: 0.0,
            finds: 0.0,
            times: (-years / HALF_LIFE_YEARS).exp2(),
        });
        day.hours += 1.0;
        day.finds += if visit.found { 1.0 } else { 0.0 };
    }
    let days: Vec<Tally> = days.into_values().collect();
    if days.iter().filter(|day| day.finds > 0.0).count() < LEAST_DAYS {
        return None;
    }
    rate::fit(&days, rate::scatter(&days))
}

/// How many days of equal weight these are worth.
fn worth(by_day: &BTreeMap<Date, f64>) -> f64 {
    let (sum, squares) = by_day
        .values()
        .fold((0.0, 0.0), |(sum, squares), weight| (sum + weight, squares + weight * weight));
    if squares > 0.0 { sum * sum / squares } else { 0.0 }
}

impl Outlook {
    /// The same under the weather before the date, which multiplies the rate at these sites.
    #[must_use]
    pub fn under(mut self, factors: BTreeMap<SiteId, Factor>) -> Self {
        for own in &mut self.sites {
            let Some(factor) = factors.get(&own.site).copied() else { continue };
            let usual =
                Chance { chance: own.chance, low95: own.chance_low95, high95: own.chance_high95 };
            let under = usual.under(&factor);
            own.weather = Some(Weathered { chance_at_usual_weather: own.chance, factor });
            (own.chance, own.chance_low95, own.chance_high95) =
                (under.chance, under.low95, under.high95);
            own.determined = own.determined && under.high95 - under.low95 <= WIDEST;
        }
        self.sites.sort_by(|a, b| b.chance.total_cmp(&a.chance).then(a.site.cmp(&b.site)));
        self.factors = factors;
        self
    }

    /// Draws of a probability, those of weather shared by all sites: it is dry or wet for all of them.
    fn drawn(&self, site: SiteId) -> Vec<f64> {
        let evidence = self.evidence.get(&site).copied().unwrap_or_default();
        let mut drawn = evidence.drawn(site, &self.season);
        let Some(factor) = self.factors.get(&site) else { return drawn };
        let error = (factor.high95 / factor.low95).ln() / 3.92;
        let mut rng = Rng::new(0x3a17);
        for chance in &mut drawn {
            let times = factor.factor * (error * rng.normal()).exp();
            *chance = 1.0 - (1.0 - *chance).powf(times);
        }
        drawn
    }

    /// The 95 % prediction interval of the number of these sites with a find on such a day.
    #[must_use]
    pub fn finds_at(&self, sites: &[SiteId]) -> (u32, u32) {
        let mut rng = Rng::new(0x0f1d);
        let mut counts = vec![0_u32; DRAWS];
        for site in sites {
            for (count, chance) in counts.iter_mut().zip(self.drawn(*site)) {
                *count += u32::from(rng.uniform() < chance);
            }
        }
        counts.sort_unstable();
        let at = |share: f64| {
            #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "an index")]
            let place = (share * counts.len() as f64) as usize;
            counts.get(place.min(counts.len().saturating_sub(1))).copied().unwrap_or(0)
        };
        (at(0.025), at(0.975))
    }
}

/// The evidence printed beside the probability.
fn prospect(site: SiteId, visits: &[&PastVisit], date: Date) -> Prospect {
    let searched = || visits.iter().filter(|visit| visit.searched);
    let in_season: Vec<&&PastVisit> =
        searched().filter(|visit| days_apart(visit.date, date) <= IN_SEASON_DAYS).collect();
    Prospect {
        site,
        chance: 0.0,
        chance_low95: 0.0,
        chance_high95: 1.0,
        determined: false,
        visits_in_season: in_season.len(),
        found_in_season: in_season.iter().filter(|visit| visit.found).count(),
        visits: searched().count(),
        last_found: visits.iter().filter(|visit| visit.found).map(|visit| visit.date).max(),
        season_alone: 0.0,
        weather: None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn visit(site: i64, date: Date, found: bool) -> PastVisit {
        PastVisit { site: SiteId(site), date, found, searched: true }
    }

    #[test]
    fn site_with_finds_in_this_season_ranks_first() {
        let visits = [
            visit(1, date(2024, 5, 4), true),
            visit(1, date(2025, 5, 8), true),
            visit(2, date(2024, 9, 4), true),
            visit(2, date(2025, 5, 8), false),
            visit(3, date(2014, 5, 4), true),
            visit(3, date(2015, 5, 8), true),
        ];
        let ranked = outlook(&visits, date(2026, 5, 6)).sites;
        let order: Vec<i64> = ranked.iter().map(|prospect| prospect.site.0).collect();
        assert_eq!(order, [1, 3, 2]);
        assert_eq!((ranked[0].visits_in_season, ranked[0].found_in_season), (2, 2));
        assert!(ranked[0].chance < 1.0 && ranked[2].chance > 0.0);
    }

    #[test]
    fn out_of_season_is_improbable_and_future_visits_are_ignored() {
        let visits = [visit(1, date(2025, 5, 8), true), visit(1, date(2026, 11, 8), true)];
        let ranked = outlook(&visits, date(2026, 10, 6)).sites;
        assert!(ranked[0].chance < 0.01 && !ranked[0].determined, "{ranked:?}");
        assert!(outlook(&visits, date(2020, 1, 1)).sites.is_empty());
    }

    #[test]
    fn many_visits_without_a_find_rank_below_few() {
        // six sites yield it on two visits of three, six never do; all in one season, 28 visits
        // each
        let mut visits = Vec::new();
        for year in 2019..2026 {
            for day in [2, 7, 12, 17] {
                for site in 0..12 {
                    let found = site < 6 && (i64::from(year) + site + i64::from(day)) % 3 != 0;
                    visits.push(visit(site, date(year, 5, day), found));
                }
            }
        }
        visits.push(visit(12, date(2025, 5, 2), false));
        let result = outlook(&visits, date(2026, 5, 7)).sites;
        let of = |site: i64| result.iter().find(|p| p.site == SiteId(site)).unwrap().chance;
        assert!(of(7) < 0.03 && of(1) > 0.5, "{} {}", of(7), of(1));
        assert!(of(12) > 2.0 * of(7), "{} {}", of(12), of(7));
    }

    #[test]
    fn weather_changes_chances_their_order_and_the_number_of_finds() {
        let mut visits = Vec::new();
        for year in 2016..2026 {
            for day in [2, 7, 12, 17] {
                for site in 0..8 {
                    let found = (i64::from(year) * 3 + site * 5 + i64::from(day)) % 4 == 0;
                    visits.push(visit(site, date(year, 5, day), found));
                }
            }
        }
        let usual = outlook(&visits, date(2026, 5, 7));
        let sites: Vec<SiteId> = usual.sites.iter().map(|own| own.site).collect();
        let least = *sites.last().unwrap();
        let sure = |factor| Factor { factor, low95: factor, high95: factor };
        let wet = usual.clone().under(sites.iter().map(|site| (*site, sure(4.0))).collect());
        let dry = usual.clone().under(sites.iter().map(|site| (*site, sure(0.1))).collect());
        for (own, before) in wet.sites.iter().zip(&usual.sites) {
            let was = own.weather.unwrap().chance_at_usual_weather;
            assert_eq!(own.site, before.site);
            assert!((own.chance - (1.0 - (1.0 - was).powi(4))).abs() < 1e-9, "{own:?}");
        }
        let counts = [&dry, &usual, &wet].map(|of| of.finds_at(&sites));
        assert!(counts[0].1 < counts[1].1 && counts[1].0 < counts[2].0, "{counts:?}");
        // weather of one place only: the last site becomes the first, the others keep their chances
        let one = usual.clone().under(BTreeMap::from([(least, sure(6.0))]));
        assert_eq!(one.sites[0].site, least);
        assert_eq!(one.sites[1], usual.sites[0]);
        // an uncertain factor makes the interval wider
        let unsure = Factor { factor: 4.0, low95: 1.0, high95: 16.0 };
        let vague = usual.under(sites.iter().map(|site| (*site, unsure)).collect());
        let width = |of: &Outlook| of.finds_at(&sites).1 - of.finds_at(&sites).0;
        assert!(width(&vague) > width(&wet), "{} {}", width(&vague), width(&wet));
    }

    #[test]
    fn season_is_continuous_across_new_year() {
        let ranked = outlook(&[visit(1, date(2025, 12, 30), true)], date(2027, 1, 2)).sites;
        assert_eq!(ranked[0].found_in_season, 1);
    }

    /// Ten years of twelve sites that fruit in six seasons of ten, some more often than others,
    /// with a peak in mid-May; eight outings a year to half of the sites each. Then a day of the
    /// eleventh year on which all sites are visited. The true probability of each site is known.
    fn decade(rng: &mut Rng) -> (Vec<PastVisit>, Vec<f64>, u32) {
        const SITES: usize = 12;
        let bears: Vec<f64> = (0..SITES).map(|_| 0.35 + 0.5 * rng.uniform()).collect();
        let seen = |day: f64| 0.6 * (-0.5 * ((day - 135.0) / 20.0).powi(2)).exp();
        let mut visits = Vec::new();
        for year in 2015..2025 {
            let there: Vec<bool> = bears.iter().map(|bears| rng.uniform() < *bears).collect();
            for _ in 0..8 {
                let day = 95 + i16::try_from(rng.below(80)).unwrap();
                let when = date(year, 1, 1).checked_add(jiff::Span::new().days(day - 1)).unwrap();
                for (site, there) in there.iter().enumerate() {
                    if rng.uniform() < 0.5 {
                        let found = *there && rng.uniform() < seen(f64::from(day));
                        visits.push(visit(i64::try_from(site).unwrap(), when, found));
                    }
                }
            }
        }
        let chances: Vec<f64> = bears.iter().map(|bears| bears * seen(130.0)).collect();
        let happened = chances.iter().filter(|chance| rng.uniform() < **chance).count();
        (visits, chances, u32::try_from(happened).unwrap())
    }

    #[test]
    fn predicted_finds_match_simulated_frequencies() {
        const DECADES: u32 = 60;
        let mut rng = Rng::new(31);
        let (mut expected, mut happened, mut held, mut sites, mut days) = (0.0, 0.0, 0.0, 0.0, 0);
        let mut width = 0.0;
        for _ in 0..DECADES {
            let (visits, truth, finds) = decade(&mut rng);
            let result = outlook(&visits, date(2025, 5, 10));
            for prospect in &result.sites {
                let truth = truth[usize::try_from(prospect.site.0).unwrap()];
                let inside = (prospect.chance_low95..=prospect.chance_high95).contains(&truth);
                held += f64::from(u8::from(inside));
                expected += prospect.chance;
                width += prospect.chance_high95 - prospect.chance_low95;
                sites += 1.0;
            }
            happened += f64::from(finds);
            let all: Vec<SiteId> = result.sites.iter().map(|prospect| prospect.site).collect();
            let (low, high) = result.finds_at(&all);
            days += u32::from((low..=high).contains(&finds));
        }
        // about 250 finds occur: their standard deviation is about 5 %
        assert!((expected / happened - 1.0_f64).abs() < 0.15, "{expected} {happened}");
        let (held, width) = (held / sites, width / sites);
        assert!((0.93..0.99).contains(&held), "{held} of the intervals");
        assert!(width < 0.6, "no safety by exaggeration: {width}");
        assert!(days >= 54, "{days} of {DECADES} days");
    }

    /// Whoever walks past and stops only at what is found leaves no visit without a find: such finds say nothing of
    /// how often a visit finds something.
    #[test]
    fn finds_in_passing_do_not_raise_the_probability() {
        let mut visits: Vec<PastVisit> = (0..40)
            .map(|n| visit(n % 5, date(2018 + i16::try_from(n / 5).unwrap(), 5, 8), n % 4 == 0))
            .collect();
        let on = date(2026, 5, 9);
        let before = outlook(&visits, on).sites;
        visits.extend((0..30).map(|n| PastVisit {
            searched: false,
            ..visit(n % 6, date(2018 + i16::try_from(n / 5).unwrap(), 5, 12), true)
        }));
        let after = outlook(&visits, on).sites;
        for own in &before {
            let same = after.iter().find(|after| after.site == own.site).unwrap();
            assert_eq!((same.chance, same.visits), (own.chance, own.visits), "{}", own.site.0);
            let found = visits.iter().filter(|visit| visit.site == own.site && visit.found);
            assert_eq!(same.last_found, found.map(|visit| visit.date).max());
        }
        // a site of finds in passing alone has the probability of the season
        let sixth = after.iter().find(|own| own.site == SiteId(5)).unwrap();
        assert_eq!(sixth.visits, 0);
        assert!((sixth.chance - sixth.season_alone).abs() < 1e-9, "{sixth:?}");
    }

    #[test]
    fn an_unsearched_season_is_not_reported() {
        let visits: Vec<PastVisit> = (0..30)
            .map(|n| visit(n % 5, date(2020 + i16::try_from(n / 5).unwrap(), 5, 8), n % 3 == 0))
            .collect();
        assert!(outlook(&visits, date(2026, 11, 20)).sites.iter().all(|site| !site.determined));
        assert!(outlook(&visits, date(2026, 5, 9)).sites.iter().all(|site| site.determined));
    }
}
