//! Binds sensitivity rules to finds and radii, so that they stay in force when sites are split or
//! merged and when finds are renumbered, moved or named otherwise. Layer: `store`.

use rusqlite::Connection;

use super::checklist::Names;
use super::fault::Attempt;
use super::words;
use crate::model::taxon_match::{Match, Words, compared};

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

/// The names that finds have or had when they were imported.
const NAMES: &str = "SELECT scientific_name FROM finds WHERE scientific_name != ''
    UNION SELECT scientific_name FROM base_finds WHERE scientific_name != ''";

/// The finds of these pairs of a rule and a name, so named now or when they were imported.
const BIND_NAMES: &str = "WITH pairs AS MATERIALIZED
      (SELECT json_extract(value, '$[0]') AS rule, json_extract(value, '$[1]') AS name FROM json_each(?1)),
    named AS
      (SELECT id, scientific_name FROM finds UNION ALL SELECT id, scientific_name FROM base_finds)
    INSERT OR IGNORE INTO sensitivity_bound
      (rule_id, find_uuid, scientific_name, place, radius95_m)
    SELECT pairs.rule, f.uuid, pairs.name, coalesce(f.geom, x''), coalesce(f.radius95_m, 0)
    FROM named JOIN pairs ON pairs.name = named.scientific_name JOIN finds f ON f.id = named.id
    WHERE NOT EXISTS
      (SELECT 1 FROM sensitivity_bound b
       WHERE b.rule_id = pairs.rule AND b.find_uuid = f.uuid AND b.scientific_name = pairs.name)";

/// Binds every rule to its current subjects; called before and after each change of finds or sites,
/// within the same transaction.
pub(super) fn bind(work: &Connection) -> Attempt<()> {
    let rules: i64 = work
        .prepare_cached("SELECT EXISTS (SELECT 1 FROM sensitivity_rules)")?
        .query_row([], |row| row.get(0))?;
    if rules == 0 {
        return Ok(());
    }
    bind_taxa(work)?;
    for select in BIND {
        work.prepare_cached(&format!(
            "INSERT OR IGNORE INTO sensitivity_bound
             (rule_id, find_uuid, scientific_name, place, radius95_m) {select}"
        ))?
        .execute([])?;
    }
    Ok(())
}

/// Binds the rules for taxa to the finds whose names they match: a notebook in which the name is corrected
/// later does not end the protection that the find had.
fn bind_taxa(work: &Connection) -> Attempt<()> {
    let rules: Vec<(i64, Words)> = work
        .prepare_cached("SELECT id, name FROM sensitivity_rules WHERE subject = 'taxon'")?
        .query_map([], |row| Ok((row.get(0)?, Words::of_taxon(&row.get::<_, String>(1)?))))?
        .collect::<rusqlite::Result<_>>()?;
    if rules.is_empty() {
        return Ok(());
    }
    let names: Vec<String> = work
        .prepare_cached(NAMES)?
        .query_map([], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    let mut accepted = Names::new(work);
    let mut pairs: Vec<(i64, &str)> = Vec::new();
    for name in &names {
        let other = accepted.accepted(name)?;
        let words: Vec<Words> = [Some(name), other.as_ref()]
            .into_iter()
            .flatten()
            .map(|name| Words::of_name(name))
            .collect();
        // a slip in the spelling of another taxon is no reason to bind the find for good
        let names = |name: &Words, rule: &Words| {
            compared(name, rule).is_some_and(|found| found < Match::Similar)
        };
        let is_meant = |rule: &Words| words.iter().any(|name| names(name, rule));
        pairs.extend(rules.iter().filter(|(_, rule)| is_meant(rule)).map(|(id, _)| (*id, &**name)));
    }
    if !pairs.is_empty() {
        work.prepare_cached(BIND_NAMES)?.execute([words::json(&pairs)?])?;
    }
    Ok(())
}
