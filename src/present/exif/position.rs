//! Composes the GPS directory: entries in the order of their tags, new values over those of the
//! camera. Layer: `present`.

use super::MARK;
use crate::model::Direction;
use crate::present::xmp::Stamp;
use crate::units::Degrees;

/// Types of values, TIFF 6.0 section 2.
const BYTE: u16 = 1;
const ASCII: u16 = 2;
const RATIONAL: u16 = 5;
const UNDEFINED: u16 = 7;

/// A value; the block writes it in its byte order.
pub(super) enum Value {
    Bytes(Vec<u8>),
    Rationals(Vec<(u32, u32)>),
    /// The last four bytes of an existing entry, unchanged.
    Kept([u8; 4]),
}

/// One entry of a directory.
pub(super) struct Entry {
    pub(super) tag: u16,
    pub(super) kind: u16,
    pub(super) count: u32,
    pub(super) value: Value,
}

/// Tags that describe the replaced measurement: satellites, status, mode, dilution,
/// differential correction.
const OUTDATED: [u16; 5] = [8, 9, 10, 11, 30];

/// The entries of a stamp, merged over the existing ones. With a generalised position no existing
/// entry is kept.
pub(super) fn entries(stamp: &Stamp, before: Vec<Entry>) -> Vec<Entry> {
    let mut new = of_stamp(stamp);
    if stamp.generalised.is_none() {
        let replaced: Vec<u16> = new.iter().map(|entry| entry.tag).collect();
        let kept = before
            .into_iter()
            .filter(|entry| !replaced.contains(&entry.tag) && !OUTDATED.contains(&entry.tag));
        new.extend(kept);
    }
    new.sort_by_key(|entry| entry.tag);
    new.dedup_by_key(|entry| entry.tag);
    new
}

fn of_stamp(stamp: &Stamp) -> Vec<Entry> {
    let (latitude, longitude) = (stamp.at.latitude(), stamp.at.longitude());
    let mut entries = vec![
        Entry { tag: 0, kind: BYTE, count: 4, value: Value::Bytes(vec![2, 3, 0, 0]) },
        text(1, if latitude < 0.0 { "S" } else { "N" }),
        rationals(2, angle(latitude)),
        text(3, if longitude < 0.0 { "W" } else { "E" }),
        rationals(4, angle(longitude)),
        text(18, "WGS-84"),
        encoded_text(27, &stamp.method()),
        rationals(31, vec![hundredths(stamp.radius.metres().0)]),
    ];
    if let Some(when) = stamp.when {
        let (date, time) =
            (when.strftime("%Y:%m:%d").to_string(), when.strftime("%H %M %S %3f").to_string());
        let parts: Vec<u32> = time.split(' ').filter_map(|part| part.parse().ok()).collect();
        if let [hour, minute, second, thousandth] = parts[..] {
            entries.push(rationals(
                7,
                vec![(hour, 1), (minute, 1), (second * 1_000 + thousandth, 1_000)],
            ));
            entries.push(text(29, &date));
        }
    }
    if let Some((north, degrees)) = stamp.direction.map(direction) {
        entries.push(text(16, north));
        entries.push(rationals(17, vec![hundredths(degrees.0)]));
    }
    entries
}

fn direction(direction: Direction) -> (&'static str, Degrees) {
    match direction {
        Direction::True(bearing) => ("T", bearing.degrees()),
        Direction::Magnetic(bearing) => ("M", bearing.degrees()),
    }
}

fn text(tag: u16, words: &str) -> Entry {
    let mut bytes = words.as_bytes().to_vec();
    bytes.push(0);
    Entry { tag, kind: ASCII, count: length(&bytes), value: Value::Bytes(bytes) }
}

/// Text whose first eight bytes state its encoding.
fn encoded_text(tag: u16, words: &str) -> Entry {
    let bytes = [b"ASCII\0\0\0", MARK, words.as_bytes()].concat();
    Entry { tag, kind: UNDEFINED, count: length(&bytes), value: Value::Bytes(bytes) }
}

fn rationals(tag: u16, values: Vec<(u32, u32)>) -> Entry {
    let count = u32::try_from(values.len()).unwrap_or(0);
    Entry { tag, kind: RATIONAL, count, value: Value::Rationals(values) }
}

fn length(bytes: &[u8]) -> u32 {
    u32::try_from(bytes.len()).unwrap_or(0)
}

/// Degrees, minutes and ten-thousandths of seconds.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "at most 180 degrees")]
fn angle(degrees: f64) -> Vec<(u32, u32)> {
    let parts = (degrees.abs() * 36_000_000.0).round() as u64;
    let (whole, rest) = (parts / 36_000_000, parts % 36_000_000);
    vec![(whole as u32, 1), ((rest / 600_000) as u32, 1), ((rest % 600_000) as u32, 10_000)]
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
fn hundredths(number: f64) -> (u32, u32) {
    ((number * 100.0).round().clamp(0.0, f64::from(u32::MAX)) as u32, 100)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::exif::tests::stamp;

    #[test]
    fn seconds_carry_into_the_next_degree() {
        assert_eq!(angle(-42.615), [(42, 1), (36, 1), (540_000, 10_000)]);
        assert_eq!(angle(146.999_999_999_99), [(147, 1), (0, 1), (0, 10_000)]);
        assert_eq!(angle(180.0), [(180, 1), (0, 1), (0, 10_000)]);
    }

    #[test]
    fn camera_height_is_kept_and_dilution_removed() {
        let kept = |tag| Entry { tag, kind: 5, count: 1, value: Value::Kept([0; 4]) };
        let tags = |stamp: &Stamp| -> Vec<u16> {
            let before = [2, 6, 11, 24].map(kept).into();
            entries(stamp, before).iter().map(|entry| entry.tag).collect()
        };
        assert_eq!(tags(&stamp()), [0, 1, 2, 3, 4, 6, 7, 18, 24, 27, 29, 31]);
        let coarse =
            Stamp { generalised: Some(crate::model::Sensitivity::Low), when: None, ..stamp() };
        assert_eq!(tags(&coarse), [0, 1, 2, 3, 4, 18, 27, 31]);
    }
}
