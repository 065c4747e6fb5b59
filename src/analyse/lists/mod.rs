//! Makes species lists from finds: for all of them and for groups (places, sites, years, outings), with
//! first finds, what could not be determined, accumulation and estimated completeness. Layer: `analyse`.
//!
//! Outings are the sampling units, so that a hundred caps of one troop count once. Names are counted by the rule of
//! `analyse::taxon_name`: what could not be determined is stated beside the list, never added to it.
//! `docs/lists.md` has the checks.

pub mod accumulation;
mod completed;
pub mod incidence;
pub mod richness;
pub mod shared;
pub mod spelling;

use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use std::sync::Arc;

use jiff::civil::Date;

pub use accumulation::{Accumulated, accumulation};
pub use incidence::Incidences;
pub use richness::{LEAST_OUTINGS, Richness};
pub use shared::{Shared, shared};
pub use spelling::{Alike, alike};

use super::taxon_name::Named;

/// A find as lists need it, in order of time.
#[derive(Clone, Debug)]
pub struct Listed {
    /// The number of its outing.
    pub outing: usize,
    /// The local date.
    pub date: Date,
    /// The collector's number.
    pub number: Option<Arc<str>>,
    /// What its name counts as; one copy for each name.
    pub named: Arc<Named>,
    /// Its site.
    pub site: Option<usize>,
    /// The group it belongs to.
    pub group: Option<usize>,
}

/// A group of finds.
#[derive(Clone, Debug, Default)]
pub struct Group {
    /// Its name.
    pub label: String,
    /// All outings that belong to it, also those without a find.
    pub outings: BTreeSet<usize>,
}

/// The first find of a species.
#[derive(Clone, Debug, PartialEq)]
pub struct First {
    /// The local date.
    pub date: Date,
    /// The collector's number.
    pub number: Option<Arc<str>>,
}

/// A species of a list.
#[derive(Clone, Debug, PartialEq)]
pub struct SpeciesLine {
    /// Genus and epithet.
    pub name: String,
    /// Finds.
    pub finds: usize,
    /// Outings with a find.
    pub outings: usize,
    /// The first find.
    pub first: First,
    /// The date of the last.
    pub last: Date,
    /// Whether the first find of all is in this list: always, for the list of all finds.
    pub new_for_list: bool,
    /// Sites at which it was found here for the first time.
    pub new_for_sites: usize,
    /// Years in which it was found here for the first time in the year.
    pub new_for_years: usize,
}

/// Finds that no species is counted for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Apart {
    /// Finds with a genus only.
    pub genus_only: usize,
    /// Finds whose species is in doubt.
    pub doubtful: usize,
    /// Finds without a scientific name.
    pub undetermined: usize,
    /// Genera of these finds of which no species is on the list.
    pub genera: BTreeSet<String>,
}

impl Apart {
    /// All of these finds.
    #[must_use]
    pub fn finds(&self) -> usize {
        self.genus_only + self.doubtful + self.undetermined
    }
}

/// A list.
#[derive(Clone, Debug)]
pub struct List {
    /// Its name; empty for that of all finds.
    pub label: String,
    /// Its outings.
    pub outings: usize,
    /// Finds, those counted apart included.
    pub finds: usize,
    /// By name.
    pub species: Vec<SpeciesLine>,
    /// What is counted apart.
    pub apart: Apart,
    /// In how many outings each species was found.
    pub incidences: Incidences,
}

/// The list of all finds and those of the groups.
#[derive(Clone, Debug)]
pub struct Lists {
    /// Of all finds.
    pub all: List,
    /// Of each group, in the order given; groups without a find are left out.
    pub groups: Vec<List>,
}

/// The finds of one list.
#[derive(Default)]
struct Draft<'a> {
    finds: usize,
    species: BTreeMap<&'a str, SpeciesDraft>,
    genera: BTreeSet<&'a str>,
    apart: Apart,
}

struct SpeciesDraft {
    line: SpeciesLine,
    outings: BTreeSet<usize>,
}

