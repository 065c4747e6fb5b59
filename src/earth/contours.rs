//! Computes contours of a grid of heights: a suitable interval, and the lines by marching squares.
//! Layer: `earth`.
//!
//! For the maps that `present` draws. A contour is a picture of the tile: where the tile follows the canopy, so do the
//! contours.
//!
//! # References
//! Imhof 1982, Cartographic Relief Presentation, chapter C: the interval A = n log10(n) tan(a) of a map
//! of scale 1 to M, with n = sqrt(M / 100 + 1) and a the steepest slope that must stay legible. The
//! formula is from memory.

use super::height_grid::HeightGrid;
use super::hillshade::gradient;
use crate::units::Metres;

/// The intervals that maps use, metres (common practice).
const INTERVALS: [f64; 11] = [1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 500.0, 1_000.0];
/// Every so many contours one is strong and has a figure.
const INDEX: f64 = 5.0;
/// The most levels of one map.
const MOST_LEVELS: f64 = 120.0;
/// The share of slopes that stay legible: steeper ground is rarer than one node in twenty.
const LEGIBLE: f64 = 0.95;
/// A tile whose posts are this many times the interval apart does not justify a finer one (assumption:
/// its heights are good to a sixth of the distance between posts).
const POSTS_PER_INTERVAL: f64 = 3.0;

/// One contour.
#[derive(Clone, Debug, PartialEq)]
pub struct Contour {
    /// Its height above sea level.
    pub height: Metres,
    /// Whether it is one of the strong ones.
    pub index: bool,
    /// Metres east and north of the origin; closed where the ends coincide.
    pub line: Vec<(f64, f64)>,
}

/// The interval for a map of the scale 1 to `denominator`; `None` for level ground and voids only.
///
/// The nearest, as a ratio, of the usual intervals to Imhof's formula for the slope that 95 % of the nodes do not
/// exceed. It is never finer than a third of the distance between posts, and never gives more than 120 levels.
#[must_use]
pub fn interval(grid: &HeightGrid, denominator: f64) -> Option<Metres> {
    let mut slopes: Vec<f64> = (0..grid.heights.len())
        .filter_map(|index| gradient(grid, index % grid.columns, index / grid.columns))
        .map(|(east, north)| east.hypot(north))
        .collect();
    slopes.sort_unstable_by(f64::total_cmp);
    let steep = percentile(&slopes, LEGIBLE)?;
    let n = (denominator / 100.0 + 1.0).sqrt();
    let wished = (n * n.log10() * steep).max(grid.spacing.0 / POSTS_PER_INTERVAL);
    let range = range(grid)?;
    let nearest = INTERVALS
        .into_iter()
        .filter(|interval| (range.1 - range.0) / interval <= MOST_LEVELS)
        .min_by(|a, b| off(*a, wished).total_cmp(&off(*b, wished)))?;
    (range.1 - range.0 >= nearest).then_some(Metres(nearest))
}

/// How many times one is the other, as a logarithm.
fn off(a: f64, b: f64) -> f64 {
    (a / b).ln().abs()
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a share of the length")]
fn percentile(sorted: &[f64], share: f64) -> Option<f64> {
    sorted.get(((sorted.len() as f64 - 1.0) * share).round() as usize).copied()
}

fn range(grid: &HeightGrid) -> Option<(f64, f64)> {
    let known = grid.heights.iter().filter(|height| !height.is_nan());
    let range = known.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), h| (a.min(*h), b.max(*h)));
    (range.0 <= range.1).then_some(range)
}

/// The contours at multiples of the interval. They end at voids and at the edge of the grid.
///
/// Empty for an interval that is not above zero or would give more than 1,200 levels. Levels lie a micrometre above the
/// multiples, so that ground which is exactly level at one has no line through it.
#[must_use]
pub fn contours(grid: &HeightGrid, interval: Metres) -> Vec<Contour> {
    let Some((low, high)) = range(grid) else { return Vec::new() };
    if !(interval.0 > 0.0 && (high - low) / interval.0 <= 10.0 * MOST_LEVELS) {
        return Vec::new();
    }
    let below = low - 1e6;
    let values: Vec<f64> =
        grid.heights.iter().map(|height| if height.is_nan() { below } else { *height }).collect();
    let first = (low / interval.0).ceil();
    let levels: Vec<f64> = (0..2_000_u32)
        .map(|count| (first + f64::from(count)) * interval.0)
        .take_while(|level| *level <= high)
        // exactly level ground at a level has no line through it
        .map(|level| level + 1e-6)
        .collect();
    let builder = contour::ContourBuilder::new(grid.columns, grid.rows, true)
        .x_origin(grid.west - grid.step.0 / 2.0)
        .y_origin(grid.south - grid.step.0 / 2.0)
        .x_step(grid.step.0)
        .y_step(grid.step.0);
    let Ok(lines) = builder.lines(&values, &levels) else { return Vec::new() };
    let mut contours = Vec::new();
    for found in &lines {
        let height = (found.threshold() / interval.0).round() * interval.0;
        let index = (height / interval.0).rem_euclid(INDEX) == 0.0;
        for line in found.geometry() {
            let points: Vec<(f64, f64)> = line.coords().map(|at| (at.x, at.y)).collect();
            contours.extend(known_parts(grid, &points).into_iter().map(|line| Contour {
                height: Metres(height),
                index,
                line,
            }));
        }
    }
    contours
}

