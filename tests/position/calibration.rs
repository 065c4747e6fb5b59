//! Are the circles honest and the positions good? A small number of days each, as often as the
//! tests run; `report` prints the whole table.

use super::simulation::condition::ALL;
use super::simulation::score::{Score, quantile};

/// Prints the table of `docs/position.md`: `cargo test --test position report -- --ignored
/// --nocapture`, with `TRUG_SIMULATED_DAYS` for the number of days of each condition.
#[test]
#[ignore = "takes minutes; the table for the documentation"]
#[allow(clippy::print_stdout, reason = "a report")]
fn report() {
    let days = std::env::var("TRUG_SIMULATED_DAYS").ok().and_then(|n| n.parse().ok()).unwrap_or(20);
    println!(
        "| condition | raw median, 95 % | window | oracle | trug median, 95 % | ratio | held % | radius/median | clock within 5 s | held | declined |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|---|");
    let wanted = std::env::var("TRUG_CONDITION").unwrap_or_default();
    for condition in ALL.iter().filter(|condition| condition.name.contains(&wanted)) {
        let score = Score::of(condition, 0..days);
        println!("{}", row(condition.name, &score));
    }
}

fn row(name: &str, score: &Score) -> String {
    let pair =
        |values: &[f64]| format!("{:.1}, {:.1}", quantile(values, 0.5), quantile(values, 0.95));
    let errors = score.errors();
    let worse = quantile(&score.raw, 0.95).max(quantile(&score.window, 0.95));
    let told: Vec<&(f64, bool)> = score.clocks.iter().flatten().collect();
    let near = told.iter().filter(|clock| clock.0.abs() <= 5.0).count();
    let held = told.iter().filter(|clock| clock.1).count();
    let sum: f64 = told.iter().map(|clock| clock.0).sum::<f64>() / told.len() as f64;
    format!(
        "| {name} | {} | {} | {} | {} | {:.2} | {:.1} | {:.2} | {near}/{} (mean {sum:+.1}) | {held} | {} | {} conf {} unl",
        pair(&score.raw),
        pair(&score.window),
        pair(&score.oracle),
        pair(&errors),
        quantile(&errors, 0.95) / worse,
        100.0 * score.covered(),
        quantile(&score.radii(), 0.5) / quantile(&errors, 0.5),
        score.days,
        score.days - told.len(),
        score.conflicts,
        score.unlocated,
    )
}
