//! Detects visits to sites from the tracks: when each site was passed, whether it was searched and
//! whether anything was found. Searches without a find count as visits. Layer: `analyse`.
//!
//! # Method
//! A pass is the time for which the track is within the search distance of a site's centre,
//! computed exactly on the segments between fixes (never across a gap). Passes with less than a
//! stated time between them are one visit, since collectors move back and forth.
//!
//! Time at finds and long rests are no search (`analyse::effort`). Walking past is a search for as
//! much as its weight, where enough finds show that things are found while walking.
//!
//! A pass is a search by the activity of the track; and regardless of activity, a stay within the
//! circle of at least a minute without progress, at less than half of walking speed, counts as a
//! search ([`LINGERING`]).
//!
//! A find that belongs to the site but
//! was made while no track ran near it makes a visit of its own, of unknown length.

use std::collections::BTreeMap;

use jiff::Timestamp;
use uuid::Uuid;

use super::effort::manner::{ENOUGH, Manner};
use super::spatial_index::{Ecef, Lattice};
use super::spotted::SpottedFind;
use super::walk::{Piece, Walk};
use crate::model::{Activity, Site, Visit};
use crate::units::{LatLon, Metres, Seconds};

/// Options of the visits.
///
/// Positions have errors of some metres, so that a site 20 m beside the track may or may not be within 15 m: choose
/// the distance that fits how the ground is searched.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VisitRule {
    /// The largest distance of the track from the centre of a site.
    pub within: Metres,
    /// Passes separated by less than this are one visit.
    pub apart: Seconds,
}

impl Default for VisitRule {
    /// 15 m, and five minutes between visits.
    fn default() -> Self {
        Self { within: Metres(15.0), apart: Seconds(300.0) }
    }
}

/// Sites indexed for many walks.
#[derive(Clone, Debug)]
pub struct Watch<'a> {
    sites: &'a [Site],
    middles: Vec<Ecef>,
    lattice: Lattice,
    rule: VisitRule,
}

/// A stay of at least this duration without progress is not walking through.
pub const LINGERING: Seconds = Seconds(60.0);
/// Its speed along the track is below this, metres per second: half of an easy walk (project
/// choice).
const SLOW: f64 = 0.6;
/// Its net speed from entry to exit is below this, metres per second (project choice).
const NOWHERE: f64 = 0.3;

/// Segments tested together: a site far from all of them is skipped at once.
const BLOCK: usize = 16;

impl<'a> Watch<'a> {
    /// Indexes these sites.
    #[must_use]
    pub fn new(sites: &'a [Site], rule: VisitRule) -> Self {
        let places: Vec<LatLon> = sites.iter().map(|site| site.at).collect();
        let size = Metres((rule.within.0 * 4.0).max(50.0));
        Self {
            sites,
            middles: places.iter().map(|place| Ecef::of(*place)).collect(),
            lattice: Lattice::new(&places, size),
            rule,
        }
    }

    /// The visits of one outing in order of time, with the finds made on them.
    ///
    /// `finds` are all finds, `of_find` the index of the site of each; only those of this outing
    /// count, whose indices are passed as `here`.
    ///
    /// # Accuracy
    /// On thirty days of ten years with known truth recall and precision are at least 0.95, also for searches without a
    /// find alone: test `visits_are_detected_with_and_without_a_find`.
    #[must_use]
    pub fn visits(
        &self,
        walk: &Walk,
        finds: &[SpottedFind],
        of_find: &[Option<usize>],
        here: &[usize],
    ) -> Vec<Visit> {
        let mut visits: BTreeMap<usize, Vec<Visit>> = self
            .passes(walk)
            .into_iter()
            .map(|(site, passes)| (site, self.as_visits(site, walk.outing, &passes)))
            .collect();
        for index in here {
            if let Some(site) = of_find.get(*index).copied().flatten() {
                self.add_find(visits.entry(site).or_default(), site, *index, &finds[*index]);
            }
        }
        let mut visits: Vec<Visit> = visits.into_values().flatten().collect();
        visits.sort_by_key(|visit| (visit.start, visit.site));
        visits
    }

