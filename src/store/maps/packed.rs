//! Packs the places of a feature: for each ring their number, then latitude and longitude in ten
//! millionths of a degree, 11 mm. Refuses a blob that it did not write. Layer: `store`.

use crate::model::{BaseClass, BaseShape};
use crate::units::LatLon;

const STEPS: f64 = 1e7;
const CLASSES: [(BaseClass, &str); 9] = [
    (BaseClass::Stream, "stream"),
    (BaseClass::Water, "water"),
    (BaseClass::Road, "road"),
    (BaseClass::Path, "path"),
    (BaseClass::Boundary, "boundary"),
    (BaseClass::Parking, "parking"),
    (BaseClass::Summit, "summit"),
    (BaseClass::Place, "place"),
    (BaseClass::Other, "other"),
];

pub(super) fn class_word(class: BaseClass) -> &'static str {
    CLASSES.iter().find(|(known, _)| *known == class).map_or("other", |(_, word)| word)
}

/// The class of a word; a later version may know more.
pub(super) fn class_of(word: &str) -> BaseClass {
    CLASSES.iter().find(|(_, known)| *known == word).map_or(BaseClass::Other, |(class, _)| *class)
}

pub(super) fn pack(shape: &BaseShape) -> Vec<u8> {
    let mut blob = Vec::new();
    let mut ring = |places: &[LatLon]| {
        blob.extend(u32::try_from(places.len()).unwrap_or(0).to_le_bytes());
        for place in places {
            blob.extend(steps(place.latitude()).to_le_bytes());
            blob.extend(steps(place.longitude()).to_le_bytes());
        }
    };
    let kind = match shape {
        BaseShape::Point(place) => {
            ring(&[*place]);
            1
        }
        BaseShape::Line(line) => {
            ring(line);
            2
        }
        BaseShape::Area(rings) => {
            for places in rings {
                ring(places);
            }
            3
        }
    };
    blob.insert(0, kind);
    blob
}

#[allow(clippy::cast_possible_truncation, reason = "180 degrees fit")]
fn steps(degrees: f64) -> i32 {
    (degrees * STEPS).round() as i32
}

pub(super) fn unpack(blob: &[u8]) -> Option<BaseShape> {
    let (kind, mut rest) = blob.split_first()?;
    let mut rings = Vec::new();
    while !rest.is_empty() {
        let (count, after) = rest.split_first_chunk::<4>()?;
        let count = usize::try_from(u32::from_le_bytes(*count)).ok()?;
        let bytes = after.get(..count.checked_mul(8)?)?;
        rest = &after[bytes.len()..];
        let degrees = |bytes: &[u8]| {
            let bytes: Option<[u8; 4]> = bytes.try_into().ok();
            bytes.map(|bytes| f64::from(i32::from_le_bytes(bytes)) / STEPS)
        };
        let place = |pair: &[u8]| LatLon::new(degrees(&pair[..4])?, degrees(&pair[4..])?).ok();
        rings.push(bytes.chunks_exact(8).map(place).collect::<Option<Vec<LatLon>>>()?);
    }
    match kind {
        1 => Some(BaseShape::Point(*rings.first()?.first()?)),
        2 => Some(BaseShape::Line(rings.into_iter().next()?)),
        3 => Some(BaseShape::Area(rings)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn shapes_are_read_back_and_cut_ones_refused() {
        let at = |a, b| LatLon::new(a, b).unwrap();
        let ring = vec![at(1.0, 2.0), at(-3.5, 180.0), at(90.0, -179.9), at(1.0, 2.0)];
        for shape in [
            BaseShape::Point(at(-42.123_456_7, 146.0)),
            BaseShape::Line(ring.clone()),
            BaseShape::Area(vec![ring.clone(), ring]),
        ] {
            let blob = pack(&shape);
            assert_eq!(unpack(&blob), Some(shape));
            assert_eq!(unpack(&blob[..blob.len() - 1]), None);
        }
        assert_eq!(unpack(&[]), None);
        assert_eq!(unpack(&[9, 0, 0, 0, 0]), None);
    }
}
