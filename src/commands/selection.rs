//! The selection of finds that every listing and output command takes, and the explanation of one that
//! matches nothing. Layer: `commands`.

use std::collections::BTreeSet;

use clap::Args;
use jiff::Timestamp;
use jiff::civil::Date;

use super::names;
use super::years::Years;
use crate::analyse::sites::SiteRule;
use crate::analyse::spotted::nearest_words;
use crate::earth::geodesic;
use crate::error::{Error, Result};
use crate::model::{KeptFind, NumberChoice, RecordNumber};
use crate::present::summary::words::counted;
use crate::store::{FindQuery, Store};
use crate::units::Metres;

/// Which finds. Several options select the finds that match all of them.
#[derive(Clone, Debug, Default, Args)]
#[command(next_help_heading = "Selection")]
pub(super) struct SelectionArguments {
    /// Only this taxon: a name or the beginning of one.
    #[arg(long, value_name = "T")]
    pub(super) taxon: Option<String>,

    /// Only from this day on, such as 2026-04-01 or 1.4.2026.
    #[arg(long, value_name = "DATE", value_parser = super::day_argument::read)]
    pub(super) from: Option<Date>,

    /// Only up to and including this day.
    #[arg(long, value_name = "DATE", value_parser = super::day_argument::read)]
    pub(super) to: Option<Date>,

    /// Only finds of this collector; a given name may be an initial.
    #[arg(long, value_name = "NAME")]
    pub(super) collector: Option<String>,

    /// Only this number, or a range such as TH-0017..TH-0030. Can be given several times.
    #[arg(long, value_name = "NUMBER")]
    pub(super) number: Vec<String>,

    /// Only finds of this site: its number or name.
    #[arg(long, value_name = "SITE")]
    pub(super) site: Option<String>,

    /// Only finds of this outing: its date or identifier.
    #[arg(long, value_name = "OUTING")]
    pub(super) outing: Option<String>,

    /// Only finds whose place name contains this.
    #[arg(long, value_name = "TEXT")]
    pub(super) place: Option<String>,

    /// Only finds whose host contains this.
    #[arg(long, value_name = "TEXT")]
    pub(super) host: Option<String>,

    /// Only finds whose substrate contains this.
    #[arg(long, value_name = "TEXT")]
    pub(super) substrate: Option<String>,

    /// Only near this position, such as "-42.6 146.1".
    #[arg(long, value_name = "LAT LON", requires = "within", allow_hyphen_values = true)]
    pub(super) near: Option<String>,

    /// The search radius.
    #[arg(long, value_name = "METRES", requires = "near", value_parser = crate::commands::numbers::finite)]
    pub(super) within: Option<f64>,

    /// Only finds whose notes, habitat or other remarks contain this.
    #[arg(long, value_name = "TEXT")]
    pub(super) notes: Option<String>,
}

impl SelectionArguments {
    /// The selection as a query of the store.
    ///
    /// # Errors
    /// When an option cannot be read, or names a site or an outing that is not in the store.
    pub(super) fn query(&self, store: &Store) -> Result<FindQuery> {
        if let (Some(from), Some(to)) = (self.from, self.to)
            && from > to
        {
            return Err(Error::input(format!("no day between {from} and {to}"))
                .because("--from is later than --to")
                .hint("exchange the two dates"));
        }
        let near = match (&self.near, self.within) {
            (Some(near), Some(within)) => Some((super::place::read(near)?.at, radius(within)?)),
            _ => None,
        };
        Ok(FindQuery {
            taxon: self.taxon.clone(),
            from: self.from,
            to: self.to,
            near,
            collector: self.collector.clone(),
            numbers: self.number.iter().map(|number| NumberChoice::read(number)).collect(),
            rows: self.site.as_deref().map(|site| rows_of_site(store, site)).transpose()?,
            outings: self.outing.as_deref().map(|asked| outings(store, asked)).transpose()?,
            place: self.place.clone(),
            host: self.host.clone(),
            substrate: self.substrate.clone(),
            notes: self.notes.clone(),
            ..FindQuery::default()
        })
    }

    /// The options in words, such as `Mycena, from 2025-04-01`; empty where nothing is restricted.
    pub(super) fn words(&self) -> String {
        let mut words: Vec<String> = Vec::new();
        let mut add = |before: &str, value: Option<String>| {
            words.extend(value.map(|value| format!("{before}{value}")));
        };
        add("", self.taxon.clone());
        add("from ", self.from.map(|date| date.to_string()));
        add("until ", self.to.map(|date| date.to_string()));
        add("collector ", self.collector.clone());
        add("numbers ", (!self.number.is_empty()).then(|| self.number.join(" and ")));
        add("site ", self.site.clone());
        add("outing ", self.outing.clone());
        add("place ", self.place.clone());
        add("host ", self.host.clone());
        add("substrate ", self.substrate.clone());
        let near = self.near.clone().zip(self.within);
        add("within ", near.map(|(near, within)| format!("{within} m of {near}")));
        add("notes ", self.notes.clone());
        words.join(", ")
    }

