//! The segments of a day's track as the analyses use them: straight pieces between neighbouring
//! points, none across a gap. Layer: `analyse`.

use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use super::effort::manner::{Manner, Weights};
use super::spatial_index::Ecef;
use crate::model::{Activity, TrackPoint};
use crate::units::{LatLon, Metres, Seconds};

/// The track of one outing.
///
/// Its points may be a thinned track: then `lengths` holds the lengths along the full one, so that effort is
/// unchanged.
#[derive(Clone, Debug)]
pub struct Walk {
    /// Which outing.
    pub outing: Uuid,
    /// The local date on which it began.
    pub date: Date,
    /// In order of time.
    pub points: Vec<TrackPoint>,
    /// The length of the track from each point to the next; zero for the last.
    pub lengths: Vec<Metres>,
    /// What the track from each point to the next is to the search; empty where it was not judged.
    pub manners: Vec<Manner>,
    /// How much each manner counts.
    pub weights: Weights,
}

/// The segment from one point to the next.
///
/// Every analysis goes along these: position, height and time change linearly over one.
#[derive(Clone, Copy, Debug)]
pub struct Piece<'a> {
    /// Where it begins.
    pub from: &'a TrackPoint,
    /// Where it ends.
    pub to: &'a TrackPoint,
    /// How long it is: the straight line, or more where points between were left out.
    pub length: Metres,
    /// What it is to the search; `None` where the track was not judged.
    pub manner: Option<Manner>,
    /// How much each manner counts.
    pub weights: Weights,
}

impl Walk {
    /// A track that was not judged.
    #[must_use]
    pub fn new(outing: Uuid, date: Date, points: Vec<TrackPoint>, lengths: Vec<Metres>) -> Self {
        let (manners, weights) = (Vec::new(), Weights::default());
        Self { outing, date, points, lengths, manners, weights }
    }

    /// The walk through these points, straight from each to the next.
    ///
    /// Lengths are on the ellipsoid, without relief.
    #[must_use]
    pub fn straight(outing: Uuid, date: Date, points: Vec<TrackPoint>) -> Self {
        let spots: Vec<Ecef> = points.iter().map(|point| Ecef::of(point.at)).collect();
        let ends = spots.windows(2).map(|ends| ends[0].distance(ends[1]));
        let lengths = ends.chain(points.last().map(|_| Metres(0.0))).collect();
        Self::new(outing, date, points, lengths)
    }

    /// The piece that begins at a point; `None` at a gap, at the end, and where time runs
    /// backwards.
    #[must_use]
    pub fn piece(&self, from: usize) -> Option<Piece<'_>> {
        let (start, end) = (self.points.get(from)?, self.points.get(from + 1)?);
        let length = self.lengths.get(from).copied()?;
        (!start.gap_after && end.time >= start.time).then_some(Piece {
            from: start,
            to: end,
            length,
            manner: self.manners.get(from).copied(),
            weights: self.weights,
        })
    }

    /// The pieces between neighbouring points, without those across a gap.
    pub fn pieces(&self) -> impl Iterator<Item = Piece<'_>> {
        (0..self.points.len()).filter_map(|from| self.piece(from))
    }
}

impl Walk {
    /// The points of the walk with others between them, so that neighbours are no farther apart
    /// than this; none in gaps.
    #[must_use]
    pub fn filled(&self, apart: Metres) -> Vec<TrackPoint> {
        let mut filled = Vec::with_capacity(self.points.len());
        for (index, point) in self.points.iter().enumerate() {
            filled.push(*point);
            let Some(piece) = self.piece(index) else { continue };
            let count = (piece.length.0 / apart.0.max(0.1)).ceil().min(1e4);
            let mut part = 1.0;
            while part < count {
                let share = part / count;
                filled.push(TrackPoint {
                    time: piece.instant(share),
                    at: piece.at(share),
                    ..*point
                });
                part += 1.0;
            }
        }
        filled
    }
}

impl Piece<'_> {
    /// How long it took.
    #[must_use]
    pub fn time(&self) -> Seconds {
        Seconds::between(self.from.time, self.to.time)
    }

    /// What the collector was doing.
    #[must_use]
    pub fn activity(&self) -> Activity {
        self.from.activity
    }

    /// Whether the ground there was searched. A track that was not judged is searched except where
    /// the collector walked.
    #[must_use]
    pub fn is_search(&self) -> bool {
        match self.manner {
            Some(manner) => self.weights.searches(manner),
            None => self.activity() != Activity::Walking,
        }
    }

    /// The time that counts as search: time at finds and rests none, walking by its weight.
    #[must_use]
    pub fn searched(&self) -> Seconds {
        Seconds(self.time().0 * self.counted(super::effort::manner::Weights::of_hour))
    }

    /// The length that counts as searched.
    #[must_use]
    pub fn searched_length(&self) -> Metres {
        self.length * self.length_weight()
    }

    /// How much its length counts as searched, 0 to 1.
    #[must_use]
    pub fn length_weight(&self) -> f64 {
        self.counted(super::effort::manner::Weights::of_km)
    }

    fn counted(&self, weight: fn(&Weights, Manner) -> f64) -> f64 {
        match self.manner {
            Some(manner) => weight(&self.weights, manner),
            None => f64::from(u8::from(self.is_search())),
        }
    }

    /// The point at a share of its length.
    #[must_use]
    pub fn at(&self, share: f64) -> LatLon {
        let (a, b) = (self.from.at, self.to.at);
        let turn = (b.longitude() - a.longitude() + 540.0).rem_euclid(360.0) - 180.0;
        LatLon::clamped(
            a.latitude() + share * (b.latitude() - a.latitude()),
            a.longitude() + share * turn,
        )
    }

    /// The receiver's height at a share of its length, metres.
    #[must_use]
    pub fn height(&self, share: f64) -> Option<f64> {
        let from = self.from.height?.0.0;
        let to = self.to.height.map_or(from, |height| height.0.0);
        Some(from + share * (to - from))
    }

    /// The instant at a share of its length.
    #[must_use]
    pub fn instant(&self, share: f64) -> Timestamp {
        Seconds(self.time().0 * share).after(self.from.time)
    }
}
