//! Assigns photographs, records and waypoints to one of several parties that were out at the same time: by
//! folder, then by collector, then by position. If none of these decides, this is reported. Layer: `join`.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use crate::earth::local::Plane;
use crate::model::{Record, SourceFile};
use crate::units::{LatLon, Timestamp};

use super::super::moment::{Origin, median};
use super::Draft;
use super::folders::{nearness, only_best};
use super::names::{names_file, same_person};
use super::proximity::TrackLine;

/// A place must be nearer to one track than to any other by this distance, metres.
const CLEARLY: f64 = 30.0;
/// A place this far from every track gives no information, metres.
const FAR: f64 = 300.0;

/// One of the parties.
struct Member {
    outing: usize,
    files: Vec<(usize, PathBuf)>,
    line: TrackLine,
}

/// Parties that were out at the same time.
pub(super) struct Group {
    members: Vec<Member>,
    plane: Plane,
    origin: Origin,
    /// Where the records of each collector lie, by folder.
    collectors: Vec<(String, usize)>,
}

/// The data that distinguish the parties.
pub(super) struct Inputs<'a> {
    pub(super) files: &'a [SourceFile],
    pub(super) records: &'a [(usize, Record)],
    /// File and name of each waypoint.
    pub(super) waypoints: &'a [(usize, Option<String>)],
}

/// The groups of two parties or more; `None` for an outing that was alone.
pub(super) fn groups(outings: &[Draft], inputs: &Inputs) -> Vec<Group> {
    let mut together: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (index, outing) in outings.iter().enumerate().filter(|(_, outing)| outing.span.is_some()) {
        together.entry(outing.group).or_default().push(index);
    }
    let several = together.into_values().filter(|members| members.len() > 1);
    several.filter_map(|members| Group::of(&members, outings, inputs)).collect()
}

/// The group that an outing is one of.
pub(super) fn group_of(groups: &[Group], outing: usize) -> Option<&Group> {
    groups.iter().find(|group| group.members.iter().any(|member| member.outing == outing))
}

/// The most frequent, if it is one only.
pub(super) fn majority(votes: impl Iterator<Item = usize>) -> Option<usize> {
    let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
    for vote in votes {
        *counts.entry(vote).or_default() += 1;
    }
    only_best(counts.into_iter().map(|(outing, count)| (count, outing)))
}

impl Group {
    fn of(members: &[usize], outings: &[Draft], inputs: &Inputs) -> Option<Self> {
        let first = &outings[*members.first()?];
        let (plane, origin) = (Plane::about(first.place?), Origin(first.span?.start));
        let members = members
            .iter()
            .map(|&outing| {
                let pieces = &outings[outing].pieces;
                let mut files: Vec<usize> = pieces.iter().map(|piece| piece.file).collect();
                files.sort_unstable();
                files.dedup();
                let path = |file: usize| (file, inputs.files[file].path.clone());
                Member {
                    outing,
                    files: files.into_iter().map(path).collect(),
                    line: TrackLine::through(pieces.iter(), &plane, origin),
                }
            })
            .collect();
        let mut group = Self { members, plane, origin, collectors: Vec::new() };
        group.collectors = group.homes_of_collectors(inputs);
        Some(group)
    }

    fn homes_of_collectors(&self, inputs: &Inputs) -> Vec<(String, usize)> {
        let mut votes: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
        for (file, record) in inputs.records {
            if let Some(name) = record.collector.as_deref()
                && let Some(home) = self.by_folder(&inputs.files[*file].path)
            {
                votes.entry(name).or_default().push(home);
            }
        }
        let home = |(name, votes): (&str, Vec<usize>)| {
            Some((name.to_owned(), majority(votes.into_iter())?))
        };
        votes.into_iter().filter_map(home).collect()
    }

    pub(super) fn outings(&self) -> impl Iterator<Item = usize> + '_ {
        self.members.iter().map(|member| member.outing)
    }

    pub(super) fn by_folder(&self, file: &Path) -> Option<usize> {
        only_best(self.members.iter().map(|member| {
            let nearest = member.files.iter().map(|(_, track)| nearness(track, file)).max();
            (nearest, member.outing)
        }))
    }

    pub(super) fn by_collector(&self, name: &str) -> Option<usize> {
        let known = self.collectors.iter().filter(|(other, _)| same_person(name, other));
        let by_file = || {
            let named =
                |member: &&Member| member.files.iter().any(|(_, path)| names_file(name, path));
            let mut found = self.members.iter().filter(named);
            found.next().filter(|_| found.next().is_none()).map(|member| member.outing)
        };
        majority(known.map(|(_, home)| *home)).or_else(by_file)
    }

    pub(super) fn by_file(&self, file: usize) -> Option<usize> {
        let holds = |member: &&Member| member.files.iter().any(|(own, _)| *own == file);
        let mut found = self.members.iter().filter(holds);
        found.next().filter(|_| found.next().is_none()).map(|member| member.outing)
    }

    /// The party whose track is clearly nearest to the places.
    pub(super) fn by_place(
        &self,
        places: impl Iterator<Item = (Option<Timestamp>, LatLon)>,
    ) -> Option<usize> {
        let places: Vec<_> = places.collect();
        let mut ranked: Vec<(f64, usize)> = self
            .members
            .iter()
            .filter_map(|member| {
                let distance = |&(when, at): &(Option<Timestamp>, LatLon)| {
                    member.line.distance(self.origin, when, self.plane.to_plane(at))
                };
                let mut distances: Vec<f64> = places.iter().filter_map(distance).collect();
                Some((median(&mut distances)?, member.outing))
            })
            .collect();
        ranked.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (best, second) = (ranked.first()?, ranked.get(1)?);
        (best.0 <= FAR && second.0 - best.0 >= CLEARLY).then_some(best.1)
    }

    /// The party in whose file lies the waypoint that a record names.
    pub(super) fn by_waypoint(&self, inputs: &Inputs, record: &Record) -> Option<usize> {
        let name = record.waypoint.as_deref()?;
        let named = inputs.waypoints.iter().filter(|(_, other)| other.as_deref() == Some(name));
        majority(named.filter_map(|(file, _)| self.by_file(*file)))
    }
}
