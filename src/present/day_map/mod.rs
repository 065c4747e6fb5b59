//! Draws the day map: the track as recorded and as estimated, stops, photographs and finds with their
//! circles; below it the clock evidence of each camera. Layer: `present`.
//!
//! It shows what the positions rest on: where a circle is wide, the gap, the clock or the missing track is visible
//! beside it. Finds for whose numbers there is no room share a key that a list below the map resolves, so that
//! every number is on the figure. Positions are exact.

pub(in crate::present) mod clock;
mod crowds;
pub(in crate::present) mod layers;
pub(in crate::present) mod legend;
pub(in crate::present) mod naming;
mod numbers;
mod times;

use super::fonts::Face;
use super::map::MapSheet;
use super::map::frame::{self, MapBase};
use super::map::names::Obstacles;
use super::markup::{Element, Elements};
use super::style::{self, size};
use super::summary::words;
use super::svg::{self, Frame, Letters, Point};
use crate::earth::height_grid::GroundArea;
use crate::model::{Day, Verdict};
use crate::units::{LatLon, Metres};

pub use super::map::ground::MapGround;

/// Margin, so that trimming loses nothing, points.
const MARGIN: f64 = 14.0;
/// The width of what is drawn: the figure is 180 mm wide, the text of an A4 page.
const WIDE: f64 = 510.24 - 2.0 * MARGIN;
/// The largest map height.
const HIGHEST: f64 = 400.0;
/// The height of the heading.
const HEAD: f64 = 35.0;
/// The least map height.
const LOWEST: f64 = 190.0;

/// The day as an SVG drawing, 180 mm wide.
///
/// A day without any position gives a figure with a message instead of a map. Finds more than 50 km from the median
/// find are left out of the map and listed. [`render`](super::render) makes PNG and PDF of it.
///
/// # Examples
/// ```no_run
/// use trug::join::{self, Options};
/// use trug::present::{day_map, render};
///
/// let intake = trug::ingest::read(&["2026-05-02"]);
/// for day in join::join(intake, &Options::default()) {
///     let drawing = day_map::figure(&day);
///     std::fs::write(format!("{}.png", day.outing.date), render::png(&drawing, 150.0)?)?;
/// }
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn figure(day: &Day) -> String {
    figure_on(day, &MapGround::default())
}

/// The frame of the map below the heading.
const FRAME: Frame = Frame::new(16.0, HEAD, WIDE - 16.5, HIGHEST);

/// The ground within the frame of the day's figure; `None` where there is no map.
///
/// For a caller who has elevation tiles or base maps: it reads them for this area and passes the ground to
/// [`figure_on`].
#[must_use]
pub fn area(day: &Day) -> Option<GroundArea> {
    fit(day, FRAME, LOWEST).map(|sheet| sheet.area())
}

/// As [`figure`], on the ground of [`area`].
#[must_use]
pub fn figure_on(day: &Day, ground: &MapGround) -> String {
    let mut drawn = Elements::default();
    let mut foot = heading(day, &mut drawn);
    if let Some(sheet) = fit(day, FRAME, LOWEST) {
        foot = map(day, &sheet, ground, &mut drawn);
    } else {
        let words = "No map: no position is known on this day.";
        drawn.push(svg::text(Point::new(0.0, foot + 12.0), words, Letters::new(size::BODY)));
        foot += 24.0;
    }
    for camera in &day.cameras {
        foot = clock::panel(camera, foot + 14.0, WIDE, &mut drawn);
    }
    let (wide, high) = (WIDE + 2.0 * MARGIN, foot + 2.0 * MARGIN);
    let ground = svg::rectangle(Frame::new(0.0, 0.0, wide, high)).filled(style::PAPER);
    let placed =
        svg::group().set("transform", format_args!("translate({MARGIN} {MARGIN})")).with(drawn);
    let words = description(day);
    svg::described(wide, high, &title(day), &words).with(ground).with(placed).to_string()
}

pub(super) fn title(day: &Day) -> String {
    let date = words::day_of(&day.outing);
    match &day.outing.collector {
        Some(collector) => format!("{date}, {collector}"),
        None => date,
    }
}

