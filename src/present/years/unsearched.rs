//! Areas of `trug next` that nobody searched, as text and JSON. Layer: `present`.

use serde_json::{Value, json};

use super::estimates::{number, wrapped};
use super::sites::rounded;
use crate::analyse::intervals::Interval;
use crate::analyse::unsearched::areas::{APART, Area, OFF_PATH, SIDE, STEEPEST, UNSEARCHED};
use crate::analyse::unsearched::elevation::{ByElevation, Gain};
use crate::model::UnsearchedNote;
use crate::present::coded::with_sentence;
use crate::present::summary::words::counted;
use crate::present::table::{Column, Table};
use crate::units::{LatLon, Metres, TrueBearing};

/// What is offered, or why nothing is.
#[derive(Clone, Debug)]
pub struct Offered {
    /// What is sought; none for any find.
    pub taxon: Option<String>,
    /// The start, and its name.
    pub from: (LatLon, String),
    /// The largest distance from it.
    pub within: Metres,
    /// The rate by elevation; none where it cannot be determined.
    pub made: Option<ByElevation>,
    /// The areas, best first.
    pub areas: Result<Vec<Placed>, UnsearchedNote>,
    /// Whether the store has a base map, on which water is known.
    pub base_map: bool,
}

/// An area with its position.
#[derive(Clone, Copy, Debug)]
pub struct Placed {
    /// Its middle.
    pub at: LatLon,
    /// From the start.
    pub distance: Metres,
    /// From the start.
    pub bearing: TrueBearing,
    /// What is known of it.
    pub area: Area,
}

impl Offered {
    /// The finding.
    #[must_use]
    pub fn note(&self) -> UnsearchedNote {
        self.areas.as_ref().err().copied().unwrap_or(UnsearchedNote::UnsearchedOffered)
    }
}

/// The name of an area by its place in the list, apart from the numbers of sites.
fn letter(place: usize) -> char {
    ('A'..='Z').nth(place).unwrap_or('Z')
}

/// `2.4 (1.6 to 3.7)`.
fn times(rate: Interval) -> String {
    format!("{} ({} to {})", number(rate.value, 1), number(rate.low95, 1), number(rate.high95, 1))
}

fn metres(length: Option<Metres>) -> String {
    length.map_or_else(|| "unknown".to_owned(), |length| format!("{:.0} m", length.0))
}

/// The areas in a table with what they rest on, or why there is none.
#[must_use]
pub fn text(offered: &Offered) -> String {
    let what = offered.taxon.as_deref().map_or(String::new(), |taxon| format!(" for {taxon}"));
    let heading = format!("Unsearched areas{what}, extrapolated by elevation");
    let text = match (&offered.areas, &offered.made) {
        (Ok(areas), Some(made)) => {
            let opening = format!(
                "{heading} and apart from the ranking: no outing of this store searched there."
            );
            wrapped(&opening) + &table(areas) + &wrapped(&how(offered, made)) + &wrapped(CAUTIONS)
        }
        (areas, made) => {
            let note = areas.as_ref().err().map_or(String::new(), ToString::to_string);
            let gains = made.as_ref().map_or(String::new(), |made| format!(" {}", gains(made)));
            wrapped(&format!("{heading}: {note}.{gains}"))
        }
    };
    format!("\n{text}")
}

/// What every list of areas closes with.
const CAUTIONS: &str = "Whether an area can be reached is not known: fences, cliffs and streams are not checked. Ask for access, \
    keep to local rules and to those of protected areas, and turn back where the ground says so. Positions are exact.";

fn table(areas: &[Placed]) -> String {
    let mut table = Table::new([
        Column::left("area"),
        Column::left("middle"),
        Column::right("from the start"),
        Column::right("elevation"),
        Column::right("slope"),
        Column::right("times the rate (95 %)"),
        Column::left("searched at its elevations"),
        Column::right("nearest search"),
        Column::right("nearest path"),
    ]);
    for (place, own) in areas.iter().enumerate() {
        let Area { elevation, slope, rate, support, from_search, from_path, .. } = own.area;
        table.row([
            letter(place).to_string(),
            own.at.to_string(),
            format!("{:.1} km, {}", own.distance.0 / 1e3, own.bearing),
            format!("{:.0} m", elevation.0.0),
            format!("{:.0}\u{b0}", slope.0),
            times(rate),
            format!(
                "{} on {}, {:.1} h",
                counted(support.finds, "find", "finds"),
                counted(support.outings, "outing", "outings"),
                support.hours
            ),
            metres(from_search),
            metres(from_path),
        ]);
    }
    table.to_string()
}

