//! Reads every text in the metadata of a photograph, decoded as UTF-8, Latin-1 and UTF-16 in either order: for copies
//! that must not disclose a place. Neither the picture, nor maker notes, nor the GPS directory is read as text.
//! Layer: `ingest`.
//!
//! # References
//! CIPA DC-008-2023 (Exif 3.0), 4.6.5 and 4.7.2; PNG (third edition, W3C 2025), 11.3.3. Numbers of tags from memory.

use std::io::Read;

use exif::{Context, Field, Reader, Value};

/// The shortest text: a shortened code of a position.
const LEAST: usize = 6;
/// Bytes of a compressed text that are read.
const MOST_INFLATED: u64 = 1 << 20;
/// Maker notes, colour profile, times, fractions of seconds, offsets, serial numbers, the identity of the picture:
/// numbers that a camera writes.
const WRITTEN_BY_CAMERAS: [u16; 15] = [
    0x927c, 0x8773, 0x0132, 0x9003, 0x9004, 0x9010, 0x9011, 0x9012, 0x9290, 0x9291, 0x9292, 0xa420,
    0xa431, 0xa435, 0xc62f,
];

/// The texts in the metadata of a JPEG, PNG or TIFF; empty where there are none or the format is another one.
#[must_use]
pub fn texts(photograph: &[u8]) -> Vec<String> {
    let mut found = if photograph.starts_with(b"\xff\xd8") {
        of_jpeg(photograph)
    } else if photograph.starts_with(b"\x89PNG\r\n\x1a\n") {
        of_png(photograph)
    } else if photograph.starts_with(b"II*\0") || photograph.starts_with(b"MM\0*") {
        of_exif(photograph).unwrap_or_default()
    } else {
        Vec::new()
    };
    found.sort_unstable();
    found.dedup();
    found
}

/// Application segments and comments before the image data.
fn of_jpeg(file: &[u8]) -> Vec<String> {
    let mut found = Vec::new();
    let mut at = 2;
    while file.get(at) == Some(&0xff) {
        let marker = file.get(at + 1).copied().unwrap_or(0xda);
        if marker == 0xff {
            at += 1;
            continue;
        }
        if marker == 0x01 || (0xd0..=0xd7).contains(&marker) {
            at += 2;
            continue;
        }
        let long =
            file.get(at + 2..at + 4).map(|two| usize::from(u16::from_be_bytes([two[0], two[1]])));
        let content = long.and_then(|long| file.get(at + 4..at + 2 + long.max(2)));
        let (Some(content), false) = (content, marker == 0xda) else { break };
        if (0xe0..=0xef).contains(&marker) || marker == 0xfe {
            found.extend(of_segment(content));
        }
        at += 4 + content.len();
    }
    found
}

fn of_segment(content: &[u8]) -> Vec<String> {
    if let Some(block) = content.strip_prefix(b"Exif\0\0") {
        return of_exif(block).unwrap_or_else(|| decoded(block));
    }
    // colour profiles and directories of further pictures hold no text of a person
    if content.starts_with(b"ICC_PROFILE\0") || content.starts_with(b"MPF\0") {
        return Vec::new();
    }
    decoded(content)
}

fn of_png(file: &[u8]) -> Vec<String> {
    let mut found = Vec::new();
    let mut at = 8;
    while let Some(head) = file.get(at..at + 8) {
        let long = u32::from_be_bytes([head[0], head[1], head[2], head[3]]) as usize;
        let Some(content) = file.get(at + 8..(at + 8).saturating_add(long)) else { break };
        match &head[4..] {
            b"eXIf" => found.extend(of_exif(content).unwrap_or_else(|| decoded(content))),
            b"tEXt" => found.extend(decoded(content)),
            b"iTXt" | b"zTXt" => {
                let packed = inflated(content);
                found.extend(decoded(if packed.is_empty() { content } else { &packed }));
            }
            _ => {}
        }
        at += 12 + long;
    }
    found
}

/// The compressed part of a text chunk, which begins behind one of its first zeros.
fn inflated(content: &[u8]) -> Vec<u8> {
    let zeros = content.iter().enumerate().filter(|(_, byte)| **byte == 0).map(|(at, _)| at);
    let starts = zeros.take(6).flat_map(|zero| [zero + 1, zero + 2]);
    for from in starts {
        let Some(packed) = content.get(from..).filter(|packed| packed.first() == Some(&0x78))
        else {
            continue;
        };
        let mut out = Vec::new();
        let reader = flate2::read::ZlibDecoder::new(packed);
        // what could be read before an error counts
        let _ = reader.take(MOST_INFLATED).read_to_end(&mut out);
        if !out.is_empty() {
            return out;
        }
    }
    Vec::new()
}

/// The texts of an Exif block; `None` where it cannot be read.
fn of_exif(block: &[u8]) -> Option<Vec<String>> {
    let mut reader = Reader::new();
    reader.continue_on_error(true);
    let read = reader.read_raw(block.to_vec());
    // what a damaged block keeps is copied entry by entry, and read here the same way
    let exif = read.or_else(|error| error.distill_partial_result(|_| ())).ok()?;
    Some(exif.fields().flat_map(|field| of_field(field, exif.little_endian())).collect())
}

