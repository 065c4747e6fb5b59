//! Runs `trug sites`: groups finds into sites and counts visits with and without a find. Layer:
//! `commands`.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand, ValueEnum};
use jiff::Timestamp;

use super::console::Console;
use super::exit::Exit;
use super::finds::one_position;
use super::ground::GroundArguments;
use super::output;
use super::store_path::StoreArgument;
use super::without_effect::needs;
use super::years::{Years, json, length, rule_of};
use crate::analyse::nearby::Nearby;
use crate::analyse::patches::split_patches;
use crate::analyse::sites::SiteRule;
use crate::analyse::visits::VisitRule;
use crate::error::{Error, Result};
use crate::model::Site;
use crate::present::map::ground::MapGround;
use crate::present::summary::words::counted;
use crate::present::years::{answers, sites as view, sites_map};
use crate::units::Metres;

/// Group finds into sites and list them.
///
/// Finds whose 95 % circles overlap such that they cannot be distinguished form one site; a site never
/// exceeds the circles of its finds. Site numbers stay the same when days are added.
#[derive(Debug, Args)]
#[command(args_conflicts_with_subcommands = true)]
pub(super) struct Arguments {
    #[command(subcommand)]
    change: Option<Change>,

    #[command(flatten)]
    store: StoreArgument,

    /// The output format.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,

    /// The largest distance between a track and a site's centre that counts as a visit.
    #[arg(long, value_name = "METRES", default_value_t = 15.0, value_parser = crate::commands::numbers::finite)]
    within: f64,

    /// Only the ten sites nearest to this position, nearest first.
    #[arg(long, value_name = "POSITION", allow_hyphen_values = true)]
    near: Option<String>,

    /// Exclude finds with a larger 95 % radius: they could belong to several sites.
    #[arg(long, value_name = "METRES", default_value_t = 100.0, value_parser = crate::commands::numbers::finite)]
    coarsest: f64,

    /// The radius of a site, kept in the store for all commands: finds within one patch of this
    /// radius are one site. Default 3 m.
    #[arg(long, value_name = "METRES", value_parser = crate::commands::numbers::finite)]
    extent: Option<f64>,

    /// Draw the sites on their ground: SVG, PNG or PDF by the file name extension.
    #[arg(long, value_name = "FILE")]
    figure: Option<PathBuf>,

    #[command(flatten)]
    ground: GroundArguments,

