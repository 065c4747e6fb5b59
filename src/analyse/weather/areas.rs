//! Groups outings into areas that share their weather. Layer: `analyse`.

use crate::analyse::spatial_index::Ecef;
use crate::units::{LatLon, Metres};

/// Outings whose place is within this of the first of an area share its weather (project choice).
const TOGETHER: Metres = Metres(10_000.0);

/// An outing as far as its weather is concerned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sought {
    /// Where it was.
    pub at: LatLon,
    /// How high.
    pub elevation: Option<Metres>,
}

/// An area.
#[derive(Clone, Debug, PartialEq)]
pub struct Area {
    /// Its middle.
    pub at: LatLon,
    /// Its median elevation, where one is known.
    pub elevation: Option<Metres>,
    /// The outings in it, by their place in the list.
    pub outings: Vec<usize>,
}

/// The areas of these outings, that with most outings first.
#[must_use]
pub fn areas(outings: &[Option<Sought>]) -> Vec<Area> {
    let mut groups: Vec<(Ecef, Vec<usize>)> = Vec::new();
    for (index, outing) in outings.iter().enumerate() {
        let Some(outing) = outing else { continue };
        let spot = Ecef::of(outing.at);
        let near = groups.iter_mut().find(|(first, _)| first.distance(spot).0 <= TOGETHER.0);
        match near {
            Some((_, members)) => members.push(index),
            None => groups.push((spot, vec![index])),
        }
    }
    groups.sort_by_key(|(_, members)| std::cmp::Reverse(members.len()));
    groups.into_iter().filter_map(|(_, members)| area(outings, members)).collect()
}

fn area(outings: &[Option<Sought>], members: Vec<usize>) -> Option<Area> {
    let of = || members.iter().filter_map(|index| outings[*index]);
    let mut heights: Vec<f64> =
        of().filter_map(|outing| outing.elevation.map(|metres| metres.0)).collect();
    heights.sort_unstable_by(f64::total_cmp);
    // the outing in the middle of a list by latitude: no mean across the 180th meridian
    let mut places: Vec<LatLon> = of().map(|outing| outing.at).collect();
    places.sort_by(|a, b| a.latitude().total_cmp(&b.latitude()));
    Some(Area {
        at: *places.get(places.len() / 2)?,
        elevation: heights.get(heights.len() / 2).copied().map(Metres),
        outings: members,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn near_outings_share_an_area_and_far_ones_do_not() {
        let at = |latitude, height| {
            let at = LatLon::new(latitude, 179.999).unwrap();
            Some(Sought { at, elevation: Some(Metres(height)) })
        };
        let beyond = LatLon::new(-42.0, -179.999).unwrap();
        let outings = [
            at(-42.0, 100.0),
            None,
            Some(Sought { at: beyond, elevation: None }),
            at(-42.02, 300.0),
            at(-43.0, 5.0),
        ];
        let areas = areas(&outings);
        assert_eq!(areas.len(), 2);
        assert_eq!(areas[0].outings, [0, 2, 3]);
        assert_eq!(areas[0].elevation, Some(Metres(300.0)));
        assert_eq!(areas[1].outings, [4]);
    }
}
