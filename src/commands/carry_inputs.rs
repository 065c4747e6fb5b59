//! Reads what `trug carry` puts into the page: area, safe places, paths, open ground, light, declination. Layer:
//! `commands`.

use jiff::Timestamp;

use super::carry::Arguments;
use super::console::Console;
use super::ground::{self, GroundArguments};
use super::others::{self, Prepared};
use super::wayout;
use super::wayout_inputs::{Inputs, near_the_place, no_zone};
use super::{carry_paths, place, wayout_plan};
use crate::earth::elevation::{Bounds, Relief};
use crate::earth::height_grid::GroundArea;
use crate::earth::local::Plane;
use crate::earth::{geodesic, zone};
use crate::error::{Error, Result};
use crate::model::TrackPoint;
use crate::present::carry::Carry;
use crate::present::sensitive::Care;
use crate::store::{FindQuery, Store};
use crate::units::{Degrees, LatLon, Metres, Seconds, TimeZone};
use crate::wayout::area_light;
use crate::wayout::goal::Goal;
use crate::wayout::land_field::{self, Land, LandField};
use crate::wayout::paths::{Part, WALKED_OFTEN};

/// The light is given from noon of the day before to so many days later: two weeks, and the three days that a
/// verdict looks ahead.
const DAYS: f64 = 18.0;
/// The least and the largest half side of the area, kilometres.
const REACHES: std::ops::RangeInclusive<f64> = 0.5..=14.0;

/// The shortest length that the map of the page shows.
const FINEST: Metres = Metres(5.0);
/// The plane of the page holds up to this latitude.
const NEAR_A_POLE: f64 = 80.0;

/// Everything but the sites.
pub(super) fn gather(arguments: &Arguments, console: &mut Console) -> Result<Carry> {
    let reach = checked_reach(arguments.reach)?;
    let guess = arguments
        .date
        .unwrap_or_else(|| jiff::tz::TimeZone::system().to_datetime(Timestamp::now()).date());
    let asked = wayout::Arguments::to_carry(arguments, guess);
    let inputs = Inputs::gather(&asked, console)?;
    let prepared = generalised(arguments)?;
    let concealed = prepared.as_ref().map(|all| all.shown.decisions().concealed());
    let reveals = |at: LatLon| concealed.as_ref().is_some_and(|cells| cells.holds(at));
    let mut safe = inputs.goals.clone();
    if inputs.goals_of_track {
        let leads = prepared.as_ref().is_some_and(|all| starts_at_finds(all, &inputs.track));
        safe.retain(|goal| !leads && !reveals(goal.at));
        if safe.len() < inputs.goals.len() {
            console.warning(&start_withheld());
        }
    }
    for place in &arguments.safe {
        safe.push(safe_place(place)?);
    }
    let centre = centre(arguments, &safe, &inputs.track)?;
    if centre.latitude().abs() > NEAR_A_POLE {
        return Err(Error::input("no page can be made so near to a pole")
            .because(format!(
                "{centre} lies beyond {NEAR_A_POLE} degrees; the page computes on a plane"
            ))
            .hint("use `trug wayout`, which computes everywhere"));
    }
    let zone = zone_of(arguments, centre)?;
    let day = arguments.date.unwrap_or_else(|| zone.0.to_datetime(Timestamp::now()).date());
    let plane = Plane::about(centre);
    let within = |at: LatLon| {
        let (east, north) = plane.to_plane(at);
        east.abs().max(north.abs()) <= reach.0
    };
    safe.retain(|goal| within(goal.at));
    safe.sort_by(|a, b| {
        let off = |goal: &Goal| geodesic::distance(centre, goal.at).0;
        off(a).total_cmp(&off(b))
    });
    if safe.is_empty() {
        return Err(no_safe_place(centre, reach));
    }
    let (declination, compass) = Inputs::declination(centre, day, &asked)?;
    let steps = [-reach.0, 0.0, reach.0];
    let grid = steps.iter().flat_map(|north| steps.iter().map(move |east| (*east, *north)));
    let declinations = grid
        .map(|(east, north)| {
            let at = plane.from_plane(east, north);
            Inputs::declination(at, day, &asked).map(|found| found.0.east)
        })
        .collect::<Result<Vec<Degrees>>>()?;
    let noon = wayout_plan::noon(day, &zone.0)?;
    let corners = [(0.0, 0.0), (-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)]
        .map(|(east, north)| plane.from_plane(east * reach.0, north * reach.0));
    let light = area_light::darkest(
        &corners,
        Seconds(-86_400.0).after(noon),
        Seconds(DAYS * 86_400.0).after(noon),
    )?;
    let under = under(arguments, console)?;
    let square = GroundArea { middle: centre, half_wide: reach, half_high: reach, finest: FINEST };
    let base = under.source.features(&square, under.store.as_ref())?;
    let (paths, paths_withheld) =
        carry_paths::known(arguments, &inputs, &base, within, prepared.as_ref())?;
    let tiles = (under.source.relief(), under.given);
    let land = land(&inputs, tiles, &safe, paths.as_ref(), (centre, reach))?;
    let of_the_day = |point: &TrackPoint| {
        arguments.track.is_some() || zone.0.to_datetime(point.time).date() == day
    };
    // where the collector stayed would lead to a find
    let kept_back =
        arguments.track.is_none() && prepared.as_ref().is_some_and(|all| leads_to_finds(all, day));
    let track = own_track(&inputs.track, |point| {
        !kept_back && of_the_day(point) && within(point.at) && !reveals(point.at)
    });
    Ok(Carry {
        made: Timestamp::now(),
        day,
        zone,
        centre,
        reach,
        light,
        declination,
        declinations,
        compass,
        safe,
        closed: inputs.avoid,
        paths,
        land,
        base,
        track,
        sites: Vec::new(),
        round: None,
        withheld: 0,
        paths_withheld: paths_withheld || (kept_back && !inputs.track.is_empty()),
        sealed: None,
        paces: arguments.paces,
        steep: Degrees(arguments.steep),
        first_number: arguments.first_number.trim().to_owned(),
    })
}

