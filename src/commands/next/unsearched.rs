//! Loads what was searched at which elevation, and the ground about the start, for the areas of `trug next` that nobody
//! searched. Layer: `commands`.

use std::collections::HashMap;

use uuid::Uuid;

use super::Arguments;
use super::plan::trailhead;
use crate::analyse::spotted::belongs;
use crate::analyse::unsearched::areas::{Area, Reach, SIDE, areas};
use crate::analyse::unsearched::elevation::{ByElevation, estimate};
use crate::analyse::unsearched::rows::{Looked, rows};
use crate::analyse::walk::Walk;
use crate::commands::console::Console;
use crate::commands::ground::{GroundSource, kept_of};
use crate::commands::years::Years;
use crate::earth::elevation::{Bounds, Ground};
use crate::earth::equal_area::EqualArea;
use crate::earth::geodesic;
use crate::earth::height_grid::{GroundArea, HeightGrid};
use crate::earth::local::Plane;
use crate::error::{Error, Result};
use crate::model::{BaseClass, BaseFeature, BaseShape, UnsearchedNote};
use crate::present::years::unsearched::{Offered, Placed};
use crate::units::{LatLon, Metres, TrueBearing};

/// The nodes of the grid of heights are at least so far apart.
const FINEST: Metres = Metres(25.0);
/// The largest distance from the start, kilometres: beyond it the grid is too coarse for an area.
pub(super) const FARTHEST: f64 = 25.0;

/// What is asked, and what the data say.
///
/// # Errors
/// When the store or a tile cannot be read, or no start is known.
pub(super) fn unsearched(
    arguments: &Arguments,
    years: &Years,
    taxon: Option<&str>,
    console: &mut Console,
) -> Result<Offered> {
    let within = reach_of(arguments.within)?;
    let (from, name) = trailhead(arguments, years)?;
    let source = kept_of(&years.store, console)?;
    let places = Places { from, within, plane: Plane::about(from) };
    let (made, looked) = searched(arguments, years, taxon, (&source, &places), console)?;
    let offered = match &made {
        Err(note) => Err(*note),
        Ok(made) => match made.refused() {
            Some(note) => Err(note),
            None => places.areas(made, &looked, (&source, years))?,
        },
    };
    let placed = offered.map(|areas| areas.into_iter().map(|area| places.placed(area)).collect());
    Ok(Offered {
        taxon: taxon.map(str::to_owned),
        from: (from, name),
        within,
        made: made.ok(),
        areas: placed,
        base_map: !years.store.base_maps()?.is_empty(),
    })
}

fn reach_of(kilometres: f64) -> Result<Metres> {
    if kilometres > 0.0 && kilometres <= FARTHEST {
        return Ok(Metres(1_000.0 * kilometres));
    }
    Err(Error::input(format!("--within {kilometres} is no distance for a search from one start"))
        .because(format!("heights are read up to {FARTHEST} km about the start"))
        .hint(format!("give kilometres above 0 and up to {FARTHEST}")))
}

/// Places on ground that was walked and searched, each at most so far from the next, metres.
const MARKS: f64 = 10.0;

/// What is kept of one track.
struct Seen {
    outing: Uuid,
    looked: Looked,
    marks: Marks,
}

/// Where areas are looked for.
struct Places {
    from: LatLon,
    within: Metres,
    plane: Plane,
}

/// Places near the start: of searched track, and of all track.
#[derive(Default)]
struct Marks {
    searched: Vec<(f64, f64)>,
    walked: Vec<(f64, f64)>,
}

