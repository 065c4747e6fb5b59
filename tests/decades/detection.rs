//! Detection at patches with known presence, by three styles of searching: what is found makes a collector stop, and
//! the stop must not decide which visits count.

use std::collections::BTreeMap;

use jiff::{SignedDuration, Timestamp};
use trug::analyse::detection::{self, Occupancy, Search, SiteHistory, fit};
use trug::analyse::effort::judge::judged;
use trug::analyse::effort::manner::Weights;
use trug::analyse::effort::paths::{PathUse, WalkedCells};
use trug::analyse::statistics::Rng;
use trug::analyse::visits::{VisitRule, Watch};
use trug::analyse::walk::Walk;
use trug::earth::geodesic;
use trug::model::{Activity, Site, SiteId, TrackPoint, Visit};
use trug::units::{LatLon, Metres, Radius95};

use crate::collector::{Decade, Outing};
use crate::truth::{STYLES, Style};

/// The share of seasons in which a patch has the taxon.
const PRESENT: f64 = 0.6;
/// One interval in twenty misses; so far it may miss in a test: the standard error of the share of 800 seasons.
const DRAWN: f64 = 0.017;
/// Found per second within the circle of a visit, walking or searching.
const HAZARD: f64 = 1.0 / 60.0;

/// What was made of a decade, and what is true.
struct Run {
    fitted: Option<Occupancy>,
    /// The share of visits to present patches on which it was found, of those that count.
    share: f64,
    trials: usize,
}

fn patches(rng: &mut Rng) -> Vec<Site> {
    let site = |number: i64| {
        let (x, y) = (900.0 * rng.uniform(), 900.0 * rng.uniform());
        let east = 111_320.0 * 47.0_f64.to_radians().cos();
        Site {
            id: SiteId(number),
            name: None,
            at: LatLon::new(47.0 + y / 111_200.0, 11.0 + x / east).unwrap(),
            radius: Radius95::new(Metres(8.0)).unwrap(),
            finds: Vec::new(),
        }
    };
    (0..80).map(site).collect()
}

/// The outing with a stop of some minutes at each patch that is noticed, and the patches by time of find.
fn handled(
    outing: &Outing,
    sites: &[Site],
    present: &[bool],
    rng: &mut Rng,
) -> (Walk, Vec<(Timestamp, usize)>) {
    let within = VisitRule::default().within;
    let mut found = vec![false; sites.len()];
    let (mut points, mut finds) = (Vec::new(), Vec::new());
    let mut later = SignedDuration::ZERO;
    let mut before: Option<&TrackPoint> = None;
    for point in &outing.walk.points {
        let mut point_now = *point;
        point_now.time = point.time.checked_add(later).unwrap();
        points.push(point_now);
        let moving = point.activity != Activity::Stationary;
        let step =
            before.map_or(0.0, |before| point.time.duration_since(before.time).as_secs_f64());
        before = Some(point);
        for site in (0..sites.len()).filter(|_| moving) {
            let near = geodesic::distance(sites[site].at, point.at) <= within;
            if !near
                || !present[site]
                || found[site]
                || rng.uniform() > 1.0 - (-HAZARD * step).exp()
            {
                continue;
            }
            found[site] = true;
            let mut noted = false;
            for second in (5..=240).step_by(5) {
                let mut still = point_now;
                still.time =
                    point.time.checked_add(later + SignedDuration::from_secs(second)).unwrap();
                still.activity = Activity::Stationary;
                if !noted && second >= 120 {
                    finds.push((still.time, site));
                    noted = true;
                }
                points.push(still);
            }
            later += SignedDuration::from_secs(240);
        }
    }
    (Walk::straight(outing.walk.outing, outing.date, points), finds)
}

