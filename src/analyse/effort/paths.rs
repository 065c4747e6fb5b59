//! Recognises the paths that a collector uses on many outings, from all tracks together.
//! Layer: `analyse`.
//!
//! # Method
//! Walking track is counted in cells of 12 m by its direction, each outing once. A place lies on a
//! regular path where at least three outings, and a quarter of all that came into the same square
//! of 500 m, walked along the same line in either direction. People who search a wood in all
//! directions do not make such lines; those who search it along fixed lines do, which is why the
//! finds decide how much a regular path counts ([`super::weights`]), not this file.

use std::collections::{HashMap, HashSet};
use std::hash::{BuildHasherDefault, Hasher};

use crate::analyse::walk::Walk;
use crate::model::Activity;
use crate::units::LatLon;

/// The side of a cell, metres.
const CELL: f64 = 12.0;
/// The side of a square in which outings are compared, metres.
const SQUARE: f64 = 500.0;
/// Number of directions, a line and its reverse being one.
const SECTORS: i64 = 6;
/// The fewest outings on a path.
const LEAST: u32 = 3;
/// The smallest share of the outings about it.
const SHARE: f64 = 0.25;
/// Metres in a degree of latitude, roughly: the size of the cells need not be exact.
const DEGREE: f64 = 111_000.0;

type Cell = (i64, i64);
/// A cell and a direction.
type Line = (Cell, i64);
type Counts<K> = HashMap<K, u32, BuildHasherDefault<Mixed>>;
type Set<K> = HashSet<K, BuildHasherDefault<Mixed>>;

/// A hash of whole numbers by multiplication: there are millions of cells, and the default hash takes
/// most of the time. The constant is that of Knuth 1998, The Art of Computer Programming, vol. 3, 6.4 (the
/// golden ratio), for 64 bits.
#[derive(Clone, Copy, Debug, Default)]
struct Mixed(u64);

impl Hasher for Mixed {
    fn write(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.write_u64(u64::from(*byte));
        }
    }

    fn write_u64(&mut self, number: u64) {
        self.0 = (self.0.rotate_left(23) ^ number).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    }

    fn write_i64(&mut self, number: i64) {
        self.write_u64(number.cast_unsigned());
    }

    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 32)
    }
}

/// How many outings walked where, and in which direction.
#[derive(Clone, Debug, Default)]
pub struct PathUse {
    lines: Counts<Line>,
    squares: Counts<Cell>,
}

/// The cells that one outing walked in.
#[derive(Clone, Debug, Default)]
pub struct WalkedCells {
    lines: Set<Line>,
    squares: Set<Cell>,
}

impl WalkedCells {
    /// The cells of one outing.
    #[must_use]
    pub fn of(walk: &Walk) -> Self {
        let mut cells = Self::default();
        for piece in walk.pieces().filter(|piece| piece.activity() == Activity::Walking) {
            let Some(sector) = sector(piece.from.at, piece.to.at) else { continue };
            let parts = (piece.length.0 / (CELL / 2.0)).ceil().clamp(1.0, 1e4);
            let mut part = 0.5;
            while part < parts {
                let at = piece.at(part / parts);
                cells.lines.insert((cell(at, CELL), sector));
                cells.squares.insert(cell(at, SQUARE));
                part += 1.0;
            }
        }
        cells
    }
}

impl PathUse {
    /// Counts an outing.
    pub fn add(&mut self, outing: WalkedCells) {
        for line in outing.lines {
            *self.lines.entry(line).or_insert(0) += 1;
        }
        for square in outing.squares {
            *self.squares.entry(square).or_insert(0) += 1;
        }
    }

    /// The lines that enough outings walked, those beside and nearly along each counted with it.
    #[must_use]
    pub fn finish(self) -> RegularPaths {
        let mut lines: Counts<Line> = Counts::default();
        for (((x, y), own), count) in self.lines {
            for turn in -1..=1 {
                let sector = (own - turn).rem_euclid(SECTORS);
                let (aside_x, aside_y) = across(sector);
                for side in -1..=1 {
                    let key = ((x - side * aside_x, y - side * aside_y), sector);
                    *lines.entry(key).or_insert(0) += count;
                }
            }
        }
        lines.retain(|_, uses| *uses >= LEAST);
        lines.shrink_to_fit();
        RegularPaths { lines, squares: self.squares }
    }
}

