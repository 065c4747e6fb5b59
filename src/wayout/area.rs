//! Computes the page for a whole collecting area: from each cell of a coarse UTM grid, bearing and
//! distance to the nearest safe line or trailhead. For use without batteries. Layer: `wayout`.
//!
//! Made at home, printed, and used where a position can be read off a receiver or a map with a printed grid:
//! whoever knows the square reads the bearing. No route is computed; the line is straight.

use serde::Serialize;

use super::daylight::Daylight;
use super::goal::Goal;
use super::simplify::foot;
use crate::earth::geodesic;
use crate::earth::grid::{self, Utm};
use crate::earth::local::Plane;
use crate::error::{Result, WayOutFault};
use crate::units::{
    Declination, Degrees, GridConvergence, LatLon, MagneticBearing, Metres, TimeZone, Timestamp,
    TrueBearing,
};

/// Cells on the longer side of the page at the most.
const MOST_CELLS: f64 = 9.0;
/// Cell sizes, metres: grid lines printed on maps, or halves and quarters of them.
const SIDES: [f64; 6] = [100.0, 200.0, 500.0, 1_000.0, 2_000.0, 5_000.0];

/// The page.
///
/// At most nine cells on the longer side, in cells of 100 m to 5 km.
#[derive(Clone, Debug, PartialEq)]
pub struct AreaPage {
    /// The side of a cell.
    pub side: Metres,
    /// Columns from west to east.
    pub columns: usize,
    /// Rows from north to south, each a list of cells.
    pub rows: Vec<Vec<AreaCell>>,
    /// The south-west corner on the grid, whose lines bound the cells.
    pub corner: Utm,
    /// Grid convergence at the centre of the area.
    pub convergence: GridConvergence,
    /// The declination at the centre of the area.
    pub declination: Declination,
    /// The goals.
    pub goals: Vec<Goal>,
    /// Whether lines are among the goals.
    pub has_lines: bool,
    /// The light around noon of the day that holds everywhere in the area.
    pub light: Daylight,
    /// The local clock.
    pub zone: TimeZone,
}

/// One cell.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AreaCell {
    /// Its centre.
    pub at: LatLon,
    /// The MGRS reference of its centre, 100 m.
    pub mgrs: String,
    /// The distance from its centre to the nearest goal.
    pub distance: Metres,
    /// The magnetic bearing to it.
    pub magnetic_bearing: MagneticBearing,
    /// The true bearing to it.
    pub true_bearing: TrueBearing,
    /// The grid bearing to it; the top of the page is grid north.
    pub grid_bearing: Degrees,
    /// Index into the page's goals; `None` is a line.
    pub goal: Option<usize>,
    /// Whether goal or line lies in the cell, so that the bearing may be any.
    pub here: bool,
    /// The most by which the bearing differs elsewhere in the cell.
    pub bearing_range: Degrees,
    /// The most by which the distance differs elsewhere in the cell.
    pub distance_range: Metres,
}

/// The page for an area that holds these places, leading to goals and lines, with the light of the
/// day about this noon.
///
/// Declination and convergence are those of the centre, since a page has one north arrow. The light is that of the
/// darkest of the corners and the middle.
///
/// # Errors
/// When there is no place, no goal, or the area is larger than 45 km.
pub fn page(
    places: &[LatLon],
    goals: &[Goal],
    lines: &[Vec<LatLon>],
    declination: impl Fn(LatLon) -> Result<Declination>,
    (noon, zone): (Timestamp, &TimeZone),
) -> Result<AreaPage> {
    let first = places.first().ok_or(WayOutFault::NoArea)?;
    if goals.is_empty() && lines.iter().all(|line| line.len() < 2) {
        return Err(WayOutFault::AreaWithoutGoal.into());
    }
    let middle = middle(places, goals, *first);
    let sheet = Sheet { grid: grid::utm(middle), plane: Plane::about(middle) };
    let spots: Vec<(f64, f64)> = places
        .iter()
        .chain(goals.iter().map(|goal| &goal.at))
        .map(|at| sheet.on_grid(*at))
        .collect();
    let frame = SIDES
        .into_iter()
        .map(|side| Squares::around(&spots, side))
        .find(|squares| squares.columns.max(squares.rows) <= MOST_CELLS)
        .ok_or(WayOutFault::AreaTooWide { most: Metres(45_000.0) })?;
    let declination = declination(middle)?;
    let corners: Vec<LatLon> =
        frame.corners().into_iter().filter_map(|corner| sheet.place(corner)).collect();
    let safe = Safe::new(&sheet, goals, lines);
    let cell = |column: f64, row: f64| {
        let east = frame.corner.0 + (column + 0.5) * frame.side;
        let north = frame.corner.1 + (frame.rows - row - 0.5) * frame.side;
        safe.cell(&sheet, (east, north), frame.side / 2.0, &declination)
    };
    let rows: Vec<Vec<AreaCell>> = steps(frame.rows)
        .map(|row| steps(frame.columns).filter_map(|column| cell(column, row)).collect())
        .collect();
    Ok(AreaPage {
        side: Metres(frame.side),
        columns: rows.first().map_or(0, Vec::len),
        rows,
        corner: sheet.figures(frame.corner)?,
        convergence: grid::convergence(middle),
        declination,
        goals: goals.to_vec(),
        has_lines: !lines.is_empty(),
        light: Daylight::between(middle, &corners, noon)?,
        zone: zone.clone(),
    })
}

