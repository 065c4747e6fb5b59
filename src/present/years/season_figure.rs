//! Draws the season of a taxon with a strip for each year, and small multiples of several taxa on one
//! axis. Layer: `present`.

use super::season::{found_on, headline, units};
use super::season_axis::SeasonAxis;
use super::{season_panel, season_strips};
use crate::analyse::season::Season;
use crate::present::chart::{self, Axis, Panel, WIDE};
use crate::present::fonts::Face;
use crate::present::markup::Elements;
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Frame, Letters, Point, Stroke};

/// How the heading of all taxa together begins.
pub const ALL_TAXA: &str = "All taxa";

const LEFT: f64 = 46.0;
const ROOM: f64 = WIDE - LEFT - 12.0;

/// The figure of one taxon, for print at 170 mm.
#[must_use]
pub fn figure(taxon: &str, season: &Season) -> String {
    let axis = SeasonAxis::of([season]);
    let mut drawn = Elements::default();
    drawn.push(heading(Point::new(LEFT, 20.0), taxon, Letters::new(size::TITLE)));
    let mut foot = text(&headline(season), 33.0, Letters::new(size::HEADING), &mut drawn);
    let soft = Letters::new(size::BODY).colour(style::SOFT_INK);
    foot = text(&effort_words(season), foot + 1.0, soft, &mut drawn);
    let frame = Frame::new(LEFT, foot + 2.0, ROOM, 150.0);
    drawn.extend([season_panel::draw(season, axis, frame, true, "season-frame")]);
    foot = text(
        &reading(season),
        frame.bottom() + 24.0,
        Letters::new(size::SMALL).colour(style::SOFT_INK),
        &mut drawn,
    );
    let strips = season_strips::STRIP * season.each_season.len() as f64;
    let frame = Frame::new(LEFT, foot + 2.0, ROOM, strips + season_strips::KEY);
    drawn.extend([grid(axis, Frame { high: strips, ..frame })]);
    drawn.extend([season_strips::draw(season, axis, frame)]);
    let title = format!("Season of {taxon}");
    chart::page(frame.bottom() + 8.0, &title, &description(&[(taxon, season)]), &drawn)
}

/// Panels of several taxa, in the order given, on one axis.
#[must_use]
pub fn multiples(seasons: &[(&str, &Season)], order: &str) -> String {
    let axis = SeasonAxis::of(seasons.iter().map(|(_, season)| *season));
    let mut drawn = Elements::default();
    let title = "Finds per hour searched, through the year";
    let mut foot = chart::head(LEFT, title, order, &mut drawn) + 8.0;
    let last = seasons.len().saturating_sub(1);
    for (place, (name, season)) in seasons.iter().enumerate() {
        drawn.push(heading(Point::new(LEFT, foot + 9.0), name, Letters::new(size::HEADING + 0.5)));
        foot = text(&headline(season), foot + 20.0, Letters::new(size::BODY), &mut drawn);
        let words = effort_words(season);
        foot = text(&words, foot, Letters::new(size::SMALL).colour(style::SOFT_INK), &mut drawn);
        let frame = Frame::new(LEFT, foot - 2.0, ROOM, 84.0);
        let clip = format!("season-{place}");
        drawn.extend([season_panel::draw(season, axis, frame, true, &clip)]);
        foot = frame.bottom() + if place == last { 22.0 } else { 20.0 };
    }
    let words = reading_words();
    foot = text(words, foot + 4.0, Letters::new(size::SMALL).colour(style::SOFT_INK), &mut drawn);
    chart::page(foot + 2.0, "Seasons", &description(seasons), &drawn)
}

/// A taxon in italics; the sum of all taxa is no name.
fn heading(at: Point, words: &str, letters: Letters) -> crate::present::markup::Element {
    if words.starts_with(ALL_TAXA) {
        svg::text(at, words, letters.face(Face::Bold))
    } else {
        svg::name(at, words, letters)
    }
}

/// Text in lines from a height on; returns where the next line would be.
fn text(words: &str, at: f64, letters: Letters, drawn: &mut Elements) -> f64 {
    chart::text(words, Point::new(LEFT, at), letters, drawn)
}

/// What the figure says, for readers who do not see it.
fn description(seasons: &[(&str, &Season)]) -> String {
    let all = seasons
        .iter()
        .map(|(name, season)| format!("{name}: {} {}", headline(season), effort_words(season)));
    all.collect::<Vec<_>>().join(" ")
}

fn effort_words(season: &Season) -> String {
    format!(
        "{}, {:.1} {} searched.",
        found_on(season, true),
        season.searched_hours,
        units(season.per)
    )
}

fn reading(season: &Season) -> String {
    let blind = season.curve.iter().any(|day| !day.searched);
    let mut words = "Line: rate; band: its 95 % interval.".to_owned();
    if blind {
        words.push_str(" Grey and dotted: beyond the outings, extrapolated.");
    }
    words.push_str(" Below: each season, week by week.");
    words
}

fn reading_words() -> &'static str {
    "Line: rate; band: its 95 % interval; an arrow: the band goes on above. Grey and dotted: not searched \
     within ten days, extrapolated. Each panel has a scale of its own."
}

/// Lines at the months behind the strips.
fn grid(axis: SeasonAxis, frame: Frame) -> Elements {
    let panel = Panel { frame, across: axis.drawn(false), up: Axis::bare(0.0, 1.0) };
    let hair = Stroke::new(style::FAINT, line::HAIR);
    let lines = panel.across.ticks.iter().map(|(value, _)| {
        let x = panel.at(*value, 0.0).x;
        svg::line(Point::new(x, frame.corner.y), Point::new(x, frame.bottom()), hair)
    });
    lines.collect()
}

#[cfg(test)]
#[path = "season_figure/tests.rs"]
mod tests;
