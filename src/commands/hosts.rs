//! Runs `trug hosts`: what taxa grew with and on, tested against what was available. Layer: `commands`.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::console::Console;
use super::exit::Exit;
use super::names;
use super::noted::Noted;
use super::output;
use super::selection::SelectionArguments;
use super::store_path::StoreArgument;
use super::without_effect::needs;
use super::years::json;
use crate::analyse::hosts::names::Groups;
use crate::analyse::hosts::rates::{self, Ground, Located, Rates, Searched};
use crate::analyse::hosts::{Grown, Spot, associations};
use crate::analyse::spotted::belongs;
use crate::analyse::taxon_name::{NameRule, Named};
use crate::analyse::walk::Walk;
use crate::earth::equal_area::EqualArea;
use crate::error::{Error, Result};
use crate::present::years::hosts::{self as view, GrownWith, Report};
use crate::store::NotedFind;

/// Report what taxa grew with and on, and whether more often than the other fungi of the same outings.
///
/// With --taxon: its hosts, with intervals. Without: every taxon and host.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    #[command(flatten)]
    selection: SelectionArguments,

    /// What is compared.
    #[arg(long, value_enum, default_value_t = By::Host)]
    by: By,

    /// Print the numbers as JSON.
    #[arg(long)]
    json: bool,

    /// Draw the hosts of --taxon: SVG, PNG or PDF by the file name extension.
    #[arg(long, value_name = "FILE")]
    figure: Option<PathBuf>,

    #[command(flatten)]
    replacing: output::Overwrite,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum By {
    /// The plant it grew with or on.
    Host,
    /// Soil, litter, wood and its state, dung.
    Substrate,
    /// The surroundings.
    Habitat,
}

impl By {
    fn grown_with(self) -> GrownWith {
        match self {
            Self::Host => GrownWith::Host,
            Self::Substrate => GrownWith::Substrate,
            Self::Habitat => GrownWith::Habitat,
        }
    }

    fn of(self, find: &NotedFind) -> Option<&str> {
        match self {
            Self::Host => find.host.as_deref(),
            Self::Substrate => find.substrate.as_deref(),
            Self::Habitat => find.habitat.as_deref(),
        }
    }
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    arguments.replacing.needs_output("--figure", arguments.figure.is_some())?;
    needs("--figure", arguments.figure.is_some(), "--taxon", arguments.selection.taxon.is_some())?;
    arguments.comparable()?;
    let years = arguments.store.years(console)?;
    let taxon = years.meant(arguments.selection.taxon.as_deref(), console)?;
    let taxon = taxon.as_deref();
    names::known_taxon(&years, taxon)?;
    let noted = Noted::read(years, &arguments.selection, false)?;
    let report = report(arguments, taxon, &noted, console)?;
    if let Some(path) = &arguments.figure {
        output::picture(path, &view::figure(&report), arguments.replacing)?;
    }
    console.print(&if arguments.json {
        json(&view::properties(&report))?
    } else {
        view::text(&report)
    })?;
    Ok(Exit::Done)
}

impl Arguments {
    /// # Errors
    /// When the selection restricts what is to be compared.
    fn comparable(&self) -> Result<()> {
        let restricted = match self.by {
            By::Host => self.selection.host.is_some().then_some("--host"),
            By::Substrate => self.selection.substrate.is_some().then_some("--substrate"),
            By::Habitat => None,
        };
        match restricted {
            None => Ok(()),
            Some(option) => Err(Error::input(format!(
                "{option} leaves nothing to compare a {} with",
                self.by.grown_with().heading()
            ))
            .because("the finds with others are what it is compared with")
            .hint(format!("omit {option}"))),
        }
    }
}

