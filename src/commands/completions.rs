//! Runs `trug completions SHELL`: prints a completion script for a shell. Layer: `commands`.

use clap::{Args, CommandFactory};
use clap_complete::Shell;

use super::Program;
use super::console::Console;
use super::exit::Exit;
use crate::error::Result;

/// Print a completion script for your shell.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The shell.
    shell: Shell,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut Program::command(), "trug", &mut script);
    console.print_as_it_is(&String::from_utf8_lossy(&script))?;
    Ok(Exit::Done)
}
