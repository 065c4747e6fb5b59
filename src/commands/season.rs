//! `trug season`: when a kind fruits, corrected for the hours searched. Layer: `commands`.

use std::path::PathBuf;

use clap::Args;

use super::console::Console;
use super::exit::Exit;
use super::output;
use super::store_path::StoreArgument;
use super::years::{Years, json};
use crate::analyse::season::tell;
use crate::analyse::spotted::belongs;
use crate::error::{Error, Result};
use crate::present::years::calendar::{self, CalendarRow};
use crate::present::years::season as told;

/// Tell when a kind fruits, from its finds per hour searched through the year.
///
/// Without --taxon: a calendar of all kinds, which needs --figure.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// The kind: a name or the beginning of one, a genus for all its species.
    #[arg(long, value_name = "T", required_unless_present = "figure")]
    taxon: Option<String>,

    /// Print the numbers as JSON.
    #[arg(long)]
    json: bool,

    /// Draw it: an SVG, PNG or PDF by its ending.
    #[arg(long, value_name = "FILE")]
    figure: Option<PathBuf>,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let years = Years::open(&arguments.store.path())?;
    let hours = years.hours(console)?;
    if hours.unjudged > 0 {
        console.note(&format!(
            "{} tracks show no searching or standing at all: their whole time counts as searched.",
            hours.unjudged
        ));
    }
    let Some(taxon) = arguments.taxon.as_deref().map(str::trim) else {
        return calendar(arguments, &years, &hours, console);
    };
    let stints = hours.stints(&years.seen, |find| belongs(&find.kind, taxon));
    let season = tell(&stints).map_err(|little| {
        Error::input(format!("too little is known of {taxon} to tell its season"))
            .because(little.why)
            .hint("see `trug finds --taxon` for what there is; try the genus")
    })?;
    if let Some(path) = &arguments.figure {
        output::picture(path, &told::figure(taxon, &season))?;
    }
    if arguments.json {
        console.print(&json(&told::properties(taxon, &season))?)?;
    } else {
        console.print(&told::text(taxon, &season))?;
    }
    Ok(Exit::Done)
}

fn calendar(
    arguments: &Arguments,
    years: &Years,
    hours: &super::years::Hours,
    console: &mut Console,
) -> Result<Exit> {
    let week_of = |date: jiff::civil::Date| usize::from(date.day_of_year().unsigned_abs() - 1) / 7;
    let mut by_week = vec![0.0; 53];
    for stint in hours.stints(&[], |_| true) {
        by_week[week_of(stint.date)] += stint.hours;
    }
    let mut rows: std::collections::BTreeMap<String, Vec<u32>> = std::collections::BTreeMap::new();
    for find in &years.seen {
        let name: Vec<&str> = find.kind.split_whitespace().take(2).collect();
        rows.entry(name.join(" ")).or_insert_with(|| vec![0; 53])[week_of(find.date)] += 1;
    }
    let mut rows: Vec<CalendarRow> =
        rows.into_iter().map(|(kind, finds)| CalendarRow { kind, finds }).collect();
    if rows.is_empty() {
        return Err(Error::input("there is nothing to put into a calendar")
            .because("no find in the store has a name")
            .hint("import days whose records name their finds"));
    }
    let first = quiet_week(&rows);
    rows.sort_by_key(|row| {
        let total: u32 = row.finds.iter().sum();
        let mut sum = 0;
        (0..53).find(|place| {
            sum += row.finds[(first + place) % 53];
            2 * sum >= total
        })
    });
    if let Some(path) = &arguments.figure {
        output::picture(path, &calendar::figure(&rows, &by_week, first))?;
    }
    console.note(&format!("{} kinds in the calendar.", rows.len()));
    Ok(Exit::Done)
}

/// The middle of the longest run of weeks without any find: where a year of fruiting begins.
fn quiet_week(rows: &[CalendarRow]) -> usize {
    let quiet = |week: usize| rows.iter().all(|row| row.finds[week % 53] == 0);
    (0..53)
        .map(|start| (start, (start..start + 53).take_while(|week| quiet(*week)).count()))
        .max_by_key(|(start, length)| (*length, std::cmp::Reverse(*start)))
        .map_or(0, |(start, length)| (start + length / 2) % 53)
}
