//! Lists the properties that two stores amended differently, each by its last amendment there and here.
//! Layer: `store`.

use std::collections::{BTreeMap, HashSet};

use rusqlite::Connection;

use crate::model::{AmendmentConflict, MergeConflict, Patch};
use crate::store::fault::Attempt;
use crate::store::words::Cell;

/// What is amended: find or outing with camera, and the property.
type Subject = (String, Option<String>, String);

/// The last amendments of a property that only one of the stores had.
#[derive(Default)]
struct Both {
    here: Option<Last>,
    there: Option<Last>,
    called: Option<String>,
}

struct Last {
    /// Its place among all in the order of changes.
    order: usize,
    change: i64,
    after: String,
    patch: String,
}

/// A conflict for each property that a change which was added and one that only this store had amend
/// differently; `known` are the changes that the other store has, too.
pub(super) fn list(
    work: &Connection,
    added: &HashSet<i64>,
    known: &HashSet<i64>,
) -> Attempt<Vec<MergeConflict>> {
    let mut statement = work.prepare(
        "SELECT a.id, a.change_id, coalesce(a.find_uuid, a.outing_uuid), a.camera, a.property, a.after, a.patch,
           f.record_number
         FROM amendments a JOIN journal j ON j.id = a.change_id AND j.active
         LEFT JOIN finds f ON f.uuid = a.find_uuid
         WHERE a.property NOT IN ('photographs', 'refused edit')
         ORDER BY j.order_time, j.uuid, a.id",
    )?;
    let mut rows = statement.query([])?;
    let mut both: BTreeMap<Subject, Both> = BTreeMap::new();
    let mut order = 0;
    while let Some(row) = rows.next()? {
        order += 1;
        let change: i64 = row.get(1)?;
        let is_added = added.contains(&change);
        if !is_added && known.contains(&change) {
            continue;
        }
        let (camera, property, patch): (Option<String>, String, String) =
            (row.get(3)?, row.get(4)?, row.get(6)?);
        if property == "determination" && !is_accepted(row.get(0)?, &patch)? {
            continue;
        }
        let subject = (row.get(2)?, camera.clone(), property);
        let pair = both.entry(subject).or_default();
        pair.called = camera.or(row.get(7)?);
        let last = Some(Last { order, change, after: row.get(5)?, patch });
        *(if is_added { &mut pair.there } else { &mut pair.here }) = last;
    }
    Ok(both.into_iter().filter_map(|(subject, both)| conflict(subject.2, both)).collect())
}

fn is_accepted(row: i64, patch: &str) -> Attempt<bool> {
    let patch: Patch = Cell { table: "amendments", row }.json(patch)?;
    Ok(matches!(patch, Patch::Determination(named) if named.accepted))
}

fn conflict(property: String, both: Both) -> Option<MergeConflict> {
    let (here, there) = both.here.zip(both.there)?;
    if here.patch == there.patch {
        return None;
    }
    Some(MergeConflict::Amendments(AmendmentConflict {
        subject: both.called,
        property,
        here_is_later: here.order > there.order,
        here: here.after,
        here_change: here.change,
        there: there.after,
        there_change: there.change,
    }))
}
