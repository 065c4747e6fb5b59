//! Runs `trug checklist FILE`: keeps a checklist of taxa in the store and compares the names of finds
//! with it. Layer: `commands`.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use clap::Args;
use jiff::Timestamp;

use super::console::Console;
use super::exit::Exit;
use super::store_path::StoreArgument;
use super::years::json;
use crate::error::{Error, Result};
use crate::ingest::checklist::{self, Checklist};
use crate::model::ChecklistCounts;
use crate::present::checked_name::{self, CheckedName};
use crate::present::summary::words::counted;
use crate::store::Store;

/// Keep a checklist of taxa in the store, or compare the names of finds with the one that it keeps.
///
/// A checklist is a table of taxa with Darwin Core terms (CSV, TSV) or a Darwin Core Archive, as national
/// checklists are published. With it, outputs state author, accepted name and higher taxa beside the name that
/// was written, which never changes, and a taxon is found by its synonyms too.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The checklist; it replaces an earlier one. Without it the names of finds are compared with the one kept.
    file: Option<PathBuf>,

    #[command(flatten)]
    store: StoreArgument,

    /// Remove the checklist from the store.
    #[arg(long, conflicts_with_all = ["file", "json"])]
    remove: bool,

    /// Print one JSON object with every name instead of text.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let path = arguments.store.path();
    if arguments.remove {
        let removed = arguments.store.open(console)?.remove_checklist()?;
        console.note(if removed { "Checklist removed." } else { "The store has no checklist." });
        return Ok(Exit::Done);
    }
    // before a store is created
    let given = arguments.file.as_deref().map(read).transpose()?;
    let mut store = match &given {
        Some(_) => arguments.store.create_or_open(console)?,
        None => arguments.store.open(console)?,
    };
    if let Some(given) = &given {
        keep(&mut store, given, console)?;
    }
    let Some(kept) = store.checklist()? else {
        return Err(Error::input(format!("{} has no checklist", path.display()))
            .because("none was given yet")
            .hint("give one: trug checklist FILE, a table of taxa with Darwin Core terms or an archive"));
    };
    let (written, checks) = looked_up(&store)?;
    let names: Vec<CheckedName<'_>> = written
        .iter()
        .zip(&checks)
        .map(|((written, finds), check)| CheckedName {
            written,
            finds: *finds,
            check: check.as_deref(),
        })
        .collect();
    if arguments.json {
        console.print(&json(&serde_json::json!({ "checklist": kept, "names": names }))?)?;
        return Ok(Exit::Done);
    }
    console.print(&format!(
        "Checklist: {}, {} ({} accepted, {} with an accepted name)\n{}",
        kept.file,
        counted(kept.names, "name", "names"),
        kept.accepted,
        counted(kept.synonyms, "synonym", "synonyms"),
        checked_name::report(&names)
    ))?;
    Ok(Exit::Done)
}

/// A checklist that can be read, with its file.
pub(super) struct Given<'a> {
    file: &'a Path,
    checklist: Checklist,
}

/// Reads a checklist before anything is written.
///
/// # Errors
/// When it cannot be read, or is no checklist.
pub(super) fn read(file: &Path) -> Result<Given<'_>> {
    Ok(Given { file, checklist: checklist::open(file)? })
}

/// Keeps a checklist in the store, and warns of what it could not use.
pub(super) fn keep(store: &mut Store, given: &Given<'_>, console: &mut Console) -> Result<()> {
    let Given { file, checklist } = given;
    let bar = console.progress("reading the checklist", 0);
    let counts = store.keep_checklist(file, Timestamp::now(), &mut |look| checklist.each(look));
    bar.finish_and_clear();
    if let Some(warning) = unused(file, &counts?) {
        console.warning(&warning);
    }
    Ok(())
}

/// Rows that are kept without what they refer to, or not at all.
fn unused(file: &Path, counts: &ChecklistCounts) -> Option<Error> {
    let rows = [
        (counts.not_named, "synonyms that name no accepted name"),
        (counts.missing, "synonyms of a name that is not there"),
        (counts.circles, "synonyms of each other in a circle"),
        (counts.nameless, "rows without a name"),
        (counts.too_long, "lines longer than 1 MiB"),
        (counts.repeated_ids, "rows with the taxonID of an earlier one"),
    ];
    let said: Vec<String> = rows
        .iter()
        .filter(|(number, _)| *number > 0)
        .map(|(number, what)| format!("{what}: {number}"))
        .collect();
    (!said.is_empty()).then(|| {
        Error::input(format!("{} is incomplete", file.display()))
            .because(said.join("; "))
            .hint("names of such rows are known, but have no accepted name; rows without a name are left out")
    })
}

/// The different names of all finds with their numbers of finds, and what the checklist says of each.
#[allow(clippy::type_complexity, reason = "two columns of one table")]
fn looked_up(
    store: &Store,
) -> Result<(Vec<(String, usize)>, Vec<Option<std::sync::Arc<crate::model::NameCheck>>>)> {
    let (finds, _) = store.brief_finds()?;
    let mut names: BTreeMap<&str, usize> = BTreeMap::new();
    for name in finds.iter().filter_map(|find| find.name.as_deref()) {
        let name = name.trim();
        if !name.is_empty() {
            *names.entry(name).or_default() += 1;
        }
    }
    let checks = store.lookup_all(names.keys().copied())?;
    let names = names.into_iter().map(|(name, finds)| (name.to_owned(), finds));
    Ok((names.collect(), checks))
}

/// Says what the checklist of the store, if it has one, does not know among the names of these finds.
pub(super) fn note_names<'n>(
    store: &Store,
    written: impl Iterator<Item = &'n str>,
    console: &mut Console,
) -> Result<()> {
    if store.checklist()?.is_none() {
        return Ok(());
    }
    let mut names: BTreeMap<&str, usize> = BTreeMap::new();
    written.map(str::trim).filter(|name| !name.is_empty()).for_each(|name| {
        *names.entry(name).or_default() += 1;
    });
    let checks = store.lookup_all(names.keys().copied())?;
    let names: Vec<CheckedName<'_>> = names
        .into_iter()
        .zip(&checks)
        .map(|((written, finds), check)| CheckedName { written, finds, check: check.as_deref() })
        .collect();
    if !names.is_empty() {
        console.note(checked_name::report(&names).trim_end());
    }
    Ok(())
}
