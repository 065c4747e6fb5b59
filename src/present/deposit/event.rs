//! Writes an outing as an event with its search effort. Layer: `present`.

use std::collections::HashSet;

use jiff::civil::Date;
use uuid::Uuid;

use super::table::Table;
use crate::present::darwin_core::{Value, urn};
use crate::units::{Metres, Seconds};

/// An outing as an event.
#[derive(Clone, Debug)]
pub struct Event {
    /// The outing.
    pub outing: Uuid,
    /// The local date on which it began.
    pub date: Date,
    /// The length of the smoothed track without gaps, where there is one.
    pub length: Option<Metres>,
    /// Time that counts as search, without time at finds and rests, where there is a track.
    pub searched: Option<Seconds>,
}

const COLUMNS: [&str; 8] = [
    "eventID",
    "eventType",
    "eventDate",
    "samplingProtocol",
    "sampleSizeValue",
    "sampleSizeUnit",
    "samplingEffort",
    "informationWithheld",
];

/// Events carry the effort, never a position: positions belong to the finds, as exact as
/// permitted.
pub(super) fn table(events: &[Event], guarded: &HashSet<Uuid>) -> Table {
    let mut table = Table::new("event.csv", "http://rs.tdwg.org/dwc/terms/Event", COLUMNS);
    for event in events {
        let mut row: Vec<(&'static str, Value)> = vec![
            ("eventID", urn(event.outing).into()),
            ("eventType", "outing".into()),
            ("eventDate", event.date.to_string().into()),
            ("samplingProtocol", "search on foot for fruit bodies, opportunistic".into()),
        ];
        if let Some(searched) = event.searched {
            row.push(("sampleSizeValue", (searched.0 / 60.0).round().into()));
            row.push(("sampleSizeUnit", "minute".into()));
        }
        if let Some(effort) = effort(event) {
            row.push(("samplingEffort", effort.into()));
        }
        if guarded.contains(&event.outing) {
            row.push((
                "informationWithheld",
                "track and time of day withheld; ask the collector".into(),
            ));
        }
        table.push(&row);
    }
    table
}

fn effort(event: &Event) -> Option<String> {
    let walked = event.length.map(|length| format!("{length} walked"));
    let searched = event.searched.map(|time| format!("{time} of search without time at finds"));
    let parts: Vec<String> = walked.into_iter().chain(searched).collect();
    (!parts.is_empty()).then(|| parts.join(", "))
}