/// What the figure says, for readers who do not see it.
fn description(day: &Day) -> String {
    let mut parts = vec![format!("Map of the day: {}.", subtitle(day).replace("  \u{b7}  ", "; "))];
    let clocks = day
        .cameras
        .iter()
        .filter_map(|camera| Some(format!("{}: {}.", camera.camera, clock::side(camera.ahead?))));
    parts.extend(clocks);
    parts.join(" ")
}

fn heading(day: &Day, drawn: &mut Elements) -> f64 {
    let bold = Letters::new(size::TITLE).face(Face::Bold);
    drawn.push(svg::text(Point::new(0.0, 13.0), &title(day), bold));
    let soft = Letters::new(size::BODY).colour(style::SOFT_INK);
    drawn.push(svg::text(Point::new(0.0, 26.0), &subtitle(day), soft));
    HEAD
}

pub(super) fn subtitle(day: &Day) -> String {
    let zone = &day.outing.zone;
    let mut parts = Vec::new();
    if let (Some(start), Some(end)) = (day.outing.start, day.outing.end) {
        let (start, end) = (words::clock(start, &zone.zone), words::clock(end, &zone.zone));
        parts.push(format!("{start} to {end}, {}", zone.name));
    }
    let kept = day.fixes.iter().filter(|fix| fix.verdict == Verdict::Kept).count();
    parts.push(format!("{} kept", words::counted(kept, "fix", "fixes")));
    let mut radii: Vec<f64> = day
        .finds
        .iter()
        .filter_map(|find| find.place.as_ref().ok())
        .map(|place| place.radius.metres().0)
        .collect();
    radii.sort_by(f64::total_cmp);
    let all = words::counted(day.finds.len(), "find", "finds");
    let middle = radii
        .get(radii.len() / 2)
        .map_or_else(String::new, |middle| format!(", median 95 % radius {}", Metres(*middle)));
    parts.push(format!("{} of {all} located{middle}", radii.len()));
    parts.join("  \u{b7}  ")
}

/// A sheet that holds the track and the finds near it.
pub(super) fn fit(day: &Day, frame: Frame, lowest: f64) -> Option<MapSheet> {
    let mut circles: Vec<(LatLon, Metres)> =
        day.track.iter().map(|point| (point.at, Metres(0.0))).collect();
    let finds: Vec<(LatLon, Metres)> = day
        .finds
        .iter()
        .filter_map(|find| find.place.as_ref().ok())
        .map(|place| (place.at, place.radius.metres()))
        .collect();
    if circles.is_empty() {
        circles.extend(day.stops.iter().map(|stop| (stop.at, stop.radius.metres())));
    }
    if circles.is_empty() {
        return MapSheet::fit(&near_each_other(&finds), frame, 26.0, lowest);
    }
    let walked = MapSheet::fit(&circles, frame, 26.0, lowest)?;
    // an outlying find would shrink the day to a point
    let near = walked.metres(frame.wide);
    circles.extend(finds.into_iter().filter(|(place, radius)| {
        crate::earth::geodesic::distance(*place, walked.middle()) < near && *radius < near
    }));
    MapSheet::fit(&circles, frame, 26.0, lowest)
}

/// Those within 50 km of the median find.
fn near_each_other(finds: &[(LatLon, Metres)]) -> Vec<(LatLon, Metres)> {
    let mut order = finds.to_vec();
    order.sort_by(|a, b| a.0.latitude().total_cmp(&b.0.latitude()));
    let Some(middle) = order.get(order.len() / 2).copied() else { return order };
    let near = |place| crate::earth::geodesic::distance(place, middle.0) < Metres(50_000.0);
    order.retain(|(place, _)| near(*place));
    order
}

