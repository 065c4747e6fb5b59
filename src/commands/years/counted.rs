//! Brings finds and effort of all outings together before they are analysed: finds of outings without a track, tracks
//! of one walk, outings of the other hemisphere. Layer: `commands`.

use std::collections::{BTreeSet, HashMap, HashSet};
use std::path::PathBuf;

use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use crate::analyse::carriers::{Carried, Carrier, carriers};
use crate::analyse::counted_with::{
    Assigned, Candidate, CountedWith, WHOLE, assign, at_one_time, shared,
};
use crate::error::Result;
use crate::model::{EffortNote, ImportNote};
use crate::store::{BriefFind, Imported, ImportedDay, KeptOuting, Outcome, Store};
use crate::units::{LatLon, Metres};

/// Intervals of a track that another track shows as well.
pub(super) type Shown = Vec<(Timestamp, Timestamp)>;

/// Where finds and effort count.
#[derive(Default)]
pub(in crate::commands) struct Counted {
    /// The outing that the finds of another one count with.
    with: HashMap<Uuid, Uuid>,
    /// Outings whose effort is left out of rates.
    pub(super) left_out: HashSet<Uuid>,
    /// Outings of the other hemisphere.
    pub(super) other_hemisphere: HashSet<Uuid>,
    /// Time of tracks that another track of the same walk shows.
    pub(super) shown: HashMap<Uuid, Shown>,
    notes: Vec<EffortNote>,
}

/// What decides about each outing.
///
/// # Errors
/// When the store cannot be read.
pub(super) fn candidates<'a>(
    store: &Store,
    outings: &'a [KeptOuting],
    place: &HashMap<Uuid, LatLon>,
) -> Result<Vec<Candidate<'a>>> {
    let (files, refused) = (store.track_files()?, store.not_associated()?);
    let carried = |outing: &'a KeptOuting| Carried {
        date: outing.date,
        collector: outing.collector.as_deref(),
        file: outing.length.and_then(|_| files.get(&outing.id)).map(PathBuf::as_path),
    };
    let carriers = carriers(&outings.iter().map(carried).collect::<Vec<_>>());
    let of = |(outing, carrier): (&'a KeptOuting, Carrier)| Candidate {
        date: outing.date,
        collector: outing.collector.as_deref(),
        carrier,
        refused: refused.contains(&outing.id),
        walked: outing.length.and(outing.start.zip(outing.end)),
        began: outing.began,
        length: outing.length.unwrap_or(Metres(0.0)),
        finds: outing.finds,
        find_at: place.get(&outing.id).copied(),
    };
    Ok(outings.iter().zip(carriers).map(of).collect())
}

/// Notes on the outings of an import whose track shows a walk that the store has already.
///
/// # Errors
/// When the store cannot be read.
pub(in crate::commands) fn note_same_walks(store: &Store, imported: &mut Imported) -> Result<()> {
    let outings = store.outings()?;
    let is_new = |day: &&mut ImportedDay| day.outcome != Outcome::Unchanged;
    let mut days: HashMap<Uuid, &mut ImportedDay> =
        imported.days.iter_mut().filter(is_new).map(|day| (day.outing, day)).collect();
    if days.is_empty() {
        return Ok(());
    }
    for (a, b) in at_one_time(&candidates(store, &outings, &HashMap::new())?) {
        let (a, b) = (&outings[a], &outings[b]);
        let (own, other) = if days.contains_key(&b.id) { (b, a) } else { (a, b) };
        let Some(day) = days.get_mut(&own.id) else { continue };
        let share = shared(&store.track(other.id)?, &store.track(own.id)?);
        day.notes.extend(share.map(|share| ImportNote::TrackOfSameWalk {
            outing: other.id,
            date: other.date.to_string(),
            percent: percent(share),
        }));
    }
    Ok(())
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "0 to 100")]
fn percent(share: f64) -> u8 {
    (100.0 * share).round().clamp(0.0, 100.0) as u8
}

/// Within so many degrees of the equator an outing belongs to either hemisphere (project choice).
const TROPICS: f64 = 10.0;

/// Whether an outing was in the southern hemisphere; `None` near the equator and without a track.
fn is_southern(outing: &KeptOuting) -> Option<bool> {
    let latitude = outing.began?.latitude();
    (latitude.abs() > TROPICS).then_some(latitude < 0.0)
}

