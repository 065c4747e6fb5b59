//! Runs `trug demo`: runs the commands on sample days embedded in the program, shows each command, and
//! lists the files written. Layer: `commands`.

mod manifest;

use std::fs;
use std::path::{Path, PathBuf};

use clap::{Args, Parser};
use flate2::read::GzDecoder;

use super::console::Console;
use super::exit::Exit;
use super::{Program, output};
use crate::error::{Error, Result};

/// The sample days without their generator and ground truth, packed by `build.rs`.
static SAMPLE_DAYS: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/sample-days.tar.gz"));

/// The ground that they were walked on: an elevation tile and a base map.
static SAMPLE_MAP: &[u8] = include_bytes!(concat!(env!("OUT_DIR"), "/sample-map.tar.gz"));

/// Run all commands on sample days.
///
/// Writes sample days with invented people and places into a folder and runs the commands on them,
/// showing each. A folder that contains anything else is not changed.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The folder: new, empty, or from an earlier demonstration.
    #[arg(long, value_name = "DIR", default_value = "demo")]
    into: PathBuf,
}

/// One command of the demonstration.
struct Step {
    why: &'static str,
    /// `{}` stands for the folder.
    command: &'static str,
    /// The file it writes, and its content.
    makes: Option<(&'static str, &'static str)>,
}

