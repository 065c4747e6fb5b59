//! Finds the Darwin Core terms of a table of taxa among its headings. Layer: `ingest`.

use crate::model::Lineage;

/// The terms that are read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Term {
    Id,
    Name,
    Author,
    Rank,
    Status,
    AcceptedId,
    Accepted,
    ParentId,
    Epithet,
    LowerEpithet,
    /// A higher taxon, by its place among [`Lineage::TERMS`].
    Higher(usize),
}

/// The headings of each term, in small letters without marks.
const HEADINGS: [(Term, &[&str]); 10] = [
    (Term::Id, &["taxonid", "id"]),
    (Term::Name, &["scientificname"]),
    (Term::Author, &["scientificnameauthorship"]),
    (Term::Rank, &["taxonrank", "verbatimtaxonrank"]),
    (Term::Status, &["taxonomicstatus"]),
    (Term::AcceptedId, &["acceptednameusageid"]),
    (Term::Accepted, &["acceptednameusage"]),
    (Term::ParentId, &["parentnameusageid"]),
    (Term::Epithet, &["specificepithet"]),
    (Term::LowerEpithet, &["infraspecificepithet"]),
];

/// Where the value of a term is.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Source {
    /// In a column.
    Column(usize),
    /// The same for every row.
    Fixed(String),
}

/// The columns of a table of taxa.
#[derive(Clone, Debug, Default)]
pub(super) struct Columns(Vec<(Term, Source)>);

impl Columns {
    /// The terms of these headings: names, prefixed names or addresses of terms.
    pub(super) fn of_headings<'a>(headings: impl Iterator<Item = &'a str>) -> Self {
        let mut columns = Self::default();
        let mut found: Vec<(usize, Term, usize)> = Vec::new();
        for (place, heading) in headings.enumerate() {
            found.extend(term(heading).map(|(rank, term)| (rank, term, place)));
        }
        found.sort_by_key(|(rank, _, place)| (*rank, *place));
        for (_, term, place) in found {
            columns.add(term, Source::Column(place));
        }
        columns
    }

    /// Adds a term of a described column; the first statement of a term counts.
    pub(super) fn add_named(&mut self, address: &str, source: Source) {
        if let Some((_, term)) = term(address) {
            self.add(term, source);
        }
    }

    pub(super) fn add(&mut self, term: Term, source: Source) {
        if !self.has(term) {
            self.0.push((term, source));
        }
    }

    pub(super) fn has(&self, term: Term) -> bool {
        self.0.iter().any(|(own, _)| *own == term)
    }

    /// Whether names can be read.
    pub(super) fn have_names(&self) -> bool {
        self.has(Term::Name) || self.has(Term::Higher(GENUS)) && self.has(Term::Epithet)
    }

    /// The value of a term; empty where there is none.
    pub(super) fn value<'a>(&'a self, term: Term, cells: &'a [String]) -> &'a str {
        match self.0.iter().find(|(own, _)| *own == term) {
            Some((_, Source::Column(place))) => cells.get(*place).map_or("", String::as_str),
            Some((_, Source::Fixed(value))) => value,
            None => "",
        }
    }
}

/// The place of the genus among the higher taxa.
pub(super) const GENUS: usize = 5;

/// The term of a heading, and how well it fits: `taxonID` before `id`.
fn term(heading: &str) -> Option<(usize, Term)> {
    let last = heading.rsplit(['/', ':', '#']).next().unwrap_or(heading);
    let bare: String =
        last.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect();
    let known = HEADINGS.iter().find_map(|(term, words)| {
        words.iter().position(|word| *word == bare).map(|rank| (rank, *term))
    });
    let higher = || Lineage::TERMS.iter().position(|rank| *rank == bare);
    known.or_else(|| higher().map(|place| (0, Term::Higher(place))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn terms_are_known_by_name_prefix_and_address() {
        let headings =
            ["id", "dwc:scientificName", "http://rs.tdwg.org/dwc/terms/order", "taxonID", "Family"];
        let columns = Columns::of_headings(headings.into_iter());
        let cells = ["a", "Mycena", "Agaricales", "7", "Mycenaceae"].map(String::from);
        assert_eq!(columns.value(Term::Id, &cells), "7");
        assert_eq!(columns.value(Term::Higher(3), &cells), "Agaricales");
        assert_eq!(columns.value(Term::Higher(4), &cells), "Mycenaceae");
        assert!(columns.have_names() && !columns.has(Term::Rank));
    }
}
