//! Tests the search where the quickest route is known: planes, cones, barriers, corridors.
//! Layer: `wayout`.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    reason = "small fields"
)]

use super::*;
use crate::units::Degrees;
use crate::wayout::pace::{FASTEST, Surface, tobler};

fn field(side: usize, spacing: f64, height: impl Fn(f64, f64) -> f64) -> Terrain {
    let heights: Vec<f32> = (0..side * side)
        .map(|i| height((i % side) as f64 * spacing, (i / side) as f64 * spacing) as f32)
        .collect();
    Terrain::new(side, side, (spacing, spacing), &heights)
}

/// The time of a straight line with this slope, off the path.
fn straight(length: f64, slope: f64) -> f64 {
    length / tobler(slope, Surface::OffPath).0
}

#[test]
fn on_level_ground_the_walk_is_the_straight_line_in_any_direction() {
    let mut level = field(301, 20.0, |_, _| 100.0);
    for degrees in (0..360).step_by(7) {
        let (sine, cosine) = f64::from(degrees).to_radians().sin_cos();
        let goal = ((150.0 + 140.0 * sine).round(), (150.0 + 140.0 * cosine).round());
        let walk = level.walk((150.0, 150.0), &[goal]).unwrap();
        let length = (goal.0 - 150.0).hypot(goal.1 - 150.0) * 20.0;
        let ratio = walk.duration.0 / straight(length, 0.0);
        assert!((0.9999..1.001).contains(&ratio), "{degrees}: {ratio}");
        let on_grid = walk.on_grid.0 / straight(length, 0.0);
        assert!((0.9999..1.028).contains(&on_grid), "{degrees}: {on_grid}");
    }
}

#[test]
fn on_a_gentle_plane_it_is_within_one_per_cent_of_the_straight_line() {
    // below the slope at which turns pay (1/3.5 up hill) the straight line is the quickest
    for (east, north) in [(0.1, 0.05), (-0.15, 0.0), (0.05, 0.12)] {
        let mut plane = field(201, 30.0, |x, y| 500.0 + east * x + north * y);
        for degrees in (0..360).step_by(17) {
            let (sine, cosine) = f64::from(degrees).to_radians().sin_cos();
            let goal = ((100.0 + 90.0 * sine).round(), (100.0 + 90.0 * cosine).round());
            let (x, y) = ((goal.0 - 100.0) * 30.0, (goal.1 - 100.0) * 30.0);
            let length = x.hypot(y);
            let exact = straight(length, (east * x + north * y) / length);
            let walk = plane.walk((100.0, 100.0), &[goal]).unwrap();
            let ratio = walk.duration.0 / exact;
            assert!((0.99..1.01).contains(&ratio), "{east} {north} {degrees}: {ratio}");
        }
    }
}

#[test]
fn steep_cone_is_climbed_by_the_quickest_spiral() {
    // on a cone steeper than 1/3.5 the quickest climb is the spiral at that slope: the rise per
    // second is greatest there, so the time is the height over that rate
    let best_slope = 1.0 / 3.5;
    let rate = best_slope * tobler(best_slope, Surface::OffPath).0;
    for steepness in [0.4, 0.5, 0.6] {
        let mut cone =
            field(201, 20.0, |x, y| 3_000.0 - steepness * (x - 2_000.0).hypot(y - 2_000.0));
        for from in [(20.0, 100.0), (40.0, 40.0), (70.0, 20.0)] {
            let walk = cone.walk(from, &[(100.0, 100.0)]).unwrap();
            let climb = steepness * (from.0 - 100.0).hypot(from.1 - 100.0) * 20.0;
            let ratio = walk.duration.0 / (climb / rate);
            assert!((0.99..1.01).contains(&ratio), "{steepness} {from:?}: {ratio}");
        }
    }
}

#[test]
fn gentle_cone_is_climbed_straight() {
    let mut cone = field(201, 20.0, |x, y| 3_000.0 - 0.2 * (x - 2_000.0).hypot(y - 2_000.0));
    for from in [(20.0, 100.0), (40.0, 40.0), (70.0, 20.0)] {
        let walk = cone.walk(from, &[(100.0, 100.0)]).unwrap();
        let length = (from.0 - 100.0).hypot(from.1 - 100.0) * 20.0;
        let ratio = walk.duration.0 / straight(length, 0.2);
        assert!((0.99..1.01).contains(&ratio), "{from:?}: {ratio}");
    }
}

