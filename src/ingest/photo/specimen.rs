//! Builds photographs in memory for the tests of this folder: an Exif block from entries, in each
//! of the containers, followed by a given number of bytes of image data. Layer: `ingest` (tests
//! only).

use std::io::{self, Cursor, Read, Seek, SeekFrom};
use std::path::Path;

use exif::experimental::Writer;
use exif::{Field, In, Rational, Tag, Value};

use crate::model::Photo;

pub(super) fn text(tag: Tag, text: &str) -> Field {
    Field { tag, ifd_num: In::PRIMARY, value: Value::Ascii(vec![text.as_bytes().to_vec()]) }
}

pub(super) fn fractions(tag: Tag, fractions: &[(u32, u32)]) -> Field {
    let values = fractions.iter().map(|&(num, denom)| Rational { num, denom }).collect();
    Field { tag, ifd_num: In::PRIMARY, value: Value::Rational(values) }
}

pub(super) fn byte(tag: Tag, byte: u8) -> Field {
    Field { tag, ifd_num: In::PRIMARY, value: Value::Byte(vec![byte]) }
}

/// An Exif block with these entries.
pub(super) fn block(fields: &[Field]) -> Vec<u8> {
    let mut writer = Writer::new();
    for field in fields {
        writer.push_field(field);
    }
    let mut block = Cursor::new(Vec::new());
    writer.write(&mut block, false).unwrap();
    block.into_inner()
}

/// A JPEG with this Exif block and then this much image data.
pub(super) fn jpeg(block: &[u8], picture: usize) -> Vec<u8> {
    let mut file = b"\xff\xd8\xff\xe1".to_vec();
    file.extend(u16::try_from(block.len() + 8).unwrap().to_be_bytes());
    file.extend(b"Exif\0\0");
    file.extend(block);
    file.extend(b"\xff\xda\0\x02");
    file.resize(file.len() + picture, 0x55);
    file.extend(b"\xff\xd9");
    file
}

/// A PNG with the Exif block after this much image data, in many chunks.
pub(super) fn png(block: &[u8], picture: usize) -> Vec<u8> {
    let mut file = b"\x89PNG\r\n\x1a\n".to_vec();
    let mut chunk = |kind: &[u8], body: &[u8]| {
        file.extend(u32::try_from(body.len()).unwrap().to_be_bytes());
        file.extend(kind);
        file.extend(body);
        file.extend([0; 4]);
    };
    for _ in 0..picture / 8192 {
        chunk(b"IDAT", &[0x55; 8192]);
    }
    chunk(b"eXIf", block);
    chunk(b"IEND", b"");
    file
}

/// A WebP with the Exif block after this much image data.
pub(super) fn webp(block: &[u8], picture: usize) -> Vec<u8> {
    let mut file = b"RIFF\0\0\0\0WEBPVP8 ".to_vec();
    file.extend(u32::try_from(picture).unwrap().to_le_bytes());
    file.resize(file.len() + picture + (picture & 1), 0x55);
    file.extend(b"EXIF");
    file.extend(u32::try_from(block.len()).unwrap().to_le_bytes());
    file.extend(block);
    file
}

/// A HEIF file whose one item is the Exif block, before this much image data.
pub(super) fn heif(block: &[u8], picture: usize) -> Vec<u8> {
    fn boxed(kind: &[u8], body: &[u8]) -> Vec<u8> {
        let length = u32::try_from(body.len() + 8).unwrap();
        [&length.to_be_bytes(), kind, body].concat()
    }
    let ftyp = boxed(b"ftyp", b"heic\0\0\0\0mif1heic");
    let infe = boxed(b"infe", b"\x02\0\0\0\0\x01\0\0Exif\0");
    let iinf = boxed(b"iinf", &[b"\0\0\0\0\0\x01".as_slice(), &infe].concat());
    let meta = |at: usize| {
        let at = u32::try_from(at).unwrap().to_be_bytes();
        let length = u32::try_from(block.len() + 4).unwrap().to_be_bytes();
        let iloc = [b"\0\0\0\0\x44\0\0\x01\0\x01\0\0\0\x01".as_slice(), &at, &length].concat();
        boxed(b"meta", &[b"\0\0\0\0".as_slice(), &iinf, &boxed(b"iloc", &iloc)].concat())
    };
    let at = ftyp.len() + meta(0).len() + 8;
    let data = [&[0; 4], block, &vec![0x55; picture]].concat();
    [ftyp, meta(at), boxed(b"mdat", &data)].concat()
}

/// A source that counts what is read from it.
pub(super) struct Counted {
    bytes: Cursor<Vec<u8>>,
    pub(super) read: u64,
    pub(super) reads: u64,
}

impl Counted {
    pub(super) fn new(bytes: Vec<u8>) -> Self {
        Self { bytes: Cursor::new(bytes), read: 0, reads: 0 }
    }
}

impl Read for &mut Counted {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let count = self.bytes.read(into)?;
        self.read += count as u64;
        self.reads += 1;
        Ok(count)
    }
}

impl Seek for &mut Counted {
    fn seek(&mut self, to: SeekFrom) -> io::Result<u64> {
        self.bytes.seek(to)
    }
}

/// Reads a photograph from memory.
pub(super) fn read(file: &[u8]) -> Photo {
    super::read_from(Cursor::new(file), Path::new("P1004.JPG")).unwrap()
}
