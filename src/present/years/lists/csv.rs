//! Writes lists as comma-separated values: a row for each species of each list. Layer: `present`.

use csv::{Terminator, WriterBuilder};

use super::Report;
use crate::analyse::lists::{List, SpeciesLine};
use crate::error::{Error, Result};
use crate::present::csv::harmless;

/// The rows of the groups, or of the one list; UTF-8, commas, CR LF.
///
/// # Errors
/// Never in practice: the text is written to memory.
pub fn csv(report: &Report) -> Result<String> {
    let mut writer = WriterBuilder::new().terminator(Terminator::CRLF).from_writer(Vec::new());
    let failed = |why: String| Error::program("the list cannot be written as CSV").because(why);
    let group = report.by.map_or("list", super::GroupedBy::heading);
    let headings = [
        group,
        "scientificName",
        "finds",
        "outings",
        "first",
        "first_recordNumber",
        "last",
        "new_to_the_list",
        "new_at_sites",
        "new_in_years",
    ];
    writer.write_record(headings).map_err(|why| failed(why.to_string()))?;
    let lists: Vec<&List> = match report.by {
        Some(_) => report.lists.groups.iter().collect(),
        None => vec![&report.lists.all],
    };
    for list in lists {
        for line in &list.species {
            writer.write_record(row(&list.label, line)).map_err(|why| failed(why.to_string()))?;
        }
    }
    let bytes = writer.into_inner().map_err(|why| failed(why.to_string()))?;
    String::from_utf8(bytes).map_err(|why| failed(why.to_string()))
}

fn row(label: &str, line: &SpeciesLine) -> [String; 10] {
    [
        harmless(if label.is_empty() { "all" } else { label }),
        harmless(&line.name),
        line.finds.to_string(),
        line.outings.to_string(),
        line.first.date.to_string(),
        harmless(line.first.number.as_deref().unwrap_or_default()),
        line.last.to_string(),
        if line.new_for_list { "yes" } else { "no" }.to_owned(),
        line.new_for_sites.to_string(),
        line.new_for_years.to_string(),
    ]
}
