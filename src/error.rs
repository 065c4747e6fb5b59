//! Represents an error that a person can act on: what failed, where, why with the actual values, and
//! one hint. One opaque type for the whole crate. Layer: `error`.
//!
//! An error is for a person: it quotes what was written, where, and says one thing to do. Programs use
//! [`Error::code`], which is stable over versions, or [`Error::fault`]. Texts of users in it are bounded in length,
//! and control characters are shown as escapes.
//!
//! Errors are returned where there is no result. A part of an input that could not be used is the same type in a
//! list beside the result: `set_aside`, `remarks`.
//!
//! # Examples
//! ```
//! use trug::error::{Error, Fault};
//!
//! let error = Error::input("IMG_2041.jpg has no position")
//!     .because("ridge.gpx has no fix between 13:40:05 and 14:31:50 UTC")
//!     .hint("if the camera was not on local time, say so with --camera-clock")
//!     .in_file("walk/IMG_2041.jpg");
//! assert_eq!(error.fault(), Fault::Input);
//! assert_eq!(
//!     error.to_string(),
//!     "IMG_2041.jpg has no position\n\
//!      because: ridge.gpx has no fix between 13:40:05 and 14:31:50 UTC\n\
//!      hint: if the camera was not on local time, say so with --camera-clock"
//! );
//! ```

use std::error::Error as StdError;
use std::fmt;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde::Serialize;
use serde_json::{Map, Value};

mod merged;
mod regular;
mod store;
mod visible;
mod way_out;

pub(crate) use merged::merged;
pub(crate) use regular::{open_regular, other_than_a_file, read_regular};
pub(crate) use store::{
    ChangeFault, Refusal, RowDamage, RowForm, StoreFault, Unpacked, unopened_store,
};
pub use store::{Defect, ShapeDefect};
pub(crate) use visible::{
    bounded, is_hidden, replaced, visible, visible_line, visible_xml, without_middle,
};
pub(crate) use way_out::{LegFault, WayOutFault};

/// The result of everything in this crate that can fail.
pub type Result<T> = std::result::Result<T, Error>;

/// A failure, or a part of the input that was set aside.
///
/// Shown as three lines at the most: what, `because:` and `hint:`. In JSON an object with `file`,
/// `line`, `what`, `why` and `hint`; an error with a code has `code` and its values too.
///
/// One pointer wide, so that a `Result` stays small. The place is left out of the sentence where the sentence names
/// it already.
pub struct Error(Box<Report>);

/// Whose turn it is to mend something.
///
/// Decides the exit status of the program. [`Error::file`] counts what a user can mend (a missing file, a
/// permission, a full disk) as [`Fault::Input`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Fault {
    /// The command or the input must change.
    Input,
    /// The machine said no: a disk, a permission, a locked store.
    Machine,
    /// trug itself is wrong.
    Program,
}

#[derive(Clone, Serialize)]
struct Report {
    /// The code and the values of the error, where it has some.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    finding: Option<Map<String, Value>>,
    #[serde(serialize_with = "as_text")]
    file: Option<PathBuf>,
    line: Option<u64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    sheet: Option<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    column: Option<String>,
    what: String,
    why: Option<String>,
    hint: Option<String>,
    #[serde(skip)]
    fault: Fault,
    #[serde(skip)]
    source: Option<Arc<dyn StdError + Send + Sync>>,
}

impl Error {
    /// The input or the command is wrong. `what` is a sentence without a full stop that names the
    /// thing: "the photograph has no position".
    #[must_use]
    pub fn input(what: impl Into<String>) -> Self {
        Self::new(what.into(), Fault::Input)
    }

    /// The machine refused: a disk, a permission, a locked file.
    #[must_use]
    pub fn machine(what: impl Into<String>) -> Self {
        Self::new(what.into(), Fault::Machine)
    }

    /// trug broke a promise of its own.
    #[must_use]
    pub fn program(what: impl Into<String>) -> Self {
        Self::new(what.into(), Fault::Program)
            .hint("this is a fault of trug, not of your files: please report it with this message")
    }

