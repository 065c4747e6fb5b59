//! Are several sites parts of one patch? Looks whether finds of the same kind would be one site were a
//! site itself larger. Layer: `analyse`.

use std::collections::{BTreeMap, BTreeSet};

use super::linkage::{Reading, Rule, group};
use super::sites::{SiteRule, Sites};
use super::spotted::SpottedFind;
use crate::units::Metres;

/// Extents that are tried.
const EXTENTS: [Metres; 2] = [Metres(10.0), Metres(20.0)];
/// Two sites close by may well be two; so many of one kind are likely parts of something.
const PARTS: usize = 3;
/// Beyond so many finds nobody waits for a hint.
const MOST: usize = 50_000;

/// How many sites lie three or more together, with a kind in common, within what a larger extent of
/// sites would make one; and the least extent that does.
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
            if let (Some(site), Some(kind)) = (sites.of_find[*index], finds[*index].kind.as_deref())
            {
                parts.entry((label, kind)).or_default().insert(site);
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
    use crate::analyse::chance::Dice;
    use crate::analyse::sites::{Known, find_sites};
    use crate::units::{LatLon, Radius95};
    use uuid::Uuid;

    fn find(number: u128, east: f64, north: f64, kind: &str) -> SpottedFind {
        SpottedFind {
            id: Uuid::from_u128(number),
            label: number.to_string().into(),
            at: LatLon::clamped(north / 111_190.0, east / 111_320.0),
            radius: Radius95::new(Metres(4.0)).unwrap(),
            date: jiff::civil::date(2026, 5, 3),
            when: None,
            kind: Some(kind.into()),
            outing: Uuid::nil(),
            height: None,
        }
    }

    /// Thirty finds over a disc of 12 m radius, each read within some metres.
    fn disc(kind: &str) -> Vec<SpottedFind> {
        let mut dice = Dice::new(12);
        (0..30)
            .map(|number| {
                let (away, turn) =
                    (12.0 * dice.uniform().sqrt(), std::f64::consts::TAU * dice.uniform());
                let off = |dice: &mut Dice| 1.6 * dice.normal();
                let (x, y) =
                    (away * turn.cos() + off(&mut dice), away * turn.sin() + off(&mut dice));
                find(number, x, y, kind)
            })
            .collect()
    }

    #[test]
    fn a_patch_that_fell_apart_is_told_and_the_extent_joins_it() {
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
