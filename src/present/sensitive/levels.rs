//! Sets the level of each find from its own rules, its site, its outing and the care of the output.
//! Layer: `present`.

use std::collections::HashMap;

use super::{Care, Group, FindSummary};
use crate::model::{SensitivityRule, RuleSubject, Sensitivity};

/// The level of a find, and whether a rule set it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Level {
    pub(super) step: Sensitivity,
    pub(super) decided: bool,
}

/// The levels of all finds.
pub(super) struct Levels {
    /// For each find; `None` where it may be shown exactly.
    pub(super) of_find: Vec<Option<Level>>,
    /// Indices of the groups that are sensitive as a whole.
    pub(super) sensitive_groups: Vec<usize>,
}

pub(super) fn of(finds: &[FindSummary], groups: &[Group], rules: &[SensitivityRule], care: Care) -> Levels {
    if care == Care::ExactThroughout {
        return Levels { of_find: vec![None; finds.len()], sensitive_groups: Vec::new() };
    }
    let mut steps: Vec<Option<Sensitivity>> =
        finds.iter().map(|find| strictest(find, rules)).collect();
    let sensitive_groups =
        (0..groups.len()).filter(|group| raise_group(&mut steps, &groups[*group], rules)).collect();
    // The other finds of an outing, their times and numbers would lead to the sensitive one.
    let mut outings = HashMap::new();
    for (find, step) in finds.iter().zip(&steps) {
        let strictest = outings.entry(find.outing).or_insert(None);
        *strictest = (*strictest).max(*step);
    }
    let of_find = finds
        .iter()
        .map(|find| {
            let decided = outings.get(&find.outing).copied().flatten();
            match (decided, care) {
                (Some(step), _) => Some(Level { step, decided: true }),
                (None, Care::Generalised) => Some(Level { step: Sensitivity::Low, decided: false }),
                (None, _) => None,
            }
        })
        .collect();
    Levels { of_find, sensitive_groups }
}

fn strictest(find: &FindSummary, rules: &[SensitivityRule]) -> Option<Sensitivity> {
    let concerns = |rule: &&SensitivityRule| match &rule.subject {
        RuleSubject::Taxon(kind) => find.name.as_deref().is_some_and(|name| may_be(name, kind)),
        RuleSubject::Find(id) => *id == find.id,
        RuleSubject::Site(_) => false,
    };
    rules.iter().filter(concerns).map(|rule| rule.level).max()
}

/// Brings all finds of a group to its strictest step, and tells whether it has one.
fn raise_group(steps: &mut [Option<Sensitivity>], group: &Group, rules: &[SensitivityRule]) -> bool {
    let named = rules
        .iter()
        .filter(|rule| matches!(&rule.subject, RuleSubject::Site(id) if group.ids.contains(id)))
        .map(|rule| rule.level);
    let held = group.finds.iter().filter_map(|find| steps.get(*find).copied().flatten());
    let Some(step) = named.chain(held).max() else { return false };
    for find in &group.finds {
        if let Some(slot) = steps.get_mut(*find) {
            *slot = Some(step);
        }
    }
    true
}

/// Whether a determined name is of the kind, or may be: words of doubt do not protect a find less.
pub(super) fn may_be(name: &str, kind: &str) -> bool {
    const DOUBTS: [&str; 6] = ["cf", "aff", "nr", "?", "ined", "indet"];
    let words = |text: &str| -> Vec<String> {
        text.split_whitespace()
            .map(|word| word.trim_end_matches(['.', '?', ',']).to_lowercase())
            .filter(|word| !word.is_empty() && !DOUBTS.contains(&word.as_str()))
            .collect()
    };
    let (name, kind) = (words(name), words(kind));
    !kind.is_empty() && name.starts_with(&kind)
}

#[cfg(test)]
mod tests {
    use super::may_be;

    #[test]
    fn a_doubtful_find_of_a_sensitive_taxon_is_sensitive() {
        assert!(may_be("Hygrocybe graminicolor (E. Horak) T.W. May", "hygrocybe graminicolor"));
        assert!(may_be("Hygrocybe cf. graminicolor", "Hygrocybe graminicolor"));
        assert!(may_be("Hygrocybe graminicolor?", "Hygrocybe graminicolor"));
        assert!(may_be("Hygrocybe sp.", "Hygrocybe"));
        assert!(!may_be("Hygrocybella rubra", "Hygrocybe"));
        assert!(!may_be("Hygrocybe lanecovensis", "Hygrocybe graminicolor"));
        assert!(!may_be("Hygrocybe", ""));
    }
}
