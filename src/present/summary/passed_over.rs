//! Lists the files of a folder that an import did not read though nothing is wrong with them, by cause, each with its
//! name. Layer: `present`.

use std::collections::BTreeMap;
use std::path::Path;

use serde_json::{Value, json};

use super::words::counted;
use crate::model::{IgnoredCause, IgnoredFile, name_of};

/// More files of a cause than this are listed by the ending of their names.
const HANDFUL: usize = 5;

/// A line for each cause, with the names of all files; empty where there are none.
#[must_use]
pub fn passed_over(files: &[IgnoredFile]) -> Vec<String> {
    let mut by_cause: BTreeMap<IgnoredCause, Vec<&Path>> = BTreeMap::new();
    for file in files {
        by_cause.entry(file.cause).or_default().push(&file.path);
    }
    by_cause.iter().map(|(cause, paths)| line(*cause, paths)).collect()
}

/// The same as an array of JSON.
#[must_use]
pub fn passed_over_json(files: &[IgnoredFile]) -> Value {
    let object = |file: &IgnoredFile| {
        json!({
            "file": file.path.to_string_lossy(),
            "code": file.cause,
            "why": why(file.cause),
        })
    };
    files.iter().map(object).collect()
}

fn line(cause: IgnoredCause, paths: &[&Path]) -> String {
    let number = counted(paths.len(), "file", "files");
    let names = listed(paths);
    match cause {
        IgnoredCause::UnsupportedFormat => {
            format!("Ignored {number} of unsupported formats ({names})")
        }
        IgnoredCause::WrittenByTrug => {
            format!("Ignored {number} that trug wrote ({names}): {}", why(cause))
        }
        IgnoredCause::Checklist => {
            let lists = counted(paths.len(), "checklist", "checklists");
            format!(
                "Ignored {lists} of taxa ({names}): keep it in the store with trug checklist FILE"
            )
        }
        IgnoredCause::Empty => format!("Ignored {} ({names})", empty(paths.len())),
        IgnoredCause::Hidden => {
            format!("Ignored {} ({names}): {}", hidden(paths.len()), why(cause))
        }
    }
}

fn empty(count: usize) -> String {
    counted(count, "empty file", "empty files")
}

fn hidden(count: usize) -> String {
    counted(count, "hidden file or folder", "hidden files or folders")
}

fn why(cause: IgnoredCause) -> &'static str {
    match cause {
        IgnoredCause::UnsupportedFormat => {
            "it is not a track, a photograph or a table of field records"
        }
        IgnoredCause::WrittenByTrug => {
            "positions that trug computed are no evidence: they would confirm themselves"
        }
        IgnoredCause::Checklist => "it is a checklist of taxa, not field records",
        IgnoredCause::Empty => "it is empty",
        IgnoredCause::Hidden => {
            "names that begin with a point or end with ~ are not read; rename them, or name them on the command line"
        }
    }
}

/// All names; of more than a handful by their endings. Files of one name are given with their folders.
fn listed(paths: &[&Path]) -> String {
    if paths.len() <= HANDFUL {
        return names(paths).join(", ");
    }
    let mut by_ending: BTreeMap<String, Vec<&Path>> = BTreeMap::new();
    for path in paths {
        let ending = path.extension().unwrap_or_default().to_string_lossy().to_lowercase();
        by_ending.entry(ending).or_default().push(path);
    }
    let group = |(ending, paths): (&String, &Vec<&Path>)| {
        let ending = if ending.is_empty() { "without an ending" } else { ending };
        format!("{} {ending}: {}", paths.len(), names(paths).join(", "))
    };
    by_ending.iter().map(group).collect::<Vec<_>>().join("; ")
}

fn names(paths: &[&Path]) -> Vec<String> {
    let mut known: BTreeMap<String, usize> = BTreeMap::new();
    for path in paths {
        *known.entry(name_of(path)).or_default() += 1;
    }
    let name = |path: &&Path| {
        let name = name_of(path);
        if known.get(&name) == Some(&1) { name } else { path.display().to_string() }
    };
    paths.iter().map(name).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn files(names: &[&str], cause: IgnoredCause) -> Vec<IgnoredFile> {
        names.iter().map(|name| IgnoredFile { path: name.into(), cause }).collect()
    }

    #[test]
    fn every_file_is_named_with_its_cause() {
        assert!(passed_over(&[]).is_empty());
        let one = files(&["day/1.xmp"], IgnoredCause::UnsupportedFormat);
        assert_eq!(passed_over(&one), ["Ignored 1 file of unsupported formats (1.xmp)"]);
        let names = ["1.xmp", "2.xmp", "a/b.pdf", "3.xmp", "4.XMP", "5.xmp", "c/b.pdf", "README"];
        let many = passed_over(&files(&names, IgnoredCause::UnsupportedFormat));
        assert_eq!(
            many,
            [
                "Ignored 8 files of unsupported formats (1 without an ending: README; 2 pdf: a/b.pdf, c/b.pdf; \
              5 xmp: 1.xmp, 2.xmp, 3.xmp, 4.XMP, 5.xmp)"
            ]
        );
        let own = passed_over(&files(&["finds.gpx"], IgnoredCause::WrittenByTrug));
        assert!(own[0].starts_with("Ignored 1 file that trug wrote (finds.gpx): "), "{own:?}");
    }

    #[test]
    fn json_states_the_file_the_code_and_the_reason() {
        let own = passed_over_json(&files(&["day/finds.gpx"], IgnoredCause::WrittenByTrug));
        assert_eq!(own[0]["file"], "day/finds.gpx");
        assert_eq!(own[0]["code"], "written-by-trug");
        assert!(own[0]["why"].as_str().is_some_and(|why| why.contains("computed")));
    }
}
