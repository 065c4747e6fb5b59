//! Every picture of the guides is made by the script, shown by a guide, and every drawing option has one.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

use crate::run::Desk;

fn docs() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("docs")
}

fn read(name: &str) -> String {
    fs::read_to_string(docs().join(name)).unwrap()
}

/// The pictures that a text names after `before`, up to `after`.
fn named(text: &str, before: &str, after: &str) -> BTreeSet<String> {
    let parts = text.split(before).skip(1);
    parts.filter_map(|rest| rest.split_once(after)).map(|(name, _)| name.to_owned()).collect()
}

fn made() -> BTreeSet<String> {
    let script = read("pictures/make.sh");
    let lines = script.lines().filter(|line| !line.starts_with('#'));
    let name = |line: &str| {
        let mut words = line.split_whitespace();
        match words.next()? {
            "drawn" | "screen" => words.next().map(str::to_owned),
            _ => line.split("$into/").nth(1).map(|rest| rest.trim_end_matches('"').to_owned()),
        }
    };
    lines.filter_map(name).filter(|name| !name.contains('$')).collect()
}

#[test]
fn pictures_are_those_that_the_script_makes() {
    let kept: BTreeSet<String> = fs::read_dir(docs().join("pictures"))
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|end| end == "png"))
        .map(|path| path.file_stem().unwrap().to_string_lossy().into_owned())
        .collect();
    assert_eq!(kept, made());
    assert!(kept.len() > 20, "{kept:?}");
}

#[test]
fn gallery_shows_every_picture_at_its_size() {
    let gallery = read("gallery.md");
    let shown = named(&gallery, "src=\"pictures/", ".png\"");
    assert_eq!(shown, made());
    for picture in &shown {
        let header = fs::read(docs().join(format!("pictures/{picture}.png"))).unwrap();
        // PNG third edition, 11.2.1: the width in pixels follows signature, length and name
        let wide = u32::from_be_bytes(header[16..20].try_into().unwrap());
        let wanted = format!("src=\"pictures/{picture}.png\" width=\"{wide}\"");
        assert!(gallery.contains(&wanted), "{wanted}");
    }
}

#[test]
fn every_option_that_draws_has_a_picture() {
    let desk = Desk::new();
    let help = |arguments: &[&str]| {
        String::from_utf8(desk.run(&[arguments, &["--help"]].concat()).stdout).unwrap()
    };
    let list = help(&[]);
    let script = read("pictures/make.sh");
    let mut checked = 0;
    for command in list
        .lines()
        .filter_map(|line| line.strip_prefix("  ")?.split_whitespace().next())
        .filter(|word| word.chars().all(char::is_alphabetic) && *word != "help")
    {
        let own = help(&[command]);
        for option in ["--figure", "--card"].into_iter().filter(|option| own.contains(*option)) {
            // the figure of an import is that of `check`
            if command == "import" {
                continue;
            }
            let drawn = script.lines().any(|line| {
                let words: Vec<&str> = line.split_whitespace().collect();
                line.starts_with("drawn ") && words.contains(&command) && words.contains(&option)
            });
            assert!(drawn, "docs/pictures/make.sh has no picture of trug {command} {option}");
            checked += 1;
        }
    }
    assert!(checked >= 11, "{checked} options were found in the help");
}
