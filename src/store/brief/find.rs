//! Packs the fields of finds that analyses over all years need (identifier, position, time, taxon),
//! by outing. Positions are exact, since sites depend on them. Refuses a blob of another format.
//! Layer: `store`.

use std::collections::HashMap;
use std::sync::Arc;

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::Connection;
use uuid::Uuid;

use super::keep::METHOD;
use crate::error::{RowDamage, Unpacked};
use crate::model::RecordNumber;
use crate::store::columns::{ColumnReader, ColumnWriter, content};
use crate::store::fault::{Attempt, Fault};
use crate::store::geometry;
use crate::store::row::Cells;
use crate::store::words::Cell;
use crate::units::{LatLon, Metres, Radius95};

const FORM: u128 = 1;

/// A summary of a find.
#[derive(Clone, Debug, PartialEq)]
pub struct BriefFind {
    /// Its row in the layer `finds`.
    pub key: i64,
    /// Its permanent identifier.
    pub id: Uuid,
    /// On which outing.
    pub outing: Uuid,
    /// The local date.
    pub date: Date,
    /// The midpoint of the time at which it was found.
    pub when: Option<Timestamp>,
    /// Position and 95 % radius; `None` without a position.
    pub place: Option<(LatLon, Radius95)>,
    /// The receiver's height there, metres.
    pub height: Option<f64>,
    /// The collector's number.
    pub number: Option<Arc<str>>,
    /// The determined name.
    pub name: Option<Arc<str>>,
}

/// All of them, and a mark of their state: row numbers are never reused.
pub(super) fn all(connection: &Connection) -> Attempt<(Vec<BriefFind>, String)> {
    let mut statement = connection.prepare_cached(
        "SELECT b.id, o.uuid, b.packed FROM outings o
         JOIN brief_finds b ON b.outing_id = o.id AND b.method = ?1
         ORDER BY o.date, o.start_time, o.uuid",
    )?;
    let mut rows = statement.query([METHOD])?;
    let mut names = HashMap::new();
    let mut finds = Vec::new();
    let (mut newest, mut count) = (0, 0);
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "brief_finds", row: cells.next()? };
        let outing = cell.uuid(&cells.next::<String>()?)?;
        let blob = cells.bytes()?.unwrap_or_default();
        unpack(blob, outing, &mut names, &mut finds).ok_or_else(|| {
            Fault::damaged(cell.table, cell.row, RowDamage::Packed { content: Unpacked::Finds })
        })?;
        newest = newest.max(cell.row);
        count += 1;
    }
    // each outing's are in order; where two outings share a day or an hour, they interleave
    finds.sort_by_key(|find| (find.date, find.when));
    Ok((finds, format!("{count} to {newest}")))
}

/// An outing's finds that are not withdrawn, in the order of [`crate::store::Store::finds`].
pub(super) fn of_outing(connection: &Connection, outing: i64) -> Attempt<Vec<BriefFind>> {
    let mut statement = connection.prepare_cached(
        "SELECT id, uuid, date, found_time, record_number, scientific_name, geom, radius95_m,
            gps_height_m, source_line
         FROM finds WHERE outing_id = ?1 AND withdrawn IS NULL",
    )?;
    let mut rows = statement.query([outing])?;
    let mut finds: Vec<(BriefFind, u64)> = Vec::new();
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let cell = Cell { table: "finds", row: cells.next()? };
        let find = BriefFind {
            key: cell.row,
            id: cell.uuid(&cells.next::<String>()?)?,
            outing: Uuid::nil(),
            date: cell.date(&cells.next::<String>()?)?,
            when: cell.some(cells.text()?, Cell::instant)?,
            number: cells.text()?.map(Arc::from),
            name: cells.text()?.map(Arc::from),
            place: place(cell, &mut cells)?,
            height: cells.next()?,
        };
        finds.push((find, cells.next()?));
    }
    finds.sort_by_cached_key(|(find, line)| {
        let number = find.number.as_ref().map(|number| RecordNumber(number.to_string()));
        let ordinal = number.as_ref().and_then(RecordNumber::ordinal);
        let series = number.as_ref().map(|number| number.series().to_owned());
        (find.date, find.when, series, ordinal, *line, find.id)
    });
    Ok(finds.into_iter().map(|(find, _)| find).collect())
}

