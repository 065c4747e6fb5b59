//! Runs `trug template --out FILE`: writes a notebook to fill in, empty or with a row for each find that
//! the photographs and waypoints of a day show. Layer: `commands`.

use std::path::{Path, PathBuf};

use clap::Args;
use clap::builder::PossibleValuesParser;

use super::console::Console;
use super::day::DayArguments;
use super::exit::Exit;
use super::output;
use crate::error::{Error, Result, read_regular};
use crate::ingest::record;
use crate::model::{Day, RecordNumber, Waypoint};
use crate::present::notebook::{
    Notebook, NotebookColumn, NotebookRow, Proposal, explanation, proposals, sheet_name,
};
use crate::present::summary::words::counted;
use crate::present::thumbnail;

/// Write a notebook to fill in, as XLSX, ODS or CSV.
///
/// With --from, each group of photographs gets a row with its time by the corrected clock, its position
/// and a picture, and so does each waypoint without photographs. Fill it in and import it together with
/// the day: proposed times and positions are for your information and are not read as evidence.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The file to write; its ending is .xlsx, .ods or .csv.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,

    #[command(flatten)]
    replacing: output::Overwrite,

    /// The language of the headings and their explanations.
    #[arg(long, default_value = "en", value_parser = PossibleValuesParser::new(record::LANGUAGE_CODES))]
    language: String,

    /// Folders or files of a day: tracks and photographs. Can be given several times.
    #[arg(long, value_name = "PATH", num_args = 1..)]
    from: Vec<PathBuf>,

    /// The number of the first find.
    #[arg(long, value_name = "NUMBER", default_value = "1")]
    number: String,

    /// The time zone of camera times, such as Australia/Hobart or +10:00.
    #[arg(long, value_name = "ZONE", allow_hyphen_values = true)]
    zone: Option<String>,
}

/// The columns of a notebook. The last two and the picture are only in a notebook with rows.
const COLUMNS: [&str; 24] = [
    "number",
    "date",
    "time",
    "place",
    "name",
    "host",
    "substrate",
    "habitat",
    "photos",
    "waypoint",
    "quantity",
    "colour",
    "bruising",
    "smell",
    "taste",
    "spore print",
    "collector",
    "identified by",
    "latitude",
    "longitude",
    "datum",
    "notes",
    "proposed time",
    "proposed position",
];

/// The columns of an empty notebook.
const EMPTY: usize = COLUMNS.len() - 2;

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let ending = arguments.out.extension().map(|end| end.to_string_lossy().to_lowercase());
    let write = match ending.as_deref() {
        Some("xlsx") => Notebook::xlsx,
        Some("ods") => Notebook::ods,
        Some("csv") => Notebook::csv,
        _ => return Err(no_form(&arguments.out)),
    };
    let (days, waypoints) = if arguments.from.is_empty() {
        (Vec::new(), Vec::new())
    } else {
        let day = DayArguments::of(arguments.from.clone(), arguments.zone.clone());
        let joined = day.join(console)?;
        for error in &joined.set_aside {
            console.warning(error);
        }
        (joined.days, joined.waypoints)
    };
    let notebook = notebook(arguments, &days, &waypoints);
    output::write(&arguments.out, &write(&notebook)?, arguments.replacing)?;
    let rows = counted(notebook.rows.len(), "row", "rows");
    console.note(&format!("Written: {}, {rows}", arguments.out.display()));
    Ok(Exit::Done)
}

fn notebook(arguments: &Arguments, days: &[Day], waypoints: &[Waypoint]) -> Notebook {
    let proposed: Vec<Proposal> = days.iter().flat_map(|day| proposals(day, waypoints)).collect();
    let with_rows = !arguments.from.is_empty();
    let count = if with_rows { COLUMNS.len() } else { EMPTY };
    let language = record::language_name(&arguments.language).unwrap_or("English");
    let column = |word: &&'static str| NotebookColumn {
        heading: record::heading(word, &arguments.language).to_owned(),
        note: explanation(word, language).to_owned(),
    };
    let mut columns: Vec<NotebookColumn> = COLUMNS[..count].iter().map(column).collect();
    if with_rows {
        columns.push(column(&"thumbnail"));
    }
    let rows = proposed.iter().zip(0..).map(|(row, place)| filled(row, &arguments.number, place));
    let name = sheet_name(language).to_owned();
    Notebook { name, columns, rows: rows.collect() }
}

fn filled(proposal: &Proposal, first: &str, place: u64) -> NotebookRow {
    let mut cells: Vec<String> = COLUMNS
        .iter()
        .map(|word| match *word {
            "number" => Some(number(first, place)),
            "date" => proposal.date.map(|date| date.to_string()),
            "photos" => Some(proposal.photos.join("; ")),
            "waypoint" => proposal.waypoint.clone(),
            "proposed time" => proposal.time.clone(),
            "proposed position" => proposal.position.clone(),
            _ => None,
        })
        .map(Option::unwrap_or_default)
        .collect();
    cells.push(String::new());
    NotebookRow { cells, picture: proposal.picture.as_deref().and_then(picture) }
}

/// The number of a row: TH-0017 is followed by TH-0018.
fn number(first: &str, place: u64) -> String {
    let first = RecordNumber(first.to_owned());
    let series = first.series().to_owned();
    let width = first.0.trim_end().len() - series.len();
    match first.ordinal() {
        Some(ordinal) => format!("{series}{:0width$}", ordinal.saturating_add(place)),
        None => format!("{}{}", first.0, place + 1),
    }
}

/// A small picture of a photograph; none where it cannot be shown.
fn picture(path: &Path) -> Option<Vec<u8>> {
    thumbnail::small(&read_regular(path).ok()?).ok()
}

fn no_form(path: &Path) -> Error {
    Error::input(format!("{} is not a form of notebook", path.display()))
        .because("its ending is none of .xlsx, .ods and .csv")
        .hint("write it as --out notebook.xlsx")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_counted_on() {
        assert_eq!(number("TH-0017", 3), "TH-0020");
        assert_eq!(number("1", 9), "10");
        assert_eq!(number("A", 0), "A1");
    }

    #[test]
    fn every_column_is_known_to_the_reader_in_every_language() {
        for language in record::LANGUAGE_CODES {
            for word in COLUMNS.iter().chain(&["thumbnail"]) {
                let heading = record::heading(word, language);
                assert_eq!(record::column_word(heading), Some(*word), "{language}: {heading}");
                let name = record::language_name(language).unwrap();
                let note = explanation(word, name);
                let english = explanation(word, "English");
                assert!(
                    !note.is_empty() && (language == "en") == (note == english),
                    "{language}: {word}"
                );
            }
        }
    }
}
