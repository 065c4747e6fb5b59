//! Runs `trug stamp`: writes the position of each photograph into a file beside it or into a copy.
//! Layer: `commands`.

mod disclosure;
mod names;
mod readback;
mod stale;
mod writing;

use std::collections::{HashMap, HashSet};
use std::fs;
use std::path::PathBuf;

use clap::Args;
use jiff::Timestamp;
use jiff::civil::Date;
use serde_json::json;
use uuid::Uuid;

use super::console::Console;
use super::exit::Exit;
use super::others::Coordinates;
use super::output::{Overwrite, Receipt, Staged, place_all};
use super::store_path::StoreArgument;
use super::without_effect::days_in_order;
use crate::error::{Error, Result};
use crate::model::{Day, PlacedPhoto, Published};
use crate::present::sensitive::Care;
use crate::present::summary::error_object;
use crate::store::{KeptOuting, Store};
use disclosure::{Decision, PhotoDisclosure};
use names::Names;
use stale::StaleCopy;
use writing::{Place, Prepared, Refusal, Target};

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
    #[arg(long, value_name = "DATE", value_parser = super::day_argument::read)]
    from: Option<Date>,

    /// Only photographs of outings that began on this day or earlier.
    #[arg(long, value_name = "DATE", value_parser = super::day_argument::read)]
    to: Option<Date>,

    /// Write the XMP files into this folder instead of beside the photographs.
    #[arg(long, value_name = "FOLDER", conflicts_with = "copies")]
    into: Option<PathBuf>,

    /// Write copies of the photographs with the position into this folder, and no XMP files.
    #[arg(long, value_name = "FOLDER")]
    copies: Option<PathBuf>,

    #[command(flatten)]
    replacing: Overwrite,

    /// Leave files of other programs as they are, and write the others.
    #[arg(long)]
    keep_existing: bool,

    /// Print one JSON object instead of text: counts, what was set aside, copies of earlier runs to remove.
    #[arg(long)]
    json: bool,

    /// How exact positions are; by default exact-throughout for XMP files, generalised for copies.
    #[arg(long, value_enum)]
    coordinates: Option<Coordinates>,
}

/// Results of all photographs, nothing of which is in place yet.
#[derive(Default)]
struct Tally {
    files: Vec<Staged>,
    targets: HashMap<PathBuf, Receipt>,
    written: usize,
    beside: usize,
    without_position: usize,
    withheld: usize,
    /// Photographs that were set aside.
    left_alone: Vec<Error>,
    /// Copies of an earlier run that state more than is to be stated now.
    stale: Vec<StaleCopy>,
    /// Targets at which another program's file is.
    occupied: Vec<Error>,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    days_in_order(arguments.from, arguments.to)?;
    let mut store = arguments.store.open(console)?;
    let outings = outings(&store, arguments)?;
    let careful = if arguments.copies.is_some() {
        Coordinates::Generalised
    } else {
        Coordinates::ExactThroughout
    };
    let care = arguments.coordinates.unwrap_or(careful).care();
    let disclosure = PhotoDisclosure::of(&store, care)?;
    let (target, made) = target(arguments)?;
    let stamped = stamped(&store, &outings, (&disclosure, &target), arguments, console);
    let placed = stamped.and_then(|mut tally| {
        refuse_occupied(&tally, arguments.keep_existing)?;
        if arguments.copies.is_some() {
            record(&mut store, &disclosure, &outings)?;
        }
        place_all(std::mem::take(&mut tally.files))?;
        Ok(tally)
    });
    if let (Err(_), Some(folder)) = (&placed, made) {
        // fails for a folder that is not empty, as intended
        let _ = fs::remove_dir(folder);
    }
    let mut tally = placed?;
    tally.left_alone.append(&mut tally.occupied);
    print_summary(arguments, care, &tally, console)?;
    let all_done = tally.left_alone.is_empty() && tally.stale.is_empty();
    Ok(if all_done { Exit::Done } else { Exit::SomeSetAside })
}

/// Prepares the files of all photographs.
fn stamped(
    store: &Store,
    outings: &[KeptOuting],
    (disclosure, target): (&PhotoDisclosure, &Target),
    arguments: &Arguments,
    console: &Console,
) -> Result<Tally> {
    let names = match target {
        Target::Beside => Names::default(),
        Target::Folder(_) | Target::Copies(_) => Names::of(store, outings)?,
    };
    let place = Place { target, names: &names, replacing: arguments.replacing };
    let (mut tally, mut photographs) = (Tally::default(), 0);
    let bar = console.progress("photographs", outings.len() as u64);
    for outing in outings {
        let day = store.day(outing.id)?;
        photographs += day.photos.len();
        for photo in &day.photos {
            stamp_photo(&day, photo, disclosure, &place, &mut tally)?;
        }
        bar.inc(1);
    }
    bar.finish_and_clear();
    if photographs == 0 {
        return Err(none_to_stamp("the outings of that period have no photographs".to_owned()));
    }
    Ok(tally)
}

/// Records what the copies state, before they are in place.
fn record(store: &mut Store, disclosure: &PhotoDisclosure, outings: &[KeptOuting]) -> Result<()> {
    let days: HashSet<Uuid> = outings.iter().map(|outing| outing.id).collect();
    let published = disclosure.published.iter().filter(|(outing, _)| days.contains(outing));
    let published: Vec<Published> = published.map(|(_, published)| published.clone()).collect();
    store.record_published(&published, Timestamp::now())
}

