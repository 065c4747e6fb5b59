//! Words the findings about records. Layer: `present`.

use super::{finds_listed, listed, worded};
use crate::error::Error;
use crate::model::{FindReference, NumberRange, RecordNote};
use crate::present::summary::words::counted;

const CONSECUTIVE: &str = "numbers of one day are usually consecutive";

impl From<RecordNote> for Error {
    fn from(note: RecordNote) -> Self {
        match &note {
            RecordNote::NumbersMissing { numbers } => {
                let numbers: Vec<String> = numbers.iter().map(missing).collect();
                worded(
                    &note,
                    format!("numbers are missing: {}", listed(&numbers)),
                    CONSECUTIVE,
                    "check whether a label was lost or a number was skipped",
                )
            }
            RecordNote::NumberFarFromOthers { number, others } => worded(
                &note,
                format!("the number {number} is far from the others, {}", range(others)),
                CONSECUTIVE,
                "check whether it is a writing error",
            ),
            RecordNote::NumbersUsedBefore { numbers, dates, before } => {
                let (what, verb) =
                    if numbers.len() == 1 { ("the number", "is") } else { ("the numbers", "are") };
                let dates: Vec<String> = dates.iter().map(ToString::to_string).collect();
                worded(
                    &note,
                    format!(
                        "{what} {} of {} {verb} already used on {before}",
                        listed(numbers),
                        dates.join(" and ")
                    ),
                    "labels and deposits show the number alone, so it must identify one find",
                    "continue the numbers from day to day, or prefix a date or a series",
                )
            }
            RecordNote::DatedInFuture { records, date, today } => worded(
                &note,
                format!("{} dated {date}, in the future", future(*records)),
                format!("it is {today} at the latest anywhere"),
                "check day, month and year in the notebook; a corrected notebook moves the finds",
            ),
            RecordNote::HostAndSubstrateMissing { finds } => worded(
                &note,
                lacking(finds, "neither host nor substrate"),
                "host and substrate cannot be determined later",
                "fill it in while you remember it",
            ),
            RecordNote::NumberMissing { finds } => worded(
                &note,
                lacking(finds, "no number"),
                "labels and deposits identify a find by its number",
                "fill it in while you remember it",
            ),
            RecordNote::DateOfOuting { finds, date } => worded(
                &note,
                lacking(finds, "no date in the notebook"),
                format!(
                    "other rows of the file have dates; they are stored with that of the outing, {date}"
                ),
                "write the date in the notebook if they are of another day",
            ),
            RecordNote::NoNamedPhotographs { named } => worded(
                &note,
                format!("none of the {named} photographs named in the records was found"),
                "no photograph of that outing was read",
                "add their folder; their times give positions",
            ),
            RecordNote::PhotographsMissing { find, photographs } => worded(
                &note,
                format!("{find} names {}", listed(photographs)),
                "the outing has no photograph of that name",
                "check the spelling, or add the photograph to the folder",
            ),
            RecordNote::PhotographsNotNamed { photographs, of, records } => {
                let (what, why, hint) = not_named(photographs, *of, *records);
                worded(&note, what, why, hint)
            }
        }
    }
}

fn future(records: usize) -> String {
    let verb = if records == 1 { "is" } else { "are" };
    format!("{} {verb}", counted(records, "record", "records"))
}

fn lacking(finds: &[FindReference], what: &str) -> String {
    let verb = if finds.len() == 1 { "has" } else { "have" };
    format!("{} {verb} {what}", finds_listed(finds))
}

fn missing(numbers: &NumberRange) -> String {
    if numbers.first == numbers.last {
        format!("{}{}", numbers.series, numbers.first)
    } else {
        range(numbers)
    }
}

fn range(numbers: &NumberRange) -> String {
    let NumberRange { series, first, last } = numbers;
    format!("{series}{first} to {series}{last}")
}

fn not_named(photographs: &[String], of: usize, records: usize) -> (String, String, &'static str) {
    if photographs.len() < of {
        return (
            format!("no record names {}", listed(photographs)),
            format!("{} of {of} photographs", photographs.len()),
            "check whether they show a find without a record",
        );
    }
    let what = match photographs {
        [only] => format!("no record names the only photograph, {only}"),
        all => format!("no record names any of the {} photographs", all.len()),
    };
    if records == 0 {
        return (what, "no records were read".to_owned(), "add the notebook to the import");
    }
    let hint = "write the numbers of the photographs into the records";
    (what, "the records name none of them".to_owned(), hint)
}
