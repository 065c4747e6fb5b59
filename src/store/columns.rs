//! Compresses fixes without loss, column by column: decimal numbers as integers in units of their
//! last digit, integers as differences, differences in variable length. Refuses truncated blobs and
//! other formats. Layer: `store`.
//!
//! Every number that is read equals the one that was written: a column that no number of decimals
//! reproduces is stored as raw floating point.

const RAW: u8 = 255;
/// The most decimals tried before a column is stored as raw floating point.
const MOST_FIGURES: u8 = 12;
const CONSTANT_STEP: u8 = 0;
const STEPS: u8 = 1;

/// The first byte of a blob with a checksum; the forms of blobs without one begin with another byte.
const SEALED: u8 = 2;
/// Bytes of the checksum, the first of BLAKE3 over the content.
const CHECK: usize = 8;

/// A blob with a checksum in front, so that a damaged byte is noticed whatever it means.
pub(super) fn sealed(content: &[u8]) -> Vec<u8> {
    let check = blake3::hash(content);
    [&[SEALED], &check.as_bytes()[..CHECK], content].concat()
}

/// The content of [`sealed`]; `None` where it was damaged, and for other blobs.
pub(super) fn unsealed(blob: &[u8]) -> Option<&[u8]> {
    let (check, content) = blob.strip_prefix(&[SEALED])?.split_at_checked(CHECK)?;
    (blake3::hash(content).as_bytes()[..CHECK] == *check).then_some(content)
}

/// The content of a blob that may be of a store from before there were checksums.
pub(super) fn content(blob: &[u8]) -> Option<&[u8]> {
    if blob.first() == Some(&SEALED) { unsealed(blob) } else { Some(blob) }
}

/// Writes columns one after another.
#[derive(Default)]
pub(super) struct ColumnWriter {
    bytes: Vec<u8>,
}

impl ColumnWriter {
    pub(super) fn finish(self) -> Vec<u8> {
        self.bytes
    }

    /// One non-negative number, seven bits per byte.
    pub(super) fn unsigned(&mut self, mut number: u128) {
        while number >= 0x80 {
            self.bytes.push(low_seven(number) | 0x80);
            number >>= 7;
        }
        self.bytes.push(low_seven(number));
    }

    fn signed(&mut self, number: i128) {
        self.unsigned(((number << 1) ^ (number >> 127)).cast_unsigned());
    }

    /// Whole numbers.
    pub(super) fn integers(&mut self, numbers: &[i128]) {
        let Some((first, _)) = numbers.split_first() else { return };
        let steps: Vec<i128> = numbers.windows(2).map(|pair| pair[1] - pair[0]).collect();
        self.signed(*first);
        let step = steps.first().copied().unwrap_or(0);
        if steps.iter().all(|other| *other == step) {
            self.bytes.push(CONSTANT_STEP);
            self.signed(step);
            return;
        }
        let divisor = steps.iter().fold(0, |divisor, step| common(divisor, step.unsigned_abs()));
        self.bytes.push(STEPS);
        self.unsigned(divisor);
        for step in steps {
            self.signed(step / divisor.cast_signed());
        }
    }

    /// Numbers that were probably written with few decimals.
    pub(super) fn decimals(&mut self, numbers: &[f64]) {
        self.scaled(numbers, |whole, scale| whole / scale);
    }

    /// The same for numbers that were read in single precision.
    pub(super) fn short_decimals(&mut self, numbers: &[f32]) {
        let wide: Vec<f64> = numbers.iter().map(|number| f64::from(*number)).collect();
        self.scaled(&wide, single);
    }

    fn scaled(&mut self, numbers: &[f64], back: fn(f64, f64) -> f64) {
        let Some(figures) = figures_needed(numbers, back) else {
            self.bytes.push(RAW);
            self.bytes.extend(numbers.iter().flat_map(|number| number.to_le_bytes()));
            return;
        };
        self.bytes.push(figures);
        let scale = power_of_ten(figures);
        let whole: Vec<i128> = numbers.iter().map(|number| whole(number * scale)).collect();
        self.integers(&whole);
    }

    /// Whole numbers that must be read fast: differences only.
    pub(super) fn steps(&mut self, numbers: impl Iterator<Item = i64>) {
        let mut last = 0_i64;
        for number in numbers {
            let step = number.wrapping_sub(last);
            last = number;
            self.unsigned(u128::from(((step << 1) ^ (step >> 63)).cast_unsigned()));
        }
    }

