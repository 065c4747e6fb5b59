//! Makes random cases by the library for the check of the page to carry: an area with paths, ground and closed
//! places, and what the library answers there.
//!
//! `carry_cases FOLDER COUNT SEED` writes `page.html` and `cases.json` into the folder.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "random numbers of known ranges"
)]
#![allow(clippy::unwrap_used, clippy::print_stderr, reason = "a program of the tests")]

use std::path::Path;

use serde_json::{Value, json};
use trug::analyse::statistics::Rng;
use trug::earth::elevation::{Bounds, Relief};
use trug::earth::local::Plane;
use trug::earth::{declination, geodesic, grid};
use trug::model::{Activity, BaseClass, BaseFeature, BaseShape, TrackPoint};
use trug::present::carry::{Carry, alone};
use trug::present::way_out::message;
use trug::units::{
    Degrees, LatLon, Metres, Radius95, SeaLevelHeight, Seconds, TimeZone, Timestamp,
};
use trug::wayout::area_light;
use trug::wayout::daylight::Daylight;
use trug::wayout::goal::Goal;
use trug::wayout::land_field::{self, Land};
use trug::wayout::legs::Paces;
use trug::wayout::light;
use trug::wayout::paths::{Builder, Net, WALKED_OFTEN};
use trug::wayout::report::{self, Catching, Request, WayOut};
use trug::wayout::start::Start;

const REACH: Metres = Metres(3_000.0);

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let [_, folder, count, seed] = arguments.as_slice() else {
        eprintln!("usage: carry_cases FOLDER COUNT SEED");
        std::process::exit(2);
    };
    let folder = Path::new(folder);
    let (count, seed): (usize, u64) = (count.parse().unwrap(), seed.parse().unwrap());
    let mut rng = Rng::new(seed);
    let areas = MIDDLES.len();
    let mut all = Vec::new();
    for area in 0..areas {
        let name = format!("page{area}.html");
        let world = World::new(folder, area, &mut rng);
        std::fs::write(folder.join(&name), alone(&world.carry)).unwrap();
        let cases: Vec<Value> = (0..(count + area) / areas).map(|_| world.case(&mut rng)).collect();
        all.push(json!({ "page": name, "cases": cases }));
    }
    std::fs::write(folder.join("cases.json"), json!(all).to_string()).unwrap();
}

/// Middles of areas: both hemispheres, on the date line, near a border of zones, far north, as far north and south as
/// a page is made.
const MIDDLES: [(f64, f64); 12] = [
    (-42.61, 146.1),
    (47.2, 11.4),
    (61.5, 5.9),
    (-16.9, 179.99),
    (0.01, 36.2),
    (68.9, 23.7),
    (56.1, -3.6),
    (45.0, -123.4),
    (-54.8, -68.3),
    (35.4, 138.8),
    (79.9, 15.6),
    (-77.9, -179.998),
];

struct World {
    carry: Carry,
    net: Net,
    mapped: Net,
    ground: Option<trug::earth::elevation::Ground>,
    spacing: Metres,
    noon: Timestamp,
    day: jiff::civil::Date,
}

fn uniform(rng: &mut Rng, low: f64, high: f64) -> f64 {
    low + (high - low) * rng.uniform()
}

