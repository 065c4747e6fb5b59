//! Splits a written position into numbers, marks and letters: signs, all variants of degree and
//! minute marks, hemispheres in several languages, decimal commas. Refuses words that are not part
//! of a position. Layer: `ingest`.

/// A hemisphere.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Side {
    North,
    South,
    East,
    West,
}

/// Latitude or longitude.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Axis {
    Latitude,
    Longitude,
}

impl Side {
    pub(super) fn axis(self) -> Axis {
        match self {
            Self::North | Self::South => Axis::Latitude,
            Self::East | Self::West => Axis::Longitude,
        }
    }

    pub(super) fn is_negative(self) -> bool {
        matches!(self, Self::South | Self::West)
    }
}

/// A number as it was written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Number {
    /// Without its sign.
    pub(super) size: f64,
    /// Digits before the point.
    pub(super) whole_figures: usize,
    /// Digits after the point.
    pub(super) decimals: i32,
    /// The sign where one was written: true for minus.
    pub(super) minus: Option<bool>,
}

/// A part of a written position.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Word {
    Number(Number),
    DegreeMark,
    MinuteMark,
    SecondMark,
    /// A hemisphere; two where languages disagree about the letter O.
    Sides(&'static [Side]),
    Label(Axis),
    /// A comma, semicolon, slash or line end.
    Break,
}

/// What the letter O means: Ost, or Oeste, Ouest and Ovest.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LetterO {
    /// It may be either.
    #[default]
    Open,
    /// East.
    East,
    /// West.
    West,
}

impl LetterO {
    /// The parts of a position with the letter decided.
    pub(super) fn decided(self, mut words: Vec<Word>) -> Vec<Word> {
        let side: &'static [Side] = match self {
            Self::Open => return words,
            Self::East => &[Side::East],
            Self::West => &[Side::West],
        };
        for word in &mut words {
            if matches!(word, Word::Sides([_, _])) {
                *word = Word::Sides(side);
            }
        }
        words
    }

    fn other(self) -> &'static str {
        if self == Self::East { "west" } else { "east" }
    }

    /// The way of a reading in which the letter means the other side.
    pub(super) fn otherwise(self, manner: &str) -> String {
        format!("{manner}, the letter O as {}", self.other())
    }
}

/// Splits a text into its parts. `decimal_comma` sets the meaning of a comma between two digits.
pub(super) fn split(text: &str, decimal_comma: bool) -> Result<Vec<Word>, String> {
    let mut words = Vec::new();
    let mut rest = text;
    let mut before = ' ';
    while let Some(first) = rest.chars().next() {
        let length = if first.is_ascii_digit() || is_sign_of_number(first, before, rest) {
            let (number, length) = number(rest, decimal_comma)?;
            words.push(Word::Number(number));
            length
        } else if is_letter(first) {
            let end = rest.find(|c| !is_letter(c)).unwrap_or(rest.len());
            words.extend(named(&rest[..end], &words, &rest[end..])?);
            end
        } else {
            words.extend(mark(first, rest)?);
            if rest.starts_with("''") { 2 } else { first.len_utf8() }
        };
        before = rest[..length].chars().next_back().unwrap_or(' ');
        rest = &rest[length..];
    }
    Ok(words)
}

/// The raised o of `42º` is a letter of the alphabet, but a degree mark here.
fn is_letter(c: char) -> bool {
    c.is_alphabetic() && c != '\u{ba}'
}

fn is_minus(c: char) -> bool {
    matches!(c, '-' | '\u{2212}' | '\u{2013}' | '\u{2010}' | '\u{2011}' | '\u{2012}')
}

/// A sign belongs to the following number, unless it joins two numbers: `42-30-36`.
fn is_sign_of_number(first: char, before: char, rest: &str) -> bool {
    let behind = rest[first.len_utf8()..].trim_start_matches(' ').chars().next();
    (is_minus(first) || first == '+')
        && behind.is_some_and(|c| c.is_ascii_digit())
        && !before.is_ascii_digit()
}

/// Reads a number with its sign; returns it with its length in bytes.
fn number(text: &str, decimal_comma: bool) -> Result<(Number, usize), String> {
    let unsigned = text.trim_start_matches(|c: char| is_minus(c) || c == '+' || c == ' ');
    let sign = text.chars().next().filter(|c| !c.is_ascii_digit());
    let figures = |text: &str| text.find(|c: char| !c.is_ascii_digit()).unwrap_or(text.len());
    let whole = figures(unsigned);
    let behind = &unsigned[whole..];
    let point = behind.starts_with('.') || (decimal_comma && behind.starts_with(','));
    let decimals = if point { figures(&behind[1..]) } else { 0 };
    let end = if decimals > 0 { whole + 1 + decimals } else { whole };
    let written = unsigned[..end].replace(',', ".");
    if end > 24 {
        return Err(format!("{written} has too many digits"));
    }
    let size = written.parse().map_err(|_| format!("{written} is not a number"))?;
    let number = Number {
        size,
        whole_figures: whole,
        decimals: i32::try_from(decimals).unwrap_or(0),
        minus: sign.map(is_minus),
    };
    Ok((number, text.len() - unsigned.len() + end))
}