fn run(style: Style, seed: u64) -> Run {
    let mut rng = Rng::new(seed);
    let outings = Decade { style, overdispersion: 0.0, seed }.outings();
    let sites = patches(&mut rng);
    let mut years: BTreeMap<i16, Vec<bool>> = BTreeMap::new();
    let mut walks = Vec::new();
    for outing in &outings {
        let draws = (0..sites.len()).map(|_| rng.uniform() < PRESENT).collect();
        let present = years.entry(outing.date.year()).or_insert(draws).clone();
        walks.push(handled(outing, &sites, &present, &mut rng));
    }
    let mut paths = PathUse::default();
    for (walk, _) in &walks {
        paths.add(WalkedCells::of(walk));
    }
    let paths = paths.finish();
    let judged: Vec<_> = walks
        .iter()
        .map(|(walk, finds)| {
            let mut times: Vec<Timestamp> = finds.iter().map(|find| find.0).collect();
            times.sort_unstable();
            let judged = judged(walk.clone(), &times, &paths);
            let by_manner = judged.by_manner(&times);
            (judged, by_manner)
        })
        .collect();
    let weights = Weights::estimated(&judged.iter().map(|(_, by)| *by).collect::<Vec<_>>());
    let watch = Watch::new(&sites, VisitRule::default());
    let mut histories: BTreeMap<i64, BTreeMap<i16, Vec<Search>>> = BTreeMap::new();
    let (mut there, mut hits, mut trials) = (0_usize, 0_usize, 0);
    for ((judged, _), ((_, finds), outing)) in judged.into_iter().zip(walks.iter().zip(&outings)) {
        let walk = Walk { weights, ..judged.walk };
        let found = |visit: &Visit| {
            let here = |find: &(Timestamp, usize)| {
                i64::try_from(find.1).unwrap() == visit.site.0
                    && visit.start <= find.0
                    && find.0 <= visit.end
            };
            finds.iter().any(here)
        };
        for (visit, search) in detection::trials(&watch.visits(&walk, &[], &[], &[]), found) {
            trials += 1;
            if years[&outing.date.year()][usize::try_from(visit.site.0).unwrap()] {
                there += 1;
                hits += usize::from(search.found);
            }
            let seasons = histories.entry(visit.site.0).or_default();
            seasons.entry(outing.date.year()).or_default().push(search);
        }
    }
    let histories: Vec<SiteHistory> = histories
        .into_values()
        .map(|seasons| SiteHistory {
            seasons: seasons.into_values().collect(),
            known_by_find: true,
        })
        .filter(|history| history.searches().any(|search| search.found))
        .collect();
    #[allow(clippy::cast_precision_loss)]
    let share = hits as f64 / there.max(1) as f64;
    Run { fitted: fit(&histories, None), share, trials }
}

#[test]
fn three_styles_of_searching_give_one_presence() {
    for style in STYLES {
        let run = run(style, 1_300);
        let fitted = run.fitted.unwrap();
        let (present, visit) = (fitted.present, fitted.per_visit);
        let holds = present.low95 - DRAWN <= PRESENT && PRESENT <= present.high95 + DRAWN;
        assert!(holds, "{style:?}: {present:?}");
        // where the length of a visit counts, `per_visit` is that of one of the usual length
        let by_time = fitted.by_time.is_some_and(|by_time| by_time.used);
        assert!(
            by_time || (visit.low95 <= run.share && run.share <= visit.high95),
            "{style:?}: {visit:?}, found on {:.3}",
            run.share
        );
    }
}

#[test]
#[ignore = "minutes; its numbers are in docs/sites-and-visits.md"]
fn detection_by_style() {
    for style in STYLES {
        for seed in 1_200..1_204 {
            let run = run(style, seed);
            let Some(fitted) = run.fitted else {
                println!("{style:?} {seed}: {} trials, not determined", run.trials);
                continue;
            };
            println!(
                "{style:?} {seed}: {} trials of {:.2} min; present {:.2} ({:.2} to {:.2}, truth {PRESENT}); \
                 found on {:.3} of visits to present ones, fitted {:.3} ({:.3} to {:.3}); by time {:?}",
                run.trials,
                fitted.usual.unwrap_or(f64::NAN),
                fitted.present.value,
                fitted.present.low95,
                fitted.present.high95,
                run.share,
                fitted.per_visit.value,
                fitted.per_visit.low95,
                fitted.per_visit.high95,
                fitted.by_time.map(|by| by.used),
            );
        }
    }
}
