//! Finds times of day and the words of a locality in free texts: with a known track the time is the position.
//! Layer: `present`.

use std::collections::HashSet;

/// Words behind a number that make it a time of day.
const HOURS: [&str; 12] =
    ["h", "hr", "hrs", "hours", "uhr", "utc", "gmt", "cet", "cest", "z", "am", "pm"];
/// Words behind two numbers that are no time.
const RATIOS: [&str; 6] = ["ratio", "dilution", "diluted", "mixture", "mix", "parts"];
/// Below this hour two numbers without anything else are a ratio or a dilution: `1:10` (chosen).
const LEAST_HOUR: u32 = 4;
/// Words of localities that say nothing of one place: habitats, trees, directions.
const GENERAL: [&str; 74] = [
    "above",
    "along",
    "area",
    "bach",
    "bank",
    "beech",
    "behind",
    "below",
    "birch",
    "border",
    "bridge",
    "buchenwald",
    "creek",
    "east",
    "edge",
    "fichtenwald",
    "field",
    "fluss",
    "forest",
    "garden",
    "grass",
    "grassland",
    "hang",
    "heath",
    "hill",
    "lake",
    "laubwald",
    "lawn",
    "meadow",
    "mischwald",
    "mixed",
    "moor",
    "mountain",
    "nadelwald",
    "near",
    "nord",
    "north",
    "oak",
    "ober",
    "orchard",
    "osten",
    "park",
    "pasture",
    "path",
    "pine",
    "plantation",
    "pond",
    "ridge",
    "river",
    "road",
    "rand",
    "shore",
    "slope",
    "south",
    "spruce",
    "stream",
    "strasse",
    "street",
    "suden",
    "swamp",
    "trail",
    "tumpel",
    "unter",
    "valley",
    "wald",
    "waldrand",
    "weg",
    "weide",
    "west",
    "wiese",
    "with",
    "wood",
    "woodland",
    "woods",
];
/// Letters of the shortest word of a locality that counts alone (chosen).
const LEAST_LETTERS: usize = 5;

/// Whether a text holds a time of day.
pub(super) fn has_time_of_day(text: &str) -> bool {
    let letters: Vec<char> = text.chars().map(plain).collect();
    let begins = |at: &usize| {
        let before = at.checked_sub(1).and_then(|at| letters.get(at));
        letters[*at].is_ascii_digit()
            && before.is_none_or(|before| {
                *before == 'T' || !(before.is_alphanumeric() || ".,:/".contains(*before))
            })
    };
    (0..letters.len()).filter(begins).any(|at| is_time(&letters, at))
}

/// Whether a text in the metadata of a photograph holds a time of day that a person wrote: dates with a time to the
/// second are written by cameras and programs, and are those of the camera, which a copy keeps.
#[must_use]
pub fn metadata_state_a_time(text: &str) -> bool {
    let letters: Vec<char> = text.chars().collect();
    let mut kept = String::with_capacity(text.len());
    let mut at = 0;
    while let Some(letter) = letters.get(at) {
        match written_by_programs(&letters[at..]) {
            0 => {
                kept.push(*letter);
                at += 1;
            }
            long => {
                kept.push(' ');
                at += long;
            }
        }
    }
    has_time_of_day(&kept)
}

/// The length of `2026-05-03T11:24:05.25+10:00` or `2026:05:03 11:24:05` at the beginning; 0 where there is none.
fn written_by_programs(letters: &[char]) -> usize {
    let has = |form: &str, from: usize| {
        let mut all = form.chars().zip(letters.get(from..).unwrap_or_default());
        let fits = |(wanted, own): (char, &char)| match wanted {
            '0' => own.is_ascii_digit(),
            '-' => matches!(own, '-' | ':'),
            '_' => matches!(own, 'T' | ' '),
            '+' => matches!(own, '+' | '-'),
            exact => *own == exact,
        };
        letters.len() >= from + form.len() && all.all(fits)
    };
    if !has("0000-00-00_00:00:00", 0) {
        return 0;
    }
    let mut end = 19;
    if has(".0", end) {
        end += 1 + letters[end + 1..].iter().take_while(|it| it.is_ascii_digit()).count();
    }
    if has("+00:00", end) {
        end += 6;
    } else if has("Z", end) {
        end += 1;
    }
    end
}

