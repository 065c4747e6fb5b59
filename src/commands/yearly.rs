//! Runs `trug years`: compares the seasons of taxa from year to year. Layer: `commands`.

use std::collections::BTreeSet;
use std::path::PathBuf;

use clap::Args;
use rayon::prelude::*;

use super::console::Console;
use super::exit::Exit;
use super::store_path::StoreArgument;
use super::years::{Hours, Seen, Weathers, Years, json};
use super::{names, output};
use crate::analyse::season::Stint;
use crate::analyse::spotted::belongs;
use crate::analyse::years::{LEAST_FINDS, TooFew, YearsOf, compare, name_years};
use crate::error::{Error, Result};
use crate::present::summary::words::counted;
use crate::present::years::compared as view;

/// Compare the seasons of taxa from year to year: onset, peak, end and amount, and their change by decade.
///
/// Without --taxon: all finds together and each species with enough finds.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// The taxon: a name or the beginning of one; a genus includes its species.
    #[arg(long, value_name = "T")]
    taxon: Option<String>,

    /// Also state the change by decade with the weather allowed for, where it has earned its place.
    #[arg(long)]
    weather: bool,

    /// Print the numbers as JSON.
    #[arg(long)]
    json: bool,

    /// Draw a figure: SVG, PNG or PDF by the file name extension.
    #[arg(long, value_name = "FILE")]
    figure: Option<PathBuf>,

    #[command(flatten)]
    replacing: output::Overwrite,
}

/// The most taxa of a table and figure: those with most finds.
const MOST: usize = 24;

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    arguments.replacing.needs_output("--figure", arguments.figure.is_some())?;
    let years = arguments.store.years(console)?;
    let asked = arguments.taxon.as_deref().map(str::trim);
    names::known_taxon(&years, asked)?;
    let weathers = if arguments.weather { Some(years.weathers()?) } else { None };
    let hours = years.hours(console)?;
    let groups = groups(&years, asked);
    let seen = years.seen.as_slice();
    let results: Vec<std::result::Result<YearsOf, TooFew>> =
        groups.par_iter().map(|group| compared(seen, &hours, weathers.as_ref(), group)).collect();
    let few = results.iter().filter(|of| of.is_err()).count();
    let mut all: Vec<YearsOf> = Vec::new();
    let mut last = None;
    for result in results {
        match result {
            Ok(of) => all.push(of),
            Err(too_few) => last = Some(too_few),
        }
    }
    if all.is_empty() {
        return Err(nothing(asked, last));
    }
    name_years(&mut all);
    if let Some(path) = &arguments.figure {
        output::picture(path, &view::figure(&all), arguments.replacing)?;
    }
    if arguments.json {
        console.print(&json(&view::properties(&all))?)?;
    } else {
        console.print(&view::text(&all))?;
    }
    if few > 0 {
        console.note(&format!(
            "{} not compared: fewer than {LEAST_FINDS} finds or 3 seasons with a find.",
            counted(few, "taxon", "taxa")
        ));
    }
    Ok(Exit::Done)
}

/// The name of all finds together.
const ALL: &str = "all finds";

/// The taxa of the table: the one asked for, or all finds and the species with most.
fn groups(years: &Years, asked: Option<&str>) -> Vec<String> {
    if let Some(taxon) = asked {
        return vec![taxon.to_owned()];
    }
    let mut counts: std::collections::BTreeMap<String, usize> = std::collections::BTreeMap::new();
    for find in &years.seen {
        let name: Vec<&str> = find.taxon.split_whitespace().take(2).collect();
        *counts.entry(name.join(" ")).or_default() += 1;
    }
    let mut named: Vec<(String, usize)> = counts.into_iter().collect();
    named.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    let species: BTreeSet<String> = named.into_iter().take(MOST).map(|(name, _)| name).collect();
    std::iter::once(ALL.to_owned()).chain(species).collect()
}

fn compared(
    seen: &[Seen],
    hours: &Hours,
    weathers: Option<&Weathers>,
    group: &str,
) -> std::result::Result<YearsOf, TooFew> {
    let stints: Vec<Stint> = hours.stints(seen, |find| group == ALL || belongs(&find.taxon, group));
    let adjust = weathers.and_then(|weathers| {
        let effect = weathers.effect(&stints).ok()?;
        weathers.adjust(&effect, &stints)
    });
    compare(group, &stints, adjust.as_ref())
}

fn nothing(asked: Option<&str>, last: Option<TooFew>) -> Error {
    let of = asked.map_or_else(|| "the finds".to_owned(), |taxon| format!("{taxon:?}"));
    let TooFew { finds, years } = last.unwrap_or(TooFew { finds: 0, years: 0 });
    Error::input(format!("not enough data to compare the years of {of}"))
        .because(format!(
            "{} on searched outings in {}; {LEAST_FINDS} finds in 3 seasons are needed",
            counted(finds as usize, "find", "finds"),
            counted(years, "season", "seasons")
        ))
        .hint("import the tracks of earlier years, or try the genus")
}
