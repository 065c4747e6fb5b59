//! Chooses the grid cell in which each find is published, so that several outputs reveal no more than
//! the finest of them: a published cell is reused, a coarser one is derived from it, a finer one is
//! used only where it lies entirely within it. Layer: `present`.

use crate::earth::geodesic;
use crate::earth::local::Plane;
use crate::model::{GridCell, Published, Sensitivity};
use crate::units::LatLon;

use super::grid;
use super::levels::Level;
use super::{FindSummary, Group, Policy};

/// The published cell of a find.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    /// The point that is assigned to a cell.
    pub(super) middle: LatLon,
    /// Its cell; `None` where coordinates are withheld.
    pub(super) cell: Option<GridCell>,
    /// Whether an earlier output decided the cell.
    pub(super) by_earlier: bool,
}

/// The cells of all finds. A level is raised where a finer cell combined with an earlier one would reveal
/// more; the second value counts these.
pub(super) fn choose(
    finds: &[FindSummary],
    groups: &[Group],
    levels: &mut [Option<Level>],
    policy: &Policy<'_>,
) -> (Vec<Option<Placed>>, usize) {
    let middles = middles(finds, groups);
    let of_mates = published_of_mates(finds, groups, policy);
    let mut raised = 0;
    let placed = finds
        .iter()
        .zip(levels)
        .zip(middles.into_iter().zip(&of_mates))
        .map(|((find, level), (middle, mates))| {
            let (level, middle) = (level.as_mut()?, middle?);
            let own = still_true(policy.published(find.id), middle);
            let bound = match level.rule {
                Some(rule) if own.is_empty() && mates.is_empty() => of_bound(rule, policy),
                _ => Vec::new(),
            };
            let mates = still_true(if mates.is_empty() { &bound } else { mates }, middle);
            let (cell, by_earlier) = choice(middle, level.step, &own, &mates);
            let coarser = if own.is_empty() { &mates } else { &own };
            let stops = cell.and_then(|cell| coarser_that_stops(&cell, level.step, coarser));
            if let Some((step, cell)) = stops {
                level.step = step;
                raised += 1;
                return Some(Placed { middle, cell: Some(cell), by_earlier: true });
            }
            Some(Placed { middle, cell, by_earlier })
        })
        .collect();
    (placed, raised)
}

/// For each find the point that is assigned to a cell: the centre of its site, so that one site is never
/// in two cells, whose border would reveal it; its own position where it has no site.
fn middles(finds: &[FindSummary], groups: &[Group]) -> Vec<Option<LatLon>> {
    let own = |find: &FindSummary| find.place.map(|(at, _)| at);
    let mut middles: Vec<Option<LatLon>> = finds.iter().map(own).collect();
    for group in groups {
        let places: Vec<LatLon> =
            group.finds.iter().filter_map(|find| finds.get(*find).and_then(own)).collect();
        let Some(middle) = middle(&places) else { continue };
        for find in &group.finds {
            if let Some(slot) = middles.get_mut(*find).filter(|slot| slot.is_some()) {
                *slot = Some(middle);
            }
        }
    }
    middles
}

fn middle(places: &[LatLon]) -> Option<LatLon> {
    let plane = Plane::about(*places.first()?);
    let count = places.len() as f64;
    let (east, north) = places
        .iter()
        .map(|place| plane.to_plane(*place))
        .fold((0.0, 0.0), |sum, at| (sum.0 + at.0, sum.1 + at.1));
    Some(plane.from_plane(east / count, north / count))
}

/// The published states of all finds of each find's site, in the order of their identifiers.
fn published_of_mates(
    finds: &[FindSummary],
    groups: &[Group],
    policy: &Policy<'_>,
) -> Vec<Vec<Published>> {
    let mut mates = vec![Vec::new(); finds.len()];
    for group in groups {
        let mut members: Vec<usize> =
            group.finds.iter().copied().filter(|find| *find < finds.len()).collect();
        members.sort_by_key(|find| finds[*find].id);
        let all: Vec<Published> =
            members.iter().flat_map(|find| policy.published(finds[*find].id)).cloned().collect();
        if !all.is_empty() {
            for find in &members {
                mates[*find].clone_from(&all);
            }
        }
    }
    mates
}

/// The published states of the finds that a rule was bound to: one of them may have been imported again
/// under another number.
fn of_bound(rule: usize, policy: &Policy<'_>) -> Vec<Published> {
    let bound = policy.rules.get(rule).map_or(&[][..], |rule| rule.bound.as_slice());
    let mut finds: Vec<uuid::Uuid> = bound.iter().filter_map(|bound| bound.find).collect();
    finds.sort_unstable();
    finds.dedup();
    finds.into_iter().flat_map(|find| policy.published(find)).cloned().collect()
}

