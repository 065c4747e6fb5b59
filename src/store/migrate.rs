//! Creates the tables of a store and migrates older versions. Refuses a store made by a newer trug.
//! Layer: `store`.
//!
//! The version is a row of `settings`. All steps from the version of the file to the newest one are one
//! transaction, so that a migration that fails leaves the store as it was.

use std::path::Path;

use rusqlite::{Connection, OptionalExtension, TransactionBehavior};

use super::fault::Attempt;
use super::layers::{self, Attributes, Layer};
use super::sensitivity;
use super::weather;
use crate::error::StoreFault;

/// What one version adds.
pub(super) struct Version {
    pub(super) tables: &'static str,
    pub(super) layers: &'static [Layer],
    pub(super) attributes: &'static [Attributes],
}

const VERSIONS: [Version; 10] = [
    VERSION_1,
    VERSION_2,
    VERSION_3,
    VERSION_4,
    VERSION_5,
    VERSION_6,
    VERSION_7,
    VERSION_8,
    VERSION_9,
    weather::VERSION,
];

const VERSION_7: Version =
    Version { tables: include_str!("schema/7.sql"), layers: &[], attributes: &[] };

const VERSION_8: Version = Version {
    tables: include_str!("schema/checklist.sql"),
    layers: &[],
    attributes: &[
        Attributes { table: "checklist", description: "The names of a checklist of taxa" },
        Attributes {
            table: "checklist_lineages",
            description: "The higher taxa of the names of the checklist",
        },
        Attributes {
            table: "checklist_genera",
            description: "The first words of the names of the checklist",
        },
    ],
};

const VERSION_9: Version = Version {
    tables: include_str!("schema/base_maps.sql"),
    layers: &[],
    attributes: &[
        Attributes {
            table: "map_sources",
            description: "Elevation tiles and base maps that maps stand on",
        },
        Attributes { table: "base_features", description: "Features of base maps; packed" },
    ],
};

const VERSION_6: Version = Version {
    tables: include_str!("schema/6.sql"),
    layers: &[],
    attributes: &[
        Attributes {
            table: "journal",
            description: "Changes: amendments, imports, removals, undos",
        },
        Attributes { table: "amendments", description: "What each change amends" },
        Attributes {
            table: "amended",
            description: "The amended properties of each find beside what was written",
        },
        Attributes {
            table: "archived_outings",
            description: "Outings as they were before a change; packed",
        },
    ],
};

const VERSION_5: Version = Version {
    tables: include_str!("schema/5.sql"),
    layers: &[Layer {
        table: "stops",
        shape: "POINT",
        description: "Places at which the collector stopped",
    }],
    attributes: &[],
};

const VERSION_4: Version = Version {
    tables: include_str!("schema/4.sql"),
    layers: &[],
    attributes: &[
        Attributes {
            table: "sensitivity_rules",
            description: "Taxa, sites and finds whose places are generalised or withheld",
        },
        Attributes {
            table: "sensitivity_bound",
            description: "The finds and circles that each sensitivity rule was meant for",
        },
        Attributes {
            table: "published",
            description: "What outputs for others state of each find, so that later ones disclose no more",
        },
    ],
};

const VERSION_3: Version = Version {
    tables: include_str!("schema/3.sql"),
    layers: &[],
    attributes: &[
        Attributes {
            table: "brief_ways",
            description: "Each track by its turning points, for questions over all years; packed",
        },
        Attributes {
            table: "brief_finds",
            description: "A summary of each outing's finds, for questions over all years; packed",
        },
    ],
};

const VERSION_2: Version = Version {
    tables: include_str!("schema/2.sql"),
    layers: &[],
    attributes: &[Attributes {
        table: "quiet_places",
        description: "Sensitive finds, generalised or withheld in outputs for others",
    }],
};

