//! Runs `trug years`: compares the seasons of taxa from year to year. Layer: `commands`.

use std::collections::BTreeMap;
use std::path::PathBuf;

use clap::Args;
use rayon::prelude::*;

use super::console::Console;
use super::exit::Exit;
use super::store_path::StoreArgument;
use super::years::{Hours, Tallied, Weathers, json};
use super::{names, output};
use crate::analyse::season::Stint;
use crate::analyse::spotted::belongs;
use crate::analyse::taxon_name::{NameRule, Named};
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
    let asked = years.meant(arguments.taxon.as_deref(), console)?;
    names::known_taxon(&years, asked.as_deref())?;
    let weathers = if arguments.weather { Some(years.weathers()?) } else { None };
    let hours = years.hours(console)?;
    years.say_effort(true, console)?;
    let tallied = hours.tallied(&years.seen);
    let groups = groups(&tallied, asked.as_deref());
    let results: Vec<std::result::Result<YearsOf, TooFew>> = groups
        .par_iter()
        .map(|group| compared(&tallied, &hours, weathers.as_ref(), group))
        .collect();
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
        return Err(nothing(asked.as_deref(), last));
    }
    name_years(&mut all);
    if years.style_changes(console)? {
        all.iter_mut().for_each(YearsOf::leave_amounts_unnamed);
    }
    if let Some(path) = &arguments.figure {
        output::pictures(path, &view::pages(&all), arguments.replacing)?;
    }
    if arguments.json {
        let mut properties = view::properties(&all);
        if let Some(notes) = years.effort_notes(true) {
            properties["effort_notes"] = notes;
        }
        console.print(&json(&properties)?)?;
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
const ALL: &str = view::ALL_FINDS;

/// The finds that are compared together.
struct Group {
    title: String,
    /// Their names as written.
    names: Vec<String>,
}

/// The taxa of the table: the one asked for, or all finds and the species with most. A species has its finds
/// under every spelling of its name, and no find counts for two species.
fn groups(tallied: &Tallied, asked: Option<&str>) -> Vec<Group> {
    let group = |title: &str, wanted: &dyn Fn(&str) -> bool| Group {
        title: title.to_owned(),
        names: tallied
            .names()
            .map(|(name, _)| name)
            .filter(|n| wanted(n))
            .map(str::to_owned)
            .collect(),
    };
    if let Some(taxon) = asked {
        return vec![group(taxon, &|name| belongs(name, taxon))];
    }
    let rule = NameRule::of(tallied.names().map(|(name, _)| name));
    let mut species: BTreeMap<String, (u32, Vec<String>)> = BTreeMap::new();
    for (name, finds) in tallied.names() {
        if let Named::Species(title) = rule.read(name) {
            let own = species.entry(title).or_default();
            own.0 += finds;
            own.1.push(name.to_owned());
        }
    }
    let mut ranked: Vec<(String, (u32, Vec<String>))> = species.into_iter().collect();
    ranked.sort_by(|a, b| b.1.0.cmp(&a.1.0).then_with(|| a.0.cmp(&b.0)));
    ranked.truncate(MOST);
    ranked.sort_by(|a, b| a.0.cmp(&b.0));
    let species = ranked.into_iter().map(|(title, (_, names))| Group { title, names });
    std::iter::once(group(ALL, &|_| true)).chain(species).collect()
}

fn compared(
    tallied: &Tallied,
    hours: &Hours,
    weathers: Option<&Weathers>,
    group: &Group,
) -> std::result::Result<YearsOf, TooFew> {
    let names: std::collections::HashSet<&str> = group.names.iter().map(String::as_str).collect();
    let stints: Vec<Stint> = hours.stints_of(tallied, |name| names.contains(name));
    let adjust = weathers.and_then(|weathers| {
        let effect = weathers.series_effect(&stints).ok()?;
        weathers.adjust(&effect, &stints)
    });
    compare(&group.title, &stints, adjust.as_ref())
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_amended_name_is_in_one_group() {
        let tallied = Tallied::of_names(&[
            ("Mycena interrupta (Berk.) Sacc.", 20),
            ("mycena interrupta", 3),
            ("MYCENA INTERRUPTA", 2),
            ("Mycena", 5),
            ("Mycena cf. interrupta", 4),
            ("Russula lenkunya", 7),
        ]);
        let groups = groups(&tallied, None);
        let titles: Vec<&str> = groups.iter().map(|group| group.title.as_str()).collect();
        assert_eq!(titles, [ALL, "Mycena interrupta", "Russula lenkunya"]);
        let mut names: Vec<&str> = groups[1].names.iter().map(String::as_str).collect();
        names.sort_unstable();
        assert_eq!(
            names,
            ["MYCENA INTERRUPTA", "Mycena interrupta (Berk.) Sacc.", "mycena interrupta"]
        );
        assert_eq!(groups[0].names.len(), 6);
    }
}
