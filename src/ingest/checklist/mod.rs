//! Reads a checklist: a table of taxa with Darwin Core terms (CSV, TSV, also gzipped) or the core of a
//! Darwin Core Archive, as national checklists are published. Layer: `ingest`.
//!
//! The file is read twice: first the references between its rows, then the names. Neither the file nor
//! its names are held in memory.
//!
//! Read twice, line by line: memory follows the number of names, some tens of bytes each, not the size of the file.
//! Limits are 3,000,000 rows, 1 MiB a line and 4 GiB unpacked (`docs/checklist.md`).
//!
//! # References
//! Darwin Core quick reference guide, class Taxon (TDWG, <http://rs.tdwg.org/dwc/terms/>).

mod columns;
mod lines;
mod links;
mod meta;
mod source;

use std::collections::HashMap;
use std::io::BufRead;
use std::path::Path;

use columns::{Columns, GENUS, Term};
use lines::{Form, Line, Lines};
use links::{Link, Linking, Links, Reference, Usage, hash, higher_rank};
use source::{Source, refused};

use crate::error::{Error, Result};
use crate::model::taxon_name::key;
use crate::model::{ChecklistCounts, ChecklistEntry, Lineage, TaxonName};

/// The most rows that are read (chosen: the names of all fungi are some 600,000, from memory).
const MOST_ROWS: usize = 3_000_000;
/// Headings are sought in the first lines.
const LINES_ABOVE: usize = 12;

/// A checklist whose references are resolved.
#[derive(Debug)]
pub struct Checklist {
    source: Source,
    form: Form,
    /// The line of the headings; rows are below it.
    headings: u64,
    columns: Columns,
    links: Links,
    counts: ChecklistCounts,
}

/// Reads the references of a checklist.
///
/// # Errors
/// When the file cannot be read, is damaged, too large, or no table of taxa.
pub fn open(path: &Path) -> Result<Checklist> {
    let source = Source::of(path)?;
    let (form, headings, columns) = match &source.described {
        Some(described) if described.columns.have_names() => {
            (described.form, described.headings as u64, described.columns.clone())
        }
        _ => source.read(&mut |reader| headings(path, reader))?,
    };
    let with_names = columns.has(Term::Accepted);
    let mut linking = Linking::default();
    let mut counts = ChecklistCounts::default();
    each_row(&source, form, headings, &mut |cells| {
        let Some(cells) = cells else {
            counts.too_long += 1;
            return Ok(());
        };
        let named = Named::of(&columns, &cells);
        if named.is_none() {
            counts.nameless += 1;
        }
        if linking.len() >= MOST_ROWS {
            return Err(refused(path, format!("it has more than {MOST_ROWS} rows"))
                .hint("use a checklist of fewer taxa, such as fungi only"));
        }
        linking.add(&link(&columns, &cells, named.as_ref()), with_names);
        Ok(())
    })?;
    counts.repeated_ids = linking.repeated_ids;
    let links = linking.resolved();
    if links.len() == 0 {
        return Err(refused(path, "it has headings and no row").hint("name a table of taxa"));
    }
    Ok(Checklist { source, form, headings, columns, links, counts })
}

impl Checklist {
    /// Visits every name, in the order of the file, and counts them.
    ///
    /// # Errors
    /// When the file cannot be read again, or changed meanwhile, and what `look` returns.
    pub fn each(
        &self,
        look: &mut dyn FnMut(ChecklistEntry) -> Result<()>,
    ) -> Result<ChecklistCounts> {
        let mut counts = self.counts;
        let mut row = 0;
        let mut written = HashMap::new();
        let mut more = Vec::new();
        each_row(&self.source, self.form, self.headings, &mut |cells| {
            let Some(cells) = cells else { return Ok(()) };
            row += 1;
            if row as usize > self.links.len() {
                return Err(self.changed());
            }
            let Some(mut entry) = self.entry(row, &cells) else { return Ok(()) };
            if self.links.usage(row) == Usage::SynonymOfWritten {
                let name = self.columns.value(Term::Accepted, &cells);
                let next = self.links.len() + 1 + written.len();
                let id = *written.entry(hash(name)).or_insert_with(|| {
                    more.push((next, name.to_owned(), entry.lineage.clone()));
                    next
                });
                entry.accepted = u32::try_from(id).ok();
            }
            counts.add(&entry);
            look(entry)
        })?;
        if row as usize != self.links.len() {
            return Err(self.changed());
        }
        for (id, name, lineage) in more {
            let entry = written_only(id, &name, lineage);
            counts.add(&entry);
            look(entry)?;
        }
        Ok(counts)
    }

    fn entry(&self, row: u32, cells: &[String]) -> Option<ChecklistEntry> {
        let named = Named::of(&self.columns, cells)?;
        let value =
            |term| Some(self.columns.value(term, cells).to_owned()).filter(|v| !v.is_empty());
        let mut ranks = std::array::from_fn(|place| value(Term::Higher(place)));
        self.links.complete(row, &mut ranks);
        if ranks[GENUS].is_none() && named.name.contains(' ') {
            ranks[GENUS] = named.name.split(' ').next().map(str::to_owned);
        }
        let (accepted, open) = match self.links.usage(row) {
            Usage::SynonymOf(other) => (Some(other), None),
            Usage::Open(why) => (None, Some(why)),
            Usage::Accepted | Usage::SynonymOfWritten => (None, None),
        };
        Some(ChecklistEntry {
            row,
            key: key(&named.name),
            name: named.name,
            author: named.author,
            rank: value(Term::Rank),
            status: value(Term::Status),
            accepted,
            open,
            lineage: Lineage::of_ranks(ranks),
        })
    }