const STEPS: &[Step] = &[
    Step {
        why: "Check a day with many data problems; nothing is written into a store.",
        command: "check {}/days/2026-05-16-old-tramway --figure {}/old-tramway.svg --elevation {}/map/terrain.asc --base {}/map/base.geojson",
        makes: Some((
            "old-tramway.svg",
            "a day with jumps, scatter and a slow camera: raw and cleaned track, finds with 95 % circles",
        )),
    },
    Step {
        why: "A camera that is an hour and two minutes ahead, and a gap in the track.",
        command: "check {}/days/2026-05-02-thimble-spur --figure {}/thimble-spur.svg --elevation {}/map/terrain.asc --base {}/map/base.geojson",
        makes: Some((
            "thimble-spur.svg",
            "map of the day, with the estimate of the camera's clock offset",
        )),
    },
    Step {
        why: "Import all days, including a night walk of two people and the earlier years; the store keeps the ground for its maps.",
        command: "import {}/days --store {}/trug.gpkg --elevation {}/map/terrain.asc --base {}/map/base.geojson",
        makes: Some((
            "trug.gpkg",
            "finds, tracks, outings, photographs and stops as layers for any GIS",
        )),
    },
    Step {
        why: "Keep a checklist of taxa; names that it does not have, and synonyms, are listed.",
        command: "checklist {}/days/checklist.tsv --store {}/trug.gpkg",
        makes: None,
    },
    Step {
        why: "List the finds of one genus from all years.",
        command: "finds --store {}/trug.gpkg --taxon Mycena",
        makes: None,
    },
    Step {
        why: "Three corrections of one day: a position measured again, photographs, and a new name.",
        command: "amend AQ-0042 --store {}/trug.gpkg --day 2026-04-18 --position 42.61640S,146.09360E --within 5 --reason measured-again --who Ada-Quillfeather",
        makes: None,
    },
    Step {
        why: "A photograph that shows another find.",
        command: "amend AQ-0043 --store {}/trug.gpkg --day 2026-04-18 --photos -P1009 --reason it-shows-moss --who Ada-Quillfeather",
        makes: None,
    },
    Step {
        why: "An identification under the microscope.",
        command: "amend AQ-0044 --store {}/trug.gpkg --day 2026-04-18 --taxon Leotia --determiner Iren-Marrowby --on 2026-05-01 --method microscopy --field spores=18x5,20x5.5,21x5 --reason spores-measured --who Iren-Marrowby",
        makes: None,
    },
    Step {
        why: "All that is known of a find: evidence, what was written, corrections, identifications.",
        command: "show AQ-0044 --store {}/trug.gpkg --day 2026-04-18",
        makes: None,
    },
    Step {
        why: "The journal of that day; each change can be undone.",
        command: "history --store {}/trug.gpkg --day 2026-04-18",
        makes: None,
    },
    Step {
        why: "Group finds into sites; count visits with and without a find.",
        command: "sites --store {}/trug.gpkg",
        makes: None,
    },
    Step {
        why: "Search effort by week; ground searched twice counts once.",
        command: "effort --store {}/trug.gpkg",
        makes: None,
    },
    Step {
        why: "Season of each taxon, in finds per hour searched.",
        command: "season --store {}/trug.gpkg --figure {}/calendar.svg",
        makes: Some(("calendar.svg", "calendar of all taxa, with search effort")),
    },
    Step {
        why: "Twenty years of daily weather of a station near by.",
        command: "weather add {}/weather/nettlewick.csv --store {}/trug.gpkg --station Nettlewick --at 42.64S,146.11E --elevation 330",
        makes: None,
    },
    Step {
        why: "Whether rain and warmth matter to a genus: here they do not, and it says so.",
        command: "season --store {}/trug.gpkg --taxon Mycena --weather --figure {}/weather.svg",
        makes: Some(("weather.svg", "rain and warmth before an outing, by days before")),
    },
    Step {
        why: "Compare the years: onset, peak, end and amount.",
        command: "years --store {}/trug.gpkg --figure {}/years.svg",
        makes: Some(("years.svg", "the season of each year, for all finds and for each species")),
    },
    Step {
        why: "Density of finds per kilometre searched.",
        command: "density --store {}/trug.gpkg --figure {}/density.svg",
        makes: Some((
            "density.svg",
            "finds per kilometre searched; ground not searched is hatched or blank",
        )),
    },
    Step {
        why: "What a genus grew with, against the other fungi of the same outings.",
        command: "hosts --store {}/trug.gpkg --taxon Cortinarius --figure {}/hosts.svg",
        makes: Some(("hosts.svg", "shares of patches by host, with intervals")),
    },
    Step {
        why: "The species list, and how complete it is.",
        command: "lists --store {}/trug.gpkg --figure {}/species.svg",
        makes: Some(("species.svg", "species accumulated over outings and hours searched")),
    },
    Step {
        why: "Plan a round of three hours, one year later.",
        command: "next --store {}/trug.gpkg --date 2027-05-08 --hours 3 --figure {}/round.svg --card {}/round.pdf --stops {}/round.gpx",
        makes: Some((
            "round.svg, round.pdf, round.gpx",
            "the round as a map, to print, for a receiver",
        )),
    },
    Step {
        why: "One day as a page: map, time line, finds with photographs, order of processing.",
        command: "sheet --store {}/trug.gpkg --day 2026-05-02 --out {}/thimble-spur.html",
        makes: Some((
            "thimble-spur.html",
            "the day on one page that works offline, on a phone and on paper",
        )),
    },
    Step {
        why: "Packet labels for that day.",
        command: "labels --store {}/trug.gpkg --from 2026-05-02 --to 2026-05-02 --out {}/labels.pdf",
        makes: Some(("labels.pdf", "labels to print at 100 % and cut")),
    },
    Step {
        why: "Make one genus sensitive; outputs for others withhold its places.",
        command: "places --store {}/trug.gpkg quiet --taxon Hericium --level medium --reason collected",
        makes: None,
    },
    Step {
        why: "A Darwin Core Archive with effort and non-detections.",
        command: "deposit --store {}/trug.gpkg --out {}/deposit.zip --title Wren-Gully --licence cc-by",
        makes: Some((
            "deposit.zip",
            "outings, finds and characters noted fresh, for a herbarium or a data centre",
        )),
    },
    Step {
        why: "Routes out from the middle of that day, compared with the remaining daylight.",
        command: "wayout --store {}/trug.gpkg --track {}/days/2026-05-02-thimble-spur/thimble-spur.gpx --at 2026-05-02T10:20 --card {}/way-out.pdf",
        makes: Some(("way-out.pdf", "a pocket card, A6")),
    },
];

