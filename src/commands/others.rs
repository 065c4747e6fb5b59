//! Selects finds and applies sensitivity rules for every command that writes outputs for others. Layer:
//! `commands`.

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};

use clap::{Args, ValueEnum};
use uuid::Uuid;

use super::console::Console;
use super::selection::SelectionArguments;
use super::years::rule_of;
use crate::analyse::sites::{Known, SiteRule, Sites, find_sites};
use crate::analyse::spotted::SpottedFind;
use crate::error::{Error, Result};
use crate::ingest::position::mentioned;
use crate::model::{KeptFind, Leak, Published, SensitivityNotice, TrackPoint};
use crate::present::sensitive::{self, Audit, Care, Decisions, FindSummary, ForOthers, Policy};
use crate::present::summary::words::counted;
use crate::store::{FindQuery, Store};
use crate::units::Metres;

/// Selection of finds and care of the output.
#[derive(Debug, Args)]
pub(super) struct ForOthersArguments {
    #[command(flatten)]
    pub(super) selection: SelectionArguments,

    /// How exact positions are. See trug places for sensitivity rules.
    #[arg(long, value_enum, default_value_t = Coordinates::Generalised)]
    coordinates: Coordinates,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Coordinates {
    /// To 0.001 degree (about 100 m), coarser where something is sensitive.
    Generalised,
    /// Exact, except sensitive ones.
    #[value(alias = "exact-where-open")]
    ExactUnlessSensitive,
    /// Exact, sensitive positions included: only for people you would take there.
    ExactThroughout,
}

impl Coordinates {
    pub(super) fn care(self) -> Care {
        match self {
            Self::Generalised => Care::Generalised,
            Self::ExactUnlessSensitive => Care::ExactUnlessSensitive,
            Self::ExactThroughout => Care::ExactThroughout,
        }
    }
}

/// All finds of a store, original and generalised, and which are selected.
pub(super) struct Prepared {
    pub(super) originals: Vec<KeptFind>,
    pub(super) shown: ForOthers,
    /// Earlier published states of each.
    pub(super) published: HashMap<Uuid, Vec<Published>>,
    /// Indices of the selected ones.
    pub(super) chosen: Vec<usize>,
    /// The finds with a position, and their sites.
    pub(super) spotted: Vec<SpottedFind>,
    pub(super) sites: Sites,
}

impl Prepared {
    /// The selected finds, generalised.
    pub(super) fn chosen_finds(&self) -> Vec<KeptFind> {
        self.chosen.iter().map(|find| self.shown.finds[*find].clone()).collect()
    }

    /// The same, to complete them.
    pub(super) fn chosen_mut(&mut self) -> impl Iterator<Item = &mut KeptFind> {
        let chosen: HashSet<usize> = self.chosen.iter().copied().collect();
        let finds = self.shown.finds.iter_mut().enumerate();
        finds.filter(move |(place, _)| chosen.contains(place)).map(|(_, find)| find)
    }

    /// The states to be published of the selected finds.
    pub(super) fn chosen_published(&self) -> Vec<Published> {
        self.chosen.iter().map(|find| self.shown.published[*find].clone()).collect()
    }

    /// The states to be published of the finds that `wanted` accepts.
    pub(super) fn published_within(&self, wanted: impl Fn(&KeptFind) -> bool) -> Vec<Published> {
        let finds = self.originals.iter().zip(&self.shown.published);
        finds.filter(|(find, _)| wanted(find)).map(|(_, published)| published.clone()).collect()
    }

    /// Earlier published states of a find.
    pub(super) fn earlier(&self, find: Uuid) -> &[Published] {
        self.published.get(&find).map_or(&[], Vec::as_slice)
    }

