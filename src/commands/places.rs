//! Runs `trug places`: lists and edits the rules that make taxa, sites and finds sensitive in outputs
//! for others. Layer: `commands`.

mod subject;

use clap::{Args, Subcommand, ValueEnum};
use jiff::Timestamp;
use serde::Serialize;

use super::console::Console;
use super::exit::Exit;
use super::others;
use super::store_path::StoreArgument;
use super::years::json;
use crate::error::{Error, Result};
use crate::model::{RuleSubject, Sensitivity, SensitivityRule};
use crate::present::sensitive;
use crate::present::table::{Column, Table};
use crate::store::{FindQuery, Store};

/// List and edit the rules that make taxa, sites and finds sensitive.
///
/// Sensitive positions are generalised or withheld in outputs for others, together with everything that
/// would reveal them: other finds of the site and the outing, tracks, times of day, notes, place
/// names, photographs. Your own lists, maps and labels stay exact.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// List the rules as JSON.
    #[arg(long)]
    json: bool,

    #[command(subcommand)]
    what: Option<What>,
}

/// A rule in JSON.
#[derive(Serialize)]
struct Line {
    /// `taxon`, `site` or `find`.
    subject: &'static str,
    /// The taxon, the site number, or the find identifier.
    of: String,
    /// The user's name for the site, the collector's number of the find.
    called: Option<String>,
    level: Sensitivity,
    /// The latitude step of the published grid; absent where coordinates are withheld.
    step_degrees: Option<f64>,
    /// Whether it was made in advance of any find.
    in_advance: bool,
    /// The number of finds and circles it is bound to.
    bound: usize,
    since: String,
    reason: Option<String>,
}

#[derive(Debug, Subcommand)]
enum What {
    /// List the rules (the default).
    List,
    /// Make something sensitive from now on.
    Quiet(Quiet),
    /// Remove a rule, or release a find that keeps its level since it was published.
    Open(Open),
}

#[derive(Debug, Args)]
struct Quiet {
    #[command(flatten)]
    subject: Subject,

    /// The level.
    #[arg(long, value_enum)]
    level: LevelChoice,

    /// The reason, as free text.
    #[arg(long, value_name = "WORDS")]
    reason: Option<String>,

    /// Allow a taxon without finds.
    #[arg(long, conflicts_with_all = ["site", "find"])]
    in_advance: bool,
}

#[derive(Debug, Args)]
struct Open {
    #[command(flatten)]
    subject: Subject,

    /// Release all finds of the outing of this find.
    #[arg(long, requires = "find")]
    with_outing: bool,
}

#[derive(Debug, Args)]
#[group(required = true, multiple = false)]
struct Subject {
    /// Every find of this taxon: this name, or names that begin with its words.
    #[arg(long, alias = "kind", value_name = "NAME")]
    taxon: Option<String>,

    /// Every find of this site: its number or its name.
    #[arg(long, value_name = "SITE")]
    site: Option<String>,

    /// One find, by the collector's number.
    #[arg(long, value_name = "NUMBER")]
    find: Option<String>,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum LevelChoice {
    /// To 0.001 degree, about 100 m.
    Low,
    /// To 0.01 degree, about 1 km.
    Medium,
    /// To 0.1 degree, about 10 km.
    High,
    /// Coordinates withheld.
    Extreme,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let mut store = arguments.store.open(console)?;
    match &arguments.what {
        None | Some(What::List) if arguments.json => list_as_json(&store, console)?,
        None | Some(What::List) => list(&store, console)?,
        Some(What::Quiet(quiet)) => {
            let subject = subject::of_new_rule(&store, &quiet.subject, quiet.in_advance)?;
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
                in_advance: quiet.in_advance,
                bound: Vec::new(),
            };
            store.keep_sensitivity_rule(&rule)?;
            console.print(&format!(
                "sensitive: {} ({})\n",
                named(&store, &rule.subject)?,
                rule.level
            ))?;
        }
        Some(What::Open(asked)) => open(&mut store, asked, console)?,
    }
    Ok(Exit::Done)
}

