//! Runs `trug wayout`: computes routes out, their distance and duration, and compares them with the
//! daylight. Layer: `commands`.

use std::path::PathBuf;

use clap::Args;
use jiff::civil::{Date, Time};

use super::console::Console;
use super::exit::Exit;
use super::ground::GroundArguments;
use super::store_path::StoreArgument;
use super::wayout_inputs::Inputs;
use super::{output, wayout_plan};
use crate::error::Result;
use crate::present::way_out::message;
use crate::present::{gpx, way_out};
use crate::wayout::report::WayOut;
use crate::wayout::{area, report};

/// Compute routes out, their distance and duration, and whether the daylight is sufficient.
///
/// From the last fix of today's track, or from a given position, to the nearest
/// trailhead by time: straight, back along the track, along tracks of earlier outings, and across
/// open ground where elevation tiles are given. Map, compass and what you see come first.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    pub(super) store: StoreArgument,

    /// Today's track as GPX, instead of the last outing in the store.
    #[arg(long, value_name = "FILE")]
    pub(super) track: Option<PathBuf>,

    /// Your position, in any common notation: "-42.61 146.12", "55G EN 47562 50230", a geo: URI, a
    /// map link.
    #[arg(long, value_name = "POSITION", allow_hyphen_values = true)]
    pub(super) from: Option<String>,

    /// Its 95 % radius in metres; by default 30 m plus the resolution of the coordinates.
    #[arg(long, value_name = "METRES", requires = "from", value_parser = crate::commands::numbers::finite)]
    pub(super) within: Option<f64>,

    /// The destination: the name of a trailhead, or a position.
    #[arg(long, value_name = "NAME|POSITION", allow_hyphen_values = true)]
    pub(super) to: Option<String>,

    /// The start time: 15:20 for today, local 2026-05-03T15:20, or 2026-05-03T15:20+10:00;
    /// default now.
    #[arg(long, value_name = "INSTANT")]
    pub(super) at: Option<String>,

    /// The local time zone; by default that of your position.
    #[arg(long, value_name = "ZONE", allow_hyphen_values = true)]
    pub(super) zone: Option<String>,

    /// Legs walked since: bearings (magnetic unless marked T) and distances, such as "240 350 m; NE 400
    /// paces".
    #[arg(long, value_name = "BEARING DISTANCE; ...")]
    pub(super) since: Option<String>,

    /// Elevation tiles: .hgt, GeoTIFF, ASCII grid; EPSG:CODE=FILE where the file has no reference system.
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(super) elevation: Vec<PathBuf>,

    /// Closed areas (water, cliffs, closed land): GeoJSON, or GPX tracks and routes as their edges.
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(super) avoid: Vec<PathBuf>,

    /// A line to aim at near the destination (road, river, trail): GeoJSON or GPX, or `tracks` for a stored
    /// path past the destination, which is also the default where three outings walked it.
    #[arg(long, value_name = "FILE|tracks")]
    pub(super) line: Option<PathBuf>,

    /// The declination, east positive, instead of the World Magnetic Model.
    #[arg(long, value_name = "DEGREES", allow_hyphen_values = true, value_parser = crate::commands::numbers::finite)]
    pub(super) declination: Option<f64>,

    /// Your steps per 100 m.
    #[arg(long, value_name = "COUNT", default_value_t = 148.0, value_parser = crate::commands::numbers::finite)]
    pub(super) paces: f64,

    /// Mark slopes steeper than this.
    #[arg(long, value_name = "DEGREES", default_value_t = 30.0, value_parser = crate::commands::numbers::finite)]
    pub(super) steep: f64,

    /// Draw a card for paper or phone, A6.
    #[arg(long, value_name = "FILE.pdf|.svg|.png")]
    pub(super) card: Option<PathBuf>,

    /// Write the best route for a GPS receiver.
    #[arg(long, value_name = "FILE.gpx", conflicts_with_all = ["plan", "area"])]
    gpx: Option<PathBuf>,

    #[command(flatten)]
    pub(super) replacing: output::Overwrite,

    /// Print one text message of at most 160 characters instead; with --plan for whoever waits at home.
    #[arg(long, conflicts_with_all = ["json", "area"])]
    pub(super) message: bool,

    /// With --plan and --message: whom to call without word from you.
    #[arg(long, value_name = "WHOM", requires = "plan", default_value = "112")]
    pub(super) call: String,

    /// With --plan and --message: the local time of that call; by default an hour after the latest return.
    #[arg(long, value_name = "HH:MM", requires = "plan", value_parser = time_of_day)]
    pub(super) alarm: Option<Time>,

    /// Print one JSON object instead.
    #[arg(long)]
    pub(super) json: bool,

    /// Print the turn-back times of an outing planned for this day; --at states the planned time of
    /// turning back, otherwise it is the latest one.
    #[arg(long, value_name = "DATE", value_parser = super::day_argument::read, conflicts_with = "area")]
    pub(super) plan: Option<Date>,

    /// Print bearings from each cell of the area to the nearest safe place; --card draws the page.
    #[arg(long, conflicts_with_all = ["elevation", "avoid", "since"])]
    area: bool,
}

