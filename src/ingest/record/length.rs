//! Reads lengths in metres: `412 m`, `1,350 ft`, `ca 400-420 m a.s.l.`. Refuses what is no length.
//! Layer: `ingest`.

use crate::units::Metres;

/// The international foot, exact by definition (1959).
const FOOT: f64 = 0.3048;

/// Reads a length; of a range the middle.
pub(super) fn read(cell: &str) -> Option<Metres> {
    let text = cell.trim().to_lowercase();
    let doubts = ["circa", "about", "approx.", "approx", "ca.", "ca", "c.", "~", "+/-", "\u{b1}"];
    let text = doubts.into_iter().find_map(|word| text.strip_prefix(word)).unwrap_or(&text).trim();
    let (first, rest) = number(text)?;
    let behind = rest.trim_start().strip_prefix(['-', '\u{2013}']).map(str::trim_start);
    let (second, rest) = behind.and_then(number).unwrap_or((first, rest));
    Some(Metres(f64::midpoint(first, second) * unit(rest)?))
}

/// A number with a decimal point or comma, or with a comma between thousands.
fn number(text: &str) -> Option<(f64, &str)> {
    let sign = text.strip_prefix('-').or(text.strip_prefix('\u{2212}'));
    let unsigned = sign.unwrap_or(text);
    let end = unsigned
        .find(|c: char| !c.is_ascii_digit() && c != '.' && c != ',')
        .unwrap_or(unsigned.len());
    let written = unsigned[..end].trim_end_matches(['.', ',']);
    let thousands = written.split_once(',').is_some_and(|(_, behind)| {
        behind.len() == 3 && behind.bytes().all(|byte| byte.is_ascii_digit())
    });
    let plain = if thousands { written.replace(',', "") } else { written.replace(',', ".") };
    let size: f64 = plain.parse().ok()?;
    (size.is_finite() && written.len() <= 12)
        .then(|| (if sign.is_some() { -size } else { size }, &unsigned[written.len()..]))
}

fn unit(rest: &str) -> Option<f64> {
    let word: String = rest.chars().filter(|c| !c.is_whitespace() && *c != '.').collect();
    let word = ["asl", "abovesealevel", "amsl"]
        .into_iter()
        .find_map(|end| word.strip_suffix(end))
        .unwrap_or(&word);
    Some(match word {
        "" | "m" | "metre" | "metres" | "meter" | "meters" => 1.0,
        "ft" | "feet" | "foot" | "'" => FOOT,
        "km" => 1000.0,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_in_the_ways_they_are_written() {
        let metres = |text: &str| read(text).map(|length| length.0);
        assert_eq!(metres("412"), Some(412.0));
        assert_eq!(metres("412 m a.s.l."), Some(412.0));
        assert_eq!(metres("412,5 m"), Some(412.5));
        assert_eq!(metres("1,350 m"), Some(1350.0));
        assert!((metres("1,350 ft").unwrap() - 411.48).abs() < 1e-9);
        assert_eq!(metres("ca 400-420 m"), Some(410.0));
        assert_eq!(metres("\u{b1}5 m"), Some(5.0));
        assert_eq!(metres("-3 m"), Some(-3.0));
        for text in ["", "high", "4 bags", "1.2.3", "400 m 5"] {
            assert_eq!(metres(text), None, "{text}");
        }
    }
}
