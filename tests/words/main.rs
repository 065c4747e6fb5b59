//! Keeps retired words out of sources, docs, help and messages. The vocabulary is plain, current
//! technical English: one concept has one name everywhere.

#![allow(clippy::unwrap_used, reason = "a test may stop at the first surprise")]

use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

/// Each retired word with the word to use instead. Words are compared without case; the parts of
/// `snake_case` and `CamelCase` names count as words.
const RETIRED: &[(&str, &str)] = &[
    ("anew", "again"),
    ("dice", "rng"),
    ("errand", "detour"),
    ("errands", "detours"),
    ("fruitless", "without a find"),
    ("gait", "activity"),
    ("gaits", "activities"),
    ("hear", "update"),
    ("heard", "observed"),
    ("hears", "uses"),
    ("luck", "overdispersion"),
    ("nought", "zero"),
    ("papers", "inputs"),
    ("restless", "noisy"),
    ("restlessness", "process noise"),
    ("rival", "alternative"),
    ("rivals", "alternatives"),
    ("silence", "gap"),
    ("silences", "gaps"),
    ("silent", "without fixes"),
    ("strand", "track"),
    ("strands", "tracks"),
    ("swept", "searched"),
    ("tact", "sensitivity"),
    ("testimony", "evidence"),
    ("told", "reported"),
    ("vain", "without a find"),
    ("whereabouts", "position posterior"),
    ("witness", "evidence"),
    ("witnessed", "observed"),
    ("witnesses", "evidence"),
];

/// What is searched, from the root of the repository.
const SEARCHED: &[&str] =
    &["src", "docs", "tests", "benches", "sample-tracks/generate", "README.md", "DEVELOPERS.md"];

/// Files that hold retired words for a reason: this list, text that others published, and other languages.
const EXEMPT: &[&str] = &[
    "tests/words",
    "tests/reference/data",
    "docs/explanations.md",
    "docs/pictures",
    "src/present/fonts",
];

#[test]
fn no_retired_word_is_used() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    for part in SEARCHED {
        collect(&root.join(part), &mut files);
    }
    assert!(files.len() > 300, "only {} files were searched", files.len());
    let mut report = String::new();
    for file in files {
        let name = file.strip_prefix(root).unwrap().to_string_lossy().replace('\\', "/");
        let Ok(text) = fs::read_to_string(&file) else { continue };
        if !EXEMPT.iter().any(|exempt| name.starts_with(exempt)) {
            list(&name, &text, &mut report);
        }
    }
    assert!(report.is_empty(), "retired words:\n{report}");
}

#[test]
fn the_search_finds_words_within_names() {
    let mut report = String::new();
    list("x", "let old_gait = Gait::of(vainly);\nEven GaitKind", &mut report);
    assert_eq!(report.lines().count(), 3, "{report}");
}

fn list(name: &str, text: &str, report: &mut String) {
    for (index, line) in text.lines().enumerate() {
        for word in words(line) {
            if let Some((_, better)) = RETIRED.iter().find(|(retired, _)| *retired == word) {
                let _ = writeln!(report, "{name}:{}: {word} (use: {better})", index + 1);
            }
        }
    }
}

/// The words of a line in lower case; a change from lower to upper case begins a new word.
fn words(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut lower_before = false;
    for character in line.chars() {
        if !character.is_alphabetic() || (lower_before && character.is_uppercase()) {
            words.push(String::new());
        }
        if character.is_alphabetic() {
            words.last_mut().unwrap().extend(character.to_lowercase());
        }
        lower_before = character.is_lowercase();
    }
    words.retain(|word| !word.is_empty());
    words
}

fn collect(path: &Path, files: &mut Vec<PathBuf>) {
    if path.is_dir() {
        let mut entries: Vec<PathBuf> =
            fs::read_dir(path).unwrap().map(|entry| entry.unwrap().path()).collect();
        entries.sort();
        for entry in &entries {
            collect(entry, files);
        }
    } else {
        files.push(path.to_owned());
    }
}
