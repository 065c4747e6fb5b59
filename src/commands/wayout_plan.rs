//! `trug wayout --plan DATE`: the turn-back time of an outing that is still to come.
//! Layer: `commands`.

use jiff::civil::Date;
use serde_json::json;

use super::console::Console;
use super::wayout::Arguments;
use super::wayout_inputs::Inputs;
use crate::earth::sun;
use crate::error::{Error, Result};
use crate::present::table::{Column, Table};
use crate::units::{Metres, Radius95, Seconds, TimeZone, Timestamp};
use crate::wayout::light::{passage, span, turn_back_by, turn_back_words};
use crate::wayout::start::Start;
use crate::wayout::{CAUTIONS, report};

/// Ways back of so many minutes are told where the farthest point is not known.
const MINUTES: [f64; 7] = [15.0, 30.0, 45.0, 60.0, 90.0, 120.0, 180.0];

pub(super) fn run(
    inputs: &Inputs,
    day: Date,
    arguments: &Arguments,
    console: &mut Console,
) -> Result<()> {
    let place = inputs.middle().ok_or_else(|| {
        Error::input("the place of the outing is not known")
            .because("no trailhead is kept and neither --from nor --to names a position")
            .hint(
                "say where you will be with --from, or keep a trailhead with `trug trailhead add`",
            )
    })?;
    let zone = inputs.zone(arguments)?;
    let light = sun::light(place, day, &zone)?;
    let back = way_back(inputs, day, &zone, arguments)?;
    let rows: Vec<(String, Seconds)> = match &back {
        Some((name, takes)) => vec![(name.clone(), *takes)],
        None => MINUTES.iter().map(|m| (String::new(), Seconds(m * 60.0))).collect(),
    };
    if arguments.json {
        let object = json!({
            "date": day.to_string(),
            "sun": {
                "sunrise": light.sunrise.instant().map(|at| at.to_string()),
                "sunset": light.sunset.instant().map(|at| at.to_string()),
                "civil_dusk": light.civil_dusk.instant().map(|at| at.to_string()),
            },
            "turn_back": rows.iter().map(|(_, takes)| json!({
                "way_back_s": takes.0,
                "turn_back_by": turn_back_by(*takes, &light).map(|by| format!("{by:.0}")),
            })).collect::<Vec<_>>(),
            "cautions": CAUTIONS,
        });
        return console.print(&format!("{object:#}\n"));
    }
    let mut table =
        Table::new([Column::right("way back"), Column::right("turn back by"), Column::left("")])
            .indented(2);
    for (name, takes) in &rows {
        let by = turn_back_words(turn_back_by(*takes, &light), &light, &zone);
        table.row([span(*takes), by, name.clone()]);
    }
    let cautions = CAUTIONS.map(|caution| format!("* {caution}\n")).concat();
    console.print(&format!(
        "Planned for {day} at {place}\n  sunrise {}, sunset {}, end of civil twilight {}\n{table}  The way back is kept a quarter in reserve, and 20 minutes at the least, before sunset.\n\n{cautions}",
        passage(light.sunrise, &zone),
        passage(light.sunset, &zone),
        passage(light.civil_dusk, &zone),
    ))
}

/// The best way back from a farthest point that was stated, at noon of the day.
fn way_back(
    inputs: &Inputs,
    day: Date,
    zone: &TimeZone,
    arguments: &Arguments,
) -> Result<Option<(String, Seconds)>> {
    let (Some(at), false) = (inputs.stated_from(), inputs.goals.is_empty()) else {
        return Ok(None);
    };
    let noon = zone
        .to_ambiguous_timestamp(day.at(12, 0, 0, 0))
        .compatible()
        .unwrap_or(Timestamp::UNIX_EPOCH);
    let Some(radius) = Radius95::new(Metres(1.0)) else { return Ok(None) };
    let start = Start::stated(at, radius, "planned".to_owned());
    let asked = inputs.asked_from(&start, noon, zone.clone(), arguments)?;
    let answer = report::find(&asked.request(inputs, arguments))?;
    Ok(answer.best().map(|best| {
        let way = &best.way;
        (
            format!("{} to {}, {}", way.distance, answer.to.name, way.kind.words()),
            way.duration.careful(),
        )
    }))
}
