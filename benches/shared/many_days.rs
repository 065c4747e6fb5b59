//! Generates days for a store of any size: woods with known sites, a track of 20,000 points a day
//! at 1 Hz, 500 finds a day. The track is smooth and has activities, as the join computes it.

use jiff::civil::date;
use jiff::tz::TimeZone;
use jiff::{Span, Timestamp};
use trug::analyse::statistics::Rng;
use trug::model::{
    Activity, Combination, Day, FileKind, Find, Located, Outing, Record, RecordNumber, SourceFile,
    TrackPoint, ZoneChoice, ZoneSource,
};
use trug::units::{GpsHeight, LatLon, Metres, Radius95, Seconds};
use uuid::Uuid;

/// Points of a day's track.
pub(crate) const POINTS: usize = 20_000;
/// Finds of a day.
pub(crate) const FINDS: usize = 500;

/// Sites lie on a grid of this spacing, each off its corner by up to a sixth of it.
const SPACING: f64 = 48.0;
/// Sites along each side of a wood.
const SIDE: usize = 32;
/// Days to each wood, all years together.
const DAYS_TO_A_WOOD: usize = 50;
const KINDS: [&str; 8] = [
    "Mycena interrupta (Berk.) Sacc.",
    "Cortinarius rotundisporus Cleland & Cheel",
    "Hygrocybe graminicolor (E. Horak) T.W. May & A.E. Wood",
    "Entoloma virescens (Sacc.) E. Horak ex Courtec.",
    "Amanita xanthocephala (Berk.) D.A. Reid & R.N. Hilton",
    "Cortinarius archeri (Berk.) Sacc.",
    "Laccaria amethystina Cooke",
    "Galerina patagonica Singer",
];

/// Metres north and east of the centre of the region.
type Place = (f64, f64);

fn position((north, east): Place) -> LatLon {
    LatLon::clamped(-42.0 + north / 111_080.0, 146.0 + east / 82_850.0)
}

fn wood(number: usize) -> Place {
    ((number % 7) as f64 * 9_000.0, (number / 7) as f64 * 9_000.0)
}

fn site(wood_number: usize, column: usize, row: usize) -> Place {
    let mut rng = Rng::new(((wood_number * SIDE + row) * SIDE + column) as u64 + 1);
    let (north, east) = wood(wood_number);
    let off = |rng: &mut Rng| (rng.uniform() - 0.5) * SPACING / 3.0;
    let north = north + row as f64 * SPACING + off(&mut rng);
    (north, east + column as f64 * SPACING + off(&mut rng))
}

/// A collector on the track, a point each second.
struct Wanderer {
    rng: Rng,
    at: Place,
    heading: f64,
    height: f64,
    second: i64,
    start: Timestamp,
    points: Vec<TrackPoint>,
}

impl Wanderer {
    fn step(&mut self, speed: f64, activity: Activity) {
        self.at = (self.at.0 + speed * self.heading.cos(), self.at.1 + speed * self.heading.sin());
        self.height += 0.05 * self.rng.normal();
        self.points.push(TrackPoint {
            time: Timestamp::from_second(self.start.as_second() + self.second).unwrap(),
            at: position(self.at),
            height: Some(GpsHeight(Metres(self.height))),
            radius: Radius95::new(Metres(5.0 + 2.0 * self.rng.uniform())).unwrap(),
            activity,
            gap_after: false,
        });
        self.second += 1;
    }

    fn towards(&mut self, goal: Place) -> f64 {
        let (north, east) = (goal.0 - self.at.0, goal.1 - self.at.1);
        self.heading = east.atan2(north);
        north.hypot(east)
    }

    fn walk_to(&mut self, goal: Place) {
        while self.points.len() < POINTS && self.towards(goal) > 3.0 {
            self.heading += 0.15 * self.rng.normal();
            self.step(1.1, Activity::Walking);
        }
    }

    /// Back and forth around a place, with stops.
    fn search_about(&mut self, middle: Place, seconds: usize) {
        let mut turned = self.heading;
        for second in 0..seconds {
            if self.points.len() >= POINTS {
                return;
            }
            if second % 50 < 35 {
                turned += 0.35 * self.rng.normal();
                if self.towards(middle) > 9.0 {
                    turned = self.heading;
                }
                self.heading = turned;
                self.step(0.45, Activity::Searching);
            } else {
                self.heading = self.rng.uniform() * std::f64::consts::TAU;
                self.step(0.02, Activity::Stationary);
            }
        }
    }
}

