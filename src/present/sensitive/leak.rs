//! Can a sensitive place be recovered from an output? Looks at the finished
//! output, not at the intention. Layer: `present`.

use std::collections::HashMap;

use super::{ForOthers, Group};
use crate::earth::geodesic;
use crate::model::{Field, KeptFind};
use crate::units::LatLon;

/// Words shorter than this turn up by chance.
const TELLING: usize = 6;

/// What in these finished rows would reveal a sensitive place; empty when nothing does.
///
/// `rows` holds for each find everything that the output says of it and of its outing.
#[must_use]
pub fn leaks(
    originals: &[KeptFind],
    shown: &ForOthers,
    groups: &[Group],
    rows: &[String],
) -> Vec<String> {
    let mut leaks = Vec::new();
    for ((original, shown), row) in originals.iter().zip(&shown.finds).zip(rows) {
        if shown.generalised.is_some() {
            let mut tell = |what: &str| leaks.push(format!("{}: {what}", called(original)));
            numbers(original, row, &mut tell);
            words(original, shown, row, &mut tell);
            position(original, shown, &mut tell);
        }
    }
    for group in shown.sensitive_groups.iter().filter_map(|group| groups.get(*group)) {
        leaks.extend(torn(group, &shown.finds));
    }
    leaks
}

fn called(find: &KeptFind) -> String {
    find.record.number.as_ref().map_or_else(|| find.id.to_string(), |number| number.0.clone())
}

/// The figures of its true coordinates, cut off or rounded, to a place finer than the grid.
fn numbers(original: &KeptFind, row: &str, tell: &mut impl FnMut(&str)) {
    let places = original.place.iter().map(|place| place.at);
    let read = original.record.coordinates.iter().flat_map(|written| &written.readings);
    for at in places.chain(read.map(|reading| reading.at)) {
        let both = shows(row, at.latitude()) && shows(row, at.longitude());
        if both {
            tell("its exact coordinates are in the output");
        }
    }
}

fn shows(row: &str, degrees: f64) -> bool {
    const FINE: usize = 4;
    let rounded = format!("{:.FINE$}", degrees.abs());
    let longer = format!("{:.*}", FINE + 4, degrees.abs());
    let cut = &longer[..longer.len() - 4];
    row.contains(&rounded) || row.contains(cut)
}

/// Words that were withheld.
fn words(original: &KeptFind, shown: &KeptFind, row: &str, tell: &mut impl FnMut(&str)) {
    let record = &original.record;
    let free = record
        .fields
        .iter()
        .filter(|(field, _)| matches!(field, Field::Notes | Field::Other(_)))
        .map(|(_, text)| text);
    let verbatim = record.coordinates.iter().map(|written| &written.verbatim);
    let anchors = original.anchors.iter().map(|(_, basis)| basis);
    let place = record.place.iter().filter(|_| shown.record.place.is_none());
    for text in free.chain(verbatim).chain(anchors).chain(place) {
        if text.chars().count() >= TELLING && row.contains(text.as_str()) {
            tell(&format!("words that are withheld are in the output: \"{text}\""));
        }
    }
}

/// The published circle must hold the true place, and be no finer than its step allows.
fn position(original: &KeptFind, shown: &KeptFind, tell: &mut impl FnMut(&str)) {
    let Some(generalised) = &shown.generalised else { return };
    match (&shown.place, generalised.level.decimals(), &original.place) {
        (Some(_), None, _) => tell("it has coordinates, though none may be given"),
        (Some(public), Some(decimals), Some(place)) => {
            if !is_on_grid(public.at, decimals) {
                tell("its position is finer than its grid");
            }
            if geodesic::distance(public.at, place.at) > public.radius.metres() {
                tell("its circle does not hold the true place, which would mislead");
            }
        }
        _ => {}
    }
}

fn is_on_grid(at: LatLon, decimals: u8) -> bool {
    let scale = 10_f64.powi(i32::from(decimals));
    [at.latitude(), at.longitude()].iter().all(|degrees| {
        let lines = degrees * scale;
        (lines - lines.round()).abs() < 1e-6
    })
}

/// Finds of one site at several points would tell more of it than each alone.
fn torn(group: &Group, shown: &[KeptFind]) -> Option<String> {
    let members: Vec<&KeptFind> = group.finds.iter().filter_map(|find| shown.get(*find)).collect();
    let first = members.iter().find(|find| find.generalised.is_some())?;
    let mut points: HashMap<u8, Vec<LatLon>> = HashMap::new();
    for find in &members {
        let Some(place) = &find.place else { continue };
        let Some(generalised) = &find.generalised else {
            return Some(format!("{}: another find of its site is exact", called(first)));
        };
        let decimals = generalised.level.decimals().unwrap_or(0);
        let seen = points.entry(decimals).or_default();
        if !seen.contains(&place.at) {
            seen.push(place.at);
        }
    }
    points
        .values()
        .any(|seen| seen.len() > 1)
        .then(|| format!("{}: finds of its site lie in several cells", called(first)))
}
