//! Compares determined names with sensitive taxa: the same, in another writing, possibly the same, or similar
//! in spelling. Layer: `model`.
//!
//! Invisible characters, hyphens, accents, case, spaces, authors, ranks and qualifiers do not reduce
//! protection; an abbreviated genus can be any genus that begins so.

use super::name_words::{edit_distance, is_doubt, is_rank_below_species, is_undetermined};

/// Words that state no species of their own, beside those of ranks and doubt.
const FILLERS: [&str; 35] = [
    "ined",
    "gr",
    "grp",
    "group",
    "agg",
    "aggr",
    "aggregate",
    "complex",
    "coll",
    "s",
    "l",
    "sl",
    "ss",
    "str",
    "lat",
    "sensu",
    "lato",
    "stricto",
    "auct",
    "subg",
    "subgen",
    "subgenus",
    "sect",
    "section",
    "subsect",
    "ser",
    "series",
    "x",
    "nov",
    "comb",
    "nom",
    "vel",
    "or",
    "ex",
    "ad",
];
/// Letters of a genus after which an abbreviation is no longer expected (chosen).
const LONGEST_ABBREVIATION: usize = 5;
/// Letters that are always an abbreviation, where no epithet confirms it (from memory: no genus of fungi is so
/// short).
const SHORTEST_GENUS: usize = 2;
/// Letters run together, or apart, are compared from this length on: shorter ones match by coincidence (chosen).
const LEAST_RUN: usize = 8;

/// How far a determined name is that of a sensitive taxon; the surest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Match {
    /// It is the taxon, whatever qualifies it.
    Same,
    /// It may be the taxon: the genus is abbreviated, or the taxon stands among other words.
    Possible,
    /// It is spelt almost like it.
    Similar,
}

/// The words of a name: lower case, without accents, marks and invisible characters; without qualifiers and
/// ranks.
#[derive(Clone, Debug)]
pub(crate) struct Words {
    /// Split at spaces and marks; hyphens within words are left out.
    plain: Vec<String>,
    /// The same, split at hyphens too.
    parted: Vec<String>,
}

impl Words {
    /// Of a determined name.
    pub(crate) fn of_name(text: &str) -> Self {
        let bare = |at_hyphens| {
            let mut kept: Vec<String> = Vec::new();
            for word in split(text, at_hyphens) {
                if !is_filler(&word, kept.is_empty()) {
                    kept.push(word);
                }
            }
            kept
        };
        Self { plain: bare(false), parted: bare(true) }
    }

    /// Of the taxon of a rule, without its author: behind the second word only what follows a rank.
    pub(crate) fn of_taxon(text: &str) -> Self {
        let text = without_author_of_genus(text);
        let reduced = |at_hyphens| {
            let mut kept: Vec<String> = Vec::new();
            let mut after_rank = false;
            for word in split(&text, at_hyphens) {
                if is_filler(&word, kept.is_empty()) {
                    after_rank = is_rank_below_species(&word);
                    continue;
                }
                if kept.len() < 2 || after_rank {
                    kept.push(word);
                }
                after_rank = false;
            }
            kept
        };
        Self { plain: reduced(false), parted: reduced(true) }
    }
}

/// Whether a word states no genus or species; an abbreviated genus can be written like one of these words.
fn is_filler(word: &str, first: bool) -> bool {
    is_doubt(word)
        || !first
            && (FILLERS.contains(&word) || is_rank_below_species(word) || is_undetermined(word))
}

fn split(text: &str, at_hyphens: bool) -> Vec<String> {
    let mut words = vec![String::new()];
    for letter in text.chars() {
        if is_invisible(letter) || is_hyphen(letter) && !at_hyphens || is_accent(letter) {
            continue;
        }
        if letter.is_alphanumeric() {
            if let Some(word) = words.last_mut() {
                letter.to_lowercase().for_each(|small| fold(small, word));
            }
        } else {
            words.push(String::new());
        }
    }
    words.retain(|word| !word.is_empty());
    words
}

/// Soft hyphens, joiners, marks of direction and other characters without a width.
fn is_invisible(letter: char) -> bool {
    matches!(
        letter,
        '\u{ad}' | '\u{34f}' | '\u{61c}' | '\u{180e}' | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}'
    ) || letter.is_control() && !letter.is_whitespace()
}

fn is_hyphen(letter: char) -> bool {
    matches!(letter, '-' | '\u{2010}'..='\u{2013}' | '\u{2212}' | '\u{fe63}' | '\u{ff0d}')
}

