//! Generalises one find and withholds the fields that would reveal its place. Layer: `present`.

use super::cells::Placed;
use super::grid;
use super::levels::Level;
use crate::earth::geodesic;
use crate::model::{
    Combination, Field, Generalised, GridCell, KeptFind, Located, Record, Sensitivity,
};
use crate::units::{LatLon, Metres, Radius95};

/// The generalised find.
pub(super) fn find(find: &KeptFind, level: Level, placed: Option<Placed>) -> KeptFind {
    let mut shown = find.clone();
    let cell = placed.and_then(|placed| placed.cell);
    shown.place = find
        .place
        .as_ref()
        .zip(placed.zip(cell))
        .and_then(|(place, (placed, cell))| in_cell(place, placed.middle, &cell));
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
    if decided || level.step > Sensitivity::Low {
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

/// A position at the centre of a cell, with a radius that contains the true one. Where an earlier output
/// determined the cell, the point may lie outside: the radius then grows by multiples of the cell radius, so
/// that it does not reveal the distance.
pub(super) fn in_cell(place: &Located, middle: LatLon, cell: &GridCell) -> Option<Located> {
    let corner = grid::far_corner(cell);
    let reaches = (geodesic::distance(cell.at, middle).0 / corner.0.max(1.0)).ceil().max(1.0);
    let beside = geodesic::distance(middle, place.at);
    let reach = Metres(corner.0 * reaches) + beside + place.radius.metres();
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

    #[test]
    fn radii_are_rounded_up_to_two_figures() {
        assert_eq!(two_figures_up(Metres(7_845.2)), Metres(7_900.0));
        assert_eq!(two_figures_up(Metres(86.1)), Metres(87.0));
        assert_eq!(two_figures_up(Metres(780.0)), Metres(780.0));
    }
}
