//! Combines several anchors of one find into one distribution. Two anchors agree unless p < 0.001 for their
//! distance. Errors that anchors share through the day's receiver are counted once: the weights use the
//! full covariance. Layer: `join`.

use super::anchor::Draft;
use super::circle::{Circle, middle, radius_about, simplified, variances};
use crate::model::RadiusPart;

/// A smaller p-value is a disagreement.
const CHANCE: f64 = 1e-3;

/// Two anchors that cannot both be right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Disagreement {
    /// Indices of the two among the drafts, the more trusted first.
    pub(crate) between: (usize, usize),
    /// Metres between them.
    pub(crate) distance: f64,
    /// The p-value of their distance.
    pub(crate) chance: f64,
}

/// The combined distribution, the drafts used, and the disagreements.
#[derive(Clone, Debug)]
pub(crate) struct Combined {
    pub(crate) circles: Vec<Circle>,
    /// The bound that adds linearly, metres.
    pub(crate) bounded: f64,
    /// For each draft whether it was used.
    pub(crate) used: Vec<bool>,
    pub(crate) disagreements: Vec<Disagreement>,
}

/// Combines drafts, the most trusted first. `None` if empty.
pub(crate) fn combine(drafts: &[Draft]) -> Option<Combined> {
    let lead = lead(drafts);
    let first = drafts.get(lead)?;
    let mut belief = first.clone();
    let mut used = vec![true; drafts.len()];
    let mut disagreements = Vec::new();
    for (k, draft) in drafts.iter().enumerate().filter(|(k, _)| *k != lead) {
        let (distance, chance) = apart(first, draft);
        if chance < CHANCE {
            used[k] = false;
            disagreements.push(Disagreement { between: (lead, k), distance, chance });
        } else if !adds_nothing(&belief, draft) {
            belief = both(&belief, draft);
        }
    }
    Some(Combined { circles: belief.circles, bounded: belief.bounded, used, disagreements })
}

/// The distribution of one draft alone, which the record states as measured and final; drafts that agree
/// with it are not averaged in, the others disagree.
pub(crate) fn stop(drafts: &[Draft], measured: usize) -> Option<Combined> {
    let first = drafts.get(measured)?;
    let others = drafts.iter().enumerate().filter(|(k, _)| *k != measured);
    let disagreements = others
        .filter_map(|(k, draft)| {
            let (distance, chance) = apart(first, draft);
            (chance < CHANCE).then_some(Disagreement { between: (measured, k), distance, chance })
        })
        .collect();
    Some(Combined {
        circles: first.circles.clone(),
        bounded: first.bounded,
        used: (0..drafts.len()).map(|k| k == measured).collect(),
        disagreements,
    })
}

impl Combined {
    /// The point and the smallest radius about it that holds 95 %.
    pub(crate) fn point_and_radius(&self) -> ((f64, f64), f64) {
        let point = middle(&self.circles);
        (point, radius_about(point, &self.circles, 0.95) + self.bounded)
    }

    /// The parts of the radius: those of the best anchor, the errors in proportion where the other anchors make the
    /// radius smaller, the bounds as they were weighed.
    pub(crate) fn parts(&self, drafts: &[Draft]) -> Vec<RadiusPart> {
        let used = || drafts.iter().zip(&self.used).filter(|(_, used)| **used).map(|(d, _)| d);
        let best =
            used().min_by(|a, b| a.radius_about(a.point()).total_cmp(&b.radius_about(b.point())));
        let Some(best) = best else { return Vec::new() };
        let mut parts = best.parts.clone();
        let bounds: f64 =
            parts.iter().filter(|part| part.kind.is_bounded()).map(|part| part.size.0).sum();
        if bounds > 0.0 {
            let share = self.bounded / bounds;
            parts.iter_mut().filter(|p| p.kind.is_bounded()).for_each(|p| p.size.0 *= share);
        }
        if used().count() < 2 {
            return parts;
        }
        let errors = || parts.iter().filter(|part| !part.kind.is_bounded());
        let together = errors().map(|part| part.size.0.powi(2)).sum::<f64>().sqrt();
        let left = self.point_and_radius().1 - self.bounded;
        if together > left && left > 0.0 {
            let errors = parts.iter_mut().filter(|part| !part.kind.is_bounded());
            errors.for_each(|part| part.size.0 *= left / together);
        }
        parts
    }
}

