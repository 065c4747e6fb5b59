//! The explanations of a notebook's columns in thirteen languages, as `docs/explanations.md` lists them.
//! Layer: `present`.

const PAGE: &str = include_str!("../../../docs/explanations.md");
/// The section of the name of the sheet.
const SHEET: &str = "sheet";

/// What belongs into a column, in a language by its English name; in English where the language lacks it.
#[must_use]
pub fn explanation(word: &str, language: &str) -> &'static str {
    // both are explained alike
    let section = if word == "longitude" { "latitude" } else { word };
    line(section, language).or_else(|| line(section, "English")).unwrap_or_default()
}

/// The name of the sheet of a notebook.
#[must_use]
pub fn sheet_name(language: &str) -> &'static str {
    line(SHEET, language).unwrap_or("Finds")
}

fn line(section: &str, language: &str) -> Option<&'static str> {
    let begin = PAGE.find(&format!("\n### {section}\n"))?;
    let rest = &PAGE[begin + 1..];
    let end = rest.find("\n### ").unwrap_or(rest.len());
    rest[..end]
        .lines()
        .find_map(|line| line.strip_prefix("- ")?.strip_prefix(language)?.strip_prefix(": "))
}
