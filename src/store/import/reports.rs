//! Writes conflicts, notes and skipped inputs of an import. Layer: `store`.

use super::Update;
use crate::model::Conflict;
use crate::store::fault::Attempt;
use crate::store::row::Row;
use crate::store::words;

impl Update<'_> {
    /// Writes conflicts and notes, replacing those of an earlier import; conflicts of finds whose position is kept
    /// stay with it.
    pub(super) fn write_reports(&self, finds: &[i64]) -> Attempt<()> {
        self.delete_conflicts()?;
        self.work
            .prepare_cached("DELETE FROM reports WHERE outing_id = ?1")?
            .execute([self.outing])?;
        let is_kept =
            |find: &usize| finds.get(*find).is_some_and(|key| self.kept_places.contains(key));
        for conflict in &self.day.conflicts {
            if conflict.finds.is_empty() || !conflict.finds.iter().all(is_kept) {
                self.write_conflict(conflict, finds)?;
            }
        }
        for association in &self.day.associations {
            let mut row = Row::new();
            row.set("outing_id", self.outing)
                .set("kind", "association".to_owned())
                .set("sentence", words::word(association.kind)?)
                .set("report", words::json(association)?);
            row.insert(self.work, "reports")?;
        }
        let set_aside = self.day.set_aside.iter().map(|report| ("set-aside", report));
        let remarks = self.day.remarks.iter().map(|report| ("remark", report));
        for (kind, report) in set_aside.chain(remarks) {
            let mut row = Row::new();
            row.set("outing_id", self.outing)
                .set("kind", kind.to_owned())
                .set("sentence", words::sentence(report))
                .set("report", words::json(report)?);
            row.insert(self.work, "reports")?;
        }
        Ok(())
    }

    /// Deletes the conflicts of the outing but for those of finds whose position is kept.
    fn delete_conflicts(&self) -> Attempt<()> {
        let kept = words::json(&self.kept_places)?;
        self.work
            .prepare_cached(
                "DELETE FROM conflicts WHERE outing_id = ?1 AND NOT (
                   id IN (SELECT conflict_id FROM conflict_finds)
                   AND id NOT IN (SELECT conflict_id FROM conflict_finds
                     WHERE find_id NOT IN (SELECT value FROM json_each(?2))))",
            )?
            .execute((self.outing, kept))?;
        Ok(())
    }

    fn write_conflict(&self, conflict: &Conflict, finds: &[i64]) -> Attempt<()> {
        let mut row = Row::new();
        row.set("outing_id", self.outing)
            .set("kind", words::word(conflict.kind)?)
            .set("size", words::json(&conflict.size)?)
            .set("chance", conflict.chance)
            .set("sentence", words::sentence(&conflict.report))
            .set("report", words::json(&conflict.report)?);
        let key = row.insert(self.work, "conflicts")?;
        for find in conflict.finds.iter().filter_map(|find| finds.get(*find)) {
            let mut row = Row::new();
            row.set("conflict_id", key).set("find_id", *find);
            row.insert(self.work, "conflict_finds")?;
        }
        Ok(())
    }
}
