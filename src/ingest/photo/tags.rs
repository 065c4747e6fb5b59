//! Reads the entries of an Exif directory: texts without padding, numbers without invalid
//! fractions. An invalid entry is `None`. Layer: `ingest`.

use exif::{Context, Exif, In, Tag, Value};

/// The entries of one photograph.
pub(super) struct Tags<'e>(pub(super) &'e Exif);

impl Tags<'_> {
    fn value(&self, tag: Tag) -> Option<&Value> {
        let own = self.0.get_field(tag, In::PRIMARY);
        // some programs write the entries of the Exif directory into the first one
        let first = || match tag {
            Tag(Context::Exif, number) => self.0.get_field(Tag(Context::Tiff, number), In::PRIMARY),
            _ => None,
        };
        own.or_else(first).map(|field| &field.value)
    }

    /// A text without padding; `None` where it is absent or blank.
    pub(super) fn text(&self, tag: Tag) -> Option<String> {
        let bytes = match self.value(tag)? {
            Value::Ascii(parts) => parts.first()?,
            Value::Byte(bytes) | Value::Undefined(bytes, _) => bytes,
            _ => return None,
        };
        let end = bytes.iter().position(|&byte| byte == 0).unwrap_or(bytes.len());
        let text = decoded(&bytes[..end]);
        let text = text.trim_matches(|c: char| c.is_whitespace() || c.is_control());
        (!text.is_empty()).then(|| text.to_owned())
    }

    /// The numbers of an entry; those with a zero denominator are NaN.
    pub(super) fn numbers(&self, tag: Tag) -> Option<Vec<f64>> {
        let over = |above: f64, below: f64| if below == 0.0 { f64::NAN } else { above / below };
        Some(match self.value(tag)? {
            Value::Rational(values) => {
                values.iter().map(|value| over(value.num.into(), value.denom.into())).collect()
            }
            Value::SRational(values) => {
                values.iter().map(|value| over(value.num.into(), value.denom.into())).collect()
            }
            Value::Float(values) => values.iter().map(|&value| value.into()).collect(),
            Value::Double(values) => values.clone(),
            Value::SShort(values) => values.iter().map(|&value| value.into()).collect(),
            Value::SLong(values) => values.iter().map(|&value| value.into()).collect(),
            value => value.iter_uint()?.map(f64::from).collect(),
        })
    }

    /// The first number of an entry, where it is finite.
    pub(super) fn number(&self, tag: Tag) -> Option<f64> {
        self.numbers(tag)?.first().copied().filter(|number| number.is_finite())
    }

    /// Whether the directory has such an entry at all.
    pub(super) fn has(&self, tag: Tag) -> bool {
        self.value(tag).is_some()
    }
}

/// Exif says ASCII; cameras write UTF-8 and Latin-1 as well.
fn decoded(bytes: &[u8]) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => encoding_rs::WINDOWS_1252.decode(bytes).0.into_owned(),
    }
}
