//! Reads the inputs of `trug wayout`: the track, stored paths and trailheads, positions and times.
//! Layer: `commands`.

use std::path::Path;

use jiff::Timestamp;
use jiff::civil::{Date, DateTime};

use super::console::Console;
use super::place;
use super::wayout::{Arguments, time_of_day};
use super::wayout_lines;
use crate::earth::declination::{self, Compass};
use crate::earth::elevation::{Bounds, Ground, Relief};
use crate::earth::{geodesic, zone};
use crate::error::{Error, Result};
use crate::ingest::folder;
use crate::join::{self, Options};
use crate::model::{BaseClass, BaseFeature, TrackPoint};
use crate::present::way_out::findings;
use crate::store::{Store, Trailhead};
use crate::units::{
    Declination, Degrees, LatLon, MagneticModel, Metres, Radius95, SeaLevelHeight, Seconds,
    TimeZone,
};
use crate::wayout::across::Area;
use crate::wayout::goal::{Goal, left_the_road};
use crate::wayout::legs::Paces;
use crate::wayout::paths::{Builder, Net};
use crate::wayout::reckoning;
use crate::wayout::report::{Catching, Request};
use crate::wayout::start::Start;

/// GPS uncertainty where none is recorded (Darwin Core, coordinateUncertaintyInMeters).
const UNRECORDED: Metres = Metres(30.0);
/// The largest radius of a stated position: a day's walk.
const WIDEST: Metres = Metres(96_000.0);
/// The largest age of a stored track that counts as today's.
const TODAY: Seconds = Seconds(86_400.0);
/// Name and version of the stored path network.
const NET: (&str, &str) = ("paths", "1");
/// Twenty-four hours at 4 km/h; goals farther away are refused.
const A_DAYS_WALK: Metres = Metres(96_000.0);
/// The largest distance from the start for which elevation is read.
const FARTHEST: Metres = Metres(60_000.0);

/// The inputs that do not depend on the time.
pub(super) struct Inputs {
    pub(super) track: Vec<TrackPoint>,
    pub(super) net: Option<Net>,
    pub(super) goals: Vec<Goal>,
    /// Whether the goals are read off the track, since the user stated none.
    pub(super) goals_of_track: bool,
    line: Line,
    pub(super) avoid: Vec<Area>,
    from: Option<(LatLon, Radius95)>,
    /// The same as a place chosen on a map: its figures and its datum alone bound it.
    chosen: Option<(LatLon, Radius95)>,
}

/// The line to aim at.
enum Line {
    Given(Vec<LatLon>),
    OfTracks,
    NotAsked,
}

/// The inputs that depend on the time.
pub(super) struct Asked {
    now: Timestamp,
    zone: TimeZone,
    start: Start,
    declination: (Declination, Compass),
    ground: Option<(Ground, Metres)>,
    mapped: Option<Net>,
}

impl Inputs {
    pub(super) fn gather(arguments: &Arguments, console: &mut Console) -> Result<Self> {
        check_numbers(arguments)?;
        let from =
            arguments.from.as_deref().map(|text| stated(text, arguments.within)).transpose()?;
        let chosen =
            arguments.from.as_deref().map(|text| chosen(text, arguments.within)).transpose()?;
        let path = arguments.store.path();
        let mut store = if path.exists() { Some(arguments.store.open(console)?) } else { None };
        if store.is_none()
            && from.is_none()
            && arguments.track.is_none()
            && arguments.plan.is_none()
        {
            return Err(no_store(&path, "no start point is known").hint(
                "name the store with --store, or give your position with --from or --track",
            ));
        }
        let track = match (&arguments.track, &store) {
            (Some(file), _) => track_of(file, console)?,
            (None, Some(store)) => last_track(store)?,
            (None, None) => Vec::new(),
        };
        let net = match &mut store {
            Some(store) => net_of(store, console)?,
            None => None,
        };
        let kept = store.as_ref().map(Store::trailheads).transpose()?.unwrap_or_default();
        let goals_of_track = arguments.to.is_none() && kept.is_empty();
        let goals = goals(arguments, store.as_ref(), &kept, &track)?;
        let mut avoid = Vec::new();
        for file in &arguments.avoid {
            avoid.extend(wayout_lines::areas(file)?);
        }
        let line = match &arguments.line {
            Some(word) if word == Path::new("tracks") => Line::OfTracks,
            Some(file) => wayout_lines::lines(file)?
                .into_iter()
                .max_by_key(Vec::len)
                .map_or(Line::NotAsked, Line::Given),
            None => Line::NotAsked,
        };
        Ok(Self { track, net, goals, goals_of_track, line, avoid, from, chosen })
    }

