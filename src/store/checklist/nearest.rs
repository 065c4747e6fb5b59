//! Finds the names of a checklist that are spelt most like a name which it does not have: first genera,
//! then the names within them. Layer: `store`.

use rusqlite::Connection;

use crate::model::TaxonName;
use crate::store::fault::Attempt;

/// The genera that are looked through.
const MOST_GENERA: usize = 12;
/// The names that are suggested.
const MOST_NAMES: usize = 3;

/// The genera of a checklist, read when first needed.
pub(super) struct Genera(Vec<Vec<char>>);

impl Genera {
    pub(super) fn read(connection: &Connection) -> Attempt<Self> {
        let mut statement = connection.prepare_cached("SELECT name FROM checklist_genera")?;
        let names = statement.query_map([], |row| row.get::<_, String>(0))?;
        let names = names.map(|name| name.map(|name| name.chars().collect()));
        Ok(Self(names.collect::<rusqlite::Result<_>>()?))
    }

    /// The genera nearest to this one, with their distances.
    fn near(&self, genus: &[char]) -> Vec<(usize, String)> {
        let limit = allowed(genus.len());
        let mut near: Vec<(usize, String)> = self
            .0
            .iter()
            .filter_map(|own| Some((distance(genus, own, limit)?, own.iter().collect())))
            .collect();
        near.sort();
        near.truncate(MOST_GENERA);
        near
    }
}

/// The nearest names, the nearest first.
pub(super) fn names(
    connection: &Connection,
    genera: &Genera,
    name: &TaxonName,
) -> Attempt<Vec<String>> {
    let key = name.key();
    let (genus, rest) = key.split_once(' ').unwrap_or((&key, ""));
    let genus: Vec<char> = genus.chars().collect();
    let rest: Vec<char> = rest.chars().collect();
    let mut found: Vec<(usize, String)> = Vec::new();
    let mut statement = connection
        .prepare_cached("SELECT key, name FROM checklist WHERE key >= ?1 AND key < ?2")?;
    for (apart, near) in genera.near(&genus) {
        if rest.is_empty() {
            statement
                .query_map((&near, format!("{near}\u{1}")), |row| row.get::<_, String>(1))?
                .try_for_each(|name| name.map(|name| found.push((apart, name))))?;
            continue;
        }
        let limit = allowed(rest.len());
        let mut rows = statement.query((format!("{near} "), format!("{near}!")))?;
        while let Some(row) = rows.next()? {
            let own: String = row.get(0)?;
            let own: Vec<char> = own.chars().skip(near.chars().count() + 1).collect();
            if let Some(more) = distance(&rest, &own, limit) {
                found.push((apart + more, row.get(1)?));
            }
        }
    }
    found.sort();
    found.dedup_by(|one, other| one.1 == other.1);
    Ok(found.into_iter().take(MOST_NAMES).map(|(_, name)| name).collect())
}

/// The letters that may differ: a quarter, from one to three (chosen).
fn allowed(letters: usize) -> usize {
    (letters / 4).clamp(1, 3)
}

/// The number of letters to insert, remove or replace (Levenshtein 1966); `None` beyond the limit.
fn distance(one: &[char], other: &[char], limit: usize) -> Option<usize> {
    if one.len().abs_diff(other.len()) > limit {
        return None;
    }
    let mut row: Vec<usize> = (0..=other.len()).collect();
    for (place, letter) in one.iter().enumerate() {
        let mut corner = row[0];
        row[0] = place + 1;
        let mut least = row[0];
        for (column, own) in other.iter().enumerate() {
            let replaced = corner + usize::from(letter != own);
            corner = row[column + 1];
            row[column + 1] = replaced.min(corner + 1).min(row[column] + 1);
            least = least.min(row[column + 1]);
        }
        if least > limit {
            return None;
        }
    }
    Some(row[other.len()]).filter(|apart| *apart <= limit)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_end_at_the_limit() {
        let letters = |text: &str| text.chars().collect::<Vec<_>>();
        let apart = |one, other, limit| distance(&letters(one), &letters(other), limit);
        assert_eq!(apart("kitten", "sitting", 3), Some(3));
        assert_eq!(apart("kitten", "sitting", 2), None);
        assert_eq!(apart("", "ab", 2), Some(2));
        assert_eq!(apart("mycena", "mycenna", 1), Some(1));
    }
}
