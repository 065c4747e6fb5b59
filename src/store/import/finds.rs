//! Writes the finds of an outing and keeps replaced versions in the history. Layer: `store`.
//!
//! # How a find is recognised
//! 1. By its identifier (collector, number and day), unless the stored find has another number by now.
//! 2. By its number; where neither has one, by the line in a file of records of the same name.
//! 3. As a renumbered one: on the same line of the same file with at most one more thing changed, or anywhere in it
//!    with nothing else changed. Of two candidates on either side neither is taken.
//!
//! What is not recognised is new. A stored find that the corrected version of its file no longer has is withdrawn,
//! not deleted; one that returns is restored.

use std::collections::{HashMap, HashSet};
use std::path::Path;

use rusqlite::OptionalExtension;
use uuid::Uuid;

use super::sources::{KnownSource, Sources, is_records};
use super::{Correction, Update, difference, find_row};
use crate::model::{
    Anchor, AnchorKind, Field, Find, ImportNote, Located, Record, WrittenCoordinates, on_disk,
};
use crate::store::fault::Attempt;
use crate::store::read::day::anchors;
use crate::store::read::find_row::{COLUMNS, FindRow};
use crate::store::row::Row;
use crate::store::words;
use crate::units::LatLon;

/// The column in which a record states that its coordinates are measured and final.
const MEASURED: &str = "position final";
/// The parts of a record on which its position rests.
const RESTS_ON: [&str; 5] = ["time", "photographs", "waypoint", "coordinates", "date"];

