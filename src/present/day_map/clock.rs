//! Draws the evidence for a camera's clock offset: the log likelihood over all offsets tried, and the
//! likelihood around the best one with its 95 % interval and alternatives. Layer: `present`.

use crate::model::{CameraClock, ClockMethod};
use crate::present::chart::{Axis, Panel};
use crate::present::fonts::{self, Face};
use crate::present::markup::Elements;
use crate::present::note::wrong_date;
use crate::present::style::{self, line, size};
use crate::present::summary::words;
use crate::present::svg::{self, Frame, Letters, Point, Stroke};
use crate::units::Seconds;

/// The lowest log likelihood that is drawn.
const DEEPEST: f64 = -60.0;
/// Width factor for viewers that substitute a wider font.
const OTHER_FONTS: f64 = 0.86;
const CURVE: Stroke = Stroke::new(style::SEARCH, line::CURVE);

/// Draws the panel of one camera from `top` on and returns its lower edge.
pub(super) fn panel(camera: &CameraClock, top: f64, wide: f64, drawn: &mut Elements) -> f64 {
    let bold = Letters::new(size::HEADING).face(Face::Bold);
    let heading = format!("Clock of {}", camera.camera);
    drawn.push(svg::text(Point::new(0.0, top + 8.0), &heading, bold));
    let mut foot = top + 9.0;
    let body = Letters::new(size::BODY);
    for line in
        fonts::lines(&words::bound(&verdict(camera)), Face::Regular, body.size, OTHER_FONTS * wide)
    {
        foot += 11.0;
        drawn.push(svg::text(Point::new(0.0, foot), &line, body));
    }
    let counts = counts(camera);
    let camera = &of_the_day(camera);
    let best = camera.profile.iter().map(|(_, value)| *value).fold(f64::NEG_INFINITY, f64::max);
    if camera.profile.len() < 8 || !best.is_finite() {
        return foot + 2.0;
    }
    let curve: Vec<(f64, f64)> = camera
        .profile
        .iter()
        .filter(|(ahead, value)| ahead.0.is_finite() && !value.is_nan())
        .map(|(ahead, value)| (ahead.0, value - best))
        .collect();
    let high = 74.0;
    let gap = 46.0;
    // axis labels and title are in the gap, a little less at the left edge
    let half = f64::midpoint(wide - 2.0 * gap, 12.0);
    let frame = Frame::new(gap - 12.0, foot + 12.0, half, high);
    overview(camera, &curve, &counts, frame, drawn);
    let frame = Frame { corner: Point::new(frame.right() + gap, frame.corner.y), ..frame };
    close_up(camera, &curve, &counts, frame, drawn);
    frame.bottom() + 2.0 * size::SMALL + 8.0
}

/// The quantity of the axes, without the unit.
fn counts(camera: &CameraClock) -> String {
    let aside = wrong_date(camera.date_ahead()).map_or("", |_| ", but for the date");
    format!("camera ahead of local time{aside}")
}

/// The clock with its date corrected.
fn of_the_day(camera: &CameraClock) -> CameraClock {
    let date = camera.date_ahead();
    let mut clock = camera.clone();
    clock.ahead = clock.ahead.map(|ahead| ahead - date);
    clock.interval95 = clock.interval95.map(|(low, high)| (low - date, high - date));
    clock.zone_part = camera.zone_of_day();
    clock
        .alternatives
        .iter_mut()
        .for_each(|alternative| alternative.ahead = alternative.ahead - date);
    clock.profile.iter_mut().for_each(|(ahead, _)| *ahead = *ahead - date);
    clock
}

/// The estimate as a sentence.
fn verdict(camera: &CameraClock) -> String {
    let how = words::method(camera);
    let wrong = wrong_date(camera.date_ahead())
        .map_or_else(String::new, |date| format!("{}, the time of day is ", capital(&date)));
    let camera = &of_the_day(camera);
    let beside = |ahead: Seconds| {
        let words = side(ahead);
        if wrong.is_empty() { words } else { words.replacen("Right", "right", 1) }
    };
    let text = match (camera.ahead, camera.interval95) {
        (Some(ahead), Some((low, high))) => {
            let (low, high) = (span(low), span(high));
            format!("{wrong}{} (95 %: {low} to {high}), {how}", beside(ahead))
        }
        (Some(ahead), None) => format!("{wrong}{}, {how}", beside(ahead)),
        (None, _) => "Not determined from this day".to_owned(),
    };
    let parts = match (camera.zone_part, camera.error_part) {
        (Some(zone), Some(error)) if zone.abs() > Seconds(1.0) => {
            format!("; of which {} zone or summer time, {} clock error", span(zone), span(error))
        }
        _ => String::new(),
    };
    // a stated offset needs no further basis
    let given = matches!(camera.method, ClockMethod::Stated | ClockMethod::Trusted);
    let basis = if given || camera.basis.is_none() {
        String::new()
    } else {
        format!(". {}.", capital(&camera.basis.to_string()))
    };
    format!("{text}{parts}{basis}")
}

