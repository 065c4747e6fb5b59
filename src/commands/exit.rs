//! Maps the outcome of a command to the exit status that scripts rely on. Layer: `commands`.

use std::io::{self, Write};
use std::process::ExitCode;

use crate::error::{Error, Fault, visible, without_middle};

/// How a command ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Exit {
    /// 0: done.
    Done,
    /// 1: done, but some inputs were set aside and are listed.
    SomeSetAside,
    /// 2: the command or the input must change; nothing was written.
    MustChange,
    /// 3: unexpected.
    Unexpected,
}

impl Exit {
    /// The number.
    #[must_use]
    pub fn code(self) -> u8 {
        match self {
            Self::Done => 0,
            Self::SomeSetAside => 1,
            Self::MustChange => 2,
            Self::Unexpected => 3,
        }
    }
}

impl From<Exit> for ExitCode {
    fn from(exit: Exit) -> Self {
        Self::from(exit.code())
    }
}

/// What an error means for the exit status.
pub(super) fn of_error(error: &Error) -> Exit {
    match error.fault() {
        Fault::Input => Exit::MustChange,
        Fault::Machine | Fault::Program => Exit::Unexpected,
    }
}

/// The longest line of the parser that repeats user input, and the longest text, characters.
const LONGEST_LINE: usize = 300;
const LONGEST_TEXT: usize = 4_000;

/// What the parser reports, without the middle of endless input.
fn without_echo(text: &str) -> String {
    let lines: Vec<_> = text
        .split('\n')
        .map(|line| {
            if line.starts_with("Usage:") {
                line.into()
            } else {
                without_middle(line, LONGEST_LINE)
            }
        })
        .collect();
    without_middle(&lines.join("\n"), LONGEST_TEXT).into_owned()
}

/// Help and version are no failure; a wrong argument is one.
pub(super) fn of_parser(reported: &clap::Error, plainly: impl Fn() -> Option<String>) -> Exit {
    // A closed pipe under a help text is not an error.
    if reported.use_stderr() {
        // it repeats user input, which may contain control characters
        let text = plainly().unwrap_or_else(|| reported.render().to_string());
        let _ = io::stderr().write_all(visible(&without_echo(&text)).as_bytes());
        Exit::MustChange
    } else {
        let _ = reported.print();
        Exit::Done
    }
}
