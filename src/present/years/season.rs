//! Formats a season as text, JSON and a figure: the rate with its band above the finds and search hours
//! it is estimated from. Layer: `present`.

use std::fmt::Write;

use serde_json::{Value, json};

use super::answers;
use super::estimates::wrapped;
use super::sites::rounded;
use crate::analyse::season::{DayEstimate, Edges, MONTHS, Per, Season, day_words, p_words};
use crate::present::chart::{Axis, Panel};
use crate::present::fonts::Face;
use crate::present::markup::{Element, Elements};
use crate::present::style::{self, line, size};
use crate::present::summary::words::counted;
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};

/// The season as flat properties; dates as days of the year.
#[must_use]
pub fn properties(taxon: &str, season: &Season) -> Value {
    let mut map = serde_json::Map::new();
    let mut put = |name: &str, value: Value| map.insert(name.to_owned(), value);
    put("taxon", json!(taxon));
    put("outings", json!(season.outings));
    put("outings_with_find", json!(season.outings_with_find));
    put("finds", json!(season.finds));
    put("per", json!(season.per));
    put(total_key(season.per), json!(rounded(season.searched_hours, 2)));
    put("years", json!(season.years));
    put("peak_day_of_year", json!(season.peak.day.round()));
    // an end beyond the searched period has no day
    let edges = season.edges;
    put("peak_low95", json!((!edges.peak_early).then_some(season.peak.low95)));
    put("peak_high95", json!((!edges.peak_late).then_some(season.peak.high95)));
    put("clear_peak", json!(season.clear_peak));
    put("peak_open", json!(open_sides(&edges)));
    put("p_value", json!(rounded(season.p_value, 4)));
    for (name, estimate, open_low, open_high) in [
        ("onset", season.onset, edges.onset, false),
        ("tenth", Some(season.tenth), false, false),
        ("median", Some(season.median), false, false),
        ("ninetieth", Some(season.ninetieth), false, false),
        ("end", season.end, false, edges.end),
    ] {
        let (low, high) = (estimate.map(|e| e.low95), estimate.map(|e| e.high95));
        put(name, json!(estimate.map(|estimate| estimate.day)));
        put(&format!("{name}_low95"), json!(low.filter(|_| !open_low)));
        put(&format!("{name}_high95"), json!(high.filter(|_| !open_high)));
    }
    put("onset_open", json!(edges.onset));
    put("onset_no_later_than", json!(season.find_dates.first.day));
    put("end_open", json!(edges.end));
    put("end_at_least_until", json!(season.find_dates.last.day));
    put("searched_from", json!(edges.first_search));
    put("searched_until", json!(edges.last_search));
    put("dates_of_finds", json!(season.find_dates));
    put(
        "circular_mean_day",
        json!(season.circular.map(|c| crate::analyse::season::day_of_year(c.mean))),
    );
    put("circular_resultant", json!(season.circular.map(|c| rounded(c.resultant, 4))));
    put("rayleigh_p", json!(season.circular.map(|c| c.rayleigh)));
    put("dispersion", json!(rounded(season.dispersion, 3)));
    put("overdispersion", json!(rounded(season.overdispersion, 3)));
    put("by_elevation", json!(season.by_elevation));
    put("by_year", json!(season.by_year));
    put("curve", json!(season.curve));
    put("weeks", json!(season.weeks));
    put("remarks", json!(season.remarks));
    Value::Object(map)
}

fn total_key(per: Per) -> &'static str {
    match per {
        Per::Hour => "searched_hours",
        Per::Km => "searched_km",
    }
}

fn units(per: Per) -> &'static str {
    match per {
        Per::Hour => "hours",
        Per::Km => "km",
    }
}

fn open_sides(edges: &Edges) -> Option<&'static str> {
    match (edges.peak_early, edges.peak_late) {
        (true, true) => Some("both"),
        (true, false) => Some("early"),
        (false, true) => Some("late"),
        (false, false) => None,
    }
}

fn words(estimate: DayEstimate) -> String {
    open_words(estimate, None, None, "be")
}

