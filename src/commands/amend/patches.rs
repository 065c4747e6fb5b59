//! Reads the corrected values of a find from the options of `trug amend`, and refuses doubtful ones.
//! Layer: `commands`.

use std::str::FromStr;

use clap::Args;
use jiff::civil::{Date, DateTime, Time};
use jiff::tz::{AmbiguousOffset, TimeZone};
use uuid::Uuid;

use super::super::day::latest_date;
use super::super::meant;
use super::super::place;
use super::edited_listing::possible;
use crate::error::{Error, Result};
use crate::ingest::record::{column_word, listing};
use crate::join::names_photo;
use crate::model::{Determination, Field, KeptFind, Patch, RADII, TextProperty};
use crate::present::corrections;
use crate::store::Store;
use crate::units::{LatLon, Seconds};

/// The new values.
#[derive(Debug, Args)]
pub(super) struct Values {
    /// Its position, such as "-42.61230 146.12345".
    #[arg(long, value_name = "LAT LON", requires = "within", allow_hyphen_values = true)]
    position: Option<String>,

    /// The radius of the circle that holds the true position, at the 95 % level.
    #[arg(long, value_name = "METRES", requires = "position", allow_negative_numbers = true, value_parser = crate::commands::numbers::finite)]
    within: Option<f64>,

    /// Accept a position more than 1 km from the outing's track.
    #[arg(long, requires = "position")]
    off_track: bool,

    /// Its local time, 14:32 or 14:32:10, or with the date "2026-05-03 14:32".
    #[arg(long, value_name = "TIME")]
    time: Option<String>,

    /// Photographs that show it and that do not: "+P1004,-P1005".
    #[arg(long, value_name = "+A,-B", allow_hyphen_values = true)]
    photos: Option<String>,

    #[command(flatten)]
    identification: Identification,

    /// Another value: number, place, substrate, host, habitat, container, notes, smell or any other
    /// heading; empty removes it. Can be given several times.
    #[arg(long, value_name = "NAME=VALUE")]
    field: Vec<String>,

    /// Who collected it.
    #[arg(long, value_name = "NAME")]
    collector: Option<String>,

    /// The outing it belongs to: its date, or the beginning of its identifier.
    #[arg(long, value_name = "DATE")]
    outing: Option<String>,

    /// Withdraw it from lists and outputs.
    #[arg(long, conflicts_with = "restore")]
    withdraw: bool,

    /// Restore it, although withdrawn by you or missing in the corrected notebook.
    #[arg(long)]
    restore: bool,
}

/// An identification.
#[derive(Debug, Args)]
pub(super) struct Identification {
    /// Identify it: the name with its qualifier, such as "Mycena cf. interrupta".
    #[arg(long, value_name = "NAME")]
    taxon: Option<String>,

    /// The authors of the name.
    #[arg(long, value_name = "NAMES", requires = "taxon")]
    author: Option<String>,

    /// Who identified it.
    #[arg(long, value_name = "NAME", requires = "taxon")]
    determiner: Option<String>,

    /// When it was identified.
    #[arg(long, value_name = "DATE", value_parser = super::super::day_argument::read, requires = "taxon")]
    on: Option<Date>,

    /// How, such as "microscopy, Melzer's reagent".
    #[arg(long, value_name = "TEXT", requires = "taxon")]
    method: Option<String>,

    /// Its status as a type specimen, such as "holotype of Mycena exempla".
    #[arg(long, value_name = "TEXT", requires = "taxon")]
    type_status: Option<String>,

    /// Remarks on the identification.
    #[arg(long, value_name = "TEXT", requires = "taxon")]
    remarks: Option<String>,

    /// Record the identification without accepting it.
    #[arg(long, requires = "taxon")]
    not_accepted: bool,
}

