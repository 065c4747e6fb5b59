//! Groups places into study areas that belong on one map, by single linkage within walking
//! distance. Layer: `analyse`.

use std::collections::BTreeMap;

use crate::earth::geodesic;
use crate::units::{LatLon, Metres};

/// Places nearer to each other than this are in one study area.
pub const WALK: Metres = Metres(3_000.0);

/// The study areas as indices of their places, largest first.
///
/// One map for finds of two countries would show neither; this divides them first.
///
/// # Accuracy
/// Places are binned by the hundredth of a degree, so the distance limit [`WALK`] between areas
/// holds within about a kilometre.
#[must_use]
pub fn regions(places: &[LatLon]) -> Vec<Vec<usize>> {
    let mut cells: BTreeMap<(i32, i32), Vec<usize>> = BTreeMap::new();
    for (index, place) in places.iter().enumerate() {
        cells.entry(cell(*place)).or_default().push(index);
    }
    let members: Vec<Vec<usize>> = cells.into_values().collect();
    let middles: Vec<LatLon> = members.iter().map(|cell| places[cell[0]]).collect();
    let mut of: Vec<usize> = (0..members.len()).collect();
    // in order of latitude: places farther north than the limit are too far at any longitude
    let degrees = WALK.0 / 110_000.0;
    for (first, middle) in middles.iter().enumerate() {
        for (second, other) in middles.iter().enumerate().skip(first + 1) {
            if other.latitude() - middle.latitude() > degrees + 0.01 {
                break;
            }
            if geodesic::distance(*middle, *other) < WALK {
                let (a, b) = (root(&of, first), root(&of, second));
                of[a.max(b)] = a.min(b);
            }
        }
    }
    let mut grounds: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (cell, finds) in members.into_iter().enumerate() {
        grounds.entry(root(&of, cell)).or_default().extend(finds);
    }
    let mut grounds: Vec<Vec<usize>> = grounds.into_values().collect();
    for ground in &mut grounds {
        ground.sort_unstable();
    }
    grounds.sort_by_key(|ground| (std::cmp::Reverse(ground.len()), ground[0]));
    grounds
}

#[allow(clippy::cast_possible_truncation, reason = "degrees times a hundred")]
fn cell(place: LatLon) -> (i32, i32) {
    let hundredths = |degrees: f64| (degrees * 100.0).floor() as i32;
    (hundredths(place.latitude()), hundredths(place.longitude()))
}

fn root(of: &[usize], mut place: usize) -> usize {
    while of[place] != place {
        place = of[place];
    }
    place
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(latitude: f64, longitude: f64) -> LatLon {
        LatLon::new(latitude, longitude).unwrap()
    }

    #[test]
    fn two_forests_are_two_areas_and_a_chain_is_one() {
        let chain = (0..20).map(|step| at(-42.0 + 0.02 * f64::from(step), 146.0));
        let far = [at(-41.0, 147.0), at(-41.001, 147.001)];
        let places: Vec<LatLon> = far.into_iter().chain(chain).collect();
        let grounds = regions(&places);
        assert_eq!(grounds.len(), 2);
        assert_eq!(grounds[0], (2..22).collect::<Vec<usize>>());
        assert_eq!(grounds[1], [0, 1]);
    }

    #[test]
    fn area_continues_across_the_date_line_and_the_pole() {
        assert_eq!(regions(&[at(-16.8, 179.995), at(-16.8, -179.995)]).len(), 1);
        assert_eq!(regions(&[at(89.999, 0.0), at(89.999, 180.0), at(89.999, -90.0)]).len(), 1);
        assert!(regions(&[]).is_empty());
    }
}
