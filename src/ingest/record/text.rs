//! Decodes the bytes of a table: byte-order marks, UTF-8, UTF-16 with or without a mark, otherwise
//! windows-1252 (a superset of Latin-1) or windows-1250 (Central Europe), whichever gives more known
//! headings. Refuses bytes that are not text. Layer: `ingest`.

use encoding_rs::{Encoding, UTF_8, UTF_16BE, UTF_16LE, WINDOWS_1250, WINDOWS_1252};

use super::headings;

/// The lines and bytes in which headings are looked for.
const FRONT: (usize, usize) = (20, 4_096);

/// The text of a file; `None` where it is not text.
pub(in crate::ingest) fn decoded(bytes: &[u8]) -> Option<String> {
    if let Some((encoding, mark)) = Encoding::for_bom(bytes) {
        return Some(encoding.decode_without_bom_handling(&bytes[mark..]).0.into_owned());
    }
    if let Some(encoding) = unmarked_utf16(bytes) {
        return Some(encoding.decode_without_bom_handling(bytes).0.into_owned());
    }
    if bytes.contains(&0) {
        return None;
    }
    let (text, _, broken) = UTF_8.decode(bytes);
    if !broken {
        return Some(text.into_owned());
    }
    let encoding = eight_bit(&bytes[..bytes.len().min(FRONT.1)]);
    let text = encoding.decode_without_bom_handling(bytes).0;
    let odd = text.chars().filter(|&c| c.is_control() && !c.is_whitespace()).count();
    (odd * 50 <= text.chars().count()).then(|| text.into_owned())
}

/// The encoding of one byte a letter that gives more known headings; windows-1252 where both give as many.
fn eight_bit(front: &[u8]) -> &'static Encoding {
    let known = |encoding: &'static Encoding| {
        let text = encoding.decode_without_bom_handling(front).0;
        let cells = text.lines().take(FRONT.0).flat_map(|line| line.split([';', ',', '\t']));
        cells.filter(|cell| headings::column(cell.trim_matches([' ', '"'])).is_some()).count()
    };
    if known(WINDOWS_1250) > known(WINDOWS_1252) { WINDOWS_1250 } else { WINDOWS_1252 }
}

/// In Western text every other byte of UTF-16 is zero.
fn unmarked_utf16(bytes: &[u8]) -> Option<&'static Encoding> {
    let front = &bytes[..bytes.len().min(512) & !1];
    let pairs = front.len() / 2;
    let zeros = |offset: usize| front.iter().skip(offset).step_by(2).filter(|&&b| b == 0).count();
    let (high, low) = (zeros(0), zeros(1));
    if pairs < 4 {
        None
    } else if high * 10 >= pairs * 9 && low == 0 {
        Some(UTF_16BE)
    } else if low * 10 >= pairs * 9 && high == 0 {
        Some(UTF_16LE)
    } else {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_encoding_gives_the_same_text() {
        let text = "no;place\n1;\u{d6}dwald, caf\u{e9}\n";
        let utf16: Vec<u8> = text.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let utf16_be: Vec<u8> = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        let latin: Vec<u8> = text.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect();
        for bytes in [
            text.as_bytes().to_vec(),
            [b"\xef\xbb\xbf", text.as_bytes()].concat(),
            [b"\xff\xfe", &utf16[..]].concat(),
            [b"\xfe\xff", &utf16_be[..]].concat(),
            utf16,
            utf16_be,
            latin,
        ] {
            assert_eq!(decoded(&bytes).as_deref(), Some(text));
        }
    }

    #[test]
    fn headings_decide_between_west_and_centre() {
        // "Č.;Datum;Čas;Lokalita" and a place in windows-1250
        let czech = b"\xc8.;Datum;\xc8as;Lokalita\r\n1;3.5.2026;9:10;P\xf8\xedkop\r\n";
        let text = decoded(czech).unwrap();
        assert!(text.starts_with("\u{10c}.;Datum;\u{10c}as") && text.contains("P\u{159}\u{ed}kop"));
        let french = b"N\xb0;Date;Heure;Esp\xe8ce\r\n1;3.5.2026;9:10;\xe0 voir\r\n";
        assert!(decoded(french).unwrap().contains("Esp\u{e8}ce"));
    }

    #[test]
    fn bytes_that_are_no_text_are_refused() {
        assert_eq!(decoded(b"PK\x03\x04\0\0\x08\0"), None);
        assert_eq!(decoded(&[0x80, 0x01, 0x02, 0x03, 0x04, 0x9f]), None);
        assert_eq!(decoded(b"").as_deref(), Some(""));
    }
}