fn steps(count: f64) -> impl Iterator<Item = f64> {
    std::iter::successors(Some(0.0), |step| Some(step + 1.0)).take_while(move |step| *step < count)
}

/// The centre of the area of the page.
fn middle(places: &[LatLon], goals: &[Goal], first: LatLon) -> LatLon {
    let plane = Plane::about(first);
    let mut low = (f64::INFINITY, f64::INFINITY);
    let mut high = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    for place in places.iter().chain(goals.iter().map(|goal| &goal.at)) {
        let (east, north) = plane.to_plane(*place);
        low = (low.0.min(east), low.1.min(north));
        high = (high.0.max(east), high.1.max(north));
    }
    plane.from_plane(f64::midpoint(low.0, high.0), f64::midpoint(low.1, high.1))
}

/// Squares of the grid.
struct Squares {
    side: f64,
    corner: (f64, f64),
    columns: f64,
    rows: f64,
}

impl Squares {
    /// The squares of this size that contain all the places.
    fn around(spots: &[(f64, f64)], side: f64) -> Self {
        let line = |pick: fn(&(f64, f64)) -> f64| {
            let lows = spots.iter().map(|spot| (pick(spot) / side).floor());
            let highs = spots.iter().map(|spot| (pick(spot) / side).floor() + 1.0);
            (lows.fold(f64::INFINITY, f64::min), highs.fold(f64::NEG_INFINITY, f64::max))
        };
        let (west, east) = line(|spot| spot.0);
        let (south, north) = line(|spot| spot.1);
        let corner = (west * side, south * side);
        Self { side, corner, columns: east - west, rows: north - south }
    }

    fn corners(&self) -> [(f64, f64); 4] {
        let (west, south) = self.corner;
        let (east, north) = (west + self.columns * self.side, south + self.rows * self.side);
        [(west, south), (east, south), (west, north), (east, north)]
    }
}

/// The grid zone of the centre of the page, extended over its borders.
struct Sheet {
    grid: Utm,
    plane: Plane,
}

impl Sheet {
    fn figures(&self, (east, north): (f64, f64)) -> Result<Utm> {
        Utm::new(self.grid.zone(), self.grid.is_north(), east, north)
    }

    fn place(&self, at: (f64, f64)) -> Option<LatLon> {
        self.figures(at).ok().map(Utm::to_latlon)
    }

    /// Easting and northing of a place on this grid. The library converts in one direction only, so
    /// the inverse is iterated; each step reduces the error to a thousandth.
    fn on_grid(&self, place: LatLon) -> (f64, f64) {
        let own = grid::utm(place);
        if (own.zone(), own.is_north()) == (self.grid.zone(), self.grid.is_north()) {
            return (own.easting().0, own.northing().0);
        }
        let turn = grid::convergence(self.plane.origin()).0.radians();
        let wanted = self.plane.to_plane(place);
        let mut at = (self.grid.easting().0, self.grid.northing().0);
        for _ in 0..6 {
            let Some(guess) = self.place(at) else { break };
            let have = self.plane.to_plane(guess);
            let (east, north) = (wanted.0 - have.0, wanted.1 - have.1);
            at.0 += east * turn.cos() - north * turn.sin();
            at.1 += east * turn.sin() + north * turn.cos();
        }
        at
    }
}

/// Safe places on the grid.
struct Safe {
    goals: Vec<(f64, f64)>,
    lines: Vec<Vec<(f64, f64)>>,
}

