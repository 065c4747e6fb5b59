//! Splits free text into figures and what stands between them. Layer: `ingest`.

use std::ops::Range;

/// A number within a text.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Figure {
    /// Without its sign.
    pub(super) size: f64,
    /// Digits before the decimal mark.
    pub(super) whole: usize,
    /// Digits behind it.
    pub(super) decimals: i32,
    /// Its bytes.
    pub(super) span: Range<usize>,
    /// Whether letters touch it that no position has: `IMG2041`.
    pub(super) glued: bool,
}

/// How a text can be split.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Split {
    /// A comma separates numbers.
    Plain,
    /// A comma between digits is a decimal mark.
    DecimalComma,
    /// Marks and spaces between groups of three digits belong to the number: `2'600'000`.
    Groups,
}

/// Digits of a number that anything reads as coordinates; longer ones are identifiers.
const MOST_DIGITS: usize = 12;
/// Digits of a length on a grid.
const MOST_GROUPED: usize = 7;
/// Words that touch the numbers of positions.
const TOUCHING: [&str; 31] = [
    "n",
    "s",
    "e",
    "w",
    "o",
    "nord",
    "sud",
    "ost",
    "est",
    "lat",
    "lon",
    "long",
    "lng",
    "latitude",
    "longitude",
    "x",
    "y",
    "d",
    "deg",
    "m",
    "min",
    "sec",
    "me",
    "mn",
    "easting",
    "northing",
    "zone",
    "utm",
    "z",
    "gr",
    "u",
];

/// The text with plain digits, hyphens, spaces and decimal points, without invisible characters.
pub(super) fn cleaned(text: &str) -> String {
    text.chars().filter(|letter| !is_invisible(*letter)).map(plain).collect()
}

fn is_invisible(letter: char) -> bool {
    matches!(
        letter,
        '\u{ad}' | '\u{61c}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{feff}'
    )
}

fn plain(letter: char) -> char {
    // zeros of the decimal digits of other scripts and of full width
    const ZEROS: [u32; 5] = [0x660, 0x6f0, 0x966, 0x9e6, 0xff10];
    let code = u32::from(letter);
    let digit = ZEROS.iter().find_map(|zero| code.checked_sub(*zero).filter(|digit| *digit < 10));
    match letter {
        _ if digit.is_some() => digit.and_then(|digit| char::from_digit(digit, 10)).unwrap_or('0'),
        '\u{2010}'..='\u{2013}' | '\u{2212}' | '\u{fe63}' | '\u{ff0d}' => '-',
        '\u{b7}' | '\u{2024}' | '\u{66b}' | '\u{ff0e}' => '.',
        '\u{ff0c}' | '\u{66c}' => ',',
        other if other.is_whitespace() || other.is_control() => ' ',
        other => other,
    }
}

/// The ways to split a text that can differ.
pub(super) fn splits(text: &str) -> Vec<Split> {
    let between = |is_mark: fn(u8) -> bool| {
        let three = text.as_bytes().windows(3);
        three
            .filter(|three| is_mark(three[1]))
            .any(|three| three[0].is_ascii_digit() && three[2].is_ascii_digit())
    };
    let mut all = vec![Split::Plain];
    if between(|mark| mark == b',') {
        all.push(Split::DecimalComma);
    }
    if between(|mark| matches!(mark, b' ' | b'\'' | b'.' | b',')) {
        all.push(Split::Groups);
    }
    all
}

/// The numbers of a cleaned text.
pub(super) fn figures(text: &str, split: Split) -> Vec<Figure> {
    let bytes = text.as_bytes();
    let digits =
        |from: usize| bytes[from..].iter().take_while(|byte| byte.is_ascii_digit()).count();
    let mut found = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        let first = digits(at);
        if first == 0 {
            at += 1;
            continue;
        }
        let (mut end, mut written) = (at + first, text[at..at + first].to_owned());
        if split == Split::Groups && first <= 3 {
            let between = bytes.get(end).filter(|mark| matches!(mark, b' ' | b'\'' | b'.' | b','));
            while between.is_some_and(|mark| bytes.get(end) == Some(mark))
                && digits(end + 1) == 3
                && written.len() <= MOST_GROUPED - 3
            {
                written.push_str(&text[end + 1..end + 4]);
                end += 4;
            }
        }
        let whole = written.len();
        let is_mark = |mark: &u8| *mark == b'.' || *mark == b',' && split == Split::DecimalComma;
        let behind = if bytes.get(end).is_some_and(is_mark) { digits(end + 1) } else { 0 };
        if behind > 0 {
            written.push('.');
            written.push_str(&text[end + 1..end + 1 + behind]);
            end += 1 + behind;
        }
        if whole <= MOST_DIGITS
            && behind <= 15
            && let Ok(size) = written.parse()
        {
            let glued = !may_touch(last_word(&text[..at])) || !may_touch(first_word(&text[end..]));
            let decimals = i32::try_from(behind).unwrap_or(0);
            found.push(Figure { size, whole, decimals, span: at..end, glued });
        }
        at = end;
    }
    found
}

fn may_touch(word: &str) -> bool {
    word.is_empty() || TOUCHING.contains(&word.to_lowercase().as_str()) || word.chars().count() == 1
}

/// The raised o is a degree mark.
pub(super) fn is_letter(letter: char) -> bool {
    letter.is_alphabetic() && letter != '\u{ba}'
}

/// The word that a text ends with.
pub(super) fn last_word(text: &str) -> &str {
    let from = text.char_indices().rev().take_while(|(_, letter)| is_letter(*letter)).last();
    from.map_or("", |(from, _)| &text[from..])
}

/// The word that a text begins with.
pub(super) fn first_word(text: &str) -> &str {
    let end = text.find(|letter| !is_letter(letter)).unwrap_or(text.len());
    &text[..end]
}
