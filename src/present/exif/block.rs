//! Appends a GPS directory to a block of TIFF directories. Existing bytes keep their offsets; only
//! pointers to the new directory are updated. Layer: `present`.

use super::position::{self, Entry, Value};
use super::{Stamped, Unfit};
use crate::present::xmp::Stamp;

/// The tag of the pointer to the GPS directory, and the types of a pointer.
const POSITION: u16 = 0x8825;
const LONG: u16 = 4;
const POINTER: u16 = 13;
/// Tags of a GPS directory that state a position: latitude, longitude, those of the destination.
const PLACES: [u16; 4] = [2, 4, 20, 22];
/// An entry's length.
const ENTRY: usize = 12;

/// A block that contains only a position.
pub(super) fn of_position(stamp: &Stamp, limit: usize) -> Stamped {
    with_position(b"MM\0*\0\0\0\x08\0\0\0\0\0\0", stamp, limit)
}

/// The block with the position of the stamp; `limit` is how long it may become.
pub(super) fn with_position(block: &[u8], stamp: &Stamp, limit: usize) -> Stamped {
    let order = Order::of(block).ok_or_else(|| broken("the header is invalid"))?;
    let main = order.long(block, 4).ok_or_else(|| broken("it ends early"))?;
    let main = Directory::read(order, block, main)?;
    let pointer = main.entries.iter().position(|entry| order.tag(entry) == POSITION);
    let before = match pointer {
        Some(place) => {
            let entry = &main.entries[place];
            if ![LONG, POINTER].contains(&order.kind(entry)) {
                return Err(broken("its GPS pointer is invalid"));
            }
            // an unreadable directory is replaced like a missing one
            let there = order.long(entry, 8).and_then(|at| Directory::read(order, block, at).ok());
            there.map_or_else(Vec::new, |there| there.kept(order))
        }
        None => Vec::new(),
    };
    if stamp.generalised.is_some() && before.iter().any(|entry| PLACES.contains(&entry.tag)) {
        return Err(Unfit::HasPosition);
    }
    let mut out = block.to_vec();
    let directory = position::entries(stamp, before);
    let at = append(&mut out, order, &directory)?;
    if let Some(place) = pointer {
        order.put_long(&mut out, main.first + ENTRY * place + 8, at);
    } else {
        let moved = append_with_pointer(&mut out, order, &main, at)?;
        order.put_long(&mut out, 4, moved);
    }
    if out.len() > limit {
        return Err(Unfit::form(format!(
            "with a position its Exif block would be {} bytes long; the maximum is {limit}",
            out.len()
        )));
    }
    Ok(out)
}

fn broken(why: &str) -> Unfit {
    Unfit::form(format!("its Exif block is damaged: {why}"))
}

/// The byte order.
#[derive(Clone, Copy)]
enum Order {
    Little,
    Big,
}

impl Order {
    fn of(block: &[u8]) -> Option<Self> {
        match block.get(..4)? {
            b"II*\0" => Some(Self::Little),
            b"MM\0*" => Some(Self::Big),
            _ => None,
        }
    }

    fn short(self, bytes: &[u8], at: usize) -> Option<u16> {
        let two = bytes.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(match self {
            Self::Little => u16::from_le_bytes(two),
            Self::Big => u16::from_be_bytes(two),
        })
    }

    fn long(self, bytes: &[u8], at: usize) -> Option<usize> {
        let four = bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
        let number = match self {
            Self::Little => u32::from_le_bytes(four),
            Self::Big => u32::from_be_bytes(four),
        };
        usize::try_from(number).ok()
    }

    fn tag(self, entry: &[u8]) -> u16 {
        self.short(entry, 0).unwrap_or(0)
    }

    fn kind(self, entry: &[u8]) -> u16 {
        self.short(entry, 2).unwrap_or(0)
    }

    fn two(self, number: u16) -> [u8; 2] {
        match self {
            Self::Little => number.to_le_bytes(),
            Self::Big => number.to_be_bytes(),
        }
    }

    fn four(self, number: u32) -> [u8; 4] {
        match self {
            Self::Little => number.to_le_bytes(),
            Self::Big => number.to_be_bytes(),
        }
    }

