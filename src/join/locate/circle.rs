//! Represents a position as a mixture of circular normal components, and computes its mean and the smallest
//! circle around the mean that holds 95 %. Layer: `join`.

use super::super::kalman::Belief;

/// One part of a mixture.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Circle {
    /// Its share.
    pub(crate) weight: f64,
    /// Metres east of the plane's origin.
    pub(crate) east: f64,
    /// Metres north of it.
    pub(crate) north: f64,
    /// Variance per axis.
    pub(crate) variance: f64,
}

/// Chords of a circle that a probability is summed over.
const CHORDS: u32 = 48;
/// Parts beyond this number are merged with their nearest.
const MOST_PARTS: usize = 14;

impl Circle {
    /// The position component of a state.
    pub(crate) fn of(belief: &Belief) -> Self {
        Self {
            weight: 1.0,
            east: belief.east[0],
            north: belief.north[0],
            variance: belief.cov.xx.max(0.01),
        }
    }

    fn distance(&self, other: &Self) -> f64 {
        (self.east - other.east).hypot(self.north - other.north)
    }

    /// Both as one, mean and mean square kept.
    fn merged(&self, other: &Self) -> Self {
        let weight = self.weight + other.weight;
        let share = other.weight / weight;
        let between = self.distance(other);
        Self {
            weight,
            east: self.east + share * (other.east - self.east),
            north: self.north + share * (other.north - self.north),
            variance: (1.0 - share) * self.variance
                + share * other.variance
                + 0.5 * share * (1.0 - share) * between * between,
        }
    }
}

/// The mean of a mixture.
pub(crate) fn middle(parts: &[Circle]) -> (f64, f64) {
    let total: f64 = parts.iter().map(|part| part.weight).sum();
    let mean = |of: fn(&Circle) -> f64| {
        parts.iter().map(|part| part.weight * of(part)).sum::<f64>() / total
    };
    (mean(|part| part.east), mean(|part| part.north))
}

/// The variance per axis within the parts, and that between them.
pub(crate) fn variances(parts: &[Circle]) -> (f64, f64) {
    let total: f64 = parts.iter().map(|part| part.weight).sum();
    let (east, north) = middle(parts);
    let within = parts.iter().map(|part| part.weight * part.variance).sum::<f64>() / total;
    let between = parts
        .iter()
        .map(|part| 0.5 * part.weight * ((part.east - east).powi(2) + (part.north - north).powi(2)))
        .sum::<f64>()
        / total;
    (within, between)
}

/// The same mixture with few components: similar ones merged, negligible ones dropped.
pub(crate) fn simplified(parts: &[Circle]) -> Vec<Circle> {
    let mut parts = parts.to_vec();
    parts.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    let total: f64 = parts.iter().map(|part| part.weight).sum();
    let mut few: Vec<Circle> = Vec::new();
    for part in parts.iter().filter(|part| part.weight > 1e-5 * total) {
        let apart = |kept: &Circle| kept.distance(part) / (kept.variance + part.variance).sqrt();
        let nearest = (0..few.len()).min_by(|&a, &b| apart(&few[a]).total_cmp(&apart(&few[b])));
        match nearest {
            Some(k)
                if few.len() >= MOST_PARTS || (apart(&few[k]) < 0.4 && alike(&few[k], part)) =>
            {
                few[k] = few[k].merged(part);
            }
            _ => few.push(*part),
        }
    }
    let total: f64 = few.iter().map(|part| part.weight).sum();
    for part in &mut few {
        part.weight /= total;
    }
    few
}

fn alike(a: &Circle, b: &Circle) -> bool {
    (0.6..1.7).contains(&(a.variance / b.variance))
}

/// The radius about a point that holds this share of a mixture of weight one.
///
/// # Accuracy
/// To 0.1 % of the radius; `tests/reference` holds it against an outside library.
pub(crate) fn radius_about(point: (f64, f64), parts: &[Circle], share: f64) -> f64 {
    let far = |part: &Circle| (part.east - point.0).hypot(part.north - point.1);
    let mut high =
        parts.iter().map(|part| far(part) + 6.0 * part.variance.sqrt()).fold(0.0, f64::max);
    let mut low = 0.0;
    while high - low > 5e-4 * high {
        let radius = f64::midpoint(low, high);
        let held: f64 =
            parts.iter().map(|part| part.weight * within(radius, far(part), part.variance)).sum();
        if held < share {
            low = radius;
        } else {
            high = radius;
        }
    }
    f64::midpoint(low, high)
}