/// The draft with which the others are compared: the most trusted, unless two others agree against it.
fn lead(drafts: &[Draft]) -> usize {
    let agrees = |a: usize| {
        let others = drafts.iter().enumerate().filter(move |(b, _)| *b != a);
        others.map(|(_, draft)| apart(&drafts[a], draft).1).any(|chance| chance >= CHANCE)
    };
    (0..drafts.len()).find(|&draft| agrees(draft)).unwrap_or(0)
}

/// The correlation of the errors of two anchors.
fn correlation(a: &Draft, b: &Draft) -> f64 {
    (a.shared * b.shared).min(0.95)
}

/// Covariance of two anchors per axis.
fn covariance(a: &Draft, b: &Draft) -> f64 {
    correlation(a, b) * a.variance().min(b.variance())
}

/// The distance of two anchors and its p-value.
pub(super) fn apart(a: &Draft, b: &Draft) -> (f64, f64) {
    let (from, to) = (a.point(), b.point());
    let distance = (from.0 - to.0).hypot(from.1 - to.1);
    let variance = (a.variance() + b.variance() - 2.0 * covariance(a, b)).max(0.25);
    // bounds are subtracted from the distance first
    let beyond = (distance - a.bounded - b.bounded).max(0.0);
    // the tails of both are heavier than normal: Student's law with six degrees of freedom
    let chance = (1.0 + beyond * beyond / (6.0 * variance)).powi(-3);
    (distance, chance)
}

/// A time that was written beside photographs was already used for the camera's clock, unless it is far
/// more precise; and a far wider anchor adds nothing.
fn adds_nothing(belief: &Draft, draft: &Draft) -> bool {
    use crate::model::AnchorKind::{PhotoTime, WrittenTime};
    let wider = draft.radius_about(draft.point()) / belief.radius_about(belief.point());
    let through_the_clock = draft.kind == WrittenTime && belief.kind == PhotoTime;
    wider > if through_the_clock { 0.5 } else { 6.0 }
}

/// Combines two agreeing distributions with optimal linear weights, component by component.
fn both(a: &Draft, b: &Draft) -> Draft {
    /// More correlated anchors rest on the fixes of one receiver.
    const ONE_RECEIVER: f64 = 0.7;
    let (wide_a, wide_b) = (effective(a), effective(b));
    let shared = covariance(a, b);
    let circles = if correlation(a, b) > ONE_RECEIVER && wide_a + wide_b == 0.0 {
        of_one_receiver(a, b)
    } else {
        products(a, b)
    };
    let weight_b = {
        let (va, vb) = (a.variance() + wide_a, b.variance() + wide_b);
        ((va - shared) / (va + vb - 2.0 * shared).max(1e-9)).clamp(0.0, 1.0)
    };
    Draft {
        circles: simplified(&circles),
        bounded: (1.0 - weight_b) * a.bounded + weight_b * b.bounded,
        shared: a.shared.max(b.shared),
        ..if weight_b > 0.5 { b.clone() } else { a.clone() }
    }
}

