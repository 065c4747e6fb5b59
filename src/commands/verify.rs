//! Runs `trug verify`: checks the store for damage. Layer: `commands`.

use clap::Args;
use serde_json::{Value, json};

use super::console::Console;
use super::exit::Exit;
use super::store_path::StoreArgument;
use super::years::json as to_text;
use crate::error::{Error, Result};
use crate::present::coded::with_sentence;
use crate::present::summary::words::counted;
use crate::store::{Inspected, Store};

/// Check the whole store for damage; nothing is written.
///
/// Checks every database page and index, references between tables, every geometry and its entry
/// in the spatial index, counts, and reads every track, photograph, find and decision as the other commands
/// do. The other commands run only the fast checks.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let path = arguments.store.path();
    let seen = Store::open_to_inspect(&path)?.inspect();
    if arguments.json {
        console.print(&to_text(&object(&seen))?)?;
    } else {
        console.print(&format!("{}: {}\n", path.display(), looked_at(&seen)))?;
        for finding in &seen.findings {
            console.print(&format!("  {}\n", finding.to_string().replace('\n', "; ")))?;
        }
    }
    if seen.findings.is_empty() {
        return Ok(Exit::Done);
    }
    Err(Error::input(format!("the store {} is damaged", path.display()))
        .because(counted(seen.findings.len(), "finding", "findings"))
        .hint("restore a backup, or import the days into a new store; your files are unchanged")
        .in_file(path))
}

/// Counts, and each defect with its code, its values and its sentence.
fn object(seen: &Inspected) -> Value {
    let mut object = json!(seen);
    object["findings"] =
        seen.findings.iter().map(|defect| with_sentence(defect, &defect.to_string())).collect();
    object
}

fn looked_at(seen: &Inspected) -> String {
    let state = if seen.findings.is_empty() { "in order" } else { "damaged" };
    format!(
        "{state}; checked {}, {}, {}, {} and {}",
        counted(seen.outings, "outing", "outings"),
        counted(seen.finds, "find", "finds"),
        counted(seen.fixes, "fix", "fixes"),
        counted(seen.photographs, "photograph", "photographs"),
        counted(seen.shapes, "shape", "shapes"),
    )
}
