//! Decides whether two receivers were carried by one person, from their distances at the same times. There
//! is no answer where they hardly ran at the same time. Layer: `join`.

use crate::earth::local::Plane;
use crate::units::{LatLon, Timestamp};

use super::super::moment::{Origin, median};
use super::piece::{Piece, Span};

/// Two receivers on one person disagree by less than this nearly always: each is within some 25 m
/// under closed canopy (Tomastik et al. 2017; Wing et al. 2005), the rest is margin. Metres.
pub(super) const NEAR: f64 = 60.0;
/// "Nearly always": a receiver may freeze or scatter for a while.
const MOSTLY: f64 = 0.85;
/// Between two comparisons, seconds.
const STEP: f64 = 20.0;
/// Over a longer gap nothing is said of the path between, seconds.
const BRIDGED: f64 = 120.0;
/// Fewer comparisons give no information.
const FEWEST: usize = 5;

/// The fixes of one receiver, in order of time.
#[derive(Debug)]
pub(super) struct ReceiverTrack {
    pub(super) file: usize,
    pub(super) pieces: Vec<(Span, Piece)>,
}

/// The distances of two receivers while both were recording.
#[derive(Clone, Copy, Debug)]
pub(super) struct Proximity {
    /// The share of the time within [`NEAR`].
    pub(super) near: f64,
    /// The median distance, metres.
    pub(super) distance: f64,
}

impl Proximity {
    pub(super) fn is_one_person(&self) -> bool {
        self.near >= MOSTLY
    }
}

impl ReceiverTrack {
    pub(super) fn fixes(&self) -> usize {
        self.pieces.iter().map(|(_, piece)| piece.fixes.len()).sum()
    }

    fn middle(&self) -> Option<LatLon> {
        let (_, piece) = self.pieces.iter().max_by_key(|(_, piece)| piece.fixes.len())?;
        Some(piece.fixes.get(piece.fixes.len() / 2)?.at)
    }

    /// Compared with another; `None` where they hardly ran at the same time.
    pub(super) fn proximity(&self, other: &Self) -> Option<Proximity> {
        let plane = Plane::about(self.middle()?);
        let origin = Origin(self.pieces.first()?.0.start);
        let (own, theirs) =
            (TrackLine::of(self, &plane, origin), TrackLine::of(other, &plane, origin));
        let mut last = f64::NEG_INFINITY;
        let mut distances = Vec::new();
        for &(time, east, north) in &own.0 {
            if time - last < STEP {
                continue;
            }
            if let Some(there) = theirs.at(time) {
                distances.push((there.0 - east).hypot(there.1 - north));
                last = time;
            }
        }
        if distances.len() < FEWEST {
            return None;
        }
        let near = distances.iter().filter(|&&distance| distance <= NEAR).count();
        let near = near as f64 / distances.len() as f64;
        Some(Proximity { near, distance: median(&mut distances)? })
    }
}

/// Seconds, metres east, metres north; in order of time.
#[derive(Debug)]
pub(super) struct TrackLine(Vec<(f64, f64, f64)>);

impl TrackLine {
    fn of(receiver_track: &ReceiverTrack, plane: &Plane, origin: Origin) -> Self {
        Self::through(receiver_track.pieces.iter().map(|(_, piece)| piece), plane, origin)
    }

    pub(super) fn through<'a>(
        pieces: impl Iterator<Item = &'a Piece>,
        plane: &Plane,
        origin: Origin,
    ) -> Self {
        let fixes = pieces.flat_map(|piece| &piece.fixes);
        let mut line: Vec<(f64, f64, f64)> = fixes
            .filter_map(|fix| {
                let (east, north) = plane.to_plane(fix.at);
                Some((origin.seconds(fix.time?), east, north))
            })
            .collect();
        line.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self(line)
    }

    /// Linear interpolation between the fixes on either side.
    fn at(&self, time: f64) -> Option<(f64, f64)> {
        let after = self.0.partition_point(|fix| fix.0 < time);
        let b = self.0.get(after)?;
        let Some(a) = after.checked_sub(1).map(|before| self.0[before]) else {
            return (b.0 == time).then_some((b.1, b.2));
        };
        if b.0 - a.0 > BRIDGED {
            return (b.0 == time).then_some((b.1, b.2));
        }
        let share = (time - a.0) / (b.0 - a.0).max(f64::MIN_POSITIVE);
        Some((a.1 + share * (b.1 - a.1), a.2 + share * (b.2 - a.2)))
    }

    /// The distance of a place from it: at that time if it was recording, else at any time.
    pub(super) fn distance(
        &self,
        origin: Origin,
        when: Option<Timestamp>,
        (east, north): (f64, f64),
    ) -> Option<f64> {
        let apart = |(e, n): (f64, f64)| (e - east).hypot(n - north);
        let then = when.and_then(|when| self.at(origin.seconds(when))).map(apart);
        then.or_else(|| self.0.iter().map(|fix| apart((fix.1, fix.2))).min_by(f64::total_cmp))
    }
}
