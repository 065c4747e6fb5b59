//! Formats a way out for a terminal: verdict, straight line, comparison of routes, legs of the best
//! one. Layer: `present`.

use std::fmt::Write;

use super::{findings, light};
use crate::present::table::{Column, Table};
use crate::units::{Metres, TimeZone};
use crate::wayout::area::{AreaCell, AreaPage};
use crate::wayout::legs::{Leg, Route};
use crate::wayout::light::{clock, clock_after, span};
use crate::wayout::report::WayOut;
use crate::wayout::start::LegPrecision;

/// The whole report.
#[must_use]
pub fn report(answer: &WayOut) -> String {
    let mut text = String::new();
    head(&mut text, answer);
    direct(&mut text, answer);
    ways(&mut text, answer);
    if let Some(best) = answer.best() {
        legs(&mut text, answer, &best.way);
    }
    if let Some(offset) = &answer.offset {
        let _ = writeln!(text, "\nDeliberate offset: {}.", findings::offset(offset));
    }
    for (kind, reason) in &answer.not_possible {
        let (kind, error) = (findings::route_kind(*kind), findings::no_route(reason));
        let why = error.why().map_or_else(String::new, |why| format!(" ({why})"));
        let _ = writeln!(text, "\nNot available: {kind}: {}{why}", error.what());
    }
    for warning in &answer.warnings {
        let _ = writeln!(text, "\nWarning: {}.", findings::warning(warning));
    }
    text.push('\n');
    text.push_str(&findings::cautions());
    text
}

fn head(text: &mut String, answer: &WayOut) {
    let zone = &answer.zone;
    let _ = writeln!(
        text,
        "Way out to {}, setting out at {}{}",
        answer.to.name,
        clock(answer.now, zone),
        utc(zone)
    );
    if let Some(best) = answer.best() {
        let _ = writeln!(text, "  {}", light::headline(best, zone));
        let verdict = &best.verdict;
        let (latest, lit) = (verdict.latest_start, verdict.latest_start_in);
        let latest = light::latest_start_in(latest, lit, answer.now, zone);
        let _ = writeln!(text, "  set out at the latest  {latest}");
    }
    let _ = writeln!(text, "  light                  {}", light::ahead(&answer.light, zone));
    let from = &answer.from;
    let _ = writeln!(
        text,
        "  from                   {} within {} ({})",
        from.at,
        from.radius,
        findings::origin(&from.origin)
    );
    if let Some(ellipse) = from.ellipse {
        let _ = writeln!(
            text,
            "                         95 % ellipse {} by {}, major axis {}",
            ellipse.major, ellipse.minor, ellipse.along
        );
    }
}

/// A note that times are UTC where no zone is known.
pub(super) fn utc(zone: &TimeZone) -> &'static str {
    if *zone == TimeZone::UTC { " UTC (all times)" } else { "" }
}

fn direct(text: &mut String, answer: &WayOut) {
    let direct = &answer.direct;
    let declination = &direct.declination;
    let _ = writeln!(text, "\nStraight line");
    let mut row = |name: &str, value: String| {
        let _ = writeln!(text, "  {name:<22} {value}");
    };
    let precision = LegPrecision::of(&answer.from, direct.distance);
    let paces = paces(direct.paces, direct.distance, Some(precision));
    row("distance", format!("{}, {paces} paces", direct.distance));
    row(
        "bearing",
        format!(
            "{} by compass, {} true, {} on the grid",
            direct.magnetic_bearing, direct.true_bearing, direct.grid_bearing
        ),
    );
    row("back bearing", format!("{} by compass", direct.back_bearing));
    let half = if declination.east.0 < 0.0 { "west" } else { "east" };
    let source = match declination.model {
        crate::units::MagneticModel::Wmm2025 => "World Magnetic Model 2025, valid to 2029-12-31",
        crate::units::MagneticModel::Stated => "as stated",
    };
    row(
        "declination",
        format!(
            "{:.1}\u{b0} {half} +-{:.1}\u{b0} on {} ({source})",
            declination.east.0.abs(),
            declination.uncertainty.0,
            declination.date
        ),
    );
    row("here", format!("{}; {}", direct.mgrs[0], direct.utm[0]));
    row("there", format!("{}; {}", direct.mgrs[1], direct.utm[1]));
    let missed: Vec<String> = direct
        .missed_by
        .iter()
        .map(|(error, aside)| format!("{:.0}\u{b0} gives {aside} lateral error", error.0))
        .collect();
    row("an error of", missed.join(", "));
}

fn ways(text: &mut String, answer: &WayOut) {
    let mut table = Table::new([
        Column::left("route"),
        Column::right("distance"),
        Column::right("climb"),
        Column::right("descent"),
        Column::right("Naismith-Langmuir"),
        Column::right("Tobler"),
        Column::right("arrival"),
        Column::left("light"),
        Column::left("reason"),
    ])
    .indented(2);
    for ranked in &answer.ways {
        let way = &ranked.way;
        let height = |height: Option<crate::units::Metres>| {
            height.map_or_else(|| "?".to_owned(), |height| format!("{:.0} m", height.0))
        };
        table.row([
            findings::route_kind(way.kind).to_owned(),
            way.distance.to_string(),
            height(way.climb),
            height(way.descent),
            span(way.duration.naismith_langmuir),
            span(way.duration.tobler),
            clock_after(ranked.verdict.arrival, &answer.zone),
            findings::advice(ranked.verdict.advice).to_owned(),
            findings::rank(ranked.way.kind, ranked.reason),
        ]);
    }
    let _ = write!(text, "\nRoutes, best first\n{table}");
}

