//! Matches records to the photographs and waypoints that they name. Layer: `join`.

use std::collections::HashMap;

use jiff::civil::Date;

use crate::model::{PhotoRef, Record};

use super::super::outings::Gathered;
use super::super::waypoint_names::{MarkedOn, WaypointNames};
use super::super::written;

/// References between records, photographs and waypoints, by index.
#[derive(Debug, Default)]
pub(crate) struct Claims {
    /// For each record, its photographs in order of time.
    pub(crate) photos: Vec<Vec<usize>>,
    /// For each record, names without a photograph.
    pub(crate) missing: Vec<Vec<PhotoRef>>,
    /// For each record, its waypoint.
    pub(crate) waypoint: Vec<Option<usize>>,
    /// For each record, how many waypoints the name that it gives can mean.
    pub(crate) alike: Vec<usize>,
    /// For each photograph, the records that name it.
    pub(crate) claimed: Vec<Vec<usize>>,
}

impl Claims {
    /// The references on an outing that began on a local date.
    pub(super) fn of(gathered: &Gathered, date: Date) -> Self {
        let names: Vec<String> = gathered.photos.iter().map(crate::model::Photo::name).collect();
        let photo_index = PhotoIndex::of(&names);
        let waypoints = WaypointNames::of(gathered.waypoints.iter());
        let mut claims = Self { claimed: vec![Vec::new(); names.len()], ..Self::default() };
        for (index, filed) in gathered.records.iter().enumerate() {
            let mut photos = Vec::new();
            let mut missing = Vec::new();
            for named in &filed.record.photos {
                let found: Vec<usize> = photo_index
                    .candidates(named)
                    .filter(|&photo| written::names(named, &names[photo]))
                    .collect();
                let found =
                    if found.is_empty() { photo_index.look_alike(named, &names) } else { found };
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
            let zone = &gathered.zone.zone;
            let day = MarkedOn { date: filed.record.date.or(Some(date)), zone };
            let alike = filed.record.waypoint.as_deref().map(|name| waypoints.count(name));
            claims.alike.push(alike.unwrap_or(0));
            claims.waypoint.push(waypoint_of(&filed.record, &waypoints, &day));
        }
        claims
    }
}

/// Photographs by the number at the end of their names, so that a season's thousands are not
/// compared one with all.
pub(crate) struct PhotoIndex {
    by_number: HashMap<String, Vec<usize>>,
    /// By the last figures of that number.
    by_end: HashMap<String, Vec<usize>>,
}

/// The fewest figures by which the end of a number is recognised.
const END: usize = 3;

impl PhotoIndex {
    pub(crate) fn of(names: &[String]) -> Self {
        let mut by_number: HashMap<String, Vec<usize>> = HashMap::new();
        let mut by_end: HashMap<String, Vec<usize>> = HashMap::new();
        for (photo, name) in names.iter().enumerate() {
            let number = number_of(name);
            if let Some(end) = end_of(&number) {
                by_end.entry(end.to_owned()).or_default().push(photo);
            }
            by_number.entry(number).or_default().push(photo);
        }
        Self { by_number, by_end }
    }

    pub(crate) fn candidates(&self, named: &PhotoRef) -> impl Iterator<Item = usize> + '_ {
        self.by_number.get(&number_of(&named.0)).into_iter().flatten().copied()
    }
}

impl PhotoIndex {
    /// The photographs whose number ends in the digits that a record names: `2065` for
    /// `P1102065.JPG`. Nothing where two photographs do.
    fn look_alike(&self, named: &PhotoRef, names: &[String]) -> Vec<usize> {
        let figures = named.0.trim();
        let number = figures.len() >= END && figures.bytes().all(|byte| byte.is_ascii_digit());
        let Some(end) = end_of(figures).filter(|_| number) else { return Vec::new() };
        let alike = self.by_end.get(end).into_iter().flatten().copied();
        let found: Vec<usize> = alike.filter(|&k| stem_of(&names[k]).ends_with(figures)).collect();
        let one = found.windows(2).all(|two| stem_of(&names[two[0]]) == stem_of(&names[two[1]]));
        if one { found } else { Vec::new() }
    }
}

/// The last figures of a number, where it has so many.
fn end_of(number: &str) -> Option<&str> {
    let from = number.len().checked_sub(END)?;
    number.get(from..).filter(|end| end.bytes().all(|byte| byte.is_ascii_digit()))
}

fn stem_of(name: &str) -> String {
    name.rsplit_once('.').map_or(name, |(stem, _)| stem).to_lowercase()
}

/// The last run of digits before an ending, without leading zeros; the name itself where it ends in
/// none.
fn number_of(name: &str) -> String {
    let stem = name.trim().rsplit_once('.').map_or(name.trim(), |(stem, _)| stem);
    let head = stem.trim_end_matches(|c: char| c.is_ascii_digit());
    let digits = stem[head.len()..].trim_start_matches('0');
    if head.len() == stem.len() { stem.to_lowercase() } else { digits.to_owned() }
}

fn waypoint_of(record: &Record, waypoints: &WaypointNames, day: &MarkedOn) -> Option<usize> {
    let named = |wanted: &str| waypoints.named(wanted, day);
    record
        .waypoint
        .as_deref()
        .and_then(named)
        .or_else(|| record.number.as_ref().and_then(|number| named(&number.0)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(written: &str, names: &[&str]) -> Vec<usize> {
        let names: Vec<String> = names.iter().map(ToString::to_string).collect();
        PhotoIndex::of(&names).look_alike(&PhotoRef(written.into()), &names)
    }

    #[test]
    fn unique_trailing_digits_identify_a_photograph() {
        let names = ["P1102064.JPG", "P1102065.JPG", "P1102065.RAW"];
        assert_eq!(found("2065", &names), [1, 2]);
        assert_eq!(found("065", &names), [1, 2]);
        assert_eq!(found("2065", &["P1102065.JPG", "P1112065.JPG"]), [0; 0]);
        for written in ["65", "P2065", "3065", "", "\u{e9}065"] {
            assert_eq!(found(written, &names), [0; 0], "{written}");
        }
    }
}
