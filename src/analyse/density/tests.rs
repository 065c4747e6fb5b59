//! Tests of the density: rates known by construction, flat ground, edges. Layer: `analyse`.

use super::*;
use crate::analyse::statistics::Rng;

const H: f64 = 60.0;

fn grid() -> Grid {
    Grid { west: -500.0, south: -500.0, cell: 10.0, columns: 100, rows: 100 }
}

fn map_with(h: f64, finds: &[PlaneFind], runs: &[SearchedRun]) -> DensityMap {
    let origin = bandwidth::Origin::Stated;
    let bandwidth = Bandwidth { origin, metres: h, before_floor: h, floor: 8.0 };
    let plane = EqualArea::about(LatLon::clamped(-42.0, 146.0));
    DensityMap::of(plane, grid(), bandwidth, finds, runs)
}

fn map(finds: &[PlaneFind], runs: &[SearchedRun]) -> DensityMap {
    map_with(H, finds, runs)
}

fn find(x: f64, y: f64) -> PlaneFind {
    PlaneFind { x, y, outing: 0, radius: 8.0 }
}

/// 800 m from west to east.
fn line() -> Vec<SearchedRun> {
    vec![SearchedRun { outing: 0, points: vec![(-400.0, 0.0), (400.0, 0.0)], weight: 1.0 }]
}

#[test]
fn the_rate_is_finds_over_track_and_unsearched_ground_is_masked() {
    // ten finds for each 100 m of track
    let finds: Vec<PlaneFind> = (0..80).map(|i| find(-395.0 + 10.0 * f64::from(i), 0.0)).collect();
    let map = map(&finds, &line());
    let at = |x: f64, y: f64| map.at(map.place(x, y));
    let (rate, _) = at(0.0, 0.0).unwrap();
    assert!((rate - 100.0).abs() < 0.5, "{rate}");
    assert!(at(0.0, 12.0).is_some() && at(0.0, 25.0).is_none() && at(425.0, 0.0).is_none());
    assert!((map.searched_km - 0.8).abs() < 1e-9 && (map.mean.value - 100.0).abs() < 1e-9);
    // as many finds on a hectare of searched ground as in all, whatever the kernel
    let searched = map.finds.iter().filter(|value| !value.is_nan());
    let whole: f64 = searched.sum::<f64>() * map.grid.cell_area() / 1e4;
    assert!((whole - 80.0).abs() < 3.0, "{whole}");
}

#[test]
fn walking_that_counts_half_doubles_the_rate() {
    let finds: Vec<PlaneFind> = (0..80).map(|i| find(-395.0 + 10.0 * f64::from(i), 0.0)).collect();
    let mut runs = line();
    runs[0].weight = 0.5;
    let map = map(&finds, &runs);
    assert!((map.mean.value - 200.0).abs() < 1e-9 && (map.searched_km - 0.4).abs() < 1e-9);
}

#[test]
fn relative_risk_is_the_share_here_over_the_share_everywhere() {
    // a find each ten metres; in the west half every second is of the taxon, in the east every
    // fifth
    let all: Vec<PlaneFind> = (0..80).map(|i| find(-395.0 + 10.0 * f64::from(i), 0.0)).collect();
    let taxon: Vec<PlaneFind> = (0..80_usize)
        .filter(|i| if *i < 40 { i % 2 == 0 } else { i % 5 == 0 })
        .map(|i| all[i])
        .collect();
    let masses = |finds: &[PlaneFind]| finds.iter().map(PlaneFind::mass).collect::<Vec<Mass>>();
    let map = map(&taxon, &line()).against(&masses(&all));
    let at = |x: f64, y: f64| map.relative[map.grid.index(x, y).unwrap()];
    let whole = taxon.len() as f64 / 80.0;
    assert!((at(-200.0, 0.0) - 0.5 / whole).abs() < 0.03, "{}", at(-200.0, 0.0));
    assert!((at(200.0, 0.0) - 0.2 / whole).abs() < 0.03, "{}", at(200.0, 0.0));
    assert!(at(0.0, 300.0).is_nan());
    // the taxon against itself is alike everywhere
    let same = map.clone().against(&masses(&taxon));
    assert!(same.relative.iter().all(|risk| risk.is_nan() || (risk - 1.0).abs() < 1e-9));
    let none = map.against(&[]);
    assert!(none.relative.iter().all(|risk| risk.is_nan()));
}