/// The products of two distributions that rest on the fixes of one receiver: the places are updated, the
/// size of its error is not, since its fixes agree whatever their error. Each component of the first
/// meets those of the second at the same size.
fn of_one_receiver(a: &Draft, b: &Draft) -> Vec<Circle> {
    let correlation = correlation(a, b);
    let typical = |draft: &Draft| variances(&draft.circles).0.max(0.01);
    let (usual_a, usual_b) = (typical(a), typical(b));
    let apart_by_chance = usual_a + usual_b - 2.0 * correlation * usual_a.min(usual_b);
    let mut circles = Vec::new();
    for one in &a.circles {
        let (va, vb) = (one.variance, usual_b * one.variance / usual_a);
        let covariance = correlation * va.min(vb);
        let weight_b = ((va - covariance) / (va + vb - 2.0 * covariance).max(1e-9)).clamp(0.0, 1.0);
        let weight_a = 1.0 - weight_b;
        let variance = weight_a * weight_a * va
            + weight_b * weight_b * vb
            + 2.0 * weight_a * weight_b * covariance;
        for other in &b.circles {
            let apart2 = (one.east - other.east).powi(2) + (one.north - other.north).powi(2);
            // anchors that agree but for rare errors leave no component without weight
            let agreement = (-0.5 * apart2 / apart_by_chance).exp().max(1e-12);
            circles.push(Circle {
                weight: one.weight * other.weight * agreement,
                east: weight_a * one.east + weight_b * other.east,
                north: weight_a * one.north + weight_b * other.north,
                variance,
            });
        }
    }
    circles
}

/// The products of two distributions whose errors are mostly independent.
fn products(a: &Draft, b: &Draft) -> Vec<Circle> {
    let (wide_a, wide_b) = (effective(a), effective(b));
    let shared = covariance(a, b);
    let mut circles = Vec::new();
    for one in &a.circles {
        for other in &b.circles {
            let (va, vb) = (one.variance + wide_a, other.variance + wide_b);
            let covariance = shared.min(0.95 * va.min(vb));
            let between = va + vb - 2.0 * covariance;
            let weight_b = ((va - covariance) / between).clamp(0.0, 1.0);
            let apart2 = (one.east - other.east).powi(2) + (one.north - other.north).powi(2);
            let (random_a, random_b) = (one.variance, other.variance);
            let weight_a = 1.0 - weight_b;
            circles.push(Circle {
                weight: one.weight * other.weight * (-0.5 * apart2 / between).exp() / between,
                east: weight_a * one.east + weight_b * other.east,
                north: weight_a * one.north + weight_b * other.north,
                variance: weight_a * weight_a * random_a
                    + weight_b * weight_b * random_b
                    + 2.0 * weight_a * weight_b * shared.min((random_a * random_b).sqrt()),
            });
        }
    }
    circles
}

