//! Computes the field of least times from every cell of an area to its safe places, by elevation and around
//! closed ground. Layer: `wayout`.

use super::across::Area;
use super::terrain::{Footprint, Inward};
use crate::earth::elevation::Ground;
use crate::earth::local::Plane;
use crate::units::{Degrees, LatLon, Metres};

/// Ground steeper than this is closed, as for the route across open ground.
const CLOSED: Degrees = Degrees(40.0);
/// Ground so near to a closed area is closed too: the 95 % radius of a common receiver under trees (project
/// choice).
const MARGIN: f64 = 25.0;
/// The most cells on a side: 10 km in cells of 24 m.
const MOST: f64 = 420.0;

/// The field on its grid.
#[derive(Clone, Debug)]
pub struct LandField {
    /// Where its cells lie.
    pub footprint: Footprint,
    /// Heights above sea level, row by row from the south; `None` where none is known.
    pub heights: Vec<Option<f64>>,
    /// Times and first moves.
    pub inward: Inward,
}

/// What the field is computed from.
pub struct Land<'a> {
    /// Heights.
    pub ground: &'a Ground,
    /// The spacing of the finest tile.
    pub spacing: Metres,
    /// Closed areas.
    pub avoid: &'a [Area],
    /// Lines with the speed of a path.
    pub corridors: &'a [Vec<LatLon>],
    /// Safe places.
    pub goals: &'a [LatLon],
}

/// The field of the square with this centre and half side; `None` where no heights are known.
#[must_use]
pub fn compute(land: &Land<'_>, centre: LatLon, reach: Metres) -> Option<LandField> {
    let footprint = square(centre, reach, land.spacing);
    let height = |place| land.ground.height(place).map(|height| height.0);
    let mut heights = Vec::with_capacity(footprint.columns * footprint.rows);
    for row in 0..footprint.rows {
        for column in 0..footprint.columns {
            heights.push(height(footprint.place((column as f64, row as f64))).map(|h| h.0));
        }
    }
    if heights.iter().all(Option::is_none) {
        return None;
    }
    // heights with their sign changed: see `Terrain::inward`
    let mut terrain = footprint.survey(|place| height(place).map(|height| Metres(-height.0)));
    terrain.close_steeper_than(CLOSED);
    for area in land.avoid {
        for moved in margins(area, &footprint) {
            terrain.close_area(&moved);
        }
    }
    for line in land.corridors {
        let line: Vec<(f64, f64)> = line.iter().map(|place| footprint.cell(*place)).collect();
        terrain.open_corridor(&line);
    }
    let goals: Vec<(f64, f64)> = land.goals.iter().map(|goal| footprint.cell(*goal)).collect();
    let inward = terrain.inward(&goals);
    Some(LandField { footprint, heights, inward })
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in bounds")]
fn square(centre: LatLon, reach: Metres, spacing: Metres) -> Footprint {
    let side = reach.0 * 2.0;
    let spacing = spacing.0.max(side / MOST).max(5.0);
    let cells = (side / spacing).ceil().clamp(1.0, MOST) as usize + 1;
    let half = (cells - 1) as f64 / 2.0 * spacing;
    Footprint {
        plane: Plane::about(centre),
        corner: (-half, -half),
        spacing,
        columns: cells,
        rows: cells,
    }
}

/// The area itself and moved by the margin to eight sides, as columns and rows.
fn margins(area: &Area, footprint: &Footprint) -> Vec<Vec<Vec<(f64, f64)>>> {
    let by = MARGIN / footprint.spacing;
    let diagonal = by * std::f64::consts::FRAC_1_SQRT_2;
    let moves = [
        (0.0, 0.0),
        (by, 0.0),
        (-by, 0.0),
        (0.0, by),
        (0.0, -by),
        (diagonal, diagonal),
        (-diagonal, diagonal),
        (diagonal, -diagonal),
        (-diagonal, -diagonal),
    ];
    let rings: Vec<Vec<(f64, f64)>> =
        area.iter().map(|ring| ring.iter().map(|place| footprint.cell(*place)).collect()).collect();
    moves
        .iter()
        .map(|(east, north)| {
            let moved = |(x, y): &(f64, f64)| (x + east, y + north);
            rings.iter().map(|ring| ring.iter().map(moved).collect()).collect()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ten_kilometres_fit_into_the_most_cells() {
        let centre = LatLon::new(-42.6, 146.0).unwrap();
        let footprint = square(centre, Metres(5_000.0), Metres(2.0));
        assert!(footprint.columns * footprint.rows < 180_000);
        let wide = footprint.spacing * (footprint.columns - 1) as f64;
        assert!((wide - 10_000.0).abs() < footprint.spacing, "{wide}");
        let coarse = square(centre, Metres(5_000.0), Metres(90.0));
        assert_eq!(coarse.columns, 113);
    }
}