#[test]
fn a_find_beside_the_track_counts_where_it_was_made_from() {
    let finds: Vec<PlaneFind> = (0..20).map(|_| find(0.0, 40.0)).collect();
    let map = map(&finds, &line());
    let at = |x: f64, y: f64| map.per_km[map.grid.index(x, y).unwrap()];
    // as high on the other side of the track, and no higher at the edge
    assert!((at(0.0, 12.0) / at(0.0, -12.0) - 1.0).abs() < 0.02);
    assert!((at(0.0, 12.0) / at(0.0, 2.0) - 1.0).abs() < 0.02);
    assert!(at(0.0, 2.0) > 2.0 * at(300.0, 2.0));
    // one that was made far from any track is in no rate
    let off = [find(0.0, 300.0)];
    assert_eq!(map_with(H, &off, &line()).made_from_track, 0);
}

#[test]
fn search_without_a_find_has_an_upper_limit() {
    let map = map(&[], &line());
    let (rate, limit) = map.at(map.place(0.0, 0.0)).unwrap();
    assert!(rate.abs() < 1e-12 && limit > 5.0 && limit < 30.0, "{limit}");
}

/// Twenty-four outings that cover 800 m by 800 m evenly, line by line, and find with a constant rate
/// per kilometre, up to 8 m beside the track.
fn flat(rng: &mut Rng, per_km: f64) -> (Vec<PlaneFind>, Vec<SearchedRun>) {
    let (mut finds, mut runs) = (Vec::new(), Vec::new());
    for outing in 0..24 {
        let turned = outing % 2 == 1;
        let turn = |x: f64, y: f64| if turned { (y, x) } else { (x, y) };
        let first = 40.0 * rng.uniform();
        let mut points = Vec::new();
        for line in 0..20 {
            let y = -400.0 + first + 40.0 * f64::from(line);
            let ends = if line % 2 == 0 { [-400.0, 400.0] } else { [400.0, -400.0] };
            points.extend(ends.map(|x| turn(x, y)));
        }
        // finds along the whole way, the steps from line to line included
        for ends in points.windows(2) {
            let (dx, dy): (f64, f64) = (ends[1].0 - ends[0].0, ends[1].1 - ends[0].1);
            let length = dx.hypot(dy);
            for _ in 0..rng.poisson(per_km * length / 1e3) {
                let (along, aside) = (rng.uniform(), (16.0 * rng.uniform() - 8.0) / length);
                let x = ends[0].0 + along * dx - aside * dy;
                let y = ends[0].1 + along * dy + aside * dx;
                finds.push(PlaneFind { x, y, outing, radius: 8.0 });
            }
        }
        runs.push(SearchedRun { outing, points, weight: 1.0 });
    }
    (finds, runs)
}

#[test]
fn flat_ground_is_flat_to_the_edge_within_its_error() {
    let mut rng = Rng::new(1_021);
    let (mut within, mut all, mut rim, mut top) = (0.0, 0.0, 0.0, 0.0_f64);
    let maps = 8;
    for _ in 0..maps {
        let (finds, runs) = flat(&mut rng, 1.0);
        let map = map_with(50.0, &finds, &runs);
        let (mut at_rim, mut inside) = ((0.0, 0.0), (0.0, 0.0));
        for (index, rate) in map.per_km.iter().enumerate().filter(|(_, rate)| !rate.is_nan()) {
            let (column, row) = (index % 100, index / 100);
            let (x, y) = (map.grid.x(column).abs(), map.grid.y(row).abs());
            let sums = if x.max(y) > 370.0 { &mut at_rim } else { &mut inside };
            *sums = (sums.0 + rate, sums.1 + 1.0);
            within += f64::from(u8::from((rate - 1.0).abs() <= 1.96 * map.error[index]));
            all += 1.0;
            top = top.max(*rate);
        }
        rim += at_rim.0 / at_rim.1 / (inside.0 / inside.1) / f64::from(maps);
    }
    assert!((rim - 1.0).abs() < 0.03, "rim {rim}");
    assert!(top < 1.6, "highest {top}");
    assert!(within / all > 0.9, "within the error {}", within / all);
}

#[test]
fn ground_that_differs_is_not_flattened() {
    let mut rng = Rng::new(1_022);
    let (mut finds, runs) = flat(&mut rng, 3.0);
    // the west half has a third of the rate
    finds.retain(|find| find.x > 0.0 || rng.uniform() < 1.0 / 3.0);
    let map = map_with(50.0, &finds, &runs);
    let mean = |from: f64, to: f64| {
        let cells: Vec<f64> = (0..map.per_km.len())
            .filter(|index| (from..to).contains(&map.grid.x(index % 100)))
            .map(|index| map.per_km[index])
            .filter(|rate| !rate.is_nan())
            .collect();
        cells.iter().sum::<f64>() / cells.len() as f64
    };
    let (west, east) = (mean(-400.0, -60.0), mean(60.0, 400.0));
    assert!((west - 1.0).abs() < 0.35 && (east - 3.0).abs() < 0.35, "{west} {east}");
}

