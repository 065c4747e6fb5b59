//! Runs `trug visits`: lists every visit to every site with its finds, visits without a find included.
//! Layer: `commands`.

use clap::{Args, ValueEnum};
use jiff::Timestamp;

use super::console::Console;
use super::exit::Exit;
use super::store_path::StoreArgument;
use super::years::{Years, json, length};
use crate::analyse::sites::SiteRule;
use crate::analyse::visits::VisitRule;
use crate::error::Result;
use crate::present::years::{answers, visits as view};
use crate::units::Seconds;

/// List the visits to sites, derived from the tracks alone: searches without a find are included.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// Only this site, by its number or name.
    #[arg(long, value_name = "ID")]
    site: Option<String>,

    /// The output format.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,

    /// The largest distance between a track and a site's centre.
    #[arg(long, value_name = "METRES", default_value_t = 15.0, value_parser = crate::commands::numbers::finite)]
    within: f64,

    /// Passes separated by less time than this are one visit.
    #[arg(long, value_name = "MINUTES", default_value_t = 5.0, value_parser = crate::commands::numbers::finite)]
    apart: f64,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Form {
    /// A table.
    Table,
    /// A list of visits.
    Json,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let within = length("--within", arguments.within)?;
    let apart = Seconds(length("--apart", arguments.apart)?.0 * 60.0);
    let mut years = arguments.store.years(console)?;
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let mut visits = years.visits(&sites, VisitRule { within, apart }, console)?;
    if let Some(asked) = &arguments.site {
        let site = Years::site(&sites, asked)?.id;
        visits.retain(|visit| visit.site == site);
    }
    years.say_together(console)?;
    let lines = view::lines(&visits, &years.finds);
    console.print(&match arguments.format {
        Form::Table if lines.is_empty() => String::new(),
        Form::Table => answers::visits(&lines) + &view::table(&lines) + &answers::how_visits(),
        Form::Json => json(&lines)?,
    })?;
    if lines.is_empty() {
        console.note("No track in the store passes within that distance of a site.");
    }
    Ok(Exit::Done)
}