/// Removes a rule, or releases a find, and states what else keeps it sensitive.
fn open(store: &mut Store, asked: &Open, console: &mut Console) -> Result<()> {
    let subject = subject::of_rule(store, &asked.subject)?;
    let name = named(store, &subject)?;
    let dropped = store.drop_sensitivity_rule(&subject)?;
    let released = match &subject {
        RuleSubject::Find(id) => release(store, *id, asked.with_outing)?,
        _ => 0,
    };
    if !dropped && released == 0 {
        return Err(Error::input(format!("there is no rule for {name}"))
            .because("the store has none for it, and it keeps no level of an earlier output")
            .hint("list the rules with trug places"));
    }
    let text = match (dropped, released) {
        (true, _) => format!("no longer sensitive by its own rule: {name}"),
        (false, 1) => format!("released from the level of earlier outputs: {name}"),
        (false, many) => format!("released from the level of earlier outputs: {many} finds"),
    };
    console.print(&(text + "\n"))?;
    if let RuleSubject::Find(id) = &subject
        && others::sensitive_finds(store)?.contains(id)
    {
        console.note(&format!(
            "Still sensitive: {name}, by another rule, its site, its outing or what was published of them. List the \
             rules with trug places."
        ));
    }
    Ok(())
}

/// How many finds are released: one, or all of its outing.
fn release(store: &mut Store, find: uuid::Uuid, with_outing: bool) -> Result<usize> {
    let mut finds = vec![find];
    if with_outing {
        let query = FindQuery { id: Some(find), withdrawn: true, ..FindQuery::default() };
        let outing = store.finds(&query)?.first().map(|find| find.outing);
        store.each_find(&FindQuery { withdrawn: true, ..FindQuery::default() }, |other| {
            if Some(other.outing) == outing && other.id != find {
                finds.push(other.id);
            }
            Ok(())
        })?;
    }
    let mut released = 0;
    for find in finds {
        released += usize::from(store.release_published(find)?);
    }
    Ok(released)
}

fn list(store: &Store, console: &mut Console) -> Result<()> {
    let rules = store.sensitivity_rules()?;
    if rules.is_empty() {
        console.note("No sensitivity rules. Outputs for others are generalised to 0.001 degree.");
        return Ok(());
    }
    let mut table = Table::new(["sensitive", "level", "since", "reason"].map(Column::left));
    for rule in rules {
        table.row([
            named(store, &rule.subject)?,
            rule.level.to_string(),
            rule.since.strftime("%Y-%m-%d").to_string(),
            rule.reason.unwrap_or_default(),
        ]);
    }
    console.print(&table.to_string())?;
    for notice in others::notices(store)? {
        console.note(&sensitive::sentence(&notice));
    }
    Ok(())
}

fn list_as_json(store: &Store, console: &mut Console) -> Result<()> {
    let line = |rule: SensitivityRule| {
        let (subject, of) = match &rule.subject {
            RuleSubject::Taxon(taxon) => ("taxon", taxon.clone()),
            RuleSubject::Site(id) => ("site", id.0.to_string()),
            RuleSubject::Find(id) => ("find", id.to_string()),
        };
        Ok(Line {
            subject,
            of,
            called: called(store, &rule.subject)?,
            level: rule.level,
            step_degrees: rule.level.grid(),
            in_advance: rule.in_advance,
            bound: rule.bound.len(),
            since: format!("{:.0}", rule.since),
            reason: rule.reason,
        })
    };
    let lines = store.sensitivity_rules()?.into_iter().map(line).collect::<Result<Vec<Line>>>()?;
    console.print(&json(&lines)?)
}

/// The subject as text.
fn named(store: &Store, subject: &RuleSubject) -> Result<String> {
    let called = called(store, subject)?;
    Ok(match (subject, called) {
        (RuleSubject::Taxon(_) | RuleSubject::Site(_), None) => sensitive::named(subject),
        (RuleSubject::Taxon(_), Some(name)) => name,
        (RuleSubject::Site(id), Some(name)) => format!("site {} ({name})", id.0),
        (RuleSubject::Find(id), None) => format!("find {id}"),
        (RuleSubject::Find(_), Some(number)) => format!("find {number}"),
    })
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
