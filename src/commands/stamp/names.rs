//! Chooses unique file names in a folder that collects photographs of several days. Layer: `commands`.

use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};

use crate::error::Result;
use crate::model::SourceFile;
use crate::store::{KeptOuting, Store};

/// The photographs of the store, indexed by file name.
#[derive(Default)]
pub(super) struct Names {
    /// Folders that contain a file stem, by the stem in lower case.
    folders: HashMap<String, HashSet<PathBuf>>,
    originals: HashSet<PathBuf>,
}

impl Names {
    pub(super) fn of(store: &Store, outings: &[KeptOuting]) -> Result<Self> {
        let mut names = Self::default();
        for outing in outings {
            for photo in store.day(outing.id)?.photos {
                let path = photo.photo.source.path;
                let folder = path.parent().unwrap_or(Path::new("")).to_owned();
                names.folders.entry(stem(&path).to_lowercase()).or_default().insert(folder);
                names.originals.insert(absolute(&path));
            }
        }
        Ok(names)
    }

    /// The file name; where another folder has a photograph of that name, with the start of its hash.
    pub(super) fn within(&self, folder: &Path, photo: &SourceFile, ending: &str) -> PathBuf {
        let stem = stem(&photo.path);
        let folders = self.folders.get(&stem.to_lowercase()).map_or(0, HashSet::len);
        let own = if folders > 1 { hashed(&stem, photo) } else { stem };
        folder.join(if ending.is_empty() { own } else { format!("{own}.{ending}") })
    }

    /// Whether the path is an imported photograph.
    pub(super) fn is_original(&self, path: &Path) -> bool {
        self.originals.contains(&absolute(path))
    }
}

/// All file names that the photograph can have had, with more or fewer photographs of its name in the store.
pub(super) fn possible(folder: &Path, photo: &SourceFile, ending: &str) -> Vec<PathBuf> {
    let stem = stem(&photo.path);
    let plain = if ending.is_empty() { stem.clone() } else { format!("{stem}.{ending}") };
    let hashed = hashed(&stem, photo);
    let hashed = if ending.is_empty() { hashed } else { format!("{hashed}.{ending}") };
    vec![folder.join(plain), folder.join(hashed)]
}

/// The stem with the start of the photograph's hash.
fn hashed(stem: &str, photo: &SourceFile) -> String {
    let hash: String = photo.hash.chars().filter(char::is_ascii_alphanumeric).take(8).collect();
    format!("{stem}-{hash}")
}

fn stem(path: &Path) -> String {
    path.file_stem().unwrap_or_default().to_string_lossy().into_owned()
}

/// The canonical path; unchanged where it does not exist.
fn absolute(path: &Path) -> PathBuf {
    path.canonicalize().or_else(|_| std::path::absolute(path)).unwrap_or_else(|_| path.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::FileKind;

    #[test]
    fn a_copy_can_have_the_name_from_before_another_photograph_had_the_same() {
        let photo = SourceFile {
            path: "a/P1.JPG".into(),
            kind: FileKind::Photo,
            bytes: 1,
            hash: "0123456789abcdef".into(),
        };
        let possible = possible(Path::new("copies"), &photo, "JPG");
        assert_eq!(possible, ["copies/P1.JPG", "copies/P1-01234567.JPG"].map(PathBuf::from));
    }

    #[test]
    fn equal_names_from_two_folders_get_different_paths() {
        let photo = |path: &str, hash: &str| SourceFile {
            path: path.into(),
            kind: FileKind::Photo,
            bytes: 1,
            hash: hash.into(),
        };
        let mut names = Names::default();
        names.folders.insert("p1".into(), ["a", "b"].map(PathBuf::from).into());
        names.folders.insert("p2".into(), ["a"].map(PathBuf::from).into());
        let into = Path::new("copies");
        let first = names.within(into, &photo("a/P1.JPG", "0123456789abcdef"), "JPG");
        assert_eq!(first, Path::new("copies/P1-01234567.JPG"));
        let second = names.within(into, &photo("b/p1.jpg", "fedcba9876543210"), "xmp");
        assert_eq!(second, Path::new("copies/p1-fedcba98.xmp"));
        assert_eq!(names.within(into, &photo("a/P2", ""), ""), Path::new("copies/P2"));
    }
}
