//! Runs `trug next`: ranks sites by the probability of a find on a date and plans a round. Layer:
//! `commands`.

mod outputs;
mod plan;
mod recent;
mod unsearched;

use std::collections::{BTreeSet, HashMap, HashSet};
use std::path::PathBuf;

use clap::{ArgGroup, Args, ValueEnum};
use jiff::Timestamp;
use jiff::civil::{Date, Time};
use serde::Serialize;
use uuid::Uuid;

use self::plan::{plan, trailhead};
use self::recent::with_weather;
use super::console::Console;
use super::exit::Exit;
use super::ground::GroundArguments;
use super::output::Overwrite;
use super::store_path::StoreArgument;
use super::years::{Years, json};
use super::{names, others};
use crate::analyse::detection::{search_time, trials};
use crate::analyse::next::rank::{PastVisit, Prospect, outlook};
use crate::analyse::next::weather::Recent;
use crate::analyse::sites::{SiteRule, Sites};
use crate::analyse::spotted::belongs;
use crate::analyse::statistics::quantile;
use crate::analyse::taxon_name::{NameRule, Named};
use crate::analyse::visits::VisitRule;
use crate::error::{Error, Result};
use crate::model::{Site, SiteId, Visit};
use crate::present::carry::CarriedRound;
use crate::present::round::left_out_words;
use crate::present::summary::words::counted;
use crate::present::years::prospects;
use crate::present::years::sites::rounded;
use crate::present::years::unsearched as view;
use crate::units::{Seconds, TimeZone};
use crate::wayout::light;

/// The least chance of a stop, percent (chosen): of twenty such stops one has a find.
const LEAST_CHANCE: f64 = 5.0;

/// Rank sites by the probability of a find on a date; with --hours, plan a round.
///
/// Leave the route and the return time with someone; walking times are estimates.
#[derive(Debug, Args)]
#[command(group(ArgGroup::new("begun").args(["hours", "unsearched"]).multiple(true)))]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// The date.
    #[arg(long, value_name = "DATE", value_parser = super::day_argument::read)]
    date: Date,

    /// Only finds of this taxon count.
    #[arg(long, value_name = "T")]
    taxon: Option<String>,

    /// What a visit is for.
    #[arg(long, value_enum, default_value_t = Aim::Find)]
    aim: Aim,

    /// Plan a round of this many hours.
    #[arg(long, value_name = "H", value_parser = crate::commands::numbers::finite)]
    hours: Option<f64>,

    /// The start: a trailhead or position; by default the only trailhead, or where most outings began.
    #[arg(long, value_name = "WHERE", requires = "begun", allow_hyphen_values = true)]
    from: Option<String>,

    /// Also list areas that no outing searched, at elevations with more finds: an extrapolation, where elevation
    /// predicts finds.
    #[arg(long)]
    unsearched: bool,

    /// The largest distance of unsearched areas from the start.
    #[arg(long, value_name = "KM", requires = "unsearched", default_value_t = 5.0)]
    within: f64,

    /// The local start time.
    #[arg(long, value_name = "HH:MM", requires = "hours", default_value = "09:00")]
    start: Time,

    /// Minutes of searching at each site; probabilities are those of a visit of the usual length.
    #[arg(long, value_name = "MINUTES", requires = "hours", default_value_t = 12.0, value_parser = crate::commands::numbers::finite)]
    stay: f64,

    /// Sites with a smaller chance of a find are no stops.
    #[arg(long, value_name = "PERCENT", requires = "hours", default_value_t = LEAST_CHANCE, value_parser = crate::commands::numbers::finite)]
    least_chance: f64,

    /// Draw the round: SVG, PNG or PDF by the file name extension.
    #[arg(long, value_name = "FILE", requires = "hours")]
    figure: Option<PathBuf>,

    /// Write the round as a plan to print, A5: SVG, PNG or PDF.
    #[arg(long, value_name = "FILE", requires = "hours")]
    card: Option<PathBuf>,

    /// Write stops and legs as waypoints and routes: .gpx or .kml.
    #[arg(long, value_name = "FILE", requires = "hours")]
    stops: Option<PathBuf>,

    #[command(flatten)]
    ground: GroundArguments,

    #[command(flatten)]
    replacing: Overwrite,

    /// The output format.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum, Serialize)]
