//! Records the files of a demonstration with their BLAKE3 hashes, so that a later run replaces the
//! folder only if it contains nothing else and nothing was changed. While it runs, the names that it is going to write
//! stand there without a hash: what a killed run leaves is known by them. Layer: `commands`.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use walkdir::WalkDir;

use crate::error::{Error, Result, open_regular, read_regular};

/// The name of the manifest file.
const LIST: &str = ".trug-demo";
/// What begins the names of temporary files.
const TEMPORARY: &str = ".trug-";
/// Stands in place of the hash of a file that a run was going to write.
const UNFINISHED: &str = "unfinished";

/// Creates the folder or empties it of the files of an earlier demonstration.
///
/// # Errors
/// When the folder contains a file that the demonstration did not write, or that was changed. Nothing is
/// removed then.
pub(super) fn clear(folder: &Path) -> Result<()> {
    if folder.to_str().is_none() {
        return Err(Error::input(format!("{} is not plain text", folder.display()))
            .hint("name a folder whose path is UTF-8 without spaces"));
    }
    if folder.symlink_metadata().is_ok() && !folder.is_dir() {
        return Err(Error::input(format!("{} is not a folder", folder.display()))
            .hint("name a new folder with --into"));
    }
    fs::create_dir_all(folder).map_err(|error| Error::file("make", folder, &error))?;
    let made = read(folder);
    let there = contents(folder)?;
    let killed = made.values().any(|hash| hash == UNFINISHED);
    let is_own = |file: &Listed| match made.get(&file.name) {
        Some(hash) => *hash == file.hash || hash == UNFINISHED && !file.hash.is_empty(),
        None => {
            killed && file.name.rsplit('/').next().is_some_and(|name| name.starts_with(TEMPORARY))
        }
    };
    for file in &there.files {
        if !is_own(file) {
            let file = folder.join(&file.name);
            return Err(foreign(folder, &file, !made.is_empty()));
        }
    }
    if let Some(folder_with_nothing) = there.empty.first().filter(|_| made.is_empty()) {
        return Err(foreign(folder, folder_with_nothing, false));
    }
    for file in &there.files {
        remove(fs::remove_file, &folder.join(&file.name))?;
    }
    // innermost first; each is empty at this point
    there.folders.iter().rev().try_for_each(|inner| remove(fs::remove_dir, inner))?;
    // last, so that a run that is killed here leaves nothing unknown
    if !made.is_empty() {
        remove(fs::remove_file, &folder.join(LIST))?;
    }
    Ok(())
}

/// Writes the list of everything in the folder and of the files that are going to be written into it.
///
/// # Errors
/// When the disk reports an error.
pub(super) fn begin<'a>(folder: &Path, coming: impl Iterator<Item = &'a str>) -> Result<()> {
    let coming = coming.map(|name| format!("{UNFINISHED} {name}\n"));
    // of two lines of one name the later counts
    put(folder, listed(folder)?.into_iter().chain(coming).collect())
}

/// Writes the list of everything in the folder.
///
/// # Errors
/// When the disk reports an error.
pub(super) fn write(folder: &Path) -> Result<()> {
    put(folder, listed(folder)?.concat())
}

fn listed(folder: &Path) -> Result<Vec<String>> {
    let files = contents(folder)?.files;
    Ok(files.iter().map(|file| format!("{} {}\n", file.hash, file.name)).collect())
}

fn put(folder: &Path, lines: String) -> Result<()> {
    let (path, new) = (folder.join(LIST), folder.join(format!("{LIST}.new")));
    let written = fs::write(&new, lines).and_then(|()| fs::rename(&new, &path));
    written.map_err(|error| Error::file("write", &path, &error))
}

fn foreign(folder: &Path, file: &Path, again: bool) -> Error {
    let why = if again {
        "the demonstration did not write it, or it was changed since"
    } else {
        "the folder is not empty and was not made by an earlier demonstration"
    };
    Error::input(format!("cannot write the demonstration into {}", folder.display()))
        .because(format!("{} exists: {why}", file.display()))
        .hint("name a new folder: trug demo --into DIR")
        .in_file(file)
}

fn remove(how: impl Fn(PathBuf) -> std::io::Result<()>, path: &Path) -> Result<()> {
    how(path.to_owned()).map_err(|error| Error::file("remove", path, &error))
}

/// The recorded hash of each file, by name.
fn read(folder: &Path) -> BTreeMap<String, String> {
    let text = read_regular(&folder.join(LIST)).unwrap_or_default();
    let text = String::from_utf8_lossy(&text);
    text.lines()
        .filter_map(|line| line.split_once(' '))
        .map(|(hash, name)| (name.to_owned(), hash.to_owned()))
        .collect()
}

