//! Draws the identifier of a record as a QR code (ISO/IEC 18004) of `URN:UUID:…`, in upper case, which
//! encodes more compactly and is equivalent (RFC 8141, 9562). Layer: `present`.

use std::fmt::Write;

use qrcode::{Color, EcLevel, QrCode};
use uuid::Uuid;

use crate::present::markup::Element;
use crate::present::style;
use crate::present::svg::{Point, short};

/// The code with its quiet zone; `side` in points.
pub(super) fn draw(id: Uuid, corner: Point, side: f64) -> Option<Element> {
    let words = words(id);
    let code = QrCode::with_error_correction_level(words.as_bytes(), EcLevel::M).ok()?;
    let modules = code.width();
    // the standard requires a quiet zone of four modules; the label margin provides the rest
    let dot = side / (modules + 4) as f64;
    let mut path = String::new();
    for (row, line) in code.to_colors().chunks(modules).enumerate() {
        for run in line.chunk_by(|a, b| a == b).scan(0, |at, run| {
            let start = *at;
            *at += run.len();
            Some((start, run))
        }) {
            if run.1[0] == Color::Dark {
                let (x, y) = (run.0 + 2, row + 2);
                let _ = write!(path, "M{x} {y}h{}v1h-{}z", run.1.len(), run.1.len());
            }
        }
    }
    let place = format!("translate({} {}) scale({dot:.5})", short(corner.x), short(corner.y));
    Some(
        Element::new("path")
            .set("d", path)
            .set("fill", style::INK)
            .set("transform", place)
            .with(Element::new("title").with_text(&words)),
    )
}

/// The text of the code.
pub(super) fn words(id: Uuid) -> String {
    format!("URN:UUID:{}", id.hyphenated()).to_uppercase()
}
