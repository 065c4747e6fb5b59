//! Checks the rows of a finished output for words and numbers that reveal a sensitive place. Layer:
//! `present`.

use std::collections::HashMap;

use super::{ForOthers, Group, grid};
use crate::earth::geodesic;
use crate::model::{Field, KeptFind, Leak, LeakKind, Record, Sensitivity};
use crate::units::LatLon;

/// Shorter texts match by coincidence (chosen).
const LEAST_LETTERS: usize = 6;

/// Content of these rows that would reveal a sensitive place; empty when there is none.
///
/// `rows` has for each find the complete text of the output about it and its outing.
#[must_use]
pub fn leaks(originals: &[KeptFind], shown: &ForOthers, rows: &[String]) -> Vec<Leak> {
    let mut leaks = Vec::new();
    for ((original, shown), row) in originals.iter().zip(&shown.finds).zip(rows) {
        if shown.generalised.is_some() {
            let mut report = |kind: LeakKind| leaks.push(Leak { of: called(original), kind });
            numbers(original, row, &mut report);
            words(original, shown, row, &mut report);
            position(original, shown, &mut report);
        }
    }
    for group in &shown.sensitive_groups {
        leaks.extend(split_site(group, shown));
    }
    leaks
}

/// The label of a find for a person.
pub(super) fn called(find: &KeptFind) -> String {
    find.record.number.as_ref().map_or_else(|| find.id.to_string(), |number| number.0.clone())
}

/// Checks for its true coordinates, truncated or rounded to more digits than the grid.
fn numbers(original: &KeptFind, row: &str, report: &mut impl FnMut(LeakKind)) {
    let places = original.place.iter().map(|place| place.at);
    let read = original.record.coordinates.iter().flat_map(|written| &written.readings);
    for at in places.chain(read.map(|reading| reading.at)) {
        let both = shows(row, at.latitude()) && shows(row, at.longitude());
        if both {
            report(LeakKind::ExactCoordinates);
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

/// Texts of a find that are withheld from others.
pub(super) fn withheld_words<'a>(
    original: &'a KeptFind,
    shown: &KeptFind,
) -> impl Iterator<Item = &'a String> {
    let record = &original.record;
    // the name and the date are stated anyway, and may be typed as they are stated
    let stated = ["verbatimIdentification", Record::VERBATIM_DATE];
    let free = record
        .fields
        .iter()
        .filter(|(field, _)| matches!(field, Field::Notes | Field::Other(_)))
        .filter(move |(field, _)| !stated.contains(&field.heading()))
        .map(|(_, text)| text);
    let verbatim = record.coordinates.iter().map(|written| &written.verbatim);
    let anchors = original.anchors.iter().map(|(_, basis)| basis);
    let placeless = shown.record.place.is_none();
    let place = record.place.iter().filter(move |_| placeless);
    free.chain(verbatim).chain(anchors).chain(place)
}

/// Checks for withheld texts.
fn words(original: &KeptFind, shown: &KeptFind, row: &str, report: &mut impl FnMut(LeakKind)) {
    for text in withheld_words(original, shown) {
        if text.chars().count() >= LEAST_LETTERS && row.contains(text.as_str()) {
            report(LeakKind::WithheldText(text.clone()));
        }
    }
}

/// The published circle must contain the true position; its cell must be no finer than its level.
fn position(original: &KeptFind, shown: &KeptFind, report: &mut impl FnMut(LeakKind)) {
    let Some(generalised) = &shown.generalised else { return };
    match (&shown.place, generalised.level.least_side(), &original.place) {
        (Some(_), None, _) => report(LeakKind::CoordinatesWithheld),
        (Some(public), Some(least), Some(place)) => {
            let fine = generalised.cell.is_none_or(|cell| {
                let (north, east) = grid::sides(&cell);
                let whole = cell.longitude_step >= 360.0;
                cell.at != public.at || !whole && north.min(east).0 < least
            });
            if fine {
                report(LeakKind::FinerThanGrid);
            }
            if geodesic::distance(public.at, place.at) > public.radius.metres() {
                report(LeakKind::CircleMissesPosition);
            }
        }
        _ => {}
    }
}

/// Finds of one site at several points would reveal more than each alone, unless earlier outputs gave
/// these points.
fn split_site(group: &Group, shown: &ForOthers) -> Option<Leak> {
    let members: Vec<(usize, &KeptFind)> =
        group.finds.iter().filter_map(|find| Some((*find, shown.finds.get(*find)?))).collect();
    let (_, first) = members.iter().find(|(_, find)| find.generalised.is_some())?;
    let mut points: HashMap<Sensitivity, Vec<LatLon>> = HashMap::new();
    for (index, find) in &members {
        let Some(place) = &find.place else { continue };
        let Some(generalised) = &find.generalised else {
            return Some(Leak { of: called(first), kind: LeakKind::SiteMemberExact });
        };
        if shown.by_earlier.get(*index).copied().unwrap_or(false) {
            continue;
        }
        let seen = points.entry(generalised.level).or_default();
        if !seen.contains(&place.at) {
            seen.push(place.at);
        }
    }
    points
        .values()
        .any(|seen| seen.len() > 1)
        .then(|| Leak { of: called(first), kind: LeakKind::SiteInSeveralCells })
}
