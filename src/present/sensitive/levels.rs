//! Determines the sensitivity level of each find from its own rules, protected places, its site, its
//! outing, earlier outputs and the care of the output. Layer: `present`.

use std::collections::{BTreeMap, HashMap, HashSet};

use uuid::Uuid;

use super::footprints::{COARSEST, Footprint, Footprints};
use super::{Care, FindSummary, Group, Policy, notices};
use crate::model::taxon_match::{Match, Words, compared, same_taxon};
use crate::model::{BoundPlace, RuleSubject, Sensitivity, SensitivityNotice, SensitivityRule};
use crate::units::{LatLon, Radius95};

/// The reason why a find is sensitive, the most direct one last.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Why {
    PublishedBefore,
    Outing,
    Site,
    Circle,
    BoundPlace,
    NamedBefore,
    SimilarName,
    PossibleName,
    Rule,
}

/// A rule that applies to a find; stricter rules compare greater.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Held {
    pub(super) level: Sensitivity,
    pub(super) why: Why,
    /// The rule, as an index.
    pub(super) rule: usize,
}

/// The level of a find, and the rule that set it; without a rule it is the default level.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Level {
    pub(super) step: Sensitivity,
    pub(super) rule: Option<usize>,
}

/// The levels of all finds.
pub(super) struct Levels {
    /// For each find; `None` where it may be shown exactly.
    pub(super) of_find: Vec<Option<Level>>,
    /// Indices of the groups that are sensitive as a whole.
    pub(super) sensitive_groups: Vec<usize>,
    /// Circles of sensitive finds and places.
    pub(super) footprints: Footprints,
    pub(super) notices: Vec<SensitivityNotice>,
}

impl Levels {
    /// Levels of finds that are all exact.
    pub(super) fn exact(finds: usize) -> Self {
        Self {
            of_find: vec![None; finds],
            sensitive_groups: Vec::new(),
            footprints: Footprints::default(),
            notices: Vec::new(),
        }
    }
}

pub(super) fn of(finds: &[FindSummary], groups: &[Group], policy: &Policy<'_>) -> Levels {
    let mut matched = vec![false; policy.rules.len()];
    let mut held = direct(finds, policy.rules, &mut matched);
    let mut notices = similar_names(finds, &held, policy.rules);
    notices.extend(named_before(&held));
    let footprints = Footprints::new(footprints(finds, &held, policy.rules));
    notices.extend(hold_neighbours(finds, &mut held, &footprints, &mut matched));
    let sensitive_groups: Vec<usize> = (0..groups.len())
        .filter(|group| raise_group(&mut held, &groups[*group], policy.rules, &mut matched))
        .collect();
    notices.extend(without_a_match(policy, &matched, &held));
    raise_outings(finds, &mut held);
    notices.extend(hold_published(finds, &mut held, policy));
    level_sites(finds, &mut held, groups, policy.care);
    let of_find = held
        .into_iter()
        .map(|held| match (held, policy.care) {
            (Some(held), _) => Some(Level { step: held.level, rule: Some(held.rule) }),
            (None, Care::Generalised) => Some(Level { step: Sensitivity::Low, rule: None }),
            (None, _) => None,
        })
        .collect();
    Levels { of_find, sensitive_groups, footprints, notices }
}

/// Rules that apply to each find directly: by name, identifier, or binding.
fn direct(
    finds: &[FindSummary],
    rules: &[SensitivityRule],
    matched: &mut [bool],
) -> Vec<Option<Held>> {
    let mut bound: HashMap<Uuid, Vec<usize>> = HashMap::new();
    for (index, rule) in rules.iter().enumerate() {
        let itself = match rule.subject {
            RuleSubject::Find(id) => Some(id),
            _ => None,
        };
        for find in rule.bound.iter().filter_map(|bound| bound.find).chain(itself) {
            bound.entry(find).or_default().push(index);
        }
    }
    let taxa: Vec<Option<Words>> = rules
        .iter()
        .map(|rule| match &rule.subject {
            RuleSubject::Taxon(taxon) => Some(Words::of_taxon(taxon)),
            _ => None,
        })
        .collect();
    let mut by_name: HashMap<&str, Option<Held>> = HashMap::new();
    finds
        .iter()
        .map(|find| {
            let by_rule = bound.get(&find.id).into_iter().flatten();
            by_rule.clone().for_each(|rule| matched[*rule] = true);
            let by_rule = by_rule.map(|rule| held(rules, *rule, bound_why(&rules[*rule]))).max();
            let names = find.name.iter().chain(&find.other_names).map(String::as_str);
            let named = names.filter_map(|name| {
                *by_name.entry(name).or_insert_with(|| by_taxon(name, &taxa, rules, matched))
            });
            by_rule.max(named.max())
        })
        .collect()
}