impl Safe {
    fn new(sheet: &Sheet, goals: &[Goal], lines: &[Vec<LatLon>]) -> Self {
        let flat = |line: &Vec<LatLon>| line.iter().map(|place| sheet.on_grid(*place)).collect();
        Self {
            goals: goals.iter().map(|goal| sheet.on_grid(goal.at)).collect(),
            lines: lines.iter().map(flat).collect(),
        }
    }

    fn cell(
        &self,
        sheet: &Sheet,
        at: (f64, f64),
        half: f64,
        declination: &Declination,
    ) -> Option<AreaCell> {
        let inside = |to: (f64, f64)| (to.0 - at.0).abs() <= half && (to.1 - at.1).abs() <= half;
        let goals = self.goals.iter().enumerate().map(|(index, goal)| (Some(index), *goal));
        // what lies in the cell comes before what is nearer to its centre
        let (goal, nearest) =
            goals.chain(self.line_from(at).map(|foot| (None, foot))).min_by(|a, b| {
                let outside = (!inside(a.1)).cmp(&!inside(b.1));
                outside.then(off(at, a.1).total_cmp(&off(at, b.1)))
            })?;
        let seen: Vec<Sight> = spots(at, half, nearest)
            .map(|from| {
                let to = if goal.is_some() { None } else { self.line_from(from) };
                (from, to.unwrap_or(nearest))
            })
            .collect();
        let turn = |(from, to): &Sight| {
            Degrees::from_radians(towards(*from, *to) - towards(at, nearest))
                .shortest_turn()
                .0
                .abs()
        };
        let other = |(from, to): &Sight| (off(*from, *to) - off(at, nearest)).abs();
        let place = sheet.place(at)?;
        let (distance, true_bearing) = geodesic::leg(place, sheet.place(nearest)?);
        Some(AreaCell {
            at: place,
            mgrs: grid::mgrs(place, Metres(100.0)),
            distance,
            magnetic_bearing: declination.to_magnetic(true_bearing),
            true_bearing,
            grid_bearing: Degrees::from_radians(towards(at, nearest)),
            goal,
            here: seen.iter().any(|(_, to)| inside(*to)),
            bearing_range: Degrees(seen.iter().map(turn).fold(0.0, f64::max)),
            distance_range: Metres(seen.iter().map(other).fold(0.0, f64::max)),
        })
    }

    /// The nearest place on any line.
    fn line_from(&self, at: (f64, f64)) -> Option<(f64, f64)> {
        let feet = self.lines.iter().flat_map(|line| line.windows(2));
        feet.map(|ends| foot(at, ends[0], ends[1]))
            .min_by(|a, b| off(at, *a).total_cmp(&off(at, *b)))
    }
}

/// A place in a cell and where it leads to.
type Sight = ((f64, f64), (f64, f64));

/// Places all over a cell, its edges and corners included, and that nearest to a goal.
fn spots(at: (f64, f64), half: f64, to: (f64, f64)) -> impl Iterator<Item = (f64, f64)> {
    const STEPS: [f64; 5] = [-1.0, -0.5, 0.0, 0.5, 1.0];
    let held = |to: f64, at: f64| to.clamp(at - half, at + half);
    STEPS
        .into_iter()
        .flat_map(move |east| STEPS.map(|north| (at.0 + half * east, at.1 + half * north)))
        .chain([(held(to.0, at.0), held(to.1, at.1))])
}

fn off(from: (f64, f64), to: (f64, f64)) -> f64 {
    (to.0 - from.0).hypot(to.1 - from.1)
}

