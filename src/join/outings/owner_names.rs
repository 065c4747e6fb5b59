//! Finds the name of another person in the name of a track's file or folder: a collector of the import, a given name,
//! or a word that the words beside it make an owner. Layer: `join`.

use std::path::Path;

use super::names::{alike, names_file, words};

/// The probability that a word is a person's name: of a collector of the import, of the list, or by the words
/// beside it (assumption).
const OF_A_COLLECTOR: f64 = 0.97;
const LISTED: f64 = 0.95;
const OWNED: f64 = 0.88;

/// Words after which a name is that of an owner, of a companion, of a place.
const OF: &str = "of by von van av af de di da du from";
const WITH: &str = "with mit avec med met con com and und et og och";
const PLACES: &str = "st saint sankt san santa sint sao mount mt lake camp port fort cape hill river creek bay point \
                      road street strasse weg platz park island mont lac col see berg bach tal wald forest wood woods \
                      valley ridge peak trail way head spur farm hof";
const NO_NAMES: &str = "the day today our this der die das den dem les los las het een work home morning evening \
                        morgen abend heute hier";
/// What somebody's files are called.
const TRACKS: &str = "track tracks walk walks log gpx gps route tour trace spur spor spår tur weg aufzeichnung traccia \
                      recording";

/// The probability that the name of a file, or of the folder it lies in, holds the name of a person who is not this
/// one; `None` where no word may be one. `known` are collectors of the import; `shared` is whether the records lie in
/// that folder, which then says nothing.
pub(super) fn another_named(
    person: &str,
    file: &Path,
    known: &[&str],
    shared: bool,
) -> Option<f64> {
    if names_file(person, file) {
        return None;
    }
    let stem = file.file_stem();
    let folder = file.parent().and_then(Path::file_name).filter(|_| !shared);
    let names = [stem, folder].into_iter().flatten();
    let most = |name: &std::ffi::OsStr| {
        let words = words(&name.to_string_lossy());
        (0..words.len()).filter_map(|k| of_word(&words, k, known)).max_by(f64::total_cmp)
    };
    names.filter_map(most).max_by(f64::total_cmp)
}

/// The probability that a word of a name is a person's.
fn of_word(words: &[String], k: usize, known: &[&str]) -> Option<f64> {
    let word = &words[k];
    let at = |k: Option<usize>| k.and_then(|k| words.get(k)).map_or("", String::as_str);
    let (before, after) = (at(k.checked_sub(1)), at(Some(k + 1)));
    let place = is_of(PLACES, before) || is_of(PLACES, after) && !is_of(TRACKS, after);
    if word.chars().count() < 3 || is_of(WITH, before) || place {
        return None;
    }
    let owned = is_of(OF, before) && is_of(TRACKS, at(k.checked_sub(2)))
        || after == "s" && is_of(TRACKS, at(Some(k + 2)));
    if known.iter().any(|person| self::words(person).iter().any(|part| is_same(part, word))) {
        Some(OF_A_COLLECTOR)
    } else if is_given_name(word) {
        Some(LISTED)
    } else {
        let free = [NO_NAMES, PLACES, TRACKS].iter().all(|list| !is_of(list, word));
        (owned && free).then_some(OWNED)
    }
}

fn is_of(list: &str, word: &str) -> bool {
    list.split_whitespace().any(|other| other == word)
}

fn is_given_name(word: &str) -> bool {
    let listed = |word: &str| {
        let lines = include_str!("given_names.txt").lines().filter(|line| !line.starts_with('#'));
        lines.flat_map(str::split_whitespace).any(|name| is_same(name, word))
    };
    let owner = word.strip_suffix('s').filter(|owner| owner.chars().count() >= 4);
    listed(word) || owner.is_some_and(listed)
}

/// Whether a word is a name; accents may differ, but letters of another script do not match everything.
fn is_same(name: &str, word: &str) -> bool {
    let plain = word.chars().filter(char::is_ascii).count();
    name.chars().count() >= 3
        && (name == word || 3 * plain >= 2 * word.chars().count() && alike(name, word))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_persons_name_is_found_in_names_of_files_and_folders() {
        let found =
            |file: &str| another_named("Ada Quillfeather", Path::new(file), &["Wim Torn"], false);
        for (file, probability) in [
            ("d/track-of-Berit.gpx", LISTED),
            ("Berit/track.gpx", LISTED),
            ("d/2026-05-02 berit.gpx", LISTED),
            ("d/Berits-tur.gpx", LISTED),
            ("d/Noël.gpx", LISTED),
            ("d/track-of-Brambletoft.gpx", OWNED),
            ("d/Brambletoft's track.gpx", OWNED),
            ("d/torn.gpx", OF_A_COLLECTOR),
        ] {
            assert_eq!(found(file), Some(probability), "{file}");
        }
        for file in [
            "d/track.gpx",
            "d/2026-05-02.gpx",
            "day/ridge.gpx",
            "d/walk with Berit.gpx",
            "d/St Martin.gpx",
            "d/Ada and Berit.gpx",
            "Ada/Berit.gpx",
            "d/Lake Louise.gpx",
            "d/Kinglake.gpx",
            "d/track of the day.gpx",
            "d/\u{434}\u{43e}\u{440}\u{43e}\u{433}\u{430}.gpx",
            "",
        ] {
            assert_eq!(found(file), None, "{file}");
        }
        assert_eq!(another_named("Ada", Path::new("Berit/track.gpx"), &[], true), None);
    }
}