/// The estimate with its interval; open sides name the limit of the searched period.
fn open_words(
    estimate: DayEstimate,
    after: Option<f64>,
    before: Option<f64>,
    verb: &str,
) -> String {
    let day = day_words(estimate.day);
    let at = match (after == Some(estimate.day), before == Some(estimate.day)) {
        (true, _) => format!("{day} or earlier"),
        (_, true) => format!("{day} or later"),
        _ => day,
    };
    let interval = match (after, before) {
        (None, None) => {
            format!(" (95 %: {} to {})", day_words(estimate.low95), day_words(estimate.high95))
        }
        (Some(_), None) => format!(" (95 %: until {})", day_words(estimate.high95)),
        (None, Some(_)) => format!(" (95 %: from {})", day_words(estimate.low95)),
        (Some(_), Some(_)) => String::new(),
    };
    format!("{at}{interval}{}", open_sides_words(after, before, verb))
}

/// `; may peak after 10 Nov: nothing was searched then`; empty for a closed interval.
fn open_sides_words(after: Option<f64>, before: Option<f64>, verb: &str) -> String {
    let sides: Vec<String> = [(after, "before"), (before, "after")]
        .into_iter()
        .filter_map(|(limit, side)| limit.map(|day| format!("{side} {}", day_words(day))))
        .collect();
    if sides.is_empty() {
        return String::new();
    }
    format!("; may {verb} {}: nothing was searched then", sides.join(" or "))
}

pub(super) fn peak_words(season: &Season) -> String {
    let edges = season.edges;
    open_words(
        season.peak,
        edges.first_search.filter(|_| edges.peak_early),
        edges.last_search.filter(|_| edges.peak_late),
        "peak",
    )
}

/// Shown instead of a date where the rate has no significant peak.
pub(super) fn no_clear_peak(season: &Season) -> String {
    format!("no clear peak in these data ({})", p_words(season.p_value))
}

/// `30 finds on 9 of 40 outings`, with the number of seasons if asked for.
fn found_on(season: &Season, seasons: bool) -> String {
    let finds = counted(season.finds as usize, "find", "finds");
    let outings = counted(season.outings, "outing", "outings");
    let on = format!("{finds} on {} of {outings}", season.outings_with_find);
    if seasons { format!("{on} in {}", counted(season.years, "season", "seasons")) } else { on }
}

/// The text for a terminal.
#[must_use]
pub fn text(taxon: &str, season: &Season) -> String {
    let mut text = format!(
        "{}{}, {:.1} {} searched\n\n",
        wrapped(&answers::season(taxon, season)),
        found_on(season, true),
        season.searched_hours,
        units(season.per)
    );
    let mut row = |name: &str, value: String| {
        let _ = writeln!(text, "  {name:<26}{value}");
    };
    let (edges, dates) = (season.edges, season.find_dates);
    let few = || "not determined: fewer than five different dates".to_owned();
    let onset = match (season.onset, edges.onset) {
        (Some(onset), open) => {
            open_words(onset, edges.first_search.filter(|_| open), None, "begin")
        }
        (None, true) => {
            let searched = edges.first_search.unwrap_or(dates.first.day);
            format!(
                "no later than {}; not searched before {}",
                day_words(dates.first.day),
                day_words(searched)
            )
        }
        (None, false) => few(),
    };
    let end = match (season.end, edges.end) {
        (Some(end), open) => open_words(end, None, edges.last_search.filter(|_| open), "end"),
        (None, true) => {
            let searched = edges.last_search.unwrap_or(dates.last.day);
            format!(
                "at least until {}; not searched after {}",
                day_words(dates.last.day),
                day_words(searched)
            )
        }
        (None, false) => few(),
    };
    row("onset (estimated)", onset);
    let of_rate = |estimate: DayEstimate| {
        if season.clear_peak { words(estimate) } else { no_clear_peak(season) }
    };
    row("10 % of the rate", of_rate(season.tenth));
    row("median of the rate", of_rate(season.median));
    row(
        "peak of the rate",
        if season.clear_peak { peak_words(season) } else { no_clear_peak(season) },
    );
    row("90 % of the rate", of_rate(season.ninetieth));
    row("end (estimated)", end);
    row(
        "first and last find",
        format!("{}, {}", day_words(dates.first.day), day_words(dates.last.day)),
    );
    row("median date of finds", format!("{} (not corrected for effort)", words(dates.median)));
    if let Some(circular) = season.circular {
        let day = crate::analyse::season::day_of_year(circular.mean);
        row("circular mean", format!("{}, resultant {:.2}", day_words(day), circular.resultant));
    }
    row("by elevation", season.by_elevation.statement.clone());
    row("by year", season.by_year.statement.clone());
    for remark in &season.remarks {
        let _ = writeln!(text, "\n  note: {remark}");
    }
    text + "\n" + &wrapped(answers::SEASON)
}