fn of_field(field: &Field, little_endian: bool) -> Vec<String> {
    let Field { tag, value, .. } = field;
    if tag.context() == Context::Gps || WRITTEN_BY_CAMERAS.contains(&tag.number()) {
        return Vec::new();
    }
    match value {
        Value::Ascii(parts) => parts.iter().flat_map(|part| decoded(part)).collect(),
        Value::Byte(bytes) | Value::Undefined(bytes, _) => decoded(without_code(bytes)),
        // IPTC in TIFF is often written as whole numbers
        Value::Long(all) if all.len() > 1 => {
            let bytes =
                |four: &u32| if little_endian { four.to_le_bytes() } else { four.to_be_bytes() };
            decoded(&all.iter().flat_map(bytes).collect::<Vec<u8>>())
        }
        _ => Vec::new(),
    }
}

/// A user comment without the code of its characters, which is often wrong.
fn without_code(bytes: &[u8]) -> &[u8] {
    const CODES: [&[u8]; 3] = [b"UNICODE\0", b"ASCII\0\0\0", b"JIS\0\0\0\0\0"];
    CODES.iter().find_map(|code| bytes.strip_prefix(*code)).unwrap_or(bytes)
}

/// The runs of printable characters with a digit or a slash in them.
fn decoded(bytes: &[u8]) -> Vec<String> {
    let is_break = |byte: &u8| *byte < 0x20 && !b"\t\n\r".contains(byte) || *byte == 0x7f;
    let mut found: Vec<String> = bytes.split(is_break).map(narrow).collect();
    // Latin text in two bytes per character has zeros
    if bytes.contains(&0) {
        for order in [u16::from_le_bytes, u16::from_be_bytes] {
            for skip in [0, 1] {
                found.extend(wide(bytes.get(skip..).unwrap_or_default(), order));
            }
        }
    }
    let unescaped = found.iter().filter(|text| text.contains('&'));
    let unescaped = unescaped.filter_map(|text| quick_xml::escape::unescape(text).ok());
    let unescaped: Vec<String> = unescaped.map(std::borrow::Cow::into_owned).collect();
    found.extend(unescaped);
    found.retain(|text| {
        text.chars().count() >= LEAST && text.contains(|c: char| c.is_numeric() || c == '/')
    });
    found
}

/// UTF-8, or one byte per character.
fn narrow(bytes: &[u8]) -> String {
    std::str::from_utf8(bytes)
        .map_or_else(|_| bytes.iter().copied().map(char::from).collect(), str::to_owned)
}

fn wide(bytes: &[u8], order: fn([u8; 2]) -> u16) -> Vec<String> {
    let pairs = bytes.chunks_exact(2).map(|pair| order([pair[0], pair[1]]));
    let letters = char::decode_utf16(pairs).map(|letter| letter.unwrap_or('\0'));
    let text: String = letters.collect();
    let is_break = |letter: char| letter.is_control() && !letter.is_whitespace();
    text.split(is_break).map(str::to_owned).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOTE: &str = "47\u{b0} 18.809' N 11\u{b0} 24.747' E";

    fn block(tag: u16, value: &[u8]) -> Vec<u8> {
        let mut block = b"II*\0\x08\0\0\0\x01\0".to_vec();
        block.extend(tag.to_le_bytes());
        block.extend(7_u16.to_le_bytes());
        block.extend(u32::try_from(value.len()).unwrap().to_le_bytes());
        block.extend([26, 0, 0, 0, 0, 0, 0, 0]);
        block.extend(value);
        block
    }

    fn jpeg(segments: &[(u8, Vec<u8>)]) -> Vec<u8> {
        let mut file = b"\xff\xd8".to_vec();
        for (marker, content) in segments {
            file.extend([0xff, *marker]);
            file.extend(u16::try_from(content.len() + 2).unwrap().to_be_bytes());
            file.extend(content);
        }
        [&file[..], b"\xff\xda\0\x02 52.5103 13.3927"].concat()
    }

    #[test]
    fn texts_are_read_in_every_encoding() {
        let little: Vec<u8> = NOTE.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let big: Vec<u8> = NOTE.encode_utf16().flat_map(u16::to_be_bytes).collect();
        let latin: Vec<u8> = NOTE.chars().map(|letter| u8::try_from(letter).unwrap()).collect();
        for bytes in [NOTE.as_bytes(), &little, &big, &latin] {
            let comment = [b"UNICODE\0", bytes].concat();
            let exif = block(0x9286, &comment);
            let in_jpeg = jpeg(&[(0xe1, [b"Exif\0\0", &exif[..]].concat())]);
            for file in [exif, in_jpeg, jpeg(&[(0xfe, bytes.to_vec())])] {
                let found = texts(&file);
                assert!(found.iter().any(|text| text.contains(NOTE)), "{found:?}");
                assert!(!found.iter().any(|text| text.contains("52.5103")), "{found:?}");
            }
        }
    }

    #[test]
    fn maker_notes_and_damaged_files_are_no_texts() {
        assert!(texts(&block(0x927c, NOTE.as_bytes())).is_empty());
        let file = jpeg(&[(0xfe, NOTE.into()), (0xe1, block(0x010e, NOTE.as_bytes()))]);
        for end in 0..file.len() {
            let _ = texts(&file[..end]);
        }
    }

    #[test]
    fn a_compressed_text_of_a_png_is_read() {
        let mut packed = flate2::write::ZlibEncoder::new(Vec::new(), flate2::Compression::best());
        std::io::Write::write_all(&mut packed, NOTE.as_bytes()).unwrap();
        let content = [b"Comment\0\0", &packed.finish().unwrap()[..]].concat();
        let mut file = b"\x89PNG\r\n\x1a\n".to_vec();
        file.extend(u32::try_from(content.len()).unwrap().to_be_bytes());
        file.extend(b"zTXt");
        file.extend(content);
        assert_eq!(texts(&file), [NOTE]);
    }
}
