//! Decides which words of a scientific name are set in italics: genus, subdivisions of a genus and epithets, not
//! authors, ranks, qualifiers and the sign of hybrids. Uses the form of the words alone, no list of names.
//! Layer: `present`.
//!
//! # References
//! International Code of Nomenclature for algae, fungi, and plants: names of all ranks are in italics there (Preface),
//! the author of an autonym follows the species epithet (Art. 22.1, 26.1), the sign of a hybrid is not part of the name
//! and may be set off by a space (Rec. H.3A). From memory.

use super::fonts::Face;
use crate::model::name_words::{is_aggregate, is_doubt, is_undetermined, joins_authors, rank};

/// Words behind a name that is not published.
const STATUS: [&str; 4] = ["nom.", "nov.", "prov.", "ined."];

/// What stands before a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum After {
    Word,
    Rank,
    RankOfGenus,
    Cross,
}

/// The name without its authors, for a table: genus, epithets, ranks and doubts; words that have not
/// the form of a name stay as they are.
#[must_use]
pub fn without_authors(name: &str) -> String {
    let words = words(name);
    if words.iter().all(|(_, face)| *face == Face::Regular) {
        return name.to_owned();
    }
    let counted = |word: &str| word.contains(|c: char| c.is_ascii_digit());
    let upright = |word: &str| kind(word) != After::Word || is_qualifier(word);
    let kept =
        words.iter().filter(|(word, face)| *face == Face::Italic || upright(word) || counted(word));
    let kept = kept.map(|(word, _)| *word).collect::<Vec<_>>().join(" ");
    kept.trim_end_matches([',', ':', ';']).to_owned()
}

/// The words of a name with their face, in order; joined by spaces they give the name again, runs of
/// spaces made one and the sign of a hybrid set off.
#[must_use]
pub fn words(name: &str) -> Vec<(&str, Face)> {
    let all: Vec<&str> = name.split_whitespace().flat_map(without_cross).collect();
    let mut words = Vec::with_capacity(all.len());
    let (mut in_name, mut in_authors, mut after) = (false, false, After::Word);
    for (place, word) in all.iter().enumerate() {
        let whole = *word;
        let word = whole.trim_end_matches([',', ':', ';']);
        let kind = kind(word);
        let upright = kind != After::Word || is_qualifier(word);
        let next = all[place + 1..].iter().copied().find(|word| !is_qualifier(word));
        let next = next.unwrap_or_default();
        // a comma ends the name: what follows is the heading's or the authors'
        let ends = in_name && whole != word;
        let slanted = !upright
            && match after {
                _ if !in_name => word.starts_with(char::is_uppercase) && is_letters(word),
                After::Rank => is_epithet(word),
                After::RankOfGenus => is_letters(word),
                After::Cross => is_epithet(word) || is_epithet(next),
                After::Word if in_authors => false,
                After::Word => is_epithet(word) || is_subgenus(word, next),
            };
        // another parent of a hybrid begins a name
        in_authors &= !(slanted && after == After::Cross);
        in_authors |= in_name && !slanted && !upright;
        in_authors |= ends;
        in_name |= slanted;
        // a doubt about an epithet stands between its rank and it
        if kind != After::Word || !upright {
            after = kind;
        }
        words.push((whole, if slanted { Face::Italic } else { Face::Regular }));
        if !in_name && !upright {
            // not the form of a name: a description in plain words
            words.extend(all[place + 1..].iter().map(|word| (*word, Face::Regular)));
            break;
        }
    }
    words
}

/// `×rosacea` as the sign and the epithet.
fn without_cross(word: &str) -> impl Iterator<Item = &str> {
    let (cross, rest) = match word.strip_prefix('\u{d7}') {
        Some(rest) if !rest.is_empty() => (&word[..word.len() - rest.len()], rest),
        _ => ("", word),
    };
    [cross, rest].into_iter().filter(|part| !part.is_empty())
}

fn kind(word: &str) -> After {
    match word {
        "\u{d7}" | "x" | "X" => After::Cross,
        word => match rank(word) {
            Some(rank) if rank.of_genus => After::RankOfGenus,
            Some(_) => After::Rank,
            None => After::Word,
        },
    }
}

fn is_qualifier(word: &str) -> bool {
    let bare = word.trim_matches(['(', ')', '[', ']', '?', ',']);
    bare.is_empty()
        || STATUS.contains(&bare)
        || is_doubt(bare)
        || is_undetermined(bare)
        || is_aggregate(bare)
}

fn is_letters(word: &str) -> bool {
    !word.is_empty() && word.chars().all(|c| c.is_alphabetic() || c == '-')
}

fn is_epithet(word: &str) -> bool {
    word.starts_with(char::is_lowercase) && is_letters(word) && !joins_authors(word)
}

