//! Assembles the report of the way out: routes in order, light, goal and notes. Refuses where a
//! bearing would be a guess; a route that cannot be determined is listed with its reason.
//! Layer: `wayout`.

use super::across::{self, Area, Land};
use super::daylight::Daylight;
use super::direct::{self, Direct};
use super::goal::Goal;
use super::legs::{Country, Paces, Route, RouteKind};
use super::light::Verdict;
use super::offset::{self, Offset};
use super::pace::Surface;
use super::paths::Net;
use super::rank::{farther, mark_closed, ranked, weight};
use super::retrace;
use super::start::{LegPrecision, Start, bearing_range, far_enough, near_enough};
use crate::earth::declination::{self, Compass};
use crate::earth::elevation::Ground;
use crate::earth::geodesic;
use crate::error::{Result, WayOutFault};
use crate::model::{
    Landmark, NoRoute, OffsetLine, RankReason, RouteNote, TrackPoint, WayOutWarning,
};
use crate::units::{
    Declination, Degrees, LatLon, MagneticBearing, Metres, Radius95, SeaLevelHeight, TimeZone,
    Timestamp,
};

/// Uncertainty from which the bearing is reported as a range.
pub const WIDE_RANGE: Degrees = Degrees(10.0);
/// The most goals compared, nearest by straight line first.
const MOST_GOALS: usize = 8;

/// The request.
///
/// Everything that the way out depends on, "now" included: the same request always gives the same answer. What is
/// left empty is not used, and the answer lists the routes that it could not determine for that reason.
pub struct Request<'a> {
    /// The time of departure.
    pub now: Timestamp,
    /// The local clock.
    pub zone: TimeZone,
    /// Where from.
    pub start: Start,
    /// Where to: any of them.
    pub goals: Vec<Goal>,
    /// The declination at the start on the day.
    pub declination: Declination,
    /// Whether a compass can be relied on there.
    pub compass: Compass,
    /// The day's track, where there is one.
    pub track: &'a [TrackPoint],
    /// All tracks, where there are some.
    pub net: Option<&'a Net>,
    /// All tracks with the paths of base maps, where there are some.
    pub mapped: Option<&'a Net>,
    /// Heights, where there are some, and how far apart their posts stand.
    pub ground: Option<(&'a Ground, Metres)>,
    /// Closed areas.
    pub avoid: &'a [Area],
    /// A line to reach near the goal.
    pub line: Catching<'a>,
    /// The walker's paces.
    pub paces: Paces,
    /// Slopes steeper than this are flagged.
    pub steep: Degrees,
}

impl Request<'_> {
    /// The request for somebody who stands at a place and has no more than a goal, a clock and a
    /// compass: no track, stored paths or elevation, 148 paces for 100 m, slopes of 30 degrees marked.
    ///
    /// The declination is computed for the start on the local date of `now`; set the field to use a stated one.
    ///
    /// # Errors
    /// When the declination of the day is not known.
    pub fn new(start: Start, goal: Goal, now: Timestamp, zone: TimeZone) -> Result<Self> {
        let day = zone.to_datetime(now).date();
        let field = declination::field(start.at, SeaLevelHeight(Metres(0.0)), day)?;
        Ok(Self {
            now,
            zone,
            start,
            goals: vec![goal],
            declination: field.declination,
            compass: field.compass(),
            track: &[],
            net: None,
            mapped: None,
            ground: None,
            avoid: &[],
            line: Catching::IfKnown,
            paces: Paces::ACROSS_COUNTRY,
            steep: Degrees(30.0),
        })
    }
}

/// The line to reach for a deliberate offset.
#[derive(Clone, Copy)]
pub enum Catching<'a> {
    /// One that was given.
    Given(&'a [LatLon]),
    /// The path past the goal, from the tracks of all days; reported where there is none.
    OfTracks,
    /// The same where there is one.
    IfKnown,
}

/// The report.
///
/// The first of `ways` is the recommended one; the straight line is always among them. `warnings` have to be shown
/// whenever a bearing is: they say where it is a guess.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct WayOut {
    /// The time of departure.
    pub now: Timestamp,
    /// Where from.
    pub from: Start,
    /// Where to.
    pub to: Goal,
    /// The straight line.
    pub direct: Direct,
    /// The routes, best first, each with verdict and reason for its rank.
    pub ways: Vec<Ranked>,
    /// Routes that cannot be determined, with the reason.
    pub not_possible: Vec<(RouteKind, NoRoute)>,
    /// A deliberate offset, where a line to reach is known.
    pub offset: Option<Offset>,
    /// The light about the moment of setting out, at the darker of start and goal.
    pub light: Daylight,
    /// The local clock's zone.
    pub zone: TimeZone,
    /// Notes on uncertainty.
    pub warnings: Vec<WayOutWarning>,
}

