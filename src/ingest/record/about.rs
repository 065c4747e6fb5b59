//! Recognises "about" before and behind a time or a length, in the languages in which headings are known.
//! Layer: `ingest`.

/// What stands before a value, longer words first where one begins another.
const BEFORE: &[&str] = &[
    // signs, and what several languages share
    "~",
    "\u{2248}",
    "\u{b1}",
    "+/-",
    "+-",
    "circa",
    "zirka",
    "cirka",
    "ca.",
    "ca",
    "c.",
    "c",
    // English
    "approximately",
    "approx.",
    "approx",
    "about",
    "around",
    "roughly",
    // German
    "etwa",
    "ungef\u{e4}hr",
    "ungefaehr",
    "ungef.",
    "gegen",
    "rund",
    // French
    "approximativement",
    "environ",
    "env.",
    "env",
    "vers",
    "\u{e0} peu pr\u{e8}s",
    // Spanish and Portuguese
    "aproximadamente",
    "aprox.",
    "aprox",
    "alrededor de",
    "m\u{e1}s o menos",
    "mas o menos",
    "hacia",
    "unos",
    "unas",
    "sobre",
    "por volta das",
    "por volta da",
    "por volta de",
    "cerca das",
    "cerca da",
    "cerca de",
    // Italian
    "all'incirca",
    "intorno alle",
    "intorno ai",
    "intorno a",
    "verso",
    // Dutch
    "ongeveer",
    "omstreeks",
    "rond",
    "plm.",
    // Danish, Norwegian, Swedish
    "omkring",
    "omtrent",
    "rundt",
    "ungef\u{e4}r",
    "ungefar",
    "runt",
    // Finnish
    "suunnilleen",
    "noin",
    // Polish and Czech
    "oko\u{142}o",
    "okolo",
    "kolem",
    "ok.",
    "ok",
    "p\u{159}ibli\u{17e}n\u{11b}",
    "cca",
    "asi",
];

/// Articles between such a word and the value: `hacia las 14`, `verso le 9`.
const ARTICLES: &[&str] = &["las", "la", "les", "le", "l'", "i", "die", "el", "de", "das"];

/// What stands behind a value.
const BEHIND: &[&str] = &[
    "?",
    "circa",
    "zirka",
    "cirka",
    "ca.",
    "ca",
    "environ",
    "env.",
    "approx.",
    "approx",
    "aprox.",
    "ongeveer",
    "ungef\u{e4}hr",
    "noin",
    "asi",
];

/// A text in small letters without "about" in any form, and whether it had one.
pub(super) fn without(text: &str) -> (&str, bool) {
    let whole = text.trim();
    let mut text = whole;
    while let Some(rest) = BEFORE.iter().find_map(|word| behind_word(text, word)) {
        text = rest;
    }
    while let Some(rest) = BEHIND.iter().find_map(|word| before_word(text, word)) {
        text = rest;
    }
    (text, text.len() < whole.len())
}

/// The text behind a word that is whole, and behind an article.
fn behind_word<'t>(text: &'t str, word: &str) -> Option<&'t str> {
    let rest = text.strip_prefix(word)?;
    let ended =
        word.ends_with(|c: char| !c.is_alphabetic()) || !rest.starts_with(char::is_alphabetic);
    let rest = rest.trim_start_matches(['.', ' ', '\u{a0}']);
    let behind_article = |article: &&str| {
        let behind = rest.strip_prefix(*article)?;
        let apart = behind.starts_with([' ', '\u{a0}']) || article.ends_with('\'');
        apart.then(|| behind.trim_start())
    };
    let rest = ARTICLES.iter().find_map(behind_article).unwrap_or(rest);
    (ended && !rest.is_empty()).then_some(rest)
}

fn before_word<'t>(text: &'t str, word: &str) -> Option<&'t str> {
    let rest = text.strip_suffix(word)?;
    let ended = word == "?" || rest.ends_with(|c: char| !c.is_alphabetic());
    ended.then(|| rest.trim_end()).filter(|rest| !rest.is_empty())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn about_is_recognised_in_every_language() {
        for text in [
            "ca. 14",
            "ca 14",
            "ca14",
            "c. 14",
            "c14",
            "~14",
            "\u{2248} 14",
            "about 14",
            "approx. 14",
            "14?",
            "etwa 14",
            "ungef\u{e4}hr 14",
            "zirka 14",
            "gegen 14",
            "environ 14",
            "env. 14",
            "vers 14",
            "\u{e0} peu pr\u{e8}s 14",
            "aprox. 14",
            "hacia las 14",
            "sobre las 14",
            "alrededor de las 14",
            "por volta das 14",
            "por volta de 14",
            "cerca de 14",
            "cerca das 14",
            "circa 14",
            "verso le 14",
            "intorno alle 14",
            "all'incirca 14",
            "ongeveer 14",
            "omstreeks 14",
            "plm. 14",
            "omkring 14",
            "omtrent 14",
            "cirka 14",
            "ungef\u{e4}r 14",
            "noin 14",
            "suunnilleen 14",
            "oko\u{142}o 14",
            "ok. 14",
            "ok 14",
            "asi 14",
            "cca. 14",
            "cca 14",
            "kolem 14",
            "p\u{159}ibli\u{17e}n\u{11b} 14",
            "14 ca.",
            "14 environ",
            "ca. ca. 14",
            "etwa gegen 14",
        ] {
            assert_eq!(without(text), ("14", true), "{text}");
        }
    }

    #[test]
    fn other_words_and_values_are_left() {
        for text in
            ["14", "calm", "about", "rundown 14", "okra 14", "?", "", "asian 14", "14 canopy"]
        {
            assert_eq!(without(text), (text, false), "{text}");
        }
    }
}