/// Published cells that may still contain the point: a find whose position was corrected by more than
/// a cell is excluded.
fn still_true(published: &[Published], middle: LatLon) -> Vec<(Sensitivity, GridCell)> {
    let near =
        |cell: &GridCell| geodesic::distance(cell.at, middle).0 <= 2.0 * grid::far_corner(cell).0;
    published.iter().filter_map(|one| one.level.zip(one.cell)).filter(|(_, c)| near(c)).collect()
}

/// The cell of this level, and whether earlier outputs decided it.
fn choice(
    middle: LatLon,
    level: Sensitivity,
    own: &[(Sensitivity, GridCell)],
    mates: &[(Sensitivity, GridCell)],
) -> (Option<GridCell>, bool) {
    if level.grid().is_none() {
        return (None, false);
    }
    let same = |all: &[(Sensitivity, GridCell)]| {
        all.iter().find(|(step, _)| *step == level).map(|(_, cell)| *cell)
    };
    let from_finer = |all: &[(Sensitivity, GridCell)]| {
        let finest = all.iter().filter(|(step, _)| *step < level).min_by_key(|(step, _)| *step);
        finest.and_then(|(_, cell)| grid::cell(cell.at, level))
    };
    let earlier =
        same(own).or_else(|| same(mates)).or_else(|| from_finer(mates)).or_else(|| from_finer(own));
    match earlier {
        Some(cell) => (Some(cell), true),
        None => (grid::cell(middle, level), false),
    }
}

/// The finest coarser cell published before, where the new cell is not entirely within all of them and
/// nothing as fine was published.
fn coarser_that_stops(
    cell: &GridCell,
    level: Sensitivity,
    published: &[(Sensitivity, GridCell)],
) -> Option<(Sensitivity, GridCell)> {
    if published.iter().any(|(step, _)| *step <= level) {
        return None;
    }
    let mut coarser = published.iter().filter(|(step, _)| *step > level);
    coarser
        .clone()
        .any(|(_, other)| !other.encloses(cell))
        .then(|| coarser.by_ref().min_by_key(|(step, _)| *step).copied())?
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(latitude: f64, longitude: f64) -> LatLon {
        LatLon::new(latitude, longitude).unwrap()
    }

    fn cell(place: LatLon, level: Sensitivity) -> (Sensitivity, GridCell) {
        (level, grid::cell(place, level).unwrap())
    }

    #[test]
    fn published_cell_is_kept_when_the_site_centre_crosses_its_edge() {
        let (before, after) = (at(10.000_49, 20.0), at(10.000_51, 20.0));
        let published = [cell(before, Sensitivity::Low)];
        assert_ne!(cell(after, Sensitivity::Low), published[0]);
        let (kept, by_earlier) = choice(after, Sensitivity::Low, &published, &[]);
        assert_eq!((kept, by_earlier), (Some(published[0].1), true));
    }

    #[test]
    fn coarser_cell_is_derived_from_the_published_finer_one() {
        // the fine cell around 10.005 crosses the edge of two coarse ones
        let place = at(10.004_6, 20.0);
        let published = [cell(place, Sensitivity::Low)];
        assert!((published[0].1.at.latitude() - 10.005).abs() < 1e-9);
        let (coarse, _) = choice(place, Sensitivity::Medium, &published, &[]);
        assert_eq!(coarse, grid::cell(published[0].1.at, Sensitivity::Medium));
    }

    #[test]
    fn finds_of_a_joined_site_get_one_coarse_cell() {
        let [one, other] = [at(10.004_6, 20.0), at(10.005_6, 20.0)];
        let published = [cell(one, Sensitivity::Low), cell(other, Sensitivity::Low)];
        let of = |own: usize| choice(one, Sensitivity::Medium, &published[own..=own], &published);
        assert_eq!(of(0), of(1));
        assert_eq!(of(1).0, grid::cell(published[0].1.at, Sensitivity::Medium));
    }

    #[test]
    fn finer_cell_across_a_published_edge_is_refused() {
        let across = at(10.004_6, 20.0);
        let within = at(10.001_2, 20.0);
        for (place, stops) in [(across, true), (within, false)] {
            let published = [cell(place, Sensitivity::Medium)];
            let (fine, _) = choice(place, Sensitivity::Low, &published, &[]);
            let coarser = coarser_that_stops(&fine.unwrap(), Sensitivity::Low, &published);
            assert_eq!(coarser.is_some(), stops, "{place}");
        }
    }

    #[test]
    fn corrected_position_gets_a_new_cell() {
        let published = [Published {
            find: uuid::Uuid::nil(),
            level: Some(Sensitivity::Low),
            cell: Some(cell(at(10.0, 20.0), Sensitivity::Low).1),
            rule: None,
        }];
        assert_eq!(still_true(&published, at(10.001, 20.0)).len(), 1);
        assert!(still_true(&published, at(10.02, 20.0)).is_empty());
    }
}
