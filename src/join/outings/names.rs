//! Compares spellings of a person's name, and a name with the name of a file or folder. Accents are
//! often lost in file names, so a letter outside ASCII matches any letter. Layer: `join`.

use std::path::Path;

/// Whether two written names may be of one person: the same, with an initial, or one part only.
pub(super) fn same_person(one: &str, other: &str) -> bool {
    let (a, b) = (words(one), words(other));
    let (Some(last_a), Some(last_b)) = (a.last(), b.last()) else { return false };
    if a.len() == 1 || b.len() == 1 {
        return a.iter().any(|word| b.iter().any(|there| alike(word, there)));
    }
    alike(last_a, last_b) && begins_alike(&a[0], &b[0])
}

/// Whether the name of a file or of the folder it lies in holds a part of a person's name.
pub(super) fn names_file(person: &str, file: &Path) -> bool {
    let stem = file.file_stem();
    let folder = file.parent().and_then(Path::file_name);
    let parts = words(person);
    [stem, folder].into_iter().flatten().any(|name| {
        let name = words(&name.to_string_lossy());
        let long = parts.iter().filter(|part| part.chars().count() >= 3);
        long.into_iter().any(|part| name.iter().any(|word| alike(part, word)))
    })
}

pub(super) fn words(text: &str) -> Vec<String> {
    text.split(|c: char| !c.is_alphabetic())
        .filter(|word| !word.is_empty())
        .map(str::to_lowercase)
        .collect()
}

pub(super) fn alike(one: &str, other: &str) -> bool {
    one.chars().count() == other.chars().count() && begins_alike(one, other)
}

/// Whether they agree as far as both go.
fn begins_alike(one: &str, other: &str) -> bool {
    one.chars().zip(other.chars()).all(|(a, b)| a == b || !a.is_ascii() || !b.is_ascii())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn person_is_matched_by_initial_and_without_accents() {
        assert!(same_person("Ada Quillfeather", "A. Quillfeather"));
        assert!(same_person("Ada Quillfeather", "ada"));
        assert!(!same_person("Ada Quillfeather", "Noël Brambletoft"));
        assert!(!same_person("Ada Quillfeather", "Tom Quillfeather"));
        assert!(!same_person("", "Ada"));
        assert!(names_file("Noël Brambletoft-Peña", Path::new("day/2026-05-23 noel.gpx")));
        assert!(names_file("Noël Brambletoft-Peña", Path::new("Noel/phone.gpx")));
        assert!(!names_file("Ada Quillfeather", Path::new("day/adamant.gpx")));
    }
}
