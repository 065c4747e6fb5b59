//! Counts in how many outings each species of a list was found, and how many species were found in
//! one, in two and so on. Layer: `analyse`.

use std::collections::BTreeMap;

/// Species up to this number of outings are infrequent (Lee & Chao 1994).
pub(super) const INFREQUENT: u32 = 10;

/// The incidences of a list: outings are the sampling units.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Incidences {
    /// Outings, also those without a find.
    pub units: usize,
    /// The number of outings with each species that was found.
    pub of_species: Vec<u32>,
    /// The number of species that were found in no other outing, for each outing.
    pub uniques_of_unit: Vec<u32>,
    /// Outings with at least one infrequent species.
    pub infrequent_units: usize,
}

impl Incidences {
    /// From the species of each outing, as numbers below `species`; repeats count once.
    #[must_use]
    pub fn of(units: &[Vec<usize>], species: usize) -> Self {
        let mut count = vec![0_u32; species];
        let sets: Vec<Vec<usize>> = units
            .iter()
            .map(|unit| {
                let mut set: Vec<usize> = unit.iter().copied().filter(|s| *s < species).collect();
                set.sort_unstable();
                set.dedup();
                set
            })
            .collect();
        sets.iter().flatten().for_each(|species| count[*species] += 1);
        let having = |set: &&Vec<usize>| set.iter().any(|species| count[*species] <= INFREQUENT);
        let uniques = |set: &Vec<usize>| set.iter().filter(|species| count[**species] == 1).count();
        Self {
            units: units.len(),
            uniques_of_unit: sets
                .iter()
                .map(|set| u32::try_from(uniques(set)).unwrap_or(0))
                .collect(),
            infrequent_units: sets.iter().filter(having).count(),
            of_species: count.into_iter().filter(|count| *count > 0).collect(),
        }
    }

    /// Species found.
    #[must_use]
    pub fn observed(&self) -> f64 {
        self.of_species.len() as f64
    }

    /// The number of species found in exactly this many outings.
    #[must_use]
    pub fn found_in(&self, outings: u32) -> f64 {
        self.of_species.iter().filter(|count| **count == outings).count() as f64
    }

    /// All pairs of a species and an outing in which it was found.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.of_species.iter().map(|count| f64::from(*count)).sum()
    }

    /// The number of species by the number of outings with it.
    #[must_use]
    pub fn frequencies(&self) -> BTreeMap<u32, f64> {
        let mut frequencies = BTreeMap::new();
        for count in &self.of_species {
            *frequencies.entry(*count).or_insert(0.0) += 1.0;
        }
        frequencies
    }

    /// (m - 1) / m, the correction for few outings.
    pub(super) fn few(&self) -> f64 {
        if self.units == 0 { 0.0 } else { (self.units as f64 - 1.0) / self.units as f64 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn repeats_and_empty_outings() {
        let found = Incidences::of(&[vec![0, 0, 1], vec![], vec![1, 2], vec![7]], 4);
        assert_eq!(found.units, 4);
        assert_eq!(found.of_species, [1, 2, 1]);
        assert_eq!(found.uniques_of_unit, [1, 0, 1, 0]);
        assert_eq!((found.infrequent_units, found.total()), (2, 4.0));
        assert_eq!((found.found_in(1), found.found_in(2)), (2.0, 1.0));
        assert_eq!(Incidences::of(&[], 0).observed(), 0.0);
    }
}
