//! What every command shares that hands finds to others: which finds, and how careful. Layer:
//! `commands`.

use std::collections::{BTreeSet, HashMap};

use clap::{Args, ValueEnum};
use jiff::civil::Date;
use uuid::Uuid;

use super::console::Console;
use super::names;
use super::years::rule_of;
use crate::analyse::sites::{Known, SiteRule, Sites, find_sites};
use crate::analyse::spotted::SpottedFind;
use crate::error::{Error, Result};
use crate::model::{KeptFind, SiteId};
use crate::present::quiet::{self, Care, Decisions, ForOthers, Group, Sight};
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
        let mut tally = CareTally::default();
        self.chosen.iter().for_each(|find| tally.add(&self.shown.finds[*find]));
        tally.note(console);
    }
}

/// The finds that these arguments ask for, as others may see them.
pub(super) fn prepare(store: &Store, arguments: &ForOthersArguments) -> Result<Prepared> {
    let prepared = prepare_query(store, &arguments.query(), arguments.coordinates.care())?;
    if prepared.chosen.is_empty() {
        return Err(nothing_to_hand_out(store, arguments.taxon.as_deref())?);
    }
    Ok(prepared)
}

/// What may be shown of each find, decided for all of them before any is written.
pub(super) struct Plan {
    /// Which finds were asked for.
    pub(super) query: FindQuery,
    /// `None` where everything is told exactly.
    decided: Option<(Decisions, HashMap<Uuid, usize>)>,
}

impl Plan {
    /// The find as others may see it.
    pub(super) fn shown(&self, find: KeptFind) -> KeptFind {
        let Some((decisions, places)) = &self.decided else { return find };
        decisions.shown(places.get(&find.id).copied().unwrap_or(usize::MAX), &find)
    }

    /// Whether anything of an outing is taken back.
    pub(super) fn guards(&self, outing: Uuid) -> bool {
        self.decided.as_ref().is_some_and(|(decisions, _)| decisions.guarded.contains(&outing))
    }
}

/// Decides on all finds without holding more of each than the decision needs: a quiet find that was not
/// asked for may still be given away by one that was.
pub(super) fn plan(store: &Store, arguments: &ForOthersArguments) -> Result<Plan> {
    let query = arguments.query();
    let care = arguments.coordinates.care();
    if care == Care::ExactThroughout {
        return Ok(Plan { query, decided: None });
    }
    let (mut sights, mut spotted) = (Vec::new(), Vec::new());
    store.each_find(&FindQuery::default(), |find| {
        sights.push(Sight::from(&find));
        spotted.extend(SpottedFind::of(&find));
        Ok(())
    })?;
    let rule = rule_of(store, SiteRule::default())?;
    let sites = find_sites(&spotted, rule, &Known::default());
    let ids: Vec<Uuid> = sights.iter().map(|sight| sight.id).collect();
    let groups = groups(&ids, &spotted, &sites, &store.sites()?);
    let decisions = quiet::decide(&sights, &groups, &store.quiet_rules()?, care);
    let places = ids.into_iter().enumerate().map(|(place, id)| (id, place)).collect();
    Ok(Plan { query, decided: Some((decisions, places)) })
}

impl ForOthersArguments {
    /// What was asked for, as the store understands it.
    pub(super) fn query(&self) -> FindQuery {
        FindQuery {
            taxon: self.taxon.clone(),
            from: self.from,
            to: self.to,
            ..FindQuery::default()
        }
    }
}

/// That nothing answers what was asked for.
///
/// # Errors
/// When the store cannot be read.
pub(super) fn nothing_to_hand_out(store: &Store, taxon: Option<&str>) -> Result<Error> {
    Ok(names::unknown_in(store, taxon)?.unwrap_or_else(|| {
        Error::input("there is no find to hand out")
            .because(format!("{} has none that fits", store.path().display()))
            .hint("see what it has with trug finds, or ask for less")
    }))
}

/// How many were generalised, and how far: easily overlooked.
#[derive(Default)]
pub(super) struct CareTally(HashMap<&'static str, usize>);

impl CareTally {
    pub(super) fn add(&mut self, shown: &KeptFind) {
        let word = shown.generalised.as_ref().map_or("exact", |g| g.level.word());
        *self.0.entry(word).or_default() += 1;
    }

    pub(super) fn note(&self, console: &mut Console) {
        let told: Vec<String> = ["exact", "low", "medium", "high", "extreme"]
            .iter()
            .filter_map(|word| {
                let count = self.0.get(word)?;
                Some(match *word {
                    "exact" => format!("{count} exact"),
                    word => format!("{count} generalised ({word})"),
                })
            })
            .collect();
        console.note(&format!("Positions: {}.", told.join(", ")));
    }
}

/// Reads all finds, since a quiet find that was not asked for may still be given away by one that was.
pub(super) fn prepare_query(store: &Store, query: &FindQuery, care: Care) -> Result<Prepared> {
    let originals = store.finds(&FindQuery::default())?;
    let asked: BTreeSet<Uuid> = store.finds(query)?.into_iter().map(|find| find.id).collect();
    let chosen: Vec<usize> =
        (0..originals.len()).filter(|find| asked.contains(&originals[*find].id)).collect();
    let rules = store.quiet_rules()?;
    let spotted: Vec<SpottedFind> = originals.iter().filter_map(SpottedFind::of).collect();
    let rule = rule_of(store, SiteRule::default())?;
    let sites = find_sites(&spotted, rule, &Known::default());
    let ids: Vec<Uuid> = originals.iter().map(|find| find.id).collect();
    let groups = groups(&ids, &spotted, &sites, &store.sites()?);
    let shown = quiet::for_others(&originals, &groups, &rules, care);
    Ok(Prepared { originals, shown, groups, chosen, spotted, sites })
}

/// The sites as they are now, with the numbers by which the store knows their finds.
fn groups(finds: &[Uuid], spotted: &[SpottedFind], sites: &Sites, kept: &[KeptSite]) -> Vec<Group> {
    let place: HashMap<Uuid, usize> =
        finds.iter().enumerate().map(|(place, find)| (*find, place)).collect();
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
