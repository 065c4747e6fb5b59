//! Detects sites that may be parts of one patch: finds of the same taxon that would be one site if
//! sites were larger. Layer: `analyse`.

use std::collections::{BTreeMap, BTreeSet};

use super::clustering::{Reading, Rule, group};
use super::sites::{SiteRule, Sites};
use super::spotted::SpottedFind;
use crate::units::Metres;

/// Site radii that are tried, metres.
const EXTENTS: [Metres; 2] = [Metres(10.0), Metres(20.0)];
/// The fewest neighbouring sites of one taxon that suggest a patch (project choice).
const PARTS: usize = 3;
/// The most finds for which the check is run, to bound its time.
const MOST: usize = 50_000;

/// The number of sites in groups of three or more with a common taxon that a larger site radius
/// would merge, and the smallest such radius.
#[must_use]
pub fn split_patches(
    finds: &[SpottedFind],
    sites: &Sites,
    rule: SiteRule,
) -> Option<(usize, Metres)> {
    if finds.len() > MOST {
        return None;
    }
    let placed: Vec<usize> = (0..finds.len()).filter(|i| sites.of_find[*i].is_some()).collect();
    let readings: Vec<Reading> =
        placed.iter().map(|i| Reading { at: finds[*i].at, radius: finds[*i].radius }).collect();
    EXTENTS.into_iter().filter(|extent| extent.0 > rule.linkage.place.0).find_map(|extent| {
        let labels = group(&readings, Rule { place: extent, ..rule.linkage });
        let mut parts: BTreeMap<(u32, &str), BTreeSet<usize>> = BTreeMap::new();
        for (index, label) in placed.iter().zip(labels) {
            if let (Some(site), Some(taxon)) =
                (sites.of_find[*index], finds[*index].taxon.as_deref())
            {
                parts.entry((label, taxon)).or_default().insert(site);
            }
        }
        let many = parts.into_values().filter(|sites| sites.len() >= PARTS);
        let parted: BTreeSet<usize> = many.flatten().collect();
        (!parted.is_empty()).then_some((parted.len(), extent))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::sites::{Known, find_sites};
    use crate::analyse::statistics::Rng;
    use crate::units::{LatLon, Radius95};
    use uuid::Uuid;

    fn find(number: u128, east: f64, north: f64, taxon: &str) -> SpottedFind {
        SpottedFind {
            id: Uuid::from_u128(number),
            label: number.to_string().into(),
            at: LatLon::clamped(north / 111_190.0, east / 111_320.0),
            radius: Radius95::new(Metres(4.0)).unwrap(),
            date: jiff::civil::date(2026, 5, 3),
            when: None,
            taxon: Some(taxon.into()),
            outing: Uuid::nil(),
            height: None,
        }
    }

    /// Thirty finds over a disc of 12 m radius, each read within some metres.
    fn disc(taxon: &str) -> Vec<SpottedFind> {
        let mut rng = Rng::new(12);
        (0..30)
            .map(|number| {
                let (away, turn) =
                    (12.0 * rng.uniform().sqrt(), std::f64::consts::TAU * rng.uniform());
                let off = |rng: &mut Rng| 1.6 * rng.normal();
                let (x, y) = (away * turn.cos() + off(&mut rng), away * turn.sin() + off(&mut rng));
                find(number, x, y, taxon)
            })
            .collect()
    }

    #[test]
    fn split_patch_is_reported_with_the_extent_that_joins_it() {
        let finds = disc("Mycena interrupta");
        let rule = SiteRule::default();
        let apart = find_sites(&finds, rule, &Known::default());
        assert!(apart.sites.len() >= 3, "{} sites", apart.sites.len());
        let (parted, extent) = split_patches(&finds, &apart, rule).unwrap();
        assert!(parted >= 3 && parted <= apart.sites.len(), "{parted}");
        let linkage = Rule { place: extent, ..rule.linkage };
        let joined = find_sites(&finds, SiteRule { linkage, ..rule }, &Known::default());
        assert!(joined.sites.len() < apart.sites.len() / 2, "{}", joined.sites.len());
    }

    #[test]
    fn sites_of_different_kinds_or_far_apart_are_no_patch() {
        let names = ["a", "b", "c"];
        let close: Vec<SpottedFind> =
            (0..3).map(|i| find(i, 14.0 * i as f64, 0.0, names[i as usize])).collect();
        let far: Vec<SpottedFind> = (0..3).map(|i| find(i, 200.0 * i as f64, 0.0, "a")).collect();
        for finds in [close, far] {
            let sites = find_sites(&finds, SiteRule::default(), &Known::default());
            assert_eq!(sites.sites.len(), 3);
            assert_eq!(split_patches(&finds, &sites, SiteRule::default()), None);
        }
    }
}
