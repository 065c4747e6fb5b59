//! Makes the JSON that the page reads: times in seconds since 1970, positions as latitude and longitude. Layer:
//! `present`.

use std::borrow::Cow;

use serde_json::{Value, json};

use super::{CarriedSite, Carry, base, pack};
use crate::earth::daylight::{Illumination, Interval};
use crate::earth::declination::Compass;
use crate::error::replaced;
use crate::model::Caution;
use crate::present::way_out::findings;
use crate::units::{LatLon, MagneticModel, TimeZone, Timestamp};
use crate::wayout::land_field::LandField;
use crate::wayout::paths::Part;
use crate::wayout::terrain::Terrain;

/// The data as JSON that can stand inside a `script` element.
pub(super) fn text(carry: &Carry) -> String {
    let text = shown(object(carry)).to_string();
    // an element ends at its end tag, and only there
    text.replace('<', "\\u003c").replace('\u{2028}', "\\u2028").replace('\u{2029}', "\\u2029")
}

fn object(carry: &Carry) -> Value {
    let declination = &carry.declination;
    json!({
        "version": env!("CARGO_PKG_VERSION"),
        "made": carry.made.as_second(),
        "day": carry.day.to_string(),
        "zone": carry.zone.1,
        "offsets": offsets(&carry.zone.0, &carry.light),
        "centre": place(carry.centre),
        "reach_m": carry.reach.0,
        "light": light(&carry.light),
        "declination": {
            "stated": declination.model == MagneticModel::Stated,
            "uncertainty_deg": declination.uncertainty.0,
            "date": declination.date.to_string(),
            "grid_deg": carry.declinations.iter().map(|east| rounded(east.0)).collect::<Vec<_>>(),
            "compass": match carry.compass {
                Compass::Good => "good",
                Compass::Sluggish => "sluggish",
                Compass::Useless => "useless",
            },
        },
        "safe": carry.safe.iter().map(|goal| json!({"name": goal.name, "at": place(goal.at)})).collect::<Vec<_>>(),
        "closed": carry.closed.iter().map(|area| area.iter().map(|ring| line(ring)).collect::<Vec<_>>()).collect::<Vec<_>>(),
        "paths": carry.paths.as_ref().map(|part| pack::paths(part, carry.centre)),
        "base": base::packed(&carry.base, carry.centre, carry.reach),
        "land": carry.land.as_ref().map(land),
        "track": carry.track.iter().map(|point| json!([
            rounded(point.at.latitude()), rounded(point.at.longitude()), point.time.as_second(),
            point.radius.metres().0.ceil(), i32::from(point.gap_after),
        ])).collect::<Vec<_>>(),
        "sites": carry.sites,
        "round": carry.round,
        "withheld": carry.withheld,
        "paths_withheld": carry.paths_withheld,
        "sealed": carry.sealed,
        "paces": carry.paces,
        "steep_deg": carry.steep.0,
        "first_number": carry.first_number,
        "cautions": Caution::ALL.map(findings::caution),
    })
}

/// See [`super::secret`].
pub(super) fn secret(sites: &[CarriedSite], paths: Option<&Part>, centre: LatLon) -> String {
    let secret = json!({ "sites": sites, "paths": paths.map(|part| pack::paths(part, centre)) });
    shown(secret).to_string()
}

/// The same without characters that steer the page instead of being shown on it.
fn shown(value: Value) -> Value {
    match value {
        Value::String(text) => match replaced(&text) {
            Cow::Borrowed(_) => Value::String(text),
            Cow::Owned(shown) => Value::String(shown),
        },
        Value::Array(all) => all.into_iter().map(shown).collect(),
        Value::Object(all) => all.into_iter().map(|(key, one)| (key, shown(one))).collect(),
        other => other,
    }
}

fn land(field: &LandField) -> Value {
    let known = field.heights.iter().flatten();
    let base = known.copied().fold(f64::INFINITY, f64::min);
    let base = if base.is_finite() { base.floor() } else { 0.0 };
    let footprint = &field.footprint;
    json!({
        "columns": footprint.columns,
        "rows": footprint.rows,
        "spacing_m": footprint.spacing,
        "corner_m": [footprint.corner.0, footprint.corner.1],
        "base_m": base,
        "height_step_m": pack::HEIGHT_STEP,
        "time_step_s": pack::TIME_STEP,
        "wide": field.wide.is_some(),
        "moves": Terrain::steps().map(|(across, along)| [across, along]),
        "data": pack::land(field, base),
    })
}

fn light(intervals: &[Interval]) -> Vec<Value> {
    let code = |light| match light {
        Illumination::Dark => 0,
        Illumination::CivilTwilight => 1,
        Illumination::Day => 2,
    };
    let part =
        |part: &Interval| json!([code(part.light), part.from.as_second(), part.to.as_second()]);
    intervals.iter().map(part).collect()
}

/// Offsets of the local clock from UTC in seconds, each with the second from which it holds.
fn offsets(zone: &TimeZone, light: &[Interval]) -> Vec<[i64; 2]> {
    let (Some(first), Some(last)) = (light.first(), light.last()) else { return Vec::new() };
    let offset = |instant: Timestamp| i64::from(zone.to_offset(instant).seconds());
    let mut offsets = vec![[first.from.as_second(), offset(first.from)]];
    let changes = zone.following(first.from).take_while(|change| change.timestamp() < last.to);
    offsets
        .extend(changes.map(|change| [change.timestamp().as_second(), offset(change.timestamp())]));
    offsets
}

fn line(places: &[LatLon]) -> Vec<[f64; 2]> {
    places.iter().map(|at| place(*at)).collect()
}

fn place(at: LatLon) -> [f64; 2] {
    [rounded(at.latitude()), rounded(at.longitude())]
}

/// To a hundred millionth: a millimetre.
fn rounded(value: f64) -> f64 {
    (value * 1e8).round() / 1e8
}
