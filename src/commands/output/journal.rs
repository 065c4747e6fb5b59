//! Makes the moves of several files of one command recoverable: they are written to a journal before the first
//! is made, and the next command completes those of a killed one, or reverses them. Layer: `commands`.
//!
//! The journal is the content of the session's locked file in the cache folder. It is complete, or it does not
//! parse and counts as none: nothing was moved then.

use std::fs::{self, File, Metadata};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use std::time::UNIX_EPOCH;

use serde::{Deserialize, Serialize};

use super::receipts::{self, Receipt};
use super::session::BEFORE;
use crate::commands::console::Console;
use crate::error::Error;

/// The moves of one command.
#[derive(Debug, Default, Serialize, Deserialize)]
pub(super) struct Journal {
    moves: Vec<Move>,
}

/// A temporary file that becomes a target.
#[derive(Debug, Serialize, Deserialize)]
struct Move {
    from: PathBuf,
    to: PathBuf,
    length: u64,
    hash: String,
    /// The file that is replaced; `None` where there is none.
    replaces: Option<Stamp>,
}

/// What a file is recognised by without reading it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
struct Stamp {
    length: u64,
    modified_ns: u64,
}

impl Stamp {
    fn of(found: &Metadata) -> Option<Self> {
        let modified = found.modified().ok()?.duration_since(UNIX_EPOCH).ok()?;
        Some(Self { length: found.len(), modified_ns: u64::try_from(modified.as_nanos()).ok()? })
    }
}

/// The state of a move after a kill.
#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    /// The target has its new content.
    Made,
    /// The target is as it was, and the temporary file is complete.
    Ahead,
    /// Another program changed the target, or the temporary file is gone.
    Impossible,
}

impl Move {
    fn state(&self) -> State {
        let target = fs::symlink_metadata(&self.to).ok();
        match target {
            Some(found) if found.is_file() && self.holds(&self.to, &found) => State::Made,
            found if found.as_ref().and_then(Stamp::of) == self.replaces => self.ready(),
            _ => State::Impossible,
        }
    }

    fn ready(&self) -> State {
        let temporary = fs::symlink_metadata(&self.from);
        if temporary.is_ok_and(|found| found.is_file() && self.holds(&self.from, &found)) {
            State::Ahead
        } else {
            State::Impossible
        }
    }

    /// Whether a file has the new content.
    fn holds(&self, path: &Path, found: &Metadata) -> bool {
        let hash = || receipts::hash(File::open(path)?);
        found.len() == self.length && hash().is_ok_and(|hash| hash.to_hex().as_str() == self.hash)
    }

    fn make(&self) -> io::Result<()> {
        if let Ok(hash) = blake3::Hash::from_hex(&self.hash) {
            receipts::add(Receipt { length: self.length, hash });
        }
        fs::rename(&self.from, &self.to)
    }

    /// The name under which the replaced file is kept.
    fn kept(&self) -> PathBuf {
        self.from.with_extension(BEFORE)
    }

    /// Restores what was there before a move that was made.
    fn reverse(&self) -> io::Result<()> {
        let reversed = match self.replaces {
            None => fs::remove_file(&self.to),
            Some(_) => fs::rename(self.kept(), &self.to),
        };
        // a file that is replaced by one of the same content needs no move
        reversed.or_else(|error| match error.kind() {
            io::ErrorKind::NotFound => Ok(()),
            _ => Err(error),
        })
    }
}

/// What was done about the moves of a killed command.
#[derive(Debug, PartialEq, Eq)]
pub(in crate::commands) struct Recovered {
    /// Its targets.
    pub(in crate::commands) files: Vec<PathBuf>,
    /// How they are now.
    pub(in crate::commands) outcome: Outcome,
}

/// The state of the targets of a killed command.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::commands) enum Outcome {
    /// All have their new content.
    Completed,
    /// All are as they were before the command.
    Reversed,
    /// Another program has changed some of them since, so that neither is possible.
    Mixed,
}