/// The rate by elevation from all outings before the date, and where they were.
fn searched(
    arguments: &Arguments,
    years: &Years,
    taxon: Option<&str>,
    (source, places): (&GroundSource, &Places),
    console: &mut Console,
) -> Result<(std::result::Result<ByElevation, UnsearchedNote>, Marks)> {
    let wanted = |name: &str| taxon.is_none_or(|taxon| belongs(name, taxon));
    let finds = finds_of_outings(years, taxon);
    let unlocated = years.unlocated_days(|find| wanted(&find.taxon)).outings;
    let plane = EqualArea::about_all(years.outings.iter().filter_map(|outing| outing.began));
    let counted = &years.counted;
    let counts = |walk: &Walk| {
        let other = counted.is_other_hemisphere(walk.outing);
        !unlocated.contains(&walk.outing) && !other
    };
    let look = |walk: Walk| -> Result<Option<Seen>> {
        if walk.date >= arguments.date || walk.points.len() < 2 {
            return Ok(None);
        }
        let at: Vec<LatLon> = walk.points.iter().map(|point| point.at).collect();
        let bounds = Bounds::about(&at, Metres(100.0)).filter(|_| counts(&walk));
        let ground: Option<Ground> =
            bounds.map(|bounds| source.relief().read(&bounds)).transpose()?;
        let own = finds.get(&walk.outing).map_or(&[][..], Vec::as_slice);
        let height = |at: LatLon| ground.as_ref()?.height(at).map(|height| height.0.0);
        let looked = Looked::of(&walk, own, &plane, height);
        Ok(Some(Seen { outing: walk.outing, looked, marks: places.marks(&walk) }))
    };
    let (mut seen, mut failed, mut marks) = (Vec::new(), None, Marks::default());
    years.map_searches(console, "Reading searched ground", look, |own| match own {
        Ok(Some(own)) => {
            marks.searched.extend(&own.marks.searched);
            marks.walked.extend(&own.marks.walked);
            seen.push((own.outing, own.looked));
        }
        Ok(None) => {}
        Err(error) => failed = Some(error),
    })?;
    if let Some(error) = failed {
        console.warning(&error);
    }
    let known = seen.iter().any(|(_, looked)| !looked.of.is_empty());
    if !known {
        return Ok((Err(UnsearchedNote::UnsearchedNoTiles), marks));
    }
    let units = years.units(console)?;
    let number: HashMap<Uuid, usize> =
        years.outings.iter().enumerate().map(|(number, outing)| (outing.id, number)).collect();
    let outings = seen.iter().filter_map(|(outing, looked)| {
        let unit = units.of(*number.get(outing)?);
        Some((unit, years.outings[unit].date, looked))
    });
    Ok((estimate(&rows(outings)), marks))
}

/// The located finds of the taxon on each outing, with their radii.
fn finds_of_outings(years: &Years, taxon: Option<&str>) -> HashMap<Uuid, Vec<(LatLon, f64)>> {
    let mut finds: HashMap<Uuid, Vec<(LatLon, f64)>> = HashMap::new();
    for find in &years.finds {
        let of = |taxon| find.taxon.as_deref().is_some_and(|name| belongs(name, taxon));
        if taxon.is_none_or(of) {
            finds.entry(find.outing).or_default().push((find.at, find.radius.metres().0));
        }
    }
    finds
}

impl Places {
    fn is_near(&self, (x, y): (f64, f64)) -> bool {
        x.hypot(y) <= self.within.0 + 2_000.0
    }

    /// Places along a track near the start: where it searched, and all of it.
    fn marks(&self, walk: &Walk) -> Marks {
        let (mut searched, mut walked) = (Vec::new(), Vec::new());
        for piece in walk.pieces() {
            let own = self.along(&[piece.from.at, piece.to.at]);
            if piece.is_search() {
                searched.extend(&own);
            }
            walked.extend(own);
        }
        Marks { searched, walked }
    }

    /// Places along a line near the start.
    fn along(&self, line: &[LatLon]) -> Vec<(f64, f64)> {
        let mut places = Vec::new();
        for ends in line.windows(2) {
            let (a, b) = (self.plane.to_plane(ends[0]), self.plane.to_plane(ends[1]));
            let parts = ((b.0 - a.0).hypot(b.1 - a.1) / MARKS).ceil().clamp(1.0, 1e5);
            let mut part = 0.0;
            while part <= parts {
                let share = part / parts;
                places.push((a.0 + share * (b.0 - a.0), a.1 + share * (b.1 - a.1)));
                part += 1.0;
            }
        }
        places.retain(|place| self.is_near(*place));
        places
    }

    /// The areas that are offered, or why none is.
    fn areas(
        &self,
        made: &ByElevation,
        marks: &Marks,
        (source, years): (&GroundSource, &Years),
    ) -> Result<std::result::Result<Vec<Area>, UnsearchedNote>> {
        let half = self.within + SIDE;
        let area =
            GroundArea { middle: self.from, half_wide: half, half_high: half, finest: FINEST };
        let Some(grid) = HeightGrid::read(source.relief(), &area)? else {
            return Ok(Err(UnsearchedNote::UnsearchedNoTiles));
        };
        let features = source.features(&area, Some(&years.store))?;
        let mut paths = marked(&grid, marks.walked.iter().copied());
        let mut unsuitable = vec![false; grid.heights.len()];
        for feature in &features {
            self.take(feature, &grid, (&mut paths, &mut unsuitable));
        }
        let searched = marked(&grid, marks.searched.iter().copied());
        let reach = Reach { grid: &grid, searched, paths, unsuitable, within: self.within };
        Ok(areas(made, &reach))
    }

