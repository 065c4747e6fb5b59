//! Runs `trug undo [ID]`: reverses a change of the journal. Layer: `commands`.

use clap::Args;

use super::console::Console;
use super::exit::Exit;
use super::meant;
use super::store_path::StoreArgument;
use crate::error::Result;
use crate::present::corrections;

/// Reverse a change: an amendment, edits by a GIS, an import, a removal, or another undo.
///
/// Without a number the last change that is in force is reversed. The undo is a change itself and can be
/// reversed.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The number of the change, as trug history lists it.
    id: Option<i64>,

    #[command(flatten)]
    store: StoreArgument,

    /// Why; kept in the journal.
    #[arg(long, value_name = "TEXT")]
    reason: Option<String>,

    /// Who reverses it; by default the user of this computer.
    #[arg(long, value_name = "NAME")]
    who: Option<String>,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let mut store = arguments.store.open(console)?;
    let authored = meant::authored(arguments.who.as_deref(), arguments.reason.as_deref());
    let undone = store.undo(arguments.id, &authored)?;
    console.print(&format!("Undone: {}", corrections::change(&undone.reversed, None)))?;
    if let Some(other) = undone.still_reversed_by {
        console.note(&format!(
            "What it reversed stays out of force, since change {other} reverses it, too: trug undo {other}"
        ));
    }
    console.note(&format!("To put it in force again: trug undo {}", undone.id));
    Ok(Exit::Done)
}
