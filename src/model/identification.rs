//! Separates a determination into name and qualifier. Layer: `model`.

use super::name_words::{is_doubt, is_undetermined};

/// A determination separated for Darwin Core.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Identification {
    /// The certain part, with its authority; `None` where nothing is certain.
    pub name: Option<String>,
    /// What follows a `cf.`, `aff.`, `sp.` or a question mark, that word included.
    pub qualifier: Option<String>,
}

/// Separates a determination: `Mycena cf. interrupta` is the genus Mycena and the qualifier
/// `cf. interrupta`.
///
/// # Examples
/// ```
/// use trug::model::identification;
///
/// let doubtful = identification("Mycena cf. interrupta");
/// assert_eq!(doubtful.name.as_deref(), Some("Mycena"));
/// assert_eq!(doubtful.qualifier.as_deref(), Some("cf. interrupta"));
///
/// let certain = identification("Mycena interrupta");
/// assert_eq!((certain.name.as_deref(), certain.qualifier), (Some("Mycena interrupta"), None));
/// assert_eq!(identification("Mycena sp.").qualifier.as_deref(), Some("sp."));
/// ```
///
/// # References
/// Darwin Core quick reference guide, `identificationQualifier`: `aff. agrifolia var. oxyadenia` for a
/// name of which `Quercus` is certain.
#[must_use]
pub fn identification(written: &str) -> Identification {
    let words: Vec<&str> = written.split_whitespace().collect();
    let is_qualifier =
        |word: &&str| is_doubt(word) || is_undetermined(word) || matches!(*word, "?" | "ined.");
    let doubtful = words.iter().position(is_qualifier);
    if let Some(place) = doubtful {
        return Identification {
            name: joined(&words[..place]),
            qualifier: joined(&words[place..]),
        };
    }
    let all = words.join(" ");
    match all.strip_suffix('?') {
        Some(name) => {
            Identification { name: joined(&[name.trim()]), qualifier: Some("?".to_owned()) }
        }
        None => Identification { name: joined(&words), qualifier: None },
    }
}

fn joined(words: &[&str]) -> Option<String> {
    let text = words.join(" ");
    (!text.is_empty()).then_some(text)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn parts(written: &str) -> (Option<String>, Option<String>) {
        let found = identification(written);
        (found.name, found.qualifier)
    }

    #[allow(clippy::unnecessary_wraps, reason = "reads better in the lines below")]
    fn some(text: &str) -> Option<String> {
        Some(text.to_owned())
    }

    #[test]
    fn qualifier_is_separated_from_the_name() {
        assert_eq!(parts("Mycena cf. interrupta"), (some("Mycena"), some("cf. interrupta")));
        assert_eq!(parts("Hygrocybe  sp."), (some("Hygrocybe"), some("sp.")));
        assert_eq!(
            parts("Quercus aff. agrifolia var. oxyadenia"),
            (some("Quercus"), some("aff. agrifolia var. oxyadenia"))
        );
        assert_eq!(parts("Mycena interrupta?"), (some("Mycena interrupta"), some("?")));
        assert_eq!(parts("Hygrocybe spec."), (some("Hygrocybe"), some("spec.")));
        assert_eq!(parts("cf. Mycena"), (None, some("cf. Mycena")));
    }

    #[test]
    fn certain_name_keeps_its_authority() {
        let name = "Mycena interrupta (Berk.) Sacc.";
        assert_eq!(parts(name), (some(name), None));
        assert_eq!(parts("  "), (None, None));
    }
}
