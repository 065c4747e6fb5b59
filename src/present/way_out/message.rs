//! Writes the way out as one self-contained text message of at most 160 GSM-7 characters.
//! Layer: `present`.

use crate::earth::daylight::Illumination;
use crate::units::{MagneticBearing, Metres, TimeZone, Timestamp};
use crate::wayout::daylight::DayKind;
use crate::wayout::legs::{Leg, RouteKind};
use crate::wayout::light::{self, Advice};
use crate::wayout::report::{WIDE_RANGE, WayOut};
use crate::wayout::start::{LegPrecision, bearing_range};

/// The longest single message.
///
/// # References
/// 3GPP TS 23.038, 6.1.2.1.1.
pub const LONGEST: usize = 160;

/// The characters of the GSM 7-bit default alphabet that take one place.
///
/// # References
/// 3GPP TS 23.038, table 6.2.1.
const ALPHABET: &str = "@\u{a3}$\u{a5}\u{e8}\u{e9}\u{f9}\u{ec}\u{f2}\u{c7}\n\u{d8}\u{f8}\r\u{c5}\u{e5}\u{394}_\u{3a6}\u{393}\u{39b}\u{3a9}\u{3a0}\u{3a8}\u{3a3}\u{398}\u{39e}\u{c6}\u{e6}\u{df}\u{c9} !\"#\u{a4}%&'()*+,-./0123456789:;<=>?\u{a1}ABCDEFGHIJKLMNOPQRSTUVWXYZ\u{c4}\u{d6}\u{d1}\u{dc}\u{a7}\u{bf}abcdefghijklmnopqrstuvwxyz\u{e4}\u{f6}\u{f1}\u{fc}\u{e0}";

/// Whether a text can be sent as one message: at most [`LONGEST`] characters, all of the GSM 7-bit alphabet.
///
/// # Examples
/// ```
/// use trug::present::way_out::message::fits;
///
/// assert!(fits("Back by 16:42. No word by 17:42: call 112."));
/// assert!(!fits("Łąka"));
/// assert!(!fits(&"a".repeat(161)));
/// ```
#[must_use]
pub fn fits(text: &str) -> bool {
    text.chars().count() <= LONGEST && text.chars().all(|letter| ALPHABET.contains(letter))
}

/// The way out as a self-contained message: time and position (decimal degrees, radius), goal,
/// magnetic bearing and distance, arrival and dark, what to do on failure. Parts that do not fit
/// are left out, least important first: the grid reference, the caution, later legs of the best
/// route.
///
/// Always one message: tests compose 300 random requests with names in any script (`docs/way-out.md`).
#[must_use]
pub fn compose(answer: &WayOut) -> String {
    let legs = answer.best().map_or(0, |best| best.way.legs.len());
    let choices = (0..=legs.min(9)).rev().flat_map(|reported| {
        let all = Room { name: 20, reported, grid: true, caution: true };
        [all, Room { grid: false, ..all }, Room { grid: false, caution: false, ..all }]
    });
    let last = Room { name: 8, reported: 0, grid: false, caution: false };
    let shorter = [Room { name: 14, ..last }, last];
    choices
        .chain(shorter)
        .map(|room| written(answer, room))
        .find(|text| fits(text))
        .unwrap_or_else(|| short(&written(answer, last), LONGEST))
}

/// The parts that a message includes.
#[derive(Clone, Copy)]
struct Room {
    /// Letters of the goal's name.
    name: usize,
    /// Legs of the best route.
    reported: usize,
    grid: bool,
    caution: bool,
}

fn written(answer: &WayOut, room: Room) -> String {
    let caution =
        if room.caution { "Hurt/dark:stay,112,6 blasts/min." } else { "Hurt/dark:stay,112." };
    let parts = [
        place_and_time(answer, room.grid),
        straight(answer, room.name),
        best_way(answer, room.reported),
        due(answer),
        caution.to_owned(),
    ];
    let filled: Vec<&str> =
        parts.iter().map(String::as_str).filter(|part| !part.is_empty()).collect();
    filled.join(" ")
}

/// `15:20 at -42.6189,146.0912+-20m`: the time of the fix where there is one.
fn place_and_time(answer: &WayOut, grid: bool) -> String {
    let from = &answer.from;
    let when = clock(from.when.unwrap_or(answer.now), &answer.zone);
    // four decimals are 11 m
    let decimals = if from.radius.metres().0 < 15.0 { 5 } else { 4 };
    let (latitude, longitude) = (from.at.latitude(), from.at.longitude());
    let reference = if grid { format!(" ({})", answer.direct.mgrs[0]) } else { String::new() };
    format!(
        "{when} at {latitude:.decimals$},{longitude:.decimals$}+-{:.0}m{reference}",
        from.radius.metres().0
    )
}

