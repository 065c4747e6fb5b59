//! Parses dead-reckoning legs walked since the last position, such as "240 350 m; NE 400 paces".
//! Bearings are magnetic unless marked true. Refuses ambiguous legs. Layer: `wayout`.
//!
//! For a receiver that has failed or a battery that is empty: the legs continue the last fix, with an error ellipse
//! that grows (see [`Start::carried_on`](super::Start::carried_on)).

use super::legs::Paces;
use super::start::Walked;
use crate::error::{LegFault, Result, WayOutFault};
use crate::units::{Declination, Degrees, MagneticBearing, Metres, TrueBearing};

/// The sixteen compass points.
const WINDS: [&str; 16] = [
    "N", "NNE", "NE", "ENE", "E", "ESE", "SE", "SSE", "S", "SSW", "SW", "WSW", "W", "WNW", "NW",
    "NNW",
];
/// The longest leg of dead reckoning that is accepted (project choice).
const FARTHEST: Metres = Metres(20_000.0);

/// The legs in a text: bearing and distance, legs separated by semicolons.
///
/// A bearing is 0 to 360 or a compass point (`NE`), followed by `T` where it is true, by `M` or
/// nothing where it is magnetic. A distance is metres (`350`, `350 m`), kilometres (`1.2 km`,
/// `1,2 km`) or `paces`. What can be read in two ways, such as `1,200 m`, is refused.
///
/// The result is in true bearings; the declination is that of the start. A leg is at most 20 km.
///
/// # Errors
/// When a leg cannot be read, with the leg.
pub fn read(text: &str, declination: &Declination, paces: Paces) -> Result<Vec<Walked>> {
    text.split(';')
        .map(str::trim)
        .filter(|leg| !leg.is_empty())
        .map(|leg| one(leg, declination, paces))
        .collect()
}

fn one(leg: &str, declination: &Declination, paces: Paces) -> Result<Walked> {
    let refuse = |reason: LegFault| WayOutFault::Leg { leg: leg.to_owned(), reason };
    let mut words = words(leg);
    if words.len() > 2 && matches!(words[1].as_str(), "T" | "M" | "TRUE" | "MAG" | "MAGNETIC") {
        let north = words.remove(1);
        words[0].push_str(&north[..1]);
    }
    let Some((bearing, distance)) = words.split_first() else {
        return Err(refuse(LegFault::Empty).into());
    };
    let bearing = direction(&bearing.replace(',', "."), declination)
        .ok_or_else(|| refuse(LegFault::Bearing { written: bearing.clone() }))?;
    let distance = joined(distance)
        .and_then(|distance| length(&distance, paces))
        .ok_or_else(|| refuse(LegFault::Distance { written: distance.join(" ") }))?;
    if !(0.0..=FARTHEST.0).contains(&distance.0) {
        return Err(refuse(LegFault::Range { distance, most: FARTHEST }).into());
    }
    Ok(Walked { bearing, distance })
}

/// The words of a leg in capitals. A comma within figures is part of a number, unless bearing and distance are
/// one word, as in `240,350 m`; any other separates.
fn words(leg: &str) -> Vec<String> {
    let tidy = leg.replace('\u{b0}', " ").to_uppercase();
    let begins_with_figure = |word: &&str| word.starts_with(|c: char| c.is_ascii_digit());
    let mut words: Vec<String> = Vec::new();
    for word in tidy.split_whitespace() {
        let mut rest = word;
        while let Some((before, behind)) = rest.split_once(',') {
            let within =
                before.ends_with(|c: char| c.is_ascii_digit()) && begins_with_figure(&behind);
            if within {
                break;
            }
            words.push(before.to_owned());
            rest = behind;
        }
        words.push(rest.to_owned());
    }
    words.retain(|word| !word.is_empty());
    let lengths = words.iter().skip(1).filter(|word| begins_with_figure(&word.as_str())).count();
    if lengths == 0
        && let Some((bearing, distance)) = words
            .first()
            .and_then(|first| first.split_once(','))
            .map(|(a, b)| (a.to_owned(), b.to_owned()))
    {
        words.splice(0..1, [bearing, distance]);
    }
    words
}