const VERSION_1: Version = Version {
    tables: include_str!("schema/1.sql"),
    layers: &[
        Layer {
            table: "finds",
            shape: "POINT",
            description: "Finds with position, 95 % radius and field record",
        },
        Layer {
            table: "tracks",
            shape: "MULTILINESTRING",
            description: "The estimated track of each outing, broken at gaps",
        },
        Layer {
            table: "outings",
            shape: "POINT",
            description: "Outings, at their starting points",
        },
        Layer {
            table: "photographs",
            shape: "POINT",
            description: "Photographs at the position of the camera; the files stay where they are",
        },
        Layer {
            table: "stands",
            shape: "POINT",
            description: "Places at which the collector stopped",
        },
        Layer {
            table: "trailheads",
            shape: "POINT",
            description: "Starting points and goals of routes",
        },
        Layer {
            table: "sites",
            shape: "POINT",
            description: "Places of finds that cannot be distinguished by their positions",
        },
    ],
    attributes: &[
        Attributes { table: "settings", description: "The version of the tables, and settings" },
        Attributes { table: "sources", description: "The files that each outing was made from" },
        Attributes {
            table: "fixes",
            description: "Every fix as recorded, with its status; packed by file",
        },
        Attributes { table: "track_points", description: "The points of each track; packed" },
        Attributes { table: "cameras", description: "The clock of each camera on each outing" },
        Attributes {
            table: "find_history",
            description: "What a corrected record or a new position replaced",
        },
        Attributes { table: "anchors", description: "The evidence for each position" },
        Attributes { table: "find_photographs", description: "Which photographs show which find" },
        Attributes { table: "conflicts", description: "Conflicts between sources" },
        Attributes { table: "conflict_finds", description: "The finds that a conflict concerns" },
        Attributes {
            table: "reports",
            description: "Notes on an import, and what it could not use",
        },
        Attributes { table: "site_finds", description: "Which finds belong to which site" },
        Attributes { table: "derived", description: "Cached results" },
    ],
};

/// The newest version of the tables.
pub(super) const NEWEST: usize = VERSIONS.len();

/// The mark of a GeoPackage in the header, `GPKG`.
const APPLICATION_ID: i32 = 0x4750_4B47;
/// GeoPackage 1.3.1.
const GEOPACKAGE_VERSION: i32 = 10_301;

/// Makes all tables in a new, empty file.
pub(super) fn create(connection: &mut Connection) -> Attempt<()> {
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    // Another process may have migrated it while this one waited for the lock.
    if recorded_version(&work)?.is_none() {
        work.pragma_update(None, "application_id", APPLICATION_ID)?;
        work.pragma_update(None, "user_version", GEOPACKAGE_VERSION)?;
        work.execute_batch(include_str!("schema/geopackage.sql"))?;
        apply_from(&work, 0)?;
    }
    work.commit()?;
    Ok(())
}

/// Migrates the tables to the newest version, all steps or none.
pub(super) fn up_to_date(connection: &mut Connection, path: &Path) -> Attempt<()> {
    let Some(version) = recorded_version(connection)? else {
        return Err(StoreFault::Foreign.at(path).into());
    };
    if version > NEWEST {
        return Err(StoreFault::TooNew { version, newest: NEWEST }.at(path).into());
    }
    if version == NEWEST {
        return Ok(());
    }
    let work = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let version = recorded_version(&work)?.unwrap_or(version);
    apply_from(&work, version)?;
    work.commit()?;
    Ok(())
}

fn apply_from(work: &Connection, version: usize) -> Attempt<()> {
    for step in VERSIONS.iter().skip(version) {
        work.execute_batch(step.tables)?;
        step.layers.iter().try_for_each(|layer| layers::add_layer(work, layer))?;
        step.attributes.iter().try_for_each(|table| layers::add_attributes(work, table))?;
    }
    sensitivity::bind(work)?;
    work.execute(
        "INSERT OR REPLACE INTO settings (name, value) VALUES ('schema_version', ?1)",
        [NEWEST.to_string()],
    )?;
    Ok(())
}

/// The version that a store says it has; `None` where the tables are not trug's.
fn recorded_version(connection: &Connection) -> Attempt<Option<usize>> {
    let ours: i64 = connection.query_row(
        "SELECT count(*) FROM sqlite_master WHERE type = 'table' AND name IN ('settings', 'finds', 'gpkg_contents')",
        [],
        |row| row.get(0),
    )?;
    if ours != 3 {
        return Ok(None);
    }
    let version: Option<String> = connection
        .query_row("SELECT value FROM settings WHERE name = 'schema_version'", [], |row| row.get(0))
        .optional()
        // A table of that name with other columns belongs to another program.
        .unwrap_or(None);
    Ok(version.and_then(|version| version.parse().ok()))
}