/// `to Sawmill gate: MAG 028 1190m.`
fn straight(answer: &WayOut, name: usize) -> String {
    let direct = &answer.direct;
    let range = bearing_range(answer.from.radius, direct.distance);
    let range = if range.0 >= WIDE_RANGE.0 { format!("+-{:.0}", range.0) } else { String::new() };
    let to = if is_sendable(&answer.to.name) { plain(&answer.to.name) } else { "goal".to_owned() };
    format!(
        "to {}: MAG {:03.0}{range} {}.",
        short(&to, name).trim_end(),
        whole(direct.magnetic_bearing),
        metres(direct.distance)
    )
}

/// The first legs of the best route, where it is not the straight line.
fn best_way(answer: &WayOut, reported: usize) -> String {
    let Some(best) = answer.best().filter(|best| best.way.kind != RouteKind::Direct) else {
        return String::new();
    };
    if best.verdict.advice == Advice::DoNotSetOut {
        return String::new();
    }
    let name = match best.way.kind {
        RouteKind::Retrace => "Your track",
        RouteKind::KnownPaths => "Old paths",
        RouteKind::MappedPaths => "Map paths",
        RouteKind::Terrain | RouteKind::Direct => "By land",
    };
    let legs = &best.way.legs;
    let first: Vec<String> = legs
        .iter()
        .take(reported)
        .enumerate()
        .map(|(index, leg)| reported_leg(answer, index, leg))
        .collect();
    let all = metres(best.way.distance);
    match reported {
        0 => format!("{name} {all}."),
        reported if reported < legs.len() => format!("{name} {all}: {},..", first.join(",")),
        _ => format!("{name}: {}.", first.join(",")),
    }
}

/// `028 1190m`; the first leg with the range of its bearing and a distance no more precise than the
/// position.
fn reported_leg(answer: &WayOut, index: usize, leg: &Leg) -> String {
    let bearing = whole(leg.magnetic_bearing);
    if index > 0 {
        return format!("{bearing:03.0} {}", metres(leg.distance));
    }
    let precision = LegPrecision::of(&answer.from, leg.distance);
    let distance = metres(precision.rounded(leg.distance));
    match precision.range.0 {
        range if range >= 180.0 => {
            format!("look within {}", metres(leg.distance + precision.distance))
        }
        range if range >= 1.0 => format!("{bearing:03.0}+-{:.0} {distance}", range.ceil()),
        _ => format!("{bearing:03.0} {distance}"),
    }
}

/// Arrival and dark, or the advice not to start and the time of first light.
fn due(answer: &WayOut) -> String {
    let dark = dark(answer);
    let Some(best) = answer.best() else { return format!("{dark}.") };
    let verdict = &best.verdict;
    if best.way.crosses_closed && verdict.advice != Advice::DoNotSetOut {
        return format!("CLOSED GROUND BETWEEN: go round. {dark}.");
    }
    let arrival = clock(light::minute_after(verdict.arrival), &answer.zone);
    match verdict.advice {
        Advice::Comfortable => format!("Due {arrival}, {dark}."),
        Advice::Tight => format!("TIGHT: due {arrival}, {dark}."),
        Advice::DoNotSetOut => format!("DON'T SET OUT, STAY PUT: {dark}."),
    }
}

/// Hours and minutes, marked where the clock is that of UTC.
fn clock(instant: Timestamp, zone: &TimeZone) -> String {
    let mark = if *zone == TimeZone::UTC { "Z" } else { "" };
    format!("{}{mark}", light::clock(instant, zone))
}

/// Whole metres, from ten kilometres on kilometres.
fn metres(distance: Metres) -> String {
    if distance.0 < 9_999.5 {
        format!("{:.0}m", distance.0)
    } else {
        format!("{:.1}km", distance.0 / 1e3)
    }
}

fn whole(bearing: MagneticBearing) -> f64 {
    bearing.degrees().0.round() % 360.0
}

/// `dark 17:33`, `dark till 06:52`, or that the light does not change within a day.
fn dark(answer: &WayOut) -> String {
    let (light, now) = (&answer.light, answer.now);
    let change = if light.at(now) == Illumination::Dark {
        light.first_light(now).map(|at| format!("dark till {}", clock(at, &answer.zone)))
    } else {
        light.dark_from(now).map(|at| format!("dark {}", clock(at, &answer.zone)))
    };
    change.unwrap_or_else(|| unchanging(light.kind, light.at(now)).to_owned())
}