    /// Reports how many were generalised and by which rules.
    pub(super) fn note_care(&self, console: &mut Console) {
        print_notices(&self.shown.notices, console);
        let mut tally = CareTally::default();
        let both =
            self.chosen.iter().map(|find| (&self.originals[*find], &self.shown.finds[*find]));
        both.for_each(|(original, shown)| tally.add(original, shown));
        tally.note(console);
    }
}

/// The finds that these arguments select, generalised.
pub(super) fn prepare(store: &Store, arguments: &ForOthersArguments) -> Result<Prepared> {
    let query = arguments.selection.query(store)?;
    let prepared = prepare_query(store, &query, arguments.coordinates.care())?;
    if prepared.chosen.is_empty() {
        return Err(empty_selection(store, &arguments.selection, &query)?);
    }
    Ok(prepared)
}

/// A track this near to the circle of a sensitive find reveals it: the distance at which a collector sees
/// a find plus the GPS error (common practice).
pub(super) const NEAR: Metres = Metres(30.0);

/// The level of each find, decided for all of them before any is written.
pub(super) struct Plan {
    /// The selected finds.
    pub(super) query: FindQuery,
    /// `None` where everything is exact.
    decided: Option<(Decisions, HashMap<Uuid, usize>)>,
    /// Earlier published states of each find.
    earlier: HashMap<Uuid, Vec<Published>>,
    /// Notices for the user.
    pub(super) notices: Vec<SensitivityNotice>,
}

impl Plan {
    /// The generalised find.
    pub(super) fn shown(&self, find: &KeptFind) -> KeptFind {
        let Some((decisions, places)) = &self.decided else { return find.clone() };
        decisions.shown(places.get(&find.id).copied().unwrap_or(usize::MAX), find)
    }

    /// The state to be published of the find.
    pub(super) fn published(&self, shown: &KeptFind) -> Published {
        match &self.decided {
            Some((decisions, places)) => {
                decisions.published(places.get(&shown.id).copied().unwrap_or(usize::MAX), shown)
            }
            None => Published { find: shown.id, level: None, cell: None, rule: None },
        }
    }

    /// The leak check of the output; `None` where everything is exact.
    pub(super) fn audit(&self) -> Option<Audit<'_>> {
        self.decided.as_ref().map(|(decisions, places)| Audit::new(decisions, places))
    }

    /// Earlier published states of a find.
    pub(super) fn earlier(&self, find: Uuid) -> &[Published] {
        self.earlier.get(&find).map_or(&[], Vec::as_slice)
    }

    /// Whether anything of an outing is withheld.
    pub(super) fn guards(&self, outing: Uuid) -> bool {
        self.decided.as_ref().is_some_and(|(decisions, _)| decisions.guarded.contains(&outing))
    }

    /// Whether a track passes a sensitive find of any outing.
    pub(super) fn leads_to_sensitive(&self, track: &[TrackPoint]) -> bool {
        self.decided.as_ref().is_some_and(|(decisions, _)| {
            track.iter().any(|point| decisions.leads_to_sensitive(point.at, NEAR))
        })
    }
}

/// Decides on all finds, holding only summaries in memory: a sensitive find that is not
/// selected may be revealed by one that is.
pub(super) fn plan(store: &Store, arguments: &ForOthersArguments) -> Result<Plan> {
    let query = arguments.selection.query(store)?;
    let care = arguments.coordinates.care();
    if care == Care::ExactThroughout {
        let earlier = HashMap::new();
        return Ok(Plan { query, decided: None, earlier, notices: Vec::new() });
    }
    let published = store.published()?;
    let (mut summaries, mut spotted, mut withdrawn) = (Vec::new(), Vec::new(), Vec::new());
    store.each_find(&FindQuery { withdrawn: true, ..FindQuery::default() }, |find| {
        if find.withdrawn.is_none() {
            summaries.push(FindSummary::from(&find));
            spotted.extend(SpottedFind::of(&find));
        } else if was_published_sensitive(&published, find.id) {
            withdrawn.push(FindSummary::from(&find));
        }
        Ok(())
    })?;
    let rule = rule_of(store, SiteRule::default())?;
    let sites = find_sites(&spotted, rule, &Known::default());
    let ids: Vec<Uuid> = summaries.iter().map(|summary| summary.id).collect();
    let groups = sensitive::site_groups(&ids, &spotted, &sites, &store.sites()?);
    summaries.extend(withdrawn);
    let rules = store.sensitivity_rules()?;
    let policy = Policy { rules: &rules, published: Some(&published), care, positions: mentioned };
    let decisions = sensitive::decide(&summaries, &groups, &policy);
    let notices = decisions.notices.clone();
    let places = ids.into_iter().enumerate().map(|(place, id)| (id, place)).collect();
    Ok(Plan { query, decided: Some((decisions, places)), earlier: published, notices })
}

