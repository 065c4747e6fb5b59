//! Runs `trug wayout --plan DATE`: computes the turn-back time of a future outing. Layer: `commands`.

use std::path::Path;

use jiff::civil::Date;
use serde_json::{Value, json};

use super::console::Console;
use super::output;
use super::wayout::{Arguments, drawn_card, note_of_name};
use super::wayout_inputs::{Inputs, no_zone};
use super::without_effect::needs;
use crate::earth::daylight::Illumination;
use crate::error::{Error, Result};
use crate::model::Caution;
use crate::present::table::{Column, Table};
use crate::present::way_out::findings;
use crate::present::way_out::light::{headline, latest_start, latest_start_in, of_day};
use crate::present::way_out::plan_message::{self, PlanMessage};
use crate::present::way_out::sun;
use crate::units::{Seconds, TimeZone, Timestamp};
use crate::wayout::daylight::Daylight;
use crate::wayout::goal::Goal;
use crate::wayout::light::{self, Advice, LatestStart, minute_after};
use crate::wayout::report::{self, Ranked, WayOut};
use crate::wayout::start::Start;

/// Return durations, minutes, that are listed where the farthest point is not known.
const MINUTES: [f64; 7] = [15.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0];

pub(super) fn run(
    inputs: &Inputs,
    day: Date,
    arguments: &Arguments,
    console: &mut Console,
) -> Result<()> {
    let place = inputs.middle().ok_or_else(|| {
        Error::input("the place of the outing is unknown")
            .because("no trailhead is stored, and neither --from nor --to gives a position")
            .hint("give the place with --from, or add a trailhead with `trug trailhead add`")
    })?;
    let zone = inputs
        .known_zone(arguments)?
        .ok_or_else(|| no_zone(&format!("the day {day}"), Some(place)))?;
    let noon = noon(day, &zone)?;
    let light = Daylight::between(place, &inputs.ends(place), noon)?;
    let stated = stated(inputs, day, &zone, arguments)?;
    let mut back = way_back(inputs, stated.unwrap_or(noon), &zone, arguments)?;
    check_use(arguments, back.is_some())?;
    if stated.is_none()
        && let Some(latest) = latest(back.as_ref(), &light)
    {
        back = way_back(inputs, latest, &zone, arguments)?;
    }
    if let Some(path) = &arguments.card {
        draw(path, back.as_ref(), &zone, arguments, console)?;
    }
    if arguments.message {
        let plan = for_home(inputs, day, arguments, &zone, (&light, back.as_ref(), stated))?;
        if let Some(car) = &plan.car {
            note_of_name(&car.name, console);
        }
        return console.print(&format!("{}\n", plan_message::compose(&plan)?));
    }
    let rows: Vec<(String, Seconds)> = match &back {
        Some(answer) => answer.best().into_iter().map(|best| reported(best, answer)).collect(),
        None => MINUTES.iter().map(|m| (String::new(), Seconds(m * 60.0))).collect(),
    };
    let rows: Vec<Row> = rows
        .into_iter()
        .map(|(name, takes)| Row { latest: by(takes, &light), name, takes })
        .collect();
    if arguments.json {
        return console.print(&format!("{:#}\n", object(day, &light, &rows, back.as_ref())));
    }
    let mut table =
        Table::new([Column::right("way back"), Column::right("turn back by"), Column::left("")])
            .indented(2);
    for row in &rows {
        table.row([
            light::span(row.takes),
            latest_start_in(row.latest, row.lit(&light), noon, &zone),
            row.name.clone(),
        ]);
    }
    let cautions = findings::cautions();
    console.print(&format!(
        "Planned for {day} at {place}\n  {}\n{table}  Turn back with a reserve of a quarter of the way back, at least 20 minutes, before sunset (where the sun does not rise, before the end of civil twilight).\n\n{cautions}",
        of_day(&light, &zone) + &planned(back.as_ref(), &zone),
    ))
}