/// A distance as one word with a decimal point. `None` where its figures can be more than one number: blanks
/// separate thousands only, and three figures behind a comma may be either.
fn joined(words: &[String]) -> Option<String> {
    let figures = |word: &str| word.chars().take_while(char::is_ascii_digit).count();
    let apart = words.iter().skip(1).map(|word| figures(word));
    if apart.into_iter().any(|count| count != 0 && count != 3) {
        return None;
    }
    let whole = words.concat();
    match whole.split_once(',') {
        Some((_, behind)) if figures(behind) == 3 && !whole.ends_with("KM") => None,
        _ => Some(whole.replace(',', ".")),
    }
}

fn direction(word: &str, declination: &Declination) -> Option<TrueBearing> {
    if let Some(wind) = WINDS.iter().position(|wind| *wind == word) {
        let magnetic = MagneticBearing::new(Degrees(wind as f64 * 22.5));
        return Some(declination.to_true(magnetic));
    }
    let (figures, is_true) = match (word.strip_suffix('T'), word.strip_suffix('M')) {
        (Some(figures), _) => (figures, true),
        (_, Some(figures)) => (figures, false),
        _ => (word, false),
    };
    if let Some(wind) = WINDS.iter().position(|wind| *wind == figures) {
        return Some(TrueBearing::new(Degrees(wind as f64 * 22.5)));
    }
    let degrees: f64 = figures.parse().ok().filter(|degrees| (0.0..=360.0).contains(degrees))?;
    Some(if is_true {
        TrueBearing::new(Degrees(degrees))
    } else {
        declination.to_true(MagneticBearing::new(Degrees(degrees)))
    })
}

fn length(word: &str, paces: Paces) -> Option<Metres> {
    let split = word.find(|c: char| c.is_ascii_alphabetic()).unwrap_or(word.len());
    let (figures, unit) = word.split_at_checked(split)?;
    let number: f64 = figures.parse().ok().filter(|number: &f64| number.is_finite())?;
    match unit {
        "" | "M" | "METRES" | "METERS" => Some(Metres(number)),
        "KM" => Some(Metres(number * 1e3)),
        "P" | "PACE" | "PACES" | "STEPS" => Some(paces.distance(number)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::{LatLon, MagneticModel};

    fn read_here(text: &str) -> Result<Vec<(f64, f64)>> {
        let declination = Declination {
            east: Degrees(14.0),
            uncertainty: Degrees(0.4),
            model: MagneticModel::Stated,
            date: jiff::civil::date(2026, 5, 1),
            place: LatLon::new(-42.0, 146.0).unwrap(),
        };
        let legs = read(text, &declination, Paces(125.0))?;
        Ok(legs.iter().map(|leg| (leg.bearing.degrees().0, leg.distance.0)).collect())
    }

    #[test]
    fn legs_are_read_as_people_write_them() {
        assert_eq!(read_here("240 350").unwrap(), [(254.0, 350.0)]);
        assert_eq!(
            read_here("240\u{b0}T 350m; NE 250 paces ;; 350 M 1.2 km").unwrap(),
            [(240.0, 350.0), (59.0, 200.0), (4.0, 1_200.0)]
        );
        assert_eq!(read_here("NT 10 m").unwrap(), [(0.0, 10.0)]);
        assert_eq!(
            read_here("240 1,2 km; 240,350 m; NE, 0,5 km; 240,5 1 200 m; 240 1,200 km").unwrap(),
            [(254.0, 1_200.0), (254.0, 350.0), (59.0, 500.0), (254.5, 1_200.0), (254.0, 1_200.0)]
        );
        assert_eq!(read_here("").unwrap(), []);
    }

    #[test]
    fn invalid_leg_is_refused_with_the_leg() {
        for text in [
            "240",
            "361 5 m",
            "-5 10 m",
            "up 10 m",
            "240 far",
            "240 9999 km",
            "nan 5",
            "\u{e9} 5",
            "240 1,200 m",
            "240 1 2 km",
            "240 1,2,3 km",
        ] {
            let error = read_here(&format!("10 20; {text}")).unwrap_err();
            assert!(
                error.what().contains("cannot be read") && error.why().is_some(),
                "{text}: {error}"
            );
        }
    }
}
