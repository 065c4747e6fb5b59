//! Writes GPX as receivers do: 1.1 with dilution of precision, 1.0 with speeds, a file truncated by
//! an empty battery; and KML with a track and marked places.

use std::fmt::Write;

use jiff::Timestamp;

use crate::receiver::Recorded;

/// A marked place.
pub(crate) struct Mark {
    pub(crate) name: String,
    pub(crate) fix: Recorded,
    pub(crate) comment: Option<&'static str>,
}

pub(crate) const RECEIVER: &str = "Pademelon Instruments PR-1";
pub(crate) const PHONE: &str = "Bandicoot B5 track recorder";

/// GPX 1.1.
pub(crate) fn gpx_1_1(
    creator: &str,
    name: &str,
    fixes: &[Recorded],
    marks: &[Mark],
    when: impl Fn(usize) -> Timestamp,
) -> String {
    let mut text = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<gpx version=\"1.1\" creator=\"{creator}\" \
         xmlns=\"http://www.topografix.com/GPX/1/1\">\n"
    );
    for mark in marks {
        let (latitude, longitude) = mark.fix.at.degrees();
        let _ = write!(
            text,
            "<wpt lat=\"{latitude:.7}\" lon=\"{longitude:.7}\"><ele>{:.1}</ele><time>{}</time>\
             <name>{}</name>",
            mark.fix.height,
            when(mark.fix.second),
            mark.name
        );
        if let Some(comment) = mark.comment {
            let _ = write!(text, "<cmt>{comment}</cmt>");
        }
        text.push_str("</wpt>\n");
    }
    let _ = writeln!(text, "<trk><name>{name}</name><trkseg>");
    for fix in fixes {
        if fix.after_gap {
            text.push_str("</trkseg><trkseg>\n");
        }
        let (latitude, longitude) = fix.at.degrees();
        let _ = writeln!(
            text,
            "<trkpt lat=\"{latitude:.7}\" lon=\"{longitude:.7}\"><ele>{:.1}</ele><time>{}</time>\
             <sat>{}</sat><hdop>{:.1}</hdop></trkpt>",
            fix.height,
            when(fix.second),
            fix.satellites,
            fix.hdop
        );
    }
    text.push_str("</trkseg></trk>\n</gpx>\n");
    text
}

/// GPX 1.0 with one fix at the origin of all coordinates, cut short in the middle of its last
/// point.
pub(crate) fn gpx_1_0_cut_short(
    name: &str,
    fixes: &[Recorded],
    when: impl Fn(usize) -> Timestamp,
) -> String {
    let mut text = format!(
        "<?xml version=\"1.0\"?>\n<gpx version=\"1.0\" creator=\"{RECEIVER}\" \
         xmlns=\"http://www.topografix.com/GPX/1/0\">\n<trk><name>{name}</name><trkseg>\n"
    );
    for (count, fix) in fixes.iter().enumerate() {
        let (latitude, longitude) = if count == 9 { (0.0, 0.0) } else { fix.at.degrees() };
        let _ = writeln!(
            text,
            "<trkpt lat=\"{latitude:.6}\" lon=\"{longitude:.6}\"><ele>{:.0}</ele>\
             <time>{}</time></trkpt>",
            fix.height,
            when(fix.second)
        );
    }
    text.truncate(text.trim_end().len() - 31);
    text
}

/// KML 2.3: a `MultiTrack` with a `Track` for each piece, and the marked places.
pub(crate) fn kml(
    name: &str,
    fixes: &[Recorded],
    marks: &[Mark],
    when: impl Fn(usize) -> Timestamp,
) -> String {
    let mut text = format!(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<kml xmlns=\"http://www.opengis.net/kml/2.3\">\n\
         <Document><name>{name}</name>\n"
    );
    for mark in marks {
        let (latitude, longitude) = mark.fix.at.degrees();
        let _ = writeln!(
            text,
            "<Placemark><name>{}</name><TimeStamp><when>{}</when></TimeStamp>\
             <Point><coordinates>{longitude:.7},{latitude:.7},{:.1}</coordinates></Point></Placemark>",
            mark.name,
            when(mark.fix.second),
            mark.fix.height
        );
    }
    let _ = writeln!(text, "<Placemark><name>{name}</name><MultiTrack>");
    let mut piece: Vec<&Recorded> = Vec::new();
    for fix in fixes {
        if fix.after_gap && !piece.is_empty() {
            kml_piece(&mut text, &piece, &when);
            piece.clear();
        }
        piece.push(fix);
    }
    kml_piece(&mut text, &piece, &when);
    text.push_str("</MultiTrack></Placemark>\n</Document></kml>\n");
    text
}

/// Times first, then as many coordinates.
fn kml_piece(text: &mut String, piece: &[&Recorded], when: &impl Fn(usize) -> Timestamp) {
    text.push_str("<Track>\n");
    for fix in piece {
        let _ = writeln!(text, "<when>{}</when>", when(fix.second));
    }
    for fix in piece {
        let (latitude, longitude) = fix.at.degrees();
        let _ = writeln!(text, "<coord>{longitude:.7} {latitude:.7} {:.1}</coord>", fix.height);
    }
    text.push_str("</Track>\n");
}