/// Draws the map with its frame, furniture and legend and returns their lower edge.
fn map(day: &Day, sheet: &MapSheet, ground: &MapGround, drawn: &mut Elements) -> f64 {
    let base = MapBase::new(ground, sheet);
    let mut obstacles = Obstacles::default();
    let layers = layers::draw(day, sheet, &mut obstacles);
    let (arrow, _) = arrow(day, sheet, &mut obstacles);
    let named = naming::names(day, sheet, &mut obstacles);
    let locator = base.locator(sheet, &mut obstacles);
    let inside = svg::group()
        .set("clip-path", "url(#map)")
        .with(base.below(sheet, &mut obstacles))
        .with(&layers.drawn)
        .with(arrow)
        .with(&named.drawn)
        .with(locator);
    drawn.push(svg::clip("map", sheet.frame));
    drawn.push(inside);
    let mut foot = base.around(sheet, WIDE, drawn);
    foot = legend::draw(&layers, &named, foot + 10.0, WIDE, drawn);
    base.legend(Point::new(0.0, foot + 6.0), WIDE, drawn)
}

/// The north arrow in the emptiest corner, and the room that it takes.
pub(super) fn arrow(day: &Day, sheet: &MapSheet, obstacles: &mut Obstacles) -> (Element, Frame) {
    frame::arrow(sheet, day.outing.dated(), obstacles)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::{fixture, render};

    #[test]
    fn every_find_is_on_the_map_with_its_number() {
        let figure = figure(&fixture::day());
        for number in 212..220 {
            assert!(figure.contains(&format!("NBP 0{number}")), "{number}");
        }
        assert!(figure.contains("8 of 9 finds located"));
        assert!(figure.contains("conflicting position, not used"));
        assert!(figure.contains("1\u{a0}h 2\u{a0}min 11\u{a0}s ahead"));
    }

    #[test]
    fn photographs_are_above_finds_and_coinciding_finds_share_a_label() {
        let mut day = fixture::day();
        let sheet = fit(&day, FRAME, LOWEST).unwrap();
        let layers = layers::draw(&day, &sheet, &mut Obstacles::default());
        let map = svg::group().with(layers.drawn).to_string();
        let last_find = map.rfind(&format!("fill=\"{}\"", style::FIND)).unwrap();
        assert!(last_find < map.find(&format!("stroke=\"{}\"", style::PHOTO)).unwrap());
        let place = day.finds[2].place.clone();
        day.finds[3].place = place.clone();
        day.finds[4].place = place;
        let joined = figure(&day);
        assert!(joined.contains(">NBP 0214\u{2013}0216<"));
    }

    #[test]
    fn map_is_the_same_across_the_date_line() {
        let at = |longitude| {
            let middle = LatLon::new(-16.8, longitude).unwrap();
            fit(&fixture::day_about(middle), FRAME, LOWEST).unwrap()
        };
        let (plain, across) = (at(147.0), at(180.0));
        assert_eq!(plain.denominator, across.denominator);
        assert!((plain.frame.high - across.frame.high).abs() < 0.01);
    }

    #[test]
    fn outlying_find_is_listed_and_does_not_change_the_scale() {
        let mut day = fixture::day();
        let before = fit(&day, FRAME, LOWEST).unwrap().denominator;
        if let Ok(place) = &mut day.finds[3].place {
            place.at = LatLon::new(42.6, 146.0).unwrap();
        }
        assert_eq!(fit(&day, FRAME, LOWEST).unwrap().denominator, before);
        assert!(figure(&day).contains("Off this map: NBP 0215."));
    }

    #[test]
    fn day_without_positions_has_a_message() {
        let mut day = fixture::day();
        day.track.clear();
        day.stops.clear();
        day.finds.clear();
        day.fixes.clear();
        let figure = figure(&day);
        assert!(figure.contains("no position is known"));
        assert!(render::png(&figure, 72.0).is_ok());
    }

    #[test]
    fn all_numbers_in_the_drawing_are_finite() {
        let mut day = fixture::day();
        day.cameras[0].profile[3].1 = f64::NAN;
        day.cameras[0].profile[4].1 = f64::NEG_INFINITY;
        let figure = figure(&day);
        assert!(!figure.contains("NaN") && !figure.contains("inf"));
        assert!(render::pdf(&figure, "day").is_ok());
    }
}
