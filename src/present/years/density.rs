//! Density maps as numbers and words: the mapped quantity, its classes and colours, and a summary.
//! Layer: `present`.

mod contours;
mod figure;
mod legend;
mod surface;

use jiff::civil::Date;

use super::estimates::{decimals_of, within};
use crate::analyse::density::DensityMap;
use crate::analyse::density::bandwidth::{Bandwidth, Origin};
use crate::analyse::density::track;
use crate::present::style::Colour;
use crate::present::summary::words::counted;
use crate::units::LatLon;

pub use contours::contours;
pub use figure::{figure, grounds};

/// Six classes from light to dark, distinguishable with colour blindness and in grey print: scheme `YlOrBr`
/// of Harrower & Brewer 2003, `ColorBrewer.org`, Cartographic Journal 40:27 (Apache licence 2.0).
pub(in crate::present) const CLASSES: [Colour; 6] = [
    Colour("#ffffd4"),
    Colour("#fee391"),
    Colour("#fec44f"),
    Colour("#fe9929"),
    Colour("#d95f0e"),
    Colour("#993404"),
];
/// For effort: scheme `Blues` of the same source.
const BLUES: [Colour; 6] = [
    Colour("#eff3ff"),
    Colour("#c6dbef"),
    Colour("#9ecae1"),
    Colour("#6baed6"),
    Colour("#3182bd"),
    Colour("#08519c"),
];
/// For relative risk: scheme `PuOr` of the same source, turned, its neutral class darkened so that it
/// differs from paper.
const DIVERGING: [Colour; 7] = [
    Colour("#542788"),
    Colour("#998ec3"),
    Colour("#d8daeb"),
    Colour("#ececec"),
    Colour("#fee0b6"),
    Colour("#f1a340"),
    Colour("#b35806"),
];
/// Searched, (almost) nothing found.
const NOT_FOUND: Colour = Colour("#e4e8eb");

/// The mapped quantity.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// Finds per searched kilometre.
    PerKm,
    /// Finds per hectare.
    Finds,
    /// Searched kilometres per hectare.
    Effort,
    /// The standard error of finds per searched kilometre.
    Error,
    /// Share among all finds relative to the whole map.
    Relative,
}

/// Class breaks of relative risk, symmetrical about the neutral 1.
const TIMES: [(f64, &str); 6] =
    [(0.25, "\u{bc}"), (0.5, "\u{bd}"), (0.8, "0.8"), (1.25, "1.25"), (2.0, "2"), (4.0, "4")];

impl Measure {
    /// Its values; NaN where unknown.
    #[must_use]
    pub fn values(self, map: &DensityMap) -> Vec<f64> {
        let masked = |values: &[f64]| {
            values
                .iter()
                .zip(&map.per_km)
                .map(|(value, mask)| if mask.is_nan() { f64::NAN } else { *value })
                .collect()
        };
        match self {
            Self::PerKm => map.per_km.clone(),
            Self::Finds => masked(&map.finds),
            Self::Effort => masked(&map.effort),
            Self::Error => map.error.clone(),
            Self::Relative => map.relative.clone(),
        }
    }

    /// The name and the unit of a band of values.
    #[must_use]
    pub fn band(self) -> (&'static str, &'static str) {
        match self {
            Self::PerKm => ("finds per searched km", "1/km"),
            Self::Finds => ("finds per hectare", "1/ha"),
            Self::Effort => ("searched km per hectare", "km/ha"),
            Self::Error => ("standard error of finds per searched km", "1/km"),
            Self::Relative => ("share of all finds relative to the whole map", "1"),
        }
    }

    /// The colour of each class; the first of a sequence is for next to nothing.
    fn colours(self) -> Vec<Colour> {
        match self {
            Self::Relative => DIVERGING.to_vec(),
            Self::Effort => std::iter::once(NOT_FOUND).chain(BLUES).collect(),
            _ => std::iter::once(NOT_FOUND).chain(CLASSES).collect(),
        }
    }

    /// The class of a value, an index into the colours; `None` for not searched.
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
    fn class(self, value: f64, step: f64) -> Option<usize> {
        if value.is_nan() {
            None
        } else if self == Self::Relative {
            Some(TIMES.iter().filter(|(from, _)| value >= *from).count())
        } else if value < NEXT_TO_NOTHING * step {
            Some(0)
        } else {
            Some(((value / step).floor() as usize + 1).min(CLASSES.len()))
        }
    }

    /// The value at the left edge of a class of a sequence, in words.
    fn words(step: f64, class: usize) -> String {
        let value = if class == 1 { NEXT_TO_NOTHING * step } else { step * (class as f64 - 1.0) };
        limit(value.max(0.0), step)
    }
}

/// A limit of a class with as many digits as tell it from the next one, whatever the width of the classes.
fn limit(value: f64, step: f64) -> String {
    if !(value.is_finite() && step.is_finite() && step > 0.0) {
        return "0".to_owned();
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "held in range")]
    let decimals = (2.0 - step.log10().floor()).clamp(0.0, 12.0) as usize;
    let text = format!("{value:.decimals$}");
    let shorter = text.trim_end_matches('0').trim_end_matches('.');
    if text.contains('.') { shorter.to_owned() } else { text }
}

