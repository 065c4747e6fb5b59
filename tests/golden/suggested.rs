//! Tests that every command and option mentioned in messages, help texts and docs exists, and that every
//! command has a help text.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use crate::run::Desk;

/// Words after the program's name in prose, as opposed to command names.
const SPOKEN: [&str; 67] = [
    "computes",
    "last",
    "as",
    "decides",
    "also",
    "and",
    "answers",
    "are",
    "asks",
    "at",
    "began",
    "brings",
    "broke",
    "but",
    "can",
    "cannot",
    "combines",
    "computed",
    "could",
    "declines",
    "describes",
    "did",
    "does",
    "draws",
    "equal",
    "expects",
    "exported",
    "for",
    "had",
    "has",
    "have",
    "in",
    "is",
    "itself",
    "joins",
    "keeps",
    "kept",
    "knows",
    "lists",
    "locates",
    "looks",
    "made",
    "makes",
    "marked",
    "may",
    "migrates",
    "names",
    "never",
    "on",
    "or",
    "plans",
    "reads",
    "refuses",
    "reports",
    "said",
    "says",
    "states",
    "takes",
    "tells",
    "trug",
    "turns",
    "understands",
    "waits",
    "wants",
    "works",
    "writes",
    "wrote",
];

/// Options of build and test programs.
const OF_OTHERS: [&str; 9] = [
    "--bench",
    "--example",
    "--test",
    "--release",
    "--lib",
    "--bins",
    "--locked",
    "--path",
    "--with",
];

/// The options of each command, by its words: `sites`, `sites name`.
fn commands() -> BTreeMap<String, BTreeSet<String>> {
    let desk = Desk::new();
    let mut commands = BTreeMap::new();
    let mut waiting: Vec<Vec<String>> = vec![Vec::new()];
    while let Some(words) = waiting.pop() {
        let mut arguments: Vec<&str> = words.iter().map(String::as_str).collect();
        arguments.push("--help");
        let output = desk.run(&arguments);
        assert_eq!(output.status.code(), Some(0), "{arguments:?}");
        let help = String::from_utf8(output.stdout).unwrap();
        for inner in below(&help, "Commands:").filter(|word| *word != "help") {
            waiting.push(words.iter().cloned().chain([inner.to_owned()]).collect());
        }
        commands.insert(words.join(" "), options(&help).collect());
    }
    commands
}

/// The first words of the lines under a heading of a help text.
fn below<'a>(help: &'a str, heading: &str) -> impl Iterator<Item = &'a str> {
    let section = help.split_once(heading).map_or("", |(_, rest)| rest);
    section
        .lines()
        .skip(1)
        .take_while(|line| line.starts_with("  "))
        .filter(|line| line.starts_with("  ") && !line.starts_with("   "))
        .filter_map(|line| line.split_whitespace().next())
}

fn options(text: &str) -> impl Iterator<Item = String> + '_ {
    text.match_indices("--").filter_map(|(at, _)| {
        let before = text[..at].chars().next_back();
        if before.is_some_and(|c| c.is_alphanumeric() || matches!(c, '-' | '_' | '{')) {
            return None;
        }
        let name: String = text[at + 2..]
            .chars()
            .take_while(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || *c == '-')
            .collect();
        let name = name.trim_end_matches('-');
        (name.len() > 1 && name.starts_with(|c: char| c.is_ascii_lowercase()))
            .then(|| format!("--{name}"))
    })
}

fn files(folder: &Path, end: &str, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            files(&path, end, found);
        } else if path.extension().is_some_and(|e| e == end) {
            found.push(path);
        }
    }
}

/// Every line that a user may read: of the sources (tests in them left out), the docs and the README.
fn lines() -> Vec<(PathBuf, usize, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut paths = vec![root.join("README.md"), root.join("sample-tracks/README.md")];
    files(&root.join("src"), "rs", &mut paths);
    files(&root.join("docs"), "md", &mut paths);
    let mut lines = Vec::new();
    for path in paths {
        let text = fs::read_to_string(&path).unwrap();
        let text = text.split("#[cfg(test)]\nmod tests {").next().unwrap();
        for (number, line) in text.lines().enumerate() {
            lines.push((path.clone(), number + 1, line.to_owned()));
        }
    }
    lines
}

