//! Decides whether the weather before a date changes the probabilities of sites, and by what factor.
//! Layer: `analyse`.
//!
//! # Method
//! Weather counts where it has earned its place ([`WeatherEffect`]) and enough of the days up to the date
//! are known at the site, as many as an outing needs to be part of the model. The factor is that on the rate
//! against usual weather; `Chance::under` turns it into a probability.

use std::collections::BTreeMap;

use jiff::civil::Date;
use serde::Serialize;

use crate::analyse::spatial_index::Ecef;
use crate::analyse::weather::effect::{DAYS, Factor, TooLittleWeather, Verdict, days_needed};
use crate::analyse::weather::{Area, Local, WeatherEffect};
use crate::model::SiteId;
use crate::units::{LatLon, Metres};

/// A site farther from the middle of every area has no weather (project choice: twice the extent of an
/// area).
const FARTHEST: Metres = Metres(20_000.0);

/// What the weather before the date does to the estimates.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(tag = "state", rename_all = "kebab-case")]
pub enum Recent {
    /// The store has no weather.
    NoStation,
    /// Too few outings with a find and with weather.
    TooLittle(TooLittleWeather),
    /// Nothing that these data can show, or no better prediction.
    NotEarned {
        /// Which of these.
        verdict: Verdict,
    },
    /// The aim is a species that is new to the list.
    NotForNew,
    /// Too few days before the date are known.
    Missing {
        /// Known days of those that count, at the best known site.
        known_days: usize,
        /// How many are needed.
        needed_days: usize,
        /// How many count.
        of_days: usize,
    },
    /// It changes the probabilities.
    Applied {
        /// The fewest known days at a site.
        known_days: usize,
        /// How many count.
        of_days: usize,
        /// Sites whose probability changed.
        sites: usize,
        /// Sites without that weather.
        sites_without: usize,
    },
}

/// The area whose weather each site has: that with the nearest middle.
#[must_use]
pub fn areas_of_sites(
    sites: &[(SiteId, LatLon)],
    areas: &[(Area, Local)],
) -> BTreeMap<SiteId, usize> {
    let middles: Vec<Ecef> = areas.iter().map(|(area, _)| Ecef::of(area.at)).collect();
    let nearest = |at: LatLon| {
        let spot = Ecef::of(at);
        let by_distance = middles.iter().map(|middle| middle.distance(spot).0).enumerate();
        by_distance
            .filter(|(_, metres)| *metres <= FARTHEST.0)
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(area, _)| area)
    };
    sites.iter().filter_map(|(site, at)| Some((*site, nearest(*at)?))).collect()
}

/// The factor of each site, and what became of the weather.
#[must_use]
pub fn recent(
    effect: &WeatherEffect,
    sites: &[SiteId],
    area_of: &BTreeMap<SiteId, usize>,
    date: Date,
) -> (Recent, BTreeMap<SiteId, Factor>) {
    let none = BTreeMap::new();
    if effect.verdict != Verdict::Earned {
        return (Recent::NotEarned { verdict: effect.verdict }, none);
    }
    let needed_days = days_needed();
    let mut best = 0;
    let mut known_days = DAYS;
    let mut factors = BTreeMap::new();
    for site in sites {
        let Some(area) = area_of.get(site) else { continue };
        let Some((factor, known)) = effect.forecast(*area, date) else { continue };
        best = best.max(known);
        if known >= needed_days {
            known_days = known_days.min(known);
            factors.insert(*site, factor);
        }
    }
    if factors.is_empty() {
        return (Recent::Missing { known_days: best, needed_days, of_days: DAYS }, none);
    }
    let applied = Recent::Applied {
        known_days,
        of_days: DAYS,
        sites: factors.len(),
        sites_without: sites.len() - factors.len(),
    };
    (applied, factors)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sites_have_the_weather_of_the_nearest_area_and_far_ones_none() {
        let at = |latitude| LatLon::new(latitude, 146.0).unwrap();
        let area = |latitude| {
            (Area { at: at(latitude), elevation: None, outings: Vec::new() }, Local::default())
        };
        let areas = [area(-42.0), area(-42.2)];
        let sites = [(SiteId(1), at(-42.02)), (SiteId(2), at(-42.15)), (SiteId(3), at(-43.0))];
        let of = areas_of_sites(&sites, &areas);
        assert_eq!(of, BTreeMap::from([(SiteId(1), 0), (SiteId(2), 1)]));
    }
}