/// The parts of a line that run between known heights, joined across its start where it is closed.
fn known_parts(grid: &HeightGrid, line: &[(f64, f64)]) -> Vec<Vec<(f64, f64)>> {
    let mut parts: Vec<Vec<(f64, f64)>> = Vec::new();
    let mut part = Vec::new();
    for at in line {
        if grid.height(at.0, at.1).is_nan() {
            parts.push(std::mem::take(&mut part));
        } else {
            part.push(*at);
        }
    }
    let closed = line.len() > 2 && line.first() == line.last();
    if closed && !parts.is_empty() && !part.is_empty() {
        part.extend(parts[0].iter().skip(1));
        parts[0] = part;
    } else {
        parts.push(part);
    }
    parts.retain(|part| part.len() > 1);
    parts
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(side: usize, height: impl Fn(f64, f64) -> f64) -> HeightGrid {
        let step = Metres(10.0);
        let first = -10.0 * (side - 1) as f64 / 2.0;
        let at = |index: usize| first + 10.0 * index as f64;
        let heights = (0..side * side).map(|i| height(at(i % side), at(i / side))).collect();
        HeightGrid {
            columns: side,
            rows: side,
            step,
            west: first,
            south: first,
            heights,
            spacing: step,
        }
    }

    #[test]
    fn contours_of_a_cone_are_circles_at_their_heights() {
        let cone = grid(81, |x, y| 300.0 - 0.5 * x.hypot(y));
        let lines = contours(&cone, Metres(20.0));
        for height in [280.0, 200.0, 120.0] {
            let of: Vec<&Contour> = lines.iter().filter(|line| line.height.0 == height).collect();
            assert_eq!(of.len(), 1, "{height}");
            assert_eq!(of[0].line.first(), of[0].line.last());
            for (x, y) in &of[0].line {
                let radius = (300.0 - height) / 0.5;
                assert!((x.hypot(*y) - radius).abs() < 0.6, "{height} {x} {y}");
            }
        }
        let strong: Vec<f64> =
            lines.iter().filter(|line| line.index).map(|line| line.height.0).collect();
        assert!(strong.contains(&200.0) && !strong.contains(&220.0), "{strong:?}");
    }

    #[test]
    fn contours_end_at_a_void_and_at_the_edge() {
        let slope =
            grid(
                41,
                |x, y| {
                    if x.abs() < 35.0 && y.abs() < 35.0 { f64::NAN } else { 100.0 + 0.1 * y }
                },
            );
        let lines = contours(&slope, Metres(5.0));
        let level: Vec<&Contour> = lines.iter().filter(|line| line.height.0 == 100.0).collect();
        assert_eq!(level.len(), 2, "{level:?}");
        for line in &level {
            assert!(line.line.iter().all(|(x, y)| x.abs() >= 35.0 && y.abs() < 0.1), "{line:?}");
        }
        let at_the_edge = |line: &Contour| line.line.iter().any(|(x, _)| x.abs() > 200.5);
        assert!(!lines.iter().any(at_the_edge));
    }

    #[test]
    fn interval_follows_scale_slope_and_the_spacing_of_posts() {
        let slope = |tangent: f64| grid(41, move |x, _| 500.0 + tangent * x);
        // n = 15.84, n log n = 19.0
        assert_eq!(interval(&slope(1.0), 25_000.0), Some(Metres(20.0)));
        assert_eq!(interval(&slope(0.5), 25_000.0), Some(Metres(10.0)));
        // n = 7.14, n log n = 6.1; the posts 10 m apart justify 3.3 m
        assert_eq!(interval(&slope(0.1), 5_000.0), Some(Metres(5.0)));
        assert_eq!(interval(&slope(0.0), 5_000.0), None);
        assert_eq!(interval(&grid(11, |_, _| f64::NAN), 5_000.0), None);
    }
}
