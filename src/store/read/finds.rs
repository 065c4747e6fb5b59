//! Selects finds by name, date and position. Layer: `store`.

use std::collections::{BTreeSet, HashMap};

use jiff::civil::Date;
use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};
use uuid::Uuid;

use super::find_row::{COLUMNS, FindRow};
use super::text_match::{contains, in_notes};
use super::{identified, near};
use crate::earth::geodesic;
use crate::error::Result;
use crate::model::{
    AmendedProperty, AnchorKind, KeptFind, KeptPhoto, NumberChoice, Record, ZoneSource, same_person,
};
use crate::store::Store;
use crate::store::checklist::Names;
use crate::store::fault::Attempt;
use crate::store::row::Cells;
use crate::store::words::Cell;
use crate::units::{LatLon, Metres};

/// A query for finds; empty fields do not restrict.
///
/// All that is stated has to hold. Texts are compared without regard to case; a `taxon` is matched from the
/// beginning of the name, so that a genus includes its species.
///
/// # Examples
/// ```
/// use jiff::civil::date;
/// use trug::store::FindQuery;
/// use trug::units::{LatLon, Metres};
///
/// let query = FindQuery {
///     taxon: Some("Mycena".into()),
///     from: Some(date(2025, 4, 1)),
///     near: Some((LatLon::new(-42.62, 146.09)?, Metres(500.0))),
///     ..FindQuery::default()
/// };
/// assert!(!query.is_by_name_and_date(), "an outing without a find has no place");
/// # Ok::<(), trug::units::OffTheGlobe>(())
/// ```
#[derive(Clone, Debug, Default)]
pub struct FindQuery {
    /// The beginning of the determined name, whatever its case: `mycena`, `Mycena int`; with a checklist
    /// also of its accepted name.
    pub taxon: Option<String>,
    /// Collected on this local date or later.
    pub from: Option<Date>,
    /// Collected on this local date or earlier.
    pub to: Option<Date>,
    /// Located within this distance of a place.
    pub near: Option<(LatLon, Metres)>,
    /// Of this outing.
    pub outing: Option<Uuid>,
    /// Of one of these outings.
    pub outings: Option<Vec<Uuid>>,
    /// In one of these rows.
    pub rows: Option<BTreeSet<i64>>,
    /// The collector's number, as a collector compares it: `th 17` finds `TH-0017`.
    pub number: Option<String>,
    /// One of these numbers; none asks for any.
    pub numbers: Vec<NumberChoice>,
    /// By this collector, whatever the case and the accents; a given name may be an initial.
    pub collector: Option<String>,
    /// With a place name that contains this.
    pub place: Option<String>,
    /// With a host that contains this.
    pub host: Option<String>,
    /// With a substrate that contains this.
    pub substrate: Option<String>,
    /// With notes, a habitat or any other remark that contains this.
    pub notes: Option<String>,
    /// This find and no other.
    pub id: Option<Uuid>,
    /// Whether to include withdrawn finds.
    pub withdrawn: bool,
}

impl FindQuery {
    /// Whether nothing but names and dates selects, so that an outing of these dates without a find
    /// belongs to the selection, too.
    #[must_use]
    pub fn is_by_name_and_date(&self) -> bool {
        let texts = [&self.number, &self.collector, &self.place, &self.host, &self.substrate];
        texts.iter().all(|text| text.is_none())
            && self.notes.is_none()
            && self.near.is_none()
            && self.outing.is_none()
            && self.outings.is_none()
            && self.rows.is_none()
            && self.numbers.is_empty()
            && self.id.is_none()
    }
}