/// A bound as a variance, for weighing only.
fn effective(draft: &Draft) -> f64 {
    (draft.bounded / 2.0).powi(2)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{AnchorKind, PartKind};
    use crate::units::Metres;

    fn anchor(kind: AnchorKind, east: f64, shared: f64) -> Draft {
        Draft {
            kind,
            circles: vec![Circle { weight: 1.0, east, north: 0.0, variance: 36.0 }],
            bounded: 0.0,
            shared,
            parts: Vec::new(),
            when: None,
            basis: String::new().into(),
        }
    }

    fn radius(drafts: &[Draft]) -> f64 {
        combine(drafts).unwrap().point_and_radius().1
    }

    #[test]
    fn two_anchors_of_one_receiver_add_little_information() {
        let photo = anchor(AnchorKind::PhotoTime, 0.0, 0.9);
        let alone = radius(std::slice::from_ref(&photo));
        let same = radius(&[photo.clone(), anchor(AnchorKind::Waypoint, 2.0, 0.97)]);
        // the mean of two with the correlation r has (1 + r) / 2 of the variance
        let left = f64::midpoint(1.0, 0.9 * 0.97).sqrt();
        assert!((same / alone / left - 1.0).abs() < 0.01, "{same} of {alone}");
        let free = radius(&[photo, anchor(AnchorKind::Coordinates, 2.0, 0.0)]);
        assert!((free / alone - 0.5_f64.sqrt()).abs() < 0.01, "{free} of {alone}");
    }

    #[test]
    fn parts_of_a_radius_are_no_larger_than_the_radius() {
        let part = |size| RadiusPart { kind: PartKind::Receiver, size: Metres(size) };
        let of = |kind| Draft { parts: vec![part(19.0)], ..anchor(kind, 0.0, 0.0) };
        let drafts = [of(AnchorKind::Waypoint), of(AnchorKind::WrittenTime)];
        let both = combine(&drafts).unwrap();
        assert_eq!(both.used, [true, true]);
        let radius = both.point_and_radius().1;
        let parts = both.parts(&drafts);
        assert!((parts[0].size.0 - radius).abs() < 1e-6, "{parts:?} of {radius}");
        let alone = combine(&drafts[..1]).unwrap();
        assert_eq!(alone.parts(&drafts[..1])[0].size, Metres(19.0));
    }

    #[test]
    fn agreement_of_one_receivers_fixes_does_not_show_a_small_error() {
        let sized = |kind, east| {
            let circle = |(weight, variance)| Circle { weight, east, north: 0.0, variance };
            let circles = [(1.0 / 6.0, 10.0), (2.0 / 3.0, 40.0), (1.0 / 6.0, 160.0)].map(circle);
            Draft { circles: circles.to_vec(), ..anchor(kind, east, 0.95) }
        };
        let time = sized(AnchorKind::WrittenTime, 0.0);
        let both = radius(&[sized(AnchorKind::Waypoint, 1.0), time.clone()]);
        let alone = radius(&[time]);
        assert!(both > 0.9 * alone && both < alone, "{both} of {alone}");
    }

    #[test]
    fn one_anchor_against_two_that_agree_is_rejected() {
        let drafts = [
            anchor(AnchorKind::Coordinates, 111_000.0, 0.0),
            anchor(AnchorKind::PhotoTime, 0.0, 0.9),
            anchor(AnchorKind::WrittenTime, 5.0, 0.9),
        ];
        let combined = combine(&drafts).unwrap();
        assert_eq!(combined.used, [false, true, true]);
        assert_eq!(combined.disagreements[0].between, (1, 0));
        assert!(combined.point_and_radius().0.0.abs() < 5.0);
    }

    #[test]
    fn measured_position_is_kept_against_two_that_agree() {
        let drafts = [
            anchor(AnchorKind::Coordinates, 111.0, 0.0),
            anchor(AnchorKind::PhotoTime, 0.0, 0.9),
            anchor(AnchorKind::WrittenTime, 5.0, 0.9),
            anchor(AnchorKind::Waypoint, 108.0, 0.9),
        ];
        let combined = stop(&drafts, 0).unwrap();
        assert_eq!(combined.used, [true, false, false, false]);
        assert_eq!(combined.point_and_radius().0, (111.0, 0.0));
        let reported: Vec<_> = combined.disagreements.iter().map(|d| d.between).collect();
        assert_eq!(reported, [(0, 1), (0, 2)]);
        assert!(stop(&[], 0).is_none());
    }

    #[test]
    fn written_time_within_the_track_improves_photographs_outside_it() {
        let mut beyond = anchor(AnchorKind::PhotoTime, 90.0, 0.9);
        beyond.circles[0].variance = 80.0 * 80.0;
        let written = anchor(AnchorKind::WrittenTime, 0.0, 0.9);
        let combined = combine(&[beyond, written]).unwrap();
        let (point, radius) = combined.point_and_radius();
        assert!(point.0.abs() < 8.0 && radius < 20.0, "{point:?} {radius}");
    }

    #[test]
    fn anchors_too_far_apart_disagree_and_the_first_is_used() {
        let drafts =
            [anchor(AnchorKind::Coordinates, 0.0, 0.0), anchor(AnchorKind::PhotoTime, 90.0, 0.9)];
        let combined = combine(&drafts).unwrap();
        assert_eq!(combined.used, [true, false]);
        assert!((combined.disagreements[0].distance - 90.0).abs() < 1e-9);
        assert!(combined.point_and_radius().0.0.abs() < 1e-9);
        assert!(combine(&[]).is_none());
    }
}