/// Makes the lists. `outings` are all outings of the selection, `finds` are in order of time.
#[must_use]
pub fn lists(finds: &[Listed], outings: &BTreeSet<usize>, groups: &[Group]) -> Lists {
    let mut all = Draft::default();
    let mut drafts: Vec<Draft<'_>> = groups.iter().map(|_| Draft::default()).collect();
    let mut seen = Seen::default();
    for find in finds {
        let news = seen.of(find);
        all.add(find, news);
        if let Some(draft) = find.group.and_then(|group| drafts.get_mut(group)) {
            draft.add(find, news);
        }
    }
    let done = |(draft, group): (Draft<'_>, &Group)| {
        (draft.finds > 0).then(|| draft.finished(&group.label, &group.outings))
    };
    Lists {
        all: all.finished("", outings),
        groups: drafts.into_iter().zip(groups).filter_map(done).collect(),
    }
}

/// For what a find is the first.
#[derive(Clone, Copy, Debug, Default)]
struct News {
    list: bool,
    site: bool,
    year: bool,
}

#[derive(Default)]
struct Seen<'a> {
    list: HashSet<&'a str>,
    sites: HashSet<(usize, &'a str)>,
    years: HashSet<(i16, &'a str)>,
}

impl<'a> Seen<'a> {
    fn of(&mut self, find: &'a Listed) -> News {
        let Named::Species(name) = &*find.named else { return News::default() };
        News {
            list: self.list.insert(name),
            site: find.site.is_some_and(|site| self.sites.insert((site, name))),
            year: self.years.insert((find.date.year(), name)),
        }
    }
}

impl<'a> Draft<'a> {
    fn add(&mut self, find: &'a Listed, news: News) {
        self.finds += 1;
        match &*find.named {
            Named::Species(name) => self.add_species(name, find, news),
            Named::Doubtful(genus) => {
                self.apart.doubtful += 1;
                self.genera.insert(genus);
            }
            Named::Genus(genus) => {
                self.apart.genus_only += 1;
                self.genera.insert(genus);
            }
            Named::Undetermined => self.apart.undetermined += 1,
        }
    }

    fn add_species(&mut self, name: &'a str, find: &Listed, news: News) {
        let draft = self.species.entry(name).or_insert_with(|| SpeciesDraft {
            line: SpeciesLine {
                name: name.to_owned(),
                finds: 0,
                outings: 0,
                first: First { date: find.date, number: find.number.clone() },
                last: find.date,
                new_for_list: false,
                new_for_sites: 0,
                new_for_years: 0,
            },
            outings: BTreeSet::new(),
        });
        draft.line.finds += 1;
        draft.line.last = draft.line.last.max(find.date);
        draft.line.new_for_list |= news.list;
        draft.line.new_for_sites += usize::from(news.site);
        draft.line.new_for_years += usize::from(news.year);
        draft.outings.insert(find.outing);
    }

    fn finished(mut self, label: &str, outings: &BTreeSet<usize>) -> List {
        let own = self.species.values().flat_map(|draft| &draft.outings);
        let every: BTreeSet<usize> = outings.iter().chain(own).copied().collect();
        let place: HashMap<usize, usize> =
            every.iter().enumerate().map(|(place, outing)| (*outing, place)).collect();
        let mut units = vec![Vec::new(); every.len()];
        let mut species = Vec::with_capacity(self.species.len());
        let known: BTreeSet<&str> =
            self.species.keys().filter_map(|name| name.split(' ').next()).collect();
        self.apart.genera = self
            .genera
            .iter()
            .filter(|genus| !known.contains(**genus))
            .map(|genus| (*genus).to_owned())
            .collect();
        for (number, draft) in self.species.into_values().enumerate() {
            for outing in &draft.outings {
                units[place[outing]].push(number);
            }
            species.push(SpeciesLine { outings: draft.outings.len(), ..draft.line });
        }
        List {
            label: label.to_owned(),
            outings: every.len(),
            finds: self.finds,
            incidences: Incidences::of(&units, species.len()),
            species,
            apart: self.apart,
        }
    }
}

/// Two groups compared.
#[derive(Clone, Debug)]
pub struct Pair {
    /// The label of the first.
    pub first: String,
    /// The label of the second.
    pub second: String,
    /// What they share.
    pub shared: Shared,
}

/// The largest number of groups that are compared with each other.
pub const COMPARED: usize = 12;

/// Compares the groups with most species, each with each, the most similar first.
#[must_use]
pub fn pairs(groups: &[List]) -> Vec<Pair> {
    let mut chosen: Vec<&List> = groups.iter().filter(|list| !list.species.is_empty()).collect();
    chosen.sort_by_key(|list| std::cmp::Reverse(list.species.len()));
    chosen.truncate(COMPARED);
    let mut pairs = Vec::new();
    for (place, first) in chosen.iter().enumerate() {
        for second in &chosen[place + 1..] {
            pairs.push(pair(first, second));
        }
    }
    pairs.sort_by(|a, b| b.shared.sorensen.total_cmp(&a.shared.sorensen));
    pairs
}

fn pair(first: &List, second: &List) -> Pair {
    let of = |list: &List| -> BTreeMap<String, u32> {
        let count = |line: &SpeciesLine| u32::try_from(line.outings).unwrap_or(u32::MAX);
        list.species.iter().map(|line| (line.name.clone(), count(line))).collect()
    };
    let (a, b) = (of(first), of(second));
    let names: BTreeSet<&String> = a.keys().chain(b.keys()).collect();
    let count = |of: &BTreeMap<String, u32>| -> Vec<u32> {
        names.iter().map(|name| of.get(*name).copied().unwrap_or(0)).collect()
    };
    Pair {
        first: first.label.clone(),
        second: second.label.clone(),
        shared: shared(&count(&a), &count(&b), (first.outings, second.outings)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    fn find(outing: usize, day: Date, named: Named, site: usize) -> Listed {
        let number = Some(Arc::from(format!("A-{outing}")));
        let group = Some(site);
        Listed { outing, date: day, number, named: Arc::new(named), site: Some(site), group }
    }

    fn species(name: &str) -> Named {
        Named::Species(name.to_owned())
    }

    #[test]
    fn first_finds_and_what_is_counted_apart() {
        let (may, june, next) = (date(2025, 5, 1), date(2025, 6, 1), date(2026, 5, 1));
        let finds = [
            find(0, may, species("Mycena pura"), 0),
            find(0, may, Named::Genus("Russula".to_owned()), 0),
            find(1, june, species("Mycena pura"), 1),
            find(1, june, Named::Doubtful("Mycena".to_owned()), 1),
            find(3, next, species("Mycena pura"), 0),
            find(3, next, species("Russula emetica"), 1),
            find(3, next, Named::Undetermined, 1),
        ];
        let groups = [
            Group { label: "one".to_owned(), outings: [0, 2, 3].into() },
            Group { label: "two".to_owned(), outings: BTreeSet::new() },
            Group { label: "never".to_owned(), outings: [2].into() },
        ];
        let made = lists(&finds, &(0..4).collect(), &groups);
        assert_eq!((made.all.outings, made.all.finds, made.all.species.len()), (4, 7, 2));
        assert_eq!(made.all.species[0].outings, 3);
        assert_eq!(made.all.species[0].new_for_sites, 2);
        assert_eq!(made.all.species[0].new_for_years, 2);
        // a species of Russula is on the list of all, but not on that of the first group
        assert!(made.all.apart.genera.is_empty());
        assert_eq!(made.groups.len(), 2);
        let [one, two] = [&made.groups[0], &made.groups[1]];
        assert!(one.apart.genera.contains("Russula") && one.apart.genus_only == 1);
        assert_eq!((one.outings, one.species[0].new_for_list), (3, true));
        assert_eq!((two.outings, two.species[0].new_for_list), (2, false));
        assert_eq!((two.species[0].new_for_sites, two.species[0].new_for_years), (1, 0));
        assert!(two.species[1].new_for_list);
        assert_eq!((two.apart.doubtful, two.apart.undetermined), (1, 1));
        let pairs = pairs(&made.groups);
        assert_eq!(pairs.len(), 1);
        assert_eq!(pairs[0].shared.observed, 1);
    }
}
