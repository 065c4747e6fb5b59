//! Writes a way out as one JSON object with units in the property names. Layer: `present`.

use serde_json::{Value, json};

use super::{findings, light};
use crate::earth::sun::Passage;
use crate::model::Caution;
use crate::present::coded::with_sentence;
use crate::units::{LatLon, Seconds};
use crate::wayout::area::AreaPage;
use crate::wayout::daylight::Daylight;
use crate::wayout::legs::{Leg, Route};
use crate::wayout::report::{Ranked, WayOut};
use crate::wayout::start::bearing_range;

/// The whole answer.
///
/// Names of properties carry their unit (`_m`, `_s`, `_deg`); notes and warnings are objects with a stable `code`.
#[must_use]
pub fn object(answer: &WayOut) -> Value {
    let direct = &answer.direct;
    let from = &answer.from;
    let best = answer.best().map(|best| &best.verdict);
    json!({
        "at": format!("{:.0}", answer.now),
        "from": {
            "latitude": from.at.latitude(),
            "longitude": from.at.longitude(),
            "radius95_m": from.radius.metres().0,
            "time": from.when.map(|when| when.to_string()),
            "basis": findings::origin(&from.origin),
            "origin": from.origin,
            "ellipse95": from.ellipse.map(|ellipse| json!({
                "major_m": ellipse.major.0,
                "minor_m": ellipse.minor.0,
                "along_true_deg": ellipse.along.degrees().0,
            })),
            "mgrs": direct.mgrs[0],
            "utm": direct.utm[0],
        },
        "to": {
            "name": answer.to.name,
            "latitude": answer.to.at.latitude(),
            "longitude": answer.to.at.longitude(),
            "mgrs": direct.mgrs[1],
            "utm": direct.utm[1],
        },
        "direct": {
            "distance_m": direct.distance.0,
            "true_bearing_deg": direct.true_bearing.degrees().0,
            "magnetic_bearing_deg": direct.magnetic_bearing.degrees().0,
            "grid_bearing_deg": direct.grid_bearing.degrees().0,
            "declination_deg": direct.declination.east.0,
            "declination_uncertainty_deg": direct.declination.uncertainty.0,
            "declination_date": direct.declination.date.to_string(),
            "declination_model": direct.declination.model,
            "declination_expires": crate::earth::declination::LAST_DAY.to_string(),
            "convergence_deg": direct.convergence.0.0,
            "bearing_range_deg": bearing_range(from.radius, direct.distance).0,
            "back_bearing_magnetic_deg": direct.back_bearing.degrees().0,
            "paces": direct.paces,
            "missed_by": direct.missed_by.iter().map(|(error, aside)| json!({
                "error_deg": error.0, "aside_m": aside.0,
            })).collect::<Vec<_>>(),
        },
        "ways": answer.ways.iter().map(ranked).collect::<Vec<_>>(),
        "not_possible": answer.not_possible.iter().map(|(kind, reason)| json!({
            "kind": kind, "why": findings::no_route(reason),
        })).collect::<Vec<_>>(),
        "offset": answer.offset.as_ref().map(|offset| json!({
            "side": offset.side,
            "degrees": offset.degrees.0,
            "magnetic_bearing_deg": offset.magnetic_bearing.degrees().0,
            "true_bearing_deg": offset.true_bearing.degrees().0,
            "distance_m": offset.distance.0,
            "turn": offset.turn,
            "along_m": offset.along.0,
            "too_far_paces": offset.too_far_paces,
            "line": offset.line,
            "sentence": findings::offset(offset),
        })),
        "sun": sun(&answer.light),
        "light": daylight(answer),
        "turn_back_by": best.and_then(|best| best.latest_start.by()).map(|by| format!("{by:.0}")),
        "latest_start": best.map(|best| best.latest_start),
        "latest_start_in": best.and_then(|best| best.latest_start_in),
        "starts_in": best.map(|best| best.starts_in),
        "verdict": best.map(|best| best.advice),
        "verdict_reason": best.map(|best| best.reason),
        "waiting": best.and_then(|best| best.waiting),
        "verdict_words": answer.best().map(|best| light::words(best, &answer.zone)),
        "first_leg": answer.best().and_then(|best| answer.first_leg(&best.way)),
        "zone": answer.zone.iana_name(),
        "warnings": answer.warnings.iter()
            .map(|warning| with_sentence(warning, &findings::warning(warning)))
            .collect::<Vec<_>>(),
        "cautions": Caution::ALL.map(findings::caution),
    })
}