/// A route with its rank.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Ranked {
    /// The route.
    pub way: Route,
    /// Its verdict.
    pub verdict: Verdict,
    /// The reason for its rank.
    pub reason: RankReason,
}

impl WayOut {
    /// The best route.
    #[must_use]
    pub fn best(&self) -> Option<&Ranked> {
        self.ways.first()
    }

    /// The precision of the first leg of a route.
    #[must_use]
    pub fn first_leg(&self, route: &Route) -> Option<LegPrecision> {
        route.legs.first().map(|leg| LegPrecision::of(&self.from, leg.distance))
    }
}

/// Computes the report.
///
/// Of several goals the nearest eight by straight line are compared, and the one whose quickest route costs least
/// is chosen; all routes then lead to that one. Goals beyond walking distance (96 km) are left out.
///
/// See the example of the [module](crate::wayout).
///
/// # Errors
/// When there is no goal, the position is too uncertain for the distance, or daylight at the place
/// cannot be computed.
pub fn find(request: &Request<'_>) -> Result<WayOut> {
    let goals = nearest_goals(request)?;
    let places: Vec<LatLon> = goals.iter().map(|goal| goal.at).collect();
    let country = Country {
        ground: request.ground.map(|(ground, _)| ground),
        declination: request.declination,
        paces: request.paces,
        steep: request.steep,
    };
    let (mut found, not_possible) = other_ways(request, &goals, &places, &country);
    let chosen = found
        .iter()
        .min_by(|a, b| weight(&a.1).total_cmp(&weight(&b.1)))
        .map_or(0, |(goal, _)| *goal);
    let to = goals.get(chosen).cloned().ok_or(WayOutFault::NoGoal)?;
    far_enough(&request.start, to.at, &to.name)?;
    found.retain(|(goal, _)| *goal == chosen);
    found.push((chosen, straight(request, &to, &country)));
    for (_, route) in &mut found {
        mark_closed(route, request.avoid);
    }
    let light = Daylight::between(request.start.at, &[to.at], request.now)?;
    let offset = offset(request, &to);
    let direct = direct::line(request.start.at, to.at, request.declination, request.paces);
    Ok(WayOut {
        now: request.now,
        ways: ranked(found.into_iter().map(|(_, route)| route).collect(), request, &light),
        not_possible,
        warnings: warnings(request, &direct, &to.name, offset.is_none()),
        direct,
        offset,
        light,
        zone: request.zone.clone(),
        from: request.start.clone(),
        to,
    })
}

fn offset(request: &Request<'_>, to: &Goal) -> Option<Offset> {
    let aim = |line: &[LatLon]| {
        offset::aim(&request.start, to.at, line, &request.declination, request.paces)
    };
    match request.line {
        Catching::Given(line) => aim(line),
        Catching::OfTracks | Catching::IfKnown => {
            let mut offset = aim(&request.net?.trail(to.at)?)?;
            offset.line = OffsetLine::KnownPath;
            Some(offset)
        }
    }
}

fn nearest_goals(request: &Request<'_>) -> Result<Vec<Goal>> {
    let mut goals = request.goals.clone();
    let off = |goal: &Goal| geodesic::distance(request.start.at, goal.at).0;
    goals.sort_by(|a, b| off(a).total_cmp(&off(b)));
    goals.truncate(MOST_GOALS);
    let nearest = goals.first().ok_or(WayOutFault::NoGoal)?;
    near_enough(&request.start, nearest.at, &nearest.name)?;
    goals.retain(|goal| near_enough(&request.start, goal.at, &goal.name).is_ok());
    Ok(goals)
}

type Found = (Vec<(usize, Route)>, Vec<(RouteKind, NoRoute)>);

