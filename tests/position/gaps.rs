//! Measures the coverage of positions from photographs on simulated days with a longer piece of the track
//! withheld around a stop.

use trug::join::{CameraClockOption, Options, join};
use trug::units::Seconds;

use super::simulation::condition::{ALL, Condition};
use super::simulation::day::{SimulatedDay, simulate};
use super::simulation::score::quantile;

/// Metres from the truth, the radius, and metres of the straight line between the recorded fixes.
type Find = (f64, f64, f64);

/// Finds whose photographs were all taken in a piece of so many seconds that is withheld about one of
/// them.
fn unseen(condition: &Condition, seed: u64, lasts: f64) -> Vec<Find> {
    let mut day = simulate(condition, seed);
    let about = &day.finds[3 + (seed % 13) as usize];
    let from = about.shots[0] - (0.2 + 0.05 * (seed % 13) as f64) * lasts;
    let piece = (from, from + lasts);
    day.fixes.retain(|fix| !(piece.0..piece.1).contains(&fix.0));
    for segment in day.intake.tracks[0].tracks.iter_mut().flat_map(|track| &mut track.segments) {
        let start = day.start;
        segment.fixes.retain(|fix| {
            let time = Seconds::between(start, fix.time.unwrap()).0;
            !(piece.0..piece.1).contains(&time)
        });
    }
    let camera_clock = CameraClockOption::Ahead(Seconds(condition.ahead));
    let options = Options { camera_clock, ..Options::default() };
    let joined = join(day.intake.clone(), &options);
    let finds = joined.iter().flat_map(|joined| &joined.finds);
    finds.filter_map(|find| scored(&day, find, piece)).collect()
}

fn scored(day: &SimulatedDay, find: &trug::model::Find, piece: (f64, f64)) -> Option<Find> {
    let number = &find.record.number.as_ref()?.0;
    let truth = day.finds.iter().find(|truth| truth.number == *number)?;
    if !truth.shots.iter().all(|shot| (piece.0..piece.1).contains(shot)) {
        return None;
    }
    let middle = truth.shots.iter().sum::<f64>() / truth.shots.len() as f64;
    let straight = super::simulation::score::interpolated(day, middle)?;
    let off = |at: (f64, f64)| (at.0 - truth.east).hypot(at.1 - truth.north);
    let (error, radius) = find
        .place
        .as_ref()
        .map_or((2e7, 0.0), |place| (off(day.plane.to_plane(place.at)), place.radius.metres().0));
    Some((error, radius, off(straight)))
}

fn of_length(minutes: f64, seeds: std::ops::Range<u64>) -> Vec<Find> {
    let names = ["5 s, 7 m, 180 E", "10 s, 6 m", "60 s, 5 m"];
    let conditions = ALL.iter().filter(|condition| names.contains(&condition.name));
    conditions
        .flat_map(|condition| {
            seeds.clone().flat_map(|seed| unseen(condition, seed, 60.0 * minutes))
        })
        .collect()
}

fn row(finds: &[Find]) -> String {
    let part = |of: fn(&Find) -> f64| finds.iter().map(of).collect::<Vec<f64>>();
    let (errors, radii, straight) = (part(|find| find.0), part(|find| find.1), part(|find| find.2));
    format!(
        "{} | {:.1} | {:.0}, {:.0} | {:.0}, {:.0} | {:.0} |",
        finds.len(),
        100.0 * held(finds),
        quantile(&straight, 0.5),
        quantile(&straight, 0.95),
        quantile(&errors, 0.5),
        quantile(&errors, 0.95),
        quantile(&radii, 0.5),
    )
}

fn held(finds: &[Find]) -> f64 {
    finds.iter().filter(|find| find.0 <= find.1).count() as f64 / finds.len() as f64
}

/// Prints the second table of gaps in `docs/position.md`: `cargo test --test position
/// unseen_stops_report -- --ignored --nocapture`.
#[test]
#[ignore = "takes minutes; the table for the documentation"]
#[allow(clippy::print_stdout, reason = "a report")]
fn unseen_stops_report() {
    println!("| withheld | finds | held, % | straight | trug | median radius |");
    println!("|---|---|---|---|---|---|");
    for minutes in [1.0, 2.0, 4.0, 7.0, 10.0, 20.0, 30.0] {
        println!("| {minutes} min | {}", row(&of_length(minutes, 0..13)));
    }
}

#[test]
fn radii_of_finds_in_long_gaps_cover_the_truth() {
    let finds: Vec<Find> =
        [7.0, 20.0].into_iter().flat_map(|minutes| of_length(minutes, 20..24)).collect();
    assert!(finds.len() >= 30, "{}", row(&finds));
    assert!(held(&finds) >= 0.85, "{}", row(&finds));
    let median = |of: fn(&Find) -> f64| quantile(&finds.iter().map(of).collect::<Vec<_>>(), 0.5);
    assert!(median(|find| find.0) < 1.15 * median(|find| find.2), "{}", row(&finds));
}
