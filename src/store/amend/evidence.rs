//! Recomputes the position of a find whose time, photographs, outing or position were amended, from the
//! evidence that is left. Layer: `store`.

use super::fold::By;
use super::lay::{Laying, Target};
use super::on_track::{Moment, NotOnTrack, on_track};
use super::text;
use crate::error::Error;
use crate::model::{
    AmendedUnlocated, Anchor, AnchorBasis, AnchorKind, Combination, Located, NoEvidence, PartKind,
    WrittenTime,
};
use crate::store::fault::Attempt;
use crate::store::import::find_row;
use crate::store::read::{day, tracks};
use crate::store::row::Cells;
use crate::store::words::{self, Cell};
use crate::units::{LatLon, Metres, Radius95, Seconds};

/// What changed, and the evidence.
pub(super) struct Evidence<'a, 'w> {
    laying: &'a mut Laying<'w>,
    /// The outing of its track.
    outing: i64,
    moved: bool,
    /// An amended time, or the written time on another outing.
    time: Option<Moment>,
    photos_changed: bool,
    anchors: Vec<(Anchor, Option<Located>)>,
    reasons: Vec<NoEvidence>,
}

impl<'a, 'w> Evidence<'a, 'w> {
    pub(super) fn of(laying: &'a mut Laying<'w>, target: Option<&Target>) -> Attempt<Self> {
        let outing = target.map_or(laying.base.outing, |target| target.key);
        let zone = text::zone_of(laying.work, outing)?;
        let on_zone = |clock| zone.to_ambiguous_timestamp(clock).compatible().ok();
        let amended = laying.folded.time.and_then(|(_, (clock, within))| {
            let clock = target.map_or(clock, |target| target.date.to_datetime(clock.time()));
            Some(Moment { at: on_zone(clock)?, within })
        });
        let written = target.and_then(|target| {
            let time = laying.base.record.time?;
            Some(Moment { at: on_zone(target.date.to_datetime(time.clock))?, within: half(time) })
        });
        let anchors = day::anchors(laying.work, laying.base.key)?;
        let anchors = anchors.into_iter().map(|anchor| (anchor, None)).collect();
        let photos_changed = laying.retimed || !laying.folded.photographs.is_empty();
        let (moved, time) = (target.is_some(), amended.or(written));
        let reasons = Vec::new();
        Ok(Self { laying, outing, moved, time, photos_changed, anchors, reasons })
    }

    /// Writes the position, the time and the evidence, where they change.
    pub(super) fn lay(mut self) -> Attempt<()> {
        let stated = self.laying.folded.position.take();
        if !(self.moved || self.time.is_some() || self.photos_changed || stated.is_some()) {
            return Ok(());
        }
        let fixed = !self.moved && self.rests_on_a_place();
        self.recompute()?;
        match stated {
            Some(stated) => self.lay_stated(stated)?,
            // coordinates and waypoints do not depend on times
            None if fixed => {}
            None => self.lay_best()?,
        }
        self.write_anchors()
    }

    fn rests_on_a_place(&self) -> bool {
        self.anchors.iter().any(|(anchor, _)| {
            anchor.used && matches!(anchor.kind, AnchorKind::Coordinates | AnchorKind::Waypoint)
        })
    }

    /// Replaces the evidence that depends on what changed.
    fn recompute(&mut self) -> Attempt<()> {
        let (moved, timed, photos) = (self.moved, self.time.is_some(), self.photos_changed);
        let names = !self.laying.folded.photographs.is_empty();
        self.anchors.retain(|(anchor, _)| match anchor.kind {
            AnchorKind::PhotoTime => !(moved || photos),
            AnchorKind::PhotoPosition => !names,
            AnchorKind::WrittenTime => !(moved || timed),
            _ => true,
        });
        let mut when = None;
        if photos && !moved {
            let moments = self.photographs()?;
            when = middle(&moments);
            if let (Some(first), Some(last)) = (moments.first(), moments.last()) {
                let basis = AnchorBasis::AmendedPhotographs { first: first.at, last: last.at };
                self.add(AnchorKind::PhotoTime, &moments, PartKind::Clock, basis)?;
            } else {
                self.reasons.push(NoEvidence::NoPhotographTime);
                when = self.anchored_time();
            }
        }
        if let Some(time) = self.time {
            let basis = AnchorBasis::AmendedTime { at: time.at };
            self.add(AnchorKind::WrittenTime, &[time], PartKind::TimeRounding, basis)?;
            when = Some(time);
        }
        if moved || timed || photos {
            self.laying
                .row
                .set("found_time", when.map(|when| words::instant(when.at)))
                .set("found_within_s", when.map(|when| when.within.0));
        }
        Ok(())
    }

    /// The written time, where it was evidence.
    fn anchored_time(&self) -> Option<Moment> {
        let within = half(self.laying.base.record.time?);
        let kind = AnchorKind::WrittenTime;
        let at = self.anchors.iter().find(|(anchor, _)| anchor.kind == kind)?.0.when?;
        Some(Moment { at, within })
    }

