//! Parses the photographs that a record names: names, numbers and ranges, as in `P1004-P1007;
//! 1012`. Anything that is not a range is a name. Layer: `ingest`.

use crate::model::PhotoRef;

/// The longest range; a longer one is a name with a hyphen, such as date and time.
const LONGEST_RANGE: u64 = 300;

/// Reads a cell.
pub(super) fn read(cell: &str) -> Vec<PhotoRef> {
    let text = cell.replace(" and ", ";").replace(" to ", "-");
    let text = text.replace(['\u{2013}', '\u{2014}', '\u{2026}'], "-");
    let text = words_as_marks(&dots_as_marks(&text));
    let mut photos = Vec::new();
    for part in text.split([';', ',', '|', '&', '\n', '\r', '\t']) {
        let part = joined_hyphens(&added(part));
        for part in part.split(';').flat_map(names) {
            let name = without_label(part);
            if is_nothing(name) {
                continue;
            }
            let several = slashes(name);
            let alone = || vec![file_name(name)];
            for name in several.unwrap_or_else(alone) {
                match range(&name) {
                    Some(range) => photos.extend(range),
                    None => photos.push(PhotoRef(without_decimals(&name).to_owned())),
                }
            }
        }
    }
    let mut seen = std::collections::HashSet::new();
    photos.retain(|photo| seen.insert(photo.0.clone()));
    photos
}

/// The words of other languages for "to" and "and", between two numbers: `1001 t/m 1003`.
fn words_as_marks(text: &str) -> String {
    const TO: [&str; 8] = ["t/m", "bis", "til", "till", "\u{e0}", "au", "al", "do"];
    const AND: [&str; 9] = ["und", "et", "y", "e", "en", "og", "och", "ja", "i"];
    let words: Vec<&str> = text.split(' ').collect();
    let ends_in_digit = |word: &&str| word.ends_with(|c: char| c.is_ascii_digit());
    let has_digit = |word: &&str| word.contains(|c: char| c.is_ascii_digit());
    let mut joined = String::with_capacity(text.len());
    for (place, word) in words.iter().enumerate() {
        let before = place.checked_sub(1).and_then(|before| words.get(before));
        let between =
            before.is_some_and(ends_in_digit) && words.get(place + 1).is_some_and(has_digit);
        let shown = match *word {
            own if between && TO.contains(&own) => "-",
            own if between && AND.contains(&own) => ";",
            own => own,
        };
        if place > 0 {
            joined.push(' ');
        }
        joined.push_str(shown);
    }
    joined
}

/// `2061...2065` and `2061..2065` are ranges.
fn dots_as_marks(text: &str) -> String {
    let mut joined = text.replace("...", "-");
    for (at, _) in text.match_indices("..").filter(|_| !text.contains("...")) {
        let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_alphanumeric());
        let (before, behind) = (text[..at].chars().next_back(), text[at + 2..].chars().next());
        if digit(before) && digit(behind) {
            joined.replace_range(at..at + 2, "--");
        }
    }
    joined.replace("--", "-")
}

/// `2061 + 2063` are two: a plus between blanks, or between digits.
fn added(part: &str) -> String {
    let loose = part.replace(" + ", ";").replace(" +", ";").replace("+ ", ";");
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    let marks = loose.char_indices().map(|(at, c)| {
        let (before, behind) =
            (loose[..at].chars().next_back(), loose[at + c.len_utf8()..].chars().next());
        if c == '+' && digit(before) && digit(behind) { ';' } else { c }
    });
    marks.collect()
}

/// Without the word for a photograph or a number before it: `Bild nr 2062`, `Foto Nr. 2062`, `#2062`.
fn without_label(name: &str) -> &str {
    const LABELS: [&str; 32] = [
        "photographs",
        "photograph",
        "photos",
        "photo",
        "pictures",
        "picture",
        "pics",
        "pic",
        "images",
        "image",
        "bilder",
        "bild",
        "fotos",
        "foto's",
        "foto",
        "aufnahme",
        "billeder",
        "billede",
        "kuvat",
        "kuva",
        "foton",
        "zdj\u{119}cia",
        "zdj\u{119}cie",
        "sn\u{ed}mek",
        "sn\u{ed}mky",
        "nr.",
        "nr",
        "no.",
        "no",
        "n\u{b0}",
        "n\u{ba}",
        "\u{10d}.",
    ];
    let has_ending = name
        .rsplit_once('.')
        .is_some_and(|(_, end)| end.starts_with(char::is_alphabetic) && end.len() <= 4);
    let mut rest = name.trim();
    if !has_ending {
        while let Some(behind) = behind_label(rest, &LABELS) {
            rest = behind;
        }
    }
    rest
}