/// Why a rule applies to a find that it is bound to: one for a taxon only by a name that the find had.
fn bound_why(rule: &SensitivityRule) -> Why {
    match rule.subject {
        RuleSubject::Taxon(_) => Why::NamedBefore,
        RuleSubject::Site(_) | RuleSubject::Find(_) => Why::Rule,
    }
}

fn held(rules: &[SensitivityRule], rule: usize, why: Why) -> Held {
    Held { level: rules[rule].level, why, rule }
}

fn by_taxon(
    name: &str,
    taxa: &[Option<Words>],
    rules: &[SensitivityRule],
    matched: &mut [bool],
) -> Option<Held> {
    let name = Words::of_name(name);
    let of_rule = |(index, taxon): (usize, &Option<Words>)| {
        let found = compared(&name, taxon.as_ref()?)?;
        matched[index] |= found < Match::Similar;
        let why = match found {
            Match::Same => Why::Rule,
            Match::Possible => Why::PossibleName,
            Match::Similar => Why::SimilarName,
        };
        Some(held(rules, index, why))
    };
    taxa.iter().enumerate().filter_map(of_rule).max()
}

/// Finds that had the name of a sensitive taxon and are named otherwise now.
fn named_before(held: &[Option<Held>]) -> Option<SensitivityNotice> {
    let named = held.iter().flatten().filter(|held| held.why == Why::NamedBefore);
    let finds = named.count();
    (finds > 0).then_some(SensitivityNotice::NamedBefore { finds })
}

/// Names that are not written as the taxon that they are treated as.
fn similar_names(
    finds: &[FindSummary],
    held: &[Option<Held>],
    rules: &[SensitivityRule],
) -> Vec<SensitivityNotice> {
    let mut counts: BTreeMap<(bool, &str, &str), usize> = BTreeMap::new();
    for (find, held) in finds.iter().zip(held) {
        let (Some(name), Some(Held { why, rule, .. })) = (&find.name, held) else { continue };
        let similar = *why == Why::SimilarName;
        if let RuleSubject::Taxon(taxon) = &rules[*rule].subject
            && (similar || *why == Why::PossibleName)
        {
            *counts.entry((similar, name, taxon)).or_default() += 1;
        }
    }
    counts
        .into_iter()
        .map(|((similar, name, taxon), finds)| {
            let (name, taxon) = (name.to_owned(), taxon.to_owned());
            if similar {
                SensitivityNotice::SimilarName { name, taxon, finds }
            } else {
                SensitivityNotice::PossibleName { name, taxon, finds }
            }
        })
        .collect()
}

/// The circles that rules were bound to, and those of the finds that are sensitive now.
fn footprints(
    finds: &[FindSummary],
    held: &[Option<Held>],
    rules: &[SensitivityRule],
) -> Vec<Footprint> {
    let known: HashSet<Uuid> = finds.iter().map(|find| find.id).collect();
    let of_rules = rules.iter().enumerate().flat_map(|(index, rule)| {
        let is_known = |find: Uuid| known.contains(&find);
        rule.bound.iter().filter_map(move |bound| of_bound(index, rule, bound, is_known))
    });
    let of_finds = finds.iter().zip(held).filter_map(|(find, held)| Some((find, (*held)?)));
    of_rules.chain(of_finds.flat_map(|(find, held)| of_find(find, held))).collect()
}

