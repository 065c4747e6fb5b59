//! Runs `trug check PATH...`: reports everything that an import would report and writes nothing. Layer:
//! `commands`.

use std::path::{Path, PathBuf};

use clap::Args;

use super::console::Console;
use super::day::{DayArguments, Joined};
use super::exit::Exit;
use super::ground::{GroundArguments, GroundSource};
use super::without_effect::needs;
use super::{import, output};
use crate::error::Result;
use crate::ingest::record::Remembered;
use crate::model::Day;
use crate::present::map::ground::MapGround;
use crate::present::{day_map, summary};
use crate::store::Store;

/// Report everything that an import would report; write nothing into a store.
///
/// Gaps, jumps, clock problems, missing and reused numbers, records without host or substrate,
/// photographs that no record claims.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    day: DayArguments,

    /// Draw the day: raw and cleaned track, stops, finds with 95 % circles, camera clock.
    #[arg(long, value_name = "FILE.svg")]
    figure: Option<PathBuf>,

    #[command(flatten)]
    ground: GroundArguments,

    #[command(flatten)]
    replacing: output::Overwrite,

    /// Print one JSON object instead of text.
    #[arg(long)]
    json: bool,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let figure = arguments.figure.is_some();
    arguments.replacing.needs_output("--figure", figure)?;
    needs("--elevation or --base", arguments.ground.any(), "--figure", figure)?;
    let heights = arguments.ground.heights(None);
    let joined = arguments.day.join_with(Remembered::default(), &heights, console)?;
    let drawn = match &arguments.figure {
        Some(path) => {
            let ground = arguments.ground.open(console)?;
            draw(&joined, path, &Under { ground: &ground, store: None }, arguments.replacing)?
        }
        None => Vec::new(),
    };
    if arguments.json {
        let object = summary::object(&joined.days, &joined.set_aside, &joined.passed_over);
        console.print(&format!("{object:#}\n"))?;
    } else {
        import::print_summary(&joined, console)?;
    }
    for path in drawn {
        console.note(&format!("Drawn: {}", path.display()));
    }
    Ok(if joined.left_something() { Exit::SomeSetAside } else { Exit::Done })
}

/// What the maps of days stand on.
pub(super) struct Under<'a> {
    pub(super) ground: &'a GroundSource,
    pub(super) store: Option<&'a Store>,
}

impl Under<'_> {
    fn of(&self, day: &Day) -> Result<MapGround> {
        match day_map::area(day) {
            Some(area) => self.ground.under(&area, self.store, Some(day.outing.id)),
            None => Ok(MapGround::default()),
        }
    }
}

/// One outing is drawn into the named file; several go into one file each, with the date in its name.
pub(super) fn draw(
    joined: &Joined,
    path: &Path,
    under: &Under,
    replacing: output::Overwrite,
) -> Result<Vec<PathBuf>> {
    let mut outputs = output::Outputs::new(replacing);
    let mut drawn = Vec::new();
    for (index, day) in joined.days.iter().enumerate() {
        let path =
            if joined.days.len() == 1 { path.to_owned() } else { numbered(path, index, day) };
        outputs.picture(&path, &day_map::figure_on(day, &under.of(day)?))?;
        drawn.push(path);
    }
    outputs.place()?;
    Ok(drawn)
}

fn numbered(path: &Path, index: usize, day: &Day) -> PathBuf {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let end = path.extension().unwrap_or_default().to_string_lossy();
    let date = day.outing.dated().map_or_else(|| "undated".to_owned(), |date| date.to_string());
    path.with_file_name(format!("{stem}-{date}-{}.{end}", index + 1))
}