impl Counted {
    /// Decides it for all outings.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub(super) fn of(store: &Store, outings: &[KeptOuting], finds: &[BriefFind]) -> Result<Self> {
        let mut place: HashMap<Uuid, LatLon> = HashMap::new();
        for find in finds {
            if let Some((at, _)) = find.place {
                place.entry(find.outing).or_insert(at);
            }
        }
        let candidates = candidates(store, outings, &place)?;
        let mut counted = Self::default();
        counted.take_walks(store, outings, &candidates)?;
        counted.take_finds(outings, &candidates);
        counted.take_hemispheres(outings);
        Ok(counted)
    }

    /// Tracks of one walk: the time of the shorter one that the longer shows as well.
    fn take_walks(
        &mut self,
        store: &Store,
        outings: &[KeptOuting],
        candidates: &[Candidate<'_>],
    ) -> Result<()> {
        for (main, other) in at_one_time(candidates) {
            let (main, other) = (&outings[main], &outings[other]);
            let shows_less = |id: &Uuid| self.with.contains_key(id);
            if shows_less(&main.id) || shows_less(&other.id) {
                continue;
            }
            let (track, second) = (store.track(main.id)?, store.track(other.id)?);
            let Some(share) = shared(&track, &second) else { continue };
            let (Some(first), Some(last)) = (track.first(), track.last()) else { continue };
            let span = if share >= WHOLE {
                self.with.insert(other.id, main.id);
                (Timestamp::MIN, Timestamp::MAX)
            } else {
                (first.time, last.time)
            };
            self.shown.entry(other.id).or_default().push(span);
        }
        let dates =
            || outings.iter().filter(|own| self.shown.contains_key(&own.id)).map(|o| o.date);
        if let (Some(first), Some(last)) = (dates().min(), dates().max()) {
            self.notes.push(EffortNote::SameWalk { tracks: dates().count(), first, last });
        }
        Ok(())
    }

    /// Finds of outings without a track.
    fn take_finds(&mut self, outings: &[KeptOuting], candidates: &[Candidate<'_>]) {
        let Assigned { with, left_out } = assign(candidates);
        let (mut by_date, mut unknown) = ((0, 0), (BTreeSet::<Date>::new(), 0));
        for (outing, with) in outings.iter().zip(with) {
            match with {
                CountedWith::Own => {}
                CountedWith::Other(index) => {
                    let other = self.canonical(outings[index].id);
                    self.with.insert(outing.id, other);
                    by_date = (by_date.0 + outing.finds, by_date.1 + 1);
                }
                CountedWith::Unknown => {
                    unknown.0.insert(outing.date);
                    unknown.1 += outing.finds;
                    self.left_out.insert(outing.id);
                }
            }
        }
        let tracks: Vec<Uuid> =
            left_out.iter().map(|index| self.canonical(outings[*index].id)).collect();
        self.left_out.extend(tracks);
        if by_date.0 > 0 {
            let (finds, outings) = by_date;
            self.notes.push(EffortNote::FindsByDate { finds, outings });
        }
        if unknown.1 > 0 {
            let days = unknown.0.len();
            self.notes.push(EffortNote::DaysLeftOut { days, finds: unknown.1 });
        }
    }

    /// The hemisphere with fewer outings.
    fn take_hemispheres(&mut self, outings: &[KeptOuting]) {
        let count =
            |south: bool| outings.iter().filter(|own| is_southern(own) == Some(south)).count();
        self.leave_out_side(outings, count(true) <= count(false));
    }

    /// Leaves out the hemisphere opposite to a place outside the tropics, instead of that with fewer outings.
    pub(super) fn take_side_of(&mut self, outings: &[KeptOuting], at: LatLon) {
        if at.latitude().abs() > TROPICS {
            self.leave_out_side(outings, at.latitude() > 0.0);
        }
    }

    fn leave_out_side(&mut self, outings: &[KeptOuting], southern: bool) {
        self.other_hemisphere.clear();
        self.notes.retain(|note| !matches!(note, EffortNote::OtherHemisphere { .. }));
        let left: Vec<&KeptOuting> =
            outings.iter().filter(|own| is_southern(own) == Some(southern)).collect();
        if left.is_empty() {
            return;
        }
        let finds = left.iter().map(|outing| outing.finds).sum();
        self.other_hemisphere = left.iter().map(|outing| outing.id).collect();
        self.notes.push(EffortNote::OtherHemisphere { outings: left.len(), finds, southern });
    }

    /// The outing that the finds of an outing count with.
    pub(in crate::commands) fn canonical(&self, outing: Uuid) -> Uuid {
        self.with.get(&outing).copied().unwrap_or(outing)
    }

    /// Whether an outing is in the hemisphere that analyses of seasons leave out.
    pub(in crate::commands) fn is_other_hemisphere(&self, outing: Uuid) -> bool {
        self.other_hemisphere.contains(&outing)
    }

    /// Notes on all of it; those on hemispheres only for analyses of seasons.
    pub(super) fn notes(&self, seasons: bool) -> Vec<EffortNote> {
        let concerns =
            |note: &EffortNote| seasons || !matches!(note, EffortNote::OtherHemisphere { .. });
        self.notes.iter().copied().filter(concerns).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::ZoneSource;

    fn outing(latitude: f64) -> KeptOuting {
        KeptOuting {
            id: Uuid::new_v4(),
            date: jiff::civil::date(2026, 5, 2),
            start: None,
            end: None,
            zone: "UTC".to_owned(),
            zone_source: ZoneSource::Assumed,
            collector: None,
            began: LatLon::new(latitude, 9.0).ok(),
            length: None,
            searched: None,
            finds: 1,
            imported: Timestamp::UNIX_EPOCH,
            changed: Timestamp::UNIX_EPOCH,
        }
    }

    /// A round from a northern start ranks northern sites, also where most outings were in the south.
    #[test]
    fn the_start_of_a_round_decides_on_the_hemisphere() {
        let outings = [outing(47.0), outing(-42.0), outing(-42.0)];
        let mut counted = Counted::default();
        counted.take_hemispheres(&outings);
        let left = |counted: &Counted| {
            outings.iter().map(|own| counted.is_other_hemisphere(own.id)).collect::<Vec<_>>()
        };
        assert_eq!(left(&counted), [true, false, false]);
        counted.take_side_of(&outings, LatLon::new(47.3, 9.1).unwrap());
        assert_eq!(left(&counted), [false, true, true]);
        let side = |note: &EffortNote| match note {
            EffortNote::OtherHemisphere { outings, southern, .. } => Some((*outings, *southern)),
            _ => None,
        };
        assert_eq!(counted.notes.iter().filter_map(side).collect::<Vec<_>>(), [(2, true)]);
        // near the equator neither side is the right one
        counted.take_side_of(&outings, LatLon::new(2.0, 9.1).unwrap());
        assert_eq!(left(&counted), [false, true, true]);
    }
}
