//! Reads a heading of a table of weather: which element, in which unit. A unit that is missing or could
//! be two is refused, never assumed. Layer: `ingest`.

use crate::model::WeatherElement;
use crate::units::{Celsius, Millimetres};

/// What a heading says.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Meaning {
    /// The date.
    Date,
    /// The identifier or name of the station.
    Station,
    /// Values of an element.
    Values(Values),
    /// An element, but why its values cannot be read.
    Refused(&'static str),
    /// Something else.
    Unknown,
}

/// An element and its unit.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Values {
    pub(super) element: WeatherElement,
    pub(super) unit: Unit,
}

/// A unit of length or temperature.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unit {
    Millimetres,
    TenthsOfMillimetres,
    Centimetres,
    Inches,
    Celsius,
    TenthsOfCelsius,
    Fahrenheit,
}

impl Unit {
    /// A value in the unit of its element.
    pub(super) fn convert(self, value: f64) -> f64 {
        match self {
            Self::Millimetres | Self::Celsius => value,
            Self::TenthsOfMillimetres | Self::TenthsOfCelsius => value / 10.0,
            Self::Centimetres => value * 10.0,
            Self::Inches => Millimetres::from_inches(value).0,
            Self::Fahrenheit => Celsius::from_fahrenheit(value).0,
        }
    }

    fn is_temperature(self) -> bool {
        matches!(self, Self::Celsius | Self::TenthsOfCelsius | Self::Fahrenheit)
    }
}

const DATES: [&str; 9] = [
    "date",
    "day",
    "datum",
    "jour",
    "fecha",
    "data",
    "tag",
    "dato",
    "p\u{e4}iv\u{e4}m\u{e4}\u{e4}r\u{e4}",
];
const STATIONS: [&str; 5] = ["station", "id", "stazione", "estaci\u{f3}n", "stacja"];
const RAIN: [&str; 14] = [
    "rain",
    "rainfall",
    "precipitation",
    "precip",
    "prcp",
    "regen",
    "niederschlag",
    "pluie",
    "pr\u{e9}cipitations",
    "lluvia",
    "precipitaci\u{f3}n",
    "pioggia",
    "neerslag",
    "nederb\u{f6}rd",
];
const SNOW: [&str; 5] = ["snow", "snowfall", "schnee", "neige", "nieve"];
const DEPTH: [&str; 4] = ["depth", "lying", "h\u{f6}he", "hauteur"];
const TEMPERATURE: [&str; 8] = [
    "temperature",
    "temp",
    "temperatur",
    "temp\u{e9}rature",
    "temperatura",
    "tmax",
    "tmin",
    "tmean",
];
const HIGHEST: [&str; 9] = [
    "max",
    "maximum",
    "highest",
    "high",
    "tmax",
    "maximale",
    "maxima",
    "m\u{e1}xima",
    "h\u{f6}chste",
];
const LOWEST: [&str; 9] =
    ["min", "minimum", "lowest", "low", "tmin", "minimale", "minima", "m\u{ed}nima", "tiefste"];
const AVERAGE: [&str; 9] =
    ["mean", "average", "avg", "tmean", "tavg", "mittel", "moyenne", "media", "mittlere"];

/// The words of a heading in lower case; the sign of degrees and quotation marks stay with theirs.
fn words(heading: &str) -> Vec<String> {
    heading
        .to_lowercase()
        .split(|c: char| {
            !(c.is_alphanumeric() || matches!(c, '\u{b0}' | '\u{ba}' | '"' | '\u{2033}'))
        })
        .filter(|word| !word.is_empty())
        .map(ToOwned::to_owned)
        .collect()
}

/// The meaning of a heading.
pub(super) fn meaning(heading: &str) -> Meaning {
    let words = words(heading);
    let any = |list: &[&str]| words.iter().any(|word| list.contains(&word.as_str()));
    let units = units(&words);
    let is_one = |list: &[&str]| words.len() == 1 && any(list);
    if is_one(&DATES) {
        return Meaning::Date;
    }
    if any(&STATIONS) && words.len() <= 2 && units.is_empty() {
        return Meaning::Station;
    }
    let qualified = [any(&HIGHEST), any(&LOWEST), any(&AVERAGE)];
    let warm = any(&TEMPERATURE) || units.iter().any(|unit| unit.is_temperature());
    if warm && !any(&RAIN) && !any(&SNOW) {
        return temperature(qualified, &units);
    }
    let element = if any(&SNOW) {
        if any(&DEPTH) { WeatherElement::SnowDepth } else { WeatherElement::Snowfall }
    } else if any(&RAIN) {
        WeatherElement::Rain
    } else {
        return Meaning::Unknown;
    };
    if qualified[0] || any(&["intensity", "rate", "hour", "hours", "h", "probability"]) {
        return Meaning::Refused("it is not the total of a day");
    }
    match units[..] {
        [unit] if !unit.is_temperature() => Meaning::Values(Values { element, unit }),
        [] => Meaning::Refused("it states no unit (mm or inches)"),
        _ => Meaning::Refused("its unit is not one of length"),
    }
}