/// Day `number` of `days`, spread over ten years.
pub(crate) fn day(number: usize, days: usize) -> Day {
    let woods = days.div_ceil(DAYS_TO_A_WOOD);
    let mut rng = Rng::new(number as u64 + 77);
    let here = rng.below(woods);
    let after = i64::try_from(number * 3_650 / days).unwrap();
    let on = date(2016, 1, 1).checked_add(Span::new().days(after)).unwrap();
    let zone = TimeZone::get("Australia/Hobart").unwrap();
    let start = zone.to_ambiguous_timestamp(on.at(9, 0, 0, 0)).compatible().unwrap();
    let mut way = Wanderer {
        at: wood(here),
        heading: 0.0,
        height: 400.0 + 37.0 * here as f64,
        second: 0,
        start,
        points: Vec::with_capacity(POINTS),
        rng,
    };
    let id = Uuid::new_v5(&Uuid::NAMESPACE_OID, format!("day {number} of {days}").as_bytes());
    let mut finds = Vec::with_capacity(FINDS);
    let (mut column, mut row) = (0, 0);
    while way.points.len() < POINTS {
        column = (column + way.rng.below(3)).min(SIDE - 1).saturating_sub(way.rng.below(2));
        row = (row + 1 + way.rng.below(2)) % SIDE;
        let middle = site(here, column, row);
        way.walk_to(middle);
        let began = way.second;
        way.search_about(middle, 150);
        for _ in 0..6 + way.rng.below(5) {
            if finds.len() < FINDS {
                finds.push(find(&mut way, id, number, finds.len(), middle, began));
            }
        }
    }
    let end = way.points.last().unwrap().time;
    let hash = |kind: &str| {
        blake3::hash(format!("{kind} {number} of {days}").as_bytes()).to_hex().to_string()
    };
    let source =
        |path: &str, kind| SourceFile { path: path.into(), kind, bytes: 1, hash: hash(path) };
    Day {
        photo_groups: Vec::new(),
        associations: Vec::new(),
        outing: Outing {
            id,
            date: on,
            start: Some(start),
            end: Some(end),
            zone: ZoneChoice { zone, name: "Australia/Hobart".into(), source: ZoneSource::Place },
            collector: Some("Tamsin Hale".into()),
        },
        sources: vec![source("way.gpx", FileKind::Gpx), source("notes.csv", FileKind::Records)],
        fixes: Vec::new(),
        track: way.points,
        stops: Vec::new(),
        cameras: Vec::new(),
        photos: Vec::new(),
        finds,
        conflicts: Vec::new(),
        set_aside: Vec::new(),
        remarks: Vec::new(),
    }
}

fn find(
    way: &mut Wanderer,
    outing: Uuid,
    day: usize,
    place: usize,
    middle: Place,
    began: i64,
) -> Find {
    let radius = 4.0 + 6.0 * way.rng.uniform();
    let sigma = radius / Radius95::PER_SIGMA;
    let at = (middle.0 + sigma * way.rng.normal(), middle.1 + sigma * way.rng.normal());
    let second = began + way.rng.below((way.second - began).max(1) as usize) as i64;
    let when = Timestamp::from_second(way.start.as_second() + second).unwrap();
    // the taxa of a place depend on the place
    let kind = (middle.0.abs() as usize + way.rng.below(2)) % KINDS.len();
    let record = Record {
        number: Some(RecordNumber(format!("TH-{:07}", day * FINDS + place))),
        name: Some(KINDS[kind].into()),
        host: Some("Nothofagus cunninghamii".into()),
        line: place as u64 + 2,
        ..Record::default()
    };
    Find {
        id: Uuid::new_v5(&outing, &place.to_le_bytes()),
        record,
        source: 1,
        when: Some((when, Seconds(20.0))),
        photos: Vec::new(),
        anchors: Vec::new(),
        place: Ok(Located {
            at: position(at),
            radius: Radius95::new(Metres(radius)).unwrap(),
            parts: Vec::new(),
            height: Some(GpsHeight(Metres(way.height))),
            combination: Combination::Single,
        }),
    }
}
