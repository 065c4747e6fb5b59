//! Plans the round trip from a trailhead with the most expected finds within a time limit (the
//! orienteering problem). Exact for up to fifteen sites; beyond that a heuristic of insertion,
//! exchange and improvement, reported as such. Layer: `analyse`.
//!
//! # References
//! Golden, Levy & Vohra 1987, The orienteering problem, Naval Research Logistics 34:307; Held &
//! Karp 1962, A dynamic programming approach to sequencing problems, J. SIAM 10:196 (the exact
//! part).

use serde::Serialize;

use crate::analyse::statistics::Rng;

/// The places of the tour: place 0 is the trailhead.
#[derive(Clone, Debug)]
pub struct Choices {
    /// Seconds from each place to each other, row by row, the trailhead first.
    pub travel: Vec<Vec<f64>>,
    /// Expected finds at each site, the trailhead left out.
    pub worth: Vec<f64>,
    /// Seconds spent at each site.
    pub stay: f64,
    /// Seconds for the whole round.
    pub time: f64,
}

/// A round trip.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Tour {
    /// Indices of sites in order.
    pub sites: Vec<usize>,
    /// Expected finds.
    pub worth: f64,
    /// Seconds, walking and staying.
    pub time: f64,
    /// Whether it is proven optimal.
    pub exact: bool,
}

/// The most sites for the exact solution.
pub const EXACT: usize = 15;

/// The best round trip; empty where even the nearest site takes too long.
///
/// # Units
/// Seconds for `travel`, `stay` and `time`; `worth` is in expected finds, one for each site, without the trailhead.
///
/// # Examples
/// ```
/// use trug::analyse::next::tour::{Choices, best};
///
/// // place 0 is the trailhead; an hour suffices for one of the two sites
/// let travel = vec![vec![0.0, 900.0, 900.0], vec![900.0, 0.0, 1_500.0], vec![900.0, 1_500.0, 0.0]];
/// let choices = Choices { travel, worth: vec![2.0, 3.0], stay: 600.0, time: 3_600.0 };
/// let tour = best(&choices);
/// assert_eq!((tour.sites, tour.exact), (vec![1], true));
/// ```
#[must_use]
pub fn best(choices: &Choices) -> Tour {
    let there_and_back =
        |site: usize| choices.travel[0][site + 1] + choices.stay + choices.travel[site + 1][0];
    let reachable: Vec<usize> = (0..choices.worth.len())
        .filter(|site| choices.worth[*site] > 0.0 && there_and_back(*site) <= choices.time)
        .collect();
    let sites = if reachable.len() <= EXACT {
        exact(choices, &reachable)
    } else {
        improved(choices, &reachable)
    };
    Tour {
        worth: sites.iter().map(|site| choices.worth[*site]).sum(),
        time: length(choices, &sites),
        exact: reachable.len() <= EXACT,
        sites,
    }
}

/// Seconds of a round.
#[must_use]
pub fn length(choices: &Choices, sites: &[usize]) -> f64 {
    let mut at = 0;
    let mut time = 0.0;
    for site in sites {
        time += choices.travel[at][site + 1] + choices.stay;
        at = site + 1;
    }
    time + choices.travel[at][0]
}

/// Dynamic programming over sets of sites and the last one of each (Held & Karp 1962): the least time in which a set
/// can be visited. For n sites it holds 2^n n times and takes 2^n n² steps: half a million and seven million for
/// fifteen. Of rounds with the same expected finds the shorter one is taken.
fn exact(choices: &Choices, sites: &[usize]) -> Vec<usize> {
    let n = sites.len();
    let full = 1_usize << n;
    let mut least = vec![f64::INFINITY; full * n.max(1)];
    let mut before = vec![u8::MAX; full * n.max(1)];
    for (place, site) in sites.iter().enumerate() {
        least[(1 << place) * n + place] = choices.travel[0][site + 1] + choices.stay;
    }
    let mut found = (0.0, f64::INFINITY, 0, 0);
    for set in 1..full {
        let worth: f64 = (0..n)
            .filter(|place| set >> place & 1 == 1)
            .map(|place| choices.worth[sites[place]])
            .sum();
        for last in (0..n).filter(|place| set >> place & 1 == 1) {
            let time = least[set * n + last];
            let home = time + choices.travel[sites[last] + 1][0];
            if home > choices.time {
                continue;
            }
            // of equal rounds the shorter one
            if worth > found.0 + 1e-12 || (worth > found.0 - 1e-12 && home < found.1) {
                found = (worth, home, set, last);
            }
            for next in (0..n).filter(|place| set >> place & 1 == 0) {
                let to = (set | 1 << next) * n + next;
                let then = time + choices.travel[sites[last] + 1][sites[next] + 1] + choices.stay;
                if then < least[to] {
                    least[to] = then;
                    before[to] = u8::try_from(last).unwrap_or(u8::MAX);
                }
            }
        }
    }
    let (_, _, mut set, mut last) = found;
    let mut order = Vec::new();
    while set != 0 {
        order.push(sites[last]);
        let previous = before[set * n + last];
        set &= !(1 << last);
        last = usize::from(previous);
    }
    order.reverse();
    order
}

