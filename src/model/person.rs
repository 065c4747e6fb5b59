//! Compares names of people as they are written: case and accents do not matter, and a given name may be an initial.
//! Layer: `model`.

/// A person's given names and surname, in small letters without accents.
#[derive(Debug, PartialEq, Eq)]
struct Person {
    given: Vec<String>,
    surname: String,
}

impl Person {
    fn of(name: &str) -> Option<Self> {
        // `Müller, J.`
        let turned = match name.split_once(',') {
            Some((surname, given)) if !given.trim().is_empty() => format!("{given} {surname}"),
            _ => name.replace(',', " "),
        };
        let words = turned.split(|c: char| c.is_whitespace() || c == '.');
        let mut words: Vec<String> = words.map(folded).filter(|word| !word.is_empty()).collect();
        let surname = words.pop()?;
        Some(Self { given: words, surname })
    }

    /// Whether both may be one person: a given name is an initial of the other, or one of them has fewer.
    fn may_be(&self, other: &Self) -> bool {
        let is_name = |one: &str, other: &str| {
            let initial =
                |one: &str, other: &str| one.chars().count() == 1 && other.starts_with(one);
            one == other || initial(one, other) || initial(other, one)
        };
        let pairs = || self.given.iter().zip(&other.given);
        self.surname == other.surname
            && self.given.is_empty() == other.given.is_empty()
            && pairs().all(|(one, other)| is_name(one, other))
    }

    fn initials(&self) -> String {
        self.given.iter().chain([&self.surname]).filter_map(|name| name.chars().next()).collect()
    }
}

/// Whether two names may be of one person: `J. Müller`, `Johann Muller`, `Müller, Johann` and `JM`. A name may hold
/// several people, of whom one counts.
///
/// # Examples
/// ```
/// use trug::model::same_person;
/// assert!(same_person("J. M\u{fc}ller", "Johann Muller"));
/// assert!(!same_person("J. M\u{fc}ller", "K. M\u{fc}ller"));
/// ```
#[must_use]
pub fn same_person(one: &str, other: &str) -> bool {
    if words(one) == words(other) {
        return true;
    }
    people(one).any(|one| people(other).any(|other| is_same(one, other)))
}

fn is_same(one: &str, other: &str) -> bool {
    if words(one) == words(other) {
        return !words(one).is_empty();
    }
    let (Some(first), Some(second)) = (Person::of(one), Person::of(other)) else { return false };
    let by_initials = |letters: &str, person: &Person| {
        initials(letters)
            .is_some_and(|letters| !person.given.is_empty() && letters == person.initials())
    };
    first.may_be(&second) || by_initials(one, &second) || by_initials(other, &first)
}

/// The letters of a name that is only initials: `JM`, `J.M.`.
fn initials(name: &str) -> Option<String> {
    let letters = || name.chars().filter(|c| c.is_alphabetic());
    let is_short = (2..=4).contains(&letters().count()) && letters().all(char::is_uppercase);
    let plain = name.trim().chars().all(|c| c.is_alphabetic() || c == '.' || c == ' ');
    (is_short && plain).then(|| folded(&letters().collect::<String>()))
}

/// The people whom a text names.
fn people(text: &str) -> impl Iterator<Item = &str> {
    text.split([';', '&', '+', '/', '|']).map(str::trim).filter(|name| !name.is_empty())
}

/// The words of a name, in small letters without accents.
fn words(name: &str) -> Vec<String> {
    name.split_whitespace().map(folded).collect()
}

/// In small letters without accents; other marks are kept.
fn folded(word: &str) -> String {
    let mut plain = String::with_capacity(word.len());
    for c in word.chars().flat_map(char::to_lowercase) {
        match c {
            '\u{e0}'..='\u{e5}' | '\u{101}' | '\u{103}' | '\u{105}' => plain.push('a'),
            '\u{e7}' | '\u{107}' | '\u{10d}' => plain.push('c'),
            '\u{10f}' | '\u{111}' | '\u{f0}' => plain.push('d'),
            '\u{e8}'..='\u{eb}' | '\u{113}' | '\u{117}' | '\u{119}' | '\u{11b}' => plain.push('e'),
            '\u{11f}' | '\u{123}' => plain.push('g'),
            '\u{ec}'..='\u{ef}' | '\u{12b}' | '\u{131}' => plain.push('i'),
            '\u{142}' | '\u{13e}' | '\u{13c}' => plain.push('l'),
            '\u{f1}' | '\u{144}' | '\u{148}' | '\u{146}' => plain.push('n'),
            '\u{f2}'..='\u{f6}' | '\u{f8}' | '\u{151}' => plain.push('o'),
            '\u{159}' => plain.push('r'),
            '\u{15b}' | '\u{15f}' | '\u{161}' => plain.push('s'),
            '\u{163}' | '\u{165}' => plain.push('t'),
            '\u{f9}'..='\u{fc}' | '\u{16b}' | '\u{16f}' | '\u{171}' => plain.push('u'),
            '\u{fd}' | '\u{ff}' => plain.push('y'),
            '\u{17a}' | '\u{17c}' | '\u{17e}' => plain.push('z'),
            '\u{e6}' => plain.push_str("ae"),
            '\u{153}' => plain.push_str("oe"),
            '\u{df}' => plain.push_str("ss"),
            // combining marks
            '\u{300}'..='\u{36f}' => {}
            c => plain.push(c),
        }
    }
    plain
}

#[cfg(test)]
mod tests {
    use super::same_person;

    #[test]
    fn case_accents_order_and_initials_do_not_matter() {
        for name in [
            "J. M\u{fc}ller",
            "J.M\u{fc}ller",
            "j. muller",
            "Johann Muller",
            "JOHANN M\u{dc}LLER",
            "M\u{fc}ller, J.",
            "M\u{fc}ller, Johann",
            "JM",
            "J.M.",
            "Johann K. M\u{fc}ller",
            "A. Heron & J. M\u{fc}ller",
        ] {
            assert!(same_person(name, "Johann M\u{fc}ller"), "{name}");
            assert!(same_person("Johann M\u{fc}ller", name), "{name}");
        }
        assert!(same_person("Heron", "HERON") && same_person("leg. team", "Leg. Team"));
    }

    #[test]
    fn other_people_are_others() {
        for name in [
            "K. M\u{fc}ller",
            "Jakob M\u{fc}ller",
            "J. Maller",
            "jm",
            "M\u{fc}ller",
            "JK",
            "",
            "Johann",
            "MJ",
        ] {
            assert!(!same_person(name, "Johann M\u{fc}ller"), "{name}");
            assert!(!same_person("Johann M\u{fc}ller", name), "{name}");
        }
    }
}
