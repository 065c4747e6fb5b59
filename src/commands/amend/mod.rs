//! Runs `trug amend`: corrects a find or a camera's clock by an amendment, which stays in force when the
//! day is imported again. Layer: `commands`.

mod camera;
mod edited_listing;
mod effect;
mod patches;
mod table;

use std::path::{Path, PathBuf};

use clap::{ArgGroup, Args};
use jiff::civil::Date;

use super::checklist;
use super::console::Console;
use super::exit::Exit;
use super::meant;
use super::store_path::StoreArgument;
use crate::error::{Error, Result};
use crate::model::{AmendedSubject, KeptFind, KeptPhoto, Patch};
use crate::present::corrections;
use crate::present::summary::words::counted;
use crate::store::{NumberQuery, Store};
use crate::units::{Metres, Seconds};

/// Correct a find, or the clock of a camera.
///
/// The correction is kept in the store as an amendment: your files stay as they are, and it applies again
/// each time the day is imported. What was written stays visible beside it (trug show), and every
/// amendment can be reversed (trug undo).
#[derive(Debug, Args)]
#[command(group = ArgGroup::new("subject").args(["number", "camera", "from"]).required(true))]
pub(super) struct Arguments {
    /// The find: the collector's number, or the beginning of its identifier.
    number: Option<String>,

    #[command(flatten)]
    store: StoreArgument,

    /// The day of the find or of the camera, where a number is used on several.
    #[arg(long, value_name = "DATE", value_parser = super::day_argument::read)]
    day: Option<Date>,

    /// The collector of the find, where several use the number.
    #[arg(long, value_name = "NAME")]
    found_by: Option<String>,

    #[command(flatten)]
    values: patches::Values,

    /// The camera whose clock to correct: its name or a part of it.
    #[arg(long, value_name = "NAME", requires = "clock", requires = "day")]
    camera: Option<String>,

    /// The camera's reading less local time, +HH:MM:SS: +01:02:00 is a camera 1 h 2 min ahead.
    #[arg(long, value_name = "+HH:MM:SS", requires = "camera", allow_hyphen_values = true)]
    clock: Option<String>,

    /// A listing by trug finds --format csv or xlsx, edited in a spreadsheet (CSV, XLSX, XLS, ODS): shows the
    /// differences.
    #[arg(long, value_name = "FILE")]
    from: Option<PathBuf>,

    /// With --from: apply the differences.
    #[arg(long, requires = "from")]
    yes: bool,

    /// Why; kept in the journal.
    #[arg(long, value_name = "TEXT", required = true)]
    reason: String,

    /// Who makes the correction; by default the user of this computer.
    #[arg(long, value_name = "NAME")]
    who: Option<String>,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    if arguments.reason.trim().is_empty() {
        return Err(Error::input("--reason is empty")
            .because("an amendment without a reason cannot be judged later")
            .hint("write why, such as --reason \"the photograph shows the other find\""));
    }
    let mut store = arguments.store.open(console)?;
    match (&arguments.number, &arguments.camera) {
        (Some(number), _) => amend_find(arguments, number, &mut store, console),
        (None, Some(camera)) => amend_camera(arguments, camera, &mut store, console),
        (None, None) => match &arguments.from {
            Some(path) => amend_from(arguments, path, &mut store, console),
            None => Err(Error::input("nothing to amend").hint("give a number or --camera")),
        },
    }
}

fn amend_from(
    arguments: &Arguments,
    path: &Path,
    store: &mut Store,
    console: &mut Console,
) -> Result<Exit> {
    let edited = table::read(store, path, console)?;
    for error in &edited.set_aside {
        console.warning(error);
    }
    let end = if edited.set_aside.is_empty() { Exit::Done } else { Exit::SomeSetAside };
    if edited.amendments.is_empty() {
        console.note("No differences: nothing to amend.");
        return Ok(end);
    }
    if arguments.yes {
        apply(arguments, &edited.amendments, store, console)?;
        return Ok(end);
    }
    console.print(&format!("{}\n", edited.lines.join("\n")))?;
    console.note(&format!(
        "{} found, none applied; to apply: add --yes",
        counted(edited.lines.len(), "difference", "differences")
    ));
    Ok(end)
}

