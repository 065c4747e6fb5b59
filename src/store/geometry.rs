//! Converts positions and lines to and from GeoPackage geometry. Longitude first, as the format
//! requires; every other file of the crate has latitude first. Refuses other geometry.
//! Layer: `store`.

use crate::units::LatLon;

const MAGIC: &[u8; 2] = b"GP";
const WGS84: i32 = 4326;
const LITTLE_ENDIAN: u8 = 1;
/// A hostile blob may nest collections without end.
const DEEPEST: u8 = 16;

/// A point as a GeoPackage blob.
///
/// Little-endian, without an envelope, in the reference system 4326.
///
/// # References
/// OGC 12-128r17, GeoPackage Encoding Standard 1.3, clause 2.1.3.
pub(super) fn point(at: LatLon) -> Vec<u8> {
    let mut blob = header(None);
    push_point(&mut blob, at);
    blob
}

fn push_point(blob: &mut Vec<u8>, at: LatLon) {
    blob.push(LITTLE_ENDIAN);
    blob.extend(1_u32.to_le_bytes());
    blob.extend(at.longitude().to_le_bytes());
    blob.extend(at.latitude().to_le_bytes());
}

/// Lines of (longitude, latitude) as one GeoPackage blob with its envelope; `None` without a line.
pub(super) fn lines(lines: &[Vec<(f64, f64)>]) -> Option<Vec<u8>> {
    let mut envelope = Envelope::default();
    lines.iter().flatten().for_each(|(x, y)| envelope.take(*x, *y));
    let mut blob = header(Some(envelope.some()?));
    blob.push(LITTLE_ENDIAN);
    blob.extend(5_u32.to_le_bytes());
    blob.extend(u32::try_from(lines.len()).ok()?.to_le_bytes());
    for line in lines {
        blob.push(LITTLE_ENDIAN);
        blob.extend(2_u32.to_le_bytes());
        blob.extend(u32::try_from(line.len()).ok()?.to_le_bytes());
        for (x, y) in line {
            blob.extend(x.to_le_bytes());
            blob.extend(y.to_le_bytes());
        }
    }
    Some(blob)
}

fn header(envelope: Option<Envelope>) -> Vec<u8> {
    let mut blob = Vec::with_capacity(64);
    blob.extend(MAGIC);
    blob.push(0);
    blob.push(LITTLE_ENDIAN | if envelope.is_some() { 0b10 } else { 0 });
    blob.extend(WGS84.to_le_bytes());
    if let Some(box_) = envelope {
        for side in [box_.min_x, box_.max_x, box_.min_y, box_.max_y] {
            blob.extend(side.to_le_bytes());
        }
    }
    blob
}

/// The sides of the smallest box about a geometry.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Envelope {
    pub(super) min_x: f64,
    pub(super) max_x: f64,
    pub(super) min_y: f64,
    pub(super) max_y: f64,
}

impl Default for Envelope {
    fn default() -> Self {
        Self {
            min_x: f64::INFINITY,
            max_x: f64::NEG_INFINITY,
            min_y: f64::INFINITY,
            max_y: f64::NEG_INFINITY,
        }
    }
}

impl Envelope {
    fn take(&mut self, x: f64, y: f64) {
        // An empty point is written as two NaN.
        if x.is_nan() || y.is_nan() {
            return;
        }
        self.min_x = self.min_x.min(x);
        self.max_x = self.max_x.max(x);
        self.min_y = self.min_y.min(y);
        self.max_y = self.max_y.max(y);
    }

    fn some(self) -> Option<Self> {
        (self.min_x <= self.max_x).then_some(self)
    }
}

/// The extent of a geometry.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Extent {
    /// It has no point.
    Empty,
    /// To the sides of this box.
    Within(Envelope),
}

impl Extent {
    pub(super) fn envelope(self) -> Option<Envelope> {
        match self {
            Self::Empty => None,
            Self::Within(envelope) => Some(envelope),
        }
    }
}

/// The extent of any geometry that a GIS may have written: either byte order, with or without Z and
/// M; `None` for a blob that is no geometry.
pub(super) fn extent(blob: &[u8]) -> Option<Extent> {
    let (flags, mut wkb) = open(blob)?;
    if flags & 0b1_0000 != 0 {
        return Some(Extent::Empty);
    }
    let mut envelope = Envelope::default();
    wkb.geometry(&mut envelope, DEEPEST)?;
    Some(envelope.some().map_or(Extent::Empty, Extent::Within))
}

/// The first two numbers of a point, whatever they mean; `None` for an empty one and for another shape.
pub(super) fn coordinates(blob: &[u8]) -> Option<(f64, f64)> {
    let (_, mut wkb) = open(blob)?;
    let (shape, _) = wkb.kind()?;
    let (x, y) = (wkb.double()?, wkb.double()?);
    (shape == 1 && !x.is_nan() && !y.is_nan()).then_some((x, y))
}

/// The position of a point blob; `None` for an empty one, another shape or no position on the
/// globe.
pub(super) fn position(blob: &[u8]) -> Option<LatLon> {
    let (x, y) = coordinates(blob)?;
    LatLon::new(y, x).ok()
}