fn is_accent(letter: char) -> bool {
    ('\u{300}'..='\u{36f}').contains(&letter)
}

/// The letters without accents, ligatures, full width and those of other scripts that look alike.
const FOLDED: [(&str, &str); 26] = [
    ("\u{e0}\u{e1}\u{e2}\u{e3}\u{e5}\u{101}\u{103}\u{105}\u{430}\u{3b1}", "a"),
    ("\u{e4}\u{e6}", "ae"),
    ("\u{432}\u{3b2}", "b"),
    ("\u{e7}\u{107}\u{10d}\u{441}", "c"),
    ("\u{10f}\u{111}", "d"),
    ("\u{e8}\u{e9}\u{ea}\u{eb}\u{113}\u{117}\u{119}\u{11b}\u{435}\u{451}\u{3b5}", "e"),
    ("\u{11f}", "g"),
    ("\u{43d}\u{4bb}", "h"),
    ("\u{ec}\u{ed}\u{ee}\u{ef}\u{131}\u{12b}\u{456}\u{457}\u{3b9}", "i"),
    ("\u{458}", "j"),
    ("\u{43a}\u{3ba}", "k"),
    ("\u{142}\u{13a}\u{13e}", "l"),
    ("\u{43c}", "m"),
    ("\u{f1}\u{144}\u{148}\u{3bd}", "n"),
    ("\u{f2}\u{f3}\u{f4}\u{f5}\u{14d}\u{151}\u{43e}\u{3bf}", "o"),
    ("\u{f6}\u{f8}\u{153}", "oe"),
    ("\u{440}\u{3c1}", "p"),
    ("\u{155}\u{159}", "r"),
    ("\u{15b}\u{15f}\u{161}\u{219}\u{455}", "s"),
    ("\u{df}", "ss"),
    ("\u{163}\u{165}\u{21b}\u{442}\u{3c4}", "t"),
    ("\u{f9}\u{fa}\u{fb}\u{16b}\u{16f}\u{171}\u{3c5}", "u"),
    ("\u{fc}", "ue"),
    ("\u{445}\u{3c7}", "x"),
    ("\u{fd}\u{ff}\u{443}", "y"),
    ("\u{17a}\u{17c}\u{17e}", "z"),
];

fn fold(letter: char, word: &mut String) {
    let wide = u32::from(letter).checked_sub(0xff41).filter(|place| *place < 26);
    let narrow = wide.and_then(|place| char::from_u32(u32::from('a') + place));
    let folded = FOLDED.iter().find(|(letters, _)| letters.contains(letter));
    match (narrow, folded) {
        (Some(narrow), _) => word.push(narrow),
        (None, Some((_, plain))) => word.push_str(plain),
        (None, None) => word.push(letter),
    }
}

/// `Hericium (Fr.) Pers.` and `Hericium Pers.` without the author, `Cortinarius (Phlegmacium) odorifer` without
/// the subgenus.
fn without_author_of_genus(taxon: &str) -> String {
    let words: Vec<&str> = taxon.split_whitespace().collect();
    let [genus, second, rest @ ..] = words.as_slice() else { return taxon.to_owned() };
    let is_epithet = |word: &&str| word.starts_with(char::is_lowercase) && !word.contains('.');
    if second.starts_with('(') {
        return match (second.contains('.'), rest.first()) {
            (false, None) => taxon.to_owned(),
            (false, Some(next)) if is_epithet(next) => format!("{genus} {}", rest.join(" ")),
            _ => (*genus).to_owned(),
        };
    }
    let letters = second.trim_end_matches('.').to_lowercase();
    let abbreviated = second.ends_with('.') && letters.chars().count() > 1;
    if abbreviated && !is_filler(&letters, false) && genus.chars().count() > 2 {
        return (*genus).to_owned();
    }
    taxon.to_owned()
}

/// Whether a determined name is or may be that of the taxon, and how surely.
pub(crate) fn compared(name: &Words, taxon: &Words) -> Option<Match> {
    if taxon.plain.is_empty() {
        return None;
    }
    let pairs = [(&name.plain, &taxon.plain), (&name.parted, &taxon.parted)];
    let any = |test: fn(&[String], &[String]) -> bool| {
        pairs.iter().any(|(name, taxon)| test(name, taxon))
    };
    if any(<[String]>::starts_with) {
        Some(Match::Same)
    } else if any(is_abbreviation) || any(is_among) || any(runs_together) {
        Some(Match::Possible)
    } else {
        any(is_similar).then_some(Match::Similar)
    }
}

