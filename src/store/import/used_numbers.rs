//! Whether the numbers of new finds are used on another day that the store holds. Layer: `store`.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use super::{Update, find_row};
use crate::model::ImportNote;
use crate::store::amend::number::ordinal;
use crate::store::fault::Attempt;

impl Update<'_> {
    /// Notes the numbers of these finds that an earlier import gave to a find of another day by the same
    /// collector.
    pub(super) fn note_used_numbers(&mut self, new: &[usize]) -> Attempt<()> {
        let mut own: HashMap<(String, String), (String, String)> = HashMap::new();
        for find in new.iter().filter_map(|place| self.day.finds.get(*place)) {
            let Some(number) = &find.record.number else { continue };
            let who = find.record.collector.as_ref().or(self.day.outing.collector.as_ref());
            let key = (lower(&number.0), lower(who.map_or("", String::as_str)));
            own.insert(key, (number.0.clone(), find_row::date(self.day, find).to_string()));
        }
        if own.is_empty() {
            return Ok(());
        }
        let mut used: BTreeMap<String, BTreeSet<String>> = BTreeMap::new();
        // through the index by number: a scan of all finds for each outing costs the square of them
        let mut statement = self.work.prepare_cached(&format!(
            "SELECT record_number, collector, date FROM finds \
             WHERE {} = ?3 AND withdrawn IS NULL AND outing_id <> ?1 AND imported <> ?2",
            ordinal("record_number")
        ))?;
        for number in self.ordinals(own.values().map(|(number, _)| number))? {
            let mut rows = statement.query(rusqlite::params![self.outing, self.now, number])?;
            while let Some(row) = rows.next()? {
                let (number, who): (String, Option<String>) = (row.get(0)?, row.get(1)?);
                let date: String = row.get(2)?;
                let key = (lower(&number), lower(&who.unwrap_or_default()));
                if let Some((number, _)) = own.get(&key).filter(|(_, day)| *day != date) {
                    used.entry(date).or_default().insert(number.clone());
                }
            }
        }
        let notes = used.into_iter().map(|(date, numbers)| ImportNote::NumbersUsed {
            date,
            numbers: numbers.into_iter().collect(),
        });
        self.reported.notes.extend(notes);
        Ok(())
    }

    /// What the index by number has of these numbers.
    fn ordinals<'n>(&self, numbers: impl Iterator<Item = &'n String>) -> Attempt<BTreeSet<i64>> {
        let mut statement = self.work.prepare_cached(&format!("SELECT {}", ordinal("?1")))?;
        let of = |number: &String| statement.query_row([number], |row| row.get(0));
        Ok(numbers.map(of).collect::<rusqlite::Result<_>>()?)
    }
}

fn lower(text: &str) -> String {
    text.trim().to_lowercase()
}
