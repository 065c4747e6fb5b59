//! Interpolates elevations within one tile: the part of the tile in memory, and the mapping from
//! positions to columns and rows. Layer: `earth`.

use super::{Bounds, Lattice, Tile, Window};
use crate::earth::datum;
use crate::error::{Error, Result};
use crate::model::name_of;
use crate::units::{Degrees, LatLon, Metres};

/// Nodes per side of the net that maps positions to a projected tile.
const NET: usize = 33;
/// Within half a cell beyond the last post the nearest row or column applies, since tiles with area
/// values meet between their posts.
const BEYOND: f64 = 0.5;

#[derive(Debug)]
pub(super) struct Patch {
    /// The file name of its tile.
    pub(super) name: String,
    lattice: Lattice,
    window: Window,
    mapping: CellMapping,
    heights: Vec<f32>,
}

/// From a position to column and row of the whole tile.
#[derive(Debug)]
enum CellMapping {
    Degrees,
    /// Through a net of converted positions over the bounds, bilinear between its nodes: within a
    /// few centimetres over 30 km.
    Net(Bounds, Vec<(f64, f64)>),
}

impl Patch {
    /// The part of a tile within the bounds; `None` where they do not meet.
    pub(super) fn read(tile: &Tile, bounds: &Bounds) -> Result<Option<Self>> {
        let lattice = tile.lattice.clone();
        let mapping = CellMapping::to(&lattice, bounds)?;
        let Some(window) = mapping.window(&lattice, bounds) else { return Ok(None) };
        let limit = tile.most_posts();
        if window.posts() > limit {
            return Err(Error::input("the requested area is too large for the elevation tiles")
                .because(format!(
                    "it would take {} heights of {}; the limit for a file of its size is {limit}",
                    window.posts(),
                    tile.path.display()
                ))
                .hint("choose a smaller area or a coarser tile"));
        }
        let heights = tile.window(window)?;
        Ok(Some(Self { name: name_of(&tile.path), lattice, window, mapping, heights }))
    }

    /// Whether a tile has posts within the bounds.
    pub(super) fn meets(tile: &Tile, bounds: &Bounds) -> bool {
        let mapping = CellMapping::to(&tile.lattice, bounds);
        mapping.is_ok_and(|mapping| mapping.window(&tile.lattice, bounds).is_some())
    }

    /// Smaller is finer: the step in degrees or a like measure of a projected tile.
    pub(super) fn fineness(&self) -> f64 {
        let step = self.lattice.step_right.min(self.lattice.step_down);
        if self.lattice.system.is_some() && step > 0.1 { step / 111_320.0 } else { step }
    }

    /// The ground distance between its posts.
    pub(super) fn spacing(&self, at: LatLon) -> Metres {
        self.lattice.spacing(at)
    }

    /// Bilinear; `None` outside, and where the nearest post is a void. Other voids have no weight.
    pub(super) fn height(&self, place: LatLon) -> Option<f64> {
        let (column, row) = self.mapping.post(&self.lattice, place);
        let column = within(column, self.lattice.columns)? - self.window.column as f64;
        let row = within(row, self.lattice.rows)? - self.window.row as f64;
        self.post(column.round(), row.round())?;
        let (left, top) = (column.floor(), row.floor());
        let (right_share, down_share) = (column - left, row - top);
        let (mut sum, mut weight) = (0.0, 0.0);
        for (across, down, share) in [
            (left, top, (1.0 - right_share) * (1.0 - down_share)),
            (left + 1.0, top, right_share * (1.0 - down_share)),
            (left, top + 1.0, (1.0 - right_share) * down_share),
            (left + 1.0, top + 1.0, right_share * down_share),
        ] {
            if share > 0.0
                && let Some(height) = self.post(across, down)
            {
                sum += height * share;
                weight += share;
            }
        }
        (weight > 0.0).then(|| sum / weight)
    }

    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked before")]
    fn post(&self, column: f64, row: f64) -> Option<f64> {
        let inside = (0.0..self.window.columns as f64).contains(&column)
            && (0.0..self.window.rows as f64).contains(&row);
        let index = inside.then(|| row as usize * self.window.columns + column as usize)?;
        let height = f64::from(*self.heights.get(index)?);
        (!height.is_nan()).then_some(height)
    }
}