    fn passes(&self, walk: &Walk) -> BTreeMap<usize, Vec<Pass>> {
        let mut passes: BTreeMap<usize, Vec<Pass>> = BTreeMap::new();
        let mut near = Vec::new();
        for first in (0..walk.points.len()).step_by(BLOCK) {
            let last = (first + BLOCK).min(walk.points.len() - 1);
            let block = &walk.points[first..=last];
            let middle = block[block.len() / 2].at;
            let spots: Vec<Ecef> = block.iter().map(|point| Ecef::of(point.at)).collect();
            let centre = Ecef::of(middle);
            let spread = spots.iter().map(|spot| spot.distance2(centre)).fold(0.0, f64::max).sqrt();
            near.clear();
            let reach = spread + self.rule.within.0;
            self.lattice.near(middle, Metres(reach * 1.000_1), |site| near.push(site as usize));
            near.retain(|site| self.middles[*site].distance2(centre) <= reach * reach);
            for site in &near {
                self.pass_block(*site, walk, first, &spots, passes.entry(*site).or_default());
            }
        }
        passes.retain(|_, passes| !passes.is_empty());
        passes
    }

    /// The passes of one site over a block of pieces. A piece that enters the circle extends the last pass where no
    /// more than the stated time lies between, otherwise it begins a new one; pieces across a gap do not exist.
    fn pass_block(
        &self,
        site: usize,
        walk: &Walk,
        first: usize,
        spots: &[Ecef],
        passes: &mut Vec<Pass>,
    ) {
        let middle = self.middles[site];
        for (place, spots) in spots.windows(2).enumerate() {
            let Some((enter, leave, nearest)) =
                inside(spots[0] - middle, spots[1] - middle, self.rule.within.0)
            else {
                continue;
            };
            let Some(piece) = walk.piece(first + place) else { continue };
            let along = spots[1] - spots[0];
            let ends = (spots[0] + along * enter, spots[0] + along * leave);
            let pass = Pass::of(&piece, (enter, leave), ends, nearest);
            match passes.last_mut() {
                Some(open) if Seconds::between(open.end, pass.start) <= self.rule.apart => {
                    open.extend(&pass);
                }
                _ => passes.push(pass),
            }
        }
    }

    fn as_visits(&self, site: usize, outing: Uuid, passes: &[Pass]) -> Vec<Visit> {
        passes
            .iter()
            .map(|pass| pass.settled())
            .map(|pass| Visit {
                site: self.sites[site].id,
                outing,
                start: pass.start,
                end: pass.end,
                spent: Seconds(pass.walked + pass.searched + pass.stopped + pass.idle),
                searched: Seconds(pass.searched + pass.stopped + pass.noticed),
                stopped: Seconds(pass.stopped),
                handled: Seconds(pass.handled),
                length: Metres(pass.length),
                searched_length: Metres(pass.searched_length),
                activity: pass.activity(),
                nearest: Some(Metres(pass.nearest2.sqrt())),
                finds: Vec::new(),
            })
            .collect()
    }

    /// Gives a find to the visit that is nearest in time; without a time, to the longest search of the day. A find with
    /// a time on an outing that no track brings to the site makes a visit of its own, of unknown length.
    fn add_find(&self, visits: &mut Vec<Visit>, site: usize, index: usize, find: &SpottedFind) {
        // a find without a time is assigned to the longest search of the day
        let best = match find.when {
            Some(when) => visits.iter_mut().min_by(|a, b| away(a, when).total_cmp(&away(b, when))),
            None => visits.iter_mut().max_by(|a, b| a.searched.0.total_cmp(&b.searched.0)),
        };
        if let Some(visit) = best {
            visit.finds.push(index);
        } else if let Some(when) = find.when {
            visits.push(Visit {
                site: self.sites[site].id,
                outing: find.outing,
                start: when,
                end: when,
                spent: Seconds(0.0),
                searched: Seconds(0.0),
                stopped: Seconds(0.0),
                handled: Seconds(0.0),
                length: Metres(0.0),
                searched_length: Metres(0.0),
                activity: Activity::Stationary,
                nearest: None,
                finds: vec![index],
            });
        }
    }
}