fn place(cell: Cell, cells: &mut Cells<'_>) -> Attempt<Option<(LatLon, Radius95)>> {
    let at = match cells.bytes()? {
        None => None,
        Some(blob) => Some(
            geometry::position(blob)
                .ok_or_else(|| Fault::damaged(cell.table, cell.row, RowDamage::Geometry))?,
        ),
    };
    let radius = cells.next::<Option<f64>>()?.and_then(|radius| Radius95::new(Metres(radius)));
    Ok(at.zip(radius))
}

const TIMED: i64 = 1;
const PLACED: i64 = 2;
const HIGH: i64 = 4;
const NUMBERED: i64 = 8;
const NAMED: i64 = 16;

fn has(find: &BriefFind) -> i64 {
    let bit = |here: bool, bit: i64| if here { bit } else { 0 };
    bit(find.when.is_some(), TIMED)
        + bit(find.place.is_some(), PLACED)
        + bit(find.height.is_some(), HIGH)
        + bit(find.number.is_some(), NUMBERED)
        + bit(find.name.is_some(), NAMED)
}

pub(super) fn pack(finds: &[BriefFind]) -> Vec<u8> {
    let mut writer = ColumnWriter::default();
    writer.unsigned(FORM);
    writer.unsigned(finds.len() as u128);
    writer.steps(finds.iter().map(|find| find.key));
    writer.steps(finds.iter().map(has));
    for find in finds {
        writer.raw(find.id.as_bytes());
    }
    writer.steps(finds.iter().map(|find| i64::from(days(find.date))));
    writer.steps(finds.iter().filter_map(|find| find.when).map(Timestamp::as_millisecond));
    let places = || finds.iter().filter_map(|find| find.place);
    writer.numbers(places().map(|(at, _)| at.latitude()));
    writer.numbers(places().map(|(at, _)| at.longitude()));
    writer.numbers(places().map(|(_, radius)| radius.metres().0));
    writer.numbers(finds.iter().filter_map(|find| find.height));
    finds.iter().filter_map(|find| find.number.as_deref()).for_each(|number| writer.text(number));
    let mut names: Vec<&str> = finds.iter().filter_map(|find| find.name.as_deref()).collect();
    names.sort_unstable();
    names.dedup();
    writer.unsigned(names.len() as u128);
    for name in &names {
        writer.text(name);
    }
    let place_of = |name: &str| {
        names.binary_search(&name).map_or(0, |place| i64::try_from(place).unwrap_or(0))
    };
    writer.steps(finds.iter().filter_map(|find| find.name.as_deref()).map(place_of));
    writer.finish()
}

