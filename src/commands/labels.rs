//! Runs `trug labels --out FILE.pdf`: prints labels of stored finds, or numbered field slips. Layer:
//! `commands`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use jiff::civil::Date;

use super::console::Console;
use super::exit::Exit;
use super::others;
use super::store_path::StoreArgument;
use super::without_effect::days_in_order;
use super::{names, output};
use crate::error::{Error, Result};
use crate::model::{KeptFind, RecordNumber};
use crate::present::label::{self, Paper, Size};
use crate::present::render;
use crate::store::{FindQuery, Store};

/// Print labels for packets, drying trays and boxes, or numbered slips to take into the field.
///
/// Labels show exact positions: they are meant to stay with the specimen.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The PDF to write.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,

    #[command(flatten)]
    replacing: output::Overwrite,

    /// The purpose of the labels.
    #[arg(long, value_enum, default_value_t = SizeChoice::Packet)]
    size: SizeChoice,

    /// The paper size.
    #[arg(long, value_enum, default_value_t = PaperChoice::A4)]
    paper: PaperChoice,

    #[command(flatten)]
    store: StoreArgument,

    /// Only finds whose name begins with this.
    #[arg(long, value_name = "NAME")]
    taxon: Option<String>,

    /// Only finds collected on this day or later.
    #[arg(long, value_name = "DATE")]
    from: Option<Date>,

    /// Only finds collected on this day or earlier.
    #[arg(long, value_name = "DATE")]
    to: Option<Date>,

    /// Only finds of this collector.
    #[arg(long, value_name = "NAME")]
    collector: Option<String>,

    /// Only the find with this number. Can be given several times.
    #[arg(long, value_name = "NUMBER")]
    number: Vec<String>,

    /// Field slips instead: the first number, such as AQ-0101.
    #[arg(
        long,
        value_name = "NUMBER",
        requires = "count",
        conflicts_with_all = ["taxon", "from", "to", "collector", "number", "size"]
    )]
    slips: Option<String>,

    /// The number of slips.
    #[arg(long, value_name = "HOW MANY", requires = "slips", value_parser = clap::value_parser!(u32).range(1..=5_000))]
    count: Option<u32>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum SizeChoice {
    /// Everything about a find, 96 by 88 mm.
    Packet,
    /// For the drying tray, 63 by 42 mm.
    Tray,
    /// For the box, 48 by 22 mm.
    Tag,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum PaperChoice {
    /// 210 by 297 mm.
    A4,
    /// 8.5 by 11 inches.
    Letter,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let paper = match arguments.paper {
        PaperChoice::A4 => Paper::A4,
        PaperChoice::Letter => Paper::Letter,
    };
    let (sheets, title, pieces) = if let Some(first) = &arguments.slips {
        let numbers = series(first, arguments.count.unwrap_or(1))?;
        let last = numbers.last().map_or_else(String::new, ToString::to_string);
        let title = format!("Field slips {first} to {last}");
        (label::slips(&numbers, paper), title, numbers.len())
    } else {
        let store = Store::open(&arguments.store.path())?;
        let finds = finds(&store, arguments)?;
        warn_of_missing_letters(&finds, console);
        let exact = exact_words(&store, &finds)?;
        console.note(&exact);
        let sheets = label::sheets(&finds, arguments.size.into(), paper, &exact);
        (sheets, "Labels".to_owned(), finds.len())
    };
    output::write(&arguments.out, &render::pages(&sheets, &title)?, arguments.replacing)?;
    let what = match (arguments.slips.is_some(), pieces) {
        (true, 1) => "slip",
        (true, _) => "slips",
        (false, 1) => "find",
        (false, _) => "finds",
    };
    let count = sheets.len();
    let sheet = if count == 1 { "sheet" } else { "sheets" };
    console.print(&format!("{}: {pieces} {what} on {count} {sheet}\n", arguments.out.display()))?;
    console.note("Print at 100 %, without fitting to the page; cut along the marks.");
    Ok(Exit::Done)
}

impl From<SizeChoice> for Size {
    fn from(choice: SizeChoice) -> Self {
        match choice {
            SizeChoice::Packet => Self::Packet,
            SizeChoice::Tray => Self::Tray,
            SizeChoice::Tag => Self::Tag,
        }
    }
}

/// That labels are exact, with the numbers of the sensitive finds among them.
fn exact_words(store: &Store, finds: &[KeptFind]) -> Result<String> {
    let sensitive = others::sensitive_finds(store)?;
    let numbers: Vec<String> = finds
        .iter()
        .filter(|find| sensitive.contains(&find.id))
        .map(|find| find.record.number.as_ref().map_or("without a number", |n| &n.0).to_owned())
        .collect();
    if numbers.is_empty() {
        return Ok("Labels show exact positions.".to_owned());
    }
    let shown: Vec<String> = numbers.iter().take(6).cloned().collect();
    let more = numbers.len() - shown.len();
    let more = if more == 0 { String::new() } else { format!(" and {more} more") };
    Ok(format!("Labels show exact positions. Sensitive: {}{more}.", shown.join(", ")))
}

fn finds(store: &Store, arguments: &Arguments) -> Result<Vec<KeptFind>> {
    days_in_order(arguments.from, arguments.to)?;
    let query = FindQuery {
        taxon: arguments.taxon.clone(),
        from: arguments.from,
        to: arguments.to,
        collector: arguments.collector.clone(),
        ..FindQuery::default()
    };
    if let Some(unknown) = names::unknown_in(store, arguments.taxon.as_deref())? {
        return Err(unknown);
    }
    names::known_collector(store, arguments.collector.as_deref())?;
    let mut finds = store.finds(&query)?;
    let chosen: Vec<&RecordNumber> =
        finds.iter().filter_map(|find| find.record.number.as_ref()).collect();
    names::known_numbers(store, &arguments.number, &chosen)?;
    if !arguments.number.is_empty() {
        finds.retain(|find| {
            let number = find.record.number.as_ref();
            number.is_some_and(|number| arguments.number.iter().any(|asked| number.means(asked)))
        });
    }
    if finds.is_empty() {
        return Err(Error::input("no find to label")
            .because(format!("{} has no find that matches", arguments.store.path().display()))
            .hint("list its finds with trug finds, or relax the selection"));
    }
    Ok(finds)
}

fn warn_of_missing_letters(finds: &[KeptFind], console: &mut Console) {
    let missing = label::letters_without_a_glyph(finds);
    if missing.is_empty() {
        return;
    }
    let letters: Vec<String> = missing.iter().take(12).map(ToString::to_string).collect();
    let more = if missing.len() > letters.len() { " and others" } else { "" };
    console.warning(
        &Error::input(format!("{} letters cannot be printed", missing.len()))
            .because(format!(
                "the font covers Latin, Greek and Cyrillic, not {}{more}; a replacement character is printed for each",
                letters.join(" ")
            ))
            .hint("add a transliteration in Latin letters, for instance in brackets"),
    );
}

/// Consecutive numbers from the first one on, in its own format.
fn series(first: &str, count: u32) -> Result<Vec<RecordNumber>> {
    let first = RecordNumber(first.trim().to_owned());
    let digits = first.0.len() - first.series().len();
    let ordinal = first.ordinal().filter(|_| digits > 0).ok_or_else(|| {
        Error::input(format!("cannot number slips from {:?}", first.0))
            .because("it does not end in a number")
            .hint("give the first number as printed, such as --slips AQ-0101")
    })?;
    Ok((0..u64::from(count))
        .map(|step| {
            let next = ordinal.saturating_add(step);
            RecordNumber(format!("{}{next:0digits$}", first.series()))
        })
        .collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn number_series_keeps_its_format() {
        let numbers: Vec<String> =
            series("AQ-0098", 4).unwrap().into_iter().map(|number| number.0).collect();
        assert_eq!(numbers, ["AQ-0098", "AQ-0099", "AQ-0100", "AQ-0101"]);
        let numbers = series("NBP 9", 2).unwrap();
        assert_eq!(numbers[1].0, "NBP 10");
        assert!(series("no digits", 2).is_err());
        assert!(series("", 2).is_err());
    }
}
