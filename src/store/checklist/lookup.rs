//! Looks up one name and decides between homonyms. Layer: `store`.

use rusqlite::Connection;

use crate::model::taxon_name::same_author;
use crate::model::{Lineage, Meaning, NameCheck, OpenSynonym, Taxon, TaxonName};
use crate::store::fault::Attempt;
use crate::store::row::Cells;
use crate::store::words::Cell;

const COLUMNS: &str =
    "SELECT c.id, c.name, c.author, c.rank, c.status, c.accepted_id, c.unresolved,
    l.kingdom, l.phylum, l.class, l.order_name, l.family, l.genus
    FROM checklist c JOIN checklist_lineages l ON l.id = c.lineage_id";

/// One row.
struct Row {
    taxon: Taxon,
    status: String,
    accepted: Option<i64>,
    open: Option<OpenSynonym>,
}

/// A row with its accepted name.
struct Candidate {
    row: Row,
    accepted: Option<Taxon>,
}

impl Candidate {
    fn is_accepted(&self) -> bool {
        self.row.accepted.is_none() && self.row.open.is_none()
    }

    /// The accepted name: its own or the other.
    fn ends_in(&self) -> Option<&Taxon> {
        if self.is_accepted() { Some(&self.row.taxon) } else { self.accepted.as_ref() }
    }

    fn is_misapplied(&self) -> bool {
        let author = self.row.taxon.author.as_deref().unwrap_or_default();
        self.row.status.to_lowercase().contains("misapplied")
            || ["auct.", "auct ", "sensu "].iter().any(|word| author.starts_with(word))
    }

    /// Whether it is of the kingdom of fungi, or of those in which slime and water moulds are placed.
    fn is_fungus(&self) -> bool {
        let kingdom = self.row.taxon.lineage.kingdom.as_deref();
        matches!(kingdom, Some("Fungi" | "Protozoa" | "Chromista" | "Amoebozoa"))
    }

    fn check(self) -> NameCheck {
        let taxon = self.row.taxon;
        match (self.accepted, self.row.open) {
            (Some(accepted), _) => NameCheck::Synonym { taxon, accepted: Box::new(accepted) },
            (None, Some(why)) => NameCheck::Open { taxon, why },
            (None, None) if self.row.accepted.is_some() => {
                NameCheck::Open { taxon, why: OpenSynonym::Missing }
            }
            (None, None) => NameCheck::Accepted { taxon },
        }
    }
}

/// What the checklist says of a name; `None` where it does not have it.
pub(super) fn of(connection: &Connection, name: &TaxonName) -> Attempt<Option<NameCheck>> {
    let mut meanings = Vec::new();
    for row in rows(connection, "c.key = ?1 ORDER BY c.id", name.key())? {
        let accepted = match row.accepted {
            Some(id) => rows(connection, "c.id = ?1", id)?.pop().map(|row| row.taxon),
            None => None,
        };
        meanings.push(Candidate { row, accepted });
    }
    narrowed(&mut meanings, name);
    if meanings.len() <= 1 {
        return Ok(meanings.pop().map(Candidate::check));
    }
    let first = meanings[0].ends_in().map(Taxon::full_name);
    let one = first.is_some()
        && meanings.iter().all(|other| other.ends_in().map(Taxon::full_name) == first);
    if one {
        return Ok(Some(meanings.swap_remove(0).check()));
    }
    let meanings = meanings.into_iter().map(|meaning| {
        let accepted = meaning.accepted.as_ref().map(Taxon::full_name);
        Meaning { name: meaning.row.taxon.full_name(), accepted }
    });
    Ok(Some(NameCheck::Ambiguous { meanings: meanings.collect() }))
}

/// Leaves fewer meanings where something separates them: the written form, its author, fungi before others,
/// correct before misapplied use, and without a written author the accepted name before synonyms.
fn narrowed(meanings: &mut Vec<Candidate>, name: &TaxonName) {
    keep_if_any(meanings, |meaning| meaning.row.taxon.name == name.canonical);
    if let Some(author) = &name.author {
        keep_if_any(meanings, |meaning| {
            meaning.row.taxon.author.as_ref().is_some_and(|own| same_author(own, author))
        });
    }
    keep_if_any(meanings, Candidate::is_fungus);
    keep_if_any(meanings, |meaning| !meaning.is_misapplied());
    if name.author.is_none() && meanings.iter().filter(|meaning| meaning.is_accepted()).count() == 1
    {
        meanings.retain(Candidate::is_accepted);
    }
}

fn keep_if_any(meanings: &mut Vec<Candidate>, fits: impl Fn(&Candidate) -> bool) {
    if meanings.iter().any(&fits) {
        meanings.retain(fits);
    }
}

fn rows(
    connection: &Connection,
    condition: &str,
    value: impl rusqlite::ToSql,
) -> Attempt<Vec<Row>> {
    let mut statement = connection.prepare_cached(&format!("{COLUMNS} WHERE {condition}"))?;
    let mut rows = statement.query([value])?;
    let mut found = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "checklist", row: cells.next()? };
        let (name, author, rank) = (cells.next()?, cells.next()?, cells.next()?);
        let status: Option<String> = cells.next()?;
        let accepted = cells.next()?;
        let open = cell.some(cells.text()?, Cell::word::<OpenSynonym>)?;
        let mut ranks = [const { None }; 6];
        for rank in &mut ranks {
            *rank = cells.next()?;
        }
        let taxon = Taxon { name, author, rank, lineage: Lineage::of_ranks(ranks) };
        found.push(Row { taxon, status: status.unwrap_or_default(), accepted, open });
    }
    Ok(found)
}
