//! Formats a season as text, as JSON and as the headline of a figure. Layer: `present`.

use std::fmt::Write;

use serde_json::{Value, json};

use super::answers;
use super::estimates::wrapped;
use super::sites::rounded;
use crate::analyse::season::{DayEstimate, DayRate, Edges, Per, Season, day_words, p_words};
use crate::analyse::years::{LEAST_FINDS, LEAST_FOR_TREND, TooFew, Trend, YearsOf};
use crate::model::SeasonNote;
use crate::present::chart;
use crate::present::coded::with_sentence;
use crate::present::summary::words::counted;

/// The years of the same finds, for the shift by decade.
type Years = Result<YearsOf, TooFew>;

/// The season as flat properties; dates as days of the year.
#[must_use]
pub fn properties(taxon: &str, season: &Season, years: &Years) -> Value {
    let mut map = serde_json::Map::new();
    let mut put = |name: &str, value: Value| map.insert(name.to_owned(), value);
    put("taxon", json!(taxon));
    put("outings", json!(season.outings));
    put("outings_with_find", json!(season.outings_with_find));
    put("finds", json!(season.finds));
    put("per", json!(season.per));
    put(total_key(season.per), json!(rounded(season.searched_hours, 2)));
    put("years", json!(season.years));
    put("peak_day_of_year", json!(season.peak.day.round()));
    // an end beyond the searched period has no day
    let edges = season.edges;
    put("peak_low95", json!((!edges.peak_early).then_some(season.peak.low95)));
    put("peak_high95", json!((!edges.peak_late).then_some(season.peak.high95)));
    put("clear_peak", json!(season.clear_peak));
    put("peak_open", json!(open_sides(&edges)));
    put("p_value", json!(rounded(season.p_value, 4)));
    for (name, estimate, open_low, open_high) in [
        ("onset", season.onset, edges.onset, false),
        ("tenth", Some(season.tenth), false, false),
        ("median", Some(season.median), false, false),
        ("ninetieth", Some(season.ninetieth), false, false),
        ("end", season.end, false, edges.end),
    ] {
        let (low, high) = (estimate.map(|e| e.low95), estimate.map(|e| e.high95));
        put(name, json!(estimate.map(|estimate| estimate.day)));
        put(&format!("{name}_low95"), json!(low.filter(|_| !open_low)));
        put(&format!("{name}_high95"), json!(high.filter(|_| !open_high)));
    }
    put("onset_open", json!(edges.onset));
    put("onset_no_later_than", json!(season.find_dates.first.day));
    put("end_open", json!(edges.end));
    put("end_at_least_until", json!(season.find_dates.last.day));
    put("searched_from", json!(edges.first_search));
    put("searched_until", json!(edges.last_search));
    put("dates_of_finds", json!(season.find_dates));
    put(
        "circular_mean_day",
        json!(season.circular.map(|c| crate::analyse::season::day_of_year(c.mean))),
    );
    put("circular_resultant", json!(season.circular.map(|c| rounded(c.resultant, 4))));
    put("rayleigh_p", json!(season.circular.map(|c| c.rayleigh)));
    put("dispersion", json!(rounded(season.dispersion, 3)));
    put("overdispersion", json!(rounded(season.overdispersion, 3)));
    let shift = &season.by_elevation;
    let mut by_elevation = json!(shift);
    by_elevation["statement"] = shift.finding.to_string().into();
    put("by_elevation", by_elevation);
    put("shift_by_decade", json!(years.as_ref().ok().and_then(|of| of.shift)));
    put("curve", json!(season.curve));
    put("weeks", json!(season.weeks));
    let note = |note: &SeasonNote| with_sentence(note, &note.to_string());
    put("remarks", season.remarks.iter().map(note).collect());
    Value::Object(map)
}

fn total_key(per: Per) -> &'static str {
    match per {
        Per::Hour => "searched_hours",
        Per::Km => "searched_km",
        Per::Hectare => "searched_ha",
    }
}

pub(super) fn units(per: Per) -> &'static str {
    match per {
        Per::Hour => "hours",
        Per::Km => "km",
        Per::Hectare => "ha",
    }
}

