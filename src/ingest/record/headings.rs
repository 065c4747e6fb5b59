//! Maps the headings of a table to fields: Darwin Core terms and the usual words of field labels,
//! ignoring case, spaces, marks and accents. An unknown heading is kept as it is. Layer: `ingest`.

use std::cell::RefCell;
use std::collections::HashMap;

use super::column::Column;
use super::english::WORDS;
use super::length::Unit;
use super::{abbreviated, numbered, translated};

/// The rank of a heading in another language: after every English word.
pub(super) const TRANSLATED: usize = 90;
/// That of one which says the number of something in words that no list has.
const NUMBERED: usize = 95;
/// That of the beginning of a heading.
pub(super) const ABBREVIATED: usize = 97;

/// Whether a heading names collector and determiner in one: `leg./det.`.
pub(super) fn is_both(heading: &str) -> bool {
    BOTH.contains(&bare(heading).as_str())
}

const BOTH: [&str; 6] = ["legdet", "legetdet", "leganddet", "detleg", "detetleg", "legitetdet"];

/// The meaning of a heading; the index of its word among those of its column ranks the match.
pub(super) fn column(heading: &str) -> Option<Column> {
    ranked(heading).map(|(column, _)| column)
}

/// A column with the rank of the word.
type Ranked = Option<(Column, usize)>;
/// The most cells whose meaning is kept, against hostile tables.
const MOST_KEPT: usize = 20_000;
/// Longer cells are not kept, bytes.
const LONGEST_KEPT: usize = 64;

thread_local! {
    /// What cells mean as headings: a table is divided and laid out in several passes, each of which asks again.
    static KEPT: RefCell<HashMap<Box<str>, Ranked>> = RefCell::new(HashMap::new());
}

/// The column with the rank of the word: 0 is the best.
pub(super) fn ranked(heading: &str) -> Ranked {
    if heading.len() > LONGEST_KEPT {
        return computed(heading);
    }
    if let Some(kept) = KEPT.with_borrow(|kept| kept.get(heading).copied()) {
        return kept;
    }
    let ranked = computed(heading);
    KEPT.with_borrow_mut(|kept| {
        if kept.len() >= MOST_KEPT {
            kept.clear();
        }
        kept.insert(heading.into(), ranked);
    });
    ranked
}

fn computed(heading: &str) -> Ranked {
    if ["#", "\u{2116}"].contains(&heading.trim()) {
        return Some((Column::Number, 2));
    }
    if names_both_units(heading) {
        let front = before_units(heading);
        let height = || is_height(&front).then_some((Column::Elevation, 99));
        let length = |(column, _): &(Column, usize)| {
            matches!(column, Column::Elevation | Column::Uncertainty)
        };
        if let Some(found) = ranked(&front).filter(length).or_else(height) {
            return Some(found);
        }
    }
    let bare = bare(heading);
    let known = |bare: &str| {
        WORDS.iter().find_map(|(column, words)| {
            words.iter().position(|word| *word == bare).map(|rank| (*column, rank))
        })
    };
    let translated = |bare: &str| Some((translated::column(bare)?, TRANSLATED));
    known(&bare).or_else(|| translated(&bare)).or_else(|| {
        let of_length = |&(column, _): &(Column, usize)| {
            matches!(column, Column::Elevation | Column::Uncertainty)
        };
        let word = without_unit(&bare).map_or(bare.as_str(), |(word, _)| word);
        // a height alone may be that of a tree, or above the ground
        let height =
            (is_height(word) && unit(heading).is_some()).then_some((Column::Elevation, 99));
        let numbered = || Some((numbered::column(heading)?, NUMBERED));
        let found = known(word).or_else(|| translated(word)).filter(of_length).or(height);
        let found = found.or_else(numbered);
        found.or_else(|| Some((abbreviated::column(heading)?, ABBREVIATED)))
    })
}

/// Whether a word means a height, which may be that of a place, a tree or a fruiting body.
pub(super) fn is_height(heading: &str) -> bool {
    let bare = bare(heading);
    bare == "height" || translated::is_height(&bare)
}

/// The unit that a heading of lengths names, in brackets or as its last word.
pub(super) fn unit(heading: &str) -> Option<Unit> {
    let in_brackets = heading.split_once(['(', '[', '{']).and_then(|(_, behind)| {
        let word = behind.split([')', ']', '}']).next().unwrap_or(behind);
        Unit::of(word.trim().strip_prefix("in ").unwrap_or(word))
    });
    in_brackets.or_else(|| Some(without_unit(&bare(heading))?.1))
}

/// Whether a heading leaves the unit open: `Elevation m / ft`.
pub(super) fn names_both_units(heading: &str) -> bool {
    let units = || words(heading).filter_map(Unit::of);
    units().any(|unit| unit == Unit::Metre) && units().any(|unit| unit == Unit::Foot)
}

fn words(heading: &str) -> impl Iterator<Item = &str> {
    heading.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty())
}

/// A heading up to the first of its units.
fn before_units(heading: &str) -> String {
    let is_word = |word: &&str| Unit::of(word).is_none();
    words(heading).take_while(is_word).collect::<Vec<_>>().join(" ")
}

