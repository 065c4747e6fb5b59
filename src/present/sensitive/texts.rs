//! Withholds texts that state a position of a protected place. Layer: `present`.
//!
//! Habitat, substrate and host say something about the fungus and stay with a generalised find, unless a
//! position can be read from them. A text is withheld whole: what surrounds a position describes it.

use super::Decisions;
use super::levels::Level;
use crate::earth::geodesic;
use crate::model::{Field, KeptFind, Mentioned};
use crate::units::{LatLon, Metres};

/// What stands in place of a withheld text.
pub const TEXT_WITHHELD: &str = "[withheld: it states a position]";

/// The shift between the datums of maps and receivers, metres (common practice; Tokyo datum 450 m).
const DATUMS: f64 = 500.0;
/// Coordinates of other finds are no coarser than this, metres (chosen).
const COARSE: f64 = 2_000.0;
/// How near to an exact find a text may name its own position, metres: the distance at which a collector may
/// stand and a datum shift (common practice).
const OWN: f64 = 200.0;
/// The level that gives no coordinates has no cell; a text may not say within this distance where it was, metres
/// (chosen).
const WITHOUT_CELL: f64 = 50_000.0;

/// Whether a text of the find was withheld because it states a position.
#[must_use]
pub fn has_withheld_text(shown: &KeptFind) -> bool {
    let record = &shown.record;
    let own = [&record.place, &record.substrate, &record.host, &record.habitat, &record.container];
    let others = [&record.collector, &shown.collector];
    let mut texts = own.into_iter().chain(others).flatten().chain(record.fields.values());
    texts.any(|text| text == TEXT_WITHHELD)
}

impl Decisions {
    /// Replaces the texts of a find that state where it, or another protected place, is.
    pub(super) fn withhold_texts(
        &self,
        original: &KeptFind,
        level: Option<Level>,
        shown: &mut KeptFind,
    ) {
        if level.is_none() && self.footprints.is_empty() {
            return;
        }
        let says = |text: &str| self.discloses(original, level, text);
        let mut changed = false;
        let mut withhold = |text: &mut String| {
            if says(text) {
                TEXT_WITHHELD.clone_into(text);
                changed = true;
            }
        };
        let record = &mut shown.record;
        let own = [
            &mut record.place,
            &mut record.substrate,
            &mut record.host,
            &mut record.habitat,
            &mut record.container,
            &mut record.collector,
            &mut shown.collector,
        ];
        own.into_iter().flatten().for_each(&mut withhold);
        record.fields.values_mut().for_each(&mut withhold);
        for named in &mut shown.determinations {
            let texts = [&mut named.determiner, &mut named.method, &mut named.remarks];
            texts.into_iter().flatten().for_each(&mut withhold);
        }
        shown.conflicts.iter_mut().for_each(&mut withhold);
        // headings of a table can be written by hand as well
        record.fields.retain(|field, _| !matches!(field, Field::Other(heading) if says(heading)));
        record.photos.retain(|photo| !says(&photo.0));
        record.waypoint = record.waypoint.take().filter(|name| !says(name));
        shown.photos.retain(|photo| !says(&photo.path));
        if changed {
            // they repeat texts
            shown.amended.clear();
        }
    }

    /// Whether a text of the find says more of a protected place than its output may.
    fn discloses(&self, original: &KeptFind, level: Option<Level>, text: &str) -> bool {
        if !text.contains(char::is_numeric) {
            return false;
        }
        let own = own_places(original);
        let near = own.first().map(|(at, _)| *at);
        let mentioned = (self.positions)(text, near);
        mentioned.iter().any(|one| {
            level.is_some_and(|level| states_own(&own, level, one))
                || self.states_other(&own, level, one)
        })
    }

    fn states_other(&self, own: &[(LatLon, f64)], level: Option<Level>, one: &Mentioned) -> bool {
        let is_own = |(at, _): &(LatLon, f64)| geodesic::distance(*at, one.at).0 < OWN;
        one.precision.0 <= COARSE
            && self.footprints.reach_from(one.at, Metres(one.precision.0.min(DATUMS) + DATUMS))
            && !(level.is_none() && own.iter().any(is_own))
    }
}

/// The positions of a find with their radii: as stored, before a correction, and as written.
fn own_places(find: &KeptFind) -> Vec<(LatLon, f64)> {
    let stored = find.place.as_ref().map(|place| (place.at, place.radius.metres().0));
    let before = find.as_imported.as_ref().and_then(|imported| imported.place);
    let before = before.map(|(at, radius)| (at, radius.metres().0));
    let written = find.record.coordinates.iter().flat_map(|written| &written.readings);
    stored.into_iter().chain(before).chain(written.map(|reading| (reading.at, 0.0))).collect()
}

fn states_own(own: &[(LatLon, f64)], level: Level, one: &Mentioned) -> bool {
    let side = level.step.least_side().unwrap_or(WITHOUT_CELL);
    if one.precision.0 > 2.0 * side {
        return false;
    }
    if own.is_empty() {
        return !one.bare;
    }
    own.iter().any(|(at, radius)| {
        let within = side.max(1_000.0) + one.precision.0 + radius + DATUMS;
        geodesic::distance(*at, one.at).0 <= within
    })
}
