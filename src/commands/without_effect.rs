//! Refuses option values that would have no effect: blank texts, options for an output that is not written, a
//! period that ends before it begins. Layer: `commands`.

use clap::parser::ValueSource;
use clap::{ArgMatches, Command};
use jiff::civil::Date;

use crate::error::{Error, Result};

/// # Errors
/// When the value of an option is empty or blank. Arguments without a name may be empty: an empty name
/// removes the name of a site.
pub(super) fn no_blank_value(command: &Command, matches: &ArgMatches) -> Result<()> {
    for argument in command.get_arguments().filter(|argument| !argument.is_positional()) {
        let id = argument.get_id().as_str();
        let Ok(Some(values)) = matches.try_get_raw(id) else { continue };
        let given = matches.value_source(id) == Some(ValueSource::CommandLine);
        let mut texts = values.filter_map(|value| value.to_str());
        if given && texts.any(|text| text.trim().is_empty()) {
            let option = argument.get_long().unwrap_or(id);
            return Err(Error::input(format!("--{option} is blank"))
                .because("a blank value would have no effect")
                .hint(format!("give a value, or omit --{option}")));
        }
    }
    let within = matches.subcommand().and_then(|(name, matches)| {
        command.find_subcommand(name).map(|command| (command, matches))
    });
    within.map_or(Ok(()), |(command, matches)| no_blank_value(command, matches))
}

/// # Errors
/// When the first day is later than the last.
pub(super) fn days_in_order(from: Option<Date>, to: Option<Date>) -> Result<()> {
    match from.zip(to) {
        Some((from, to)) if from > to => {
            Err(Error::input(format!("no day between {from} and {to}"))
                .because("--from is later than --to")
                .hint("exchange the two dates"))
        }
        _ => Ok(()),
    }
}

/// # Errors
/// When an option is given that needs another one.
pub(super) fn needs(option: &str, given: bool, other: &str, there: bool) -> Result<()> {
    if !given || there {
        return Ok(());
    }
    Err(Error::input(format!("{option} would have no effect"))
        .because(format!("it needs {other}"))
        .hint(format!("add {other}, or omit {option}")))
}