#[test]
fn route_never_crosses_a_thin_barrier() {
    let mut level = field(101, 10.0, |_, _| 5.0);
    // a line barrier from edge to edge except for a gap at the eastern end
    for row in [40.0, 40.4] {
        level.close_area(&[vec![(-5.0, row), (90.0, row + 13.0), (90.0, row + 13.0)]]);
    }
    let walk = level.walk((10.0, 10.0), &[(10.0, 90.0)]).unwrap();
    assert!(walk.corners.iter().any(|corner| corner.0 > 90.0), "{:?}", walk.corners);
    let mut closed = field(101, 10.0, |_, _| 5.0);
    closed.close_area(&[vec![(-5.0, 40.0), (105.0, 53.0), (105.0, 53.0)]]);
    assert_eq!(closed.walk((10.0, 10.0), &[(10.0, 90.0)]), None);
    assert!(!closed.is_open((50.0, 46.5)) || !closed.is_open((50.0, 46.4)));
}

#[test]
fn a_void_is_walked_around_and_outside_is_no_place() {
    let mut holed = field(101, 10.0, |x, y| {
        if (300.0..=700.0).contains(&x) && (300.0..=700.0).contains(&y) { f64::NAN } else { 5.0 }
    });
    let walk = holed.walk((10.0, 50.0), &[(90.0, 50.0)]).unwrap();
    assert!(walk.duration.0 > straight(800.0, 0.0) * 1.1);
    assert_eq!(holed.walk((50.0, 50.0), &[(90.0, 50.0)]), None);
    assert_eq!(holed.walk((-50.0, 50.0), &[(90.0, 50.0)]), None);
    assert_eq!(holed.walk((10.0, 50.0), &[]), None);
    assert_eq!(holed.walk((f64::NAN, 50.0), &[(90.0, 50.0)]), None);
    assert_eq!(holed.height((50.0, 50.0)), None);
}

#[test]
fn corridor_attracts_the_route() {
    let mut level = field(101, 10.0, |_, _| 5.0);
    let plain = level.walk((10.0, 10.0), &[(90.0, 10.0)]).unwrap();
    level.open_corridor(&[(10.0, 12.0), (90.0, 12.0)]);
    let quick = level.walk((10.0, 10.0), &[(90.0, 10.0)]).unwrap();
    assert!(quick.duration.0 < plain.duration.0 * 0.7, "{quick:?}");
}

/// A small generator of numbers between 0 and 1.
fn random(mut state: u64) -> impl FnMut() -> f64 {
    move || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f64 / f64::from(1_u32 << 31)
    }
}

/// The cost of every cell by a plain Dijkstra's algorithm.
fn plain_dijkstra(land: &Terrain, from: (i32, i32)) -> Vec<Option<u32>> {
    let (wide, high) = (land.size().0 as i32, land.size().1 as i32);
    let cell = |at: (i32, i32)| {
        ((0..wide).contains(&at.0) && (0..high).contains(&at.1))
            .then(|| CellIndex::inner(at.0 as usize, at.1 as usize))
    };
    let open = |at| land.open(cell(at)?);
    let corridor = |at| cell(at).is_some_and(|cell| land.mark(cell) & mark::CORRIDOR != 0);
    let mut costs = vec![None; (wide * high) as usize];
    let mut heap = std::collections::BinaryHeap::from([(std::cmp::Reverse(0_u32), from)]);
    while let Some((std::cmp::Reverse(cost), at)) = heap.pop() {
        let known = &mut costs[(at.1 * wide + at.0) as usize];
        if known.is_some() {
            continue;
        }
        *known = Some(cost);
        for direction in &land.moves.directions {
            let to = (at.0 + direction.step.0, at.1 + direction.step.1);
            let leaps =
                |(across, along): &(i32, i32)| open((at.0 + across, at.1 + along)).is_none();
            let (Some(here), Some(there)) = (open(at), open(to)) else { continue };
            if direction.is_knight && direction.passed.iter().any(leaps) {
                continue;
            }
            let rise = i32::from(there) - i32::from(here);
            let step = land.moves.cost(direction, rise, corridor(at) && corridor(to));
            if step < moves::NEVER {
                heap.push((std::cmp::Reverse(cost + step), to));
            }
        }
    }
    costs
}

