//! Runs `trug next`: ranks sites by the probability of a find on a date and plans a round. Layer:
//! `commands`.

use clap::{Args, ValueEnum};
use jiff::Timestamp;
use jiff::civil::{Date, Time};
use serde::Serialize;

use super::console::Console;
use super::exit::Exit;
use super::store_path::StoreArgument;
use super::years::{Years, json};
use super::{names, others};
use crate::analyse::next::rank::{Outlook, PastVisit, Prospect, outlook};
use crate::analyse::next::tour::{Choices, Tour, best};
use crate::analyse::sites::{SiteRule, Sites};
use crate::analyse::spatial_index::Ecef;
use crate::analyse::spotted::belongs;
use crate::analyse::visits::VisitRule;
use crate::analyse::walk::Walk;
use crate::earth::local::Plane;
use crate::earth::zone;
use crate::error::{Error, Result};
use crate::model::{Site, SiteId, TrackPoint, Visit};
use crate::present::carry::CarriedRound;
use crate::present::summary::words::counted;
use crate::present::table::{Column, Table};
use crate::present::way_out::light::ahead;
use crate::present::years::sites::{is_search, rounded};
use crate::units::{LatLon, Metres, Seconds, TimeZone};
use crate::wayout::daylight::{DayKind, Daylight};
use crate::wayout::light;
use crate::wayout::paths::{Builder, Entry, Net};

/// Rank sites by the probability of a find on a date; with --hours, plan a round.
///
/// Leave the route and the return time with someone; walking times are estimates.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// The date.
    #[arg(long, value_name = "D")]
    date: Date,

    /// Only finds of this taxon count.
    #[arg(long, value_name = "T")]
    taxon: Option<String>,

    /// Plan a round of this many hours.
    #[arg(long, value_name = "H")]
    hours: Option<f64>,

    /// The start: a trailhead or position; by default the only trailhead, or where most outings began.
    #[arg(long, value_name = "WHERE", requires = "hours", allow_hyphen_values = true)]
    from: Option<String>,

    /// The local start time.
    #[arg(long, value_name = "HH:MM", requires = "hours", default_value = "09:00")]
    start: Time,

    /// Minutes of searching at each site.
    #[arg(long, value_name = "MINUTES", requires = "hours", default_value_t = 12.0)]
    stay: f64,

    /// The output format.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Form {
    /// A table.
    Table,
    /// Sites, and the round if --hours is given.
    Json,
}

/// The largest walking speed off paths, metres a second (chosen).
const FASTEST: f64 = 1.4;
/// The spacing of points along a known path.
const PATH_SPACING: Metres = Metres(10.0);

#[derive(Serialize)]
struct Reported {
    date: Date,
    sites: Vec<Prospect>,
    round: Option<Round>,
    /// Always `exact`: positions are not generalised.
    positions: &'static str,
    /// Sites with a sensitive find.
    sensitive_sites: Vec<i64>,
}

#[derive(Serialize)]
struct Round {
    sites: Vec<i64>,
    expected_finds: f64,
    sites_with_find_low95: u32,
    sites_with_find_high95: u32,
    duration_s: f64,
    exact: bool,
    #[serde(serialize_with = "whole_seconds")]
    start: Timestamp,
    #[serde(serialize_with = "whole_seconds")]
    turn_back_by: Timestamp,
    #[serde(serialize_with = "whole_seconds")]
    back: Timestamp,
    remark: String,
    /// The local clock at the start.
    #[serde(skip)]
    zone: TimeZone,
}

