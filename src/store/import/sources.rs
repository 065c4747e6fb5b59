//! Writes the input files of an outing and detects those imported before. Layer: `store`.
//!
//! A file is known by its content: at another path it is the same file. Files that a later import lacks are kept
//! and marked, so that it can be seen what a position once rested on.

use std::collections::HashSet;
use std::path::Path;

use rusqlite::Connection;

use crate::model::{Day, FileKind, ImportNote, SourceFile, on_disk};
use crate::store::fault::Attempt;
use crate::store::row::Row;
use crate::store::words;

/// A file in the store.
pub(super) struct KnownSource {
    pub(super) key: i64,
    pub(super) path: String,
    pub(super) kind: String,
    pub(super) hash: String,
    pub(super) left_out: bool,
}

impl KnownSource {
    pub(super) fn name(&self) -> &str {
        let archive = on_disk(Path::new(&self.path)).file_name().and_then(|name| name.to_str());
        let start = archive.and_then(|archive| self.path.rfind(&format!("{archive}/")));
        let plain = || Path::new(&self.path).file_name()?.to_str();
        start.map(|start| &self.path[start..]).or_else(plain).unwrap_or(&self.path)
    }

    /// The kinds by their word in the table.
    fn is_track(&self) -> bool {
        FileKind::TRACKS.iter().any(|kind| words::word(kind).is_ok_and(|word| word == self.kind))
    }
}

/// The result for the files of a day.
pub(super) struct Sources {
    /// The keys of the day's files, in the day's order.
    pub(super) keys: Vec<i64>,
    /// Files that the outing had before and that this import did not include.
    pub(super) left_out: Vec<KnownSource>,
    pub(super) notes: Vec<ImportNote>,
}