#[serde(rename_all = "lowercase")]
enum Aim {
    /// A find.
    Find,
    /// A species that is new to the list.
    New,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Form {
    /// A table.
    Table,
    /// Sites, and the round if --hours is given.
    Json,
}

#[derive(Serialize)]
struct Reported {
    date: Date,
    aim: Aim,
    sites: Vec<Prospect>,
    /// Whether the weather before the date changes the probabilities, and why not.
    weather: Recent,
    round: Option<ReportedRound>,
    /// Areas that no outing searched, or why none is offered.
    #[serde(skip_serializing_if = "Option::is_none")]
    unsearched: Option<serde_json::Value>,
    /// The median search of the visits that the probabilities come from, minutes, whatever the stay is.
    usual_visit_min: Option<f64>,
    /// How finds and effort were brought together, and which hemisphere is left out.
    #[serde(skip_serializing_if = "Option::is_none")]
    effort_notes: Option<serde_json::Value>,
    /// Always `exact`: positions are not generalised.
    positions: &'static str,
    /// Sites with a sensitive find.
    sensitive_sites: Vec<i64>,
}

/// A round; without sites where none is planned.
struct Round {
    sites: Vec<i64>,
    expected_finds: f64,
    /// 95 %, of the number of sites with a find.
    interval: (u32, u32),
    /// Sites below the least chance, and that chance.
    left_out: (usize, f64),
    /// Seconds.
    duration: f64,
    exact: bool,
    start: Timestamp,
    turn_back_by: Timestamp,
    /// The stop, from 1, that it is for, where the plan is still under way then.
    turn_back_from: Option<usize>,
    back: Timestamp,
    /// What the hours or the light allow.
    back_by: Timestamp,
    remark: String,
    /// The local clock at the start.
    zone: TimeZone,
}

/// A round in JSON.
#[derive(Serialize)]
struct ReportedRound {
    sites: Vec<i64>,
    expected_finds: f64,
    sites_with_find_low95: u32,
    sites_with_find_high95: u32,
    sites_below_least_chance: usize,
    least_chance: f64,
    duration_s: f64,
    exact: bool,
    /// The times are null where no round is planned.
    #[serde(serialize_with = "whole_seconds")]
    start: Option<Timestamp>,
    #[serde(serialize_with = "whole_seconds")]
    turn_back_by: Option<Timestamp>,
    turn_back_from_stop: Option<usize>,
    #[serde(serialize_with = "whole_seconds")]
    back: Option<Timestamp>,
    #[serde(serialize_with = "whole_seconds")]
    back_by: Option<Timestamp>,
    remark: String,
    /// Why no round is planned.
    none_because: Option<String>,
}

impl From<&Round> for ReportedRound {
    fn from(round: &Round) -> Self {
        let planned = |time: Timestamp| (!round.sites.is_empty()).then_some(time);
        Self {
            sites: round.sites.clone(),
            expected_finds: round.expected_finds,
            sites_with_find_low95: round.interval.0,
            sites_with_find_high95: round.interval.1,
            sites_below_least_chance: round.left_out.0,
            least_chance: rounded(round.left_out.1, 4),
            duration_s: round.duration,
            exact: round.exact,
            start: planned(round.start),
            turn_back_by: planned(round.turn_back_by),
            turn_back_from_stop: round.turn_back_from,
            back: planned(round.back),
            back_by: planned(round.back_by),
            remark: if round.sites.is_empty() { String::new() } else { round.remark.clone() },
            none_because: none_because(round),
        }
    }
}

/// Times of a plan are rounded to whole seconds.
#[allow(clippy::ref_option, reason = "serde passes the field by reference")]
fn whole_seconds<S: serde::Serializer>(
    when: &Option<Timestamp>,
    to: S,
) -> std::result::Result<S::Ok, S::Error> {
    match when {
        Some(when) => to.collect_str(&format_args!("{when:.0}")),
        None => to.serialize_none(),
    }
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let outputs = outputs::wanted(arguments)?;
    let mut years = arguments.store.years(console)?;
    let taxon = years.meant(arguments.taxon.as_deref(), console)?;
    names::known_taxon(&years, taxon.as_deref())?;
    if arguments.unsearched && arguments.aim == Aim::New {
        return Err(Error::input("--unsearched does not go with --aim new")
            .because("elevation is compared with finds, not with species that are new to the list")
            .hint("omit one of them"));
    }
    if arguments.hours.is_some() || arguments.unsearched {
        let (from, _) = trailhead(arguments, &years)?;
        years.analyse_side_of(from);
    }
    years.units(console)?;
    years.say_effort(true, console)?;
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let visits = years.visits(&sites, VisitRule::default(), console)?;
    let aim = (arguments.aim, arguments.date);
    let past = past(&years, &visits, (taxon.as_deref(), aim), console)?;
    let reported = outlook(&past, arguments.date);
    let (reported, recent) = match arguments.aim {
        // the effect of weather is one on all finds
        Aim::New => (reported, Recent::NotForNew),
        Aim::Find => {
            with_weather(&years, &sites, reported, (taxon.as_deref(), arguments.date), console)?
        }
    };
    if reported.sites.is_empty() {
        return Err(Error::input(format!("no data before {}", arguments.date))
            .because(no_site_because(&years, &sites, arguments.date))
            .hint("import days with tracks and finds first"));
    }
    let listed: Vec<i64> = reported.sites.iter().map(|prospect| prospect.site.0).collect();
    let sensitive = sensitive_sites(&years, &sites, &listed)?;
    let exact = exact_words(listed.len(), &sensitive);
    let mut planned = match arguments.hours {
        None => None,
        Some(hours) => Some(plan(arguments, &years, &sites, &reported, (hours, &[]), console)?),
    };
    if outputs || arguments.ground.any() {
        let mut drawn = planned.as_mut().and_then(|planned| planned.drawn.take());
        if let Some(drawn) = &mut drawn {
            drawn.positions.clone_from(&exact);
        }
        outputs::write(arguments, drawn.as_ref(), &mut years.store, console)?;
    }
    let round = planned.map(|planned| planned.round);
    let elsewhere = arguments
        .unsearched
        .then(|| unsearched::unsearched(arguments, &years, taxon.as_deref(), console))
        .transpose()?;
    if arguments.format == Form::Json {
        let sites = reported.sites.into_iter().map(|p| Prospect {
            chance: rounded(p.chance, 4),
            chance_low95: rounded(p.chance_low95, 4),
            chance_high95: rounded(p.chance_high95, 4),
            weather: p.weather.map(prospects::rounded_weather),
            ..p
        });
        let sites = sites.collect();
        let reported = Reported {
            date: arguments.date,
            aim: arguments.aim,
            sites,
            weather: recent,
            round: round.as_ref().map(ReportedRound::from),
            unsearched: elsewhere.as_ref().map(view::properties),
            usual_visit_min: usual_visit(&visits).map(|usual| rounded(usual.0 / 60.0, 1)),
            effort_notes: years.effort_notes(true),
            positions: "exact",
            sensitive_sites: sensitive.clone(),
        };
        console.print(&json(&reported)?)?;
    } else {
        let named = |id: SiteId| by_id(&sites, id).map_or_else(|| id.0.to_string(), name);
        let sought = arguments.sought(taxon.as_deref());
        let asked = (sought.as_deref(), arguments.date);
        console.print(&prospects::answer(asked, &reported.sites, named))?;
        console.print(&prospects::weather(&recent, &reported.sites, (arguments.date, &named)))?;
        console.print(&table(&reported.sites, &sites))?;
        if let Some(elsewhere) = &elsewhere {
            console.print(&view::text(elsewhere))?;
        }
        if let Some(round) = &round {
            console.print(&words(round, &sites, arguments.aim))?;
            if !round.sites.is_empty() {
                console.print(&prospects::of_usual_visits(usual_visit(&visits), arguments.stay))?;
            }
        }
        if let Some(left) = years.left_out_side() {
            console.print(&prospects::other_side(&left.to_string()))?;
        }
        if arguments.aim == Aim::New {
            console.print(&prospects::how_new())?;
        }
        console.print(&format!("{exact}\n"))?;
    }
    if !sensitive.is_empty() {
        console.note(&exact);
    }
    Ok(Exit::Done)
}

/// The round of a day from a position, for the page to carry.
pub(super) fn round_to_carry(
    store: &StoreArgument,
    (date, start, hours, from): (Date, Time, f64, Option<String>),
    console: &mut Console,
) -> Result<CarriedRound> {
    let arguments = Arguments {
        store: store.clone(),
        date,
        taxon: None,
        aim: Aim::Find,
        hours: Some(hours),
        from,
        start,
        unsearched: false,
        within: 5.0,
        stay: 12.0,
        least_chance: LEAST_CHANCE,
        figure: None,
        card: None,
        stops: None,
        ground: GroundArguments::default(),
        replacing: Overwrite::default(),
        format: Form::Json,
    };
    let mut years = store.years(console)?;
    let (from, _) = trailhead(&arguments, &years)?;
    years.analyse_side_of(from);
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let visits = years.visits(&sites, VisitRule::default(), console)?;
    let past = past(&years, &visits, (None, (Aim::Find, date)), console)?;
    let reported = outlook(&past, date);
    let (reported, _) = with_weather(&years, &sites, reported, (None, date), console)?;
    // its times would tell how far a sensitive site is from the start
    let all: Vec<i64> = reported.sites.iter().map(|prospect| prospect.site.0).collect();
    let sensitive = sensitive_sites(&years, &sites, &all)?;
    if !sensitive.is_empty() {
        let count = counted(sensitive.len(), "sensitive site", "sensitive sites");
        console.note(&format!(
            "The round on the page leaves out {count}: its times would lead there."
        ));
    }
    let round = plan(&arguments, &years, &sites, &reported, (hours, &sensitive), console)?.round;
    Ok(CarriedRound {
        sites: round.sites,
        start: round.start.as_second(),
        turn_back_by: round.turn_back_by.as_second(),
        back: round.back.as_second(),
        remark: round.remark,
    })
}

/// Why no site can be ranked.
fn no_site_because(years: &Years, sites: &Sites, date: Date) -> &'static str {
    if years.finds.is_empty() {
        "the store has no find with a position, so it knows no site"
    } else if sites.sites.is_empty() {
        "its finds make no site"
    } else if years.finds.iter().all(|find| find.date >= date) {
        "all finds are of that date or later"
    } else {
        "no site was searched before that date"
    }
}