#[test]
fn the_bandwidth_of_a_rate_does_not_follow_the_track() {
    let mut rng = Rng::new(1_023);
    // everybody walks the same two lines, far apart; the rate is constant
    let (mut finds, mut track) = (Vec::new(), Vec::new());
    for outing in 0..12 {
        for y in [-300.0, 300.0] {
            for step in 0..80 {
                let x = -400.0 + 10.0 * f64::from(step);
                track.push((Mass { x, y, weight: 10.0 }, outing));
                if rng.uniform() < 0.03 {
                    finds.push((Mass { x, y, weight: 1.0 }, outing));
                }
            }
        }
    }
    let chosen = rate_bandwidth::by_rate(&finds, &track, 10.0, 400.0).unwrap();
    assert!(chosen > 100.0, "{chosen}");
    assert!(rate_bandwidth::by_rate(&[], &track, 10.0, 400.0).is_none());
}

#[test]
fn cells_are_round_and_the_grid_holds_everything() {
    for (side, most) in [(137.0, 64), (1_000.0, 256), (52_341.0, 256), (3.3, 16)] {
        let points = [
            Mass { x: -0.7 * side, y: 12.0, weight: 1.0 },
            Mass { x: 0.3 * side, y: 12.0 + 0.4 * side, weight: 1.0 },
        ];
        let grid = grid_about(&points, 0.01 * side, most).unwrap();
        let digits = grid.cell / 10_f64.powf(grid.cell.log10().floor());
        assert!([1.0, 2.0, 2.5, 5.0, 10.0].iter().any(|d| (d - digits).abs() < 1e-9), "{grid:?}");
        assert!((grid.west / grid.cell).fract().abs() < 1e-6, "{grid:?}");
        assert!(points.iter().all(|p| grid.index(p.x, p.y).is_some()) && grid.columns <= most);
    }
}

/// The same ground, with a rate that differs from outing to outing by a log-normal factor of this spread.
fn overdispersed(rng: &mut Rng, spread: f64) -> (Vec<PlaneFind>, Vec<SearchedRun>) {
    let (finds, runs) = flat(rng, 6.0);
    let kept: Vec<f64> =
        runs.iter().map(|_| (spread * rng.normal() - spread * spread / 2.0).exp() / 6.0).collect();
    let finds = finds.into_iter().filter(|find| rng.uniform() < kept[find.outing]).collect();
    (finds, runs)
}

#[test]
fn outings_that_differ_widen_the_interval_of_the_mean_and_the_error_of_the_map() {
    let mut rng = Rng::new(1_024);
    let (mut held, mut cells, mut within, mut cv) = (0, 0.0, 0.0, 0.0);
    let maps = 40;
    for _ in 0..maps {
        let (finds, runs) = overdispersed(&mut rng, 0.7);
        let map = map_with(50.0, &finds, &runs);
        held += usize::from(map.mean.low95 <= 1.0 && 1.0 <= map.mean.high95);
        cv += map.overdispersion / f64::from(maps);
        for (index, rate) in map.per_km.iter().enumerate().filter(|(_, rate)| !rate.is_nan()) {
            within += f64::from(u8::from((rate - 1.0).abs() <= 1.96 * map.error[index]));
            cells += 1.0;
        }
    }
    // 38 are expected; a Poisson interval holds 26
    assert!(held >= 34, "{held} of {maps}");
    assert!(within / cells > 0.9, "{}", within / cells);
    // that of the log-normal factor is 0.80
    assert!((0.45..1.0).contains(&cv), "{cv}");
}

#[test]
fn effort_is_level_to_the_edge_of_evenly_searched_ground() {
    let mut rng = Rng::new(1_026);
    let (finds, runs) = flat(&mut rng, 1.0);
    for h in [20.0, 50.0, 90.0] {
        let map = map_with(h, &finds, &runs);
        let mean = |rim: bool| {
            let cells: Vec<f64> = (0..map.effort.len())
                .filter(|index| {
                    let (x, y) = (map.grid.x(index % 100).abs(), map.grid.y(index / 100).abs());
                    x.max(y) < 380.0 && (x.max(y) > 350.0) == rim
                })
                .map(|index| map.effort[index])
                .collect();
            cells.iter().sum::<f64>() / cells.len() as f64
        };
        // without the share of the kernel the outermost 30 m have 0.6 of the middle
        let rim = mean(true) / mean(false);
        assert!((0.9..1.1).contains(&rim), "{h}: {rim}");
    }
}