    /// The start time: `--at`, else now. A local time needs a known zone.
    pub(super) fn moment(&self, arguments: &Arguments, zone: &TimeZone) -> Result<Timestamp> {
        self.moment_on(zone.to_datetime(Timestamp::now()).date(), arguments, zone)
    }

    /// The same, where a time without a date is of the given day.
    pub(super) fn moment_on(
        &self,
        day: Date,
        arguments: &Arguments,
        zone: &TimeZone,
    ) -> Result<Timestamp> {
        let Some(text) = arguments.at.as_deref().map(str::trim) else {
            return Ok(Timestamp::now());
        };
        if let Some(instant) = super::day::instant(text)? {
            return Ok(instant);
        }
        let local = local_time(text, day)?;
        if self.known_zone(arguments)?.is_none() {
            return Err(no_zone(&format!("the local time {text}"), self.middle()));
        }
        zone.to_ambiguous_timestamp(local).unambiguous().map_err(|error| {
            Error::input(format!("{text} does not name one instant"))
                .because(error.to_string())
                .hint("add the offset, as 2026-05-03T15:20+10:00")
        })
    }

    /// The position whose time zone applies: the start, the end of the track, else the first destination.
    pub(super) fn middle(&self) -> Option<LatLon> {
        self.from
            .map(|(at, _)| at)
            .or_else(|| self.track.last().map(|point| point.at))
            .or_else(|| self.goals.first().map(|goal| goal.at))
    }

    /// The destinations within a day's walk of a place, whose light counts too.
    pub(super) fn ends(&self, place: LatLon) -> Vec<LatLon> {
        let near = |at: &LatLon| geodesic::distance(place, *at).0 <= A_DAYS_WALK.0;
        self.goals.iter().map(|goal| goal.at).filter(near).collect()
    }

    /// The farthest point of a plan.
    pub(super) fn farthest(&self) -> Option<(LatLon, Radius95)> {
        self.chosen
    }

    /// The stated position.
    pub(super) fn stated_from(&self) -> Option<LatLon> {
        self.from.map(|(at, _)| at)
    }

    /// The local time zone: as stated, else that of the position; UTC where neither is known.
    pub(super) fn zone(&self, arguments: &Arguments) -> Result<TimeZone> {
        Ok(self.known_zone(arguments)?.unwrap_or(TimeZone::UTC))
    }

    /// The same, `None` where no zone is known.
    pub(super) fn known_zone(&self, arguments: &Arguments) -> Result<Option<TimeZone>> {
        let of_place = self.middle().and_then(zone::at);
        let Some(name) = &arguments.zone else {
            return Ok(of_place.map(|(_, zone)| zone));
        };
        let stated = super::day::zone(name)?.zone;
        if let Some(local) = &of_place {
            near_the_place((name, &stated), local)?;
        }
        Ok(Some(stated))
    }

    /// The lines that an area page may lead to: the one given, or the paths past the destinations.
    pub(super) fn safe_lines(&self) -> Vec<Vec<LatLon>> {
        match (&self.line, &self.net) {
            (Line::Given(line), _) => vec![line.clone()],
            (Line::OfTracks, Some(net)) => {
                self.goals.iter().filter_map(|goal| net.trail(goal.at)).collect()
            }
            _ => Vec::new(),
        }
    }

    /// Positions that an area page must include.
    pub(super) fn area_places(&self) -> Vec<LatLon> {
        let near = |place: &LatLon| {
            self.middle().is_none_or(|middle| geodesic::distance(middle, *place).0 < 20_000.0)
        };
        let lines = self.net.iter().flat_map(Net::pieces).map(|(from, _, _)| from);
        let places = self.from.map(|(at, _)| at).into_iter().chain(self.track.iter().map(|p| p.at));
        places.chain(lines).filter(near).collect()
    }

