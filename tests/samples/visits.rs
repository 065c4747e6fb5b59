//! Compares detected visits with the truth for thirty days of ten years, written as files and
//! joined as a user's: all visits, including those without a find, and no others. The truth states
//! which place was searched from when to when, and which was only walked through.

use std::fmt::Write as _;
use std::fs;

use jiff::{Span, Timestamp};
use trug::analyse::sites::{Known, SiteRule, find_sites};
use trug::analyse::spotted::SpottedFind;
use trug::analyse::statistics::Rng;
use trug::analyse::visits::{VisitRule, Watch};
use trug::analyse::walk::Walk;
use trug::ingest::folder;
use trug::join::{Options, join};
use trug::model::{Day, Visit};

/// Places stand in rows and columns this far apart; people walk on lanes between them.
const APART: f64 = 110.0;
const COLUMNS: usize = 4;
const PLACES: usize = 12;
const DAYS: i64 = 30;

/// Metres east and north.
type Spot = (f64, f64);

/// A true search, or a true walk straight through.
#[derive(Clone, Copy, Debug)]
struct TrueVisit {
    place: usize,
    start: i64,
    end: i64,
    searched: bool,
    found: bool,
}

fn place(number: usize) -> Spot {
    ((number % COLUMNS) as f64 * APART, (number / COLUMNS) as f64 * APART)
}

/// A day's true track, a position each second, with its events.
struct Outing {
    rng: Rng,
    way: Vec<Spot>,
    visits: Vec<TrueVisit>,
    finds: Vec<usize>,
}

impl Outing {
    fn second(&self) -> i64 {
        i64::try_from(self.way.len()).unwrap()
    }

    fn walk_to(&mut self, goal: Spot) {
        let pace = 0.8 + 0.4 * self.rng.uniform();
        loop {
            let at = *self.way.last().unwrap();
            let (east, north) = (goal.0 - at.0, goal.1 - at.1);
            let left = east.hypot(north);
            if left < pace {
                return;
            }
            self.way.push((at.0 + pace * east / left, at.1 + pace * north / left));
        }
    }

    /// From the lane south of a place to it, about it or through it, and back to a lane.
    fn visit(&mut self, number: usize, searched: bool, bears: bool) {
        let (east, north) = place(number);
        let lane = north - APART / 2.0;
        let at = *self.way.last().unwrap();
        self.walk_to((at.0, lane.min(at.1)));
        self.walk_to((east, lane));
        self.walk_to((east, north - 14.0));
        let start = self.second();
        if searched {
            let seconds = 100 + self.rng.below(140);
            let mut heading = 0.0_f64;
            for second in 0..seconds {
                let at = *self.way.last().unwrap();
                let (back_east, back_north) = (east - at.0, north - at.1);
                heading = if back_east.hypot(back_north) > 7.0 {
                    back_north.atan2(back_east)
                } else {
                    heading + 0.5 * self.rng.normal()
                };
                let pace = if second % 60 < 40 { 0.4 } else { 0.02 };
                self.way.push((at.0 + pace * heading.cos(), at.1 + pace * heading.sin()));
                if second % 60 == 50 && bears && self.rng.uniform() < 0.4 {
                    self.finds.push(self.way.len() - 1);
                }
            }
        } else {
            self.walk_to((east, north + 14.0));
        }
        let end = self.second();
        let found = self.finds.iter().any(|second| i64::try_from(*second).unwrap() >= start);
        self.visits.push(TrueVisit { place: number, start, end, searched, found });
        // through the gap between the columns back to the lanes
        self.walk_to((east, north + APART / 2.0));
        self.walk_to((east + APART / 2.0, north + APART / 2.0));
        self.walk_to((east + APART / 2.0, -APART / 2.0));
    }
}

fn outing(number: i64, bears: &[bool]) -> Outing {
    let mut outing = Outing {
        rng: Rng::new(900 + number.unsigned_abs()),
        way: vec![(-60.0, -APART / 2.0)],
        visits: Vec::new(),
        finds: Vec::new(),
    };
    for _ in 0..4 {
        let number = outing.rng.below(PLACES);
        let searched = outing.rng.uniform() < 0.75;
        outing.visit(number, searched, bears[number]);
    }
    outing
}

/// The day's files: a track with a fix each five seconds and autocorrelated errors, finds as
/// waypoints.
fn write(outing: &mut Outing, began: Timestamp, number: i64, folder: &std::path::Path) {
    let clock = |second: usize| {
        Timestamp::from_second(began.as_second() + i64::try_from(second).unwrap()).unwrap()
    };
    let position = |spot: Spot| (-42.0 + spot.1 / 111_080.0, 146.0 + spot.0 / 82_850.0);
    let (mut points, mut marks) = (String::new(), String::new());
    let mut notes = String::from("number,date,name\n");
    let keep = (-1.0_f64 / 60.0).exp();
    let fresh = 3.0 * (1.0 - keep * keep).sqrt();
    let mut error = (3.0 * outing.rng.normal(), 3.0 * outing.rng.normal());
    for second in 0..outing.way.len() {
        let rng = &mut outing.rng;
        error = (keep * error.0 + fresh * rng.normal(), keep * error.1 + fresh * rng.normal());
        let seen = (outing.way[second].0 + error.0, outing.way[second].1 + error.1);
        let (lat, lon) = position(seen);
        let time = clock(second);
        if second % 5 == 0 {
            let _ = write!(
                points,
                "<trkpt lat=\"{lat:.7}\" lon=\"{lon:.7}\"><time>{time:.0}</time></trkpt>"
            );
        }
        if outing.finds.contains(&second) {
            let name = format!("V-{number:02}{second:05}");
            let _ = write!(
                marks,
                "<wpt lat=\"{lat:.7}\" lon=\"{lon:.7}\"><time>{time:.0}</time><name>{name}</name></wpt>"
            );
            let date = time.strftime("%Y-%m-%d");
            let _ = writeln!(notes, "{name},{date},Laccaria sp.");
        }
    }
    let gpx = format!(
        "<gpx version=\"1.1\" creator=\"test\" xmlns=\"http://www.topografix.com/GPX/1/1\">{marks}<trk><trkseg>{points}</trkseg></trk></gpx>"
    );
    fs::write(folder.join("way.gpx"), gpx).unwrap();
    if notes.lines().count() > 1 {
        fs::write(folder.join("notes.csv"), notes).unwrap();
    }
}

