//! Decides whether two receivers were carried by one person, from their distances at the same times, or at times that
//! are as far apart as their clocks, and by how much they disagree. There is no answer where they hardly ran at the
//! same time. Layer: `join`.

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
/// Fewer comparisons do not show by how much two receivers disagree: twenty minutes.
const FEWEST_TO_SHIFT: usize = 60;
/// Receivers that differ by more than this, on the mean, disagree: metres, seconds. Each may have a bias of some
/// metres, and devices that smooth lag by some seconds.
const DISAGREE: (f64, f64) = (15.0, 10.0);
/// Clocks that are compared differ by this at most, seconds.
const FARTHEST: f64 = 1_800.0;
/// The share of distances that counts for how well two tracks match: the others hold jumps.
const MATCHED: f64 = 0.8;
/// How long errors of receivers last, seconds, and the log Bayes factor from which on another lag is certain.
const LASTS: f64 = 120.0;
const CERTAIN: f64 = 9.0;
/// Two tracks of one walk match to this share of its extent once shifted, and to so many metres.
const OF_EXTENT: f64 = 0.15;
const MATCH: f64 = 30.0;
/// A receiver is not off by more than so many metres all the time; two people can be.
const MOST_BIASED: f64 = 150.0;

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
    /// How far they disagree although one person carried them.
    pub(super) disagreement: Option<Disagreement>,
    /// Whether they are tracks of one walk once shifted by that.
    shifted: bool,
}

/// How far two receivers of one person disagree.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Disagreement {
    /// Metres between them at the same place, on the mean.
    pub(crate) distance: f64,
    /// How far the clock of the second is ahead of the first's, seconds.
    pub(crate) lag: f64,
}

impl Proximity {
    pub(super) fn is_one_person(&self) -> bool {
        self.near >= MOSTLY || self.shifted
    }
}

impl Disagreement {
    /// Whether the clocks differ.
    pub(crate) fn is_of_clocks(&self) -> bool {
        self.lag.abs() >= DISAGREE.1
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
        let samples = own.samples(STEP);
        let mut distances: Vec<f64> =
            theirs.apart(&samples, 0.0).iter().map(|(x, y)| x.hypot(*y)).collect();
        if distances.len() < FEWEST {
            return None;
        }
        let near = distances.iter().filter(|&&distance| distance <= NEAR).count();
        let near = near as f64 / distances.len() as f64;
        let shift = Shift::best(&samples, &theirs);
        let disagreement = shift.as_ref().and_then(Shift::disagreement);
        let shifted = shift.is_some_and(|shift| shift.is_one_walk(&samples));
        let distance = median(&mut distances)?;
        Some(Proximity { near, distance, disagreement, shifted })
    }
}

/// How one track is shifted against another.
struct Shift {
    lag: f64,
    /// Metres east and north.
    mean: (f64, f64),
    /// Root mean square of the distances that are left, metres.
    left: f64,
}

impl Shift {
    /// That of these samples against a track at another clock; `None` where too few of them match.
    fn at(samples: &[(f64, f64, f64)], theirs: &TrackLine, lag: f64) -> Option<Self> {
        let apart = theirs.apart(samples, lag);
        if apart.len() < FEWEST_TO_SHIFT || 2 * apart.len() < samples.len() {
            return None;
        }
        let east = median(&mut apart.iter().map(|(x, _)| *x).collect::<Vec<_>>())?;
        let north = median(&mut apart.iter().map(|(_, y)| *y).collect::<Vec<_>>())?;
        let mut squares: Vec<f64> =
            apart.iter().map(|(x, y)| (x - east).powi(2) + (y - north).powi(2)).collect();
        squares.sort_by(f64::total_cmp);
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share")]
        let kept = ((MATCHED * squares.len() as f64) as usize).max(1);
        let left = (squares[..kept].iter().sum::<f64>() / kept as f64).sqrt();
        Some(Self { lag, mean: (east, north), left })
    }

    /// The one that leaves least; at another clock only where this is certain.
    fn best(samples: &[(f64, f64, f64)], theirs: &TrackLine) -> Option<Self> {
        let now = Self::at(samples, theirs, 0.0);
        let steps = |from: f64, to: f64, step: f64| {
            std::iter::successors(Some(from), move |at| Some(at + step))
                .take_while(move |at| *at <= to)
        };
        let least = |lags: &mut dyn Iterator<Item = f64>| {
            let all = lags.filter_map(|lag| Self::at(samples, theirs, lag));
            all.min_by(|a, b| a.left.total_cmp(&b.left))
        };
        let coarse = least(&mut steps(-FARTHEST, FARTHEST, 30.0))?;
        let fine = least(&mut steps(coarse.lag - 30.0, coarse.lag + 30.0, 2.0)).unwrap_or(coarse);
        let Some(now) = now else { return Some(fine) };
        let seconds = samples.len() as f64 * STEP;
        let log = 2.0 * seconds / LASTS * (now.left / fine.left.max(1.0)).ln();
        Some(if log > CERTAIN { fine } else { now })
    }

    fn disagreement(&self) -> Option<Disagreement> {
        let distance = self.mean.0.hypot(self.mean.1);
        let differs = distance > DISAGREE.0 || self.lag.abs() >= DISAGREE.1;
        differs.then_some(Disagreement { distance, lag: self.lag })
    }

    fn is_one_walk(&self, samples: &[(f64, f64, f64)]) -> bool {
        let mean = |of: fn(&(f64, f64, f64)) -> f64| {
            samples.iter().map(of).sum::<f64>() / samples.len().max(1) as f64
        };
        let (east, north) = (mean(|s| s.1), mean(|s| s.2));
        let square = samples.iter().map(|s| (s.1 - east).powi(2) + (s.2 - north).powi(2));
        let extent = (square.sum::<f64>() / samples.len().max(1) as f64).sqrt();
        self.mean.0.hypot(self.mean.1) < MOST_BIASED && self.left < MATCH.min(OF_EXTENT * extent)
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

    /// Its fixes, no two nearer in time than so many seconds.
    fn samples(&self, step: f64) -> Vec<(f64, f64, f64)> {
        let mut last = f64::NEG_INFINITY;
        let mut samples = self.0.clone();
        samples.retain(|fix| {
            let kept = fix.0 - last >= step;
            last = if kept { fix.0 } else { last };
            kept
        });
        samples
    }

    /// How far it lies from samples, metres east and north, by a clock that is so far ahead; of those at whose
    /// times it was recording.
    fn apart(&self, samples: &[(f64, f64, f64)], ahead: f64) -> Vec<(f64, f64)> {
        let apart = |&(time, east, north): &(f64, f64, f64)| {
            let there = self.at(time + ahead)?;
            Some((there.0 - east, there.1 - north))
        };
        samples.iter().filter_map(apart).collect()
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
