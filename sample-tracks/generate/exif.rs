//! Writes the header of a photograph as specified by Exif 2.32: a little-endian TIFF with a main,
//! an Exif and a GPS directory.

use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;

/// The header values of one exposure.
pub(crate) struct Header {
    pub(crate) make: &'static str,
    pub(crate) model: &'static str,
    pub(crate) serial: &'static str,
    /// The camera's wall clock.
    pub(crate) taken: DateTime,
    /// Hundredths of a second.
    pub(crate) hundredths: u8,
    /// The offset that the camera writes, `+10:00`.
    pub(crate) offset: Option<&'static str>,
    pub(crate) size: (u16, u16),
    pub(crate) gps: Option<GpsPart>,
}

/// What the phone's own receiver adds.
pub(crate) struct GpsPart {
    pub(crate) latitude: f64,
    pub(crate) longitude: f64,
    pub(crate) height: f64,
    pub(crate) time: Timestamp,
    /// Degrees from magnetic north.
    pub(crate) direction: f64,
    /// The device's own estimate of its error, metres.
    pub(crate) error: f64,
}

const BYTE: u16 = 1;
const ASCII: u16 = 2;
const SHORT: u16 = 3;
const LONG: u16 = 4;
const RATIONAL: u16 = 5;
const UNDEFINED: u16 = 7;

struct Entry {
    tag: u16,
    kind: u16,
    count: u32,
    data: Vec<u8>,
}

impl Entry {
    fn new(tag: u16, kind: u16, count: usize, data: Vec<u8>) -> Self {
        Self { tag, kind, count: count as u32, data }
    }

    fn text(tag: u16, text: &str) -> Self {
        let mut data = text.as_bytes().to_vec();
        data.push(0);
        Self::new(tag, ASCII, data.len(), data)
    }

    fn short(tag: u16, value: u16) -> Self {
        Self::new(tag, SHORT, 1, value.to_le_bytes().to_vec())
    }

    fn long(tag: u16, value: u32) -> Self {
        Self::new(tag, LONG, 1, value.to_le_bytes().to_vec())
    }

    fn rationals(tag: u16, parts: &[(u32, u32)]) -> Self {
        let data = parts.iter().flat_map(|(a, b)| [a.to_le_bytes(), b.to_le_bytes()]).flatten();
        Self::new(tag, RATIONAL, parts.len(), data.collect())
    }
}

/// The content of an APP1 segment: the marker text and the TIFF behind it.
pub(crate) fn segment(header: &Header) -> Vec<u8> {
    let main_length = |gps: bool| 2 + 12 * (9 + usize::from(gps)) + 4;
    let has_gps = header.gps.is_some();
    let mut tiff = b"II\x2a\0\x08\0\0\0".to_vec();
    let main_at = 8;
    let main_data_at = main_at + main_length(has_gps);
    // the sub-directories follow the main one, whose own data come first
    let main_data: usize = main(header, 0, 0).iter().map(outside).sum();
    let exif_at = main_data_at + main_data;
    let exif_bytes = directory(&exposure(header), exif_at);
    let gps_at = exif_at + exif_bytes.len();
    tiff.extend(directory(&main(header, exif_at as u32, gps_at as u32), main_at));
    tiff.extend(exif_bytes);
    if let Some(part) = &header.gps {
        tiff.extend(directory(&position(part), gps_at));
    }
    [b"Exif\0\0".as_slice(), &tiff].concat()
}

fn main(header: &Header, exif_at: u32, gps_at: u32) -> Vec<Entry> {
    let mut entries = vec![
        Entry::text(0x010f, header.make),
        Entry::text(0x0110, header.model),
        Entry::short(0x0112, 1),
        Entry::rationals(0x011a, &[(72, 1)]),
        Entry::rationals(0x011b, &[(72, 1)]),
        Entry::short(0x0128, 2),
        Entry::text(0x0132, &exif_time(header.taken)),
        Entry::short(0x0213, 1),
        Entry::long(0x8769, exif_at),
    ];
    if header.gps.is_some() {
        entries.push(Entry::long(0x8825, gps_at));
    }
    entries
}

