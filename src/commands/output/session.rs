//! Names the temporary files of one command, and removes those of killed commands from a folder. Layer:
//! `commands`.
//!
//! A session has a random token, which is part of the name of each of its files and the name of a locked
//! file in the cache folder. A temporary file is one of a killed command if its token is in the cache folder
//! of this user and no process holds the lock.

use std::collections::{HashMap, HashSet};
use std::ffi::OsStr;
use std::fs::{self, File, OpenOptions};
use std::io;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, LazyLock, Mutex, PoisonError, Weak};

use uuid::Uuid;

use super::journal::{Journal, Recovered};
use super::receipts;

/// The prefix of a temporary file; imports ignore names that begin with a dot.
const PREFIX: &str = ".trug-";
/// Contents that are not yet in place.
const UNFINISHED: &str = "unfinished";
/// The previous file, kept until all files of a command are in place.
pub(super) const BEFORE: &str = "before";

/// The temporary files of one command.
#[derive(Debug)]
pub(super) struct Session {
    token: Uuid,
    count: AtomicU32,
    /// The locked file in the cache folder; `None` where there is none, so that nothing is ever removed.
    mark: Option<(PathBuf, File)>,
}

impl Drop for Session {
    fn drop(&mut self) {
        if let Some((path, _)) = &self.mark {
            let _ = fs::remove_file(path);
        }
    }
}

impl Session {
    /// The session of this process; it ends with its last file.
    pub(super) fn current() -> Arc<Self> {
        static CURRENT: Mutex<Weak<Session>> = Mutex::new(Weak::new());
        let mut current = CURRENT.lock().unwrap_or_else(PoisonError::into_inner);
        current.upgrade().unwrap_or_else(|| {
            let session = Arc::new(Self::begin(folder().as_deref()));
            *current = Arc::downgrade(&session);
            session
        })
    }

    fn begin(folder: Option<&Path>) -> Self {
        let token = Uuid::new_v4();
        let mark = folder.and_then(|folder| marked(folder, token).ok());
        Self { token, count: AtomicU32::new(0), mark }
    }

    /// Records the moves of several files before the first is made. Without a cache folder there is no journal, and
    /// nothing to recover.
    pub(super) fn plan(&self, journal: &Journal) {
        if let Some((_, mark)) = &self.mark {
            // moves without a journal are what they were: each whole, and not all or none after a kill
            let _ = journal.write(mark);
        }
    }

    /// The planned moves have been made or reversed.
    pub(super) fn settled(&self) {
        if let Some((_, mark)) = &self.mark {
            let _ = Journal::clear(mark);
        }
    }

    /// The path of a new temporary file in the folder of the target.
    pub(super) fn beside(&self, place: &Path) -> PathBuf {
        let count = self.count.fetch_add(1, Ordering::Relaxed);
        place.with_file_name(format!("{PREFIX}{}-{count}.{UNFINISHED}", self.token.simple()))
    }
}

/// Creates and locks the file that stands for a session.
fn marked(folder: &Path, token: Uuid) -> io::Result<(PathBuf, File)> {
    fs::create_dir_all(folder)?;
    let path = folder.join(token.simple().to_string());
    let file = File::create_new(&path)?;
    // waits for a process that looks for killed sessions at this moment
    file.lock().inspect_err(|_| drop(fs::remove_file(&path)))?;
    Ok((path, file))
}

/// The folder of the locked files.
fn folder() -> Option<PathBuf> {
    Some(receipts::list()?.with_file_name("unfinished"))
}

/// Removes the temporary files of killed sessions from the folder, once for each process and folder.
pub(in crate::commands) fn remove_stale(place: &Path) {
    static DONE: LazyLock<Mutex<HashSet<PathBuf>>> = LazyLock::new(Mutex::default);
    let mut done = DONE.lock().unwrap_or_else(PoisonError::into_inner);
    if done.insert(place.to_owned())
        && let Some(sessions) = folder()
    {
        remove_stale_of(&sessions, place);
    }
}

/// Completes or reverses the moves of killed commands.
pub(in crate::commands) fn recover() -> Vec<Recovered> {
    folder().map_or_else(Vec::new, |sessions| recover_of(&sessions))
}

fn recover_of(sessions: &Path) -> Vec<Recovered> {
    killed(sessions)
        .into_values()
        .filter_map(|mark| {
            let recovered = Journal::read(&mark)?.recover();
            let _ = Journal::clear(&mark);
            Some(recovered)
        })
        .collect()
}

fn remove_stale_of(sessions: &Path, place: &Path) {
    let killed = killed(sessions);
    if killed.is_empty() {
        return;
    }
    let here = if place.as_os_str().is_empty() { Path::new(".") } else { place };
    for entry in fs::read_dir(here).into_iter().flatten().flatten() {
        let own = token(&entry.file_name()).is_some_and(|token| killed.contains_key(&token));
        // a link is not followed, and a folder of such a name is not trug's
        if own && entry.file_type().is_ok_and(|kind| kind.is_file()) {
            let _ = fs::remove_file(entry.path());
        }
    }
}

