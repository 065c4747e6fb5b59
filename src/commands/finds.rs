//! Runs `trug finds`: lists the finds of all days as a table or in an exchange format. Layer:
//! `commands`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use super::console::Console;
use super::exit::Exit;
use super::output;
use super::selection::SelectionArguments;
use super::store_path::StoreArgument;
use crate::error::Result;
use crate::model::KeptFind;
use crate::present::finds_table;
use crate::present::summary::words::counted;
use crate::present::{csv, field_records, geojson, gpx, kml};
use crate::units::LatLon;

/// List the finds in the store.
///
/// Positions are exact: this is your own list. For other people use trug export, which generalises rare and
/// protected species.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    #[command(flatten)]
    selection: SelectionArguments,

    /// The output format.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,

    /// Write into this file instead of standard output.
    #[arg(long, value_name = "FILE", required_if_eq("format", "xlsx"))]
    out: Option<PathBuf>,

    #[command(flatten)]
    replacing: output::Overwrite,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Form {
    /// A table.
    Table,
    /// Comma separated, Darwin Core headings.
    Csv,
    /// RFC 7946 with Darwin Core properties.
    Geojson,
    /// GPX 1.1 waypoints.
    Gpx,
    /// KML 2.2 places.
    Kml,
    /// Comma separated, the records as written, with the columns that an import reads.
    Records,
    /// A workbook with the same columns, for --out.
    Xlsx,
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let store = arguments.store.open(console)?;
    let query = arguments.selection.query(&store)?;
    let finds = store.finds(&query)?;
    if let Some(path) = &arguments.out {
        output::write(path, &arguments.bytes(&finds)?, arguments.replacing)?;
        let number = counted(finds.len(), "find", "finds");
        console.print(&format!("{}: {number}\n", path.display()))?;
    } else if matches!(arguments.format, Form::Gpx | Form::Kml) {
        console.print_xml(&arguments.shown(&finds))?;
    } else {
        console.print(&arguments.shown(&finds))?;
    }
    if arguments.format == Form::Table && finds.iter().any(|find| !find.amended.is_empty()) {
        console.note("* amended; trug show NUMBER states what was written.");
    }
    if finds.is_empty() {
        match arguments.selection.explained(&store, &query)? {
            Some(unknown) => {
                console.warning(&unknown);
                return Ok(Exit::SomeSetAside);
            }
            None => console.note("No find matches."),
        }
    }
    let unknown = arguments.selection.numbers_without_a_find(&store)?;
    for unknown in &unknown {
        console.warning(unknown);
    }
    Ok(if unknown.is_empty() { Exit::Done } else { Exit::SomeSetAside })
}

impl Arguments {
    fn bytes(&self, finds: &[KeptFind]) -> Result<Vec<u8>> {
        match self.format {
            Form::Xlsx => field_records::xlsx(finds),
            _ => Ok(self.shown(finds).into_bytes()),
        }
    }

    fn shown(&self, finds: &[KeptFind]) -> String {
        match self.format {
            Form::Table => finds_table::table(finds),
            Form::Csv => csv::finds(finds),
            Form::Geojson => geojson::finds(finds),
            Form::Gpx => gpx::finds(finds),
            Form::Kml => kml::finds(finds),
            Form::Records | Form::Xlsx => field_records::csv(finds),
        }
    }
}

/// An unambiguous position.
pub(super) fn one_position(text: &str) -> Result<LatLon> {
    super::place::read(text).map(|place| place.at)
}
