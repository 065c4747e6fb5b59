//! Plans the round of `trug next`: the sites that can be reached, the daylight, the order, the times.
//! Layer: `commands`.

use jiff::Timestamp;
use jiff::civil::Date;

use super::{Arguments, Round, by_id};
use crate::analyse::next::rank::{Outlook, Prospect};
use crate::analyse::next::tour::{Choices, Tour, best};
use crate::analyse::sites::Sites;
use crate::analyse::spatial_index::Ecef;
use crate::analyse::walk::Walk;
use crate::commands::console::Console;
use crate::commands::finds::one_position;
use crate::commands::years::Years;
use crate::earth::local::Plane;
use crate::earth::{geodesic, zone};
use crate::error::{Error, Result};
use crate::model::{Site, SiteId, TrackPoint};
use crate::present::round::{Leg, PlannedRound, Stop};
use crate::present::way_out::light::ahead;
use crate::present::years::sites::rounded;
use crate::units::{LatLon, Metres, Seconds, TimeZone};
use crate::wayout::daylight::{DayKind, Daylight};
use crate::wayout::light;
use crate::wayout::paths::{Builder, Entry, Net};

/// The largest walking speed off paths, metres a second (chosen).
const FASTEST: f64 = 1.4;
/// The spacing of points along a known path.
const PATH_SPACING: Metres = Metres(10.0);

/// A round, and what its drawings need; nothing to draw where none is planned.
pub(super) struct Planned {
    pub(super) round: Round,
    pub(super) drawn: Option<PlannedRound>,
}

pub(super) fn plan(
    arguments: &Arguments,
    years: &Years,
    sites: &Sites,
    reported: &Outlook,
    (hours, left_out): (f64, &[i64]),
    console: &Console,
) -> Result<Planned> {
    const MOST: usize = 40;
    let time = span_of("--hours", hours, 24.0)? * 3600.0;
    let stay = span_of("--stay", arguments.stay, 24.0 * 60.0)? * 60.0;
    let least = share_of("--least-chance", arguments.least_chance)?;
    let (from, name) = trailhead(arguments, years)?;
    let local = local_zone(from)?;
    let start = local
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
    let Some(light) = searching(arguments.date, start, time, (&day, &local)) else {
        let remark = no_light(arguments.date, start, (&day, &local));
        return Ok(no_round((start, local), &remark));
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
    let net = net.finish();
    let prospect = |site: &Site| reported.sites.iter().find(|own| own.site == site.id);
    let chance = |site: &Site| prospect(site).map_or(0.0, |prospect| prospect.chance);
    // a site with too small a chance is worth no detour
    let worth = |site: &&Site| Some(chance(site)).filter(|chance| *chance >= least).unwrap_or(0.0);
    let below = chosen.iter().filter(|site| chance(site) < least).count();
    let choices = Choices {
        travel: travel(&net, &places),
        worth: chosen.iter().map(worth).collect(),
        stay,
        time,
    };
    let tour = best(&choices);
    let reported_any = reported.sites.iter().any(|prospect| prospect.determined);
    if reported_any && below > 0 && below == chosen.len() {
        let most = chosen.iter().map(|site| chance(site)).fold(0.0, f64::max);
        let mut none = no_round((start, local), &too_improbable(below, most, least));
        none.round.left_out = (below, least);
        return Ok(none);
    }
    if !reported_any || (!tour.sites.is_empty() && tour.worth < LEAST_EXPECTED) {
        return Ok(no_round((start, local), nothing_to_expect(reported)));
    }
    let visited: Vec<SiteId> = tour.sites.iter().map(|site| chosen[*site].id).collect();
    let round = Round {
        interval: reported.finds_at(&visited),
        left_out: (below, least),
        ..round(&tour, &choices, &chosen, (start, local.clone(), remark))
    };
    let drawn = drawn(&Drawing {
        round: &round,
        tour: &tour,
        choices: &choices,
        chosen: &chosen,
        net: &net,
        from: (from, name),
        prospect: &prospect,
        arguments,
        zone: &local,
        all: &sites.sites,
    });
    Ok(Planned { round, drawn: Some(drawn) })
}

/// # Errors
/// When a percentage is not from 0 to 100.
fn share_of(flag: &str, percent: f64) -> Result<f64> {
    if (0.0..=100.0).contains(&percent) {
        return Ok(percent / 100.0);
    }
    Err(Error::input(format!("{flag} {percent} is not a percentage"))
        .hint("give a number from 0 to 100"))
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
        // the date need not be today
        ahead(light, zone).replace("DARK now", "dark then")
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

/// All sites that can be reached are below the least probability of a stop.
fn too_improbable(sites: usize, most: f64, least: f64) -> String {
    format!(
        "No round is planned: the probability is below {:.0} % (--least-chance) at {}; the highest is {:.0} %.",
        100.0 * least,
        match sites {
            1 => "the one site that can be reached".to_owned(),
            _ => format!("all {sites} sites that can be reached"),
        },
        (100.0 * most).floor()
    )
}

/// No round, and why.
fn no_round((start, zone): (Timestamp, TimeZone), remark: &str) -> Planned {
    let round = Round {
        sites: Vec::new(),
        expected_finds: 0.0,
        interval: (0, 0),
        left_out: (0, 0.0),
        duration: 0.0,
        exact: false,
        start,
        turn_back_by: start,
        turn_back_from: None,
        back: start,
        back_by: start,
        remark: remark.to_owned(),
        zone,
    };
    Planned { round, drawn: None }
}

/// The longest way back to the start from any site of the round, seconds: whoever turns back by the time
/// that allows for it is back in time from wherever they are.
fn farthest_from_home(sites: &[usize], travel: &[Vec<f64>]) -> f64 {
    sites.iter().map(|site| travel[site + 1][0]).fold(0.0, f64::max)
}

/// When to turn back, seconds after the start: from the farthest site the way back ends within the time;
/// from the last one it ends when the plan says, so that the promised return is never passed by plan.
fn turning(tour: &Tour, choices: &Choices) -> f64 {
    let home = farthest_from_home(&tour.sites, &choices.travel);
    let last = tour.sites.last().map_or(0.0, |site| choices.travel[site + 1][0]);
    (choices.time - home).min(tour.time - last).max(0.0)
}

/// The stop, from 1, from which the time to turn back is reckoned, where the plan is still under way then.
fn turning_from(tour: &Tour, choices: &Choices) -> Option<usize> {
    let home = |site: &usize| choices.travel[site + 1][0];
    let leaves_last = tour.time - tour.sites.last().map_or(0.0, home);
    let far = tour.sites.iter().enumerate().max_by(|a, b| home(a.1).total_cmp(&home(b.1)))?;
    (turning(tour, choices) < leaves_last - 1e-6).then_some(far.0 + 1)
}

fn round(
    tour: &Tour,
    choices: &Choices,
    chosen: &[&Site],
    (start, zone, remark): (Timestamp, TimeZone, String),
) -> Round {
    Round {
        sites: tour.sites.iter().map(|site| chosen[*site].id.0).collect(),
        // the sum of no site is -0
        expected_finds: rounded(tour.worth, 2) + 0.0,
        interval: (0, 0),
        left_out: (0, 0.0),
        duration: tour.time.round(),
        exact: tour.exact,
        start,
        turn_back_by: Seconds(turning(tour, choices)).after(start),
        turn_back_from: turning_from(tour, choices),
        back: Seconds(tour.time).after(start),
        back_by: Seconds(choices.time).after(start),
        remark,
        zone,
    }
}

/// What a drawing of a round is made from.
struct Drawing<'a> {
    round: &'a Round,
    tour: &'a Tour,
    choices: &'a Choices,
    chosen: &'a [&'a Site],
    net: &'a Net,
    from: (LatLon, String),
    prospect: &'a dyn Fn(&Site) -> Option<&'a Prospect>,
    arguments: &'a Arguments,
    zone: &'a TimeZone,
    all: &'a [Site],
}

