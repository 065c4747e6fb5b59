//! Divides the inputs into outings. Tracks are divided where nothing is recorded for five hours, so a night
//! outing stays whole, and where different people walked at the same time ([`parties`]); photographs go to
//! the nearest outing, one session at a time; records to the outing of their date. What fits no track makes
//! outings by local date. Layer: `join`.

mod bundles;
mod copies;
mod draft;
mod folders;
mod group;
mod headers;
mod names;
mod open_dates;
mod owner_names;
mod pairing;
mod parties;
mod piece;
mod pool;
mod proximity;
mod series;
mod sessions;
mod share;
mod sharing;
mod untimed;
mod unused_files;
mod waypoints;

#[cfg(test)]
mod tests;

use std::collections::{HashMap, HashSet};
use std::path::PathBuf;

use crate::error::Error;
use crate::model::{Association, Intake, Photo, Record, SourceFile, Waypoint, ZoneChoice};

use super::clean::Run;
use super::estimated_track::EstimatedTrack;
use super::written::Occurrence;
use super::{Options, rollover, stray};

use draft::Draft;
pub(crate) use piece::{PAUSE, Piece};
use pool::Pool;
pub(crate) use proximity::Disagreement;
use unused_files::Offered;

/// A record with the index of its file among the sources of its outing.
#[derive(Clone, Debug)]
pub(crate) struct Filed {
    pub(crate) source: usize,
    pub(crate) record: Record,
    /// Which occurrence its time is of, where clocks showed it twice.
    pub(crate) occurrence: Occurrence,
}

/// All inputs of one outing.
pub(crate) struct Gathered {
    pub(crate) sources: Vec<SourceFile>,
    pub(crate) runs: Vec<Run>,
    /// Fixes that [`stray::set_aside`] took out of the runs.
    pub(crate) strays: Vec<Run>,
    pub(crate) waypoints: Vec<Waypoint>,
    /// The file of each waypoint, by its place among the inputs.
    pub(crate) waypoint_files: Vec<usize>,
    pub(crate) photos: Vec<Photo>,
    pub(crate) records: Vec<Filed>,
    pub(crate) zone: ZoneChoice,
    /// Whether times of its tracks state no zone and were read as UTC.
    pub(crate) zone_assumed: bool,
    /// Photographs of cameras whose date is not of the day: their times show nothing.
    pub(crate) misdated: HashSet<PathBuf>,
    pub(crate) set_aside: Vec<Error>,
    pub(crate) remarks: Vec<Error>,
    /// How far the receivers that recorded it disagree.
    pub(crate) disagreement: Option<Disagreement>,
    /// Uncertain associations with tracks.
    pub(crate) associations: Vec<Association>,
    /// The estimated track of its runs, where it is known already.
    pub(crate) estimated_track: Option<EstimatedTrack>,
}

/// Divides the inputs into outings, in order of time; of parties out at the same time, the one that
/// set out first comes first. The second result holds notes on files if there is no outing.
pub(super) fn part(intake: Intake, options: &Options) -> (Vec<Gathered>, Vec<Error>) {
    let offered = Offered::of(&intake);
    let mut pool = Pool::of(intake);
    let pieces = std::mem::take(&mut pool.pieces);
    let (pieces, notes) = rollover::corrected(pieces, &pool.files, &pool.dates());
    pool.remarks.extend(notes);
    let stray::Parted { pieces, strays, notes } = stray::set_aside(pieces, &pool.files);
    pool.remarks.extend(notes);
    let (mut outings, homeless) = draft::of_pieces(pieces, pool.owners());
    draft::give_strays(strays, &mut outings);
    open_dates::decide(&mut pool, &outings);
    untimed::share(&homeless, &mut pool, &mut outings);
    share::all(&mut pool, &mut outings, options);
    outings.sort_by_key(|outing| (outing.when() == (None, None), outing.when()));
    let mut gathered: Vec<Gathered> =
        outings.into_iter().map(|outing| outing.finished(&pool, options)).collect();
    pool.set_aside.extend(offered.given_to_none(&gathered));
    pool.remarks.extend(offered.used_in_part(&gathered));
    let first_with = first_with(&gathered);
    let concerned = |error: &Error| {
        error.where_file().and_then(|file| first_with.get(file)).copied().unwrap_or(0)
    };
    let mut of_no_outing = Vec::new();
    for error in std::mem::take(&mut pool.set_aside) {
        match gathered.get_mut(concerned(&error)) {
            Some(outing) => outing.set_aside.push(error),
            None => of_no_outing.push(error),
        }
    }
    for (place, note) in std::mem::take(&mut pool.remarks).into_iter().enumerate() {
        match gathered.get_mut(concerned(&note)) {
            Some(outing) => {
                let before = place.min(outing.remarks.len());
                outing.remarks.insert(before, note);
            }
            None => of_no_outing.push(note),
        }
    }
    (gathered, of_no_outing)
}

/// For each file the first outing that holds it.
fn first_with(gathered: &[Gathered]) -> HashMap<PathBuf, usize> {
    let mut first = HashMap::new();
    for (index, outing) in gathered.iter().enumerate() {
        for source in &outing.sources {
            first.entry(source.path.clone()).or_insert(index);
        }
    }
    first
}
