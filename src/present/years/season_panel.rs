//! Draws one panel of a season figure: the rate with its 95 % band over the searched weeks, dotted where
//! nothing was searched, with the interval of the peak. Layer: `present`.

use super::season_axis::SeasonAxis;
use crate::analyse::season::{DayRate, Per, Season, day_words};
use crate::present::chart::{self, Axis, Panel};
use crate::present::fonts::{self, Face};
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};

/// How far above the highest rate the band is drawn.
const MOST_BAND: f64 = 2.2;
const CURVE: Stroke = Stroke::new(style::SEARCH, line::STRONG);
const DOTTED: Stroke = Stroke::new(style::SEARCH, line::CURVE).dashed(0.9, 2.2);

/// The panel in its frame. `clip` is an identity of its own within the drawing.
pub(super) fn draw(
    season: &Season,
    axis: SeasonAxis,
    frame: Frame,
    months: bool,
    clip: &str,
) -> Elements {
    let days = days(season, axis);
    let panel = Panel { frame, across: axis.drawn(months), up: up(season, &days) };
    let mut drawn = Elements::default();
    drawn.push(svg::clip(clip, panel.frame));
    // unsearched time first, below everything else
    for run in days.chunk_by(|a, b| a.1.searched == b.1.searched).filter(|run| !run[0].1.searched) {
        let (from, to) = (run[0].0 - 0.5, run[run.len() - 1].0 + 0.5);
        drawn.push(panel.stripe(from, to).washed(style::FAINT, 0.45));
    }
    drawn.push(panel.axes());
    drawn.push(rates(&panel, &days).set("clip-path", format_args!("url(#{clip})")));
    let cuts = cuts(&panel, &days);
    // the interval of the peak is drawn below the values of a band that is cut
    let peak = panel.frame.corner.y + if cuts.is_empty() { 9.0 } else { 17.0 };
    drawn.extend(cuts);
    drawn.extend(search_ends(season, axis, &panel));
    if season.clear_peak {
        drawn.push(peak_mark(season, axis, &panel, peak));
    }
    drawn
}

/// The days on the axis with their places, from the left.
fn days(season: &Season, axis: SeasonAxis) -> Vec<(f64, DayRate)> {
    let mut days: Vec<(f64, DayRate)> = season
        .curve
        .iter()
        .map(|day| (axis.after(f64::from(day.day)), *day))
        .filter(|(after, _)| *after <= f64::from(axis.days))
        .collect();
    days.sort_by(|a, b| a.0.total_cmp(&b.0));
    days
}

fn high(day: &DayRate) -> f64 {
    day.high95.unwrap_or(day.rate)
}

fn up(season: &Season, days: &[(f64, DayRate)]) -> Axis {
    let searched = || days.iter().filter(|day| day.1.searched);
    let top = searched().map(|day| day.1.rate).fold(0.0, f64::max);
    let band = searched().map(|day| high(&day.1)).fold(0.0, f64::max);
    let to = (1.05 * band).clamp(1.1 * top, MOST_BAND * top).max(1e-6);
    let title = match season.per {
        Per::Hour => "finds per hour",
        Per::Km => "finds per km",
        Per::Hectare => "finds per ha",
    };
    Axis::new(0.0, to, 4, title)
}

/// Band and curve of the searched days; a dotted curve where it is an extrapolation.
fn rates(panel: &Panel, days: &[(f64, DayRate)]) -> Element {
    let mut inside = svg::group();
    for run in days.chunk_by(|a, b| a.1.searched == b.1.searched) {
        let curve = run.iter().map(|day| (day.0, day.1.rate));
        if !run[0].1.searched {
            inside = inside.with(panel.curve(curve, DOTTED));
            continue;
        }
        let upper = run.iter().map(|day| (day.0, high(&day.1)));
        let lower = run.iter().rev().map(|day| (day.0, day.1.low95.unwrap_or(day.1.rate)));
        let edge: Vec<Point> = upper.chain(lower).map(|(x, y)| panel.at(x, y)).collect();
        inside = inside
            .with(svg::polygon(&edge, style::SEARCH).set("fill-opacity", 0.2))
            .with(panel.curve(curve, CURVE));
    }
    inside
}

/// An arrow with the value wherever the band goes on above the frame.
fn cuts(panel: &Panel, days: &[(f64, DayRate)]) -> Vec<Element> {
    let above = |day: &(f64, DayRate)| day.1.searched && high(&day.1) > panel.up.to;
    let runs = days.chunk_by(|a, b| above(a) == above(b)).filter(|run| above(&run[0]));
    runs.filter_map(|run| {
        let most = run.iter().max_by(|a, b| high(&a.1).total_cmp(&high(&b.1)))?;
        let middle = f64::midpoint(run[0].0, run[run.len() - 1].0);
        Some(cut(panel, middle, high(&most.1)))
    })
    .collect()
}

