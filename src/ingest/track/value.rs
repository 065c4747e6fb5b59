//! Parses numbers and records the assumptions made: coordinates, elevations, dilutions of
//! precision, satellites and fix types. Refuses ambiguous values. Layer: `ingest`.

use crate::model::FixKind;

/// A number as written in a file.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct ReadNumber {
    /// The number.
    pub(super) value: f64,
    /// Whether the decimal mark was a comma.
    pub(super) comma: bool,
    /// Whether a unit followed.
    pub(super) unit: bool,
}

/// A latitude or longitude in decimal degrees. A single decimal comma is taken: read as a separator
/// of thousands it would lie off the globe, or be no separator at all.
pub(super) fn coordinate(text: &str) -> Option<ReadNumber> {
    number(text.trim())
}

/// A length in metres. `1,234` could mean either of two, so a comma before exactly three digits is
/// refused unless the file is known to write decimal commas.
pub(super) fn height(text: &str, file_uses_commas: bool) -> Option<ReadNumber> {
    let text = text.trim();
    let bare = text.strip_suffix(['m', 'M']).or_else(|| text.strip_suffix("metres"));
    let read = number(bare.unwrap_or(text).trim_end())?;
    if read.comma && !file_uses_commas && reads_as_thousands(bare.unwrap_or(text)) {
        return None;
    }
    Some(ReadNumber { unit: bare.is_some(), ..read })
}

/// A dilution of precision: no unit, not negative.
pub(super) fn dilution(text: &str) -> Option<ReadNumber> {
    number(text.trim()).filter(|read| (0.0..1e6).contains(&read.value))
}

/// A number of satellites.
pub(super) fn satellites(text: &str) -> Option<u8> {
    let text = text.trim();
    text.parse().ok().or_else(|| {
        let value = number(text)?.value;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked")]
        ((0.0..256.0).contains(&value) && value.fract() == 0.0).then_some(value as u8)
    })
}

/// How a position was computed.
pub(super) fn fix_kind(text: &str) -> Option<FixKind> {
    const NAMES: [(&str, FixKind); 5] = [
        ("none", FixKind::None),
        ("2d", FixKind::TwoD),
        ("3d", FixKind::ThreeD),
        ("dgps", FixKind::Dgps),
        ("pps", FixKind::Pps),
    ];
    let text = text.trim();
    NAMES.iter().find(|(name, _)| name.eq_ignore_ascii_case(text)).map(|(_, kind)| *kind)
}

fn number(text: &str) -> Option<ReadNumber> {
    let finite = |value: &f64| value.is_finite();
    if let Ok(value) = text.parse() {
        return Some(value).filter(finite).map(|value| ReadNumber {
            value,
            comma: false,
            unit: false,
        });
    }
    let (whole, decimals) = text.split_once(',')?;
    if decimals.is_empty() || !decimals.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    if whole.contains(['.', 'e', 'E']) {
        return None;
    }
    let value = format!("{whole}.{decimals}").parse().ok().filter(finite)?;
    Some(ReadNumber { value, comma: true, unit: false })
}

fn reads_as_thousands(text: &str) -> bool {
    text.split_once(',').is_some_and(|(whole, after)| {
        after.trim_end().len() == 3 && !whole.trim_start_matches(['-', '+', '0']).is_empty()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn value(read: Option<ReadNumber>) -> Option<f64> {
        read.map(|read| read.value)
    }

    #[test]
    fn coordinates_are_read_with_spaces_and_decimal_commas() {
        assert_eq!(value(coordinate(" -42.5 ")), Some(-42.5));
        assert_eq!(value(coordinate("+1.5e1")), Some(15.0));
        let comma = coordinate("-42,876").unwrap();
        assert_eq!((comma.value, comma.comma), (-42.876, true));
        for text in ["", "1,2,3", "1.234,5", ",", "1,", "N 42.5", "inf", "NaN", "42.5.1", "1,-2"] {
            assert_eq!(coordinate(text), None, "{text}");
        }
    }

    #[test]
    fn a_height_may_carry_its_unit_but_not_two_meanings() {
        let with_unit = height("12 m", false).unwrap();
        assert_eq!((with_unit.value, with_unit.unit), (12.0, true));
        assert_eq!(value(height("12,5", false)), Some(12.5));
        assert_eq!(height("1,234", false), None);
        assert_eq!(value(height("1,234", true)), Some(1.234));
        assert_eq!(value(height("0,234", false)), Some(0.234));
        assert_eq!(height("12 ft", false), None);
        assert_eq!(height("m", false), None);
    }

    #[test]
    fn small_fields_are_read() {
        assert_eq!(value(dilution("1.2")), Some(1.2));
        assert_eq!(dilution("-1"), None);
        assert_eq!(satellites(" 12 "), Some(12));
        assert_eq!(satellites("7.0"), Some(7));
        assert_eq!(satellites("7.5"), None);
        assert_eq!(satellites("256"), None);
        assert_eq!(fix_kind("3D"), Some(FixKind::ThreeD));
        assert_eq!(fix_kind("4d"), None);
    }
}