    /// Numbers as they are.
    pub(super) fn numbers(&mut self, numbers: impl Iterator<Item = f64>) {
        numbers.for_each(|number| self.bytes.extend(number.to_le_bytes()));
    }

    /// Text.
    pub(super) fn text(&mut self, text: &str) {
        self.unsigned(text.len() as u128);
        self.bytes.extend(text.as_bytes());
    }

    /// Bytes of a length that the reader knows.
    pub(super) fn raw(&mut self, bytes: &[u8]) {
        self.bytes.extend(bytes);
    }

    /// Which of the rows have a value; the values follow as a column of their own.
    pub(super) fn presence(&mut self, present: impl Iterator<Item = bool>) {
        let mut bits = Vec::new();
        for (index, here) in present.enumerate() {
            if index % 8 == 0 {
                bits.push(0_u8);
            }
            if let (true, Some(last)) = (here, bits.last_mut()) {
                *last |= 1 << (index % 8);
            }
        }
        let numbers: Vec<i128> = bits.into_iter().map(i128::from).collect();
        self.integers(&numbers);
    }
}

/// Reads what [`ColumnWriter`] wrote; `None` wherever the bytes do not fit.
pub(super) struct ColumnReader<'a> {
    rest: &'a [u8],
}

impl<'a> ColumnReader<'a> {
    pub(super) fn new(bytes: &'a [u8]) -> Self {
        Self { rest: bytes }
    }

    /// Bytes that are not read yet.
    pub(super) fn left(&self) -> usize {
        self.rest.len()
    }

    fn byte(&mut self) -> Option<u8> {
        let (first, rest) = self.rest.split_first()?;
        self.rest = rest;
        Some(*first)
    }

    pub(super) fn unsigned(&mut self) -> Option<u128> {
        let mut number = 0_u128;
        for shift in (0..128).step_by(7) {
            let byte = self.byte()?;
            number |= u128::from(byte & 0x7f) << shift;
            if byte < 0x80 {
                return Some(number);
            }
        }
        None
    }

    fn signed(&mut self) -> Option<i128> {
        let folded = self.unsigned()?;
        Some((folded >> 1).cast_signed() ^ -(folded & 1).cast_signed())
    }

    pub(super) fn integers(&mut self, count: usize) -> Option<Vec<i128>> {
        if count == 0 {
            return Some(Vec::new());
        }
        let first = self.signed()?;
        match self.byte()? {
            CONSTANT_STEP => {
                let step = self.signed()?;
                (0..i128::try_from(count).ok()?)
                    .map(|index| first.checked_add(step.checked_mul(index)?))
                    .collect()
            }
            STEPS => self.stepped(first, count),
            _ => None,
        }
    }

    fn stepped(&mut self, first: i128, count: usize) -> Option<Vec<i128>> {
        // Every step takes at least one byte, so that a false count cannot exhaust memory.
        if count - 1 > self.rest.len() {
            return None;
        }
        let divisor = self.unsigned()?.cast_signed();
        let mut numbers = Vec::with_capacity(count);
        let mut number = first;
        numbers.push(number);
        for _ in 1..count {
            number = number.checked_add(self.signed()?.checked_mul(divisor)?)?;
            numbers.push(number);
        }
        Some(numbers)
    }

    /// A column of [`ColumnWriter::steps`].
    pub(super) fn steps(&mut self, count: usize) -> Option<Vec<i64>> {
        // every step takes at least one byte, so that a false count cannot exhaust memory
        if count > self.rest.len() {
            return None;
        }
        let mut numbers = Vec::with_capacity(count);
        let mut last = 0_i64;
        for _ in 0..count {
            let folded = self.short_unsigned()?;
            last = last.wrapping_add((folded >> 1).cast_signed() ^ -(folded & 1).cast_signed());
            numbers.push(last);
        }
        Some(numbers)
    }

    fn short_unsigned(&mut self) -> Option<u64> {
        let mut number = 0_u64;
        for (place, byte) in self.rest.iter().enumerate().take(10) {
            number |= u64::from(byte & 0x7f) << (7 * place).min(63);
            if *byte < 0x80 {
                self.rest = &self.rest[place + 1..];
                return Some(number);
            }
        }
        None
    }