fn ranked(ranked: &Ranked) -> Value {
    let mut way = way(&ranked.way);
    way["arrival"] = json!(format!("{:.0}", ranked.verdict.arrival));
    way["verdict"] = json!(ranked.verdict.advice);
    way["reason"] = with_sentence(&ranked.reason, &findings::rank(ranked.way.kind, ranked.reason));
    way
}

fn way(way: &Route) -> Value {
    json!({
        "kind": way.kind,
        "distance_m": way.distance.0,
        "climb_m": way.climb.map(|climb| climb.0),
        "descent_m": way.descent.map(|descent| descent.0),
        "duration_s": way.duration.careful().0,
        "duration_tobler_s": way.duration.tobler.0,
        "duration_naismith_langmuir_s": way.duration.naismith_langmuir.0,
        "legs": way.legs.iter().map(leg).collect::<Vec<_>>(),
        "notes": way.notes.iter()
            .map(|note| with_sentence(note, &findings::note(*note)))
            .collect::<Vec<_>>(),
    })
}

fn leg(leg: &Leg) -> Value {
    json!({
        "from": place(leg.from),
        "to": place(leg.to),
        "distance_m": leg.distance.0,
        "true_bearing_deg": leg.true_bearing.degrees().0,
        "magnetic_bearing_deg": leg.magnetic_bearing.degrees().0,
        "paces": leg.paces,
        "climb_m": leg.climb.0,
        "descent_m": leg.descent.0,
        "duration_s": leg.duration.careful().0,
        "footing": leg.surface,
        "steep_deg": leg.steep.map(|slope| slope.0),
        "expect": findings::landmarks(&leg.expect),
        "landmarks": leg.expect,
    })
}

fn place(place: LatLon) -> Value {
    json!({ "latitude": place.latitude(), "longitude": place.longitude() })
}

/// The solar day about the moment, with the kind of day it is.
pub(crate) fn sun(light: &Daylight) -> Value {
    let sun = &light.sun;
    json!({
        "kind": light.kind,
        "civil_dawn": instant(sun.civil_dawn),
        "sunrise": instant(sun.sunrise),
        "sunset": instant(sun.sunset),
        "civil_dusk": instant(sun.civil_dusk),
        "sunset_state": state(sun.sunset),
        "civil_dusk_state": state(sun.civil_dusk),
    })
}

/// The light now and during the next day, and the light along the best route.
fn daylight(answer: &WayOut) -> Value {
    let light = &answer.light;
    let until = Seconds(86_400.0).after(answer.now);
    json!({
        "now": light.at(answer.now),
        "ahead": light.along(answer.now, until),
        "on_the_way": answer.best().map(|best| best.verdict.light),
    })
}

fn instant(passage: Passage) -> Option<String> {
    passage.instant().map(|instant| instant.to_string())
}

fn state(passage: Passage) -> &'static str {
    match passage {
        Passage::At(_) => "passes",
        Passage::StaysAbove => "stays-above",
        Passage::StaysBelow => "stays-below",
    }
}

/// The page of an area.
#[must_use]
pub fn area(page: &AreaPage) -> Value {
    let cell = |(row, column, cell): (usize, usize, &crate::wayout::area::AreaCell)| {
        json!({
            "cell": super::text::cell_name(column, row),
            "at": place(cell.at),
            "mgrs": cell.mgrs,
            "magnetic_bearing_deg": cell.magnetic_bearing.degrees().0,
            "true_bearing_deg": cell.true_bearing.degrees().0,
            "distance_m": cell.distance.0,
            "goal_in_cell": cell.here,
            "bearing_range_deg": (!cell.here).then_some(cell.bearing_range.0),
            "distance_range_m": (!cell.here).then_some(cell.distance_range.0),
            "to": super::text::goal_name(page, cell.goal),
        })
    };
    let cells = page.rows.iter().enumerate().flat_map(|(row, cells)| {
        cells.iter().enumerate().map(move |(column, cell)| (row, column, cell))
    });
    json!({
        "side_m": page.side.0,
        "grid": { "zone": page.corner.zone(), "north": page.corner.is_north() },
        "corner_easting_m": page.corner.easting().0,
        "corner_northing_m": page.corner.northing().0,
        "convergence_deg": page.convergence.0.0,
        "declination_deg": page.declination.east.0,
        "declination_date": page.declination.date.to_string(),
        "sun": sun(&page.light),
        "cells": cells.map(cell).collect::<Vec<_>>(),
        "cautions": Caution::ALL.map(findings::caution),
    })
}