/// Elevation tiles and base maps, given or kept.
struct Under {
    source: ground::GroundSource,
    /// Whether elevation tiles are given.
    given: bool,
    store: Option<Store>,
}

/// What the page stands on: given tiles replace those of the store, given base maps are added to its own. Nothing
/// is kept.
fn under(arguments: &Arguments, console: &mut Console) -> Result<Under> {
    let asked = GroundArguments::new(arguments.elevation.clone(), arguments.base.clone());
    let given = asked.has_tiles();
    let path = arguments.store.path();
    let store = if path.exists() { Some(arguments.store.open(console)?) } else { None };
    let mut source = asked.open(console)?;
    if let Some(store) = store.as_ref().filter(|_| !given) {
        source = source.with_tiles_of(ground::kept_of(store, console)?);
    }
    Ok(Under { source, given, store })
}

fn checked_reach(kilometres: f64) -> Result<Metres> {
    if REACHES.contains(&kilometres) {
        return Ok(Metres(kilometres * 1e3));
    }
    Err(Error::input(format!("--reach {kilometres} is not possible"))
        .because(format!("a page holds {} to {} km", REACHES.start(), REACHES.end()))
        .hint("give the kilometres from the middle to each side, as --reach 5"))
}

fn safe_place(text: &str) -> Result<Goal> {
    let (name, position) = text.split_once('=').ok_or_else(|| {
        Error::input(format!("--safe {text:?} has no name"))
            .because("there is no = between a name and a position")
            .hint("write it as --safe \"Camp=-42.6110 146.1010\"")
    })?;
    Ok(Goal { name: name.trim().to_owned(), at: place::read(position)?.at })
}

fn centre(arguments: &Arguments, safe: &[Goal], track: &[TrackPoint]) -> Result<LatLon> {
    if let Some(wanted) = &arguments.area {
        let same = |goal: &&Goal| goal.name.to_lowercase() == wanted.trim().to_lowercase();
        return match safe.iter().find(same) {
            Some(goal) => Ok(goal.at),
            None => place::read(wanted).map(|place| place.at),
        };
    }
    let off = |goal: &&Goal, at: LatLon| geodesic::distance(goal.at, at).0;
    match (safe, track.last()) {
        ([only], _) => Ok(only.at),
        ([_, ..], Some(last)) => {
            let nearest = |a: &&Goal, b: &&Goal| off(a, last.at).total_cmp(&off(b, last.at));
            Ok(safe.iter().min_by(nearest).map_or(last.at, |goal| goal.at))
        }
        _ => Err(Error::input("the area of the page is unknown")
            .because(match safe.len() {
                0 => "there is neither a trailhead nor a track".to_owned(),
                many => format!("there are {many} trailheads and no track"),
            })
            .hint("name its middle with --area, a trailhead or a position")),
    }
}

fn no_safe_place(centre: LatLon, reach: Metres) -> Error {
    Error::input("no safe place is known in the area")
        .because(format!(
            "no trailhead lies within {:.1} km of {centre} to each side",
            reach.0 / 1e3
        ))
        .hint("add one with `trug trailhead add NAME POSITION`, or give --safe NAME=POSITION")
}

