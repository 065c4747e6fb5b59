//! Opens a store safely. Refuses files of other programs and never overwrites one. Layer: `store`.
//!
//! The first bytes decide: SQLite's mark and the GeoPackage mark have to be there before SQLite touches the file.
//! The file is then used with full synchronisation and a rollback journal, so that between two commands it is one
//! file that can be copied.

use std::io::{ErrorKind, Read};
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags};

use super::copy::{self, Copy};
use super::fault::Attempt;
use super::{Store, amend, check, layers, migrate};
use crate::error::{Result, StoreFault, open_regular, unopened_store};

/// How long to wait for another program to finish its writing.
const PATIENCE: Duration = Duration::from_secs(10);

impl Store {
    /// Opens the store at this path, or creates a new one.
    ///
    /// An empty file is taken for a store only where its name ends with `.gpkg`. The folder has to exist.
    ///
    /// # Errors
    /// When the file is not a store, is another program's, was made by a newer trug, is damaged or
    /// in use, or on a disk error. Files are never replaced.
    ///
    /// # Examples
    /// ```
    /// use trug::store::Store;
    ///
    /// let folder = tempfile::tempdir()?;
    /// let notes = folder.path().join("notes.txt");
    /// std::fs::write(&notes, "42 caps under the old beech")?;
    /// // a file of another program is refused and stays as it is
    /// assert!(Store::create_or_open(&notes).is_err());
    /// assert_eq!(std::fs::read(&notes)?, b"42 caps under the old beech");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn create_or_open(path: &Path) -> Result<Self> {
        match look(path)? {
            Found::Nothing => {
                may_become_a_store(path)?;
                Self::create(path)
            }
            Found::GeoPackage => {
                let store = Self::open(path)?;
                store.may_be_changed()?;
                Ok(store)
            }
        }
    }

    /// Opens the store at this path. A read-only store is read through a temporary copy.
    ///
    /// Opening checks the file, migrates an older store and takes in what another program edited, so that it can write.
    /// The copy of a read-only store can be read by its owner only and is deleted with the value.
    ///
    /// # Errors
    /// As [`Store::create_or_open`], and when there is no such file.
    pub fn open(path: &Path) -> Result<Self> {
        Self::opened(path, check::at_a_glance)
    }

    /// Opens the store at this path for the full check, despite damage that still allows opening
    /// it.
    ///
    /// Always on a copy: nothing that the check does reaches the file. For [`Store::inspect`].
    ///
    /// # Errors
    /// As [`Store::open`].
    pub fn open_to_inspect(path: &Path) -> Result<Self> {
        Self::of_copy(path, |_, _| Ok(()))
    }

    fn opened(path: &Path, check: fn(&Connection, &Path) -> Attempt<()>) -> Result<Self> {
        if path.is_file() && !copy::may_be_written(path) {
            return Self::of_copy(path, check);
        }
        if let Found::Nothing = look(path)? {
            return Err(StoreFault::Missing.at(path));
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut taken_in = None;
        let mut store = Self::connect(path, flags, |connection| {
            check(connection, path)?;
            migrate::up_to_date(connection, path)?;
            taken_in = amend::absorb(connection)?;
            Ok(())
        })?;
        store.taken_in = taken_in;
        Ok(store)
    }

    /// Opens a copy of the store in its place.
    fn of_copy(path: &Path, check: fn(&Connection, &Path) -> Attempt<()>) -> Result<Self> {
        let copy = Copy::of(path)?;
        // the database rolls back incomplete changes in the copy
        let found = look_without_undoing(path)?;
        look(&copy.path())?;
        if let Found::Nothing = found {
            return Err(StoreFault::Empty.at(path));
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        let mut taken_in = None;
        let prepare = |connection: &mut Connection| {
            check(connection, &copy.path())?;
            migrate::up_to_date(connection, path)?;
            taken_in = amend::absorb(connection)?;
            Ok(())
        };
        let connection =
            prepared(&copy.path(), flags, prepare).map_err(|fault| fault.tell(path))?;
        Ok(Self { connection, path: path.to_owned(), copy: Some(copy), taken_in })
    }

    fn create(path: &Path) -> Result<Self> {
        let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
        if let Some(folder) = folder.filter(|folder| !folder.is_dir()) {
            return Err(StoreFault::NoFolder { folder: folder.to_owned() }.at(path));
        }
        let flags = OpenFlags::SQLITE_OPEN_READ_WRITE
            | OpenFlags::SQLITE_OPEN_CREATE
            | OpenFlags::SQLITE_OPEN_NO_MUTEX;
        Self::connect(path, flags, migrate::create)
    }

    fn connect(
        path: &Path,
        flags: OpenFlags,
        prepare: impl FnOnce(&mut Connection) -> Attempt<()>,
    ) -> Result<Self> {
        let connection = prepared(path, flags, prepare).map_err(|fault| fault.tell(path))?;
        Ok(Self { connection, path: path.to_owned(), copy: None, taken_in: None })
    }
}

fn prepared(
    path: &Path,
    flags: OpenFlags,
    prepare: impl FnOnce(&mut Connection) -> Attempt<()>,
) -> Attempt<Connection> {
    let mut connection = Connection::open_with_flags(plain(path), flags)?;
    connection.busy_timeout(PATIENCE)?;
    connection.set_prepared_statement_cache_capacity(64);
    layers::add_functions(&connection)?;
    // Rollback journal mode: a single file that can be copied between imports and rolls back an
    // incomplete import when opened. A GIS may have changed the mode; it stays where the file is
    // read-only.
    let _ = connection.pragma_update(None, "journal_mode", "DELETE");
    connection.pragma_update(None, "synchronous", "FULL")?;
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "trusted_schema", true)?;
    prepare(&mut connection)?;
    Ok(connection)
}