impl Values {
    /// The amendments of this find.
    pub(super) fn patches(&self, store: &Store, find: &KeptFind) -> Result<Vec<Patch>> {
        let mut patches = Vec::new();
        let mut of_day = find.outing;
        if let Some(outing) = &self.outing {
            of_day = outing_meant(store, outing)?;
            patches.push(Patch::Outing(of_day));
        }
        if let (Some(text), Some(within)) = (&self.position, self.within) {
            let patch = position(text, within)?;
            if !self.off_track {
                refuse_far(&patch, store, of_day)?;
            }
            patches.push(patch);
        }
        if let Some(text) = &self.time {
            patches.push(time(text, find, self.outing.is_some(), &store.zone(of_day)?)?);
        }
        if let Some(text) = &self.photos {
            patches.push(photographs(text, store, find)?);
        }
        patches.extend(self.identification.patch(find)?);
        for field in &self.field {
            patches.push(self::field(field, find)?);
        }
        if let Some(name) = &self.collector {
            let name = name.trim().to_owned();
            if name.is_empty() {
                return Err(Error::input("--collector is empty").hint("give a name"));
            }
            patches.push(Patch::Collector(name));
        }
        if self.withdraw || self.restore {
            patches.push(Patch::Withdrawn(self.withdraw));
        }
        Ok(patches)
    }
}

fn position(text: &str, within: f64) -> Result<Patch> {
    let place = place::read(text)?;
    if !RADII.contains(&within) {
        return Err(Error::input(format!("--within {within} is not a valid radius"))
            .because("it must be at least 0.01 m and at most 100 km")
            .hint("give metres, such as --within 5"));
    }
    if place.open.0 > within {
        return Err(Error::input(format!("\"{text}\" is less exact than --within {within}"))
            .because(format!("its last digit leaves {} open", place.open))
            .hint("give more decimals, or a larger radius"));
    }
    Ok(Patch::Position {
        latitude: place.at.latitude(),
        longitude: place.at.longitude(),
        within_m: within,
    })
}

/// Refuses a position far from where its outing was.
pub(super) fn refuse_far(patch: &Patch, store: &Store, outing: Uuid) -> Result<()> {
    let Patch::Position { latitude, longitude, .. } = patch else { return Ok(()) };
    match store.too_far(outing, LatLon::clamped(*latitude, *longitude))? {
        None => Ok(()),
        Some(why) => Err(Error::input("the position is far from where the outing was")
            .because(corrections::refusal(why))
            .hint("check the digits and signs; if the position is right, add --off-track")),
    }
}

/// Half of the step of the written figures.
fn time(text: &str, find: &KeptFind, moved: bool, zone: &TimeZone) -> Result<Patch> {
    let refuse = || {
        Error::input(format!("--time {text} cannot be read"))
            .because("expected a local time of day, with or without a date")
            .hint("write 14:32, 14:32:10 or \"2026-05-03 14:32\"")
    };
    let text = text.trim();
    let of_day = text.split([' ', 'T']).next_back().unwrap_or(text);
    if of_day.contains(['+', '-', '\u{2212}', 'Z', 'z', '[']) {
        return Err(Error::input(format!("--time {text} states an offset"))
            .because("a corrected time is a local time of the outing")
            .hint("write the local time without an offset"));
    }
    // the parser of times reads the time of a date and time, too
    let clock = if text.contains('-') {
        DateTime::from_str(text).map_err(|_| refuse())?
    } else {
        find.date.to_datetime(Time::from_str(text).map_err(|_| refuse())?)
    };
    let days = find.date.until(clock.date()).map_or(i32::MAX, |span| span.get_days().abs());
    if days > 1 && !moved {
        return Err(Error::input(format!("{} is not the day of the find", clock.date()))
            .because(format!("it was collected on {}", find.date))
            .hint("to move it to another day: --outing DATE"));
    }
    once(clock, zone)?;
    let seconds = of_day.matches(':').count() == 2;
    Ok(Patch::Time { clock, within: Seconds(if seconds { 1.0 } else { 30.0 }) })
}

