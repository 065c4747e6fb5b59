//! Proposes the rows of a notebook from a day: one for each group of photographs that no record claims,
//! with its time and position, and one for each waypoint without such a group. Layer: `present`.

use std::collections::HashSet;
use std::path::PathBuf;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use jiff::{SignedDuration, Timestamp};

use crate::earth::geodesic;
use crate::model::{Day, PlacedPhoto, Waypoint};
use crate::units::LatLon;

/// Photographs of one camera no farther apart in time show one find (common practice).
const TOGETHER: SignedDuration = SignedDuration::from_secs(120);
/// A waypoint belongs to a group that was taken no longer before or after it, and no farther away,
/// metres (common practice).
const BESIDE: SignedDuration = SignedDuration::from_secs(180);
const NEAR: f64 = 30.0;

/// What the data of a day say of one find.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Proposal {
    /// The local date.
    pub date: Option<Date>,
    /// The local time by the corrected clock.
    pub time: Option<String>,
    /// The position with its 95 % radius.
    pub position: Option<String>,
    /// The names of its photographs.
    pub photos: Vec<String>,
    /// The file of the first of them.
    pub picture: Option<PathBuf>,
    /// The name of its waypoint.
    pub waypoint: Option<String>,
}

/// The rows for a day, in order of time; `waypoints` are those of its receivers.
#[must_use]
pub fn proposals(day: &Day, waypoints: &[Waypoint]) -> Vec<Proposal> {
    let zone = &day.outing.zone.zone;
    let mut groups = groups(day);
    let used: HashSet<&str> =
        day.finds.iter().filter_map(|find| find.record.waypoint.as_deref()).collect();
    let is_used =
        |point: &Waypoint| point.name.as_deref().is_some_and(|name| used.contains(name.trim()));
    let mut free: Vec<&Waypoint> =
        waypoints.iter().filter(|point| is_of(day, point) && !is_used(point)).collect();
    let mut rows: Vec<(Option<Timestamp>, Proposal)> = Vec::new();
    for group in &mut groups {
        let (when, at) = (group.first().and_then(|photo| photo.when), place(group));
        let beside = free.iter().position(|point| is_beside(group, at, point));
        let waypoint = beside.map(|index| free.remove(index)).and_then(|point| point.name.clone());
        rows.push((when, proposal(group, when, waypoint, day.outing.dated(), zone)));
    }
    for point in free {
        let when = point.fix.time;
        let at = point.fix.at;
        let proposal = Proposal {
            date: when.map(|when| local(when, zone).0).or(day.outing.dated()),
            time: when.map(|when| local(when, zone).1),
            position: Some(format!("{at}, waypoint")),
            waypoint: point.name.clone(),
            ..Proposal::default()
        };
        if proposal.waypoint.is_some() {
            rows.push((when, proposal));
        }
    }
    rows.sort_by_key(|(when, _)| when.unwrap_or(Timestamp::MAX));
    rows.into_iter().map(|(_, proposal)| proposal).collect()
}

/// Photographs without a find, divided by camera and time.
fn groups(day: &Day) -> Vec<Vec<&PlacedPhoto>> {
    let mut photos: Vec<&PlacedPhoto> =
        day.photos.iter().filter(|photo| photo.finds.is_empty()).collect();
    photos.sort_by_key(|placed| (placed.camera, placed.photo.taken, placed.photo.name()));
    let mut groups: Vec<Vec<&PlacedPhoto>> = Vec::new();
    for photo in photos {
        let follows = |last: &&&PlacedPhoto| {
            let (Some(before), Some(after)) = (last.photo.taken, photo.photo.taken) else {
                return false;
            };
            last.camera == photo.camera && after.duration_since(before) <= TOGETHER
        };
        match groups.last_mut() {
            Some(group) if group.last().as_ref().is_some_and(follows) => group.push(photo),
            _ => groups.push(vec![photo]),
        }
    }
    groups
}

fn proposal(
    group: &[&PlacedPhoto],
    when: Option<Timestamp>,
    waypoint: Option<String>,
    date: Option<Date>,
    zone: &TimeZone,
) -> Proposal {
    let best = group
        .iter()
        .filter_map(|photo| photo.at)
        .min_by(|(_, a), (_, b)| a.metres().0.total_cmp(&b.metres().0));
    let taken = group.first().and_then(|photo| photo.photo.taken).map(jiff::civil::DateTime::date);
    Proposal {
        date: when.map(|when| local(when, zone).0).or(taken).or(date),
        time: when.map(|when| local(when, zone).1),
        position: best.map(|(at, radius)| format!("{at} \u{b1} {:.0} m", radius.metres().0.ceil())),
        photos: group.iter().map(|photo| photo.photo.name()).collect(),
        picture: group.first().map(|photo| photo.photo.source.path.clone()),
        waypoint,
    }
}

fn local(when: Timestamp, zone: &TimeZone) -> (Date, String) {
    let local = zone.to_datetime(when);
    (local.date(), local.time().strftime("%H:%M:%S").to_string())
}

fn place(group: &[&PlacedPhoto]) -> Option<LatLon> {
    group.iter().find_map(|photo| photo.at).map(|(at, _)| at)
}

fn is_beside(group: &[&PlacedPhoto], at: Option<LatLon>, point: &Waypoint) -> bool {
    let near = at.is_some_and(|at| geodesic::distance(at, point.fix.at).0 <= NEAR);
    let times = |when: Timestamp| {
        let mut taken = group.iter().filter_map(|photo| photo.when);
        taken.any(|photo| photo.duration_since(when).abs() <= BESIDE)
    };
    near && point.fix.time.is_none_or(times)
}

/// Whether a waypoint is of the time of a day; one without a time is where its track passes within a
/// kilometre.
fn is_of(day: &Day, point: &Waypoint) -> bool {
    match (point.fix.time, day.outing.start, day.outing.end) {
        (Some(when), Some(start), Some(end)) => {
            let hour = SignedDuration::from_hours(1);
            when.duration_since(start) >= -hour && when.duration_since(end) <= hour
        }
        (None, ..) => {
            let near = |at: LatLon| geodesic::distance(at, point.fix.at).0 <= 1_000.0;
            day.track.iter().step_by(20).any(|fix| near(fix.at))
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;

    #[test]
    fn claimed_photographs_get_no_row() {
        let mut day = fixture::day();
        for photo in &mut day.photos {
            photo.finds = vec![0];
        }
        assert_eq!(proposals(&day, &[]), []);
        for photo in &mut day.photos {
            photo.finds.clear();
        }
        let rows = proposals(&day, &[]);
        let named: usize = rows.iter().map(|row| row.photos.len()).sum();
        assert_eq!(named, day.photos.len());
        assert!(rows.iter().all(|row| row.date.is_some()));
    }
}