/// A heading without the unit at its end: `altft` is `alt` in feet.
fn without_unit(bare: &str) -> Option<(&str, Unit)> {
    const ENDS: [&str; 10] =
        ["feet", "foot", "ft", "metres", "meters", "metre", "meter", "masl", "m", "fuss"];
    let (front, end) = ENDS.into_iter().find_map(|end| Some((bare.strip_suffix(end)?, end)))?;
    let unit = if end == "masl" { Unit::Metre } else { Unit::of(end)? };
    Some((front.strip_suffix("in").unwrap_or(front), unit))
}

/// Letters and digits in lower case, without accents, without a unit in brackets or the prefix of a
/// vocabulary.
pub(super) fn bare(heading: &str) -> String {
    let heading = heading.trim();
    let heading = heading.strip_prefix("dwc:").unwrap_or(heading);
    let heading = heading.split(['(', '[', '{']).next().unwrap_or(heading);
    let mut bare = String::with_capacity(heading.len());
    for c in heading.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase) {
        match plain(c) {
            Some(letters) => bare.push_str(letters),
            None => bare.push(c),
        }
    }
    bare
}

/// The letters without accents; the signs of ordinals vanish.
fn plain(c: char) -> Option<&'static str> {
    Some(match c {
        '\u{e0}'..='\u{e5}' | '\u{101}' | '\u{103}' | '\u{105}' => "a",
        '\u{e6}' => "ae",
        '\u{e7}' | '\u{107}' | '\u{10d}' => "c",
        '\u{10f}' | '\u{111}' | '\u{f0}' => "d",
        '\u{e8}'..='\u{eb}' | '\u{113}' | '\u{119}' | '\u{11b}' => "e",
        '\u{ec}'..='\u{ef}' | '\u{12b}' => "i",
        '\u{142}' | '\u{13e}' => "l",
        '\u{f1}' | '\u{144}' | '\u{148}' => "n",
        '\u{f2}'..='\u{f6}' | '\u{f8}' | '\u{151}' => "o",
        '\u{153}' => "oe",
        '\u{159}' => "r",
        '\u{15b}' | '\u{161}' => "s",
        '\u{df}' => "ss",
        '\u{165}' => "t",
        '\u{f9}'..='\u{fc}' | '\u{16b}' | '\u{16f}' | '\u{171}' => "u",
        '\u{fd}' | '\u{ff}' => "y",
        '\u{17a}' | '\u{17c}' | '\u{17e}' => "z",
        '\u{aa}' | '\u{ba}' => "",
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn headings_are_known_in_every_spelling() {
        for heading in
            ["recordNumber", "Record Number", "RECORD_NUMBER", "Collector's number", "No.", "#"]
        {
            assert_eq!(column(heading), Some(Column::Number), "{heading}");
        }
        assert_eq!(column("dwc:eventDate"), Some(Column::Date));
        assert_eq!(column("Elevation (m)"), Some(Column::Elevation));
        assert_eq!(column("H\u{f4}st"), Some(Column::Host));
        assert_eq!(column("Spore-print"), Some(Column::SporePrint));
        assert_eq!(column("Weather"), None);
        for (heading, expected) in [
            ("Elevation (ft)", Unit::Foot),
            ("Elevation [feet]", Unit::Foot),
            ("elevation_ft", Unit::Foot),
            ("Elevation in feet", Unit::Foot),
            ("alt. m", Unit::Metre),
            ("height [m]", Unit::Metre),
            ("height ft", Unit::Foot),
            ("minimumElevationInMeters", Unit::Metre),
            ("m a.s.l.", Unit::Metre),
            ("Altitude (m a.s.l.)", Unit::Metre),
        ] {
            assert_eq!(column(heading), Some(Column::Elevation), "{heading}");
            assert_eq!(unit(heading), Some(expected), "{heading}");
        }
        assert_eq!(
            (column("accuracy ft"), unit("accuracy ft")),
            (Some(Column::Uncertainty), Some(Unit::Foot))
        );
        for heading in
            ["Elevation m / ft", "Elevation (m/ft)", "H\u{f6}he m oder ft", "Alt. ft or m"]
        {
            assert_eq!(column(heading), Some(Column::Elevation), "{heading}");
            assert!(names_both_units(heading), "{heading}");
        }
        assert!(!names_both_units("Elevation (m)"));
        assert_eq!(unit("Elevation"), None);
        assert_eq!(unit("Elevation (GPS)"), None);
        assert_eq!(column("height"), None);
        assert_eq!(column("sitem"), None);
        assert_eq!(column(""), None);
    }

    #[test]
    fn no_word_means_two_columns() {
        let mut words: Vec<_> = WORDS.iter().flat_map(|(_, words)| *words).collect();
        let count = words.len();
        words.sort_unstable();
        words.dedup();
        assert_eq!(words.len(), count);
        for word in words {
            assert_eq!(&bare(word), word);
        }
    }
    #[test]
    fn the_guide_lists_every_word() {
        let guide = include_str!("../../../docs/reading-records.md");
        for (column, words) in WORDS {
            let row = words.join(", ");
            assert!(guide.contains(&format!("| {row} |")), "{column:?}: {row}");
        }
    }
}
