//! Draws a round as a figure, 180 mm wide: times, map on its ground, stops. Layer: `present`.

use super::{PlannedRound, map, table};
use crate::earth::height_grid::GroundArea;
use crate::present::fonts::{self, Face};
use crate::present::map::frame::MapBase;
use crate::present::map::ground::MapGround;
use crate::present::markup::Elements;
use crate::present::style::{self, size};
use crate::present::svg::{self, Frame, Letters, Point};

const MARGIN: f64 = 14.0;
const WIDE: f64 = 510.24 - 2.0 * MARGIN;
const HEAD: f64 = 73.0;
const FRAME: Frame = Frame::new(16.0, HEAD, WIDE - 16.5, 360.0);
const LOWEST: f64 = 190.0;

/// The ground within the frame; `None` for a round without a stop.
#[must_use]
pub fn area(round: &PlannedRound) -> Option<GroundArea> {
    map::fit(round, FRAME, LOWEST).map(|sheet| sheet.area())
}

/// The figure as SVG; `None` for a round without a stop.
#[must_use]
pub fn drawing(round: &PlannedRound, ground: &MapGround) -> Option<String> {
    let sheet = map::fit(round, FRAME, LOWEST).filter(|_| !round.stops.is_empty())?;
    let mut drawn = Elements::default();
    let title = title(round);
    let bold = Letters::new(size::TITLE).face(Face::Bold);
    drawn.push(svg::text(Point::new(0.0, 13.0), &title, bold));
    let times: Vec<String> =
        round.times().iter().map(|(what, when)| format!("{what} {when}")).collect();
    let strong = Letters::new(size::HEADING).face(Face::Bold);
    drawn.push(svg::text(Point::new(0.0, 28.0), &times.join("  \u{b7}  "), strong));
    let words = round.expectation().join(" ");
    let soft = Letters::new(size::BODY).colour(style::SOFT_INK);
    for (index, line) in
        fonts::lines(&words, Face::Regular, size::BODY, WIDE).iter().take(3).enumerate()
    {
        drawn.push(svg::text(Point::new(0.0, 41.0 + 11.0 * index as f64), line, soft));
    }
    let base = MapBase::new(ground, &sheet);
    drawn.push(map::inside(round, &sheet, &base));
    let mut foot = base.around(&sheet, WIDE, &mut drawn);
    foot = map::legend(round, Point::new(0.0, foot + 12.0), WIDE, &mut drawn);
    foot = base.legend(Point::new(0.0, foot + 8.0), WIDE, &mut drawn);
    foot = table::draw(round, Point::new(0.0, foot + 8.0), (WIDE, 8.0), &mut drawn);
    let caution =
        "Walking times are estimates. Leave this plan with someone, and turn back in time.";
    for words in [caution, &round.positions] {
        foot += 11.0;
        drawn.push(svg::text(Point::new(0.0, foot), words, soft));
    }
    let (wide, high) = (WIDE + 2.0 * MARGIN, foot + 6.0 + 2.0 * MARGIN);
    let paper = svg::rectangle(Frame::new(0.0, 0.0, wide, high)).filled(style::PAPER);
    let placed =
        svg::group().set("transform", format_args!("translate({MARGIN} {MARGIN})")).with(drawn);
    let chances =
        round.stops.iter().enumerate().map(|(index, stop)| {
            format!("{} {} {:.0} %", index + 1, stop.name, 100.0 * stop.chance.0)
        });
    let chances = chances.collect::<Vec<_>>().join(", ");
    let description = format!("{}. {words} Chances: {chances}.", times.join("; "));
    Some(svg::described(wide, high, &title, &description).with(paper).with(placed).to_string())
}

/// `Round of Saturday 8 May 2027 from Car park`.
pub(super) fn title(round: &PlannedRound) -> String {
    let date = round.date.strftime("%A %-d %B %Y");
    match round.from.1.as_str() {
        "start" => format!("Round of {date}"),
        name => format!("Round of {date} from {name}"),
    }
}