    /// Marks roads and paths, and ground that cannot be searched.
    fn take(
        &self,
        feature: &BaseFeature,
        grid: &HeightGrid,
        (paths, unsuitable): (&mut [bool], &mut [bool]),
    ) {
        match (feature.class, &feature.shape) {
            (BaseClass::Road | BaseClass::Path, BaseShape::Line(line)) => {
                mark(grid, self.along(line), paths);
            }
            (BaseClass::Water | BaseClass::Parking, BaseShape::Area(rings)) => {
                let on_plane = |ring: &Vec<LatLon>| -> Vec<(f64, f64)> {
                    ring.iter().map(|at| self.plane.to_plane(*at)).collect()
                };
                mark_inside(grid, &rings.iter().map(on_plane).collect::<Vec<_>>(), unsuitable);
            }
            (BaseClass::Water, BaseShape::Line(line)) => mark(grid, self.along(line), unsuitable),
            _ => {}
        }
    }

    fn placed(&self, area: Area) -> Placed {
        let at = self.plane.from_plane(area.x, area.y);
        let (distance, bearing): (Metres, TrueBearing) = geodesic::leg(self.from, at);
        Placed { at, distance, bearing, area }
    }
}

/// The nodes of a grid that these places are nearest to.
fn marked(grid: &HeightGrid, places: impl Iterator<Item = (f64, f64)>) -> Vec<bool> {
    let mut marks = vec![false; grid.heights.len()];
    mark(grid, places, &mut marks);
    marks
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked to be inside")]
fn mark(grid: &HeightGrid, places: impl IntoIterator<Item = (f64, f64)>, marks: &mut [bool]) {
    for (x, y) in places {
        let column = ((x - grid.west) / grid.step.0).round();
        let row = ((y - grid.south) / grid.step.0).round();
        let inside =
            column >= 0.0 && row >= 0.0 && column < grid.columns as f64 && row < grid.rows as f64;
        if inside {
            marks[row as usize * grid.columns + column as usize] = true;
        }
    }
}

/// Marks the nodes inside of an outline with holes, by the even-odd rule along each row.
fn mark_inside(grid: &HeightGrid, rings: &[Vec<(f64, f64)>], marks: &mut [bool]) {
    for row in 0..grid.rows {
        let y = grid.y(row);
        let mut crossings: Vec<f64> = rings
            .iter()
            .flat_map(|ring| ring.windows(2))
            .filter(|ends| (ends[0].1 > y) != (ends[1].1 > y))
            .map(|ends| {
                let share = (y - ends[0].1) / (ends[1].1 - ends[0].1);
                ends[0].0 + share * (ends[1].0 - ends[0].0)
            })
            .collect();
        crossings.sort_unstable_by(f64::total_cmp);
        for span in crossings.chunks_exact(2) {
            let own =
                (0..grid.columns).filter(|column| (span[0]..=span[1]).contains(&grid.x(*column)));
            own.for_each(|column| marks[row * grid.columns + column] = true);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nodes_within_an_outline_and_outside_of_its_holes_are_marked() {
        let grid = HeightGrid {
            columns: 11,
            rows: 11,
            step: Metres(10.0),
            west: -50.0,
            south: -50.0,
            heights: vec![0.0; 121],
            spacing: Metres(10.0),
        };
        let square = |half: f64| {
            vec![(-half, -half), (half, -half), (half, half), (-half, half), (-half, -half)]
        };
        let mut marks = vec![false; 121];
        mark_inside(&grid, &[square(32.0), square(12.0)], &mut marks);
        assert_eq!(marks.iter().filter(|mark| **mark).count(), 49 - 9);
        let line = marked(&grid, [(-50.0, 0.0), (49.0, 51.0), (99.0, 0.0)].into_iter());
        assert_eq!(line.iter().filter(|mark| **mark).count(), 2);
    }
}