/// The sessions that no process holds any more, with their locks: a session that begins at this moment waits
/// for them, and has no file yet.
fn killed(sessions: &Path) -> HashMap<Uuid, File> {
    let entries = fs::read_dir(sessions).into_iter().flatten().flatten();
    let locked = |path: &Path| {
        let file = OpenOptions::new().read(true).write(true).open(path).ok()?;
        file.try_lock().is_ok().then_some(file)
    };
    entries
        .filter_map(|entry| Some((simple(entry.file_name().to_str()?)?, locked(&entry.path())?)))
        .collect()
}

/// The token in the name of a temporary file.
fn token(name: &OsStr) -> Option<Uuid> {
    let (stem, end) = name.to_str()?.strip_prefix(PREFIX)?.split_once('.')?;
    let (token, count) = stem.split_once('-')?;
    let counted = count.parse::<u32>().is_ok();
    (counted && [UNFINISHED, BEFORE].contains(&end)).then(|| simple(token)).flatten()
}

/// A token in the only way in which it is written.
fn simple(text: &str) -> Option<Uuid> {
    let token = Uuid::try_parse(text).ok()?;
    (token.simple().to_string() == text).then_some(token)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_of_killed_sessions_are_removed_and_no_others() {
        let folder = tempfile::tempdir().unwrap();
        let (sessions, place) = (folder.path().join("sessions"), folder.path().join("out"));
        fs::create_dir(&place).unwrap();
        let target = place.join("finds.csv");
        let write = |path: &Path| fs::write(path, "half").unwrap();
        // a killed session leaves its mark and its files, and the lock is gone
        let killed = Session::begin(Some(&sessions));
        let [first, second] = [killed.beside(&target), killed.beside(&target)];
        let before = first.with_extension(BEFORE);
        for path in [&first, &second, &before] {
            write(path);
        }
        let mark = killed.mark.as_ref().unwrap().0.clone();
        drop(killed);
        write(&mark);
        let running = Session::begin(Some(&sessions));
        let unmarked = Session::begin(None);
        let kept = [
            running.beside(&target),
            unmarked.beside(&target),
            place.join(".trug-4711-0.unfinished"),
            place.join(format!(".trug-{}-0.unfinished", Uuid::new_v4().simple())),
            first.with_extension("notes"),
            first.with_extension("unfinished.bak"),
            place.join(first.file_name().unwrap().to_str().unwrap().to_uppercase()),
            target.clone(),
        ];
        for path in &kept {
            write(path);
        }
        let folder_of_that_name = second
            .with_file_name(second.file_name().unwrap().to_str().unwrap().replace("-1.", "-2."));
        fs::create_dir(&folder_of_that_name).unwrap();
        remove_stale_of(&sessions, &place);
        for gone in [first, second, before] {
            assert!(!gone.exists(), "{}", gone.display());
        }
        assert!(kept.iter().all(|path| path.exists()), "{kept:?}");
        assert!(folder_of_that_name.exists());
        drop(running);
        assert_eq!(fs::read_dir(&sessions).unwrap().count(), 1, "a session removes its own mark");
    }

    #[test]
    fn moves_of_a_killed_session_are_completed_once() {
        let folder = tempfile::tempdir().unwrap();
        let (sessions, place) = (folder.path().join("sessions"), folder.path().join("out"));
        fs::create_dir(&place).unwrap();
        let killed = Session::begin(Some(&sessions));
        let targets = [place.join("a.csv"), place.join("b.csv")];
        let mut journal = Journal::default();
        for target in &targets {
            let temporary = killed.beside(target);
            fs::write(&temporary, "new").unwrap();
            let receipt = receipts::Receipt { length: 3, hash: blake3::hash(b"new") };
            assert!(journal.add(&temporary, target, receipt, false));
        }
        killed.plan(&journal);
        assert_eq!(recover_of(&sessions), [], "the session still runs");
        // the mark of a killed session stays without its lock
        let mark = killed.mark.as_ref().unwrap().0.clone();
        let content = fs::read(&mark).unwrap();
        drop(killed);
        fs::write(&mark, content).unwrap();
        let recovered = recover_of(&sessions);
        assert_eq!(recovered.len(), 1);
        assert_eq!(recovered[0].files, targets);
        assert!(targets.iter().all(|target| fs::read(target).unwrap() == b"new"));
        assert_eq!(fs::read_dir(&place).unwrap().count(), 2);
        fs::remove_file(&targets[0]).unwrap();
        assert_eq!(recover_of(&sessions), [], "what the user removes stays removed");
    }
}
