//! How likely is a find at each site on a date? Weighs what earlier visits found by how near their
//! time of the year is and how long ago they were, and shrinks little evidence towards what all
//! sites together gave at that season. Layer: `analyse`.
//!
//! # Method
//! A visit t days of the year away and y years ago weighs exp(-t²/(2·14²)) · 2^(-y/5). The chance is
//! (sum of weights with a find + 2 m) / (sum of weights + 2), m the same quotient over all sites: a
//! beta prior worth two visits. Choices of ours, stated; the evidence is printed beside each.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;

use crate::analyse::season::phase;
use crate::model::SiteId;

/// A searched visit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PastVisit {
    /// Where.
    pub site: SiteId,
    /// When.
    pub date: Date,
    /// Whether anything that is asked for was found.
    pub found: bool,
}

/// A site with its chance and what that rests on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Prospect {
    /// The site.
    pub site: SiteId,
    /// The chance of a find on that date.
    pub chance: f64,
    /// Visits within three weeks of the date in any year.
    pub visits_in_season: usize,
    /// Those with a find.
    pub found_in_season: usize,
    /// All searched visits.
    pub visits: usize,
    /// The last date of a find.
    pub last_found: Option<Date>,
    /// What the season alone gives, over all sites.
    pub season_alone: f64,
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

/// The sites with the highest chance first. Visits on or after the date are not looked at.
#[must_use]
pub fn rank(visits: &[PastVisit], date: Date) -> Vec<Prospect> {
    let past: Vec<&PastVisit> = visits.iter().filter(|visit| visit.date < date).collect();
    let (all, found) = past.iter().fold((0.0, 0.0), |(all, found), visit| {
        let weight = weight(visit, date);
        (all + weight, found + if visit.found { weight } else { 0.0 })
    });
    // one vain visit's worth of doubt, so that an unvisited season promises little
    let season_alone = found / (all + 1.0);
    let mut sites: BTreeMap<SiteId, Vec<&PastVisit>> = BTreeMap::new();
    for visit in past {
        sites.entry(visit.site).or_default().push(visit);
    }
    let mut prospects: Vec<Prospect> = sites
        .into_iter()
        .map(|(site, visits)| prospect(site, &visits, date, season_alone))
        .collect();
    prospects.sort_by(|a, b| b.chance.total_cmp(&a.chance).then(a.site.cmp(&b.site)));
    prospects
}

fn prospect(site: SiteId, visits: &[&PastVisit], date: Date, season_alone: f64) -> Prospect {
    let (all, found) = visits.iter().fold((0.0, 0.0), |(all, found), visit| {
        let weight = weight(visit, date);
        (all + weight, found + if visit.found { weight } else { 0.0 })
    });
    let in_season: Vec<&&PastVisit> =
        visits.iter().filter(|visit| days_apart(visit.date, date) <= IN_SEASON_DAYS).collect();
    Prospect {
        site,
        chance: (found + PRIOR_VISITS * season_alone) / (all + PRIOR_VISITS),
        visits_in_season: in_season.len(),
        found_in_season: in_season.iter().filter(|visit| visit.found).count(),
        visits: visits.len(),
        last_found: visits.iter().filter(|visit| visit.found).map(|visit| visit.date).max(),
        season_alone,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn visit(site: i64, date: Date, found: bool) -> PastVisit {
        PastVisit { site: SiteId(site), date, found }
    }

    #[test]
    fn a_site_that_bore_at_this_season_comes_first() {
        let visits = [
            visit(1, date(2024, 5, 4), true),
            visit(1, date(2025, 5, 8), true),
            visit(2, date(2024, 9, 4), true),
            visit(2, date(2025, 5, 8), false),
            visit(3, date(2014, 5, 4), true),
            visit(3, date(2015, 5, 8), true),
        ];
        let ranked = rank(&visits, date(2026, 5, 6));
        let order: Vec<i64> = ranked.iter().map(|prospect| prospect.site.0).collect();
        assert_eq!(order, [1, 3, 2]);
        assert_eq!((ranked[0].visits_in_season, ranked[0].found_in_season), (2, 2));
        assert!(ranked[0].chance < 1.0 && ranked[2].chance > 0.0);
    }

    #[test]
    fn out_of_season_promises_little_and_the_future_is_not_known() {
        let visits = [visit(1, date(2025, 5, 8), true), visit(1, date(2026, 11, 8), true)];
        let ranked = rank(&visits, date(2026, 10, 6));
        assert!(ranked[0].chance < 0.01, "{ranked:?}");
        assert!(rank(&visits, date(2020, 1, 1)).is_empty());
    }

    #[test]
    fn new_year_is_no_border() {
        let ranked = rank(&[visit(1, date(2025, 12, 30), true)], date(2027, 1, 2));
        assert_eq!(ranked[0].found_in_season, 1);
    }
}
