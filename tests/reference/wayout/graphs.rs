//! Source: `scipy.sparse.csgraph.dijkstra` on the same graphs, made by
//! `tests/outside/shortest_walks.py`.

use trug::earth::local::Plane;
use trug::model::{Activity, TrackPoint};
use trug::units::{LatLon, Metres, Radius95, Seconds, Timestamp};
use trug::wayout::paths::{Builder, Entry};
use trug::wayout::terrain::Terrain;

use crate::earth::{number, rows};

#[test]
fn the_search_over_a_field_is_exact_on_its_sixteen_neighbours() {
    let table = rows("terrain_dijkstra.csv");
    let heights: Vec<f32> = table.iter().map(|row| number(row, 0) as f32).collect();
    assert_eq!(heights.len(), 1_600);
    let mut terrain = Terrain::new(40, 40, (25.0, 25.0), &heights);
    let field = terrain.field((3.0, 5.0)).unwrap();
    let mut worst: f64 = 0.0;
    for (row, cost) in table.iter().zip(field) {
        let (expected, found) = (number(row, 1), f64::from(cost.unwrap()) / 1e3);
        if expected > 0.0 {
            worst = worst.max((found / expected - 1.0).abs());
        }
    }
    // each move is rounded up to a whole millisecond, and heights to a tenth of a metre
    assert!(worst < 2e-4, "{worst}");
}

/// A straight walk between two corners of a lattice.
fn walk(plane: &Plane, from: (f64, f64), to: (f64, f64)) -> Vec<TrackPoint> {
    (0..=40)
        .map(|step| {
            let share = f64::from(step) / 40.0;
            TrackPoint {
                time: Seconds(f64::from(step) * 3.0).after(Timestamp::UNIX_EPOCH),
                at: plane
                    .from_plane(from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share),
                height: None,
                radius: Radius95::new(Metres(7.0)).unwrap(),
                activity: Activity::Walking,
                gap_after: false,
            }
        })
        .collect()
}

#[test]
fn the_quickest_ways_along_random_nets_are_those_of_a_graph_library() {
    let plane = Plane::about(LatLon::new(-42.0, 146.0).unwrap());
    let corner = |index: usize| ((index % 6) as f64 * 120.0, (index / 6) as f64 * 120.0);
    let mut compared = 0;
    for row in rows("lattice_dijkstra.csv") {
        let mut builder = Builder::default();
        let mut print = 0;
        for edge in row[0].split(' ') {
            let (ends, passes) = edge.split_once('*').unwrap();
            let (a, b) = ends.split_once('-').unwrap();
            for _ in 0..passes.parse::<u32>().unwrap() {
                builder.add(
                    &walk(&plane, corner(a.parse().unwrap()), corner(b.parse().unwrap())),
                    print,
                );
                print += 1;
            }
        }
        let net = builder.finish();
        for (index, expected) in row[1].split(' ').enumerate().skip(1) {
            let expected: f64 = expected.parse().unwrap();
            let (x, y) = corner(index);
            let goal = Entry { at: plane.from_plane(x, y) };
            let found = net.quickest(plane.origin(), &[goal], None);
            if expected.is_finite() {
                let found = found.unwrap().duration.0;
                assert!(
                    (found / expected - 1.0).abs() < 0.01,
                    "corner {index}: {found} {expected}"
                );
                compared += 1;
            }
        }
    }
    assert!(compared > 300, "{compared}");
}
