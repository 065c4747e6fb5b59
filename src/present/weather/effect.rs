//! Formats the effect of weather on a taxon as text and JSON. Layer: `present`.

use std::fmt::Write as _;

use serde_json::{Value, json};

use crate::analyse::season::p_words;
use crate::analyse::weather::effect::{
    Factor, LagEffect, LagFactor, MeasureEffect, RAIN_STEP, TooLittleWeather, Verdict,
};
use crate::analyse::weather::{Gain, Measure, WeatherEffect};
use crate::present::summary::words::counted;
use crate::present::table::{Column, Table};

/// The sentence that answers the question.
#[must_use]
pub fn answer(effect: &WeatherEffect) -> String {
    let tests = tests(effect);
    match effect.verdict {
        Verdict::Earned => {
            let parts: Vec<String> = [
                included(&effect.rain, &rain_step()),
                included(&effect.warmth, "each day 1 K warmer than usual"),
            ]
            .into_iter()
            .flatten()
            .collect();
            let gain = effect.gain.map(|gain| format!("; {}", gain_words(&gain)));
            let parts = if parts.is_empty() {
                format!(
                    "{tests}; the rate changes with the weather of the whole time, but at no single lag does the \
                     interval of the factor exclude 1"
                )
            } else {
                parts.join("; ")
            };
            format!("{}: {parts}{}", opening(effect.gain.as_ref()), gain.unwrap_or_default())
        }
        Verdict::AddsNothing => {
            format!("Weather adds nothing to the season that these data can show ({tests})")
        }
        Verdict::NotPredictive => {
            let gain = effect.gain.as_ref().map(gain_words);
            format!(
                "Weather belongs to the finds of these years ({tests}), but adds nothing to the prediction \
                 of a year left out{}",
                gain.map_or_else(String::new, |words| format!(": {words}"))
            )
        }
        Verdict::TooFewYears => format!(
            "Whether weather matters cannot be determined: {} of outings and {} of weather are too few to \
             exchange years (add earlier years of weather)",
            counted(effect.years, "year", "years"),
            effect.weather_years
        ),
    }
}

fn rain_step() -> String {
    format!("each day with {RAIN_STEP:.0} mm of rain instead of none")
}

/// `rain p = 0.41, temperature p = 0.2, exchanging 10 among 22 years`.
fn tests(effect: &WeatherEffect) -> String {
    let p = |p: Option<f64>| p.map_or_else(|| "not tested".to_owned(), p_words);
    format!(
        "rain {}, temperature {}, exchanging {} among {} of weather",
        p(effect.rain.p),
        p(effect.warmth.p),
        counted(effect.years, "year", "years"),
        effect.weather_years
    )
}

fn included(effect: &LagEffect, step: &str) -> Option<String> {
    if !effect.included {
        return None;
    }
    let at = effect.strongest;
    let top = effect.curve.iter().find(|of| of.lag as f64 == at.days)?;
    if at.high95 - at.low95 < WINDOW / 2.0 && differs(&top.factor) {
        return Some(format!(
            "{step} multiplies the rate by {}, most {} (95 %: {:.0} to {:.0}) later",
            factor(&top.factor),
            days(at.days),
            at.low95,
            at.high95
        ));
    }
    let clear = effect.curve.iter().filter(|of| differs(&of.factor));
    let clearest = clear.max_by(|a, b| distance(&a.factor).total_cmp(&distance(&b.factor)))?;
    Some(format!(
        "{step} multiplies the rate by {} {} later; at which lag most is not determined",
        factor(&clearest.factor),
        days(clearest.lag as f64)
    ))
}

/// The longest lag, days.
const WINDOW: f64 = 60.0;

/// Whether the interval of a factor excludes 1.
fn differs(factor: &Factor) -> bool {
    factor.low95 > 1.0 || factor.high95 < 1.0
}

