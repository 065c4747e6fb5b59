//! Generates one outing from a plan: the true track, and the recordings of receiver, camera and
//! notebook.

use std::f64::consts::TAU;

use jiff::civil::DateTime;
use jiff::tz::{Offset, TimeZone};
use jiff::{SignedDuration, Timestamp};

use crate::drawing::Drawing;
use crate::exif::{GpsPart, Header};
use crate::ground::PlanePoint;
use crate::notebook::Line;
use crate::receiver::{Receiver, Recorded};
use crate::rng::Rng;
use crate::society::{Collector, SITES};
use crate::walk::{Stop, TrueTrack};

/// A camera or a phone.
#[derive(Clone)]
pub(crate) struct Camera {
    pub(crate) make: &'static str,
    pub(crate) model: &'static str,
    pub(crate) serial: &'static str,
    /// Its reading less the local time, seconds.
    pub(crate) ahead: f64,
    /// The offset that it writes beside its times.
    pub(crate) offset: Option<&'static str>,
    /// Whether it has a receiver of its own.
    pub(crate) gps: bool,
    /// What its files begin with.
    pub(crate) prefix: &'static str,
    /// The number of its first picture.
    pub(crate) first: usize,
}

/// The plan of an outing.
pub(crate) struct Plan {
    pub(crate) name: &'static str,
    pub(crate) collector: Collector,
    /// Local time, +10:00 after the first Sunday of April.
    pub(crate) start: DateTime,
    pub(crate) sites: Vec<usize>,
    /// The shortest and the longest search about a site, seconds.
    pub(crate) search: (f64, f64),
    /// How many fruitings a site holds in the middle of its season; `None` is one, whatever the
    /// date.
    pub(crate) fruiting: Option<fn(usize) -> f64>,
    pub(crate) first_number: usize,
    pub(crate) night: bool,
}

/// A photograph that was taken.
pub(crate) struct Shot {
    pub(crate) name: String,
    pub(crate) header: Header,
    pub(crate) drawing: Drawing,
}

/// The truth of a find.
pub(crate) struct Truth {
    pub(crate) number: String,
    pub(crate) find: PlanePoint,
    pub(crate) instant: Timestamp,
}

/// The simulated outing.
pub(crate) struct Outing {
    pub(crate) plan: Plan,
    pub(crate) way: TrueTrack,
    pub(crate) lines: Vec<Line>,
    pub(crate) truths: Vec<Truth>,
    pub(crate) rng: Rng,
}

/// Standard time in the reserve.
pub(crate) const LOCAL: Offset = jiff::tz::offset(10);

impl Outing {
    pub(crate) fn walk(plan: Plan) -> Self {
        let mut rng = Rng::named(plan.name);
        let mut way = TrueTrack::begin(PlanePoint::new(0.0, 0.0));
        way.rest(45, 0.1, &mut rng);
        for &site in &plan.sites {
            let spot = SITES[site].spot;
            way.walk(spot.moved(rng.between(0.0, TAU), 9.0), 1.15, &mut rng);
            let seconds = rng.between(plan.search.0, plan.search.1);
            way.search(spot, seconds as usize, &mut rng);
            let fruitings = match plan.fruiting {
                None => 1,
                Some(most) => rng.count(most(site) * in_season(site, &plan)),
            };
            for _ in 0..fruitings {
                let find = spot.moved(rng.between(0.0, TAU), rng.between(0.5, 7.0));
                let (least, most) =
                    if plan.fruiting.is_some() { (35.0, 75.0) } else { (110.0, 290.0) };
                let seconds = rng.between(least, most);
                way.stop(site, find, seconds as usize, &mut rng);
            }
        }
        way.walk(PlanePoint::new(0.0, 0.0), 1.25, &mut rng);
        way.rest(30, 0.1, &mut rng);
        let mut outing = Self { plan, way, lines: Vec::new(), truths: Vec::new(), rng };
        outing.write_up();
        outing
    }