/// Whether a determined name is or may be of the taxon.
#[must_use]
pub(crate) fn may_be(name: &str, taxon: &str) -> bool {
    let found = compared(&Words::of_name(name), &Words::of_taxon(taxon));
    found.is_some_and(|found| found < Match::Similar)
}

/// `H. coralloides`, `Her. coralloides`: a shorter genus that begins so, before the same words. For a genus any
/// name with such an abbreviation may be of it. A rule can be abbreviated as well.
fn is_abbreviation(name: &[String], taxon: &[String]) -> bool {
    let (Some((genus, epithets)), Some((of_taxon, wanted))) =
        (name.split_first(), taxon.split_first())
    else {
        return false;
    };
    let (short, long) =
        if genus.len() < of_taxon.len() { (genus, of_taxon) } else { (of_taxon, genus) };
    short.len() < long.len()
        && short.chars().count() <= LONGEST_ABBREVIATION
        && long.starts_with(short)
        && (epithets.starts_with(wanted) || joined_start(epithets, wanted))
        && (!wanted.is_empty() || short.chars().count() <= SHORTEST_GENUS)
}

/// The words of the taxon in order, others between them: `Hericium sp., perhaps coralloides`.
fn is_among(name: &[String], taxon: &[String]) -> bool {
    let mut words = name.iter();
    taxon.iter().all(|wanted| words.any(|word| word == wanted))
}

/// Spaces within words or none between them: `Hericiumcoralloides Pers.`, `Hericium coral loides`.
fn runs_together(name: &[String], taxon: &[String]) -> bool {
    let wanted = taxon.concat();
    taxon.len() > 1 && wanted.chars().count() >= LEAST_RUN && name.concat().contains(&wanted)
}

fn joined_start(words: &[String], wanted: &[String]) -> bool {
    let wanted = wanted.concat();
    wanted.chars().count() >= LEAST_RUN && words.concat().starts_with(&wanted)
}

/// An edit distance of one letter, or two where the taxon has ten letters or more.
fn is_similar(name: &[String], taxon: &[String]) -> bool {
    const LONG: usize = 10;
    if name.len() < taxon.len() {
        return false;
    }
    let (name, taxon) = (name[..taxon.len()].join(" "), taxon.join(" "));
    let most = if taxon.chars().count() < LONG { 1 } else { 2 };
    edit_distance(&name, &taxon) <= most
}