#[test]
fn every_cell_cost_equals_plain_dijkstra() {
    let mut random = random(7);
    for round in 0..12 {
        let (wide, high) = (20 + round * 9, 70 - round * 3);
        let rugged = [2.0, 12.0, 40.0][round % 3];
        let heights: Vec<f32> = (0..wide * high)
            .map(|_| {
                let height = (random() * rugged) as f32;
                if random() < 0.08 { f32::NAN } else { height }
            })
            .collect();
        let mut land = Terrain::new(wide, high, (24.0, 31.0), &heights);
        let mut place = || (random() * wide as f64, random() * high as f64);
        if round % 2 == 0 {
            land.close_area(&[vec![place(), place(), place()]]);
            land.open_corridor(&[place(), place(), place()]);
        }
        let Some(from) = (0..wide).find(|column| land.is_open((*column as f64, 5.0))) else {
            continue;
        };
        let expected = plain_dijkstra(&land, (from as i32, 5));
        assert!(expected.iter().flatten().count() > 20, "{round}");
        assert_eq!(land.field((from as f64, 5.0)).unwrap(), expected, "{round}");
    }
}

#[test]
fn the_inside_of_a_hole_stays_open() {
    let mut level = field(101, 10.0, |_, _| 5.0);
    let square = |from: f64, to: f64| vec![(from, from), (to, from), (to, to), (from, to)];
    level.close_area(&[square(20.0, 80.0), square(40.0, 60.0)]);
    assert!(level.is_open((50.0, 50.0)) && level.is_open((10.0, 50.0)));
    assert!(!level.is_open((30.0, 50.0)) && !level.is_open((40.0, 50.0)));
    assert!(level.walk((45.0, 45.0), &[(55.0, 55.0)]).is_some());
    assert_eq!(level.walk((50.0, 50.0), &[(10.0, 50.0)]), None);
}

#[test]
fn steep_ground_is_closed() {
    let ridge = |x: f64, _: f64| (100.0 - (x - 500.0).abs()).max(0.0);
    let mut land = field(101, 10.0, ridge);
    assert!(land.walk((10.0, 50.0), &[(90.0, 50.0)]).is_some());
    land.close_steeper_than(Degrees(35.0));
    assert_eq!(land.walk((10.0, 50.0), &[(90.0, 50.0)]), None);
}

#[test]
fn nearest_goal_by_time_is_selected() {
    let mut hill = field(101, 20.0, |x, _| if x > 1_000.0 { (x - 1_000.0) * 0.5 } else { 0.0 });
    let walk = hill.walk((50.0, 50.0), &[(75.0, 50.0), (20.0, 50.0)]).unwrap();
    assert_eq!(walk.goal, 1, "the level goal is farther but nearer in time");
}

#[test]
fn led_search_and_whole_field_agree() {
    let bumpy = |x: f64, y: f64| 60.0 * (x / 170.0).sin() * (y / 230.0).cos() + 0.05 * x;
    let mut land = field(151, 15.0, bumpy);
    let whole = land.field((7.0, 11.0)).unwrap();
    for goal in [(140.0, 3.0), (75.0, 75.0), (7.0, 11.0), (0.0, 150.0)] {
        let walk = land.walk((7.0, 11.0), &[goal]).unwrap();
        let expected = whole[(goal.1 * 151.0 + goal.0) as usize].unwrap();
        assert_eq!(walk.on_grid.0, f64::from(expected) / 1e3, "{goal:?}");
    }
}

#[test]
fn a_cell_takes_seven_bytes_and_the_lead_is_the_top_speed() {
    assert_eq!(Terrain::bytes_per_cell(), 7);
    assert!((tobler(-0.05, Surface::Path).0 - FASTEST.0).abs() < 1e-12);
}

#[test]
fn proven_optimum_needs_no_larger_grid() {
    let mut level = field(101, 20.0, |_, _| 5.0);
    assert!(!level.walk((30.0, 50.0), &[(70.0, 50.0)]).unwrap().may_leave);
    // a barrier from edge to edge except for a gap at the edge: outside the grid it might end
    // sooner
    let mut walled = field(101, 20.0, |_, _| 5.0);
    walled.close_area(&[vec![(50.0, -5.0), (50.0, 97.0), (50.0, 97.0)]]);
    assert!(walled.walk((45.0, 80.0), &[(55.0, 80.0)]).is_some());
    walled.close_area(&[vec![(50.0, 90.0), (50.0, 98.0), (50.0, 98.0)]]);
    assert!(walled.walk((40.0, 50.0), &[(60.0, 50.0)]).unwrap().may_leave);
}
