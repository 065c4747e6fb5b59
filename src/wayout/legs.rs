//! Divides a route into legs that can be followed by compass, with bearing, distance, paces, climb
//! and time of each, and the landmark at its end. Layer: `wayout`.

use serde::Serialize;

use super::pace::{Duration, Piece, Surface, duration};
use crate::earth::elevation::Ground;
use crate::earth::{declination, geodesic};
use crate::model::{Landmark, RouteNote, Side};
use crate::units::{
    Declination, Degrees, LatLon, MagneticBearing, Metres, SeaLevelHeight, TrueBearing,
};

/// The spacing of elevations along a leg.
const SAMPLE: f64 = 30.0;

/// Properties of walker and terrain.
///
/// Without heights every leg is level, its times are those of level ground, and the route says so
/// ([`RouteNote::NoElevations`](crate::model::RouteNote::NoElevations)).
#[derive(Clone, Copy)]
pub struct Country<'a> {
    /// Heights, where tiles were given.
    pub ground: Option<&'a Ground>,
    /// The declination at the start.
    pub declination: Declination,
    /// Paces per hundred metres.
    pub paces: Paces,
    /// Ground steeper than this is flagged.
    pub steep: Degrees,
}

/// Paces for 100 m, each step counted.
///
/// # Examples
/// ```
/// use trug::units::Metres;
/// use trug::wayout::Paces;
///
/// assert_eq!(Paces::ACROSS_COUNTRY.over(Metres(350.0)), 518);
/// assert_eq!(Paces(120.0).distance(240.0), Metres(200.0));
/// ```
///
/// # References
/// US Army soldier's task 071-329-1006, Navigate from One Point on the Ground to Another Point
/// while Dismounted: 116 paces for 100 m on level ground, 148 across country (single steps).
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(transparent)]
pub struct Paces(pub f64);

impl Paces {
    /// Across country.
    pub const ACROSS_COUNTRY: Self = Self(148.0);
    /// On level ground.
    pub const LEVEL: Self = Self(116.0);

    /// Paces for a distance.
    #[must_use]
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in bounds")]
    pub fn over(self, distance: Metres) -> u32 {
        (distance.0 / 100.0 * self.0).round().clamp(0.0, 4e9) as u32
    }

    /// The distance of so many paces.
    #[must_use]
    pub fn distance(self, paces: f64) -> Metres {
        Metres(paces / self.0 * 100.0)
    }
}

/// One straight leg.
///
/// Its bearings hold at its beginning, with the declination there: near a magnetic pole one declination for the
/// whole route is wrong after a kilometre.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Leg {
    /// Its beginning.
    pub from: LatLon,
    /// Its end.
    pub to: LatLon,
    /// Its length.
    pub distance: Metres,
    /// The true bearing.
    pub true_bearing: TrueBearing,
    /// The magnetic bearing.
    pub magnetic_bearing: MagneticBearing,
    /// In paces.
    pub paces: u32,
    /// Up.
    pub climb: Metres,
    /// Down.
    pub descent: Metres,
    /// Its time.
    pub duration: Duration,
    /// The surface.
    #[serde(rename = "footing")]
    pub surface: Surface,
    /// The steepest ground that it crosses, where that is flagged.
    pub steep: Option<Degrees>,
    /// What to expect at its end, in the order in which it is reported.
    pub expect: Vec<Landmark>,
}

/// The kind of route.
///
/// The first three rest on what somebody walked or on the direct line; mapped paths may be closed or gone, and a
/// route across open ground rests on elevations alone. Their weights in the ranking are project choices
/// (`docs/way-out.md`, "Routes").
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum RouteKind {
    /// The straight line.
    Direct,
    /// The day's track walked backwards without its loops.
    Retrace,
    /// Along tracks of all days.
    KnownPaths,
    /// Along paths of base maps that no outing walked, and tracks of all days.
    MappedPaths,
    /// Across open ground by its heights.
    Terrain,
}

/// A route as legs.
///
/// Distances are along the legs, on the map: what the straight pieces add up to, not what the feet will walk around
/// every log.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Route {
    /// Which.
    pub kind: RouteKind,
    /// Its legs in order.
    pub legs: Vec<Leg>,
    /// Their length.
    pub distance: Metres,
    /// Up; `None` where no heights are known.
    pub climb: Option<Metres>,
    /// Down.
    pub descent: Option<Metres>,
    /// Its walking time by two rules.
    pub duration: Duration,
    /// Whether it crosses a gap in the track.
    pub crosses_gap: bool,
    /// Whether it crosses a closed area.
    pub crosses_closed: bool,
    /// Notes.
    pub notes: Vec<RouteNote>,
}