const FORMS: &[(&str, &str, &str)] = &[
    ("geojson", "finds.geojson", "the finds with Darwin Core properties"),
    ("csv", "finds.csv", "the same as a table"),
    ("kml", "finds.kml", "the same for virtual globes"),
    ("gpx", "finds.gpx", "the same as waypoints for a GPS receiver"),
];

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let folder = &arguments.into;
    manifest::clear(folder)?;
    let samples = sample_names()?;
    manifest::begin(folder, samples.iter().map(String::as_str))?;
    unpack(folder)?;
    manifest::begin(folder, results())?;
    let mut made = vec![
        ("days", "the sample days, unprocessed; README.md lists the problems in each"),
        ("map", "the ground of the sample days: an elevation tile and a base map"),
    ];
    for step in STEPS {
        console.print(&format!("\n# {}\n", step.why))?;
        perform(step.command, folder, console)?;
        made.extend(step.makes);
    }
    console.print("\n# The finds in exchange formats.\n")?;
    for (form, name, what) in FORMS {
        let text = exported(folder, form, console)?;
        output::write(&folder.join(name), text.as_bytes(), output::Overwrite::default())?;
        made.push((name, what));
    }
    manifest::write(folder)?;
    console.print(&listing(folder, &made))?;
    Ok(Exit::Done)
}

/// Prints a command and runs it. Inputs that are set aside are expected.
fn perform(command: &str, folder: &Path, console: &mut Console) -> Result<()> {
    let shown = folder.display().to_string();
    console.print(&format!("$ trug {}\n\n", command.replace("{}", &shown)))?;
    parsed(command, &shown)?.command.run(console)?;
    Ok(())
}

fn parsed(command: &str, folder: &str) -> Result<Program> {
    let words = command.split(' ').map(|word| word.replace("{}", folder));
    Program::try_parse_from(std::iter::once("trug".to_owned()).chain(words)).map_err(|reported| {
        Error::program("the demonstration contains an invalid command")
            .because(reported.to_string())
    })
}

fn exported(folder: &Path, form: &str, console: &mut Console) -> Result<String> {
    let shown = folder.display().to_string();
    let command = format!("finds --store {{}}/trug.gpkg --format {form}");
    console.print(&format!("$ trug {}\n", command.replace("{}", &shown)))?;
    let mut captured = Console::captured();
    parsed(&command, &shown)?.command.run(&mut captured)?;
    Ok(captured.into_text())
}

/// The names of all sample files, below the folder.
fn sample_names() -> Result<Vec<String>> {
    let mut names = Vec::new();
    for (packed, folder) in [(SAMPLE_DAYS, "days"), (SAMPLE_MAP, "map")] {
        let mut archive = tar::Archive::new(GzDecoder::new(packed));
        let inner = |error: &std::io::Error| Error::program(format!("the samples: {error}"));
        for entry in archive.entries().map_err(|error| inner(&error))? {
            let entry = entry.map_err(|error| inner(&error))?;
            let path = entry.path().map_err(|error| inner(&error))?;
            let name = path.to_string_lossy().trim_start_matches("./").to_owned();
            // moved after unpacking
            names.extend(name.starts_with("weather/").then(|| name.clone()));
            names.push(format!("{folder}/{name}"));
        }
    }
    Ok(names)
}

/// The names of all files that the commands write.
fn results() -> impl Iterator<Item = &'static str> {
    let made = STEPS.iter().filter_map(|step| step.makes).flat_map(|(names, _)| names.split(", "));
    let forms = FORMS.iter().map(|(_, name, _)| *name);
    made.chain(forms).chain(["trug.gpkg-wal", "trug.gpkg-shm", "trug.gpkg-journal"])
}

/// Writes the sample days, without the program that makes them, and their ground.
fn unpack(folder: &Path) -> Result<()> {
    for (packed, name) in [(SAMPLE_DAYS, "days"), (SAMPLE_MAP, "map")] {
        let into = folder.join(name);
        fs::create_dir_all(&into).map_err(|error| Error::file("make", &into, &error))?;
        let mut archive = tar::Archive::new(GzDecoder::new(packed));
        archive.set_preserve_mtime(false);
        archive
            .unpack(&into)
            .map_err(|error| Error::file("write the sample days into", &into, &error))?;
    }
    // beside the days, which are imported as a whole
    let (from, to) = (folder.join("days/weather"), folder.join("weather"));
    fs::rename(&from, &to).map_err(|error| Error::file("move", &from, &error))
}

fn listing(folder: &Path, made: &[(&str, &str)]) -> String {
    let widest = made.iter().map(|(name, _)| name.len()).max().unwrap_or(0);
    let lines: Vec<String> =
        made.iter().map(|(name, what)| format!("  {name:widest$}  {what}")).collect();
    format!("\nMade in {}:\n{}\n", folder.display(), lines.join("\n"))
}