impl Recovered {
    /// A note where all is well; otherwise a warning.
    pub(in crate::commands) fn report(&self, console: &mut Console) {
        let names: Vec<String> =
            self.files.iter().take(3).map(|file| file.display().to_string()).collect();
        let more = self.files.len() - names.len();
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        let files = format!("{}{more}", names.join(", "));
        let ended = "the command that writes them was ended early";
        match self.outcome {
            Outcome::Completed => {
                console.note(&format!("Completed {files}: {ended}."));
            }
            Outcome::Reversed => console.warning(
                &Error::input(format!("{files} are as they were: {ended}"))
                    .because("another program has changed one of the files since")
                    .hint("run that command again"),
            ),
            Outcome::Mixed => console.warning(
                &Error::input(format!("of {files} some are new and some are old: {ended}"))
                    .because("other programs have changed several of the files since")
                    .hint(
                        "run that command again, with --overwrite if you do not need the changes",
                    ),
            ),
        }
    }
}

impl Journal {
    /// Adds a move. `false` where the file that it replaces cannot be recognised later.
    pub(super) fn add(&mut self, from: &Path, to: &Path, receipt: Receipt, replaces: bool) -> bool {
        let stamp =
            if replaces { fs::metadata(to).ok().as_ref().and_then(Stamp::of) } else { None };
        self.moves.push(Move {
            from: from.to_owned(),
            to: to.to_owned(),
            length: receipt.length,
            hash: receipt.hash.to_hex().to_string(),
            replaces: stamp,
        });
        stamp.is_some() == replaces
    }

    /// Writes the journal to the locked file of its session.
    pub(super) fn write(&self, mut mark: &File) -> io::Result<()> {
        // paths that are no Unicode text cannot be written: such a command has no journal
        let text = serde_json::to_vec(self)?;
        mark.seek(SeekFrom::Start(0))?;
        mark.write_all(&text)?;
        mark.sync_all()
    }

    /// Ends the moves that a journal contains.
    pub(super) fn clear(mark: &File) -> io::Result<()> {
        mark.set_len(0)?;
        mark.sync_all()
    }

    /// The journal of a killed session, if it has a complete one.
    pub(super) fn read(mut mark: &File) -> Option<Self> {
        let mut text = Vec::new();
        mark.seek(SeekFrom::Start(0)).ok()?;
        mark.read_to_end(&mut text).ok()?;
        serde_json::from_slice(&text).ok().filter(|journal: &Self| !journal.moves.is_empty())
    }

    /// Makes the moves that are left, or reverses those that were made.
    pub(super) fn recover(&self) -> Recovered {
        let states: Vec<State> = self.moves.iter().map(Move::state).collect();
        let outcome = if states.contains(&State::Impossible) {
            self.reverse(&states)
        } else {
            self.complete(&states)
        };
        for one in &self.moves {
            let _ = fs::remove_file(&one.from);
            let _ = fs::remove_file(one.kept());
        }
        Recovered { files: self.moves.iter().map(|one| one.to.clone()).collect(), outcome }
    }

    fn complete(&self, states: &[State]) -> Outcome {
        let mut ahead = self.moves.iter().zip(states).filter(|(_, state)| **state == State::Ahead);
        let made = ahead.try_for_each(|(one, _)| one.make());
        if made.is_ok() { Outcome::Completed } else { Outcome::Mixed }
    }