/// The time between an instant and a visit, seconds.
fn away(visit: &Visit, when: Timestamp) -> f64 {
    Seconds::between(when, visit.start).0.max(Seconds::between(visit.end, when).0).max(0.0)
}

/// The shares of a straight piece at which it enters and leaves the circle of this radius about the
/// origin, with the square of the least distance; `None` where it stays outside.
fn inside(from: Ecef, to: Ecef, radius: f64) -> Option<(f64, f64, f64)> {
    let along = to - from;
    let length2 = along.dot(along);
    let (start2, limit2) = (from.dot(from), radius * radius);
    if length2 < 1e-12 {
        return (start2 <= limit2).then_some((0.0, 1.0, start2));
    }
    let foot = -from.dot(along) / length2;
    let offset2 = (start2 - foot * foot * length2).max(0.0);
    if offset2 > limit2 {
        return None;
    }
    let half = ((limit2 - offset2) / length2).sqrt();
    let (enter, leave) = ((foot - half).max(0.0), (foot + half).min(1.0));
    let nearest = foot.clamp(0.0, 1.0) - foot;
    (enter <= leave).then_some((enter, leave, offset2 + nearest * nearest * length2))
}

/// Whether a piece is walking and not searching.
fn walks(piece: &Piece<'_>) -> bool {
    match piece.manner {
        Some(manner) => matches!(manner, Manner::Steady | Manner::Brisk | Manner::Path),
        None => piece.activity() == Activity::Walking,
    }
}

/// The weight of an hour from which walking past a site is a search of it (project choice).
const NOTICES: f64 = 0.3;

/// How much a walking piece counts as search of a site: off regular paths, and where enough finds
/// show that things are found while walking.
fn noticing(piece: &Piece<'_>) -> f64 {
    let weight = match piece.manner {
        Some(manner @ (Manner::Steady | Manner::Brisk)) if piece.weights.finds >= ENOUGH => {
            piece.weights.of_hour(manner)
        }
        _ => 0.0,
    };
    if weight >= NOTICES { weight } else { 0.0 }
}

/// One stay within the circle, with seconds by activity.
#[derive(Clone, Copy, Debug)]
struct Pass {
    start: Timestamp,
    end: Timestamp,
    walked: f64,
    /// The part of `walked` that counts as search, where finds show that it does.
    noticed: f64,
    searched: f64,
    stopped: f64,
    /// At finds and resting.
    idle: f64,
    handled: f64,
    length: f64,
    searched_length: f64,
    nearest2: f64,
    stay: Stay,
}

/// The unbroken part of a pass that it ends with.
#[derive(Clone, Copy, Debug)]
struct Stay {
    start: Timestamp,
    from: Ecef,
    to: Ecef,
    length: f64,
    /// Seconds and metres of it walking, and the seconds of that which count as search.
    walked: f64,
    noticed: f64,
    walked_length: f64,
    /// Seconds of it at finds and resting.
    idle: f64,
}

impl Stay {
    /// Whether the stay is much longer than walking through would take, time at finds and rests apart: with them a
    /// find would make a search of walking past.
    fn lingers(&self, end: Timestamp) -> bool {
        let time = Seconds::between(self.start, end).0 - self.idle;
        time >= LINGERING.0
            && self.length < SLOW * time
            && self.from.distance(self.to).0 < NOWHERE * time
    }
}