const WIDE: f64 = 482.0;
const LEFT: f64 = 46.0;

/// The figure, for print at 170 mm.
#[must_use]
pub fn figure(taxon: &str, season: &Season) -> String {
    let first = chart_start(season.begins);
    let mut drawing = svg::drawing(WIDE, 372.0, &format!("Season of {taxon}"));
    let title = Letters::new(size::TITLE).face(Face::Bold);
    let soft = Letters::new(size::BODY).colour(style::SOFT_INK);
    let peak = if season.clear_peak {
        format!("Peak {}", peak_words(season))
    } else {
        no_clear_peak(season).replacen("no", "No", 1)
    };
    let result = format!(
        "{}, {:.0} {} searched",
        found_on(season, false),
        season.searched_hours,
        units(season.per)
    );
    drawing = drawing
        .with(svg::rectangle(Frame::new(0.0, 0.0, WIDE, 372.0)).filled(style::PAPER))
        .with(svg::text(Point::new(LEFT, 20.0), taxon, title))
        .with(svg::text(Point::new(LEFT, 31.5), &result, soft))
        .with(svg::text(Point::new(LEFT, 42.5), &peak, soft));
    let rate = rate_panel(season, first);
    let rest = [
        bars(season, first, 226.0, "finds", style::FIND, |week| f64::from(week.finds)),
        bars(season, first, 300.0, units(season.per), style::SEARCH, |week| week.hours),
    ];
    drawing.with_all([rate]).with_all(rest).to_string()
}

/// The first of the month at or before the day.
fn chart_start(day: f64) -> u16 {
    MONTHS.iter().rev().find(|(_, first)| f64::from(*first) <= day).map_or(1, |(_, first)| *first)
}

/// How many days after the first day of the chart.
fn after(first: u16, day: f64) -> f64 {
    (day - f64::from(first)).rem_euclid(365.0)
}

fn months(first: u16, titled: bool) -> Axis {
    let mut ticks: Vec<(f64, String)> = MONTHS
        .iter()
        .map(|(name, day)| {
            (after(first, f64::from(*day)), if titled { (*name).to_owned() } else { String::new() })
        })
        .collect();
    ticks.sort_by(|a, b| a.0.total_cmp(&b.0));
    Axis { from: 0.0, to: 365.0, title: String::new(), ticks }
}

fn rate_panel(season: &Season, first: u16) -> Elements {
    let mut days: Vec<(f64, f64, f64, f64, bool)> = season
        .curve
        .iter()
        .map(|day| {
            (
                after(first, f64::from(day.day)),
                day.rate,
                day.low95.unwrap_or(day.rate),
                day.high95.unwrap_or(day.rate),
                day.searched,
            )
        })
        .collect();
    days.sort_by(|a, b| a.0.total_cmp(&b.0));
    let top = days.iter().filter(|day| day.4).map(|day| day.1).fold(0.0, f64::max);
    let band_top = days.iter().filter(|day| day.4).map(|day| day.3).fold(0.0, f64::max);
    let panel = Panel {
        frame: Frame::new(LEFT, 48.0, WIDE - LEFT - 12.0, 160.0),
        across: months(first, false),
        up: Axis::new(
            0.0,
            (1.05 * band_top).clamp(1.1 * top, 2.2 * top).max(1e-6),
            5,
            match season.per {
                Per::Hour => "finds per hour searched",
                Per::Km => "finds per km searched",
            },
        ),
    };
    let mut drawn = Elements::default();
    drawn.push(svg::clip("season-frame", panel.frame));
    // unsearched time first, below everything else
    for run in days.chunk_by(|a, b| a.4 == b.4).filter(|run| !run[0].4) {
        let (from, to) = (run[0].0 - 0.5, run[run.len() - 1].0 + 0.5);
        drawn.push(panel.stripe(from, to).filled(style::FAINT).set("fill-opacity", 0.45));
    }
    let mut inside = svg::group().set("clip-path", "url(#season-frame)");
    for run in days.chunk_by(|a, b| a.4 == b.4).filter(|run| run[0].4) {
        let upper = run.iter().map(|day| (day.0, day.3));
        let lower = run.iter().rev().map(|day| (day.0, day.2));
        let edge: Vec<Point> = upper.chain(lower).map(|(x, y)| panel.at(x, y)).collect();
        inside = inside.with(svg::polygon(&edge, style::SEARCH).set("fill-opacity", 0.2)).with(
            panel.curve(
                run.iter().map(|day| (day.0, day.1)),
                Stroke::new(style::SEARCH, line::STRONG),
            ),
        );
    }
    drawn.push(panel.axes());
    drawn.push(inside);
    drawn.extend(search_ends(season, first, &panel));
    if season.clear_peak {
        drawn.push(peak_mark(season, first, &panel));
    }
    let note = Letters::new(size::SMALL).colour(style::SOFT_INK);
    if season.curve.iter().any(|day| !day.searched) {
        let at = Point::new(panel.frame.corner.x + 5.0, panel.frame.corner.y + 10.0);
        drawn.push(svg::text(at, "grey: not searched within ten days", note.rimmed()));
    }
    drawn
}

