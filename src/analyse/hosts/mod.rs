//! Relates taxa to what they grew with: counts by host, and the association of a taxon with a host
//! against the hosts of everything else that was found on the same outings. Layer: `analyse`.
//!
//! The comparison is with the other fungi of the same outings, not with how common a host is in the land: nobody
//! records trees under which nothing was found. `docs/hosts.md` has the checks and the limits.
//!
//! # Method
//! A taxon with a host at one site counts once, on the outing of its first find there: later finds of
//! the same patch are no new evidence. Within each outing the taxa of these patches are permuted; the
//! distribution of the number with the host over all permutations is exact.

pub mod names;
pub mod rates;
pub mod strata;

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use super::intervals::{Interval, wilson};
use super::statistics::false_discovery;
use strata::{Method, Stratum, test};

/// Where a find was: two finds of one spot are not independent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Spot {
    /// At a site.
    Site(usize),
    /// At no site: somewhere on an outing, at a place of this number.
    Outing(usize, usize),
}

/// A find with its taxon and, where it is recorded, its host; in order of time.
#[derive(Clone, Copy, Debug)]
pub struct Grown {
    /// The number of its outing.
    pub outing: usize,
    /// Its spot.
    pub spot: Spot,
    /// The number of its taxon.
    pub taxon: usize,
    /// The number of its host.
    pub host: Option<usize>,
}

/// Whether an association was tested.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Verdict {
    /// With its odds ratio, p-value and false discovery rate.
    Tested {
        /// The common odds ratio against the other fungi of the same outings.
        odds: Interval,
        /// Two-sided p-value of the permutation test.
        p_value: f64,
        /// The false discovery rate at which it would be declared.
        q_value: f64,
        /// How it was computed.
        method: Method,
    },
    /// No arrangement of these patches could give p below 0.05.
    TooLittle,
}

/// A taxon and a host.
#[derive(Clone, Debug, PartialEq)]
pub struct Association {
    /// The number of the taxon.
    pub taxon: usize,
    /// The number of the host.
    pub host: usize,
    /// Finds of the taxon with the host.
    pub finds: usize,
    /// Outings with such a find.
    pub outings: usize,
    /// Patches of the taxon with the host.
    pub patches: usize,
    /// Patches of the taxon with any host recorded.
    pub of_taxon: usize,
    /// The share of the taxon's patches that have the host.
    pub share: Interval,
    /// The share of the other fungi's patches on the same outings that have the host; none where there
    /// are no others.
    pub of_others: Option<Interval>,
    /// The test.
    pub verdict: Verdict,
}

/// The associations of some taxa.
#[derive(Clone, Debug, Default)]
pub struct Hosts {
    /// Every taxon and host that were found together, and untested pairs; by taxon, most patches first.
    pub associations: Vec<Association>,
    /// Finds of these taxa.
    pub finds: usize,
    /// Of these, finds without a host recorded.
    pub without: usize,
    /// How many pairs were tested.
    pub tested: usize,
}

/// The p-value above which nothing can be declared.
const LEVEL: f64 = 0.05;

/// Counts of one outing.
#[derive(Default)]
struct Outing {
    all: u32,
    taxa: BTreeMap<usize, u32>,
    hosts: BTreeMap<usize, u32>,
    both: BTreeMap<(usize, usize), u32>,
}

/// Counts of a pair over all outings.
#[derive(Default)]
struct Pair {
    finds: usize,
    outings: HashSet<usize>,
}

/// The associations of the chosen taxa with every host on the same outings.
#[must_use]
pub fn associations(finds: &[Grown], chosen: &BTreeSet<usize>) -> Hosts {
    let mut outings: BTreeMap<usize, Outing> = BTreeMap::new();
    let mut patches: HashSet<(Spot, usize, usize)> = HashSet::new();
    let mut pairs: HashMap<(usize, usize), Pair> = HashMap::new();
    let mut hosts = Hosts::default();
    for find in finds {
        let ours = chosen.contains(&find.taxon);
        hosts.finds += usize::from(ours);
        let Some(host) = find.host else {
            hosts.without += usize::from(ours);
            continue;
        };
        if ours {
            let pair = pairs.entry((find.taxon, host)).or_default();
            pair.finds += 1;
            pair.outings.insert(find.outing);
        }
        if patches.insert((find.spot, find.taxon, host)) {
            outings.entry(find.outing).or_default().add(find.taxon, host);
        }
    }
    let of_taxon = outings_of(&outings, chosen);
    for (taxon, own) in of_taxon {
        hosts.associations.extend(of_one(taxon, &own, &pairs));
    }
    hosts.adjust();
    hosts
}

/// The outings with a patch of each chosen taxon.
fn outings_of<'a>(
    outings: &'a BTreeMap<usize, Outing>,
    chosen: &BTreeSet<usize>,
) -> BTreeMap<usize, Vec<&'a Outing>> {
    let mut of_taxon: BTreeMap<usize, Vec<&Outing>> = BTreeMap::new();
    for outing in outings.values() {
        for taxon in outing.taxa.keys().filter(|taxon| chosen.contains(taxon)) {
            of_taxon.entry(*taxon).or_default().push(outing);
        }
    }
    of_taxon
}

