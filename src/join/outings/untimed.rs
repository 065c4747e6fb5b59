//! Assigns tracks without times to an outing by the records in their own folder, if all of them have one
//! date. The track then gives the place and time zone of that outing. Otherwise this is reported. Layer:
//! `join`.

use std::collections::BTreeSet;

use jiff::civil::Date;

use crate::error::Error;
use crate::model::TrackTimesNote;

use super::draft::Draft;
use super::piece::Piece;
use super::pool::Pool;

/// Assigns each piece to the outing of the records in its folder, before these are assigned.
pub(super) fn share(pieces: &[Piece], pool: &mut Pool, outings: &mut Vec<Draft>) {
    for own in pieces.chunk_by(|a, b| a.file == b.file) {
        let Some(first) = own.first() else { continue };
        let place = first.fixes.get(first.fixes.len() / 2).map(|fix| fix.at);
        let dates = dates_beside(first.file, pool);
        let date = if dates.len() == 1 { dates.first().copied() } else { None };
        let home = match date {
            Some(date) => outings.iter().position(|outing| outing.covers(date)),
            // its day cannot be determined
            None => None,
        };
        let count: usize = own.iter().map(|piece| piece.fixes.len()).sum();
        pool.remarks.push(said(count, first.file, date, dates.len(), pool));
        if let Some(outing) = home {
            outings[outing].pieces.extend_from_slice(own);
            if date.is_some() {
                outings[outing].place = outings[outing].place.or(place);
            }
        } else {
            outings.push(Draft { date, place, pieces: own.to_vec(), ..Draft::default() });
        }
    }
}

/// The dates of the records in the folder of a file.
fn dates_beside(file: usize, pool: &Pool) -> BTreeSet<Date> {
    let folder = pool.files[file].folder();
    let beside = pool.records.iter().filter(|(book, _)| pool.files[*book].folder() == folder);
    beside.filter_map(|(_, record)| record.date).collect()
}

fn said(count: usize, file: usize, date: Option<Date>, dates: usize, pool: &Pool) -> Error {
    let source = &pool.files[file];
    let file_name = source.name();
    let note = TrackTimesNote::TrackWithoutTimes { file_name, fixes: count, date, dates };
    Error::from(note).in_file(&source.path)
}
