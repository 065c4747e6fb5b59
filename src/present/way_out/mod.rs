//! Formats a way out as text, JSON, GPX route, card, and page for a whole area. Layer: `present`.
//!
//! | function | form | size |
//! |---|---|---|
//! | [`report`] | text for a terminal | |
//! | [`object`] | JSON, units in the names of the properties | |
//! | [`route`] | GPX route for a receiver | a waypoint at each turn |
//! | [`card()`] | drawing | A6, ink 12 mm from the edge |
//! | [`area_page()`] | drawing for use without batteries | A5 landscape |
//! | [`message::compose`] | one text message | 160 characters of GSM-7 |
//! | [`plan_message::compose`] | the plan, for whoever waits at home | the same |
//!
//! Report, JSON, card and message state the verdict, the uncertainty of the position beside its bearing, and what to
//! do in an emergency ([`cautions`] has the whole list). The codes in JSON are listed in `docs/way-out.md`.
//!
//! # Examples
//! ```
//! use trug::present::way_out;
//! use trug::units::{LatLon, Metres, Radius95, TimeZone};
//! use trug::wayout::{self, Goal, Request, Start};
//!
//! let radius = Radius95::new(Metres(20.0)).ok_or("no radius")?;
//! let here = Start::stated(LatLon::new(-42.6189, 146.0912)?, radius);
//! let gate = Goal { name: "Sawmill gate".into(), at: LatLon::new(-42.6110, 146.1010)? };
//! let zone = TimeZone::get("Australia/Hobart")?;
//! let answer = wayout::find(&Request::new(here, gate, "2026-05-16T05:20:00Z".parse()?, zone)?)?;
//!
//! let message = way_out::message::compose(&answer);
//! assert!(message.contains("to Sawmill gate: MAG 028 1190m"), "{message}");
//! assert!(message.len() <= 160);
//! assert!(way_out::report(&answer).contains("Sawmill gate"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

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
///
/// [`gpx::routes`](super::gpx::routes) writes it.
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
