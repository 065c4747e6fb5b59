//! Prints results to standard output and everything else to standard error, readable without colour. A
//! closed pipe is not an error. Layer: `commands`.

use std::borrow::Cow;
use std::io::{self, IsTerminal, Stdout, Write};
use std::{env, time::Duration};

use anstyle::{AnsiColor, Style};
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::error::{Error, Result, visible, visible_xml};

/// The output channels of a command.
pub struct Console {
    results: Results,
    notes: Box<dyn Write>,
    quiet: bool,
    colour: bool,
    progress: bool,
    doubts: usize,
}

/// Where results go.
enum Results {
    Standard(Stdout),
    Kept(Vec<u8>),
}

impl Results {
    fn write(&mut self, text: &str) -> io::Result<()> {
        match self {
            Self::Standard(out) => out.write_all(text.as_bytes()).and_then(|()| out.flush()),
            Self::Kept(bytes) => bytes.write_all(text.as_bytes()),
        }
    }
}

impl Console {
    /// The console of this process. Colour only on a terminal and without `NO_COLOR`.
    #[must_use]
    pub fn of_process(quiet: bool) -> Self {
        let terminal = io::stderr().is_terminal();
        let plain = env::var_os("NO_COLOR").is_some_and(|value| !value.is_empty());
        let colour = terminal && !plain;
        // consoles of Windows that know no escape sequences are coloured through their own functions
        let notes: Box<dyn Write> = if colour {
            Box::new(anstream::AutoStream::always(io::stderr()))
        } else {
            Box::new(io::stderr())
        };
        Self {
            results: Results::Standard(io::stdout()),
            notes,
            quiet,
            colour,
            progress: terminal && !quiet,
            doubts: 0,
        }
    }

    /// A console that collects its results and discards notes.
    #[must_use]
    pub fn captured() -> Self {
        Self {
            results: Results::Kept(Vec::new()),
            notes: Box::new(io::sink()),
            quiet: true,
            colour: false,
            progress: false,
            doubts: 0,
        }
    }

    /// The results of a captured console; empty for that of the process.
    #[must_use]
    pub fn into_text(self) -> String {
        match self.results {
            Results::Standard(_) => String::new(),
            Results::Kept(bytes) => String::from_utf8_lossy(&bytes).into_owned(),
        }
    }

    /// A result, to standard output. Control characters are shown, but for line breaks.
    ///
    /// # Errors
    /// When it cannot be written for another reason than a closed pipe.
    pub fn print(&mut self, text: &str) -> Result<()> {
        self.send(text, visible)
    }

    /// A result in XML, to standard output. Control characters are written as references.
    ///
    /// # Errors
    /// As [`Console::print`].
    pub fn print_xml(&mut self, text: &str) -> Result<()> {
        self.send(text, visible_xml)
    }

    /// A result without user data, to standard output, unchanged.
    ///
    /// # Errors
    /// As [`Console::print`].
    pub fn print_as_it_is(&mut self, text: &str) -> Result<()> {
        self.send(text, |text| Cow::Borrowed(text))
    }

    fn send(&mut self, text: &str, show: impl Fn(&str) -> Cow<'_, str>) -> Result<()> {
        let shown = match self.results {
            Results::Standard(_) => show(text),
            Results::Kept(_) => Cow::Borrowed(text),
        };
        self.put(&shown)
    }

    fn put(&mut self, text: &str) -> Result<()> {
        match self.results.write(text) {
            Err(error) if error.kind() != io::ErrorKind::BrokenPipe => {
                Err(Error::machine("cannot write to standard output").because(error.to_string()))
            }
            _ => Ok(()),
        }
    }

    /// A note, to standard error; omitted when quiet.
    pub fn note(&mut self, text: &str) {
        if !self.quiet {
            self.write_note(&visible(text));
        }
    }

    /// A failure.
    pub fn error(&mut self, error: &Error) {
        self.labelled("error", AnsiColor::Red, error);
    }

    /// A warning: an input that was set aside, or a conflict.
    pub fn warning(&mut self, error: &Error) {
        self.labelled("note", AnsiColor::Yellow, error);
    }

    /// A warning about inputs that the command was not asked about: the command is done, but its exit status is that
    /// of inputs in doubt.
    pub fn doubt(&mut self, error: &Error) {
        self.doubts += 1;
        self.warning(error);
    }

    /// Whether there was such a warning.
    #[must_use]
    pub fn is_in_doubt(&self) -> bool {
        self.doubts > 0
    }

    /// A progress bar of this many steps; hidden when piped or quiet.
    #[must_use]
    pub fn progress(&self, doing: &str, steps: u64) -> ProgressBar {
        let target =
            if self.progress { ProgressDrawTarget::stderr() } else { ProgressDrawTarget::hidden() };
        let bar = ProgressBar::with_draw_target(Some(steps), target);
        if let Ok(style) = ProgressStyle::with_template("{msg:24} {bar:32} {pos}/{len} {eta}") {
            bar.set_style(style);
        }
        bar.set_message(doing.to_owned());
        if self.progress {
            bar.enable_steady_tick(Duration::from_millis(200));
        }
        bar
    }

    fn labelled(&mut self, label: &str, colour: AnsiColor, error: &Error) {
        let style = if self.colour {
            Style::new().fg_color(Some(colour.into())).bold()
        } else {
            Style::new()
        };
        self.write_note(&format!("{style}{label}:{style:#} {error}"));
    }

    fn write_note(&mut self, text: &str) {
        // A closed standard error must not stop the command.
        let _ = writeln!(self.notes, "{text}");
    }
}