    /// A file could not be opened, read or written.
    ///
    /// `doing` is the verb: "open", "read", "write". The hint follows from the kind of the failure.
    #[must_use]
    pub fn file(doing: &str, path: &Path, source: &io::Error) -> Self {
        let (fault, hint) = turn(source.kind());
        Self::new(format!("cannot {doing} {}", path.display()), fault)
            .because(source.to_string())
            .hint(hint)
            .in_file(path)
            .caused_by(same(source))
    }

    fn new(what: String, fault: Fault) -> Self {
        let report = Report {
            finding: None,
            file: None,
            line: None,
            sheet: None,
            column: None,
            what: bounded(what),
            why: None,
            hint: None,
            fault,
            source: None,
        };
        Self(Box::new(report))
    }

    /// The error of another library that it came from, which [`StdError::source`] returns.
    #[must_use]
    pub fn caused_by(mut self, source: impl StdError + Send + Sync + 'static) -> Self {
        self.0.source = Some(Arc::new(source));
        self
    }

    /// With its code and values: a value of an enum whose tag is `code`.
    #[must_use]
    pub(crate) fn of(mut self, finding: &impl Serialize) -> Self {
        if let Ok(Value::Object(parts)) = serde_json::to_value(finding) {
            self.0.finding = Some(parts);
        }
        self
    }

    /// An input error as it is in JSON, without its place in a workbook.
    pub(crate) fn of_json(mut parts: Map<String, Value>) -> Self {
        let mut take = |name: &str| parts.remove(name);
        let text = |value: Option<Value>| value.and_then(|value| value.as_str().map(str::to_owned));
        let mut error = Self::input(text(take("what")).unwrap_or_default());
        error.0.why = text(take("why"));
        error.0.hint = text(take("hint"));
        error.0.file = text(take("file")).map(PathBuf::from);
        error.0.line = take("line").and_then(|line| line.as_u64());
        take("sheet");
        take("column");
        error.0.finding = parts.contains_key("code").then_some(parts);
        error
    }

    /// Why, with the actual values.
    #[must_use]
    pub fn because(mut self, why: impl Into<String>) -> Self {
        self.0.why = Some(bounded(why.into()));
        self
    }

    /// What to do about it.
    #[must_use]
    pub fn hint(mut self, hint: impl Into<String>) -> Self {
        self.0.hint = Some(bounded(hint.into()));
        self
    }

    /// In which file; the first one named is kept.
    ///
    /// A lower layer knows the place best, so that what it said is not replaced on the way up.
    #[must_use]
    pub fn in_file(mut self, file: impl Into<PathBuf>) -> Self {
        self.0.file.get_or_insert_with(|| file.into());
        self
    }

    /// On which line of it, counted from one; the first one named is kept.
    #[must_use]
    pub fn at_line(mut self, line: u64) -> Self {
        self.0.line.get_or_insert(line);
        self
    }

    /// On which sheet of a workbook; its lines are then rows.
    #[must_use]
    pub fn in_sheet(mut self, sheet: Option<&str>) -> Self {
        self.0.sheet = self.0.sheet.or_else(|| sheet.map(str::to_owned));
        self
    }

    /// In which column of a workbook, counted from zero.
    #[must_use]
    pub fn at_column(mut self, column: usize) -> Self {
        self.0.column.get_or_insert_with(|| letters(column));
        self
    }

    /// The sheet of a workbook.
    #[must_use]
    pub fn where_sheet(&self) -> Option<&str> {
        self.0.sheet.as_deref()
    }

    /// The place in a workbook: `Sheet "2025", cell C14`; `None` for other files.
    #[must_use]
    pub fn where_cell(&self) -> Option<String> {
        let sheet = format!("Sheet \"{}\"", self.0.sheet.as_ref()?);
        Some(match (self.0.line, &self.0.column) {
            (Some(line), Some(column)) => format!("{sheet}, cell {column}{line}"),
            (Some(line), None) => format!("{sheet}, row {line}"),
            (None, Some(column)) => format!("{sheet}, column {column}"),
            (None, None) => sheet,
        })
    }

    /// The file it happened in.
    #[must_use]
    pub fn where_file(&self) -> Option<&Path> {
        self.0.file.as_deref()
    }

    /// The line of that file, counted from one.
    #[must_use]
    pub fn where_line(&self) -> Option<u64> {
        self.0.line
    }