/// `(Telamonia)` before an epithet; authors in brackets stand before a capital.
fn is_subgenus(word: &str, next: &str) -> bool {
    let inner = word.strip_prefix('(').and_then(|rest| rest.strip_suffix(')')).unwrap_or_default();
    inner.starts_with(char::is_uppercase) && is_letters(inner) && is_epithet(next)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_comma_behind_a_name_does_not_make_it_upright() {
        for (name, slanted) in [
            ("Russula persanguinea, 2023 to 2026", "Russula persanguinea,"),
            ("Russula persanguinea: finds per hour", "Russula persanguinea:"),
            ("Cortinarius (Telamonia) sp., per year", "Cortinarius (Telamonia)"),
            ("Mycena interrupta (Berk.) Sacc., Syll. Fung.", "Mycena interrupta"),
            ("Mycena interrupta", "Mycena interrupta"),
        ] {
            let words = words(name);
            let italic = words.iter().filter(|(_, face)| *face == Face::Italic);
            assert_eq!(italic.map(|(word, _)| *word).collect::<Vec<_>>().join(" "), slanted);
            assert_eq!(words.iter().map(|(word, _)| *word).collect::<Vec<_>>().join(" "), name);
        }
        assert_eq!(without_authors("Russula persanguinea, 2023"), "Russula persanguinea, 2023");
    }

    #[test]
    fn authors_are_left_out_and_set_upright() {
        assert_eq!(without_authors("Mycena interrupta (Berk.) Sacc."), "Mycena interrupta");
        assert_eq!(without_authors("Inocybe sp. 2"), "Inocybe sp. 2");
        assert_eq!(without_authors("little brown thing"), "little brown thing");
        assert_eq!(without_authors("Salix \u{d7}rubens Schrank"), "Salix \u{d7} rubens");
        let words = words("Mycena interrupta (Berk.) Sacc.");
        assert_eq!(words[1], ("interrupta", Face::Italic));
        assert_eq!(words[2], ("(Berk.)", Face::Regular));
    }

    fn slanted(name: &str) -> String {
        let slanted = words(name).into_iter().filter(|(_, face)| *face == Face::Italic);
        slanted.map(|(word, _)| word).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn only_genus_and_epithets_are_italic() {
        for (name, expected) in [
            ("Mycena interrupta (Berk.) Sacc.", "Mycena interrupta"),
            ("Galerina hypnorum (Schrank) Kühner", "Galerina hypnorum"),
            ("Cortinarius aff. archeri Berk.", "Cortinarius archeri"),
            (
                "Fistulina hepatica subsp. antarctica (Speg.) J.E. Wright",
                "Fistulina hepatica antarctica",
            ),
            ("Boletus edulis Bull. var. albus Pers. ex Fr.", "Boletus edulis albus"),
            ("Agaricus campestris L. f.", "Agaricus campestris"),
            ("Russula sp.", "Russula"),
            (
                "Cortinarius (Phlegmacium) cf. odorifer Britzelm.",
                "Cortinarius (Phlegmacium) odorifer",
            ),
            ("Russula sp. 2", "Russula"),
            ("Mycena (cf.) interrupta", "Mycena interrupta"),
            ("Mycena pura s. lat.", "Mycena pura"),
            ("Mycena pura sensu lato", "Mycena pura"),
            ("Amanita muscaria (L.) Lam. var. muscaria", "Amanita muscaria muscaria"),
            ("Cortinarius subg. Phlegmacium (Fr.) Trog", "Cortinarius Phlegmacium"),
            ("Cortinarius (Telamonia) hinnuleus Fr.", "Cortinarius (Telamonia) hinnuleus"),
            ("Salix \u{d7}rubens Schrank", "Salix rubens"),
            ("Salix \u{d7} rubens Schrank", "Salix rubens"),
            ("Salix x rubens Schrank nothovar. basfordiana", "Salix rubens basfordiana"),
            ("\u{d7}Sorbaronia fallax (C.K. Schneid.) C.K. Schneid.", "Sorbaronia fallax"),
            ("Salix alba L. \u{d7} S. fragilis L.", "Salix alba S. fragilis"),
            ("Puccinia graminis Pers. f. sp. tritici Erikss.", "Puccinia graminis tritici"),
            ("cf. Mycena interrupta (Berk.) Sacc.", "Mycena interrupta"),
            ("small brown one", ""),
            ("", ""),
        ] {
            assert_eq!(slanted(name), expected, "{name}");
        }
    }

    #[test]
    fn all_words_are_kept() {
        let name =
            "Chlorociboria  aeruginascens (Nyl.) Kanouse ex C.S. Ramamurthi, Korf & L.R. Batra";
        let joined: Vec<&str> = words(name).into_iter().map(|(word, _)| word).collect();
        assert_eq!(joined.join(" "), name.replace("  ", " "));
    }
}