    /// Today's track and the known paths near the area, for its page.
    pub(super) fn area_lines(&self) -> Vec<Vec<LatLon>> {
        let near = |place: &LatLon| {
            self.middle().is_none_or(|middle| geodesic::distance(middle, *place).0 < 20_000.0)
        };
        let paths = self.net.iter().flat_map(Net::pieces).map(|(from, to, _)| vec![from, to]);
        let pieces = self.track.split_inclusive(|point| point.gap_after);
        let track = pieces.map(|piece| piece.iter().map(|point| point.at).collect());
        paths.chain(track).filter(|line: &Vec<LatLon>| line.iter().any(near)).collect()
    }

    pub(super) fn declination(
        place: LatLon,
        day: Date,
        arguments: &Arguments,
    ) -> Result<(Declination, Compass)> {
        if let Some(east) = arguments.declination {
            let stated = Declination {
                east: Degrees(east),
                uncertainty: Degrees(0.5),
                model: MagneticModel::Stated,
                date: day,
                place,
            };
            return Ok((stated, Compass::Good));
        }
        let field = declination::field(place, SeaLevelHeight(Metres(0.0)), day)?;
        Ok((field.declination, field.compass()))
    }

    /// The start at the given time, with the data read for it.
    pub(super) fn asked(&self, arguments: &Arguments) -> Result<Asked> {
        let zone = self.zone(arguments)?;
        let now = self.moment(arguments, &zone)?;
        let start = match self.from {
            Some((at, radius)) => Start::stated(at, radius),
            None => Start::last_fix(&self.track, now, arguments.since.is_some())?,
        };
        self.asked_from(&start, now, zone, arguments)
    }

    pub(super) fn asked_from(
        &self,
        start: &Start,
        now: Timestamp,
        zone: TimeZone,
        arguments: &Arguments,
    ) -> Result<Asked> {
        let day = zone.to_datetime(now).date();
        let declination = Self::declination(start.at, day, arguments)?;
        let walked = match &arguments.since {
            Some(text) => reckoning::read(text, &declination.0, Paces(arguments.paces))?,
            None => Vec::new(),
        };
        let start = start.carried_on(&walked);
        let ground = self.ground(&start, arguments)?;
        let mapped = self.mapped(&start, arguments)?;
        Ok(Asked { now, zone, start, declination, ground, mapped })
    }

    /// The known paths with those of the base maps that the store keeps, around the start and the goals near it.
    fn mapped(&self, start: &Start, arguments: &Arguments) -> Result<Option<Net>> {
        let path = arguments.store.path();
        if !path.exists() {
            return Ok(None);
        }
        let off = |goal: &Goal| geodesic::distance(start.at, goal.at);
        let nearest = self.goals.iter().map(off).reduce(Metres::min).unwrap_or(Metres(0.0));
        let reach = (nearest * 1.5 + Metres(2_000.0)).min(FARTHEST);
        let near = self.goals.iter().filter(|goal| off(goal).0 <= reach.0).map(|goal| goal.at);
        let places: Vec<LatLon> = [start.at].into_iter().chain(near).collect();
        let Some(bounds) = Bounds::about(&places, Metres(2_000.0)) else { return Ok(None) };
        let features = Store::open(&path)?.base_features(&bounds)?;
        Ok(with_mapped(self.net.as_ref(), &features))
    }

    fn ground(&self, start: &Start, arguments: &Arguments) -> Result<Option<(Ground, Metres)>> {
        if arguments.elevation.is_empty() {
            return Ok(None);
        }
        let relief = Relief::open(&arguments.elevation)?;
        let off = |goal: &Goal| geodesic::distance(start.at, goal.at);
        let nearest = self.goals.iter().map(off).reduce(Metres::min).unwrap_or(Metres(0.0));
        let reach = (nearest * 3.0 + Metres(2_000.0)).min(FARTHEST);
        let near = self.goals.iter().filter(|goal| off(goal).0 <= reach.0).map(|goal| goal.at);
        let places: Vec<LatLon> = [start.at].into_iter().chain(near).collect();
        let margin = (nearest * 2.0 + Metres(2_000.0)).min(FARTHEST);
        let bounds = Bounds::about(&places, margin);
        let (Some(bounds), Some(spacing)) = (bounds, relief.spacing(start.at)) else {
            return Ok(None);
        };
        Ok(Some((relief.read(&bounds)?, spacing)))
    }
}

