//! Maps the outcome of a command to the exit status that scripts rely on. Layer: `commands`.

use std::io::{self, Write};
use std::process::ExitCode;

use crate::error::{Error, Fault, visible};

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

/// Help and version are no failure; a wrong argument is one.
pub(super) fn of_parser(reported: &clap::Error, plainly: impl Fn() -> Option<String>) -> Exit {
    // A closed pipe under a help text is not an error.
    if reported.use_stderr() {
        // it repeats user input, which may contain control characters
        let text = plainly().unwrap_or_else(|| reported.render().to_string());
        let _ = io::stderr().write_all(visible(&text).as_bytes());
        Exit::MustChange
    } else {
        let _ = reported.print();
        Exit::Done
    }
}
