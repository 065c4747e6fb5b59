//! Reads a scientific name: genus, epithets and rank apart from the author, and the form in which names
//! are compared. Uses the form of the words alone, no list of names. Layer: `model`.

use super::name_words::{joins_authors, rank};

/// A scientific name in its parts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TaxonName {
    /// Without author: `Amanita muscaria var. formosa`.
    pub canonical: String,
    /// The author of the last epithet.
    pub author: Option<String>,
}

impl TaxonName {
    /// Separates a name without qualifier; `None` where it does not begin as a name does.
    #[must_use]
    pub fn read(text: &str) -> Option<Self> {
        let words: Vec<&str> = text.split_whitespace().filter(|word| !is_cross(word)).collect();
        let (genus, rest) = words.split_first()?;
        let genus = genus.trim_start_matches('\u{d7}');
        if !genus.starts_with(char::is_uppercase) || !is_letters(genus) {
            return None;
        }
        let mut canonical = genus.to_owned();
        let (mut author, mut pending) = (Vec::new(), None);
        for (place, word) in rest.iter().enumerate() {
            let next = rest.get(place + 1);
            if let Some(known) = rank_before(word, next, canonical.contains(' ')) {
                pending = Some(known);
            } else if is_epithet(word) && (author.is_empty() || pending.is_some())
                || pending.is_some() && is_letters(word)
            {
                if let Some(rank) = pending.take() {
                    canonical = format!("{canonical} {rank}");
                }
                canonical = format!("{canonical} {}", word.trim_start_matches('\u{d7}'));
                author.clear();
            } else if !(author.is_empty() && is_subgenus(word, next)) {
                author.push(*word);
            }
        }
        let author = author.join(" ");
        Some(Self { canonical, author: Some(author).filter(|author| !author.is_empty()) })
    }

    /// The name in the form in which it is compared.
    #[must_use]
    pub fn key(&self) -> String {
        key(&self.canonical)
    }
}

/// A name without author for comparison: small letters without accents, hyphens and ranks.
#[must_use]
pub fn key(canonical: &str) -> String {
    let mut key = String::with_capacity(canonical.len());
    for word in canonical.split_whitespace() {
        if rank(word).is_some() || is_cross(word) {
            continue;
        }
        if !key.is_empty() {
            key.push(' ');
        }
        for letter in word.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase) {
            match letter {
                'ä' | 'æ' => key.push_str("ae"),
                'ö' | 'œ' | 'ø' => key.push_str("oe"),
                'ü' => key.push_str("ue"),
                'ë' | 'é' | 'è' => key.push('e'),
                'ï' | 'í' => key.push('i'),
                'å' | 'á' => key.push('a'),
                'ç' => key.push('c'),
                'ñ' => key.push('n'),
                'ó' => key.push('o'),
                other => key.push(other),
            }
        }
    }
    key
}

/// A name without author and its author: behind it, and in an autonym, whose last epithet has no author, behind the
/// name that it repeats. An author that is there stays alone.
///
/// # References
/// International Code of Nomenclature for algae, fungi, and plants, Art. 22.1 and 26.1 (from memory).
#[must_use]
pub fn with_author(canonical: &str, author: &str) -> String {
    let words: Vec<&str> = canonical.split_whitespace().collect();
    let own: Vec<&str> = author.split_whitespace().collect();
    if own.is_empty() || words.windows(own.len()).any(|some| some == own) {
        return canonical.to_owned();
    }
    if let [front @ .., before, last] = &words[..]
        && rank(before).is_some()
        && let Some(repeated) = front.iter().position(|word| word == last)
    {
        let (name, rest) = words.split_at(repeated + 1);
        return format!("{} {author} {}", name.join(" "), rest.join(" "));
    }
    format!("{canonical} {author}")
}

/// Whether two statements of authors are those of one name: years, spaces, points and brackets aside,
/// and where one is a shorter form of the other.
#[must_use]
pub fn same_author(one: &str, other: &str) -> bool {
    let bare = |text: &str| -> String {
        let joined = text.replace(" et ", "&").replace(" and ", "&");
        joined
            .chars()
            .filter(|c| c.is_alphabetic() || *c == '&')
            .flat_map(char::to_lowercase)
            .collect()
    };
    let (one, other) = (bare(one), bare(other));
    !one.is_empty() && !other.is_empty() && (one.starts_with(&other) || other.starts_with(&one))
}