/// The associations of one taxon with every host on its outings, those with most patches first. Each outing is a
/// stratum of its own: what grew there is compared with what else was found there.
fn of_one(
    taxon: usize,
    own: &[&Outing],
    pairs: &HashMap<(usize, usize), Pair>,
) -> Vec<Association> {
    let mut strata: BTreeMap<usize, Vec<Stratum>> = BTreeMap::new();
    let (mut of_taxon, mut of_others) = (0, 0);
    for outing in own {
        let count = outing.taxa[&taxon];
        of_taxon += count as usize;
        of_others += (outing.all - count) as usize;
        for (host, with) in &outing.hosts {
            let both = outing.both.get(&(taxon, *host)).copied().unwrap_or(0);
            let stratum = Stratum { all: outing.all, taxon: count, host: *with, both };
            strata.entry(*host).or_default().push(stratum);
        }
    }
    let made = strata.into_iter().map(|(host, strata)| {
        let both: usize = strata.iter().map(|s| s.both as usize).sum();
        let others: usize = strata.iter().map(|s| (s.host - s.both) as usize).sum();
        let pair = pairs.get(&(taxon, host));
        Association {
            taxon,
            host,
            finds: pair.map_or(0, |pair| pair.finds),
            outings: pair.map_or(0, |pair| pair.outings.len()),
            patches: both,
            of_taxon,
            share: wilson(both as f64, of_taxon as f64),
            of_others: (of_others > 0).then(|| wilson(others as f64, of_others as f64)),
            verdict: verdict(&strata),
        }
    });
    let mut made: Vec<Association> = made.collect();
    made.sort_by_key(|a| (std::cmp::Reverse(a.patches), std::cmp::Reverse(a.finds), a.host));
    made
}

/// The test with its own p-value in place of the false discovery rate. Pairs that cannot reach 0.05 are
/// no members of the family (Tarone 1990, A modified Bonferroni method for discrete data, Biometrics
/// 46:515).
fn verdict(strata: &[Stratum]) -> Verdict {
    match test(strata).filter(|tested| tested.least_p <= LEVEL) {
        None => Verdict::TooLittle,
        Some(tested) => Verdict::Tested {
            odds: tested.odds,
            p_value: tested.p_value,
            q_value: tested.p_value,
            method: tested.method,
        },
    }
}

impl Outing {
    fn add(&mut self, taxon: usize, host: usize) {
        self.all += 1;
        *self.taxa.entry(taxon).or_insert(0) += 1;
        *self.hosts.entry(host).or_insert(0) += 1;
        *self.both.entry((taxon, host)).or_insert(0) += 1;
    }
}

impl Hosts {
    fn adjust(&mut self) {
        let values = self.associations.iter().map(|pair| match pair.verdict {
            Verdict::Tested { p_value, .. } => Some(p_value),
            Verdict::TooLittle => None,
        });
        let adjusted = false_discovery(&values.collect::<Vec<_>>());
        self.tested = adjusted.iter().flatten().count();
        for (pair, adjusted) in self.associations.iter_mut().zip(adjusted) {
            if let (Verdict::Tested { q_value, .. }, Some(adjusted)) = (&mut pair.verdict, adjusted)
            {
                *q_value = adjusted;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grown(outing: usize, site: usize, taxon: usize, host: usize) -> Grown {
        Grown { outing, spot: Spot::Site(site), taxon, host: Some(host) }
    }

    #[test]
    fn a_patch_counts_once_and_strata_are_outings() {
        let mut finds = Vec::new();
        for outing in 0..10 {
            // the same patch on each outing, and others with the other host
            finds.push(grown(outing, 1, 0, 0));
            finds.push(grown(outing, 100 + outing, 1, 1));
            finds.push(grown(outing, 200 + outing, 2, 1));
        }
        let made = associations(&finds, &[0].into());
        assert_eq!(made.finds, 10);
        let first = &made.associations[0];
        assert_eq!((first.host, first.finds, first.outings, first.patches), (0, 10, 10, 1));
        assert_eq!(first.verdict, Verdict::TooLittle, "one patch is no evidence");
        // with a patch of its own on each outing there is some
        for outing in 0..10 {
            finds.push(grown(outing, 300 + outing, 0, 0));
        }
        finds.sort_by_key(|find| find.outing);
        let made = associations(&finds, &[0].into());
        let first = &made.associations[0];
        assert_eq!((first.patches, first.of_taxon), (11, 11));
        assert_eq!(first.of_others.unwrap().value, 0.0);
        let Verdict::Tested { odds, p_value, q_value, .. } = first.verdict else { panic!() };
        assert!(p_value < 1e-4 && q_value >= p_value && odds.high95.is_infinite());
        assert_eq!(made.associations.len(), 2);
        assert_eq!(made.associations[1].patches, 0, "the host that it avoids is tested, too");
    }

    #[test]
    fn finds_without_a_host_are_counted() {
        let find = Grown { outing: 0, spot: Spot::Outing(0, 0), taxon: 0, host: None };
        let made = associations(&[find], &[0].into());
        assert_eq!((made.finds, made.without, made.associations.len()), (1, 1, 0));
    }
}
