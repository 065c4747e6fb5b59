//! `trug export --format FORM --out FILE`: finds and ways for other programs and people. Layer:
//! `commands`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::console::Console;
use super::exit::Exit;
use super::others::{self, ForOthersArguments};
use super::output;
use super::store_path::StoreArgument;
use crate::error::{Error, Result};
use crate::model::KeptFind;
use crate::present::gpx::NamedTrack;
use crate::present::way::Way;
use crate::present::{csv, geojson, geoparquet, gpx, kml};
use crate::store::Store;

/// Write finds for others, as exactly as they may be given.
///
/// Careful unless told otherwise: positions to 0.001 degree, no times of day, no notes. Ways only go
/// along where every find of the outing may be given exactly.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The file to write.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,

    /// In which form.
    #[arg(long, value_enum)]
    format: Form,

    /// The ways of the outings too.
    #[arg(long)]
    ways: bool,

    #[command(flatten)]
    store: StoreArgument,

    #[command(flatten)]
    which: ForOthersArguments,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Form {
    /// RFC 7946 with Darwin Core properties.
    Geojson,
    /// GPX 1.1: finds as waypoints, ways as tracks.
    Gpx,
    /// KML 2.2.
    Kml,
    /// Comma separated, Darwin Core headings.
    Csv,
    /// GeoParquet 1.1, for large tables.
    Geoparquet,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    if arguments.ways && matches!(arguments.format, Form::Csv | Form::Geoparquet) {
        return Err(Error::input("a table has no place for ways")
            .because("--ways was asked for with a form that holds finds only")
            .hint("choose geojson, gpx or kml, or leave --ways out"));
    }
    let store = Store::open(&arguments.store.path())?;
    let prepared = others::prepare(&store, &arguments.which)?;
    let finds = prepared.chosen_finds();
    let ways = if arguments.ways { ways(&store, &finds)? } else { Vec::new() };
    output::write(&arguments.out, &written(arguments.format, &finds, &ways)?)?;
    let unlocated = finds.iter().filter(|find| find.place.is_none()).count();
    console.print(&format!(
        "{}: {} finds, {} ways\n",
        arguments.out.display(),
        finds.len(),
        ways.len()
    ))?;
    prepared.note_care(console);
    if arguments.format == Form::Gpx && unlocated > 0 {
        console.note(&format!("GPX has no place for {unlocated} finds without coordinates."));
    }
    Ok(Exit::Done)
}

fn written(form: Form, finds: &[KeptFind], ways: &[Way]) -> Result<Vec<u8>> {
    let text = match form {
        Form::Geoparquet => return geoparquet::finds(finds),
        Form::Geojson => geojson::finds_and_ways(finds, ways),
        Form::Kml => kml::finds_and_ways(finds, ways),
        Form::Csv => csv::finds(finds),
        Form::Gpx => {
            let names: Vec<String> = ways.iter().map(Way::name).collect();
            let tracks: Vec<NamedTrack<'_>> = ways
                .iter()
                .zip(&names)
                .map(|(way, name)| NamedTrack { name, description: None, points: &way.points })
                .collect();
            gpx::finds_and_tracks(finds, &tracks)
        }
    };
    Ok(text.into_bytes())
}

/// The ways of the outings of these finds, where none of their finds was generalised.
fn ways(store: &Store, finds: &[KeptFind]) -> Result<Vec<Way>> {
    let mut ways = Vec::new();
    for outing in store.outings()? {
        let mut own = finds.iter().filter(|find| find.outing == outing.id).peekable();
        if own.peek().is_none() || own.any(|find| find.generalised.is_some()) {
            continue;
        }
        let points = store.track(outing.id)?;
        if !points.is_empty() {
            ways.push(Way {
                outing: outing.id,
                date: outing.date,
                collector: outing.collector,
                points,
            });
        }
    }
    Ok(ways)
}
