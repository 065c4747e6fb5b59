//! Finds room for the numbers of finds on a map: each gets a label, or a key that it shares with others of a
//! crowd. Layer: `present`.

use super::layers::{self, FIND_REACH};
use super::numbers;
use crate::model::{Day, Find};
use crate::present::map::MapSheet;
use crate::present::map::names::{self, Obstacles, Placed, Reach, Wish};
use crate::present::style::size;
use crate::present::svg::{Frame, Point};

/// A label with its place.
#[derive(Clone, Debug)]
pub(super) struct Label {
    pub(super) mark: Point,
    pub(super) words: String,
    pub(super) placed: Placed,
}

/// Finds whose marks coincide.
pub(super) struct Spot<'a> {
    pub(super) at: Point,
    pub(super) finds: Vec<&'a Find>,
}

/// Marks nearer to each other than this, in points, have one label.
const ONE_PLACE: f64 = 1.5;
/// Finds without a label have one key where they are this near to each other, points.
const CROWD: f64 = 30.0;
/// How often crowds are sought again after their keys have taken room from labels.
const ROUNDS: usize = 4;

/// Where numbers and keys are.
pub(super) struct Settled {
    /// The label of each spot, if it has one of its own.
    pub(super) numbers: Vec<Option<Label>>,
    /// Crowds with their keys, still without letters.
    pub(super) keys: Vec<(Option<Label>, Vec<usize>)>,
    /// Spots with neither.
    pub(super) bare: Vec<usize>,
}

/// Places keys of crowds first, then numbers; what finds no room makes the crowds of the next round.
pub(super) fn settle(spots: &[Spot<'_>], obstacles: &mut Obstacles, within: Frame) -> Settled {
    let mut crowded = vec![false; spots.len()];
    for _ in 0..ROUNDS {
        let mut taken = obstacles.clone();
        let settled = round(spots, &crowded, &mut taken, within);
        if settled.bare.is_empty() {
            *obstacles = taken;
            return settled;
        }
        for index in settled.bare {
            crowded[index] = true;
        }
    }
    round(spots, &crowded, obstacles, within)
}

fn round(
    spots: &[Spot<'_>],
    crowded: &[bool],
    obstacles: &mut Obstacles,
    within: Frame,
) -> Settled {
    let keys = keys(spots, crowded, obstacles, within);
    let mut settled = Settled { numbers: vec![None; spots.len()], keys, bare: Vec::new() };
    for (index, spot) in spots.iter().enumerate().filter(|(index, _)| !crowded[*index]) {
        let wish = numbers::label(&spot.finds);
        let label = wish.and_then(|words| label(spot.at, words, Reach::Near, obstacles, within));
        if label.is_none() {
            settled.bare.push(index);
        }
        settled.numbers[index] = label;
    }
    settled
}

/// The finds on the map, grouped where their marks coincide.
pub(super) fn spots<'a>(day: &'a Day, sheet: &MapSheet) -> Vec<Spot<'a>> {
    let mut spots: Vec<Spot<'a>> = Vec::new();
    for (find, place) in layers::located(day) {
        let at = sheet.at(place.at);
        if !sheet.frame.holds(at) {
            continue;
        }
        match spots.iter_mut().find(|spot| spot.at.distance(at) < ONE_PLACE) {
            Some(spot) => spot.finds.push(find),
            None => spots.push(Spot { at, finds: vec![find] }),
        }
    }
    spots
}

/// A key for each crowd: finds without a label of their own that are near each other.
fn keys(
    spots: &[Spot<'_>],
    crowded: &[bool],
    obstacles: &mut Obstacles,
    within: Frame,
) -> Vec<(Option<Label>, Vec<usize>)> {
    let mut crowds: Vec<Vec<usize>> = Vec::new();
    for index in (0..spots.len()).filter(|index| crowded[*index]) {
        let near = |crowd: &&mut Vec<usize>| spots[crowd[0]].at.distance(spots[index].at) < CROWD;
        match crowds.iter_mut().find(near) {
            Some(crowd) => crowd.push(index),
            None => crowds.push(vec![index]),
        }
    }
    let digits = if crowds.len() > 26 { 2 } else { 1 };
    // as wide as the widest key, with space around it
    let words = format!("\u{2009}{}\u{2009}", "W".repeat(digits));
    let keyed = crowds.into_iter().map(|crowd| {
        let mark = middle(spots, &crowd);
        (label(mark, words.clone(), Reach::Far, obstacles, within), crowd)
    });
    keyed.collect()
}

/// The mark of a crowd that is nearest to its middle.
fn middle(spots: &[Spot<'_>], crowd: &[usize]) -> Point {
    let count = crowd.len().max(1) as f64;
    let sum = crowd.iter().fold(Point::default(), |sum, index| {
        sum.plus(spots[*index].at.x / count, spots[*index].at.y / count)
    });
    let marks = crowd.iter().map(|index| spots[*index].at);
    marks.min_by(|a, b| a.distance(sum).total_cmp(&b.distance(sum))).unwrap_or(sum)
}

fn label(
    mark: Point,
    words: String,
    far: Reach,
    obstacles: &mut Obstacles,
    within: Frame,
) -> Option<Label> {
    let wish = Wish { mark, reach: FIND_REACH, words };
    let placed =
        names::place_among(std::slice::from_ref(&wish), obstacles, within, size::SMALL, far);
    let placed = placed.into_iter().next().flatten()?;
    Some(Label { mark, words: wish.words, placed })
}