impl Store {
    /// The finds that match a query, in order of date, then time, then number.
    ///
    /// All of them in memory; [`Store::each_find`] reads one by one. Positions are exact and nothing is withheld:
    /// before a result leaves the house it goes through [`present::sensitive`](crate::present::sensitive).
    ///
    /// # Accuracy
    /// `near` is the distance on the ellipsoid to the stated point of the find, not to its circle;
    /// it holds across the 180th meridian and at the poles.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn finds(&self, query: &FindQuery) -> Result<Vec<KeptFind>> {
        let mut finds = Vec::new();
        self.each_find(query, |find| {
            finds.push(find);
            Ok(())
        })?;
        Ok(finds)
    }

    /// Visits the finds that match a query one by one, in the order of [`Self::finds`]. Memory
    /// holds their keys and a thousand finds.
    ///
    /// # Errors
    /// When the store cannot be read, and what `look` returns.
    pub fn each_find(
        &self,
        query: &FindQuery,
        mut look: impl FnMut(KeptFind) -> Result<()>,
    ) -> Result<()> {
        let keys = keys(&self.connection, query).map_err(|fault| fault.tell(&self.path))?;
        let outings = outings(&self.connection).map_err(|fault| fault.tell(&self.path))?;
        let mut names = Names::new(&self.connection);
        for some in keys.chunks(TOGETHER) {
            let finds = of_keys(&self.connection, some, &outings, &mut names)
                .map_err(|fault| fault.tell(&self.path))?;
            finds.into_iter().try_for_each(&mut look)?;
        }
        Ok(())
    }
}

/// The number of finds read together.
const TOGETHER: usize = 1_000;

/// The keys of the rows that match, in the order in which finds are listed: first by SQL, then by
/// the conventions of numbers and names.
pub(super) fn keys(connection: &Connection, query: &FindQuery) -> Attempt<Vec<i64>> {
    let (condition, values) = condition(query);
    let mut statement = connection
        .prepare(&format!("SELECT {COLUMNS} FROM finds f WHERE {condition} ORDER BY f.id"))?;
    let mut rows = statement.query(params_from_iter(values))?;
    let mut found = Vec::new();
    let mut taxon = query.taxon.as_deref().map(|taxon| Asked::of(connection, taxon)).transpose()?;
    while let Some(row) = rows.next()? {
        let row = FindRow::read(row)?;
        let named = match &mut taxon {
            Some(taxon) => taxon.holds(row.record.name.as_deref())?,
            None => true,
        };
        if named && matches(query, &row) {
            found.push((order(&row), row.key));
        }
    }
    found.sort_unstable();
    Ok(found.into_iter().map(|(_, key)| key).collect())
}

/// By date, then time, then number, as its series counts.
fn order(row: &FindRow) -> impl Ord + use<> {
    let number = row.record.number.as_ref();
    let ordinal = number.and_then(crate::model::RecordNumber::ordinal);
    let series = number.map(|number| number.series().to_owned());
    (row.date, row.when.map(|(when, _)| when), series, ordinal, row.record.line, row.uuid)
}

/// The finds with these keys, in their order.
pub(in crate::store) fn of_keys(
    connection: &Connection,
    wanted: &[i64],
    outings: &HashMap<i64, OutingOfFind>,
    names: &mut Names<'_>,
) -> Attempt<Vec<KeptFind>> {
    let list: Vec<String> = wanted.iter().map(ToString::to_string).collect();
    let list = list.join(",");
    let mut anchors = anchors(connection, &list)?;
    let mut photos = photos(connection, &list)?;
    let mut conflicts = conflicts(connection, &list)?;
    let mut amended = amended(connection, &list)?;
    let mut imported = identified::as_imported(connection, &list)?;
    let mut determinations = identified::determinations(connection, &list)?;
    let mut statement =
        connection.prepare(&format!("SELECT {COLUMNS} FROM finds f WHERE f.id IN ({list})"))?;
    let mut rows = statement.query([])?;
    let mut found: HashMap<i64, KeptFind> = HashMap::new();
    while let Some(row) = rows.next()? {
        let row = FindRow::read(row)?;
        let checked = match row.record.name.as_deref() {
            Some(name) => names.check(name)?,
            None => None,
        };
        let of = outings.get(&row.outing).cloned().unwrap_or_default();
        let find = KeptFind {
            id: row.uuid,
            outing: of.id,
            date: row.date,
            when: row.when,
            zone: of.zone,
            zone_assumed: of.zone_assumed,
            collector: row.collector,
            record: row.record,
            place: row.place,
            why_unlocated: row.why_unlocated,
            anchors: anchors.remove(&row.key).unwrap_or_default(),
            photos: photos.remove(&row.key).unwrap_or_default(),
            conflicts: conflicts.remove(&row.key).unwrap_or_default(),
            revision: row.revision,
            withdrawn: row.withdrawn,
            as_imported: imported.remove(&row.key),
            amended: amended.remove(&row.key).unwrap_or_default(),
            determinations: determinations.remove(&row.key).unwrap_or_default(),
            checked,
            ground: None,
            generalised: None,
        };
        found.insert(row.key, find);
    }
    Ok(wanted.iter().filter_map(|key| found.remove(key)).collect())
}

