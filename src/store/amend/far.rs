//! Decides whether a stated position is far from where its find can be: from the track of its outing, or without
//! a track from the other finds of the outing. Layer: `store`.

use std::collections::HashMap;

use rusqlite::Connection;
use uuid::Uuid;

use crate::earth::geodesic;
use crate::error::Result;
use crate::model::Refusal;
use crate::store::fault::Attempt;
use crate::store::read::tracks;
use crate::store::{Store, geometry};
use crate::units::{LatLon, Metres};

/// A corrected position is rarely farther from the track, metres: a slip of one digit of a degree is at least
/// as far in the first two decimals.
const FROM_TRACK: f64 = 1_000.0;
/// The farthest that two finds of an outing without a track are apart, metres (common practice: a day's journey
/// between stops).
const FROM_FINDS: f64 = 100_000.0;

/// Where an outing was.
#[derive(Default)]
struct Outing {
    track: Vec<LatLon>,
    finds: Vec<LatLon>,
}

/// Where outings were, each read once.
#[derive(Default)]
pub(super) struct Places(HashMap<i64, Outing>);

impl Places {
    /// Why a position on an outing is refused, if it is.
    pub(super) fn refusal(
        &mut self,
        work: &Connection,
        outing: i64,
        at: LatLon,
    ) -> Attempt<Option<Refusal>> {
        let places = match self.0.entry(outing) {
            std::collections::hash_map::Entry::Occupied(known) => known.into_mut(),
            std::collections::hash_map::Entry::Vacant(new) => new.insert(read(work, outing)?),
        };
        let far = |from: &[LatLon], limit: f64| {
            geodesic::nearest(at, from.iter().copied()).filter(|Metres(away)| *away > limit)
        };
        Ok(if places.track.is_empty() {
            far(&places.finds, FROM_FINDS).map(|away| Refusal::FarFromFinds { away_m: away.0 })
        } else {
            far(&places.track, FROM_TRACK).map(|away| Refusal::FarFromTrack { away_m: away.0 })
        })
    }
}

fn read(work: &Connection, outing: i64) -> Attempt<Outing> {
    let track = tracks::track(work, outing)?.iter().map(|point| point.at).collect::<Vec<_>>();
    let mut finds = Vec::new();
    if track.is_empty() {
        let mut statement = work
            .prepare_cached("SELECT geom FROM finds WHERE outing_id = ?1 AND geom IS NOT NULL")?;
        let mut rows = statement.query([outing])?;
        while let Some(row) = rows.next()? {
            finds.extend(row.get_ref(0)?.as_blob().ok().and_then(geometry::position));
        }
    }
    Ok(Outing { track, finds })
}

impl Store {
    /// Why a position is too far from where its outing was, if it is: more than 1 km from the track, or without a
    /// track more than 100 km from every find.
    ///
    /// Both limits are project choices: a swapped pair, a lost sign or a wrong degree lands beyond them, a walk to the
    /// next slope does not.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn too_far(&self, outing: Uuid, at: LatLon) -> Result<Option<Refusal>> {
        let key = tracks::key(&self.connection, outing);
        let refusal = key.and_then(|key| match key {
            Some(key) => Places::default().refusal(&self.connection, key, at),
            None => Ok(None),
        });
        refusal.map_err(|fault| fault.tell(&self.path))
    }
}
