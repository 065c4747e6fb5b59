//! Formats a way out as text, JSON, GPX route, card, and page for a whole area. Layer: `present`.

mod area_page;
mod card;
pub(crate) mod findings;
mod json;
pub(crate) mod light;
pub mod message;
pub mod plan_message;
mod sketch;
mod text;

pub use area_page::drawing as area_page;
pub use card::{drawing as card, ground_of};
pub use findings::cautions;
pub(crate) use json::sun;
pub use json::{area, object};
pub use text::{area_table, report};

use crate::model::{Fix, Route, Waypoint};
use crate::wayout::report::{Ranked, WayOut};

/// The best route for a GPS receiver: a waypoint at each turn, named and described by the leg
/// that follows.
#[must_use]
pub fn route(answer: &WayOut) -> Route {
    let Some(Ranked { way, .. }) = answer.best() else { return Route::default() };
    let start = way.legs.first().map(|leg| waypoint(leg.from, "Start", leg_words(leg)));
    let corners = way.legs.iter().enumerate().map(|(index, leg)| {
        let next = way.legs.get(index + 1);
        let name =
            if next.is_some() { format!("Leg {}", index + 2) } else { answer.to.name.clone() };
        waypoint(leg.to, &name, next.map_or_else(|| findings::landmarks(&leg.expect), leg_words))
    });
    Route {
        name: Some(format!("Way out to {}, {}", answer.to.name, findings::route_kind(way.kind))),
        points: start.into_iter().chain(corners).collect(),
    }
}

fn waypoint(at: crate::units::LatLon, name: &str, description: String) -> Waypoint {
    Waypoint {
        fix: Fix::bare(at, None),
        name: Some(name.to_owned()),
        description: Some(description),
        comment: None,
        symbol: None,
        averaged: None,
    }
}

fn leg_words(leg: &crate::wayout::legs::Leg) -> String {
    format!("{} for {}, {} paces", leg.magnetic_bearing, leg.distance, leg.paces)
}
