//! Formats search effort as a table and as JSON. Layer: `present`.

use serde::Serialize;

use super::sites::rounded;
use crate::analyse::effort::Effort;
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
    /// Time searching or stationary, seconds.
    pub searched_s: f64,
    /// Distance, metres.
    pub length_m: f64,
    /// Distance while searching, metres.
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
        Column::right("searched"),
        Column::right("distance"),
        Column::right("searched distance"),
        Column::right("searched area"),
    ]);
    for line in lines.iter().chain([total]) {
        table.row([
            line.of.clone(),
            line.outings.to_string(),
            crate::units::Seconds(line.time_s).to_string(),
            crate::units::Seconds(line.searched_s).to_string(),
            crate::units::Metres(line.length_m).to_string(),
            crate::units::Metres(line.searched_length_m).to_string(),
            format!("{:.2} ha", line.searched_ha),
        ]);
    }
    table.to_string()
}