/// What whoever waits at home has to know: turning back at the stated time, else at the latest, and the return at
/// the end of that walk. Where the farthest point is not known, the return is the least reserve before the end of
/// the light.
fn for_home(
    inputs: &Inputs,
    day: Date,
    arguments: &Arguments,
    zone: &TimeZone,
    (day_light, back, stated): (&Daylight, Option<&WayOut>, Option<Timestamp>),
) -> Result<PlanMessage> {
    let walk = back.and_then(WayOut::best).map(|best| best.way.duration.careful());
    let turn_back = turning(walk, day_light, stated, (back, zone))?;
    let home = match (turn_back, walk) {
        (Some(turn), Some(walk)) => Some(minute_after(walk.after(turn))),
        (_, Some(_)) => None,
        (_, None) => light::searching(day_light.moment, day_light).and_then(|(_, until)| until),
    };
    let alarm = match (arguments.alarm, home) {
        (Some(time), _) => {
            zone.to_ambiguous_timestamp(day.to_datetime(time)).compatible().map_err(|error| {
                Error::input("no such time on that date").because(error.to_string())
            })?
        }
        (None, Some(home)) => plan_message::ALARM_AFTER.after(home),
        (None, None) => return Err(no_return(day)),
    };
    if let Some(home) = home.filter(|home| alarm < *home) {
        return Err(Error::input("--alarm is before the return")
            .because(format!("the return is planned for {}", light::clock(home, zone)))
            .hint("give a later time, or turn back earlier with --at"));
    }
    Ok(PlanMessage {
        day,
        zone: zone.clone(),
        car: Some(car(inputs)?),
        farthest: inputs.stated_from(),
        turn_back,
        back: home,
        dark: day_light.dark_from(day_light.moment),
        alarm,
        whom: arguments.call.clone(),
    })
}

/// The time of turning back: as stated, else the latest, in whole minutes; `None` where the light sets none.
///
/// # Errors
/// When whoever turns back then walks in the dark, or the light is too short for the way back.
fn turning(
    walk: Option<Seconds>,
    light: &Daylight,
    stated: Option<Timestamp>,
    (back, zone): (Option<&WayOut>, &TimeZone),
) -> Result<Option<Timestamp>> {
    let Some(walk) = walk else { return Ok(None) };
    let latest = by(walk, light);
    if let Some(stated) = stated {
        let best = back.and_then(WayOut::best);
        let refused = best.filter(|best| best.verdict.advice == Advice::DoNotSetOut);
        return match refused {
            None => Ok(Some(stated)),
            Some(best) => Err(Error::input("no message for a plan that ends in the dark")
                .because(format!(
                    "turning back at {}: {}",
                    light::clock(stated, zone),
                    headline(best, zone)
                ))
                .hint("plan an earlier time with --at, or leave it out for the latest one")),
        };
    }
    match latest {
        LatestStart::At { by, .. } => Ok(whole_minute(by)),
        LatestStart::AnyTime => Ok(None),
        other => Err(Error::input("no time of turning back is possible on that day")
            .because(latest_start(other, light.moment, zone))
            .hint("plan a nearer point, or another day")),
    }
}

fn no_return(day: Date) -> Error {
    Error::input(format!("no time of return is known on {day}"))
        .because("the light of that day sets no limit")
        .hint("state when you turn back with --at and --from, or when to call with --alarm")
}

/// The one place where the car can be. The nearest of several trailheads would be a guess.
fn car(inputs: &Inputs) -> Result<Goal> {
    match inputs.goals.as_slice() {
        [only] => Ok(only.clone()),
        goals => {
            let names: Vec<&str> = goals.iter().map(|goal| goal.name.as_str()).collect();
            let why = match goals.len() {
                0 => "no trailhead is stored".to_owned(),
                many => format!("there are {many} trailheads: {}", names.join(", ")),
            };
            Err(Error::input("where the car is, is unknown")
                .because(why)
                .hint("name the place with --to"))
        }
    }
}

/// The planned time of turning back and the verdict on it, where the farthest point is known.
fn planned(back: Option<&WayOut>, zone: &TimeZone) -> String {
    let best = back.and_then(WayOut::best);
    best.map_or_else(String::new, |best| {
        let start = light::clock(best.verdict.start, zone);
        format!("\n  turning back at {start}: {}", headline(best, zone))
    })
}

/// The planned time of turning back as stated.
fn stated(
    inputs: &Inputs,
    day: Date,
    zone: &TimeZone,
    arguments: &Arguments,
) -> Result<Option<Timestamp>> {
    let Some(text) = &arguments.at else { return Ok(None) };
    let instant = inputs.moment_on(day, arguments, zone)?;
    let of = zone.to_datetime(instant).date();
    if of == day {
        return Ok(Some(instant));
    }
    Err(Error::input(format!("--at {text} is not on the planned day"))
        .because(format!("--plan states {day}, that instant is on {of}"))
        .hint("write the time of day only, as --at 15:20"))
}