/// A column or row of the tile, held at its edge within half a cell.
fn within(index: f64, count: usize) -> Option<f64> {
    let last = (count - 1) as f64;
    (-BEYOND..=last + BEYOND).contains(&index).then(|| index.clamp(0.0, last))
}

impl CellMapping {
    fn to(lattice: &Lattice, bounds: &Bounds) -> Result<Self> {
        let Some(system) = &lattice.system else { return Ok(Self::Degrees) };
        let mut nodes = Vec::with_capacity(NET * NET);
        for up in 0..NET {
            for right in 0..NET {
                let share = |index: usize| index as f64 / (NET - 1) as f64;
                let (x, y) = datum::from_wgs84(system, bounds.at(share(right), share(up)))?;
                nodes.push((
                    (x - lattice.left) / lattice.step_right,
                    (lattice.top - y) / lattice.step_down,
                ));
            }
        }
        Ok(Self::Net(*bounds, nodes))
    }

    fn post(&self, lattice: &Lattice, place: LatLon) -> (f64, f64) {
        match self {
            Self::Degrees => {
                let width = lattice.step_right * (lattice.columns - 1) as f64;
                let middle = lattice.left + width / 2.0;
                let east = Degrees(place.longitude() - middle).shortest_turn().0 + width / 2.0;
                (east / lattice.step_right, (lattice.top - place.latitude()) / lattice.step_down)
            }
            Self::Net(bounds, nodes) => between(nodes, bounds.share(place)),
        }
    }

    /// The smallest window that holds the bounds; `None` where they lie beside the tile.
    fn window(&self, lattice: &Lattice, bounds: &Bounds) -> Option<Window> {
        let edge: Vec<(f64, f64)> = match self {
            Self::Degrees => {
                // by its width, since west and east of the bounds may lie on both sides of 180
                let middle = self.post(lattice, bounds.at(0.5, 0.5)).0;
                let half = bounds.width / lattice.step_right / 2.0;
                let row = |up| self.post(lattice, bounds.at(0.5, up)).1;
                vec![(middle - half, row(1.0)), (middle + half, row(0.0))]
            }
            Self::Net(_, nodes) => nodes.clone(),
        };
        let (column, columns) = span(edge.iter().map(|post| post.0), lattice.columns)?;
        let (row, rows) = span(edge.iter().map(|post| post.1), lattice.rows)?;
        Some(Window { column, row, columns, rows })
    }
}

/// First index and count of what lies between the least and the greatest value, one more each side.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the tile")]
fn span(values: impl Iterator<Item = f64>, count: usize) -> Option<(usize, usize)> {
    let (least, greatest) = values
        .filter(|value| value.is_finite())
        .fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), value| (a.min(value), b.max(value)));
    let last = (count - 1) as f64;
    if least > last + BEYOND || greatest < -BEYOND || least > greatest {
        return None;
    }
    let first = (least.floor() - 1.0).clamp(0.0, last);
    let end = (greatest.ceil() + 1.0).clamp(0.0, last);
    Some((first as usize, (end - first) as usize + 1))
}

/// Bilinear between the nodes of the net; extrapolated linearly beyond its edge.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to the net")]
fn between(nodes: &[(f64, f64)], share: (f64, f64)) -> (f64, f64) {
    let last = (NET - 2) as f64;
    let (right, up) = (share.0 * (NET - 1) as f64, share.1 * (NET - 1) as f64);
    let (column, row) = (right.floor().clamp(0.0, last), up.floor().clamp(0.0, last));
    let (u, v) = (right - column, up - row);
    let corner = row as usize * NET + column as usize;
    let node = |index: usize| nodes.get(index).copied().unwrap_or((f64::NAN, f64::NAN));
    let (a, b, c, d) = (node(corner), node(corner + 1), node(corner + NET), node(corner + NET + 1));
    let mix = |a: f64, b: f64, c: f64, d: f64| {
        (a * (1.0 - u) + b * u) * (1.0 - v) + (c * (1.0 - u) + d * u) * v
    };
    (mix(a.0, b.0, c.0, d.0), mix(a.1, b.1, c.1, d.1))
}
