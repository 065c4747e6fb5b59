//! Parses the command line and runs one command: parse, load, one library call, present. One file for
//! each command. Layer: `commands`.

mod check;
mod completions;
pub mod console;
mod day;
mod demo;
mod density;
mod deposit;
mod detection;
mod effort;
pub mod exit;
mod export;
mod finds;
mod import;
mod labels;
mod names;
mod next;
mod others;
pub mod output;
mod place;
mod places;
mod season;
mod season_sheet;
mod sheet;
mod sites;
mod stamp;
mod store_path;
mod template;
mod trailhead;
mod verify;
mod visits;
mod wayout;
mod wayout_inputs;
pub mod wayout_lines;
mod wayout_plan;
mod years;

use std::ffi::OsString;
use std::panic;

use clap::{Parser, Subcommand};

use crate::error::Result;
use console::Console;
use exit::Exit;

/// Locates, checks and stores fungus finds.
///
/// trug joins GPX tracks, photographs and field records: every find gets a position with a
/// 95 % radius, conflicts are reported, and everything is kept in one GeoPackage. It never
/// changes your original files, and never says that anything is edible.
#[derive(Debug, Parser)]
#[command(name = "trug", version, max_term_width = 100, arg_required_else_help = true)]
struct Program {
    #[command(subcommand)]
    command: Command,

    /// Print results only: no progress, no notes.
    #[arg(long, short, global = true)]
    quiet: bool,
}

#[derive(Debug, Subcommand)]
enum Command {
    Import(import::Arguments),
    Finds(finds::Arguments),
    Check(check::Arguments),
    Demo(demo::Arguments),
    Completions(completions::Arguments),
    Labels(Box<labels::Arguments>),
    Sheet(sheet::Arguments),
    Stamp(stamp::Arguments),
    Sites(sites::Arguments),
    Visits(visits::Arguments),
    Effort(effort::Arguments),
    Places(places::Arguments),
    Export(Box<export::Arguments>),
    Deposit(Box<deposit::Arguments>),
    Wayout(Box<wayout::Arguments>),
    Trailhead(trailhead::Arguments),
    Verify(verify::Arguments),
    Season(season::Arguments),
    Detection(detection::Arguments),
    Density(density::Arguments),
    Next(next::Arguments),
    Template(template::Arguments),
}

impl Command {
    fn run(&self, console: &mut Console) -> Result<Exit> {
        match self {
            Self::Import(arguments) => import::run(arguments, console),
            Self::Finds(arguments) => finds::run(arguments, console),
            Self::Check(arguments) => check::run(arguments, console),
            Self::Demo(arguments) => demo::run(arguments, console),
            Self::Completions(arguments) => completions::run(arguments, console),
            Self::Labels(arguments) => labels::run(arguments, console),
            Self::Sheet(arguments) => sheet::run(arguments, console),
            Self::Stamp(arguments) => stamp::run(arguments, console),
            Self::Sites(arguments) => sites::run(arguments, console),
            Self::Visits(arguments) => visits::run(arguments, console),
            Self::Effort(arguments) => effort::run(arguments, console),
            Self::Places(arguments) => places::run(arguments, console),
            Self::Export(arguments) => export::run(arguments, console),
            Self::Deposit(arguments) => deposit::run(arguments, console),
            Self::Wayout(arguments) => wayout::run(arguments, console),
            Self::Trailhead(arguments) => trailhead::run(arguments, console),
            Self::Verify(arguments) => verify::run(arguments, console),
            Self::Season(arguments) => season::run(arguments, console),
            Self::Detection(arguments) => detection::run(arguments, console),
            Self::Density(arguments) => density::run(arguments, console),
            Self::Next(arguments) => next::run(arguments, console),
            Self::Template(arguments) => template::run(arguments, console),
        }
    }
}

/// Runs the program with these arguments, the program's name first, and returns its exit status.
pub fn run<I, T>(arguments: I) -> Exit
where
    I: IntoIterator<Item = T>,
    T: Into<OsString> + Clone,
{
    let program = match Program::try_parse_from(arguments) {
        Ok(program) => program,
        Err(reported) => return exit::of_parser(&reported),
    };
    let mut console = Console::of_process(program.quiet);
    let ended = panic::catch_unwind(panic::AssertUnwindSafe(|| program.command.run(&mut console)));
    match ended {
        Ok(Ok(exit)) => exit,
        Ok(Err(error)) => {
            console.error(&error);
            exit::of_error(&error)
        }
        Err(_) => Exit::Unexpected,
    }
}
