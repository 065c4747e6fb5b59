//! Copies the base maps that another store keeps by content. Elevation tiles are references to files of the
//! other machine and are not taken over. Layer: `store`.

use rusqlite::{Connection, OptionalExtension};

use super::Merged;
use crate::model::MergeConflict;
use crate::store::fault::Attempt;

type Source = (i64, String, Option<String>, i64, String, String);

pub(super) fn add(work: &Connection, other: &Connection, merged: &mut Merged) -> Attempt<()> {
    let theirs: Vec<Source> = other
        .prepare(
            "SELECT id, path, reference_system, bytes, hash, added FROM map_sources
             WHERE kind = 'base' ORDER BY id",
        )?
        .query_map([], |row| {
            Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?, row.get(5)?))
        })?
        .collect::<rusqlite::Result<_>>()?;
    for (key, path, system, bytes, hash, added) in theirs {
        // the same map may be kept under another path
        let same: bool = work
            .prepare_cached(
                "SELECT EXISTS (SELECT 1 FROM map_sources WHERE kind = 'base' AND hash = ?1)",
            )?
            .query_row([&hash], |row| row.get(0))?;
        if same {
            continue;
        }
        let ours: Option<i64> = work
            .prepare_cached("SELECT id FROM map_sources WHERE kind = 'base' AND path = ?1")?
            .query_row([&path], |row| row.get(0))
            .optional()?;
        if ours.is_some() {
            merged.conflicts.push(MergeConflict::BaseMap { path });
            continue;
        }
        let source = work
            .prepare_cached(
                "INSERT INTO map_sources (kind, path, reference_system, bytes, hash, added)
                 VALUES ('base', ?1, ?2, ?3, ?4, ?5)",
            )?
            .insert((path, system, bytes, hash, added))?;
        features(work, other, key, source)?;
        merged.base_maps_added += 1;
    }
    Ok(())
}

fn features(work: &Connection, other: &Connection, from: i64, to: i64) -> Attempt<()> {
    let mut add = work.prepare_cached(
        "INSERT INTO base_features (source_id, class, name, south, north, west, width, packed)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8)",
    )?;
    let mut read = other.prepare_cached(
        "SELECT class, name, south, north, west, width, packed FROM base_features
         WHERE source_id = ?1 ORDER BY id",
    )?;
    let mut rows = read.query([from])?;
    while let Some(row) = rows.next()? {
        let class: String = row.get(0)?;
        let name: Option<String> = row.get(1)?;
        let sides: [f64; 4] = [row.get(2)?, row.get(3)?, row.get(4)?, row.get(5)?];
        let packed: Vec<u8> = row.get(6)?;
        let [south, north, west, width] = sides;
        add.execute((to, class, name, south, north, west, width, packed))?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use jiff::Timestamp;

    use crate::model::Authored;
    use crate::store::Store;

    fn counts(store: &Store) -> (i64, i64) {
        let sql = "SELECT (SELECT count(*) FROM map_sources),
                          (SELECT count(*) FROM base_features f JOIN map_sources s ON s.id = f.source_id)";
        store.connection.query_row(sql, [], |row| Ok((row.get(0)?, row.get(1)?))).unwrap()
    }

    #[test]
    fn base_map_is_copied_once_and_another_content_stays() {
        let folder = tempfile::tempdir().unwrap();
        let store = |name: &str, sources: &str| {
            let store = Store::create_or_open(&folder.path().join(name)).unwrap();
            store
                .connection
                .execute_batch(&format!(
                    "INSERT INTO map_sources (id, kind, path, bytes, hash, added) VALUES {sources};
                     INSERT INTO base_features (source_id, class, south, north, west, width, packed)
                       SELECT id, 'stream', 1, 2, 3, 0.5, x'02' FROM map_sources WHERE kind = 'base';"
                ))
                .unwrap();
            store
        };
        let added = "'2026-10-01T00:00:00Z'";
        let mut ours = store("a.gpkg", &format!("(9, 'base', 'm.geojson', 3, 'aa', {added})"));
        let theirs = store(
            "b.gpkg",
            &format!(
                "(1, 'base', 'm.geojson', 4, 'bb', {added}), (2, 'base', 'n.geojson', 5, 'cc', {added}),
                 (3, 'base', 'copy.geojson', 3, 'aa', {added})"
            ),
        );
        let other = theirs.path.clone();
        drop(theirs);
        let authored = Authored { who: None, made: Timestamp::UNIX_EPOCH, reason: None };
        for added in [1, 0] {
            let merged = ours.merge(&other, &authored).unwrap();
            assert_eq!(merged.base_maps_added, added);
            assert_eq!(merged.conflicts.len(), 1, "{:?}", merged.conflicts);
            assert_eq!(counts(&ours), (2, 2));
        }
    }
}