impl Route {
    /// The route through these corners. `surface` gives the surface of the leg that begins at a
    /// corner, `expect` the landmarks at its end.
    ///
    /// Each corner ends a leg. Heights are sampled every 30 m along it where tiles were given; a void is filled
    /// linearly between its ends, so that it does not become a cliff.
    pub fn through(
        kind: RouteKind,
        corners: &[LatLon],
        country: &Country<'_>,
        surface: impl Fn(usize) -> Surface,
        expect: impl Fn(usize) -> Vec<Landmark>,
    ) -> Self {
        let legs: Vec<Leg> = corners
            .windows(2)
            .enumerate()
            .map(|(index, ends)| Leg::between(ends[0], ends[1], country, surface(index)))
            .collect();
        let expects: Vec<Vec<Landmark>> = (0..legs.len())
            .map(|index| expect(index + 1).into_iter().chain(turn_at_end(&legs, index)).collect())
            .collect();
        Self::of(
            kind,
            legs.into_iter().zip(expects).map(|(leg, expect)| Leg { expect, ..leg }),
            country,
        )
    }

    /// Sums the legs. Climb and descent are stated only where the heights at both ends of every leg are known.
    fn of(kind: RouteKind, legs: impl Iterator<Item = Leg>, country: &Country<'_>) -> Self {
        let legs: Vec<Leg> = legs.collect();
        let sum = |part: fn(&Leg) -> Metres| legs.iter().map(part).sum::<Metres>();
        let known = country.ground.is_some_and(|ground| {
            legs.iter()
                .all(|leg| ground.height(leg.from).is_some() && ground.height(leg.to).is_some())
        });
        let time = legs.iter().fold(Duration::default(), |sum, leg| Duration {
            tobler: sum.tobler + leg.duration.tobler,
            naismith_langmuir: sum.naismith_langmuir + leg.duration.naismith_langmuir,
        });
        let mut notes = Vec::new();
        if let Some(steepest) =
            legs.iter().filter_map(|leg| leg.steep).max_by(|a, b| a.0.total_cmp(&b.0))
        {
            notes.push(RouteNote::SteepSlopes { steepest });
        }
        if !known {
            notes.push(RouteNote::NoElevations);
        }
        Self {
            kind,
            distance: sum(|leg| leg.distance),
            climb: known.then(|| sum(|leg| leg.climb)),
            descent: known.then(|| sum(|leg| leg.descent)),
            duration: time,
            crosses_gap: false,
            crosses_closed: false,
            notes,
            legs,
        }
    }
}

impl Leg {
    /// The leg between two places, flagged as steep by its steepest piece of 30 m, not by its mean slope.
    fn between(from: LatLon, to: LatLon, country: &Country<'_>, surface: Surface) -> Self {
        let (distance, true_bearing) = geodesic::leg(from, to);
        let pieces = pieces(from, to, distance, country.ground, surface);
        let rise =
            |keep: fn(f64) -> f64| Metres(pieces.iter().map(|piece| keep(piece.rise.0)).sum());
        let steepest = pieces
            .iter()
            .filter(|piece| piece.length.0 > 1.0)
            .map(|piece| piece.rise.0.abs().atan2(piece.length.0).to_degrees())
            .fold(0.0, f64::max);
        Self {
            from,
            to,
            distance,
            true_bearing,
            magnetic_bearing: declination::nearby(&country.declination, from)
                .to_magnetic(true_bearing),
            paces: country.paces.over(distance),
            climb: rise(|rise| rise.max(0.0)),
            descent: rise(|rise| (-rise).max(0.0)),
            duration: duration(&pieces),
            surface,
            steep: (steepest > country.steep.0).then_some(Degrees(steepest)),
            expect: Vec::new(),
        }
    }
}