    /// A column of [`ColumnWriter::numbers`].
    pub(super) fn numbers(&mut self, count: usize) -> Option<Vec<f64>> {
        let bytes = self.raw(count.checked_mul(8)?)?;
        Some(bytes.as_chunks::<8>().0.iter().map(|bytes| f64::from_le_bytes(*bytes)).collect())
    }

    /// The words of [`ColumnWriter::text`].
    pub(super) fn text(&mut self) -> Option<&'a str> {
        let length = usize::try_from(self.short_unsigned()?).ok()?;
        std::str::from_utf8(self.raw(length)?).ok()
    }

    /// So many bytes.
    pub(super) fn raw(&mut self, count: usize) -> Option<&'a [u8]> {
        let (bytes, rest) = self.rest.split_at_checked(count)?;
        self.rest = rest;
        Some(bytes)
    }

    pub(super) fn decimals(&mut self, count: usize) -> Option<Vec<f64>> {
        self.scaled(count, |whole, scale| whole / scale)
    }

    #[allow(clippy::cast_possible_truncation, reason = "they were single precision when written")]
    pub(super) fn short_decimals(&mut self, count: usize) -> Option<Vec<f32>> {
        Some(self.scaled(count, single)?.into_iter().map(|number| number as f32).collect())
    }

    fn scaled(&mut self, count: usize, back: fn(f64, f64) -> f64) -> Option<Vec<f64>> {
        let figures = self.byte()?;
        if figures == RAW {
            let bytes = self.rest.get(..count.checked_mul(8)?)?;
            self.rest = &self.rest[bytes.len()..];
            return Some(bytes.as_chunks::<8>().0.iter().map(|b| f64::from_le_bytes(*b)).collect());
        }
        if figures > MOST_FIGURES {
            return None;
        }
        let scale = power_of_ten(figures);
        Some(self.integers(count)?.into_iter().map(|whole| back(whole as f64, scale)).collect())
    }

    pub(super) fn presence(&mut self, count: usize) -> Option<Vec<bool>> {
        let bits = self.integers(count.div_ceil(8))?;
        (0..count).map(|index| Some(bits.get(index / 8)? >> (index % 8) & 1 == 1)).collect()
    }
}

#[allow(clippy::cast_possible_truncation, reason = "the seven bits are what is wanted")]
fn low_seven(number: u128) -> u8 {
    (number & 0x7f) as u8
}

#[allow(clippy::cast_possible_truncation, reason = "figures_needed has seen that it fits")]
fn whole(number: f64) -> i128 {
    number.round() as i128
}

#[allow(
    clippy::cast_possible_truncation,
    reason = "that is the question: what single precision says"
)]
fn single(whole: f64, scale: f64) -> f64 {
    f64::from((whole / scale) as f32)
}

fn power_of_ten(figures: u8) -> f64 {
    10_f64.powi(i32::from(figures))
}

/// The number of decimals that reproduce every number exactly; `None` where twelve do not.
fn figures_needed(numbers: &[f64], back: fn(f64, f64) -> f64) -> Option<u8> {
    let mut figures = 0;
    for number in numbers {
        while !survives(*number, figures, back) {
            figures += 1;
            if figures > MOST_FIGURES {
                return None;
            }
        }
    }
    // The decimals that one number needs may be too many for a larger one.
    numbers.iter().all(|number| survives(*number, figures, back)).then_some(figures)
}

fn survives(number: f64, figures: u8, back: fn(f64, f64) -> f64) -> bool {
    const EXACT_BELOW: f64 = 9.0e15;
    let scale = power_of_ten(figures);
    // A whole number has no minus zero.
    let whole = (number * scale).round() + 0.0;
    whole.abs() < EXACT_BELOW && back(whole, scale).to_bits() == number.to_bits()
}