/// Refuses a local time that does not exist or exists twice, where clocks are set forward or back.
fn once(clock: DateTime, zone: &TimeZone) -> Result<()> {
    let why = match zone.to_ambiguous_timestamp(clock).offset() {
        AmbiguousOffset::Unambiguous { .. } => return Ok(()),
        AmbiguousOffset::Gap { .. } => {
            "the clocks are set forward that night, so that it does not exist"
        }
        AmbiguousOffset::Fold { .. } => {
            "the clocks are set back that night, so that it comes twice"
        }
    };
    Err(Error::input(format!("{} is not one moment", clock.strftime("%Y-%m-%d %H:%M:%S")))
        .because(why)
        .hint("give a time outside of that hour, or the position with --position"))
}

fn photographs(text: &str, store: &Store, find: &KeptFind) -> Result<Patch> {
    let names = store.photograph_names(find.outing)?;
    let (mut add, mut remove) = (Vec::new(), Vec::new());
    for part in text.split(',').map(str::trim).filter(|part| !part.is_empty()) {
        let (list, asked) = match part.split_at_checked(1) {
            Some(("+", asked)) => (&mut add, asked.trim()),
            Some(("-" | "\u{2212}", asked)) => (&mut remove, asked.trim()),
            _ => {
                return Err(Error::input(format!("--photos {part} has no sign"))
                    .because("+ adds a photograph to the find, - removes it")
                    .hint("write it as --photos +P1004,-P1005"));
            }
        };
        if asked.is_empty() {
            return Err(Error::input(format!("--photos {text} has a sign without a photograph"))
                .hint("write it as --photos +P1004,-P1005"));
        }
        list.push(photograph(asked, &names)?);
    }
    if let Some(both) = add.iter().find(|name| remove.contains(name)) {
        return Err(Error::input(format!("--photos adds and removes {both}"))
            .because("it either shows the find or does not")
            .hint("name each photograph once"));
    }
    if add.is_empty() && remove.is_empty() {
        return Err(
            Error::input("--photos names no photograph").hint("write it as --photos +P1004,-P1005")
        );
    }
    Ok(Patch::Photographs { add, remove })
}

/// The one photograph of the outing with this name.
fn photograph(asked: &str, names: &[String]) -> Result<String> {
    let mut meant: Vec<&String> = names.iter().filter(|name| names_photo(asked, name)).collect();
    meant.dedup();
    match meant[..] {
        [only] => Ok(only.clone()),
        [] => Err(Error::input(format!("the outing has no photograph {asked}"))
            .because(match (names.first(), names.last()) {
                (Some(first), Some(last)) => {
                    format!("its {} photographs are {first} to {last}", names.len())
                }
                _ => "it has no photographs".to_owned(),
            })
            .hint("write the name of the file or its number")),
        _ => Err(Error::input(format!("\"{asked}\" means {} photographs", meant.len()))
            .because(meant.iter().map(|name| name.as_str()).collect::<Vec<_>>().join(", "))
            .hint("write the whole file name")),
    }
}

impl Identification {
    fn patch(&self, find: &KeptFind) -> Result<Option<Patch>> {
        let Some(name) = &self.taxon else { return Ok(None) };
        let plain = |text: &Option<String>| {
            text.as_ref().map(|text| text.trim().to_owned()).filter(|text| !text.is_empty())
        };
        let name = name.split_whitespace().collect::<Vec<_>>().join(" ");
        if !name.contains(char::is_alphabetic) {
            return Err(Error::input("--taxon is not a name")
                .because(format!("\"{name}\" has no letter"))
                .hint("give at least a genus, or Fungi"));
        }
        if let Some(on) = self.on {
            possible(on, find.date, latest_date())
                .map_err(|error| error.hint("give the date of the identification with --on"))?;
        }
        Ok(Some(Patch::Determination(Determination {
            name,
            author: plain(&self.author),
            determiner: plain(&self.determiner),
            on: self.on,
            method: plain(&self.method),
            type_status: plain(&self.type_status),
            remarks: plain(&self.remarks),
            accepted: !self.not_accepted,
        })))
    }
}

