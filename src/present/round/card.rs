//! Draws a round as a card to print, A5: the time to turn back in the largest type, the map, the stops,
//! cautions. All ink is 12 mm from the edge. Layer: `present`.

use super::{PlannedRound, figure, map, table};
use crate::earth::height_grid::GroundArea;
use crate::present::fonts::{self, Face};
use crate::present::map::frame::MapBase;
use crate::present::map::ground::MapGround;
use crate::present::markup::Elements;
use crate::present::style;
use crate::present::svg::{self, Frame, Letters, POINTS_PER_MILLIMETRE, Point};

const WIDE: f64 = 148.0 * POINTS_PER_MILLIMETRE;
const HIGH: f64 = 210.0 * POINTS_PER_MILLIMETRE;
const MARGIN: f64 = 12.0 * POINTS_PER_MILLIMETRE;
const INSIDE: f64 = WIDE - 2.0 * MARGIN;
/// The height of title, times and what is expected.
const HEAD: f64 = 93.0;
/// The most stops whose rows fit beside a map.
const MOST_STOPS: usize = 16;

fn frame(round: &PlannedRound) -> Frame {
    let rows = round.stops.len().min(MOST_STOPS) as f64 + 2.0;
    let high = HIGH - 2.0 * MARGIN - HEAD - 72.0 - 12.6 * rows - 84.0;
    Frame::new(MARGIN + 12.0, MARGIN + HEAD, INSIDE - 12.5, high.clamp(96.0, 260.0))
}

/// The ground within the frame; `None` for a round without a stop.
#[must_use]
pub fn area(round: &PlannedRound) -> Option<GroundArea> {
    let frame = frame(round);
    map::fit(round, frame, frame.high).map(|sheet| sheet.area())
}

/// The card as SVG; `None` for a round without a stop.
#[must_use]
pub fn drawing(round: &PlannedRound, ground: &MapGround) -> Option<String> {
    let frame = frame(round);
    let sheet = map::fit(round, frame, frame.high).filter(|_| !round.stops.is_empty())?;
    let mut drawn = Elements::default();
    drawn.push(svg::rectangle(Frame::new(0.0, 0.0, WIDE, HIGH)).filled(style::PAPER));
    head(round, &mut drawn);
    let base = MapBase::new(ground, &sheet);
    drawn.push(map::inside(round, &sheet, &base));
    let right = WIDE - MARGIN;
    let mut foot = base.around(&sheet, right, &mut drawn);
    foot = map::legend(round, Point::new(MARGIN, foot + 8.0), right, &mut drawn);
    foot = base.legend(Point::new(MARGIN, foot + 6.0), right, &mut drawn);
    foot = table::draw(round, Point::new(MARGIN, foot + 6.0), (INSIDE, 7.2), &mut drawn);
    cautions(round, foot + 12.0, &mut drawn);
    Some(svg::drawing(WIDE, HIGH, &figure::title(round)).with(drawn).to_string())
}

/// The title, the time to turn back in large type, the other times.
fn head(round: &PlannedRound, drawn: &mut Elements) {
    let title = figure::title(round);
    let size = 12.0_f64.min(12.0 * INSIDE / fonts::width(&title, Face::Bold, 12.0));
    let at = |y: f64| Point::new(MARGIN, MARGIN + y);
    drawn.push(svg::text(at(10.0), &title, Letters::new(size).face(Face::Bold)));
    let [set_out, turn, back, latest] = round.times();
    let large = format!("T{} {}", turn.0.trim_start_matches('t'), turn.1);
    let size = 27.0_f64.min(27.0 * INSIDE / fonts::width(&large, Face::Bold, 27.0));
    drawn.push(svg::text(at(40.0), &large, Letters::new(size).face(Face::Bold)));
    let rest: Vec<String> =
        [set_out, back, latest].iter().map(|(what, when)| format!("{what} {when}")).collect();
    drawn.push(svg::text(at(55.0), &rest.join("  \u{b7}  "), Letters::new(9.5)));
    let words = round.expectation().join(" ");
    let soft = Letters::new(6.8).colour(style::SOFT_INK);
    for (index, line) in fonts::lines(&words, Face::Regular, 6.8, INSIDE).iter().take(3).enumerate()
    {
        drawn.push(svg::text(at(66.0 + 8.6 * index as f64), line, soft));
    }
}

fn cautions(round: &PlannedRound, top: f64, drawn: &mut Elements) {
    let start = format!("Start and end: {}.", round.from.0);
    let facts = [
        "Leave a copy with someone who calls for help when you are not back in time.",
        "Late, tired or hurt: go straight back, or stay put, keep warm, be seen. 112 or the local number.",
        start.as_str(),
        round.positions.as_str(),
        "Walking times are estimates. Map, compass and what you see come first. Rules on collecting apply.",
    ];
    let foot = HIGH - MARGIN - 1.0;
    for (index, fact) in facts.iter().enumerate() {
        let y = top + 9.0 * index as f64;
        if y > foot {
            break;
        }
        let size = 7.2_f64.min(7.2 * INSIDE / fonts::width(fact, Face::Regular, 7.2));
        let face = if index == 0 { Face::Bold } else { Face::Regular };
        let size = if index == 0 { size.min(6.9) } else { size };
        drawn.push(svg::text(Point::new(MARGIN, y), fact, Letters::new(size).face(face)));
    }
}