    fn changed(&self) -> Error {
        let path = self.source.path();
        Error::input(format!("{} changed while it was read", path.display()))
            .hint("run the command again")
            .in_file(path)
    }
}

/// An accepted name that only its synonyms name.
fn written_only(id: usize, name: &str, lineage: Lineage) -> ChecklistEntry {
    let named = Named::of_text(name, "");
    ChecklistEntry {
        row: u32::try_from(id).unwrap_or(u32::MAX),
        key: key(&named.name),
        name: named.name,
        author: named.author,
        rank: None,
        status: None,
        accepted: None,
        open: None,
        lineage,
    }
}

/// Name and author of a row.
struct Named {
    name: String,
    author: Option<String>,
}

impl Named {
    fn of(columns: &Columns, cells: &[String]) -> Option<Self> {
        let value = |term| columns.value(term, cells);
        let written = match value(Term::Name) {
            "" => {
                let parts = [Term::Higher(GENUS), Term::Epithet, Term::LowerEpithet].map(value);
                parts.into_iter().filter(|part| !part.is_empty()).collect::<Vec<_>>().join(" ")
            }
            name => name.to_owned(),
        };
        (!written.is_empty()).then(|| Self::of_text(&written, value(Term::Author)))
    }

    fn of_text(written: &str, author: &str) -> Self {
        let bare = written.strip_suffix(author).map_or(written, str::trim);
        let bare = if bare.is_empty() { written } else { bare };
        let stated = Some(author.to_owned()).filter(|author| !author.is_empty());
        match TaxonName::read(bare) {
            Some(read) => Self { name: read.canonical, author: stated.or(read.author) },
            None => Self { name: bare.to_owned(), author: stated },
        }
    }

    /// Hashes of the name with its author, and without.
    fn hashes(&self) -> (u64, u64) {
        let key = key(&self.name);
        let author: String =
            self.author.iter().flat_map(|a| a.chars()).filter(|c| c.is_alphabetic()).collect();
        let bare = hash(&key);
        (if author.is_empty() { bare } else { hash(&format!("{key}|{author}")) }, bare)
    }
}

fn link<'a>(columns: &'a Columns, cells: &'a [String], named: Option<&'a Named>) -> Link<'a> {
    let value = |term| columns.value(term, cells);
    let (id, by_id, by_name) = (value(Term::Id), value(Term::AcceptedId), value(Term::Accepted));
    let accepted = match (by_id, by_name) {
        ("", "") => Reference::None,
        ("", name) => {
            let (full, bare) = Named::of_text(name, "").hashes();
            Reference::Name(full, bare)
        }
        (other, _) => Reference::Id(hash(other)),
    };
    let higher = higher_rank(value(Term::Rank));
    Link {
        id,
        name: named.map_or((0, 0), Named::hashes),
        accepted,
        parent: value(Term::ParentId),
        called_synonym: is_synonym(value(Term::Status)),
        higher: higher.zip(named).map(|(place, named)| (place, named.name.as_str())),
    }
}

/// Whether a status is that of a name which is not accepted, in the words of several languages.
fn is_synonym(status: &str) -> bool {
    let status = status.to_lowercase();
    ["synon", "sinon", "sin\u{f3}n", "misapplied", "unaccepted", "not accepted"]
        .iter()
        .any(|word| status.contains(word))
}

/// Visits the cells of each row below the headings; `None` for a line that is too long.
fn each_row(
    source: &Source,
    form: Form,
    headings: u64,
    look: &mut dyn FnMut(Option<Vec<String>>) -> Result<()>,
) -> Result<()> {
    let failed = |error| Error::file("read", source.path(), &error);
    source.read(&mut |reader| {
        let mut lines = Lines::new(reader);
        while let Some(row) = lines.row(form).map_err(failed)? {
            if row.line > headings {
                look(row.cells)?;
            }
        }
        Ok(())
    })
}

/// The first line with headings of names, the marks between its cells and its columns.
fn headings(path: &Path, reader: &mut dyn BufRead) -> Result<(Form, u64, Columns)> {
    let mut lines = Lines::new(reader);
    let mut first = None;
    for _ in 0..LINES_ABOVE {
        let line = lines.next().map_err(|error| Error::file("read", path, &error))?;
        let Some(Line::Text(number, text)) = line else { break };
        let delimiter = ['\t', ';', ',', '|'].into_iter().max_by_key(|mark| {
            // the first of equals is kept by `min`, the last by `max`
            (text.matches(*mark).count(), *mark == '\t')
        });
        // a tab is never within a cell, so that a quotation mark is a letter
        let delimiter = delimiter.unwrap_or(',');
        let quoted = text.trim_start().starts_with('"') || delimiter != '\t';
        let form = Form { delimiter, quote: quoted.then_some('"') };
        let plain = text.replace('"', "");
        let columns = Columns::of_headings(plain.split(delimiter));
        if columns.have_names() {
            return Ok((form, number, columns));
        }
        if !text.trim().is_empty() {
            first.get_or_insert(text);
        }
    }
    let shown: String = first.unwrap_or_default().chars().take(80).collect();
    Err(refused(path, format!("no heading scientificName; it begins with \"{shown}\"")).hint(
        "a checklist is a table with Darwin Core terms: taxonID, scientificName, acceptedNameUsageID, \
         kingdom to genus, or a Darwin Core Archive of taxa",
    ))
}

#[cfg(test)]
mod tests;