fn zone_of(arguments: &Arguments, centre: LatLon) -> Result<(TimeZone, String)> {
    let of_place = zone::at(centre);
    let Some(name) = &arguments.zone else {
        return of_place
            .map(|(name, zone)| (zone, name))
            .ok_or_else(|| no_zone("the area", Some(centre)));
    };
    let stated = super::day::zone(name)?;
    if let Some(local) = &of_place {
        near_the_place((name, &stated.zone), local)?;
    }
    Ok((stated.zone, stated.name))
}

/// The finds with what the sensitivity rules make of them; `None` without a store or rules.
fn generalised(arguments: &Arguments) -> Result<Option<Prepared>> {
    let path = arguments.store.path();
    if !path.exists() {
        return Ok(None);
    }
    let store = Store::open(&path)?;
    if store.sensitivity_rules()?.is_empty() {
        return Ok(None);
    }
    others::prepare_query(&store, &FindQuery::default(), Care::ExactUnlessSensitive).map(Some)
}

/// Whether the track of a day belongs to an outing with a sensitive find.
fn leads_to_finds(prepared: &Prepared, day: jiff::civil::Date) -> bool {
    let guarded = &prepared.shown.guarded;
    prepared.originals.iter().any(|find| find.date == day && guarded.contains(&find.outing))
}

/// Whether a track began on the day of an outing with a sensitive find.
fn starts_at_finds(prepared: &Prepared, track: &[TrackPoint]) -> bool {
    let Some(first) = track.first() else { return false };
    let zone = zone::at(first.at).map_or(TimeZone::UTC, |(_, zone)| zone);
    leads_to_finds(prepared, zone.to_datetime(first.time).date())
}

fn start_withheld() -> Error {
    Error::input("the start of the track is not a safe place of the page")
        .because("it belongs to an outing with a sensitive find, or lies in the cell of one")
        .hint(
            "add a trailhead with `trug trailhead add NAME POSITION`, or give --safe NAME=POSITION",
        )
}

/// All known paths in the area, with those of base maps.
pub(super) fn all_paths(
    arguments: &Arguments,
    carried: &Carry,
    console: &mut Console,
) -> Result<Option<Part>> {
    let asked = wayout::Arguments::to_carry(arguments, carried.day);
    let inputs = Inputs::gather(&asked, console)?;
    let plane = Plane::about(carried.centre);
    let within = |at: LatLon| {
        let (east, north) = plane.to_plane(at);
        east.abs().max(north.abs()) <= carried.reach.0
    };
    Ok(carry_paths::part(inputs.net.as_ref(), &carried.base, within))
}

fn land(
    inputs: &Inputs,
    (relief, given): (&Relief, bool),
    safe: &[Goal],
    paths: Option<&Part>,
    (centre, reach): (LatLon, Metres),
) -> Result<Option<LandField>> {
    let corridors = corridors(paths);
    let goals: Vec<LatLon> = safe.iter().map(|goal| goal.at).collect();
    let land = |ground| Land { ground, avoid: &inputs.avoid, corridors: &corridors, goals: &goals };
    let level = || {
        let around = !inputs.avoid.is_empty();
        around.then(|| land_field::compute(&land(None), centre, reach)).flatten()
    };
    let spacing = relief.spacing(centre);
    // tiles that the store keeps may lie elsewhere; those that are given must cover the area
    if spacing.is_none() && !given {
        return Ok(level());
    }
    let no_heights = || {
        Error::input("the elevation tiles do not cover the area")
            .because(format!("they have no height around {centre}"))
            .hint("give the tiles of the area, or leave --elevation out")
    };
    let bounds = Bounds::about(&[centre], reach * 1.01).ok_or_else(no_heights)?;
    let spacing = spacing.ok_or_else(no_heights)?;
    let ground = relief.read(&bounds)?;
    let land = land(Some((&ground, spacing)));
    land_field::compute(&land, centre, reach).map(Some).ok_or_else(no_heights)
}

/// Lines that were walked often.
fn corridors(paths: Option<&Part>) -> Vec<Vec<LatLon>> {
    let Some(part) = paths else { return Vec::new() };
    let at = |node: u32| part.nodes.get(node as usize).map(|(at, _)| *at);
    part.edges
        .iter()
        .filter(|edge| edge.passes >= WALKED_OFTEN)
        .filter_map(|edge| Some(vec![at(edge.from)?, at(edge.to)?]))
        .collect()
}

/// The points of the track that are wanted; where points are left out, the track has a gap.
fn own_track(track: &[TrackPoint], wanted: impl Fn(&TrackPoint) -> bool) -> Vec<TrackPoint> {
    let mut own: Vec<TrackPoint> = Vec::new();
    let mut left_out = false;
    for point in track {
        if wanted(point) {
            if let Some(last) = own.last_mut() {
                last.gap_after |= left_out;
            }
            own.push(*point);
            left_out = false;
        } else {
            left_out = true;
        }
    }
    own
}