/// The probability that a circular normal place whose middle is `away` from a point lies within
/// `radius` of the point: chords of the circle, Simpson's rule.
pub(crate) fn within(radius: f64, away: f64, variance: f64) -> f64 {
    if radius <= 0.0 {
        return 0.0;
    }
    let sigma = variance.sqrt();
    if away < 1e-3 * sigma {
        return 1.0 - (-0.5 * radius * radius / variance).exp();
    }
    // only the chords within six sigma of the middle count
    let low = ((away - 6.0 * sigma) / radius).clamp(-1.0, 1.0).asin();
    let high = ((away + 6.0 * sigma) / radius).clamp(-1.0, 1.0).asin();
    if high - low < 1e-12 {
        return 0.0;
    }
    let width = (high - low) / f64::from(CHORDS);
    let chord = |k: u32| {
        let (sine, cosine) = (low + f64::from(k) * width).sin_cos();
        let offset = (radius * sine - away) / sigma;
        let half = radius * cosine / (sigma * std::f64::consts::SQRT_2);
        (-0.5 * offset * offset).exp() * error_function(half) * cosine
    };
    let sum: f64 = (0..=CHORDS)
        .map(|k| {
            chord(k)
                * if k == 0 || k == CHORDS {
                    1.0
                } else if k % 2 == 1 {
                    4.0
                } else {
                    2.0
                }
        })
        .sum();
    let scale = radius / (sigma * (2.0 * std::f64::consts::PI).sqrt());
    (sum * width / 3.0 * scale).clamp(0.0, 1.0)
}

/// The error function, within 1.5e-7.
///
/// # References
/// Abramowitz & Stegun 1964, Handbook of Mathematical Functions, 7.1.26.
pub(crate) fn error_function(x: f64) -> f64 {
    const TERMS: [f64; 5] =
        [0.254_829_592, -0.284_496_736, 1.421_413_741, -1.453_152_027, 1.061_405_429];
    let t = 1.0 / (1.0 + 0.327_591_1 * x.abs());
    let series = TERMS.iter().rev().fold(0.0, |sum, term| (sum + term) * t);
    (1.0 - series * (-x * x).exp()).copysign(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn circle(weight: f64, east: f64, variance: f64) -> Circle {
        Circle { weight, east, north: 0.0, variance }
    }

    #[test]
    fn shares_within_a_radius_agree_with_a_general_library() {
        let table = include_str!("../../../tests/reference/data/circle.csv");
        let rows = table.lines().filter(|line| !line.starts_with('#')).skip(1);
        let mut count = 0;
        for row in rows {
            let n: Vec<f64> = row.split(',').map(|part| part.parse().unwrap()).collect();
            let share = super::within(n[0], n[1], n[2]);
            assert!((share - n[3]).abs() < 2e-5, "{row}: {share}");
            count += 1;
        }
        assert_eq!(count, 108);
    }

    #[test]
    fn the_error_function_agrees_with_a_general_library() {
        let table = include_str!("../../../tests/reference/data/laws.csv");
        for row in table.lines().filter(|line| line.starts_with("erf")) {
            let n: Vec<f64> = row.split(',').skip(1).map(|part| part.parse().unwrap()).collect();
            assert!((error_function(n[0]) - n[1]).abs() < 1.6e-7, "{row}");
        }
    }

    #[test]
    fn one_component_has_its_theoretical_radius() {
        let radius = radius_about((0.0, 0.0), &[circle(1.0, 0.0, 9.0)], 0.95);
        assert!((radius - 3.0 * 2.447_746_8).abs() < 0.01, "{radius}");
    }

    #[test]
    fn radius_of_two_distant_components_reaches_both() {
        let parts = [circle(0.5, -50.0, 1.0), circle(0.5, 50.0, 1.0)];
        let radius = radius_about(middle(&parts), &parts, 0.95);
        assert!((50.0..53.0).contains(&radius), "{radius}");
    }

    #[test]
    fn merging_keeps_mean_and_spread() {
        let parts = [circle(0.3, 0.0, 4.0), circle(0.7, 1.0, 4.0)];
        let few = simplified(&parts);
        let (within, between) = variances(&parts);
        assert_eq!(few.len(), 1);
        assert!((few[0].east - 0.7).abs() < 1e-12);
        assert!((few[0].variance - within - between).abs() < 1e-12);
    }
}