/// The greatest common divisor.
fn common(mut a: u128, mut b: u128) -> u128 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_damaged_byte_of_a_sealed_blob_is_noticed() {
        let whole = sealed(b"positions");
        assert_eq!(
            (unsealed(&whole), content(&whole)),
            (Some(&b"positions"[..]), Some(&b"positions"[..]))
        );
        for place in 0..whole.len() {
            for bit in 0..8 {
                let mut damaged = whole.clone();
                damaged[place] ^= 1 << bit;
                assert_eq!(unsealed(&damaged), None, "{place} {bit}");
            }
        }
        assert_eq!(unsealed(b""), None);
        assert_eq!(content(b"\x01old"), Some(&b"\x01old"[..]));
    }

    use proptest::prelude::*;

    #[test]
    fn a_day_of_fixes_takes_few_bytes() {
        let latitudes: Vec<f64> =
            (0..1000_i32).map(|i| f64::from(-42_500_000 + i * i % 17) / 1e6).collect();
        let times: Vec<i128> =
            (0..1000).map(|i| 1_780_000_000_000_000_000 + i * 5_000_000_000).collect();
        let mut writer = ColumnWriter::default();
        writer.decimals(&latitudes);
        writer.integers(&times);
        let bytes = writer.finish();
        assert!(bytes.len() < 1050, "{} bytes for 1000 rows", bytes.len());
        let mut reader = ColumnReader::new(&bytes);
        assert_eq!(reader.decimals(1000), Some(latitudes));
        assert_eq!(reader.integers(1000), Some(times));
    }

    #[test]
    fn numbers_that_are_no_decimals_survive_too() {
        let odd = vec![std::f64::consts::PI, -0.0, 1e300, f64::INFINITY];
        let mut writer = ColumnWriter::default();
        writer.decimals(&odd);
        writer.short_decimals(&[0.9, 1.1, 12.0]);
        writer.decimals(&[-0.0]);
        let bytes = writer.finish();
        let mut reader = ColumnReader::new(&bytes);
        assert_eq!(reader.decimals(4), Some(odd));
        assert_eq!(reader.short_decimals(3), Some(vec![0.9, 1.1, 12.0]));
        assert_eq!(reader.decimals(1).unwrap()[0].to_bits(), (-0.0_f64).to_bits());
    }

    proptest! {
        #[test]
        fn every_column_comes_back_bit_for_bit(
            numbers in prop::collection::vec(any::<f64>(), 0..40),
            decimals in prop::collection::vec(-1_800_000_000_i32..1_800_000_000, 0..40),
            whole in prop::collection::vec(any::<i64>(), 0..40),
            present in prop::collection::vec(any::<bool>(), 0..40),
        ) {
            let decimals: Vec<f64> = decimals.into_iter().map(|n| f64::from(n) / 1e7).collect();
            let whole: Vec<i128> = whole.into_iter().map(i128::from).collect();
            let mut writer = ColumnWriter::default();
            writer.decimals(&numbers);
            writer.decimals(&decimals);
            writer.integers(&whole);
            writer.presence(present.iter().copied());
            let bytes = writer.finish();
            let mut reader = ColumnReader::new(&bytes);
            let bits = |column: Vec<f64>| column.into_iter().map(f64::to_bits).collect::<Vec<_>>();
            prop_assert_eq!(bits(reader.decimals(numbers.len()).unwrap()), bits(numbers));
            prop_assert_eq!(reader.decimals(decimals.len()).unwrap(), decimals);
            prop_assert_eq!(reader.integers(whole.len()).unwrap(), whole);
            prop_assert_eq!(reader.presence(present.len()).unwrap(), present);
        }

        #[test]
        fn no_bytes_make_it_panic(bytes in prop::collection::vec(any::<u8>(), 0..200), count in 0_usize..500) {
            let mut reader = ColumnReader::new(&bytes);
            let _ = reader.decimals(count);
            let _ = reader.integers(count);
            let _ = reader.presence(count);
            let _ = reader.short_decimals(count);
            let _ = reader.steps(count);
            let _ = reader.text();
        }

        #[test]
        fn fast_columns_are_read_back(
            whole in prop::collection::vec(any::<i64>(), 0..40),
            numbers in prop::collection::vec(any::<f64>(), 0..40),
            words in ".{0,20}",
        ) {
            let mut writer = ColumnWriter::default();
            writer.steps(whole.iter().copied());
            writer.numbers(numbers.iter().copied());
            writer.text(&words);
            let bytes = writer.finish();
            let mut reader = ColumnReader::new(&bytes);
            let bits = |column: &[f64]| column.iter().map(|n| n.to_bits()).collect::<Vec<_>>();
            prop_assert_eq!(reader.steps(whole.len()).unwrap(), whole);
            prop_assert_eq!(bits(&reader.numbers(numbers.len()).unwrap()), bits(&numbers));
            prop_assert_eq!(reader.text().unwrap(), words);
        }
    }
}
