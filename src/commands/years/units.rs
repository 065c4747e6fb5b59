//! Finds the outings of people who walked together, which analyses take as one unit. Layer: `commands`.

use std::collections::{HashMap, HashSet};

use uuid::Uuid;

use super::Years;
use super::counted::candidates;
use crate::analyse::parties::{Trail, possible, units};
use crate::commands::console::Console;
use crate::error::Result;
use crate::model::EffortNote;

/// The unit of each outing, by numbers.
pub(in crate::commands) struct Units {
    of: Vec<usize>,
}

impl Units {
    /// The unit of an outing: the number of the first outing of those that were together with it.
    pub(in crate::commands) fn of(&self, outing: usize) -> usize {
        self.of.get(outing).copied().unwrap_or(outing)
    }

    /// What is said about them; nothing where nobody walked together.
    pub(super) fn note(&self) -> Option<EffortNote> {
        let mut members: HashMap<usize, usize> = HashMap::new();
        for unit in &self.of {
            *members.entry(*unit).or_insert(0) += 1;
        }
        let shared = || members.values().filter(|count| **count > 1);
        let (outings, units) = (shared().sum(), shared().count());
        (units > 0).then_some(EffortNote::WalkedTogether { outings, units })
    }
}

impl Years {
    /// The units of all outings; found when first asked for.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub(in crate::commands) fn units(&self, console: &Console) -> Result<&Units> {
        if let Some(units) = self.units.get() {
            return Ok(units);
        }
        let mut found = candidates(&self.store, &self.outings, &HashMap::new())?;
        // a second receiver of one walk is no other person
        for (own, outing) in found.iter_mut().zip(&self.outings) {
            own.walked = own.walked.filter(|_| self.counted.canonical(outing.id) == outing.id);
        }
        let pairs = possible(&found);
        let mut trails = HashMap::new();
        if !pairs.is_empty() {
            self.make_ways(console)?;
            let number: HashMap<Uuid, usize> =
                self.outings.iter().enumerate().map(|(n, outing)| (outing.id, n)).collect();
            let wanted: HashSet<usize> = pairs.iter().flat_map(|(a, b)| [*a, *b]).collect();
            let is_wanted = |id: Uuid| number.get(&id).is_some_and(|n| wanted.contains(n));
            for packed in self.store.brief_ways_of(is_wanted)? {
                let packed = packed?;
                trails.insert(number[&packed.outing], Trail::of(&packed.unpack()?.points));
            }
        }
        let of = units(self.outings.len(), &pairs, &trails);
        Ok(self.units.get_or_init(|| Units { of }))
    }

    /// The outing that stands for each one of people who walked together; the others are not in it.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub(in crate::commands) fn unit_of(&self, console: &Console) -> Result<HashMap<Uuid, Uuid>> {
        let units = self.units(console)?;
        let own = self.outings.iter().enumerate();
        let pairs = own.map(|(number, outing)| (outing.id, self.outings[units.of(number)].id));
        Ok(pairs.filter(|(own, unit)| own != unit).collect())
    }
}