/// The latest time to turn back on the best route, in whole minutes.
fn latest(back: Option<&WayOut>, light: &Daylight) -> Option<Timestamp> {
    let best = back?.best()?;
    whole_minute(by(best.way.duration.careful(), light).by()?)
}

/// The minute that an instant lies in.
fn whole_minute(instant: Timestamp) -> Option<Timestamp> {
    Timestamp::from_second(instant.as_second().div_euclid(60) * 60).ok()
}

/// # Errors
/// When options for a route are given and no route can be computed.
fn check_use(arguments: &Arguments, route: bool) -> Result<()> {
    for (option, given) in [
        ("--at", arguments.at.is_some()),
        ("--elevation", !arguments.elevation.is_empty()),
        ("--avoid", !arguments.avoid.is_empty()),
        ("--line", arguments.line.is_some()),
        ("--since", arguments.since.is_some()),
    ] {
        needs(option, given, "the farthest point (--from) and a destination", route)?;
    }
    Ok(())
}

/// A return duration and the latest time to turn back.
struct Row {
    name: String,
    takes: Seconds,
    latest: LatestStart,
}

impl Row {
    /// The light at the latest time, where there is one.
    fn lit(&self, light: &Daylight) -> Option<Illumination> {
        self.latest.by().map(|by| light.at(by))
    }
}

/// The latest time of the day to turn back, computed from the midnight before noon. Where the evening of the day
/// before reaches past midnight, it is computed from its end: that light is not the one of this day.
fn by(takes: Seconds, light: &Daylight) -> LatestStart {
    let half_a_day = Seconds(43_200.0);
    let (midnight, next) = ((-half_a_day).after(light.moment), half_a_day.after(light.moment));
    let evening = light.window(midnight).map(|window| window.to).filter(|end| {
        *end < light.moment && light.window(*end).is_some_and(|window| window.day_from < next)
    });
    light::latest_start(evening.unwrap_or(midnight), takes, light)
}

/// Noon of a day on the local clock.
pub(super) fn noon(day: Date, zone: &TimeZone) -> Result<Timestamp> {
    zone.to_ambiguous_timestamp(day.at(12, 0, 0, 0)).compatible().map_err(|error| {
        Error::input(format!("noon of {day} cannot be computed"))
            .because(error.to_string())
            .hint("give a date between the years -500 and 3000")
    })
}

fn object(day: Date, light: &Daylight, rows: &[Row], back: Option<&WayOut>) -> Value {
    json!({
        "date": day.to_string(),
        "planned": back.and_then(WayOut::best).map(|best| &best.verdict),
        "sun": sun(light),
        "turn_back": rows.iter().map(|row| json!({
            "way_back_s": row.takes.0,
            "turn_back_by": row.latest.by().map(|by| format!("{by:.0}")),
            "latest_start": row.latest,
            "latest_start_in": row.lit(light),
        })).collect::<Vec<_>>(),
        "cautions": Caution::ALL.map(findings::caution),
    })
}

/// The best route back from the stated farthest point, setting out at this time.
fn way_back(
    inputs: &Inputs,
    start_time: Timestamp,
    zone: &TimeZone,
    arguments: &Arguments,
) -> Result<Option<WayOut>> {
    let (Some((at, radius)), false) = (inputs.farthest(), inputs.goals.is_empty()) else {
        return Ok(None);
    };
    let start = Start::planned(at, radius);
    let asked = inputs.asked_from(&start, start_time, zone.clone(), arguments)?;
    report::find(&asked.request(inputs, arguments)).map(Some)
}

fn reported(best: &Ranked, answer: &WayOut) -> (String, Seconds) {
    let way = &best.way;
    (
        format!("{} to {}, {}", way.distance, answer.to.name, findings::route_kind(way.kind)),
        way.duration.careful(),
    )
}

/// The card of the route back at the planned time.
fn draw(
    path: &Path,
    back: Option<&WayOut>,
    zone: &TimeZone,
    arguments: &Arguments,
    console: &mut Console,
) -> Result<()> {
    let answer = back.ok_or_else(|| {
        Error::input("cannot draw a card for the plan")
            .because("the farthest point or the destination is unknown")
            .hint("give the farthest point with --from and the destination with --to or as a trailhead")
    })?;
    let card = drawn_card(answer, arguments, console)?;
    output::picture(path, &card, arguments.replacing)?;
    let start = answer.best().map_or(answer.now, |best| best.verdict.start);
    console.note(&format!(
        "Drawn: {}, for turning back at {}",
        path.display(),
        light::clock(start, zone)
    ));
    Ok(())
}