/// Whether two names may refer to one taxon: the same genus, or one that abbreviates it, and the same species
/// where both have one.
pub(crate) fn same_taxon(one: &str, other: &str) -> bool {
    let (one, other) = (Words::of_taxon(one), Words::of_taxon(other));
    let same = |one: &[String], other: &[String]| {
        let shared = one.len().min(other.len()).min(2);
        let begins = |a: &str, b: &str| a.len() <= LONGEST_ABBREVIATION && b.starts_with(a);
        shared > 0
            && (one[0] == other[0] || begins(&one[0], &other[0]) || begins(&other[0], &one[0]))
            && one[1..shared] == other[1..shared]
    };
    same(&one.plain, &other.plain) || same(&one.parted, &other.parted)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn uncertain_determination_of_a_sensitive_taxon_is_sensitive() {
        assert!(may_be("Hygrocybe graminicolor (E. Horak) T.W. May", "hygrocybe graminicolor"));
        assert!(may_be("Hygrocybe cf. graminicolor", "Hygrocybe graminicolor"));
        assert!(may_be("Hygrocybe graminicolor?", "Hygrocybe graminicolor"));
        assert!(may_be("Hygrocybe sp.", "Hygrocybe"));
        assert!(!may_be("Hygrocybella rubra", "Hygrocybe"));
        assert!(!may_be("Hygrocybe lanecovensis", "Hygrocybe graminicolor"));
        assert!(!may_be("Hygrocybe", ""));
    }

    #[test]
    fn other_writings_of_a_sensitive_taxon_are_sensitive() {
        const TAXON: &str = "Hericium coralloides";
        let compared = |name: &str| compared(&Words::of_name(name), &Words::of_taxon(TAXON));
        for same in [
            "Hericium coralloides gr.",
            "Hericium coralloides agg.",
            "Hericium coralloides s. lat.",
            "Hericium coralloides s.l.",
            "cf. Hericium coralloides",
            "Hericium cf.coralloides",
            "Hericium gr. coralloides",
            "HERICIUM CORALLOIDES",
            "Hericium  \u{a0} coralloides",
            "Hericium coral\u{ad}loides",
            "Heri\u{200b}cium coralloides",
            "Hericium\u{feff} coral-loides",
            "Hericium-coralloides",
            "Hericium coralloides(Scop.)Pers.",
            "Hericium coralloides, old log",
            "\u{ff28}\u{ff45}\u{ff52}ici\u{fa}m coralloid\u{e8}s",
            "H\u{435}ricium c\u{43e}ralloides",
            "Hericium_coralloides",
            "Hericium sp., perhaps coralloides",
            "\"Hericium coralloides\"",
        ] {
            assert_eq!(compared(same), Some(Match::Same), "{same}");
        }
        for possible in [
            "H. coralloides",
            "H.coralloides",
            "H coralloides",
            "Her. coralloides (Scop.) Pers.",
            "H. cf. coralloides",
            "H. coral loides",
            "Hericium coral loides",
            "Hericiumcoralloides Pers.",
            "Hericium coralloidesPers.",
            "Hericium erinaceus, not coralloides",
            "Mycena sp. on Hericium coralloides",
        ] {
            assert_eq!(compared(possible), Some(Match::Possible), "{possible}");
        }
        for other in
            ["H. erinaceus", "Hygrocybe coralloides", "Hericium", "", "\u{200b}", "C. coralloides"]
        {
            assert!(!may_be(other, TAXON), "{other}");
        }
    }

    #[test]
    fn authors_ranks_and_abbreviations_of_a_rule_do_not_narrow_it() {
        for rule in [
            "Hericium coralloides (Scop.) Pers.",
            "hericium coralloides (scop.) pers.",
            "H. coralloides",
            "Hericium coralloides agg.",
            "Hericium  coral\u{ad}loides",
            "Hericium",
            "Hericium Pers.",
            "Hericium (Fr.) Pers.",
            "Hericium sp.",
        ] {
            assert!(may_be("Hericium coralloides", rule), "{rule}");
        }
        assert!(may_be("H. coralloides", "Hericium"));
        assert!(!may_be("Mycena nargan", "Hericium Pers."));
        let variety = "Amanita muscaria var. formosa";
        assert!(may_be("Amanita muscaria var. formosa Pers.", variety));
        assert!(may_be("Amanita muscaria f. formosa", variety));
        assert!(!may_be("Amanita muscaria", variety));
        assert!(!may_be("Mycenastrum corium", "Mycena"));
        assert!(may_be("S. luteus", "Suillus luteus") && may_be("Suillus luteus", "S. luteus"));
        assert!(may_be("Gr. frondosa", "Grifola frondosa"));
        let of_subgenus = "Cortinarius (Phlegmacium) odorifer Britzelm.";
        assert!(may_be("Cortinarius odorifer", of_subgenus));
        assert!(may_be(of_subgenus, "Cortinarius odorifer"));
        assert!(may_be("Agaricus campestris", "Agaricus campestris L. f. ex Fr."));
    }

    #[test]
    fn spelling_error_is_similar_and_other_species_is_not() {
        let similar = |name: &str, taxon: &str| {
            compared(&Words::of_name(name), &Words::of_taxon(taxon)) == Some(Match::Similar)
        };
        assert!(similar("Hygrocybe gramincolor", "hygrocybe graminicolor"));
        assert!(similar("Hygrocibe graminicollor", "hygrocybe graminicolor"));
        assert!(similar("Mycenna interrupta", "mycena"));
        assert!(!similar("Hygrocybe graminicolor", "hygrocybe graminicolor"));
        assert!(!similar("Hygrocybe lanecovensis", "hygrocybe graminicolor"));
        assert!(!similar("Mycena", "hygrocybe graminicolor"));
        assert!(!similar("Mycena", ""));
    }

    #[test]
    fn genus_matches_its_species() {
        assert!(same_taxon("Hygrocybe sp.", "Hygrocybe graminicolor"));
        assert!(same_taxon("Hygrocybe graminicolor (E. Horak) T.W. May", "hygrocybe graminicolor"));
        assert!(same_taxon("H. graminicolor", "hygrocybe graminicolor"));
        assert!(!same_taxon("Hygrocybe lanecovensis", "Hygrocybe graminicolor"));
        assert!(!same_taxon("", "Hygrocybe"));
    }
}
