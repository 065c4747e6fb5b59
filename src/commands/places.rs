//! `trug places`: what is kept quiet when finds leave the desk. Layer: `commands`.

use clap::{Args, Subcommand, ValueEnum};
use jiff::Timestamp;
use serde::Serialize;

use super::console::Console;
use super::exit::Exit;
use super::store_path::StoreArgument;
use super::years::json;
use crate::error::{Error, Result};
use crate::model::{SensitivityRule, RuleSubject, Sensitivity};
use crate::present::summary::words::counted;
use crate::present::table::{Column, Table};
use crate::store::{FindQuery, Store};

/// Decide which kinds, sites and finds are kept quiet, and list them.
///
/// What is kept quiet is given to others only coarsely, or not at all, together with everything that
/// would lead to it: other finds of its site and of the same outing, ways, times of day, notes, place
/// names, photographs. Your own lists and labels stay exact.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// List as JSON what is kept quiet.
    #[arg(long)]
    json: bool,

    #[command(subcommand)]
    what: Option<What>,
}

/// A decision as JSON tells it.
#[derive(Serialize)]
struct Line {
    /// `kind`, `site` or `find`.
    subject: &'static str,
    /// The kind's name, the site's number, the find's identity.
    of: String,
    /// The user's name for the site, the collector's number of the find.
    called: Option<String>,
    level: Sensitivity,
    /// The step of the grid on which it is told; nothing where no coordinates are.
    step_degrees: Option<f64>,
    since: String,
    reason: Option<String>,
}

#[derive(Debug, Subcommand)]
enum What {
    /// List what is kept quiet (the default).
    List,
    /// Keep something quiet from now on.
    Quiet(Quiet),
    /// No longer keep something quiet.
    Open(Subject),
}

#[derive(Debug, Args)]
struct Quiet {
    #[command(flatten)]
    subject: Subject,

    /// How quiet.
    #[arg(long, value_enum)]
    level: LevelChoice,

    /// Why, in your words.
    #[arg(long, value_name = "WORDS")]
    reason: Option<String>,
}

#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
struct Subject {
    /// Every find of this name, or of names that begin with its words.
    #[arg(long, value_name = "NAME")]
    kind: Option<String>,

    /// Every find of this site: its number or its name.
    #[arg(long, value_name = "SITE")]
    site: Option<String>,

