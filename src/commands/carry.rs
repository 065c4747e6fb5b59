//! Runs `trug carry`: writes the page to carry, as a folder for a web space or as one file. Layer: `commands`.

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use jiff::civil::{Date, Time};

use super::console::Console;
use super::exit::Exit;
use super::output::{self, Outputs};
use super::store_path::StoreArgument;
use super::{carry_inputs, carry_sites};
use crate::error::{Error, Result};
use crate::present::carry::{self, Carry};
use crate::present::summary::words::counted;
use crate::wayout::paths::Part;

/// Make a page for a telephone without a signal: the way out, the plan and the notebook.
///
/// Known paths, safe places, closed areas, light and declination of an area in one page that asks for nothing.
/// Map, compass and what you see come first; the notebook on paper stays the authority.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    pub(super) store: StoreArgument,

    /// The folder for a web space, or one file that opens by itself.
    #[arg(long, value_name = "FOLDER|FILE.html")]
    pub(super) out: PathBuf,

    /// The middle of the area: a trailhead or a position; by default the only trailhead, or the one nearest to
    /// the last track.
    #[arg(long, value_name = "WHERE", allow_hyphen_values = true)]
    pub(super) area: Option<String>,

    /// Kilometres from the middle to each side of the area.
    #[arg(long, value_name = "KM", default_value_t = 5.0, value_parser = crate::commands::numbers::finite)]
    pub(super) reach: f64,

    /// The day of the outing; by default today.
    #[arg(long, value_name = "DATE", value_parser = super::day_argument::read)]
    pub(super) date: Option<Date>,

    /// The local time zone; by default that of the area.
    #[arg(long, value_name = "ZONE", allow_hyphen_values = true)]
    pub(super) zone: Option<String>,

    /// Which sites: those of the round need --hours.
    #[arg(long, value_enum, default_value_t = Which::None)]
    pub(super) sites: Which,

    /// Plan a round of this many hours.
    #[arg(long, value_name = "H", value_parser = crate::commands::numbers::finite)]
    pub(super) hours: Option<f64>,

    /// The local time of setting out.
    #[arg(long, value_name = "HH:MM", requires = "hours", default_value = "09:00")]
    pub(super) start: Time,

    /// Another safe place, such as a camp: NAME=POSITION. Repeatable.
    #[arg(long, value_name = "NAME=POSITION", allow_hyphen_values = true)]
    pub(super) safe: Vec<String>,

    /// The own track of the day as GPX; by default that of the outing of the day in the store.
    #[arg(long, value_name = "FILE")]
    pub(super) track: Option<PathBuf>,

    /// Elevation tiles, for ways across open ground, hill shading and contours: .hgt, GeoTIFF, ASCII grid;
    /// EPSG:CODE=FILE. By default those that the store keeps.
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(super) elevation: Vec<PathBuf>,

    /// Base maps with streams, water, roads, paths, boundaries and names, besides those that the store keeps:
    /// GeoJSON, GPX, KML, GeoPackage.
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(super) base: Vec<PathBuf>,

    /// Closed areas (water, cliffs, closed land): GeoJSON, or GPX tracks and routes as their edges.
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(super) avoid: Vec<PathBuf>,

    /// The declination, east positive, instead of the World Magnetic Model.
    #[arg(long, value_name = "DEGREES", allow_hyphen_values = true, value_parser = crate::commands::numbers::finite)]
    pub(super) declination: Option<f64>,

    /// Your steps per 100 m.
    #[arg(long, value_name = "COUNT", default_value_t = 148.0, value_parser = crate::commands::numbers::finite)]
    pub(super) paces: f64,

    /// Mark slopes steeper than this.
    #[arg(long, value_name = "DEGREES", default_value_t = 30.0, value_parser = crate::commands::numbers::finite)]
    pub(super) steep: f64,

    /// The first record number of the notebook, such as AQ-0051.
    #[arg(long, value_name = "NUMBER", default_value = "1")]
    pub(super) first_number: String,

    /// Include exact sensitive places, encrypted with the passphrase in the first line of this file.
    #[arg(long, value_name = "FILE")]
    pub(super) passphrase: Option<PathBuf>,

    #[command(flatten)]
    pub(super) replacing: output::Overwrite,
}

