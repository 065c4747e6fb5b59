//! Converts searched tracks to weighted points for the kernel density, each point weighted by
//! length. Layer: `analyse`.
//!
//! A kernel integrated along a straight piece has a closed form with the error function; two Gauss
//! points for each half bandwidth of track are within 2e-5 of it and cost the same for any number
//! of fixes.

use super::kernel::Mass;

/// Points along an unbroken track on the plane, each weighted by the metres of track that it
/// represents.
pub fn masses(way: &[(f64, f64)], bandwidth: f64, into: &mut Vec<Mass>) {
    let lengths: Vec<f64> =
        way.windows(2).map(|ends| (ends[1].0 - ends[0].0).hypot(ends[1].1 - ends[0].1)).collect();
    let total: f64 = lengths.iter().sum();
    if !(total.is_finite() && total > 0.0 && bandwidth > 0.0) {
        return;
    }
    let chunks = (total / (bandwidth / 2.0)).ceil().max(1.0);
    let chunk = total / chunks;
    // the two Gauss-Legendre nodes of a segment
    let nodes = [0.5 - 0.5 / 3.0_f64.sqrt(), 0.5 + 0.5 / 3.0_f64.sqrt()];
    let (mut piece, mut walked, mut index) = (0, 0.0, 0.0);
    while index < chunks {
        for node in nodes {
            let goal = (index + node) * chunk;
            while piece + 1 < lengths.len() && walked + lengths[piece] < goal {
                walked += lengths[piece];
                piece += 1;
            }
            let share = if lengths[piece] > 0.0 { (goal - walked) / lengths[piece] } else { 0.0 };
            let share = share.clamp(0.0, 1.0);
            let (a, b) = (way[piece], way[piece + 1]);
            into.push(Mass {
                x: a.0 + share * (b.0 - a.0),
                y: a.1 + share * (b.1 - a.1),
                weight: chunk / 2.0,
            });
        }
        index += 1.0;
    }
}

/// The kernel integrated along a straight piece, per square metre: the closed form.
#[cfg(test)]
fn exact(from: (f64, f64), to: (f64, f64), at: (f64, f64), bandwidth: f64) -> f64 {
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let length = dx.hypot(dy);
    if length <= 0.0 {
        return 0.0;
    }
    let (px, py) = (at.0 - from.0, at.1 - from.1);
    let (along, aside) = ((px * dx + py * dy) / length, (px * dy - py * dx) / length);
    let scale = std::f64::consts::SQRT_2 * bandwidth;
    let part = libm::erf((length - along) / scale) + libm::erf(along / scale);
    let bell = (-0.5 * (aside / bandwidth).powi(2)).exp()
        / (bandwidth * (2.0 * std::f64::consts::PI).sqrt());
    0.5 * part * bell
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_stand_for_a_way_as_the_closed_form_does() {
        let way: Vec<(f64, f64)> =
            (0..=300).map(|i| (f64::from(i) * 0.7, f64::from(i) * 0.4)).collect();
        for h in [15.0, 40.0, 200.0] {
            let mut points = Vec::new();
            masses(&way, h, &mut points);
            let whole: f64 = points.iter().map(|m| m.weight).sum();
            assert!((whole - 210.0_f64.hypot(120.0)).abs() < 1e-6);
            let peak = exact(way[0], way[300], (105.0, 60.0), h);
            for at in [(0.0, 0.0), (105.0, 60.0), (-10.0, 5.0), (215.0, 130.0), (60.0, 90.0)] {
                let sum: f64 = points
                    .iter()
                    .map(|m| {
                        let d2 = ((at.0 - m.x).powi(2) + (at.1 - m.y).powi(2)) / (h * h);
                        m.weight * (-0.5 * d2).exp() / (2.0 * std::f64::consts::PI * h * h)
                    })
                    .sum();
                let truth = exact(way[0], way[300], at, h);
                assert!((sum - truth).abs() < 2e-5 * peak, "{h} {at:?}: {sum} {truth}");
            }
        }
    }

    #[test]
    fn track_of_zero_length_has_no_weight() {
        let mut points = Vec::new();
        masses(&[], 10.0, &mut points);
        masses(&[(1.0, 1.0)], 10.0, &mut points);
        masses(&[(1.0, 1.0), (1.0, 1.0)], 10.0, &mut points);
        assert!(points.is_empty());
    }
}
