//! Writes and reads the journal of changes. Layer: `store`.
//!
//! Changes are only added: what was in force at any time follows from it. Each has a permanent identifier, by which
//! two stores recognise the same change.

use jiff::{Timestamp, ToSpan};
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};
use uuid::Uuid;

use crate::error::RowDamage;
use crate::model::{
    AmendedSubject, Authored, Change, ChangeKind, ChangeLine, ChangedOuting, Patch,
};
use crate::store::fault::{Attempt, Fault};
use crate::store::row::{Cells, Row};
use crate::store::words::{self, Cell};

/// Adds a change.
pub(in crate::store) fn add(
    work: &Connection,
    kind: ChangeKind,
    authored: &Authored,
    reverses: Option<i64>,
) -> Attempt<i64> {
    add_as(work, Uuid::new_v4(), kind, authored, reverses)
}

/// Adds a change with an identifier that its content determines.
pub(super) fn add_as(
    work: &Connection,
    uuid: Uuid,
    kind: ChangeKind,
    authored: &Authored,
    reverses: Option<i64>,
) -> Attempt<i64> {
    let mut row = Row::new();
    row.set("uuid", uuid.to_string())
        .set("kind", words::word(kind)?)
        .set("made", words::instant(authored.made))
        .set("who", authored.who.clone())
        .set("reason", authored.reason.clone())
        .set("reverses", reverses)
        .set("order_time", words::instant(after_all(work, authored.made)?))
        .set("active", true);
    Ok(row.insert(work, "journal")?)
}

/// The time itself, or just after the last change where the clock stood later then.
fn after_all(work: &Connection, made: Timestamp) -> Attempt<Timestamp> {
    let last: Option<String> = work
        .prepare_cached("SELECT max(order_time) FROM journal")?
        .query_row([], |row| row.get(0))?;
    let last = last.and_then(|last| last.parse::<Timestamp>().ok());
    let next = last.and_then(|last| last.checked_add(1.millisecond()).ok());
    Ok(next.map_or(made, |next| next.max(made)))
}

/// Puts a change and what it reverses, down to the end of a chain of undos, in force or out of force: a
/// change is in force unless an undo that is in force reverses it.
pub(in crate::store) fn settle(work: &Connection, change: i64) -> Attempt<()> {
    let mut next = Some(change);
    while let Some(id) = next {
        work.prepare_cached(
            "UPDATE journal SET active = NOT EXISTS (
               SELECT 1 FROM journal u WHERE u.reverses = journal.id AND u.active) WHERE id = ?1",
        )?
        .execute([id])?;
        let reverses: Option<i64> = work
            .prepare_cached("SELECT reverses FROM journal WHERE id = ?1")?
            .query_row([id], |row| row.get(0))?;
        // an undo is later than what it reverses
        next = reverses.filter(|earlier| *earlier < id);
    }
    Ok(())
}

/// The change at the end of a chain of undos.
pub(in crate::store) fn root(work: &Connection, change: i64) -> Attempt<i64> {
    let mut id = change;
    loop {
        let reverses: Option<i64> = work
            .prepare_cached("SELECT reverses FROM journal WHERE id = ?1")?
            .query_row([id], |row| row.get(0))?;
        match reverses.filter(|earlier| *earlier < id) {
            Some(earlier) => id = earlier,
            None => return Ok(id),
        }
    }
}

/// Adds one amended property to a change.
pub(super) fn add_line(
    work: &Connection,
    change: i64,
    subject: &AmendedSubject,
    patch: &Patch,
    before: Option<&str>,
    after: &str,
) -> Attempt<()> {
    let (find, outing, camera) = match subject {
        AmendedSubject::Find(find) => (Some(find.to_string()), None, None),
        AmendedSubject::Camera { outing, camera } => {
            (None, Some(outing.to_string()), Some(camera.clone()))
        }
    };
    let mut row = Row::new();
    row.set("change_id", change)
        .set("find_uuid", find)
        .set("outing_uuid", outing)
        .set("camera", camera)
        .set("property", patch.property().to_owned())
        .set("before", before.map(str::to_owned))
        .set("after", after.to_owned())
        .set("patch", words::json(patch)?);
    row.insert(work, "amendments")?;
    Ok(())
}

/// The patches of a find that are in force, in the order of the journal, with their changes; without refused ones.
pub(super) fn patches_of_find(work: &Connection, find: &str) -> Attempt<Vec<(i64, Patch)>> {
    patches(
        work,
        "SELECT a.id, a.change_id, a.patch FROM amendments a JOIN journal j ON j.id = a.change_id
         WHERE a.find_uuid = ?1 AND j.active AND a.property != 'refused edit'
         ORDER BY j.order_time, j.uuid, a.id",
        [find],
    )
}

/// The patches of a camera on an outing that are in force.
pub(super) fn patches_of_camera(
    work: &Connection,
    outing: &str,
    camera: &str,
) -> Attempt<Vec<(i64, Patch)>> {
    patches(
        work,
        "SELECT a.id, a.change_id, a.patch FROM amendments a JOIN journal j ON j.id = a.change_id
         WHERE a.outing_uuid = ?1 AND a.camera = ?2 AND j.active ORDER BY j.order_time, j.uuid, a.id",
        [outing, camera],
    )
}

fn patches<P: rusqlite::Params>(
    work: &Connection,
    select: &str,
    of: P,
) -> Attempt<Vec<(i64, Patch)>> {
    let mut statement = work.prepare_cached(select)?;
    let mut rows = statement.query(of)?;
    let mut patches = Vec::new();
    while let Some(row) = rows.next()? {
        let cell = Cell { table: "amendments", row: row.get(0)? };
        patches.push((row.get(1)?, cell.json(&row.get::<_, String>(2)?)?));
    }
    Ok(patches)
}

