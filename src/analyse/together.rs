//! Makes one visit of the visits that people who walked together paid to a site at the same time: their finds are one
//! observation of the site, not several. Layer: `analyse`.

use std::collections::BTreeMap;

use uuid::Uuid;

use crate::model::{SiteId, Visit};
use crate::units::Seconds;

/// The visits of units, in order of time; `unit_of` is the outing that stands for those that were together.
///
/// Visits of one unit to one site less than `apart` from each other are one, as passes of one person are. It has the finds
/// of all, from the first arrival to the last leaving; times and lengths are those of all persons together, as effort
/// is.
#[must_use]
pub fn together(visits: Vec<Visit>, apart: Seconds, unit_of: impl Fn(Uuid) -> Uuid) -> Vec<Visit> {
    let mut of: BTreeMap<(SiteId, Uuid), Vec<Visit>> = BTreeMap::new();
    for visit in visits {
        of.entry((visit.site, unit_of(visit.outing))).or_default().push(visit);
    }
    let mut merged = Vec::new();
    for ((_, unit), mut own) in of {
        own.sort_by_key(|visit| visit.start);
        let mut open: Option<Visit> = None;
        for visit in own {
            match &mut open {
                Some(before) if belongs(before, &visit, apart) => add(before, visit),
                _ => merged.extend(open.replace(Visit { outing: unit, ..visit })),
            }
        }
        merged.extend(open);
    }
    merged.sort_by_key(|visit| (visit.start, visit.site));
    merged
}

/// Whether a visit goes on from one that began before it.
fn belongs(before: &Visit, next: &Visit, apart: Seconds) -> bool {
    Seconds::between(before.end, next.start).0 <= apart.0
}