/// The days as the program joins them, each with its truth.
fn days() -> Vec<(Day, Timestamp, Vec<TrueVisit>)> {
    let mut rng = Rng::new(4);
    let bears: Vec<Vec<bool>> =
        (0..10).map(|_| (0..PLACES).map(|_| rng.uniform() < 0.75).collect()).collect();
    let first: Timestamp = "2016-05-01T00:00:00Z".parse().unwrap();
    (0..DAYS)
        .map(|number| {
            let days = (number / 3) * 365 + (number % 3) * 9;
            let began = first + Span::new().hours(24 * days);
            let mut outing = outing(number, &bears[usize::try_from(number / 3).unwrap()]);
            let folder = tempfile::tempdir().unwrap();
            write(&mut outing, began, number, folder.path());
            let intake = folder::gather(&[folder.path().to_owned()], &|_| {});
            let mut joined = join(intake, &Options::default());
            assert_eq!(joined.len(), 1);
            (joined.remove(0), began, outing.visits)
        })
        .collect()
}

fn spotted(day: &Day) -> impl Iterator<Item = SpottedFind> + '_ {
    day.finds.iter().filter_map(|find| {
        let place = find.place.as_ref().ok()?;
        Some(SpottedFind {
            id: find.id,
            label: find.record.number.as_ref()?.0.as_str().into(),
            at: place.at,
            radius: place.radius,
            date: day.outing.date,
            when: find.when.map(|(when, _)| when),
            taxon: None,
            outing: day.outing.id,
            height: None,
        })
    })
}

#[test]
fn visits_are_detected_with_and_without_a_find() {
    let days = days();
    let finds: Vec<SpottedFind> = days.iter().flat_map(|(day, ..)| spotted(day)).collect();
    let sites = find_sites(&finds, SiteRule::default(), &Known::default());
    // the place that each site is
    let place_of: Vec<usize> = sites
        .sites
        .iter()
        .map(|site| {
            let east = (site.at.longitude() - 146.0) * 82_850.0;
            let north = (site.at.latitude() + 42.0) * 111_080.0;
            let off = |number: &usize| (place(*number).0 - east).hypot(place(*number).1 - north);
            (0..PLACES).min_by(|a, b| off(a).total_cmp(&off(b))).unwrap()
        })
        .collect();
    let known: std::collections::BTreeSet<usize> = place_of.iter().copied().collect();
    assert!(known.len() >= 10, "{} places known", known.len());
    let watch = Watch::new(&sites.sites, VisitRule::default());
    let (mut reported, mut right, mut all, mut met, mut without_find, mut without_find_met) =
        (0, 0, 0, 0, 0, 0);
    let mut shares = Vec::new();
    for (day, began, truth) in &days {
        let here: Vec<usize> =
            (0..finds.len()).filter(|index| finds[*index].outing == day.outing.id).collect();
        let walk = Walk::straight(day.outing.id, day.outing.date, day.track.clone());
        let visits = watch.visits(&walk, &finds, &sites.of_find, &here);
        let is_of = |visit: &Visit, truth: &TrueVisit| {
            let site = sites.sites.iter().position(|site| site.id == visit.site).unwrap();
            let second = |when: Timestamp| when.as_second() - began.as_second();
            place_of[site] == truth.place
                && second(visit.start) <= truth.end
                && second(visit.end) >= truth.start
        };
        let searches: Vec<&Visit> =
            visits.iter().filter(|v| v.searched.0 >= 30.0 || !v.finds.is_empty()).collect();
        reported += searches.len();
        right += searches
            .iter()
            .filter(|visit| truth.iter().any(|truth| truth.searched && is_of(visit, truth)))
            .count();
        for truth in truth.iter().filter(|truth| truth.searched && known.contains(&truth.place)) {
            let visit = searches.iter().find(|visit| is_of(visit, truth));
            all += 1;
            met += u32::from(visit.is_some());
            without_find += u32::from(!truth.found);
            without_find_met += u32::from(!truth.found && visit.is_some());
            shares.extend(visit.map(|v| v.searched.0 / (truth.end - truth.start) as f64));
        }
    }
    shares.sort_by(f64::total_cmp);
    let (recall, precision) = (f64::from(met) / f64::from(all), right as f64 / reported as f64);
    let in_without_find = f64::from(without_find_met) / f64::from(without_find);
    let half = shares[shares.len() / 2];
    assert!(all > 60 && without_find > 20, "{all} searches, {without_find} without a find");
    assert!(
        recall >= 0.95 && precision >= 0.95 && in_without_find >= 0.95,
        "recall {recall:.3} of {all}, precision {precision:.3} of {reported}, without a find {in_without_find:.3} of {without_find}"
    );
    assert!((0.7..1.3).contains(&half), "half of the searches last {half:.2} of the truth or less");
}
