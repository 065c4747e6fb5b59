//! Selects the bandwidth of a rate along the searched track by cross-validation: that under which the
//! rate learnt from all other outings predicts best where on its own track an outing found what it
//! found. Layer: `analyse`.
//!
//! # Method
//! Given their number, the finds of an outing fall on its track in proportion to the rate there. The
//! rate at a place is learnt from the other outings, with one find at the mean rate added, so that a
//! place that nobody else searched has that. A bandwidth for the finds alone would follow the track:
//! where everybody walks, finds are dense, whatever the rate.
//!
//! # References
//! Silverman 1986, Density Estimation for Statistics and Data Analysis, 3.4.4 (likelihood
//! cross-validation).

use super::dispersion::OfOuting;
use crate::analyse::statistics::Rng;

/// The most finds and places of track that are compared, to bound the time.
const FINDS: usize = 400;
const PLACES: usize = 900;

/// The bandwidth between two, in steps of a quarter; `None` where there is nothing to compare.
#[must_use]
pub fn by_rate(finds: &[OfOuting], track: &[OfOuting], from: f64, to: f64) -> Option<f64> {
    let whole: f64 = track.iter().map(|(mass, _)| mass.weight).sum();
    if finds.is_empty() || whole <= 0.0 || !(from.is_finite() && to.is_finite() && from > 0.0) {
        return None;
    }
    let mut rng = Rng::new(0xba4e);
    let finds = sampled(finds, FINDS, &mut rng);
    let track = sampled(track, PLACES, &mut rng);
    let mut best = (f64::NEG_INFINITY, to.max(from));
    let mut bandwidth = from;
    while bandwidth <= to.max(from) {
        let value = likelihood(&finds, &track, bandwidth);
        // a wider one that is as good is smoother
        if value >= best.0 {
            best = (value, bandwidth);
        }
        bandwidth *= 1.25;
    }
    Some(best.1)
}

/// A sample of the places that stands for all of them.
fn sampled(places: &[OfOuting], most: usize, rng: &mut Rng) -> Vec<OfOuting> {
    let mut drawn = places.to_vec();
    let count = drawn.len();
    for place in 0..most.min(count) {
        let other = place + rng.below(count - place);
        drawn.swap(place, other);
    }
    drawn.truncate(most);
    let each = count as f64 / drawn.len().max(1) as f64;
    for (mass, _) in &mut drawn {
        mass.weight *= each;
    }
    drawn
}

/// The sum, over outings, of the log probability of where its finds lie on its own track, by the rate that the
/// other outings give.
fn likelihood(finds: &[OfOuting], track: &[OfOuting], bandwidth: f64) -> f64 {
    let total = |list: &[OfOuting]| list.iter().map(|(mass, _)| mass.weight).sum::<f64>();
    let (found, length) = (total(finds), total(track));
    let scale = 1.0 / (2.0 * std::f64::consts::PI * bandwidth * bandwidth);
    let sum = |at: &OfOuting, list: &[OfOuting]| -> f64 {
        list.iter()
            .filter(|(_, outing)| *outing != at.1)
            .map(|(mass, _)| {
                let d2 = (mass.x - at.0.x).powi(2) + (mass.y - at.0.y).powi(2);
                let z = d2 / (bandwidth * bandwidth);
                if z < 30.0 { mass.weight * scale * (-0.5 * z).exp() } else { 0.0 }
            })
            .sum()
    };
    // one find at the mean rate, over the area of the kernel
    let one = scale / 2.0;
    let rate = |at: &OfOuting| (sum(at, finds) + one) / (sum(at, track) + one * length / found);
    let mut mean: std::collections::HashMap<usize, (f64, f64)> = std::collections::HashMap::new();
    for place in track {
        let own = mean.entry(place.1).or_insert((0.0, 0.0));
        own.0 += place.0.weight * rate(place);
        own.1 += place.0.weight;
    }
    finds
        .iter()
        .filter_map(|find| {
            let (sum, weight) = mean.get(&find.1)?;
            (*sum > 0.0).then(|| (rate(find) * weight / sum).ln())
        })
        .sum()
}