/// Times of a plan are rounded to whole seconds.
fn whole_seconds<S: serde::Serializer>(
    when: &Timestamp,
    to: S,
) -> std::result::Result<S::Ok, S::Error> {
    to.collect_str(&format_args!("{when:.0}"))
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let mut years = Years::open(&arguments.store.path())?;
    let taxon = years.meant(arguments.taxon.as_deref(), console)?;
    names::known_taxon(&years, taxon.as_deref())?;
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let visits = years.visits(&sites, VisitRule::default(), console)?;
    let reported = outlook(&past(&years, &visits, taxon.as_deref()), arguments.date);
    if reported.sites.is_empty() {
        return Err(Error::input(format!("no data before {}", arguments.date))
            .because("no site was searched before that date")
            .hint("import days with tracks and finds first"));
    }
    let round = match arguments.hours {
        None => None,
        Some(hours) => Some(plan(arguments, &years, &sites, &reported, (hours, &[]), console)?),
    };
    let listed: Vec<i64> = reported.sites.iter().map(|prospect| prospect.site.0).collect();
    let sensitive = sensitive_sites(&years, &sites, &listed)?;
    let exact = exact_words(listed.len(), &sensitive);
    if arguments.format == Form::Json {
        let sites = reported.sites.into_iter().map(|p| Prospect {
            chance: rounded(p.chance, 4),
            chance_low95: rounded(p.chance_low95, 4),
            chance_high95: rounded(p.chance_high95, 4),
            ..p
        });
        let sites = sites.collect();
        let reported = Reported {
            date: arguments.date,
            sites,
            round,
            positions: "exact",
            sensitive_sites: sensitive.clone(),
        };
        console.print(&json(&reported)?)?;
    } else {
        console.print(&table(&reported.sites, &sites))?;
        if let Some(round) = &round {
            console.print(&words(round, &sites))?;
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
        hours: Some(hours),
        from,
        start,
        stay: 12.0,
        format: Form::Json,
    };
    let mut years = Years::open(&store.path())?;
    let sites = years.sites(SiteRule::default(), Timestamp::now())?;
    let visits = years.visits(&sites, VisitRule::default(), console)?;
    let reported = outlook(&past(&years, &visits, None), date);
    // its times would tell how far a sensitive site is from the start
    let all: Vec<i64> = reported.sites.iter().map(|prospect| prospect.site.0).collect();
    let sensitive = sensitive_sites(&years, &sites, &all)?;
    if !sensitive.is_empty() {
        let count = counted(sensitive.len(), "sensitive site", "sensitive sites");
        console.note(&format!(
            "The round on the page leaves out {count}: its times would lead there."
        ));
    }
    let round = plan(&arguments, &years, &sites, &reported, (hours, &sensitive), console)?;
    Ok(CarriedRound {
        sites: round.sites,
        start: round.start.as_second(),
        turn_back_by: round.turn_back_by.as_second(),
        back: round.back.as_second(),
        remark: round.remark,
    })
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

fn past(years: &Years, visits: &[Visit], taxon: Option<&str>) -> Vec<PastVisit> {
    let date: std::collections::HashMap<uuid::Uuid, Date> =
        years.outings.iter().map(|outing| (outing.id, outing.date)).collect();
    visits
        .iter()
        .filter(|visit| is_search(visit))
        .filter_map(|visit| {
            let found = visit.finds.iter().any(|index| match taxon {
                None => true,
                Some(taxon) => {
                    years.finds[*index].taxon.as_deref().is_some_and(|name| belongs(name, taxon))
                }
            });
            Some(PastVisit { site: visit.site, date: *date.get(&visit.outing)?, found })
        })
        .collect()
}

fn name(site: &Site) -> String {
    site.name.as_ref().map_or_else(|| site.id.0.to_string(), |name| format!("{} {name}", site.id.0))
}

fn by_id(sites: &Sites, id: SiteId) -> Option<&Site> {
    sites.sites.iter().find(|site| site.id == id)
}

fn table(prospects: &[Prospect], sites: &Sites) -> String {
    const SHOWN: usize = 25;
    let mut table = Table::new([
        Column::left("site"),
        Column::right("probability (95 %)"),
        Column::left("within three weeks of the date"),
        Column::left("last found"),
        Column::right("visits"),
        Column::left("where"),
    ]);
    for prospect in prospects.iter().take(SHOWN) {
        let Some(site) = by_id(sites, prospect.site) else { continue };
        table.row([
            name(site),
            chance(prospect),
            match prospect.visits_in_season {
                0 => "never searched at that time of year".to_owned(),
                visits => format!(
                    "found on {} of {}",
                    prospect.found_in_season,
                    counted(visits, "visit", "visits")
                ),
            },
            prospect.last_found.map_or_else(|| "never".to_owned(), |date| date.to_string()),
            prospect.visits.to_string(),
            site.at.to_string(),
        ]);
    }
    let alone = prospects.first().map_or(0.0, |prospect| prospect.season_alone);
    if prospects.iter().any(|prospect| prospect.determined) {
        return format!(
            "{table}The season alone, pooled over all sites, gives {:.0} %.\n",
            100.0 * alone
        );
    }
    format!(
        "{table}Not enough data for a probability: no search near that time of year, in any year.\n"
    )
}

fn chance(prospect: &Prospect) -> String {
    let percent = |chance: f64| format!("{:.0}", 100.0 * chance);
    if !prospect.determined {
        return "not determined".to_owned();
    }
    let (low, high) = (percent(prospect.chance_low95), percent(prospect.chance_high95));
    format!("{} % ({low} to {high})", percent(prospect.chance))
}

/// The local clock at the start of a round.
fn local_zone(from: LatLon) -> Result<TimeZone> {
    zone::at(from).map(|(_, zone)| zone).ok_or_else(|| {
        Error::input("the local time at the start of the round is unknown")
            .because(format!("no time zone is known at {from}: it is at sea or outside all zones"))
            .hint("give a start on land, as --from \"-42.6 146.1\"")
    })
}

/// The northernmost, southernmost, easternmost and westernmost of these sites as seen from a place, whose light
/// counts with that of the place.
fn outermost(sites: &[&Site], from: LatLon) -> Vec<LatLon> {
    let plane = Plane::about(from);
    let places: Vec<((f64, f64), LatLon)> =
        sites.iter().map(|site| (plane.to_plane(site.at), site.at)).collect();
    let most = |key: fn((f64, f64)) -> f64| {
        places.iter().max_by(|a, b| key(a.0).total_cmp(&key(b.0))).map(|(_, at)| *at)
    };
    [most(|p| p.0), most(|p| -p.0), most(|p| p.1), most(|p| -p.1)].into_iter().flatten().collect()
}

fn plan(
    arguments: &Arguments,
    years: &Years,
    sites: &Sites,
    reported: &Outlook,
    (hours, left_out): (f64, &[i64]),
    console: &Console,
) -> Result<Round> {
    const MOST: usize = 40;
    let time = span_of("--hours", hours, 24.0)? * 3600.0;
    let stay = span_of("--stay", arguments.stay, 24.0 * 60.0)? * 60.0;
    let from = trailhead(arguments, years)?;
    let zone = local_zone(from)?;
    let start = zone
        .to_ambiguous_timestamp(arguments.date.to_datetime(arguments.start))
        .compatible()
        .map_err(|error| Error::input("no such time on that date").because(error.to_string()))?;
    let within = |time: f64| -> Vec<&Site> {
        reported
            .sites
            .iter()
            .filter_map(|prospect| by_id(sites, prospect.site))
            .filter(|site| !left_out.contains(&site.id.0))
            .filter(|site| 2.0 * Ecef::of(site.at).distance(Ecef::of(from)).0 / FASTEST < time)
            .take(MOST)
            .collect()
    };
    let day = Daylight::between(from, &outermost(&within(time), from), start)?;
    let Some(light) = searching(arguments.date, start, time, (&day, &zone)) else {
        let remark = no_light(arguments.date, start, (&day, &zone));
        return Ok(no_round((start, zone), &remark));
    };
    let Searching { start, time, remark } = light;
    let chosen = within(time);
    let mut net = Builder::default();
    let mut print = 0;
    let reach = time / 2.0 * FASTEST;
    let centre = Ecef::of(from);
    let look = |walk: Walk| {
        // paths that cannot be reached and left within the time are ignored
        let near = |point: &TrackPoint| Ecef::of(point.at).distance(centre).0 < reach;
        walk.points.iter().any(near).then(|| walk.filled(PATH_SPACING))
    };
    years.map_walks(console, "Reading known paths", look, |path| {
        if let Some(path) = path {
            print += 1;
            net.add(&path, print);
        }
    })?;
    let places: Vec<LatLon> =
        std::iter::once(from).chain(chosen.iter().map(|site| site.at)).collect();
    let worth =
        |site: &&Site| reported.sites.iter().find(|p| p.site == site.id).map_or(0.0, |p| p.chance);
    let choices = Choices {
        travel: travel(&net.finish(), &places),
        worth: chosen.iter().map(worth).collect(),
        stay,
        time,
    };
    let tour = best(&choices);
    let reported_any = reported.sites.iter().any(|prospect| prospect.determined);
    if !reported_any || (!tour.sites.is_empty() && tour.worth < LEAST_EXPECTED) {
        return Ok(no_round((start, zone), nothing_to_expect(reported)));
    }
    let visited: Vec<SiteId> = tour.sites.iter().map(|site| chosen[*site].id).collect();
    let (low, high) = reported.finds_at(&visited);
    Ok(Round {
        sites_with_find_low95: low,
        sites_with_find_high95: high,
        ..round(&tour, &choices, &chosen, (start, zone, remark))
    })
}

/// A span of time above zero, and of one day at the most.
fn span_of(flag: &str, given: f64, most: f64) -> Result<f64> {
    if given > 0.0 && given <= most {
        return Ok(given);
    }
    Err(Error::input(format!("{flag} {given} is no time for a round"))
        .because("a round lasts longer than nothing and a day at the most")
        .hint(format!("give a figure above 0 and up to {most}")))
}

/// The least expected number of sites with a find: below it the figure would be printed as 0.0.
const LEAST_EXPECTED: f64 = 0.05;

/// When a round begins and how long it may last, seconds.
struct Searching {
    start: Timestamp,
    time: f64,
    remark: String,
}

/// The part of the given time that is in daylight; `None` where none is.
fn searching(
    date: Date,
    start: Timestamp,
    time: f64,
    (light, zone): (&Daylight, &TimeZone),
) -> Option<Searching> {
    let (from, until) = light::searching(start, light)?;
    if zone.to_datetime(from).date() != date {
        return None;
    }
    let mut remarks = Vec::new();
    if from > start {
        remarks.push(format!(
            "begins at {} (daylight) instead of {}",
            light::clock(from, zone),
            light::clock(start, zone)
        ));
    }
    let left = until.map_or(f64::INFINITY, |until| Seconds::between(from, until).0);
    if let Some(until) = until.filter(|_| left < time) {
        remarks.push(format!(
            "shortened to be back by {}, with a margin of {} before {}",
            light::clock(until, zone),
            light::span(light::LEAST_RESERVE),
            match light.kind {
                DayKind::DayAndNight | DayKind::WhiteNight | DayKind::PolarDay => "sunset",
                _ => "the end of twilight",
            }
        ));
    }
    Some(Searching { start: from, time: time.min(left), remark: remarks.join("; ") })
}

/// The reason why no round fits into the daylight.
fn no_light(date: Date, start: Timestamp, (light, zone): (&Daylight, &TimeZone)) -> String {
    format!(
        "No round is planned: no daylight left on {date} from {} ({}).",
        light::clock(start, zone),
        ahead(light, zone)
    )
}

fn nothing_to_expect(reported: &Outlook) -> &'static str {
    if reported.sites.iter().any(|prospect| prospect.determined) {
        "No round is planned: fewer than 0.05 sites with a find are expected within that time."
    } else {
        "No round is planned: no search near that time of year in any year, so no site has an \
         estimate."
    }
}

/// No round, and why.
fn no_round((start, zone): (Timestamp, TimeZone), remark: &str) -> Round {
    Round {
        sites: Vec::new(),
        expected_finds: 0.0,
        sites_with_find_low95: 0,
        sites_with_find_high95: 0,
        duration_s: 0.0,
        exact: false,
        start,
        turn_back_by: start,
        back: start,
        remark: remark.to_owned(),
        zone,
    }
}

/// The longest way back to the start from any site of the round, seconds: whoever turns back by the time
/// that allows for it is back in time from wherever they are.
fn farthest_from_home(sites: &[usize], travel: &[Vec<f64>]) -> f64 {
    sites.iter().map(|site| travel[site + 1][0]).fold(0.0, f64::max)
}

fn round(
    tour: &Tour,
    choices: &Choices,
    chosen: &[&Site],
    (start, zone, remark): (Timestamp, TimeZone, String),
) -> Round {
    let home = farthest_from_home(&tour.sites, &choices.travel);
    Round {
        sites: tour.sites.iter().map(|site| chosen[*site].id.0).collect(),
        expected_finds: rounded(tour.worth, 2),
        sites_with_find_low95: 0,
        sites_with_find_high95: 0,
        duration_s: tour.time.round(),
        exact: tour.exact,
        start,
        turn_back_by: Seconds(choices.time - home).after(start),
        back: Seconds(tour.time).after(start),
        remark,
        zone,
    }
}

/// Seconds between all places along known paths, or across country if that is faster: the straight
/// distance plus 30 % at 2 km/h (chosen).
fn travel(net: &Net, places: &[LatLon]) -> Vec<Vec<f64>> {
    let straight = |a: LatLon, b: LatLon| Ecef::of(a).distance(Ecef::of(b)).0 * 1.3 / (4.0 / 3.6);
    let mut times = vec![vec![0.0; places.len()]; places.len()];
    for a in 0..places.len() {
        for b in a + 1..places.len() {
            let along = net
                .quickest(places[a], &[Entry { at: places[b] }], None)
                .map_or(f64::INFINITY, |route| route.duration.0);
            let time = along.min(2.0 * straight(places[a], places[b]));
            times[a][b] = time;
            times[b][a] = time;
        }
    }
    times
}

fn trailhead(arguments: &Arguments, years: &Years) -> Result<LatLon> {
    let kept = years.store.trailheads()?;
    if let Some(asked) = &arguments.from {
        let wanted = asked.trim().to_lowercase();
        return match kept.iter().find(|trailhead| trailhead.name.to_lowercase() == wanted) {
            Some(trailhead) => Ok(trailhead.at),
            None => super::finds::one_position(asked),
        };
    }
    if let [only] = kept.as_slice() {
        return Ok(only.at);
    }
    let began: Vec<LatLon> = years.outings.iter().filter_map(|outing| outing.began).collect();
    let near = |place: &LatLon| {
        let spot = Ecef::of(*place);
        began.iter().filter(|other| Ecef::of(**other).distance(spot).0 < 150.0).count()
    };
    began.iter().max_by_key(|place| near(place)).copied().ok_or_else(|| {
        Error::input("no start point is known")
            .because("the store has no trailhead and no track")
            .hint("give one, as --from \"-42.6 146.1\", or add it with `trug trailhead add`")
    })
}

fn words(round: &Round, sites: &Sites) -> String {
    if round.sites.is_empty() && round.remark.starts_with("No round") {
        return format!("\n{}\n", round.remark);
    }
    if round.sites.is_empty() {
        return "\nNo site can be reached and searched within that time.\n".to_owned();
    }
    let names: Vec<String> = round
        .sites
        .iter()
        .map(|id| by_id(sites, SiteId(*id)).map(name).unwrap_or_default())
        .collect();
    let how = if round.exact { "optimal round" } else { "a good round, not proved optimal" };
    let remark =
        if round.remark.is_empty() { String::new() } else { format!(" ({})", round.remark) };
    format!(
        "\nRound: {}\n  sites with a find: {:.1} expected (95 %: {} to {}) in {}{remark}; {how}\n  set out {}, turn back by {} at \
         the latest, back about {}\n  Leave the route and the return time with someone.\n",
        names.join(" - "),
        round.expected_finds,
        round.sites_with_find_low95,
        round.sites_with_find_high95,
        light::span(Seconds(round.duration_s)),
        light::clock(round.start, &round.zone),
        light::clock(round.turn_back_by, &round.zone),
        light::clock(round.back, &round.zone),
    )
}

#[cfg(test)]
mod tests {
    use super::{farthest_from_home, local_zone};
    use crate::units::LatLon;

    #[test]
    fn the_local_time_of_a_round_is_that_of_its_start() {
        let zone = |latitude, longitude| local_zone(LatLon::new(latitude, longitude).unwrap());
        assert_eq!(zone(65.0, 25.5).unwrap().iana_name(), Some("Europe/Helsinki"));
        assert_eq!(zone(-42.6, 146.1).unwrap().iana_name(), Some("Australia/Hobart"));
        assert!(zone(-50.0, 100.0).unwrap_err().to_string().contains("at sea"));
    }

    #[test]
    fn the_time_to_turn_back_allows_for_the_farthest_site_not_for_the_last() {
        let travel = vec![
            vec![0.0, 600.0, 2_400.0, 120.0],
            vec![600.0, 0.0, 1_800.0, 500.0],
            vec![2_400.0, 1_800.0, 0.0, 2_300.0],
            vec![120.0, 500.0, 2_300.0, 0.0],
        ];
        assert!((farthest_from_home(&[0, 1, 2], &travel) - 2_400.0).abs() < 1e-9);
        assert!((farthest_from_home(&[0, 2], &travel) - 600.0).abs() < 1e-9);
        assert!(farthest_from_home(&[], &travel).abs() < 1e-9);
    }
}
