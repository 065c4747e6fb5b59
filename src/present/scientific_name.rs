//! Decides which words of a scientific name are set in italics: genus and epithets, not authors, ranks
//! and qualifiers (common practice of herbarium labels). Uses the form of the words alone, no list of
//! names. Layer: `present`.

use super::fonts::Face;

/// Ranks and qualifiers, written upright between italic words.
const UPRIGHT: [&str; 14] = [
    "subsp.", "ssp.", "var.", "f.", "forma", "sect.", "subg.", "ser.", "aff.", "cf.", "sp.",
    "spp.", "nom.", "x",
];

/// The name without its authors, for a table: genus, epithets, ranks and doubts; words that have not
/// the form of a name stay as they are.
#[must_use]
pub fn without_authors(name: &str) -> String {
    let words = words(name);
    if words.iter().all(|(_, face)| *face == Face::Regular) {
        return name.to_owned();
    }
    let counted = |word: &str| word.contains(|c: char| c.is_ascii_digit());
    let kept = words
        .iter()
        .filter(|(word, face)| *face == Face::Italic || UPRIGHT.contains(word) || counted(word));
    kept.map(|(word, _)| *word).collect::<Vec<_>>().join(" ")
}

/// The words of a name with their face, in order; joined by spaces they give the name again, runs of
/// spaces made one.
#[must_use]
pub fn words(name: &str) -> Vec<(&str, Face)> {
    let mut words = Vec::new();
    let (mut in_name, mut after_rank, mut in_authors) = (false, false, false);
    for word in name.split_whitespace() {
        let rank = UPRIGHT.contains(&word);
        let low = word.starts_with(char::is_lowercase);
        let slanted = if in_name {
            low && !rank && (!in_authors || after_rank) && !joins_authors(word)
        } else {
            word.starts_with(char::is_uppercase) && !word.contains('.')
        };
        in_authors |= in_name && !low && !rank;
        in_name |= slanted;
        after_rank = rank;
        words.push((word, if slanted { Face::Italic } else { Face::Regular }));
        if !in_name && !rank {
            // not the form of a name: a description in plain words
            let rest = name.split_whitespace().skip(words.len());
            words.extend(rest.map(|word| (word, Face::Regular)));
            break;
        }
    }
    words
}

/// Small words between authors.
fn joins_authors(word: &str) -> bool {
    matches!(word, "ex" | "in" | "et" | "and" | "de" | "von" | "van" | "auct." | "sensu" | "non")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn authors_are_left_out_and_set_upright() {
        assert_eq!(without_authors("Mycena interrupta (Berk.) Sacc."), "Mycena interrupta");
        assert_eq!(without_authors("Inocybe sp. 2"), "Inocybe sp. 2");
        assert_eq!(without_authors("little brown thing"), "little brown thing");
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
