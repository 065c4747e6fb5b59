//! Selects the maps of a season page: cells of the decimal grid where positions are generalised,
//! densities where they may be exact; never a track or a sensitive find. Layer: `commands`.

use std::collections::{BTreeMap, HashMap};

use crate::analyse::density::bandwidth::Choice;
use crate::analyse::density::kernel::Mass;
use crate::analyse::density::track::{BESIDE, PlaneFind, SearchedRun, bandwidth, masses};
use crate::analyse::density::{DensityMap, grid_about};
use crate::analyse::regions::{WALK, regions};
use crate::analyse::walk::{Piece, Walk};
use crate::commands::console::Console;
use crate::commands::others::{NEAR, Prepared};
use crate::commands::years::Years;
use crate::earth::equal_area::EqualArea;
use crate::earth::geodesic;
use crate::error::Result;
use crate::model::{GridCell, KeptFind, Sensitivity};
use crate::present::sensitive::Care;
use crate::present::sheet::season::{Ground, GroundMap, Span};
use crate::present::years::density::{Area, Sheet};
use crate::units::{LatLon, Metres};

/// The largest number of maps on a page.
const MOST_MAPS: usize = 6;
/// The least number of finds for a density map.
const LEAST_FINDS: usize = 3;
const CELLS: usize = 256;

/// A find that may be shown, with position, year and uncertainty.
struct Shown {
    at: LatLon,
    /// Its cell, where it is generalised.
    cell: Option<GridCell>,
    year: i16,
    radius: Metres,
    outing: uuid::Uuid,
}

pub(super) fn of(
    years: &Years,
    prepared: &Prepared,
    span: Span,
    care: Care,
    console: &Console,
) -> Result<Ground> {
    let within: Vec<&KeptFind> =
        prepared.shown.finds.iter().filter(|find| span.holds(find.date)).collect();
    let shown: Vec<Shown> = within
        .iter()
        .filter(|find| may_be_shown(find, care))
        .filter_map(|find| {
            let place = find.place.as_ref()?;
            let radius = place.radius.metres();
            let cell = find.generalised.as_ref().and_then(|generalised| generalised.cell);
            let year = find.date.year();
            Some(Shown { at: place.at, cell, year, radius, outing: find.outing })
        })
        .collect();
    let places: Vec<LatLon> = shown.iter().map(|find| find.at).collect();
    let mut grounds = regions(&places);
    let least = if care == Care::Generalised { 1 } else { LEAST_FINDS };
    let few: usize = grounds.iter().filter(|ground| ground.len() < least).map(Vec::len).sum();
    grounds.retain(|ground| ground.len() >= least);
    let beyond: usize = grounds.iter().skip(MOST_MAPS).map(Vec::len).sum();
    grounds.truncate(MOST_MAPS);
    let maps = if care == Care::Generalised {
        grounds.iter().map(|ground| cells(&shown, ground)).collect()
    } else {
        let tracks = tracks(years, prepared, span, console)?;
        let map = |ground: &Vec<usize>| density(&shown, ground, &tracks, span);
        grounds.iter().filter_map(map).collect()
    };
    let unlocated = prepared.originals.iter().filter(|find| span.holds(find.date));
    let unlocated = unlocated.filter(|find| find.place.is_none()).count();
    let sensitive = within.len() - shown.len() - unlocated;
    Ok(Ground {
        maps,
        left_out: vec![
            ("with a sensitivity coarser than this map", sensitive),
            ("without a position", unlocated),
            ("in areas with too few finds for a map", few),
            ("in other areas with fewer finds", beyond),
        ],
    })
}

fn may_be_shown(find: &KeptFind, care: Care) -> bool {
    match &find.generalised {
        None => true,
        Some(generalised) => care == Care::Generalised && generalised.level == Sensitivity::Low,
    }
}

fn cells(shown: &[Shown], ground: &[usize]) -> GroundMap {
    let mut cells: BTreeMap<(u64, u64), (GridCell, usize)> = BTreeMap::new();
    for cell in ground.iter().filter_map(|find| shown[*find].cell) {
        let key = (cell.at.latitude().to_bits(), cell.at.longitude().to_bits());
        cells.entry(key).or_insert((cell, 0)).1 += 1;
    }
    GroundMap::Cells { cells: cells.into_values().collect() }
}

/// A searched track with its year.
struct SearchedTrack {
    year: i16,
    outing: uuid::Uuid,
    /// How much a metre counts as searched.
    weight: f64,
    places: Vec<LatLon>,
}