fn report(
    arguments: &Arguments,
    taxon: Option<&str>,
    noted: &Noted,
    console: &Console,
) -> Result<Report> {
    let by = arguments.by;
    let written = || noted.finds.iter().filter_map(|find| by.of(find));
    let groups =
        if by == By::Host { Groups::of_hosts(written()) } else { Groups::of_words(written()) };
    let host = |find: &NotedFind| by.of(find).and_then(|text| groups.of(text));
    let (taxa, of, chosen) = taxa(noted, taxon);
    let places = Groups::of_words(noted.finds.iter().filter_map(|find| find.place.as_deref()));
    let units = noted.years.units(console)?;
    let unit = |find: &NotedFind| units.of(noted.outing(find));
    let spot = |find: &NotedFind| {
        let place = || find.place.as_deref().and_then(|place| places.of(place));
        let elsewhere = || Spot::Outing(unit(find), place().unwrap_or(usize::MAX));
        noted.site(find).map_or_else(elsewhere, Spot::Site)
    };
    let each = noted.finds.iter().zip(&of);
    let grown: Vec<Grown> = each
        .map(|(find, taxon)| Grown {
            outing: unit(find),
            spot: spot(find),
            taxon: *taxon,
            host: host(find),
        })
        .collect();
    let rates = match (by, taxon) {
        (By::Habitat, Some(_)) => {
            let wanted: Vec<bool> = of.iter().map(|taxon| chosen.contains(taxon)).collect();
            Some(habitat_rates(noted, host, &wanted, console)?)
        }
        _ => None,
    };
    let spellings = groups.groups.iter().map(|group| {
        let written = group.written.iter().map(|(text, count)| (text.clone(), *count)).collect();
        (group.shown.clone(), written)
    });
    Ok(Report {
        taxon: taxon.map(str::to_owned),
        with: by.grown_with(),
        hosts: associations(&grown, &chosen),
        taxa,
        shown: spellings.collect(),
        rates,
    })
}

/// The names of the taxa, the taxon of each find, and the taxa that are asked about: the one, or every
/// species.
fn taxa(noted: &Noted, taxon: Option<&str>) -> (Vec<String>, Vec<usize>, BTreeSet<usize>) {
    let names: BTreeSet<&str> =
        noted.finds.iter().filter_map(|find| find.name.as_deref()).collect();
    let rule = NameRule::of(names.iter().copied());
    let (mut number, mut chosen) = (BTreeMap::from([(String::new(), 0)]), BTreeSet::new());
    let mut of_name: HashMap<&str, usize> = HashMap::new();
    for name in &names {
        let ours = taxon.is_some_and(|taxon| belongs(name, taxon));
        let (key, species) = match (ours, rule.read(name), taxon) {
            (true, _, Some(taxon)) => (taxon.to_owned(), true),
            (_, Named::Species(species), None) => (species, true),
            (_, Named::Species(species), Some(_)) => (species, false),
            _ => ((*name).to_lowercase(), false),
        };
        let next = number.len();
        let own = *number.entry(key).or_insert(next);
        of_name.insert(name, own);
        if species {
            chosen.insert(own);
        }
    }
    let mut taxa = vec![String::new(); number.len()];
    for (name, place) in number {
        taxa[place] = name;
    }
    let of = noted
        .finds
        .iter()
        .map(|find| find.name.as_deref().and_then(|name| of_name.get(name)).copied().unwrap_or(0));
    (taxa, of.collect(), chosen)
}

fn habitat_rates(
    noted: &Noted,
    habitat: impl Fn(&NotedFind) -> Option<usize>,
    wanted: &[bool],
    console: &Console,
) -> Result<Rates> {
    let years = &noted.years;
    let plane = EqualArea::about_all(years.outings.iter().filter_map(|outing| outing.began));
    let (chosen, units) = (noted.outings(), years.units(console)?);
    let located = noted.finds.iter().zip(wanted).filter_map(|(find, wanted)| {
        let at = years.finds[*noted.located.get(&find.key)?].at;
        let cell = rates::cell(plane.to_plane(at));
        let (habitat, outing) = (habitat(find), units.of(noted.outing(find)));
        Some(Located { cell, habitat, wanted: *wanted, outing })
    });
    let located: Vec<Located> = located.collect();
    let ground = Ground::of(&located);
    let mut outings: BTreeMap<usize, Searched> = BTreeMap::new();
    let look = |walk: Walk| (walk.outing, ground.hours_of(&walk, &plane));
    years.map_searches(console, "Computing effort", look, |(outing, own)| {
        let number = noted.number.get(&outing).filter(|number| chosen.contains(*number));
        let Some(searched) = number.map(|number| outings.entry(units.of(*number)).or_default())
        else {
            return;
        };
        for (habitat, hours) in own {
            *searched.entry(habitat).or_insert(0.0) += hours;
        }
    })?;
    Ok(ground.rates(&located, &outings))
}
