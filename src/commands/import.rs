//! Runs `trug import PATH...`: locates the finds of a day's files and stores them. Layer: `commands`.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use clap::Args;
use jiff::Timestamp;
use serde_json::{Value, json};

use super::check::{Under, draw};
use super::checklist;
use super::console::Console;
use super::day::{DayArguments, Joined};
use super::exit::Exit;
use super::ground::GroundArguments;
use super::output;
use super::store_path::StoreArgument;
use super::without_effect::needs;
use super::years::note_same_walks;
use crate::error::Result;
use crate::ingest::record::Remembered;
use crate::model::ImportNote;
use crate::present::coded::with_sentence;
use crate::present::store_note;
use crate::present::summary;
use crate::present::summary::words::counted;
use crate::store::{Imported, ImportedDay, Outcome, Store};

/// Locate a day's finds and store them.
///
/// Reads GPX tracks, photographs and tables of field records, estimates each camera's clock error, gives
/// every find a position with a 95 % radius, reports conflicts, and writes everything into
/// the store in one transaction. Importing the same files again changes nothing; a corrected table of
/// records updates its finds and keeps what it replaced. Your files are only read.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    day: DayArguments,

    #[command(flatten)]
    store: StoreArgument,

    /// A checklist of taxa, kept in the store from now on: a table with Darwin Core terms or an archive.
    #[arg(long, value_name = "FILE")]
    checklist: Option<PathBuf>,

    /// Draw the day: raw and cleaned track, stops, finds with 95 % circles, camera clock.
    #[arg(long, value_name = "FILE")]
    figure: Option<PathBuf>,

    #[command(flatten)]
    ground: GroundArguments,

    #[command(flatten)]
    replacing: output::Overwrite,

    /// Report only; write nothing.
    #[arg(long, conflicts_with = "figure")]
    dry_run: bool,

    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let path = arguments.store.path();
    arguments.replacing.needs_output("--figure", arguments.figure.is_some())?;
    needs(
        "--elevation or --base",
        arguments.ground.any(),
        "a store, not --dry-run",
        !arguments.dry_run,
    )?;
    // before a store is created
    let checklist = arguments.checklist.as_deref().map(checklist::read).transpose()?;
    let heights = arguments.ground.heights(Some(&path));
    let joined = arguments.day.join_with(remembered(&path), &heights, console)?;
    if let (false, Some(folder)) = (arguments.dry_run, path.parent()) {
        output::remove_stale(folder);
    }
    let imported = if arguments.dry_run {
        None
    } else if checklist.is_none() && joined.days.iter().all(|day| day.outing.dated().is_none()) {
        // no store is created for nothing
        Some(Imported::default())
    } else {
        let mut store = arguments.store.create_or_open(console)?;
        if let Some(checklist) = &checklist {
            checklist::keep(&mut store, checklist, console)?;
        }
        let mut imported = store.import(&joined.days, Timestamp::now())?;
        note_same_walks(&store, &mut imported)?;
        if let Some(columns) = &joined.to_remember {
            store.keep_setting(COLUMNS, &serde_json::json!(columns).to_string())?;
        }
        if arguments.figure.is_some() || arguments.ground.any() {
            let ground = arguments.ground.keep(&mut store, console)?;
            if let Some(figure) = &arguments.figure {
                let under = Under { ground: &ground, store: Some(&store) };
                for drawn in draw(&joined, figure, &under, arguments.replacing)? {
                    console.note(&format!("Drawn: {}", drawn.display()));
                }
            }
        }
        Some(imported)
    };
    if arguments.json {
        let mut object = summary::object(&joined.days, &joined.set_aside, &joined.passed_over);
        object["imported"] = imported.as_ref().map(in_json).into();
        console.print(&format!("{object:#}\n"))?;
    } else {
        print_summary(&joined, console)?;
    }
    if let (Some(imported), false) = (&imported, arguments.json)
        && !imported.days.is_empty()
    {
        let finds = joined.days.iter().flat_map(|day| &day.finds);
        let names = finds.filter_map(|find| find.record.name.as_deref());
        checklist::note_names(&Store::open(&path)?, names, console)?;
    }
    match &imported {
        Some(imported) if imported.days.is_empty() => {
            console.note("Nothing written: no outing has a date.");
        }
        Some(imported) => console.note(&outcome(imported, &path)),
        None => console.note("Nothing written: this was a dry run."),
    }
    Ok(if joined.left_something() { Exit::SomeSetAside } else { Exit::Done })
}

/// The result for each outing; each note with its code, its values and its sentence.
fn in_json(imported: &Imported) -> Value {
    let day = |day: &ImportedDay| {
        let mut object = json!(day);
        let note = |note: &ImportNote| with_sentence(note, &store_note::import(note));
        object["notes"] = day.notes.iter().map(note).collect();
        object
    };
    imported.days.iter().map(day).collect()
}

/// The setting that keeps what the columns of tables mean.
const COLUMNS: &str = "columns";

/// What earlier imports into this store stated of columns.
fn remembered(store: &Path) -> Remembered {
    let kept = Store::setting_of(store, COLUMNS);
    kept.and_then(|text| serde_json::from_str(&text).ok()).unwrap_or_default()
}

/// More outings than this are reported in a line each.
const MANY: usize = 4;

/// Prints the summary of the days as text.
pub(super) fn print_summary(joined: &Joined, console: &mut Console) -> Result<()> {
    let doubts = summary::associations(&joined.days);
    if !doubts.is_empty() {
        console.print(&format!("{doubts}\n"))?;
    }
    if joined.days.is_empty() {
        console.print("No outing: these files contain no track, photograph or record of one.\n")?;
    } else if joined.days.len() > MANY {
        console.print(&summary::overview(&joined.days))?;
    } else {
        let days: Vec<String> = joined.days.iter().map(summary::day).collect();
        console.print(&days.join("\n"))?;
    }
    for error in &joined.set_aside {
        console.warning(error);
    }
    for line in summary::passed_over(&joined.passed_over) {
        console.note(&line);
    }
    Ok(())
}

/// The result of the import, one line per outing, with the corrections.
fn outcome(imported: &Imported, path: &Path) -> String {
    let mut text = String::new();
    for day in &imported.days {
        // Writing to a string cannot fail.
        let _ = match day.outcome {
            Outcome::New => {
                writeln!(
                    text,
                    "New in {}: {}, {}",
                    path.display(),
                    day.date,
                    counted(day.finds_new, "find", "finds")
                )
            }
            Outcome::Unchanged => {
                writeln!(
                    text,
                    "Unchanged in {}: {} already imported, no changes",
                    path.display(),
                    day.date
                )
            }
            Outcome::Updated => {
                writeln!(text, "Updated in {}: {}, {}", path.display(), day.date, changes(day))
            }
        };
        for correction in &day.finds_corrected {
            let _ = writeln!(text, "  {}: {}", correction.find, correction.changed.join(", "));
        }
        for note in &day.notes {
            let _ = writeln!(text, "  {}", store_note::import(note));
        }
    }
    text.truncate(text.trim_end().len());
    text
}

fn changes(day: &ImportedDay) -> String {
    let parts = [
        (day.finds_new, "new"),
        (day.finds_corrected.len(), "corrected"),
        (day.finds_moved.len(), "relocated"),
        (day.finds_withdrawn.len(), "withdrawn"),
        (day.finds_unchanged, "unchanged"),
    ];
    let reported = parts.iter().filter(|(number, _)| *number > 0);
    reported.map(|(number, word)| format!("{number} {word}")).collect::<Vec<_>>().join(", ")
}