/// The leg in pieces whose heights are known, or as one level piece.
fn pieces(
    from: LatLon,
    to: LatLon,
    distance: Metres,
    ground: Option<&Ground>,
    surface: Surface,
) -> Vec<Piece> {
    let count = (distance.0 / SAMPLE).ceil().clamp(1.0, 10_000.0);
    let height = |share: f64| {
        ground?.height(geodesic::interpolate(from, to, share)).map(|SeaLevelHeight(height)| height)
    };
    let ends: Vec<f64> = std::iter::successors(Some(0.0), |step| Some(step + 1.0))
        .take_while(|step| *step <= count)
        .collect();
    let heights = filled(ends.iter().map(|step| height(step / count)).collect());
    heights
        .windows(2)
        .map(|ends| Piece {
            length: distance / count,
            rise: match (ends[0], ends[1]) {
                (Some(before), Some(here)) => here - before,
                _ => Metres(0.0),
            },
            surface,
        })
        .collect()
}

/// Elevations with voids filled by linear interpolation, so that a void does not become a cliff at
/// its end.
fn filled(mut heights: Vec<Option<Metres>>) -> Vec<Option<Metres>> {
    let mut known: Option<(usize, Metres)> = None;
    for index in 0..heights.len() {
        let Some(here) = heights[index] else { continue };
        if let Some((before, height)) = known {
            let steps = (index - before) as f64;
            for (step, hidden) in heights[before + 1..index].iter_mut().enumerate() {
                *hidden = Some(height + (here - height) * ((step + 1) as f64 / steps));
            }
        }
        known = Some((index, here));
    }
    heights
}

fn turn_at_end(legs: &[Leg], index: usize) -> Option<Landmark> {
    let turn = legs[index].true_bearing.turn_to(legs.get(index + 1)?.true_bearing);
    let side = Side::of_turn(turn);
    Some(match turn.0.abs() {
        slight if slight < 20.0 => Landmark::KeepOn,
        sharp if sharp > 135.0 => Landmark::TurnBack { side },
        size if size > 60.0 => Landmark::Turn { side },
        _ => Landmark::Bear { side },
    })
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;
    use crate::units::MagneticModel;

    pub(crate) fn country() -> Country<'static> {
        Country {
            ground: None,
            declination: Declination {
                east: Degrees(14.0),
                uncertainty: Degrees(0.4),
                model: MagneticModel::Stated,
                date: jiff::civil::date(2026, 5, 1),
                place: LatLon::new(-42.0, 146.0).unwrap(),
            },
            paces: Paces::ACROSS_COUNTRY,
            steep: Degrees(30.0),
        }
    }

    #[test]
    fn legs_are_reported_with_their_turns() {
        let start = LatLon::new(-42.0, 146.0).unwrap();
        let north = geodesic::destination(start, TrueBearing::new(Degrees(0.0)), Metres(200.0));
        let east = geodesic::destination(north, TrueBearing::new(Degrees(90.0)), Metres(100.0));
        let gate = Landmark::Goal { name: Some("the gate".to_owned()) };
        let route = Route::through(
            RouteKind::Retrace,
            &[start, north, east],
            &country(),
            |_| Surface::OffPath,
            |corner| if corner == 2 { vec![gate.clone()] } else { Vec::new() },
        );
        assert!((route.distance.0 - 300.0).abs() < 1e-6);
        assert_eq!(route.legs[0].magnetic_bearing.to_string(), "346\u{b0}M");
        assert_eq!(route.legs[0].paces, 296);
        assert_eq!(route.legs[0].expect, [Landmark::Turn { side: Side::Right }]);
        assert_eq!(route.legs[1].expect, [gate]);
        assert_eq!(route.climb, None);
    }

    #[test]
    fn void_is_not_a_cliff() {
        let metres = |heights: &[f64]| -> Vec<Option<Metres>> {
            heights.iter().map(|height| height.is_finite().then_some(Metres(*height))).collect()
        };
        let void = f64::NAN;
        assert_eq!(
            filled(metres(&[void, 10.0, void, void, 40.0, void])),
            metres(&[void, 10.0, 20.0, 30.0, 40.0, void])
        );
        assert_eq!(filled(metres(&[void, void])), [None, None]);
    }

    #[test]
    fn paces_are_those_of_the_handbook() {
        assert_eq!(Paces::LEVEL.over(Metres(100.0)), 116);
        assert!((Paces::ACROSS_COUNTRY.distance(148.0).0 - 100.0).abs() < 1e-9);
    }
}