/// Finds along the tracks as often as a rate says, without chance: one whenever another is due.
fn due(runs: &[SearchedRun], per_km: impl Fn(f64) -> f64) -> Vec<PlaneFind> {
    let (mut finds, mut due) = (Vec::new(), 0.5);
    for run in runs {
        for ends in run.points.windows(2) {
            let (dx, dy) = (ends[1].0 - ends[0].0, ends[1].1 - ends[0].1);
            let steps = dx.hypot(dy).ceil();
            let mut step = 0.5;
            while step < steps {
                let (x, y) = (ends[0].0 + dx * step / steps, ends[0].1 + dy * step / steps);
                due += per_km(x) * dx.hypot(dy) / steps / 1e3;
                step += 1.0;
                if due >= 1.0 {
                    due -= 1.0;
                    finds.push(PlaneFind { x, y, outing: run.outing, radius: 8.0 });
                }
            }
        }
    }
    finds
}

#[test]
fn gradient_is_not_levelled_at_the_rim() {
    let (_, runs) = flat(&mut Rng::new(1_027), 1.0);
    // from 0 in the west to 10 finds per kilometre in the east
    let finds = due(&runs, |x| ((x + 400.0) / 80.0).clamp(0.0, 10.0));
    let map = map_with(60.0, &finds, &runs);
    let mean = |from: f64, of: &dyn Fn(usize) -> f64| {
        let within = |index: &usize| {
            let (x, y) = (map.grid.x(index % 100), map.grid.y(index / 100));
            (from..from + 20.0).contains(&x) && y.abs() < 300.0 && !map.per_km[*index].is_nan()
        };
        let cells: Vec<f64> = (0..map.per_km.len()).filter(within).map(of).collect();
        cells.iter().sum::<f64>() / cells.len() as f64
    };
    let (rate, plain) =
        (|cell: usize| map.per_km[cell], |cell: usize| map.finds[cell] / map.effort[cell]);
    for (from, truth) in [(-400.0, 0.125), (-10.0, 5.0), (380.0, 9.875)] {
        let (rate, plain) = (mean(from, &rate), mean(from, &plain));
        // what is left is the draw to the mean
        assert!((rate - truth).abs() < 0.25, "{from}: {rate}, plain quotient {plain}");
        assert_eq!(
            (plain - truth).abs() > 0.3,
            from.abs() > 100.0,
            "{from}: plain quotient {plain}"
        );
    }
}

/// A companion who walks along on every outing and records every find as well is no second sample.
#[test]
fn a_companion_on_every_outing_makes_no_rate_more_certain() {
    let mut rng = Rng::new(1_006);
    let (mut finds, mut runs) = (Vec::new(), Vec::new());
    for outing in 0..24 {
        let effect = (0.7 * rng.normal() - 0.245).exp();
        let y = -200.0 + 17.0 * outing as f64;
        runs.push(SearchedRun { outing, points: vec![(-400.0, y), (400.0, y)], weight: 1.0 });
        for _ in 0..rng.poisson(5.0 * effect) {
            let x = 800.0 * rng.uniform() - 400.0;
            finds.push(PlaneFind { x, y, outing, radius: 8.0 });
        }
    }
    let doubled = |apart: usize| {
        let own = finds.iter().map(|find| PlaneFind { outing: find.outing + apart, ..*find });
        let other: Vec<SearchedRun> = runs
            .iter()
            .map(|run| SearchedRun { outing: run.outing + apart, ..run.clone() })
            .collect();
        let finds: Vec<PlaneFind> = finds.iter().copied().chain(own).collect();
        map(&finds, &[runs.clone(), other].concat())
    };
    let (alone, unit, persons) = (map(&finds, &runs), doubled(0), doubled(100));
    let width = |map: &DensityMap| (map.mean.high95 / map.mean.low95).ln();
    assert!((alone.mean.value - unit.mean.value).abs() < 1e-9);
    assert_eq!((alone.outings, unit.outings, persons.outings), (24, 24, 48));
    assert!(width(&unit) > 0.999 * width(&alone), "{} {}", width(&unit), width(&alone));
    assert!(width(&persons) < 0.85 * width(&alone), "the test can fail");
    let error = |map: &DensityMap| {
        let known = map.error.iter().filter(|error| !error.is_nan());
        known.clone().sum::<f64>() / known.count() as f64
    };
    assert!(error(&unit) > 0.9 * error(&alone), "{} {}", error(&unit), error(&alone));
}
