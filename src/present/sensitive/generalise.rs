//! How is one find made coarse, and what is taken back of it? Layer: `present`.

use super::levels::Level;
use super::{Group, FindSummary};
use crate::earth::geodesic;
use crate::earth::local::Plane;
use crate::model::{Combination, Field, Generalised, KeptFind, Located, Record, Sensitivity};
use crate::units::{LatLon, Metres, Radius95};

/// For each find the point that is put on the grid: the middle of its site, so that one site never lies
/// in two cells, whose border would tell where it is; its own where it has no site.
pub(super) fn middles(finds: &[FindSummary], groups: &[Group]) -> Vec<Option<LatLon>> {
    let own = |find: &FindSummary| find.at;
    let mut middles: Vec<Option<LatLon>> = finds.iter().map(own).collect();
    for group in groups {
        let places: Vec<LatLon> =
            group.finds.iter().filter_map(|find| finds.get(*find).and_then(own)).collect();
        let Some(middle) = middle(&places) else { continue };
        for find in &group.finds {
            if let Some(slot) = middles.get_mut(*find).filter(|slot| slot.is_some()) {
                *slot = Some(middle);
            }
        }
    }
    middles
}

fn middle(places: &[LatLon]) -> Option<LatLon> {
    let plane = Plane::about(*places.first()?);
    let count = places.len() as f64;
    let (east, north) = places
        .iter()
        .map(|place| plane.to_plane(*place))
        .fold((0.0, 0.0), |sum, at| (sum.0 + at.0, sum.1 + at.1));
    Some(plane.from_plane(east / count, north / count))
}

/// The find as others may see it.
pub(super) fn find(find: &KeptFind, level: Level, middle: Option<LatLon>) -> KeptFind {
    let mut shown = find.clone();
    let place = find.place.as_ref().zip(middle);
    shown.place = place.and_then(|(place, middle)| coarse(place, middle, level.step));
    shown.why_unlocated = shown.place.is_none().then(|| "coordinates are not given".to_owned());
    shown.when = None;
    shown.anchors.clear();
    shown.conflicts.clear();
    let mut withheld = vec!["exact coordinates", "time of day", "elevation", "notes"];
    withhold_words(&mut shown.record);
    if level.decided || level.step > Sensitivity::Low {
        withheld.extend(["place name", "photographs"]);
        shown.record.place = None;
        shown.record.photos.clear();
        shown.photos.clear();
    }
    shown.generalised = Some(Generalised { level: level.step, decided: level.decided, withheld });
    shown
}

/// Free words may say anything about the place; only fields about the fungus itself stay.
fn withhold_words(record: &mut Record) {
    record.time = None;
    record.waypoint = None;
    record.coordinates = None;
    record.elevation = None;
    record.line = 0;
    record.fields.retain(|field, _| !matches!(field, Field::Notes | Field::Other(_)));
}

/// A position on the grid of a step, with a radius that holds the true one; `None` where no coordinates are
/// given.
pub(super) fn coarse(place: &Located, middle: LatLon, step: Sensitivity) -> Option<Located> {
    let grid = step.grid()?;
    let on_grid = |degrees: f64| on_grid(degrees, step);
    let at = LatLon::clamped(on_grid(middle.latitude())?, on_grid(middle.longitude())?);
    let beside = geodesic::distance(middle, place.at);
    let reach = far_corner(at, grid) + beside + place.radius.metres();
    Some(Located {
        at,
        radius: Radius95::new(two_figures_up(reach))?,
        parts: Vec::new(),
        height: None,
        combination: Combination::Single,
    })
}

/// The nearest line of the grid, without the last figures that halves and thirds of the machine leave.
fn on_grid(degrees: f64, step: Sensitivity) -> Option<f64> {
    let decimals = usize::from(step.decimals()?);
    format!("{degrees:.decimals$}").parse::<f64>().ok().map(|rounded| rounded + 0.0)
}

/// From the middle of a cell to its farthest corner.
fn far_corner(at: LatLon, grid: f64) -> Metres {
    let half = grid / 2.0;
    [(-half, -half), (-half, half), (half, -half), (half, half)]
        .into_iter()
        .map(|(north, east)| LatLon::clamped(at.latitude() + north, at.longitude() + east))
        .map(|corner| geodesic::distance(at, corner))
        .fold(Metres(0.0), Metres::max)
}

/// Two figures say enough of so coarse a radius, and do not tell one find from another.
fn two_figures_up(length: Metres) -> Metres {
    let step = 10_f64.powf(length.0.max(1.0).log10().floor() - 1.0);
    Metres((length.0 / step).ceil() * step)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Chapman & Wieczorek 2020, Georeferencing Best Practices, table of the uncertainty of written
    /// coordinates at the equator: 15,691, 1,570 and 157 m for the full diagonal of a cell; from its
    /// middle to a corner it is half of that.
    #[test]
    fn the_corner_of_a_cell_is_half_the_published_diagonal_away() {
        let equator = LatLon::new(0.0, 0.0).unwrap();
        for (grid, diagonal) in [(0.1, 15_691.0), (0.01, 1_570.0), (0.001, 157.0)] {
            let corner = far_corner(equator, grid).0;
            assert!((corner * 2.0 - diagonal).abs() < 1.0, "{grid}: {corner}");
        }
    }

    #[test]
    fn the_grid_is_decimal_and_has_no_minus_nought() {
        assert_eq!(on_grid(-42.618_37, Sensitivity::Medium), Some(-42.62));
        assert_eq!(on_grid(146.096_5, Sensitivity::High), Some(146.1));
        assert_eq!(on_grid(-0.000_1, Sensitivity::Low).map(f64::to_bits), Some(0.0_f64.to_bits()));
        assert_eq!(on_grid(1.0, Sensitivity::Extreme), None);
    }

    #[test]
    fn radii_are_rounded_up_to_two_figures() {
        assert_eq!(two_figures_up(Metres(7_845.2)), Metres(7_900.0));
        assert_eq!(two_figures_up(Metres(86.1)), Metres(87.0));
        assert_eq!(two_figures_up(Metres(780.0)), Metres(780.0));
    }
}
