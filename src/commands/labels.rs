//! Runs `trug labels --out FILE.pdf`: prints labels of stored finds, or numbered field slips. Layer:
//! `commands`.

use std::collections::HashSet;
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use uuid::Uuid;

use super::console::Console;
use super::exit::Exit;
use super::others;
use super::selection::SelectionArguments;
use super::store_path::StoreArgument;
use super::{ground, names, output};
use crate::error::{Error, Result, read_regular};
use crate::model::{KeptFind, RecordNumber};
use crate::present::label::{self, Layout, Paper, Print, Size, Unprinted};
use crate::present::render;
use crate::present::summary::words::counted;
use crate::store::{NumberQuery, Store};

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

    /// The layout of labels, a TOML file: heading, language, lines and their order, code.
    #[arg(long, value_name = "FILE", conflicts_with = "slips")]
    layout: Option<PathBuf>,

    /// The first label on the first sheet, for a part-used sheet: 1 is the upper left one, the count goes
    /// along the rows.
    #[arg(long, value_name = "LABEL", conflicts_with = "slips", value_parser = clap::value_parser!(u32).range(1..))]
    start: Option<u32>,

    /// Labels of each find: one for the specimen, the others for its duplicates.
    #[arg(long, value_name = "HOW MANY", conflicts_with = "slips", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=50))]
    copies: u32,

    #[command(flatten)]
    store: StoreArgument,

    #[command(flatten)]
    selection: SelectionArguments,

    /// Field slips instead: the first number, such as AQ-0101.
    #[arg(
        long,
        value_name = "NUMBER",
        requires = "count",
        conflicts_with_all = [
            "taxon", "from", "to", "collector", "number", "site", "outing", "place", "host",
            "substrate", "near", "notes", "size"
        ]
    )]
    slips: Option<String>,

    /// With --slips: print numbers, too, that finds of the store have.
    #[arg(long, requires = "slips")]
    reprint: bool,

    /// The number of slips.
    #[arg(long, value_name = "HOW MANY", requires = "slips", value_parser = clap::value_parser!(u32).range(1..=5_000))]
    count: Option<u32>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum SizeChoice {
    /// Everything about a find, 93 by 84 mm.
    Packet,
    /// For the drying tray, 62 by 42 mm.
    Tray,
    /// For the box, 46 by 21 mm.
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
    let (sheets, title, pieces, exit) = if let Some(first) = &arguments.slips {
        let numbers = series(first, arguments.count.unwrap_or(1))?;
        if arguments.store.path().exists() && !arguments.reprint {
            refuse_used(&arguments.store.open(console)?, &numbers)?;
        }
        let last = numbers.last().map_or_else(String::new, ToString::to_string);
        let title = format!("Field slips {first} to {last}");
        (label::slips(&numbers, paper), title, numbers.len(), Exit::Done)
    } else {
        let layout = layout(arguments)?;
        let store = arguments.store.open(console)?;
        let mut finds = finds(&store, arguments)?;
        ground::set_elevations(finds.iter_mut(), &store, console)?;
        let exact = exact_words(&store, &finds)?;
        let mut print = Print {
            size: arguments.size.into(),
            paper,
            layout: &layout,
            copies: arguments.copies,
            used: 0,
            note: &exact,
        };
        print.used = used(arguments.start, print.labels_per_sheet())?;
        warn_of_missing_letters(&finds, &layout, console);
        warn_of_open_types(&finds, &print, console);
        let exit = warn_of_repeated_numbers(&with_same_numbers(&store, &finds)?, console);
        console.note(&exact);
        (print.sheets(&finds), "Labels".to_owned(), finds.len(), exit)
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
    Ok(exit)
}

/// The most numbers that are listed in a refusal.
const LISTED: usize = 6;

/// Refuses numbers that finds of the store have: a number identifies one specimen.
fn refuse_used(store: &Store, numbers: &[RecordNumber]) -> Result<()> {
    let mut used = Vec::new();
    for number in numbers {
        let query = NumberQuery { number: number.0.clone(), day: None, collector: None };
        if let Some(find) = store.finds_of_number(&query)?.into_iter().next() {
            let whose = find.collector.map(|name| format!(", {name}")).unwrap_or_default();
            used.push((number, format!("{number} ({}{whose})", find.date)));
        }
    }
    let Some((last, _)) = used.last() else { return Ok(()) };
    let mut list: Vec<String> = used.iter().take(LISTED).map(|(_, words)| words.clone()).collect();
    if used.len() > LISTED {
        list.push(format!("{} more", used.len() - LISTED));
    }
    Err(Error::input(format!("{} of the {} numbers are used", used.len(), numbers.len()))
        .because(format!("{} has finds with them: {}", store.path().display(), list.join(", ")))
        .hint(format!(
            "begin after {last}; add --reprint where slips of the same finds are printed again, or the series is \
             another collector's"
        )))
}

fn layout(arguments: &Arguments) -> Result<Layout> {
    let Some(path) = &arguments.layout else { return Ok(Layout::default()) };
    let bytes = read_regular(path).map_err(|error| Error::file("read", path, &error))?;
    let text = String::from_utf8(bytes).map_err(|error| {
        Error::input("the label layout cannot be read")
            .in_file(path)
            .because(format!("it is not UTF-8: {}", error.utf8_error()))
            .hint("save it as UTF-8")
    })?;
    Layout::from_toml(&text).map_err(|error| error.in_file(path))
}

/// Labels that are missing on the first sheet.
fn used(start: Option<u32>, each: usize) -> Result<usize> {
    let before = start.map_or(0, |start| usize::try_from(start - 1).unwrap_or(usize::MAX));
    if before < each {
        return Ok(before);
    }
    Err(Error::input(format!("a sheet has no label {}", before.saturating_add(1)))
        .because(format!("it has {each} labels of this size"))
        .hint(format!("give --start a number from 1 to {each}")))
}

/// The finds to label, and others of the store with the same number by the same collector.
fn with_same_numbers(store: &Store, finds: &[KeptFind]) -> Result<Vec<KeptFind>> {
    let mut all = finds.to_vec();
    let mut seen: HashSet<Uuid> = finds.iter().map(|find| find.id).collect();
    for find in finds {
        let Some(number) = &find.record.number else { continue };
        let same = NumberQuery {
            number: number.0.clone(),
            day: None,
            collector: find.record.collector.clone().or_else(|| find.collector.clone()),
        };
        let others = store.finds_of_number(&same)?;
        all.extend(others.into_iter().filter(|other| seen.insert(other.id)));
    }
    Ok(all)
}

/// Reports type statuses that the labels of duplicates leave out.
fn warn_of_open_types(finds: &[KeptFind], print: &Print<'_>, console: &mut Console) {
    if print.copies < 2 || print.size != Size::Packet {
        return;
    }
    for (find, status) in label::open_type_status(finds, print.layout) {
        let number = find.record.number.as_ref().map_or("a find", |number| &number.0);
        console.doubt(
            &Error::input(format!("duplicates of {number} are labelled without a type status"))
                .because(format!("\"{status}\" does not say what its duplicates are"))
                .hint("write holotype, lectotype, neotype, epitype, syntype or isotype"),
        );
    }
}

/// Reports numbers that one collector used for several of these finds.
fn warn_of_repeated_numbers(finds: &[KeptFind], console: &mut Console) -> Exit {
    let repeated = label::repeated_numbers(finds);
    for group in repeated.iter().take(12) {
        let number = group[0].record.number.as_ref().map_or("", |number| &number.0);
        let dates: Vec<String> =
            group.iter().take(6).map(|find| find.date.strftime("%-d %B %Y").to_string()).collect();
        console.warning(
            &Error::input(format!("number {number} belongs to {} finds", group.len()))
                .because(format!("the same collector used it on {}", dates.join(", ")))
                .hint("correct the number in the notebook and import it again before labelling"),
        );
    }
    if repeated.len() > 12 {
        console.note(&format!("{} more numbers are used more than once.", repeated.len() - 12));
    }
    if repeated.is_empty() { Exit::Done } else { Exit::SomeSetAside }
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
    let selection = &arguments.selection;
    let query = selection.query(store)?;
    if let Some(unknown) = names::unknown_in(store, selection.taxon.as_deref())? {
        return Err(unknown);
    }
    names::known_collector(store, selection.collector.as_deref())?;
    let finds = store.finds(&query)?;
    let chosen: Vec<&RecordNumber> =
        finds.iter().filter_map(|find| find.record.number.as_ref()).collect();
    names::known_numbers(store, &selection.number, &chosen)?;
    if finds.is_empty() {
        if let Some(explained) = selection.explained(store, &query)? {
            return Err(explained);
        }
        return Err(Error::input("no find to label")
            .because(format!("{} has no find that matches", arguments.store.path().display()))
            .hint("list its finds with trug finds, or relax the selection"));
    }
    Ok(finds)
}

fn warn_of_missing_letters(finds: &[KeptFind], layout: &Layout, console: &mut Console) {
    let families = label::families_of_machine(finds, layout);
    if !families.is_empty() {
        console.note(&format!(
            "Letters beyond Latin, Greek and Cyrillic are set in {}.",
            families.join(", ")
        ));
    }
    let Unprinted { without_a_font, scripts, numbers } = label::unprinted(finds, layout);
    if numbers.is_empty() {
        return;
    }
    let shown: Vec<String> = numbers.iter().take(LISTED).cloned().collect();
    let more = if numbers.len() > LISTED { " and others" } else { "" };
    let on = format!(
        "a replacement character stands for each on the labels of {}{more}",
        shown.join(", ")
    );
    if !scripts.is_empty() {
        console.doubt(
            &Error::input(format!("letters of {} cannot be printed", scripts.join(", ")))
                .because(format!("trug does not set scripts whose signs change places, whatever fonts there are; {on}"))
                .hint("add a transliteration in Latin letters to the record, or write these labels by hand"),
        );
    }
    if !without_a_font.is_empty() {
        let letters: Vec<String> =
            without_a_font.iter().take(12).map(ToString::to_string).collect();
        let others = if without_a_font.len() > letters.len() { " and others" } else { "" };
        console.doubt(
            &Error::input(format!(
                "{} cannot be printed",
                counted(without_a_font.len(), "letter", "letters")
            ))
            .because(format!("no font of this machine has {}{others}; {on}", letters.join(" ")))
            .hint("install a font for this script, or add a transliteration in Latin letters"),
        );
    }
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