fn temperature(qualified: [bool; 3], units: &[Unit]) -> Meaning {
    let element = match qualified {
        [true, false, false] => WeatherElement::Maximum,
        [false, true, false] => WeatherElement::Minimum,
        [false, false, true] => WeatherElement::Mean,
        _ => return Meaning::Refused("it does not say whether it is the maximum, minimum or mean"),
    };
    match units {
        [unit] if unit.is_temperature() => Meaning::Values(Values { element, unit: *unit }),
        [] => Meaning::Refused("it states no unit (\u{b0}C or \u{b0}F)"),
        _ => Meaning::Refused("its unit is not one of temperature"),
    }
}

/// The units that the words name, each once.
fn units(words: &[String]) -> Vec<Unit> {
    let tenths = words.iter().any(|word| matches!(word.as_str(), "tenth" | "tenths" | "0.1"));
    let mut units: Vec<Unit> = Vec::new();
    for word in words {
        let unit = match word.as_str() {
            "mm" | "millimetres" | "millimeters" | "millimetre" | "millimeter" if tenths => {
                Unit::TenthsOfMillimetres
            }
            "mm" | "millimetres" | "millimeters" | "millimetre" | "millimeter" => Unit::Millimetres,
            "cm" | "centimetres" | "centimeters" => Unit::Centimetres,
            "inch" | "inches" | "\"" | "\u{2033}" => Unit::Inches,
            "c" | "\u{b0}c" | "\u{ba}c" | "celsius" | "degc" if tenths => Unit::TenthsOfCelsius,
            "c" | "\u{b0}c" | "\u{ba}c" | "celsius" | "degc" => Unit::Celsius,
            "f" | "\u{b0}f" | "\u{ba}f" | "fahrenheit" | "degf" => Unit::Fahrenheit,
            _ => continue,
        };
        if !units.contains(&unit) {
            units.push(unit);
        }
    }
    // "rain in mm" is in mm
    if units.is_empty() && words.iter().any(|word| word == "in") {
        units.push(Unit::Inches);
    }
    units
}

#[cfg(test)]
mod tests {
    use super::*;

    fn values(heading: &str) -> Option<(WeatherElement, Unit)> {
        match meaning(heading) {
            Meaning::Values(values) => Some((values.element, values.unit)),
            _ => None,
        }
    }

    #[test]
    fn headings_state_element_and_unit() {
        use WeatherElement::{Maximum, Mean, Minimum, Rain, SnowDepth, Snowfall};
        for (heading, element, unit) in [
            ("rain mm", Rain, Unit::Millimetres),
            ("Rainfall (mm)", Rain, Unit::Millimetres),
            ("Precipitation [inch]", Rain, Unit::Inches),
            ("rain, tenths of mm", Rain, Unit::TenthsOfMillimetres),
            ("Niederschlag (mm)", Rain, Unit::Millimetres),
            ("max temp \u{b0}C", Maximum, Unit::Celsius),
            ("Maximum temperature (\u{b0}F)", Maximum, Unit::Fahrenheit),
            ("TMIN_C", Minimum, Unit::Celsius),
            ("mean temperature / Celsius", Mean, Unit::Celsius),
            ("snow depth cm", SnowDepth, Unit::Centimetres),
            ("rain in mm", Rain, Unit::Millimetres),
            ("rain (in)", Rain, Unit::Inches),
            ("snowfall_mm", Snowfall, Unit::Millimetres),
        ] {
            assert_eq!(values(heading), Some((element, unit)), "{heading}");
        }
        assert_eq!(meaning("Date"), Meaning::Date);
        assert_eq!(meaning("station"), Meaning::Station);
    }

    #[test]
    fn a_heading_that_could_mean_two_things_is_refused() {
        for heading in [
            "rain",
            "temperature \u{b0}C",
            "max temperature",
            "rain \u{b0}C",
            "max min temp \u{b0}C",
            "rain mm inch",
            "max rain mm",
            "rain intensity mm h",
        ] {
            assert!(
                matches!(meaning(heading), Meaning::Refused(_)),
                "{heading}: {:?}",
                meaning(heading)
            );
        }
        assert_eq!(meaning("wind km/h"), Meaning::Unknown);
    }
}
