//! Resolves the taxon, site or find of a sensitivity rule. Rejects what the store does not contain and
//! suggests similar names. Layer: `commands`.

use std::sync::Arc;

use super::Subject;
use crate::analyse::spotted::{nearest_names, nearest_words};
use crate::error::{Error, Result};
use crate::model::RuleSubject;
use crate::model::taxon_match::may_be;
use crate::present::summary::words::counted;
use crate::store::{NumberQuery, Store};

/// The subject of a new rule: it must exist in the store, unless the rule is made in advance.
pub(super) fn of_new_rule(store: &Store, asked: &Subject, in_advance: bool) -> Result<RuleSubject> {
    let subject = of_rule(store, asked)?;
    let RuleSubject::Taxon(taxon) = &subject else { return Ok(subject) };
    if taxon.trim().is_empty() {
        return Err(Error::input("the name is empty").hint("give at least a genus"));
    }
    let (finds, _) = store.brief_finds()?;
    let names = || finds.iter().filter_map(|find| find.name.as_deref());
    if in_advance || names().any(|name| may_be(name, taxon)) {
        return Ok(subject);
    }
    // a rule covers the finds whose accepted name it means, as it does those that are written so
    let mut accepted: Vec<Option<Arc<str>>> = finds.iter().map(|find| find.name.clone()).collect();
    store.name_as_accepted(accepted.iter_mut())?;
    if accepted.iter().flatten().any(|name| may_be(name, taxon)) {
        return Ok(subject);
    }
    let named = names().filter(|name| !name.trim().is_empty());
    Err(no_such_taxon(taxon, synonym_of(store, taxon)?.as_deref(), &nearest_names(named, taxon)))
}

/// The name that the checklist accepts for a taxon that it takes for a synonym.
fn synonym_of(store: &Store, taxon: &str) -> Result<Option<Arc<str>>> {
    let mut name = Some(Arc::from(taxon));
    store.name_as_accepted(std::iter::once(&mut name))?;
    Ok(name.filter(|name| **name != *taxon))
}

fn no_such_taxon(taxon: &str, accepted: Option<&str>, nearest: &[String]) -> Error {
    let error =
        Error::input(format!("no find is named {taxon}, so a rule for it would have no effect"));
    if let Some(accepted) = accepted {
        return error.because(format!("the checklist takes it for a synonym of {accepted}")).hint(
            "make the rule for the accepted name, or add --in-advance for a taxon not yet found",
        );
    }
    let because = if nearest.is_empty() {
        "no find in the store has a name".to_owned()
    } else {
        match nearest {
            [one] => format!("the name most like it is {one}"),
            several => format!("the names most like it are {}", several.join(", ")),
        }
    };
    error.because(because).hint("correct the name, or add --in-advance for a taxon not yet found")
}

/// The subject of a rule that may already exist.
pub(super) fn of_rule(store: &Store, asked: &Subject) -> Result<RuleSubject> {
    if let Some(taxon) = &asked.taxon {
        return Ok(RuleSubject::Taxon(taxon.clone()));
    }
    if let Some(site) = &asked.site {
        return site_named(store, site);
    }
    find_numbered(store, asked.find.as_deref().unwrap_or_default())
}

/// A find by its number or the beginning of its identifier; withdrawn ones too, whose rules and published states stay
/// in force.
fn find_numbered(store: &Store, number: &str) -> Result<RuleSubject> {
    let query = NumberQuery { number: number.to_owned(), day: None, collector: None };
    let mut found = store.finds_of_number(&query)?;
    if found.iter().any(|find| find.withdrawn.is_none()) {
        found.retain(|find| find.withdrawn.is_none());
    }
    match found.as_slice() {
        [only] => Ok(RuleSubject::Find(only.id)),
        [] => Err(no_such_find(store, number)?),
        several => Err(Error::input(format!("{} finds have the number {number}", several.len()))
            .because("the rule must refer to one find")
            .hint("give the identifier of the one that is meant, or make their taxon or site sensitive")),
    }
}

fn no_such_find(store: &Store, number: &str) -> Result<Error> {
    let (finds, _) = store.brief_finds()?;
    let numbers = finds.iter().filter_map(|find| find.number.as_deref());
    let nearest = nearest_words(numbers, number);
    let like = if nearest.is_empty() {
        String::new()
    } else {
        format!("; the numbers most like it are {}", nearest.join(", "))
    };
    Ok(Error::input(format!("there is no find {number}"))
        .because(format!("{} has no find with that number{like}", store.path().display()))
        .hint("see its finds with trug finds"))
}

/// A site by its number or name; a number also where the site is gone but has a rule.
fn site_named(store: &Store, asked: &str) -> Result<RuleSubject> {
    let asked = asked.trim();
    let sites = store.sites()?;
    let found = sites.iter().find(|site| {
        site.id.0.to_string() == asked
            || site.name.as_deref().is_some_and(|name| name.eq_ignore_ascii_case(asked))
    });
    if let Some(site) = found {
        return Ok(RuleSubject::Site(site.id));
    }
    let of_rule = store.sensitivity_rules()?.into_iter().map(|rule| rule.subject);
    let gone = of_rule
        .into_iter()
        .find(|subject| matches!(subject, RuleSubject::Site(id) if id.0.to_string() == asked));
    gone.ok_or_else(|| {
        let names = sites.iter().filter_map(|site| site.name.as_deref());
        let nearest = nearest_names(names, asked);
        let like = if nearest.is_empty() {
            String::new()
        } else {
            format!("; the names most like it are {}", nearest.join(", "))
        };
        Error::input(format!("there is no site {asked}"))
            .because(format!(
                "the store has {}, none with that number or name{like}",
                counted(sites.len(), "site", "sites")
            ))
            .hint("find the sites first with trug sites, or make a taxon or a find sensitive")
    })
}
