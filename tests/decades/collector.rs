//! A simulated collector: outings of ten autumns as judged tracks with finds.

use std::f64::consts::PI;

use jiff::Timestamp;
use jiff::civil::{Date, date};
use trug::analyse::season::phase;
use trug::analyse::statistics::Rng;
use trug::analyse::walk::Walk;
use trug::model::{Activity, TrackPoint};
use trug::units::{LatLon, Metres, Radius95};
use uuid::Uuid;

use crate::truth::{Style, TAXA, noticed};

/// Seconds between fixes.
const STEP: f64 = 5.0;
/// Outings a year.
const OUTINGS: usize = 16;
/// Search between these days of the year.
pub const FROM: f64 = 232.0;
pub const UNTIL: f64 = 332.0;

/// One outing.
pub struct Outing {
    pub walk: Walk,
    /// The time and the taxon of each find.
    pub finds: Vec<(Timestamp, usize)>,
    pub date: Date,
    /// Hours truly spent searching.
    pub searched: f64,
}

/// What a decade is made of.
#[derive(Clone, Copy, Debug)]
pub struct Decade {
    pub style: Style,
    /// The standard deviation of the logarithm of the rate between outings.
    pub overdispersion: f64,
    pub seed: u64,
}

impl Decade {
    pub fn outings(&self) -> Vec<Outing> {
        let mut rng = Rng::new(self.seed);
        let spots: Vec<(f64, f64)> =
            (0..40).map(|_| (900.0 * rng.uniform(), 900.0 * rng.uniform())).collect();
        (0..10)
            .flat_map(|year: usize| (0..OUTINGS).map(move |_| year))
            .enumerate()
            .map(|(number, year)| {
                // more outings at the end of September than later
                let day = if rng.uniform() < 0.5 {
                    FROM + (UNTIL - FROM) * rng.uniform()
                } else {
                    (272.0 + 18.0 * rng.normal()).clamp(FROM, UNTIL)
                };
                let date = decade_day(year, day);
                let excess = TAXA.map(|_| {
                    let spread = self.overdispersion;
                    (spread * rng.normal() - 0.5 * spread * spread).exp()
                });
                Day::new(self.style, number, date, &spots, excess).walked(&mut rng)
            })
            .collect()
    }
}

/// A day of the year in one year of the decade.
pub fn decade_day(year: usize, day: f64) -> Date {
    let first = date(2011 + i16::try_from(year).unwrap(), 1, 1);
    first.checked_add(jiff::Span::new().days(whole(day) - 1)).unwrap()
}

#[allow(clippy::cast_possible_truncation)]
fn whole(number: f64) -> i64 {
    number.round() as i64
}

struct Day<'a> {
    style: Style,
    number: usize,
    date: Date,
    spots: &'a [(f64, f64)],
    rates: [f64; 3],
    clock: f64,
    at: (f64, f64),
    heading: f64,
    points: Vec<TrackPoint>,
    finds: Vec<(Timestamp, usize)>,
    searched: f64,
}

impl<'a> Day<'a> {
    fn new(
        style: Style,
        number: usize,
        date: Date,
        spots: &'a [(f64, f64)],
        excess: [f64; 3],
    ) -> Self {
        let day = phase(date) * 365.0 + 0.5;
        let rates = std::array::from_fn(|taxon| excess[taxon] * TAXA[taxon].rate(day));
        let at = (450.0, -700.0);
        let (points, finds) = (Vec::new(), Vec::new());
        let (clock, heading, searched) = (0.0, 0.0, 0.0);
        Self { style, number, date, spots, rates, clock, at, heading, points, finds, searched }
    }

    fn time(&self) -> Timestamp {
        let base = 1_300_000_000 + 86_400 * i64::try_from(self.number).unwrap();
        Timestamp::from_millisecond(1000 * base + whole(1000.0 * self.clock)).unwrap()
    }

    fn fix(&mut self, activity: Activity) {
        let at = LatLon::clamped(
            47.0 + self.at.1 / 111_200.0,
            11.0 + self.at.0 / (111_320.0 * 47.0_f64.to_radians().cos()),
        );
        self.points.push(TrackPoint {
            time: self.time(),
            at,
            height: None,
            radius: Radius95::new(Metres(8.0)).unwrap(),
            activity,
            gap_after: false,
        });
        self.clock += STEP;
    }