/// How far a factor is from 1, in widths of its interval.
fn distance(factor: &Factor) -> f64 {
    factor.factor.ln().abs() / (factor.high95 / factor.low95).ln().max(1e-9)
}

fn days(days: f64) -> String {
    format!("{days:.0} {}", if (days - 1.0).abs() < 0.5 { "day" } else { "days" })
}

/// `1.12 (95 %: 1.06 to 1.19)`.
fn factor(factor: &Factor) -> String {
    format!("{:.2} (95 %: {:.2} to {:.2})", factor.factor, factor.low95, factor.high95)
}

fn gain_words(gain: &Gain) -> String {
    format!(
        "years left out are predicted {} than by the season alone in {} of {} (log score {:+.3} per \
         outing, 95 %: {:+.3} to {:+.3}{})",
        if gain.per_outing > 0.0 { "better" } else { "no better" },
        gain.better_years,
        gain.years,
        gain.per_outing,
        gain.low95,
        gain.high95,
        if gain.per_outing > 0.0 && !gain.is_clear() {
            "; the interval includes 0, so the gain can be due to chance"
        } else {
            ""
        }
    )
}

/// Weather that does nothing passes both tests now and then: only an interval above 0 is an assertion.
fn opening(gain: Option<&Gain>) -> &'static str {
    if gain.is_some_and(Gain::is_clear) { "Weather matters" } else { "Weather may matter" }
}

fn gain_is_clear(effect: &WeatherEffect) -> bool {
    effect.gain.as_ref().is_some_and(Gain::is_clear)
}

/// Why there is no estimate.
#[must_use]
pub fn too_little(little: &TooLittleWeather) -> String {
    format!(
        "{} with a find and with both rain and temperature of the 60 days before (10 are needed); {}",
        counted(little.with_find, "outing", "outings"),
        without(little)
    )
}

/// `112 searched outings have none: rain is missing for 3, temperature for 112`.
fn without(little: &TooLittleWeather) -> String {
    if little.outings_without_weather == 0 {
        return format!(
            "{} with both",
            counted(little.outings, "searched outing", "searched outings")
        );
    }
    format!(
        "{} without: rain is missing for {}, temperature for {}",
        counted(little.outings_without_weather, "searched outing", "searched outings"),
        little.without_rain,
        little.without_temperature
    )
}

/// One thing to do about it.
#[must_use]
pub fn more_weather(little: &TooLittleWeather) -> &'static str {
    match (little.without_rain, little.without_temperature) {
        (0, 0) => "there are too few outings with a find; choose a taxon with more finds",
        (rain, warm) if 2 * rain < warm => {
            "add daily maximum and minimum temperatures of these years with `trug weather add FILE...`"
        }
        (rain, warm) if 2 * warm < rain => {
            "add daily rain of these years with `trug weather add FILE...`"
        }
        _ => {
            "see the gaps of the stations with `trug weather`; add the missing days with `trug weather add FILE...`"
        }
    }
}

/// The name of a measure and the step of its factor.
#[must_use]
pub fn measure(measure: Measure) -> (&'static str, &'static str) {
    match measure {
        Measure::RainWeek => ("rain of the last 7 days", "+10 mm"),
        Measure::RainFortnight => ("rain of the last 14 days", "+10 mm"),
        Measure::RainMonth => ("rain of the last 28 days", "+10 mm"),
        Measure::SinceSoaking => ("since 20 mm in 3 days", "+7 days"),
        Measure::DegreeDays => ("degree-days above 5 \u{b0}C, 28 days", "+50 K d"),
        Measure::FrostDays => ("days with frost, of 28", "+1 day"),
    }
}

/// Lags at which the table states the effect.
const SHOWN: [usize; 8] = [0, 3, 7, 14, 21, 28, 42, 60];

