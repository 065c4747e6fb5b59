//! Packs all rows of an outing, so that an import or a removal can be undone, and puts them back.
//! Layer: `store`.
//!
//! An archive holds the rows of all tables of an outing as they were imported, packed and with a checksum;
//! names of columns are stored with it, so that an archive of an older version can still be restored.

use std::io::{Read, Write};

use flate2::Compression;
use flate2::read::DeflateDecoder;
use flate2::write::DeflateEncoder;
use rusqlite::types::{Value, ValueRef};
use rusqlite::{Connection, OptionalExtension, params_from_iter};

use crate::error::{ChangeFault, Error, RowDamage, Unpacked};
use crate::model::Day;
use crate::store::columns::{ColumnReader, ColumnWriter, sealed, unsealed};
use crate::store::fault::{Attempt, Fault};

/// The form of the packed bytes: from the second one on they hold the membership in sites.
const FORM: u128 = 2;
/// A damaged blob must not exhaust memory, bytes.
const LARGEST: u64 = 1 << 30;

/// The tables of an outing, those that others refer to first, with the condition for its rows.
pub(in crate::store) const TABLES: [(&str, &str); 15] = [
    ("outings", "id = ?1"),
    ("sources", "outing_id = ?1"),
    ("fixes", "source_id IN (SELECT id FROM sources WHERE outing_id = ?1)"),
    ("tracks", "outing_id = ?1"),
    ("track_points", "outing_id = ?1"),
    ("stops", "outing_id = ?1"),
    ("cameras", "outing_id = ?1"),
    ("photographs", "outing_id = ?1"),
    ("finds", "outing_id = ?1"),
    ("find_history", "find_id IN (SELECT id FROM finds WHERE outing_id = ?1)"),
    ("anchors", "find_id IN (SELECT id FROM finds WHERE outing_id = ?1)"),
    ("find_photographs", "find_id IN (SELECT id FROM finds WHERE outing_id = ?1)"),
    ("conflicts", "outing_id = ?1"),
    ("conflict_finds", "conflict_id IN (SELECT id FROM conflicts WHERE outing_id = ?1)"),
    ("reports", "outing_id = ?1"),
];

/// To which sites the finds belong, so that a site keeps its number and its name.
const MEMBERS: (&str, &str) =
    ("site_finds", "find_id IN (SELECT id FROM finds WHERE outing_id = ?1)");

/// Notes that the store did not have this outing before a change.
pub(in crate::store) fn note_new(work: &Connection, change: i64, day: &Day) -> Attempt<()> {
    work.prepare_cached(
        "INSERT OR IGNORE INTO archived_outings (change_id, outing_uuid, date, collector, find_count)
         VALUES (?1, ?2, ?3, ?4, 0)",
    )?
    .execute((
        change,
        day.outing.id.to_string(),
        day.outing.date.to_string(),
        &day.outing.collector,
    ))?;
    Ok(())
}

/// Keeps an outing as it is before a change; its amendments must be lifted.
pub(in crate::store) fn keep(work: &Connection, change: i64, outing: i64) -> Attempt<()> {
    let packed = pack(work, outing)?;
    work.prepare_cached(
        "INSERT OR IGNORE INTO archived_outings
           (change_id, outing_uuid, date, collector, find_count, packed)
         SELECT ?1, o.uuid, o.date, o.collector,
           (SELECT count(*) FROM finds f WHERE f.outing_id = o.id AND f.withdrawn IS NULL), ?3
         FROM outings o WHERE o.id = ?2",
    )?
    .execute((change, outing, packed))?;
    Ok(())
}

/// Keeps that an outing is absent before a change, with the date of an earlier archive.
pub(super) fn keep_absence(work: &Connection, change: i64, earlier: i64) -> Attempt<()> {
    work.prepare_cached(
        "INSERT OR IGNORE INTO archived_outings (change_id, outing_uuid, date, collector, find_count)
         SELECT ?1, outing_uuid, date, collector, 0 FROM archived_outings WHERE id = ?2",
    )?
    .execute((change, earlier))?;
    Ok(())
}

/// Deletes an outing with everything that belongs to it.
pub(super) fn delete(work: &Connection, outing: i64) -> Attempt<()> {
    work.prepare_cached("DELETE FROM outings WHERE id = ?1")?.execute([outing])?;
    Ok(())
}

fn pack(work: &Connection, outing: i64) -> Attempt<Vec<u8>> {
    let mut writer = ColumnWriter::default();
    writer.unsigned(FORM);
    for (table, condition) in TABLES.into_iter().chain([MEMBERS]) {
        let mut statement =
            work.prepare_cached(&format!("SELECT * FROM {table} WHERE {condition} ORDER BY id"))?;
        let names: Vec<String> = statement.column_names().into_iter().map(str::to_owned).collect();
        let mut cells = ColumnWriter::default();
        let mut count = 0_u128;
        let mut rows = statement.query([outing])?;
        while let Some(row) = rows.next()? {
            count += 1;
            for place in 0..names.len() {
                write_cell(&mut cells, row.get_ref(place)?);
            }
        }
        let cells = cells.finish();
        writer.text(table);
        writer.text(&names.join(","));
        writer.unsigned(count);
        writer.unsigned(cells.len() as u128);
        writer.raw(&cells);
    }
    let packed = deflate(&writer.finish())
        .map_err(|error| Error::from(ChangeFault::NotArchived { cause: error.to_string() }))?;
    Ok(sealed(&packed))
}

fn deflate(bytes: &[u8]) -> std::io::Result<Vec<u8>> {
    let mut encoder = DeflateEncoder::new(Vec::new(), Compression::fast());
    encoder.write_all(bytes)?;
    encoder.finish()
}

