//! Computes and stores the summary of each outing that lacks one. Layer: `store`.

use rayon::prelude::*;
use rusqlite::Connection;

use super::{find, track};
use crate::error::{RowDamage, Unpacked};
use crate::store::columns::sealed;
use crate::store::fault::{Attempt, Fault};
use crate::store::read::packed_track;

/// The version of the summaries; older ones are rebuilt.
pub(super) const METHOD: i64 = 1;

/// The number of outings in memory at once.
const TOGETHER: usize = 64;

/// One of the two kinds of summary.
pub(super) struct Kind {
    table: &'static str,
    /// The keys of the outings that need one.
    of: &'static str,
    make: fn(&Connection, &[i64]) -> Packed,
}

/// The packed summary of each requested outing.
type Packed = Attempt<Vec<Vec<u8>>>;

pub(super) const WAYS: Kind =
    Kind { table: "brief_ways", of: "SELECT outing_id AS key FROM track_points", make: make_ways };

pub(super) const FINDS: Kind =
    Kind { table: "brief_finds", of: "SELECT id AS key FROM outings", make: make_finds };

/// Rebuilds both summaries of an outing, within the transaction of an import.
pub(in crate::store) fn renew(work: &Connection, outing: i64) -> Attempt<()> {
    for kind in [&WAYS, &FINDS] {
        for packed in (kind.make)(work, &[outing])? {
            keep(work, kind, outing, &packed)?;
        }
    }
    Ok(())
}

/// Builds the missing ones.
pub(super) fn make(
    connection: &Connection,
    kind: &Kind,
    done: &mut dyn FnMut(usize, usize),
) -> Attempt<()> {
    let missing = missing(connection, kind)?;
    for (batch, outings) in missing.chunks(TOGETHER).enumerate() {
        let made = (kind.make)(connection, outings)?;
        let work = connection.unchecked_transaction()?;
        for (outing, packed) in outings.iter().zip(&made) {
            keep(&work, kind, *outing, packed)?;
        }
        work.commit()?;
        done((batch * TOGETHER + outings.len()).min(missing.len()), missing.len());
    }
    Ok(())
}

fn missing(connection: &Connection, kind: &Kind) -> Attempt<Vec<i64>> {
    let select = format!(
        "SELECT key FROM ({}) LEFT JOIN {} b ON b.outing_id = key AND b.method = ?1
         WHERE b.id IS NULL ORDER BY key",
        kind.of, kind.table
    );
    let keys = connection
        .prepare_cached(&select)?
        .query_map([METHOD], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    Ok(keys)
}

fn keep(work: &Connection, kind: &Kind, outing: i64, packed: &[u8]) -> Attempt<()> {
    let insert = format!(
        "INSERT OR REPLACE INTO {} (outing_id, method, packed) VALUES (?1, ?2, ?3)",
        kind.table
    );
    work.prepare_cached(&insert)?.execute((outing, METHOD, sealed(packed)))?;
    Ok(())
}

/// Unpacking the full tracks dominates the cost and runs in parallel.
fn make_ways(connection: &Connection, outings: &[i64]) -> Packed {
    let packed: Vec<(i64, Vec<u8>)> = outings
        .iter()
        .filter_map(|key| packed_track(connection, *key).transpose())
        .collect::<Attempt<_>>()?;
    packed
        .into_par_iter()
        .map(|(row, packed)| {
            crate::store::pack::unpack_track(&packed).map(|points| track::pack(&points)).ok_or_else(
                || {
                    Fault::damaged(
                        "track_points",
                        row,
                        RowDamage::Packed { content: Unpacked::Points },
                    )
                },
            )
        })
        .collect()
}

fn make_finds(connection: &Connection, outings: &[i64]) -> Packed {
    outings
        .iter()
        .map(|key| find::of_outing(connection, *key).map(|finds| find::pack(&finds)))
        .collect()
}
