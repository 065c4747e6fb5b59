//! Holds everything that was read, file by file, before it is divided among the outings. Layer: `join`.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;

use crate::error::Error;
use crate::model::{Intake, Photo, Record, SourceFile, Waypoint};

use super::copies::Copies;
use super::folders::nearness;
use super::parties::Owners;
use super::piece::Piece;

/// All inputs, file by file.
pub(super) struct Pool {
    pub(super) files: Vec<SourceFile>,
    /// The files of tracks whose times state no zone and were read as UTC.
    pub(super) zone_assumed: BTreeSet<usize>,
    pub(super) pieces: Vec<Piece>,
    pub(super) waypoints: Vec<(usize, Waypoint)>,
    pub(super) photos: Vec<Photo>,
    pub(super) records: Vec<(usize, Record)>,
    pub(super) set_aside: Vec<Error>,
    pub(super) remarks: Vec<Error>,
    /// For each file, the collector of the records in its folder.
    writers: Vec<Option<String>>,
}

impl Pool {
    pub(super) fn of(intake: Intake) -> Self {
        let mut pool = Self {
            files: Vec::new(),
            zone_assumed: BTreeSet::new(),
            pieces: Vec::new(),
            waypoints: Vec::new(),
            photos: intake.photos,
            records: Vec::new(),
            set_aside: intake.set_aside,
            remarks: Vec::new(),
            writers: Vec::new(),
        };
        for track in intake.tracks {
            let file = pool.files.len();
            pool.zone_assumed.extend(track.zone_assumed.then_some(file));
            let segments = track.tracks.into_iter().flat_map(|track| track.segments);
            pool.pieces.extend(
                segments
                    .filter(|segment| !segment.fixes.is_empty())
                    .map(|segment| Piece { file, fixes: segment.fixes }),
            );
            pool.waypoints.extend(track.waypoints.into_iter().map(|point| (file, point)));
            pool.set_aside.extend(track.set_aside);
            pool.remarks.extend(track.remarks);
            pool.files.push(track.source);
        }
        let copies = Copies::of(&pool.photos, &intake.copies);
        for mut records in intake.records {
            copies.name_originals(&mut records.records);
            let file = pool.files.len();
            pool.records.extend(records.records.into_iter().map(|record| (file, record)));
            pool.set_aside.extend(records.set_aside);
            pool.remarks.extend(records.remarks);
            pool.files.push(records.source);
        }
        pool.writers = pool.writers();
        pool
    }

    /// The dates of photographs and records, for a receiver whose own date is wrong.
    pub(super) fn dates(&self) -> Vec<Date> {
        let photos = self.photos.iter().filter_map(|photo| Some(photo.taken?.date()));
        photos.chain(self.records.iter().filter_map(|(_, record)| record.date)).collect()
    }

    pub(super) fn owners(&self) -> Owners<'_> {
        Owners { files: &self.files, writers: &self.writers }
    }

    /// The collector whom most records in each track's folder name. A notebook that lies equally near
    /// to every track is not assigned.
    fn writers(&self) -> Vec<Option<String>> {
        let tracks: Vec<usize> =
            (0..self.files.len()).filter(|&file| self.files[file].kind.is_track()).collect();
        let mut books: BTreeMap<usize, BTreeMap<&str, usize>> = BTreeMap::new();
        for (file, record) in &self.records {
            if let Some(name) = record.collector.as_deref() {
                *books.entry(*file).or_default().entry(name).or_default() += 1;
            }
        }
        let mut votes: BTreeMap<usize, BTreeMap<&str, usize>> = BTreeMap::new();
        for (book, names) in &books {
            let near = |track: usize| nearness(&self.files[track].path, &self.files[*book].path);
            let best = tracks.iter().map(|&track| near(track)).max();
            let nearest: Vec<usize> =
                tracks.iter().copied().filter(|&track| Some(near(track)) == best).collect();
            if nearest.len() == tracks.len() {
                continue;
            }
            for track in nearest {
                for (name, count) in names {
                    *votes.entry(track).or_default().entry(name).or_default() += count;
                }
            }
        }
        let mut writers = vec![None; self.files.len()];
        for (track, names) in votes {
            let most =
                names.into_iter().max_by_key(|&(name, count)| (count, std::cmp::Reverse(name)));
            writers[track] = most.map(|(name, _)| name.to_owned());
        }
        writers
    }
}