fn how(offered: &Offered, made: &ByElevation) -> String {
    let (from, to) = made.ends();
    let water = if offered.base_map {
        "water of the base map is left out"
    } else {
        "the store has no base map, so water is not known"
    };
    format!(
        "Rates are finds per hour relative to the mean of the ground searched from {:.0} to {:.0} m ({} on {}, {} of ground \
         of 500 m); elevations beyond are not extrapolated to. {} Areas are squares of {:.0} m within {:.0} km of {}, more than \
         {:.0} m from searched track, within {:.0} m of a known path, below {:.0}\u{b0} in the mean and {:.0} m apart; {water}; \
         wood and other habitats are not known. docs/next.md",
        from.0,
        to.0,
        counted(made.finds, "find", "finds"),
        counted(made.outings, "outing", "outings"),
        counted(made.squares, "square", "squares"),
        gains(made),
        SIDE.0,
        offered.within.0 / 1e3,
        offered.from.1,
        UNSEARCHED.0,
        OFF_PATH.0,
        STEEPEST.0,
        APART.0,
    )
}

fn gains(made: &ByElevation) -> String {
    let one = |gain: Option<Gain>| {
        gain.map_or_else(
            || "not determined".to_owned(),
            |gain| {
                let [value, low, high] =
                    [gain.per_outing, gain.low95, gain.high95].map(|value| format!("{value:.3}"));
                format!("{value} (95 %: {low} to {high})")
            },
        )
    };
    format!(
        "With elevation the logarithmic score of each outing gains {} for outings left out and {} for ground left out.",
        one(made.gain_outings),
        one(made.gain_ground)
    )
}

/// For JSON.
#[must_use]
pub fn properties(offered: &Offered) -> Value {
    let note = offered.note();
    let mut object = with_sentence(&note, &note.to_string());
    object["from"] = position(offered.from.0);
    object["within_m"] = json!(offered.within.0);
    object["base_map"] = json!(offered.base_map);
    object["model"] = offered.made.as_ref().map_or(Value::Null, model);
    let areas = offered.areas.as_ref().map_or(&[][..], Vec::as_slice);
    object["areas"] =
        areas.iter().enumerate().map(|(place, own)| area(letter(place), own)).collect();
    object["positions"] = json!("exact");
    object
}

fn position(at: LatLon) -> Value {
    json!({
        "decimalLatitude": rounded(at.latitude(), 6),
        "decimalLongitude": rounded(at.longitude(), 6),
    })
}

fn model(made: &ByElevation) -> Value {
    let (from, to) = made.ends();
    json!({
        "covariate": "elevation",
        "from_m": from.0,
        "to_m": to.0,
        "outings": made.outings,
        "outings_with_find": made.outings_with_find,
        "finds": made.finds,
        "finds_outside": made.finds_outside,
        "squares": made.squares,
        "searched_hours": rounded(made.hours, 2),
        "gain_outings": made.gain_outings,
        "gain_ground": made.gain_ground,
    })
}

fn area(name: char, own: &Placed) -> Value {
    let Area { elevation, slope, rate, support, from_search, from_path, .. } = own.area;
    let mut object = position(own.at);
    let length = |length: Option<Metres>| length.map(|length| rounded(length.0, 0));
    object["area"] = json!(name.to_string());
    object["side_m"] = json!(SIDE.0);
    object["distance_m"] = json!(rounded(own.distance.0, 0));
    object["true_bearing_deg"] = json!(rounded(own.bearing.degrees().0, 0));
    object["elevation_m"] = json!(rounded(elevation.0.0, 0));
    object["lowest_m"] = json!(rounded(elevation.1.0, 0));
    object["highest_m"] = json!(rounded(elevation.2.0, 0));
    object["slope_deg"] = json!(rounded(slope.0, 1));
    object["relative_rate"] = json!(rounded(rate.value, 3));
    object["relative_rate_low95"] = json!(rounded(rate.low95, 3));
    object["relative_rate_high95"] = json!(rounded(rate.high95, 3));
    object["support"] = json!({
        "outings": support.outings,
        "squares": support.squares,
        "searched_hours": rounded(support.hours, 2),
        "finds": support.finds,
    });
    object["nearest_search_m"] = json!(length(from_search));
    object["nearest_path_m"] = json!(length(from_path));
    object
}