    fn walked(mut self, rng: &mut Rng) -> Outing {
        // in from the car park along the path, search for three hours, and back
        self.walk_to((450.0, 0.0), 1.3, Activity::Walking, None);
        let lunch = 2_400.0 + 3_000.0 * rng.uniform();
        let (mut rested, rests) = (false, rng.uniform() < 0.5);
        let end = 3.0 * 3_600.0 + 1_200.0 * rng.normal();
        while self.clock < end {
            if rests && !rested && self.clock > lunch {
                rested = true;
                self.stay(1_200.0, Activity::Stationary, rng);
            }
            match self.style {
                Style::Systematic => self.line(rng),
                Style::Strolling => self.stroll(rng),
                Style::SpotToSpot => {
                    let goal = self.spots[rng.below(self.spots.len())];
                    self.walk_to(goal, 1.4, Activity::Walking, Some(rng));
                }
            }
        }
        self.walk_to((450.0, 0.0), 1.3, Activity::Walking, None);
        self.walk_to((450.0, -700.0), 1.3, Activity::Walking, None);
        let outing = Uuid::from_u128(self.number as u128 + 1);
        let (date, finds, searched) = (self.date, self.finds, self.searched / 3_600.0);
        Outing { walk: Walk::straight(outing, date, self.points), finds, date, searched }
    }

    /// One line of an area, then a step aside.
    fn line(&mut self, rng: &mut Rng) {
        let inside = |x: f64| x.clamp(20.0, 880.0);
        let east = if self.at.0 > 450.0 { 100.0 } else { 800.0 };
        let goal = (inside(east), inside(self.at.1));
        self.walk_to(goal, 0.35, Activity::Searching, Some(rng));
        let up = if self.at.1 > 850.0 { 30.0 } else { self.at.1 + 15.0 };
        self.walk_to((self.at.0, up), 0.8, Activity::Walking, Some(rng));
    }

    /// A minute of an easy walk that turns slowly and stays inside.
    fn stroll(&mut self, rng: &mut Rng) {
        let outside = !(0.0..900.0).contains(&self.at.0) || !(0.0..900.0).contains(&self.at.1);
        self.heading = if outside {
            (450.0 - self.at.0).atan2(450.0 - self.at.1)
        } else {
            self.heading + 0.6 * rng.normal()
        };
        let ahead = 48.0;
        let goal = (self.at.0 + ahead * self.heading.sin(), self.at.1 + ahead * self.heading.cos());
        let activity = if rng.uniform() < 0.1 { Activity::Searching } else { Activity::Walking };
        self.walk_to(goal, 0.8, activity, Some(rng));
    }

    /// Walks to a place; with random numbers, searching on the way.
    fn walk_to(
        &mut self,
        goal: (f64, f64),
        speed: f64,
        activity: Activity,
        mut search: Option<&mut Rng>,
    ) {
        loop {
            let (dx, dy) = (goal.0 - self.at.0, goal.1 - self.at.1);
            let left = dx.hypot(dy);
            if left < speed * STEP {
                return;
            }
            self.at.0 += speed * STEP * dx / left;
            self.at.1 += speed * STEP * dy / left;
            self.fix(activity);
            let Some(rng) = search.as_deref_mut() else { continue };
            self.searched += STEP;
            for taxon in 0..TAXA.len() {
                let noticed = self.rates[taxon] * noticed(speed) * STEP / 3_600.0;
                for _ in 0..rng.poisson(noticed) {
                    self.handle(taxon, rng);
                }
            }
            // a look about where the search is slow
            if activity == Activity::Searching && rng.uniform() < 0.02 {
                self.stay(20.0, Activity::Stationary, rng);
                self.searched += 20.0;
            }
        }
    }

    /// Photographs, notes, digging: some minutes, most of them recognised as a stop.
    fn handle(&mut self, taxon: usize, rng: &mut Rng) {
        let lasts = 240.0 * (0.5 * rng.normal()).exp();
        self.fix(Activity::Searching);
        let half = self.clock + lasts * rng.uniform();
        let activity = if lasts < 60.0 { Activity::Searching } else { Activity::Stationary };
        let end = self.clock + lasts;
        let mut noted = false;
        while self.clock < end {
            if !noted && self.clock >= half {
                self.finds.push((self.time(), taxon));
                noted = true;
            }
            self.stay(STEP, activity, rng);
        }
        if !noted {
            self.finds.push((self.time(), taxon));
        }
        self.fix(Activity::Searching);
    }

    /// Stays at a place, the receiver moving about a little.
    fn stay(&mut self, seconds: f64, activity: Activity, rng: &mut Rng) {
        let middle = self.at;
        let end = self.clock + seconds;
        while self.clock < end {
            let (turn, away) = (2.0 * PI * rng.uniform(), 0.6 * rng.uniform());
            self.at = (middle.0 + away * turn.sin(), middle.1 + away * turn.cos());
            self.fix(activity);
        }
        self.at = middle;
    }
}