/// The block of text below the season.
#[must_use]
pub fn text(effect: &WeatherEffect) -> String {
    let mut text = format!("{}.\n\n", answer(effect));
    let _ = writeln!(
        text,
        "  {} with weather in {}, {} without; overdispersion {:.2} by the season alone, {:.2} with weather",
        counted(effect.outings, "outing", "outings"),
        counted(effect.years, "season", "seasons"),
        effect.outings_without_weather,
        effect.overdispersion_without,
        effect.overdispersion_with
    );
    let mut table = Table::new([
        Column::right("days before"),
        Column::left("a day with 10 mm of rain"),
        Column::left("a day 1 K warmer"),
    ])
    .indented(2);
    let at = |curve: &[LagFactor], lag: usize| {
        curve.iter().find(|of| of.lag == lag).map_or_else(String::new, |of| factor(&of.factor))
    };
    for lag in SHOWN {
        table.row([lag.to_string(), at(&effect.rain.curve, lag), at(&effect.warmth.curve, lag)]);
    }
    let _ = write!(text, "\n  Factor on the rate of finds:\n{table}");
    if !effect.measures.is_empty() {
        let _ = write!(text, "\n  Single measures, each beside the season:\n{}", measures(effect));
    }
    let _ = writeln!(
        text,
        "\n  Weather is the difference from what is usual on that day of the year. Whole years are resampled: \
         intervals\n  by leaving out each year, p by exchanging years. q after Benjamini and Hochberg over the \
         measures: those\n  below 0.05 hold with 5 % false discoveries."
    );
    text
}

fn measures(effect: &WeatherEffect) -> Table {
    let mut table = Table::new([
        Column::left("measure"),
        Column::left("step"),
        Column::left("factor on the rate"),
        Column::left("p"),
        Column::left("q"),
    ])
    .indented(2);
    let p = |p: Option<f64>| p.map_or_else(|| "not tested".to_owned(), p_number);
    for of in &effect.measures {
        let (name, step) = measure(of.measure);
        table.row([name.to_owned(), step.to_owned(), factor(&of.factor), p(of.p), p(of.q)]);
    }
    table
}

/// `0.31`, `0.004`, `< 0.001`.
fn p_number(p: f64) -> String {
    let words = p_words(p);
    words.trim_start_matches("p = ").trim_start_matches("p ").to_owned()
}

/// The object of the JSON.
#[must_use]
pub fn properties(effect: &WeatherEffect) -> Value {
    let mut value = json!(effect);
    if let Some(map) = value.as_object_mut() {
        map.insert("sentence".to_owned(), json!(answer(effect)));
        map.insert("gain_is_clear".to_owned(), json!(gain_is_clear(effect)));
    }
    value
}

/// Whether an effect is shown by the data, for figures.
#[must_use]
pub fn holds(effect: &MeasureEffect) -> bool {
    effect.q.is_some_and(|q| q <= 0.05)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gain_whose_interval_includes_zero_is_no_assertion() {
        let gain =
            |low95| Gain { per_outing: 0.061, low95, high95: 0.333, better_years: 6, years: 9 };
        let unsure = gain(-0.211);
        assert_eq!(opening(Some(&unsure)), "Weather may matter");
        assert!(gain_words(&unsure).contains("includes 0, so the gain can be due to chance"));
        let clear = gain(0.010);
        assert_eq!(opening(Some(&clear)), "Weather matters");
        assert!(!gain_words(&clear).contains("chance"));
    }

    #[test]
    fn the_series_that_is_missing_is_named_and_asked_for() {
        let little = TooLittleWeather {
            outings: 0,
            outings_without_weather: 112,
            without_rain: 3,
            without_temperature: 112,
            with_find: 0,
        };
        let words = too_little(&little);
        assert!(words.contains("rain is missing for 3, temperature for 112"), "{words}");
        assert!(more_weather(&little).contains("temperatures"));
        let other = TooLittleWeather { without_rain: 112, without_temperature: 3, ..little };
        assert!(more_weather(&other).contains("add daily rain"));
    }
}