/// The median search of the visits that count as trials.
fn usual_visit(visits: &[Visit]) -> Option<Seconds> {
    let mut times: Vec<f64> = visits.iter().filter_map(search_time).map(|time| time.0).collect();
    times.sort_unstable_by(f64::total_cmp);
    quantile(&times, 0.5).map(Seconds)
}

/// The sites of these with a sensitive find.
fn sensitive_sites(years: &Years, sites: &Sites, listed: &[i64]) -> Result<Vec<i64>> {
    let sensitive = others::sensitive_finds(&years.store)?;
    let has =
        |site: &&Site| site.finds.iter().any(|find| sensitive.contains(&years.finds[*find].id));
    let with_one = sites.sites.iter().filter(has).map(|site| site.id.0);
    Ok(with_one.filter(|site| listed.contains(site)).collect())
}

fn exact_words(listed: usize, sensitive: &[i64]) -> String {
    let own = "Positions are exact.";
    if sensitive.is_empty() {
        return format!("{own} Check who may see them before you share this list.");
    }
    let numbers: Vec<String> = sensitive.iter().take(12).map(i64::to_string).collect();
    let more = if sensitive.len() > numbers.len() { " and others" } else { "" };
    format!(
        "{own} {} of {} with sensitive finds ({}{more}): do not share this list.",
        sensitive.len(),
        counted(listed, "site", "sites"),
        numbers.join(", ")
    )
}

