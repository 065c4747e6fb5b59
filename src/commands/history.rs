//! Runs `trug history [NUMBER | --day DATE]`: lists the journal of changes. Layer: `commands`.

use clap::Args;
use jiff::civil::Date;

use super::console::Console;
use super::exit::Exit;
use super::meant;
use super::store_path::StoreArgument;
use super::years::json;
use crate::error::Result;
use crate::model::Change;
use crate::present::corrections;

/// List all changes, or those of one find or one day.
///
/// Amendments, edits by a GIS, imports, removals and undos, with who made them, when and why. With a number
/// also the versions of its record that corrected notebooks replaced.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The find: the collector's number, or the beginning of its identifier.
    number: Option<String>,

    /// Only changes of this day; with a number, the day of the find.
    #[arg(long, value_name = "DATE", value_parser = super::day_argument::read)]
    day: Option<Date>,

    /// The collector of the find, where several use the number.
    #[arg(long, value_name = "NAME", requires = "number")]
    found_by: Option<String>,

    #[command(flatten)]
    store: StoreArgument,

    /// Print the changes as JSON.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let store = arguments.store.open(console)?;
    let (changes, revisions) = match &arguments.number {
        Some(number) => {
            let find = meant::find(&store, number, arguments.day, arguments.found_by.as_deref())?;
            (store.changes_of(find.id, find.outing)?, store.history(find.id)?)
        }
        None => (store.changes()?, Vec::new()),
    };
    let of_day = |change: &Change| match arguments.day {
        Some(day) if arguments.number.is_none() => {
            change.outings.iter().any(|outing| outing.date == day)
                || change.amendments.iter().any(|line| line.date == Some(day))
        }
        _ => true,
    };
    let changes: Vec<Change> = changes.into_iter().filter(of_day).collect();
    if arguments.json {
        console.print(&json(&changes)?)?;
        return Ok(Exit::Done);
    }
    for change in &changes {
        console.print(&corrections::change(change, corrections::undone_by(change, &changes)))?;
    }
    for revision in &revisions {
        console.print(&corrections::revision(revision))?;
    }
    if changes.is_empty() && revisions.is_empty() {
        console.note("No change is recorded.");
    }
    Ok(Exit::Done)
}