fn drawn(of: &Drawing) -> PlannedRound {
    let mut stops = Vec::new();
    let mut legs = Vec::new();
    let (mut at, mut elapsed) = (0, 0.0);
    let after = |seconds: f64| Seconds(seconds).after(of.round.start);
    for index in &of.tour.sites {
        let site = of.chosen[*index];
        let to = index + 1;
        legs.push(leg(of, at, to));
        elapsed += of.choices.travel[at][to];
        let chance = (of.prospect)(site);
        stops.push(Stop {
            name: format!("site {}", super::name(site)),
            at: site.at,
            chance: chance
                .map_or((0.0, 0.0, 1.0), |own| (own.chance, own.chance_low95, own.chance_high95)),
            arrive: after(elapsed),
            leave: after(elapsed + of.choices.stay),
            leave_by: after(of.choices.time - of.choices.travel[to][0]),
        });
        elapsed += of.choices.stay;
        at = to;
    }
    if !stops.is_empty() {
        legs.push(leg(of, at, 0));
    }
    let on_it = |site: &&Site| !of.round.sites.contains(&site.id.0);
    PlannedRound {
        date: of.arguments.date,
        zone: of.zone.clone(),
        taxon: of.arguments.sought(of.arguments.taxon.as_deref()),
        from: of.from.clone(),
        stops,
        legs,
        set_out: of.round.start,
        turn_back_by: of.round.turn_back_by,
        turn_back_from: of.round.turn_back_from,
        back: of.round.back,
        back_by: of.round.back_by,
        stay: Seconds(of.choices.stay),
        expected: of.round.expected_finds,
        interval: of.round.interval,
        exact: of.round.exact,
        remark: of.round.remark.clone(),
        others: of.all.iter().filter(on_it).map(|site| site.at).collect(),
        left_out: of.round.left_out,
        positions: String::new(),
    }
}

