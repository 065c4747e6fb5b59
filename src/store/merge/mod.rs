//! Merges another store into this one: outings that it lacks, amendments, sensitivity rules, what was
//! published, trailheads, weather, base maps. Idempotent; what both have differently is listed and stays as it
//! is here, sensitivity is the stricter of both. The other store is read through a copy. Layer: `store`.
//!
//! | what both have | result |
//! |---|---|
//! | the same outing | as it is here |
//! | the same property amended differently | the later amendment; listed as a conflict |
//! | rules for one subject | the stricter level |
//! | published cells | both count |
//! | a value of weather that differs | as it is here; listed |
//! | sites, checklist, elevation tiles | of this store only |
//!
//! Merging the same store again changes nothing; whichever of two stores is merged into the other, they agree on
//! which amendments are in force.

mod base_maps;
mod changes;
mod conflicts;
mod outings;
mod rules;
mod weather;

use std::path::Path;

use rusqlite::Connection;
use serde::Serialize;
use uuid::Uuid;

use super::amend::{self, journal};
use super::fault::Attempt;
use super::{Store, layers, words};
use crate::error::{Defect, Result, StoreFault};
use crate::model::{Authored, ChangeKind, MergeConflict};

/// The result of a merge.
///
/// `conflicts` needs a person: two people corrected one thing differently.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Merged {
    /// The number of the change that added outings; `None` where it added none.
    pub change: Option<i64>,
    /// Outings that were added.
    pub outings_added: usize,
    /// Outings that both stores have alike.
    pub outings_same: usize,
    /// Finds of the added outings.
    pub finds_added: usize,
    /// Amendments and undos that were added.
    pub changes_added: usize,
    /// Sensitivity rules that were added or made stricter.
    pub rules_changed: usize,
    /// Trailheads that were added.
    pub trailheads_added: usize,
    /// Weather stations that were added.
    pub stations_added: usize,
    /// Days of weather that were added or whose gaps were filled.
    pub weather_days_added: usize,
    /// Base maps that were added.
    pub base_maps_added: usize,
    /// Conflicts.
    pub conflicts: Vec<MergeConflict>,
}

/// A named site of the other store with its finds.
pub type NamedSite = (String, Vec<Uuid>);

impl Store {
    /// Merges the store at another path into this one; all or nothing. The other one is not changed.
    ///
    /// A damaged part of the other store is not taken over.
    ///
    /// # Errors
    /// When the other file is not a store or is this one, or when this one cannot be written.
    pub fn merge(&mut self, other: &Path, authored: &Authored) -> Result<Merged> {
        self.may_be_changed()?;
        if is_same_file(&self.path, other) {
            return Err(StoreFault::MergedWithItself { other: other.to_owned() }.at(&self.path));
        }
        let copy = Self::open_to_inspect(other)?;
        refuse_damaged(&copy, other)?;
        outings::lift_all(&copy.connection).map_err(|fault| fault.tell(other))?;
        let path = self.path.clone();
        amend::changing(&mut self.connection, authored.made, |work| {
            merge(work, &copy.connection, authored, other)
        })
        .map_err(|fault| fault.tell(&path))
    }

    /// The named sites of the store at another path with their finds.
    ///
    /// # Errors
    /// When the other file is not a store.
    pub fn named_sites_of(other: &Path) -> Result<Vec<NamedSite>> {
        let sites = Self::open_to_inspect(other)?.sites()?;
        Ok(sites.into_iter().filter_map(|site| Some((site.name?, site.finds))).collect())
    }
}

/// What is damaged must not be taken over.
fn refuse_damaged(store: &Store, path: &Path) -> Result<()> {
    const LISTED: usize = 3;
    let findings = store.inspect().findings;
    if findings.is_empty() {
        return Ok(());
    }
    let mut why =
        findings.iter().take(LISTED).map(Defect::to_string).collect::<Vec<_>>().join("; ");
    if findings.len() > LISTED {
        why = format!("{why}; {} more", findings.len() - LISTED);
    }
    Err(StoreFault::OtherDamaged { findings: why }.at(path))
}

fn is_same_file(a: &Path, b: &Path) -> bool {
    match (a.canonicalize(), b.canonicalize()) {
        (Ok(a), Ok(b)) => a == b,
        _ => false,
    }
}

fn merge(
    work: &Connection,
    other: &Connection,
    authored: &Authored,
    path: &Path,
) -> Attempt<Merged> {
    let mut merged = Merged::default();
    let mut authored = authored.clone();
    let from = format!("merged from {}", path.display());
    authored.reason = Some(match authored.reason {
        Some(reason) => format!("{from}: {reason}"),
        None => from,
    });
    let mut change = || journal::add(work, ChangeKind::Import, &authored, None);
    outings::add(work, other, &mut change, &mut merged)?;
    changes::add(work, other, &mut merged)?;
    rules::add(work, other, &mut merged)?;
    weather::add(work, other, &mut merged)?;
    base_maps::add(work, other, &mut merged)?;
    if merged.outings_added + merged.trailheads_added + merged.stations_added > 0 {
        layers::refresh(work, &words::instant(authored.made))?;
    }
    Ok(merged)
}