#[test]
fn every_command_and_option_that_is_mentioned_exists() {
    let commands = commands();
    let all: BTreeSet<&String> = commands.values().flatten().collect();
    let mut wrong = Vec::new();
    for (path, number, line) in lines() {
        let place = format!("{}:{number}", path.display());
        for (at, _) in line.match_indices("trug ") {
            let word: String =
                line[at + 5..].chars().take_while(char::is_ascii_lowercase).collect();
            let after = line[at + 5 + word.len()..].chars().next();
            let before = line[..at].chars().next_back();
            let a_word = word.len() > 1
                && !before.is_some_and(|c| c.is_alphanumeric() || matches!(c, '/' | '-' | '_'))
                && !after.is_some_and(|c| matches!(c, '_' | '\'' | '(' | ':'));
            if a_word && !commands.contains_key(&word) && !SPOKEN.contains(&word.as_str()) {
                wrong.push(format!("{place}: there is no command `trug {word}`"));
            }
            if a_word && let Some(own) = options_of(&commands, &word) {
                let call = &line[at..];
                let call = call.split(['`', '#', ';', '(', '|', '"']).next().unwrap_or(call);
                let strange = options(call).filter(|option| !own.contains(option));
                wrong.extend(strange.map(|o| format!("{place}: `trug {word}` has no option {o}")));
            }
        }
        if line.contains("cargo ") || line.contains("pip ") || line.contains("./setup") {
            continue;
        }
        wrong.extend(
            options(&line)
                .filter(|option| !all.contains(option) && !OF_OTHERS.contains(&option.as_str()))
                .map(|option| format!("{place}: no command has the option {option}")),
        );
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Those of a command and of its subcommands.
fn options_of(
    commands: &BTreeMap<String, BTreeSet<String>>,
    word: &str,
) -> Option<BTreeSet<String>> {
    commands.contains_key(word).then(|| {
        let below = format!("{word} ");
        let own = commands.iter().filter(|(name, _)| *name == word || name.starts_with(&below));
        own.flat_map(|(_, options)| options.iter().cloned()).collect()
    })
}

#[test]
fn every_command_explains_itself() {
    let commands = commands();
    assert!(commands.len() > 20, "{:?}", commands.keys());
    let desk = Desk::new();
    let readme = fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/README.md")).unwrap();
    for name in commands.keys().filter(|name| !name.is_empty()) {
        for flag in ["--help", "-h"] {
            let mut arguments: Vec<&str> = name.split(' ').collect();
            arguments.push(flag);
            let output = desk.run(&arguments);
            assert_eq!(output.status.code(), Some(0), "{name} {flag}");
            let text = String::from_utf8(output.stdout).unwrap();
            assert!(text.len() > 150 && text.contains("Usage: trug"), "{name} {flag}: {text}");
        }
        assert!(
            name.contains(' ')
                || readme.contains(&format!("`{name}`"))
                || readme.contains(&format!("trug {name}")),
            "README.md does not name the command {name}"
        );
    }
}

#[test]
fn every_snapshot_of_a_command_says_its_exit_status() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/golden/snapshots");
    let mut snapshots = Vec::new();
    files(&folder, "snap", &mut snapshots);
    assert!(snapshots.len() > 50);
    for path in snapshots {
        let text = fs::read_to_string(&path).unwrap();
        let body = text.splitn(3, "---\n").nth(2).unwrap();
        let status = body.lines().next().and_then(|line| line.strip_prefix("exit status: "));
        let known = matches!(status, Some("0" | "1" | "2"));
        assert!(known, "{} begins with no exit status of an expected end: {body}", path.display());
        // an error is reported if and only if the command failed
        let failed = body.lines().any(|line| line.starts_with("error: "));
        assert_eq!(failed, status == Some("2"), "{}", path.display());
    }
}
