//! Looks up a reference system and its area of use by code or exact name, in PROJ's table. PROJ's
//! own search is not used, since it matches approximately. Layer: `earth`.
//!
//! A name has to match in full (case, spaces and punctuation aside): "zone 55" belongs to several systems, and a
//! near miss puts a find hundreds of metres or of kilometres away. Where several systems fit, the error lists them.

use std::collections::HashMap;
use std::fmt;
use std::path::Path;

use rusqlite::{Connection, OpenFlags, params};

use crate::error::{Error, Result};
use crate::units::LatLon;

/// The tolerance around the stated area of use, degrees, since maps extend past their zone.
const BEYOND: f64 = 3.0;

/// A geographic or projected system.
#[derive(Clone, Debug)]
pub(super) struct System {
    authority: String,
    number: String,
    name: String,
    area: Option<Area>,
}

#[derive(Clone, Copy, Debug)]
struct Area {
    south: f64,
    north: f64,
    west: f64,
    east: f64,
}

impl System {
    /// `EPSG:28355`.
    pub(super) fn code(&self) -> String {
        format!("{}:{}", self.authority, self.number)
    }

    /// Whether the place lies in the area of use; if not, why.
    pub(super) fn covers(&self, place: LatLon) -> std::result::Result<(), String> {
        let Some(area) = self.area else { return Ok(()) };
        let width = (area.east - area.west).rem_euclid(360.0);
        let width = if width == 0.0 && area.east > area.west { 360.0 } else { width };
        let eastward = (place.longitude() - area.west + BEYOND).rem_euclid(360.0);
        let inside = (area.south - BEYOND..=area.north + BEYOND).contains(&place.latitude())
            && (width + 2.0 * BEYOND >= 360.0 || eastward <= width + 2.0 * BEYOND);
        if inside {
            return Ok(());
        }
        Err(format!(
            "it would be {place}, but the system is defined for latitudes {} to {} and longitudes \
             {} to {}",
            area.south, area.north, area.west, area.east
        ))
    }
}

impl fmt::Display for System {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.name, self.code())
    }
}

/// The open table.
pub(super) struct Register {
    table: Connection,
    found: HashMap<String, System>,
}

impl Register {
    /// Opens the table for reading.
    pub(super) fn open(path: &Path) -> Result<Self> {
        let table = Connection::open_with_flags(
            path,
            OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX,
        )
        .map_err(|reason| unreadable(&reason))?;
        Ok(Self { table, found: HashMap::new() })
    }

    /// The requested system.
    pub(super) fn find(&mut self, named: &str) -> Result<System> {
        if let Some(system) = self.found.get(named) {
            return Ok(system.clone());
        }
        let mut fitting = match code_of(named) {
            Some((authority, number)) => self.by_code(&authority, &number),
            None => self.by_name(named),
        }
        .map_err(|reason| unreadable(&reason))?;
        if fitting.len() > 1 {
            return Err(ambiguous(named, &fitting));
        }
        let Some(mut system) = fitting.pop() else { return Err(unknown(named)) };
        system.area = self.area(&system).map_err(|reason| unreadable(&reason))?;
        self.found.insert(named.to_owned(), system.clone());
        Ok(system)
    }

    fn by_code(&self, authority: &str, number: &str) -> rusqlite::Result<Vec<System>> {
        self.table
            .prepare_cached(
                "SELECT auth_name, code, name FROM crs_view \
                 WHERE auth_name = ?1 AND code = ?2 AND type IN ('geographic 2D', 'projected')",
            )?
            .query_map(params![authority, number], system_of)?
            .collect()
    }

