//! Chooses the known paths of a page to carry, and adds those of base maps. Paths that outings without a sensitive find walked stay whole: they
//! lead home and single out no place. Those that only other outings walked are left out in the cells of sensitive
//! finds. Layer: `commands`.

use super::carry::Arguments;
use super::others::{NEAR, Prepared};
use super::wayout_inputs::{Inputs, with_mapped};
use crate::error::Result;
use crate::model::{BaseFeature, TrackPoint};
use crate::present::sensitive::Concealed;
use crate::store::Store;
use crate::units::LatLon;
use crate::wayout::paths::{Builder, Net, Part};

/// The known paths in the area with those of base maps, and whether known ones are left out.
pub(super) fn known(
    arguments: &Arguments,
    inputs: &Inputs,
    base: &[BaseFeature],
    within: impl Fn(LatLon) -> bool,
    prepared: Option<&Prepared>,
) -> Result<(Option<Part>, bool)> {
    let Some(net) = &inputs.net else { return Ok((part(None, base, within), false)) };
    let concealed = prepared.map(|prepared| prepared.shown.decisions().concealed());
    let (Some(prepared), Some(concealed)) = (prepared, concealed) else {
        return Ok((part(Some(net), base, within), false));
    };
    if !net.part(&within).nodes.iter().any(|(at, _)| concealed.holds(*at)) {
        return Ok((part(Some(net), base, within), false));
    }
    let store = Store::open(&arguments.store.path())?;
    let mut builder = Builder::default();
    let mut left_out = false;
    for track in store.tracks()? {
        let (outing, track) = track?;
        if !track.iter().any(|point| within(point.at)) {
            continue;
        }
        let leads = |point: &TrackPoint| prepared.shown.leads_to_sensitive(point.at, NEAR);
        if !prepared.shown.guarded.contains(&outing) && !track.iter().any(leads) {
            builder.add(&track, 0);
            continue;
        }
        left_out |= track.iter().any(|point| within(point.at) && concealed.holds(point.at));
        for piece in outside(&track, &concealed) {
            builder.add(piece, 0);
        }
    }
    Ok((part(Some(&builder.finish()), base, within), left_out))
}

/// The pieces in the area of known paths and of those of base maps; `None` without any.
pub(super) fn part(
    known: Option<&Net>,
    base: &[BaseFeature],
    within: impl Fn(LatLon) -> bool,
) -> Option<Part> {
    let joined = with_mapped(known, base);
    let part = joined.as_ref().or(known)?.part(within);
    Some(part).filter(|part| !part.edges.is_empty())
}

/// The pieces of a track that lie in no cell.
fn outside<'a>(
    track: &'a [TrackPoint],
    concealed: &'a Concealed,
) -> impl Iterator<Item = &'a [TrackPoint]> {
    let pieces = track.chunk_by(|a, b| concealed.holds(a.at) == concealed.holds(b.at));
    pieces.filter(|piece| piece.first().is_some_and(|point| !concealed.holds(point.at)))
}