/// A path in a form that SQLite does not interpret: `file:x` and `:memory:` are file names.
fn plain(path: &Path) -> PathBuf {
    std::path::absolute(path).unwrap_or_else(|_| Path::new(".").join(path))
}

enum Found {
    Nothing,
    GeoPackage,
}

/// Checks the first bytes before SQLite does, after SQLite has rolled back an incomplete
/// transaction.
fn look(path: &Path) -> Result<Found> {
    if was_interrupted(path) {
        undo_half_done(path).map_err(|fault| fault.tell(path))?;
    }
    look_without_undoing(path)
}

fn look_without_undoing(path: &Path) -> Result<Found> {
    let mut head = Vec::new();
    match open_regular(path).and_then(|file| file.take(100).read_to_end(&mut head)) {
        Ok(0) => return Ok(Found::Nothing),
        Ok(_) => {}
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Found::Nothing),
        Err(error) => return Err(unopened_store(path, &error)),
    }
    if !head.starts_with(b"SQLite format 3\0") {
        return Err(StoreFault::NotSqlite.at(path));
    }
    if head.get(68..72) != Some(b"GPKG") {
        return Err(StoreFault::NotAGeoPackage.at(path));
    }
    Ok(Found::GeoPackage)
}

/// A broken link is not followed, and an empty file may be somebody's. One whose name ends with `.gpkg` is what a
/// killed creation leaves.
fn may_become_a_store(path: &Path) -> Result<()> {
    if path.is_symlink() && !path.exists() {
        return Err(StoreFault::BrokenLink.at(path));
    }
    let named_as_a_store = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("gpkg"));
    if named_as_a_store || !path.exists() {
        return Ok(());
    }
    Err(StoreFault::EmptyFile.at(path))
}

/// Whether a journal lies beside the file. Its first bytes must be SQLite's mark, so that other
/// files of such a name are not taken as journals.
fn was_interrupted(path: &Path) -> bool {
    const MARK: [u8; 8] = [0xd9, 0xd5, 0x05, 0xf9, 0x20, 0xa1, 0x63, 0xd7];
    let mut name = path.as_os_str().to_owned();
    name.push("-journal");
    let mut head = Vec::new();
    let read = open_regular(Path::new(&name)).and_then(|file| file.take(8).read_to_end(&mut head));
    read.is_ok() && head == MARK
}

fn undo_half_done(path: &Path) -> Attempt<()> {
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(plain(path), flags)?;
    connection.busy_timeout(PATIENCE)?;
    connection.query_row("SELECT count(*) FROM sqlite_master", [], |_| Ok(()))?;
    Ok(())
}
