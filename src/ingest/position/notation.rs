//! Rewrites notations of positions that stand for latitude before longitude with the letters N, S, E and W:
//! `geo:47.8,13.5`, `POINT(13.5 47.8)`, `47\u{b0} 51' n. Br. 13\u{b0} 30' \u{f6}. L.`. Layer: `ingest`.
//!
//! # References
//! RFC 5870 for `geo:`; OGC 06-103r4 (Simple Features), 7, for `POINT`.

use std::borrow::Cow;

/// A position is not longer, bytes.
const LONGEST: usize = 200;

/// Words for a side and for its axis, without accents, with the letter of the hemisphere: German, Danish, Norwegian,
/// Swedish, Dutch and Czech.
const SIDES: [(&str, &str, &str); 8] = [
    (
        "n nordl nordliche nordlicher noerdl nord nordlig noord noorder",
        "br breite bredde bredd b breedte",
        "N",
    ),
    (
        "s sudl sudliche sudlicher suedl syd sydlig z zuid zuider",
        "br breite bredde bredd b breedte",
        "S",
    ),
    (
        "o oe ostl ostliche ostlicher oestl ost ostlig oost ooster",
        "l lange laenge langd lengde lgd lengte",
        "E",
    ),
    (
        "w westl westliche westlicher west wester v vest vestlig vast vastlig",
        "l lange laenge langd lengde lgd lengte",
        "W",
    ),
    ("s sev severni", "s sirky sirka", "N"),
    ("j jizni", "s sirky sirka", "S"),
    ("v vych vychodni", "d delky delka", "E"),
    ("z zap zapadni", "d delky delka", "W"),
];

/// A position in the usual notation; the text itself where it is in no other one.
pub(super) fn usual(text: &str) -> Cow<'_, str> {
    if text.len() > LONGEST {
        return Cow::Borrowed(text);
    }
    if let Some(position) = of_uri(text).or_else(|| of_point(text)) {
        return Cow::Owned(position);
    }
    let mut usual = Cow::Borrowed(text);
    while let Some(next) = with_letter(&usual) {
        usual = Cow::Owned(next);
    }
    usual
}

/// `geo:47.8,13.5`, with an altitude and parameters that say nothing of the place.
fn of_uri(text: &str) -> Option<String> {
    let front = text.get(..4).filter(|scheme| scheme.eq_ignore_ascii_case("geo:"))?;
    let place = text[front.len()..].split([';', '?']).next()?;
    let mut parts = place.split(',').map(str::trim);
    Some(format!("{} {}", parts.next()?, parts.next()?))
}

/// `POINT(13.5 47.8)`, longitude first.
fn of_point(text: &str) -> Option<String> {
    let (front, behind) = text.split_once('(')?;
    let front = front.rsplit(';').next()?.trim().to_ascii_uppercase();
    if !["POINT", "POINT Z", "POINTZ"].contains(&front.as_str()) {
        return None;
    }
    let mut numbers = behind.trim_end_matches([')', ' ']).split_whitespace();
    let (longitude, latitude) = (numbers.next()?, numbers.next()?);
    Some(format!("{latitude} {longitude}"))
}

/// The text with the letter of a hemisphere instead of the first words for one.
fn with_letter(text: &str) -> Option<String> {
    let words = words(text);
    words.windows(2).find_map(|pair| {
        let [(begin, first_end), (second_begin, end)] = pair else { return None };
        let between = &text[*first_end..*second_begin];
        if !between.chars().all(|c| c == '.' || c.is_whitespace()) {
            return None;
        }
        let side = side(&plain(&text[*begin..*first_end]), &text[*second_begin..*end])?;
        let behind = text[*end..].trim_start_matches('.');
        Some(format!("{}{side} {behind}", &text[..*begin]))
    })
}

fn side(first: &str, second: &str) -> Option<&'static str> {
    // Czech: `s. \u{161}.` is north, `s. s.` nothing
    let czech_latitude = second.to_lowercase().starts_with('\u{161}');
    let second = plain(second);
    let has = |list: &str, word: &str| list.split(' ').any(|known| known == word);
    let fits = |(own, axis, _): &&(&str, &str, &str)| {
        has(own, first) && has(axis, &second) && (second != "s" || czech_latitude)
    };
    SIDES.iter().find(fits).map(|(.., letter)| *letter)
}

/// The places of the words of a text.
fn words(text: &str) -> Vec<(usize, usize)> {
    let mut words: Vec<(usize, usize)> = Vec::new();
    for (at, c) in text.char_indices().filter(|(_, c)| c.is_alphabetic() && *c != '\u{ba}') {
        match words.last_mut() {
            Some((_, end)) if *end == at => *end = at + c.len_utf8(),
            _ => words.push((at, at + c.len_utf8())),
        }
    }
    words
}

/// In lower case without the accents of these words.
fn plain(word: &str) -> String {
    let letter = |c: char| match c {
        '\u{f6}' | '\u{f8}' => 'o',
        '\u{e4}' | '\u{e1}' | '\u{e6}' | '\u{e5}' => 'a',
        '\u{fc}' => 'u',
        '\u{161}' => 's',
        '\u{ed}' => 'i',
        '\u{159}' => 'r',
        '\u{e9}' => 'e',
        '\u{fd}' => 'y',
        '\u{17e}' => 'z',
        other => other,
    };
    word.chars().flat_map(char::to_lowercase).map(letter).collect()
}

#[cfg(test)]
mod tests {
    use super::super::{read, read_columns};

    #[test]
    fn positions_in_other_notations_are_read() {
        for text in [
            "geo:47.85,13.5",
            "geo:47.85,13.5,712;u=35",
            "POINT(13.5 47.85)",
            "SRID=4326;POINT (13.5 47.85)",
            "POINT Z (13.5 47.85 712)",
            "47\u{b0} 51' n. Br. 13\u{b0} 30' \u{f6}. L.",
            "47\u{b0}51' n\u{f6}rdl. Breite, 13\u{b0}30' \u{f6}stl. L\u{e4}nge",
            "47\u{b0} 51' N.B. 13\u{b0} 30' O.L.",
            "47\u{b0} 51' s.\u{161}. 13\u{b0} 30' v.d.",
            "47\u{b0} 51' s. \u{161}., 13\u{b0} 30' v. d.",
            "47\u{b0} 51' n. br. 13\u{b0} 30' \u{f8}. l.",
        ] {
            let written =
                read(text, Some("WGS84")).unwrap_or_else(|error| panic!("{text}: {error}"));
            assert_eq!(written.verbatim, text);
            let found: Vec<String> =
                written.readings.iter().map(|reading| reading.at.to_string()).collect();
            assert_eq!(found, ["47.85000 N 13.50000 E"], "{text}");
        }
        let columns =
            read_columns("47\u{b0} 51' z.Br.", "13\u{b0} 30' w. L.", Some("WGS84")).unwrap();
        assert_eq!(columns.readings[0].at.to_string(), "47.85000 S 13.50000 W");
        for text in ["geo:", "POINT()", "POINT(1)", "n. Br. \u{f6}. L.", "by the hut"] {
            assert!(read(text, None).is_err(), "{text}");
        }
    }
}
