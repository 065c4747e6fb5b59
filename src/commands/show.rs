//! Runs `trug show NUMBER`: everything that the store knows of one find. Layer: `commands`.

use std::path::PathBuf;

use clap::Args;
use jiff::Timestamp;
use jiff::civil::Date;

use super::console::Console;
use super::exit::Exit;
use super::meant;
use super::store_path::StoreArgument;
use super::years::Years;
use super::{ground, others, output};
use crate::analyse::sites::SiteRule;
use crate::error::{Error, Result};
use crate::model::KeptFind;
use crate::present::find_map;
use crate::present::map::ground::MapGround;
use crate::present::one_find::{self, OneFind};

/// Show everything that is known of one find.
///
/// Its position with each piece of evidence, photographs, record, identifications, amendments beside what
/// was written, conflicts and site. Positions are exact: this is your own list.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The find: the collector's number, or the beginning of its identifier.
    number: String,

    /// The day of the find, where a number is used on several.
    #[arg(long, value_name = "DATE", value_parser = super::day_argument::read)]
    day: Option<Date>,

    /// The collector of the find, where several use the number.
    #[arg(long, value_name = "NAME")]
    found_by: Option<String>,

    #[command(flatten)]
    store: StoreArgument,

    /// Draw a small map: SVG, PNG or PDF by the file name extension.
    #[arg(long, value_name = "FILE")]
    figure: Option<PathBuf>,

    #[command(flatten)]
    replacing: output::Overwrite,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let path = arguments.store.path();
    let store = arguments.store.open(console)?;
    let mut find =
        meant::find(&store, &arguments.number, arguments.day, arguments.found_by.as_deref())?;
    ground::set_elevations(std::iter::once(&mut find), &store, console)?;
    let anchors = store.anchors(find.id)?;
    let zone = store.zone(find.outing)?;
    let changes = store.changes_of(find.id, find.outing)?.len();
    if let Some(path) = &arguments.figure {
        let track = store.track(find.outing)?;
        let source = ground::kept_of(&store, console)?;
        let ground = match find_map::area(&find, &anchors) {
            Some(area) => source.under(&area, Some(&store), Some(find.outing))?,
            None => MapGround::default(),
        };
        let Some(map) = find_map::figure(&find, &anchors, &track, &ground) else {
            return Err(Error::input(format!("{} cannot be drawn", arguments.number))
                .because("no evidence of it has a position")
                .hint("omit --figure; trug show states why it is not located"));
        };
        output::picture(path, &map, arguments.replacing)?;
    }
    let rule = others::sensitive_finds(&store)?.contains(&find.id);
    let sensitive = rule.then(|| "by a rule; outputs for others withhold its place".to_owned());
    drop(store);
    let one = OneFind {
        find: &find,
        anchors: &anchors,
        zone: &zone,
        site: site(&path, &find)?,
        sensitive: sensitive.into_iter().collect(),
        changes,
    };
    console.print(&one_find::text(&one))?;
    Ok(Exit::Done)
}

/// Its site, computed again where a find has changed.
fn site(path: &std::path::Path, find: &KeptFind) -> Result<Option<(i64, Option<String>, usize)>> {
    if find.place.is_none() || find.withdrawn.is_some() {
        return Ok(None);
    }
    let mut years = Years::open(path)?;
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let its = sites
        .sites
        .iter()
        .find(|site| site.finds.iter().any(|place| years.finds[*place].id == find.id));
    Ok(its.map(|site| (site.id.0, site.name.clone(), site.finds.len())))
}