/// Whether an earlier output withheld something of a find because of a rule. Such a find still decides about its
/// outing and its neighbours after it was withdrawn: without it they would be shown exactly, and it lies among them.
fn was_published_sensitive(published: &HashMap<Uuid, Vec<Published>>, find: Uuid) -> bool {
    let states = published.get(&find).map_or(&[][..], Vec::as_slice);
    states.iter().any(|state| state.rule.as_ref().is_some_and(|rule| !rule.is_empty()))
}

/// The finds that a rule makes sensitive, for outputs that stay exact.
pub(super) fn sensitive_finds(store: &Store) -> Result<HashSet<Uuid>> {
    if store.sensitivity_rules()?.is_empty() {
        return Ok(HashSet::new());
    }
    let which = ForOthersArguments {
        selection: SelectionArguments::default(),
        coordinates: Coordinates::ExactUnlessSensitive,
    };
    let plan = plan(store, &which)?;
    let Some((decisions, places)) = &plan.decided else { return Ok(HashSet::new()) };
    let sensitive = places.iter().filter(|(_, index)| decisions.is_sensitive(**index));
    Ok(sensitive.map(|(find, _)| *find).collect())
}

/// A sentence that an output is exact, with the number of its sensitive finds.
pub(super) fn exact_words(what: &str, finds: usize, sensitive: usize) -> String {
    let own = format!("Exact positions: {what} shows where each find was made.");
    if sensitive == 0 {
        return format!("{own} Check who may see it before you share it.");
    }
    format!(
        "{own} {} of {} {} sensitive: do not share it.",
        sensitive,
        counted(finds, "find", "finds"),
        if sensitive == 1 { "is" } else { "are" }
    )
}

/// Notices about the current rules.
pub(super) fn notices(store: &Store) -> Result<Vec<SensitivityNotice>> {
    let which = ForOthersArguments {
        selection: SelectionArguments::default(),
        coordinates: Coordinates::ExactUnlessSensitive,
    };
    Ok(plan(store, &which)?.notices)
}

/// Refuses an output from which a sensitive place could be recovered.
pub(super) fn refuse_leaks(what: &str, leaks: &[Leak]) -> Result<()> {
    let Some(first) = leaks.first() else { return Ok(()) };
    let more = leaks.len() - 1;
    let more = if more == 0 { String::new() } else { format!("; and {more} more") };
    Err(Error::input(format!("{what} would reveal a sensitive place, so nothing was written"))
        .because(format!("{first}{more}"))
        .hint(sensitive::remedy(leaks)))
}

/// The error for an empty selection.
///
/// # Errors
/// When the store cannot be read.
pub(super) fn empty_selection(
    store: &Store,
    selection: &SelectionArguments,
    query: &FindQuery,
) -> Result<Error> {
    Ok(selection.explained(store, query)?.unwrap_or_else(|| {
        Error::input("no find to export")
            .because(format!("{} has no find that matches", store.path().display()))
            .hint("list its finds with trug finds, or relax the selection")
    }))
}

/// Prints notices about rules and levels.
pub(super) fn print_notices(notices: &[SensitivityNotice], console: &mut Console) {
    for notice in notices {
        console.note(&sensitive::sentence(notice));
    }
}

/// Counts of generalised finds by level, and of those with a withheld text.
#[derive(Default)]
pub(super) struct CareTally {
    by_level: HashMap<&'static str, usize>,
    without_position: usize,
    /// The finds with a withheld text, and their fields, by what the texts state.
    texts: BTreeMap<&'static str, Vec<String>>,
}

