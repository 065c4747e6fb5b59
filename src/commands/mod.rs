//! Parses the command line and runs one command: parse, load, one library call, present. One file for
//! each command. Layer: `commands`.

mod amend;
mod carry;
mod carry_inputs;
mod carry_paths;
mod carry_sites;
mod check;
mod checklist;
mod completions;
pub(crate) mod console;
mod day;
mod day_argument;
mod demo;
mod density;
mod deposit;
mod detection;
mod effort;
pub mod exit;
mod export;
mod finds;
mod ground;
mod history;
mod hosts;
mod import;
mod labels;
mod lists;
mod meant;
mod merge;
mod names;
mod next;
mod noted;
mod numbers;
mod others;
pub(crate) mod output;
mod place;
mod places;
mod remove;
mod season;
mod season_sheet;
mod selection;
mod sheet;
mod show;
mod sites;
mod stamp;
mod store_path;
mod taken_in;
mod template;
mod trailhead;
mod undo;
mod verify;
mod visits;
mod wayout;
mod wayout_inputs;
#[doc(hidden)]
pub mod wayout_lines;
mod wayout_plan;
mod weather;
mod without_effect;
mod yearly;
mod years;

use std::ffi::OsString;
use std::panic;

use clap::{CommandFactory, FromArgMatches, Parser, Subcommand};

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
    Show(show::Arguments),
    Amend(Box<amend::Arguments>),
    History(history::Arguments),
    Undo(undo::Arguments),
    Remove(remove::Arguments),
    Compact(remove::CompactArguments),
    Merge(merge::Arguments),
    Check(check::Arguments),
    Checklist(checklist::Arguments),
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
    Carry(Box<carry::Arguments>),
    Trailhead(trailhead::Arguments),
    Verify(verify::Arguments),
    Season(season::Arguments),
    Detection(detection::Arguments),
    Density(density::Arguments),
    Hosts(Box<hosts::Arguments>),
    Lists(Box<lists::Arguments>),
    Next(next::Arguments),
    Weather(weather::Arguments),
    Years(yearly::Arguments),
    Template(template::Arguments),
}

impl Command {
    fn run(&self, console: &mut Console) -> Result<Exit> {
        match self {
            Self::Import(arguments) => import::run(arguments, console),
            Self::Finds(arguments) => finds::run(arguments, console),
            Self::Show(arguments) => show::run(arguments, console),
            Self::Amend(arguments) => amend::run(arguments, console),
            Self::History(arguments) => history::run(arguments, console),
            Self::Undo(arguments) => undo::run(arguments, console),
            Self::Remove(arguments) => remove::run(arguments, console),
            Self::Compact(arguments) => remove::compact(arguments, console),
            Self::Merge(arguments) => merge::run(arguments, console),
            Self::Check(arguments) => check::run(arguments, console),
            Self::Checklist(arguments) => checklist::run(arguments, console),
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
            Self::Carry(arguments) => carry::run(arguments, console),
            Self::Trailhead(arguments) => trailhead::run(arguments, console),
            Self::Verify(arguments) => verify::run(arguments, console),
            Self::Season(arguments) => season::run(arguments, console),
            Self::Detection(arguments) => detection::run(arguments, console),
            Self::Density(arguments) => density::run(arguments, console),
            Self::Hosts(arguments) => hosts::run(arguments, console),
            Self::Lists(arguments) => lists::run(arguments, console),
            Self::Next(arguments) => next::run(arguments, console),
            Self::Weather(arguments) => weather::run(arguments, console),
            Self::Years(arguments) => yearly::run(arguments, console),
            Self::Template(arguments) => template::run(arguments, console),
        }
    }
}

/// The text of a parser error without styles: removing them would remove the user's own control characters,
/// which must be shown.
fn reported_plainly(arguments: &[OsString]) -> Option<String> {
    let plain = Program::command().styles(clap::builder::Styles::plain());
    let reported = plain.try_get_matches_from(arguments).err()?;
    Some(reported.render().ansi().to_string())
}

/// Runs the program with these arguments, the program's name first, and returns its exit status.
pub fn run<I, T>(arguments: I) -> Exit
where
    I: IntoIterator<Item = T>,
    T: Into<OsString> + Clone,
{
    let arguments: Vec<OsString> = arguments.into_iter().map(Into::into).collect();
    let matches = match Program::command().try_get_matches_from(&arguments) {
        Ok(matches) => matches,
        Err(reported) => return exit::of_parser(&reported, || reported_plainly(&arguments)),
    };
    let program = match Program::from_arg_matches(&matches) {
        Ok(program) => program,
        Err(reported) => return exit::of_parser(&reported, || None),
    };
    let mut console = Console::of_process(program.quiet);
    if let Err(error) = without_effect::no_blank_value(&Program::command(), &matches) {
        console.error(&error);
        return exit::of_error(&error);
    }
    for recovered in &output::recover() {
        recovered.report(&mut console);
    }
    let ended = panic::catch_unwind(panic::AssertUnwindSafe(|| program.command.run(&mut console)));
    match ended {
        Ok(Ok(Exit::Done)) if console.is_in_doubt() => Exit::SomeSetAside,
        Ok(Ok(exit)) => exit,
        Ok(Err(error)) => {
            console.error(&error);
            exit::of_error(&error)
        }
        Err(_) => Exit::Unexpected,
    }
}