/// What stands behind one such word, where it has digits.
fn behind_label<'n>(name: &'n str, labels: &[&str]) -> Option<&'n str> {
    let marks = [' ', '.', ':', '\u{a0}'];
    let lower = name.to_lowercase();
    // small letters can have another length
    let labels = labels.iter().filter(|_| lower.len() == name.len());
    let mut behind = labels.filter_map(|label| {
        let behind = name.get(name.len() - lower.strip_prefix(label)?.len()..)?;
        let joined = !label.ends_with(char::is_alphabetic)
            && behind.starts_with(|c: char| c.is_ascii_digit());
        (behind.starts_with(marks) || joined).then(|| behind.trim_start_matches(marks))
    });
    let behind = behind.next().or_else(|| name.strip_prefix('#').map(str::trim_start));
    behind.filter(|behind| behind.contains(|c: char| c.is_ascii_digit()))
}

/// `2061/2062`, `P2061/P2062` and `2061/62` are several names; any other slash parts folders.
fn slashes(name: &str) -> Option<Vec<String>> {
    let parts: Vec<&str> = name.split('/').map(str::trim).collect();
    let first = Name::of(parts.first().filter(|_| parts.len() > 1)?)?;
    let mut names = vec![parts[0].to_owned()];
    let mut last: u64 = first.figures.parse().ok()?;
    for part in &parts[1..] {
        let next = Name::of(part).filter(|next| next.ending == first.ending)?;
        let missing = first.figures.len().checked_sub(next.figures.len())?;
        let same_front = next.front.eq_ignore_ascii_case(first.front);
        if !(same_front || next.front.is_empty()) || missing > 0 && !next.front.is_empty() {
            return None;
        }
        let figures = format!("{}{}", &first.figures[..missing], next.figures);
        let number: u64 = figures.parse().ok()?;
        // a shortened number counts on; numbers of one find are near each other
        if missing > 0 && number <= last || number.abs_diff(last) >= LONGEST_RANGE {
            return None;
        }
        last = number;
        names.push(format!("{}{figures}{}", first.front, next.ending));
    }
    Some(names)
}

/// Of a path or an address the last part.
fn file_name(name: &str) -> String {
    let name = name.trim_end_matches(['/', '\\']);
    name.rsplit(['/', '\\']).next().unwrap_or(name).trim().to_owned()
}

/// `2062.0` is what a spreadsheet makes of 2062.
fn without_decimals(name: &str) -> &str {
    let whole = name.strip_suffix(".0").filter(|whole| whole.len() > 1);
    whole.filter(|whole| whole.bytes().all(|byte| byte.is_ascii_digit())).unwrap_or(name)
}

fn is_nothing(name: &str) -> bool {
    matches!(name.to_lowercase().as_str(), "" | "-" | "none" | "no" | "n/a" | "nil" | "?")
}

fn joined_hyphens(part: &str) -> String {
    let mut joined = part.trim().to_owned();
    for loose in [" -", "- "] {
        while joined.contains(loose) {
            joined = joined.replace(loose, "-");
        }
    }
    joined
}

/// Names between spaces, where each has a digit: `1004 1005`, but not `IMG 2041`.
fn names(part: &str) -> Vec<&str> {
    let pieces: Vec<&str> = part.split_whitespace().collect();
    let numbered = |piece: &&str| piece.contains(|c: char| c.is_ascii_digit());
    if pieces.len() > 1 && pieces.iter().all(numbered) { pieces } else { vec![part] }
}

/// A parsed name: letters, digits and the rest.
struct Name<'n> {
    front: &'n str,
    figures: &'n str,
    ending: &'n str,
}

impl<'n> Name<'n> {
    fn of(name: &'n str) -> Option<Self> {
        let (stem, ending) = match name.rfind('.') {
            Some(dot) if dot > 0 => name.split_at(dot),
            _ => (name, ""),
        };
        let digits = stem.bytes().rev().take_while(u8::is_ascii_digit).count();
        let (front, figures) = stem.split_at(stem.len() - digits);
        (digits > 0).then_some(Self { front, figures, ending })
    }
}

