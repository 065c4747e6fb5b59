//! Computes walking time by Tobler's function of slope and by Naismith's rule with Langmuir's
//! corrections; both are reported. Weather, load and injury are not modelled. Layer: `wayout`.
//!
//! The two rules come from different walkers and terrain; planning takes the longer one ([`Duration::careful`]).
//! Neither knows scrub and deadfall.

use serde::{Deserialize, Serialize};

use crate::units::{Metres, MetresPerSecond, Seconds};

/// The surface.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Surface {
    /// A path, or a line walked often.
    Path,
    /// Forest floor, scrub, moor.
    OffPath,
}

/// Tobler's fastest walk, on a path that falls by a twentieth, metres per second.
pub const FASTEST: MetresPerSecond = MetresPerSecond(6.0 / 3.6);
/// Tobler's factor off the path.
const OFF_PATH: f64 = 0.6;

/// A piece of a route: its horizontal length and its rise, negative downhill.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// On the map.
    pub length: Metres,
    /// From its beginning to its end; zero where no height is known.
    pub rise: Metres,
    /// The surface.
    pub surface: Surface,
}

/// The walking time of a route by two rules.
///
/// The two are summed over the pieces of a route, so that a climb and a descent do not cancel.
///
/// # Accuracy
/// The implementation agrees with Tobler's values to 0.01 km/h, and with the worked cases of Naismith and Langmuir
/// as printed (`tests/reference`). How well the rules predict a certain walker is another question that nothing
/// here answers.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Duration {
    /// Tobler's function.
    pub tobler: Seconds,
    /// Naismith's rule with Langmuir's corrections.
    pub naismith_langmuir: Seconds,
}

impl Duration {
    /// The longer of the two, for planning.
    #[must_use]
    pub fn careful(self) -> Seconds {
        if self.tobler.0 > self.naismith_langmuir.0 { self.tobler } else { self.naismith_langmuir }
    }
}

/// The horizontal speed at this slope (rise over run).
///
/// Fastest at a slope of -0.05 and symmetric about it; always above zero.
///
/// # Examples
/// ```
/// use trug::wayout::pace::{Surface, tobler};
/// assert!((tobler(0.0, Surface::Path).0 * 3.6 - 5.04).abs() < 0.005);
/// ```
///
/// # References
/// Tobler 1993, Three Presentations on Geographical Analysis and Modeling, NCGIA Technical Report
/// 93-1: 6 exp(-3.5 |slope + 0.05|) km/h, times 0.6 off the path.
#[must_use]
pub fn tobler(slope: f64, surface: Surface) -> MetresPerSecond {
    let factor = match surface {
        Surface::Path => 1.0,
        Surface::OffPath => OFF_PATH,
    };
    MetresPerSecond(FASTEST.0 * (-3.5 * (slope + 0.05).abs()).exp() * factor)
}

/// The time over these pieces.
///
/// # Examples
/// Langmuir's worked case: 8 km off the path, 400 m up and 300 m down at 8 degrees take two and a half hours.
///
/// ```
/// use trug::units::Metres;
/// use trug::wayout::pace::{Piece, Surface, duration};
///
/// let piece = |length, rise| Piece { length: Metres(length), rise: Metres(rise), surface: Surface::OffPath };
/// let run = 300.0 / 8_f64.to_radians().tan();
/// let time = duration(&[piece(8_000.0 - run, 400.0), piece(run, -300.0)]);
/// assert!((time.naismith_langmuir.0 / 3_600.0 - 2.5).abs() < 0.001);
/// assert!(time.careful().0 >= time.naismith_langmuir.0);
/// ```
#[must_use]
pub fn duration(pieces: &[Piece]) -> Duration {
    pieces.iter().fold(Duration::default(), |sum, piece| Duration {
        tobler: sum.tobler + by_tobler(*piece),
        naismith_langmuir: sum.naismith_langmuir + by_naismith(*piece),
    })
}

fn by_tobler(piece: Piece) -> Seconds {
    if piece.length.0 <= 0.0 {
        return Seconds(0.0);
    }
    Seconds(piece.length.0 / tobler(piece.rise / piece.length, piece.surface).0)
}

/// Naismith: 5 km/h on a path and an hour for 600 m of climb. Langmuir: 4 km/h off the path, 10
/// minutes less for 300 m of descent at 5 to 12 degrees, 10 minutes more where it is steeper.
///
/// # References
/// Naismith 1892, Scottish Mountaineering Club Journal 2, 135; Langmuir 1984, Mountaincraft and
/// Leadership.
fn by_naismith(piece: Piece) -> Seconds {
    let level = match piece.surface {
        Surface::Path => 5_000.0,
        Surface::OffPath => 4_000.0,
    };
    let climb = piece.rise.0.max(0.0);
    let descent = (-piece.rise.0).max(0.0);
    let fall = descent.atan2(piece.length.0).to_degrees();
    let per_300 = if (5.0..=12.0).contains(&fall) {
        -600.0
    } else if fall > 12.0 {
        600.0
    } else {
        0.0
    };
    let seconds =
        piece.length.0 / level * 3_600.0 + climb / 600.0 * 3_600.0 + descent / 300.0 * per_300;
    Seconds(seconds.max(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(length: f64, rise: f64, surface: Surface) -> Piece {
        Piece { length: Metres(length), rise: Metres(rise), surface }
    }

    #[test]
    fn empty_route_takes_no_time() {
        assert_eq!(duration(&[]), Duration::default());
        assert_eq!(duration(&[piece(0.0, 5.0, Surface::Path)]).tobler, Seconds(0.0));
    }

    #[test]
    fn the_careful_time_is_the_longer() {
        let steep = duration(&[piece(1_000.0, -400.0, Surface::OffPath)]);
        assert!(
            steep.careful().0 >= steep.tobler.0 && steep.careful().0 >= steep.naismith_langmuir.0
        );
    }
}
