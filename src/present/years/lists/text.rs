//! Writes lists for a terminal: the answer, the lists, how it was computed. Layer: `present`.

use std::fmt::Write;

use super::{GroupedBy, NotInChecklist, Report, of_group};
use crate::analyse::lists::{Apart, COMPARED, LEAST_OUTINGS, List, Richness};
use crate::present::summary::words::counted;
use crate::present::table::{Column, Table};
use crate::present::years::estimates::{number, percent, within, wrapped};

/// The text.
#[must_use]
pub fn text(report: &Report) -> String {
    let mut text = wrapped(&answer(report)) + "\n";
    match report.by {
        None => text += &species(&report.lists.all),
        Some(by) => text += &groups(by, report),
    }
    if !report.pairs.is_empty() {
        let _ = write!(text, "\n{}", pairs(report));
    }
    if let Some(richness) = &report.richness {
        let _ = write!(text, "\n{}", estimates(richness));
    }
    let apart = apart(&report.lists.all.apart);
    if !apart.is_empty() {
        let _ = write!(text, "\n{}", wrapped(&apart));
    }
    let spelling = spelling(report);
    if !spelling.is_empty() {
        let _ = write!(text, "\n{spelling}");
    }
    let _ = write!(text, "\n{}", wrapped(&computed(report)));
    text
}

/// One sentence.
pub(super) fn answer(report: &Report) -> String {
    let list = &report.lists.all;
    let found = counted(list.species.len(), "species", "species");
    let on = counted(list.outings, "outing", "outings");
    let of = if report.of.is_empty() { String::new() } else { format!("{}: ", report.of) };
    let estimate = match &report.richness {
        Some(richness) => format!(
            "; at least {} are to be expected there, of which the list has {}",
            within(richness.chao2, 0),
            percent(richness.share_of_chao2())
        ),
        None => {
            format!("; how many are missing is not determined: fewer than {LEAST_OUTINGS} outings")
        }
    };
    format!("{of}{found} found on {on}{estimate}.")
}

/// The most names of a note.
const NAMED: usize = 10;

/// Names that the checklist does not have, and names that may be one.
fn spelling(report: &Report) -> String {
    let mut text = String::new();
    let unknown: Vec<String> = report.not_in_checklist.iter().map(unknown).collect();
    if !unknown.is_empty() {
        let are = if unknown.len() == 1 { "is" } else { "are" };
        text += &wrapped(&format!(
            "{} {are} not in the checklist and counted as written: {}.",
            counted(unknown.len(), "species", "species"),
            listed(&unknown)
        ));
    }
    let alike: Vec<String> =
        report.alike.iter().map(|pair| format!("{} and {}", pair.rarer, pair.other)).collect();
    if !alike.is_empty() {
        text += &wrapped(&format!(
            "Nearly the same name, counted as two species: {}. Amend a misspelt one with `trug amend`.",
            listed(&alike)
        ));
    }
    text
}

fn unknown(of: &NotInChecklist) -> String {
    let finds = counted(of.finds, "find", "finds");
    match of.nearest.as_slice() {
        [] => format!("{} ({finds}; no name is near)", of.name),
        nearest => format!("{} ({finds}; nearest: {})", of.name, nearest.join(", ")),
    }
}

fn listed(names: &[String]) -> String {
    let more = names.len().saturating_sub(NAMED);
    let rest = if more > 0 { format!("; {more} more in the JSON") } else { String::new() };
    format!("{}{rest}", names[..names.len().min(NAMED)].join("; "))
}

fn species(list: &List) -> String {
    let mut table = Table::new([
        Column::left("species"),
        Column::right("finds"),
        Column::right("outings"),
        Column::left("first"),
        Column::left("number"),
        Column::left("last"),
    ]);
    for line in &list.species {
        table.row([
            line.name.clone(),
            line.finds.to_string(),
            line.outings.to_string(),
            line.first.date.to_string(),
            line.first.number.as_deref().unwrap_or_default().to_owned(),
            line.last.to_string(),
        ]);
    }
    table.to_string()
}

fn groups(by: GroupedBy, report: &Report) -> String {
    let new_for_sites = by != GroupedBy::Site;
    let mut columns = vec![Column::left(by.heading())];
    if by != GroupedBy::Outing {
        columns.push(Column::right("outings"));
    }
    columns.extend([
        Column::right("finds"),
        Column::right("species"),
        Column::right("new to the list"),
    ]);
    if by != GroupedBy::Year {
        columns.push(Column::right("new in the year"));
    }
    if new_for_sites {
        columns.push(Column::right("new at a site"));
    }
    columns.push(Column::right("not determined"));
    if by != GroupedBy::Outing {
        columns.push(Column::right("at least (Chao2)"));
    }
    let mut table = Table::new(columns);
    for list in &report.lists.groups {
        let count = |new: fn(&crate::analyse::lists::SpeciesLine) -> bool| {
            list.species.iter().filter(|line| new(line)).count().to_string()
        };
        let mut row = vec![list.label.clone()];
        if by != GroupedBy::Outing {
            row.push(list.outings.to_string());
        }
        row.extend([
            list.finds.to_string(),
            list.species.len().to_string(),
            count(|line| line.new_for_list),
        ]);
        if by != GroupedBy::Year {
            row.push(count(|line| line.new_for_years > 0));
        }
        if new_for_sites {
            row.push(count(|line| line.new_for_sites > 0));
        }
        row.push(list.apart.finds().to_string());
        if by != GroupedBy::Outing {
            row.push(of_group(list).map_or_else(
                || format!("fewer than {LEAST_OUTINGS} outings"),
                |chao2| within(chao2, 0),
            ));
        }
        table.row(row);
    }
    let without = "\nThe species of each are in the JSON and the CSV (--format).\n";
    format!("{table}{without}")
}

