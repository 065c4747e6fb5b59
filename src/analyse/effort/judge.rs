//! Judges each part of a track: searching, walking, on a regular path, resting or at a find.
//! Layer: `analyse`.

use jiff::Timestamp;

use super::handling::{Halt, Interval, blur, halts, intervals, sharpened};
use super::manner::{BRISK, Manner, SEARCHING, SLOW};
use super::paths::RegularPaths;
use super::weights::ByManner;
use crate::analyse::walk::Walk;
use crate::model::Activity;
use crate::units::{Metres, Seconds};

/// A stop without a find counts as search for this long: looking about. Beyond it is a rest
/// (project choice).
const LOOKING: Seconds = Seconds(120.0);
/// Speeds are averages from so long before to so long after: shorter ones are the receiver's noise.
const ABOUT: f64 = 20.0;
/// The time before arrival whose manner is that of the find.
const BEFORE: Seconds = Seconds(60.0);

/// A judged track.
#[derive(Clone, Debug)]
pub struct Judged {
    /// The track with the manner of each piece, cut where handling begins and ends.
    pub walk: Walk,
    /// The times spent at finds.
    pub handling: Vec<Interval>,
    cuts: Vec<Timestamp>,
}

/// What is kept of a judgement: neither finds nor other tracks are needed to apply it again.
#[derive(Clone, Debug, Default)]
pub struct Judgement {
    /// Where the track is cut.
    cuts: Vec<Timestamp>,
    /// The manner of each piece after that.
    manners: Vec<Manner>,
}

impl Judgement {
    /// The same track, judged.
    #[must_use]
    pub fn applied(&self, walk: Walk) -> Walk {
        Walk { manners: self.manners.clone(), ..cut(walk, &self.cuts) }
    }
}

impl From<Judged> for Judgement {
    fn from(judged: Judged) -> Self {
        Self { cuts: judged.cuts, manners: judged.walk.manners }
    }
}

/// Judges a track with finds at these times.
#[must_use]
pub fn judged(walk: Walk, finds: &[Timestamp], paths: &RegularPaths) -> Judged {
    let stops = halts(&walk);
    let blurred = intervals(&walk, &stops, finds);
    let blur = blur(&walk);
    let handling: Vec<Interval> =
        blurred.iter().map(|interval| sharpened(*interval, blur)).collect();
    let mut cuts: Vec<Timestamp> = handling.iter().flat_map(|(from, to)| [*from, *to]).collect();
    cuts.extend(stops.iter().map(|halt| LOOKING.after(halt.from)));
    cuts.sort_unstable();
    let mut walk = cut(walk, &cuts);
    walk.manners = manners(&walk, &stops, (&handling, &blurred), paths);
    Judged { walk, handling, cuts }
}

/// The track with points at these instants.
fn cut(walk: Walk, cuts: &[Timestamp]) -> Walk {
    let count = walk.points.len() + cuts.len();
    let (mut points, mut lengths) = (Vec::with_capacity(count), Vec::with_capacity(count));
    for (index, point) in walk.points.iter().enumerate() {
        points.push(*point);
        let length = walk.lengths.get(index).copied().unwrap_or_default();
        let Some(piece) = walk.piece(index) else {
            lengths.push(length);
            continue;
        };
        let first = cuts.partition_point(|cut| *cut <= piece.from.time);
        let mut before = 0.0;
        for cut in cuts[first..].iter().take_while(|cut| **cut < piece.to.time) {
            let share = Seconds::between(piece.from.time, *cut).0 / piece.time().0;
            if share <= before {
                continue;
            }
            lengths.push(length * (share - before));
            let height = piece.height(share).map(|h| crate::units::GpsHeight(Metres(h)));
            points.push(crate::model::TrackPoint {
                time: *cut,
                at: piece.at(share),
                height,
                ..*point
            });
            before = share;
        }
        lengths.push(length * (1.0 - before));
    }
    Walk { points, lengths, ..walk }
}

/// The manner of the piece that begins at each point; [`Manner::Rest`] where none begins (a gap, the end). What may be
/// search has the manner of most of the moving minute up to it, as finds have ([`Judged::by_manner`]): the steps about
/// a stop are slow whoever walks.
fn manners(
    walk: &Walk,
    stops: &[Halt],
    intervals: (&[Interval], &[Interval]),
    paths: &RegularPaths,
) -> Vec<Manner> {
    let own = own_manners(walk, stops, intervals, paths);
    let mut minute = Minute::default();
    (0..own.len())
        .map(|place| {
            let (Some(class), Some(piece)) = (own[place].class(), walk.piece(place)) else {
                return own[place];
            };
            if piece.activity() != Activity::Stationary {
                minute.push(class, piece.time().0);
            }
            minute.most().map_or(own[place], |class| SEARCHING[class])
        })
        .collect()
}

/// The moving time by manner of the last minute.
#[derive(Default)]
struct Minute {
    parts: std::collections::VecDeque<(usize, f64)>,
    sums: [f64; 4],
}

impl Minute {
    fn push(&mut self, class: usize, time: f64) {
        self.parts.push_back((class, time));
        self.sums[class] += time;
        let mut over = self.sums.iter().sum::<f64>() - BEFORE.0;
        while over > 1e-9
            && let Some((class, time)) = self.parts.front_mut()
        {
            let less = over.min(*time);
            self.sums[*class] -= less;
            *time -= less;
            over -= less;
            if *time <= 1e-9 {
                self.parts.pop_front();
            }
        }
    }

