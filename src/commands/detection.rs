//! `trug detection`: how likely a visit finds what is there, and after how many vain visits it is
//! not. Layer: `commands`.

use std::collections::BTreeMap;

use clap::Args;
use jiff::Timestamp;
use serde_json::json as object;

use super::console::Console;
use super::exit::Exit;
use super::store_path::StoreArgument;
use super::years::{Years, json};
use crate::analyse::detection::{Chance, History, SiteHistory, fit};
use crate::analyse::sites::SiteRule;
use crate::analyse::spotted::belongs;
use crate::analyse::visits::VisitRule;
use crate::error::{Error, Result};
use crate::model::{SiteId, Visit};
use crate::present::years::sites::{is_search, rounded};

/// Tell how likely a visit finds a kind where it is, how likely a known site bears it in a season, and
/// so how many fruitless visits mean "not this year".
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// The kind; without it, any find counts.
    #[arg(long, value_name = "T", required_unless_present = "site")]
    taxon: Option<String>,

    /// Only this site, by its number or name.
    #[arg(long, value_name = "ID")]
    site: Option<String>,

    /// Print the numbers as JSON.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let mut years = Years::open(&arguments.store.path())?;
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let mut visits = years.visits(&sites, VisitRule::default(), console)?;
    visits.retain(is_search);
    if let Some(asked) = &arguments.site {
        let site = Years::site(&sites, asked)?.id;
        visits.retain(|visit| visit.site == site);
    }
    let histories = histories(&years, &visits, arguments.taxon.as_deref());
    let of = arguments.taxon.clone().or_else(|| arguments.site.clone()).unwrap_or_default();
    let Some(fitted) = fit(&histories) else {
        return Err(Error::input(format!("detection cannot be told for {of}"))
            .because(format!(
                "{} searched visits to {} sites; it needs a find, and a season with two visits",
                histories.iter().flat_map(|site| &site.seasons).map(|s| s.visits).sum::<u32>(),
                histories.len()
            ))
            .hint("visit the same sites more than once in a season"));
    };
    if arguments.json {
        let told = object!({
            "of": of,
            "per_visit": fitted.per_visit.value,
            "per_visit_low95": fitted.per_visit.low95,
            "per_visit_high95": fitted.per_visit.high95,
            "present": fitted.present.value,
            "present_low95": fitted.present.low95,
            "present_high95": fitted.present.high95,
            "visits_for_95": fitted.visits_for_95.0,
            "visits_for_95_fewest": fitted.visits_for_95.1,
            "visits_for_95_most": fitted.visits_for_95.2,
            "sites": histories.len(),
            "site_seasons": fitted.seasons,
            "visits": fitted.visits,
            "aic": rounded(fitted.aic, 4),
        });
        console.print(&json(&told)?)?;
        return Ok(Exit::Done);
    }
    let words = |chance: Chance| {
        format!(
            "{:.0} % (95 %: {:.0} to {:.0} %)",
            100.0 * chance.value,
            100.0 * chance.low95,
            100.0 * chance.high95
        )
    };
    let (likely, fewest, most) = fitted.visits_for_95;
    console.print(&format!(
        "{of}: {} searched visits in {} seasons of {} sites\n\n  \
         found on a visit, where it is        {}\n  \
         there in a season, at a known site   {}\n  \
         vain visits that mean \"not this year\" {likely} ({fewest} to {most})\n\n\
         Only sites where it was found at least once are known; the figures allow for that. They take\n\
         every searched visit as alike, however long it was.\n",
        fitted.visits,
        fitted.seasons,
        histories.len(),
        words(fitted.per_visit),
        words(fitted.present),
    ))?;
    Ok(Exit::Done)
}

/// The seasons of each site that ever bore the kind: visits between its first and last day of the
/// year, in any year, since a visit out of season says nothing.
pub(super) fn histories(years: &Years, visits: &[Visit], taxon: Option<&str>) -> Vec<SiteHistory> {
    let counts = |visit: &Visit| {
        visit.finds.iter().any(|index| match taxon {
            None => true,
            Some(taxon) => {
                years.finds[*index].kind.as_deref().is_some_and(|kind| belongs(kind, taxon))
            }
        })
    };
    let date: std::collections::HashMap<uuid::Uuid, jiff::civil::Date> =
        years.outings.iter().map(|outing| (outing.id, outing.date)).collect();
    let day = |visit: &Visit| date.get(&visit.outing).map(|date| (date.year(), date.day_of_year()));
    let hits: Vec<&Visit> = visits.iter().filter(|visit| counts(visit)).collect();
    let Some((first, last)) =
        season_of(&hits.iter().filter_map(|v| day(v)).map(|(_, d)| d).collect::<Vec<_>>())
    else {
        return Vec::new();
    };
    let known: std::collections::BTreeSet<SiteId> = hits.iter().map(|visit| visit.site).collect();
    let mut seasons: BTreeMap<(SiteId, i16), History> = BTreeMap::new();
    for visit in visits.iter().filter(|visit| known.contains(&visit.site)) {
        let Some((year, of_year)) = day(visit) else { continue };
        let along = (of_year - first).rem_euclid(365);
        if along <= (last - first).rem_euclid(365) {
            let year = if of_year < first { year - 1 } else { year };
            let season =
                seasons.entry((visit.site, year)).or_insert(History { visits: 0, found: 0 });
            season.visits += 1;
            season.found += u32::from(counts(visit));
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

/// First and last day of the year of a season that may cross New Year: what lies between the ends of
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