/// Plain digits and colons for those of other scripts and of full width.
fn plain(letter: char) -> char {
    const ZEROS: [u32; 5] = [0x660, 0x6f0, 0x966, 0x9e6, 0xff10];
    let code = u32::from(letter);
    let digit = ZEROS.iter().find_map(|zero| code.checked_sub(*zero).filter(|digit| *digit < 10));
    match letter {
        '\u{ff1a}' | '\u{2236}' => ':',
        '\u{ff0e}' => '.',
        _ => digit.and_then(|digit| char::from_digit(digit, 10)).unwrap_or(letter),
    }
}

/// Digits from here on: their value and count.
fn number(letters: &[char], at: usize) -> (u32, usize) {
    let digits = letters.iter().skip(at).map_while(|letter| letter.to_digit(10));
    digits.take(8).fold((0, 0), |(size, count), digit| (size * 10 + digit, count + 1))
}

/// The word behind, without spaces and dots before and in it: `a.m.`.
fn word(letters: &[char], at: usize) -> String {
    let behind = letters.iter().skip(at).skip_while(|letter| **letter == ' ');
    let word = behind.take_while(|letter| letter.is_alphabetic() || **letter == '.');
    word.filter(|letter| **letter != '.').flat_map(|letter| letter.to_lowercase()).collect()
}

fn is_time(letters: &[char], at: usize) -> bool {
    let (hour, digits) = number(letters, at);
    let end = at + digits;
    let mark = letters.get(end).copied().unwrap_or(' ');
    let unit = word(letters, end);
    let is_hour = |word: &str| HOURS.contains(&word);
    if digits == 4 && hour / 100 < 24 && hour % 100 < 60 {
        return is_hour(&unit);
    }
    if digits > 2 || hour > 24 {
        return false;
    }
    let (minute, count) = number(letters, end + 1);
    if count == 2 && minute < 60 && matches!(mark, ':' | '.' | 'h' | 'H') {
        return is_in_minutes(letters, (hour, digits), mark, end + 3);
    }
    // an hour alone: `7 pm`, `7 Uhr`; `am` is a German word as well
    let glued = mark != ' ';
    matches!(unit.as_str(), "pm" | "uhr") || unit == "am" && glued || oclock(letters, end)
}

fn oclock(letters: &[char], at: usize) -> bool {
    let behind: String = letters.iter().skip(at).take(9).collect();
    behind.trim_start().to_lowercase().replace('\u{2019}', "'").starts_with("o'clock")
}

/// Hours and minutes that this mark separates, up to `end`.
fn is_in_minutes(letters: &[char], (hour, digits): (u32, usize), mark: char, end: usize) -> bool {
    let unit = word(letters, end);
    let next = letters.get(end).copied().unwrap_or(' ');
    let more = letters.get(end + 1).is_some_and(char::is_ascii_digit);
    match mark {
        ':' if next == ':' && more => true,
        ':' if HOURS.contains(&unit.as_str()) => true,
        ':' => {
            let further = matches!(next, '.' | ',') && more;
            !further && (digits == 2 || hour >= LEAST_HOUR) && !RATIOS.contains(&unit.as_str())
        }
        '.' => {
            let further = matches!(next, '.' | ',') && more;
            let padded = digits == 2 || hour > 0;
            !further && padded && HOURS.contains(&unit.as_str())
        }
        // `12h30`
        _ => !next.is_ascii_digit() && unit != "mm" && unit != "cm",
    }
}

/// The words of a locality that identify it.
pub(super) struct LocalityWords {
    /// Whole localities.
    whole: Vec<String>,
    /// Proper names.
    names: HashSet<String>,
}

impl LocalityWords {
    /// Those of these localities.
    pub(super) fn of<'a>(localities: impl Iterator<Item = &'a str>) -> Self {
        let (mut whole, mut names) = (Vec::new(), HashSet::new());
        for locality in localities {
            let folded = folded(locality);
            if folded.chars().count() >= LEAST_LETTERS {
                whole.push(folded.trim().to_owned());
            }
            names.extend(names_in(locality).filter(|name| !GENERAL.contains(&name.as_str())));
        }
        whole.retain(|locality| !GENERAL.contains(&locality.as_str()));
        Self { whole, names }
    }

    /// Whether a text holds a locality, or a proper name of it.
    pub(super) fn is_in(&self, text: &str) -> bool {
        if self.whole.is_empty() && self.names.is_empty() {
            return false;
        }
        let all = format!(" {} ", words(text).collect::<Vec<_>>().join(" "));
        let has = |locality: &String| {
            let locality = words(locality).collect::<Vec<_>>().join(" ");
            all.contains(&format!(" {locality} "))
        };
        self.whole.iter().any(has) || names_in(text).any(|name| self.names.contains(&name))
    }
}

