//! Applies the amendments that are in force on top of imported finds, in the order of the journal.
//! Layer: `store`.
//!
//! # Order
//! Written values, the identification, the collector, the outing, the time, the photographs, then the position from
//! the evidence that is left, then whether the find is withdrawn. Clocks of cameras come before all finds. Always
//! from the rows as imported, so that the result does not depend on what was in force before.

use rusqlite::{Connection, OptionalExtension};
use uuid::Uuid;

use super::base::{self, Lifted};
use super::evidence::Evidence;
use super::fold::{By, Folded};
use super::{camera, journal, text};
use crate::model::{
    Field, ImportNote, Record, RecordNumber, TextProperty, TimePrecision, WrittenTime, term,
};
use crate::store::fault::Attempt;
use crate::store::import::find_row;
use crate::store::read::find_row::FindRow;
use crate::store::row::Row;
use crate::store::words;
use crate::units::Seconds;

/// Applies the amendments of an outing and of the finds that were lifted with it; returns a sentence
/// for each conflict between an amendment and newer inputs.
pub(in crate::store) fn lay_outing(
    work: &Connection,
    outing: i64,
    lifted: &Lifted,
) -> Attempt<Vec<ImportNote>> {
    camera::lay(work, outing)?;
    let mut finds = base::keys(
        work,
        "SELECT f.id FROM finds f WHERE f.outing_id = ?1 AND (
           EXISTS (SELECT 1 FROM amendments a JOIN journal j ON j.id = a.change_id
                   WHERE a.find_uuid = f.uuid AND j.active)
           OR EXISTS (SELECT 1 FROM find_photographs c JOIN base_photographs b
                      ON b.id = c.photograph_id WHERE c.find_id = f.id))",
        outing,
    )?;
    finds.extend(moved_to(work, outing)?);
    finds.extend(&lifted.finds);
    finds.sort_unstable();
    finds.dedup();
    let mut conflicts = Vec::new();
    for find in finds {
        if exists(work, find)? {
            relay_find(work, find)?;
            conflicts.extend(conflicts_of(work, find, lifted)?);
        }
    }
    Ok(conflicts)
}

/// Finds that an amendment moves to this outing.
fn moved_to(work: &Connection, outing: i64) -> Attempt<Vec<i64>> {
    base::keys(
        work,
        "SELECT f.id FROM outings o
         JOIN amendments a ON a.property = 'outing' AND a.patch = '{\"outing\":\"' || o.uuid || '\"}'
         JOIN journal j ON j.id = a.change_id AND j.active
         JOIN finds f ON f.uuid = a.find_uuid WHERE o.id = ?1",
        outing,
    )
}

/// Whether the find is still there: the import may have removed it.
fn exists(work: &Connection, find: i64) -> Attempt<bool> {
    Ok(work
        .prepare_cached("SELECT EXISTS (SELECT 1 FROM finds WHERE id = ?1)")?
        .query_row([find], |row| row.get(0))?)
}

/// Amended properties for which the inputs now state something else than before.
fn conflicts_of(work: &Connection, find: i64, lifted: &Lifted) -> Attempt<Vec<ImportNote>> {
    let mut statement = work.prepare_cached(
        "SELECT a.property, a.written, a.value, a.change_id, f.record_number, f.scientific_name
         FROM amended a JOIN finds f ON f.id = a.find_id WHERE a.find_id = ?1 ORDER BY a.id",
    )?;
    let mut rows = statement.query([find])?;
    let mut conflicts = Vec::new();
    while let Some(row) = rows.next()? {
        let (property, written): (String, Option<String>) = (row.get(0)?, row.get(1)?);
        let (value, change): (Option<String>, i64) = (row.get(2)?, row.get(3)?);
        let Some(was) = lifted.was.get(&(find, property.clone())) else { continue };
        if *was == written {
            continue;
        }
        let number: Option<String> = row.get(4)?;
        let name: Option<String> = row.get(5)?;
        let find = number.or(name).unwrap_or_else(|| format!("find {find}"));
        conflicts.push(if written == value {
            ImportNote::InputsAgreeWithAmendment { find, property, amendment: change, value }
        } else {
            ImportNote::InputsDifferFromAmendment {
                find,
                property,
                amendment: change,
                value,
                stated: written,
                stated_before: was.clone(),
            }
        });
    }
    Ok(conflicts)
}

/// Puts a find back as it was imported and applies its amendments.
pub(super) fn relay_find(work: &Connection, find: i64) -> Attempt<()> {
    base::restore_find(work, find)?;
    let base = text::row_of(work, find)?;
    let patches = journal::patches_of_find(work, &base.uuid.to_string())?;
    let retimed = is_retimed(work, find)?;
    if patches.is_empty() && !retimed {
        return Ok(());
    }
    base::keep_find(work, find)?;
    let record = base.record.clone();
    let folded = Folded::of(patches);
    Laying { work, base, record, row: Row::new(), amended: Vec::new(), retimed, folded }.run()
}

