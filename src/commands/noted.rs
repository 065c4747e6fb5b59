//! Joins the finds of a selection with outings and sites, for lists and hosts. Layer: `commands`.

use std::collections::{BTreeSet, HashMap};

use jiff::Timestamp;
use uuid::Uuid;

use super::selection::SelectionArguments;
use super::years::Years;
use crate::analyse::sites::{SiteRule, Sites};
use crate::error::{Error, Result};
use crate::model::same_person;
use crate::store::{FindQuery, NotedFind};

/// The finds of a selection with where they belong.
pub(super) struct Noted {
    pub(super) years: Years,
    pub(super) sites: Sites,
    pub(super) finds: Vec<NotedFind>,
    pub(super) query: FindQuery,
    /// The number of each outing.
    pub(super) number: HashMap<Uuid, usize>,
    /// The index of the located find in each row.
    pub(super) located: HashMap<i64, usize>,
}

impl Noted {
    /// Reads them; `taxon` says whether the taxon of the selection restricts them.
    ///
    /// # Errors
    /// When the store cannot be read, or nothing matches.
    pub(super) fn read(
        mut years: Years,
        selection: &SelectionArguments,
        taxon: bool,
    ) -> Result<Self> {
        let sites = years.sites(SiteRule::default(), Timestamp::now())?;
        let mut query = selection.query(&years.store)?;
        if !taxon {
            query.taxon = None;
        }
        let mut finds = years.store.noted_finds(&query)?;
        years.store.name_as_accepted(finds.iter_mut().map(|find| &mut find.name))?;
        if finds.is_empty() {
            let explained = selection.explained(&years.store, &query)?;
            return Err(explained.unwrap_or_else(|| {
                Error::input("there is no find in the store").hint("import a day first")
            }));
        }
        let number = years.outings.iter().enumerate().map(|(n, outing)| (outing.id, n)).collect();
        let located = years.rows.iter().enumerate().map(|(index, row)| (*row, index)).collect();
        Ok(Self { years, sites, finds, query, number, located })
    }

    /// The site of a find, by its place among the sites.
    pub(super) fn site(&self, find: &NotedFind) -> Option<usize> {
        let index = self.located.get(&find.key)?;
        self.sites.of_find.get(*index).copied().flatten()
    }

    /// The number of the outing that a find counts with.
    pub(super) fn outing(&self, find: &NotedFind) -> usize {
        let outing = self.years.counted.canonical(find.outing);
        self.number.get(&outing).copied().unwrap_or(usize::MAX)
    }

    /// The outings of the selected dates, collector and outings.
    pub(super) fn outings(&self) -> BTreeSet<usize> {
        let query = &self.query;
        let chosen = self.years.outings.iter().enumerate().filter(|(_, outing)| {
            query.from.is_none_or(|from| outing.date >= from)
                && query.to.is_none_or(|to| outing.date <= to)
                && query.outings.as_ref().is_none_or(|ids| ids.contains(&outing.id))
                && query.collector.as_deref().is_none_or(|asked| {
                    outing.collector.as_deref().is_some_and(|own| same_person(own, asked))
                })
        });
        let counted = |id: Uuid| self.number.get(&self.years.counted.canonical(id)).copied();
        chosen.filter_map(|(_, outing)| counted(outing.id)).collect()
    }

    /// Whether outings without a find of the selection belong to it.
    pub(super) fn by_outing(&self) -> bool {
        let query = &self.query;
        let texts = [&query.place, &query.host, &query.substrate, &query.notes];
        texts.iter().all(|text| text.is_none())
            && query.near.is_none()
            && query.rows.is_none()
            && query.numbers.is_empty()
    }
}
