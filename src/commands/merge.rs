//! Runs `trug merge OTHER.gpkg`: adds the outings, amendments and sensitivity rules of another store. Layer:
//! `commands`.

use std::path::{Path, PathBuf};

use clap::Args;
use jiff::Timestamp;

use super::console::Console;
use super::exit::Exit;
use super::meant;
use super::store_path::StoreArgument;
use super::years::{Years, json};
use crate::analyse::sites::SiteRule;
use crate::error::Result;
use crate::model::MergeConflict;
use crate::present::coded::with_sentence;
use crate::present::store_note;
use crate::present::summary::words::counted;
use crate::store::{Merged, Store};

/// Merge another store into this one.
///
/// Adds outings, amendments, sensitivity rules, names of sites, trailheads, weather and base maps that this store
/// lacks; elevation tiles are references to files and are not taken over. What both have differently is listed
/// and stays as it is here; of two levels of sensitivity the stricter one stays. Merging again changes nothing.
/// The other file is not changed.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The other store.
    other: PathBuf,

    #[command(flatten)]
    store: StoreArgument,

    /// Why; kept in the journal.
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,

    /// Who merges; by default the user of this computer.
    #[arg(long, value_name = "NAME")]
    who: Option<String>,

    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let path = arguments.store.path();
    let mut store = arguments.store.open(console)?;
    let authored = meant::authored(arguments.who.as_deref(), arguments.reason.as_deref());
    let mut merged = store.merge(&arguments.other, &authored)?;
    drop(store);
    merged.conflicts.extend(name_sites(&path, &arguments.other)?);
    if arguments.json {
        let mut object = serde_json::json!(merged);
        let conflict = |one: &MergeConflict| with_sentence(one, &store_note::merge(one));
        object["conflicts"] = merged.conflicts.iter().map(conflict).collect();
        console.print(&json(&object)?)?;
    } else {
        console.print(&sentence(&merged))?;
        if let Some(further) = further(&merged) {
            console.print(&further)?;
        }
        for conflict in &merged.conflicts {
            console.print(&format!("  {}\n", store_note::merge(conflict)))?;
        }
    }
    if let Some(change) = merged.change {
        console.note(&format!("To remove the added outings: trug undo {change}"));
    }
    Ok(if merged.conflicts.is_empty() { Exit::Done } else { Exit::SomeSetAside })
}

fn sentence(merged: &Merged) -> String {
    format!(
        "Merged: {} added with {}, {} already here; {}, {}, {} added; {}\n",
        counted(merged.outings_added, "outing", "outings"),
        counted(merged.finds_added, "find", "finds"),
        merged.outings_same,
        counted(merged.changes_added, "amendment", "amendments"),
        counted(merged.rules_changed, "sensitivity rule", "sensitivity rules"),
        counted(merged.trailheads_added, "trailhead", "trailheads"),
        counted(merged.conflicts.len(), "conflict", "conflicts"),
    )
}

/// Weather and base maps, where any were added.
fn further(merged: &Merged) -> Option<String> {
    let any = merged.stations_added + merged.weather_days_added + merged.base_maps_added > 0;
    any.then(|| {
        format!(
            "Also added: {}, {}, {}\n",
            counted(merged.stations_added, "weather station", "weather stations"),
            counted(merged.weather_days_added, "day of weather", "days of weather"),
            counted(merged.base_maps_added, "base map", "base maps"),
        )
    })
}

/// Gives sites the names that the other store has for them.
fn name_sites(path: &Path, other: &Path) -> Result<Vec<MergeConflict>> {
    let named = Store::named_sites_of(other)?;
    if named.is_empty() {
        return Ok(Vec::new());
    }
    let mut years = Years::open(path)?;
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let mut conflicts = Vec::new();
    for (name, finds) in named {
        let has = |place: &usize| finds.contains(&years.finds[*place].id);
        let mut its = sites.sites.iter().filter(|site| site.finds.iter().any(has));
        let (Some(site), None) = (its.next(), its.next()) else {
            conflicts.push(MergeConflict::SiteNotMatched { name });
            continue;
        };
        match &site.name {
            Some(own) if *own == name => {}
            Some(own) => conflicts.push(MergeConflict::SiteName {
                site: site.id,
                here: own.clone(),
                there: name,
            }),
            None if sites.sites.iter().any(|site| site.name.as_ref() == Some(&name)) => {
                conflicts.push(MergeConflict::SiteNameTaken { site: site.id, name });
            }
            None => years.store.name_site(site.id, Some(&name))?,
        }
    }
    Ok(conflicts)
}
