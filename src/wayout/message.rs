//! The way out in one text message: at most 160 characters that every telephone can show, and that
//! stand alone. Layer: `wayout`.

use super::light::clock;
use super::report::WayOut;
use crate::earth::sun::Passage;

/// The longest single message.
pub const LONGEST: usize = 160;

/// The characters of the GSM 7-bit default alphabet that take one place.
///
/// # References
/// 3GPP TS 23.038, table 6.2.1.
const ALPHABET: &str = "@\u{a3}$\u{a5}\u{e8}\u{e9}\u{f9}\u{ec}\u{f2}\u{c7}\n\u{d8}\u{f8}\r\u{c5}\u{e5}\u{394}_\u{3a6}\u{393}\u{39b}\u{3a9}\u{3a0}\u{3a8}\u{3a3}\u{398}\u{39e}\u{c6}\u{e6}\u{df}\u{c9} !\"#\u{a4}%&'()*+,-./0123456789:;<=>?\u{a1}ABCDEFGHIJKLMNOPQRSTUVWXYZ\u{c4}\u{d6}\u{d1}\u{dc}\u{a7}\u{bf}abcdefghijklmnopqrstuvwxyz\u{e4}\u{f6}\u{f1}\u{fc}\u{e0}";

/// Whether a text can be sent as one message.
#[must_use]
pub fn fits(text: &str) -> bool {
    text.chars().count() <= LONGEST && text.chars().all(|letter| ALPHABET.contains(letter))
}

/// The way out as a message: the moment, the position it starts from, the bearing and distance to
/// steer, the time, the light, and what to do when it goes wrong. What matters less is left out first.
#[must_use]
pub fn compose(answer: &WayOut) -> String {
    let zone = &answer.zone;
    let direct = &answer.direct;
    let name = plain(&answer.to.name);
    let takes = answer.best();
    let minutes = takes.map_or_else(String::new, |best| {
        format!(" {:.0}min", (best.way.duration.careful().0 / 60.0).ceil())
    });
    let length = takes.map_or(direct.distance, |best| best.way.distance);
    let to = format!("to {} {:.1}km{minutes}.", short(&name, 22), length.0 / 1e3);
    let advice = takes.map_or("", |best| match best.verdict.advice {
        super::light::Advice::Comfortable => "",
        super::light::Advice::Tight => "LIGHT IS TIGHT.",
        super::light::Advice::DoNotSetOut => "DO NOT SET OUT, STAY PUT.",
    });
    let legs = takes.map_or(0, |best| best.way.legs.len());
    let parts = |told: usize, straight: bool, trust: bool| {
        let parts = [
            format!("{} from {}", clock(answer.now, zone), direct.mgrs[0]),
            to.clone(),
            advice.to_owned(),
            steer(answer, told),
            if straight && told < legs {
                format!("Straight {:03.0}.", whole(direct.magnetic_bearing))
            } else {
                String::new()
            },
            format!("Dark {}.", dark(answer)),
            "Hurt/dark: stay, 112, 6 blasts/min.".to_owned(),
            if trust { "Trust map+compass.".to_owned() } else { String::new() },
        ];
        let filled: Vec<&str> =
            parts.iter().map(String::as_str).filter(|part| !part.is_empty()).collect();
        filled.join(" ")
    };
    // as many legs as there is room for; the caution that is on every other answer goes first
    let fewer = (0..=legs.min(9)).rev().flat_map(|told| [(told, true, true), (told, true, false)]);
    fewer
        .map(|(told, straight, trust)| parts(told, straight, trust))
        .find(|text| fits(text))
        .unwrap_or_else(|| short(&parts(0, false, false), LONGEST))
}

/// The first legs of the best way by compass, and how many follow.
fn steer(answer: &WayOut, told: usize) -> String {
    let Some(best) = answer.best().filter(|_| told > 0) else { return String::new() };
    let legs: Vec<String> = best
        .way
        .legs
        .iter()
        .take(told)
        .map(|leg| format!("{:03.0} {:.0}m", whole(leg.magnetic_bearing), leg.distance.0))
        .collect();
    let rest = best.way.legs.len() - legs.len();
    let more = if rest > 0 { format!(", then {rest} more") } else { String::new() };
    format!("Steer MAG {}{more}.", legs.join(", "))
}

fn whole(bearing: crate::units::MagneticBearing) -> f64 {
    bearing.degrees().0.round() % 360.0
}

fn dark(answer: &WayOut) -> String {
    match answer.light.civil_dusk {
        Passage::At(dusk) => clock(dusk, &answer.zone),
        Passage::StaysAbove => "never today".to_owned(),
        Passage::StaysBelow => "all day".to_owned(),
    }
}

/// Letters with marks that the alphabet lacks become plain ones, anything else a full stop.
fn plain(text: &str) -> String {
    text.chars()
        .map(|letter| match letter {
            _ if ALPHABET.contains(letter) && letter != '\n' && letter != '\r' => letter,
            '\u{e1}' | '\u{e2}' | '\u{e3}' => 'a',
            '\u{ea}' | '\u{eb}' => 'e',
            '\u{ed}' | '\u{ee}' | '\u{ef}' => 'i',
            '\u{f3}' | '\u{f4}' | '\u{f5}' => 'o',
            '\u{fa}' | '\u{fb}' => 'u',
            '\u{2019}' => '\'',
            _ => '.',
        })
        .collect()
}

fn short(text: &str, most: usize) -> String {
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
    }
}