impl Arguments {
    /// The arguments of a page to carry: what is read does not depend on a start.
    pub(super) fn to_carry(carried: &super::carry::Arguments, day: Date) -> Self {
        Self {
            store: carried.store.clone(),
            track: carried.track.clone(),
            from: None,
            within: None,
            to: None,
            at: None,
            zone: carried.zone.clone(),
            since: None,
            elevation: carried.elevation.clone(),
            avoid: carried.avoid.clone(),
            line: None,
            declination: carried.declination,
            paces: carried.paces,
            steep: carried.steep,
            card: None,
            gpx: None,
            replacing: carried.replacing,
            message: false,
            call: String::new(),
            alarm: None,
            json: false,
            plan: Some(day),
            area: false,
        }
    }
}

/// A time of day on the local clock: `15:20`, `9:05`, `15:20:30`.
pub(super) fn time_of_day(text: &str) -> std::result::Result<Time, String> {
    let text = text.trim();
    let padded =
        if text.as_bytes().get(1) == Some(&b':') { format!("0{text}") } else { text.to_owned() };
    let is_time = padded.bytes().all(|byte| byte.is_ascii_digit() || matches!(byte, b':' | b'.'));
    let parsed = padded.parse::<Time>().ok().filter(|_| is_time && padded.contains(':'));
    parsed.ok_or_else(|| {
        "a time of day is written as 15:20: hours from 0 to 23, minutes from 0 to 59".to_owned()
    })
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let any = arguments.card.is_some() || arguments.gpx.is_some();
    arguments.replacing.needs_output("--card or --gpx", any)?;
    let inputs = Inputs::gather(arguments, console)?;
    if let Some(day) = arguments.plan {
        wayout_plan::run(&inputs, day, arguments, console)?;
    } else if arguments.area {
        whole_area(&inputs, arguments, console)?;
    } else {
        way_out_now(&inputs, arguments, console)?;
    }
    Ok(Exit::Done)
}

fn way_out_now(inputs: &Inputs, arguments: &Arguments, console: &mut Console) -> Result<()> {
    let asked = inputs.asked(arguments)?;
    let answer = report::find(&asked.request(inputs, arguments))?;
    if arguments.message {
        note_of_name(&answer.to.name, console);
        console.print(&format!("{}\n", message::compose(&answer)))?;
    } else if arguments.json {
        console.print(&format!("{:#}\n", way_out::object(&answer)))?;
    } else {
        console.print(&way_out::report(&answer))?;
    }
    let mut outputs = output::Outputs::new(arguments.replacing);
    if let Some(path) = &arguments.card {
        outputs.picture(path, &drawn_card(&answer, arguments, console)?)?;
    }
    if let Some(path) = &arguments.gpx {
        outputs.write(path, gpx::routes(&[way_out::route(&answer)], &[]).as_bytes())?;
    }
    outputs.place()?;
    if let Some(path) = &arguments.card {
        console.note(&format!("Drawn: {}", path.display()));
    }
    if let Some(path) = &arguments.gpx {
        console.note(&format!("Written: {}", path.display()));
    }
    Ok(())
}

/// Says that a message leaves a name out, and why.
pub(super) fn note_of_name(name: &str, console: &mut Console) {
    if !message::is_sendable(name) {
        console.note(&format!(
            "Left out of the message: the name {name}. The alphabet GSM-7 cannot write it, and with other letters \
             (UCS-2) one message holds 70 characters instead of 160."
        ));
    }
}

/// The card of a route, on what the store keeps and the given tiles.
pub(super) fn drawn_card(
    answer: &WayOut,
    arguments: &Arguments,
    console: &mut Console,
) -> Result<String> {
    let given = GroundArguments::of_elevation(arguments.elevation.clone());
    let area = way_out::ground_of(answer);
    let ground = given.with_store_at(&arguments.store.path(), area, console)?;
    Ok(way_out::card(answer, &ground))
}

fn whole_area(inputs: &Inputs, arguments: &Arguments, console: &mut Console) -> Result<()> {
    let lines = inputs.safe_lines();
    let zone = inputs.zone(arguments)?;
    let day = zone.to_datetime(inputs.moment(arguments, &zone)?).date();
    let noon = wayout_plan::noon(day, &zone)?;
    let declination = |place| Ok(Inputs::declination(place, day, arguments)?.0);
    let places = inputs.area_places();
    let page = area::page(&places, &inputs.goals, &lines, declination, (noon, &zone))?;
    if arguments.json {
        console.print(&format!("{:#}\n", way_out::area(&page)))?;
    } else {
        console.print(&way_out::area_table(&page))?;
    }
    if let Some(path) = &arguments.card {
        output::picture(
            path,
            &way_out::area_page(&page, &inputs.area_lines()),
            arguments.replacing,
        )?;
        console.note(&format!("Drawn: {}", path.display()));
    }
    Ok(())
}
