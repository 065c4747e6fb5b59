//! Compares two versions of a find. Layer: `store`.

use std::collections::BTreeSet;

use crate::earth::geodesic;
use crate::model::{Located, Record};
use crate::units::Metres;

/// The shift below which a position counts as unchanged: far below receiver noise, far above the
/// rounding of the store.
const SAME_PLACE: Metres = Metres(0.01);

/// What was corrected, in words. Line numbers and the readings of coordinates are ignored, since
/// they are not part of the written record.
///
/// The words are those of the history and of the report: `scientific name`, `host`, `time`.
pub(super) fn corrected(old: &Record, new: &Record) -> Vec<String> {
    let written = |record: &Record| {
        record.coordinates.clone().map(|c| (c.verbatim, c.system, c.stated_uncertainty))
    };
    let parts = [
        ("number", old.number != new.number),
        ("date", old.date != new.date),
        ("time", old.time != new.time),
        ("name", old.name != new.name),
        ("place", old.place != new.place),
        ("substrate", old.substrate != new.substrate),
        ("host", old.host != new.host),
        ("habitat", old.habitat != new.habitat),
        ("collector", old.collector != new.collector),
        ("container", old.container != new.container),
        ("photographs", old.photos != new.photos),
        ("waypoint", old.waypoint != new.waypoint),
        ("coordinates", written(old) != written(new)),
        ("elevation", old.elevation != new.elevation),
    ];
    let changed =
        parts.into_iter().filter(|(_, differs)| *differs).map(|(name, _)| name.to_owned());
    let headings: BTreeSet<_> = old.fields.keys().chain(new.fields.keys()).collect();
    let fields = headings
        .into_iter()
        .filter(|field| old.fields.get(field) != new.fields.get(field))
        .map(|field| field.heading().to_owned());
    changed.chain(fields).collect()
}

/// Whether the position or its radius changed.
pub(super) fn moved(old: Option<&Located>, new: Option<&Located>) -> bool {
    match (old, new) {
        (None, None) => false,
        (Some(old), Some(new)) => {
            let radii = (old.radius.metres() - new.radius.metres()).abs();
            geodesic::distance(old.at, new.at) > SAME_PLACE || radii > SAME_PLACE
        }
        _ => true,
    }
}