/// The text with a capital first letter.
fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// `1 h 2 min 11 s ahead`, `23 s behind`.
pub(in crate::present) fn side(ahead: Seconds) -> String {
    let size = span(ahead.abs());
    match ahead.0 {
        ahead if ahead >= 0.5 => format!("{size} ahead"),
        ahead if ahead <= -0.5 => format!("{size} behind"),
        _ => "Right to the second".to_owned(),
    }
}

/// A span without units that are zero at either end: `1 h`, `2 min 11 s`, `1 h 0 min 5 s`.
fn span(seconds: Seconds) -> String {
    let whole = seconds.0.abs().round();
    let sign = if seconds.0 < 0.0 && whole > 0.0 { "\u{2013}" } else { "" };
    let parts = [
        ((whole / 86_400.0).floor(), "d"),
        ((whole / 3_600.0).floor() % 24.0, "h"),
        ((whole / 60.0).floor() % 60.0, "min"),
        (whole % 60.0, "s"),
    ];
    let first = parts.iter().position(|(count, _)| *count > 0.0);
    let last = parts.iter().rposition(|(count, _)| *count > 0.0);
    let (Some(first), Some(last)) = (first, last) else { return "0 s".to_owned() };
    let words: Vec<String> =
        parts[first..=last].iter().map(|(count, unit)| format!("{count:.0} {unit}")).collect();
    format!("{sign}{}", words.join(" "))
}

fn overview(
    camera: &CameraClock,
    curve: &[(f64, f64)],
    counts: &str,
    frame: Frame,
    drawn: &mut Elements,
) {
    let (low, high) = ends(curve);
    let deepest = curve.iter().map(|(_, value)| *value).fold(0.0, f64::min).clamp(DEEPEST, -5.0);
    let (unit, name) = unit(high - low);
    let panel = Panel {
        frame,
        across: Axis::new(low / unit, high / unit, 7, &format!("{counts} ({name})")),
        up: Axis::new(deepest, 2.0, 4, "log likelihood"),
    };
    drawn.push(panel.axes());
    alternatives(camera, &panel, unit, Vec::new(), drawn);
    if let Some(ahead) = camera.ahead {
        let at = |value| panel.at(ahead.0 / unit, value);
        let mark = Stroke::new(style::FIND, line::FINE);
        drawn.push(svg::line(at(deepest), at(2.0), mark));
    }
    let shown = curve.iter().map(|(ahead, value)| (ahead / unit, value.max(deepest)));
    drawn.push(panel.curve(shown, CURVE));
}

/// Marks the alternatives at their offsets, as many as fit: the labels above the
/// frame never cover each other nor the `taken` intervals.
fn alternatives(
    camera: &CameraClock,
    panel: &Panel,
    unit: f64,
    mut taken: Vec<(f64, f64)>,
    drawn: &mut Elements,
) {
    const APART: f64 = 5.0;
    let letters = Letters::new(size::SMALL).colour(style::ASIDE);
    let dashed = Stroke::new(style::ASIDE, line::FINE).dashed(1.6, 1.4);
    let (left, right) = (panel.frame.corner.x, panel.frame.right());
    let worth = camera.alternatives.iter().filter(|alternative| alternative.probability >= 0.001);
    let mut lines: Vec<f64> = Vec::new();
    for alternative in worth.take(3) {
        let x = panel.at(alternative.ahead.0 / unit, 0.0).x;
        // draw coinciding lines once
        if !(left..=right).contains(&x) || lines.iter().any(|line| (line - x).abs() < 2.0) {
            continue;
        }
        lines.push(x);
        let (top, foot) = (panel.frame.corner.y, panel.frame.bottom());
        drawn.push(svg::line(Point::new(x, top), Point::new(x, foot), dashed));
        let percent = 100.0 * alternative.probability;
        let decimals = usize::from(percent < 9.5);
        let words = words::bound(&format!("alternative {percent:.decimals$} %"));
        let wide = fonts::width(&words, letters.face, letters.size);
        let from = (x - wide / 2.0).min(right - wide).max(left);
        let to = from + wide;
        if taken.iter().all(|(start, end)| to + APART <= *start || end + APART <= from) {
            drawn.push(svg::text(Point::new(from, top - 2.5), &words, letters.long(wide)));
            taken.push((from, to));
        }
    }
}