impl Asked {
    pub(super) fn request<'a>(&'a self, inputs: &'a Inputs, arguments: &Arguments) -> Request<'a> {
        let today = |point: &TrackPoint| Seconds::between(point.time, self.now).abs().0 < TODAY.0;
        let until = inputs.track.partition_point(|point| point.time <= self.now);
        let track = inputs.track.get(..until).unwrap_or_default();
        Request {
            now: self.now,
            zone: self.zone.clone(),
            start: self.start.clone(),
            goals: inputs.goals.clone(),
            declination: self.declination.0,
            compass: self.declination.1,
            track: if track.last().is_some_and(today) { track } else { &[] },
            net: inputs.net.as_ref(),
            mapped: self.mapped.as_ref(),
            ground: self.ground.as_ref().map(|(ground, spacing)| (ground, *spacing)),
            avoid: &inputs.avoid,
            line: match &inputs.line {
                Line::Given(line) => Catching::Given(line),
                Line::OfTracks => Catching::OfTracks,
                Line::NotAsked => Catching::IfKnown,
            },
            paces: Paces(arguments.paces),
            steep: Degrees(arguments.steep),
        }
    }
}

/// The known paths with those of base maps; `None` where the maps have none.
pub(super) fn with_mapped(known: Option<&Net>, features: &[BaseFeature]) -> Option<Net> {
    if !features.iter().any(|feature| feature.class == BaseClass::Path) {
        return None;
    }
    let mut builder = known.map_or_else(Builder::default, Builder::of);
    builder.add_mapped(features);
    Some(builder.finish())
}

fn check_numbers(arguments: &Arguments) -> Result<()> {
    let refuse = |name: &str, value: f64, hint: &str| {
        Err(Error::input(format!("--{name} {value} is not valid")).hint(hint))
    };
    if !(20.0..=1_000.0).contains(&arguments.paces) {
        return refuse(
            "paces",
            arguments.paces,
            "count your steps over 100 m: 116 to 148 are typical",
        );
    }
    if !(1.0..=89.0).contains(&arguments.steep) {
        return refuse("steep", arguments.steep, "give degrees, as --steep 30");
    }
    match arguments.declination {
        Some(east) if !(-180.0..=180.0).contains(&east) => {
            refuse("declination", east, "give degrees, east positive, as --declination 14.5")
        }
        _ => Ok(()),
    }
}

/// A local time: a time of the day, or a date and time.
fn local_time(text: &str, day: Date) -> Result<DateTime> {
    if let Ok(time) = time_of_day(text) {
        return Ok(day.to_datetime(time));
    }
    let with_time = text.contains(':').then(|| text.parse().ok()).flatten();
    with_time.ok_or_else(|| {
        Error::input(format!("--at {} is not a time", text.escape_debug()))
            .because(no_time(text))
            .hint(
            "write it as 15:20 for that day, 2026-05-03T15:20 for the local clock, or 2026-05-03T15:20+10:00",
        )
    })
}

/// Why a text names no time.
fn no_time(text: &str) -> &'static str {
    let date = text.split(['T', ' ']).next().unwrap_or_default();
    let is_date = date.parse::<Date>().is_ok();
    let like_date = date.matches('-').count() == 2;
    match (is_date, like_date, text.contains(':')) {
        (true, ..) if date.len() == text.len() => "it is a date without a time of day",
        (true, ..) => {
            "hours go from 0 to 23, minutes from 0 to 59, an offset is written +10:00 or Z"
        }
        (false, true, _) => "there is no such date: a date is written year, month, day",
        (false, false, true) => "hours go from 0 to 23, minutes from 0 to 59",
        (false, false, false) => "a time of day has a colon between hours and minutes",
    }
}

