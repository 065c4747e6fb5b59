//! Writes the files of `trug next`: figure, card, stops and legs. Layer: `commands`.

use std::path::Path;

use super::Arguments;
use crate::commands::console::Console;
use crate::commands::ground::GroundSource;
use crate::commands::output::Outputs;
use crate::commands::without_effect::needs;
use crate::earth::height_grid::GroundArea;
use crate::error::{Error, Result};
use crate::present::map::ground::MapGround;
use crate::present::round::{PlannedRound, card, figure, files};
use crate::store::Store;

/// Whether any file is wanted.
///
/// # Errors
/// When an option has no effect without one.
pub(super) fn wanted(arguments: &Arguments) -> Result<bool> {
    let drawn = arguments.figure.is_some() || arguments.card.is_some();
    let any = drawn || arguments.stops.is_some();
    arguments.replacing.needs_output("--figure, --card or --stops", any)?;
    needs("--elevation or --base", arguments.ground.any(), "--figure or --card", drawn)?;
    Ok(any)
}

/// Writes all of them or none.
///
/// # Errors
/// When no round is planned, or a file cannot be written.
pub(super) fn write(
    arguments: &Arguments,
    round: Option<&PlannedRound>,
    store: &mut Store,
    console: &mut Console,
) -> Result<()> {
    let source = arguments.ground.keep(store, console)?;
    let round = round.filter(|round| !round.stops.is_empty());
    let mut outputs = Outputs::new(arguments.replacing);
    if let Some(path) = &arguments.figure {
        let ground = ground(&source, round.and_then(figure::area), store)?;
        let drawn = round.and_then(|round| figure::drawing(round, &ground));
        outputs.picture(path, &drawn.ok_or_else(|| nothing(path))?)?;
    }
    if let Some(path) = &arguments.card {
        let ground = ground(&source, round.and_then(card::area), store)?;
        let drawn = round.and_then(|round| card::drawing(round, &ground));
        outputs.picture(path, &drawn.ok_or_else(|| nothing(path))?)?;
    }
    if let Some(path) = &arguments.stops {
        let round = round.ok_or_else(|| nothing(path))?;
        let end = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
        let text = match end.as_str() {
            "gpx" => files::gpx(round),
            "kml" => files::kml(round),
            other => {
                return Err(Error::input(format!("cannot write stops into {}", path.display()))
                    .because(format!("the format \"{other}\" is not supported"))
                    .hint("end the name with .gpx or .kml"));
            }
        };
        outputs.write(path, text.as_bytes())?;
    }
    outputs.place()
}

fn ground(source: &GroundSource, area: Option<GroundArea>, store: &Store) -> Result<MapGround> {
    area.map_or_else(|| Ok(MapGround::default()), |area| source.under(&area, Some(store), None))
}

fn nothing(path: &Path) -> Error {
    Error::input(format!("{} is not written", path.display()))
        .because("no round is planned, or no site can be reached within its time")
        .hint("run it without the file to see why; give another date, more --hours or a smaller --least-chance")
}