/// The flags of the header and a reader that stands on the geometry itself.
fn open(blob: &[u8]) -> Option<(u8, Bytes<'_>)> {
    if blob.get(..2)? != MAGIC {
        return None;
    }
    let flags = *blob.get(3)?;
    let envelope = match flags >> 1 & 0b111 {
        0 => 0,
        1 => 32,
        2 | 3 => 48,
        4 => 64,
        _ => return None,
    };
    Some((flags, Bytes { rest: blob.get(8 + envelope..)?, little: true }))
}

struct Bytes<'a> {
    rest: &'a [u8],
    little: bool,
}

impl Bytes<'_> {
    fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (head, rest) = self.rest.split_first_chunk::<N>()?;
        self.rest = rest;
        Some(*head)
    }

    fn count(&mut self) -> Option<u32> {
        let bytes = self.take()?;
        Some(if self.little { u32::from_le_bytes(bytes) } else { u32::from_be_bytes(bytes) })
    }

    fn double(&mut self) -> Option<f64> {
        let bytes = self.take()?;
        Some(if self.little { f64::from_le_bytes(bytes) } else { f64::from_be_bytes(bytes) })
    }

    /// The byte order, then the shape (1 to 7) and how many numbers follow x and y.
    fn kind(&mut self) -> Option<(u32, usize)> {
        self.little = self.take::<1>()? == [LITTLE_ENDIAN];
        let code = self.count()?;
        let more = match code / 1000 {
            0 => 0,
            1 | 2 => 1,
            3 => 2,
            _ => return None,
        };
        Some((code % 1000, more))
    }

    fn geometry(&mut self, envelope: &mut Envelope, depth: u8) -> Option<()> {
        let (shape, more) = self.kind()?;
        match shape {
            1 => self.vertex(envelope, more),
            2 => self.vertices(envelope, more),
            3 => (0..self.count()?).try_for_each(|_| self.vertices(envelope, more)),
            4..=7 => {
                let deeper = depth.checked_sub(1)?;
                (0..self.count()?).try_for_each(|_| self.geometry(envelope, deeper))
            }
            _ => None,
        }
    }

    fn vertices(&mut self, envelope: &mut Envelope, more: usize) -> Option<()> {
        (0..self.count()?).try_for_each(|_| self.vertex(envelope, more))
    }

    fn vertex(&mut self, envelope: &mut Envelope, more: usize) -> Option<()> {
        let (x, y) = (self.double()?, self.double()?);
        envelope.take(x, y);
        (0..more).try_for_each(|_| self.double().map(|_| ()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place() -> LatLon {
        LatLon::new(-42.5, 146.25).unwrap()
    }

    #[test]
    fn a_point_is_the_bytes_of_the_standard() {
        let blob = point(place());
        let magic_version_flags = b"GP\x00\x01";
        let srs_then_kind = b"\xe6\x10\0\0\x01\x01\0\0\0";
        assert_eq!(blob[..13], [&magic_version_flags[..], srs_then_kind].concat());
        assert_eq!(blob[13..21], 146.25_f64.to_le_bytes());
        assert_eq!(position(&blob), Some(place()));
    }

    #[test]
    fn other_programs_blobs_are_read() {
        // Big-endian PointZ with an XYZ envelope, as clause 2.1.3 allows.
        let mut blob = b"GP\0\x04\0\0\x10\xe6".to_vec();
        blob.extend([0; 48]);
        blob.push(0);
        blob.extend(1001_u32.to_be_bytes());
        for number in [146.25_f64, -42.5, 812.0] {
            blob.extend(number.to_be_bytes());
        }
        assert_eq!(position(&blob), Some(place()));
        let found = extent(&blob).unwrap().envelope().unwrap();
        assert_eq!((found.min_x, found.max_y), (146.25, -42.5));
    }

    #[test]
    fn a_line_carries_its_envelope() {
        let blob =
            lines(&[vec![(179.9, -17.0), (180.0, -17.1)], vec![(-180.0, -17.1), (-179.9, -17.2)]]);
        let found = extent(&blob.unwrap()).unwrap().envelope().unwrap();
        assert_eq!(found, Envelope { min_x: -180.0, max_x: 180.0, min_y: -17.2, max_y: -17.0 });
        assert_eq!(lines(&[]), None);
    }

    #[test]
    fn an_empty_point_has_no_envelope_and_no_position() {
        let mut blob = header(None);
        blob.push(LITTLE_ENDIAN);
        blob.extend(1_u32.to_le_bytes());
        blob.extend([f64::NAN.to_le_bytes(), f64::NAN.to_le_bytes()].concat());
        assert_eq!(extent(&blob), Some(Extent::Empty));
        assert_eq!(position(&blob), None);
    }

    #[test]
    fn hostile_blobs_are_refused_quickly() {
        let mut nested = header(None);
        for _ in 0..1000 {
            nested.push(LITTLE_ENDIAN);
            nested.extend(7_u32.to_le_bytes());
            nested.extend(1_u32.to_le_bytes());
        }
        assert_eq!(extent(&nested), None);
        let mut endless = header(None);
        endless.extend([1, 4, 0, 0, 0, 255, 255, 255, 255]);
        assert_eq!(extent(&endless), None);
        for length in 0..29 {
            assert_eq!(position(&point(place())[..length]), None);
        }
    }
}