    /// The code, stable over versions, of an error that has one: `goal-too-far`.
    ///
    /// `docs/findings.md` lists all codes with their values.
    #[must_use]
    pub fn code(&self) -> Option<&str> {
        self.finding()?.get("code")?.as_str()
    }

    /// The code and the values of an error that has some.
    pub(crate) fn finding(&self) -> Option<&Map<String, Value>> {
        self.0.finding.as_ref()
    }

    /// What failed.
    #[must_use]
    pub fn what(&self) -> &str {
        &self.0.what
    }

    /// Why it failed.
    #[must_use]
    pub fn why(&self) -> Option<&str> {
        self.0.why.as_deref()
    }

    /// What to do about it.
    #[must_use]
    pub fn advice(&self) -> Option<&str> {
        self.0.hint.as_deref()
    }

    /// Whose turn it is.
    #[must_use]
    pub fn fault(&self) -> Fault {
        self.0.fault
    }
}

/// The letters of a column, counted from zero: A to Z, then AA.
fn letters(column: usize) -> String {
    let mut letters: Vec<char> = Vec::new();
    let mut rest = column.saturating_add(1);
    while rest > 0 {
        letters.extend(('A'..='Z').nth((rest - 1) % 26));
        rest = (rest - 1) / 26;
    }
    letters.into_iter().rev().collect()
}

/// Whose turn it is after a failure of this kind, and what to do.
fn turn(kind: io::ErrorKind) -> (Fault, &'static str) {
    use io::ErrorKind as Kind;
    match kind {
        Kind::NotFound => (Fault::Input, "check the spelling; there is no file of that name"),
        Kind::IsADirectory => (Fault::Input, "name a file, not a folder"),
        Kind::AlreadyExists => (Fault::Input, "choose another name; a file of that name exists"),
        Kind::NotADirectory => {
            (Fault::Input, "check the spelling; a part of the path is not a folder")
        }
        Kind::InvalidInput | Kind::InvalidFilename => {
            (Fault::Input, "use an ordinary file with a valid name")
        }
        Kind::InvalidData => (Fault::Input, "check that the file has the required format"),
        Kind::PermissionDenied | Kind::ReadOnlyFilesystem => {
            (Fault::Input, "check its permissions")
        }
        Kind::StorageFull | Kind::QuotaExceeded | Kind::FileTooLarge => {
            (Fault::Input, "free some space on that disk, or raise the limit, and try again")
        }
        _ => (Fault::Machine, "check whether another program uses it or the disk is damaged"),
    }
}

#[allow(clippy::ref_option, reason = "the form that serde asks for")]
fn as_text<S: serde::Serializer>(
    path: &Option<PathBuf>,
    serializer: S,
) -> std::result::Result<S::Ok, S::Error> {
    match path {
        Some(path) => serializer.serialize_some(&path.to_string_lossy()),
        None => serializer.serialize_none(),
    }
}

impl Serialize for Error {
    fn serialize<S: serde::Serializer>(
        &self,
        serializer: S,
    ) -> std::result::Result<S::Ok, S::Error> {
        self.0.serialize(serializer)
    }
}

impl Clone for Error {
    fn clone(&self) -> Self {
        Self(self.0.clone())
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&visible_line(&self.0.what))?;
        if let Some(place) = self.unnamed_place() {
            write!(f, " ({})", visible_line(&place))?;
        }
        if let Some(why) = &self.0.why {
            write!(f, "\nbecause: {}", visible_line(why))?;
        }
        if let Some(hint) = &self.0.hint {
            write!(f, "\nhint: {}", visible_line(hint))?;
        }
        Ok(())
    }
}

impl Error {
    /// The place, as far as the sentence does not name it already.
    fn unnamed_place(&self) -> Option<String> {
        let line = || self.0.line.map(|line| format!("line {line}"));
        let line = self.where_cell().or_else(line);
        let file = self.0.file.as_ref().and_then(|file| {
            let name = file.file_name()?.to_string_lossy().into_owned();
            (!self.0.what.contains(&name)).then_some(name)
        });
        match (file, line) {
            (Some(file), Some(line)) => Some(format!("{file}, {line}")),
            (file, line) => file.or(line),
        }
    }
}

impl fmt::Debug for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