fn exposure(header: &Header) -> Vec<Entry> {
    let when = exif_time(header.taken);
    let mut entries = vec![
        Entry::rationals(0x829a, &[(1, 60)]),
        Entry::rationals(0x829d, &[(56, 10)]),
        Entry::short(0x8827, 800),
        Entry::new(0x9000, UNDEFINED, 4, b"0232".to_vec()),
        Entry::text(0x9003, &when),
        Entry::text(0x9004, &when),
    ];
    if let Some(offset) = header.offset {
        entries.extend([0x9010, 0x9011, 0x9012].map(|tag| Entry::text(tag, offset)));
    }
    entries.push(Entry::text(0x9291, &format!("{:02}", header.hundredths)));
    entries.push(Entry::short(0xa002, header.size.0));
    entries.push(Entry::short(0xa003, header.size.1));
    entries.push(Entry::text(0xa431, header.serial));
    entries
}

fn position(part: &GpsPart) -> Vec<Entry> {
    let utc = TimeZone::UTC.to_datetime(part.time);
    let hundredths = |value: f64| ((value.abs() * 100.0).round() as u32, 100);
    vec![
        Entry::new(0, BYTE, 4, vec![2, 3, 0, 0]),
        Entry::text(1, if part.latitude < 0.0 { "S" } else { "N" }),
        Entry::rationals(2, &sexagesimal(part.latitude)),
        Entry::text(3, if part.longitude < 0.0 { "W" } else { "E" }),
        Entry::rationals(4, &sexagesimal(part.longitude)),
        Entry::new(5, BYTE, 1, vec![0]),
        Entry::rationals(6, &[hundredths(part.height)]),
        Entry::rationals(7, &[utc.hour(), utc.minute(), utc.second()].map(|n| (n as u32, 1))),
        Entry::text(0x10, "M"),
        Entry::rationals(0x11, &[hundredths(part.direction)]),
        Entry::text(0x1d, &utc.strftime("%Y:%m:%d").to_string()),
        Entry::rationals(0x1f, &[hundredths(part.error)]),
    ]
}

/// Degrees, minutes and ten-thousandths of seconds.
fn sexagesimal(degrees: f64) -> [(u32, u32); 3] {
    let total = (degrees.abs() * 36_000_000.0).round() as u64;
    let (degrees, rest) = (total / 36_000_000, total % 36_000_000);
    [(degrees as u32, 1), ((rest / 600_000) as u32, 1), ((rest % 600_000) as u32, 10_000)]
}

fn exif_time(when: DateTime) -> String {
    when.strftime("%Y:%m:%d %H:%M:%S").to_string()
}

/// How many bytes of an entry's data do not fit into the entry itself, padded to an even number.
fn outside(entry: &Entry) -> usize {
    if entry.data.len() > 4 { entry.data.len().next_multiple_of(2) } else { 0 }
}

fn directory(entries: &[Entry], at: usize) -> Vec<u8> {
    let mut table = (entries.len() as u16).to_le_bytes().to_vec();
    let mut data = Vec::new();
    let data_at = at + 2 + 12 * entries.len() + 4;
    for entry in entries {
        table.extend(entry.tag.to_le_bytes());
        table.extend(entry.kind.to_le_bytes());
        table.extend(entry.count.to_le_bytes());
        if outside(entry) == 0 {
            let mut value = entry.data.clone();
            value.resize(4, 0);
            table.extend(value);
        } else {
            table.extend(((data_at + data.len()) as u32).to_le_bytes());
            data.extend(&entry.data);
            data.resize(data.len().next_multiple_of(2), 0);
        }
    }
    table.extend([0; 4]);
    [table, data].concat()
}