/// Vertical lines at the limits of the searched period, where the season may continue.
fn search_ends(season: &Season, first: u16, panel: &Panel) -> Vec<Element> {
    let edges = season.edges;
    let begins = edges.first_search.filter(|_| edges.peak_early || edges.onset);
    let ends = edges.last_search.filter(|_| edges.peak_late || edges.end);
    let letters = Letters::new(size::SMALL).rimmed();
    let (top, foot) = (panel.frame.corner.y, panel.frame.bottom());
    let stroke = Stroke::new(style::INK, line::FINE);
    let mut drawn = Vec::new();
    for (day, what, anchor, by) in
        [(begins, "search begins", Anchor::End, -3.0), (ends, "search ends", Anchor::Start, 3.0)]
    {
        let Some(day) = day else { continue };
        let x = panel.at(after(first, day), 0.0).x;
        let words = format!("{what} {}", day_words(day));
        let wide = crate::present::fonts::width(&words, Face::Regular, size::SMALL);
        let room = if by < 0.0 { x - panel.frame.corner.x } else { panel.frame.right() - x };
        // on the unsearched side of the line, where there is space
        let (anchor, by) = match (room > wide + 6.0, anchor) {
            (true, anchor) => (anchor, by),
            (false, Anchor::End) => (Anchor::Start, 3.0),
            (false, _) => (Anchor::End, -3.0),
        };
        drawn.push(
            svg::line(Point::new(x, top), Point::new(x, foot), stroke)
                .set("stroke-dasharray", "3 2"),
        );
        drawn.push(svg::text(Point::new(x + by, foot - 6.0), &words, letters.anchor(anchor)));
    }
    drawn
}

/// A bar with whiskers over the peak's interval, a dot at the peak.
fn peak_mark(season: &Season, first: u16, panel: &Panel) -> Elements {
    let y = panel.frame.corner.y + 16.0;
    let x = |day: f64| panel.at(after(first, day), 0.0).x;
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
    let side = match open_sides(&season.edges) {
        Some(_) if season.edges.first_search == Some(season.peak.day) => " or earlier",
        Some(_) if season.edges.last_search == Some(season.peak.day) => " or later",
        _ => "",
    };
    let words = format!("peak {}{side}", day_words(season.peak.day));
    drawn.push(svg::text(
        Point::new(low.max(at).max(high) + 5.0, y + 2.5),
        &words,
        Letters::new(size::BODY).rimmed(),
    ));
    drawn
}

fn bars(
    season: &Season,
    first: u16,
    top: f64,
    title: &str,
    colour: style::Colour,
    value: impl Fn(&crate::analyse::season::Week) -> f64,
) -> Elements {
    let most = season.weeks.iter().map(&value).fold(0.0, f64::max);
    let panel = Panel {
        frame: Frame::new(LEFT, top, WIDE - LEFT - 12.0, 48.0),
        across: months(first, top > 250.0),
        up: Axis::new(0.0, (1.1 * most).max(1.0), 3, title),
    };
    let mut drawn = Elements::default();
    drawn.push(panel.axes());
    for week in season.weeks.iter().filter(|week| value(week) > 0.0) {
        let from = after(first, f64::from(week.day));
        let to = (from + 6.4).min(365.0);
        let (left, right) = (panel.at(from, 0.0), panel.at(to, value(week)));
        let frame = Frame::new(left.x, right.y, right.x - left.x, left.y - right.y);
        drawn.push(svg::rectangle(frame).filled(colour));
    }
    drawn
}
