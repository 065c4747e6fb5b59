//! Packs networks and grids for the page: little-endian numbers, one plane after the other, each number less the
//! one before, then zlib and base 64. Layer: `present`.

use std::io::Write;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use flate2::Compression;
use flate2::write::ZlibEncoder;

use crate::units::LatLon;
use crate::wayout::land_field::LandField;
use crate::wayout::paths::Part;
use crate::wayout::terrain::Inward;

/// Ten millionths of a degree.
const STEP: f64 = 1e7;
/// Steps of height, metres.
pub(super) const HEIGHT_STEP: f64 = 0.5;
/// Steps of time, seconds.
pub(super) const TIME_STEP: f64 = 2.0;

/// Known paths: numbers of nodes and edges, latitudes and longitudes from the middle, radii, ends of the edges,
/// passes, gaps.
pub(super) fn paths(part: &Part, centre: LatLon) -> String {
    let mut bytes = Vec::new();
    for count in [part.nodes.len(), part.edges.len()] {
        bytes.extend(u32::try_from(count).unwrap_or(u32::MAX).to_le_bytes());
    }
    let longitude = |place: LatLon| {
        let east = place.longitude() - centre.longitude();
        (east + 540.0).rem_euclid(360.0) - 180.0
    };
    deltas(&mut bytes, part.nodes.iter().map(|(at, _)| at.latitude() - centre.latitude()));
    deltas(&mut bytes, part.nodes.iter().map(|(at, _)| longitude(*at)));
    bytes.extend(part.nodes.iter().map(|(_, radius)| byte(radius.0)));
    let mut before = 0;
    for edge in &part.edges {
        bytes.extend(edge.from.wrapping_sub(before).to_le_bytes());
        before = edge.from;
    }
    for edge in &part.edges {
        bytes.extend(edge.to.wrapping_sub(edge.from).to_le_bytes());
    }
    bytes.extend(part.edges.iter().map(|edge| edge.passes));
    bytes.extend(part.edges.iter().map(|edge| u8::from(edge.gap)));
    packed(&bytes)
}

/// The heights in half metres above the base and one more, 0 where unknown; the times in two seconds, 65,535 where
/// there is no route; moves; goals. Times, moves and goals once more for the wider margin, where there is one.
pub(super) fn land(field: &LandField, base: f64) -> String {
    let mut bytes = Vec::new();
    let height = |height: &Option<f64>| height.map_or(0, |h| short((h - base) / HEIGHT_STEP + 1.0));
    planes(&mut bytes, field.heights.iter().map(height));
    inward(&mut bytes, &field.inward);
    if let Some(wide) = &field.wide {
        inward(&mut bytes, wide);
    }
    packed(&bytes)
}

fn inward(bytes: &mut Vec<u8>, field: &Inward) {
    let seconds = |time: &Option<u32>| {
        time.map_or(u16::MAX, |ms| short((f64::from(ms) / 1e3 / TIME_STEP).ceil()).min(65_534))
    };
    planes(bytes, field.times.iter().map(seconds));
    bytes.extend(&field.moves);
    bytes.extend(&field.goals);
}

#[allow(clippy::cast_possible_truncation, reason = "180 degrees fit 32 bits")]
fn deltas(bytes: &mut Vec<u8>, degrees: impl Iterator<Item = f64>) {
    let mut before = 0_i32;
    for degree in degrees {
        let here = (degree * STEP).round() as i32;
        bytes.extend(here.wrapping_sub(before).to_le_bytes());
        before = here;
    }
}

/// Differences from one to the next, all low bytes and then all high bytes.
fn planes(bytes: &mut Vec<u8>, numbers: impl Iterator<Item = u16>) {
    let mut before = 0_u16;
    let mut high = Vec::new();
    for number in numbers {
        let [low, up] = number.wrapping_sub(before).to_le_bytes();
        bytes.push(low);
        high.push(up);
        before = number;
    }
    bytes.extend(high);
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in bounds")]
fn short(value: f64) -> u16 {
    value.round().clamp(0.0, 65_535.0) as u16
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in bounds")]
fn byte(value: f64) -> u8 {
    value.ceil().clamp(0.0, 255.0) as u8
}

pub(super) fn packed(bytes: &[u8]) -> String {
    let mut encoder = ZlibEncoder::new(Vec::new(), Compression::best());
    // writing to memory does not fail
    let _ = encoder.write_all(bytes);
    STANDARD.encode(encoder.finish().unwrap_or_default())
}