/// The regular paths of all outings.
#[derive(Clone, Debug, Default)]
pub struct RegularPaths {
    /// Uses of lines, at least [`LEAST`].
    lines: Counts<Line>,
    squares: Counts<Cell>,
}

impl RegularPaths {
    /// Whether a step from one place to another follows a regular path.
    #[must_use]
    pub fn regular(&self, from: LatLon, to: LatLon) -> bool {
        let Some(sector) = sector(from, to) else { return false };
        let Some(uses) = self.lines.get(&(cell(from, CELL), sector)) else { return false };
        let about = self.squares.get(&cell(from, SQUARE)).copied().unwrap_or(0);
        f64::from(*uses) >= SHARE * f64::from(about)
    }
}

#[allow(clippy::cast_possible_truncation, reason = "within the Earth's size")]
fn cell(at: LatLon, side: f64) -> Cell {
    // one width of a degree of longitude for each tenth of a degree of latitude
    let parallel = ((at.latitude() * 10.0).floor() / 10.0).to_radians().cos().max(0.01);
    let (x, y) = (at.longitude() * DEGREE * parallel, at.latitude() * DEGREE);
    ((x / side).floor() as i64, (y / side).floor() as i64)
}

/// The direction of a step, 0 to [`SECTORS`], a line and its reverse alike; `None` for no step.
#[allow(clippy::cast_possible_truncation, reason = "a sector")]
fn sector(from: LatLon, to: LatLon) -> Option<i64> {
    let turn = (to.longitude() - from.longitude() + 540.0).rem_euclid(360.0) - 180.0;
    let east = turn * from.latitude().to_radians().cos();
    let north = to.latitude() - from.latitude();
    if east.hypot(north) * DEGREE < 0.05 {
        return None;
    }
    let line = east.atan2(north).rem_euclid(std::f64::consts::PI) / std::f64::consts::PI;
    Some((line * SECTORS as f64).floor() as i64 % SECTORS)
}

/// The step to the cell beside a line of this direction.
fn across(sector: i64) -> Cell {
    // sectors of 30 degrees from north over east to south
    match sector {
        0 | 5 => (1, 0),
        1 => (1, -1),
        4 => (1, 1),
        _ => (0, 1),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::analyse::statistics::Rng;

    /// The uses of a line, counted cell by cell.
    fn counted(of: &PathUse, (x, y): Cell, sector: i64) -> u32 {
        let (aside_x, aside_y) = across(sector);
        let mut uses = 0;
        for side in -1..=1 {
            for turn in -1..=1 {
                let key =
                    ((x + side * aside_x, y + side * aside_y), (sector + turn).rem_euclid(SECTORS));
                uses += of.lines.get(&key).copied().unwrap_or(0);
            }
        }
        uses
    }

    #[test]
    fn uses_of_a_line_are_those_of_the_cells_about_it() {
        let mut rng = Rng::new(5);
        #[allow(clippy::cast_possible_truncation, reason = "a small number")]
        let mut below = |count: i64| (rng.uniform() * count as f64).floor() as i64;
        let mut of = PathUse::default();
        for _ in 0..120 {
            let line = ((below(9), below(9)), below(SECTORS));
            *of.lines.entry(line).or_insert(0) += 1;
        }
        let paths = of.clone().finish();
        let mut kept = 0;
        for x in -2..11 {
            for y in -2..11 {
                for sector in 0..SECTORS {
                    let uses = counted(&of, (x, y), sector);
                    let own = paths.lines.get(&((x, y), sector)).copied();
                    assert_eq!(own, Some(uses).filter(|uses| *uses >= LEAST), "{x} {y} {sector}");
                    kept += usize::from(own.is_some());
                }
            }
        }
        assert!(kept > 50 && kept == paths.lines.len(), "{kept}");
    }
}
