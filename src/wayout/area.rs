//! One page for the whole collecting area: from each cell of a coarse grid, the bearing and distance
//! to the nearest safe line or trailhead, for when the batteries are dead. Layer: `wayout`.

use serde::Serialize;

use super::goal::Goal;
use super::simplify::foot;
use crate::earth::grid;
use crate::earth::local::Plane;
use crate::error::{Error, Result};
use crate::units::{Declination, Degrees, LatLon, MagneticBearing, Metres, TrueBearing};

/// Cells on the longer side of the page at the most.
const MOST_CELLS: f64 = 9.0;
/// Sides of a cell that are easy to find on a map, metres.
const SIDES: [f64; 8] = [100.0, 200.0, 250.0, 500.0, 1_000.0, 2_000.0, 2_500.0, 5_000.0];

/// The page.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AreaPage {
    /// The side of a cell.
    pub side: Metres,
    /// Columns from west to east.
    pub columns: usize,
    /// Rows from north to south, each a list of cells.
    pub rows: Vec<Vec<AreaCell>>,
    /// The declination in the middle of the area.
    pub declination: Declination,
    /// Where the cells lead.
    pub goals: Vec<Goal>,
    /// Whether lines are among what they lead to.
    pub has_lines: bool,
}

/// One cell.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AreaCell {
    /// Its middle.
    pub at: LatLon,
    /// The MGRS reference of its middle, 100 m.
    pub mgrs: String,
    /// From its middle to the nearest safe place.
    pub distance: Metres,
    /// That way, as the compass reads.
    pub magnetic_bearing: MagneticBearing,
    /// That way from true north.
    pub true_bearing: TrueBearing,
    /// Index into the page's goals; `None` is a line.
    pub goal: Option<usize>,
}

/// The page for an area that holds these places, leading to goals and lines.
///
/// # Errors
/// When there is no place, nothing to lead to, or the area is larger than 45 km.
pub fn page(
    places: &[LatLon],
    goals: &[Goal],
    lines: &[Vec<LatLon>],
    declination: impl Fn(LatLon) -> Result<Declination>,
) -> Result<AreaPage> {
    let first =
        places.first().ok_or_else(|| refuse("no track and no position says where the area is"))?;
    if goals.is_empty() && lines.iter().all(|line| line.len() < 2) {
        return Err(refuse("there is no trailhead and no line to lead to"));
    }
    let rough = Plane::about(*first);
    let (low, high) = bounds(places.iter().chain(goals.iter().map(|goal| &goal.at)), &rough);
    let plane =
        Plane::about(rough.from_plane(f64::midpoint(low.0, high.0), f64::midpoint(low.1, high.1)));
    let (wide, tall) = (high.0 - low.0, high.1 - low.1);
    let side =
        SIDES.into_iter().find(|side| wide.max(tall) / side <= MOST_CELLS).ok_or_else(|| {
            refuse(format!(
                "it is {} across; a page holds {}",
                Metres(wide.max(tall)),
                Metres(45_000.0)
            ))
        })?;
    let declination = declination(plane.origin())?;
    let count = |length: f64| (length / side - 1e-3).ceil().max(1.0);
    let (columns, rows) = (count(wide), count(tall));
    let safe = Safe::new(&plane, goals, lines);
    let cell = |column: f64, row: f64| {
        let at = ((column - (columns - 1.0) / 2.0) * side, ((rows - 1.0) / 2.0 - row) * side);
        safe.cell(&plane, at, &declination)
    };
    let rows: Vec<Vec<AreaCell>> = steps(rows)
        .map(|row| steps(columns).filter_map(|column| cell(column, row)).collect())
        .collect();
    Ok(AreaPage {
        side: Metres(side),
        columns: rows.first().map_or(0, Vec::len),
        rows,
        declination,
        goals: goals.to_vec(),
        has_lines: !lines.is_empty(),
    })
}

fn steps(count: f64) -> impl Iterator<Item = f64> {
    std::iter::successors(Some(0.0), |step| Some(step + 1.0)).take_while(move |step| *step < count)
}