impl CareTally {
    pub(super) fn add(&mut self, original: &KeptFind, shown: &KeptFind) {
        let word = shown.generalised.as_ref().map_or("exact", |g| g.level.word());
        match original.place {
            Some(_) => *self.by_level.entry(word).or_default() += 1,
            None => self.without_position += 1,
        }
        let withheld = sensitive::withheld_texts(shown);
        if !withheld.is_empty() {
            let number = original.record.number.as_ref().map_or("a find", |number| &number.0);
            let mut by_words: BTreeMap<&'static str, Vec<String>> = BTreeMap::new();
            for one in &withheld {
                let fields = by_words.entry(sensitive::withheld_words(one.reason)).or_default();
                fields.push(sensitive::field_in_note(one));
            }
            for (words, fields) in by_words {
                let finds = self.texts.entry(words).or_default();
                finds.push(format!("{number} {}", fields.join(", ")));
            }
        }
    }

    pub(super) fn note(&self, console: &mut Console) {
        let reported: Vec<String> = ["exact", "low", "medium", "high", "extreme"]
            .iter()
            .filter_map(|word| {
                let count = self.by_level.get(word)?;
                Some(match *word {
                    "exact" => format!("{count} exact"),
                    word => format!("{count} generalised ({word})"),
                })
            })
            .collect();
        console.note(&self.positions(&reported));
        for (words, finds) in &self.texts {
            console.note(&withheld(words, finds));
        }
    }

    /// How many finds have a position at each level, and how many have none.
    fn positions(&self, reported: &[String]) -> String {
        let none = self.without_position;
        match (reported.is_empty(), none) {
            (false, 0) => format!("Positions: {}.", reported.join(", ")),
            (true, _) => {
                format!("Positions: none; {} without one.", counted(none, "find", "finds"))
            }
            (false, _) => format!(
                "Positions: {}; {} without one.",
                reported.join(", "),
                counted(none, "find", "finds")
            ),
        }
    }
}

/// Which fields were withheld because of what they state; the first finds by number.
fn withheld(words: &str, finds: &[String]) -> String {
    const NAMED: usize = 8;
    let mut named: Vec<String> = finds.iter().take(NAMED).cloned().collect();
    if finds.len() > NAMED {
        named.push(format!("{} more finds", finds.len() - NAMED));
    }
    format!(
        "Withheld texts: {} with {words}: {}.",
        counted(finds.len(), "find", "finds"),
        named.join("; ")
    )
}

/// Reads all finds, since a sensitive find that is not selected may be revealed by one that is.
pub(super) fn prepare_query(store: &Store, query: &FindQuery, care: Care) -> Result<Prepared> {
    let published = store.published()?;
    let (originals, mut withdrawn): (Vec<KeptFind>, Vec<KeptFind>) = store
        .finds(&FindQuery { withdrawn: true, ..FindQuery::default() })?
        .into_iter()
        .partition(|find| find.withdrawn.is_none());
    withdrawn.retain(|find| was_published_sensitive(&published, find.id));
    let asked: BTreeSet<Uuid> = store.finds(query)?.into_iter().map(|find| find.id).collect();
    let chosen: Vec<usize> =
        (0..originals.len()).filter(|find| asked.contains(&originals[*find].id)).collect();
    let rules = store.sensitivity_rules()?;
    let spotted: Vec<SpottedFind> = originals.iter().filter_map(SpottedFind::of).collect();
    let rule = rule_of(store, SiteRule::default())?;
    let sites = find_sites(&spotted, rule, &Known::default());
    let ids: Vec<Uuid> = originals.iter().map(|find| find.id).collect();
    let groups = sensitive::site_groups(&ids, &spotted, &sites, &store.sites()?);
    let policy = Policy { rules: &rules, published: Some(&published), care, positions: mentioned };
    let shown = sensitive::for_others_with(&originals, &withdrawn, &groups, &policy);
    Ok(Prepared { originals, shown, published, chosen, spotted, sites })
}
