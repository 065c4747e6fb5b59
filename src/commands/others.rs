//! What every command shares that hands finds to others: which finds, and how careful. Layer:
//! `commands`.

use std::collections::{BTreeSet, HashMap};

use clap::{Args, ValueEnum};
use jiff::civil::Date;
use uuid::Uuid;

use super::console::Console;
use crate::analyse::sites::{Known, SiteRule, Sites, find_sites};
use crate::analyse::spotted::SpottedFind;
use crate::error::{Error, Result};
use crate::model::{KeptFind, SiteId};
use crate::present::quiet::{self, Care, ForOthers, Group};
use crate::store::{FindQuery, KeptSite, Store};

/// Which finds, and how careful.
#[derive(Debug, Args)]
pub(super) struct ForOthersArguments {
    /// Only this name or names that begin with it.
    #[arg(long, value_name = "T")]
    taxon: Option<String>,

    /// Only from this day on, as 2026-04-01.
    #[arg(long, value_name = "DATE")]
    from: Option<Date>,

    /// Only until this day, included.
    #[arg(long, value_name = "DATE")]
    to: Option<Date>,

    /// How exactly places are given. See trug places for what is kept quiet.
    #[arg(long, value_enum, default_value_t = Coordinates::Generalised)]
    coordinates: Coordinates,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Coordinates {
    /// To 0.001 degree (about 100 m), coarser where something is kept quiet.
    Generalised,
    /// Exact, but for what is kept quiet.
    ExactWhereOpen,
    /// Exact throughout, quiet places too: for people whom you would take there.
    ExactThroughout,
}

impl Coordinates {
    pub(super) fn care(self) -> Care {
        match self {
            Self::Generalised => Care::Generalised,
            Self::ExactWhereOpen => Care::ExactWhereOpen,
            Self::ExactThroughout => Care::ExactThroughout,
        }
    }
}

/// All finds of a store, as they are and as others may see them, and which were asked for.
pub(super) struct Prepared {
    pub(super) originals: Vec<KeptFind>,
    pub(super) shown: ForOthers,
    pub(super) groups: Vec<Group>,
    /// Indices of those asked for.
    pub(super) chosen: Vec<usize>,
    /// The finds with a position, and their sites.
    pub(super) spotted: Vec<SpottedFind>,
    pub(super) sites: Sites,
}

impl Prepared {
    /// The finds asked for, as others may see them.
    pub(super) fn chosen_finds(&self) -> Vec<KeptFind> {
        self.chosen.iter().map(|find| self.shown.finds[*find].clone()).collect()
    }

    /// Tells how many were generalised, since that is easily overlooked.
    pub(super) fn note_care(&self, console: &mut Console) {
        let mut counts: HashMap<&str, usize> = HashMap::new();
        for find in &self.chosen {
            let generalised = self.shown.finds[*find].generalised.as_ref();
            *counts.entry(generalised.map_or("exact", |g| g.level.word())).or_default() += 1;
        }
        let told: Vec<String> = ["exact", "low", "medium", "high", "extreme"]
            .iter()
            .filter_map(|word| {
                let count = counts.get(word)?;
                Some(match *word {
                    "exact" => format!("{count} exact"),
                    word => format!("{count} generalised ({word})"),
                })
            })
            .collect();
        console.note(&format!("Positions: {}.", told.join(", ")));
    }
}

/// The finds that these arguments ask for, as others may see them.
pub(super) fn prepare(store: &Store, arguments: &ForOthersArguments) -> Result<Prepared> {
    let query = FindQuery {
        taxon: arguments.taxon.clone(),
        from: arguments.from,
        to: arguments.to,
        ..FindQuery::default()
    };
    let prepared = prepare_query(store, &query, arguments.coordinates.care())?;
    if prepared.chosen.is_empty() {
        return Err(Error::input("there is no find to hand out")
            .because(format!("{} has none that fits", store.path().display()))
            .hint("see what it has with trug finds, or ask for less"));
    }
    Ok(prepared)
}

/// Reads all finds, since a quiet find that was not asked for may still be given away by one that was.
pub(super) fn prepare_query(store: &Store, query: &FindQuery, care: Care) -> Result<Prepared> {
    let originals = store.finds(&FindQuery::default())?;
    let asked: BTreeSet<Uuid> = store.finds(query)?.into_iter().map(|find| find.id).collect();
    let chosen: Vec<usize> =
        (0..originals.len()).filter(|find| asked.contains(&originals[*find].id)).collect();
    let rules = store.quiet_rules()?;
    let spotted: Vec<SpottedFind> = originals.iter().filter_map(SpottedFind::of).collect();
    let sites = find_sites(&spotted, SiteRule::default(), &Known::default());
    let groups = groups(&originals, &spotted, &sites, &store.sites()?);
    let shown = quiet::for_others(&originals, &groups, &rules, care);
    Ok(Prepared { originals, shown, groups, chosen, spotted, sites })
}

/// The sites as they are now, with the numbers by which the store knows their finds.
fn groups(
    originals: &[KeptFind],
    spotted: &[SpottedFind],
    sites: &Sites,
    kept: &[KeptSite],
) -> Vec<Group> {
    let place: HashMap<Uuid, usize> =
        originals.iter().enumerate().map(|(place, find)| (find.id, place)).collect();
    let mut number: HashMap<Uuid, SiteId> = HashMap::new();
    for site in kept {
        number.extend(site.finds.iter().map(|find| (*find, site.id)));
    }
    let now = sites
        .sites
        .iter()
        .map(|site| site.finds.iter().map(|find| spotted[*find].id).collect::<Vec<Uuid>>());
    now.chain(kept.iter().map(|site| site.finds.clone()))
        .map(|members| {
            let ids: BTreeSet<SiteId> =
                members.iter().filter_map(|find| number.get(find).copied()).collect();
            let finds = members.iter().filter_map(|find| place.get(find).copied()).collect();
            Group { ids: ids.into_iter().collect(), finds }
        })
        .collect()
}