/// Round trips built by cheapest insertion per expected find, each improved; the best of many
/// starts.
fn improved(choices: &Choices, sites: &[usize]) -> Vec<usize> {
    const STARTS: usize = 60;
    let mut rng = Rng::new(0x7047);
    let mut best: (f64, f64, Vec<usize>) = (0.0, f64::INFINITY, Vec::new());
    let mut round: Vec<usize> = Vec::new();
    for _ in 0..STARTS {
        fill(choices, sites, &mut round, &mut rng);
        while shorten(choices, &mut round) {
            fill(choices, sites, &mut round, &mut rng);
        }
        let worth: f64 = round.iter().map(|site| choices.worth[*site]).sum();
        let time = length(choices, &round);
        if worth > best.0 + 1e-12 || (worth > best.0 - 1e-12 && time < best.1) {
            best = (worth, time, round.clone());
        }
        // restarts from the best with a stretch removed
        round.clone_from(&best.2);
        if !round.is_empty() {
            let from = rng.below(round.len());
            let until = (from + 1 + rng.below(round.len().div_ceil(2))).min(round.len());
            round.drain(from..until);
        }
    }
    best.2
}

/// Inserts sites while they fit, by expected finds per added time with a random factor.
fn fill(choices: &Choices, sites: &[usize], round: &mut Vec<usize>, rng: &mut Rng) {
    loop {
        let left = choices.time - length(choices, round);
        let mut chosen: Option<(f64, usize, usize)> = None;
        for site in sites.iter().filter(|site| !round.contains(site)) {
            let (place, added) = cheapest_place(choices, round, *site);
            let value = choices.worth[*site] / added.max(1.0) * (0.8 + 0.4 * rng.uniform());
            if added <= left && chosen.is_none_or(|(best, ..)| value > best) {
                chosen = Some((value, place, *site));
            }
        }
        let Some((_, place, site)) = chosen else { return };
        round.insert(place, site);
    }
}

fn cheapest_place(choices: &Choices, round: &[usize], site: usize) -> (usize, f64) {
    let at =
        |place: usize| if place == 0 || place > round.len() { 0 } else { round[place - 1] + 1 };
    (0..=round.len())
        .map(|place| {
            let (from, to) = (at(place), at(place + 1));
            let travel = &choices.travel;
            (place, travel[from][site + 1] + travel[site + 1][to] - travel[from][to] + choices.stay)
        })
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap_or((0, f64::INFINITY))
}

/// Reverses stretches where that shortens the round (2-opt); returns whether it did.
fn shorten(choices: &Choices, round: &mut [usize]) -> bool {
    let mut shorter = false;
    for from in 0..round.len() {
        for until in from + 2..=round.len() {
            let before = length(choices, round);
            round[from..until].reverse();
            if length(choices, round) < before - 1e-6 {
                shorter = true;
            } else {
                round[from..until].reverse();
            }
        }
    }
    shorter
}

#[cfg(test)]
mod tests {
    use super::*;

    fn scattered(count: usize, seed: u64, time: f64) -> Choices {
        let mut rng = Rng::new(seed);
        let places: Vec<(f64, f64)> =
            (0..=count).map(|_| (2_000.0 * rng.uniform(), 2_000.0 * rng.uniform())).collect();
        let travel = places
            .iter()
            .map(|a| places.iter().map(|b| (a.0 - b.0).hypot(a.1 - b.1)).collect())
            .collect();
        let worth = (0..count).map(|_| 0.05 + 0.9 * rng.uniform()).collect();
        Choices { travel, worth, stay: 300.0, time }
    }

    /// Exhaustive search over all orders of all subsets, for comparison.
    fn brute(choices: &Choices, round: &mut Vec<usize>, best: &mut f64) {
        let worth: f64 = round.iter().map(|site| choices.worth[*site]).sum();
        if length(choices, round) <= choices.time {
            *best = best.max(worth);
        }
        for site in 0..choices.worth.len() {
            if !round.contains(&site) {
                round.push(site);
                if length(choices, round) - choices.travel[site + 1][0] <= choices.time {
                    brute(choices, round, best);
                }
                round.pop();
            }
        }
    }

    #[test]
    fn exact_round_is_optimal() {
        for seed in 0..6 {
            let choices = scattered(7, seed, 4_500.0);
            let tour = best(&choices);
            let mut most = 0.0;
            brute(&choices, &mut Vec::new(), &mut most);
            assert!(tour.exact && (tour.worth - most).abs() < 1e-9, "{seed}: {tour:?} {most}");
            assert!(
                tour.time <= choices.time
                    && (tour.time - length(&choices, &tour.sites)).abs() < 1e-9
            );
        }
    }

    #[test]
    fn heuristic_round_is_near_the_exact_one() {
        let (mut good, mut top) = (0.0, 0.0);
        for seed in 10..18 {
            let choices = scattered(13, seed, 7_000.0);
            let all: Vec<usize> = (0..13).collect();
            let round = improved(&choices, &all);
            assert!(length(&choices, &round) <= choices.time + 1e-6);
            good += round.iter().map(|site| choices.worth[*site]).sum::<f64>();
            top += best(&choices).worth;
        }
        assert!(good >= 0.97 * top, "{good} of {top}");
    }

    #[test]
    fn round_beyond_the_time_limit_is_not_offered() {
        let tour = best(&scattered(5, 1, 200.0));
        assert!(tour.sites.is_empty() && tour.worth.abs() < 1e-12);
        let many = best(&scattered(60, 2, 9_000.0));
        assert!(!many.exact && many.time <= 9_000.0 && many.sites.len() > 5);
    }
}
