//! Reads the identifications of finds: that of the record and those that were added. Layer: `store`.

use std::collections::{BTreeMap, HashMap};

use rusqlite::Connection;

use super::finds::of_each;
use crate::model::{AsImported, Determination, Field, Patch, TimePrecision, WrittenTime};
use crate::store::fault::Attempt;
use crate::store::geometry;
use crate::store::words::Cell;
use crate::units::{Metres, Radius95};

/// The identifications of each find, the oldest first, one of them accepted; none where only the record
/// names it.
pub(super) fn determinations(
    connection: &Connection,
    wanted: &str,
) -> Attempt<HashMap<i64, Vec<Determination>>> {
    let select = "SELECT f.id, a.id, a.patch FROM finds f
        JOIN amendments a ON a.find_uuid = f.uuid AND a.property = 'determination'
        JOIN journal j ON j.id = a.change_id AND j.active
        WHERE f.id IN ({wanted}) ORDER BY j.order_time, j.uuid, a.id";
    let patches = of_each(connection, wanted, select, |cells| {
        let cell = Cell { table: "amendments", row: cells.next()? };
        cell.json::<Patch>(&cells.next::<String>()?)
    })?;
    if patches.is_empty() {
        return Ok(HashMap::new());
    }
    let mut written = of_records(connection, wanted)?;
    let all = patches.into_iter().map(|(find, patches)| {
        let mut all = written.remove(&find).unwrap_or_default();
        all.extend(patches.into_iter().filter_map(|patch| match patch {
            Patch::Determination(named) => Some(named),
            _ => None,
        }));
        accept_last(&mut all);
        (find, all)
    });
    Ok(all.collect())
}

/// Of several that say they are accepted, the last one is.
fn accept_last(all: &mut [Determination]) {
    let last = all.iter().rposition(|named| named.accepted);
    for (place, named) in all.iter_mut().enumerate() {
        named.accepted = Some(place) == last;
    }
}

/// The identification in the record of an amended find.
fn of_records(connection: &Connection, wanted: &str) -> Attempt<HashMap<i64, Vec<Determination>>> {
    let select = "SELECT id, id, scientific_name, other_fields FROM base_finds
        WHERE id IN ({wanted}) AND scientific_name IS NOT NULL";
    of_each(connection, wanted, select, |cells| {
        let cell = Cell { table: "base_finds", row: cells.next()? };
        let name = cells.next()?;
        let fields: BTreeMap<Field, String> = cell.json(&cells.next::<String>()?)?;
        let of_term = |term: &str| {
            let mut own = fields.iter().filter(|(field, _)| field.darwin_core_term() == Some(term));
            own.next().map(|(_, text)| text.clone())
        };
        Ok(Determination {
            name,
            determiner: fields.get(&Field::IdentifiedBy).cloned(),
            on: of_term("dateIdentified").and_then(|on| on.trim().parse().ok()),
            type_status: of_term("typeStatus"),
            remarks: of_term("identificationRemarks"),
            accepted: true,
            ..Determination::default()
        })
    })
}

/// Names, positions and times of amended finds as imported.
pub(super) fn as_imported(
    connection: &Connection,
    wanted: &str,
) -> Attempt<HashMap<i64, AsImported>> {
    let select = "SELECT id, id, scientific_name, geom, radius95_m, written_date, written_time,
          written_time_precision FROM base_finds WHERE id IN ({wanted})";
    let of_each = of_each(connection, wanted, select, |cells| {
        let cell = Cell { table: "base_finds", row: cells.next()? };
        let name = cells.next()?;
        let at = cells.bytes()?.and_then(geometry::position);
        let radius = cells.next::<Option<f64>>()?.and_then(|radius| Radius95::new(Metres(radius)));
        let date = cell.some(cells.text()?, Cell::date)?;
        let clock = cell.some(cells.text()?, Cell::time)?;
        let precision = cell.some(cells.text()?, Cell::word::<TimePrecision>)?;
        let precision = precision.unwrap_or(TimePrecision::Minute);
        let time = clock.map(|clock| WrittenTime { clock, precision });
        Ok(AsImported { name, place: at.zip(radius), date, time })
    })?;
    Ok(of_each.into_iter().filter_map(|(find, mut one)| Some((find, one.pop()?))).collect())
}