/// # Errors
/// When files of other programs are at the targets and may not be left there: all files are written or none.
fn refuse_occupied(tally: &Tally, keep_existing: bool) -> Result<()> {
    let Some(first) = tally.occupied.first().filter(|_| !keep_existing) else { return Ok(()) };
    let more = tally.occupied.len() - 1;
    let more = if more == 0 { String::new() } else { format!("; {more} more like it") };
    let why = format!("{}: {}{more}", first.what(), first.why().unwrap_or_default());
    Err(Error::input("nothing was written, since other files are in the way")
        .because(why)
        .hint("name another folder with --into or --copies, leave these files with --keep-existing, or use --overwrite for files that trug wrote and that were changed"))
}

/// The target, and its folder where that was made.
fn target(arguments: &Arguments) -> Result<(Target, Option<PathBuf>)> {
    let target = match (&arguments.copies, &arguments.into) {
        (Some(folder), _) => Target::Copies(folder.clone()),
        (None, Some(folder)) => Target::Folder(folder.clone()),
        (None, None) => Target::Beside,
    };
    let mut made = None;
    if let Target::Copies(folder) | Target::Folder(folder) = &target {
        made = (!folder.exists()).then(|| folder.clone());
        fs::create_dir_all(folder).map_err(|error| Error::file("make", folder, &error))?;
    }
    Ok((target, made))
}

fn outings(store: &Store, arguments: &Arguments) -> Result<Vec<KeptOuting>> {
    let mut outings = store.outings()?;
    outings.retain(|outing| {
        let early = arguments.from.is_some_and(|from| outing.date < from);
        let late = arguments.to.is_some_and(|to| outing.date > to);
        !early && !late
    });
    if outings.is_empty() {
        let store = arguments.store.path();
        return Err(none_to_stamp(format!("{} has no outing of that period", store.display())));
    }
    Ok(outings)
}

fn none_to_stamp(why: String) -> Error {
    Error::input("no photograph to stamp")
        .because(why)
        .hint("relax --from and --to; trug effort --by day lists the outings")
}

fn stamp_photo(
    day: &Day,
    photo: &PlacedPhoto,
    disclosure: &PhotoDisclosure,
    place: &Place<'_>,
    tally: &mut Tally,
) -> Result<()> {
    let stamp = match disclosure.stamp(day, photo) {
        Decision::Stamp(stamp) => stamp,
        Decision::NoPosition => {
            tally.without_position += 1;
            return Ok(());
        }
        Decision::Withheld => {
            tally.withheld += 1;
            tally.stale.extend(place.earlier_copies(&photo.photo.source));
            return Ok(());
        }
    };
    let prepared = match place.prepare(&photo.photo.source, &stamp) {
        Ok(prepared) => prepared,
        Err(Refusal::Disk(error)) => return Err(error),
        Err(Refusal::Photograph(error)) => {
            tally.left_alone.push(error);
            return Ok(());
        }
        Err(Refusal::Occupied(error)) => {
            tally.occupied.push(error);
            return Ok(());
        }
    };
    let checked = match place.target {
        Target::Copies(_) => disclosure.check_metadata(day, photo, &stamp),
        Target::Beside | Target::Folder(_) => Ok(()),
    };
    let checked = checked.and_then(|()| disclosure.read_back(day, photo, &stamp, &prepared.files));
    if let Err(error) = checked {
        tally.left_alone.push(error);
        tally.stale.extend(place.earlier_copies(&photo.photo.source));
        return Ok(());
    }
    tally.add(prepared, photo);
    Ok(())
}

impl Tally {
    /// Adds the files of a photograph. Two photographs of one name, such as a raw image and its JPEG, share
    /// their XMP file where it is the same.
    fn add(&mut self, prepared: Prepared, photo: &PlacedPhoto) {
        let taken = |file: &Staged| self.targets.get(file.place());
        if prepared.files.iter().any(|file| taken(file).is_some_and(|own| *own != file.receipt())) {
            let name = photo.photo.source.path.display();
            let shared = Error::input(format!("{name} was left without a file"))
                .because("another photograph of the same name has another position or time")
                .hint("rename one of the two and import it again");
            self.left_alone.push(shared);
            return;
        }
        for file in prepared.files {
            if self.targets.insert(file.place().to_owned(), file.receipt()).is_none() {
                self.files.push(file);
            }
        }
        self.written += 1;
        if let Some(note) = prepared.beside {
            self.beside += 1;
            self.left_alone.push(note);
        }
    }
}

fn counts(arguments: &Arguments, tally: &Tally, alone: usize) -> String {
    let what = if arguments.copies.is_some() { "copies written" } else { "written" };
    let mut parts = vec![
        format!("{} {what}", tally.written),
        format!("{} photographs without a position", tally.without_position),
    ];
    if tally.withheld > 0 {
        parts.push(format!("{} withheld as sensitive", tally.withheld));
    }
    parts.push(format!("{alone} skipped"));
    parts.join(", ")
}

fn print_summary(
    arguments: &Arguments,
    care: Care,
    tally: &Tally,
    console: &mut Console,
) -> Result<()> {
    let stale = stale::each_once(&tally.stale);
    for error in tally.left_alone.iter().chain(&stale::report(&stale)) {
        console.warning(error);
    }
    let alone = tally.left_alone.len() - tally.beside;
    if arguments.json {
        let object = json!({
            "written": tally.written,
            "copies": arguments.copies.is_some(),
            "without_position": tally.without_position,
            "withheld": tally.withheld,
            "skipped": alone,
            "set_aside": tally.left_alone.iter().map(error_object).collect::<Vec<_>>(),
            "stale_copies": stale,
        });
        console.print(&format!("{object:#}\n"))?;
    } else {
        console.print(&(counts(arguments, tally, alone) + "\n"))?;
    }
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