pub(super) fn condition(query: &FindQuery) -> (String, Vec<Value>) {
    let mut parts = vec!["1".to_owned()];
    let mut values: Vec<Value> = Vec::new();
    let mut parts_of_list = Vec::new();
    let mut add = |part: &str, value: Value| {
        parts.push(part.to_owned());
        values.push(value);
    };
    if let Some(from) = query.from {
        add("f.date >= ?", from.to_string().into());
    }
    if let Some(to) = query.to {
        add("f.date <= ?", to.to_string().into());
    }
    if let Some(outing) = query.outing {
        add("f.outing_id = (SELECT id FROM outings WHERE uuid = ?)", outing.to_string().into());
    }
    if let Some(outings) = &query.outings {
        let list: Vec<String> = outings.iter().map(|outing| format!("'{outing}'")).collect();
        parts_of_list.push(format!(
            "f.outing_id IN (SELECT id FROM outings WHERE uuid IN ({}))",
            list.join(",")
        ));
    }
    if let Some(id) = query.id {
        add("f.uuid = ?", id.to_string().into());
    }
    parts.append(&mut parts_of_list);
    if !query.withdrawn {
        parts.push("f.withdrawn IS NULL".to_owned());
    }
    if let Some((at, within)) = query.near {
        parts.push(near::condition(at, within));
    }
    (parts.join(" AND "), values)
}

fn matches(query: &FindQuery, row: &FindRow) -> bool {
    let record = &row.record;
    let number = query
        .number
        .as_ref()
        .is_none_or(|wanted| record.number.as_ref().is_some_and(|number| number.means(wanted)));
    let collector = query.collector.as_ref().is_none_or(|wanted| {
        row.collector.as_ref().is_some_and(|collector| same_person(collector, wanted))
    });
    let near = query.near.is_none_or(|(at, within)| {
        row.place.as_ref().is_some_and(|place| geodesic::distance(at, place.at) <= within)
    });
    let numbers = query.numbers.is_empty()
        || record
            .number
            .as_ref()
            .is_some_and(|number| query.numbers.iter().any(|choice| choice.holds(number)));
    let rows = query.rows.as_ref().is_none_or(|rows| rows.contains(&row.key));
    number && numbers && rows && collector && near && words(query, record)
}

/// Whether the words of a record are those asked for.
fn words(query: &FindQuery, record: &Record) -> bool {
    contains(record.place.as_deref(), query.place.as_ref())
        && contains(record.host.as_deref(), query.host.as_ref())
        && contains(record.substrate.as_deref(), query.substrate.as_ref())
        && in_notes(record, query.notes.as_ref())
}

/// A name for comparison: one case, single spaces.
pub(super) fn plain(name: &str) -> String {
    let words: Vec<String> = name.split_whitespace().map(str::to_lowercase).collect();
    words.join(" ")
}

/// A taxon that is asked for: what is written, and with a checklist also the accepted name.
struct Asked<'c> {
    names: Names<'c>,
    taxon: String,
    /// The accepted name of the taxon, where it is a synonym.
    accepted: Option<String>,
}

impl<'c> Asked<'c> {
    fn of(connection: &'c Connection, taxon: &str) -> Attempt<Self> {
        let mut names = Names::new(connection);
        let accepted = names.accepted(taxon)?.map(|name| plain(&name));
        Ok(Self { names, taxon: plain(taxon), accepted })
    }

