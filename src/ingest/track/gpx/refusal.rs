//! Describes a file that is not GPX from its first bytes or its first element. Layer: `ingest`.

use std::path::Path;

use crate::error::Error;
use crate::ingest::track::fault::shortened;
use crate::ingest::track::xml::first_local_name;

/// Whether a file that begins with these bytes is a GPX file written by trug.
#[must_use]
pub fn is_own_export(head: &[u8]) -> bool {
    let text = String::from_utf8_lossy(head);
    let root = text.split_once("<gpx").and_then(|(_, rest)| rest.split_once('>'));
    root.is_some_and(|(root, _)| root.contains("creator=\"trug "))
}

/// Whether a file that begins with these bytes is worth reading as GPX. A kilobyte or two is
/// enough.
#[must_use]
pub fn looks_like_gpx(head: &[u8]) -> bool {
    first_local_name(head).is_some_and(|name| {
        matches!(name.as_str(), "gpx" | "trk" | "trkseg" | "trkpt" | "rte" | "wpt")
    })
}

/// The refusal of a file whose first element has this name.
pub(super) fn by_element(path: &Path, name: &str, line: u64) -> Error {
    let seems = match name.rsplit(':').next().unwrap_or(name).to_ascii_lowercase().as_str() {
        "html" => "a web page",
        "svg" => "a drawing",
        "osm" => "an extract of a street map",
        _ => "XML of another format",
    };
    refusal(path, &format!("its first element is <{}>: {seems}", shortened(name)), None)
        .at_line(line)
}

/// The refusal of a file whose first element is named as in GPX and of another namespace.
pub(super) fn by_namespace(path: &Path, (name, namespace): (&str, &str), line: u64) -> Error {
    let why = format!(
        "its first element is <{name}> of the namespace \"{}\", which is another format than GPX 1.0 or 1.1",
        shortened(namespace)
    );
    let hint = "export the track as GPX 1.1; if it is GPX, correct xmlns in a copy of the file to \
                http://www.topografix.com/GPX/1/1";
    refusal(path, &why, Some(hint)).at_line(line)
}

/// The refusal of a file without any element.
pub(super) fn by_bytes(path: &Path, head: &[u8], utf32: bool) -> Error {
    if head.is_empty() {
        let hint = "copy it from the receiver again, or leave it out";
        return refusal(path, "it is empty", Some(hint));
    }
    if utf32 {
        let hint = "save a copy of it as UTF-8, then import the copy";
        return refusal(path, "it is written in UTF-32, which trug does not read", Some(hint));
    }
    refusal(path, &format!("it seems to be {}", seems(head)), None)
}

fn seems(head: &[u8]) -> String {
    const BEGINNINGS: [(&[u8], &str); 12] = [
        (b"\xFF\xD8\xFF", "a JPEG photograph"),
        (b"\x89PNG", "a PNG picture"),
        (b"GIF8", "a GIF picture"),
        (b"II*\0", "a TIFF or raw photograph"),
        (b"MM\0*", "a TIFF or raw photograph"),
        (b"PK\x03\x04", "a ZIP archive"),
        (b"\x1F\x8B", "a gzip archive"),
        (b"%PDF", "a PDF document"),
        (b"SQLite format 3\0", "a database, perhaps a GeoPackage"),
        (b"$G", "a log of NMEA sentences"),
        (b"{", "a JSON document"),
        (b"[", "a JSON document"),
    ];
    if let Some((_, name)) = BEGINNINGS.iter().find(|(bytes, _)| head.starts_with(bytes)) {
        return (*name).to_owned();
    }
    if head.get(4..8) == Some(b"ftyp") {
        return "a HEIF photograph or a video".to_owned();
    }
    let odd = head.iter().filter(|&&byte| byte < 9 || (14..32).contains(&byte)).count();
    if odd * 20 > head.len() {
        return "binary data".to_owned();
    }
    let text = String::from_utf8_lossy(head);
    let line = text.trim_start().lines().next().unwrap_or_default();
    if line.is_empty() {
        return "blank".to_owned();
    }
    format!("text that begins \"{}\"", shortened(line))
}

fn refusal(path: &Path, why: &str, hint: Option<&str>) -> Error {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
    Error::input(format!("{name} is not a GPX file"))
        .because(why)
        .hint(hint.unwrap_or("export the track from the receiver as GPX"))
        .in_file(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gpx_is_known_by_its_first_element() {
        assert!(looks_like_gpx(b"<?xml version='1.0'?><!-- <kml> -->\n<gpx version='1.1'>"));
        assert!(looks_like_gpx(b"\xEF\xBB\xBF<g:gpx xmlns:g='x'>"));
        assert!(looks_like_gpx(b"\xFF\xFE<\0g\0p\0x\0>\0"));
        assert!(looks_like_gpx(b"<!DOCTYPE gpx [<!ENTITY a '<b>'>]><gpx>"));
        assert!(!looks_like_gpx(b"<kml><gpx>"));
        assert!(!looks_like_gpx(b"number,place\n1,<gpx>"));
        assert!(!looks_like_gpx(b""));
        assert!(!looks_like_gpx(b"<"));
    }

    #[test]
    fn a_refusal_says_what_the_file_seems_to_be() {
        let why = |head: &[u8]| by_bytes(Path::new("a.gpx"), head, false).why().unwrap().to_owned();
        assert_eq!(why(b"\xFF\xD8\xFF\xE0"), "it seems to be a JPEG photograph");
        assert_eq!(why(b"\0\0\0\x18ftypheic"), "it seems to be a HEIF photograph or a video");
        assert_eq!(why(b"\x0E\x10\x01\x02\0\0\0\0"), "it seems to be binary data");
        assert_eq!(why(b"No,Date\n1,2"), "it seems to be text that begins \"No,Date\"");
        assert_eq!(why(b""), "it is empty");
        assert_eq!(why(b" \n \n"), "it seems to be blank");
    }
}