impl Update<'_> {
    /// Writes the day's finds and returns their keys in the day's order.
    pub(super) fn write_finds(&mut self, sources: &Sources, photos: &[i64]) -> Attempt<Vec<i64>> {
        let stored = self.stored_finds()?;
        let mut identities = self.identities()?;
        let matches = self.match_up(&stored, &identities, sources);
        set_apart(&mut identities, &matches, &stored);
        let mut keys = Vec::with_capacity(self.day.finds.len());
        for (place, find) in self.day.finds.iter().enumerate() {
            let old = matches[place].map(|old| &stored[old]);
            let source = sources.keys.get(find.source).copied();
            let mut kept = None;
            let key = match old {
                None => self.add(find, identities[place], place, source)?,
                Some(old) => {
                    kept = self.keeps_measured(find, old)?;
                    self.renew(kept.as_ref().unwrap_or(find), old, place, source)?
                }
            };
            if !self.kept_places.contains(&key) {
                self.write_anchors(key, kept.as_ref().unwrap_or(find))?;
            }
            self.write_claims(key, find, photos)?;
            keys.push(key);
        }
        let new: Vec<usize> =
            (0..matches.len()).filter(|&place| matches[place].is_none()).collect();
        self.note_used_numbers(&new)?;
        let came: HashSet<usize> = matches.iter().flatten().copied().collect();
        self.withdraw(&stored, &came, &matches, sources)?;
        Ok(keys)
    }

    /// The finds of the outing as they are stored, withdrawn ones among them.
    fn stored_finds(&self) -> Attempt<Vec<FindRow>> {
        let mut statement = self.work.prepare_cached(&format!(
            "SELECT {COLUMNS} FROM finds f WHERE f.outing_id = ?1 ORDER BY f.place, f.id"
        ))?;
        let mut rows = statement.query([self.outing])?;
        let mut stored = Vec::new();
        while let Some(row) = rows.next()? {
            stored.push(FindRow::read(row)?);
        }
        Ok(stored)
    }

    /// The identity of each find, made distinct where a number was used twice on one day.
    fn identities(&self) -> Attempt<Vec<Uuid>> {
        let mut used = HashSet::new();
        let mut identities = Vec::with_capacity(self.day.finds.len());
        for find in &self.day.finds {
            let mut identity = find.id;
            if self.belongs_elsewhere(identity)? {
                identity = Uuid::new_v5(&identity, self.day.outing.id.as_bytes());
            }
            while !used.insert(identity) {
                identity = Uuid::new_v5(&identity, b"again");
            }
            identities.push(identity);
        }
        Ok(identities)
    }

    /// Whether another outing has a find of this identifier: one number was used on two walks of one day.
    fn belongs_elsewhere(&self, identity: Uuid) -> Attempt<bool> {
        let home: Option<i64> = self
            .work
            .prepare_cached("SELECT outing_id FROM finds WHERE uuid = ?1")?
            .query_row([identity.to_string()], |row| row.get(0))
            .optional()?;
        Ok(home.is_some_and(|home| home != self.outing))
    }

    /// Matches each find of the day to a stored one: by identifier, by number, by line in the file
    /// of the same name where neither has a number, or as a record of the same file with little but
    /// the number corrected.
    fn match_up(
        &self,
        stored: &[FindRow],
        identities: &[Uuid],
        sources: &Sources,
    ) -> Vec<Option<usize>> {
        let by_identity: HashMap<Uuid, usize> =
            stored.iter().enumerate().map(|(place, find)| (find.uuid, place)).collect();
        // an identifier depends on the number: it is not used where the stored find has another
        // number now
        let known = |(find, identity): (&Find, &Uuid)| {
            let place = *by_identity.get(identity)?;
            same_number(&find.record, &stored[place].record).then_some(place)
        };
        let mut matches: Vec<Option<usize>> =
            self.day.finds.iter().zip(identities).map(known).collect();
        let mut taken: HashSet<usize> = matches.iter().flatten().copied().collect();
        for (find, slot) in self.day.finds.iter().zip(&mut matches) {
            if slot.is_some() {
                continue;
            }
            let mut candidates = stored.iter().enumerate().filter(|(place, old)| {
                !taken.contains(place) && self.is_the_same(find, old, &sources.left_out)
            });
            // Two candidates are ambiguous.
            if let (Some((place, _)), None) = (candidates.next(), candidates.next()) {
                taken.insert(place);
                *slot = Some(place);
            }
        }
        self.match_renumbered(stored, sources, &mut matches, &mut taken);
        matches
    }

    /// Matches finds whose number was corrected: first those on the same line of the same file, of
    /// which at most one more thing changed; then those of which nothing else changed.
    fn match_renumbered(
        &self,
        stored: &[FindRow],
        sources: &Sources,
        matches: &mut [Option<usize>],
        taken: &mut HashSet<usize>,
    ) {
        for on_the_line in [true, false] {
            let alike = |place: usize, old: usize| {
                let (find, old) = (&self.day.finds[place], &stored[old]);
                self.is_renumbered(find, old, sources, on_the_line)
            };
            let free: Vec<usize> = (0..stored.len()).filter(|old| !taken.contains(old)).collect();
            let new: Vec<usize> =
                (0..matches.len()).filter(|place| matches[*place].is_none()).collect();
            for place in &new {
                let old: Vec<usize> =
                    free.iter().copied().filter(|old| alike(*place, *old)).collect();
                // Two candidates on either side are ambiguous.
                let [only] = old[..] else { continue };
                if new.iter().filter(|other| alike(**other, only)).count() == 1 {
                    taken.insert(only);
                    matches[*place] = Some(only);
                }
            }
        }
    }

    /// Whether a find is a stored one whose number alone, or on its line hardly more, was corrected.
    fn is_renumbered(
        &self,
        find: &Find,
        old: &FindRow,
        sources: &Sources,
        on_the_line: bool,
    ) -> bool {
        if old.withdrawn.is_some() || !self.is_of_the_same_file(find, old, sources) {
            return false;
        }
        let changed = difference::corrected(&old.record, &find.record);
        let others = changed.iter().filter(|part| *part != "number").count();
        if on_the_line { find.record.line == old.record.line && others <= 1 } else { others == 0 }
    }

    /// Whether the stored find's file of records is that of the new find, as it was or corrected.
    fn is_of_the_same_file(&self, find: &Find, old: &FindRow, sources: &Sources) -> bool {
        let file = self.day.sources.get(find.source).map(crate::model::SourceFile::name);
        let before = sources.left_out.iter().find(|source| Some(source.key) == old.source);
        old.source.is_some() && sources.keys.get(find.source).copied() == old.source
            || before.is_some_and(|source| Some(source.name()) == file.as_deref())
    }

    /// Whether number, or without numbers line and file, are those of a stored find.
    fn is_the_same(&self, find: &Find, old: &FindRow, left_out: &[KnownSource]) -> bool {
        match (&find.record.number, &old.record.number) {
            (Some(new), Some(old)) => new.means(&old.0),
            (None, None) => {
                let file = self.day.sources.get(find.source).map(crate::model::SourceFile::name);
                let old_file = left_out.iter().find(|source| Some(source.key) == old.source);
                find.record.line == old.record.line
                    && old_file.is_some_and(|source| Some(source.name()) == file.as_deref())
            }
            _ => false,
        }
    }

    /// Writes a new find, as first imported.
    fn add(
        &mut self,
        find: &Find,
        identity: Uuid,
        place: usize,
        source: Option<i64>,
    ) -> Attempt<i64> {
        let mut row = Row::new();
        find_row::set_record(&mut row, self.day, find)?;
        find_row::set_place(&mut row, find)?;
        row.set("uuid", identity.to_string())
            .set("outing_id", self.outing)
            .set("place", i64::try_from(place).unwrap_or(i64::MAX))
            .set("source_id", source)
            .set("revision", 0)
            .set("imported", self.now.to_owned())
            .set("changed", self.now.to_owned());
        self.reported.finds_new += 1;
        Ok(row.insert(self.work, "finds")?)
    }

    /// A find whose measured coordinates the row of another file would replace, with these, their evidence and
    /// the file that states them as before.
    fn keeps_measured(&mut self, find: &Find, old: &FindRow) -> Attempt<Option<Find>> {
        let Some(before) = old.record.coordinates.as_ref().filter(|before| before.measured) else {
            return Ok(None);
        };
        let stated = WrittenCoordinates { stated_in: None, ..before.clone() };
        if find.record.coordinates.as_ref() == Some(&stated) {
            return Ok(None);
        }
        let stated_in = match &before.stated_in {
            Some(file) => Some(file.clone()),
            None => self.path_of(old.source)?,
        };
        let file = self.day.sources.get(find.source).map(|file| file.path.to_string_lossy());
        if stated_in.as_deref() == file.as_deref() {
            return Ok(None);
        }
        self.reported.notes.push(ImportNote::MeasuredCoordinatesKept {
            find: called(&find.record),
            coordinates: before.verbatim.clone(),
            row_in: file.unwrap_or_default().into_owned(),
            stated_in: stated_in.clone().unwrap_or_default(),
        });
        let mut kept = find.clone();
        kept.record.coordinates = Some(WrittenCoordinates { stated_in, ..stated });
        let flag = Field::Other(MEASURED.to_owned());
        if let Some(words) = old.record.fields.get(&flag) {
            kept.record.fields.insert(flag, words.clone());
        }
        if let Some(place) = &old.place {
            kept.place = Ok(place.clone());
            kept.anchors = self.anchors_with_stored_coordinates(find, old.key)?;
        }
        Ok(Some(kept))
    }

    fn path_of(&self, source: Option<i64>) -> Attempt<Option<String>> {
        let Some(source) = source else { return Ok(None) };
        let mut select = self.work.prepare_cached("SELECT path FROM sources WHERE id = ?1")?;
        Ok(select.query_row([source], |row| row.get(0)).optional()?)
    }

    /// The stored evidence that is coordinates, and the other evidence of the find, which is not used beside it.
    fn anchors_with_stored_coordinates(&self, find: &Find, key: i64) -> Attempt<Vec<Anchor>> {
        let is_written = |anchor: &Anchor| anchor.kind == AnchorKind::Coordinates;
        let mut kept = anchors(self.work, key)?;
        kept.retain(is_written);
        let others = find.anchors.iter().filter(|anchor| !is_written(anchor));
        kept.extend(others.map(|anchor| Anchor { used: false, ..anchor.clone() }));
        Ok(kept)
    }

    /// Writes a recognised find. Its revision rises where its record changed; the former version goes to the history
    /// where record or position changed. An import of records alone keeps a position that it cannot compute again: any
    /// whose record is the same in all on which it rests, since tracks and photographs were used for it.
    fn renew(
        &mut self,
        find: &Find,
        old: &FindRow,
        place: usize,
        source: Option<i64>,
    ) -> Attempt<i64> {
        let corrected = difference::corrected(&old.record, &find.record);
        let is_stale = corrected.iter().any(|part| RESTS_ON.contains(&part.as_str()));
        let keeps_place =
            self.records_only && old.place.is_some() && (find.place.is_err() || !is_stale);
        if keeps_place {
            self.kept_places.insert(old.key);
        }
        let moved = !keeps_place && difference::moved(old.place.as_ref(), find.place.as_ref().ok());
        let mut row = Row::new();
        // the time by the photographs is kept with the position
        let when = if keeps_place && !is_stale { old.when.or(find.when) } else { find.when };
        find_row::set_record(&mut row, self.day, &Find { when, ..find.clone() })?;
        if !keeps_place {
            find_row::set_place(&mut row, find)?;
        }
        row.set("place", i64::try_from(place).unwrap_or(i64::MAX))
            .set("source_id", source)
            .set("withdrawn", None::<String>);
        let revision = old.revision + u32::from(!corrected.is_empty());
        if !corrected.is_empty() || moved || old.withdrawn.is_some() {
            row.set("revision", revision).set("changed", self.now.to_owned());
        }
        if !corrected.is_empty() || moved {
            self.remember(old, &corrected, moved)?;
        }
        self.tell(find, old, corrected, moved, revision);
        row.update(self.work, "finds", old.key)?;
        Ok(old.key)
    }

    /// Counts the find for the report of the import: corrected, moved or unchanged.
    fn tell(
        &mut self,
        find: &Find,
        old: &FindRow,
        corrected: Vec<String>,
        moved: bool,
        revision: u32,
    ) {
        let name = called(&find.record);
        if old.withdrawn.is_some() {
            self.reported.notes.push(ImportNote::Restored { find: name.clone() });
        }
        let stale = corrected.iter().any(|part| RESTS_ON.contains(&part.as_str()));
        if self.records_only && stale && !moved {
            self.reported.notes.push(ImportNote::PositionKept { find: name.clone() });
        }
        if !corrected.is_empty() {
            self.reported.finds_corrected.push(Correction {
                find: name,
                changed: corrected,
                revision,
            });
        } else if moved {
            self.reported.finds_moved.push(name);
        } else {
            self.reported.finds_unchanged += 1;
        }
    }

    /// Keeps the version that is about to be replaced.
    fn remember(&self, old: &FindRow, corrected: &[String], moved: bool) -> Attempt<()> {
        let mut changed = corrected.to_vec();
        changed.extend(moved.then(|| "position".to_owned()));
        let source: Option<(String, String)> = self
            .work
            .prepare_cached("SELECT path, hash FROM sources WHERE id = ?1")?
            .query_row([old.source], |row| Ok((row.get(0)?, row.get(1)?)))
            .optional()?;
        let (path, hash) = source.unzip();
        let at = old.place.as_ref().map(|place: &Located| place.at);
        let mut row = Row::new();
        row.set("find_id", old.key)
            .set("revision", old.revision)
            .set("replaced", self.now.to_owned())
            .set("what_changed", changed.join(", "))
            .set("record_number", old.record.number.as_ref().map(|number| number.0.clone()))
            .set("scientific_name", old.record.name.clone())
            .set("latitude", at.map(LatLon::latitude))
            .set("longitude", at.map(LatLon::longitude))
            .set("radius95_m", old.place.as_ref().map(|place| place.radius.metres().0))
            .set("source_name", path)
            .set("source_hash", hash)
            .set("record", words::json(&old.record)?);
        row.insert(self.work, "find_history")?;
        Ok(())
    }

    /// Replaces the evidence of the position; an import of records alone keeps it where it has none.
    fn write_anchors(&self, key: i64, find: &Find) -> Attempt<()> {
        if self.records_only && find.place.is_err() {
            return Ok(());
        }
        self.work.prepare_cached("DELETE FROM anchors WHERE find_id = ?1")?.execute([key])?;
        for anchor in &find.anchors {
            find_row::add_anchor(self.work, key, anchor)?;
        }
        Ok(())
    }

    /// The photographs of a find; an import of records only keeps the earlier ones.
    fn write_claims(&self, key: i64, find: &Find, photos: &[i64]) -> Attempt<()> {
        if !(self.records_only && photos.is_empty()) {
            self.work
                .prepare_cached("DELETE FROM find_photographs WHERE find_id = ?1")?
                .execute([key])?;
        }
        for photo in find.photos.iter().filter_map(|photo| photos.get(*photo)) {
            self.work
                .prepare_cached(
                    "INSERT OR IGNORE INTO find_photographs (find_id, photograph_id) VALUES (?1, ?2)",
                )?
                .execute([key, *photo])?;
        }
        Ok(())
    }

    /// Marks finds that the corrected version of a file of records no longer has as withdrawn.
    fn withdraw(
        &mut self,
        stored: &[FindRow],
        came: &HashSet<usize>,
        matches: &[Option<usize>],
        sources: &Sources,
    ) -> Attempt<()> {
        let gone: Vec<&FindRow> = stored
            .iter()
            .enumerate()
            .filter(|(place, old)| !came.contains(place) && old.withdrawn.is_none())
            .map(|(_, old)| old)
            .collect();
        if gone.is_empty() {
            return Ok(());
        }
        for old in gone {
            if !self.was_corrected(old.source, stored, matches, sources) {
                continue;
            }
            let mut row = Row::new();
            row.set("withdrawn", self.now.to_owned()).set("changed", self.now.to_owned());
            row.update(self.work, "finds", old.key)?;
            self.reported.finds_withdrawn.push(called(&old.record));
        }
        Ok(())
    }

    /// Whether a stored file of records was imported again or has a successor: a file of the same
    /// path or name, or where it does not exist any more, one into which half of its finds or more have moved.
    fn was_corrected(
        &self,
        source: Option<i64>,
        stored: &[FindRow],
        matches: &[Option<usize>],
        sources: &Sources,
    ) -> bool {
        let Some(source) = source else { return false };
        if sources.keys.contains(&source) {
            return true;
        }
        let Some(old) = sources.left_out.iter().find(|old| old.key == source) else { return false };
        let same_name =
            self.day.sources.iter().filter(|new| is_records(new)).any(|new| {
                new.name() == old.name() || new.path.to_string_lossy() == old.path.as_str()
            });
        let all = stored.iter().filter(|find| find.source == Some(source)).count();
        let moved =
            matches.iter().flatten().filter(|place| stored[**place].source == Some(source)).count();
        let exists = || on_disk(Path::new(&old.path)).exists();
        same_name || (moved * 2 >= all && !exists())
    }
}

fn same_number(new: &Record, old: &Record) -> bool {
    match (&new.number, &old.number) {
        (Some(new), Some(old)) => new.means(&old.0),
        (None, None) => true,
        _ => false,
    }
}

/// Assigns new identifiers to new finds whose identifier belongs to a stored, since renumbered
/// find.
fn set_apart(identities: &mut [Uuid], matches: &[Option<usize>], stored: &[FindRow]) {
    let mut used: HashSet<Uuid> = stored.iter().map(|find| find.uuid).collect();
    for (identity, _) in identities.iter_mut().zip(matches).filter(|(_, old)| old.is_none()) {
        while !used.insert(*identity) {
            *identity = Uuid::new_v5(identity, b"again");
        }
    }
}

/// The label of a find: its number, otherwise its name, otherwise its line.
fn called(record: &Record) -> String {
    let number = record.number.as_ref().map(|number| number.0.clone());
    number.or_else(|| record.name.clone()).unwrap_or_else(|| format!("line {}", record.line))
}