/// The bearing on the grid, radians.
fn towards(from: (f64, f64), to: (f64, f64)) -> f64 {
    (to.0 - from.0).atan2(to.1 - from.1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::MagneticModel;

    fn noon() -> (Timestamp, &'static TimeZone) {
        static UTC: TimeZone = TimeZone::UTC;
        ("2026-05-01T12:00:00Z".parse().unwrap(), &UTC)
    }

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
        // the last two lie on borders of zones: the page keeps the grid of its centre
        for (latitude, longitude) in [(-42.0, 146.0), (-17.0, 180.0), (69.0, 20.0), (0.0, 12.0)] {
            let plane = Plane::about(LatLon::new(latitude, longitude).unwrap());
            let places = [plane.from_plane(-1_500.0, -900.0), plane.from_plane(1_500.0, 900.0)];
            let goals = [Goal { name: "gate".into(), at: plane.from_plane(0.0, -900.0) }];
            let road = vec![plane.from_plane(-1_500.0, 900.0), plane.from_plane(1_500.0, 900.0)];
            let page = page(&places, &goals, &[road], declination, noon()).unwrap();
            assert_eq!(page.side, Metres(500.0));
            let cells: Vec<&AreaCell> = page.rows.iter().flatten().collect();
            assert_eq!(cells.len(), page.columns * page.rows.len());
            for cell in &cells {
                let (east, north) = plane.to_plane(cell.at);
                let (to_gate, to_road) = (east.hypot(north + 900.0), (900.0 - north).abs());
                let nearest = if east.abs() < 1_500.0 { to_gate.min(to_road) } else { to_gate };
                assert!(cell.distance.0 < nearest * 1.002 + 0.5, "{cell:?} {nearest}");
                let turned = cell.true_bearing.degrees().0 - cell.magnetic_bearing.degrees().0;
                assert!((turned.rem_euclid(360.0) - 10.0).abs() < 1e-9);
            }
            assert!(cells.iter().any(|cell| cell.goal.is_none()));
            assert!(cells.iter().any(|cell| cell.goal == Some(0)));
        }
    }

    #[test]
    fn cells_are_squares_of_the_grid_and_hold_every_place() {
        for (latitude, longitude) in [(-42.0, 146.0), (60.4, 5.3), (-17.0, 179.999), (86.0, 40.0)] {
            let plane = Plane::about(LatLon::new(latitude, longitude).unwrap());
            let places = [plane.from_plane(-700.0, 400.0), plane.from_plane(300.0, -900.0)];
            let goals = [Goal { name: "gate".into(), at: plane.from_plane(10.0, 10.0) }];
            let page = page(&places, &goals, &[], declination, noon()).unwrap();
            let side = page.side.0;
            for figure in [page.corner.easting().0, page.corner.northing().0] {
                assert_eq!(figure % side, 0.0, "{:?}", page.corner);
            }
            for place in places {
                let at = grid::utm(place);
                if at.zone() != page.corner.zone() {
                    continue;
                }
                let east = at.easting().0 - page.corner.easting().0;
                let north = at.northing().0 - page.corner.northing().0;
                assert!((0.0..side * page.columns as f64).contains(&east), "{place} {page:?}");
                assert!((0.0..side * page.rows.len() as f64).contains(&north), "{place}");
            }
            let first = grid::utm(page.rows[0][0].at);
            assert!((first.easting().0 - page.corner.easting().0 - side / 2.0).abs() < 0.01);
        }
    }

    #[test]
    fn bearings_and_distances_hold_all_over_their_cell() {
        let plane = Plane::about(LatLon::new(-42.0, 146.0).unwrap());
        let places = [plane.from_plane(-700.0, -700.0), plane.from_plane(700.0, 700.0)];
        let goals = [Goal { name: "gate".into(), at: plane.from_plane(130.0, 40.0) }];
        let page = page(&places, &goals, &[], declination, noon()).unwrap();
        let gate = grid::utm(goals[0].at);
        let mut here = 0;
        for cell in page.rows.iter().flatten() {
            let middle = grid::utm(cell.at);
            let (east, north) =
                (gate.easting().0 - middle.easting().0, gate.northing().0 - middle.northing().0);
            let half = page.side.0 / 2.0;
            assert_eq!(cell.here, east.abs() < half && north.abs() < half, "{cell:?}");
            here += usize::from(cell.here);
            if cell.here {
                continue;
            }
            for step in 0..400 {
                let (u, v) = (f64::from(step % 20) / 9.5 - 1.0, f64::from(step / 20) / 9.5 - 1.0);
                let (x, y) = (east - half * u, north - half * v);
                let turn = Degrees::from_radians(x.atan2(y) - east.atan2(north)).shortest_turn();
                assert!(turn.0.abs() <= cell.bearing_range.0 + 1e-3, "{turn:?} {cell:?}");
                let other = (x.hypot(y) - east.hypot(north)).abs();
                assert!(other <= cell.distance_range.0 + 0.01, "{other} {cell:?}");
            }
        }
        assert_eq!(here, 1);
    }

    #[test]
    fn area_page_needs_a_goal() {
        let here = [LatLon::new(-42.0, 146.0).unwrap()];
        assert!(page(&here, &[], &[], declination, noon()).is_err());
        assert!(page(&[], &[], &[], declination, noon()).is_err());
        let far = Goal { name: "far".into(), at: LatLon::new(-41.0, 146.0).unwrap() };
        assert!(
            page(&here, &[far], &[], declination, noon())
                .unwrap_err()
                .to_string()
                .contains("across")
        );
    }
}
