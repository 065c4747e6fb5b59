//! Formats search effort as a table and as JSON. Layer: `present`.

use serde::Serialize;

use super::estimates::wrapped;
use super::sites::rounded;
use crate::analyse::effort::Effort;
use crate::analyse::effort::manner::{ENOUGH, Manner, Weights};
use crate::analyse::effort::styles::StyleWeights;
use crate::present::summary::words::counted;
use crate::present::table::{Column, Table};

/// Effort under one heading.
#[derive(Clone, Debug, Serialize)]
pub struct EffortLine {
    /// The day, week, cell, band or site.
    pub of: String,
    /// Number of outings.
    pub outings: usize,
    /// Time out, seconds.
    pub time_s: f64,
    /// Time by manner times the weight of its hour, seconds: can exceed `time_s`.
    pub searched_s: f64,
    /// Time at finds, seconds.
    pub at_finds_s: f64,
    /// Rests: the rest of long stops without a find, seconds.
    pub rests_s: f64,
    /// Time on regular paths, seconds.
    pub on_paths_s: f64,
    /// Distance, metres.
    pub length_m: f64,
    /// Distance by manner times the weight of its kilometre, metres: can exceed `length_m`.
    pub searched_length_m: f64,
    /// Searched area, hectares (overlaps count once).
    pub searched_ha: f64,
}

/// The effort under one heading.
#[must_use]
pub fn line(of: String, effort: &Effort) -> EffortLine {
    EffortLine {
        of,
        outings: effort.outings,
        time_s: rounded(effort.time.0, 0),
        searched_s: rounded(effort.searched.0, 0),
        at_finds_s: rounded(effort.at_finds.0, 0),
        rests_s: rounded(effort.rests.0, 0),
        on_paths_s: rounded(effort.on_paths.0, 0),
        length_m: rounded(effort.length.0, 0),
        searched_length_m: rounded(effort.searched_length.0, 0),
        searched_ha: rounded(effort.area / 1e4, 4),
    }
}

/// The table, with the total below a rule.
#[must_use]
pub fn table(heading: &'static str, lines: &[EffortLine], total: &EffortLine) -> String {
    let mut table = Table::new([
        Column::left(heading),
        Column::right("outings"),
        Column::right("time"),
        Column::right("weighted search"),
        Column::right("at finds"),
        Column::right("distance"),
        Column::right("weighted distance"),
        Column::right("searched area"),
    ]);
    for line in lines.iter().chain([total]) {
        table.row([
            line.of.clone(),
            line.outings.to_string(),
            crate::units::Seconds(line.time_s).to_string(),
            crate::units::Seconds(line.searched_s).to_string(),
            crate::units::Seconds(line.at_finds_s).to_string(),
            crate::units::Metres(line.length_m).to_string(),
            crate::units::Metres(line.searched_length_m).to_string(),
            format!("{:.2} ha", line.searched_ha),
        ]);
    }
    table.to_string()
}

/// How much an hour counts in each manner, a sentence for each style.
#[must_use]
pub fn weights(styles: &[StyleWeights]) -> String {
    let mut text = String::from("\n");
    for own in styles {
        let of = match styles.len() {
            1 => "An".to_owned(),
            _ => format!(
                "{} mostly {}: an",
                counted(own.outings, "outing", "outings"),
                style_words(own.style)
            ),
        };
        text += &wrapped(&format!("{of} {}", of_weights(&own.weights)));
    }
    text + "Time at finds and rests counts 0. An hour, and a kilometre, of weighted search is one in the manner in which\n\
            finds are made: a day walked in the best manner alone can have more of both than were walked.\n"
}

fn style_words(style: Manner) -> &'static str {
    match style {
        Manner::Searching => "of slow search",
        Manner::Steady => "walking",
        _ => "walking fast",
    }
}

fn of_weights(weights: &Weights) -> String {
    let [searching, steady, brisk, path] = weights.hour;
    let basis = if weights.finds >= ENOUGH {
        let [searching, steady, brisk, path] = weights.by_manner;
        format!(
            "by the manner in which {} finds were made: {searching}, {steady}, {brisk} and {path}; the \
             mean over finds is 1, and a manner with fewer than {ENOUGH} finds counts mostly as assumed",
            weights.finds
        )
    } else {
        format!("assumed, since fewer than {ENOUGH} finds show it")
    };
    format!(
        "hour counts {searching:.2} searching, {steady:.2} walking, {brisk:.2} walking fast and \
         {path:.2} on regular paths ({basis})."
    )
}