/// The leg between two places of the choices, the start being 0.
fn leg(of: &Drawing, from: usize, to: usize) -> Leg {
    let place = |index: usize| match index.checked_sub(1) {
        Some(site) => of.chosen[site].at,
        None => of.from.0,
    };
    let (a, b) = (place(from), place(to));
    let duration = of.choices.travel[from][to];
    let along = of.net.quickest(a, &[Entry { at: b }], None);
    let along = along.filter(|route| route.duration.0 <= duration + 1.0);
    let known = along.is_some();
    let line = along.map_or_else(|| vec![a, b], |route| route.places);
    let distance = line.windows(2).map(|ends| geodesic::distance(ends[0], ends[1])).sum::<Metres>();
    Leg { line, distance, duration: Seconds(duration), known }
}

/// Seconds between all places along known paths, or across country if that is faster: the straight
/// distance plus 30 % at 2 km/h (chosen).
fn travel(net: &Net, places: &[LatLon]) -> Vec<Vec<f64>> {
    let straight = |a: LatLon, b: LatLon| Ecef::of(a).distance(Ecef::of(b)).0 * 1.3 / (4.0 / 3.6);
    let mut times = vec![vec![0.0; places.len()]; places.len()];
    let along = net.times(places);
    for a in 0..places.len() {
        for b in a + 1..places.len() {
            let along = along[a][b].map_or(f64::INFINITY, |time| time.0);
            let time = along.min(2.0 * straight(places[a], places[b]));
            times[a][b] = time;
            times[b][a] = time;
        }
    }
    times
}

/// Where the round begins, with its name.
pub(super) fn trailhead(arguments: &Arguments, years: &Years) -> Result<(LatLon, String)> {
    let kept = years.store.trailheads()?;
    if let Some(asked) = &arguments.from {
        let wanted = asked.trim().to_lowercase();
        return match kept.iter().find(|trailhead| trailhead.name.to_lowercase() == wanted) {
            Some(trailhead) => Ok((trailhead.at, trailhead.name.clone())),
            None => one_position(asked).map(|at| (at, "start".to_owned())),
        };
    }
    if let [only] = kept.as_slice() {
        return Ok((only.at, only.name.clone()));
    }
    let began: Vec<LatLon> = years.outings.iter().filter_map(|outing| outing.began).collect();
    let near = |place: &LatLon| {
        let spot = Ecef::of(*place);
        began.iter().filter(|other| Ecef::of(**other).distance(spot).0 < 150.0).count()
    };
    let began = began.iter().max_by_key(|place| near(place)).copied();
    began.map(|at| (at, "start".to_owned())).ok_or_else(|| {
        Error::input("no start point is known")
            .because("the store has no trailhead and no track")
            .hint("give one, as --from \"-42.6 146.1\", or add it with `trug trailhead add`")
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_round_that_no_site_is_probable_enough_for_says_so() {
        assert_eq!(
            too_improbable(20, 0.419, 0.95),
            "No round is planned: the probability is below 95 % (--least-chance) at all 20 sites that can be \
             reached; the highest is 41 %."
        );
        assert!(too_improbable(1, 0.0, 0.05).contains("at the one site"));
    }

    #[test]
    fn an_empty_round_expects_zero_finds_not_minus_zero() {
        let tour = Tour { sites: Vec::new(), worth: -0.0, time: 0.0, exact: true };
        let choices =
            Choices { travel: vec![vec![0.0]], worth: Vec::new(), stay: 600.0, time: 3_600.0 };
        let start = Timestamp::UNIX_EPOCH;
        let round = round(&tour, &choices, &[], (start, TimeZone::UTC, String::new()));
        assert!(round.expected_finds.is_sign_positive());
    }

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

    #[test]
    fn turning_back_and_being_back_never_contradict() {
        let travel =
            vec![vec![0.0, 600.0, 2_400.0], vec![600.0, 0.0, 1_800.0], vec![2_400.0, 1_800.0, 0.0]];
        for (time, sites) in
            [(7_000.0, vec![0, 1]), (40_000.0, vec![1, 0]), (5_500.0, vec![1]), (90_000.0, vec![0])]
        {
            let choices =
                Choices { travel: travel.clone(), worth: vec![0.5, 0.5], stay: 600.0, time };
            let walked = crate::analyse::next::tour::length(&choices, &sites);
            let tour = Tour { sites, worth: 1.0, time: walked, exact: true };
            let turn = turning(&tour, &choices);
            assert!(turn <= tour.time && tour.time <= choices.time, "{turn}");
            let home = farthest_from_home(&tour.sites, &travel);
            assert!(turn + home <= choices.time, "{turn}");
            // before the plan leaves its last stop it is the limit of one stop, which is named
            let last = tour.sites.last().map_or(0.0, |site| travel[site + 1][0]);
            let far = tour.sites.iter().position(|site| travel[site + 1][0] >= home);
            let named = (turn < tour.time - last).then_some(far.unwrap() + 1);
            assert_eq!(turning_from(&tour, &choices), named);
        }
    }
}
