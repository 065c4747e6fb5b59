//! A day's way as the analyses see it: pieces between neighbouring points, none across a gap.
//! Layer: `analyse`.

use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use super::ground::Spot;
use crate::model::{Gait, TrackPoint};
use crate::units::{LatLon, Metres, Seconds};

/// The way of one outing.
#[derive(Clone, Debug)]
pub struct Walk {
    /// Which outing.
    pub outing: Uuid,
    /// The local date on which it began.
    pub date: Date,
    /// In order of time.
    pub points: Vec<TrackPoint>,
}

/// The way from one point to the next.
#[derive(Clone, Copy, Debug)]
pub struct Piece<'a> {
    /// Where it begins.
    pub from: &'a TrackPoint,
    /// Where it ends.
    pub to: &'a TrackPoint,
}

impl Walk {
    /// The pieces between neighbouring points, without those across a gap.
    pub fn pieces(&self) -> impl Iterator<Item = Piece<'_>> {
        self.points
            .windows(2)
            .filter(|ends| !ends[0].gap_after && ends[1].time >= ends[0].time)
            .map(|ends| Piece { from: &ends[0], to: &ends[1] })
    }
}

impl Piece<'_> {
    /// How long it took.
    #[must_use]
    pub fn time(&self) -> Seconds {
        Seconds::between(self.from.time, self.to.time)
    }

    /// How long it is.
    #[must_use]
    pub fn length(&self) -> Metres {
        Spot::of(self.from.at).distance(Spot::of(self.to.at))
    }

    /// What the collector was doing.
    #[must_use]
    pub fn gait(&self) -> Gait {
        self.from.gait
    }

    /// Whether the collector looked for something there, rather than walking on.
    #[must_use]
    pub fn is_search(&self) -> bool {
        self.gait() != Gait::Walk
    }

    /// The point a share of the way along it.
    #[must_use]
    pub fn at(&self, share: f64) -> LatLon {
        let (a, b) = (self.from.at, self.to.at);
        let turn = (b.longitude() - a.longitude() + 540.0).rem_euclid(360.0) - 180.0;
        LatLon::clamped(
            a.latitude() + share * (b.latitude() - a.latitude()),
            a.longitude() + share * turn,
        )
    }

    /// The instant a share of the way along it.
    #[must_use]
    pub fn instant(&self, share: f64) -> Timestamp {
        Seconds(self.time().0 * share).after(self.from.time)
    }
}