    /// The manner of most of it.
    fn most(&self) -> Option<usize> {
        let known = (0..4).filter(|class| self.sums[*class] > 1e-9);
        known.max_by(|a, b| self.sums[*a].total_cmp(&self.sums[*b]))
    }
}

/// The manner of each piece by itself. At a find it is handling; a stop counts as search for its first two minutes;
/// walking is divided by the mean speed of 20 s before and after, and by whether it follows a regular path.
fn own_manners(
    walk: &Walk,
    stops: &[Halt],
    (handling, blurred): (&[Interval], &[Interval]),
    paths: &RegularPaths,
) -> Vec<Manner> {
    let speeds = Speeds::of(walk, handling);
    (0..walk.points.len())
        .map(|place| {
            let Some(piece) = walk.piece(place) else { return Manner::Rest };
            if at(handling, piece.from.time).is_some() {
                return Manner::Handling;
            }
            // the way to a find and from it, seen by fixes that are far apart
            if at(blurred, piece.from.time).is_some() {
                return Manner::Searching;
            }
            match piece.activity() {
                Activity::Stationary => {
                    let stop = stops.partition_point(|halt| halt.to <= piece.from.time);
                    let since = stops.get(stop).map_or(piece.from.time, |halt| halt.from);
                    if Seconds::between(since, piece.from.time) < LOOKING {
                        Manner::Searching
                    } else {
                        Manner::Rest
                    }
                }
                Activity::Searching => Manner::Searching,
                Activity::Walking => match speeds.about(place) {
                    speed if speed < SLOW => Manner::Searching,
                    _ if paths.regular(piece.from.at, piece.to.at) => Manner::Path,
                    speed if speed < BRISK => Manner::Steady,
                    _ => Manner::Brisk,
                },
            }
        })
        .collect()
}

/// The interval that holds an instant.
fn at(intervals: &[Interval], when: Timestamp) -> Option<&Interval> {
    let place = intervals.partition_point(|(_, to)| *to <= when);
    intervals.get(place).filter(|(from, _)| *from <= when)
}

/// Sums of time and length of the moving track, for averages.
struct Speeds {
    /// Seconds and metres of moving track before each point.
    before: Vec<(f64, f64)>,
    /// The seconds at which each point was reached.
    clock: Vec<f64>,
    /// The number of the unbroken run that each piece belongs to.
    run: Vec<usize>,
}

impl Speeds {
    fn of(walk: &Walk, handling: &[Interval]) -> Self {
        let mut speeds = Self { before: vec![(0.0, 0.0)], clock: Vec::new(), run: Vec::new() };
        let (mut sum, mut run) = ((0.0, 0.0), 0);
        for place in 0..walk.points.len() {
            let since = Seconds::between(walk.points[0].time, walk.points[place].time);
            speeds.clock.push(since.0);
            match walk.piece(place) {
                Some(piece)
                    if piece.activity() != Activity::Stationary
                        && at(handling, piece.from.time).is_none() =>
                {
                    sum = (sum.0 + piece.time().0, sum.1 + piece.length.0);
                }
                Some(_) => {}
                None => run += 1,
            }
            speeds.before.push(sum);
            speeds.run.push(run);
        }
        speeds
    }

    /// The mean speed about a piece, metres per second.
    fn about(&self, place: usize) -> f64 {
        let here = self.clock[place];
        let same = |other: &usize| self.run[*other] == self.run[place];
        let first = (0..=place)
            .rev()
            .take_while(|other| same(other) && here - self.clock[*other] <= ABOUT)
            .last()
            .unwrap_or(place);
        let last = (place..self.run.len())
            .take_while(|other| same(other) && self.clock[*other] - here <= ABOUT)
            .last()
            .unwrap_or(place);
        let (from, to) = (self.before[first], self.before[last + 1]);
        if to.0 > from.0 { (to.1 - from.1) / (to.0 - from.0) } else { 0.0 }
    }
}

impl Judged {
    /// Hours and kilometres by manner, and the manners in which finds at these times were made.
    #[must_use]
    pub fn by_manner(&self, finds: &[Timestamp]) -> ByManner {
        let mut sums = ByManner::default();
        for piece in self.walk.pieces() {
            if let Some(class) = piece.manner.and_then(Manner::class) {
                sums.hours[class] += piece.time().0 / 3600.0;
                sums.km[class] += piece.length.0 / 1e3;
            }
        }
        for class in finds.iter().filter_map(|when| self.approach(*when)) {
            sums.finds[class] += 1;
        }
        sums
    }

    /// The manner in which the collector arrived at a find, that of most of the moving minute before.
    fn approach(&self, when: Timestamp) -> Option<usize> {
        let away = |interval: &&Interval| {
            Seconds::between(when, interval.0).0.max(Seconds::between(interval.1, when).0)
        };
        // the intervals are disjoint and in order: only the last before and the first after can be nearest
        let after = self.handling.partition_point(|(_, to)| *to < when);
        let beside = &self.handling[after.saturating_sub(1)..(after + 1).min(self.handling.len())];
        let arrival = beside
            .iter()
            .filter(|interval| away(interval) <= 120.0)
            .min_by(|a, b| away(a).total_cmp(&away(b)))
            .map_or(when, |interval| interval.0);
        let points = &self.walk.points;
        let place = points.partition_point(|point| point.time < arrival);
        let mut before = (0..place).rev().map_while(|place| self.walk.piece(place));
        before.find_map(|piece| piece.manner.and_then(Manner::class))
    }
}
