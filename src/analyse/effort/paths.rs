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

/// Cells along each side of a tile.
const TILE: i64 = 8;
/// Lines of a tile: its cells by direction.
const LINES: usize = count(TILE * TILE * SECTORS);
/// The same as bits.
const WORDS: usize = LINES / 64;

/// A number of lines.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "within a tile")]
const fn count(lines: i64) -> usize {
    lines as usize
}

/// The tile that a line is in, and its place there.
fn placed((x, y): Cell, sector: i64) -> (Cell, usize) {
    let place = (x.rem_euclid(TILE) * TILE + y.rem_euclid(TILE)) * SECTORS + sector;
    ((x.div_euclid(TILE), y.div_euclid(TILE)), count(place))
}

/// Uses of lines by tile, held at 65,535: where anybody walks, many cells about are walked as well.
type Uses = HashMap<Cell, Box<[u16; LINES]>, BuildHasherDefault<Mixed>>;

/// How many outings walked where, and in which direction.
#[derive(Clone, Debug, Default)]
pub struct PathUse {
    lines: Uses,
    squares: Counts<Cell>,
}

/// The cells that one outing walked in.
#[derive(Clone, Debug, Default)]
pub struct WalkedCells {
    /// One bit for each line of a tile.
    lines: HashMap<Cell, [u64; WORDS], BuildHasherDefault<Mixed>>,
    squares: Set<Cell>,
}

impl WalkedCells {
    /// The cells of one outing.
    #[must_use]
    pub fn of(walk: &Walk) -> Self {
        let mut cells = Self::default();
        let (mut line, mut square) = (None, None);
        for piece in walk.pieces().filter(|piece| piece.activity() == Activity::Walking) {
            let Some(sector) = sector(piece.from.at, piece.to.at) else { continue };
            let parts = (piece.length.0 / (CELL / 2.0)).ceil().clamp(1.0, 1e4);
            let mut part = 0.5;
            while part < parts {
                let [own, about] = both(piece.at(part / parts));
                // most steps stay in the cell of the last one
                if line != Some((own, sector)) {
                    line = Some((own, sector));
                    let (tile, place) = placed(own, sector);
                    cells.lines.entry(tile).or_default()[place / 64] |= 1 << (place % 64);
                }
                if square != Some(about) {
                    square = Some(about);
                    cells.squares.insert(about);
                }
                part += 1.0;
            }
        }
        cells
    }
}

impl PathUse {
    /// Counts an outing.
    pub fn add(&mut self, outing: WalkedCells) {
        for (tile, words) in outing.lines {
            let uses = self.lines.entry(tile).or_insert_with(|| Box::new([0; LINES]));
            for (word, uses) in words.iter().zip(uses.as_chunks_mut::<64>().0) {
                let mut left = *word;
                while left != 0 {
                    let own = &mut uses[left.trailing_zeros() as usize];
                    *own = own.saturating_add(1);
                    left &= left - 1;
                }
            }
        }
        for square in outing.squares {
            *self.squares.entry(square).or_insert(0) += 1;
        }
    }

    /// The lines that enough outings walked, those beside and nearly along each counted with it.
    #[must_use]
    pub fn finish(self) -> RegularPaths {
        let mut lines = Uses::default();
        let about = |(x, y): &Cell| {
            let (x, y) = (*x, *y);
            (-1..=1).flat_map(move |over| (-1..=1).map(move |up| (x + over, y + up)))
        };
        let tiles: Set<Cell> = self.lines.keys().flat_map(about).collect();
        for tile in tiles {
            let sums = self.sums(tile);
            if sums.iter().any(|uses| *uses > 0) {
                lines.insert(tile, Box::new(sums));
            }
        }
        RegularPaths { lines, squares: self.squares }
    }

    /// The uses of each line of a tile with those beside it; 0 below [`LEAST`].
    fn sums(&self, tile: Cell) -> [u16; LINES] {
        let rim = Rim::about(tile, &self.lines);
        let mut sums = [0; LINES];
        for sector in 0..SECTORS {
            let (aside_x, aside_y) = across(sector);
            let turned: [i64; 3] = [-1, 0, 1].map(|turn| (sector + turn).rem_euclid(SECTORS));
            for x in 0..TILE {
                for y in 0..TILE {
                    let sides = [-1, 0, 1].map(|side| (x + side * aside_x, y + side * aside_y));
                    let own =
                        sides.iter().flat_map(|cell| turned.map(|turn| rim.uses(*cell, turn)));
                    let own: u32 = own.sum();
                    let (_, place) = placed((x, y), sector);
                    sums[place] =
                        if own < LEAST { 0 } else { u16::try_from(own).unwrap_or(u16::MAX) };
                }
            }
        }
        sums
    }
}

