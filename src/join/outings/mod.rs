//! Which files, and which parts of them, belong to one outing? Tracks part where nothing is recorded
//! for five hours, so a night outing stays whole, and where different people walked at the same time
//! ([`parties`]); photographs go to the outing they lie nearest to, a session at a time; records to
//! that of their date. What fits no track makes outings by local date. Layer: `join`.

mod bundles;
mod company;
mod draft;
mod folders;
mod group;
mod headers;
mod names;
mod pairing;
mod parties;
mod piece;
mod pool;
mod sessions;
mod share;
mod untimed;
mod waypoints;

#[cfg(test)]
mod tests;

use crate::error::Error;
use crate::model::{Association, Intake, Photo, Record, SourceFile, Waypoint, ZoneChoice};

use super::clean::Run;
use super::{Options, rollover};

use draft::Draft;
pub(crate) use piece::Piece;
use pool::Pool;

/// A record with the index of its file among the sources of its outing.
#[derive(Clone, Debug)]
pub(crate) struct Filed {
    pub(crate) source: usize,
    pub(crate) record: Record,
}

/// Everything of one outing.
#[derive(Debug)]
pub(crate) struct Gathered {
    pub(crate) sources: Vec<SourceFile>,
    pub(crate) runs: Vec<Run>,
    pub(crate) waypoints: Vec<Waypoint>,
    pub(crate) photos: Vec<Photo>,
    pub(crate) records: Vec<Filed>,
    pub(crate) zone: ZoneChoice,
    pub(crate) set_aside: Vec<Error>,
    pub(crate) remarks: Vec<Error>,
    /// Pairings with tracks that are in doubt.
    pub(crate) associations: Vec<Association>,
}

/// Parts an intake into its outings, in order of time; of parties out at the same time, the one that
/// set out first comes first.
pub(super) fn part(intake: Intake, options: &Options) -> Vec<Gathered> {
    let mut pool = Pool::of(intake);
    let pieces = std::mem::take(&mut pool.pieces);
    let (pieces, notes) = rollover::corrected(pieces, &pool.files, &pool.dates());
    pool.remarks.extend(notes);
    let (mut outings, homeless) = draft::of_pieces(pieces, pool.owners());
    untimed::share(&homeless, &mut pool, &mut outings);
    share::all(&mut pool, &mut outings, options);
    outings.sort_by_key(Draft::when);
    let mut gathered: Vec<Gathered> =
        outings.into_iter().map(|outing| outing.finished(&pool, options)).collect();
    for error in std::mem::take(&mut pool.set_aside) {
        if let Some(outing) = concerned(&mut gathered, &error) {
            outing.set_aside.push(error);
        }
    }
    for (place, remark) in std::mem::take(&mut pool.remarks).into_iter().enumerate() {
        if let Some(outing) = concerned(&mut gathered, &remark) {
            let before = place.min(outing.remarks.len());
            outing.remarks.insert(before, remark);
        }
    }
    gathered
}

/// The first outing that holds the file which an error is about, else the first of all.
fn concerned<'a>(gathered: &'a mut [Gathered], error: &Error) -> Option<&'a mut Gathered> {
    let file = error.where_file();
    let holds =
        |outing: &Gathered| outing.sources.iter().any(|source| Some(source.path.as_path()) == file);
    let index = gathered.iter().position(holds).unwrap_or(0);
    gathered.get_mut(index)
}