    fn reverse(&self, states: &[State]) -> Outcome {
        let mut made = self.moves.iter().zip(states).filter(|(_, state)| **state == State::Made);
        let reversed = made.try_for_each(|(one, _)| one.reverse());
        if reversed.is_ok() { Outcome::Reversed } else { Outcome::Mixed }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NEW: [&str; 3] = ["new 1", "new 2", "new 3"];

    /// Three targets of which the second is replaced, with their temporary files, and the journal.
    fn staged(folder: &Path) -> (Vec<PathBuf>, Vec<PathBuf>, Journal) {
        let mut journal = Journal::default();
        let targets: Vec<PathBuf> = (0..3).map(|k| folder.join(format!("{k}.csv"))).collect();
        let temporary: Vec<PathBuf> =
            (0..3).map(|k| folder.join(format!(".trug-x-{k}.unfinished"))).collect();
        fs::write(&targets[1], "old 2").unwrap();
        for (index, text) in NEW.iter().enumerate() {
            fs::write(&temporary[index], text).unwrap();
            let receipt =
                Receipt { length: text.len() as u64, hash: blake3::hash(text.as_bytes()) };
            assert!(journal.add(&temporary[index], &targets[index], receipt, index == 1));
        }
        (temporary, targets, journal)
    }

    /// The moves as `Staged` makes them, up to a kill after so many of their steps.
    fn moved(temporary: &[PathBuf], targets: &[PathBuf], steps: usize) {
        let before = temporary[1].with_extension(BEFORE);
        let all: [&dyn Fn() -> io::Result<()>; 5] = [
            &|| fs::hard_link(&temporary[0], &targets[0]),
            &|| fs::hard_link(&targets[1], &before),
            &|| fs::rename(&temporary[1], &targets[1]),
            &|| fs::hard_link(&temporary[2], &targets[2]),
            &|| fs::remove_file(&temporary[0]),
        ];
        all.iter().take(steps).for_each(|step| step().unwrap());
    }

    fn contents(targets: &[PathBuf]) -> Vec<Option<String>> {
        targets.iter().map(|target| fs::read_to_string(target).ok()).collect()
    }

    #[test]
    fn moves_of_a_command_killed_at_any_step_are_completed() {
        for steps in 0..=5 {
            let folder = tempfile::tempdir().unwrap();
            let (temporary, targets, journal) = staged(folder.path());
            moved(&temporary, &targets, steps);
            let recovered = journal.recover();
            assert_eq!(
                recovered,
                Recovered { files: targets.clone(), outcome: Outcome::Completed }
            );
            assert_eq!(contents(&targets), NEW.map(|text| Some(text.to_owned())), "{steps}");
            assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 3, "{steps}");
        }
    }

    #[test]
    fn moves_are_reversed_where_one_is_no_longer_possible() {
        for steps in 0..=2 {
            let folder = tempfile::tempdir().unwrap();
            let (temporary, targets, journal) = staged(folder.path());
            moved(&temporary, &targets, steps);
            // somebody writes the last target before the next command
            fs::write(&targets[2], "mine").unwrap();
            assert_eq!(journal.recover().outcome, Outcome::Reversed);
            let before = [None, Some("old 2".to_owned()), Some("mine".to_owned())];
            assert_eq!(contents(&targets), before, "{steps}");
        }
        let folder = tempfile::tempdir().unwrap();
        let (temporary, targets, journal) = staged(folder.path());
        moved(&temporary, &targets, 3);
        fs::remove_file(&temporary[2]).unwrap();
        assert_eq!(journal.recover().outcome, Outcome::Reversed);
        assert_eq!(contents(&targets), [None, Some("old 2".to_owned()), None]);
        // what replaced the old file was changed: it is left
        let folder = tempfile::tempdir().unwrap();
        let (temporary, targets, journal) = staged(folder.path());
        moved(&temporary, &targets, 3);
        fs::write(&targets[1], "edited").unwrap();
        assert_eq!(journal.recover().outcome, Outcome::Reversed);
        assert_eq!(contents(&targets), [None, Some("edited".to_owned()), None]);
    }

    #[test]
    fn journal_that_was_cut_or_ended_is_none() {
        let folder = tempfile::tempdir().unwrap();
        let (_, _, journal) = staged(folder.path());
        let path = folder.path().join("mark");
        let open =
            || File::options().read(true).write(true).create(true).truncate(false).open(&path);
        let mark = open().unwrap();
        assert!(Journal::read(&mark).is_none());
        journal.write(&mark).unwrap();
        let whole = fs::read(&path).unwrap();
        assert_eq!(Journal::read(&open().unwrap()).unwrap().moves.len(), 3);
        for length in 0..whole.len() {
            fs::write(&path, &whole[..length]).unwrap();
            assert!(Journal::read(&open().unwrap()).is_none(), "{length}");
        }
        Journal::clear(&mark).unwrap();
        assert!(Journal::read(&mark).is_none());
    }
}
