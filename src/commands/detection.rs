//! Runs `trug detection`: estimates detection probability per visit, and the number of visits without a
//! find that indicates absence. Layer: `commands`.

use std::collections::{BTreeMap, BTreeSet};

use clap::Args;
use jiff::Timestamp;

use super::console::Console;
use super::exit::Exit;
use super::names;
use super::store_path::StoreArgument;
use super::years::{Years, json};
use crate::analyse::detection::{Search, SiteHistory, fit, search_time, trials};
use crate::analyse::sites::SiteRule;
use crate::analyse::spotted::belongs;
use crate::analyse::visits::VisitRule;
use crate::error::{Error, Result};
use crate::model::{SiteId, Visit};
use crate::present::summary::words::counted;
use crate::present::years::detection as view;

/// Report the detection probability of a visit to a site where a taxon is present, the probability that
/// a known site has it in a season, and the number of visits without a find that indicates absence.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// The taxon; without it, any find counts.
    #[arg(long, value_name = "T")]
    taxon: Option<String>,

    /// Only this site, by its number or name.
    #[arg(long, value_name = "ID")]
    site: Option<String>,

    /// Minutes of searching per visit; by default the median visit length.
    #[arg(long, value_name = "MINUTES", value_parser = crate::commands::numbers::finite)]
    minutes: Option<f64>,

    /// Print the numbers as JSON.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let minutes = arguments.minutes.map(duration).transpose()?;
    let mut years = arguments.store.years(console)?;
    let taxon = years.meant(arguments.taxon.as_deref(), console)?;
    names::known_taxon(&years, taxon.as_deref())?;
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let mut visits = years.visits(&sites, VisitRule::default(), console)?;
    if let Some(asked) = &arguments.site {
        let site = Years::site(&sites, asked)?.id;
        visits.retain(|visit| visit.site == site);
    }
    let found = |visit: &Visit| has(&years, visit, taxon.as_deref());
    years.say_together(console)?;
    let in_passing =
        visits.iter().filter(|visit| search_time(visit).is_none() && found(visit)).count();
    let histories = histories(&years, &trials(&visits, found));
    let of = arguments
        .taxon
        .clone()
        .or_else(|| arguments.site.clone())
        .unwrap_or_else(|| "any find".to_owned());
    let Some(fitted) = fit(&histories, minutes) else {
        return Err(Error::input(format!("detection cannot be determined for {of}"))
            .because(format!(
                "{} to {}; it needs a find, and a season with two visits{}",
                counted(
                    histories.iter().flat_map(SiteHistory::searches).count(),
                    "searched visit",
                    "searched visits"
                ),
                counted(histories.len(), "site", "sites"),
                view::left_out(in_passing).map(|why| format!("; {why}")).unwrap_or_default()
            ))
            .hint("visit the same sites more than once in a season"));
    };
    if minutes.is_some() && !fitted.by_time.is_some_and(|by_time| by_time.used) {
        console.note(
            "--minutes changes nothing: these data show no effect of the length of a visit, so visits are treated as \
             equal.",
        );
    }
    if arguments.json {
        let mut properties = view::properties(&of, histories.len(), in_passing, &fitted);
        if let Some(notes) = years.effort_notes(false) {
            properties["effort_notes"] = notes;
        }
        console.print(&json(&properties)?)?;
    } else {
        console.print(&view::text(&of, histories.len(), in_passing, &fitted))?;
    }
    Ok(Exit::Done)
}

/// Minutes of a visit, above zero and up to a day.
fn duration(minutes: f64) -> Result<f64> {
    if minutes > 0.0 && minutes <= 24.0 * 60.0 {
        return Ok(minutes);
    }
    Err(Error::input(format!("--minutes {minutes} is not the length of a visit"))
        .because("a visit lasts longer than nothing and a day at the most")
        .hint("give minutes above 0 and up to 1440"))
}

/// Whether something of the taxon, or anything, was found on a visit.
fn has(years: &Years, visit: &Visit, taxon: Option<&str>) -> bool {
    let is_of = |index: &usize, taxon: &str| {
        years.finds[*index].taxon.as_deref().is_some_and(|name| belongs(name, taxon))
    };
    visit.finds.iter().any(|index| taxon.is_none_or(|taxon| is_of(index, taxon)))
}

/// The seasons of each site with a find on such a visit: visits between its first and last day of the
/// year, in any year, since a visit out of season has no information.
fn histories(years: &Years, trials: &[(&Visit, Search)]) -> Vec<SiteHistory> {
    let day =
        |visit: &Visit| years.date_of(visit.outing).map(|date| (date.year(), date.day_of_year()));
    let hits = || trials.iter().filter(|(_, search)| search.found).map(|(visit, _)| *visit);
    let days: Vec<i16> = hits().filter_map(day).map(|(_, of_year)| of_year).collect();
    let Some((first, last)) = season_of(&days) else { return Vec::new() };
    let known: BTreeSet<SiteId> = hits().map(|visit| visit.site).collect();
    let mut seasons: BTreeMap<(SiteId, i16), Vec<Search>> = BTreeMap::new();
    for (visit, search) in trials.iter().filter(|(visit, _)| known.contains(&visit.site)) {
        let Some((year, of_year)) = day(visit) else { continue };
        let along = (of_year - first).rem_euclid(365);
        if along <= (last - first).rem_euclid(365) {
            let year = if of_year < first { year - 1 } else { year };
            seasons.entry((visit.site, year)).or_default().push(*search);
        }
    }
    let mut of_site: BTreeMap<SiteId, SiteHistory> = BTreeMap::new();
    for ((site, _), season) in seasons {
        let history = of_site.entry(site).or_default();
        history.known_by_find = true;
        history.seasons.push(season);
    }
    of_site.into_values().collect()
}

/// First and last day of the year of a season that may cross the new year: the days outside
/// the longest gap.
fn season_of(days: &[i16]) -> Option<(i16, i16)> {
    let mut days = days.to_vec();
    days.sort_unstable();
    days.dedup();
    let last = *days.last()?;
    let mut widest = (0, days[0], last);
    let mut before = last - 365;
    for day in days {
        if day - before > widest.0 {
            widest = (day - before, day, before.rem_euclid(365));
        }
        before = day;
    }
    Some((widest.1, widest.2))
}