    /// Explains a selection without a find: the option that no find of the store matches, with the nearest
    /// values, or that no find matches all options. `None` where no option is given.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub(super) fn explained(&self, store: &Store, query: &FindQuery) -> Result<Option<Error>> {
        if let Some(unknown) = names::unknown_in(store, self.taxon.as_deref())? {
            return Ok(Some(unknown));
        }
        if let Err(unknown) = names::known_collector(store, self.collector.as_deref()) {
            return Ok(Some(unknown));
        }
        let all = store.finds(&FindQuery::default())?;
        if !query.numbers.is_empty() && !all.iter().any(|find| numbered(query, find)) {
            return Ok(names::known_numbers(store, &self.number, &[]).err());
        }
        let mut counts = Vec::new();
        for (option, single) in self.singles(query) {
            let found = store.finds(&single)?.len();
            if found == 0 {
                return Ok(Some(self.unmatched(&option, &single, &all)));
            }
            counts.push(format!("{option} alone matches {}", counted(found, "find", "finds")));
        }
        Ok((counts.len() > 1).then(|| {
            Error::input("no find matches all of these options")
                .because(counts.join(", "))
                .hint("omit one of them")
        }))
    }

    /// One error for each of several numbers that no find has; the others are selected.
    ///
    /// # Errors
    /// When the store cannot be read.
    pub(super) fn numbers_without_a_find(&self, store: &Store) -> Result<Vec<Error>> {
        if self.number.len() < 2 {
            return Ok(Vec::new());
        }
        let finds = store.finds(&FindQuery::default())?;
        let all: Vec<&RecordNumber> =
            finds.iter().filter_map(|find| find.record.number.as_ref()).collect();
        let each = self.number.iter();
        let unknown = each.filter_map(|number| {
            names::known_numbers(store, std::slice::from_ref(number), &all).err()
        });
        Ok(unknown.collect())
    }

    /// Each option that is given, as a query of its own.
    fn singles(&self, query: &FindQuery) -> Vec<(String, FindQuery)> {
        let mut singles = Vec::new();
        let mut add = |option: &str, value: Option<String>, single: FindQuery| {
            singles.extend(value.map(|value| (format!("{option} {value}"), single)));
        };
        let none = FindQuery::default;
        let text = |value: &Option<String>| value.clone();
        add("--taxon", text(&self.taxon), FindQuery { taxon: query.taxon.clone(), ..none() });
        let dates = match (self.from, self.to) {
            (Some(from), Some(to)) => Some(format!("{from} --to {to}")),
            (Some(from), None) => Some(from.to_string()),
            _ => None,
        };
        let by_date = FindQuery { from: query.from, to: query.to, ..none() };
        let only_to = self.to.filter(|_| self.from.is_none()).map(|to| to.to_string());
        add("--to", only_to, by_date.clone());
        add("--from", dates, by_date);
        let collector = FindQuery { collector: query.collector.clone(), ..none() };
        add("--collector", text(&self.collector), collector);
        let numbers = (!self.number.is_empty()).then(|| self.number.join(", "));
        add("--number", numbers, FindQuery { numbers: query.numbers.clone(), ..none() });
        add("--site", text(&self.site), FindQuery { rows: query.rows.clone(), ..none() });
        add("--outing", text(&self.outing), FindQuery { outings: query.outings.clone(), ..none() });
        add("--place", text(&self.place), FindQuery { place: query.place.clone(), ..none() });
        add("--host", text(&self.host), FindQuery { host: query.host.clone(), ..none() });
        let substrate = FindQuery { substrate: query.substrate.clone(), ..none() };
        add("--substrate", text(&self.substrate), substrate);
        let near = self.near.clone().zip(self.within);
        let near = near.map(|(near, within)| format!("{near} --within {within}"));
        add("--near", near, FindQuery { near: query.near, ..none() });
        add("--notes", text(&self.notes), FindQuery { notes: query.notes.clone(), ..none() });
        singles
    }

    /// The report on an option that no find matches.
    fn unmatched(&self, option: &str, single: &FindQuery, all: &[KeptFind]) -> Error {
        let error = Error::input(format!("no find in the store matches {option}"));
        let compared = counted(all.len(), "find was compared", "finds were compared");
        let error = error.because(compared);
        let words = |read: fn(&KeptFind) -> Option<&str>| -> BTreeSet<&str> {
            all.iter().filter_map(read).collect()
        };
        let (asked, known) = if let Some(asked) = &self.place
            && single.place.is_some()
        {
            (asked, words(|find| find.record.place.as_deref()))
        } else if let Some(asked) = &self.host
            && single.host.is_some()
        {
            (asked, words(|find| find.record.host.as_deref()))
        } else if let Some(asked) = &self.substrate
            && single.substrate.is_some()
        {
            (asked, words(|find| find.record.substrate.as_deref()))
        } else {
            return error.hint(nearest_otherwise(single, all));
        };
        let nearest = nearest_values(&known, asked);
        error.hint(if nearest.is_empty() {
            "no find of the store has such a value".to_owned()
        } else {
            format!("values most like it: {}", nearest.join(", "))
        })
    }
}

