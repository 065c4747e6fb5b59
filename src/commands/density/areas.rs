//! Gathers finds and searched tracks, parts them into study areas, and maps each. Layer: `commands`.

use std::collections::{BTreeMap, HashMap};

use jiff::civil::Date;
use rayon::prelude::*;
use uuid::Uuid;

use crate::analyse::density::bandwidth::Choice;
use crate::analyse::density::kernel::Mass;
use crate::analyse::density::track::{
    BESIDE, PlaneFind, SearchedPart, SearchedRun, bandwidth, masses, searched_parts,
};
use crate::analyse::density::{DensityMap, grid_about};
use crate::analyse::regions::regions;
use crate::analyse::spotted::SpottedFind;
use crate::analyse::walk::Walk;
use crate::commands::console::Console;
use crate::commands::years::Years;
use crate::earth::equal_area::EqualArea;
use crate::error::{Error, Result};
use crate::present::years::density::{Area, Sheet};
use crate::units::{LatLon, Metres};

/// How to map.
pub(super) struct Options {
    pub(super) bandwidth: Choice,
    pub(super) cells: usize,
    pub(super) by_year: bool,
    pub(super) relative: bool,
}

/// All finds and tracks that are mapped.
pub(super) struct Survey {
    chosen: Vec<usize>,
    all: Vec<usize>,
    walks: Vec<Searched>,
    outings: HashMap<Uuid, usize>,
}

/// What is kept of the track of one outing.
struct Searched {
    /// The number of its outing, or of the unit of people who walked together.
    outing: usize,
    date: Date,
    parts: Vec<SearchedPart>,
    /// Places along the whole track, by which it belongs to areas.
    places: Vec<LatLon>,
}

/// Distance between the places by which tracks are assigned to areas.
const APART: Metres = Metres(500.0);

impl Survey {
    pub(super) fn of(
        years: &Years,
        chosen: Vec<usize>,
        all: Vec<usize>,
        wanted: &(dyn Fn(&Walk) -> bool + Sync),
        console: &Console,
    ) -> Result<Self> {
        let mut walks = Vec::new();
        // outings of people who walked together are one
        let units = years.units(console)?;
        let own = years.outings.iter().enumerate();
        let outings: HashMap<Uuid, usize> =
            own.map(|(number, outing)| (outing.id, units.of(number))).collect();
        let look = |walk: Walk| {
            (wanted(&walk) && walk.points.len() > 1).then(|| Searched {
                outing: outings.get(&walk.outing).copied().unwrap_or(usize::MAX),
                date: walk.date,
                parts: searched_parts(&walk),
                places: spaced(&walk),
            })
        };
        years.map_searches(console, "Reading searched tracks", look, |own| walks.extend(own))?;
        Ok(Self { chosen, all, walks, outings })
    }

    /// The study areas that hold finds, those with most finds first, and how many others were searched.
    pub(super) fn areas(&self, years: &Years, options: &Options) -> Result<(Vec<Area>, usize)> {
        let at = |find: &usize| years.finds[*find].at;
        let mut places: Vec<LatLon> = self.chosen.iter().map(at).collect();
        // which track each further place stands for
        let mut of_place = Vec::new();
        for (index, walk) in self.walks.iter().enumerate() {
            places.extend(&walk.places);
            of_place.extend(std::iter::repeat_n(index, walk.places.len()));
        }
        let finds = self.chosen.len();
        let mut areas: Vec<(Vec<usize>, Vec<usize>)> = regions(&places)
            .into_iter()
            .map(|members| {
                let (own, others): (Vec<usize>, Vec<usize>) =
                    members.into_iter().partition(|place| *place < finds);
                let mut tracks: Vec<usize> =
                    others.into_iter().map(|place| of_place[place - finds]).collect();
                tracks.sort_unstable();
                tracks.dedup();
                (own.into_iter().map(|place| self.chosen[place]).collect(), tracks)
            })
            .collect();
        let before = areas.len();
        areas.retain(|(finds, _)| !finds.is_empty());
        areas.sort_by_key(|(finds, _)| (std::cmp::Reverse(finds.len()), finds[0]));
        let left_out = before - areas.len();
        let alone = areas.len() == 1;
        let kept = (&years.finds[..], &named_sites(years)?[..]);
        let areas: Vec<Option<Area>> = areas
            .into_par_iter()
            .enumerate()
            .map(|(number, (finds, tracks))| self.area(kept, options, number + 1, &finds, &tracks))
            .collect::<Result<_>>()?;
        let areas: Vec<Area> = areas.into_iter().flatten().collect();
        if areas.is_empty() && alone {
            return Err(Error::input("cannot choose a bandwidth")
                .because("all finds have the same position")
                .hint("state one, as --bandwidth 30"));
        }
        Ok((areas, left_out))
    }

