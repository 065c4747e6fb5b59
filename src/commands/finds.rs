//! Runs `trug finds`: lists the finds of all days as a table or in an exchange format. Layer:
//! `commands`.

use clap::{Args, ValueEnum};
use jiff::civil::Date;

use super::console::Console;
use super::exit::Exit;
use super::names;
use super::store_path::StoreArgument;
use super::without_effect::days_in_order;
use crate::error::{Error, Result};
use crate::model::KeptFind;
use crate::present::finds_table;
use crate::present::{csv, geojson, gpx, kml};
use crate::store::{FindQuery, Store};
use crate::units::{LatLon, Metres};

/// List the finds in the store.
///
/// Positions are exact: this is your own list. For other people use trug export, which generalises rare and
/// protected species.
#[derive(Debug, Args)]
pub(super) struct Arguments {
    #[command(flatten)]
    store: StoreArgument,

    /// Only this taxon: a name or the beginning of one.
    #[arg(long, value_name = "T")]
    taxon: Option<String>,

    /// Only from this day on, such as 2026-04-01.
    #[arg(long, value_name = "DATE")]
    from: Option<Date>,

    /// Only up to and including this day.
    #[arg(long, value_name = "DATE")]
    to: Option<Date>,

    /// Only near this position, such as "-42.6 146.1".
    #[arg(long, value_name = "LAT LON", requires = "within", allow_hyphen_values = true)]
    near: Option<String>,

    /// The search radius.
    #[arg(long, value_name = "METRES", requires = "near")]
    within: Option<f64>,

    /// The output format.
    #[arg(long, value_enum, default_value_t = Form::Table)]
    format: Form,
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
}

pub(super) fn run(arguments: &Arguments, console: &mut Console) -> Result<Exit> {
    let store = Store::open(&arguments.store.path())?;
    let finds = store.finds(&arguments.query()?)?;
    let shown = arguments.shown(&finds);
    if matches!(arguments.format, Form::Gpx | Form::Kml) {
        console.print_xml(&shown)?;
    } else {
        console.print(&shown)?;
    }
    if finds.is_empty() {
        match names::unknown_in(&store, arguments.taxon.as_deref())? {
            Some(unknown) => {
                console.warning(&unknown);
                return Ok(Exit::SomeSetAside);
            }
            None => console.note("No find matches."),
        }
    }
    Ok(Exit::Done)
}

impl Arguments {
    fn query(&self) -> Result<FindQuery> {
        let near = match (&self.near, self.within) {
            (Some(near), Some(within)) => Some((one_position(near)?, radius(within)?)),
            _ => None,
        };
        days_in_order(self.from, self.to)?;
        Ok(FindQuery {
            taxon: self.taxon.clone(),
            from: self.from,
            to: self.to,
            near,
            ..FindQuery::default()
        })
    }

    fn shown(&self, finds: &[KeptFind]) -> String {
        match self.format {
            Form::Table => finds_table::table(finds),
            Form::Csv => csv::finds(finds),
            Form::Geojson => geojson::finds(finds),
            Form::Gpx => gpx::finds(finds),
            Form::Kml => kml::finds(finds),
        }
    }
}

/// An unambiguous position.
pub(super) fn one_position(text: &str) -> Result<LatLon> {
    super::place::read(text).map(|place| place.at)
}

fn radius(metres: f64) -> Result<Metres> {
    if metres.is_finite() && metres > 0.0 {
        Ok(Metres(metres))
    } else {
        Err(Error::input(format!("--within {metres} is not a valid distance"))
            .hint("give metres above zero, such as --within 250"))
    }
}