fn words(text: &str) -> impl Iterator<Item = String> {
    let words = text.split(|letter: char| !letter.is_alphanumeric());
    words.filter(|word| !word.is_empty()).map(folded)
}

/// Words with a capital, folded.
fn names_in(text: &str) -> impl Iterator<Item = String> {
    let words = text.split(|letter: char| !letter.is_alphabetic());
    let named = words.filter(|word| word.chars().next().is_some_and(char::is_uppercase));
    named.map(folded).filter(|word| word.chars().count() >= LEAST_LETTERS)
}

/// Lower case without the marks of German and French vowels; `ue` for `\u{fc}` is the same word.
fn folded(text: &str) -> String {
    let lower = text.to_lowercase();
    let plain = lower.chars().map(|letter| match letter {
        '\u{e4}' | '\u{e0}' | '\u{e1}' | '\u{e2}' => 'a',
        '\u{f6}' | '\u{f3}' | '\u{f4}' => 'o',
        '\u{fc}' | '\u{fa}' | '\u{fb}' => 'u',
        '\u{e8}' | '\u{e9}' | '\u{ea}' => 'e',
        other => other,
    });
    let plain: String = plain.collect();
    plain.replace("ae", "a").replace("oe", "o").replace("ue", "u")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_that_cameras_and_programs_write_are_none_of_a_person() {
        for text in [
            "2026:05:03 11:24:05",
            "<xmp:CreateDate>2026-05-03T11:24:05.25+10:00</xmp:CreateDate>",
            "a 2026-05-03T01:24:05Z b",
            "IMG_20260503_112405",
            "Film 1.2.3, 1/60 s, f/2.8",
            "115222+0200",
        ] {
            assert!(!metadata_state_a_time(text), "{text}");
        }
        for text in [
            "Hericium, 11:24",
            "found 2026-05-03 11:24 by the gully",
            "<dc:description>2026-05-03T11:24:05Z found at 11.24 h</dc:description>",
            "at 7 pm",
        ] {
            assert!(metadata_state_a_time(text), "{text}");
        }
    }

    #[test]
    fn times_of_day_are_found_and_ordinary_numbers_are_not() {
        for text in [
            "faint at 13:05",
            "13.05 h",
            "1305 UTC",
            "1:05 pm",
            "07h13",
            "07:13:00",
            "2026-09-12T07:13:00Z",
            "7.13 Uhr",
            "1 pm",
            "7 o'clock",
            "7:13 a.m.",
            "1305Z",
            "\u{ff10}\u{ff17}\u{ff1a}\u{ff11}\u{ff13}",
        ] {
            assert!(has_time_of_day(text), "{text}");
        }
        for text in [
            "spore print after 12 h",
            "after 2.5 h",
            "8.5 x 4 um",
            "1:1 ratio",
            "KOH 1:10",
            "10:30 ratio",
            "map 1:25000",
            "12.09.2026",
            "Q = 1.52",
            "7 am Stamm",
            "12 caps, 1305 m",
            "ratio 1:1.5",
            "spores 9.25-10.75 um",
        ] {
            assert!(!has_time_of_day(text), "{text}");
        }
    }

    #[test]
    fn names_of_a_locality_are_found_in_any_spelling_and_habitats_are_not() {
        let words =
            LocalityWords::of(["Beech wood near Schwarzer T\u{fc}mpel", "Ferntal"].into_iter());
        for text in ["near Schwarzer Tuempel", "schwarzer, as at Schwarzer See", "In ferntal"] {
            assert!(words.is_in(text), "{text}");
        }
        for text in ["Beech wood", "near a pond", "schwarzer Hut", "faint, of flour", ""] {
            assert!(!words.is_in(text), "{text}");
        }
        assert!(!LocalityWords::of(std::iter::empty()).is_in("Ferntal"));
    }
}
