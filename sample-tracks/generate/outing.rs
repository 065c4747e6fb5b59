//! Generates one outing from a plan: the true track, and the recordings of receiver, camera and
//! notebook.

use std::f64::consts::TAU;

use jiff::civil::DateTime;
use jiff::tz::{Offset, TimeZone};
use jiff::{SignedDuration, Timestamp};

use crate::drawing::Drawing;
use crate::exif::{GpsPart, Header};
use crate::ground::Spot;
use crate::notebook::Line;
use crate::receiver::{Receiver, Recorded};
use crate::rng::Chance;
use crate::society::{Collector, SITES};
use crate::walk::{Stop, Way};

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

/// What is planned, before chance has its say.
pub(crate) struct Plan {
    pub(crate) name: &'static str,
    pub(crate) collector: Collector,
    /// Local time, +10:00 after the first Sunday of April.
    pub(crate) start: DateTime,
    pub(crate) sites: Vec<usize>,
    /// The shortest and the longest search about a site, seconds.
    pub(crate) search: (f64, f64),
    /// How many fruitings a site holds in the middle of its season; `None` is one, whatever the date.
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

/// A find as it truly was.
pub(crate) struct Truth {
    pub(crate) number: String,
    pub(crate) find: Spot,
    pub(crate) instant: Timestamp,
}

/// The plan come true.
pub(crate) struct Outing {
    pub(crate) plan: Plan,
    pub(crate) way: Way,
    pub(crate) lines: Vec<Line>,
    pub(crate) truths: Vec<Truth>,
    pub(crate) chance: Chance,
}

/// Standard time in the reserve.
pub(crate) const LOCAL: Offset = jiff::tz::offset(10);

impl Outing {
    pub(crate) fn walk(plan: Plan) -> Self {
        let mut chance = Chance::named(plan.name);
        let mut way = Way::begin(Spot::new(0.0, 0.0));
        way.rest(45, 0.1, &mut chance);
        for &site in &plan.sites {
            let spot = SITES[site].spot;
            way.walk(spot.moved(chance.between(0.0, TAU), 9.0), 1.15, &mut chance);
            let seconds = chance.between(plan.search.0, plan.search.1);
            way.search(spot, seconds as usize, &mut chance);
            let fruitings = match plan.fruiting {
                None => 1,
                Some(most) => chance.count(most(site) * in_season(site, &plan)),
            };
            for _ in 0..fruitings {
                let find = spot.moved(chance.between(0.0, TAU), chance.between(0.5, 7.0));
                let (least, most) =
                    if plan.fruiting.is_some() { (35.0, 75.0) } else { (110.0, 290.0) };
                let seconds = chance.between(least, most);
                way.stop(site, find, seconds as usize, &mut chance);
            }
        }
        way.walk(Spot::new(0.0, 0.0), 1.25, &mut chance);
        way.rest(30, 0.1, &mut chance);
        let mut outing = Self { plan, way, lines: Vec::new(), truths: Vec::new(), chance };
        outing.write_up();
        outing
    }

    /// A line in the notebook for each stop.
    fn write_up(&mut self) {
        for (count, stop) in self.way.stops.clone().into_iter().enumerate() {
            let digits = self.plan.first_number + count;
            let number = format!("{}{digits:04}", self.plan.collector.series);
            let noted =
                stop.from + self.chance.between(10.0, (stop.until - stop.from) as f64) as usize;
            let noted = self.local(noted);
            let who = self.plan.collector.name;
            let line = Line::of(&number, who, stop.site, noted, &mut self.chance);
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
        receiver.record(&self.way, &mut self.chance)
    }

    /// One to four pictures at each stop, claimed by its line.
    pub(crate) fn photograph(&mut self, camera: &Camera) -> Vec<Shot> {
        let mut shots = Vec::new();
        let mut number = camera.first;
        for (index, stop) in self.way.stops.clone().into_iter().enumerate() {
            let mut second = stop.from + self.chance.between(8.0, 30.0) as usize;
            let mut names = Vec::new();
            let pictures = 1 + self.chance.between(0.0, 3.4) as usize;
            while second < stop.until && names.len() < pictures {
                let slip = names.is_empty().then(|| self.lines[index].number.replace(' ', "-"));
                let kind = SITES[stop.site].kind;
                let drawing =
                    Drawing::find(kind, slip.as_deref(), self.plan.night, &mut self.chance);
                let name = format!("{}{number:04}", camera.prefix);
                shots.push(self.shot(camera, &name, second, drawing));
                names.push(name);
                number += 1;
                second += self.chance.between(9.0, 45.0) as usize;
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
        let hundredths = self.chance.between(0.0, 100.0) as u8;
        let taken = TimeZone::fixed(LOCAL).to_datetime(
            self.instant(second)
                + SignedDuration::from_secs_f64(camera.ahead)
                + SignedDuration::from_millis(i64::from(hundredths) * 10),
        );
        let here = self.way.spots[second];
        let gps = camera.gps.then(|| {
            let at = here.moved(self.chance.between(0.0, TAU), self.chance.normal(6.0).abs());
            let (latitude, longitude) = at.degrees();
            // the phone's position is a few seconds older than the picture
            let age = self.chance.between(0.0, 4.0) as usize;
            GpsPart {
                latitude,
                longitude,
                height: here.height() + self.chance.normal(8.0),
                time: self.instant(second.saturating_sub(age)),
                direction: self.chance.between(0.0, 360.0),
                error: self.chance.between(3.5, 6.5),
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
