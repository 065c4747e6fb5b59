//! Runs `trug trailhead add|list|remove`: edits the destinations of ways out. Layer: `commands`.

use clap::{Args, Subcommand};
use jiff::Timestamp;

use super::console::Console;
use super::exit::Exit;
use super::finds::one_position;
use super::store_path::StoreArgument;
use crate::earth::grid;
use crate::error::{Error, Result};
use crate::present::table::{Column, Table};
use crate::store::Trailhead;
use crate::units::Metres;

/// Edit the destinations of ways out: car parks, gates, road ends.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,
    #[command(subcommand)]
    action: Action,
}

#[derive(Debug, Subcommand)]
enum Action {
    /// Add a trailhead, or replace one of the same name.
    Add {
        /// The name of the trailhead.
        name: String,
        /// Its position, in any common notation.
        #[arg(allow_hyphen_values = true)]
        position: String,
        /// Notes.
        #[arg(long)]
        notes: Option<String>,
    },
    /// List the trailheads.
    List,
    /// Remove a trailhead.
    Remove {
        /// Its name.
        name: String,
    },
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let store = &arguments.store;
    match &arguments.action {
        Action::Add { name, position, notes } => {
            let at = one_position(position)?;
            let trailhead = Trailhead { name: name.trim().to_owned(), at, notes: notes.clone() };
            store.create_or_open(console)?.keep_trailhead(&trailhead, Timestamp::now())?;
            console.note(&format!("Saved: {} at {at}", trailhead.name));
        }
        Action::List => {
            let store = store.open(console)?;
            console.print(&list(&store.trailheads()?))?;
        }
        Action::Remove { name } => {
            let forgotten = store.open(console)?.forget_trailhead(name, Timestamp::now())?;
            if !forgotten {
                return Err(Error::input(format!("there is no trailhead {name:?}"))
                    .because("no stored trailhead has exactly that name")
                    .hint("`trug trailhead list` shows the names"));
            }
            console.note(&format!("Removed: {name}"));
        }
    }
    Ok(Exit::Done)
}

fn list(trailheads: &[Trailhead]) -> String {
    if trailheads.is_empty() {
        return "No trailheads stored.\n".to_owned();
    }
    let mut table = Table::new([
        Column::left("trailhead"),
        Column::left("position"),
        Column::left("MGRS"),
        Column::left("notes"),
    ]);
    for trailhead in trailheads {
        table.row([
            trailhead.name.clone(),
            trailhead.at.to_string(),
            grid::mgrs(trailhead.at, Metres(10.0)),
            trailhead.notes.clone().unwrap_or_default(),
        ]);
    }
    table.to_string()
}
