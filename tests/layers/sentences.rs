//! Layers whose findings are data hold no sentences: what they report is a value of `model` or `error` with a
//! code and quantities, and its words are made in `present` and in `error`.

use std::path::Path;

use super::{layer_of, source_files};

/// Layers without sentences.
const WITHOUT: [&str; 4] = ["join", "analyse", "wayout", "store"];

/// Files and folders that hold text which is no message.
const EXEMPT: [(&str, &str); 6] = [
    ("store/migrate.rs", "descriptions of tables for other programs"),
    ("store/weather/schema.rs", "descriptions of tables for other programs"),
    ("store/amend/gis.rs", "the author of a change in the journal"),
    ("join/outings/open_dates.rs", "the heading of a field"),
    ("join/outings/owner_names.rs", "words of file names"),
    ("join/elevations/mod.rs", "names of a country"),
];

/// A literal of so many words is a sentence.
const WORDS: usize = 3;

#[test]
fn layers_hold_no_sentences() {
    let mut found = Vec::new();
    for file in source_files() {
        let name = file.strip_prefix(super::source_root()).unwrap().to_string_lossy().into_owned();
        let exempt = EXEMPT.iter().any(|(exempt, _)| name.replace('\\', "/").starts_with(exempt));
        if !WITHOUT.contains(&layer_of(&file).as_str()) || exempt || is_test(&file) {
            continue;
        }
        let text = std::fs::read_to_string(&file).unwrap();
        let sentences = literals(&text).into_iter().filter(|(_, literal)| is_sentence(literal));
        found.extend(sentences.map(|(line, literal)| format!("{name}:{line}: {literal:?}")));
    }
    assert!(found.is_empty(), "sentences below `present`:\n{}", found.join("\n"));
}

#[test]
fn the_search_finds_sentences_and_nothing_else() {
    let source = r##"
        // "a comment is no text"
        #[allow(dead_code, reason = "an attribute is no text")]
        fn shown(c: char) { if c == '"' { format!("{c} is not a find") } }
        let one = r#"a raw text here"#;
        let two = "a text \
                   over two lines";
        let query = "SELECT name FROM finds";
        let short = "not located";
        let columns = "geom, date, collector, notes";
        #[cfg(test)]
        mod tests { const X: &str = "tests may say so"; }
    "##;
    let found: Vec<String> = literals(source)
        .into_iter()
        .map(|(_, literal)| literal)
        .filter(|literal| is_sentence(literal))
        .collect();
    assert_eq!(found, ["{c} is not a find", "a raw text here", "a text over two lines"]);
}

fn is_test(file: &Path) -> bool {
    let name = file.file_name().map(|name| name.to_string_lossy().into_owned());
    name.is_some_and(|name| name == "tests.rs")
}

/// Whether a literal has so many words beside placeholders and is no query.
fn is_sentence(literal: &str) -> bool {
    const QUERY: [&str; 17] = [
        "SELECT", "INSERT", "UPDATE", "DELETE", "CREATE", "DROP", "FROM", "WHERE", "ALTER",
        "PRAGMA", "ORDER BY", "VALUES", "CONFLICT", "INTEGER", "LIMIT", "AND", "JOIN",
    ];
    let is_query =
        literal.split(|c: char| !c.is_ascii_uppercase()).any(|word| QUERY.contains(&word));
    let mut bare = String::new();
    let mut depth = 0_usize;
    for c in literal.chars() {
        match c {
            '{' => depth += 1,
            '}' => depth = depth.saturating_sub(1),
            _ if depth == 0 => bare.push(c),
            _ => {}
        }
    }
    let word = |word: &str| {
        let word = word.trim_matches(|c: char| c.is_ascii_punctuation() && c != '_' && c != '%');
        word.len() > 1 && word.chars().all(|c| c.is_alphabetic() || c == '\'' || c == '-')
    };
    let tokens: Vec<&str> = bare.split_whitespace().collect();
    let is_list =
        tokens.len() > 1 && tokens[..tokens.len() - 1].iter().all(|one| one.ends_with(','));
    !is_query && !is_list && tokens.iter().filter(|one| word(one)).count() >= WORDS
}

/// The string literals of a source with their lines, without comments, attributes and the tests at its end.
fn literals(source: &str) -> Vec<(usize, String)> {
    let source = source.split("#[cfg(test)]\n").next().unwrap_or_default();
    let source = source.split("#[cfg(test)]\r").next().unwrap_or_default();
    let mut found = Vec::new();
    let mut rest = source;
    while let Some(at) = rest.find(['"', '/', '\'', '#']) {
        let before = &source[..source.len() - rest.len() + at];
        let line = before.matches('\n').count() + 1;
        let here = &rest[at..];
        rest = if here.starts_with("//") {
            here.split_once('\n').map_or("", |(_, after)| after)
        } else if here.starts_with("#[") || here.starts_with("#![") {
            after_attribute(here)
        } else if here.starts_with('"') && (before.ends_with("r#") || before.ends_with(" r")) {
            let end = if before.ends_with('#') { "\"#" } else { "\"" };
            let (literal, after) = here[1..].split_once(end).unwrap_or((&here[1..], ""));
            found.push((line, literal.to_owned()));
            after
        } else if let Some(inside) = here.strip_prefix('"') {
            let (literal, after) = quoted(inside);
            found.push((line, literal));
            after
        } else if here.starts_with("'\"'") || here.starts_with("'/'") || here.starts_with("'#'") {
            &here[3..]
        } else {
            &here[1..]
        };
    }
    found
}

/// What follows an attribute.
fn after_attribute(text: &str) -> &str {
    let mut depth = 0_usize;
    let mut quoted = false;
    for (at, c) in text.char_indices() {
        match c {
            '"' => quoted = !quoted,
            '[' if !quoted => depth += 1,
            ']' if !quoted => {
                depth -= 1;
                if depth == 0 {
                    return &text[at + 1..];
                }
            }
            _ => {}
        }
    }
    ""
}

/// A literal after its opening quote, lines joined as the compiler does, and what follows it.
fn quoted(text: &str) -> (String, &str) {
    let mut literal = String::new();
    let mut chars = text.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        match c {
            '"' => return (literal, &text[at + 1..]),
            '\\' => match chars.next() {
                Some((_, '\n')) => while chars.next_if(|(_, c)| c.is_whitespace()).is_some() {},
                Some((_, 'n')) => literal.push(' '),
                Some((_, other)) => literal.push(other),
                None => {}
            },
            c => literal.push(c),
        }
    }
    (literal, "")
}
