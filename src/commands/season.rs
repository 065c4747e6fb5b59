//! Runs `trug season`: estimates when a taxon fruits, corrected for search effort. Layer: `commands`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::console::Console;
use super::exit::Exit;
use super::store_path::StoreArgument;
use super::without_effect::needs;
use super::years::{Seen, Years, json};
use super::{names, output};
use crate::analyse::season::{Per, Stint, estimate_per};
use crate::analyse::spotted::belongs;
use crate::analyse::weather::WeatherEffect;
use crate::analyse::years::compare;
use crate::error::{Error, Result};
use crate::present::summary::words::counted;
use crate::present::weather::{effect as weather_view, figure::figure as weather_figure};
use crate::present::years::calendar;
use crate::present::years::{season as view, season_figure};

/// Report when a taxon fruits, from its finds per hour searched through the year.
///
/// Without --taxon: a calendar of all taxa, which needs --figure.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// The taxon: a name or the beginning of one; a genus includes its species.
    #[arg(long, value_name = "T")]
    taxon: Option<String>,

    /// The effort that the finds are divided by.
    #[arg(long, value_enum, default_value_t = PerChoice::Hour)]
    per: PerChoice,

    /// Add what rain and temperature before an outing do to the rate; --figure then draws that.
    #[arg(long, requires = "taxon")]
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

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum PerChoice {
    /// Hours searched.
    Hour,
    /// Kilometres searched.
    Km,
    /// Hectares searched, each place once for each outing.
    Hectare,
}

impl From<PerChoice> for Per {
    fn from(choice: PerChoice) -> Self {
        match choice {
            PerChoice::Hour => Self::Hour,
            PerChoice::Km => Self::Km,
            PerChoice::Hectare => Self::Hectare,
        }
    }
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    needs("--json", arguments.json, "--taxon", arguments.taxon.is_some())?;
    arguments.replacing.needs_output("--figure", arguments.figure.is_some())?;
    if arguments.taxon.is_none() && arguments.figure.is_none() {
        return Err(Error::input("no taxon is given")
            .because("a season is that of one taxon; all taxa together are a calendar, which is a figure")
            .hint("give --taxon NAME, or --figure FILE.svg for the calendar"));
    }
    let years = arguments.store.years(console)?;
    let per = arguments.per.into();
    let hours = years.effort_per(per, console)?;
    let taxon = years.meant(arguments.taxon.as_deref(), console)?;
    let Some(taxon) = taxon.as_deref() else {
        return calendar(arguments, &years, &hours, console);
    };
    names::known_taxon(&years, Some(taxon))?;
    years.say_effort(true, console)?;
    let stints = hours.stints(&years.seen, |name| belongs(name, taxon));
    let season = estimate_per(&stints, per).map_err(|little| {
        Error::input(format!("not enough data to estimate the season of {taxon}"))
            .because(little.why.to_string())
            .hint(names::more_finds(taxon))
    })?;
    let compared = compare(taxon, &stints, None);
    let effect = if arguments.weather { Some(weather(&years, &stints, taxon)?) } else { None };
    if let Some(path) = &arguments.figure {
        let drawing = match &effect {
            Some(effect) => weather_figure(taxon, effect),
            None => season_figure::figure(taxon, &season),
        };
        output::picture(path, &drawing, arguments.replacing)?;
    }
    if arguments.json {
        let mut properties = view::properties(taxon, &season, &compared);
        if let (Some(effect), Some(map)) = (&effect, properties.as_object_mut()) {
            map.insert("weather".to_owned(), weather_view::properties(effect));
        }
        if let (Some(notes), Some(map)) = (years.effort_notes(true), properties.as_object_mut()) {
            map.insert("effort_notes".to_owned(), notes);
        }
        console.print(&json(&properties)?)?;
    } else {
        console.print(&view::text(taxon, &season, &compared))?;
        if let Some(effect) = &effect {
            console.print(&format!("\n{}", weather_view::text(effect)))?;
        }
    }
    Ok(Exit::Done)
}

fn weather(years: &Years, stints: &[Stint], taxon: &str) -> Result<WeatherEffect> {
    let weathers = years.weathers()?;
    if years.store.weather_stations()?.is_empty() {
        return Err(Error::input("the store has no weather")
            .because("`--weather` needs daily rain and temperature of a station near the outings")
            .hint("add some with `trug weather add FILE...`"));
    }
    weathers.effect(stints).map_err(|little| {
        Error::input(format!("not enough data for the weather of {taxon}"))
            .because(weather_view::too_little(&little))
            .hint(weather_view::more_weather(&little))
    })
}

fn calendar(
    arguments: &Arguments,
    years: &Years,
    hours: &super::years::Hours,
    console: &mut Console,
) -> Result<Exit> {
    let mut by_week = vec![0.0; 53];
    for (_, date, hours) in hours.each() {
        by_week[calendar::week_of(date)] += hours;
    }
    let named = |find: &Seen| {
        let name: Vec<&str> = find.taxon.split_whitespace().take(2).collect();
        (name.join(" "), find.date)
    };
    let is_name = |find: &&Seen| find.taxon.chars().any(char::is_alphabetic);
    let (rows, first) = calendar::rows(years.seen.iter().filter(is_name).map(named));
    if rows.is_empty() {
        return Err(Error::input("no data for a calendar")
            .because("no find in the store has a name")
            .hint("import days whose records name their finds"));
    }
    if let Some(path) = &arguments.figure {
        output::picture(path, &calendar::figure(&rows, &by_week, first), arguments.replacing)?;
    }
    console.note(&format!("{} in the calendar.", counted(rows.len(), "taxon", "taxa")));
    Ok(Exit::Done)
}