/// The searched tracks of outings without sensitive finds.
fn tracks(
    years: &Years,
    prepared: &Prepared,
    span: Span,
    console: &Console,
) -> Result<Vec<SearchedTrack>> {
    let mut tracks = Vec::new();
    years.each_search(console, "Reading searched tracks", |walk| {
        let leads =
            || walk.points.iter().any(|point| prepared.shown.leads_to_sensitive(point.at, NEAR));
        if span.holds(walk.date) && !prepared.shown.guarded.contains(&walk.outing) && !leads() {
            searched(walk, &mut tracks);
        }
    })?;
    Ok(tracks)
}

fn searched(walk: &Walk, tracks: &mut Vec<SearchedTrack>) {
    let mut end = None;
    for piece in walk.pieces().filter(Piece::is_search) {
        let weight = piece.length_weight();
        let goes_on = end == Some(piece.from.time)
            && tracks.last().is_some_and(|track| (track.weight - weight).abs() < 1e-12);
        if !goes_on {
            let (year, outing) = (walk.date.year(), walk.outing);
            tracks.push(SearchedTrack { year, outing, weight, places: vec![piece.from.at] });
        }
        if let Some(track) = tracks.last_mut() {
            track.places.push(piece.to.at);
        }
        end = Some(piece.to.time);
    }
}

fn density(
    shown: &[Shown],
    ground: &[usize],
    tracks: &[SearchedTrack],
    span: Span,
) -> Option<GroundMap> {
    let finds: Vec<&Shown> = ground.iter().map(|find| &shown[*find]).collect();
    let plane = EqualArea::about_all(finds.iter().map(|find| find.at));
    let mut numbers: HashMap<uuid::Uuid, usize> = HashMap::new();
    let mut number = |outing: uuid::Uuid| {
        let next = numbers.len();
        *numbers.entry(outing).or_insert(next)
    };
    let points: Vec<PlaneFind> = finds
        .iter()
        .map(|find| {
            let (x, y) = plane.to_plane(find.at);
            PlaneFind { x, y, outing: number(find.outing), radius: find.radius.0 }
        })
        .collect();
    let key = |year: i16| if span.from < span.to { year } else { span.to };
    // one find per 0.01 degree is sufficient to delimit the area
    let hundredth = |at: LatLon| {
        ((at.latitude() * 100.0).floor().to_bits(), (at.longitude() * 100.0).floor().to_bits())
    };
    let known: BTreeMap<(u64, u64), LatLon> =
        finds.iter().map(|find| (hundredth(find.at), find.at)).collect();
    let near = |track: &&SearchedTrack| {
        track
            .places
            .first()
            .is_some_and(|start| known.values().any(|at| geodesic::distance(*at, *start) < WALK))
    };
    let runs: Vec<(i16, SearchedRun)> = tracks
        .iter()
        .filter(near)
        .map(|track| {
            let points = track.places.iter().map(|at| plane.to_plane(*at)).collect();
            let (outing, weight) = (number(track.outing), track.weight);
            (track.year, SearchedRun { outing, points, weight })
        })
        .collect();
    let all_runs: Vec<SearchedRun> = runs.iter().map(|(_, run)| run.clone()).collect();
    let bandwidth = bandwidth(&points, &all_runs, Choice::Best)?;
    let everything: Vec<Mass> = points
        .iter()
        .map(PlaneFind::mass)
        .chain(masses(&all_runs, bandwidth.metres.max(50.0)))
        .collect();
    let grid = grid_about(&everything, 2.0 * BESIDE, CELLS)?;
    let mut of_year: BTreeMap<i16, YearPart> = BTreeMap::new();
    for (find, point) in finds.iter().zip(points) {
        let part = of_year.entry(key(find.year)).or_default();
        part.0.push(find.at);
        part.1.push(point);
    }
    for (year, run) in runs {
        of_year.entry(key(year)).or_default().2.push(run);
    }
    let sheets = of_year
        .into_iter()
        .map(|(year, (finds, points, runs))| {
            let map = DensityMap::of(plane, grid, bandwidth, &points, &runs);
            Sheet { heading: year.to_string(), map, finds }
        })
        .collect();
    Some(GroundMap::Density(Area { number: 1, name: String::new(), last: None, sheets }))
}

/// The finds, the same on the plane, and the searched track of one year.
type YearPart = (Vec<LatLon>, Vec<PlaneFind>, Vec<SearchedRun>);