/// The subjects of a change's amendments, each once.
pub(in crate::store) fn subjects(work: &Connection, change: i64) -> Attempt<Vec<AmendedSubject>> {
    let mut statement = work.prepare_cached(
        "SELECT DISTINCT find_uuid, outing_uuid, camera FROM amendments WHERE change_id = ?1",
    )?;
    let mut rows = statement.query([change])?;
    let cell = Cell { table: "amendments", row: 0 };
    let mut subjects = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let (find, outing) = (cells.text()?, cells.text()?);
        let camera: Option<String> = cells.next()?;
        subjects.push(match (find, outing, camera) {
            (Some(find), ..) => AmendedSubject::Find(cell.uuid(find)?),
            (None, Some(outing), Some(camera)) => {
                AmendedSubject::Camera { outing: cell.uuid(outing)?, camera }
            }
            _ => return Err(Fault::damaged("amendments", 0, RowDamage::NoSubject)),
        });
    }
    Ok(subjects)
}

/// Which changes to read.
#[derive(Clone, Copy, Debug)]
pub(super) enum Which {
    /// All of them.
    All,
    /// One.
    One(i64),
    /// Those of a find or its outing, and what reversed them.
    Of { find: Uuid, outing: Uuid },
}

const SELECT: &str = "SELECT id, uuid, kind, made, who, reason, reverses, active FROM journal";
const OF: &str = "WITH RECURSIVE touched(id) AS (
      SELECT change_id FROM amendments WHERE find_uuid = ?1
      UNION SELECT change_id FROM amendments WHERE outing_uuid = ?2
      UNION SELECT change_id FROM archived_outings WHERE outing_uuid = ?2
      UNION SELECT j.id FROM touched t JOIN journal j ON j.reverses = t.id)";

/// Changes in the order of the journal.
pub(super) fn read(work: &Connection, which: &Which) -> Attempt<Vec<Change>> {
    let (select, of) = match which {
        Which::All => (format!("{SELECT} ORDER BY id"), Vec::new()),
        Which::One(id) => (format!("{SELECT} WHERE id = ?1"), vec![Value::from(*id)]),
        Which::Of { find, outing } => (
            format!("{OF} {SELECT} WHERE id IN (SELECT id FROM touched) ORDER BY id"),
            vec![find.to_string().into(), outing.to_string().into()],
        ),
    };
    let mut statement = work.prepare_cached(&select)?;
    let mut rows = statement.query(params_from_iter(of))?;
    let mut changes = Vec::new();
    while let Some(row) = rows.next()? {
        changes.push(change(work, &mut Cells::of(row))?);
    }
    Ok(changes)
}

fn change(work: &Connection, cells: &mut Cells<'_>) -> Attempt<Change> {
    let cell = Cell { table: "journal", row: cells.next()? };
    Ok(Change {
        id: cell.row,
        uuid: cell.uuid(&cells.next::<String>()?)?,
        kind: cell.word(&cells.next::<String>()?)?,
        authored: Authored {
            made: cell.instant(&cells.next::<String>()?)?,
            who: cells.next()?,
            reason: cells.next()?,
        },
        reverses: cells.next()?,
        active: cells.next()?,
        amendments: lines(work, cell.row)?,
        outings: outings(work, cell.row)?,
    })
}

fn lines(work: &Connection, change: i64) -> Attempt<Vec<ChangeLine>> {
    let mut statement = work.prepare_cached(
        "SELECT a.id, a.find_uuid, f.record_number, f.date, a.camera, a.property, a.before, a.after,
           a.patch
         FROM amendments a LEFT JOIN finds f ON f.uuid = a.find_uuid
         WHERE a.change_id = ?1 ORDER BY a.id",
    )?;
    let mut rows = statement.query([change])?;
    let mut lines = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "amendments", row: cells.next()? };
        let mut line = ChangeLine {
            find: cell.some(cells.text()?, Cell::uuid)?,
            number: cells.next()?,
            date: cell.some(cells.text()?, Cell::date)?,
            camera: cells.next()?,
            property: cells.next()?,
            before: cells.next()?,
            after: cells.next()?,
            refused: None,
        };
        if line.property == Patch::REFUSED
            && let Patch::Refused { property, why, .. } = cell.json(&cells.next::<String>()?)?
        {
            line.property = property;
            line.refused = Some(why);
        }
        lines.push(line);
    }
    Ok(lines)
}

fn outings(work: &Connection, change: i64) -> Attempt<Vec<ChangedOuting>> {
    let mut statement = work.prepare_cached(
        "SELECT id, outing_uuid, date, collector, find_count, packed IS NOT NULL
         FROM archived_outings WHERE change_id = ?1 ORDER BY id",
    )?;
    let mut rows = statement.query([change])?;
    let mut outings = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "archived_outings", row: cells.next()? };
        let outing = cell.uuid(&cells.next::<String>()?)?;
        let date = cell.date(&cells.next::<String>()?)?;
        let collector = cells.next()?;
        let (count, was): (u64, bool) = (cells.next()?, cells.next()?);
        let finds_before = was.then_some(count);
        outings.push(ChangedOuting { outing, date, collector, finds_before });
    }
    Ok(outings)
}

/// An import has no author and no reason.
pub(in crate::store) fn note_import(work: &Connection, now: &str) -> Attempt<i64> {
    let made =
        now.parse::<Timestamp>().map_err(|_| Fault::damaged("journal", 0, RowDamage::NoTime))?;
    add(work, ChangeKind::Import, &Authored { who: None, made, reason: None }, None)
}
