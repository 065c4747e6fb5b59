//! Draws one strip for each season of a taxon: hours searched as bars, finds as circles, week by week.
//! Layer: `present`.

use super::season_axis::SeasonAxis;
use crate::analyse::season::{Per, Season, SeasonWeeks, Week};
use crate::present::chart::round_step;
use crate::present::markup::Elements;
use crate::present::style::{self, line, size};
use crate::present::summary::words::counted;
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke};

/// The height of one strip, points.
pub(super) const STRIP: f64 = 22.0;
/// The largest circle.
const LARGEST: f64 = 7.2;
/// The highest bar.
const HIGHEST: f64 = 17.0;
/// The height of the key below the strips.
pub(super) const KEY: f64 = 24.0;

/// What the sizes of a figure mean.
#[derive(Clone, Copy, Debug)]
struct Sizes {
    finds: f64,
    hours: f64,
}

impl Sizes {
    fn of(season: &Season) -> Self {
        let weeks = || season.each_season.iter().flat_map(|year| &year.weeks);
        Self {
            finds: weeks().map(|week| f64::from(week.finds)).fold(1.0, f64::max),
            hours: weeks().map(|week| week.hours).fold(0.1, f64::max),
        }
    }

    fn radius(self, finds: f64) -> f64 {
        LARGEST * (finds / self.finds).sqrt()
    }

    fn bar(self, hours: f64) -> f64 {
        HIGHEST * hours / self.hours
    }
}

/// The strips from the top of the frame on; its height is theirs and that of the key.
pub(super) fn draw(season: &Season, axis: SeasonAxis, frame: Frame) -> Elements {
    let sizes = Sizes::of(season);
    let mut drawn = Elements::default();
    let letters = Letters::new(size::SMALL).anchor(Anchor::End);
    let base = Stroke::new(style::RAW, line::HAIR);
    for (place, year) in season.each_season.iter().enumerate() {
        let foot = frame.corner.y + STRIP * (place as f64 + 1.0);
        let at = Point::new(frame.corner.x, foot);
        drawn.push(svg::line(at, Point::new(frame.right(), foot), base));
        let words = label(year, axis, season.begins);
        drawn.push(svg::text(at.plus(-5.0, -0.3 * STRIP), &words, letters));
        drawn.push(weeks(&year.weeks, axis, frame, foot, sizes));
    }
    let foot = frame.corner.y + STRIP * season.each_season.len() as f64;
    drawn.push(key(season.per, sizes, Point::new(frame.corner.x, foot + KEY)));
    drawn
}

/// `2026`, or `2025/26` where the axis goes across New Year.
fn label(year: &SeasonWeeks, axis: SeasonAxis, begins: f64) -> String {
    // an axis whose left edge lies after New Year is in the next year
    let left = year.from + i32::from(f64::from(axis.first) < begins.round());
    if axis.crosses_new_year() {
        format!("{left}/{:02}", (left + 1).rem_euclid(100))
    } else {
        left.to_string()
    }
}

fn weeks(weeks: &[Week], axis: SeasonAxis, frame: Frame, foot: f64, sizes: Sizes) -> Elements {
    let mut drawn = Elements::default();
    let x = |after: f64| frame.corner.x + frame.wide * after / f64::from(axis.days);
    let seen = || {
        let all = weeks.iter().map(|week| (axis.after(f64::from(week.day)), week));
        all.filter(|(after, _)| *after <= f64::from(axis.days))
    };
    for (after, week) in seen().filter(|(_, week)| week.hours > 0.0) {
        let high = sizes.bar(week.hours).max(0.6);
        let (from, to) = (x(after), x((after + 6.4).min(f64::from(axis.days))));
        let bar = Frame::new(from, foot - high, to - from, high);
        drawn.push(svg::rectangle(bar).washed(style::SEARCH, 0.32));
    }
    let edge = Stroke::new(style::PAPER, line::FINE);
    for (after, week) in seen().filter(|(_, week)| week.finds > 0) {
        let radius = sizes.radius(f64::from(week.finds)).max(1.2);
        let at = Point::new(x((after + 3.2).min(f64::from(axis.days))), foot - 0.45 * STRIP);
        let circle = svg::circle(at, radius);
        // a ring where nobody searched with a track
        drawn.push(if week.hours > 0.0 {
            circle.filled(style::FIND).stroked(edge)
        } else {
            circle.set("fill", "none").stroked(Stroke::new(style::FIND, line::CURVE))
        });
    }
    drawn
}

/// Circles and a bar of round sizes; `foot` is the lower left corner.
fn key(per: Per, sizes: Sizes, foot: Point) -> Elements {
    let mut drawn = Elements::default();
    let letters = Letters::new(size::SMALL);
    let y = foot.y - 0.5 * KEY + 2.0;
    let mut x = foot.x;
    let most = sizes.finds.round();
    let mut steps = vec![1.0];
    if most > 4.0 {
        steps.push((most / 3.0).round());
    }
    if most > 1.0 {
        steps.push(most);
    }
    for finds in steps {
        let radius = sizes.radius(finds).max(1.2);
        let edge = Stroke::new(style::PAPER, line::FINE);
        drawn
            .push(svg::circle(Point::new(x + radius, y), radius).filled(style::FIND).stroked(edge));
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "a count of finds"
        )]
        let words = counted(finds as usize, "find", "finds");
        drawn.push(svg::text(Point::new(x + 2.0 * radius + 3.0, y + 2.4), &words, letters));
        x += 2.0 * radius + 12.0 + crate::present::fonts::width(&words, letters.face, letters.size);
    }
    let hours = round_step(0.4 * sizes.hours);
    let high = sizes.bar(hours);
    drawn.push(
        svg::rectangle(Frame::new(x + 6.0, y + 7.0 - high, 10.0, high)).washed(style::SEARCH, 0.32),
    );
    let unit = match per {
        Per::Hour => "h searched",
        Per::Km => "km searched",
        Per::Hectare => "ha searched",
    };
    let words = format!("{} {unit} in a week; ring: no track", svg::short(hours));
    drawn.push(svg::text(Point::new(x + 20.0, y + 2.4), &words, letters));
    drawn
}
