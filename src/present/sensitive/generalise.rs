//! Generalises one find and withholds the fields that would reveal its place. Layer: `present`.

use super::cells::Placed;
use super::grid;
use super::levels::Level;
use super::texts::shown_without_locality;
use crate::earth::geodesic;
use crate::model::{Combination, Field, Generalised, GridCell, KeptFind, Located, Record};
use crate::units::{Metres, Radius95};

/// The generalised find.
pub(super) fn find(find: &KeptFind, level: Level, placed: Option<Placed>) -> KeptFind {
    let mut shown = find.clone();
    let cell = placed.and_then(|placed| placed.cell);
    shown.place = find.place.as_ref().zip(cell).and_then(|(place, cell)| in_cell(place, &cell));
    shown.why_unlocated = shown.place.is_none().then(|| "coordinates are withheld".to_owned());
    shown.when = None;
    shown.ground = None;
    shown.anchors.clear();
    shown.conflicts.clear();
    // they hold positions and free text
    shown.amended.clear();
    shown.as_imported = None;
    for named in &mut shown.determinations {
        named.method = None;
        named.remarks = None;
    }
    let mut withheld = vec!["exact coordinates", "time of day", "elevation", "notes"];
    withhold_words(&mut shown.record);
    let decided = level.rule.is_some();
    if shown_without_locality(Some(level)) {
        withheld.extend(["place name", "photographs"]);
        shown.record.place = None;
        shown.record.photos.clear();
        shown.photos.clear();
    }
    let cell = cell.filter(|_| shown.place.is_some());
    shown.generalised = Some(Generalised { level: level.step, decided, cell, withheld });
    shown
}

/// Free text may describe the place; only fields about the fungus are kept.
fn withhold_words(record: &mut Record) {
    record.time = None;
    record.waypoint = None;
    record.coordinates = None;
    record.elevation = None;
    record.line = 0;
    record.fields.retain(|field, _| !matches!(field, Field::Notes | Field::Other(_)));
}

/// A position at the centre of a cell, with a radius that contains the true one. Where the cell was determined by an
/// earlier output or by the other finds of the site, the true position may lie outside: the radius then reaches the
/// far corner of the cell in which that position would be published alone, so that it discloses no more than that
/// cell would.
pub(super) fn in_cell(place: &Located, cell: &GridCell) -> Option<Located> {
    let own = grid::cell_like(place.at, cell);
    let to_own = if own.at == cell.at { Metres(0.0) } else { geodesic::distance(cell.at, own.at) };
    let corner = grid::far_corner(cell).max(grid::far_corner(&own));
    let reach = to_own + corner + place.radius.metres();
    Some(Located {
        at: cell.at,
        radius: Radius95::new(two_figures_up(reach))?,
        parts: Vec::new(),
        height: None,
        combination: Combination::Single,
    })
}

/// Two digits are sufficient for a coarse radius and do not identify a find.
fn two_figures_up(length: Metres) -> Metres {
    let step = 10_f64.powf(length.0.max(1.0).log10().floor() - 1.0);
    Metres((length.0 / step).ceil() * step)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::Sensitivity;
    use crate::units::LatLon;

    #[test]
    fn the_radius_in_the_cell_of_a_site_does_not_follow_the_distance_to_the_find() {
        let at = |latitude: f64| LatLon::new(latitude, 20.0).unwrap();
        let cell = grid::cell(at(10.003), Sensitivity::Low).unwrap();
        let shown = |latitude: f64| {
            let place = Located {
                at: at(latitude),
                radius: Radius95::new(Metres(4.0)).unwrap(),
                parts: Vec::new(),
                height: None,
                combination: Combination::Single,
            };
            let shown = in_cell(&place, &cell).unwrap();
            assert!(geodesic::distance(shown.at, place.at) <= shown.radius.metres());
            shown.radius.metres().0
        };
        // all in the cell about 10.001
        let radii = [10.000_6, 10.000_9, 10.001_2, 10.001_4].map(shown);
        assert!(radii.iter().all(|radius| (radius - radii[0]).abs() < 1e-9), "{radii:?}");
        assert!(shown(10.003_1) < radii[0] && radii[0] < shown(10.000_1));
    }

    #[test]
    fn radii_are_rounded_up_to_two_figures() {
        assert_eq!(two_figures_up(Metres(7_845.2)), Metres(7_900.0));
        assert_eq!(two_figures_up(Metres(86.1)), Metres(87.0));
        assert_eq!(two_figures_up(Metres(780.0)), Metres(780.0));
    }
}
