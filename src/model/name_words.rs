//! Lists the words that stand in scientific names without being names themselves: ranks, words of doubt, words for
//! an undetermined species, and those that join authors. One list for every reader of names. Layer: `model`.

/// A rank between the words of a name.
#[derive(Debug)]
pub(crate) struct Rank {
    /// As written, without the point at its end.
    letters: &'static str,
    /// Whether it is one only with its point: without it the letters mean something else.
    pointed: bool,
    /// As names keep it.
    pub(crate) kept: &'static str,
    /// Whether it stands below the genus and the name behind it begins with a capital; otherwise below the species.
    pub(crate) of_genus: bool,
}

const fn below_species(letters: &'static str, pointed: bool, kept: &'static str) -> Rank {
    Rank { letters, pointed, kept, of_genus: false }
}

const fn below_genus(letters: &'static str, kept: &'static str) -> Rank {
    Rank { letters, pointed: true, kept, of_genus: true }
}

const RANKS: [Rank; 17] = [
    below_species("subsp", false, "subsp."),
    below_species("ssp", false, "subsp."),
    below_species("var", false, "var."),
    below_species("f", true, "f."),
    below_species("fo", true, "f."),
    below_species("forma", false, "f."),
    below_species("subvar", true, "subvar."),
    below_species("subf", true, "subf."),
    below_species("f.sp", true, "f.sp."),
    below_species("nothosubsp", true, "nothosubsp."),
    below_species("nothovar", true, "nothovar."),
    below_species("morph", true, "morph."),
    below_genus("subg", "subg."),
    below_genus("sect", "sect."),
    below_genus("subsect", "subsect."),
    below_genus("ser", "ser."),
    below_genus("subser", "subser."),
];

/// Words that make what follows uncertain.
const DOUBTS: [&str; 9] =
    ["cf", "cfr", "conf", "aff", "nr", "prob", "probably", "possibly", "perhaps"];
/// Words in place of an epithet that is not known.
const UNDETERMINED: [&str; 6] = ["sp", "spp", "spec", "species", "indet", "undet"];
/// Words behind a name that is meant in a wide or a narrow sense.
const AGGREGATES: [&str; 3] = ["agg", "s.l", "s.str"];
/// Lower-case words that begin or join authors.
const OF_AUTHORS: [&str; 20] = [
    "ex", "in", "et", "and", "de", "du", "da", "von", "van", "der", "den", "ten", "ter", "zu", "y",
    "auct", "sensu", "non", "nec", "nom",
];

/// The rank that a word is.
pub(crate) fn rank(word: &str) -> Option<&'static Rank> {
    let (letters, has_point) = match word.strip_suffix('.') {
        Some(letters) => (letters, true),
        None => (word, false),
    };
    RANKS.iter().find(|rank| rank.letters == letters && (has_point || !rank.pointed))
}

/// Whether letters, of which marks were removed, are those of a rank below the species.
pub(crate) fn is_rank_below_species(letters: &str) -> bool {
    RANKS.iter().any(|rank| !rank.of_genus && rank.letters == letters)
}

/// Whether a word makes what follows uncertain: `cf.`, `aff`.
pub(crate) fn is_doubt(word: &str) -> bool {
    is_of(&DOUBTS, word)
}

/// Whether a word says that the species is not known: `sp.`, `indet.`.
pub(crate) fn is_undetermined(word: &str) -> bool {
    is_of(&UNDETERMINED, word)
}

/// Whether a word says in which sense the name before it is meant: `agg.`, `s.l.`.
pub(crate) fn is_aggregate(word: &str) -> bool {
    is_of(&AGGREGATES, word)
}

/// Whether a word in small letters begins or joins authors: `ex`, `von`.
pub(crate) fn joins_authors(word: &str) -> bool {
    OF_AUTHORS.contains(&word.trim_end_matches('.'))
}

fn is_of(words: &[&str], word: &str) -> bool {
    words.contains(&word.trim_end_matches('.').to_lowercase().as_str())
}

/// The edit distance (Levenshtein 1966).
pub(crate) fn edit_distance(a: &str, b: &str) -> usize {
    let b: Vec<char> = b.chars().collect();
    let mut row: Vec<usize> = (0..=b.len()).collect();
    for (i, letter) in a.chars().enumerate() {
        let mut before = row[0];
        row[0] = i + 1;
        for (j, other) in b.iter().enumerate() {
            let changed = before + usize::from(letter != *other);
            before = row[j + 1];
            row[j + 1] = changed.min(row[j] + 1).min(before + 1);
        }
    }
    row[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranks_need_their_point_where_the_letters_can_mean_something_else() {
        assert_eq!(rank("ssp").map(|rank| rank.kept), Some("subsp."));
        assert_eq!(rank("f.").map(|rank| rank.kept), Some("f."));
        assert_eq!(rank("f.sp.").map(|rank| rank.kept), Some("f.sp."));
        assert!(rank("sect.").is_some_and(|rank| rank.of_genus));
        for none in ["f", "sect", "Var.", "muscaria", "", "."] {
            assert!(rank(none).is_none(), "{none}");
        }
    }

    #[test]
    fn words_of_doubt_are_known_with_and_without_a_point() {
        for word in ["cf", "Cf.", "aff.", "nr"] {
            assert!(is_doubt(word) && !is_undetermined(word), "{word}");
        }
        for word in ["sp.", "spec.", "Spp", "indet."] {
            assert!(is_undetermined(word) && !is_doubt(word), "{word}");
        }
        assert!(is_aggregate("s.l.") && joins_authors("auct.") && !joins_authors("muscaria"));
    }
}