/// Headings with an option of their own.
const ELSEWHERE: [(&str, &str); 25] = [
    ("latitude", "--position"),
    ("longitude", "--position"),
    ("uncertainty", "--within"),
    ("uncertainty (m)", "--within"),
    ("datum", "--position"),
    ("decimallatitude", "--position"),
    ("decimallongitude", "--position"),
    ("coordinateuncertaintyinmeters", "--within"),
    ("recordnumber", "--field number=VALUE"),
    ("recordedby", "--collector"),
    ("scientificname", "--taxon"),
    ("identifiedby", "--taxon with --determiner"),
    ("dateidentified", "--taxon with --on"),
    ("date identified", "--taxon with --on"),
    ("typestatus", "--taxon with --type-status"),
    ("name", "--taxon"),
    ("taxon", "--taxon"),
    ("identified by", "--taxon with --determiner"),
    ("position", "--position"),
    ("coordinates", "--position"),
    ("date", "--outing"),
    ("time", "--time"),
    ("photographs", "--photos"),
    ("photos", "--photos"),
    ("collector", "--collector"),
];

fn field(text: &str, find: &KeptFind) -> Result<Patch> {
    let Some((name, value)) = text.split_once('=') else {
        return Err(Error::input(format!("--field {text} has no value"))
            .because("expected NAME=VALUE")
            .hint("write it as --field \"host=Nothofagus cunninghamii\""));
    };
    let name = name.trim();
    if name.is_empty() {
        return Err(Error::input(format!("--field {text} has no name")).hint("write NAME=VALUE"));
    }
    let lower = name.to_lowercase();
    if let Some((_, option)) = ELSEWHERE.iter().find(|(heading, _)| *heading == lower) {
        return Err(Error::input(format!("--field {name} has an option of its own"))
            .hint(format!("use {option}")));
    }
    let value = Some(value.trim().to_owned()).filter(|value| !value.is_empty());
    let property = property(name, find);
    if property == TextProperty::Number && value.is_none() {
        return Err(Error::input("a find cannot lose its number")
            .because("it would no longer be found by it")
            .hint("give the right number, or withdraw the find with --withdraw"));
    }
    Ok(Patch::Text { property, value })
}

/// The property that a heading is. Other words for place, substrate, host and habitat, and for Darwin Core terms that
/// records keep, are these, unless the find has a field under that very heading.
fn property(name: &str, find: &KeptFind) -> TextProperty {
    let own = TextProperty::of(name);
    let is_own = !matches!(&own, TextProperty::Field(Field::Other(_)));
    if is_own || own.value(&find.record).is_some() {
        return own;
    }
    match column_word(name) {
        Some(word @ ("place" | "substrate" | "host" | "habitat")) => TextProperty::of(word),
        _ => match listing::field(name).filter(|field| field.term().is_some()) {
            Some(field) => TextProperty::Field(field),
            None => own,
        },
    }
}

fn outing_meant(store: &Store, text: &str) -> Result<Uuid> {
    if let Ok(day) = Date::from_str(text.trim()) {
        return meant::outing(store, day, None).map(|outing| outing.id);
    }
    let asked = text.trim().to_lowercase();
    let mut found: Vec<Uuid> = store.outings()?.into_iter().map(|outing| outing.id).collect();
    found.retain(|id| asked.len() >= 8 && id.to_string().starts_with(&asked));
    match found[..] {
        [only] => Ok(only),
        _ => Err(Error::input(format!("--outing {text} is not an outing"))
            .because("expected its date, or at least eight characters of its identifier")
            .hint("write the date as 2026-05-03")),
    }
}
