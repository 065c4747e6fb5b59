//! Runs `trug export --format FORM --out FILE`: streams finds and tracks into an exchange format.
//! Layer: `commands`.

mod parts;

use std::path::{Path, PathBuf};

use clap::{Args, ValueEnum};
use jiff::Timestamp;

use super::console::Console;
use super::exit::Exit;
use super::others::{self, CareTally, ForOthersArguments, Plan};
use super::output;
use super::store_path::StoreArgument;
use crate::error::{Error, Result};
use crate::present::exchange::Form;
use crate::present::summary::words::counted;
use crate::present::track_line::TrackLine;
use crate::store::{KeptOuting, Store};
use parts::Parts;

/// Write finds for others, generalised by default.
///
/// By default positions are on a grid of 0.001 degree, without times of day and notes. Tracks are
/// included only where every find of the outing may be exact. A file that trug wrote before is replaced;
/// any other is not changed.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The file to write; with --by-year a folder.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,

    #[command(flatten)]
    replacing: output::Overwrite,

    /// The output format.
    #[arg(long, value_enum)]
    format: FormChoice,

    /// Include the tracks of the outings.
    #[arg(long)]
    ways: bool,

    /// One part per year, as FOLDER/year=2026/part-0.parquet, for engines that
    /// read many files as one table. The default where --out is a folder.
    #[arg(long)]
    by_year: bool,

    #[command(flatten)]
    store: StoreArgument,

    #[command(flatten)]
    which: ForOthersArguments,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum FormChoice {
    /// RFC 7946 with Darwin Core properties.
    Geojson,
    /// GPX 1.1: finds as waypoints, with tracks.
    Gpx,
    /// KML 2.2.
    Kml,
    /// Comma separated, Darwin Core headings.
    Csv,
    /// GeoParquet 1.1, for large tables.
    Geoparquet,
}

impl From<FormChoice> for Form {
    fn from(choice: FormChoice) -> Self {
        match choice {
            FormChoice::Geojson => Self::GeoJson,
            FormChoice::Gpx => Self::Gpx,
            FormChoice::Kml => Self::Kml,
            FormChoice::Csv => Self::Csv,
            FormChoice::Geoparquet => Self::GeoParquet,
        }
    }
}

/// What was written.
#[derive(Default)]
struct Tally {
    finds: usize,
    unlocated: usize,
    tracks: usize,
    care: CareTally,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let form = Form::from(arguments.format);
    let by_year = by_year(arguments, form)?;
    if arguments.ways && !form.holds_tracks() {
        return Err(Error::input("a CSV table cannot contain tracks")
            .because("--ways needs a format with geometry; this one holds finds only")
            .hint("choose geojson, gpx or kml, or omit --ways"));
    }
    let mut store = arguments.store.open(console)?;
    let plan = others::plan(&store, &arguments.which)?;
    let mut parts = Parts::new(form, (&arguments.out, arguments.replacing), by_year);
    let mut tally = Tally::default();
    let mut outings = std::collections::HashSet::new();
    let mut published = Vec::new();
    let mut audit =
        plan.audit().map(|audit| if form == Form::Gpx { audit.by_number() } else { audit });
    store.each_find(&plan.query, |find| {
        outings.insert(find.outing);
        let shown = plan.shown(&find);
        published.push(plan.published(&shown));
        if let Some(audit) = &mut audit {
            audit.add(&find, &shown, plan.earlier(find.id));
        }
        tally.finds += 1;
        tally.unlocated += usize::from(shown.place.is_none());
        tally.care.add(&find, &shown);
        parts.find(&shown)
    })?;
    if tally.finds == 0 {
        return Err(others::empty_selection(&store, &arguments.which.selection, &plan.query)?);
    }
    if arguments.ways {
        for outing in store.outings()?.into_iter().filter(|outing| outings.contains(&outing.id)) {
            tally.tracks += usize::from(track(&store, &plan, outing, &mut parts)?);
        }
    }
    let drafts = parts.end()?;
    if let Some(mut audit) = audit {
        drafts.read_back(&mut |statement| audit.judge(&statement))?;
        others::refuse_leaks("the export", &audit.leaks())?;
    }
    // recorded before it is in place: an unrecorded output must not exist
    store.record_published(&published, Timestamp::now())?;
    let stale = drafts.into_place()?;
    others::print_notices(&plan.notices, console);
    print_summary(arguments, form, &tally, console)?;
    let mut warnings = arguments.which.selection.numbers_without_a_find(&store)?;
    if !stale.is_empty() {
        warnings.push(left_over(&stale));
    }
    for warning in &warnings {
        console.warning(warning);
    }
    Ok(if warnings.is_empty() { Exit::Done } else { Exit::SomeSetAside })
}

/// Whether to write one part per year.
fn by_year(arguments: &Arguments, form: Form) -> Result<bool> {
    let out = arguments.out.to_string_lossy();
    let folder = arguments.out.is_dir() || out.ends_with(['/', '\\']);
    if (arguments.by_year || folder) && form != Form::GeoParquet {
        let asked = if folder {
            format!("{} is a folder", arguments.out.display())
        } else {
            "--by-year is given".to_owned()
        };
        return Err(Error::input("only GeoParquet can be written in parts")
            .because(asked)
            .hint("name a file, or choose --format geoparquet"));
    }
    if arguments.by_year && arguments.out.is_file() {
        return Err(Error::input(format!("{} is a file", arguments.out.display()))
            .because("--by-year writes its parts into a folder")
            .hint("name a folder"));
    }
    Ok(arguments.by_year || folder)
}

fn print_summary(
    arguments: &Arguments,
    form: Form,
    tally: &Tally,
    console: &mut Console,
) -> Result<()> {
    console.print(&format!(
        "{}: {}, {}\n",
        arguments.out.display(),
        counted(tally.finds, "find", "finds"),
        counted(tally.tracks, "track", "tracks")
    ))?;
    tally.care.note(console);
    if form == Form::Gpx && tally.unlocated > 0 {
        console.note(&format!(
            "GPX cannot represent {} without coordinates.",
            counted(tally.unlocated, "find", "finds")
        ));
    }
    Ok(())
}

fn left_over(stale: &[PathBuf]) -> Error {
    let names: Vec<String> =
        stale.iter().take(3).map(|path: &PathBuf| Path::display(path).to_string()).collect();
    Error::input(format!("{} parts of an earlier export remain in the folder", stale.len()))
        .because(format!("this export has no find of those years: {}", names.join(", ")))
        .hint("remove them; programs that read the folder read them too")
}

/// Writes the track of an outing of which nothing is withheld, where it has one.
fn track(store: &Store, plan: &Plan, outing: KeptOuting, parts: &mut Parts<'_>) -> Result<bool> {
    if plan.guards(outing.id) {
        return Ok(false);
    }
    let points = store.track(outing.id)?;
    if points.is_empty() || plan.leads_to_sensitive(&points) {
        return Ok(false);
    }
    parts.track(&TrackLine {
        outing: outing.id,
        date: outing.date,
        collector: outing.collector,
        points,
    })?;
    Ok(true)
}