pub(super) fn known(work: &Connection, outing: i64) -> Attempt<Vec<KnownSource>> {
    let mut statement = work.prepare_cached(
        "SELECT id, path, kind, hash, left_out IS NOT NULL FROM sources
         WHERE outing_id = ?1 ORDER BY place, id",
    )?;
    let rows = statement.query_map([outing], |row| {
        Ok(KnownSource {
            key: row.get(0)?,
            path: row.get(1)?,
            kind: row.get(2)?,
            hash: row.get(3)?,
            left_out: row.get(4)?,
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

/// For each file of the day the place in `known` of the same content: at the same path if possible.
fn pair(day: &Day, known: &[KnownSource]) -> Vec<Option<usize>> {
    let mut used = HashSet::new();
    let mut pairs = vec![None; day.sources.len()];
    for same_path in [true, false] {
        for (source, pair) in day.sources.iter().zip(&mut pairs) {
            if pair.is_some() {
                continue;
            }
            *pair = known.iter().enumerate().position(|(place, other)| {
                other.hash == source.hash
                    && (!same_path || other.path == source.path.to_string_lossy())
                    && !used.contains(&place)
            });
            used.extend(*pair);
        }
    }
    pairs
}

/// Writes the files of the day. Earlier files that this import lacks are marked and kept.
pub(super) fn write(work: &Connection, outing: i64, day: &Day, now: &str) -> Attempt<Sources> {
    let mut known = known(work, outing)?;
    let pairs = pair(day, &known);
    let mut keys = Vec::with_capacity(day.sources.len());
    for (place, (source, pair)) in day.sources.iter().zip(&pairs).enumerate() {
        let mut row = row(source)?;
        row.set("place", i64::try_from(place).unwrap_or(i64::MAX)).set("left_out", None::<String>);
        keys.push(match pair {
            Some(pair) => {
                row.update(work, "sources", known[*pair].key)?;
                known[*pair].key
            }
            None => row.set("outing_id", outing).insert(work, "sources")?,
        });
    }
    let came: HashSet<i64> = keys.iter().copied().collect();
    known.retain(|source| !came.contains(&source.key));
    for source in known.iter().filter(|source| !source.left_out) {
        Row::new().set("left_out", now.to_owned()).update(work, "sources", source.key)?;
    }
    let notes = note_missing_tracks(day, &known);
    Ok(Sources { keys, left_out: known, notes })
}

fn row(source: &SourceFile) -> Attempt<Row> {
    let mut row = Row::new();
    row.set("path", source.path.to_string_lossy().into_owned())
        .set("kind", words::word(source.kind)?)
        .set("size_bytes", i64::try_from(source.bytes).unwrap_or(i64::MAX))
        .set("hash", source.hash.clone());
    Ok(row)
}

/// Notes a track estimated from fewer recordings than before.
fn note_missing_tracks(day: &Day, left_out: &[KnownSource]) -> Vec<ImportNote> {
    let replaced: HashSet<String> = day.sources.iter().map(SourceFile::name).collect();
    let files: Vec<String> = left_out
        .iter()
        .filter(|source| source.is_track() && !source.left_out)
        .map(KnownSource::name)
        .filter(|name| !replaced.contains(*name))
        .map(str::to_owned)
        .collect();
    if files.is_empty() || day.track.is_empty() {
        return Vec::new();
    }
    vec![ImportNote::TracksLeftOut { files }]
}

/// The note for a day with only some of the outing's stored files and no new ones, while the others
/// still exist: nothing is changed then.
pub(super) fn only_a_part(
    work: &Connection,
    outing: i64,
    day: &Day,
) -> Attempt<Option<ImportNote>> {
    let known = known(work, outing)?;
    let pairs = pair(day, &known);
    let came: HashSet<usize> = pairs.iter().flatten().copied().collect();
    if came.len() < day.sources.len() {
        return Ok(None);
    }
    // another content at the same path is an earlier version, not another file
    let replaced = |source: &KnownSource| {
        day.sources.iter().any(|new| new.path.to_string_lossy() == source.path.as_str())
    };
    let missing: Vec<&KnownSource> = known
        .iter()
        .enumerate()
        .filter(|(place, source)| !came.contains(place) && !source.left_out && !replaced(source))
        .map(|(_, source)| source)
        .collect();
    if missing.is_empty() || !missing.iter().all(|source| on_disk(Path::new(&source.path)).exists())
    {
        return Ok(None);
    }
    let files: Vec<String> =
        missing.iter().take(3).map(|source| source.name().to_owned()).collect();
    let more = missing.len() - files.len();
    Ok(Some(ImportNote::PartOfOuting { files, more }))
}

/// The same content at another path: only the paths are updated.
pub(super) fn refresh_paths(work: &Connection, outing: i64, day: &Day) -> Attempt<()> {
    let known = known(work, outing)?;
    for (source, pair) in day.sources.iter().zip(pair(day, &known)) {
        let path = source.path.to_string_lossy();
        let Some(stored) = pair.map(|pair| &known[pair]).filter(|stored| stored.path != path)
        else {
            continue;
        };
        Row::new().set("path", path.into_owned()).update(work, "sources", stored.key)?;
    }
    let photos = day.photos.iter().map(|placed| &placed.photo.source);
    let paths: Vec<_> = photos.clone().map(|source| source.path.to_string_lossy()).collect();
    let paths = words::json(&paths)?;
    for source in photos {
        // two files with equal names and headers may lie in two folders: each keeps its own path
        work.prepare_cached(
            "UPDATE photographs SET path = ?1 WHERE id = (
               SELECT id FROM photographs WHERE outing_id = ?2 AND hash = ?3 AND name = ?4
               AND path NOT IN (SELECT value FROM json_each(?5)) LIMIT 1)
             AND NOT EXISTS (
               SELECT 1 FROM photographs WHERE outing_id = ?2 AND hash = ?3 AND path = ?1)",
        )?
        .execute((
            source.path.to_string_lossy(),
            outing,
            &source.hash,
            source.name(),
            &paths,
        ))?;
    }
    Ok(())
}

/// The kinds by their word in the table.
pub(super) fn is_records(source: &SourceFile) -> bool {
    source.kind == FileKind::Records
}
