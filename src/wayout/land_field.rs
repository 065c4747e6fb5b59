//! Computes the field of least times from every cell of an area to its safe places, by elevation and around
//! closed ground; without elevations for level ground around closed areas. Layer: `wayout`.
//!
//! For the page to carry: a telephone without a signal can compute no route, but it can read from a packed field
//! which way is quickest from where it is. The two margins around closed areas serve receivers of two qualities.

use super::across::Area;
use super::terrain::{Footprint, Inward};
use crate::earth::elevation::Ground;
use crate::earth::local::Plane;
use crate::units::{Degrees, LatLon, Metres};

/// Ground steeper than this is closed, as for the route across open ground.
const CLOSED: Degrees = Degrees(40.0);
/// Ground so near to a closed area is closed too: the 95 % radius of a common receiver under trees (project
/// choice).
const MARGIN: Metres = Metres(25.0);
/// The margin for positions that are less certain: more than the 95 % radius of a poor receiver under trees (project
/// choice).
const WIDE_MARGIN: Metres = Metres(45.0);
/// The cells where no elevations are given: less than the margin (project choice).
const LEVEL_SPACING: Metres = Metres(12.0);
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
    /// The same with a wider margin around closed areas; `None` where no area is closed.
    pub wide: Option<Inward>,
}

/// What the field is computed from.
pub struct Land<'a> {
    /// Heights, with the spacing of the finest tile; without them the ground is taken for level.
    pub ground: Option<(&'a Ground, Metres)>,
    /// Closed areas.
    pub avoid: &'a [Area],
    /// Lines with the speed of a path.
    pub corridors: &'a [Vec<LatLon>],
    /// Safe places.
    pub goals: &'a [LatLon],
}

/// The field of the square with this centre and half side; `None` where elevations are given and none of them lies
/// in it. On level ground no height is stated.
///
/// At most 420 cells on a side; beyond that the cells become larger than the posts of the tile.
#[must_use]
pub fn compute(land: &Land<'_>, centre: LatLon, reach: Metres) -> Option<LandField> {
    let footprint =
        square(centre, reach, land.ground.map_or(LEVEL_SPACING, |(_, spacing)| spacing));
    let height =
        |place| land.ground.and_then(|(ground, _)| ground.height(place)).map(|height| height.0);
    let mut heights = Vec::with_capacity(footprint.columns * footprint.rows);
    for row in 0..footprint.rows {
        for column in 0..footprint.columns {
            heights.push(height(footprint.place((column as f64, row as f64))).map(|h| h.0));
        }
    }
    if land.ground.is_some() && heights.iter().all(Option::is_none) {
        return None;
    }
    let inward = towards_goals(land, &footprint, MARGIN);
    let wide = (!land.avoid.is_empty()).then(|| towards_goals(land, &footprint, WIDE_MARGIN));
    Some(LandField { footprint, heights, inward, wide })
}

/// The field with this margin around closed areas.
fn towards_goals(land: &Land<'_>, footprint: &Footprint, margin: Metres) -> Inward {
    let mut terrain = match land.ground {
        // heights with their sign changed: see `Terrain::inward`
        Some((ground, _)) => {
            footprint.survey(|place| ground.height(place).map(|height| Metres(-height.0.0)))
        }
        None => footprint.survey(|_| Some(Metres(0.0))),
    };
    terrain.close_steeper_than(CLOSED);
    for area in land.avoid {
        for moved in margins(area, footprint, margin) {
            terrain.close_area(&moved);
        }
    }
    for line in land.corridors {
        let line: Vec<(f64, f64)> = line.iter().map(|place| footprint.cell(*place)).collect();
        terrain.open_corridor(&line);
    }
    let goals: Vec<(f64, f64)> = land.goals.iter().map(|goal| footprint.cell(*goal)).collect();
    terrain.inward(&goals)
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
fn margins(area: &Area, footprint: &Footprint, margin: Metres) -> Vec<Vec<Vec<(f64, f64)>>> {
    let by = margin.0 / footprint.spacing;
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
    fn level_ground_leads_around_a_closed_strip() {
        let at = |north: f64, east: f64| LatLon::new(-42.6 + north, 146.0 + east).unwrap();
        let strip =
            vec![vec![at(0.002, -0.004), at(0.002, 0.004), at(0.003, 0.004), at(0.003, -0.004)]];
        let goals = [at(0.006, 0.0)];
        let (centre, reach) = (at(0.0, 0.0), Metres(1_000.0));
        let seconds = |avoid: &[Area]| {
            let land = Land { ground: None, avoid, corridors: &[], goals: &goals };
            let field = compute(&land, centre, reach).unwrap();
            assert!(field.heights.iter().all(Option::is_none));
            let middle =
                field.footprint.rows / 2 * field.footprint.columns + field.footprint.columns / 2;
            f64::from(field.inward.times[middle].unwrap()) / 1e3
        };
        let (open, closed) = (seconds(&[]), seconds(&[strip]));
        // straight 667 m; about the end of the strip 2 * hypot(328 + 25, 222 to 445) m or so
        assert!(closed > open * 1.3 && closed < open * 2.0, "{open} {closed}");
    }

    #[test]
    fn the_wider_margin_leads_around_a_gap() {
        let at = |north: f64, east: f64| LatLon::new(-42.6 + north, 146.0 + east).unwrap();
        let strip = |west: f64, east: f64| {
            vec![vec![at(0.002, west), at(0.002, east), at(0.003, east), at(0.003, west)]]
        };
        // 70 m apart; around their ends it is farther
        let avoid = [strip(-0.005, -0.000_43), strip(0.000_43, 0.005)];
        let goals = [at(0.006, 0.0)];
        let land = Land { ground: None, avoid: &avoid, corridors: &[], goals: &goals };
        let field = compute(&land, at(0.0, 0.0), Metres(1_000.0)).unwrap();
        let middle =
            field.footprint.rows / 2 * field.footprint.columns + field.footprint.columns / 2;
        let seconds = |field: &Inward| field.times[middle].map_or(0, |time| time / 1_000);
        let (near, wide) = (seconds(&field.inward), seconds(&field.wide.unwrap()));
        assert!(near > 0 && wide > near + 30, "{near} {wide}");
    }

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