fn legs(text: &mut String, answer: &WayOut, way: &Route) {
    let mut table = Table::new([
        Column::right("leg"),
        Column::right("compass"),
        Column::right("true"),
        Column::right("distance"),
        Column::right("paces"),
        Column::right("climb"),
        Column::right("time"),
        Column::left("at its end"),
    ])
    .indented(2);
    for (index, leg) in way.legs.iter().enumerate() {
        let steep =
            leg.steep.map_or_else(String::new, |slope| format!("STEEP {:.0}\u{b0}; ", slope.0));
        let first = if index == 0 { answer.first_leg(way) } else { None };
        let (compass, distance, paces) = first_leg(leg, first);
        table.row([
            (index + 1).to_string(),
            compass,
            leg.true_bearing.to_string(),
            distance,
            paces,
            way.climb.map_or_else(|| "?".to_owned(), |_| format!("{:.0} m", leg.climb.0)),
            span(leg.duration.careful()),
            format!("{steep}{}", findings::landmarks(&leg.expect)),
        ]);
    }
    let _ = write!(text, "\nLegs {}\n{table}", findings::route_kind(way.kind));
    for note in &way.notes {
        let _ = writeln!(text, "  {}", findings::note(*note));
    }
}

/// Bearing, distance and paces of a leg; those of the first to the precision of the position.
pub(super) fn first_leg(leg: &Leg, precision: Option<LegPrecision>) -> (String, String, String) {
    match precision {
        None => (leg.magnetic_bearing.to_string(), leg.distance.to_string(), leg.paces.to_string()),
        Some(precision) if precision.any_side() => (
            "any side".to_owned(),
            format!("within {}", precision.distance + leg.distance),
            "-".to_owned(),
        ),
        Some(precision) => {
            let rounded = precision.rounded(leg.distance);
            (
                format!("{} +-{:.0}\u{b0}", leg.magnetic_bearing, precision.range.0.ceil()),
                format!("{rounded} +-{:.0} m", precision.distance.0),
                paces(leg.paces, leg.distance, Some(precision)),
            )
        }
    }
}

/// The paces of a distance, no more precise than the position from which they are counted.
pub(super) fn paces(counted: u32, distance: Metres, precision: Option<LegPrecision>) -> String {
    let Some(precision) = precision.filter(|_| distance.0 > 0.0) else {
        return counted.to_string();
    };
    let share = precision.rounded(distance).0 / distance.0;
    format!("{:.0}", (f64::from(counted) * share / 10.0).round() * 10.0)
}

/// The page of an area as a table: each cell with its reference, bearing and distance.
#[must_use]
pub fn area_table(page: &AreaPage) -> String {
    let mut table = Table::new([
        Column::left("cell"),
        Column::left("centre (MGRS)"),
        Column::right("compass"),
        Column::right("distance"),
        Column::left("to"),
    ])
    .indented(2);
    for (row, cells) in page.rows.iter().enumerate() {
        for (column, cell) in cells.iter().enumerate() {
            let (compass, distance) = from_cell(cell);
            table.row([
                cell_name(column, row),
                cell.mgrs.clone(),
                compass,
                distance,
                goal_name(page, cell.goal),
            ]);
        }
    }
    format!(
        "From the centre of each cell of {} to the nearest safe place; +-: elsewhere in the cell\n{table}  {}\n\n{}",
        page.side,
        light_of(page),
        findings::cautions()
    )
}

/// Bearing and distance from a cell with their range over it.
fn from_cell(cell: &AreaCell) -> (String, String) {
    if cell.here {
        return ("any".to_owned(), "in this cell".to_owned());
    }
    let (turn, range) = (cell.bearing_range.0.ceil(), (cell.distance_range.0 / 10.0).ceil() * 10.0);
    (
        format!("{} +-{turn:.0}\u{b0}", cell.magnetic_bearing),
        format!("{} +-{}", cell.distance, Metres(range)),
    )
}

/// `Light on 2026-05-03: first light 06:42, ...`.
pub(super) fn light_of(page: &AreaPage) -> String {
    let day = page.zone.to_datetime(page.light.moment).date();
    format!("Light on {day}{}: {}", utc(&page.zone), light::of_day(&page.light, &page.zone))
}

/// `C4`: a letter for the column from the west, a number for the row from the north.
pub(super) fn cell_name(column: usize, row: usize) -> String {
    let letter =
        u8::try_from(column).map_or('?', |column| char::from(b'A'.saturating_add(column.min(25))));
    format!("{letter}{}", row + 1)
}

pub(super) fn goal_name(page: &AreaPage, goal: Option<usize>) -> String {
    goal.and_then(|goal| page.goals.get(goal))
        .map_or_else(|| "line".to_owned(), |goal| goal.name.clone())
}
