//! Recognises the paths that a collector uses on many outings, from all tracks together.
//! Layer: `analyse`.
//!
//! # Method
//! Walking track is counted in cells of 12 m by its direction, each outing once; cells beside it and directions
//! within 30 degrees count with it. A place lies on a regular path where at least three outings, and a quarter of all
//! that came into the same square of 500 m, walked along the same line in either direction, and at least twice as many
//! as walked across it, and as walked the same direction some 50 m to either side on average. Where tracks cover one
//! ground in all directions, or line by line at changing places, no line stands out. Those who search along fixed lines
//! make such lines, which is why the finds decide how much a regular path counts ([`super::weights`]), not this file.

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
/// How many times as many outings walk along a path as across it and beside it (project choice).
const CONTRAST: f64 = 2.0;
/// How far beside a path other lines are compared, cells: the cells counted with each do not meet.
const BESIDE: i64 = 4;
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
                    cells.walk_along(own, sector);
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

    /// A line, with those beside it and nearly along it.
    fn walk_along(&mut self, (x, y): Cell, sector: i64) {
        for turn in [-1, 0, 1] {
            let sector = (sector + turn).rem_euclid(SECTORS);
            let (aside_x, aside_y) = across(sector);
            for side in [-1, 0, 1] {
                let (tile, place) = placed((x + side * aside_x, y + side * aside_y), sector);
                self.lines.entry(tile).or_default()[place / 64] |= 1 << (place % 64);
            }
        }
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

    /// The paths that these outings show.
    #[must_use]
    pub fn finish(self) -> RegularPaths {
        RegularPaths { lines: self.lines, squares: self.squares }
    }
}

/// The regular paths of all outings.
#[derive(Clone, Debug, Default)]
pub struct RegularPaths {
    /// How many outings walked each line.
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
        uses >= LEAST && f64::from(uses) >= SHARE * f64::from(about) && self.stands_out(own, sector)
    }

    /// Whether a line is walked more than those across it and beside it.
    fn stands_out(&self, (x, y): Cell, sector: i64) -> bool {
        let along = f64::from(self.uses((x, y), sector));
        let crossing = self.uses((x, y), (sector + SECTORS / 2) % SECTORS);
        let (aside_x, aside_y) = across(sector);
        let beside = [-BESIDE, BESIDE]
            .map(|side| f64::from(self.uses((x + side * aside_x, y + side * aside_y), sector)));
        let beside = f64::midpoint(beside[0], beside[1]);
        along >= CONTRAST * f64::from(crossing) && along >= CONTRAST * beside
    }

    fn uses(&self, cell: Cell, sector: i64) -> u32 {
        let (tile, place) = placed(cell, sector);
        self.lines.get(&tile).map_or(0, |uses| u32::from(uses[place]))
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
    use uuid::Uuid;

    use super::*;
    use crate::analyse::statistics::Rng;
    use crate::model::TrackPoint;
    use crate::units::{Metres, Radius95, Seconds, Timestamp};

    /// Some 11 m of latitude or, at the equator, longitude.
    const STEP: f64 = 1e-4;

    /// A track through these places, in steps east and north of a corner.
    fn walked(places: &[(f64, f64)]) -> WalkedCells {
        let points = places.iter().enumerate().map(|(place, (east, north))| TrackPoint {
            at: LatLon::clamped(north * STEP, east * STEP),
            time: Seconds(10.0 * place as f64).after(Timestamp::UNIX_EPOCH),
            activity: Activity::Walking,
            height: None,
            radius: Radius95::new(Metres(5.0)).unwrap(),
            gap_after: false,
        });
        let date = jiff::civil::date(2026, 10, 1);
        WalkedCells::of(&Walk::straight(Uuid::nil(), date, points.collect()))
    }

    fn paths(outings: impl Iterator<Item = WalkedCells>) -> RegularPaths {
        let mut uses = PathUse::default();
        outings.for_each(|outing| uses.add(outing));
        uses.finish()
    }

    /// The share of steps of the last outing that follow a regular path.
    fn share(paths: &RegularPaths, places: &[(f64, f64)]) -> f64 {
        let at = |(east, north): (f64, f64)| LatLon::clamped(north * STEP, east * STEP);
        let steps = places.windows(2).map(|pair| paths.regular(at(pair[0]), at(pair[1])));
        steps.filter(|regular| *regular).count() as f64 / (places.len() - 1) as f64
    }

    #[test]
    fn one_line_walked_on_each_outing_is_a_path_and_each_outing_counts_once() {
        let mut rng = Rng::new(5);
        let mut line = || -> Vec<(f64, f64)> {
            (0..40).map(|step| (f64::from(step), 0.2 * rng.normal())).collect()
        };
        let own = line();
        let three = paths((0..3).map(|_| walked(&line())));
        assert!(share(&three, &own) > 0.9, "{}", share(&three, &own));
        let two = paths((0..2).map(|_| walked(&line())));
        assert!(share(&two, &own) < 1e-9, "there and back on two outings is no regular path");
    }

    #[test]
    fn a_small_wood_walked_in_all_directions_has_no_paths() {
        let mut rng = Rng::new(6);
        // 160 m wide
        let mut wandering = || -> Vec<(f64, f64)> {
            let (mut at, mut turn) = ((7.0, 7.0), 0.0);
            (0..300)
                .map(|_| {
                    turn += 0.5 * rng.normal();
                    let (sine, cosine) = f64::sin_cos(turn);
                    at = ((at.0 + sine).clamp(0.0, 14.0), (at.1 + cosine).clamp(0.0, 14.0));
                    at
                })
                .collect()
        };
        let own = wandering();
        let all = paths((0..50).map(|_| walked(&wandering())));
        assert!(share(&all, &own) < 0.1, "{}", share(&all, &own));
    }

    #[test]
    fn lines_at_changing_places_are_no_paths() {
        let mut rng = Rng::new(7);
        let mut lines = || -> Vec<(f64, f64)> {
            let first = 4.0 * rng.uniform();
            let line = |turn: i32| {
                let east = first + 4.0 * f64::from(turn);
                (0..20).map(move |step| {
                    (east, f64::from(if turn % 2 == 0 { step } else { 19 - step }))
                })
            };
            (0..6).flat_map(line).collect()
        };
        let own = lines();
        let all = paths((0..30).map(|_| walked(&lines())));
        assert!(share(&all, &own) < 0.1, "{}", share(&all, &own));
    }
}