/// `f.` is a rank only before an epithet: behind an author it is "the son".
fn rank_before(word: &str, next: Option<&&str>, has_epithet: bool) -> Option<&'static str> {
    let (rank, next) = (rank(word)?, next?);
    let fits = if rank.of_genus { is_letters(next) } else { has_epithet && is_epithet(next) };
    fits.then_some(rank.kept)
}

fn is_cross(word: &str) -> bool {
    matches!(word, "\u{d7}" | "x" | "X")
}

fn is_letters(word: &str) -> bool {
    word.chars().all(|c| c.is_alphabetic() || c == '-')
}

fn is_epithet(word: &str) -> bool {
    let word = word.trim_start_matches('\u{d7}');
    word.chars().count() > 1
        && word.chars().all(|c| c.is_lowercase() || c == '-')
        && !joins_authors(word)
}

/// `Cortinarius (Phlegmacium) odorifer`.
fn is_subgenus(word: &str, next: Option<&&str>) -> bool {
    let inner = word.strip_prefix('(').and_then(|word| word.strip_suffix(')'));
    inner.is_some_and(is_letters) && next.is_some_and(|next| is_epithet(next))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parts(text: &str) -> (String, String) {
        let name = TaxonName::read(text).unwrap_or_else(|| panic!("{text}"));
        (name.canonical, name.author.unwrap_or_default())
    }

    #[test]
    fn the_author_of_an_autonym_follows_what_it_repeats() {
        for (name, author, whole) in [
            ("Amanita muscaria", "(L.) Lam.", "Amanita muscaria (L.) Lam."),
            ("Amanita muscaria var. formosa", "Pers.", "Amanita muscaria var. formosa Pers."),
            (
                "Amanita muscaria var. muscaria",
                "(L.) Lam.",
                "Amanita muscaria (L.) Lam. var. muscaria",
            ),
            ("Russula subg. Russula", "Pers.", "Russula Pers. subg. Russula"),
            ("Bison bison", "L.", "Bison bison L."),
            ("Laccaria laccata", "L", "Laccaria laccata L"),
            (
                "Amanita muscaria (L.) Lam. var. muscaria",
                "(L.) Lam.",
                "Amanita muscaria (L.) Lam. var. muscaria",
            ),
        ] {
            assert_eq!(with_author(name, author), whole);
        }
    }

    #[test]
    fn authors_are_apart_from_the_name() {
        for (text, canonical, author) in [
            ("Mycena interrupta (Berk.) Sacc.", "Mycena interrupta", "(Berk.) Sacc."),
            ("Agaricus campestris L. f.", "Agaricus campestris", "L. f."),
            ("Mycena (Pers.) Roussel", "Mycena", "(Pers.) Roussel"),
            (
                "Amanita muscaria (L.) Lam. var. formosa Pers.",
                "Amanita muscaria var. formosa",
                "Pers.",
            ),
            (
                "Amanita muscaria ssp. flavivolvata Singer",
                "Amanita muscaria subsp. flavivolvata",
                "Singer",
            ),
            ("Cortinarius (Phlegmacium) odorifer Britzelm.", "Cortinarius odorifer", "Britzelm."),
            (
                "Cortinarius subg. Phlegmacium (Fr.) Trog",
                "Cortinarius subg. Phlegmacium",
                "(Fr.) Trog",
            ),
            (
                "Lepiota rhacodes var. hortensis Pilát f. tristis Beck",
                "Lepiota rhacodes var. hortensis f. tristis",
                "Beck",
            ),
            ("Mollisia cinerea van Heerden ex Smith", "Mollisia cinerea", "van Heerden ex Smith"),
            ("Russula × hybrida Jones", "Russula hybrida", "Jones"),
            ("Fungi", "Fungi", ""),
        ] {
            assert_eq!(parts(text), (canonical.to_owned(), author.to_owned()), "{text}");
        }
        for none in ["little brown thing", "", "?", "(Fr.) Kumm.", "42"] {
            assert_eq!(TaxonName::read(none), None, "{none}");
        }
    }

    #[test]
    fn names_are_compared_without_ranks_accents_and_hyphens() {
        assert_eq!(key("Amanita muscaria var. formosa"), "amanita muscaria formosa");
        assert_eq!(key("Mycena novae-zelandiae"), key("mycena novaezelandiae"));
        assert_eq!(key("Isoëtes"), "isoetes");
    }

    #[test]
    fn shorter_forms_of_authors_are_the_same() {
        assert!(same_author("(Berk.) Sacc.", "(Berk.) Sacc., 1887"));
        assert!(same_author("Berk. & Broome", "Berk. et Broome"));
        assert!(!same_author("Fr.", "Pers."));
        assert!(!same_author("", "Pers."));
    }
}