/// The values of which one word is most like the words that are asked for.
fn nearest_values(known: &BTreeSet<&str>, asked: &str) -> Vec<String> {
    let words = known.iter().flat_map(|value| value.split_whitespace().chain([*value]));
    let mut values: Vec<String> = Vec::new();
    for word in nearest_words(words.collect::<BTreeSet<&str>>().into_iter(), asked) {
        let with = known.iter().filter(|value| value.split_whitespace().any(|own| own == word));
        let whole = known.iter().filter(|value| **value == word);
        for value in with.chain(whole) {
            if values.len() < 3 && !values.iter().any(|own| own == value) {
                values.push((*value).to_owned());
            }
        }
    }
    values
}

fn numbered(query: &FindQuery, find: &KeptFind) -> bool {
    let number = find.record.number.as_ref();
    number.is_some_and(|number| query.numbers.iter().any(|choice| choice.holds(number)))
}

/// The nearest dates or the nearest find, where that is what was asked for.
fn nearest_otherwise(single: &FindQuery, all: &[KeptFind]) -> String {
    let dates: BTreeSet<Date> = all.iter().map(|find| find.date).collect();
    if single.from.is_some() || single.to.is_some() {
        let before = single.from.and_then(|from| dates.range(..from).next_back());
        let after = single.to.and_then(|to| dates.range(to..).next());
        let nearest: Vec<String> = before.into_iter().chain(after).map(Date::to_string).collect();
        if !nearest.is_empty() {
            return format!("the nearest days with finds: {}", nearest.join(", "));
        }
    }
    if let Some((at, _)) = single.near {
        let away = |find: &KeptFind| Some(geodesic::distance(at, find.place.as_ref()?.at).0);
        if let Some(nearest) = all.iter().filter_map(away).reduce(f64::min) {
            return format!("the nearest find is {} away", Metres(nearest));
        }
    }
    "omit the option".to_owned()
}

fn radius(metres: f64) -> Result<Metres> {
    if metres.is_finite() && metres > 0.0 {
        Ok(Metres(metres))
    } else {
        Err(Error::input(format!("--within {metres} is not a valid distance"))
            .hint("give metres above zero, such as --within 250"))
    }
}

/// The rows of the finds of a site.
fn rows_of_site(store: &Store, asked: &str) -> Result<BTreeSet<i64>> {
    let mut years = Years::open(store.path())?;
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let site = Years::site(&sites, asked)?;
    Ok(site.finds.iter().filter_map(|find| years.rows.get(*find).copied()).collect())
}

/// The outings of a date, or the one with an identifier or its beginning.
fn outings(store: &Store, asked: &str) -> Result<Vec<uuid::Uuid>> {
    let all = store.outings()?;
    let wanted = asked.trim().to_lowercase();
    let date: Option<Date> = wanted.parse().ok();
    let by_name = |id: &uuid::Uuid| wanted.len() >= 4 && id.to_string().starts_with(&wanted);
    let found: Vec<uuid::Uuid> = all
        .iter()
        .filter(|outing| date.map_or_else(|| by_name(&outing.id), |date| date == outing.date))
        .map(|outing| outing.id)
        .collect();
    if !found.is_empty() {
        return Ok(found);
    }
    let dates: BTreeSet<String> = all.iter().map(|outing| outing.date.to_string()).collect();
    let nearest = nearest_words(dates.iter().map(String::as_str), &wanted);
    Err(Error::input(format!("there is no outing {asked}"))
        .because(format!("the store has {}", counted(all.len(), "outing", "outings")))
        .hint(format!("give a date or an identifier; dates most like it: {}", nearest.join(", "))))
}