fn close_up(
    camera: &CameraClock,
    curve: &[(f64, f64)],
    counts: &str,
    frame: Frame,
    drawn: &mut Elements,
) {
    let (middle, reach) = neighbourhood(camera, curve);
    let panel = Panel {
        frame,
        across: offsets(middle - reach, middle + reach, counts),
        up: Axis::new(0.0, 1.05, 2, "likelihood"),
    };
    let band =
        camera.interval95.map(|(low, high)| panel.stripe(low.0, high.0).washed(style::STOP, 0.28));
    drawn.extend(band);
    drawn.push(panel.axes());
    let mut taken = Vec::new();
    if camera.interval95.is_some() {
        let letters = Letters::new(size::SMALL).colour(style::SOFT_INK);
        let words = words::bound(if camera.method == ClockMethod::Declined {
            "shaded: compatible with the data"
        } else {
            "shaded: 95 %"
        });
        let at = frame.corner.plus(4.0, -2.5);
        taken.push((at.x, at.x + fonts::width(&words, letters.face, letters.size)));
        drawn.push(svg::text(at, &words, letters));
    }
    alternatives(camera, &panel, 1.0, taken, drawn);
    let near: Vec<(f64, f64)> = curve
        .iter()
        .filter(|(ahead, _)| (ahead - middle).abs() <= reach)
        .map(|(ahead, value)| (*ahead, value.exp()))
        .collect();
    drawn.push(panel.area(near.iter().copied()).washed(style::SEARCH, 0.16));
    drawn.push(panel.curve(near, CURVE));
    if let Some(ahead) = camera.ahead {
        let at = |value| panel.at(ahead.0, value);
        drawn.push(svg::line(at(0.0), at(1.05), Stroke::new(style::FIND, line::CURVE)));
    }
}

/// An axis of offsets with labels in clock format.
fn offsets(from: f64, to: f64, counts: &str) -> Axis {
    let steps = [1.0, 2.0, 5.0, 10.0, 20.0, 30.0, 60.0, 120.0, 300.0, 600.0, 1_800.0, 3_600.0];
    let span = to - from;
    let Some(step) = steps.into_iter().find(|step| span / step <= 5.5) else {
        let mut axis = Axis::new(from / 3_600.0, to / 3_600.0, 5, &format!("{counts} (h)"));
        (axis.from, axis.to) = (from, to);
        axis.ticks.iter_mut().for_each(|(at, _)| *at *= 3_600.0);
        return axis;
    };
    let mut ticks = Vec::new();
    let mut at = (from / step).ceil() * step;
    while at <= to {
        ticks.push((at, clock_face(at)));
        at += step;
    }
    Axis { title: format!("{counts} (h:min:s)"), ticks, ..Axis::bare(from, to) }
}

/// `1:02:05`, with an en dash for a negative offset.
fn clock_face(seconds: f64) -> String {
    let whole = seconds.abs().round();
    let sign = if seconds < -0.5 { "\u{2013}" } else { "" };
    let (hours, rest) = ((whole / 3_600.0).floor(), whole % 3_600.0);
    format!("{sign}{hours:.0}:{:02.0}:{:02.0}", (rest / 60.0).floor(), rest % 60.0)
}

/// The range of the close-up: its centre and half width in seconds.
fn neighbourhood(camera: &CameraClock, curve: &[(f64, f64)]) -> (f64, f64) {
    let best = curve.iter().max_by(|a, b| a.1.total_cmp(&b.1)).map_or(0.0, |(ahead, _)| *ahead);
    let (low, high) = ends(curve);
    // without an estimate, the range compatible with the data
    let (middle, share) = match (camera.ahead, camera.interval95) {
        (Some(ahead), _) => (ahead.0, 2.5),
        (None, Some((from, to))) => (f64::midpoint(from.0, to.0), 1.5),
        (None, None) => (best, 2.5),
    };
    let wished = camera
        .interval95
        .map_or(60.0, |(from, to)| share * (to.0 - middle).abs().max((middle - from.0).abs()));
    // not beyond the searched range
    let whole = (high - middle).max(middle - low).max(12.0);
    let mut reach = wished.clamp(12.0, whole);
    // wide enough to show a curve
    let points = |reach: f64| curve.iter().filter(|(at, _)| (at - middle).abs() <= reach).count();
    while points(reach) < 9.min(curve.len()) && reach < high - low {
        reach *= 1.5;
    }
    (middle, reach)
}

