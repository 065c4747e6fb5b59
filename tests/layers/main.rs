//! The layers of the crate: imports point down the list, never up or sideways.

#![allow(clippy::unwrap_used)]

mod findings;
mod sentences;

use std::fs;
use std::path::{Path, PathBuf};

/// From the ground up. `commands` and `main` stand on everything.
const LAYERS: [&str; 10] =
    ["units", "error", "model", "earth", "ingest", "join", "store", "analyse", "wayout", "present"];

/// Pairs that stop side by side: each may import from those above it in the list of the guide, but
/// not from its sibling.
const SIBLINGS: [(&str, &str); 8] = [
    ("join", "ingest"),
    ("store", "ingest"),
    ("store", "join"),
    ("analyse", "ingest"),
    ("wayout", "ingest"),
    ("present", "ingest"),
    ("analyse", "store"),
    ("wayout", "store"),
];

/// Layers that must be pure: no clock, no disk, no printing.
const PURE: [&str; 3] = ["join", "analyse", "wayout"];

#[test]
fn imports_point_down() {
    let mut wrong = Vec::new();
    for (layer, file, line, text) in source_lines() {
        for import in imported_layers(&text) {
            let (Some(from), Some(to)) = (rank(&layer), rank(&import)) else {
                if import == "commands" && layer != "commands" {
                    wrong.push(format!("{}:{line}: {layer} imports commands", file.display()));
                }
                continue;
            };
            let sideways = SIBLINGS.contains(&(layer.as_str(), import.as_str()));
            if to > from || sideways {
                wrong.push(format!("{}:{line}: {layer} imports {import}", file.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "imports that point up or sideways:\n{}", wrong.join("\n"));
}

#[test]
fn pure_layers_touch_nothing() {
    const FORBIDDEN: [&str; 8] = [
        "std::fs",
        "File::open",
        "std::env",
        "Timestamp::now",
        "SystemTime",
        "Instant::now",
        "println!",
        "eprintln!",
    ];
    let wrong: Vec<String> = source_lines()
        .filter(|(layer, ..)| PURE.contains(&layer.as_str()))
        .filter(|(.., text)| !text.trim_start().starts_with("//"))
        .filter_map(|(_, file, line, text)| {
            let found = FORBIDDEN.iter().find(|word| text.contains(**word))?;
            Some(format!("{}:{line}: {found}", file.display()))
        })
        .collect();
    assert!(wrong.is_empty(), "pure layers that touch the world:\n{}", wrong.join("\n"));
}

#[test]
fn every_file_opens_by_saying_what_it_answers() {
    let bare: Vec<String> = source_files()
        .into_iter()
        .filter(|path| !path.ends_with("tests.rs"))
        .filter(|path| !fs::read_to_string(path).unwrap().starts_with("//!"))
        .map(|path| path.display().to_string())
        .collect();
    assert!(bare.is_empty(), "files without a head:\n{}", bare.join("\n"));
}

#[test]
fn the_test_itself_sees_an_upward_import() {
    assert_eq!(imported_layers("use crate::store::Store;"), ["store"]);
    assert_eq!(imported_layers("use crate::{earth::sun, units::Metres};"), ["earth", "units"]);
    assert_eq!(imported_layers("    let x = crate::present::svg::text();"), ["present"]);
    assert!(rank("present") > rank("join"));
}

fn rank(layer: &str) -> Option<usize> {
    LAYERS.iter().position(|name| *name == layer)
}

/// The layers named after `crate::` in a line; a grouped import names each of its heads.
fn imported_layers(text: &str) -> Vec<String> {
    if text.trim_start().starts_with("//") {
        return Vec::new();
    }
    text.split("crate::").skip(1).flat_map(heads).collect()
}

fn heads(rest: &str) -> Vec<String> {
    let word = |text: &str| -> String {
        text.trim_start().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect()
    };
    match rest.strip_prefix('{') {
        None => vec![word(rest)],
        Some(group) => {
            let mut depth = 0;
            let mut parts = vec![String::new()];
            for c in group.chars() {
                match c {
                    '{' => depth += 1,
                    '}' => depth -= 1,
                    ',' if depth == 0 => parts.push(String::new()),
                    _ => {}
                }
                if depth < 0 {
                    break;
                }
                if let Some(part) = parts.last_mut()
                    && !(c == ',' && depth == 0)
                {
                    part.push(c);
                }
            }
            parts.iter().map(|part| word(part)).filter(|name| !name.is_empty()).collect()
        }
    }
}

fn source_lines() -> impl Iterator<Item = (String, PathBuf, usize, String)> {
    source_files().into_iter().flat_map(|path| {
        let text = fs::read_to_string(&path).unwrap();
        let layer = layer_of(&path);
        text.lines()
            .enumerate()
            .map(|(index, line)| (layer.clone(), path.clone(), index + 1, line.to_owned()))
            .collect::<Vec<_>>()
    })
}

fn layer_of(path: &Path) -> String {
    let inside = path.strip_prefix(source_root()).unwrap();
    let first = inside.components().next().unwrap().as_os_str().to_string_lossy().into_owned();
    first.trim_end_matches(".rs").to_owned()
}

fn source_root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

fn source_files() -> Vec<PathBuf> {
    let mut waiting = vec![source_root()];
    let mut files = Vec::new();
    while let Some(folder) = waiting.pop() {
        for entry in fs::read_dir(folder).unwrap().filter_map(Result::ok) {
            let path = entry.path();
            if path.is_dir() {
                waiting.push(path);
            } else if path.extension().is_some_and(|end| end == "rs") {
                files.push(path);
            }
        }
    }
    files.sort();
    files
}
