//! Formats visits as a table and as JSON. Layer: `present`.

use std::collections::HashSet;

use serde::Serialize;

use super::sites::rounded;
use crate::analyse::detection::{LEAST, trials};
use crate::analyse::spotted::SpottedFind;
use crate::model::{Activity, Visit};
use crate::present::table::{Column, Table};

/// A visit as it is reported.
#[derive(Clone, Debug, Serialize)]
pub struct VisitLine {
    /// The site's number.
    pub site: i64,
    /// The identifier of the outing.
    pub outing: String,
    /// From, UTC.
    pub start: String,
    /// Until, UTC.
    pub end: String,
    /// Time that counts as search there, seconds.
    pub searched_s: f64,
    /// Of that, time stationary, seconds.
    pub stood_s: f64,
    /// Time at finds there, seconds.
    pub at_finds_s: f64,
    /// Total time there, seconds.
    pub spent_s: f64,
    /// Whether it counts as a search, with a find or without
    /// ([`trials`]).
    pub counts_as_search: bool,
    /// The activity with the largest share of the time.
    pub activity: Activity,
    /// The least distance from the site's centre, metres.
    pub nearest_m: Option<f64>,
    /// The number of finds; 0 for a visit without a find.
    pub finds: usize,
    /// Their numbers.
    #[serde(rename = "recordNumbers")]
    pub record_numbers: Vec<String>,
}

impl VisitLine {
    /// Whether something was found without a search besides the stop at it.
    #[must_use]
    pub fn is_find_in_passing(&self) -> bool {
        self.finds > 0 && self.searched_s - self.stood_s < LEAST.0
    }
}

/// The reported values of each visit.
#[must_use]
pub fn lines(visits: &[Visit], finds: &[SpottedFind]) -> Vec<VisitLine> {
    let of = |visit: &Visit| (visit.site, visit.outing, visit.start);
    let searches: HashSet<_> = trials(visits, |visit| !visit.finds.is_empty())
        .into_iter()
        .map(|(visit, _)| of(visit))
        .collect();
    visits
        .iter()
        .map(|visit| VisitLine {
            site: visit.site.0,
            outing: visit.outing.to_string(),
            start: format!("{:.0}", visit.start),
            end: format!("{:.0}", visit.end),
            searched_s: rounded(visit.searched.0, 1),
            stood_s: rounded(visit.stopped.0, 1),
            at_finds_s: rounded(visit.handled.0, 1),
            spent_s: rounded(visit.spent.0, 1),
            counts_as_search: searches.contains(&of(visit)),
            activity: visit.activity,
            nearest_m: visit.nearest.map(|nearest| rounded(nearest.0, 1)),
            finds: visit.finds.len(),
            record_numbers: visit
                .finds
                .iter()
                .map(|index| finds[*index].label.to_string())
                .collect(),
        })
        .collect()
}

/// The text for a terminal.
#[must_use]
pub fn table(lines: &[VisitLine]) -> String {
    let mut table = Table::new([
        Column::right("site"),
        Column::left("start (UTC)"),
        Column::right("arrival"),
        Column::right("searched"),
        Column::left("largest part"),
        Column::right("nearest"),
        Column::left("found"),
    ]);
    for line in lines {
        let found = match line.finds {
            0 => "nothing".to_owned(),
            _ => line.record_numbers.join(", "),
        };
        table.row([
            line.site.to_string(),
            line.start.replace('T', " ").replace('Z', ""),
            crate::units::Seconds(line.spent_s).to_string(),
            crate::units::Seconds(line.searched_s).to_string(),
            words(line.activity).to_owned(),
            line.nearest_m.map_or_else(|| "no track".to_owned(), |m| format!("{m:.0} m")),
            found,
        ]);
    }
    table.to_string()
}

fn words(activity: Activity) -> &'static str {
    match activity {
        Activity::Walking => "walking",
        Activity::Searching => "searching",
        Activity::Stationary => "stationary",
    }
}