/// Which sites the page shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(super) enum Which {
    /// All in the area.
    All,
    /// Those of the round.
    Round,
    /// None.
    None,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    if arguments.sites == Which::Round && arguments.hours.is_none() {
        return Err(Error::input("no round is known")
            .because("--sites round needs the length of the round")
            .hint("give it, as --hours 4"));
    }
    let mut carried = carry_inputs::gather(arguments, console)?;
    carry_sites::add(&mut carried, arguments, console)?;
    let mut outputs = Outputs::new(arguments.replacing);
    let size = if is_file(&arguments.out) {
        let page = carry::alone(&carried);
        outputs.write(&arguments.out, page.as_bytes())?;
        page.len()
    } else {
        into_folder(&arguments.out, &carried, &mut outputs)?
    };
    outputs.place()?;
    console.print(&report(&arguments.out, &carried, size))?;
    for note in notes(&carried) {
        console.note(&note);
    }
    Ok(Exit::Done)
}

fn is_file(out: &Path) -> bool {
    let end = out.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    end == "html" || end == "htm"
}

fn into_folder(folder: &Path, carried: &Carry, outputs: &mut Outputs) -> Result<usize> {
    std::fs::create_dir_all(folder).map_err(|source| Error::file("create", folder, &source))?;
    let mut size = 0;
    for (name, text) in carry::folder(carried) {
        outputs.write(&folder.join(name), text.as_bytes())?;
        size += text.len();
    }
    Ok(size)
}

fn report(out: &Path, carried: &Carry, size: usize) -> String {
    let edges = carried.paths.as_ref().map_or(0, |part| part.edges.len() - mapped(part));
    let land = match &carried.land {
        Some(land) => format!("open ground in cells of {:.0} m", land.footprint.spacing),
        None => "no elevations".to_owned(),
    };
    format!(
        "{}: {} KB\n  {:.0} km around {} on {}: {}, {}, {}, {land}, {}, {}\n",
        out.display(),
        size.div_ceil(1024),
        carried.reach.0 * 2.0 / 1e3,
        carried.centre,
        carried.day,
        counted(carried.safe.len(), "safe place", "safe places"),
        counted(edges, "piece of known path", "pieces of known path"),
        counted(carried.closed.len(), "closed area", "closed areas"),
        counted(carried.base.len(), "feature of base maps", "features of base maps"),
        counted(carried.sites.len(), "site", "sites"),
    )
}

/// Pieces of base maps, which no outing walked.
fn mapped(paths: &Part) -> usize {
    paths.edges.iter().filter(|edge| edge.passes == 0).count()
}

fn notes(carried: &Carry) -> Vec<String> {
    let mut notes = Vec::new();
    if carried.paths.as_ref().is_some_and(|part| mapped(part) > 0) {
        notes.push("Paths of base maps are offered as mapped, not walked by you: the map does not say whether they are there and open.".to_owned());
    }
    if carried.paths.is_none() {
        notes.push("No known path lies in the area: the page gives straight lines only, and ways across open ground with --elevation.".to_owned());
    }
    if carried.paths_withheld {
        let how = if carried.sealed.is_some() {
            "they are encrypted with the passphrase"
        } else {
            "--passphrase includes them, encrypted"
        };
        notes.push(format!(
            "Known paths in the cells of sensitive finds that only outings to such finds walked are left out: {how}."
        ));
    }
    if carried.withheld > 0 {
        let sites = counted(carried.withheld, "site is", "sites are");
        notes.push(format!("{sites} generalised or withheld by a sensitivity rule."));
    }
    notes.push("The page holds where you collect. Lock the telephone, and wipe the page when it is no longer needed.".to_owned());
    notes
}