/// The circle of a place that a rule was bound to. That of a rule for a taxon is for this taxon alone, unless its
/// find is gone: a corrected one that was not recognised may lie there under another name.
fn of_bound(
    index: usize,
    rule: &SensitivityRule,
    bound: &BoundPlace,
    is_known: impl Fn(Uuid) -> bool,
) -> Option<Footprint> {
    let (at, radius) = bound.place?;
    let circle = radius.metres().0;
    let for_all = match (&rule.subject, bound.find) {
        (_, None) => circle,
        (RuleSubject::Find(_), Some(_)) => COARSEST,
        (RuleSubject::Taxon(_), Some(find)) if is_known(find) => 0.0,
        (RuleSubject::Site(_) | RuleSubject::Taxon(_), Some(_)) => circle.min(COARSEST),
    };
    Some(Footprint {
        at,
        for_all,
        circle,
        taxon: bound.taxon.clone(),
        level: rule.level,
        rule: index,
        bound: !matches!(rule.subject, RuleSubject::Taxon(_)),
    })
}

/// The circle of a sensitive find, and its place as imported: what was found near that one was of its site,
/// and an exact position there would undo its protection.
fn of_find(find: &FindSummary, held: Held) -> impl Iterator<Item = Footprint> {
    let circle = move |(at, radius): (LatLon, Radius95), for_all| Footprint {
        at,
        for_all,
        circle: radius.metres().0,
        taxon: find.name.clone(),
        level: held.level,
        rule: held.rule,
        bound: for_all > 0.0,
    };
    let now = find.place.map(|place| circle(place, 0.0));
    now.into_iter().chain(find.place_before.map(|place| circle(place, COARSEST)))
}

/// Finds at places that a rule was made for, and finds of the same taxon within the circle of a sensitive
/// one: the latter may be the former.
fn hold_neighbours(
    finds: &[FindSummary],
    held: &mut [Option<Held>],
    footprints: &Footprints,
    matched: &mut [bool],
) -> Vec<SensitivityNotice> {
    let (mut at_places, mut within_circles) = (0, 0);
    for (find, slot) in finds.iter().zip(held) {
        let Some((at, radius)) = find.place else { continue };
        let name = find.name.as_deref();
        let reached = footprints.around(at, radius).filter_map(|(one, beyond)| {
            let as_any = one.for_all > 0.0 && beyond <= one.for_all;
            let as_taxon = beyond <= one.circle
                && name.zip(one.taxon.as_deref()).is_some_and(|(a, b)| same_taxon(a, b));
            let why = if one.bound { Why::BoundPlace } else { Why::Circle };
            (as_any || as_taxon).then_some(Held { level: one.level, why, rule: one.rule })
        });
        let reached: Vec<Held> = reached.collect();
        // circles of currently sensitive finds contain those finds
        let at_bound = reached.iter().filter(|held| held.why == Why::BoundPlace);
        at_bound.for_each(|held| matched[held.rule] = true);
        let Some(strictest) = reached.into_iter().max() else { continue };
        if slot.is_none_or(|held| held.level < strictest.level) {
            match strictest.why {
                Why::BoundPlace => at_places += 1,
                _ => within_circles += 1,
            }
            *slot = Some(strictest);
        }
    }
    let mut notices = Vec::new();
    if at_places > 0 {
        notices.push(SensitivityNotice::AtBoundPlace { finds: at_places });
    }
    if within_circles > 0 {
        notices.push(SensitivityNotice::WithinCircle { finds: within_circles });
    }
    notices
}

/// Raises all finds of a group to its strictest level; returns whether it has one.
fn raise_group(
    held: &mut [Option<Held>],
    group: &Group,
    rules: &[SensitivityRule],
    matched: &mut [bool],
) -> bool {
    let named = rules
        .iter()
        .enumerate()
        .filter(
            |(_, rule)| matches!(&rule.subject, RuleSubject::Site(id) if group.ids.contains(id)),
        )
        .map(|(index, rule)| Held { level: rule.level, why: Why::Site, rule: index });
    let named: Vec<Held> = named.collect();
    for held in &named {
        matched[held.rule] = true;
    }
    let members = group.finds.iter().filter_map(|find| held.get(*find).copied().flatten());
    let Some(strictest) = named.into_iter().chain(members).max() else { return false };
    for find in &group.finds {
        if let Some(slot) = held.get_mut(*find) {
            *slot = (*slot).max(Some(Held { why: Why::Site, ..strictest }));
        }
    }
    true
}

