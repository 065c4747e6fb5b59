//! Arranges labels on a sheet of paper: as many as fit into the printable area, with cutting guides.
//! Layer: `present`.

use super::Cut;
use crate::present::markup::Elements;
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Frame, Letters, POINTS_PER_MILLIMETRE, Point, Stroke};

/// A sheet of paper.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Paper {
    /// 210 by 297 mm (ISO 216).
    A4,
    /// 8.5 by 11 inches (ANSI/ASME Y14.1).
    Letter,
}

/// Nothing is printed nearer to the edge than this, points. Most printers reach 4 to 6 mm, some need
/// 12 mm at one edge (common practice).
const EDGE: f64 = 12.0 * POINTS_PER_MILLIMETRE;
/// Height of the note above the labels, points.
const NOTE: f64 = 9.0;
/// Half the length of the marks at the corners of labels, points.
const MARK: f64 = 5.0;

impl Paper {
    fn points(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0 * POINTS_PER_MILLIMETRE, 297.0 * POINTS_PER_MILLIMETRE),
            Self::Letter => (612.0, 792.0),
        }
    }
}

/// The number of labels of a size on a sheet.
pub(super) fn capacity(size: (f64, f64), paper: Paper) -> usize {
    let plan = Plan::of(size, paper);
    plan.columns * plan.rows
}

/// What is said of all sheets of one print.
pub(super) struct Margins<'a> {
    pub(super) title: &'a str,
    /// Printed above the labels of each sheet.
    pub(super) note: &'a str,
    /// Labels that the first sheet has no longer.
    pub(super) used: usize,
}

/// Labels of one size on as many sheets as needed.
pub(super) fn lay(
    cuts: &[Cut],
    size: (f64, f64),
    paper: Paper,
    margins: &Margins<'_>,
) -> Vec<String> {
    let plan = Plan::of(size, paper);
    let each = plan.columns * plan.rows;
    let used = margins.used.min(each - 1);
    let first = cuts.len().min(each - used);
    let (begun, others) = cuts.split_at(first);
    let Margins { title, note, .. } = margins;
    [begun]
        .into_iter()
        .filter(|cuts| !cuts.is_empty())
        .chain(others.chunks(each))
        .enumerate()
        .map(|(number, cuts)| {
            let before = if number == 0 { used } else { 0 };
            let (wide, high) = paper.points();
            let title = format!("{title}, sheet {}", number + 1);
            let mut drawn = plan.marks();
            for (place, cut) in cuts.iter().enumerate() {
                let corner = plan.corner(before + place);
                let shift = format!("translate({} {})", svg::short(corner.x), svg::short(corner.y));
                drawn.push(svg::group().set("transform", shift).with(&cut.drawn));
            }
            svg::drawing(wide, high, &title)
                .with(svg::rectangle(Frame::new(0.0, 0.0, wide, high)).filled(style::PAPER))
                .with(drawn)
                .with(plan.note(note))
                .to_string()
        })
        .collect()
}

struct Plan {
    columns: usize,
    rows: usize,
    size: (f64, f64),
    corner: Point,
}

impl Plan {
    fn of(size: (f64, f64), paper: Paper) -> Self {
        let (wide, high) = paper.points();
        let count = |room: f64, side: f64| {
            let mut count = 1_usize;
            while (count + 1) as f64 * side <= room - 2.0 * EDGE {
                count += 1;
            }
            count
        };
        let (columns, rows) = (count(wide, size.0), count(high - NOTE, size.1));
        let left = (wide - columns as f64 * size.0) / 2.0;
        let top = ((high - rows as f64 * size.1) / 2.0).max(EDGE + NOTE);
        let corner = Point::new(left, top);
        Self { columns, rows, size, corner }
    }

    fn corner(&self, place: usize) -> Point {
        self.corner.plus(
            (place % self.columns) as f64 * self.size.0,
            (place / self.columns) as f64 * self.size.1,
        )
    }

    /// Text in the margin above the block, between the marks.
    fn note(&self, words: &str) -> Elements {
        let mut drawn = Elements::default();
        if !words.is_empty() {
            let at = self.corner.plus(4.0, -3.0);
            drawn.push(svg::text(at, words, Letters::new(size::SMALL)));
        }
        drawn
    }

    /// Hairlines between neighbours and around the block, with stronger marks where they cross. All of it
    /// lies on the cut, within the printable area.
    fn marks(&self) -> Elements {
        let mut marks = Elements::default();
        let mark = Stroke::new(style::INK, line::HAIR);
        let faint = Stroke::new(style::FAINT, line::HAIR);
        let (left, top) = (self.corner.x, self.corner.y);
        let (right, foot) =
            (left + self.columns as f64 * self.size.0, top + self.rows as f64 * self.size.1);
        let columns = (0..=self.columns).map(|column| left + column as f64 * self.size.0);
        let rows = (0..=self.rows).map(|row| top + row as f64 * self.size.1);
        for x in columns.clone() {
            marks.push(svg::line(Point::new(x, top), Point::new(x, foot), faint));
        }
        for y in rows.clone() {
            marks.push(svg::line(Point::new(left, y), Point::new(right, y), faint));
        }
        for x in columns {
            for y in rows.clone() {
                let (from, to) = ((x - MARK).max(left), (x + MARK).min(right));
                marks.push(svg::line(Point::new(from, y), Point::new(to, y), mark));
                let (from, to) = ((y - MARK).max(top), (y + MARK).min(foot));
                marks.push(svg::line(Point::new(x, from), Point::new(x, to), mark));
            }
        }
        marks
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::label::Size;

    #[test]
    fn labels_are_within_the_printable_area() {
        for paper in [Paper::A4, Paper::Letter] {
            let (wide, high) = paper.points();
            for size in [Size::Packet, Size::Tray, Size::Tag] {
                let plan = Plan::of(size.points(), paper);
                let last = plan.corner(plan.columns * plan.rows - 1);
                assert!(
                    plan.corner.x >= EDGE - 1e-9 && plan.corner.y >= EDGE,
                    "{size:?} {paper:?}"
                );
                assert!(last.x + plan.size.0 <= wide - EDGE + 1e-9);
                assert!(last.y + plan.size.1 <= high - EDGE + 1e-9);
            }
        }
    }

    #[test]
    fn thirteen_packets_take_three_sheets() {
        let cuts = vec![Cut { drawn: Elements::default() }; 13];
        let margins = |used| Margins { title: "Labels", note: "", used };
        let size = Size::Packet.points();
        assert_eq!(capacity(size, Paper::A4), 6);
        assert_eq!(lay(&cuts, size, Paper::A4, &margins(0)).len(), 3);
        assert_eq!(lay(&cuts[..1], size, Paper::A4, &margins(5)).len(), 1);
        assert_eq!(lay(&cuts[..2], size, Paper::A4, &margins(5)).len(), 2);
        assert!(lay(&[], size, Paper::A4, &margins(0)).is_empty());
    }

    #[test]
    fn a4_and_letter_hold_the_same_number_of_labels() {
        for size in [Size::Packet, Size::Tray, Size::Tag] {
            let counts = [Paper::A4, Paper::Letter].map(|paper| capacity(size.points(), paper));
            assert_eq!(counts[0], counts[1], "{size:?}");
        }
    }
}
