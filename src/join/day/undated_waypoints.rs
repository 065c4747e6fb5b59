//! Compares undated waypoints that only bear the numbers of finds with the times of these finds and with the track and
//! its stops, all of the day together: a receiver keeps waypoints of earlier outings under the same numbers.
//! Layer: `join`.

use super::Scene;
use super::waypoint_plausibility::Occupancy;

/// Nearer to the place of its find's time than this a waypoint agrees with it, farther than that it does
/// not, metres: a minute's walk, and three.
const AGREES: f64 = 60.0;
const DIFFERS: f64 = 150.0;
/// So many other waypoints that agree confirm one, so many that differ refute it.
const ENOUGH: usize = 2;

/// The prior probability that undated waypoints of the right numbers are of this outing; and that a single one is
/// not, where the others are (assumption).
const OF_THIS_OUTING: f64 = 0.85;
const SINGLE: f64 = 0.05;
/// The limits of what one of them says about all.
const LEAST: f64 = -4.6;
const MOST: f64 = 2.3;

fn logistic(log_odds: f64) -> f64 {
    1.0 / (1.0 + (-log_odds).exp())
}

/// What the other finds show of an undated waypoint.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Standing {
    /// The others lie where their finds were at the written times.
    Confirmed,
    /// The others do not.
    Refuted,
    /// There are too few.
    Open,
}

/// For each find with such a waypoint, how far it lies from the place of the find's time.
#[derive(Debug, Default)]
pub(super) struct UndatedWaypoints {
    away: Vec<Away>,
    agree: usize,
    differ: usize,
    /// For each find with such a waypoint, how much more probable its place is on this outing than on another.
    log_factors: Vec<Option<f64>>,
    /// The probability that they are of this outing as a whole.
    together: f64,
}

impl UndatedWaypoints {
    pub(super) fn of(scene: &Scene) -> Self {
        let away: Vec<Away> =
            (0..scene.gathered.records.len()).map(|find| away(scene, find)).collect();
        let known = || away.iter().filter_map(|away| away.metres());
        let agree = known().filter(|away| *away < AGREES).count();
        let differ = known().filter(|away| *away > DIFFERS).count();
        let occupancy = away.iter().any(Away::is_asked).then(|| Occupancy::of(scene)).flatten();
        let log_factor = |find: usize| {
            let waypoint = scene.claims.waypoint[find].filter(|_| away[find].is_asked())?;
            let at = scene.gathered.waypoints[waypoint].fix.at;
            Some(occupancy.as_ref()?.log_factor(scene.estimated_track.plane.to_plane(at)))
        };
        let log_factors: Vec<Option<f64>> = (0..away.len()).map(log_factor).collect();
        let sum: f64 = log_factors.iter().flatten().map(|log| log.clamp(LEAST, MOST)).sum();
        let together = logistic(OF_THIS_OUTING.ln() - (1.0 - OF_THIS_OUTING).ln() + sum);
        Self { away, agree, differ, log_factors, together }
    }

    /// The probability that the waypoint of a find was marked on this outing, by where all of them lie; `None`
    /// where it is dated or named by the record, or without a track.
    pub(super) fn probability(&self, find: usize) -> Option<f64> {
        let log = (*self.log_factors.get(find)?)?;
        Some(self.together * logistic((1.0 - SINGLE).ln() - SINGLE.ln() + log))
    }

    /// What the others show of the waypoint of a find; `None` where it is dated or named by the record.
    pub(super) fn standing(&self, find: usize) -> Option<Standing> {
        let own = match self.away.get(find)? {
            Away::NotAsked => return None,
            away => away.metres(),
        };
        let agree = self.agree - usize::from(own.is_some_and(|away| away < AGREES));
        let differ = self.differ - usize::from(own.is_some_and(|away| away > DIFFERS));
        Some(if agree >= ENOUGH && agree >= 3 * differ {
            Standing::Confirmed
        } else if differ >= ENOUGH && differ > agree {
            Standing::Refuted
        } else {
            Standing::Open
        })
    }
}

/// How far the undated waypoint of a find lies from the place of the find's time.
#[derive(Clone, Copy, Debug)]
enum Away {
    /// There is no such waypoint.
    NotAsked,
    /// The time has no place.
    Unknown,
    Metres(f64),
}

impl Away {
    fn is_asked(&self) -> bool {
        !matches!(self, Self::NotAsked)
    }

    fn metres(self) -> Option<f64> {
        match self {
            Self::Metres(metres) => Some(metres),
            Self::NotAsked | Self::Unknown => None,
        }
    }
}

fn away(scene: &Scene, find: usize) -> Away {
    let filed = &scene.gathered.records[find];
    let Some(waypoint) = scene.claims.waypoint[find] else { return Away::NotAsked };
    let waypoint = &scene.gathered.waypoints[waypoint];
    if filed.record.waypoint.is_some() || waypoint.fix.time.is_some() {
        return Away::NotAsked;
    }
    let track = scene.estimated_track;
    // which of two occurrences is meant may be open
    let read = scene.written(filed).filter(|read| read.other.is_none());
    let written = || Some(track.origin.seconds(read?.instant));
    let (east, north) = track.plane.to_plane(waypoint.fix.at);
    let distance = |time: f64| {
        let there = track.at(time)?;
        Some((there.east - east).hypot(there.north - north))
    };
    written().and_then(distance).map_or(Away::Unknown, Away::Metres)
}
