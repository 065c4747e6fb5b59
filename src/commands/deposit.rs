//! Runs `trug deposit --out FILE.zip`: writes a Darwin Core Archive for a herbarium or a data portal.
//! Layer: `commands`.

use std::collections::{BTreeSet, HashMap, HashSet};
use std::path::PathBuf;
use std::sync::Arc;

use clap::{Args, ValueEnum};
use jiff::{Timestamp, ZonedDateTime};
use uuid::Uuid;

use super::console::Console;
use super::exit::Exit;
use super::others::{self, ForOthersArguments, Prepared};
use super::store_path::StoreArgument;
use super::years::Years;
use super::{ground, output};
use crate::analyse::spotted::belongs;
use crate::analyse::walk::Walk;
use crate::error::{Error, Result};
use crate::model::{Determination, KeptFind, NameCheck};
use crate::present::darwin_core::{StatusWords, taxonomy};
use crate::present::deposit::{
    self, Absence, Basis, Dataset, Deposit, Event, Holding, Licence, Searches, absences,
};
use crate::present::summary::words::counted;
use crate::store::{FindQuery, KeptOuting, Store};

/// Write a Darwin Core Archive: outings, finds, fresh characters and metadata.
///
/// Generalised by default, and checked before it is written: where a sensitive place
/// could be recovered from the archive, nothing is written.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The archive to write.
    #[arg(long, value_name = "FILE.zip")]
    out: PathBuf,

    #[command(flatten)]
    replacing: output::Overwrite,

    /// The title of the dataset.
    #[arg(long, value_name = "TITLE")]
    title: String,

    /// The licence under which others may use it; only you can decide that.
    #[arg(long, value_enum)]
    licence: LicenceChoice,

    /// The creator; by default the collectors. Can be given several times.
    #[arg(long, value_name = "NAME")]
    creator: Vec<String>,

    /// The basis of record.
    #[arg(long, value_enum, default_value_t = BasisChoice::Observation)]
    basis: BasisChoice,

    /// The code of the institution that holds the specimens, for finds whose records name none.
    #[arg(long, value_name = "CODE")]
    institution: Option<String>,

    /// The code of the collection within it, for finds whose records name none.
    #[arg(long, value_name = "CODE")]
    collection: Option<String>,

    /// The values of occurrenceStatus: detected and notDetected, or present and absent as before 2026.
    #[arg(long, value_enum, default_value_t = StatusChoice::Detected)]
    status_words: StatusChoice,

    #[command(flatten)]
    store: StoreArgument,

    #[command(flatten)]
    which: ForOthersArguments,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum LicenceChoice {
    /// No rights reserved.
    Cc0,
    /// Free with attribution.
    CcBy,
    /// Free with attribution, not for profit.
    CcByNc,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum BasisChoice {
    /// Observed in the field.
    Observation,
    /// Collected and preserved.
    Specimen,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum StatusChoice {
    /// detected, notDetected.
    Detected,
    /// present, absent.
    Present,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let mut store = arguments.store.open(console)?;
    let mut prepared = others::prepare(&store, &arguments.which)?;
    ground::set_elevations(prepared.chosen_mut(), &store, console)?;
    let (events, absences) = {
        let query = arguments.which.selection.query(&store)?;
        let years = Years::open(&arguments.store.path())?;
        events(&years, &prepared, &query, console)?
    };
    let finds = prepared.chosen_finds();
    let names = checked(&store, &finds, &absences)?;
    let archive = deposit::archive(&Deposit {
        dataset: dataset(arguments, &finds)?,
        originals: &prepared.originals,
        shown: &prepared.shown,
        published: &prepared.published,
        chosen: &prepared.chosen,
        events: &events,
        absences: &absences,
        names: &names,
        status: match arguments.status_words {
            StatusChoice::Detected => StatusWords::Detected,
            StatusChoice::Present => StatusWords::Present,
        },
        basis: match arguments.basis {
            BasisChoice::Observation => Basis::Observation,
            BasisChoice::Specimen => Basis::Specimen,
        },
        holding: Holding {
            institution: filled(arguments.institution.as_deref()),
            collection: filled(arguments.collection.as_deref()),
        },
        today: ZonedDateTime::now().date(),
    })?;
    store.record_published(&prepared.chosen_published(), Timestamp::now())?;
    output::write(&arguments.out, &archive, arguments.replacing)?;
    console.print(&format!(
        "{}: {}, {}, {}\n",
        arguments.out.display(),
        counted(finds.len(), "find", "finds"),
        counted(events.len(), "outing", "outings"),
        counted(absences.len(), "non-detection", "non-detections")
    ))?;
    prepared.note_care(console);
    Ok(Exit::Done)
}

/// What the checklist says of the names of all identifications and of non-detections, and of genera whose species it
/// does not have.
fn checked(
    store: &Store,
    finds: &[KeptFind],
    absences: &[Absence],
) -> Result<HashMap<String, Arc<NameCheck>>> {
    let identified = finds.iter().flat_map(|find| &find.determinations);
    let mut names: BTreeSet<String> = identified.map(Determination::full_name).collect();
    names.extend(finds.iter().filter_map(taxonomy::genus_alone).map(str::to_owned));
    names.extend(absences.iter().map(|absence| absence.kind.clone()));
    let checks = store.lookup_all(names.iter().map(String::as_str))?;
    Ok(names.into_iter().zip(checks).filter_map(|(name, check)| Some((name, check?))).collect())
}

fn filled(text: Option<&str>) -> Option<String> {
    text.map(|text| text.trim().to_owned()).filter(|text| !text.is_empty())
}

fn dataset(arguments: &Arguments, finds: &[KeptFind]) -> Result<Dataset> {
    let collectors: BTreeSet<String> =
        finds.iter().filter_map(|find| find.collector.clone()).collect();
    let creators: Vec<String> = if arguments.creator.is_empty() {
        collectors.into_iter().collect()
    } else {
        arguments.creator.clone()
    };
    if creators.iter().all(|creator| creator.trim().is_empty()) {
        return Err(Error::input("the deposit has no creator")
            .because("none of these finds names a collector")
            .hint("name one with --creator"));
    }
    let first = finds.iter().map(|find| find.date).min();
    let last = finds.iter().map(|find| find.date).max();
    let span = match (first, last) {
        (Some(first), Some(last)) if first != last => format!(" from {first} to {last}"),
        (Some(first), _) => format!(" of {first}"),
        _ => String::new(),
    };
    Ok(Dataset {
        title: arguments.title.clone(),
        creators,
        summary: format!(
            "{} finds of fungi{span}. Each position carries the radius that holds the true one with 95 % probability; outings carry their effort.",
            finds.len()
        ),
        licence: match arguments.licence {
            LicenceChoice::Cc0 => Licence::Zero,
            LicenceChoice::CcBy => Licence::Attribution,
            LicenceChoice::CcByNc => Licence::NonCommercial,
        },
    })
}

/// The outings of the chosen finds and those of the same period without a find. For an outing with
/// sensitive finds, and for a sensitive taxon, no non-detection is written.
fn events(
    years: &Years,
    prepared: &Prepared,
    query: &FindQuery,
    console: &Console,
) -> Result<(Vec<Event>, Vec<Absence>)> {
    let chosen: HashSet<Uuid> =
        prepared.chosen.iter().map(|find| prepared.shown.finds[*find].outing).collect();
    let unspoken = sensitive_taxa(prepared);
    let decided = |find: &&KeptFind| find.generalised.as_ref().is_some_and(|g| g.decided);
    let sensitive: HashSet<Uuid> =
        prepared.shown.finds.iter().filter(decided).map(|find| find.outing).collect();
    let whole = query.is_by_name_and_date();
    let asked = |absence: &Absence| {
        whole && query.taxon.as_ref().is_none_or(|taxon| belongs(&absence.kind, taxon))
    };
    let searches = Searches::of(&prepared.spotted, &prepared.sites);
    let mut absent: HashMap<Uuid, Vec<Absence>> = HashMap::new();
    let look = |walk: Walk| {
        let withheld = sensitive.contains(&walk.outing) || walk.points.is_empty();
        let own = if withheld { Vec::new() } else { absences(&walk, &searches, &unspoken) };
        (walk.outing, own)
    };
    years.map_searches(console, "Reading the search", look, |(outing, own)| {
        absent.insert(outing, own);
    })?;
    let searched = years.searched(console)?;
    let (mut events, mut non_detections) = (Vec::new(), Vec::new());
    for outing in years.outings.iter().filter(|outing| within(outing, query)) {
        let mut own = absent.remove(&outing.id).unwrap_or_default();
        own.retain(asked);
        // effort without a find counts too; with a taxon filter it must concern that taxon
        let without_find =
            outing.finds == 0 && outing.searched.is_some() && query.taxon.is_none() && whole;
        if chosen.contains(&outing.id) || !own.is_empty() || without_find {
            events.push(Event {
                outing: outing.id,
                date: outing.date,
                length: outing.length,
                searched: searched.get(&outing.id).copied(),
            });
            non_detections.extend(own);
        }
    }
    Ok((events, non_detections))
}

fn within(outing: &KeptOuting, query: &FindQuery) -> bool {
    let early = query.from.is_some_and(|from| outing.date < from);
    let late = query.to.is_some_and(|to| outing.date > to);
    !early && !late
}

/// Taxa of which any find is sensitive by a rule.
fn sensitive_taxa(prepared: &Prepared) -> BTreeSet<String> {
    prepared
        .shown
        .finds
        .iter()
        .filter(|find| find.generalised.as_ref().is_some_and(|generalised| generalised.decided))
        .filter_map(|find| find.record.name.as_deref())
        .map(|name| name.trim().to_owned())
        .collect()
}
