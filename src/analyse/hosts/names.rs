//! Groups written hosts, substrates and habitats: case, spacing and authors aside, abbreviated genera
//! expanded where the store leaves no doubt. What is shown stays as written. Layer: `analyse`.

use std::collections::{BTreeMap, BTreeSet, HashMap};

/// A group of spellings.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spellings {
    /// The spelling that is written most often.
    pub shown: String,
    /// All spellings with the number of finds.
    pub written: BTreeMap<String, usize>,
}

/// The groups of all written texts of one column.
#[derive(Clone, Debug, Default)]
pub struct Groups {
    /// The groups, by what is shown.
    pub groups: Vec<Spellings>,
    of: HashMap<String, usize>,
}

impl Groups {
    /// Groups hosts, where abbreviations such as `Q. robur` and authors occur.
    #[must_use]
    pub fn of_hosts<'a>(written: impl IntoIterator<Item = &'a str>) -> Self {
        let counts = counts(written.into_iter().filter(|text| !is_unknown(text)));
        let full: BTreeSet<(String, String)> =
            counts.keys().filter_map(|text| binomial(text)).collect();
        Self::by(counts, |text| host_key(text, &full))
    }

    /// Groups substrates or habitats: case and spacing aside.
    #[must_use]
    pub fn of_words<'a>(written: impl IntoIterator<Item = &'a str>) -> Self {
        Self::by(counts(written), folded)
    }

    fn by(counts: BTreeMap<String, usize>, key: impl Fn(&str) -> String) -> Self {
        let mut of_key: BTreeMap<String, BTreeMap<String, usize>> = BTreeMap::new();
        for (text, count) in counts {
            of_key.entry(key(&text)).or_default().insert(text, count);
        }
        let mut groups: Vec<Spellings> = of_key
            .into_values()
            .filter_map(|written| {
                let most = written.iter().max_by_key(|(text, count)| (**count, text.len()))?;
                Some(Spellings { shown: most.0.clone(), written: written.clone() })
            })
            .collect();
        groups.sort_by(|a, b| a.shown.cmp(&b.shown));
        let each = groups.iter().enumerate();
        let of = each
            .flat_map(|(number, group)| {
                group.written.keys().map(move |text| (text.clone(), number))
            })
            .collect();
        Self { groups, of }
    }

    /// The group of a written text.
    #[must_use]
    pub fn of(&self, written: &str) -> Option<usize> {
        self.of.get(written.trim()).copied()
    }

    /// What is shown for a group.
    #[must_use]
    pub fn shown(&self, group: usize) -> &str {
        self.groups.get(group).map_or("", |group| &group.shown)
    }
}

fn counts<'a>(written: impl IntoIterator<Item = &'a str>) -> BTreeMap<String, usize> {
    let mut counts = BTreeMap::new();
    for text in written {
        let text = text.trim();
        if text.is_empty() {
            continue;
        }
        // most texts repeat: no copy for those
        if let Some(count) = counts.get_mut(text) {
            *count += 1;
        } else {
            counts.insert(text.to_owned(), 1);
        }
    }
    counts
}

fn folded(text: &str) -> String {
    text.split_whitespace().map(str::to_lowercase).collect::<Vec<_>>().join(" ")
}

/// Genus and epithet of a name that nothing but authors follows.
fn binomial(text: &str) -> Option<(String, String)> {
    let mut words = text.split_whitespace();
    let genus = words.next()?;
    let epithet = words.next().filter(|word| is_epithet(word))?;
    let authors: Vec<&str> = words.collect();
    // in lower case it is a name only with authors, else perhaps `old oak`
    let named = is_genus(genus) || (is_epithet(genus) && !authors.is_empty());
    (named && authors.into_iter().all(of_authors))
        .then(|| (genus.to_lowercase(), epithet.to_owned()))
}

/// Whether a text says that the host is not known, or that there is none.
fn is_unknown(text: &str) -> bool {
    let folded = folded(text);
    let plain = folded.trim_matches(|mark: char| !mark.is_alphanumeric());
    plain.is_empty()
        || matches!(
            plain,
            "unknown"
                | "none"
                | "no host"
                | "not known"
                | "undetermined"
                | "n/a"
                | "na"
                | "nil"
                | "unbekannt"
                | "keine"
                | "kein"
                | "inconnu"
                | "inconnue"
                | "aucun"
                | "desconocido"
        )
}