    fn put_long(self, bytes: &mut [u8], at: usize, number: u32) {
        if let Some(place) = bytes.get_mut(at..at + 4) {
            place.copy_from_slice(&self.four(number));
        }
    }
}

/// A directory in the block.
struct Directory<'a> {
    /// Where its first entry begins.
    first: usize,
    entries: Vec<&'a [u8]>,
    /// The pointer to the next directory.
    next: [u8; 4],
}

impl<'a> Directory<'a> {
    fn read(order: Order, block: &'a [u8], at: usize) -> Result<Self, Unfit> {
        let count =
            order.short(block, at).ok_or_else(|| broken("a directory lies outside the block"))?;
        let first = at + 2;
        let end = first + ENTRY * usize::from(count);
        let entries = block.get(first..end).ok_or_else(|| broken("a directory is cut off"))?;
        // some cameras omit the last pointer at the end of a block
        let next = block.get(end..end + 4).and_then(|four| four.try_into().ok());
        Ok(Self {
            first,
            entries: entries.chunks_exact(ENTRY).collect(),
            next: next.unwrap_or_default(),
        })
    }

    /// Its entries, with values at their original offsets.
    fn kept(&self, order: Order) -> Vec<Entry> {
        let entry = |bytes: &&[u8]| {
            Some(Entry {
                tag: order.tag(bytes),
                kind: order.kind(bytes),
                count: u32::try_from(order.long(bytes, 4)?).ok()?,
                value: Value::Kept(bytes.get(8..)?.try_into().ok()?),
            })
        };
        self.entries.iter().filter_map(entry).collect()
    }
}

/// The offset of the next directory: TIFF requires even offsets.
fn even_end(out: &mut Vec<u8>) -> Result<u32, Unfit> {
    if out.len() % 2 == 1 {
        out.push(0);
    }
    u32::try_from(out.len()).map_err(|_| Unfit::form("it would exceed the maximum file size"))
}

/// Appends a directory with its values and returns its offset.
fn append(out: &mut Vec<u8>, order: Order, entries: &[Entry]) -> Result<u32, Unfit> {
    let at = even_end(out)?;
    let count = u16::try_from(entries.len()).map_err(|_| broken("too many entries"))?;
    let mut values_at = out.len() + 2 + ENTRY * entries.len() + 4;
    let mut values = Vec::new();
    out.extend(order.two(count));
    for entry in entries {
        out.extend(order.two(entry.tag));
        out.extend(order.two(entry.kind));
        out.extend(order.four(entry.count));
        let bytes = match &entry.value {
            Value::Kept(four) => four.to_vec(),
            Value::Bytes(bytes) => bytes.clone(),
            Value::Rationals(all) => all
                .iter()
                .flat_map(|(over, under)| [order.four(*over), order.four(*under)].concat())
                .collect(),
        };
        if bytes.len() <= 4 {
            out.extend(&bytes);
            out.extend(vec![0; 4 - bytes.len()]);
            continue;
        }
        let place = u32::try_from(values_at).map_err(|_| broken("it is too long"))?;
        out.extend(order.four(place));
        values_at += bytes.len() + bytes.len() % 2;
        values.extend(&bytes);
        values.extend(vec![0; bytes.len() % 2]);
    }
    out.extend([0; 4]);
    out.extend(values);
    Ok(at)
}

/// Appends a copy of the main directory with a pointer to the GPS directory, in tag order.
fn append_with_pointer(
    out: &mut Vec<u8>,
    order: Order,
    main: &Directory<'_>,
    position: u32,
) -> Result<u32, Unfit> {
    let at = even_end(out)?;
    let count = u16::try_from(main.entries.len() + 1).map_err(|_| broken("too many entries"))?;
    let mut pointer = Vec::with_capacity(ENTRY);
    pointer.extend(order.two(POSITION));
    pointer.extend(order.two(LONG));
    pointer.extend(order.four(1));
    pointer.extend(order.four(position));
    let place = main.entries.iter().position(|entry| order.tag(entry) > POSITION);
    let (before, after) = main.entries.split_at(place.unwrap_or(main.entries.len()));
    out.extend(order.two(count));
    out.extend(before.concat());
    out.extend(pointer);
    out.extend(after.concat());
    out.extend(main.next);
    Ok(at)
}