fn open_sides(edges: &Edges) -> Option<&'static str> {
    match (edges.peak_early, edges.peak_late) {
        (true, true) => Some("both"),
        (true, false) => Some("early"),
        (false, true) => Some("late"),
        (false, false) => None,
    }
}

fn words(estimate: DayEstimate) -> String {
    open_words(estimate, None, None, "be")
}

/// The estimate with its interval; open sides name the limit of the searched period.
fn open_words(
    estimate: DayEstimate,
    after: Option<f64>,
    before: Option<f64>,
    verb: &str,
) -> String {
    let day = day_words(estimate.day);
    let at = match (after == Some(estimate.day), before == Some(estimate.day)) {
        (true, _) => format!("{day} or earlier"),
        (_, true) => format!("{day} or later"),
        _ => day,
    };
    let interval = match (after, before) {
        (None, None) => {
            format!(" (95 %: {} to {})", day_words(estimate.low95), day_words(estimate.high95))
        }
        (Some(_), None) => format!(" (95 %: until {})", day_words(estimate.high95)),
        (None, Some(_)) => format!(" (95 %: from {})", day_words(estimate.low95)),
        (Some(_), Some(_)) => String::new(),
    };
    format!("{at}{interval}{}", open_sides_words(after, before, verb))
}

/// `; may peak after 10 Nov: nothing was searched then`; empty for a closed interval.
fn open_sides_words(after: Option<f64>, before: Option<f64>, verb: &str) -> String {
    let sides: Vec<String> = [(after, "before"), (before, "after")]
        .into_iter()
        .filter_map(|(limit, side)| limit.map(|day| format!("{side} {}", day_words(day))))
        .collect();
    if sides.is_empty() {
        return String::new();
    }
    format!("; may {verb} {}: nothing was searched then", sides.join(" or "))
}

pub(super) fn peak_words(season: &Season) -> String {
    let edges = season.edges;
    open_words(
        season.peak,
        edges.first_search.filter(|_| edges.peak_early),
        edges.last_search.filter(|_| edges.peak_late),
        "peak",
    )
}

/// Shown instead of a date where the rate has no significant peak.
pub(super) fn no_clear_peak(season: &Season) -> String {
    format!("no clear peak in these data ({})", p_words(season.p_value))
}

/// `30 finds on 9 of 40 outings`, with the number of seasons if asked for.
pub(super) fn found_on(season: &Season, seasons: bool) -> String {
    let finds = counted(season.finds as usize, "find", "finds");
    let outings = counted(season.outings, "outing", "outings");
    let on = format!("{finds} on {} of {outings}", season.outings_with_find);
    if seasons { format!("{on} in {}", counted(season.years, "season", "seasons")) } else { on }
}

/// The finding in a sentence or two, with its interval.
#[must_use]
pub fn headline(season: &Season) -> String {
    let unit = match season.per {
        Per::Hour => "hour",
        Per::Km => "km",
        Per::Hectare => "ha",
    };
    let there = season.curve.iter().find(|day| f64::from(day.day) == season.peak.day.round());
    let rate = there.map(|day| rate_words(day, unit));
    if season.clear_peak {
        let about = format!("Most finds per {unit} searched about {}.", peak_words(season));
        return match rate {
            Some(rate) => format!("{about} The rate is then {rate}."),
            None => about,
        };
    }
    let none = no_clear_peak(season).replacen("no", "No", 1);
    match rate {
        Some(rate) if level(season) => format!("{none}. The rate is {rate} on all searched days."),
        Some(rate) => {
            let day = day_words(season.peak.day);
            format!("{none}. The highest rate, {rate} about {day}, may be chance.")
        }
        None => format!("{none}."),
    }
}

/// Whether the estimated rate is the same on all searched days.
fn level(season: &Season) -> bool {
    let rates = || season.curve.iter().filter(|day| day.searched).map(|day| day.rate);
    rates().fold(0.0, f64::max) <= 1.05 * rates().fold(f64::INFINITY, f64::min)
}