/// All names from one to another: `P1004-P1007`, `IMG_2041.JPG-IMG_2044.JPG`, `DSC01234-40`.
fn range(name: &str) -> Option<Vec<PhotoRef>> {
    let hyphens = name.match_indices('-').map(|(at, _)| at);
    hyphens.into_iter().find_map(|at| {
        let (from, to) = (Name::of(&name[..at])?, Name::of(&name[at + 1..])?);
        let same_front = to.front.is_empty() || to.front.eq_ignore_ascii_case(from.front);
        let same_ending = from.ending.is_empty() || from.ending.eq_ignore_ascii_case(to.ending);
        if !same_front || !(same_ending || to.ending.is_empty()) {
            return None;
        }
        let width = from.figures.len();
        // 01234-40 stands for 01234-01240
        let shortened = to.front.is_empty() && to.figures.len() < width;
        let kept = if shortened { &from.figures[..width - to.figures.len()] } else { "" };
        let first: u64 = from.figures.parse().ok()?;
        let last: u64 = format!("{kept}{}", to.figures).parse().ok()?;
        if last < first || last - first >= LONGEST_RANGE {
            return None;
        }
        let ending = if from.ending.is_empty() { to.ending } else { from.ending };
        let one = |number| PhotoRef(format!("{}{number:0width$}{ending}", from.front));
        Some((first..=last).map(one).collect())
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn names(cell: &str) -> Vec<String> {
        read(cell).into_iter().map(|photo| photo.0).collect()
    }

    #[test]
    fn ranges_are_written_out() {
        assert_eq!(names("P1004-P1007; 1012"), ["P1004", "P1005", "P1006", "P1007", "1012"]);
        assert_eq!(names("1004\u{2013}1006"), ["1004", "1005", "1006"]);
        assert_eq!(names("1004 to 1006"), ["1004", "1005", "1006"]);
        assert_eq!(names("1004 t/m 1006"), ["1004", "1005", "1006"]);
        assert_eq!(names("P1004 bis P1005 und P1009"), ["P1004", "P1005", "P1009"]);
        assert_eq!(
            names("DSC00098-102"),
            ["DSC00098", "DSC00099", "DSC00100", "DSC00101", "DSC00102"]
        );
        assert_eq!(names("DSC01239-40"), ["DSC01239", "DSC01240"]);
        assert_eq!(names("IMG_2041.JPG - IMG_2042.JPG"), ["IMG_2041.JPG", "IMG_2042.JPG"]);
        assert_eq!(names("P0998-P1001"), ["P0998", "P0999", "P1000", "P1001"]);
    }

    #[test]
    fn lists_are_split_at_every_usual_mark() {
        assert_eq!(names("1004, 1005 and 1007 | 1009"), ["1004", "1005", "1007", "1009"]);
        assert_eq!(names("1004 1005\n1006"), ["1004", "1005", "1006"]);
        assert_eq!(names("IMG 2041"), ["IMG 2041"]);
        assert_eq!(names("day/IMG_2041.jpg; 1004; 1004"), ["IMG_2041.jpg", "1004"]);
        for nothing in ["", " - ", "none", "n/a"] {
            assert_eq!(names(nothing), Vec::<String>::new(), "{nothing}");
        }
    }

    #[test]
    fn slashes_pluses_dots_and_words_are_understood() {
        assert_eq!(names("2061/2062"), ["2061", "2062"]);
        assert_eq!(names("P2061/P2062/P2064"), ["P2061", "P2062", "P2064"]);
        assert_eq!(names("2061/62"), ["2061", "2062"]);
        assert_eq!(names("DSC01239/40, 1250"), ["DSC01239", "DSC01240", "1250"]);
        assert_eq!(names("2061 + 2063"), ["2061", "2063"]);
        assert_eq!(names("2061+2063"), ["2061", "2063"]);
        assert_eq!(names("2061...2063"), ["2061", "2062", "2063"]);
        assert_eq!(names("2061 \u{2026} 2063"), ["2061", "2062", "2063"]);
        assert_eq!(names("P2061..P2063"), ["P2061", "P2062", "P2063"]);
        for cell in
            ["Bild nr 2062", "bild 2062", "Foto Nr. 2062", "#2062", "nr. 2062", "no 2062", "2062.0"]
        {
            assert_eq!(names(cell), ["2062"], "{cell}");
        }
        assert_eq!(names("photos 2061-2062"), ["2061", "2062"]);
        assert_eq!(names("2061.0; 2062.0"), ["2061", "2062"]);
        // folders, dates and names of files stay what they are
        assert_eq!(names("DCIM/101/2061.JPG"), ["2061.JPG"]);
        assert_eq!(names("100/2061"), ["2061"]);
        assert_eq!(names("2026/05/2061"), ["2061"]);
        assert_eq!(names("Foto 2062.jpg"), ["Foto 2062.jpg"]);
        assert_eq!(names("IMG+1"), ["IMG+1"]);
    }

    #[test]
    fn hyphens_in_names_are_no_ranges() {
        for name in [
            "IMG-2041.jpg",
            "IMG-20260503-WA0012.jpg",
            "20260503-142030.jpg",
            "P1007-P1004",
            "1-999999999",
            "a-b",
            "99999999999999999999999-99999999999999999999999",
        ] {
            assert_eq!(names(name), [name], "{name}");
        }
    }
}