/// Rules that match no find, and what they withhold nevertheless.
fn without_a_match(
    policy: &Policy<'_>,
    matched: &[bool],
    held: &[Option<Held>],
) -> Vec<SensitivityNotice> {
    let unmatched = policy.rules.iter().enumerate().filter(|(index, _)| !matched[*index]);
    unmatched
        .map(|(index, rule)| SensitivityNotice::MatchesNothing {
            rule: notices::named(&rule.subject),
            in_advance: rule.in_advance,
            places: rule.bound.iter().filter(|bound| bound.place.is_some()).count(),
            finds: held.iter().flatten().filter(|held| held.rule == index).count(),
        })
        .collect()
}

/// Raises the other finds of an outing, whose times and numbers would reveal the sensitive one.
fn raise_outings(finds: &[FindSummary], held: &mut [Option<Held>]) {
    let mut outings: HashMap<Uuid, Held> = HashMap::new();
    for (find, held) in finds.iter().zip(held.iter()) {
        let Some(held) = *held else { continue };
        let strictest = outings.entry(find.outing).or_insert(held);
        *strictest = (*strictest).max(held);
    }
    for (find, slot) in finds.iter().zip(held) {
        let strictest = outings.get(&find.outing).copied();
        *slot = (*slot).max(strictest.map(|held| Held { why: Why::Outing, ..held }));
    }
}

/// Gives all sensitive finds of a site its strictest level, also where that comes through their outings, and
/// all sensitive finds of an outing its own, until nothing changes. Outputs that generalise every find show the
/// others of the site at its level, too: a finer cell would undo the coarser one.
fn level_sites(finds: &[FindSummary], held: &mut [Option<Held>], groups: &[Group], care: Care) {
    let strictest_of = |held: &[Option<Held>], group: &Group| {
        group.finds.iter().filter_map(|find| held.get(*find).copied().flatten()).max()
    };
    let mut outings: HashMap<Uuid, Vec<usize>> = HashMap::new();
    for (index, find) in finds.iter().enumerate().filter(|(index, _)| held[*index].is_some()) {
        outings.entry(find.outing).or_default().push(index);
    }
    let by_outing = outings.into_values().map(|finds| Group { ids: Vec::new(), finds });
    let by_outing: Vec<Group> = by_outing.collect();
    loop {
        let mut changed = false;
        for (group, why) in groups
            .iter()
            .map(|group| (group, Why::Site))
            .chain(by_outing.iter().map(|group| (group, Why::Outing)))
        {
            let Some(strictest) = strictest_of(held, group) else { continue };
            for find in &group.finds {
                if let Some(Some(slot)) = held.get_mut(*find)
                    && slot.level < strictest.level
                {
                    *slot = Held { why, ..strictest };
                    changed = true;
                }
            }
        }
        if !changed {
            break;
        }
    }
    if care != Care::Generalised {
        return;
    }
    for group in groups {
        let Some(strictest) = strictest_of(held, group) else { continue };
        for find in &group.finds {
            if let Some(slot @ None) = held.get_mut(*find) {
                *slot = Some(Held { why: Why::Site, ..strictest });
            }
        }
    }
}