/// Words in positions. An `s` is seconds where a hemisphere follows later.
fn named(word: &str, before: &[Word], behind: &str) -> Result<Option<Word>, String> {
    use Side::{East, North, South, West};
    let word = word.to_lowercase();
    let follows_number = matches!(before.last(), Some(Word::Number(_)));
    Ok(Some(match word.as_str() {
        "s" | "sec" | "second" | "seconds"
            if follows_number && (word != "s" || has_minutes(before) && has_side(behind)) =>
        {
            Word::SecondMark
        }
        "d" | "deg" | "degree" | "degrees" if follows_number => Word::DegreeMark,
        "m" | "min" | "minute" | "minutes" if follows_number => Word::MinuteMark,
        "n" | "north" | "nord" | "norte" => Word::Sides(&[North]),
        "s" | "south" | "sud" | "s\u{fc}d" | "sur" => Word::Sides(&[South]),
        "e" | "east" | "est" | "este" | "ost" | "oost" | "\u{f8}" | "\u{f8}st" | "\u{f6}st" => {
            Word::Sides(&[East])
        }
        "w" | "west" | "ouest" | "oeste" | "ovest" => Word::Sides(&[West]),
        "o" => Word::Sides(&[East, West]),
        "lat" | "latitude" => Word::Label(Axis::Latitude),
        "lon" | "long" | "lng" | "longitude" => Word::Label(Axis::Longitude),
        "ca" | "c" | "approx" | "about" | "and" => return Ok(None),
        _ => return Err(format!("\"{word}\" is not part of a position")),
    }))
}

fn has_minutes(before: &[Word]) -> bool {
    before.iter().rev().take(3).any(|word| *word == Word::MinuteMark)
}

fn has_side(behind: &str) -> bool {
    behind.trim_start().starts_with(['N', 'S', 'E', 'W', 'O', 'n', 's', 'e', 'w', 'o'])
}

fn mark(first: char, rest: &str) -> Result<Option<Word>, String> {
    Ok(match first {
        '\u{b0}' | '\u{ba}' | '\u{2da}' | '*' => Some(Word::DegreeMark),
        '"' | '\u{2033}' | '\u{201d}' | '\u{201c}' => Some(Word::SecondMark),
        '\'' if rest.starts_with("''") => Some(Word::SecondMark),
        '\'' | '\u{2032}' | '\u{2019}' | '\u{2018}' | '`' | '\u{b4}' => Some(Word::MinuteMark),
        ',' | ';' | '/' | '|' | '\n' => Some(Word::Break),
        '.' | ':' | '=' | '(' | ')' | '[' | ']' | '~' | '+' | '_' | '\u{feff}' => None,
        c if c.is_whitespace() || is_minus(c) => None,
        c => return Err(format!("'{c}' is not part of a position")),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(text: &str, comma: bool) -> Vec<(f64, i32, Option<bool>)> {
        split(text, comma)
            .unwrap()
            .into_iter()
            .filter_map(|word| match word {
                Word::Number(number) => Some((number.size, number.decimals, number.minus)),
                _ => None,
            })
            .collect()
    }

    #[test]
    fn signs_and_hyphens_are_reported_apart() {
        assert_eq!(numbers("-42.50 +146", false), [(42.5, 2, Some(true)), (146.0, 0, Some(false))]);
        assert_eq!(numbers("\u{2212}42,5", true), [(42.5, 1, Some(true))]);
        assert_eq!(numbers("42-30-36", false), [(42.0, 0, None), (30.0, 0, None), (36.0, 0, None)]);
    }

    #[test]
    fn an_s_is_seconds_only_before_a_hemisphere() {
        let marks = |text| {
            split(text, false)
                .unwrap()
                .into_iter()
                .filter(|w| !matches!(w, Word::Number(_)))
                .collect::<Vec<_>>()
        };
        let south = Word::Sides(&[Side::South]);
        assert_eq!(marks("42d30m36s S").last(), Some(&south));
        assert!(marks("42d30m36s S").contains(&Word::SecondMark));
        assert_eq!(
            marks("42\u{b0}30'36''S"),
            [Word::DegreeMark, Word::MinuteMark, Word::SecondMark, south.clone()]
        );
        assert_eq!(marks("42.5s"), [south]);
    }

    #[test]
    fn unknown_words_are_named() {
        assert_eq!(split("by the hut", false).unwrap_err(), "\"by\" is not part of a position");
        assert_eq!(split("42 # 3", false).unwrap_err(), "'#' is not part of a position");
    }
}
