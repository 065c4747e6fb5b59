//! Runs `trug remove --day DATE` and `trug compact`: removes outings so that they can be restored, and
//! deletes what was removed for good. Layer: `commands`.

use clap::Args;
use jiff::civil::Date;

use super::console::Console;
use super::exit::Exit;
use super::meant;
use super::store_path::StoreArgument;
use crate::error::{Error, Result};
use crate::present::summary::words::counted;

/// Remove the outings of a day from the store.
///
/// They can be restored with trug undo until trug compact. Your files are not touched.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The local date on which the outing began.
    #[arg(long, value_name = "DATE", value_parser = super::day_argument::read)]
    day: Date,

    /// Only the outing of this collector.
    #[arg(long, value_name = "NAME")]
    collector: Option<String>,

    #[command(flatten)]
    store: StoreArgument,

    /// Why; kept in the journal.
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,

    /// Who removes it; by default the user of this computer.
    #[arg(long, value_name = "NAME")]
    who: Option<String>,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let mut store = arguments.store.open(console)?;
    let outings = meant::outings(&store, arguments.day, arguments.collector.as_deref())?;
    let whose: Vec<String> = outings.iter().map(meant::named).collect();
    if outings.len() > 1 && arguments.collector.is_none() {
        let mut different = whose.clone();
        different.sort();
        different.dedup();
        if different.len() > 1 {
            return Err(Error::input(format!(
                "{} outings began on {}",
                outings.len(),
                arguments.day
            ))
            .because(format!("their collectors are {}", whose.join(", ")))
            .hint("choose one with --collector"));
        }
    }
    let finds: usize = outings.iter().map(|outing| outing.finds).sum();
    let ids: Vec<_> = outings.iter().map(|outing| outing.id).collect();
    let authored = meant::authored(arguments.who.as_deref(), arguments.reason.as_deref());
    let id = store.remove_outings(&ids, &authored)?;
    console.print(&format!(
        "Removed {}, {}: {}\n",
        arguments.day,
        whose.join(", "),
        counted(finds, "find", "finds")
    ))?;
    console.note(&format!("To restore: trug undo {id}, until trug compact."));
    Ok(Exit::Done)
}

/// Delete for good what was removed or replaced, so that the store shrinks.
///
/// Afterwards imports and removals made before can no longer be undone; amendments can.
#[derive(Debug, Args)]
pub(super) struct CompactArguments {
    #[command(flatten)]
    store: StoreArgument,
}

pub(super) fn compact(arguments: &CompactArguments, console: &mut Console) -> Result<Exit> {
    let path = arguments.store.path();
    let mut store = arguments.store.open(console)?;
    let size = |path: &std::path::Path| path.metadata().map_or(0, |file| file.len());
    let before = size(&path);
    let outings = store.compact()?;
    drop(store);
    console.print(&format!(
        "{}: {} deleted, {} KB before, {} KB now\n",
        path.display(),
        counted(outings, "archived outing", "archived outings"),
        before.div_ceil(1024),
        size(&path).div_ceil(1024)
    ))?;
    Ok(Exit::Done)
}