fn add(to: &mut Visit, other: Visit) {
    // the activity of whoever was there longer
    if other.spent.0 > to.spent.0 {
        to.activity = other.activity;
    }
    to.end = to.end.max(other.end);
    to.spent = to.spent + other.spent;
    to.searched = to.searched + other.searched;
    to.stopped = to.stopped + other.stopped;
    to.handled = to.handled + other.handled;
    to.length = to.length + other.length;
    to.searched_length = to.searched_length + other.searched_length;
    to.nearest = match (to.nearest, other.nearest) {
        (Some(own), Some(other)) => Some(own.min(other)),
        (own, other) => own.or(other),
    };
    to.finds.extend(other.finds);
    to.finds.sort_unstable();
    to.finds.dedup();
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;

    use super::*;
    use crate::analyse::detection::{SiteHistory, fit, trials};
    use crate::analyse::next::rank::{PastVisit, outlook};
    use crate::analyse::statistics::Rng;
    use crate::model::Activity;
    use crate::units::Metres;
    use jiff::civil::date;

    fn visit(site: i64, outing: u128, minute: i64, finds: Vec<usize>) -> Visit {
        let at = |minute: i64| Timestamp::from_second(60 * minute).unwrap();
        Visit {
            site: SiteId(site),
            outing: Uuid::from_u128(outing),
            start: at(minute),
            end: at(minute + 2),
            spent: Seconds(120.0),
            searched: Seconds(90.0),
            stopped: Seconds(20.0),
            handled: Seconds(10.0),
            length: Metres(30.0),
            searched_length: Metres(20.0),
            activity: Activity::Searching,
            nearest: Some(Metres(4.0 + outing as f64)),
            finds,
        }
    }

    const APART: Seconds = Seconds(300.0);

    /// Even numbers walk with the odd one before them.
    fn party(outing: Uuid) -> Uuid {
        Uuid::from_u128(outing.as_u128().div_ceil(2) * 2 - 1)
    }

    #[test]
    fn visits_at_one_time_are_one_with_the_finds_and_times_of_all() {
        let visits = vec![
            visit(1, 1, 0, vec![4]),
            visit(1, 2, 3, vec![7, 5]),
            visit(2, 2, 3, vec![]),
            // an hour later, and on another day's outing
            visit(1, 2, 60, vec![]),
            visit(1, 3, 1, vec![]),
        ];
        let units = together(visits.clone(), APART, party);
        assert_eq!(units.len(), 4);
        let first = &units[0];
        assert_eq!((first.outing, first.finds.clone()), (Uuid::from_u128(1), vec![4, 5, 7]));
        assert_eq!((first.spent.0, first.searched.0, first.length.0), (240.0, 180.0, 60.0));
        assert_eq!((first.end, first.nearest), (visits[1].end, Some(Metres(5.0))));
        assert_eq!(together(visits.clone(), APART, |own| own).len(), visits.len());
    }

    /// Twelve sites over six autumns, visited on eight outings each; a taxon there in some seasons.
    fn autumns(rng: &mut Rng) -> Vec<Visit> {
        let (mut visits, mut finds) = (Vec::new(), 0);
        for year in 0..6 {
            let there: Vec<bool> = (0..12).map(|_| rng.uniform() < 0.6).collect();
            for outing in 0..8 {
                let number = u128::try_from(2 * (year * 8 + outing) + 1).unwrap();
                for (site, there) in (0_i64..).zip(&there) {
                    let found = *there && rng.uniform() < 0.4;
                    let minute = i64::from(year) * 525_600 + i64::from(outing) * 1_440 + site * 20;
                    finds += usize::from(found);
                    let own = if found { vec![finds] } else { Vec::new() };
                    visits.push(visit(site, number, minute, own));
                }
            }
        }
        visits
    }

    /// The same with somebody who comes along on every outing, and records every find as well.
    fn doubled(visits: &[Visit]) -> Vec<Visit> {
        let companion = |own: &Visit| Visit {
            outing: Uuid::from_u128(own.outing.as_u128() + 1),
            finds: own.finds.iter().map(|find| find + 10_000).collect(),
            ..own.clone()
        };
        visits.iter().cloned().chain(visits.iter().map(companion)).collect()
    }

    fn histories(visits: &[Visit]) -> Vec<SiteHistory> {
        let searches = trials(visits, |visit| !visit.finds.is_empty());
        let mut seasons = BTreeMap::new();
        for (visit, search) in searches {
            let season = visit.start.as_second() / 31_536_000;
            seasons.entry((visit.site, season)).or_insert_with(Vec::new).push(search);
        }
        let mut sites: BTreeMap<SiteId, SiteHistory> = BTreeMap::new();
        for ((site, _), season) in seasons {
            let own = sites.entry(site).or_default();
            own.known_by_find = true;
            own.seasons.push(season);
        }
        sites.into_values().collect()
    }

    fn past(visits: &[Visit]) -> Vec<PastVisit> {
        let of = |visit: &Visit| {
            let days = visit.start.as_second() / 86_400;
            let year = i16::try_from(days / 365).unwrap();
            let date = date(2018 + year, 9, 1).checked_add(jiff::Span::new().days(days % 365));
            let found = !visit.finds.is_empty();
            PastVisit { site: visit.site, date: date.unwrap(), found, searched: true }
        };
        visits.iter().map(of).collect()
    }

    #[test]
    fn a_companion_on_every_outing_makes_no_estimate_more_certain() {
        let alone = autumns(&mut Rng::new(1_004));
        let each = doubled(&alone);
        let units = together(each.clone(), APART, party);
        let fitted = |visits: &[Visit]| fit(&histories(visits), None).unwrap();
        let (one, party, persons) = (fitted(&alone), fitted(&units), fitted(&each));
        assert_eq!(one.visits, party.visits);
        for (a, b) in [(one.present, party.present), (one.per_visit, party.per_visit)] {
            assert!((a.low95 - b.low95).abs() < 1e-6 && (a.high95 - b.high95).abs() < 1e-6);
        }
        let width = |of: &crate::analyse::detection::Estimate| of.high95 - of.low95;
        assert!(width(&persons.per_visit) < 0.85 * width(&one.per_visit), "the test can fail");
        let on = date(2024, 9, 4);
        let chances = |visits: &[Visit]| outlook(&past(visits), on).sites;
        let (one, party, persons) = (chances(&alone), chances(&units), chances(&each));
        assert_eq!(one, party);
        let wide = |of: &[crate::analyse::next::rank::Prospect]| -> f64 {
            of.iter().map(|own| own.chance_high95 - own.chance_low95).sum()
        };
        assert!(wide(&persons) < 0.9 * wide(&one), "{} {}", wide(&persons), wide(&one));
    }
}
