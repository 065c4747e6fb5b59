//! Sums the time of one day by manner, before any weight. Layer: `analyse`.

use super::judge::judged;
use super::manner::Manner;
use super::paths::RegularPaths;
use crate::analyse::walk::Walk;
use crate::model::Day;
use crate::units::Seconds;

/// The time on the track of a day, without gaps.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct DayTime {
    /// Slow or to and fro, and short stops without a find.
    pub searching: Seconds,
    /// Walking; which of it follows a regular path shows only beside other days.
    pub walking: Seconds,
    /// At finds, from arrival to leaving.
    pub at_finds: Seconds,
    /// The rest of long stops without a find.
    pub resting: Seconds,
}

impl DayTime {
    /// The time of a day, judged as `trug effort` judges it.
    #[must_use]
    pub fn of(day: &Day) -> Self {
        let mut finds: Vec<_> =
            day.finds.iter().filter_map(|find| find.when.map(|(when, _)| when)).collect();
        finds.sort_unstable();
        let date = day.outing.dated().unwrap_or_default();
        let walk = Walk::straight(day.outing.id, date, day.track.clone());
        let mut time = Self::default();
        for piece in judged(walk, &finds, &RegularPaths::default()).walk.pieces() {
            let sum = match piece.manner {
                Some(Manner::Searching) | None => &mut time.searching,
                Some(Manner::Steady | Manner::Brisk | Manner::Path) => &mut time.walking,
                Some(Manner::Handling) => &mut time.at_finds,
                Some(Manner::Rest) => &mut time.resting,
            };
            *sum = *sum + piece.time();
        }
        time
    }
}