impl Arguments {
    /// What is sought, in words; none for any find.
    fn sought(&self, taxon: Option<&str>) -> Option<String> {
        match self.aim {
            Aim::Find => taxon.map(str::to_owned),
            Aim::New => Some(taxon.map_or_else(
                || "A species new to the list".to_owned(),
                |taxon| format!("A species of {taxon} new to the list"),
            )),
        }
    }
}

/// The finds before a date of species that no other outing before it found; people who walked together are one outing.
fn of_one_outing(years: &Years, date: Date, console: &Console) -> Result<HashSet<usize>> {
    let unit_of = years.unit_of(console)?;
    let names: BTreeSet<&str> = years.seen.iter().map(|find| &*find.taxon).collect();
    let rule = NameRule::of(names.iter().copied());
    let species: HashMap<&str, String> = names
        .into_iter()
        .filter_map(|name| match rule.read(name) {
            Named::Species(species) => Some((name, species)),
            _ => None,
        })
        .collect();
    let mut outings: HashMap<&str, HashSet<Uuid>> = HashMap::new();
    for find in years.seen.iter().filter(|find| find.date < date) {
        if let Some(species) = species.get(&*find.taxon) {
            let unit = unit_of.get(&find.outing).copied().unwrap_or(find.outing);
            outings.entry(species).or_default().insert(unit);
        }
    }
    let alone = |name: &str| {
        let species = species.get(name);
        species.and_then(|species| outings.get(species.as_str())).is_some_and(|on| on.len() == 1)
    };
    let finds = years.finds.iter().enumerate().filter(|(_, find)| find.date < date);
    let new = finds.filter(|(_, find)| find.taxon.as_deref().is_some_and(alone));
    Ok(new.map(|(index, _)| index).collect())
}

