//! Rejects taxa, numbers and collectors that the store does not contain and suggests similar ones, so
//! that a misspelt name does not give an empty result. Layer: `commands`.

use std::collections::BTreeSet;

use super::years::Years;
use crate::analyse::spotted::{belongs, continued, nearest_names, nearest_words};
use crate::error::{Error, Result};
use crate::model::{NumberChoice, RecordNumber, same_person};
use crate::present::summary::words::counted;
use crate::store::{FindQuery, Store};

/// # Errors
/// When no find of any year has the name.
pub(super) fn known_taxon(years: &Years, taxon: Option<&str>) -> Result<()> {
    let names = || years.seen.iter().map(|find| &*find.taxon);
    match taxon.map(str::trim) {
        Some(taxon) if !names().any(|name| belongs(name, taxon)) => {
            Err(unknown_taxon(names(), years.seen.len(), taxon))
        }
        _ => Ok(()),
    }
}

/// An error for a name that no find in the store begins with; `None` where one does.
///
/// # Errors
/// When the store cannot be read.
pub(super) fn unknown_in(store: &Store, taxon: Option<&str>) -> Result<Option<Error>> {
    let Some(taxon) = taxon.map(str::trim) else { return Ok(None) };
    let (finds, _) = store.brief_finds()?;
    let names: Vec<&str> = finds.iter().filter_map(|find| find.name.as_deref()).collect();
    let wanted = taxon.to_lowercase();
    let known = names.iter().any(|name| name.trim().to_lowercase().starts_with(&wanted));
    let by_checklist = || -> Result<bool> {
        let query = FindQuery { taxon: Some(taxon.to_owned()), ..FindQuery::default() };
        Ok(store.checklist()?.is_some() && !store.finds(&query)?.is_empty())
    };
    let known = known || by_checklist()?;
    Ok((!known).then(|| unknown_taxon(names.iter().copied(), names.len(), taxon)))
}

/// What to do where a taxon has too few finds.
pub(super) fn more_finds(taxon: &str) -> String {
    match taxon.split_once(' ') {
        Some((genus, _)) => {
            format!("list its finds with `trug finds --taxon`; try the genus {genus}")
        }
        None => {
            "list its finds with `trug finds --taxon`; choose a taxon with more finds".to_owned()
        }
    }
}

fn unknown_taxon<'a>(names: impl Iterator<Item = &'a str>, count: usize, taxon: &str) -> Error {
    let names: Vec<&str> = names.collect();
    let begin = continued(names.iter().copied(), taxon);
    let nearest = nearest_names(names.into_iter(), taxon);
    let hint = if count == 0 {
        "import days whose records name their finds".to_owned()
    } else if begin.len() > 1 {
        let first: Vec<&str> = begin.iter().take(5).map(String::as_str).collect();
        format!("{} names begin so: {}; give one of them", begin.len(), first.join(", "))
    } else if nearest.is_empty() {
        "no name is like it; list the names with `trug lists`".to_owned()
    } else {
        format!("names most like it: {}", nearest.join(", "))
    };
    Error::input(format!("no find in the store is named {taxon}"))
        .because(format!(
            "the names of {} were compared",
            counted(count, "named find", "named finds")
        ))
        .hint(hint)
}

/// # Errors
/// When one of the numbers belongs to no find in the store, or to none that is selected.
pub(super) fn known_numbers(
    store: &Store,
    asked: &[String],
    chosen: &[&RecordNumber],
) -> Result<()> {
    let missing = |number: &&String| {
        let choice = NumberChoice::read(number);
        !chosen.iter().any(|known| choice.holds(known))
    };
    let Some(number) = asked.iter().find(missing) else { return Ok(()) };
    let finds = store.finds(&FindQuery::default())?;
    let known: Vec<&RecordNumber> =
        finds.iter().filter_map(|find| find.record.number.as_ref()).collect();
    if known.iter().any(|known| NumberChoice::read(number).holds(known)) {
        return Err(Error::input(format!("find {number} is not in the selection"))
            .because("its name, date or collector differs from the one given")
            .hint("omit the other filters"));
    }
    let written: BTreeSet<&str> = known.iter().map(|number| number.0.as_str()).collect();
    let nearest = nearest_words(written.into_iter(), number);
    Err(Error::input(format!("no find in the store has the number {number}"))
        .because(format!("{} were compared", counted(known.len(), "number", "numbers")))
        .hint(if nearest.is_empty() {
            "list the finds with trug finds".to_owned()
        } else {
            format!("numbers most like it: {}", nearest.join(", "))
        }))
}

/// # Errors
/// When no outing in the store has a collector of that name.
pub(super) fn known_collector(store: &Store, asked: Option<&str>) -> Result<()> {
    let Some(asked) = asked else { return Ok(()) };
    let outings = store.outings()?;
    let finds = store.finds(&FindQuery::default())?;
    let of_finds = finds.iter().filter_map(|find| find.collector.as_deref());
    let names: BTreeSet<&str> =
        outings.iter().filter_map(|outing| outing.collector.as_deref()).chain(of_finds).collect();
    if names.iter().any(|name| same_person(name, asked)) {
        return Ok(());
    }
    let nearest = nearest_words(names.into_iter(), asked);
    Err(Error::input(format!("no find in the store is by {asked}")).hint(if nearest.is_empty() {
        "no collector is named in this store".to_owned()
    } else {
        format!("collectors most like it: {}", nearest.join(", "))
    }))
}
