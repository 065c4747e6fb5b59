//! Detects a place name far from the other finds of that name and close to finds of another name. Layer:
//! `join`.

use std::collections::BTreeMap;

use crate::earth::local;
use crate::model::{Conflict, ConflictKind, ConflictSize, Find, FindReference, RecordConflict};
use crate::units::{LatLon, Metres};

use super::super::day::Scene;
use super::super::moment::median;
use super::at_record;

/// No conflict closer to the others than this, metres.
const LEAST: f64 = 150.0;
/// Further than so many times the ordinary distance.
const TIMES_ORDINARY: f64 = 5.0;

pub(super) fn find(scene: &Scene, finds: &[Find]) -> Vec<Conflict> {
    let mut names: BTreeMap<String, Vec<(usize, LatLon)>> = BTreeMap::new();
    for (index, find) in finds.iter().enumerate() {
        if let (Some(name), Ok(place)) = (&find.record.place, &find.place) {
            let name = name.trim().to_lowercase();
            names.entry(name).or_default().push((index, place.at));
        }
    }
    let mut conflicts = Vec::new();
    for (name, members) in names.iter().filter(|(_, members)| members.len() >= 3) {
        for &(index, at) in members {
            let others = || members.iter().filter(move |other| other.0 != index);
            let mut away: Vec<f64> = others().map(|other| local::distance(at, other.1).0).collect();
            let nearest = away.iter().copied().fold(f64::INFINITY, f64::min);
            let ordinary = ordinary_distance(members, index);
            let Some(middle) = median(&mut away) else { continue };
            if nearest < LEAST || middle < TIMES_ORDINARY * ordinary {
                continue;
            }
            let Some(stranger) = neighbour(&names, name, at, nearest / 2.0) else { continue };
            conflicts.push(conflict(scene, finds, index, stranger, Metres(nearest)));
        }
    }
    conflicts
}

/// The median distance among the other finds of a name.
fn ordinary_distance(members: &[(usize, LatLon)], without: usize) -> f64 {
    let rest: Vec<LatLon> =
        members.iter().filter(|m| m.0 != without).map(|member| member.1).take(60).collect();
    let mut apart = Vec::new();
    for (k, a) in rest.iter().enumerate() {
        apart.extend(rest[k + 1..].iter().map(|b| local::distance(*a, *b).0));
    }
    median(&mut apart).unwrap_or(0.0).max(10.0)
}

/// The nearest find of another name within a distance.
fn neighbour(
    names: &BTreeMap<String, Vec<(usize, LatLon)>>,
    own: &str,
    at: LatLon,
    within: f64,
) -> Option<usize> {
    let strangers = names.iter().filter(|(name, _)| name.as_str() != own);
    strangers
        .flat_map(|(_, members)| members)
        .map(|&(index, place)| (local::distance(at, place).0, index))
        .filter(|(away, _)| *away < within)
        .min_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, index)| index)
}

fn conflict(
    scene: &Scene,
    finds: &[Find],
    index: usize,
    stranger: usize,
    away: Metres,
) -> Conflict {
    let (find, other) = (&finds[index], &finds[stranger]);
    let place = |find: &Find| find.record.place.clone().unwrap_or_default();
    let finding = RecordConflict::PlaceElsewhere {
        find: FindReference::of(&find.record),
        place: place(find),
        away,
        nearest: FindReference::of(&other.record),
        nearest_place: place(other),
    };
    Conflict {
        kind: ConflictKind::PlaceName,
        size: ConflictSize::Distance(away),
        chance: None,
        finds: vec![index],
        report: at_record(scene, find, finding),
    }
}