    /// A line in the notebook for each stop.
    fn write_up(&mut self) {
        for (count, stop) in self.way.stops.clone().into_iter().enumerate() {
            let digits = self.plan.first_number + count;
            let number = format!("{}{digits:04}", self.plan.collector.series);
            let noted =
                stop.from + self.rng.between(10.0, (stop.until - stop.from) as f64) as usize;
            let noted = self.local(noted);
            let who = self.plan.collector.name;
            let line = Line::of(&number, who, stop.site, noted, &mut self.rng);
            self.lines.push(line);
            let middle = usize::midpoint(stop.from, stop.until);
            self.truths.push(Truth { number, find: stop.find, instant: self.instant(middle) });
        }
    }

    pub(crate) fn stop(&self, index: usize) -> Stop {
        self.way.stops[index]
    }

    pub(crate) fn instant(&self, second: usize) -> Timestamp {
        let start = LOCAL.to_timestamp(self.plan.start).expect("a date of our time");
        start + SignedDuration::from_secs(second as i64)
    }

    pub(crate) fn local(&self, second: usize) -> DateTime {
        LOCAL.to_datetime(self.instant(second))
    }

    pub(crate) fn fixes(&mut self, receiver: &Receiver) -> Vec<Recorded> {
        receiver.record(&self.way, &mut self.rng)
    }

    /// One to four pictures at each stop, claimed by its line.
    pub(crate) fn photograph(&mut self, camera: &Camera) -> Vec<Shot> {
        let mut shots = Vec::new();
        let mut number = camera.first;
        for (index, stop) in self.way.stops.clone().into_iter().enumerate() {
            let mut second = stop.from + self.rng.between(8.0, 30.0) as usize;
            let mut names = Vec::new();
            let pictures = 1 + self.rng.between(0.0, 3.4) as usize;
            while second < stop.until && names.len() < pictures {
                let slip = names.is_empty().then(|| self.lines[index].number.replace(' ', "-"));
                let kind = SITES[stop.site].kind;
                let drawing = Drawing::find(kind, slip.as_deref(), self.plan.night, &mut self.rng);
                let name = format!("{}{number:04}", camera.prefix);
                shots.push(self.shot(camera, &name, second, drawing));
                names.push(name);
                number += 1;
                second += self.rng.between(9.0, 45.0) as usize;
            }
            self.lines[index].photos = range(&names);
        }
        shots
    }

    pub(crate) fn shot(
        &mut self,
        camera: &Camera,
        name: &str,
        second: usize,
        drawing: Drawing,
    ) -> Shot {
        let hundredths = self.rng.between(0.0, 100.0) as u8;
        let taken = TimeZone::fixed(LOCAL).to_datetime(
            self.instant(second)
                + SignedDuration::from_secs_f64(camera.ahead)
                + SignedDuration::from_millis(i64::from(hundredths) * 10),
        );
        let here = self.way.spots[second];
        let gps = camera.gps.then(|| {
            let at = here.moved(self.rng.between(0.0, TAU), self.rng.normal(6.0).abs());
            let (latitude, longitude) = at.degrees();
            // the phone's position is a few seconds older than the picture
            let age = self.rng.between(0.0, 4.0) as usize;
            GpsPart {
                latitude,
                longitude,
                height: here.height() + self.rng.normal(8.0),
                time: self.instant(second.saturating_sub(age)),
                direction: self.rng.between(0.0, 360.0),
                error: self.rng.between(3.5, 6.5),
            }
        });
        let header = Header {
            make: camera.make,
            model: camera.model,
            serial: camera.serial,
            taken,
            hundredths,
            offset: camera.offset,
            size: (crate::drawing::WIDTH as u16, crate::drawing::HEIGHT as u16),
            gps,
        };
        Shot { name: format!("{name}.jpg"), header, drawing }
    }
}

/// The standard deviation of every season, days.
pub(crate) const SEASON: f64 = 19.0;

/// How much of its best a site gives on the plan's day.
fn in_season(site: usize, plan: &Plan) -> f64 {
    let day = f64::from(plan.start.day_of_year());
    let late = (day - SITES[site].peak) / SEASON;
    (-0.5 * late * late).exp()
}

/// Picture names as people write them: one, or the first and the last.
fn range(names: &[String]) -> String {
    match names {
        [] => String::new(),
        [only] => only.clone(),
        [first, second] => format!("{first}, {second}"),
        [first, .., last] => format!("{first}-{last}"),
    }
}
