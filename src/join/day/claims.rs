//! Which record names which photographs and which waypoint. Layer: `join`.

use std::collections::HashMap;

use crate::model::{PhotoRef, Record, Waypoint};

use super::super::outings::Gathered;
use super::super::written;

/// Who claims what, by index.
#[derive(Debug, Default)]
pub(crate) struct Claims {
    /// For each record, its photographs in order of time.
    pub(crate) photos: Vec<Vec<usize>>,
    /// For each record, names that no photograph bears.
    pub(crate) missing: Vec<Vec<PhotoRef>>,
    /// For each record, its waypoint.
    pub(crate) waypoint: Vec<Option<usize>>,
    /// For each photograph, the records that claim it.
    pub(crate) claimed: Vec<Vec<usize>>,
}

impl Claims {
    pub(super) fn of(gathered: &Gathered) -> Self {
        let names: Vec<String> = gathered.photos.iter().map(crate::model::Photo::name).collect();
        let shelf = Shelf::of(&names);
        let mut claims = Self { claimed: vec![Vec::new(); names.len()], ..Self::default() };
        for (index, filed) in gathered.records.iter().enumerate() {
            let mut photos = Vec::new();
            let mut missing = Vec::new();
            for named in &filed.record.photos {
                let found: Vec<usize> = shelf
                    .candidates(named)
                    .filter(|&photo| written::names(named, &names[photo]))
                    .collect();
                if found.is_empty() {
                    missing.push(named.clone());
                }
                photos.extend(found);
            }
            photos.sort_unstable();
            photos.dedup();
            for &photo in &photos {
                claims.claimed[photo].push(index);
            }
            claims.photos.push(photos);
            claims.missing.push(missing);
            claims.waypoint.push(waypoint_of(&filed.record, &gathered.waypoints));
        }
        claims
    }
}

/// Photographs by the number at the end of their names, so that a season's thousands are not
/// compared one with all.
pub(crate) struct Shelf {
    by_number: HashMap<String, Vec<usize>>,
}

impl Shelf {
    pub(crate) fn of(names: &[String]) -> Self {
        let mut by_number: HashMap<String, Vec<usize>> = HashMap::new();
        for (photo, name) in names.iter().enumerate() {
            by_number.entry(number_of(name)).or_default().push(photo);
        }
        Self { by_number }
    }

    pub(crate) fn candidates(&self, named: &PhotoRef) -> impl Iterator<Item = usize> + '_ {
        self.by_number.get(&number_of(&named.0)).into_iter().flatten().copied()
    }
}

/// The last run of digits before an ending, without leading zeros; the name itself where it ends in
/// none.
fn number_of(name: &str) -> String {
    let stem = name.trim().rsplit_once('.').map_or(name.trim(), |(stem, _)| stem);
    let head = stem.trim_end_matches(|c: char| c.is_ascii_digit());
    let digits = stem[head.len()..].trim_start_matches('0');
    if head.len() == stem.len() { stem.to_lowercase() } else { digits.to_owned() }
}

fn waypoint_of(record: &Record, waypoints: &[Waypoint]) -> Option<usize> {
    let named = |wanted: &str| written::waypoint_named(wanted, waypoints.iter());
    record
        .waypoint
        .as_deref()
        .and_then(named)
        .or_else(|| record.number.as_ref().and_then(|number| named(&number.0)))
}
