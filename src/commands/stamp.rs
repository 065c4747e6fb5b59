//! Runs `trug stamp`: writes the position of each photograph into a file beside it or into a copy.
//! Layer: `commands`.

mod disclosure;
mod names;
mod writing;

use std::collections::HashSet;
use std::fs;
use std::path::PathBuf;

use clap::Args;
use jiff::Timestamp;
use jiff::civil::Date;
use uuid::Uuid;

use super::console::Console;
use super::exit::Exit;
use super::others::Coordinates;
use super::output::Overwrite;
use super::store_path::StoreArgument;
use crate::error::{Error, Result};
use crate::model::{Day, Published};
use crate::present::sensitive::Care;
use crate::store::{KeptOuting, Store};
use disclosure::{Decision, PhotoDisclosure};
use names::Names;
use writing::{Outcome, Place, Target};

/// Write the position of each photograph into an XMP file beside it, or into a copy of it.
///
/// Position, direction, uncertainty and corrected time, for photo programs. Originals are
/// never changed, and files that trug did not write are not replaced. XMP files beside your photographs are
/// for you and have exact positions; copies are for others and are generalised like all outputs for
/// others.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// Only photographs of outings that began on this day or later.
    #[arg(long, value_name = "DATE")]
    from: Option<Date>,

    /// Only photographs of outings that began on this day or earlier.
    #[arg(long, value_name = "DATE")]
    to: Option<Date>,

    /// Write the XMP files into this folder instead of beside the photographs.
    #[arg(long, value_name = "FOLDER", conflicts_with = "copies")]
    into: Option<PathBuf>,

    /// Write copies of the photographs with the position into this folder, and no XMP files.
    #[arg(long, value_name = "FOLDER")]
    copies: Option<PathBuf>,

    #[command(flatten)]
    replacing: Overwrite,

    /// How exact positions are; by default exact-throughout for XMP files, generalised for copies.
    #[arg(long, value_enum)]
    coordinates: Option<Coordinates>,
}

/// Counts of results.
#[derive(Default)]
struct Tally {
    written: usize,
    beside: usize,
    without_position: usize,
    withheld: usize,
    left_alone: Vec<Error>,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let mut store = Store::open(&arguments.store.path())?;
    let target = target(arguments)?;
    let careful = if arguments.copies.is_some() {
        Coordinates::Generalised
    } else {
        Coordinates::ExactThroughout
    };
    let care = arguments.coordinates.unwrap_or(careful).care();
    let disclosure = PhotoDisclosure::of(&store, care)?;
    let outings = outings(&store, arguments)?;
    let names = match target {
        Target::Beside => Names::default(),
        Target::Folder(_) | Target::Copies(_) => Names::of(&store, &outings)?,
    };
    if arguments.copies.is_some() {
        let days: HashSet<Uuid> = outings.iter().map(|outing| outing.id).collect();
        let published = disclosure.published.iter().filter(|(outing, _)| days.contains(outing));
        let published: Vec<Published> = published.map(|(_, published)| published.clone()).collect();
        store.record_published(&published, Timestamp::now())?;
    }
    let mut tally = Tally::default();
    let bar = console.progress("photographs", outings.len() as u64);
    for outing in &outings {
        let place = Place { target: &target, names: &names, replacing: arguments.replacing };
        stamp_day(&store.day(outing.id)?, &disclosure, &place, &mut tally);
        bar.inc(1);
    }
    bar.finish_and_clear();
    print_summary(arguments, care, &tally, console)?;
    Ok(if tally.left_alone.is_empty() { Exit::Done } else { Exit::SomeSetAside })
}

fn target(arguments: &Arguments) -> Result<Target> {
    let target = match (&arguments.copies, &arguments.into) {
        (Some(folder), _) => Target::Copies(folder.clone()),
        (None, Some(folder)) => Target::Folder(folder.clone()),
        (None, None) => Target::Beside,
    };
    if let Target::Copies(folder) | Target::Folder(folder) = &target {
        fs::create_dir_all(folder).map_err(|error| Error::file("make", folder, &error))?;
    }
    Ok(target)
}

fn outings(store: &Store, arguments: &Arguments) -> Result<Vec<KeptOuting>> {
    let mut outings = store.outings()?;
    outings.retain(|outing| {
        let early = arguments.from.is_some_and(|from| outing.date < from);
        let late = arguments.to.is_some_and(|to| outing.date > to);
        !early && !late
    });
    Ok(outings)
}

fn stamp_day(day: &Day, disclosure: &PhotoDisclosure, place: &Place<'_>, tally: &mut Tally) {
    for photo in &day.photos {
        let stamp = match disclosure.stamp(day, photo) {
            Decision::Stamp(stamp) => stamp,
            Decision::NoPosition => {
                tally.without_position += 1;
                continue;
            }
            Decision::Withheld => {
                tally.withheld += 1;
                continue;
            }
        };
        match place.write(&photo.photo.source, &stamp) {
            Ok(Outcome::Written) => tally.written += 1,
            Ok(Outcome::Beside(remark)) => {
                tally.written += 1;
                tally.beside += 1;
                tally.left_alone.push(remark);
            }
            Err(error) => tally.left_alone.push(error),
        }
    }
}

fn print_summary(
    arguments: &Arguments,
    care: Care,
    tally: &Tally,
    console: &mut Console,
) -> Result<()> {
    for error in &tally.left_alone {
        console.warning(error);
    }
    let what = if arguments.copies.is_some() { "copies written" } else { "written" };
    let alone = tally.left_alone.len() - tally.beside;
    let mut parts = vec![
        format!("{} {what}", tally.written),
        format!("{} photographs without a position", tally.without_position),
    ];
    if tally.withheld > 0 {
        parts.push(format!("{} withheld as sensitive", tally.withheld));
    }
    parts.push(format!("{alone} skipped"));
    console.print(&(parts.join(", ") + "\n"))?;
    if tally.written > 0 {
        console.note(match care {
            Care::Generalised => {
                "Positions are on a grid of 0.001 degree. The content and date of a photograph may still reveal the place."
            }
            Care::ExactUnlessSensitive => {
                "These files contain exact positions, except sensitive ones: check who may see them before you share them."
            }
            Care::ExactThroughout => {
                "These files contain exact positions: check who may see them before you share them."
            }
        });
    }
    Ok(())
}
