//! Formats detection and presence probabilities as text and as JSON. Layer: `present`.

use std::fmt::Write;

use serde_json::{Value, json};

use super::answers;
use super::estimates::wrapped;
use super::sites::rounded;
use crate::analyse::detection::{ByTime, Estimate, Occupancy};
use crate::present::summary::words::counted;

/// Flat properties; probabilities from 0 to 1, durations in minutes.
#[must_use]
pub fn properties(of: &str, sites: usize, in_passing: usize, fitted: &Occupancy) -> Value {
    let mut map = serde_json::Map::new();
    let mut put = |name: &str, value: Value| map.insert(name.to_owned(), value);
    put("of", json!(of));
    for (name, estimate) in [
        ("per_visit", Some(fitted.per_visit)),
        ("present", Some(fitted.present)),
        ("power_of_time", fitted.by_time.map(|by_time| by_time.power)),
    ] {
        put(name, json!(estimate.map(|estimate| estimate.value)));
        put(&format!("{name}_low95"), json!(estimate.map(|estimate| estimate.low95)));
        put(&format!("{name}_high95"), json!(estimate.map(|estimate| estimate.high95)));
    }
    put("present_determined", json!(!fitted.present.tells_nothing()));
    put("per_visit_determined", json!(fitted.per_visit_determined()));
    put("minutes", json!(fitted.usual.map(|minutes| rounded(minutes, 2))));
    let visits = fitted.visits_determined().then_some(fitted.visits_for_95);
    put("visits_for_95", json!(visits.map(|visits| visits.0)));
    put("visits_for_95_fewest", json!(visits.map(|visits| visits.1)));
    put("visits_for_95_most", json!(visits.map(|visits| visits.2)));
    put("by_time", json!(fitted.by_time.is_some_and(|by_time| by_time.used)));
    put("sites", json!(sites));
    put("site_seasons", json!(fitted.seasons));
    put("visits", json!(fitted.visits));
    put("visits_in_passing", json!(in_passing));
    put("aic", json!(rounded(fitted.aic, 4)));
    put("aic_alike", json!(fitted.by_time.map(|by_time| rounded(by_time.aic_alike, 4))));
    put("aic_by_time", json!(fitted.by_time.map(|by_time| rounded(by_time.aic_by_time, 4))));
    Value::Object(map)
}

/// The text for a terminal.
#[must_use]
pub fn text(of: &str, sites: usize, in_passing: usize, fitted: &Occupancy) -> String {
    let answer = answers::detection(of, fitted, &chance(fitted.per_visit), &without_find(fitted));
    let mut text = format!(
        "{}{} in {} of {}\n\n",
        wrapped(&answer),
        counted(fitted.visits, "searched visit", "searched visits"),
        counted(fitted.seasons, "season", "seasons"),
        counted(sites, "site", "sites")
    );
    let mut row = |name: &str, value: &str| {
        let _ = writeln!(text, "  {name:<44} {value}");
    };
    let length = fitted.usual.map_or_else(String::new, |minutes| format!(" of {}", span(minutes)));
    row(&format!("detection per visit{length}, if present"), &chance(fitted.per_visit));
    row("presence per season, at a known site", &chance(fitted.present));
    row(&format!("visits without a find{length} for absence (95 %)"), &without_find(fitted));
    let _ = write!(text, "\n{}", remarks(fitted));
    if let Some(why) = left_out(in_passing) {
        let _ = write!(text, "{}", wrapped(&format!("Not counted: {why}.")));
    }
    text + answers::DETECTION
}

/// Visits with a find that are no trial; `None` where there is none.
#[must_use]
pub fn left_out(in_passing: usize) -> Option<String> {
    let visits = counted(in_passing, "visit", "visits");
    (in_passing > 0).then(|| {
        format!(
            "{visits} with a find but no search besides the stop at it, since such a visit without a find \
             cannot be recognised"
        )
    })
}

/// Minutes, or seconds for short durations.
fn span(minutes: f64) -> String {
    if minutes < 1.5 {
        format!("{:.0} s", 60.0 * minutes)
    } else if minutes < 9.95 {
        format!("{minutes:.1} min")
    } else {
        format!("{minutes:.0} min")
    }
}

fn chance(estimate: Estimate) -> String {
    let percent = |value: f64| format!("{:.0}", 100.0 * value);
    let (low, high) = (percent(estimate.low95), percent(estimate.high95));
    if !estimate.tells_nothing() && estimate.low95 <= 0.0 {
        format!("at most {high} % (95 %)")
    } else if estimate.tells_nothing() {
        format!("not determined: {low} to {high} % is compatible")
    } else {
        format!("{} % (95 %: {low} to {high} %)", percent(estimate.value))
    }
}

fn without_find(fitted: &Occupancy) -> String {
    /// Upper limit of the reported number of visits.
    const ENDLESS: u32 = 1000;
    let (likely, fewest, most) = fitted.visits_for_95;
    if !fitted.visits_determined() {
        return "not determined".to_owned();
    }
    let most = if most > ENDLESS { format!("over {ENDLESS}") } else { most.to_string() };
    format!("{likely} (95 %: {fewest} to {most})")
}

fn remarks(fitted: &Occupancy) -> String {
    let time = match &fitted.by_time {
        None => "The visit lengths are unknown or all equal.".to_owned(),
        Some(ByTime { used: false, aic_alike, aic_by_time, .. }) => format!(
            "No clear effect of visit length (AIC {aic_alike:.1} without, \
             {aic_by_time:.1} with):\nvisits are treated as equal."
        ),
        Some(of @ ByTime { power, .. }) if of.is_at_limit() => format!(
            "Longer visits find more: how much is not determined, the power of the time is at least {:.2} (95 %)\n\
             and the largest that is fitted is {:.0}.",
            power.low95, power.value
        ),
        Some(ByTime { power, aic_alike, aic_by_time, .. }) => format!(
            "Longer visits find more: the hazard of detection rises as time^{:.2} (95 %: {:.2} to {:.2}),\nAIC \
             {aic_by_time:.1} with and {aic_alike:.1} without the effect of visit length.",
            power.value, power.low95, power.high95
        ),
    };
    format!(
        "{time}\nPlaces where it was never found are not known; the figures allow for that. The second is \
         the chance\nof one season, the next one row; of the seasons looked at it was there in more, as \
         they made\nthe site known.\n"
    )
}
