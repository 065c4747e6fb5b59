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
use crate::wayout::start::LegPrecision;

/// The best route for a GPS receiver: a waypoint at each turn, named and described by the leg
/// that follows.
#[must_use]
pub fn route(answer: &WayOut) -> Route {
    let Some(Ranked { way, .. }) = answer.best() else { return Route::default() };
    let precision = answer.first_leg(way);
    let start = way.legs.first().map(|leg| waypoint(leg.from, "Start", leg_words(leg, precision)));
    let corners = way.legs.iter().enumerate().map(|(index, leg)| {
        let next = way.legs.get(index + 1);
        let name =
            if next.is_some() { format!("Leg {}", index + 2) } else { answer.to.name.clone() };
        waypoint(
            leg.to,
            &name,
            next.map_or_else(|| findings::landmarks(&leg.expect), |next| leg_words(next, None)),
        )
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

/// Bearing, distance and paces of a leg; those of the first to the precision of the position.
fn leg_words(leg: &crate::wayout::legs::Leg, precision: Option<LegPrecision>) -> String {
    let precision = precision.filter(|precision| !precision.any_side());
    let distance = precision.map_or(leg.distance, |precision| precision.rounded(leg.distance));
    let paces = text::paces(leg.paces, leg.distance, precision);
    format!("{} for {distance}, {paces} paces", leg.magnetic_bearing)
}
