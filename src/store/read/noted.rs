//! Reads of each selected find what lists and hosts need: name, host, substrate, habitat and place as
//! written, one copy of each text in memory. Layer: `store`.

use std::collections::{HashMap, HashSet};
use std::sync::Arc;

use jiff::Timestamp;
use jiff::civil::Date;
use rusqlite::params_from_iter;
use uuid::Uuid;

use super::FindQuery;
use super::finds::{condition, keys, outings, plain};
use crate::error::Result;
use crate::store::Store;
use crate::store::fault::Attempt;
use crate::store::row::Cells;
use crate::store::words::Cell;

/// What was written of a find about itself and its surroundings.
#[derive(Clone, Debug, PartialEq)]
pub struct NotedFind {
    /// Its row in the layer `finds`.
    pub key: i64,
    /// On which outing.
    pub outing: Uuid,
    /// The local date.
    pub date: Date,
    /// The midpoint of the time at which it was found.
    pub when: Option<Timestamp>,
    /// The collector's number.
    pub number: Option<Arc<str>>,
    /// The determined name.
    pub name: Option<Arc<str>>,
    /// The place name.
    pub place: Option<Arc<str>>,
    /// The host.
    pub host: Option<Arc<str>>,
    /// The substrate.
    pub substrate: Option<Arc<str>>,
    /// The surroundings.
    pub habitat: Option<Arc<str>>,
}

impl Store {
    /// The finds that match a query, in order of date, then time, then row. Empty texts are `None`.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn noted_finds(&self, query: &FindQuery) -> Result<Vec<NotedFind>> {
        self.read_noted(query).map_err(|fault| fault.tell(&self.path))
    }

    fn read_noted(&self, query: &FindQuery) -> Attempt<Vec<NotedFind>> {
        let outings = outings(&self.connection)?;
        // the full match reads every column of every row: only where the query needs it
        let chosen: Option<HashSet<i64>> = if query.is_by_name_and_date() {
            None
        } else {
            Some(keys(&self.connection, query)?.into_iter().collect())
        };
        let taxon = query.taxon.as_deref().map(plain);
        let (condition, values) = condition(query);
        let mut statement = self.connection.prepare(&format!(
            "SELECT f.id, f.outing_id, f.date, f.found_time, f.record_number, f.scientific_name,
                f.place_name, f.host, f.substrate, f.habitat
             FROM finds f WHERE {condition}"
        ))?;
        let mut rows = statement.query(params_from_iter(values))?;
        let (mut texts, mut dates) = (HashMap::new(), HashMap::new());
        let mut finds = Vec::new();
        while let Some(row) = rows.next()? {
            let mut cells = Cells::of(row);
            let cell = Cell { table: "finds", row: cells.next()? };
            if chosen.as_ref().is_some_and(|chosen| !chosen.contains(&cell.row)) {
                continue;
            }
            let outing: i64 = cells.next()?;
            let date = once_read(cell, cells.text()?.unwrap_or_default(), &mut dates)?;
            let when = cell.some(cells.text()?, Cell::instant)?;
            let number = cells.text()?.map(Arc::from);
            let [name, place, host, substrate, habitat] = {
                let mut next =
                    || Ok::<_, rusqlite::Error>(cells.text()?.and_then(|t| once(&mut texts, t)));
                [next()?, next()?, next()?, next()?, next()?]
            };
            if taxon.as_ref().is_some_and(|taxon| {
                !name.as_ref().is_some_and(|name| plain(name).starts_with(taxon.as_str()))
            }) {
                continue;
            }
            let outing = outings.get(&outing).map(|outing| outing.id).unwrap_or_default();
            let key = cell.row;
            finds.push(NotedFind {
                key,
                outing,
                date,
                when,
                number,
                name,
                place,
                host,
                substrate,
                habitat,
            });
        }
        finds.sort_unstable_by_key(|find| (find.date, find.when, find.key));
        Ok(finds)
    }
}

/// Dates repeat by the hundred.
fn once_read(cell: Cell, text: &str, known: &mut HashMap<String, Date>) -> Attempt<Date> {
    if let Some(date) = known.get(text) {
        return Ok(*date);
    }
    let date = cell.date(text)?;
    known.insert(text.to_owned(), date);
    Ok(date)
}

/// One copy of each text; `None` for a blank one.
fn once(texts: &mut HashMap<String, Arc<str>>, text: &str) -> Option<Arc<str>> {
    let text = text.trim();
    if text.is_empty() {
        return None;
    }
    if let Some(known) = texts.get(text) {
        return Some(known.clone());
    }
    let fresh: Arc<str> = Arc::from(text);
    texts.insert(text.to_owned(), fresh.clone());
    Some(fresh)
}