fn pairs(report: &Report) -> String {
    let mut table = Table::new([
        Column::left("list"),
        Column::left("and"),
        Column::right("shared species"),
        Column::right("at least"),
        Column::right("Sørensen"),
        Column::right("Jaccard"),
    ]);
    for pair in &report.pairs {
        table.row([
            pair.first.clone(),
            pair.second.clone(),
            pair.shared.observed.to_string(),
            pair.shared.at_least.map_or_else(|| "too few outings".to_owned(), |n| number(n, 1)),
            format!("{:.2}", pair.shared.sorensen),
            format!("{:.2}", pair.shared.jaccard),
        ]);
    }
    let by = report.by.map_or("groups", GroupedBy::many);
    let limit = if report.lists.groups.len() > COMPARED {
        format!(" Compared: the {COMPARED} {by} with most species.")
    } else {
        String::new()
    };
    format!(
        "{table}\nSørensen and Jaccard compare the lists as they are: what was missed on either makes them \
         too small.{limit}\n"
    )
}

fn estimates(richness: &Richness) -> String {
    let mut table = Table::new([
        Column::left("completeness"),
        Column::left("estimate"),
        Column::left("assumes"),
    ]);
    let ice = richness.ice.map_or_else(
        || "not determined: no infrequent species was found twice".to_owned(),
        |ice| within(ice, 1),
    );
    let rows = [
        ("species found", richness.observed.to_string(), ""),
        (
            "on one outing only, on two",
            format!("{}, {}", richness.uniques, richness.duplicates),
            "",
        ),
        (
            "Chao2, bias-corrected",
            format!("at least {}", within(richness.chao2, 1)),
            "nothing about rarity: a lower bound",
        ),
        ("jackknife 1", within(richness.jackknife1, 1), "few species are rarer than the uniques"),
        ("jackknife 2", within(richness.jackknife2, 1), "the same; less bias, more variance"),
        ("ICE", ice, "infrequent species tell of those missed"),
        (
            "coverage",
            percent(richness.coverage),
            "share of all meetings with a species that fall on listed ones",
        ),
        ("new species on the next outing", within(richness.new_in_next, 2), "an outing like these"),
    ];
    for (name, value, assumes) in rows {
        table.row([name, &value, assumes]);
    }
    table.to_string()
}

pub(super) fn apart(apart: &Apart) -> String {
    if apart.finds() == 0 {
        return String::new();
    }
    let parts = [
        (apart.genus_only, "with a genus only"),
        (apart.doubtful, "with a doubtful species (cf., aff., ?)"),
        (apart.undetermined, "without a scientific name"),
    ];
    let parts: Vec<String> = parts
        .iter()
        .filter(|(count, _)| *count > 0)
        .map(|(count, what)| format!("{count} {what}"))
        .collect();
    let genera = match apart.genera.len() {
        0 => String::new(),
        count => format!(
            " {} of which no species is listed: {}.",
            if count == 1 { "One genus".to_owned() } else { format!("{count} genera") },
            apart.genera.iter().cloned().collect::<Vec<_>>().join(", ")
        ),
    };
    format!(
        "Counted apart, no species: {} ({}).{genera}\n",
        counted(apart.finds(), "find", "finds"),
        parts.join(", ")
    )
}

fn computed(report: &Report) -> String {
    let units = if report.whole_outings {
        "Outings are the sampling units, those without a find included."
    } else {
        "Outings with a find of the selection are the sampling units: others cannot be known for it."
    };
    let hours =
        report.hours.map_or_else(String::new, |hours| format!(" {hours:.1} hours searched."));
    let places = if report.by == Some(GroupedBy::Place) {
        " Of a place, the outings with a find there."
    } else {
        ""
    };
    format!(
        "{units}{places}{hours} Estimates assume outings that are alike in place, season and care, and that no \
         species comes or goes meanwhile; a list of several years or places is a list of all of them \
         together. Intervals: Chao2 on the logarithm of the species missed, jackknife 1 by Student's t, \
         coverage, jackknife 2 and ICE by 200 draws from the estimated assemblage, new species by Garwood. \
         docs/lists.md\n"
    )
}
