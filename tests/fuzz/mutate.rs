//! Mutates one of the seeds: bytes changed, removed, duplicated and inserted, numbers made extreme,
//! keywords of the format inserted.

use std::ops::Range;

use crate::rng::Rng;

/// No case is longer than this many bytes.
const LONGEST: usize = 64 * 1024;

/// Numbers at the limits of formats and types.
const FIGURES: [&str; 26] = [
    "0",
    "-0",
    "1",
    "-1",
    "90",
    "-90",
    "90.0000001",
    "180",
    "-180",
    "360",
    "1e308",
    "-1e308",
    "1e-320",
    "NaN",
    "inf",
    "-inf",
    "255",
    "256",
    "65535",
    "65536",
    "2147483648",
    "4294967296",
    "9223372036854775807",
    "-9223372036854775808",
    "18446744073709551616",
    "0.1e1",
];
/// Bytes that are significant for readers.
const BYTES: [u8; 24] = *b"\0\x01\x7f\x80\xff\xfe\xef\xbb\xbf\r\n\t ,;\"'<>&=/[{";

/// A case: a seed with one to eight changes.
pub(crate) fn case(rng: &mut Rng, seeds: &[Vec<u8>], words: &[&str]) -> Vec<u8> {
    let mut bytes = seeds[rng.below(seeds.len())].clone();
    for _ in 0..=rng.below(8) {
        change(rng, &mut bytes, seeds, words);
        bytes.truncate(LONGEST);
    }
    bytes
}

fn change(rng: &mut Rng, bytes: &mut Vec<u8>, seeds: &[Vec<u8>], words: &[&str]) {
    match rng.below(12) {
        0 => flip(rng, bytes),
        1 => put(rng, bytes, |rng| BYTES[rng.below(BYTES.len())]),
        2 => put(rng, bytes, |rng| rng.next().to_le_bytes()[0]),
        3 => {
            let at = rng.below(bytes.len() + 1);
            bytes.truncate(at);
        }
        4 => {
            let range = range(rng, bytes.len(), 64);
            bytes.drain(range);
        }
        5 => double(rng, bytes),
        6 | 7 => figure(rng, bytes),
        8 => splice(rng, bytes, seeds),
        9 => wide(rng, bytes),
        _ if words.is_empty() => flip(rng, bytes),
        _ => {
            let at = rng.below(bytes.len() + 1);
            let word = rng.pick(words).as_bytes().to_vec();
            let over = if rng.below(2) == 0 { word.len().min(bytes.len() - at) } else { 0 };
            bytes.splice(at..at + over, word);
        }
    }
}

fn flip(rng: &mut Rng, bytes: &mut [u8]) {
    let (at, bit) = (rng.below(bytes.len()), rng.below(8));
    if let Some(byte) = bytes.get_mut(at) {
        *byte ^= 1 << bit;
    }
}

fn put(rng: &mut Rng, bytes: &mut [u8], value: impl FnOnce(&mut Rng) -> u8) {
    let at = rng.below(bytes.len());
    let value = value(rng);
    if let Some(byte) = bytes.get_mut(at) {
        *byte = value;
    }
}

fn range(rng: &mut Rng, length: usize, most: usize) -> Range<usize> {
    let start = rng.below(length);
    start..(start + 1 + rng.below(most)).min(length)
}

/// A part repeated once or some hundred times.
fn double(rng: &mut Rng, bytes: &mut Vec<u8>) {
    let range = range(rng, bytes.len(), 200);
    let piece = bytes[range.clone()].to_vec();
    let times = if rng.below(8) == 0 { 1 + rng.below(300) } else { 1 };
    bytes.splice(range.end..range.end, piece.repeat(times));
}

/// A number of the text replaced by an extreme one.
fn figure(rng: &mut Rng, bytes: &mut Vec<u8>) {
    let from = rng.below(bytes.len());
    let is_figure = |byte: &u8| byte.is_ascii_digit() || matches!(byte, b'.' | b'-');
    let Some(start) = bytes.iter().skip(from).position(is_figure).map(|at| from + at) else {
        return;
    };
    let end = start + bytes[start..].iter().take_while(|byte| is_figure(byte)).count();
    let new = match rng.below(3) {
        0 => rng.next().to_string(),
        _ => rng.pick(&FIGURES).to_owned(),
    };
    bytes.splice(start..end, new.into_bytes());
}

/// A piece of another seed.
fn splice(rng: &mut Rng, bytes: &mut Vec<u8>, seeds: &[Vec<u8>]) {
    let other = &seeds[rng.below(seeds.len())];
    let piece = other[range(rng, other.len(), 400)].to_vec();
    let into = range(rng, bytes.len(), 400);
    bytes.splice(into, piece);
}

/// A number of two, four or eight bytes at an edge, in either order of bytes.
fn wide(rng: &mut Rng, bytes: &mut [u8]) {
    let edges = [0, 1, 2, 0x7fff, 0x8000, 0xffff, 0x7fff_ffff, 0xffff_ffff, u64::MAX];
    let value = edges[rng.below(edges.len())];
    let width = [2, 4, 8][rng.below(3)];
    let start = rng.below(bytes.len());
    let mut number = value.to_le_bytes()[..width].to_vec();
    if rng.below(2) == 0 {
        number.reverse();
    }
    for (byte, new) in bytes.iter_mut().skip(start).zip(number) {
        *byte = new;
    }
}