/// `6.6 per hour (95 %: 4.4 to 9.9)`.
fn rate_words(day: &DayRate, unit: &str) -> String {
    let figures = |rate: f64| {
        let decimals = if rate >= 10.0 { 0 } else { 1 + usize::from(rate < 1.0) };
        chart::number(rate, decimals)
    };
    let rate = figures(day.rate);
    match day.low95.zip(day.high95) {
        Some((low, high)) => {
            format!("{rate} per {unit} (95 %: {} to {})", figures(low), figures(high))
        }
        None => format!("{rate} per {unit} (extrapolated)"),
    }
}

/// The shift by decade, of the model that has the differences between years.
fn by_decade(years: &Years) -> String {
    match years {
        Ok(YearsOf { shift: Some(shift), .. }) => trend_words(shift),
        Ok(of) => format!(
            "not determined: {}, {LEAST_FOR_TREND} are needed",
            counted(of.years.len(), "searched season", "searched seasons")
        ),
        Err(TooFew { finds, years }) => format!(
            "not determined: {} in {} (needs {LEAST_FINDS} finds and {LEAST_FOR_TREND} seasons)",
            counted(*finds as usize, "find", "finds"),
            counted(*years, "season", "seasons")
        ),
    }
}

fn trend_words(shift: &Trend) -> String {
    let Trend { by_decade, low95, high95, p, .. } = *shift;
    let verdict = match (low95 > 0.0, high95 < 0.0) {
        (true, _) => "later",
        (_, true) => "earlier",
        _ => "no clear shift",
    };
    format!("{by_decade:+.1} days (95 %: {low95:+.1} to {high95:+.1}, {}): {verdict}", p_words(p))
}

/// The text for a terminal.
#[must_use]
pub fn text(taxon: &str, season: &Season, years: &Years) -> String {
    let mut text = format!(
        "{}{}, {:.1} {} searched\n\n",
        wrapped(&answers::season(taxon, season)),
        found_on(season, true),
        season.searched_hours,
        units(season.per)
    );
    let mut row = |name: &str, value: String| {
        let _ = writeln!(text, "  {name:<26}{value}");
    };
    let (edges, dates) = (season.edges, season.find_dates);
    let few = || "not determined: fewer than five different dates".to_owned();
    let onset = match (season.onset, edges.onset) {
        (Some(onset), open) => {
            open_words(onset, edges.first_search.filter(|_| open), None, "begin")
        }
        (None, true) => {
            let searched = edges.first_search.unwrap_or(dates.first.day);
            format!(
                "no later than {}; not searched before {}",
                day_words(dates.first.day),
                day_words(searched)
            )
        }
        (None, false) => few(),
    };
    let end = match (season.end, edges.end) {
        (Some(end), open) => open_words(end, None, edges.last_search.filter(|_| open), "end"),
        (None, true) => {
            let searched = edges.last_search.unwrap_or(dates.last.day);
            format!(
                "at least until {}; not searched after {}",
                day_words(dates.last.day),
                day_words(searched)
            )
        }
        (None, false) => few(),
    };
    row("onset (estimated)", onset);
    let of_rate = |estimate: DayEstimate| {
        if season.clear_peak { words(estimate) } else { no_clear_peak(season) }
    };
    row("10 % of the rate", of_rate(season.tenth));
    row("median of the rate", of_rate(season.median));
    row(
        "peak of the rate",
        if season.clear_peak { peak_words(season) } else { no_clear_peak(season) },
    );
    row("90 % of the rate", of_rate(season.ninetieth));
    row("end (estimated)", end);
    row(
        "first and last find",
        format!("{}, {}", day_words(dates.first.day), day_words(dates.last.day)),
    );
    row("median date of finds", format!("{} (not corrected for effort)", words(dates.median)));
    if let Some(circular) = season.circular {
        let day = crate::analyse::season::day_of_year(circular.mean);
        row("circular mean", format!("{}, resultant {:.2}", day_words(day), circular.resultant));
    }
    row("by elevation", season.by_elevation.finding.to_string());
    row("by decade", by_decade(years));
    for remark in &season.remarks {
        let _ = writeln!(text, "\n  note: {remark}");
    }
    text + "\n" + &wrapped(answers::SEASON)
}