fn amend_find(
    arguments: &Arguments,
    number: &str,
    store: &mut Store,
    console: &mut Console,
) -> Result<Exit> {
    let find = meant::find(store, number, arguments.day, arguments.found_by.as_deref())?;
    let patches = arguments.values.patches(store, &find)?;
    if patches.is_empty() {
        return Err(Error::input(format!("no correction of {number} was given"))
            .because("the command names a find and no new value")
            .hint("add --position, --time, --photos, --taxon, --field, --withdraw or another"));
    }
    let (patches, same) = effect::of_find(&find, patches);
    if patches.is_empty() {
        return Err(effect::nothing(number, &same));
    }
    if !same.is_empty() {
        console.note(&format!("Already so, not journalled: {}.", same.join(", ")));
    }
    let subject = AmendedSubject::Find(find.id);
    let list: Vec<_> = patches.into_iter().map(|patch| (subject.clone(), patch)).collect();
    apply(arguments, &list, store, console)?;
    let query = crate::store::FindQuery {
        id: Some(find.id),
        withdrawn: true,
        ..crate::store::FindQuery::default()
    };
    if let Some(now) = store.finds(&query)?.into_iter().next() {
        note_number(&find, &now, store, console)?;
        note_move(&find, &now, console);
        note_photographs(&now, console);
    }
    Ok(Exit::Done)
}

/// A new number that another find of the collector has.
fn note_number(
    before: &KeptFind,
    after: &KeptFind,
    store: &Store,
    console: &mut Console,
) -> Result<()> {
    let Some(number) =
        after.record.number.as_ref().filter(|_| before.record.number != after.record.number)
    else {
        return Ok(());
    };
    let collector = after.collector.clone();
    let same = NumberQuery { number: number.0.clone(), day: None, collector };
    let others = store.finds_of_number(&same)?;
    let others = others.iter().filter(|other| other.id != after.id && other.withdrawn.is_none());
    for other in others.take(3) {
        console.note(&format!(
            "{number} is also the number of a find of {}, {}. A label is permanent: one of them needs another.",
            other.date,
            other.record.name.as_deref().unwrap_or("not determined")
        ));
    }
    Ok(())
}

/// Photographs farther in time from their find than this show another stop, seconds.
const ONE_STOP: f64 = 150.0;

/// Photographs whose times contradict the time of the find.
fn note_photographs(find: &KeptFind, console: &mut Console) {
    let Some((when, within)) = find.when else { return };
    let off = |photo: &KeptPhoto| {
        let apart = Seconds::between(photo.when?, when).abs();
        (apart.0 > ONE_STOP + within.0).then_some(apart)
    };
    let farthest = find.photos.iter().filter_map(off).max_by(|a, b| a.0.total_cmp(&b.0));
    if let Some(farthest) = farthest {
        console.note(&format!(
            "Its photographs were taken up to {farthest} from its time. If they show another find: --photos -NAME; \
             if the camera's clock is wrong: trug amend --camera"
        ));
    }
}

/// The distance between the position before and after.
fn note_move(before: &KeptFind, after: &KeptFind, console: &mut Console) {
    match (&before.place, &after.place) {
        (Some(was), Some(is)) => {
            let moved = crate::earth::geodesic::distance(was.at, is.at);
            if moved > Metres(0.01) {
                console.note(&format!("The position moved by {moved}."));
            }
        }
        (None, Some(is)) => console.note(&format!("It is located now, within {}.", is.radius)),
        (Some(_), None) => {
            let why = after.why_unlocated.as_deref().unwrap_or("no evidence is left");
            console.note(&format!("It is no longer located: {why}."));
        }
        (None, None) => {}
    }
}

fn amend_camera(
    arguments: &Arguments,
    camera: &str,
    store: &mut Store,
    console: &mut Console,
) -> Result<Exit> {
    let (Some(day), Some(clock)) = (arguments.day, &arguments.clock) else {
        return Err(Error::input("--camera needs --day and --clock"));
    };
    let list = camera::patches(store, camera, day, arguments.found_by.as_deref(), clock)?;
    let list = effect::of_cameras(store, list)?;
    if list.is_empty() {
        return Err(effect::nothing(camera, &["clock".to_owned()]));
    }
    apply(arguments, &list, store, console)?;
    Ok(Exit::Done)
}

/// Names that have not the form of one, and those that the checklist does not have.
fn note_names(
    store: &Store,
    list: &[(AmendedSubject, Patch)],
    console: &mut Console,
) -> Result<()> {
    let names: Vec<String> = list
        .iter()
        .filter_map(|(_, patch)| match patch {
            Patch::Determination(named) => Some(named.full_name()),
            _ => None,
        })
        .collect();
    for name in names.iter().filter(|name| !name.is_empty() && !corrections::is_name(name)) {
        console.note(&format!("{name}: {}.", corrections::NO_NAME));
    }
    checklist::note_names(store, names.iter().map(String::as_str), console)
}

fn apply(
    arguments: &Arguments,
    list: &[(AmendedSubject, Patch)],
    store: &mut Store,
    console: &mut Console,
) -> Result<()> {
    let authored = meant::authored(arguments.who.as_deref(), Some(&arguments.reason));
    let id = store.amend(list, &authored)?;
    note_names(store, list, console)?;
    if let Some(change) = store.change(id)? {
        console.print(&corrections::change(&change, None))?;
    }
    console.note(&format!(
        "{} in force; to reverse: trug undo {id}",
        counted(list.len(), "correction is", "corrections are")
    ));
    Ok(())
}