    /// One find, by the collector's number.
    #[arg(long, value_name = "NUMBER")]
    find: Option<String>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum LevelChoice {
    /// To 0.001 degree, about a hundred metres.
    Low,
    /// To 0.01 degree, about a kilometre.
    Medium,
    /// To 0.1 degree, about ten kilometres.
    High,
    /// No coordinates at all.
    Extreme,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let mut store = Store::open(&arguments.store.path())?;
    match &arguments.what {
        None | Some(What::List) if arguments.json => list_as_json(&store, console)?,
        None | Some(What::List) => list(&store, console)?,
        Some(What::Quiet(quiet)) => {
            let subject = subject(&store, &quiet.subject)?;
            let rule = SensitivityRule {
                subject,
                level: match quiet.level {
                    LevelChoice::Low => Sensitivity::Low,
                    LevelChoice::Medium => Sensitivity::Medium,
                    LevelChoice::High => Sensitivity::High,
                    LevelChoice::Extreme => Sensitivity::Extreme,
                },
                reason: quiet.reason.clone(),
                since: Timestamp::now(),
            };
            store.keep_sensitivity_rule(&rule)?;
            console.print(&format!(
                "kept quiet: {} ({})\n",
                named(&store, &rule.subject)?,
                rule.level
            ))?;
        }
        Some(What::Open(asked)) => {
            let subject = subject(&store, asked)?;
            let name = named(&store, &subject)?;
            if !store.drop_sensitivity_rule(&subject)? {
                return Err(Error::input(format!("{name} was not kept quiet"))
                    .because("no decision about it is in the store")
                    .hint("see what is with trug places"));
            }
            console.print(&format!("open again: {name}\n"))?;
        }
    }
    Ok(Exit::Done)
}

fn list(store: &Store, console: &mut Console) -> Result<()> {
    let rules = store.sensitivity_rules()?;
    if rules.is_empty() {
        console.note(
            "Nothing is kept quiet. What leaves the desk is still generalised to 0.001 degree.",
        );
        return Ok(());
    }
    let mut table = Table::new(["kept quiet", "level", "since", "why"].map(Column::left));
    for rule in rules {
        table.row([
            named(store, &rule.subject)?,
            rule.level.to_string(),
            rule.since.strftime("%Y-%m-%d").to_string(),
            rule.reason.unwrap_or_default(),
        ]);
    }
    console.print(&table.to_string())
}

fn list_as_json(store: &Store, console: &mut Console) -> Result<()> {
    let line = |rule: SensitivityRule| {
        let (subject, of) = match &rule.subject {
            RuleSubject::Taxon(kind) => ("kind", kind.clone()),
            RuleSubject::Site(id) => ("site", id.0.to_string()),
            RuleSubject::Find(id) => ("find", id.to_string()),
        };
        Ok(Line {
            subject,
            of,
            called: called(store, &rule.subject)?,
            level: rule.level,
            step_degrees: rule.level.grid(),
            since: format!("{:.0}", rule.since),
            reason: rule.reason,
        })
    };
    let lines = store.sensitivity_rules()?.into_iter().map(line).collect::<Result<Vec<Line>>>()?;
    console.print(&json(&lines)?)
}

/// What was asked for, as the store knows it.
fn subject(store: &Store, asked: &Subject) -> Result<RuleSubject> {
    if let Some(kind) = &asked.kind {
        if kind.trim().is_empty() {
            return Err(Error::input("the name is empty").hint("give at least a genus"));
        }
        return Ok(RuleSubject::Taxon(kind.clone()));
    }
    if let Some(site) = &asked.site {
        return site_named(store, site);
    }
    let number = asked.find.as_deref().unwrap_or_default();
    let found =
        store.finds(&FindQuery { number: Some(number.to_owned()), ..FindQuery::default() })?;
    match found.as_slice() {
        [only] => Ok(RuleSubject::Find(only.id)),
        [] => Err(Error::input(format!("there is no find {number}"))
            .because(format!("{} has no find of that number", store.path().display()))
            .hint("see its finds with trug finds")),
        several => Err(Error::input(format!("{} finds bear the number {number}", several.len()))
            .because("one find must be meant")
            .hint("keep their kind or their site quiet instead")),
    }
}

fn site_named(store: &Store, asked: &str) -> Result<RuleSubject> {
    let sites = store.sites()?;
    let found = sites.iter().find(|site| {
        site.id.0.to_string() == asked.trim()
            || site.name.as_deref().is_some_and(|name| name.eq_ignore_ascii_case(asked.trim()))
    });
    found.map(|site| RuleSubject::Site(site.id)).ok_or_else(|| {
        Error::input(format!("there is no site {asked}"))
            .because(format!(
                "the store knows {}, none of that number or name",
                counted(sites.len(), "site", "sites")
            ))
            .hint("find the sites first with trug sites, or keep a kind or a find quiet")
    })
}

/// In words.
fn named(store: &Store, subject: &RuleSubject) -> Result<String> {
    let called = called(store, subject)?;
    Ok(match (subject, called) {
        (RuleSubject::Taxon(kind), _) => written_as_a_name(kind),
        (RuleSubject::Site(id), None) => format!("site {}", id.0),
        (RuleSubject::Site(id), Some(name)) => format!("site {} ({name})", id.0),
        (RuleSubject::Find(id), None) => format!("find {id}"),
        (RuleSubject::Find(_), Some(number)) => format!("find {number}"),
    })
}

/// Kinds are kept in small letters; a genus is written with a large one.
fn written_as_a_name(kind: &str) -> String {
    let mut letters = kind.trim().chars();
    let first = letters.next().map(char::to_uppercase).into_iter().flatten();
    first.chain(letters.flat_map(char::to_lowercase)).collect()
}

/// The user's name for a site, the collector's number of a find.
fn called(store: &Store, subject: &RuleSubject) -> Result<Option<String>> {
    Ok(match subject {
        RuleSubject::Taxon(_) => None,
        RuleSubject::Site(id) => {
            store.sites()?.into_iter().find(|site| site.id == *id).and_then(|site| site.name)
        }
        RuleSubject::Find(id) => {
            let query = FindQuery { id: Some(*id), withdrawn: true, ..FindQuery::default() };
            let number =
                store.finds(&query)?.into_iter().next().and_then(|find| find.record.number);
            number.map(|number| number.0)
        }
    })
}
