//! Makes amendments of edits by another program, which triggers have recorded: moved points, changed
//! attributes, deleted finds. Layer: `store`.

use std::collections::BTreeMap;

use jiff::Timestamp;
use rusqlite::types::Value;
use rusqlite::{Connection, OptionalExtension, TransactionBehavior};
use uuid::Uuid;

use super::{deleted, text};
use crate::error::RowDamage;
use crate::model::{AmendedSubject, Authored, ChangeKind, Determination, Patch, TextProperty};
use crate::store::fault::{Attempt, Fault};
use crate::store::{geometry, sensitivity, words};
use crate::units::Seconds;

/// The reason in the journal.
const REASON: &str = "edited in another program";

/// Makes amendments of what was edited since the last write by trug. While another program holds the file this
/// is left for later.
pub(in crate::store) fn absorb(connection: &mut Connection) -> Attempt<()> {
    if !pending(connection)? {
        return Ok(());
    }
    let begun = connection.transaction_with_behavior(TransactionBehavior::Immediate);
    let work = match begun {
        Ok(work) => work,
        Err(error) if is_busy(&error) => return Ok(()),
        Err(error) => return Err(error.into()),
    };
    absorb_within(&work)?;
    work.commit()?;
    Ok(())
}

fn is_busy(error: &rusqlite::Error) -> bool {
    use rusqlite::ErrorCode::{DatabaseBusy, DatabaseLocked, ReadOnly};
    matches!(error.sqlite_error_code(), Some(DatabaseBusy | DatabaseLocked | ReadOnly))
}

/// The same within a transaction. The identifier of the change follows from what was edited and from the last
/// change before, so that a copy of the store makes the same change of the same edits.
pub(in crate::store) fn absorb_within(work: &Connection) -> Attempt<()> {
    if !pending(work)? {
        return Ok(());
    }
    super::begin_own(work)?;
    sensitivity::bind(work)?;
    deleted::join_inserted_again(work, &COLUMNS)?;
    let mut amendments = deleted::put_back(work)?;
    let made = put_back_edits(work, &mut amendments)?;
    if !amendments.is_empty() {
        let reason = Some(REASON.to_owned());
        let change = (identifier(work, &amendments)?, ChangeKind::Gis);
        super::write(work, change, &amendments, &Authored { who: None, made, reason })?;
    }
    sensitivity::bind(work)?;
    super::end_own(work)
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

/// The first value before and the last one after the edits of one column.
type Edit = (Value, Value);

/// Puts edited columns back and adds what was edited as amendments; returns the time of the last edit.
fn put_back_edits(
    work: &Connection,
    amendments: &mut Vec<(AmendedSubject, Patch)>,
) -> Attempt<Timestamp> {
    let (edits, made) = edits(work)?;
    for (find, columns) in &edits {
        let found: Option<String> = work
            .prepare_cached("SELECT uuid FROM finds WHERE id = ?1")?
            .query_map([find], |row| row.get(0))?
            .next()
            .transpose()?;
        let Some(uuid) = found else { continue };
        let subject = AmendedSubject::Find(
            crate::store::words::Cell { table: "finds", row: *find }.uuid(&uuid)?,
        );
        let patches = patches(work, *find, columns)?;
        for (column, (before, _)) in columns {
            work.prepare_cached(&format!("UPDATE finds SET {column} = ?1 WHERE id = ?2"))?
                .execute((before, find))?;
        }
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

/// The amendments that edits of one find amount to.
fn patches(work: &Connection, find: i64, columns: &BTreeMap<String, Edit>) -> Attempt<Vec<Patch>> {
    let mut patches = Vec::new();
    patches.extend(position(work, find, columns)?);
    for (column, (before, after)) in columns.iter().filter(|(_, edit)| edit.0 != edit.1) {
        let (was, value) = (plain(before), plain(after));
        if was == value {
            continue;
        }
        let property = match column.as_str() {
            "record_number" => TextProperty::Number,
            "place_name" => TextProperty::Place,
            "substrate" => TextProperty::Substrate,
            "host" => TextProperty::Host,
            "habitat" => TextProperty::Habitat,
            "container" => TextProperty::Container,
            "notes" => TextProperty::Field(crate::model::Field::Notes),
            other => {
                patches.extend(special(work, find, other, value)?);
                continue;
            }
        };
        patches.push(Patch::Text { property, value });
    }
    Ok(patches)
}

fn special(
    work: &Connection,
    find: i64,
    column: &str,
    value: Option<String>,
) -> Attempt<Option<Patch>> {
    Ok(match (column, value) {
        ("withdrawn", value) => Some(Patch::Withdrawn(value.is_some())),
        ("collector", Some(name)) => Some(Patch::Collector(name)),
        ("scientific_name", name) => {
            let name = name.unwrap_or_default();
            let named = Determination { name, accepted: true, ..Determination::default() };
            Some(Patch::Determination(named))
        }
        ("found_time", Some(time)) => {
            time.parse::<Timestamp>().ok().map_or(Ok::<_, Fault>(None), |when| {
                let row = text::row_of(work, find)?;
                let clock = text::zone_of(work, row.outing)?.to_datetime(when);
                let within = row.when.map_or(Seconds(30.0), |(_, within)| within);
                Ok(Some(Patch::Time { clock, within }))
            })?
        }
        _ => None,
    })
}

/// Text without blanks at its ends; `None` for nothing.
fn plain(value: &Value) -> Option<String> {
    let text = match value {
        Value::Text(text) => text.trim().to_owned(),
        Value::Integer(number) => number.to_string(),
        Value::Real(number) => number.to_string(),
        Value::Null | Value::Blob(_) => return None,
    };
    (!text.is_empty()).then_some(text)
}

/// A moved point keeps its radius unless that was edited too; a point without a radius has no position.
fn position(
    work: &Connection,
    find: i64,
    columns: &BTreeMap<String, Edit>,
) -> Attempt<Option<Patch>> {
    let (geom, radius) = (columns.get("geom"), columns.get("radius95_m"));
    let blob = |value: &Value| match value {
        Value::Blob(bytes) => Some(bytes.clone()),
        _ => None,
    };
    let moved = geom.filter(|(before, after)| {
        !text::same_point(blob(before).as_deref(), blob(after).as_deref())
    });
    let resized = radius.filter(|(before, after)| before != after);
    if moved.is_none() && resized.is_none() {
        return Ok(None);
    }
    let (shape, metres): (Option<Vec<u8>>, Option<f64>) = work
        .prepare_cached("SELECT geom, radius95_m FROM finds WHERE id = ?1")?
        .query_row([find], |row| Ok((row.get(0)?, row.get(1)?)))?;
    let at = shape.as_deref().and_then(geometry::position);
    let metres = metres.filter(|metres| metres.is_finite() && *metres > 0.0);
    Ok(Some(match (at, metres) {
        (Some(at), Some(within_m)) => {
            Patch::Position { latitude: at.latitude(), longitude: at.longitude(), within_m }
        }
        _ => Patch::Unlocated,
    }))
}
