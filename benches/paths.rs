//! Measures the path network of 2,000 days of tracks: building it, storing it, and one query with
//! the stored bytes read again. Prints a table.

#![allow(clippy::print_stdout, clippy::unwrap_used)]

use std::time::Instant;

use trug::earth::local::Plane;
use trug::model::{Activity, TrackPoint};
use trug::units::{LatLon, Metres, Radius95, Seconds, Timestamp};
use trug::wayout::paths::{Builder, Entry, Net};

const DAYS: u32 = 2_000;
/// Fixes of a day, 10 s apart: five and a half hours.
const FIXES: u32 = 2_000;

fn main() {
    let plane = Plane::about(LatLon::new(-42.6, 146.1).unwrap());
    let begun = Instant::now();
    let mut builder = Builder::default();
    for day in 0..DAYS {
        builder.add(&wander(&plane, day), u64::from(day));
    }
    let net = builder.finish();
    println!("{DAYS} days of {FIXES} fixes, 40 sites within 12 km\n");
    row("making the net", begun.elapsed().as_secs_f64());
    let bytes = net.to_bytes();
    println!(
        "{:<44} {} nodes, {} pieces, {} MiB",
        "the net",
        net.nodes(),
        net.edges(),
        bytes.len() >> 20
    );
    let grown = Instant::now();
    let mut more = Builder::of(&net);
    more.add(&wander(&plane, DAYS), u64::from(DAYS));
    let _ = more.finish();
    row("adding one day", grown.elapsed().as_secs_f64());
    let goals: Vec<Entry> = (0..5).map(|site| Entry { at: site_at(&plane, site * 8) }).collect();
    let mut slowest: f64 = 0.0;
    let mut whole = 0.0;
    for question in 0..20 {
        let track = wander(&plane, question * 97);
        let from = track[track.len() * 2 / 3].at;
        let begun = Instant::now();
        let kept = Net::from_bytes(&bytes).unwrap();
        let route = kept.quickest(from, &goals, None);
        let took = begun.elapsed().as_secs_f64();
        assert!(route.is_some());
        slowest = slowest.max(took);
        whole += took;
    }
    row("a question, bytes read again, mean of 20", whole / 20.0);
    row("the slowest of them", slowest);
}

fn row(what: &str, seconds: f64) {
    println!("{what:<44} {:>9.1} ms", seconds * 1e3);
}

fn site_at(plane: &Plane, site: u32) -> LatLon {
    let mut random = random(u64::from(site) + 77);
    plane.from_plane((random() - 0.5) * 12_000.0, (random() - 0.5) * 12_000.0)
}

/// A day: from site to site, with searches around each.
fn wander(plane: &Plane, day: u32) -> Vec<TrackPoint> {
    let mut random = random(u64::from(day));
    let (from, to) = (day % 5 * 8, (day * 7) % 40);
    let (mut east, mut north) = plane.to_plane(site_at(plane, from));
    let (goal_east, goal_north) = plane.to_plane(site_at(plane, to));
    let mut heading: f64 = 0.0;
    (0..FIXES)
        .map(|fix| {
            let wanted = (goal_east - east).atan2(goal_north - north);
            let far = (goal_east - east).hypot(goal_north - north) > 150.0;
            heading = if far { wanted } else { heading } + (random() - 0.5) * 1.6;
            let speed = if far { 10.0 } else { 3.0 };
            east += heading.sin() * speed;
            north += heading.cos() * speed;
            TrackPoint {
                time: Seconds(f64::from(fix) * 10.0).after(Timestamp::UNIX_EPOCH),
                at: plane.from_plane(east, north),
                height: None,
                radius: Radius95::new(Metres(9.0)).unwrap(),
                activity: Activity::Searching,
                gap_after: false,
            }
        })
        .collect()
}

fn random(seed: u64) -> impl FnMut() -> f64 {
    let mut state = seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x1234_5678;
    move || {
        state =
            state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f64 / f64::from(1_u32 << 31)
    }
}
