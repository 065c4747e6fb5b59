//! Draws the shares of a taxon's patches by host beside those of the other fungi of the same outings,
//! with their intervals. Layer: `present`.

use super::Report;
use super::text::answer;
use crate::analyse::hosts::{Association, Verdict};
use crate::analyse::intervals::Interval;
use crate::present::chart::{self, Axis, Panel, WIDE};
use crate::present::fonts::{self, Face};
use crate::present::markup::Elements;
use crate::present::style::{self, Colour, line, size};
use crate::present::svg::{self, Frame, Letters, Point, Stroke};

/// The height of one host.
const ROW: f64 = 24.0;
/// Hosts beyond this many are not drawn.
const MOST: usize = 24;
/// The largest width for names.
const NAMES: f64 = 150.0;

/// The figure, for print at 170 mm.
#[must_use]
pub fn figure(report: &Report) -> String {
    let name = report.taxon.as_deref().unwrap_or_default();
    let mut drawn = Elements::default();
    let title = format!("{name}: {}", report.with.heading());
    let top = chart::head(12.0, &title, &answer(report), &mut drawn) + 6.0;
    let rows: Vec<&Association> = report.hosts.associations.iter().take(MOST).collect();
    drawn.push(panel(report, &rows, top));
    let high = top + ROW * rows.len() as f64 + 52.0;
    drawn.push(legend(high));
    chart::page(high, &title, &answer(report), &drawn)
}

fn panel(report: &Report, rows: &[&Association], top: f64) -> Elements {
    let name = |pair: &&Association| {
        fonts::shortened(report.host(pair.host), Face::Regular, size::SMALL, NAMES)
    };
    let up = Axis::categories(rows.iter().map(name));
    let left = up.longest().max(60.0) + 20.0;
    let panel = Panel {
        frame: Frame::new(left, top, WIDE - left - 104.0, ROW * rows.len() as f64),
        across: Axis::new(0.0, 100.0, 5, "share of patches (%)"),
        up,
    };
    let mut drawn = Elements::default();
    drawn.push(panel.axes());
    for (number, pair) in rows.iter().enumerate() {
        let y = panel.row(number);
        drawn.push(mark(&panel, pair.share, y - 4.0, style::FIND, true));
        if let Some(others) = pair.of_others {
            drawn.push(mark(&panel, others, y + 4.0, style::SOFT_INK, false));
        }
        let at = Point::new(panel.frame.right() + 6.0, y + 2.5);
        drawn.push(svg::text(at, &verdict(pair), Letters::new(size::SMALL)));
    }
    drawn
}

/// A point with its interval: filled for the taxon, hollow for the others.
fn mark(panel: &Panel, share: Interval, y: f64, colour: Colour, filled: bool) -> Elements {
    let x = |value: f64| panel.at(100.0 * value, 0.0).x;
    let mut drawn = Elements::default();
    let stroke = Stroke::new(colour, line::CURVE);
    drawn.push(svg::line(Point::new(x(share.low95), y), Point::new(x(share.high95), y), stroke));
    let circle = svg::circle(Point::new(x(share.value), y), 2.6).stroked(stroke);
    drawn.push(circle.filled(if filled { colour } else { style::PAPER }));
    drawn
}

fn verdict(pair: &Association) -> String {
    match pair.verdict {
        Verdict::TooLittle => "not enough data".to_owned(),
        Verdict::Tested { odds, q_value, .. } if q_value <= super::DECLARED => {
            let how = if odds.value > 1.0 { "more often" } else { "less often" };
            let q = if q_value < 0.001 { "< 0.001".to_owned() } else { format!("{q_value:.3}") };
            format!("{how}, FDR {q}")
        }
        Verdict::Tested { .. } => "no clear difference".to_owned(),
    }
}

fn legend(high: f64) -> Elements {
    let mut drawn = Elements::default();
    let y = high - 14.0;
    let letters = Letters::new(size::SMALL);
    let mut x = 12.0;
    for (colour, filled, words) in [
        (style::FIND, true, "this taxon, 95 % interval"),
        (style::SOFT_INK, false, "other fungi of the same outings, 95 % interval"),
    ] {
        let stroke = Stroke::new(colour, line::CURVE);
        drawn.push(svg::line(Point::new(x, y - 2.0), Point::new(x + 16.0, y - 2.0), stroke));
        let circle = svg::circle(Point::new(x + 8.0, y - 2.0), 2.6).stroked(stroke);
        drawn.push(circle.filled(if filled { colour } else { style::PAPER }));
        drawn.push(svg::text(Point::new(x + 21.0, y), words, letters));
        x += 34.0 + fonts::width(words, Face::Regular, size::SMALL);
    }
    drawn
}