/// A find published as sensitive stays so while its rule exists: two outputs, the second of
/// which shows it exactly, would reveal that something sensitive is near it.
fn hold_published(
    finds: &[FindSummary],
    held: &mut [Option<Held>],
    policy: &Policy<'_>,
) -> Option<SensitivityNotice> {
    let marks: HashMap<String, usize> =
        policy.rules.iter().enumerate().map(|(i, rule)| (rule.subject.mark(), i)).collect();
    let mut kept = 0;
    for (find, slot) in finds.iter().zip(held) {
        let causes = policy.published(find.id).iter().filter_map(|published| {
            let rule = *marks.get(published.rule.as_deref()?)?;
            Some(self::held(policy.rules, rule, Why::PublishedBefore))
        });
        let Some(strictest) = causes.max() else { continue };
        if slot.is_none_or(|held| held.level < strictest.level) {
            *slot = Some(strictest);
            kept += 1;
        }
    }
    (kept > 0).then_some(SensitivityNotice::PublishedBefore { finds: kept })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Metres;

    fn place(north: f64) -> Option<(LatLon, Radius95)> {
        let at = LatLon::new(47.85 + north / 111_180.0, 13.55).unwrap();
        Radius95::new(Metres(6.0)).map(|radius| (at, radius))
    }

    fn find(name: &str, north: f64, imported: Option<f64>) -> FindSummary {
        FindSummary {
            id: Uuid::new_v4(),
            outing: Uuid::new_v4(),
            name: Some(name.to_owned()),
            place: place(north),
            other_names: Vec::new(),
            place_before: imported.and_then(place),
        }
    }

    fn levels(finds: &[FindSummary], rule: SensitivityRule) -> Vec<Option<Sensitivity>> {
        let rules = [rule];
        let policy = Policy::new(&rules, Care::ExactUnlessSensitive, |_, _| Vec::new());
        of(finds, &[], &policy).of_find.iter().map(|level| level.map(|level| level.step)).collect()
    }

    fn rule(subject: RuleSubject) -> SensitivityRule {
        SensitivityRule::new(subject, Sensitivity::Medium, jiff::Timestamp::UNIX_EPOCH)
    }

    #[test]
    fn all_finds_of_a_site_have_the_strictest_level_that_comes_through_their_outings() {
        let mut finds = [
            find("Russula persanguinea", 0.0, None),
            find("Mycena interrupta", 900.0, None),
            find("Hericium coralloides", 3.0, None),
            find("Podoserpula pusio", -900.0, None),
            find("Russula persanguinea", 5.0, None),
        ];
        finds[1].outing = finds[0].outing;
        finds[3].outing = finds[2].outing;
        let low = RuleSubject::Taxon("Podoserpula".to_owned());
        let low = SensitivityRule::new(low, Sensitivity::Low, jiff::Timestamp::UNIX_EPOCH);
        let rules = [rule(RuleSubject::Taxon("Mycena".to_owned())), low];
        let site = [Group { ids: Vec::new(), finds: vec![0, 2, 4] }];
        let medium = Some(Sensitivity::Medium);
        for (care, unruled) in [(Care::ExactUnlessSensitive, None), (Care::Generalised, medium)] {
            let policy = Policy::new(&rules, care, |_, _| Vec::new());
            let levels = of(&finds, &site, &policy).of_find;
            let levels: Vec<_> = levels.iter().map(|level| level.map(|level| level.step)).collect();
            assert_eq!(levels, [medium, medium, medium, medium, unruled], "{care:?}");
        }
    }

    #[test]
    fn finds_near_the_imported_position_of_a_corrected_sensitive_find_are_sensitive() {
        let finds = [
            find("Hygrocybe calyptriformis", 45.0, Some(0.0)),
            find("Mycena galopus", 0.0, None),
            find("Mycena galopus", -95.0, None),
            find("Mycena galopus", -120.0, None),
            find("Mycena galopus", 300.0, Some(0.0)),
        ];
        let rule = rule(RuleSubject::Taxon("Hygrocybe calyptriformis".to_owned()));
        let medium = Some(Sensitivity::Medium);
        assert_eq!(levels(&finds, rule), [medium, medium, medium, None, None]);
    }

    #[test]
    fn rule_for_a_find_covers_100_m_around_a_small_circle() {
        let finds = [
            find("Hygrocybe calyptriformis", 0.0, None),
            find("Mycena galopus", 25.0, None),
            find("Mycena galopus", 120.0, None),
        ];
        let mut rule = rule(RuleSubject::Find(finds[0].id));
        let bound =
            BoundPlace { find: Some(finds[0].id), taxon: finds[0].name.clone(), place: place(0.0) };
        rule.bound.push(bound);
        let medium = Some(Sensitivity::Medium);
        assert_eq!(levels(&finds, rule), [medium, medium, None]);
    }
}
