//! Draws labels for packets, drying trays and boxes, and numbered field slips, on sheets with cut
//! marks. Text is never truncated: it shrinks to a readable size, then continues on a second label; on
//! small labels the last paragraphs are omitted. Layer: `present`.

mod code;
mod content;
mod packet;
mod sheet;
mod slip;
mod tray;

pub use sheet::Paper;

use super::svg::POINTS_PER_MILLIMETRE;
use crate::model::{KeptFind, RecordNumber};

/// The purpose of a label.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// On the packet in the herbarium: everything, 96 by 88 mm.
    Packet,
    /// On the drying tray or the box: number, name, date, 63 by 42 mm.
    Tray,
    /// In the box with the specimen: number and code, 48 by 22 mm.
    Tag,
}

/// One label to cut out, drawn from its upper left corner.
#[derive(Clone, Debug)]
struct Cut {
    drawn: super::markup::Elements,
}

impl Size {
    /// Width and height in points.
    fn points(self) -> (f64, f64) {
        let (wide, high) = match self {
            Self::Packet => (96.0, 88.0),
            Self::Tray => (63.0, 42.0),
            Self::Tag => (48.0, 22.0),
        };
        (wide * POINTS_PER_MILLIMETRE, high * POINTS_PER_MILLIMETRE)
    }
}

/// Labels of these finds by number, as SVG drawings of whole sheets; the note is in the margin of
/// each.
#[must_use]
pub fn sheets(finds: &[KeptFind], size: Size, paper: Paper, note: &str) -> Vec<String> {
    let mut order: Vec<&KeptFind> = finds.iter().filter(|find| find.withdrawn.is_none()).collect();
    order.sort_by_key(|find| sort_key(find));
    let cuts: Vec<Cut> = order
        .into_iter()
        .flat_map(|find| match size {
            Size::Packet => packet::cuts(find, size.points()),
            Size::Tray => vec![tray::label(find, size.points())],
            Size::Tag => vec![tray::tag(find, size.points())],
        })
        .collect();
    sheet::lay(&cuts, size.points(), paper, "Labels", note)
}

/// Field slips with these numbers: one half to be photographed beside the find, one
/// to stay with it.
#[must_use]
pub fn slips(numbers: &[RecordNumber], paper: Paper) -> Vec<String> {
    let size = (96.0 * POINTS_PER_MILLIMETRE, 64.0 * POINTS_PER_MILLIMETRE);
    let cuts: Vec<Cut> = numbers.iter().map(|number| slip::cut(number, size)).collect();
    sheet::lay(&cuts, size, paper, "Slips", "")
}

/// Letters that the embedded font does not have.
#[must_use]
pub fn letters_without_a_glyph(finds: &[KeptFind]) -> Vec<char> {
    let mut missing: Vec<char> = finds
        .iter()
        .flat_map(|find| content::all_words(find).chars().collect::<Vec<_>>())
        .filter(|letter| {
            !letter.is_whitespace() && super::fonts::seen(*letter) && !super::fonts::draws(*letter)
        })
        .collect();
    missing.sort_unstable();
    missing.dedup();
    missing
}

/// Series, then number, then date and identifier; finds without a number last.
fn sort_key(find: &KeptFind) -> (bool, String, u64, jiff::civil::Date, uuid::Uuid) {
    let number = find.record.number.as_ref();
    (
        number.is_none(),
        number.map_or_else(String::new, |number| number.series().to_lowercase()),
        number.and_then(RecordNumber::ordinal).unwrap_or(u64::MAX),
        find.date,
        find.id,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;
    use crate::present::render;

    #[test]
    fn labels_are_sorted_by_number() {
        let mut finds: Vec<KeptFind> = ["AQ-10", "AQ-9", "", "aq-11"]
            .iter()
            .map(|number| fixture::kept_find(number))
            .collect();
        finds[2].record.number = None;
        finds.sort_by_key(sort_key);
        let numbers: Vec<String> = finds
            .iter()
            .map(|find| find.record.number.as_ref().map_or_else(String::new, |n| n.0.clone()))
            .collect();
        assert_eq!(numbers, ["AQ-9", "AQ-10", "aq-11", ""]);
    }

    #[test]
    fn every_size_on_every_paper_gives_printable_pages() {
        let finds: Vec<KeptFind> =
            (0..40).map(|number| fixture::kept_find(&format!("AQ-{number:04}"))).collect();
        for size in [Size::Packet, Size::Tray, Size::Tag] {
            for paper in [Paper::A4, Paper::Letter] {
                let sheets = sheets(&finds, size, paper, "a note");
                let shown = finds
                    .iter()
                    .filter(|find| {
                        let number = &find.record.number.as_ref().unwrap().0;
                        sheets.iter().any(|sheet| sheet.contains(number.as_str()))
                    })
                    .count();
                assert_eq!(shown, finds.len(), "{size:?} {paper:?}");
                assert!(render::pages(&sheets[..1], "Labels").is_ok());
            }
        }
    }

    #[test]
    fn missing_glyphs_are_listed() {
        let mut find = fixture::kept_find("AQ-1");
        assert!(letters_without_a_glyph(std::slice::from_ref(&find)).is_empty());
        find.record.place = Some("森 by the creek".into());
        assert_eq!(letters_without_a_glyph(&[find]), ['森']);
    }
}
