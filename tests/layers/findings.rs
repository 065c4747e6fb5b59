//! Codes of findings are a promise to programs that read the JSON: each is documented.

use std::fs;
use std::path::Path;

use super::{source_files, source_root};

/// Where findings with codes are defined.
const DEFINED: [&str; 7] = [
    "model/amendment.rs",
    "model/note",
    "model/season_note.rs",
    "model/store_note.rs",
    "model/unsearched_note.rs",
    "error/store",
    "error/way_out.rs",
];

#[test]
fn every_code_is_documented() {
    let page = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/findings.md");
    let page = fs::read_to_string(page).unwrap();
    let mut codes = Vec::new();
    for file in source_files() {
        let name = file.strip_prefix(source_root()).unwrap().to_string_lossy().into_owned();
        if DEFINED.iter().any(|defined| name.starts_with(defined)) {
            codes.extend(codes_in(&fs::read_to_string(&file).unwrap()));
        }
    }
    assert!(codes.len() > 100, "only {} codes were found", codes.len());
    let missing: Vec<&String> =
        codes.iter().filter(|code| !page.contains(&format!("| `{code}` |"))).collect();
    assert!(missing.is_empty(), "codes that docs/findings.md lacks: {missing:?}");
}

#[test]
fn codes_are_those_of_tagged_enums() {
    let source = "#[serde(rename_all = \"kebab-case\", tag = \"code\")]\npub enum A {\n    /// One.\n    OneTwo,\n    \
                  Three { x: u8 },\n    Four(B),\n}\npub enum Plain {\n    Five,\n}\n";
    assert_eq!(codes_in(source), ["one-two", "three", "four"]);
}

/// The names of the variants of enums with codes, as they are in JSON.
fn codes_in(source: &str) -> Vec<String> {
    let mut codes = Vec::new();
    let (mut tagged, mut inside) = (false, false);
    for line in source.lines() {
        if line.starts_with("#[serde") {
            tagged = line.contains("tag = \"code\"");
        } else if line.contains("enum ") && line.ends_with('{') {
            inside = std::mem::take(&mut tagged);
        } else if line == "}" {
            inside = false;
        } else if inside && line.starts_with("    ") && !line.starts_with("     ") {
            let name: String =
                line.trim().chars().take_while(char::is_ascii_alphanumeric).collect();
            if name.starts_with(|first: char| first.is_ascii_uppercase()) {
                codes.push(kebab(&name));
            }
        }
    }
    codes
}

fn kebab(name: &str) -> String {
    let mut code = String::new();
    for (at, letter) in name.char_indices() {
        if letter.is_ascii_uppercase() && at > 0 {
            code.push('-');
        }
        code.push(letter.to_ascii_lowercase());
    }
    code
}