impl World {
    fn new(folder: &Path, area: usize, rng: &mut Rng) -> Self {
        let (latitude, longitude) = MIDDLES[area % MIDDLES.len()];
        let centre = LatLon::new(latitude, longitude).unwrap();
        let plane = Plane::about(centre);
        let (net, trailheads, track) = walks(&plane, rng);
        // every second area has ground
        let tile =
            (area.is_multiple_of(2) && longitude < 179.0).then(|| tile(folder, centre, area));
        let relief = tile.map(|file| Relief::open(&[file]).unwrap());
        let ground = relief
            .as_ref()
            .map(|relief| relief.read(&Bounds::about(&[centre], REACH * 1.3).unwrap()).unwrap());
        let spacing = relief.and_then(|relief| relief.spacing(centre)).unwrap_or(Metres(30.0));
        let safe: Vec<Goal> = trailheads
            .iter()
            .enumerate()
            .map(|(index, at)| Goal { name: format!("Gate {index}"), at: *at })
            .collect();
        let day = jiff::civil::date(2026, 5, 16);
        let zone = TimeZone::UTC;
        let noon: Timestamp = "2026-05-16T12:00:00Z".parse().unwrap();
        let corners = [(0.0, 0.0), (-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)]
            .map(|(east, north)| plane.from_plane(east * REACH.0, north * REACH.0));
        let light = area_light::darkest(
            &corners,
            Seconds(-86_400.0).after(noon),
            Seconds(18.0 * 86_400.0).after(noon),
        )
        .unwrap();
        let field = |at| declination::field(at, SeaLevelHeight(Metres(0.0)), day).unwrap();
        let steps = [-REACH.0, 0.0, REACH.0];
        let declinations: Vec<Degrees> = steps
            .iter()
            .flat_map(|north| steps.iter().map(move |east| (*east, *north)))
            .map(|(east, north)| field(plane.from_plane(east, north)).declination.east)
            .collect();
        let base = mapped_paths(&plane, rng);
        let mut builder = Builder::of(&net);
        builder.add_mapped(&base);
        let mapped = builder.finish();
        let part = mapped.part(|_| true);
        let corridors: Vec<Vec<LatLon>> = part
            .edges
            .iter()
            .filter(|edge| edge.passes >= WALKED_OFTEN)
            .map(|edge| [edge.from, edge.to].map(|node| part.nodes[node as usize].0).to_vec())
            .collect();
        let land = ground.as_ref().and_then(|ground| {
            let land = Land {
                ground: Some((ground, spacing)),
                avoid: &[],
                corridors: &corridors,
                goals: &trailheads,
            };
            land_field::compute(&land, centre, REACH)
        });
        let carry = Carry {
            made: noon,
            day,
            zone: (zone, "UTC".to_owned()),
            centre,
            reach: REACH,
            light,
            declination: field(centre).declination,
            declinations,
            compass: field(centre).compass(),
            safe,
            closed: Vec::new(),
            paths: Some(part),
            land,
            base,
            track,
            sites: Vec::new(),
            round: None,
            withheld: 0,
            paths_withheld: false,
            sealed: None,
            paces: 148.0,
            steep: Degrees(30.0),
            first_number: "1".to_owned(),
        };
        Self { carry, net, mapped, ground, spacing, noon, day }
    }

    fn case(&self, rng: &mut Rng) -> Value {
        let plane = Plane::about(self.carry.centre);
        let place = |rng: &mut Rng| {
            plane.from_plane(uniform(rng, -0.9, 0.9) * REACH.0, uniform(rng, -0.9, 0.9) * REACH.0)
        };
        let (mut from, to) = (place(rng), place(rng));
        // every tenth walk begins near a safe place
        if rng.uniform() < 0.1 {
            let safe = &self.carry.safe[(rng.uniform() * self.carry.safe.len() as f64) as usize];
            let (east, north) = plane.to_plane(safe.at);
            let mut off = || uniform(rng, -150.0, 150.0);
            from = plane.from_plane(east + off(), north + off());
        }
        let (distance, bearing) = geodesic::leg(from, to);
        let now = Seconds(uniform(rng, -43_200.0, 14.0 * 86_400.0)).after(self.noon);
        let walk = Seconds(uniform(rng, 60.0, 20_000.0));
        let daylight = Daylight::about(from, now).unwrap();
        let verdict = light::verdict(now, walk, &daylight);
        let radius = uniform(rng, 5.0, 60.0).round();
        let answer = self.answer(from, radius, now);
        let square = grid::mgrs(from, Metres(10.0));
        let utm = grid::utm(from);
        json!({
            "from": [from.latitude(), from.longitude()],
            "to": [to.latitude(), to.longitude()],
            "distance_m": distance.0,
            "bearing_deg": bearing.degrees().0,
            "declination_deg": declination::at(from, self.day).unwrap().east.0,
            "mgrs": square,
            "utm": [f64::from(utm.zone()), utm.easting().0, utm.northing().0],
            "now": now.as_second(),
            "walk_s": walk.0,
            "advice": verdict.advice,
            "latest": verdict.latest_start.by().map(Timestamp::as_second),
            "dark_from": daylight.dark_from(now).map(Timestamp::as_second),
            "sunset": daylight.changes(now, Seconds(86_400.0))
                .find(|change| change.before == trug::earth::daylight::Illumination::Day)
                .map(|change| change.at.as_second()),
            "radius_m": radius,
            "answer": answer.map(|answer| json!({
                "goal": answer.to.name,
                "message": message::compose(&answer),
                "ways": answer.ways.iter().map(|ranked| json!({
                    "kind": ranked.way.kind,
                    "distance_m": ranked.way.distance.0,
                    "tobler_s": ranked.way.duration.tobler.0,
                    "careful_s": ranked.way.duration.careful().0,
                    "advice": ranked.verdict.advice,
                })).collect::<Vec<_>>(),
            })),
        })
    }

