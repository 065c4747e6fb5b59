//! Makes amendments of edits by another program, which triggers have recorded: moved points, changed
//! attributes, deleted finds. Layer: `store`.
//!
//! The triggers cannot know who edits: the store's own transactions are marked by a row that only they hold, and every
//! edit without it is another program's. No edit is missed, and the other program needs no function of this one.

use std::collections::BTreeMap;

use jiff::Timestamp;
use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior};
use uuid::Uuid;

use super::deleted;
use super::edited::{Edit, Edited};
use super::far::Places;
use crate::error::RowDamage;
use crate::model::{AmendedSubject, Authored, ChangeKind, Patch};
use crate::store::fault::{Attempt, Fault};
use crate::store::{sensitivity, words};

/// The reason in the journal.
const REASON: &str = "edited in another program";

/// Makes amendments of what was edited since the last write by trug; returns the number of the change. While
/// another program holds the file this is left for later.
pub(in crate::store) fn absorb(connection: &mut Connection) -> Attempt<Option<i64>> {
    if !pending(connection)? {
        return Ok(None);
    }
    let begun = connection.transaction_with_behavior(TransactionBehavior::Immediate);
    let work = match begun {
        Ok(work) => work,
        Err(error) if is_busy(&error) => return Ok(None),
        Err(error) => return Err(error.into()),
    };
    let change = absorb_within(&work)?;
    work.commit()?;
    Ok(change)
}

fn is_busy(error: &rusqlite::Error) -> bool {
    use rusqlite::ErrorCode::{DatabaseBusy, DatabaseLocked, ReadOnly};
    matches!(error.sqlite_error_code(), Some(DatabaseBusy | DatabaseLocked | ReadOnly))
}

/// The same within a transaction. The identifier of the change follows from what was edited and from the last
/// change before, so that a copy of the store makes the same change of the same edits.
pub(in crate::store) fn absorb_within(work: &Connection) -> Attempt<Option<i64>> {
    if !pending(work)? {
        return Ok(None);
    }
    super::begin_own(work)?;
    sensitivity::bind(work)?;
    deleted::join_inserted_again(work, &COLUMNS)?;
    let mut amendments = deleted::put_back(work)?;
    let made = put_back_edits(work, &mut amendments)?;
    let mut taken_in = None;
    if !amendments.is_empty() {
        let reason = Some(REASON.to_owned());
        let change = (identifier(work, &amendments)?, ChangeKind::Gis);
        let authored = Authored { who: None, made, reason };
        taken_in = Some(super::write(work, change, &amendments, &authored)?);
    }
    sensitivity::bind(work)?;
    super::end_own(work)?;
    Ok(taken_in)
}

fn identifier(work: &Connection, amendments: &[(AmendedSubject, Patch)]) -> Attempt<Uuid> {
    let last: Option<String> = work
        .prepare_cached("SELECT uuid FROM journal ORDER BY id DESC LIMIT 1")?
        .query_row([], |row| row.get(0))
        .optional()?;
    let last = last.and_then(|last| Uuid::parse_str(&last).ok()).unwrap_or_default();
    let mut content = String::new();
    for (subject, patch) in amendments {
        if let AmendedSubject::Find(find) = subject {
            content.push_str(&find.to_string());
        }
        content.push_str(&words::json(patch)?);
    }
    Ok(Uuid::new_v5(&last, content.as_bytes()))
}

fn pending(work: &Connection) -> Attempt<bool> {
    Ok(work
        .prepare_cached(
            "SELECT EXISTS (SELECT 1 FROM gis_edits) OR EXISTS (SELECT 1 FROM deleted_finds)",
        )?
        .query_row([], |row| row.get(0))?)
}

/// Puts edited columns back and adds what was edited as amendments; returns the time of the last edit.
fn put_back_edits(
    work: &Connection,
    amendments: &mut Vec<(AmendedSubject, Patch)>,
) -> Attempt<Timestamp> {
    let (edits, made) = edits(work)?;
    let mut edited = Vec::new();
    for (find, columns) in &edits {
        let found: Option<String> = work
            .prepare_cached("SELECT uuid FROM finds WHERE id = ?1")?
            .query_map([find], |row| row.get(0))?
            .next()
            .transpose()?;
        let Some(uuid) = found else { continue };
        edited.push((*find, words::Cell { table: "finds", row: *find }.uuid(&uuid)?, columns));
        for (column, (before, _)) in columns {
            work.prepare_cached(&format!("UPDATE finds SET {column} = ?1 WHERE id = ?2"))?
                .execute((before, find))?;
        }
    }
    // what is impossible shows beside the values before
    let mut places = Places::default();
    for (find, uuid, columns) in edited {
        let patches = Edited { work, find, columns }.patches(&mut places)?;
        let subject = AmendedSubject::Find(uuid);
        amendments.extend(patches.into_iter().map(|patch| (subject.clone(), patch)));
    }
    work.execute_batch("DELETE FROM gis_edits")?;
    Ok(made)
}

type Edits = BTreeMap<i64, BTreeMap<String, Edit>>;

fn edits(work: &Connection) -> Attempt<(Edits, Timestamp)> {
    let mut statement =
        work.prepare("SELECT find_id, property, before, after, made FROM gis_edits ORDER BY id")?;
    let mut rows = statement.query([])?;
    let (mut edits, mut made): (Edits, _) = (BTreeMap::new(), None);
    while let Some(row) = rows.next()? {
        let (find, column): (i64, String) = (row.get(0)?, row.get(1)?);
        made = made.max(row.get::<_, String>(4)?.parse::<Timestamp>().ok());
        if column == deleted::PROPERTY {
            continue;
        }
        // names of columns become part of a statement
        if !COLUMNS.contains(&column.as_str()) {
            return Err(Fault::damaged("gis_edits", find, RowDamage::UnknownColumn));
        }
        let (before, after): (Value, Value) = (row.get(2)?, row.get(3)?);
        let columns = edits.entry(find).or_default();
        columns.entry(column).and_modify(|edit| edit.1 = after.clone()).or_insert((before, after));
    }
    Ok((edits, made.unwrap_or(Timestamp::UNIX_EPOCH)))
}

const COLUMNS: [&str; 13] = [
    "geom",
    "radius95_m",
    "record_number",
    "scientific_name",
    "collector",
    "found_time",
    "place_name",
    "substrate",
    "host",
    "habitat",
    "container",
    "notes",
    "withdrawn",
];
