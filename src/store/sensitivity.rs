//! Binds sensitivity rules to finds and radii, so that they stay in force when sites are split or
//! merged and when finds are renumbered or moved. Layer: `store`.

use rusqlite::Connection;

use super::fault::Attempt;

/// The current members and circles of sites, single finds, and earlier bindings.
const BIND: [&str; 4] = [
    "SELECT r.id, f.uuid, coalesce(f.scientific_name, ''), coalesce(f.geom, x''),
            coalesce(f.radius95_m, 0)
     FROM sensitivity_rules r
     JOIN site_finds m ON r.subject = 'site' AND m.site_id = CAST(r.name AS INTEGER)
     JOIN finds f ON f.id = m.find_id",
    "SELECT r.id, '', '', s.geom, s.radius95_m
     FROM sensitivity_rules r
     JOIN sites s ON r.subject = 'site' AND s.id = CAST(r.name AS INTEGER)
     WHERE s.geom IS NOT NULL",
    "SELECT r.id, f.uuid, coalesce(f.scientific_name, ''), coalesce(f.geom, x''),
            coalesce(f.radius95_m, 0)
     FROM sensitivity_rules r
     JOIN finds f ON r.subject = 'find' AND f.uuid = r.name",
    "SELECT b.rule_id, f.uuid, coalesce(f.scientific_name, ''), coalesce(f.geom, x''),
            coalesce(f.radius95_m, 0)
     FROM sensitivity_bound b
     JOIN finds f ON f.uuid = b.find_uuid",
];

/// Binds every rule to its current subjects; called before and after each change of finds or sites,
/// within the same transaction.
pub(super) fn bind(work: &Connection) -> Attempt<()> {
    let rules: i64 = work
        .prepare_cached("SELECT EXISTS (SELECT 1 FROM sensitivity_rules WHERE subject != 'taxon')")?
        .query_row([], |row| row.get(0))?;
    if rules == 0 {
        return Ok(());
    }
    for select in BIND {
        work.prepare_cached(&format!(
            "INSERT OR IGNORE INTO sensitivity_bound
             (rule_id, find_uuid, scientific_name, place, radius95_m) {select}"
        ))?
        .execute([])?;
    }
    Ok(())
}
