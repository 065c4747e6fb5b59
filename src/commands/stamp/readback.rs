//! Reads finished copies and XMP files back, as somebody would who looks for the exact place, before they
//! are in place. Layer: `commands`.

use std::io::{self, Cursor, Read};
use std::path::Path;

use crate::commands::output::Staged;
use crate::ingest::photo;
use crate::present::sensitive::readback::Statement;
use crate::present::xmp::{self, Stamp};
use crate::units::LatLon;

/// The shortest run of characters that is read as text.
const LEAST: usize = 6;

/// What a finished file states: its position, as read by the photograph reader or from XMP, and every text in
/// it, in one byte or two per character.
///
/// # Errors
/// When it cannot be read, or states another position than the stamp.
pub(super) fn statement(file: &Staged, stamp: &Stamp) -> io::Result<Statement> {
    let mut bytes = Vec::new();
    file.open()?.read_to_end(&mut bytes)?;
    let positions = positions(&bytes);
    let stray = positions.iter().any(|at| !is_stamped(*at, stamp));
    if stray || (positions.is_empty() && stamp.generalised.is_some()) {
        return Err(io::Error::other("it states another position than the one to be published"));
    }
    Ok(Statement { find: None, number: None, positions, text: texts(&bytes) })
}

/// Equal to a millionth of a degree, the resolution of XMP.
fn is_stamped(at: LatLon, stamp: &Stamp) -> bool {
    let turned = (at.longitude() - stamp.at.longitude()).rem_euclid(360.0);
    (at.latitude() - stamp.at.latitude()).abs() < 1e-6 && turned.min(360.0 - turned) < 1e-6
}

fn positions(bytes: &[u8]) -> Vec<LatLon> {
    let header = photo::read_from(Cursor::new(bytes), Path::new("copy")).ok();
    let mut positions: Vec<LatLon> = header.and_then(|photo| photo.gps.at).into_iter().collect();
    positions.extend(xmp::positions(&String::from_utf8_lossy(bytes)));
    positions
}

/// All runs of printable characters, in one byte each or in two (UTF-16 in either order), one per line.
fn texts(bytes: &[u8]) -> String {
    let mut text = runs(bytes.iter().copied());
    for (skip, letter) in [(0, 0), (0, 1), (1, 0), (1, 1)] {
        let wide = bytes.get(skip..).unwrap_or_default().chunks_exact(2);
        let narrow = wide.map(|pair| if pair[1 - letter] == 0 { pair[letter] } else { 0 });
        text.push_str(&runs(narrow));
    }
    text
}

fn runs(bytes: impl Iterator<Item = u8>) -> String {
    let (mut all, mut run) = (Vec::new(), Vec::new());
    for byte in bytes.chain([0]) {
        // bytes above 127 belong to letters in UTF-8
        if byte >= 0x20 && byte != 0x7f {
            run.push(byte);
            continue;
        }
        if run.len() >= LEAST {
            all.append(&mut run);
            all.push(b'\n');
        }
        run.clear();
    }
    String::from_utf8_lossy(&all).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn texts_of_both_widths_are_found() {
        let wide: Vec<u8> = "-42.61234 146.09".encode_utf16().flat_map(u16::to_be_bytes).collect();
        let bytes = [b"\xff\xd8\0abc\0Wren Gully\0\x01", &wide[..]].concat();
        let text = texts(&bytes);
        assert!(text.contains("Wren Gully\n") && text.contains("-42.61234 146.09"), "{text:?}");
        assert!(!text.lines().any(|line| line == "abc"), "{text:?}");
    }
}