    #[command(flatten)]
    replacing: output::Overwrite,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Form {
    /// A table.
    Table,
    /// A list of sites.
    Json,
    /// RFC 7946, one point per site.
    Geojson,
}

#[derive(Debug, Subcommand)]
enum Change {
    /// Give a site a name.
    Name {
        /// Its number or current name.
        site: String,
        /// The new name; empty removes the name.
        name: String,
        #[command(flatten)]
        store: StoreArgument,
    },
    /// Merge two sites permanently.
    Join {
        /// The first site.
        site: String,
        /// The second site.
        other: String,
        #[command(flatten)]
        store: StoreArgument,
    },
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    match &arguments.change {
        Some(Change::Name { site, name, store }) => rename(store, site, name, console),
        Some(Change::Join { site, other, store }) => join(store, site, other, console),
        None => list(arguments, console),
    }
}

fn list(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let within = length("--within", arguments.within)?;
    let coarsest = length("--coarsest", arguments.coarsest)?;
    let extent = arguments.extent.map(|extent| length("--extent", extent)).transpose()?;
    if extent.is_some_and(|extent| extent.0 > LARGEST) {
        return Err(Error::input(format!(
            "--extent {} is too large for one site",
            extent.unwrap_or_default()
        ))
        .because(format!("the radius of a site is at most {LARGEST:.0} m"))
        .hint("give the radius of one patch, such as --extent 10"));
    }
    arguments.replacing.needs_output("--figure", arguments.figure.is_some())?;
    needs("--elevation or --base", arguments.ground.any(), "--figure", arguments.figure.is_some())?;
    let mut years = arguments.store.years(console)?;
    if let Some(extent) = extent {
        years.keep_extent(extent)?;
    }
    let sites = years.sites(SiteRule { coarsest, ..SiteRule::default() }, Timestamp::now())?;
    let visits = years.visits(&sites, VisitRule { within, ..VisitRule::default() }, console)?;
    let mut lines = view::lines(&sites, &years.finds, &visits);
    if let Some(path) = &arguments.figure {
        draw(path, &lines, &mut years, arguments, console)?;
    }
    if let Some(near) = &arguments.near {
        let nearest = Nearby::new(&sites.sites).nearest(one_position(near)?, NEAREST);
        lines = in_order(lines, &nearest);
        for (site, away) in nearest {
            console.note(&format!("site {} is {away} away", site.id.0));
        }
    }
    console.print(&match arguments.format {
        Form::Table if lines.is_empty() => String::new(),
        Form::Table => answers::sites(&lines) + &view::table(&lines) + &answers::how_visits(),
        Form::Json => json(&lines)?,
        Form::Geojson => view::geojson(&lines),
    })?;
    for change in view::changes(&sites.changes) {
        console.note(&change);
    }
    let rule = rule_of(&years.store, SiteRule { coarsest, ..SiteRule::default() })?;
    if let Some((parted, extent)) = split_patches(&years.finds, &sites, rule) {
        console.note(&format!(
            "{parted} sites are so close to others of the same taxa that they may be parts of one patch: \
             --extent {} would join them.",
            extent.0
        ));
    }
    if lines.is_empty() {
        console.note("No find has a position precise enough for a site.");
    }
    let left_out = sites.too_coarse.len();
    if left_out + years.unlocated > 0 {
        console.note(&format!(
            "{} not in a site: {left_out} with a 95 % radius above {coarsest}, {} without a position.",
            counted(left_out + years.unlocated, "find is", "finds are"),
            years.unlocated
        ));
    }
    Ok(Exit::Done)
}

/// Draws all sites.
fn draw(
    path: &Path,
    lines: &[view::SiteLine],
    years: &mut Years,
    arguments: &Arguments,
    console: &mut Console,
) -> Result<()> {
    let source = arguments.ground.keep(&mut years.store, console)?;
    let ground = match sites_map::area(lines) {
        Some(area) => source.under(&area, Some(&years.store), None)?,
        None => MapGround::default(),
    };
    let figure = sites_map::figure(lines, "positions are exact", &ground).ok_or_else(|| {
        Error::input(format!("{} is not drawn", path.display()))
            .because("no find has a position precise enough for a site")
            .hint("import days with tracks and finds first")
    })?;
    output::picture(path, &figure, arguments.replacing)
}

/// The largest radius of a site, metres.
const LARGEST: f64 = 100.0;

/// The number of sites reported near a position.
const NEAREST: usize = 10;

/// The lines of these sites, in their order.
fn in_order(lines: Vec<view::SiteLine>, nearest: &[(&Site, Metres)]) -> Vec<view::SiteLine> {
    let rank = |line: &view::SiteLine| nearest.iter().position(|(site, _)| site.id.0 == line.site);
    let mut ranked: Vec<(usize, view::SiteLine)> =
        lines.into_iter().filter_map(|line| Some((rank(&line)?, line))).collect();
    ranked.sort_by_key(|(rank, _)| *rank);
    ranked.into_iter().map(|(_, line)| line).collect()
}

fn rename(store: &StoreArgument, site: &str, name: &str, console: &mut Console) -> Result<Exit> {
    let mut years = store.years(console)?;
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let id = Years::site(&sites, site)?.id;
    let name = Some(name.trim()).filter(|name| !name.is_empty()).map(str::to_owned);
    if name.as_ref().is_some_and(|name| name.parse::<i64>().is_ok()) {
        return Err(Error::input("a site's name cannot be a number")
            .because("numbers are the permanent identifiers of sites")
            .hint("add a word to it"));
    }
    years.store.name_site(id, name.as_deref())?;
    console.note(&match name {
        Some(name) => format!("Site {} is now named {name}.", id.0),
        None => format!("Site {} no longer has a name.", id.0),
    });
    Ok(Exit::Done)
}

fn join(store: &StoreArgument, site: &str, other: &str, console: &mut Console) -> Result<Exit> {
    let mut years = store.years(console)?;
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let (a, b) = (Years::site(&sites, site)?, Years::site(&sites, other)?);
    if a.id == b.id {
        return Err(Error::input(format!("{site} and {other} are already the same site"))
            .hint("name two different ones"));
    }
    let first = |site: &crate::model::Site| years.finds[site.finds[0]].id;
    let mut pairs = years.together()?;
    pairs.push((first(a), first(b)));
    let names = (a.id.0, b.id.0);
    years.keep_together(&pairs)?;
    let after = years.sites(SiteRule::default(), Timestamp::now())?;
    console.note(&format!("Sites {} and {} are now one site.", names.0, names.1));
    for change in view::changes(&after.changes) {
        console.note(&change);
    }
    Ok(Exit::Done)
}