impl Pass {
    fn of(
        piece: &Piece<'_>,
        (enter, leave): (f64, f64),
        (from, to): (Ecef, Ecef),
        nearest2: f64,
    ) -> Self {
        let time = piece.time().0 * (leave - enter);
        let length = piece.length.0 * (leave - enter);
        let of = |counts: bool| if counts { time } else { 0.0 };
        let (walks, idle) = (walks(piece), piece.manner.is_some_and(|m| m.class().is_none()));
        let stops = piece.activity() == Activity::Stationary;
        Self {
            start: piece.instant(enter),
            end: piece.instant(leave),
            walked: of(walks),
            noticed: if walks { time * noticing(piece) } else { 0.0 },
            searched: of(!walks && !idle && !stops),
            stopped: of(!walks && !idle && stops),
            idle: of(idle),
            handled: of(piece.manner == Some(Manner::Handling)),
            length,
            searched_length: if walks { 0.0 } else { length },
            nearest2,
            stay: Stay {
                start: piece.instant(enter),
                from,
                to,
                length,
                walked: of(walks),
                noticed: if walks { time * noticing(piece) } else { 0.0 },
                walked_length: if walks { length } else { 0.0 },
                idle: of(idle),
            },
        }
    }

    /// The pass with its last stay judged.
    fn settled(mut self) -> Self {
        if self.stay.lingers(self.end) {
            self.walked -= self.stay.walked;
            self.noticed -= self.stay.noticed;
            self.stay.noticed = 0.0;
            self.searched += self.stay.walked;
            self.searched_length += self.stay.walked_length;
            self.stay.walked = 0.0;
            self.stay.walked_length = 0.0;
        }
        self
    }

    fn extend(&mut self, next: &Self) {
        const UNBROKEN: f64 = 1e-3;
        if Seconds::between(self.end, next.start).0 <= UNBROKEN {
            self.stay.to = next.stay.to;
            self.stay.length += next.stay.length;
            self.stay.walked += next.stay.walked;
            self.stay.noticed += next.stay.noticed;
            self.stay.walked_length += next.stay.walked_length;
            self.stay.idle += next.stay.idle;
        } else {
            *self = self.settled();
            self.stay = next.stay;
        }
        self.end = self.end.max(next.end);
        self.walked += next.walked;
        self.noticed += next.noticed;
        self.idle += next.idle;
        self.handled += next.handled;
        self.searched += next.searched;
        self.stopped += next.stopped;
        self.length += next.length;
        self.searched_length += next.searched_length;
        self.nearest2 = self.nearest2.min(next.nearest2);
    }