fn bounds<'a>(places: impl Iterator<Item = &'a LatLon>, plane: &Plane) -> ((f64, f64), (f64, f64)) {
    let mut low = (f64::INFINITY, f64::INFINITY);
    let mut high = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    for place in places {
        let (east, north) = plane.to_plane(*place);
        low = (low.0.min(east), low.1.min(north));
        high = (high.0.max(east), high.1.max(north));
    }
    (low, high)
}

/// Safe places on the plane.
struct Safe {
    goals: Vec<(f64, f64)>,
    lines: Vec<Vec<(f64, f64)>>,
}

impl Safe {
    fn new(plane: &Plane, goals: &[Goal], lines: &[Vec<LatLon>]) -> Self {
        let flat = |line: &Vec<LatLon>| line.iter().map(|place| plane.to_plane(*place)).collect();
        Self {
            goals: goals.iter().map(|goal| plane.to_plane(goal.at)).collect(),
            lines: lines.iter().map(flat).collect(),
        }
    }

    fn cell(&self, plane: &Plane, at: (f64, f64), declination: &Declination) -> Option<AreaCell> {
        let goals = self.goals.iter().enumerate().map(|(index, goal)| (Some(index), *goal));
        let lines = self
            .lines
            .iter()
            .flat_map(|line| line.windows(2))
            .map(|ends| (None, foot(at, ends[0], ends[1])));
        let off = |to: &(f64, f64)| (to.0 - at.0).hypot(to.1 - at.1);
        let (goal, nearest) = goals.chain(lines).min_by(|a, b| off(&a.1).total_cmp(&off(&b.1)))?;
        let bearing = (nearest.0 - at.0).atan2(nearest.1 - at.1);
        let true_bearing = TrueBearing::new(Degrees::from_radians(bearing));
        let place = plane.from_plane(at.0, at.1);
        Some(AreaCell {
            at: place,
            mgrs: grid::mgrs(place, Metres(100.0)),
            distance: Metres(off(&nearest)),
            magnetic_bearing: declination.to_magnetic(true_bearing),
            true_bearing,
            goal,
        })
    }
}

fn refuse(why: impl Into<String>) -> Error {
    Error::input("no page of the area can be made")
        .because(why)
        .hint("keep trailheads with `trug trailhead add`, give a line with --line, or a middle with --from")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::MagneticModel;

    #[allow(clippy::unnecessary_wraps, reason = "the form that the page asks for")]
    fn declination(place: LatLon) -> Result<Declination> {
        Ok(Declination {
            east: Degrees(10.0),
            uncertainty: Degrees(0.4),
            model: MagneticModel::Stated,
            date: jiff::civil::date(2026, 5, 1),
            place,
        })
    }

    #[test]
    fn every_cell_leads_to_what_is_nearest() {
        for (latitude, longitude) in [(-42.0, 146.0), (-17.0, 180.0), (69.0, 20.0)] {
            let plane = Plane::about(LatLon::new(latitude, longitude).unwrap());
            let places = [plane.from_plane(-1_500.0, -900.0), plane.from_plane(1_500.0, 900.0)];
            let goals = [Goal { name: "gate".into(), at: plane.from_plane(0.0, -900.0) }];
            let road = vec![plane.from_plane(-1_500.0, 900.0), plane.from_plane(1_500.0, 900.0)];
            let page = page(&places, &goals, &[road], declination).unwrap();
            assert_eq!((page.side, page.columns, page.rows.len()), (Metres(500.0), 6, 4));
            let (north, south) = (&page.rows[0][0], &page.rows[3][2]);
            assert!(north.goal.is_none() && (north.distance.0 - 150.0).abs() < 1.0, "{north:?}");
            assert!((north.magnetic_bearing.degrees().0 - 350.0).abs() < 0.1, "{north:?}");
            assert_eq!(south.goal, Some(0));
        }
    }

    #[test]
    fn without_a_place_to_lead_to_there_is_no_page() {
        let here = [LatLon::new(-42.0, 146.0).unwrap()];
        assert!(page(&here, &[], &[], declination).is_err());
        assert!(page(&[], &[], &[], declination).is_err());
        let far = Goal { name: "far".into(), at: LatLon::new(-41.0, 146.0).unwrap() };
        assert!(page(&here, &[far], &[], declination).unwrap_err().to_string().contains("across"));
    }
}
