//! Computes the hash that identifies a day's files, options and results, so that an unchanged day
//! is not imported again. Folder names are not part of it. Layer: `store`.

use blake3::Hasher;
use serde::Serialize;

use crate::error::Error;
use crate::model::{Day, Find};
use crate::store::fault::Attempt;
use crate::store::{pack, words};

/// BLAKE3 in hexadecimal over everything that an import would store.
///
/// The same files in another folder give the same hash; another zone, collector or camera clock gives another one.
pub(super) fn of(day: &Day) -> Attempt<String> {
    let mut hash = Summing(Hasher::new());
    let mut sources: Vec<&str> = day.sources.iter().map(|source| source.hash.as_str()).collect();
    sources.sort_unstable();
    let outing = &day.outing;
    hash.add(&(sources, outing.date, &outing.zone.name, outing.zone.source, &outing.collector))?;
    for find in &day.finds {
        hash_find(&mut hash, find)?;
    }
    for photo in &day.photos {
        hash.add(&(photo.photo.name(), photo.when, photo.at, &photo.finds))?;
    }
    for camera in &day.cameras {
        hash.add(&(&camera.camera, camera.method, camera.ahead, camera.interval95))?;
    }
    for conflict in &day.conflicts {
        hash.add(&(conflict.kind, conflict.size, &conflict.finds))?;
        hash.report(&conflict.report)?;
    }
    for association in &day.associations {
        hash.add(association)?;
    }
    for report in day.set_aside.iter().chain(&day.remarks) {
        hash.report(report)?;
    }
    let rows: Vec<_> = day.fixes.iter().enumerate().collect();
    hash.0.update(&pack::fixes(&rows)).update(&pack::track(&day.track));
    Ok(hash.0.finalize().to_hex().to_string())
}

fn hash_find(hash: &mut Summing, find: &Find) -> Attempt<()> {
    hash.add(&(find.id, &find.record, find.when, &find.photos))?;
    for anchor in &find.anchors {
        hash.add(&(anchor.kind, anchor.at, anchor.radius, anchor.used, anchor.basis.to_string()))?;
    }
    match &find.place {
        Ok(place) => hash.add(&(place.at, place.radius, place.combination)),
        Err(why) => hash.report(&Error::from(why)),
    }
}

struct Summing(Hasher);

impl Summing {
    fn add<T: Serialize>(&mut self, part: &T) -> Attempt<()> {
        self.0.update(words::json(part)?.as_bytes());
        Ok(())
    }

    fn report(&mut self, report: &Error) -> Attempt<()> {
        self.add(&(report.what(), report.why(), report.where_line()))
    }
}