    fn holds(&mut self, name: Option<&str>) -> Attempt<bool> {
        let Some(name) = name else { return Ok(false) };
        let begins = |name: &str, asked: &str| plain(name).starts_with(asked);
        if begins(name, &self.taxon) || self.accepted.as_ref().is_some_and(|own| begins(name, own))
        {
            return Ok(true);
        }
        let other = self.names.accepted(name)?;
        Ok(other.is_some_and(|other| {
            begins(&other, &self.taxon)
                || self.accepted.as_ref().is_some_and(|own| begins(&other, own))
        }))
    }
}

/// What finds take from their outing.
#[derive(Clone, Debug, Default)]
pub(in crate::store) struct OutingOfFind {
    pub(in crate::store) id: Uuid,
    zone: String,
    zone_assumed: bool,
}

pub(in crate::store) fn outings(connection: &Connection) -> Attempt<HashMap<i64, OutingOfFind>> {
    let mut statement =
        connection.prepare_cached("SELECT id, uuid, zone, zone_source FROM outings")?;
    let mut rows = statement.query([])?;
    let mut outings = HashMap::new();
    while let Some(row) = rows.next()? {
        let key = row.get(0)?;
        let cell = Cell { table: "outings", row: key };
        let id = cell.uuid(&row.get::<_, String>(1)?)?;
        let zone_assumed =
            cell.word::<ZoneSource>(&row.get::<_, String>(3)?)? == ZoneSource::Assumed;
        outings.insert(key, OutingOfFind { id, zone: row.get(2)?, zone_assumed });
    }
    Ok(outings)
}

/// Reads a property of each find in one query, since one query per find would be slow.
pub(super) fn of_each<T>(
    connection: &Connection,
    wanted: &str,
    select: &str,
    read: impl Fn(&mut Cells<'_>) -> Attempt<T>,
) -> Attempt<HashMap<i64, Vec<T>>> {
    let mut of_each: HashMap<i64, Vec<T>> = HashMap::new();
    let mut statement = connection.prepare(&select.replace("{wanted}", wanted))?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let mut cells = Cells::of(row);
        let find = cells.next()?;
        of_each.entry(find).or_default().push(read(&mut cells)?);
    }
    Ok(of_each)
}

fn anchors(
    connection: &Connection,
    wanted: &str,
) -> Attempt<HashMap<i64, Vec<(AnchorKind, String)>>> {
    let select = "SELECT find_id, id, kind, basis FROM anchors WHERE used AND find_id IN ({wanted}) ORDER BY id";
    of_each(connection, wanted, select, |cells| {
        let cell = Cell { table: "anchors", row: cells.next()? };
        Ok((cell.word(&cells.next::<String>()?)?, cells.next()?))
    })
}

fn photos(connection: &Connection, wanted: &str) -> Attempt<HashMap<i64, Vec<KeptPhoto>>> {
    let select = "SELECT c.find_id, p.id, p.path, p.hash, p.taken_time FROM find_photographs c
        JOIN photographs p ON p.id = c.photograph_id WHERE c.find_id IN ({wanted}) ORDER BY c.id";
    of_each(connection, wanted, select, |cells| {
        let cell = Cell { table: "photographs", row: cells.next()? };
        let (path, hash) = (cells.next()?, cells.next()?);
        let when = cell.some(cells.text()?, Cell::instant)?;
        Ok(KeptPhoto { path, hash, when })
    })
}

fn conflicts(connection: &Connection, wanted: &str) -> Attempt<HashMap<i64, Vec<String>>> {
    let select = "SELECT f.find_id, c.sentence FROM conflict_finds f
        JOIN conflicts c ON c.id = f.conflict_id WHERE f.find_id IN ({wanted}) ORDER BY c.id";
    of_each(connection, wanted, select, |cells| Ok(cells.next()?))
}

fn amended(connection: &Connection, wanted: &str) -> Attempt<HashMap<i64, Vec<AmendedProperty>>> {
    let select = "SELECT find_id, property, written, value, change_id FROM amended
        WHERE find_id IN ({wanted}) ORDER BY id";
    of_each(connection, wanted, select, |cells| {
        Ok(AmendedProperty {
            property: cells.next()?,
            written: cells.next()?,
            value: cells.next()?,
            change: cells.next()?,
        })
    })
}
