//! Formats sites as a table, JSON and GeoJSON. Layer: `present`.

use std::collections::BTreeSet;
use std::fmt::Write;

use jiff::civil::Date;
use serde::Serialize;
use serde_json::{Value, json};

use crate::analyse::detection::{search_time, trials};
use crate::analyse::identity::Change;
use crate::analyse::sites::Sites;
use crate::analyse::spotted::SpottedFind;
use crate::model::{Site, Visit};
use crate::present::scientific_name::without_authors;
use crate::present::table::{Column, Table};

/// A site with its reported values.
#[derive(Clone, Debug, Serialize)]
pub struct SiteLine {
    /// Its permanent number.
    pub site: i64,
    /// The user's name for it.
    pub name: Option<String>,
    /// Degrees, north positive.
    #[serde(rename = "decimalLatitude")]
    pub latitude: f64,
    /// Degrees, east positive.
    #[serde(rename = "decimalLongitude")]
    pub longitude: f64,
    /// Radius of the circle around its finds' circles, metres.
    #[serde(rename = "coordinateUncertaintyInMeters")]
    pub radius: f64,
    /// Its number of finds.
    pub finds: usize,
    /// Their numbers.
    #[serde(rename = "recordNumbers")]
    pub record_numbers: Vec<String>,
    /// The names found there.
    pub taxa: Vec<String>,
    /// Date of the first find.
    pub first: Option<Date>,
    /// Date of the last find.
    pub last: Option<Date>,
    /// All visits: passes within the searching distance.
    pub visits: usize,
    /// Visits that searched, whether or not something was found
    /// ([`trials`]).
    pub visits_searched: usize,
    /// Those with a find.
    pub visits_with_find: usize,
    /// Visits with a find but no search besides the stop at it.
    pub visits_in_passing: usize,
    /// The share of searched visits with a find; `None` where no visit searched.
    pub success_rate: Option<f64>,
}

/// The reported values of each site.
#[must_use]
pub fn lines(sites: &Sites, finds: &[SpottedFind], visits: &[Visit]) -> Vec<SiteLine> {
    use std::collections::HashMap;
    let mut of_site: HashMap<i64, Vec<Visit>> = HashMap::new();
    for visit in visits {
        of_site.entry(visit.site.0).or_default().push(visit.clone());
    }
    sites
        .sites
        .iter()
        .map(|site| line(site, finds, of_site.get(&site.id.0).map_or(&[], Vec::as_slice)))
        .collect()
}

fn line(site: &Site, finds: &[SpottedFind], visits: &[Visit]) -> SiteLine {
    let own = || site.finds.iter().map(|index| &finds[*index]);
    let taxa: BTreeSet<&str> = own().filter_map(|find| find.taxon.as_deref()).collect();
    let has_find = |visit: &Visit| !visit.finds.is_empty();
    let trials = trials(visits, has_find);
    let searched = trials.len();
    let with_find = trials.iter().filter(|(_, search)| search.found).count();
    let in_passing = |visit: &&Visit| search_time(visit).is_none() && has_find(visit);
    SiteLine {
        site: site.id.0,
        name: site.name.clone(),
        latitude: rounded(site.at.latitude(), 7),
        longitude: rounded(site.at.longitude(), 7),
        radius: rounded(site.radius.metres().0, 1),
        finds: site.finds.len(),
        record_numbers: own().map(|find| find.label.to_string()).collect(),
        taxa: taxa.into_iter().map(str::to_owned).collect(),
        first: own().map(|find| find.date).min(),
        last: own().map(|find| find.date).max(),
        visits: visits.len(),
        visits_searched: searched,
        visits_with_find: with_find,
        visits_in_passing: visits.iter().filter(in_passing).count(),
        success_rate: (searched > 0).then(|| rounded(with_find as f64 / searched as f64, 3)),
    }
}

/// Whether a visit samples the species of a site: time searching or stationary there, or a find.
#[must_use]
pub fn is_search(visit: &Visit) -> bool {
    visit.searched.0 > 0.0 || !visit.finds.is_empty()
}

/// A number rounded to a number of decimals.
#[must_use]
pub fn rounded(number: f64, decimals: i32) -> f64 {
    let factor = 10_f64.powi(decimals);
    (number * factor).round() / factor
}

/// The text for a terminal.
#[must_use]
pub fn table(lines: &[SiteLine]) -> String {
    let mut table = Table::new([
        Column::right("site"),
        Column::left("name"),
        Column::right("latitude"),
        Column::right("longitude"),
        Column::right("extent"),
        Column::right("finds"),
        Column::left("first"),
        Column::left("last"),
        Column::right("visits"),
        Column::right("searched"),
        Column::right("with find"),
        Column::left("taxa"),
    ]);
    for line in lines {
        table.row([
            line.site.to_string(),
            line.name.clone().unwrap_or_default(),
            format!("{:.5}", line.latitude),
            format!("{:.5}", line.longitude),
            crate::units::Metres(line.radius).to_string(),
            line.finds.to_string(),
            line.first.map(|date| date.to_string()).unwrap_or_default(),
            line.last.map(|date| date.to_string()).unwrap_or_default(),
            line.visits.to_string(),
            line.visits_searched.to_string(),
            line.visits_with_find.to_string(),
            taxa(&line.taxa),
        ]);
    }
    table.to_string()
}

/// Names without authors, for a narrow column; the JSON has full names.
fn taxa(names: &[String]) -> String {
    const SHOWN: usize = 3;
    let short: BTreeSet<String> = names.iter().map(|name| without_authors(name)).collect();
    let mut text = short.iter().take(SHOWN).cloned().collect::<Vec<_>>().join(", ");
    if short.len() > SHOWN {
        let _ = write!(text, " and {} more", short.len() - SHOWN);
    }
    text
}

/// RFC 7946, one point per site.
#[must_use]
pub fn geojson(lines: &[SiteLine]) -> String {
    let features: Vec<Value> = lines
        .iter()
        .map(|line| {
            json!({
                "type": "Feature",
                "id": line.site,
                "geometry": {"type": "Point", "coordinates": [line.longitude, line.latitude]},
                "properties": line,
            })
        })
        .collect();
    crate::present::geojson::collection(&[], &features)
}

/// Changes of the sites since the last run, one sentence each; empty on the first run.
#[must_use]
pub fn changes(changes: &[Change]) -> Vec<String> {
    let list = |sites: &[crate::model::SiteId]| {
        sites.iter().map(|site| site.0.to_string()).collect::<Vec<_>>().join(", ")
    };
    let fresh = changes.iter().filter(|change| matches!(change, Change::New { .. })).count();
    let mut result: Vec<String> = changes
        .iter()
        .filter_map(|change| match change {
            Change::New { .. } => None,
            Change::Merged { site, taken_in } => Some(format!(
                "site {} was merged with {}: their finds can no longer be distinguished",
                site.0,
                list(taken_in)
            )),
            Change::Parted { site, others } => Some(format!(
                "site {} was split: some of its finds are now site {}",
                site.0,
                list(others)
            )),
            Change::Gone { site } => Some(format!("site {} no longer has finds", site.0)),
        })
        .collect();
    if fresh > 0 {
        result.push(format!("{fresh} new {}", if fresh == 1 { "site" } else { "sites" }));
    }
    result
}