    /// The corrected times of the photographs that show the find now, in order.
    fn photographs(&self) -> Attempt<Vec<Moment>> {
        let mut statement = self.laying.work.prepare_cached(
            "SELECT p.id, p.taken_time, k.low95_s, k.high95_s FROM find_photographs c
             JOIN photographs p ON p.id = c.photograph_id LEFT JOIN cameras k ON k.id = p.camera_id
             WHERE c.find_id = ?1 AND p.taken_time IS NOT NULL ORDER BY p.taken_time, p.id",
        )?;
        let mut rows = statement.query([self.laying.base.key])?;
        let mut moments = Vec::new();
        while let Some(row) = rows.next()? {
            let mut cells = Cells::of(row);
            let cell = Cell { table: "photographs", row: cells.next()? };
            let Some(at) = cell.some(cells.text()?, Cell::instant)? else { continue };
            let (low, high): (Option<f64>, Option<f64>) = (cells.next()?, cells.next()?);
            let within = low.zip(high).map_or(0.0, |(low, high)| (high - low).abs() / 2.0);
            moments.push(Moment { at, within: Seconds(within) });
        }
        Ok(moments)
    }

    fn add(
        &mut self,
        kind: AnchorKind,
        moments: &[Moment],
        part: PartKind,
        basis: AnchorBasis,
    ) -> Attempt<()> {
        let track = tracks::track(self.laying.work, self.outing)?;
        match on_track(&track, moments, part) {
            Ok(place) => {
                let anchor = Anchor {
                    kind,
                    at: place.at,
                    radius: place.radius,
                    parts: place.parts.clone(),
                    when: middle(moments).map(|moment| moment.at),
                    used: false,
                    basis,
                };
                self.anchors.push((anchor, Some(place)));
            }
            Err(why) => self.reasons.push(reason(why)),
        }
        Ok(())
    }

    /// The stated position outranks all evidence.
    fn lay_stated(&mut self, (change, stated): By<Option<(f64, f64, f64)>>) -> Attempt<()> {
        self.anchors.iter_mut().for_each(|(anchor, _)| anchor.used = false);
        let at = stated.and_then(|(lat, lon, within)| {
            Some((LatLon::new(lat, lon).ok()?, Radius95::new(Metres(within))?))
        });
        let Some((at, radius)) = at else {
            let why = Error::from(AmendedUnlocated::PositionRemoved);
            find_row::set_located(&mut self.laying.row, Err(&why), None)?;
            self.laying.note_position(text::position(None), (change, ()));
            return Ok(());
        };
        let place = Located {
            at,
            radius,
            parts: Vec::new(),
            height: None,
            combination: Combination::Single,
        };
        let basis = AnchorBasis::Amendment { change };
        let (kind, parts, when) = (AnchorKind::Correction, Vec::new(), None);
        let anchor = Anchor { kind, at, radius, parts, when, used: true, basis };
        self.anchors.insert(0, (anchor, None));
        find_row::set_located(&mut self.laying.row, Ok(&place), Some(kind))?;
        self.laying.note_position(text::position(Some(&place)), (change, ()));
        Ok(())
    }

    /// The most trusted evidence that is left.
    fn lay_best(&mut self) -> Attempt<()> {
        let timed = self.laying.folded.time.is_some();
        // a time that the user corrected outranks the positions of photographs
        let rank = |kind: AnchorKind| match kind {
            AnchorKind::Correction | AnchorKind::Coordinates | AnchorKind::Waypoint => (0, kind),
            AnchorKind::WrittenTime if timed => (1, kind),
            _ => (2, kind),
        };
        self.anchors.sort_by_key(|(anchor, _)| rank(anchor.kind));
        let mut best = None;
        for (place, (anchor, _)) in self.anchors.iter_mut().enumerate() {
            // the times of photographs contradict a corrected time
            let contradicts = timed && anchor.kind == AnchorKind::PhotoTime;
            anchor.used = best.is_none() && !contradicts;
            best = best.or(anchor.used.then_some(place));
        }
        let row = &mut self.laying.row;
        if let Some((anchor, located)) = best.and_then(|best| self.anchors.get(best)) {
            let place = located.clone().unwrap_or_else(|| Located {
                at: anchor.at,
                radius: anchor.radius,
                parts: anchor.parts.clone(),
                height: None,
                combination: Combination::Single,
            });
            return find_row::set_located(row, Ok(&place), Some(anchor.kind));
        }
        let number = &self.laying.base.record.number;
        let why = Error::from(AmendedUnlocated::NoEvidence {
            find: number.as_ref().map(|number| number.0.clone()),
            reasons: self.reasons.clone(),
        });
        find_row::set_located(row, Err(&why), None)
    }

    fn write_anchors(&self) -> Attempt<()> {
        let (work, find) = (self.laying.work, self.laying.base.key);
        work.prepare_cached("DELETE FROM anchors WHERE find_id = ?1")?.execute([find])?;
        self.anchors.iter().try_for_each(|(anchor, _)| find_row::add_anchor(work, find, anchor))
    }
}

fn half(time: WrittenTime) -> Seconds {
    Seconds(time.precision.step().0 / 2.0)
}

/// The middle of several moments, with the half width that covers them all.
fn middle(moments: &[Moment]) -> Option<Moment> {
    let (first, last) = (moments.first()?, moments.last()?);
    let half = Seconds::between(first.at, last.at).0 / 2.0;
    let within = moments.iter().map(|moment| moment.within.0).fold(0.0, f64::max);
    Some(Moment { at: Seconds(half).after(first.at), within: Seconds(half + within) })
}

fn reason(why: NotOnTrack) -> NoEvidence {
    match why {
        NotOnTrack::NoTrack => NoEvidence::NoTrack,
        NotOnTrack::Outside { first, last } => NoEvidence::OutsideTrack { first, last },
        NotOnTrack::Gap { from, to } => NoEvidence::InGap { from, to },
    }
}