fn host_key(text: &str, full: &BTreeSet<(String, String)>) -> String {
    if let Some((genus, epithet)) = binomial(text) {
        return format!("{genus} {epithet}");
    }
    let words: Vec<&str> = text.split_whitespace().collect();
    match words[..] {
        [genus, rank] if is_genus(genus) && matches!(rank, "sp." | "spp." | "sp" | "spp") => {
            genus.to_lowercase()
        }
        [short, epithet] if is_epithet(epithet) => match abbreviated(short) {
            Some(start) => expanded(&start, epithet, full).unwrap_or_else(|| folded(text)),
            None => folded(text),
        },
        _ => folded(text),
    }
}

/// `q` for `Q.`, `qu` for `Qu.`
fn abbreviated(word: &str) -> Option<String> {
    let letters = word.strip_suffix('.')?;
    let short = (1..=3).contains(&letters.chars().count());
    (short && letters.starts_with(char::is_uppercase)).then(|| letters.to_lowercase())
}

/// The only full name in the store that it can stand for: of that epithet, else the only genus.
fn expanded(start: &str, epithet: &str, full: &BTreeSet<(String, String)>) -> Option<String> {
    let begun = || full.iter().filter(|(genus, _)| genus.starts_with(start));
    let with_epithet: BTreeSet<&str> =
        begun().filter(|(_, e)| e == epithet).map(|(genus, _)| genus.as_str()).collect();
    let any: BTreeSet<&str> = begun().map(|(genus, _)| genus.as_str()).collect();
    let genera = if with_epithet.is_empty() { any } else { with_epithet };
    let only = genera.first().filter(|_| genera.len() == 1)?;
    Some(format!("{only} {epithet}"))
}

fn is_genus(word: &str) -> bool {
    let mut letters = word.chars();
    letters.next().is_some_and(char::is_uppercase)
        && letters.clone().count() >= 2
        && letters.all(|letter| letter.is_lowercase() || letter == '-')
}

fn is_epithet(word: &str) -> bool {
    word.chars().count() >= 2 && word.chars().all(|letter| letter.is_lowercase() || letter == '-')
}

fn of_authors(word: &str) -> bool {
    word.starts_with(|first: char| first.is_uppercase() || first == '(')
        || matches!(word, "&" | "ex" | "et" | "in" | "f." | "and" | "de" | "von")
        || matches!(word, "agg." | "agg" | "s.l." | "s.lat." | "s.str." | "coll." | "aggr.")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hosts_are_grouped_only_where_there_is_no_doubt() {
        let written = [
            "Quercus robur",
            "Quercus robur L.",
            "quercus robur",
            "Q. robur",
            "Q. robur",
            "Fagus sylvatica",
            "F. sylvatica",
            "Fraxinus excelsior",
            "F. alba",
            "Betula",
            "Betula sp.",
            "B. pendula",
            "Oak",
            "oak",
            "Old oak stump",
            "Quercus, Fagus",
            "Qu. petraea",
        ];
        let groups = Groups::of_hosts(written);
        let same = |a: &str, b: &str| groups.of(a) == groups.of(b);
        assert!(same("Quercus robur", "Q. robur") && same("Quercus robur", "Quercus robur L."));
        assert!(same("quercus robur", "Q. robur"));
        // two genera begin with F, only one has the epithet
        assert!(same("F. sylvatica", "Fagus sylvatica"));
        assert!(!same("F. alba", "Fagus sylvatica") && !same("F. alba", "Fraxinus excelsior"));
        assert!(same("Betula", "Betula sp.") && same("Oak", "oak"));
        // no full name begins with B
        assert_eq!(groups.shown(groups.of("B. pendula").unwrap()), "B. pendula");
        assert!(!same("Old oak stump", "Oak") && !same("Quercus, Fagus", "Quercus robur"));
        // Quercus is the only genus with Qu
        assert_eq!(groups.shown(groups.of("Qu. petraea").unwrap()), "Qu. petraea");
        // the most frequent spelling is shown
        assert_eq!(groups.shown(groups.of("Quercus robur").unwrap()), "Q. robur");
        assert_eq!(groups.of("Alnus"), None);
    }

    #[test]
    fn unknown_hosts_are_no_hosts_and_authors_do_not_part_names() {
        let written = [
            "?",
            "Unknown",
            "none",
            "-",
            "n/a",
            "Quercus robur",
            "quercus robur L.",
            "Quercus robur agg.",
            "old oak",
        ];
        let groups = Groups::of_hosts(written);
        assert_eq!(groups.groups.len(), 2, "{groups:?}");
        assert_eq!(groups.of("?"), None);
        assert_eq!(groups.of("quercus robur L."), groups.of("Quercus robur agg."));
    }

    #[test]
    fn habitats_differ_by_their_last_word() {
        let groups = Groups::of_words(["Wet  forest", "wet forest", "wet heath", " "]);
        assert_eq!(groups.groups.len(), 2);
        assert_eq!(groups.groups[1].written.values().sum::<usize>(), 1);
    }
}