    /// EPSG systems by name or alias; without a match, those whose names end with it.
    fn by_name(&self, named: &str) -> rusqlite::Result<Vec<System>> {
        let wanted = bare(named);
        if wanted.is_empty() {
            return Ok(Vec::new());
        }
        let mut statement = self.table.prepare_cached(
            "SELECT c.auth_name, c.code, c.name, a.alt_name FROM crs_view c \
             LEFT JOIN alias_name a ON a.table_name = c.table_name \
              AND a.auth_name = c.auth_name AND a.code = c.code \
             WHERE c.auth_name = 'EPSG' AND c.deprecated = 0 \
              AND c.type IN ('geographic 2D', 'projected') ORDER BY c.code",
        )?;
        let (mut named_so, mut known_as, mut ending_so) = (Vec::new(), Vec::new(), Vec::new());
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let system = system_of(row)?;
            let alias: Option<String> = row.get(3)?;
            let name = bare(&system.name);
            if name == wanted {
                named_so.push(system);
            } else if alias.is_some_and(|alias| bare(&alias) == wanted) {
                known_as.push(system);
            } else if wanted.len() > 4 && name.ends_with(&wanted) {
                ending_so.push(system);
            }
        }
        let mut best = [named_so, known_as, ending_so]
            .into_iter()
            .find(|systems| !systems.is_empty())
            .unwrap_or_default();
        best.dedup_by(|a, b| a.number == b.number);
        Ok(best)
    }

    /// The widest area among those that the register states.
    fn area(&self, system: &System) -> rusqlite::Result<Option<Area>> {
        let areas: Vec<Area> = self
            .table
            .prepare_cached(
                "SELECT e.south_lat, e.north_lat, e.west_lon, e.east_lon FROM usage u \
                 JOIN extent e ON e.auth_name = u.extent_auth_name AND e.code = u.extent_code \
                 WHERE u.object_auth_name = ?1 AND u.object_code = ?2 \
                  AND u.object_table_name IN ('geodetic_crs', 'projected_crs') \
                  AND e.south_lat IS NOT NULL",
            )?
            .query_map(params![system.authority, system.number], |row| {
                Ok(Area {
                    south: row.get(0)?,
                    north: row.get(1)?,
                    west: row.get(2)?,
                    east: row.get(3)?,
                })
            })?
            .collect::<rusqlite::Result<_>>()?;
        let width = |area: &Area| (area.east - area.west).rem_euclid(360.0);
        Ok(areas.into_iter().max_by(|a, b| width(a).total_cmp(&width(b))))
    }
}

fn system_of(row: &rusqlite::Row<'_>) -> rusqlite::Result<System> {
    let number = match row.get_ref(1)? {
        rusqlite::types::ValueRef::Integer(number) => number.to_string(),
        other => other.as_str().unwrap_or_default().to_owned(),
    };
    Ok(System { authority: row.get(0)?, number, name: row.get(2)?, area: None })
}

/// Lower-case letters and digits only, for comparing names.
pub(super) fn bare(name: &str) -> String {
    name.chars().filter(char::is_ascii_alphanumeric).map(|c| c.to_ascii_lowercase()).collect()
}

/// `EPSG:28355`, `epsg 28355`, `ESRI:102021` or a bare number, as authority and number.
fn code_of(named: &str) -> Option<(String, String)> {
    let trimmed = named.trim();
    let digits = trimmed.bytes().rev().take_while(u8::is_ascii_digit).count();
    let (front, number) = trimmed.split_at(trimmed.len() - digits);
    let authority = front.trim_end_matches([':', ' ']).to_ascii_uppercase();
    match authority.as_str() {
        _ if number.is_empty() => None,
        "" => Some(("EPSG".to_owned(), number.to_owned())),
        "EPSG" | "ESRI" | "IGNF" => Some((authority, number.to_owned())),
        _ => None,
    }
}

fn unknown(named: &str) -> Error {
    Error::input(format!("{named:?} is not a known coordinate reference system"))
        .because("the EPSG register has no geographic or projected system with that code or name")
        .hint("give its code as on the map's margin, such as EPSG:28355, or its full name")
}

fn ambiguous(named: &str, fitting: &[System]) -> Error {
    let names: Vec<String> = fitting.iter().take(6).map(ToString::to_string).collect();
    let more = fitting.len().saturating_sub(names.len());
    let rest = if more > 0 { format!(" and {more} more") } else { String::new() };
    Error::input(format!("{named:?} matches {} coordinate reference systems", fitting.len()))
        .because(format!("{}{rest}", names.join("; ")))
        .hint("give the EPSG code of the intended one")
}

fn unreadable(reason: &rusqlite::Error) -> Error {
    Error::machine("the table of reference systems cannot be read").because(reason.to_string())
}