/// Values below this share of a class are next to nothing.
const NEXT_TO_NOTHING: f64 = 0.1;

/// One map with its heading and finds.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// For instance the year.
    pub heading: String,
    /// The densities.
    pub map: DensityMap,
    /// Positions of the finds.
    pub finds: Vec<LatLon>,
}

/// The maps of one study area, all on one grid.
#[derive(Clone, Debug)]
pub struct Area {
    /// Its number, from 1.
    pub number: usize,
    /// The name of a site in it, or coordinates.
    pub name: String,
    /// The date of the last walk there, for which magnetic north is shown.
    pub last: Option<Date>,
    /// One map, or one for each year.
    pub sheets: Vec<Sheet>,
}

/// Whether a colour is that of a class with finds.
#[must_use]
pub fn is_class(colour: &str) -> bool {
    CLASSES.iter().any(|class| class.0 == colour)
}

/// A map summarised in one line that opens with the rate.
#[must_use]
pub fn summary(sheet: &Sheet) -> String {
    let map = &sheet.map;
    let searched: Vec<usize> =
        (0..map.per_km.len()).filter(|cell| !map.per_km[*cell].is_nan()).collect();
    let peak = searched.iter().copied().max_by(|a, b| map.per_km[*a].total_cmp(&map.per_km[*b]));
    let highest = peak.map_or(String::new(), |cell| {
        format!("; highest {:.1} (standard error {:.1})", map.per_km[cell], map.error[cell])
    });
    let risk = map.relative.iter().copied().filter(|risk| !risk.is_nan());
    let (least, most) =
        risk.fold((f64::INFINITY, 0.0_f64), |(least, most), r| (least.min(r), most.max(r)));
    let relative = if least <= most {
        format!("; share of all finds {least:.2} to {most:.2} times that of the whole map")
    } else {
        String::new()
    };
    let caution =
        if few(sheet) { "; too few finds for a surface: figures show points only" } else { "" };
    let off = map.count - map.made_from_track.min(map.count);
    let off = if off > 0 {
        format!("; {} off the searched track, in no rate", counted(off, "find", "finds"))
    } else {
        String::new()
    };
    let mean = if map.searched_km > 0.0 {
        within(map.mean, decimals_of(map.mean))
    } else {
        "no".to_owned()
    };
    let outings = match map.outings {
        0 | 1 => String::new(),
        many => format!(
            " on {many} outings, between which the rate varies by {:.0} %",
            100.0 * map.overdispersion
        ),
    };
    format!(
        "{}: {mean} finds per searched km{highest}{relative}; {}, {:.1} km searched{outings}; {:.1} ha of \
         ground within {:.0} m of searched track{off}{caution}",
        sheet.heading,
        counted(map.count, "find", "finds"),
        map.searched_km,
        searched.len() as f64 * map.grid.cell_area() / 1e4,
        track::BESIDE.max(0.5 * map.grid.cell),
    )
}

/// Why the kilometres of a map are fewer than those of the effort.
#[must_use]
pub fn how_kilometres() -> &'static str {
    "Searched km leave out what `trug effort` adds of manners whose kilometre counts below 0.05: they search no ground."
}

/// The bandwidth as text.
#[must_use]
pub fn bandwidth(chosen: &Bandwidth) -> String {
    let how = match chosen.origin {
        Origin::Rule => {
            "by the rule of thumb: chosen, or too few finds or outings for cross-validation"
        }
        Origin::CrossValidation => "by cross-validation, leaving out one outing at a time",
        Origin::Stated => "as stated",
    };
    let held = if chosen.before_floor < chosen.floor {
        format!(" (raised from {:.0} m to the position uncertainty)", chosen.before_floor)
    } else {
        String::new()
    };
    format!("bandwidth {:.0} m {how}{held}", chosen.metres)
}

/// The least number of finds for a surface; below it a map shows points (project choice).
const LEAST_FINDS: usize = 8;

/// Whether there are too few finds for a surface.
fn few(sheet: &Sheet) -> bool {
    sheet.map.count < LEAST_FINDS
}

/// Whether a surface is drawn; effort maps need no finds.
fn surface(sheet: &Sheet, measure: Measure) -> bool {
    measure == Measure::Effort || !few(sheet)
}

/// A round width of the classes under which the highest value is in the topmost of the six, which is open.
fn class_step(most: f64) -> f64 {
    let at_least = 0.9 * most / CLASSES.len() as f64;
    if !(at_least.is_finite() && at_least > 0.0) {
        return 1.0;
    }
    let power = 10_f64.powf(at_least.log10().floor());
    let round = [1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0];
    power * round.into_iter().find(|step| step * power >= at_least * (1.0 - 1e-9)).unwrap_or(10.0)
}

#[cfg(test)]
mod tests;