/// Every kind of route but the straight line, each with the goal that it leads to, and why the others cannot be
/// determined.
fn other_ways(
    request: &Request<'_>,
    goals: &[Goal],
    places: &[LatLon],
    country: &Country<'_>,
) -> Found {
    let from = request.start.at;
    let mut found = Vec::new();
    let mut not_possible = Vec::new();
    if let Some(net) = request.net {
        match retrace::known(net, from, places, country) {
            Some(route) => found.push(route),
            None => not_possible.push((RouteKind::KnownPaths, NoRoute::TracksDoNotLead)),
        }
    }
    let mapped = request.mapped.and_then(|net| retrace::mapped(net, from, places, country));
    found.extend(mapped);
    if let Some((ground, spacing)) = request.ground {
        let corridors = corridors(request.net, from, places);
        let land = Land { ground, spacing, avoid: request.avoid, corridors: &corridors };
        match across::route(&land, from, places, country) {
            Ok(route) => found.push(route),
            Err(reason) => not_possible.push((RouteKind::Terrain, reason)),
        }
    }
    if !request.track.is_empty() {
        let back = goals.iter().enumerate().find_map(|(index, goal)| {
            let route = retrace::route(request.track, from, goal.at, country, &request.zone)?;
            Some((index, route))
        });
        match back {
            Some(route) => found.push(route),
            None => not_possible.push((RouteKind::Retrace, NoRoute::TrackDoesNotLead)),
        }
    }
    (found, not_possible)
}

/// Lines walked often, near the places.
fn corridors(net: Option<&Net>, from: LatLon, goals: &[LatLon]) -> Vec<Vec<LatLon>> {
    let reach =
        goals.iter().map(|goal| geodesic::distance(from, *goal).0).fold(1_000.0, f64::max) * 1.5;
    net.into_iter()
        .flat_map(Net::pieces)
        .filter(|(a, _, passes)| {
            *passes >= super::paths::WALKED_OFTEN
                && crate::earth::local::distance(from, *a).0 < reach
        })
        .map(|(a, b, _)| vec![a, b])
        .collect()
}

/// The straight line, timed off the path: its obstacles are not known, and it says so.
fn straight(request: &Request<'_>, to: &Goal, country: &Country<'_>) -> Route {
    let mut route = Route::through(
        RouteKind::Direct,
        &[request.start.at, to.at],
        country,
        |_| Surface::OffPath,
        |_| vec![Landmark::Goal { name: Some(to.name.clone()) }],
    );
    route.notes.push(RouteNote::ObstaclesUnknown);
    route
}

/// What the walker has to know before the bearing: a weak field, a declination known to no better than a degree, an
/// offset that was asked for and cannot be had, a start that is uncertain.
fn warnings(
    request: &Request<'_>,
    direct: &Direct,
    goal: &str,
    no_offset: bool,
) -> Vec<WayOutWarning> {
    let mut warnings = Vec::new();
    warnings.extend(match request.compass {
        Compass::Good => None,
        Compass::Sluggish => Some(WayOutWarning::CompassUnreliable),
        Compass::Useless => Some(WayOutWarning::CompassUnusable),
    });
    let sigma = request.declination.uncertainty;
    if sigma.0 > 1.0 {
        warnings.push(WayOutWarning::DeclinationUncertain { sigma });
    }
    let line = match request.line {
        Catching::Given(_) => Some(OffsetLine::Given),
        Catching::OfTracks => Some(OffsetLine::KnownPath),
        Catching::IfKnown => None,
    };
    warnings.extend(line.filter(|_| no_offset).map(|line| WayOutWarning::NoOffset { line }));
    let radius = request.start.radius;
    let allowed = farther(radius.metres());
    if allowed.0 >= 60.0 {
        warnings.push(WayOutWarning::LongerByRadius { radius, allowed });
    }
    warnings.extend(position_warning(radius, direct, goal));
    warnings
}

/// The range of bearings that the position allows, or only its radius.
fn position_warning(radius: Radius95, direct: &Direct, goal: &str) -> Option<WayOutWarning> {
    let range = bearing_range(radius, direct.distance);
    if range.0 < WIDE_RANGE.0 {
        let uncertain = WayOutWarning::PositionUncertain { radius };
        return (radius.metres().0 > 100.0).then_some(uncertain);
    }
    let turned = |by: Degrees| MagneticBearing::new(direct.magnetic_bearing.degrees() + by);
    Some(WayOutWarning::BearingRange {
        goal: goal.to_owned(),
        radius,
        nearest: direct.distance - radius.metres(),
        farthest: direct.distance + radius.metres(),
        from: turned(-range),
        to: turned(range),
    })
}
