//! Serialises the path network as little-endian numbers with a versioned header, read in one pass.
//! Refuses truncated bytes and other versions. Layer: `wayout`.

use super::{Edge, Net};
use crate::error::{Result, WayOutFault};

/// The header of a stored network; its last digit is the version.
const HEAD: &[u8; 8] = b"trugnet1";

impl Net {
    /// The bytes to store.
    ///
    /// The same network always gives the same bytes, on every machine.
    #[must_use]
    pub fn to_bytes(&self) -> Vec<u8> {
        let mut bytes = Vec::with_capacity(32 + self.places.len() * 13 + self.edges.len() * 10);
        bytes.extend(HEAD);
        for count in [self.places.len(), self.edges.len(), self.prints.len()] {
            bytes.extend((count as u64).to_le_bytes());
        }
        for (latitude, longitude) in &self.places {
            bytes.extend(latitude.to_le_bytes());
            bytes.extend(longitude.to_le_bytes());
        }
        bytes.extend(&self.radii);
        bytes.extend(self.first.iter().flat_map(|first| first.to_le_bytes()));
        for edge in &self.edges {
            bytes.extend(edge.to.to_le_bytes());
            bytes.extend(edge.metres.to_le_bytes());
            bytes.extend([edge.passes, u8::from(edge.gap)]);
        }
        bytes.extend(self.prints.iter().flat_map(|print| print.to_le_bytes()));
        bytes
    }

    /// The network from stored bytes.
    ///
    /// # Errors
    /// When the bytes are not a network of this version, or are truncated.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self> {
        read(bytes).ok_or_else(|| WayOutFault::StoredPaths { bytes: bytes.len() }.into())
    }
}

/// Checks every count against what is left, and that every edge leads to a node, so that damaged bytes are refused
/// instead of searched.
fn read(bytes: &[u8]) -> Option<Net> {
    let mut rest = bytes.strip_prefix(HEAD)?;
    let nodes = count(&mut rest)?;
    let edges = count(&mut rest)?;
    let prints = count(&mut rest)?;
    let places = numbers::<8>(&mut rest, nodes)?
        .iter()
        .map(|pair| {
            let [a, b, c, d, e, f, g, h] = *pair;
            (i32::from_le_bytes([a, b, c, d]), i32::from_le_bytes([e, f, g, h]))
        })
        .collect();
    let radii = take(&mut rest, nodes)?.to_vec();
    let first: Vec<u32> = numbers::<4>(&mut rest, nodes.checked_add(1)?)?
        .iter()
        .map(|number| u32::from_le_bytes(*number))
        .collect();
    let edges: Vec<Edge> = numbers::<10>(&mut rest, edges)?
        .iter()
        .map(|[a, b, c, d, e, f, g, h, passes, gap]| Edge {
            to: u32::from_le_bytes([*a, *b, *c, *d]),
            metres: f32::from_le_bytes([*e, *f, *g, *h]),
            passes: *passes,
            gap: *gap != 0,
        })
        .collect();
    let prints = numbers::<8>(&mut rest, prints)?.iter().map(|n| u64::from_le_bytes(*n)).collect();
    let sound = rest.is_empty()
        && first.is_sorted()
        && first.last().is_some_and(|last| *last as usize == edges.len())
        && edges.iter().all(|edge| (edge.to as usize) < nodes && edge.metres >= 0.0);
    sound.then_some(Net { places, radii, first, edges, prints })
}

fn take<'a>(rest: &mut &'a [u8], length: usize) -> Option<&'a [u8]> {
    let (taken, left) = rest.split_at_checked(length)?;
    *rest = left;
    Some(taken)
}

fn numbers<'a, const N: usize>(rest: &mut &'a [u8], count: usize) -> Option<&'a [[u8; N]]> {
    Some(take(rest, count.checked_mul(N)?)?.as_chunks::<N>().0)
}

fn count(rest: &mut &[u8]) -> Option<usize> {
    let [number] = numbers::<8>(rest, 1)? else { return None };
    usize::try_from(u64::from_le_bytes(*number)).ok()
}