impl StdError for Error {
    fn source(&self) -> Option<&(dyn StdError + 'static)> {
        let source: &(dyn StdError + 'static) = self.0.source.as_deref()?;
        Some(source)
    }
}

/// The same failure of the system once more; `io::Error` cannot be cloned.
fn same(error: &io::Error) -> io::Error {
    match error.raw_os_error() {
        Some(code) => io::Error::from_raw_os_error(code),
        None => io::Error::new(error.kind(), error.to_string()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_source_is_the_failure_of_the_system() {
        let path = Path::new("/nowhere/at/all.gpx");
        let failed = std::fs::File::open(path).unwrap_err();
        let error = Error::file("open", path, &failed);
        let source = StdError::source(&error).unwrap().downcast_ref::<io::Error>().unwrap();
        assert_eq!(source.kind(), io::ErrorKind::NotFound);
        assert_eq!(source.to_string(), failed.to_string());
        assert!(StdError::source(&Error::input("no file")).is_none());
    }

    #[test]
    fn error_text_has_what_why_and_hint() {
        let error = Error::input("IMG_2041.jpg has no position")
            .because("taken 14:02:10; ridge.gpx has no fix then")
            .hint("say so with --camera-clock")
            .in_file("day/IMG_2041.jpg");
        assert_eq!(
            error.to_string(),
            "IMG_2041.jpg has no position\nbecause: taken 14:02:10; ridge.gpx has no fix then\n\
             hint: say so with --camera-clock"
        );
    }

    #[test]
    fn control_characters_in_a_name_are_escaped() {
        let error = Error::input("a\nerror: b\u{1b}[31m is no track").in_file("c\n.gpx");
        assert_eq!(error.to_string(), "a\\nerror: b\\u001b[31m is no track (c\\n.gpx)");
    }

    #[test]
    fn a_place_that_the_sentence_does_not_name_is_added() {
        let error = Error::input("a point was set aside").in_file("a/ridge.gpx").at_line(7);
        assert_eq!(error.to_string(), "a point was set aside (ridge.gpx, line 7)");
    }

    #[test]
    fn a_place_in_a_workbook_is_a_cell() {
        let error = Error::input("a time").in_file("a.xlsx").at_line(14).in_sheet(Some("2025"));
        assert_eq!(error.to_string(), r#"a time (a.xlsx, Sheet "2025", row 14)"#);
        let error = error.at_column(2);
        assert_eq!(error.to_string(), r#"a time (a.xlsx, Sheet "2025", cell C14)"#);
        let json = serde_json::to_string(&error).unwrap();
        assert!(json.contains(r#""line":14,"sheet":"2025","column":"C""#), "{json}");
        assert_eq!([0, 25, 26, 701, 702].map(letters), ["A", "Z", "AA", "ZZ", "AAA"]);
    }

    #[test]
    fn user_errors_are_not_unexpected() {
        let fault = |kind| Error::file("read", Path::new("x"), &io::Error::from(kind)).fault();
        for kind in [
            io::ErrorKind::NotFound,
            io::ErrorKind::IsADirectory,
            io::ErrorKind::NotADirectory,
            io::ErrorKind::InvalidData,
            io::ErrorKind::InvalidFilename,
            io::ErrorKind::PermissionDenied,
        ] {
            assert_eq!(fault(kind), Fault::Input, "{kind}");
        }
        assert_eq!(fault(io::ErrorKind::StorageFull), Fault::Input);
        assert_eq!(fault(io::ErrorKind::Other), Fault::Machine);
    }

    #[test]
    fn it_comes_back_from_json_with_code_and_values() {
        let error = Error::from(WayOutFault::StoredPaths { bytes: 7 }).in_file("a.gpkg").at_line(3);
        let Ok(Value::Object(parts)) = serde_json::to_value(&error) else { panic!("{error}") };
        let back = Error::of_json(parts);
        assert_eq!(back.code(), Some("stored-paths"));
        let json = |error: &Error| serde_json::to_value(error).unwrap();
        assert_eq!(json(&back), json(&error));
    }

    #[test]
    fn in_json_it_keeps_its_parts() {
        let error = Error::input("x").in_file("a.csv").at_line(3).because("y").hint("z");
        let json = serde_json::to_string(&error).unwrap();
        assert_eq!(json, r#"{"file":"a.csv","line":3,"what":"x","why":"y","hint":"z"}"#);
    }
}
