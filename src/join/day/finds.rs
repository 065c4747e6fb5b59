//! Computes the position of each find of an outing from all anchors of its record, or the reason why there
//! is no position. Layer: `join`.

use std::collections::{HashMap, HashSet};

use uuid::Uuid;

use crate::model::{Conflict, Find, PhotoGroup, Record};

use super::super::locate::combine;
use super::super::notebook_clock::NotebookClock;
use super::super::outings::Filed;
use super::super::written::Occurrence;
use super::Scene;
use super::attempt::{Attempt, Whole, by_stop};
use super::cameras::{SetCamera, reading};
use super::coordinates_apart;
use super::named_waypoints::NamedWaypoints;
use super::undated_waypoints::UndatedWaypoints;

/// Locates every find; with the conflicts that this shows.
pub(super) fn locate(
    scene: &Scene,
    cameras: &[SetCamera],
    notebook: &NotebookClock,
) -> (Vec<Find>, Vec<Conflict>) {
    let whole = Whole {
        cameras,
        notebook,
        undated: UndatedWaypoints::of(scene),
        named: NamedWaypoints::of(scene, cameras),
        apart: coordinates_apart::find(scene),
    };
    let mut conflicts = Vec::new();
    let mut seen: HashMap<String, u32> = HashMap::new();
    let mut finds = Vec::with_capacity(scene.gathered.records.len());
    for index in 0..scene.gathered.records.len() {
        let attempt = Attempt::of(scene, &whole, index, &mut conflicts);
        let id = find_id(scene, &scene.gathered.records[index], &mut seen);
        finds.push(attempt.find(scene, id, &mut conflicts));
    }
    (finds, conflicts)
}

/// The groups of photographs that no record names, each with the position of a find in it.
pub(super) fn photo_groups(scene: &Scene, cameras: &[SetCamera]) -> Vec<PhotoGroup> {
    // a record of nothing: it stands for a find in the photographs
    let nothing = Filed { source: 0, record: Record::default(), occurrence: Occurrence::default() };
    let mut groups: Vec<PhotoGroup> = unclaimed(scene, cameras)
        .iter()
        .map(|photos| {
            let attempt = Attempt::of_photos(scene, cameras, &nothing, photos);
            let combined = combine(&attempt.drafts);
            let anchors = combined.as_ref().map_or_else(Vec::new, |combined| {
                let used = attempt.drafts.iter().zip(&combined.used).filter(|(_, used)| **used);
                used.map(|(draft, _)| draft.kind).collect()
            });
            let place = match &combined {
                Some(combined) => Ok(attempt.located(scene, combined)),
                None => Err(attempt.photographs_not_located(scene)),
            };
            PhotoGroup { photos: photos.clone(), when: attempt.when, anchors, place }
        })
        .collect();
    groups.sort_by_key(|group| (group.when.map(|when| when.0), group.photos.first().copied()));
    groups
}

/// The photographs that no record names, by camera and stop; one without a time is a group of its own.
fn unclaimed(scene: &Scene, cameras: &[SetCamera]) -> Vec<Vec<usize>> {
    let is_free = |photo: &usize| scene.claims.claimed[*photo].is_empty();
    let mut groups = Vec::new();
    let mut timed = HashSet::new();
    for camera in cameras {
        let mut shots: Vec<(f64, usize)> = camera
            .photos
            .iter()
            .copied()
            .filter(is_free)
            .filter_map(|photo| Some((reading(scene, photo)?, photo)))
            .collect();
        shots.sort_by(|a, b| a.0.total_cmp(&b.0));
        timed.extend(shots.iter().map(|shot| shot.1));
        let names = |group: Vec<(f64, usize)>| -> Vec<usize> {
            group.into_iter().map(|shot| shot.1).collect()
        };
        groups.extend(by_stop(&shots).into_iter().map(names));
    }
    let others = (0..scene.gathered.photos.len()).filter(is_free);
    groups.extend(others.filter(|photo| !timed.contains(photo)).map(|photo| vec![photo]));
    groups
}

/// Stable for the same collector, number and day; without a number, for the same line of the day's
/// records. A number used again that day is distinguished by its turn.
fn find_id(scene: &Scene, filed: &Filed, seen: &mut HashMap<String, u32>) -> Uuid {
    let key = match &filed.record.number {
        Some(number) => number.0.trim().to_lowercase(),
        None => filed.record.origin(),
    };
    let turn = seen.entry(key.clone()).or_default();
    *turn += 1;
    let collector = filed.record.collector.as_deref().or(scene.collector).unwrap_or_default();
    let date = filed.record.date.unwrap_or(scene.date);
    let seed = format!("find\n{collector}\n{date}\n{key}\n{turn}");
    Uuid::new_v5(&Uuid::NAMESPACE_OID, seed.as_bytes())
}