fn unpack(
    blob: &[u8],
    outing: Uuid,
    names: &mut HashMap<String, Arc<str>>,
    into: &mut Vec<BriefFind>,
) -> Option<()> {
    let mut reader = ColumnReader::new(content(blob)?);
    if reader.unsigned()? != FORM {
        return None;
    }
    let count = usize::try_from(reader.unsigned()?).ok()?;
    let keys = reader.steps(count)?;
    let has = reader.steps(count)?;
    let with = |bit: i64| has.iter().filter(|has| *has & bit != 0).count();
    let ids = reader.raw(count.checked_mul(16)?)?.as_chunks::<16>().0;
    let dates = reader.steps(count)?;
    let mut times = reader.steps(with(TIMED))?.into_iter();
    let placed = with(PLACED);
    let mut latitudes = reader.numbers(placed)?.into_iter();
    let mut longitudes = reader.numbers(placed)?.into_iter();
    let mut radii = reader.numbers(placed)?.into_iter();
    let mut heights = reader.numbers(with(HIGH))?.into_iter();
    let mut numbers = (0..with(NUMBERED))
        .map(|_| reader.text().map(Arc::from))
        .collect::<Option<Vec<Arc<str>>>>()?
        .into_iter();
    let known = usize::try_from(reader.unsigned()?).ok()?;
    let known: Vec<Arc<str>> =
        (0..known).map(|_| reader.text().map(|name| once(names, name))).collect::<Option<_>>()?;
    let mut named = reader.steps(with(NAMED))?.into_iter();
    into.reserve(count);
    for row in 0..count {
        let has = |bit: i64| has[row] & bit != 0;
        let when =
            if has(TIMED) { Some(Timestamp::from_millisecond(times.next()?).ok()?) } else { None };
        let place = if has(PLACED) {
            let at = LatLon::new(latitudes.next()?, longitudes.next()?).ok()?;
            Some((at, Radius95::new(Metres(radii.next()?))?))
        } else {
            None
        };
        let name = if has(NAMED) {
            Some(known.get(usize::try_from(named.next()?).ok()?)?.clone())
        } else {
            None
        };
        into.push(BriefFind {
            key: keys[row],
            id: Uuid::from_bytes(ids[row]),
            outing,
            date: date(dates[row])?,
            when,
            place,
            height: if has(HIGH) { Some(heights.next()?) } else { None },
            number: if has(NUMBERED) { Some(numbers.next()?) } else { None },
            name,
        });
    }
    Some(())
}

/// One copy of each name in memory.
fn once(names: &mut HashMap<String, Arc<str>>, name: &str) -> Arc<str> {
    if let Some(known) = names.get(name) {
        return known.clone();
    }
    let fresh: Arc<str> = Arc::from(name);
    names.insert(name.to_owned(), fresh.clone());
    fresh
}

/// Year, month and day in one number.
fn days(date: Date) -> i32 {
    (i32::from(date.year()) * 100 + i32::from(date.month())) * 100 + i32::from(date.day())
}

fn date(number: i64) -> Option<Date> {
    let (year, rest) = (number.div_euclid(10_000), number.rem_euclid(10_000));
    let (month, day) = (i8::try_from(rest / 100).ok()?, i8::try_from(rest % 100).ok()?);
    Date::new(i16::try_from(year).ok()?, month, day).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn finds() -> Vec<BriefFind> {
        (0..40_u8)
            .map(|n| BriefFind {
                key: 1_000 + i64::from(n) * 3,
                id: Uuid::from_u128(u128::from(n) << 70 | 5),
                outing: Uuid::nil(),
                date: Date::new(2026, 5, 1 + i8::try_from(n % 28).unwrap()).unwrap(),
                when: (n % 3 > 0).then(|| Timestamp::from_millisecond(i64::from(n) * 777).unwrap()),
                place: (n % 4 > 0).then(|| {
                    let at = LatLon::clamped(-42.123_456_789_012_34 + f64::from(n) / 7.0, 180.0);
                    (at, Radius95::new(Metres(8.1 + f64::from(n) / 3.0)).unwrap())
                }),
                height: (n % 5 > 0).then(|| f64::from(n) / 9.0),
                number: (n % 6 > 0).then(|| format!("TH-{n}").into()),
                name: (n % 7 > 0).then(|| ["Mycena x", "Laccaria y"][usize::from(n % 2)].into()),
            })
            .collect()
    }

    #[test]
    fn finds_come_back_bit_for_bit() {
        let (mut back, mut names) = (Vec::new(), HashMap::new());
        unpack(&pack(&finds()), Uuid::nil(), &mut names, &mut back).unwrap();
        assert_eq!(back, finds());
        assert_eq!(names.len(), 2);
    }

    proptest! {
        #[test]
        fn damaged_blob_does_not_panic(place in 0_usize..4000, byte in any::<u8>()) {
            let mut blob = pack(&finds());
            let place = place % blob.len();
            blob[place] = byte;
            let _ = unpack(&blob, Uuid::nil(), &mut HashMap::new(), &mut Vec::new());
            blob.truncate(place);
            let cut = unpack(&blob, Uuid::nil(), &mut HashMap::new(), &mut Vec::new());
            prop_assert!(cut.is_none());
        }
    }
}