    /// One area; `None` where no bandwidth can be chosen.
    fn area(
        &self,
        (all, named): (&[SpottedFind], &[NamedSite]),
        options: &Options,
        number: usize,
        finds: &[usize],
        tracks: &[usize],
    ) -> Result<Option<Area>> {
        let plane = EqualArea::about_all(finds.iter().map(|find| all[*find].at));
        let on_plane = |find: &usize| self.on_plane(&all[*find], &plane);
        let points: Vec<PlaneFind> = finds.iter().map(on_plane).collect();
        let runs: Vec<(i16, SearchedRun)> = tracks
            .iter()
            .flat_map(|track| {
                let walk = &self.walks[*track];
                let year = if options.by_year { walk.date.year() } else { 0 };
                walk.parts.iter().map(move |part| (year, part.on(walk.outing, &plane)))
            })
            .collect();
        let (of_run, all_runs): (Vec<i16>, Vec<SearchedRun>) = runs.into_iter().unzip();
        let Some(bandwidth) = bandwidth(&points, &all_runs, options.bandwidth) else {
            return Ok(None);
        };
        let h = bandwidth.metres;
        let everything: Vec<Mass> =
            points.iter().map(PlaneFind::mass).chain(masses(&all_runs, h.max(50.0))).collect();
        let grid = grid_about(&everything, 2.0 * BESIDE, options.cells)
            .ok_or_else(|| Error::program("a density map has no extent"))?;
        let key = |find: &usize| if options.by_year { all[*find].date.year() } else { 0 };
        let mut parts: BTreeMap<i16, (Vec<usize>, Vec<SearchedRun>)> = BTreeMap::new();
        for find in finds {
            parts.entry(key(find)).or_default().0.push(*find);
        }
        for (year, run) in of_run.into_iter().zip(all_runs) {
            parts.entry(year).or_default().1.push(run);
        }
        let sheets = parts
            .into_iter()
            .map(|(year, (finds, runs))| {
                let own: Vec<PlaneFind> = finds.iter().map(on_plane).collect();
                let map = DensityMap::of(plane, grid, bandwidth, &own, &runs);
                let of_year = |find: &&usize| !options.by_year || key(find) == year;
                let others = self.all.iter().filter(of_year).map(|find| on_plane(find).mass());
                let heading =
                    if options.by_year { year.to_string() } else { "all years".to_owned() };
                Sheet {
                    heading,
                    map: if options.relative {
                        map.against(&others.collect::<Vec<_>>())
                    } else {
                        map
                    },
                    finds: finds.iter().map(|find| all[*find].at).collect(),
                }
            })
            .collect();
        let last = tracks.iter().map(|track| self.walks[*track].date).max();
        let places = finds.iter().map(|find| all[*find].at);
        Ok(Some(Area { number, name: name(named, &plane, places), last, sheets }))
    }

    fn on_plane(&self, find: &SpottedFind, plane: &EqualArea) -> PlaneFind {
        let (x, y) = plane.to_plane(find.at);
        let outing = self.outings.get(&find.outing).copied().unwrap_or(usize::MAX);
        PlaneFind { x, y, outing, radius: find.radius.metres().0 }
    }
}

/// Places along a track, so far apart.
fn spaced(walk: &Walk) -> Vec<LatLon> {
    let mut places = Vec::new();
    let mut since = APART.0;
    for piece in walk.pieces() {
        if since >= APART.0 {
            places.push(piece.from.at);
            since = 0.0;
        }
        since += piece.length.0;
    }
    places
}

/// A site that the user named, with the number of its finds.
struct NamedSite {
    at: LatLon,
    finds: usize,
    name: String,
}

fn named_sites(years: &Years) -> Result<Vec<NamedSite>> {
    let sites = years.store.site_members()?.into_iter();
    let named = sites.filter_map(|site| {
        Some(NamedSite { at: site.at, finds: site.finds.len(), name: site.name? })
    });
    Ok(named.collect())
}

/// The name of the site within the area that the user named, with most finds, or the coordinates of the
/// middle.
fn name(
    named: &[NamedSite],
    plane: &EqualArea,
    finds: impl ExactSizeIterator<Item = LatLon>,
) -> String {
    let count = finds.len() as f64;
    let mut reach = 0.0_f64;
    let mut sum = (0.0, 0.0);
    for find in finds {
        let (x, y) = plane.to_plane(find);
        sum = (sum.0 + x / count, sum.1 + y / count);
        reach = reach.max(x.hypot(y));
    }
    let within = named.iter().filter(|site| {
        let (x, y) = plane.to_plane(site.at);
        x.hypot(y) <= reach + 1.0
    });
    let middle = plane.from_plane(sum.0, sum.1);
    within.max_by_key(|site| (site.finds, &site.name)).map_or_else(
        || format!("{:.3}, {:.3}", middle.latitude(), middle.longitude()),
        |site| site.name.clone(),
    )
}
