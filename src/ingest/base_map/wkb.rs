//! Reads geometry of GeoPackage: points, lines, areas and collections of them, in either byte order,
//! with or without Z and M. Layer: `ingest`.
//!
//! No memory is reserved for what a count claims: reading ends where the bytes end.

use super::collected::{area, line};
use crate::model::BaseShape;
use crate::units::LatLon;

/// A hostile blob may nest collections without end.
const DEEPEST: u8 = 8;

/// The shapes of a blob, its coordinates converted by `place`; `None` for no geometry.
///
/// # References
/// OGC 12-128r17, GeoPackage Encoding Standard 1.3, clause 2.1.3.
pub(super) fn shapes(
    blob: &[u8],
    place: &impl Fn(f64, f64) -> Option<LatLon>,
) -> Option<Vec<BaseShape>> {
    if blob.get(..2)? != b"GP" {
        return None;
    }
    let envelope = match blob.get(3)? >> 1 & 0b111 {
        0 => 0,
        1 => 32,
        2 | 3 => 48,
        4 => 64,
        _ => return None,
    };
    let mut shapes = Vec::new();
    let mut bytes = Bytes { rest: blob.get(8 + envelope..)?, little: true, place };
    bytes.geometry(&mut shapes, DEEPEST)?;
    Some(shapes)
}

struct Bytes<'a, P> {
    rest: &'a [u8],
    little: bool,
    place: &'a P,
}

impl<P: Fn(f64, f64) -> Option<LatLon>> Bytes<'_, P> {
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

    fn geometry(&mut self, shapes: &mut Vec<BaseShape>, depth: u8) -> Option<()> {
        self.little = self.take::<1>()? == [1];
        let code = self.count()?;
        let more = match code / 1000 {
            0 => 0,
            1 | 2 => 1,
            3 => 2,
            _ => return None,
        };
        match code % 1000 {
            1 => shapes.extend(self.vertex(more)?.map(BaseShape::Point)),
            2 => shapes.extend(line(self.vertices(more)?)),
            3 => {
                let rings = (0..self.count()?).map(|_| self.vertices(more));
                shapes.extend(area(rings.collect::<Option<_>>()?));
            }
            4..=7 => {
                let deeper = depth.checked_sub(1)?;
                for _ in 0..self.count()? {
                    self.geometry(shapes, deeper)?;
                }
            }
            _ => return None,
        }
        Some(())
    }

    fn vertices(&mut self, more: usize) -> Option<Vec<LatLon>> {
        let mut places = Vec::new();
        for _ in 0..self.count()? {
            places.extend(self.vertex(more)?);
        }
        Some(places)
    }

    /// The outer `None` is the end of the blob, the inner one a coordinate that is no place.
    #[allow(clippy::option_option, reason = "an end and a bad place differ")]
    fn vertex(&mut self, more: usize) -> Option<Option<LatLon>> {
        let (x, y) = (self.double()?, self.double()?);
        for _ in 0..more {
            self.double()?;
        }
        Some((self.place)(x, y))
    }
}