const NULL: u128 = 0;
const INTEGER: u128 = 1;
const REAL: u128 = 2;
const TEXT: u128 = 3;
const BLOB: u128 = 4;

fn write_cell(writer: &mut ColumnWriter, cell: ValueRef<'_>) {
    match cell {
        ValueRef::Null => writer.unsigned(NULL),
        ValueRef::Integer(number) => {
            writer.unsigned(INTEGER);
            writer.steps(std::iter::once(number));
        }
        ValueRef::Real(number) => {
            writer.unsigned(REAL);
            writer.numbers(std::iter::once(number));
        }
        ValueRef::Text(bytes) => write_bytes(writer, TEXT, bytes),
        ValueRef::Blob(bytes) => write_bytes(writer, BLOB, bytes),
    }
}

fn write_bytes(writer: &mut ColumnWriter, kind: u128, bytes: &[u8]) {
    writer.unsigned(kind);
    writer.unsigned(bytes.len() as u128);
    writer.raw(bytes);
}

fn read_cell(reader: &mut ColumnReader<'_>) -> Option<Value> {
    Some(match reader.unsigned()? {
        NULL => Value::Null,
        INTEGER => Value::Integer(*reader.steps(1)?.first()?),
        REAL => Value::Real(*reader.numbers(1)?.first()?),
        TEXT => {
            let length = usize::try_from(reader.unsigned()?).ok()?;
            Value::Text(String::from_utf8(reader.raw(length)?.to_vec()).ok()?)
        }
        BLOB => {
            let length = usize::try_from(reader.unsigned()?).ok()?;
            Value::Blob(reader.raw(length)?.to_vec())
        }
        _ => return None,
    })
}

/// Puts an archived outing back and returns its key; `None` where it was absent.
pub(super) fn restore(work: &Connection, archive: i64) -> Attempt<Option<i64>> {
    let packed: Option<Vec<u8>> = work
        .prepare_cached("SELECT packed FROM archived_outings WHERE id = ?1")?
        .query_row([archive], |row| row.get(0))
        .optional()?
        .flatten();
    let Some(packed) = packed else { return Ok(None) };
    let damaged = || {
        Fault::damaged("archived_outings", archive, RowDamage::Packed { content: Unpacked::Outing })
    };
    let mut bytes = Vec::new();
    // stores from before there were checksums have none
    DeflateDecoder::new(unsealed(&packed).unwrap_or(&packed))
        .take(LARGEST)
        .read_to_end(&mut bytes)
        .map_err(|_| damaged())?;
    let mut reader = ColumnReader::new(&bytes);
    let form = reader.unsigned().filter(|form| (1..=FORM).contains(form)).ok_or_else(damaged)?;
    let mut outing = None;
    for (table, _) in TABLES {
        let first = restore_table(work, &mut reader, table)?.ok_or_else(damaged)?;
        if table == "outings" {
            outing = first.0;
        }
    }
    if form > 1 {
        restore_table(work, &mut reader, MEMBERS.0)?.ok_or_else(damaged)?;
    }
    sites_wait(work)?;
    outing.map(Some).ok_or_else(damaged)
}

/// Sites that have other finds than they were made for are made again by the next command that reads them.
fn sites_wait(work: &Connection) -> Attempt<()> {
    work.execute(
        "DELETE FROM derived WHERE name = 'sites' AND EXISTS (
           SELECT 1 FROM sites s WHERE s.find_count !=
             (SELECT count(*) FROM site_finds m WHERE m.site_id = s.id))",
        [],
    )?;
    Ok(())
}

/// The key of the first row; `None` where the bytes do not fit.
struct FirstKey(Option<i64>);

fn restore_table(
    work: &Connection,
    reader: &mut ColumnReader<'_>,
    table: &str,
) -> Attempt<Option<FirstKey>> {
    let Some((names, count)) = head(reader, table) else { return Ok(None) };
    let marks: Vec<String> = (1..=names.len()).map(|place| format!("?{place}")).collect();
    let marks = marks.join(", ");
    // sites can have gone meanwhile
    let site = names.iter().position(|name| table == MEMBERS.0 && *name == "site_id");
    let (or, values) = match site {
        Some(site) => (" OR IGNORE", format!("SELECT {marks} FROM sites WHERE id = ?{}", site + 1)),
        None => ("", format!("VALUES ({marks})")),
    };
    let insert = format!("INSERT{or} INTO {table} ({}) {values}", names.join(", "));
    let mut first = FirstKey(None);
    for _ in 0..count {
        let cells: Option<Vec<Value>> = names.iter().map(|_| read_cell(reader)).collect();
        let Some(cells) = cells else { return Ok(None) };
        work.prepare_cached(&insert)?.execute(params_from_iter(&cells))?;
        if first.0.is_none() {
            first.0 = Some(work.last_insert_rowid());
        }
    }
    Ok(Some(first))
}

/// The columns and the number of rows of the next table. Names of columns are checked, since they
/// become part of a statement.
fn head<'a>(reader: &mut ColumnReader<'a>, table: &str) -> Option<(Vec<&'a str>, u128)> {
    if reader.text()? != table {
        return None;
    }
    let names: Vec<&str> = reader.text()?.split(',').collect();
    let plain = |name: &&str| {
        !name.is_empty() && name.chars().all(|c| c.is_ascii_alphanumeric() || c == '_')
    };
    let count = reader.unsigned()?;
    let length = usize::try_from(reader.unsigned()?).ok()?;
    (names.iter().all(plain) && length <= reader.left()).then_some((names, count))
}
