//! Arranges labels on a sheet of paper: as many as fit, centred, with cut marks outside. Layer:
//! `present`.

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

/// Printers cannot print nearer to the edge than this, points (common practice: 4 to 5 mm).
const EDGE: f64 = 4.5 * POINTS_PER_MILLIMETRE;

impl Paper {
    fn points(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0 * POINTS_PER_MILLIMETRE, 297.0 * POINTS_PER_MILLIMETRE),
            Self::Letter => (612.0, 792.0),
        }
    }
}

/// Labels of one size on as many sheets as needed.
pub(super) fn lay(
    cuts: &[Cut],
    size: (f64, f64),
    paper: Paper,
    title: &str,
    note: &str,
) -> Vec<String> {
    let plan = Plan::of(size, paper);
    cuts.chunks(plan.columns * plan.rows)
        .enumerate()
        .map(|(number, cuts)| {
            let (wide, high) = paper.points();
            let title = format!("{title}, sheet {}", number + 1);
            let mut drawn = plan.marks();
            for (place, cut) in cuts.iter().enumerate() {
                let corner = plan.corner(place);
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
        let (columns, rows) = (count(wide, size.0), count(high, size.1));
        let corner =
            Point::new((wide - columns as f64 * size.0) / 2.0, (high - rows as f64 * size.1) / 2.0);
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
            let at = self.corner.plus(4.0, -4.0);
            drawn.push(svg::text(at, words, Letters::new(size::SMALL)));
        }
        drawn
    }

    /// Marks outside of the block, and a hairline between neighbours.
    fn marks(&self) -> Elements {
        let mut marks = Elements::default();
        let mark = Stroke::new(style::INK, line::HAIR);
        let faint = Stroke::new(style::FAINT, line::HAIR);
        let (left, top) = (self.corner.x, self.corner.y);
        let (right, foot) =
            (left + self.columns as f64 * self.size.0, top + self.rows as f64 * self.size.1);
        let (away, long) = (2.0, 8.0);
        for column in 0..=self.columns {
            let x = left + column as f64 * self.size.0;
            for (from, to) in [(top - away, top - away - long), (foot + away, foot + away + long)] {
                marks.push(svg::line(Point::new(x, from), Point::new(x, to), mark));
            }
            marks.push(svg::line(Point::new(x, top), Point::new(x, foot), faint));
        }
        for row in 0..=self.rows {
            let y = top + row as f64 * self.size.1;
            for (from, to) in
                [(left - away, left - away - long), (right + away, right + away + long)]
            {
                marks.push(svg::line(Point::new(from, y), Point::new(to, y), mark));
            }
            marks.push(svg::line(Point::new(left, y), Point::new(right, y), faint));
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
                assert!(plan.corner.x >= EDGE && plan.corner.y >= EDGE, "{size:?} {paper:?}");
                assert!(last.x + plan.size.0 <= wide - EDGE + 1e-9);
                assert!(last.y + plan.size.1 <= high - EDGE + 1e-9);
            }
        }
    }

    #[test]
    fn thirteen_packets_take_three_sheets() {
        let cuts = vec![Cut { drawn: Elements::default() }; 13];
        assert_eq!(lay(&cuts, Size::Packet.points(), Paper::A4, "Labels", "").len(), 3);
        assert!(lay(&[], Size::Packet.points(), Paper::A4, "Labels", "").is_empty());
    }
}
