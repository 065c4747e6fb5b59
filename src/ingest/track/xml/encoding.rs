//! Detects the encoding of a file from its byte-order mark, the zeros of UTF-16 or the XML
//! declaration; UTF-8 by default. Refuses UTF-32. Layer: `ingest`.

use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE};

/// The bytes inspected before decoding.
pub(in crate::ingest::track) const HEAD: usize = 1024;

/// The encoding detected from the head of a file.
pub(in crate::ingest::track) struct Detected {
    /// The encoding to decode with.
    pub(in crate::ingest::track) encoding: &'static Encoding,
    /// The length of the byte-order mark, which is no text.
    pub(in crate::ingest::track) mark: usize,
    /// An unknown encoding that the file declares.
    pub(in crate::ingest::track) unknown: Option<String>,
}

/// The encoding of a file that begins with these bytes; `None` for UTF-32.
///
/// # References
/// W3C, Extensible Markup Language (XML) 1.0, 5th edition, appendix F; labels by the WHATWG
/// Encoding Standard (`iso-8859-1` therefore means windows-1252).
pub(in crate::ingest::track) fn detect(head: &[u8]) -> Option<Detected> {
    let known = |encoding, mark| Some(Detected { encoding, mark, unknown: None });
    match head {
        [0, 0, 0xFE, 0xFF, ..]
        | [0xFF, 0xFE, 0, 0, ..]
        | [0, 0, 0, b'<', ..]
        | [b'<', 0, 0, 0, ..] => None,
        [0xEF, 0xBB, 0xBF, ..] => known(UTF_8, 3),
        [0xFF, 0xFE, ..] => known(UTF_16LE, 2),
        [0xFE, 0xFF, ..] => known(UTF_16BE, 2),
        [first, 0, _, 0, ..] if *first != 0 => known(UTF_16LE, 0),
        [0, second, 0, ..] if *second != 0 => known(UTF_16BE, 0),
        _ => Some(declared(head)),
    }
}

fn declared(head: &[u8]) -> Detected {
    let utf8 = |unknown| Detected { encoding: UTF_8, mark: 0, unknown };
    let Some(label) = declared_label(head) else { return utf8(None) };
    match Encoding::for_label_no_replacement(label.as_bytes()) {
        // the declaration itself could be read byte by byte, so it is not two bytes a character
        Some(encoding) if encoding == UTF_16LE || encoding == UTF_16BE => utf8(None),
        Some(encoding) => Detected { encoding, mark: 0, unknown: None },
        None => utf8(Some(label)),
    }
}

/// The value of `encoding=` in the XML declaration.
fn declared_label(head: &[u8]) -> Option<String> {
    let start = head.iter().position(|byte| !byte.is_ascii_whitespace())?;
    let declaration = head[start..].strip_prefix(b"<?xml")?;
    let end = declaration.iter().position(|&byte| byte == b'>')?;
    let text = String::from_utf8_lossy(&declaration[..end]);
    let after = text.split_once("encoding")?.1.trim_start().strip_prefix('=')?.trim_start();
    let quote = after.chars().next().filter(|c| matches!(c, '"' | '\''))?;
    after[1..].split(quote).next().map(|label| label.trim().to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(head: &[u8]) -> &'static str {
        detect(head).map_or("none", |detected| detected.encoding.name())
    }

    #[test]
    fn marks_zeros_and_declarations_tell_the_encoding() {
        assert_eq!(name(b"\xEF\xBB\xBF<gpx"), "UTF-8");
        assert_eq!(name(b"\xFF\xFE<\0g\0"), "UTF-16LE");
        assert_eq!(name(b"\xFE\xFF\0<\0g"), "UTF-16BE");
        assert_eq!(name(b"<\0?\0x\0"), "UTF-16LE");
        assert_eq!(name(b"\0<\0?\0x"), "UTF-16BE");
        assert_eq!(name(b"<?xml version='1.0' encoding='ISO-8859-1'?>"), "windows-1252");
        assert_eq!(name(b"<?xml version='1.0' encoding = \"Shift_JIS\" ?>"), "Shift_JIS");
        assert_eq!(name(b"<gpx encoding='koi8-r'>"), "UTF-8");
        assert_eq!(name(b""), "UTF-8");
        assert_eq!(name(b"<\0\0\0"), "none");
    }

    #[test]
    fn contradicted_encoding_declaration_is_ignored() {
        assert_eq!(name(b"<?xml version='1.0' encoding='utf-16'?>"), "UTF-8");
    }

    #[test]
    fn an_unknown_label_is_reported() {
        let detected = detect(b"<?xml version='1.0' encoding='martian-7'?>").unwrap();
        assert_eq!(detected.unknown.as_deref(), Some("martian-7"));
        assert_eq!(detected.encoding, UTF_8);
    }
}