fn ends(curve: &[(f64, f64)]) -> (f64, f64) {
    curve.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), (ahead, _)| {
        (low.min(*ahead), high.max(*ahead))
    })
}

/// A suitable unit for a span of seconds.
fn unit(span: f64) -> (f64, &'static str) {
    match span {
        span if span >= 4.0 * 86_400.0 => (86_400.0, "days"),
        span if span >= 7_200.0 => (3_600.0, "h"),
        span if span >= 240.0 => (60.0, "min"),
        _ => (1.0, "s"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::ClockBasis;
    use crate::model::ClockPeak;

    #[test]
    fn spans_omit_zero_units() {
        assert_eq!(span(Seconds(3_600.0)), "1 h");
        assert_eq!(span(Seconds(-131.0)), "\u{2013}2 min 11 s");
        assert_eq!(span(Seconds(-0.2)), "0 s");
        assert_eq!(span(Seconds(3_605.0)), "1 h 0 min 5 s");
        assert_eq!(side(Seconds(-23.0)), "23 s behind");
    }

    fn drawn(camera: &CameraClock) -> String {
        let mut drawn = Elements::default();
        panel(camera, 0.0, 480.0, &mut drawn);
        svg::group().with(drawn).to_string()
    }

    #[test]
    fn labels_of_alternatives_do_not_overlap() {
        let mut camera = crate::present::fixture::day().cameras.remove(0);
        let alternative = |ahead, probability| ClockPeak { ahead: Seconds(ahead), probability };
        camera.alternatives =
            vec![alternative(615.0, 0.162), alternative(148.0, 0.002), alternative(427.0, 0.002)];
        let drawn = drawn(&camera);
        assert_eq!(drawn.matches(">alternative").count(), 1, "{drawn}");
        assert!(drawn.contains("alternative 16\u{a0}%"));
        // nor run past the frame
        camera.alternatives = vec![alternative(-50_390.0, 0.1), alternative(50_390.0, 0.1)];
        assert_eq!(self::drawn(&camera).matches(">alternative").count(), 2);
    }

    #[test]
    fn clock_verdict_is_a_sentence() {
        let mut camera = crate::present::fixture::day().cameras.remove(0);
        camera.basis = ClockBasis::Words("there is no track".to_owned());
        camera.ahead = None;
        (camera.zone_part, camera.error_part) = (None, None);
        assert_eq!(verdict(&camera), "Not determined from this day. There is no track.");
        camera.ahead = Some(Seconds(3_600.0));
        camera.interval95 = None;
        camera.method = ClockMethod::Stated;
        assert_eq!(verdict(&camera), "1 h ahead, as stated");
    }

    #[test]
    fn wrong_date_and_time_of_day_are_reported_separately() {
        let mut camera = crate::present::fixture::day().cameras.remove(0);
        let days = Seconds(-86_400.0);
        camera.ahead = Some(days + Seconds(23.0));
        camera.interval95 = Some((days + Seconds(12.0), days + Seconds(37.0)));
        (camera.zone_part, camera.error_part) = (Some(days), Some(Seconds(23.0)));
        camera.profile.iter_mut().for_each(|(ahead, _)| {
            *ahead = *ahead + days - Seconds(3_708.0);
        });
        camera.basis = ClockBasis::None;
        assert_eq!(
            verdict(&camera),
            "The date is 1 day behind, the time of day is 23 s ahead (95 %: 12 s to 37 s), from this day"
        );
        assert!(drawn(&camera).contains("but for the date (h:min:s)"));
    }

    #[test]
    fn offsets_are_labelled_in_clock_format() {
        let axis = offsets(3_713.0, 3_749.0, "ahead");
        let words: Vec<&str> = axis.ticks.iter().map(|(_, words)| words.as_str()).collect();
        assert_eq!(words, ["1:02:00", "1:02:10", "1:02:20"]);
        let axis = offsets(-50_000.0, 50_000.0, "ahead");
        assert!(axis.title.ends_with("(h)") && axis.ticks.len() >= 3);
        assert!(axis.ticks.iter().all(|(at, _)| axis.share(*at) >= 0.0 && axis.share(*at) <= 1.0));
    }
}