fn past(
    years: &Years,
    visits: &[Visit],
    (taxon, (aim, on)): (Option<&str>, (Aim, Date)),
    console: &Console,
) -> Result<Vec<PastVisit>> {
    let new = if aim == Aim::New { of_one_outing(years, on, console)? } else { HashSet::new() };
    let date: HashMap<Uuid, Date> =
        years.outings.iter().map(|outing| (outing.id, outing.date)).collect();
    let counted: Vec<Visit> = visits
        .iter()
        .filter(|visit| !years.counted.is_other_hemisphere(visit.outing))
        .cloned()
        .collect();
    let found = |visit: &Visit| {
        let counts = |index: &&usize| aim == Aim::Find || new.contains(*index);
        visit.finds.iter().filter(counts).any(|index| match taxon {
            None => true,
            Some(taxon) => {
                years.finds[*index].taxon.as_deref().is_some_and(|name| belongs(name, taxon))
            }
        })
    };
    let searches = trials(&counted, found).into_iter().map(|(visit, own)| (visit, own.found, true));
    let in_passing = counted
        .iter()
        .filter(|visit| search_time(visit).is_none() && found(visit))
        .map(|visit| (visit, true, false));
    let past = searches
        .chain(in_passing)
        .filter_map(|(visit, found, searched)| {
            let date = *date.get(&visit.outing)?;
            Some(PastVisit { site: visit.site, date, found, searched })
        })
        .collect();
    Ok(past)
}

fn name(site: &Site) -> String {
    site.name.as_ref().map_or_else(|| site.id.0.to_string(), |name| format!("{} {name}", site.id.0))
}

fn by_id(sites: &Sites, id: SiteId) -> Option<&Site> {
    sites.sites.iter().find(|site| site.id == id)
}

fn table(listed: &[Prospect], sites: &Sites) -> String {
    let shown = listed.iter().filter_map(|own| Some((own, by_id(sites, own.site)?)));
    let rows = shown.map(|(own, site)| (own, name(site), site.at.to_string()));
    prospects::table(rows) + &prospects::season_alone(listed)
}

/// Why there is no round; `None` where one is planned.
fn none_because(round: &Round) -> Option<String> {
    if !round.sites.is_empty() {
        return None;
    }
    if round.remark.starts_with("No round") {
        return Some(round.remark.clone());
    }
    let left_out =
        left_out_words(round.left_out).map_or_else(String::new, |words| format!(" {words}"));
    Some(format!("No site can be reached and searched within that time.{left_out}"))
}

fn words(round: &Round, sites: &Sites, aim: Aim) -> String {
    let zone = &round.zone;
    if let Some(why) = none_because(round) {
        return format!("\n{why}\n");
    }
    let names: Vec<String> = round
        .sites
        .iter()
        .map(|id| by_id(sites, SiteId(*id)).map(name).unwrap_or_default())
        .collect();
    let how = if round.exact { "optimal round" } else { "a good round, not proved optimal" };
    let remark =
        if round.remark.is_empty() { String::new() } else { format!(" ({})", round.remark) };
    let left_out =
        left_out_words(round.left_out).map_or_else(String::new, |words| format!("  {words}\n"));
    let what = if aim == Aim::New { "a new species" } else { "a find" };
    format!(
        "\nRound: {}\n  sites with {what}: {:.1} expected (95 %: {} to {}) in {}{remark}; {how}\n{left_out}  set out {}, turn \
         back{} by {}, back about {}, by {} at the latest\n  Leave the route and the return time with someone.\n",
        names.join(" - "),
        round.expected_finds,
        round.interval.0,
        round.interval.1,
        light::span(Seconds(round.duration)),
        light::clock(round.start, zone),
        round.turn_back_from.map_or_else(String::new, |stop| format!(" from stop {stop}")),
        light::clock(round.turn_back_by, zone),
        light::clock(round.back, zone),
        light::clock(round.back_by, zone),
    )
}