/// Refuses a stated zone whose clock is hours from that of the place: EST is a zone of America in the database,
/// and an evening in Tasmania would be an early afternoon by it. UTC is a clock that people carry anywhere.
pub(super) fn near_the_place(
    (name, stated): (&str, &TimeZone),
    (place, local): &(String, TimeZone),
) -> Result<()> {
    /// Summer time and a neighbouring zone, seconds.
    const MOST: i32 = 5_400;
    let seconds = |zone: &TimeZone| zone.to_offset(Timestamp::now()).seconds();
    let apart = (seconds(stated) - seconds(local)).abs();
    if apart <= MOST || matches!(name, "UTC" | "Z") {
        return Ok(());
    }
    Err(Error::input(format!("--zone {name} is not the zone of the place"))
        .because(format!(
            "its clock differs by {} h {:02} min from that of {place}, where the position is",
            apart / 3_600,
            apart % 3_600 / 60
        ))
        .hint(format!(
        "leave --zone out, or state --zone {place} or --zone UTC; a time by another clock can bear its \
         offset, as 2026-05-03T15:20+10:00"
    )))
}

/// The error for a local time or date without a known zone.
pub(super) fn no_zone(what: &str, place: Option<LatLon>) -> Error {
    let place = place.map_or_else(|| "the place".to_owned(), |place| place.to_string());
    Error::input(format!("the time zone of {what} is unknown"))
        .because(format!("no time zone is known at {place}: it is at sea or outside all zones"))
        .hint("state the zone, as --zone UTC or --zone +10:00")
}

fn no_store(path: &Path, why: &str) -> Error {
    Error::input(format!("there is no store {}", path.display())).because(why)
}

/// A position in any common notation, with the radius that follows from its resolution.
fn stated(text: &str, within: Option<f64>) -> Result<(LatLon, Radius95)> {
    let place = place::read(text)?;
    let radius = match (within, place.stated) {
        (Some(metres), _) => Metres(metres),
        (None, Some(stated)) => stated.hypot(place.open),
        (None, None) => UNRECORDED + place.open,
    };
    Ok((
        place.at,
        valid(radius).map_err(|error| {
            of_figures(text, radius, within.is_some() || place.stated.is_some(), error)
        })?,
    ))
}

/// The farthest point of a plan: no receiver errs, so that its figures as typed, or what is stated, bound it.
fn chosen(text: &str, within: Option<f64>) -> Result<(LatLon, Radius95)> {
    let place = place::read(text)?;
    let radius = match (within, place.stated) {
        (Some(metres), _) => Metres(metres),
        (None, Some(stated)) => stated.hypot(place.open),
        (None, None) => Metres(place.open.0.max(1.0)),
    };
    Ok((
        place.at,
        valid(radius).map_err(|error| {
            of_figures(text, radius, within.is_some() || place.stated.is_some(), error)
        })?,
    ))
}

/// The radius of a position that follows from its figures is not one that the user gave.
fn of_figures(text: &str, radius: Metres, is_stated: bool, error: Error) -> Error {
    if is_stated {
        return error;
    }
    Error::input(format!("\"{text}\" does not say the place closely enough"))
        .because(format!(
            "its figures have so few digits that the place may lie {radius} away; more than {WIDEST} is no \
             place to walk from"
        ))
        .hint("write four decimals of a degree or more; if the figures are exact, say so with --within 25")
}

fn valid(radius: Metres) -> Result<Radius95> {
    Radius95::new(radius).filter(|known| known.metres().0 <= WIDEST.0).ok_or_else(|| {
        Error::input(format!("{} m is not a valid radius", radius.0))
            .because(format!("a position is of use from above 0 up to {WIDEST}"))
            .hint("give metres, such as --within 25")
    })
}

/// The cleaned track of a file: its longest outing.
fn track_of(file: &Path, console: &mut Console) -> Result<Vec<TrackPoint>> {
    file.metadata().map_err(|source| Error::file("read", file, &source))?;
    let intake = folder::gather(&[file.to_owned()], &|_| {});
    for error in &intake.set_aside {
        console.warning(error);
    }
    let days = join::join(intake, &Options::default());
    let tracks = days.into_iter().map(|day| day.track).filter(|track| !track.is_empty());
    tracks.max_by_key(|track| track.last().map(|point| point.time)).ok_or_else(|| {
        Error::input(format!("{} contains no usable track", file.display()))
            .because("no fix with a time remains after cleaning")
            .hint("give the track of the day")
            .in_file(file)
    })
}