    /// The activity with the most time; stationary counts as searching where both occur.
    fn activity(&self) -> Activity {
        if self.walked > self.searched + self.stopped + self.idle {
            Activity::Walking
        } else if self.searched >= self.stopped + self.idle {
            Activity::Searching
        } else {
            Activity::Stationary
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{SiteId, TrackPoint};
    use crate::units::Radius95;
    use jiff::civil::date;

    fn place(north: f64, east: f64) -> LatLon {
        LatLon::clamped(-17.0 + north / 110_650.0, 179.999_9 + east / 106_490.0)
    }

    fn site(id: i64, north: f64, east: f64) -> Site {
        let radius = Radius95::new(Metres(8.0)).unwrap();
        Site { id: SiteId(id), name: None, at: place(north, east), radius, finds: vec![] }
    }

    /// A straight walk to the east at 1 m/s, a point each `step` seconds.
    fn walk(seconds: i64, step: usize, activity: Activity) -> Walk {
        let points = (0..=seconds)
            .step_by(step)
            .map(|t| TrackPoint {
                time: Timestamp::from_second(1_700_000_000 + t).unwrap(),
                at: place(0.0, t as f64),
                height: None,
                radius: Radius95::new(Metres(8.0)).unwrap(),
                activity,
                gap_after: false,
            })
            .collect();
        Walk::straight(Uuid::nil(), date(2026, 5, 3), points)
    }

    #[test]
    fn pass_duration_follows_the_chord_at_any_logging_interval() {
        let sites = [site(1, 9.0, 200.0), site(2, 16.0, 200.0)];
        for step in [1, 10, 60] {
            let watch = Watch::new(&sites, VisitRule::default());
            let visits = watch.visits(&walk(400, step, Activity::Searching), &[], &[], &[]);
            assert_eq!(visits.len(), 1, "{step}");
            // a chord of 2 sqrt(15² - 9²) = 24 m at 1 m/s
            assert!((visits[0].searched.0 - 24.0).abs() < 0.3, "{step}: {:?}", visits[0]);
            assert!((visits[0].nearest.unwrap().0 - 9.0).abs() < 0.05);
            assert!(visits[0].finds.is_empty());
        }
    }

    #[test]
    fn gaps_are_not_searched() {
        let mut walk = walk(400, 50, Activity::Walking);
        walk.points[3].gap_after = true;
        walk.points[4].gap_after = true;
        let sites = [site(1, 0.0, 200.0)];
        assert!(Watch::new(&sites, VisitRule::default()).visits(&walk, &[], &[], &[]).is_empty());
    }

    #[test]
    fn back_and_forth_is_one_visit_and_an_hour_later_is_another() {
        let mut there = walk(60, 1, Activity::Searching);
        let shifted = |by: i64| {
            let mut later = walk(60, 1, Activity::Walking).points;
            for p in &mut later {
                p.time = Timestamp::from_second(p.time.as_second() + by).unwrap();
            }
            later
        };
        there.points.extend(shifted(120));
        there.points.extend(shifted(4_000));
        let breaks: Vec<usize> = vec![60, 121];
        for i in breaks {
            there.points[i].gap_after = true;
        }
        let there = Walk::straight(there.outing, there.date, there.points);
        let sites = [site(1, 0.0, 30.0)];
        let visits = Watch::new(&sites, VisitRule::default()).visits(&there, &[], &[], &[]);
        assert_eq!(visits.len(), 2);
        assert!(
            (visits[0].spent.0 - 60.0).abs() < 0.5 && (visits[0].searched.0 - 30.0).abs() < 0.5
        );
        assert_eq!(visits[1].activity, Activity::Walking);
    }

    #[test]
    fn stay_without_progress_counts_as_searching() {
        let sites = [site(1, 0.0, 30.0)];
        let visit = |walk: Walk| {
            let visits = Watch::new(&sites, VisitRule::default()).visits(&walk, &[], &[], &[]);
            assert_eq!(visits.len(), 1);
            visits[0].clone()
        };
        // 5 m back and forth at 0.4 m/s
        let fro = |t: i64| 30.0 + 5.0 * (0.08 * t as f64).sin();
        let moved = |seconds: i64, east: &dyn Fn(i64) -> f64| {
            let mut walk = walk(seconds, 1, Activity::Walking);
            for (t, point) in (0..).zip(&mut walk.points) {
                point.at = place(0.0, east(t));
            }
            Walk::straight(walk.outing, walk.date, walk.points)
        };
        let long = visit(moved(80, &fro));
        assert!(
            (long.searched.0 - 80.0).abs() < 0.1 && long.activity == Activity::Searching,
            "{long:?}"
        );
        assert!((long.searched_length.0 - long.length.0).abs() < 1e-6);
        assert_eq!(visit(moved(50, &fro)).searched.0, 0.0, "a moment's hesitation is none");
        // straight through at any speed, and in and out at walking speed
        assert_eq!(visit(moved(200, &|t| 0.4 * t as f64)).searched.0, 0.0);
        assert_eq!(visit(moved(60, &|t| 30.0 - (30 - t).abs() as f64)).searched.0, 0.0);
    }

    #[test]
    fn find_without_a_track_is_a_visit() {
        let sites = [site(1, 0.0, 30.0)];
        let find = SpottedFind {
            id: Uuid::from_u128(1),
            label: "1".into(),
            at: place(0.0, 30.0),
            radius: Radius95::new(Metres(8.0)).unwrap(),
            date: date(2026, 5, 3),
            when: Some(Timestamp::from_second(1_700_000_500).unwrap()),
            taxon: None,
            outing: Uuid::nil(),
            height: None,
        };
        let none = Walk::straight(Uuid::nil(), date(2026, 5, 3), vec![]);
        let watch = Watch::new(&sites, VisitRule::default());
        let visits = watch.visits(&none, &[find], &[Some(0)], &[0]);
        assert_eq!(visits.len(), 1);
        assert_eq!(visits[0].finds, [0]);
    }
}