struct Contents {
    files: Vec<Listed>,
    /// All folders below, outer ones first.
    folders: Vec<PathBuf>,
    /// The empty ones among them.
    empty: Vec<PathBuf>,
}

struct Listed {
    /// Path relative to the folder, with `/` as separator.
    name: String,
    /// Empty for anything but a regular file.
    hash: String,
}

fn contents(folder: &Path) -> Result<Contents> {
    let mut found = Contents { files: Vec::new(), folders: Vec::new(), empty: Vec::new() };
    for entry in WalkDir::new(folder).min_depth(1).sort_by_file_name() {
        let entry = entry.map_err(|error| {
            Error::machine(format!("cannot read {}", folder.display())).because(error.to_string())
        })?;
        let path = entry.path();
        if entry.file_type().is_dir() {
            found.folders.push(path.to_owned());
            if fs::read_dir(path).is_ok_and(|mut inside| inside.next().is_none()) {
                found.empty.push(path.to_owned());
            }
            continue;
        }
        let below = path.strip_prefix(folder).unwrap_or(path);
        let parts: Vec<_> = below.iter().map(|part| part.to_string_lossy()).collect();
        let name = parts.join("/");
        if name == LIST {
            continue;
        }
        let hash = if entry.file_type().is_file() { hash(path)? } else { String::new() };
        found.files.push(Listed { name, hash });
    }
    Ok(found)
}

fn hash(path: &Path) -> Result<String> {
    let mut hasher = blake3::Hasher::new();
    let read = open_regular(path).and_then(|file| hasher.update_reader(file).map(drop));
    read.map_err(|error| Error::file("read", path, &error))?;
    Ok(hasher.finalize().to_hex().to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn unchanged_demonstration_folder_is_reused() {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path().join("demo");
        let made = || {
            fs::create_dir_all(folder.join("days/one")).unwrap();
            fs::write(folder.join("days/one/notebook.csv"), "number\n").unwrap();
            fs::write(folder.join("map.svg"), "<svg/>").unwrap();
            write(&folder).unwrap();
        };
        clear(&folder).unwrap();
        made();
        clear(&folder).unwrap();
        assert_eq!(fs::read_dir(&folder).unwrap().count(), 0);
        made();
        fs::write(folder.join("days/one/notebook.csv"), "number,name\n").unwrap();
        assert!(clear(&folder).unwrap_err().to_string().contains("notebook.csv"));
        assert!(folder.join("map.svg").exists(), "nothing is taken away then");
        made();
        fs::write(folder.join("mine.txt"), "mine").unwrap();
        assert!(clear(&folder).unwrap_err().to_string().contains("mine.txt"));
    }

    #[test]
    fn what_a_killed_demonstration_leaves_is_known_and_nothing_else() {
        let place = tempfile::tempdir().unwrap();
        let folder = place.path().join("demo");
        let killed = || {
            fs::create_dir_all(folder.join("days")).unwrap();
            fs::write(folder.join("days/notebook.csv"), "number\n").unwrap();
            begin(&folder, ["map.svg", "trug.gpkg", "trug.gpkg-wal"].into_iter()).unwrap();
            fs::write(folder.join("trug.gpkg"), "half").unwrap();
            fs::write(folder.join("trug.gpkg-wal"), "half").unwrap();
            fs::write(folder.join(".trug-0-1.unfinished"), "<sv").unwrap();
        };
        killed();
        clear(&folder).unwrap();
        assert_eq!(fs::read_dir(&folder).unwrap().count(), 0);
        killed();
        fs::write(folder.join("mine.svg"), "mine").unwrap();
        assert!(clear(&folder).unwrap_err().to_string().contains("mine.svg"));
        assert!(folder.join("trug.gpkg").exists(), "nothing is taken away then");
        fs::remove_file(folder.join("mine.svg")).unwrap();
        fs::write(folder.join("days/notebook.csv"), "number,name\n").unwrap();
        assert!(clear(&folder).unwrap_err().to_string().contains("notebook.csv"));
    }

    #[test]
    fn foreign_folder_is_not_changed() {
        let place = tempfile::tempdir().unwrap();
        fs::write(place.path().join("trug.gpkg"), "a store").unwrap();
        assert!(clear(place.path()).is_err());
        assert!(clear(&place.path().join("trug.gpkg")).is_err());
        fs::remove_file(place.path().join("trug.gpkg")).unwrap();
        clear(place.path()).unwrap();
        fs::create_dir(place.path().join("album")).unwrap();
        assert!(clear(place.path()).is_err(), "an empty folder is somebody's, too");
    }
}
