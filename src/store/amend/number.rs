//! Looks finds up by the collector's number or by the beginning of their identifier, through an index.
//! Layer: `store`.

use jiff::civil::Date;
use rusqlite::Connection;

use crate::error::Result;
use crate::model::{KeptFind, RecordNumber};
use crate::store::Store;
use crate::store::checklist::Names;
use crate::store::fault::Attempt;
use crate::store::read::finds::{of_keys, outings};

/// Which find a user means.
#[derive(Clone, Debug, Default)]
pub struct NumberQuery {
    /// The collector's number, however it is written, or at least the first eight characters of the
    /// find's identifier.
    pub number: String,
    /// Collected on this local date.
    pub day: Option<Date>,
    /// By this collector, whatever the case.
    pub collector: Option<String>,
}

/// The expression of the index `finds_by_number`, of a column or a parameter.
pub(in crate::store) fn ordinal(text: &str) -> String {
    format!(
        "CAST(substr(rtrim({text}), length(rtrim(rtrim({text}), '0123456789')) + 1) AS INTEGER)"
    )
}

impl Store {
    /// The finds that a user can mean, withdrawn ones included, in order of date.
    ///
    /// More than one where a number was used on two days or by two people: then the user has to say which.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub fn finds_of_number(&self, query: &NumberQuery) -> Result<Vec<KeptFind>> {
        let found = candidates(&self.connection, query).and_then(|keys| {
            let outings = outings(&self.connection)?;
            of_keys(&self.connection, &keys, &outings, &mut Names::new(&self.connection))
        });
        found.map_err(|fault| fault.tell(&self.path))
    }
}

fn candidates(connection: &Connection, query: &NumberQuery) -> Attempt<Vec<i64>> {
    let mut keys = by_number(connection, query)?;
    if keys.is_empty() && is_identifier(&query.number) {
        keys = connection
            .prepare_cached(
                "SELECT id FROM finds WHERE uuid >= ?1 AND uuid < ?1 || 'g' ORDER BY date, id",
            )?
            .query_map([query.number.to_lowercase()], |row| row.get(0))?
            .collect::<rusqlite::Result<_>>()?;
    }
    Ok(keys)
}

fn is_identifier(text: &str) -> bool {
    text.len() >= 8 && text.chars().all(|c| c.is_ascii_hexdigit() || c == '-')
}

fn by_number(connection: &Connection, query: &NumberQuery) -> Attempt<Vec<i64>> {
    // one without digits at its end has the ordinal 0 and may mean the same
    let select = format!(
        "SELECT f.id, f.record_number, f.date, f.collector FROM finds f
         WHERE {} IN ({}, 0) AND f.record_number IS NOT NULL ORDER BY f.date, f.id",
        ordinal("f.record_number").replace("f.record_number", "record_number"),
        ordinal("?1")
    );
    let mut statement = connection.prepare_cached(&select)?;
    let mut rows = statement.query([&query.number])?;
    let mut keys = Vec::new();
    while let Some(row) = rows.next()? {
        let (number, date): (String, String) = (row.get(1)?, row.get(2)?);
        let collector: Option<String> = row.get(3)?;
        let same_day = query.day.is_none_or(|day| day.to_string() == date);
        let plain = |name: &str| name.trim().to_lowercase();
        let same_collector = query
            .collector
            .as_ref()
            .is_none_or(|name| collector.is_some_and(|own| plain(&own) == plain(name)));
        if same_day && same_collector && RecordNumber(number).means(&query.number) {
            keys.push(row.get(0)?);
        }
    }
    Ok(keys)
}