/// The track of the last outing that has one.
fn last_track(store: &Store) -> Result<Vec<TrackPoint>> {
    for outing in store.outings()?.iter().rev() {
        let track = store.track(outing.id)?;
        if !track.is_empty() {
            return Ok(track);
        }
    }
    Ok(Vec::new())
}

/// The stored network of all tracks: extended by new ones, rebuilt where a track was corrected.
fn net_of(store: &mut Store, console: &mut Console) -> Result<Option<Net>> {
    let outings = store.outings()?;
    let print = |outing: &crate::store::KeptOuting| {
        let words = format!("{} {}", outing.id, outing.changed);
        blake3::hash(words.as_bytes())
            .as_bytes()
            .first_chunk::<8>()
            .map_or(0, |bytes| u64::from_le_bytes(*bytes))
    };
    let prints: Vec<u64> = outings.iter().map(print).collect();
    let kept = store
        .derived(NET.0, NET.1)?
        .and_then(|bytes| Net::from_bytes(&bytes).ok())
        .filter(|net| net.prints().iter().all(|known| prints.contains(known)));
    if let Some(net) = &kept
        && net.is_of(&prints)
    {
        return Ok(kept.filter(|net| net.nodes() > 0));
    }
    let mut builder = kept.as_ref().map_or_else(Builder::default, Builder::of);
    let known = kept.map_or_else(Vec::new, |net| net.prints().to_vec());
    let bar = console.progress("joining tracks", outings.len() as u64);
    for (outing, print) in outings.iter().zip(&prints).filter(|(_, print)| !known.contains(print)) {
        builder.add(&store.track(outing.id)?, *print);
        bar.inc(1);
    }
    bar.finish_and_clear();
    let net = builder.finish();
    if let Err(error) = store.keep_derived(NET.0, NET.1, &net.to_bytes()) {
        // a read-only store is still usable
        console.warning(&error);
    }
    Ok(Some(net).filter(|net| net.nodes() > 0))
}

fn goals(
    arguments: &Arguments,
    store: Option<&Store>,
    kept: &[Trailhead],
    track: &[TrackPoint],
) -> Result<Vec<Goal>> {
    let goal = |name: &str, at| Goal { name: name.to_owned(), at };
    if let Some(wanted) = arguments.to.as_deref() {
        let same = |name: &str| name.trim().to_lowercase() == wanted.trim().to_lowercase();
        if let Some(found) = kept.iter().find(|trailhead| same(&trailhead.name)) {
            return Ok(vec![goal(&found.name, found.at)]);
        }
        let names: Vec<&str> = kept.iter().map(|trailhead| trailhead.name.as_str()).collect();
        let known = match store {
            None => format!("there is no store {}", arguments.store.path().display()),
            Some(_) if names.is_empty() => "no trailheads stored".to_owned(),
            Some(_) => format!("trailheads stored: {}", names.join(", ")),
        };
        let place = place::read(wanted).map_err(|error| neither(wanted, &known, &error))?;
        let name = if wanted.contains(':') { place.at.to_string() } else { wanted.to_owned() };
        return Ok(vec![goal(&name, place.at)]);
    }
    if kept.is_empty() {
        let goals: Vec<Goal> = left_the_road(track)
            .map(|(kind, at)| goal(findings::track_goal(kind), at))
            .into_iter()
            .collect();
        if goals.is_empty() && store.is_none() && arguments.plan.is_none() {
            return Err(no_store(
                &arguments.store.path(),
                "so no trailhead is known as a destination",
            )
            .hint("give the destination with --to, or name the store with --store"));
        }
        return Ok(goals);
    }
    Ok(kept.iter().map(|trailhead| goal(&trailhead.name, trailhead.at)).collect())
}

fn neither(wanted: &str, known: &str, error: &Error) -> Error {
    let why = error.why().map_or_else(String::new, |why| format!(" ({why})"));
    Error::input(format!("{wanted:?} is neither a trailhead nor a position"))
        .because(format!("{known}; as a position: {}{why}", error.what()))
        .hint("`trug trailhead list` shows the names; write a position as -42.6110 146.1010")
}
