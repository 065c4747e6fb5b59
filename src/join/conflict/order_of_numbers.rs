//! Detects finds whose time does not fit the order of their numbers: the smallest set of finds whose
//! removal puts a series in order of time, each with the size of its deviation. Layer: `join`.

use std::collections::BTreeMap;

use crate::model::{Conflict, ConflictKind, ConflictSize, Find, FindReference, RecordConflict};
use crate::units::Seconds;

use super::super::day::Scene;
use super::at_record;

/// A find of a series: number, time, half width of its 95 % interval, index.
struct Numbered {
    ordinal: u64,
    time: f64,
    half: f64,
    index: usize,
}

pub(super) fn find(scene: &Scene, finds: &[Find]) -> Vec<Conflict> {
    let mut series: BTreeMap<String, Vec<Numbered>> = BTreeMap::new();
    for (index, find) in finds.iter().enumerate() {
        let (Some(number), Some((when, half))) = (&find.record.number, find.when) else { continue };
        let Some(ordinal) = number.ordinal() else { continue };
        let time = scene.estimated_track.origin.seconds(when);
        series.entry(number.series().to_lowercase()).or_default().push(Numbered {
            ordinal,
            time,
            half: half.0,
            index,
        });
    }
    series.into_values().flat_map(|series| out_of_order(scene, finds, series)).collect()
}

fn out_of_order(scene: &Scene, finds: &[Find], mut series: Vec<Numbered>) -> Vec<Conflict> {
    series.sort_by(|a, b| a.ordinal.cmp(&b.ordinal).then(a.time.total_cmp(&b.time)));
    let kept = longest_in_order(&series);
    let mut conflicts = Vec::new();
    for (k, numbered) in series.iter().enumerate().filter(|(k, _)| !kept[*k]) {
        let before = (0..k).rev().find(|&j| kept[j]);
        let after = (k + 1..series.len()).find(|&j| kept[j]);
        let early = before.map_or(0.0, |j| series[j].time - numbered.time);
        let late = after.map_or(0.0, |j| numbered.time - series[j].time);
        let (earlier, other) = match (before, after) {
            (Some(j), _) if early >= late => (early, j),
            (_, Some(j)) => (-late, j),
            _ => continue,
        };
        let (find, neighbour) = (&finds[numbered.index], &finds[series[other].index]);
        let finding = RecordConflict::OutOfOrder {
            find: FindReference::of(&find.record),
            earlier: Seconds(earlier),
            neighbour: FindReference::of(&neighbour.record),
        };
        conflicts.push(Conflict {
            kind: ConflictKind::NumberOrder,
            size: ConflictSize::Time(Seconds(earlier.abs())),
            chance: None,
            finds: vec![numbered.index, series[other].index],
            report: at_record(scene, find, finding),
        });
    }
    conflicts
}

/// The longest subsequence whose times run forward, as far as they are known: quadratic, and a day
/// has few finds of one series.
fn longest_in_order(series: &[Numbered]) -> Vec<bool> {
    const LOOK_BACK: usize = 400;
    let mut best: Vec<(usize, Option<usize>)> = Vec::with_capacity(series.len());
    for (k, here) in series.iter().enumerate() {
        let follows = |j: &usize| {
            let slack = series[*j].half.hypot(here.half) + 1.0;
            series[*j].time <= here.time + slack
        };
        let before = (k.saturating_sub(LOOK_BACK)..k).filter(follows).max_by_key(|&j| best[j].0);
        best.push((1 + before.map_or(0, |j| best[j].0), before));
    }
    let mut kept = vec![false; series.len()];
    let mut at = (0..best.len()).max_by_key(|&k| best[k].0);
    while let Some(k) = at {
        kept[k] = true;
        at = best[k].1;
    }
    kept
}