fn unchanging(kind: DayKind, now: Illumination) -> &'static str {
    match (kind, now) {
        (_, Illumination::Dark) => "polar night, dark all day",
        (DayKind::PolarDay, _) => "polar day, no dark",
        (DayKind::TwilightOnly, _) => "twilight all day, no sun",
        (DayKind::WhiteNight, _) => "twilight all night, no dark",
        _ => "no dark for 24h",
    }
}

/// Letters with accents that the alphabet lacks, each group before the letter without.
const ACCENTED: [(&str, &str); 27] = [
    ("\u{e1}\u{e2}\u{e3}\u{101}\u{103}\u{105}", "a"),
    ("\u{c0}\u{c1}\u{c2}\u{c3}\u{100}\u{102}\u{104}", "A"),
    ("\u{e7}\u{107}\u{109}\u{10b}\u{10d}", "c"),
    ("\u{106}\u{108}\u{10a}\u{10c}", "C"),
    ("\u{10f}\u{111}", "d"),
    ("\u{10e}\u{110}", "D"),
    ("\u{ea}\u{eb}\u{113}\u{117}\u{119}\u{11b}", "e"),
    ("\u{c8}\u{ca}\u{cb}\u{112}\u{116}\u{118}\u{11a}", "E"),
    ("\u{11f}\u{121}\u{123}", "g"),
    ("\u{11e}\u{120}\u{122}", "G"),
    ("\u{ed}\u{ee}\u{ef}\u{12b}\u{12f}\u{131}", "i"),
    ("\u{cc}\u{cd}\u{ce}\u{cf}\u{12a}\u{12e}\u{130}", "I"),
    ("\u{13a}\u{13c}\u{13e}\u{142}", "l"),
    ("\u{139}\u{13b}\u{13d}\u{141}", "L"),
    ("\u{144}\u{146}\u{148}", "n"),
    ("\u{143}\u{145}\u{147}", "N"),
    ("\u{f3}\u{f4}\u{f5}\u{14d}\u{151}", "o"),
    ("\u{d2}\u{d3}\u{d4}\u{d5}\u{14c}\u{150}", "O"),
    ("\u{155}\u{159}", "r"),
    ("\u{154}\u{158}", "R"),
    ("\u{15b}\u{15f}\u{161}\u{219}", "s"),
    ("\u{15a}\u{15e}\u{160}\u{218}", "S"),
    ("\u{163}\u{165}\u{21b}", "t"),
    ("\u{fa}\u{fb}\u{16b}\u{16f}\u{171}\u{173}", "u"),
    ("\u{d9}\u{da}\u{db}\u{16a}\u{16e}\u{170}\u{172}", "U"),
    ("\u{17a}\u{17c}\u{17e}", "z"),
    ("\u{179}\u{17b}\u{17d}", "Z"),
];

/// A letter as the message has it; `None` where the alphabet has nothing near it.
fn sent(letter: char) -> Option<char> {
    match letter {
        '\n' | '\r' => None,
        '\u{2019}' => Some('\''),
        _ if ALPHABET.contains(letter) => Some(letter),
        _ => {
            let group = ACCENTED.iter().find(|(accented, _)| accented.contains(letter))?;
            group.1.chars().next()
        }
    }
}

/// Accented letters that the alphabet lacks lose their accents, anything else becomes a full stop.
pub(super) fn plain(text: &str) -> String {
    text.chars().map(|letter| sent(letter).unwrap_or('.')).collect()
}

/// Whether a name survives the alphabet of text messages: one letter in ten may be replaced.
#[must_use]
pub fn is_sendable(name: &str) -> bool {
    let letters = name.chars().filter(|letter| !letter.is_whitespace()).count();
    let lost = name.chars().filter(|&letter| sent(letter).is_none()).count();
    letters > 0 && lost * 10 <= letters
}

/// The first letter that cannot be sent.
pub(super) fn unsent(text: &str) -> Option<char> {
    text.chars().find(|&letter| sent(letter).is_none())
}

pub(super) fn short(text: &str, most: usize) -> String {
    text.chars().take(most).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_alphabet_is_that_of_the_standard() {
        // 3GPP TS 23.038: 128 places, one of them the escape to the extension table
        assert_eq!(ALPHABET.chars().count(), 127);
        assert!(fits("Go 236 MAG 1.9km") && !fits("236\u{b0}") && !fits(&"x".repeat(161)));
    }

    #[test]
    fn names_lose_what_cannot_be_sent() {
        assert_eq!(plain("M\u{fc}hle \u{2603} caf\u{ea}"), "M\u{fc}hle . cafe");
        assert_eq!(plain("\u{17b}aneta \u{141}o\u{15b}"), "Zaneta Los");
        assert_eq!(unsent("\u{17b}aneta \u{141}o\u{15b}"), None);
        assert_eq!(unsent("\u{420}\u{430}"), Some('\u{420}'));
    }
}
