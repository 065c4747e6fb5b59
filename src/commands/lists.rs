//! Runs `trug lists`: species lists with first finds, accumulation and completeness. Layer: `commands`.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::PathBuf;
use std::sync::Arc;

use clap::{Args, ValueEnum};

use super::console::Console;
use super::exit::Exit;
use super::noted::Noted;
use super::output;
use super::selection::SelectionArguments;
use super::store_path::StoreArgument;
use super::without_effect::needs;
use super::years::Units;
use super::years::json;
use crate::analyse::hosts::names::Groups;
use crate::analyse::lists::richness::chao2;
use crate::analyse::lists::{
    Group, Listed, Richness, SpeciesLine, accumulation, alike, lists, pairs,
};
use crate::analyse::taxon_name::{NameRule, Named};
use crate::analyse::visits::VisitRule;
use crate::error::Result;
use crate::model::NameCheck;
use crate::present::years::lists::{self as view, GroupedBy, NotInChecklist, Report};
use crate::present::years::sites::is_search;
use crate::store::{FindQuery, KeptOuting, NotedFind, Store};

/// List species: of all finds, or by place, site, year or outing, with first finds, accumulation over
/// outings and hours, and estimates of how complete the list is.
///
/// Names with cf., aff. or a question mark, genera alone and what is no scientific name are counted
/// apart.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    #[command(flatten)]
    selection: SelectionArguments,

    /// One list for each.
    #[arg(long, value_enum)]
    by: Option<By>,

    /// Compare the lists of --by: shared species and similarity.
    #[arg(long)]
    shared: bool,

    /// The output format.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,

    /// Draw the accumulation of species: SVG, PNG or PDF by the file name extension.
    #[arg(long, value_name = "FILE")]
    figure: Option<PathBuf>,

    #[command(flatten)]
    replacing: output::Overwrite,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum By {
    /// Place name as written.
    Place,
    /// Site.
    Site,
    /// Calendar year.
    Year,
    /// Outing.
    Outing,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Form {
    /// Tables.
    Table,
    /// Lists, estimates and the accumulation curve.
    Json,
    /// Comma separated, a row for each species of each list.
    Csv,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    needs("--shared", arguments.shared, "--by", arguments.by.is_some())?;
    arguments.replacing.needs_output("--figure", arguments.figure.is_some())?;
    let years = arguments.store.years(console)?;
    let noted = Noted::read(years, &arguments.selection, true)?;
    let report = report(arguments, &noted, console)?;
    if let Some(path) = &arguments.figure {
        output::picture(path, &view::figure(&report), arguments.replacing)?;
    }
    console.print(&match arguments.format {
        Form::Table => view::text(&report),
        Form::Json => json(&view::properties(&report))?,
        Form::Csv => view::csv(&report)?,
    })?;
    Ok(Exit::Done)
}

fn report(arguments: &Arguments, noted: &Noted, console: &Console) -> Result<Report> {
    let (outings, whole_outings) = outings(noted, console)?;
    let (groups, of) = match arguments.by {
        None => (Vec::new(), vec![None; noted.finds.len()]),
        Some(by) => by.groups(noted, &outings, console)?,
    };
    let together = noted.years.units(console)?;
    let made = lists(
        &listed(noted, &of, together),
        &as_units(&outings, together),
        &groups.into_iter().map(|group| in_units(group, together)).collect::<Vec<_>>(),
    );
    let chosen: BTreeSet<usize> =
        outings.iter().copied().chain(noted.finds.iter().map(|find| noted.outing(find))).collect();
    let hours = hours(noted, &chosen, console)?;
    let richness = Richness::of(&made.all.incidences);
    let complete = chao2(&made.all.incidences, true).value;
    let species = &made.all.species;
    let not_in_checklist = not_in_checklist(&noted.years.store, species)?;
    let dates = || chosen.iter().filter_map(|n| noted.years.outings.get(*n)).map(|o| o.date);
    Ok(Report {
        of: arguments.selection.words(),
        by: arguments.by.map(By::named),
        curve: accumulation(&made.all.incidences, complete, hours),
        pairs: if arguments.shared { pairs(&made.groups) } else { Vec::new() },
        dates: dates().min().zip(dates().max()),
        not_in_checklist,
        alike: alike(species),
        richness,
        hours,
        whole_outings,
        lists: made,
    })
}

/// Species that the checklist does not have, with the nearest that it has.
fn not_in_checklist(store: &Store, species: &[SpeciesLine]) -> Result<Vec<NotInChecklist>> {
    if store.checklist()?.is_none() {
        return Ok(Vec::new());
    }
    let checks = store.lookup_all(species.iter().map(|line| line.name.as_str()))?;
    let unknown = species.iter().zip(checks).filter_map(|(line, check)| match &*check? {
        NameCheck::Unknown { nearest } => Some(NotInChecklist {
            name: line.name.clone(),
            finds: line.finds,
            nearest: nearest.clone(),
        }),
        _ => None,
    });
    Ok(unknown.collect())
}

/// The outings of the selection, and whether those without a find of it are among them.
fn outings(noted: &Noted, console: &Console) -> Result<(BTreeSet<usize>, bool)> {
    if noted.by_outing() {
        return Ok((noted.outings(), true));
    }
    let only_site = noted.query.rows.is_some() && {
        let query = FindQuery { rows: None, ..noted.query.clone() };
        query.is_by_name_and_date()
    };
    let Some(site) = noted.finds.first().and_then(|find| noted.site(find)).filter(|_| only_site)
    else {
        return Ok((BTreeSet::new(), false));
    };
    let chosen = noted.outings();
    let visited = visited(noted, console)?.remove(&site).unwrap_or_default();
    Ok((visited.intersection(&chosen).copied().collect(), true))
}

/// The outings on which each site was searched.
fn visited(noted: &Noted, console: &Console) -> Result<HashMap<usize, BTreeSet<usize>>> {
    let place: HashMap<_, usize> =
        noted.sites.sites.iter().enumerate().map(|(n, site)| (site.id, n)).collect();
    let mut visited: HashMap<usize, BTreeSet<usize>> = HashMap::new();
    for visit in noted.years.visits_of_persons(&noted.sites, VisitRule::default(), console)? {
        if let (true, Some(site), Some(outing)) =
            (is_search(&visit), place.get(&visit.site), noted.number.get(&visit.outing))
        {
            visited.entry(*site).or_default().insert(*outing);
        }
    }
    Ok(visited)
}

fn hours(noted: &Noted, units: &BTreeSet<usize>, console: &Console) -> Result<Option<f64>> {
    let all = noted.years.hours(console)?;
    let hours: f64 =
        all.each().filter(|(own, ..)| units.contains(own)).map(|(.., hours)| hours).sum();
    Ok((hours > 0.0).then_some(hours))
}

/// The outings as sampling units: those of people who walked together are one.
fn as_units(outings: &BTreeSet<usize>, units: &Units) -> BTreeSet<usize> {
    outings.iter().map(|outing| units.of(*outing)).collect()
}

fn in_units(group: Group, units: &Units) -> Group {
    Group { outings: as_units(&group.outings, units), ..group }
}

/// The finds as the lists need them, with the group of each.
fn listed(noted: &Noted, groups: &[Option<usize>], units: &Units) -> Vec<Listed> {
    let names: BTreeSet<&str> =
        noted.finds.iter().filter_map(|find| find.name.as_deref()).collect();
    let rule = NameRule::of(names.iter().copied());
    let read: HashMap<&str, Arc<Named>> =
        names.iter().map(|name| (*name, Arc::new(rule.read(name)))).collect();
    let blank = Arc::new(Named::Undetermined);
    let named = |name: Option<&str>| name.and_then(|name| read.get(name)).unwrap_or(&blank).clone();
    let each = noted.finds.iter().zip(groups);
    each.map(|(find, group)| Listed {
        outing: units.of(noted.outing(find)),
        date: find.date,
        number: find.number.clone(),
        named: named(find.name.as_deref()),
        site: noted.site(find),
        group: *group,
    })
    .collect()
}

/// The groups, and the group of each find.
type Grouped = (Vec<Group>, Vec<Option<usize>>);

impl By {
    fn named(self) -> GroupedBy {
        match self {
            Self::Place => GroupedBy::Place,
            Self::Site => GroupedBy::Site,
            Self::Year => GroupedBy::Year,
            Self::Outing => GroupedBy::Outing,
        }
    }

    fn groups(
        self,
        noted: &Noted,
        outings: &BTreeSet<usize>,
        console: &Console,
    ) -> Result<Grouped> {
        Ok(match self {
            Self::Place => by_place(noted),
            Self::Site => by_site(noted, outings, console)?,
            Self::Year => by_outing(noted, outings, |outing| outing.date.year().to_string()),
            Self::Outing => {
                let mut count: BTreeMap<_, usize> = BTreeMap::new();
                for outing in &noted.years.outings {
                    *count.entry(outing.date).or_insert(0) += 1;
                }
                by_outing(noted, outings, |outing| match &outing.collector {
                    Some(collector) if count[&outing.date] > 1 => {
                        format!("{} {collector}", outing.date)
                    }
                    _ => outing.date.to_string(),
                })
            }
        })
    }
}

/// Groups by a property of the outing.
fn by_outing(
    noted: &Noted,
    outings: &BTreeSet<usize>,
    label: impl Fn(&KeptOuting) -> String,
) -> Grouped {
    let mut of_label: BTreeMap<String, BTreeSet<usize>> = BTreeMap::new();
    let labels: Vec<String> = noted.years.outings.iter().map(label).collect();
    let own: BTreeSet<usize> = noted.finds.iter().map(|find| noted.outing(find)).collect();
    for outing in outings.union(&own) {
        if let Some(label) = labels.get(*outing) {
            of_label.entry(label.clone()).or_default().insert(*outing);
        }
    }
    let place: HashMap<&str, usize> =
        of_label.keys().enumerate().map(|(place, label)| (label.as_str(), place)).collect();
    let of = noted.finds.iter().map(|find| {
        labels.get(noted.outing(find)).and_then(|label| place.get(label.as_str()).copied())
    });
    let of = of.collect();
    let groups = of_label.into_iter().map(|(label, outings)| Group { label, outings });
    (groups.collect(), of)
}

fn by_place(noted: &Noted) -> Grouped {
    let written = Groups::of_words(noted.finds.iter().filter_map(|find| find.place.as_deref()));
    let mut groups: Vec<Group> = (written.groups.iter())
        .map(|place| Group { label: place.shown.clone(), ..Group::default() })
        .collect();
    let none = groups.len();
    groups.push(Group { label: "(no place name)".to_owned(), ..Group::default() });
    let of = |find: &NotedFind| find.place.as_deref().and_then(|place| written.of(place));
    (groups, noted.finds.iter().map(|find| Some(of(find).unwrap_or(none))).collect())
}

fn by_site(noted: &Noted, outings: &BTreeSet<usize>, console: &Console) -> Result<Grouped> {
    let visited = visited(noted, console)?;
    let mut groups: Vec<Group> = Vec::with_capacity(noted.sites.sites.len() + 1);
    for (number, site) in noted.sites.sites.iter().enumerate() {
        let label = match &site.name {
            Some(name) => format!("{} {name}", site.id.0),
            None => site.id.0.to_string(),
        };
        let own = visited.get(&number).into_iter().flatten().copied();
        groups.push(Group { label, outings: own.filter(|n| outings.contains(n)).collect() });
    }
    let none = groups.len();
    groups.push(Group { label: "(no site)".to_owned(), ..Group::default() });
    let of = noted.finds.iter().map(|find| Some(noted.site(find).unwrap_or(none))).collect();
    Ok((groups, of))
}