    fn answer(&self, from: LatLon, radius: f64, now: Timestamp) -> Option<WayOut> {
        let start = Start::stated(from, Radius95::new(Metres(radius))?);
        let field = declination::field(from, SeaLevelHeight(Metres(0.0)), self.day).ok()?;
        report::find(&Request {
            now,
            zone: TimeZone::UTC,
            start,
            goals: self.carry.safe.clone(),
            declination: field.declination,
            compass: field.compass(),
            track: &self.carry.track,
            net: Some(&self.net),
            mapped: Some(&self.mapped),
            ground: self.ground.as_ref().map(|ground| (ground, self.spacing)),
            avoid: &[],
            line: Catching::IfKnown,
            paces: Paces(148.0),
            steep: Degrees(30.0),
        })
        .ok()
    }
}

/// Random walks from trailheads, some of them several times; the last one is the own track of the day.
fn walks(plane: &Plane, rng: &mut Rng) -> (Net, Vec<LatLon>, Vec<TrackPoint>) {
    let mut builder = Builder::default();
    let mut trailheads = Vec::new();
    let mut print = 0;
    let mut own = Vec::new();
    for _ in 0..3 {
        let start = (uniform(rng, -2_000.0, 2_000.0), uniform(rng, -2_000.0, 2_000.0));
        trailheads.push(plane.from_plane(start.0, start.1));
        for _ in 0..4 {
            let (mut at, mut heading) = (start, uniform(rng, 0.0, std::f64::consts::TAU));
            let mut points = Vec::new();
            for step in 0..320 {
                heading += uniform(rng, -0.25, 0.25);
                at = (
                    (at.0 + 12.0 * heading.sin()).clamp(-2_800.0, 2_800.0),
                    (at.1 + 12.0 * heading.cos()).clamp(-2_800.0, 2_800.0),
                );
                points.push(TrackPoint {
                    at: plane.from_plane(at.0, at.1),
                    time: Seconds(f64::from(step) * 10.0).after(Timestamp::UNIX_EPOCH),
                    radius: Radius95::new(Metres(8.0)).unwrap(),
                    height: None,
                    activity: Activity::Walking,
                    gap_after: false,
                });
            }
            for _ in 0..=(uniform(rng, 0.0, 3.99) as usize) {
                print += 1;
                builder.add(&points, print);
            }
            own = points;
        }
    }
    (builder.finish(), trailheads, own)
}

/// Paths of a base map: random lines with vertices some ten metres apart, and a road that is not followed.
fn mapped_paths(plane: &Plane, rng: &mut Rng) -> Vec<BaseFeature> {
    let line = |rng: &mut Rng| {
        let mut at = (uniform(rng, -2_500.0, 2_500.0), uniform(rng, -2_500.0, 2_500.0));
        let mut heading = uniform(rng, 0.0, std::f64::consts::TAU);
        let places = (0..60).map(|_| {
            heading += uniform(rng, -0.5, 0.5);
            let step = uniform(rng, 15.0, 90.0);
            at = (
                (at.0 + step * heading.sin()).clamp(-2_800.0, 2_800.0),
                (at.1 + step * heading.cos()).clamp(-2_800.0, 2_800.0),
            );
            plane.from_plane(at.0, at.1)
        });
        BaseShape::Line(places.collect())
    };
    let classes = [BaseClass::Path, BaseClass::Path, BaseClass::Path, BaseClass::Road];
    classes.map(|class| BaseFeature { class, name: None, shape: line(rng) }).to_vec()
}

/// An ASCII grid of hills.
fn tile(folder: &Path, centre: LatLon, area: usize) -> std::path::PathBuf {
    use std::fmt::Write;
    let cell = 30.0 / 111_195.0 / centre.latitude().to_radians().cos().max(0.15);
    let side = (REACH.0 * 3.0 / 111_195.0 / centre.latitude().to_radians().cos().max(0.15) / cell)
        .ceil() as usize;
    let half = side as f64 / 2.0 * cell;
    let (west, south) = (centre.longitude() - half, centre.latitude() - half);
    let mut text = format!(
        "ncols {side}\nnrows {side}\nxllcorner {west}\nyllcorner {south}\ncellsize {cell}\nNODATA_value -9999\n"
    );
    for row in 0..side {
        for column in 0..side {
            let (x, y) = (column as f64 * 30.0, (side - row) as f64 * 30.0);
            let height = 600.0
                + 90.0 * (x / 800.0).sin()
                + 70.0 * (y / 600.0).cos()
                + 20.0 * ((x + y) / 250.0).sin();
            let _ = write!(text, "{height:.1} ");
        }
        text.push('\n');
    }
    let file = folder.join(format!("tile{area}.asc"));
    std::fs::write(&file, text).unwrap();
    std::path::PathBuf::from(format!("EPSG:4326={}", file.display()))
}
