//! Writes a round as waypoints and routes: GPX 1.1 and KML 2.2. Layer: `present`.

use std::fmt::Write;

use super::{PlannedRound, walked};
use crate::model::{Fix, Route, Waypoint};
use crate::present::gpx;
use crate::present::markup::Element;
use crate::units::LatLon;
use crate::wayout::light::{clock, span};

/// The stops as waypoints and each leg as a route.
#[must_use]
pub fn gpx(round: &PlannedRound) -> String {
    let start = waypoint(round.from.0, "Start", &round.from.1);
    let stops = round.stops.iter().enumerate();
    let stops = stops.map(|(index, stop)| {
        waypoint(stop.at, &format!("{} {}", index + 1, stop.name), &about(round, index))
    });
    let waypoints: Vec<Waypoint> = std::iter::once(start).chain(stops).collect();
    let routes: Vec<Route> = round
        .legs
        .iter()
        .enumerate()
        .map(|(index, leg)| Route {
            name: Some(leg_name(round, index)),
            points: leg.line.iter().map(|at| bare(*at)).collect(),
        })
        .collect();
    gpx::routes(&routes, &waypoints)
}

/// The same as placemarks.
///
/// # References
/// OGC 07-147r2 (2008), KML 2.2.
#[must_use]
pub fn kml(round: &PlannedRound) -> String {
    let mark = |name: &str, words: &str, shape: Element| {
        Element::new("Placemark")
            .with(Element::new("name").with_text(name))
            .with(Element::new("description").with_text(words))
            .with(shape)
    };
    let point =
        |at: LatLon| Element::new("Point").with(Element::new("coordinates").with_text(&tuple(at)));
    let mut document = Element::new("Document")
        .with(Element::new("name").with_text(&super::figure::title(round)))
        .with(
            Element::new("description")
                .with_text(concat!("written by trug ", env!("CARGO_PKG_VERSION"))),
        )
        .with(mark("Start", &round.from.1, point(round.from.0)));
    for (index, stop) in round.stops.iter().enumerate() {
        let name = format!("{} {}", index + 1, stop.name);
        document = document.with(mark(&name, &about(round, index), point(stop.at)));
    }
    for (index, leg) in round.legs.iter().enumerate() {
        let mut tuples = String::new();
        for at in &leg.line {
            let _ = write!(tuples, "{} ", tuple(*at));
        }
        let line = Element::new("LineString")
            .with(Element::new("coordinates").with_text(tuples.trim_end()));
        let words = format!("{}, {}", walked(leg.distance), span(leg.duration));
        document = document.with(mark(&leg_name(round, index), &words, line));
    }
    let root = Element::new("kml").set("xmlns", "http://www.opengis.net/kml/2.2").with(document);
    format!("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n{root}\n")
}

fn tuple(at: LatLon) -> String {
    format!("{:.7},{:.7}", at.longitude(), at.latitude())
}

fn leg_name(round: &PlannedRound, index: usize) -> String {
    let stop = |index: usize| match index {
        0 => "start".to_owned(),
        index if index > round.stops.len() => "start".to_owned(),
        index => index.to_string(),
    };
    format!("{} to {}", stop(index), stop(index + 1))
}

fn about(round: &PlannedRound, index: usize) -> String {
    let Some(stop) = round.stops.get(index) else { return String::new() };
    let at = |instant| clock(instant, &round.zone);
    format!(
        "chance of a find {:.0} %; arrive {}, leave by {} for the way straight back",
        100.0 * stop.chance.0,
        at(stop.arrive),
        at(stop.leave_by)
    )
}

fn waypoint(at: LatLon, name: &str, comment: &str) -> Waypoint {
    Waypoint { name: Some(name.to_owned()), comment: Some(comment.to_owned()), ..bare(at) }
}

fn bare(at: LatLon) -> Waypoint {
    Waypoint {
        fix: Fix::bare(at, None),
        name: None,
        description: None,
        comment: None,
        symbol: None,
        averaged: None,
    }
}
