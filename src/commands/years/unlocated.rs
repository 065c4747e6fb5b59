//! Finds the days whose effort a map cannot use, since most of their finds have no position. Layer: `commands`.

use std::collections::{BTreeSet, HashMap, HashSet};

use uuid::Uuid;

use super::{Seen, Years};
use crate::model::EffortNote;

/// Outings whose finds and effort are left out of a map.
pub(in crate::commands) struct UnlocatedDays {
    pub(in crate::commands) outings: HashSet<Uuid>,
    days: usize,
    finds: usize,
}

impl UnlocatedDays {
    pub(in crate::commands) fn note(&self) -> Option<EffortNote> {
        let (days, finds) = (self.days, self.finds);
        (finds > 0).then_some(EffortNote::DaysLeftOut { days, finds })
    }
}

impl Years {
    /// The outings with effort on which fewer than half of the wanted finds have a position, and those whose finds
    /// cannot be counted with their effort.
    pub(in crate::commands) fn unlocated_days(
        &self,
        wanted: impl Fn(&Seen) -> bool,
    ) -> UnlocatedDays {
        let mut of: HashMap<Uuid, (usize, usize)> = HashMap::new();
        for find in self.seen.iter().filter(|find| wanted(find)) {
            let (all, located) = of.entry(find.outing).or_default();
            *all += 1;
            *located += usize::from(find.located);
        }
        let walked = |id: &Uuid| self.walked.contains(id);
        let poor = of.iter().filter(|(id, (all, located))| 2 * located < *all && walked(id));
        let (mut dates, mut finds) = (BTreeSet::new(), 0);
        let mut outings = self.counted.left_out.clone();
        for (id, (all, located)) in poor {
            outings.insert(*id);
            dates.extend(self.date_of(*id));
            finds += all - located;
        }
        UnlocatedDays { outings, days: dates.len(), finds }
    }
}