/// Whether a camera's amended clock changed the time of a photograph of the find.
fn is_retimed(work: &Connection, find: i64) -> Attempt<bool> {
    Ok(work
        .prepare_cached(
            "SELECT EXISTS (SELECT 1 FROM find_photographs c
             JOIN base_photographs b ON b.id = c.photograph_id WHERE c.find_id = ?1)",
        )?
        .query_row([find], |row| row.get(0))?)
}

/// An outing that a find is moved to.
pub(super) struct Target {
    pub(super) key: i64,
    pub(super) date: jiff::civil::Date,
    pub(super) collector: Option<String>,
}

/// One find being amended.
pub(super) struct Laying<'a> {
    pub(super) work: &'a Connection,
    /// As imported.
    pub(super) base: FindRow,
    /// As amended so far.
    pub(super) record: Record,
    pub(super) row: Row,
    /// Property, what was written, what is in force, and the change.
    pub(super) amended: Vec<(String, Option<String>, Option<String>, i64)>,
    /// Whether the clock of a camera of its photographs was amended.
    pub(super) retimed: bool,
    pub(super) folded: Folded,
}

impl Laying<'_> {
    /// Applies everything in its order and writes the row once.
    fn run(mut self) -> Attempt<()> {
        self.lay_texts();
        self.lay_determination();
        self.lay_collector();
        let target = self.lay_outing()?;
        self.lay_time(target.as_ref())?;
        self.lay_photographs()?;
        Evidence::of(&mut self, target.as_ref())?.lay()?;
        self.lay_withdrawn()?;
        find_row::set_fields(&mut self.row, &self.record)?;
        self.row.update(self.work, "finds", self.base.key)?;
        self.write_amended()
    }

    fn note<T: Into<Option<String>>>(
        &mut self,
        property: &str,
        written: T,
        value: Option<String>,
        change: i64,
    ) {
        self.amended.push((property.to_owned(), written.into(), value, change));
    }

    /// Written values as the user states them; an empty one removes the value.
    fn lay_texts(&mut self) {
        for (property, (change, value)) in std::mem::take(&mut self.folded.texts) {
            let written = property.value(&self.base.record);
            self.set_text(&property, value.clone());
            self.note(property.heading(), written, value, change);
        }
    }

    /// Sets a column, or a field where the property has no column of its own.
    fn set_text(&mut self, property: &TextProperty, value: Option<String>) {
        let column = match property {
            TextProperty::Number => {
                self.record.number = value.clone().map(RecordNumber);
                "record_number"
            }
            TextProperty::Place => "place_name",
            TextProperty::Substrate => "substrate",
            TextProperty::Host => "host",
            TextProperty::Habitat => "habitat",
            TextProperty::Container => "container",
            TextProperty::Field(field) => {
                match value {
                    Some(value) => self.record.fields.insert(field.clone(), value),
                    None => self.record.fields.remove(field),
                };
                return;
            }
        };
        self.row.set(column, value);
    }

    /// The accepted identification is the find's name; who identified it goes with it.
    fn lay_determination(&mut self) {
        let Some((change, named)) = self.folded.accepted().cloned() else { return };
        let name = Some(named.full_name()).filter(|name| !name.trim().is_empty());
        self.row.set("scientific_name", name.clone());
        // what was recorded of the former identification is not true of this one
        self.record.fields.retain(|field, _| {
            field.darwin_core_term().is_none_or(|term| !term::OF_IDENTIFICATION.contains(&term))
        });
        match named.determiner {
            Some(determiner) => self.record.fields.insert(Field::IdentifiedBy, determiner),
            None => self.record.fields.remove(&Field::IdentifiedBy),
        };
        self.note("determination", self.base.record.name.clone(), name, change);
    }

    fn lay_collector(&mut self) {
        let Some((change, name)) = self.folded.collector.take() else { return };
        self.row.set("collector", name.clone()).set("written_collector", name.clone());
        self.note("collector", self.base.collector.clone(), Some(name), change);
    }

    /// An outing that the store no longer has moves nothing.
    fn lay_outing(&mut self) -> Attempt<Option<Target>> {
        let Some((change, uuid)) = self.folded.outing.take() else { return Ok(None) };
        let Some(target) = target(self.work, uuid)? else { return Ok(None) };
        if target.key == self.base.outing {
            return Ok(None);
        }
        self.row
            .set("outing_id", target.key)
            .set("date", target.date.to_string())
            .set("written_date", target.date.to_string());
        let named = self.amended.iter().any(|(property, ..)| property == "collector");
        if self.base.record.collector.is_none() && !named {
            self.row.set("collector", target.collector.clone());
        }
        let written = super::outing_text_by_key(self.work, self.base.outing)?;
        let value = super::outing_text_by_key(self.work, target.key)?;
        self.note("outing", written, value, change);
        Ok(Some(target))
    }

    /// The corrected local time. It sets the date, too, unless the find is moved to another outing, whose date then
    /// counts.
    fn lay_time(&mut self, target: Option<&Target>) -> Attempt<()> {
        let Some((change, (clock, within))) = self.folded.time else { return Ok(()) };
        let precision = precision_of(within);
        self.record.time = Some(WrittenTime { clock: clock.time(), precision });
        self.row
            .set("written_time", clock.time().to_string())
            .set("written_time_precision", words::word(precision)?);
        if target.is_none() {
            let date = clock.date().to_string();
            self.row.set("date", date.clone()).set("written_date", date);
        }
        let zone = text::zone_of(self.work, self.base.outing)?;
        let written = self.base.when.map(|(when, _)| text::local(when, &zone));
        let value = clock.strftime("%Y-%m-%d %H:%M:%S").to_string();
        self.note("time", written, Some(value), change);
        Ok(())
    }

    /// Adds and removes photographs of the outing, in the order of the changes.
    fn lay_photographs(&mut self) -> Attempt<()> {
        let Some((change, _)) = self.folded.photographs.last() else { return Ok(()) };
        let (change, find) = (*change, self.base.key);
        let written = text::photographs(self.work, find)?.join(", ");
        for (_, (name, shows)) in &self.folded.photographs {
            let statement = if *shows {
                "INSERT OR IGNORE INTO find_photographs (find_id, photograph_id)
                 SELECT ?1, id FROM photographs WHERE outing_id = ?2 AND name = ?3"
            } else {
                "DELETE FROM find_photographs WHERE find_id = ?1 AND photograph_id IN
                 (SELECT id FROM photographs WHERE outing_id = ?2 AND name = ?3)"
            };
            self.work.prepare_cached(statement)?.execute((find, self.base.outing, name))?;
        }
        let value = text::photographs(self.work, find)?.join(", ");
        self.note("photographs", Some(written), Some(value), change);
        Ok(())
    }

    /// Withdraws the find from the time of the change on, or restores it.
    fn lay_withdrawn(&mut self) -> Attempt<()> {
        let Some((change, withdrawn)) = self.folded.withdrawn else { return Ok(()) };
        let made: String = self
            .work
            .prepare_cached("SELECT made FROM journal WHERE id = ?1")?
            .query_row([change], |row| row.get(0))?;
        let word = |withdrawn| if withdrawn { "withdrawn" } else { "not withdrawn" }.to_owned();
        let written = word(self.base.withdrawn.is_some());
        self.row.set("withdrawn", withdrawn.then_some(made));
        self.note("withdrawn", Some(written), Some(word(withdrawn)), change);
        Ok(())
    }

    /// One row for each amended property beside what was written, for readers in a GIS.
    fn write_amended(&self) -> Attempt<()> {
        let mut insert = self.work.prepare_cached(
            "INSERT OR REPLACE INTO amended (find_id, property, written, value, change_id)
             VALUES (?1, ?2, ?3, ?4, ?5)",
        )?;
        for (property, written, value, change) in &self.amended {
            insert.execute((self.base.key, property, written, value, change))?;
        }
        Ok(())
    }

    pub(super) fn note_position(&mut self, value: String, change: By<()>) {
        let written = text::position(self.base.place.as_ref());
        self.note("position", Some(written), Some(value), change.0);
    }
}

/// The precision whose step is the least that is not below the half width.
fn precision_of(within: Seconds) -> TimePrecision {
    [
        TimePrecision::Second,
        TimePrecision::Minute,
        TimePrecision::FiveMinutes,
        TimePrecision::Quarter,
    ]
    .into_iter()
    .find(|precision| within.0 <= precision.step().0)
    .unwrap_or(TimePrecision::Hour)
}

fn target(work: &Connection, uuid: Uuid) -> Attempt<Option<Target>> {
    let found: Option<(i64, String, Option<String>)> = work
        .prepare_cached("SELECT id, date, collector FROM outings WHERE uuid = ?1")?
        .query_row([uuid.to_string()], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))
        .optional()?;
    found
        .map(|(key, date, collector)| {
            let date = words::Cell { table: "outings", row: key }.date(&date)?;
            Ok(Target { key, date, collector })
        })
        .transpose()
}