/// The uses of a tile with a rim of one cell.
struct Rim([u16; RIM]);

/// Cells along each side of a tile with its rim.
const WIDE: i64 = TILE + 2;
/// Its lines.
const RIM: usize = count(WIDE * WIDE * SECTORS);

impl Rim {
    fn about((tile_x, tile_y): Cell, lines: &Uses) -> Self {
        let mut rim = Self([0; RIM]);
        let mut last: Option<(Cell, Option<&[u16; LINES]>)> = None;
        for x in -1..=TILE {
            for y in -1..=TILE {
                let (tile, place) = placed((tile_x * TILE + x, tile_y * TILE + y), 0);
                let uses = match last {
                    Some((known, uses)) if known == tile => uses,
                    _ => lines.get(&tile).map(Box::as_ref),
                };
                last = Some((tile, uses));
                if let Some(uses) = uses {
                    let here = Self::place((x, y), 0);
                    let sectors = count(SECTORS);
                    rim.0[here..here + sectors].copy_from_slice(&uses[place..place + sectors]);
                }
            }
        }
        rim
    }

    fn place((x, y): Cell, sector: i64) -> usize {
        count(((x + 1) * WIDE + y + 1) * SECTORS + sector)
    }

    fn uses(&self, cell: Cell, sector: i64) -> u32 {
        u32::from(self.0[Self::place(cell, sector)])
    }
}

/// The regular paths of all outings.
#[derive(Clone, Debug, Default)]
pub struct RegularPaths {
    /// Uses of lines, at least [`LEAST`]; 0 for fewer.
    lines: Uses,
    squares: Counts<Cell>,
}

impl RegularPaths {
    /// Whether a step from one place to another follows a regular path.
    #[must_use]
    pub fn regular(&self, from: LatLon, to: LatLon) -> bool {
        let Some(sector) = sector(from, to) else { return false };
        let [own, square] = both(from);
        let uses = self.uses(own, sector);
        let about = self.squares.get(&square).copied().unwrap_or(0);
        uses > 0 && f64::from(uses) >= SHARE * f64::from(about)
    }

    fn uses(&self, cell: Cell, sector: i64) -> u16 {
        let (tile, place) = placed(cell, sector);
        self.lines.get(&tile).map_or(0, |uses| uses[place])
    }
}

/// The cell of a place, and its square.
#[allow(clippy::cast_possible_truncation, reason = "within the Earth's size")]
fn both(at: LatLon) -> [Cell; 2] {
    // one width of a degree of longitude for each tenth of a degree of latitude
    let parallel = ((at.latitude() * 10.0).floor() / 10.0).to_radians().cos().max(0.01);
    let (x, y) = (at.longitude() * DEGREE * parallel, at.latitude() * DEGREE);
    [CELL, SQUARE].map(|side| ((x / side).floor() as i64, (y / side).floor() as i64))
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

    type Line = (Cell, i64);

    /// The uses of a line, counted cell by cell.
    fn counted(of: &HashMap<Line, u32>, (x, y): Cell, sector: i64) -> u32 {
        let (aside_x, aside_y) = across(sector);
        let mut uses = 0;
        for side in -1..=1 {
            for turn in -1..=1 {
                let key =
                    ((x + side * aside_x, y + side * aside_y), (sector + turn).rem_euclid(SECTORS));
                uses += of.get(&key).copied().unwrap_or(0);
            }
        }
        uses
    }

    #[test]
    fn uses_of_a_line_are_those_of_the_cells_about_it() {
        let mut rng = Rng::new(5);
        #[allow(clippy::cast_possible_truncation, reason = "a small number")]
        let mut below = |count: i64| (rng.uniform() * count as f64).floor() as i64;
        let (mut of, mut paths) = (HashMap::new(), PathUse::default());
        for _ in 0..400 {
            // on four tiles, on either side of zero
            let line = ((below(14) - 9, below(14) - 3), below(SECTORS));
            *of.entry(line).or_insert(0) += 1;
            let (tile, place) = placed(line.0, line.1);
            let mut outing = WalkedCells::default();
            outing.lines.entry(tile).or_default()[place / 64] |= 1 << (place % 64);
            paths.add(outing);
        }
        let paths = paths.finish();
        let mut kept = 0;
        for x in -11..7 {
            for y in -5..13 {
                for sector in 0..SECTORS {
                    let uses = counted(&of, (x, y), sector);
                    let own = paths.uses((x, y), sector);
                    let enough = if uses >= LEAST { uses } else { 0 };
                    assert_eq!(u32::from(own), enough, "{x} {y} {sector}");
                    kept += usize::from(own > 0);
                }
            }
        }
        assert!(kept > 50, "{kept}");
    }
}