fn cut(panel: &Panel, along: f64, value: f64) -> Element {
    let tip = Point::new(panel.at(along, 0.0).x, panel.frame.corner.y + 1.5);
    let head = [tip, tip.plus(2.6, 4.6), tip.plus(-2.6, 4.6)];
    let words = format!("95 % to {}", chart::number(value, usize::from(value < 10.0)));
    let wide = fonts::width(&words, Face::Regular, size::SMALL);
    let (anchor, by) = if tip.x + wide + 8.0 > panel.frame.right() {
        (Anchor::End, -4.5)
    } else {
        (Anchor::Start, 4.5)
    };
    let letters = Letters::new(size::SMALL).anchor(anchor).rimmed();
    svg::group().set("class", "cut").with(svg::polygon(&head, style::SEARCH)).with(svg::text(
        tip.plus(by, 6.5),
        &words,
        letters,
    ))
}

/// Vertical lines at the limits of the searched period, where the season may continue.
fn search_ends(season: &Season, axis: SeasonAxis, panel: &Panel) -> Vec<Element> {
    let edges = season.edges;
    let begins = edges.first_search.filter(|_| edges.peak_early || edges.onset);
    let ends = edges.last_search.filter(|_| edges.peak_late || edges.end);
    let letters = Letters::new(size::SMALL).rimmed();
    let (top, foot) = (panel.frame.corner.y, panel.frame.bottom());
    let stroke = Stroke::new(style::INK, line::FINE).dashed(3.0, 2.0);
    let mut drawn = Vec::new();
    for (day, what, anchor, by) in
        [(begins, "search begins", Anchor::Start, 3.0), (ends, "search ends", Anchor::End, -3.0)]
    {
        let Some(day) = day.filter(|day| axis.holds(*day)) else { continue };
        let x = panel.at(axis.after(day), 0.0).x;
        let words = format!("{what} {}", day_words(day));
        drawn.push(svg::line(Point::new(x, top), Point::new(x, foot), stroke));
        drawn.push(svg::text(Point::new(x + by, foot - 4.0), &words, letters.anchor(anchor)));
    }
    drawn
}

/// A bar with whiskers over the peak's interval, a dot at the peak.
fn peak_mark(season: &Season, axis: SeasonAxis, panel: &Panel, y: f64) -> Elements {
    let held = |day: f64| axis.after(day).min(f64::from(axis.days));
    let x = |day: f64| panel.at(held(day), 0.0).x;
    let (low, at, high) = (x(season.peak.low95), x(season.peak.day), x(season.peak.high95));
    let stroke = Stroke::new(style::INK, line::CURVE);
    let mut drawn = Elements::default();
    if low <= high {
        drawn.push(svg::line(Point::new(low, y), Point::new(high, y), stroke));
        for (end, open, outward) in
            [(low, season.edges.peak_early, -1.0), (high, season.edges.peak_late, 1.0)]
        {
            // an arrowhead where the interval continues beyond the search
            let back = if open { -4.0 * outward } else { 0.0 };
            for side in [-3.0, 3.0] {
                let to = Point::new(end + back, y + side);
                drawn.push(svg::line(Point::new(end, y), to, stroke));
            }
        }
    }
    drawn.push(svg::circle(Point::new(at, y), 2.4).filled(style::INK));
    let open = season.edges;
    let side = match (open.first_search, open.last_search) {
        (Some(day), _) if open.peak_early && day == season.peak.day => " or earlier",
        (_, Some(day)) if open.peak_late && day == season.peak.day => " or later",
        _ => "",
    };
    let words = format!("peak {}{side}", day_words(season.peak.day));
    let letters = Letters::new(size::SMALL + 0.4).rimmed();
    let (left, right) = (low.min(at), high.max(at));
    let wide = fonts::width(&words, Face::Regular, letters.size);
    // on the side that has room, else below the dot
    let (place, anchor) = if right + wide + 8.0 < panel.frame.right() {
        (Point::new(right + 5.0, y + 2.5), Anchor::Start)
    } else if left - wide - 8.0 > panel.frame.corner.x {
        (Point::new(left - 5.0, y + 2.5), Anchor::End)
    } else {
        (Point::new(at, y + 11.0), Anchor::Middle)
    };
    drawn.push(svg::text(place, &words, letters.anchor(anchor)));
    drawn
}
