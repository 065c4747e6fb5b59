//! What a user states about the columns of tables: by option, by a file, or in an earlier import of a
//! table with the same headings. Layer: `ingest`.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, PoisonError};

use serde::Deserialize;

use super::column::Column;
use super::headings::{self, bare};
use super::{nearest, shortened};
use crate::error::{Error, Result, read_regular};

/// The meaning of a column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Meaning {
    Column(Column),
    /// It is kept under its own heading.
    Own,
}

/// The word for a column that is kept under its own heading.
const KEEP: &str = "keep";

impl Meaning {
    fn of(word: &str) -> Option<Self> {
        if bare(word) == KEEP {
            return Some(Self::Own);
        }
        let by_word = Column::all().find(|column| bare(column.word()) == bare(word));
        by_word.or_else(|| headings::column(word)).map(Self::Column)
    }

    fn word(self) -> &'static str {
        match self {
            Self::Column(column) => column.word(),
            Self::Own => KEEP,
        }
    }
}

/// Mappings of headings by the headings of their table, as a store keeps them.
pub type Remembered = BTreeMap<String, BTreeMap<String, String>>;

/// The columns that a user maps.
#[derive(Debug, Default)]
pub struct Columns {
    stated: Vec<Stated>,
    remembered: Remembered,
    applied: Mutex<Remembered>,
}

#[derive(Debug)]
struct Stated {
    heading: String,
    meaning: Meaning,
    used: AtomicBool,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    columns: BTreeMap<String, String>,
}

impl Columns {
    /// With the mappings of earlier imports.
    #[must_use]
    pub fn remembering(remembered: Remembered) -> Self {
        Self { remembered, ..Self::default() }
    }

    /// Adds a mapping such as `Fotos=photos`.
    ///
    /// # Errors
    /// When it has no `=`, or what stands behind it is no column.
    pub fn state(&mut self, mapping: &str) -> Result<()> {
        let parts = mapping.rsplit_once('=').map(|(heading, word)| (heading.trim(), word.trim()));
        let Some((heading, word)) = parts.filter(|(heading, _)| !heading.is_empty()) else {
            return Err(Error::input(format!("--column {mapping} cannot be read"))
                .because("expected the heading of a column, =, and what it means")
                .hint("write it as --column \"Fotos=photos\""));
        };
        self.add(heading, word)
    }

    /// Adds the mappings of a file.
    ///
    /// # Errors
    /// When the file cannot be read, is not in the form of such a file, or names no column.
    pub fn read_file(&mut self, path: &Path) -> Result<()> {
        let bytes = read_regular(path).map_err(|source| Error::file("read", path, &source))?;
        self.read_from(&bytes, path)
    }

    /// Adds the mappings of a file with this content; `path` names it in messages.
    ///
    /// # Errors
    /// When it is not in the form of such a file, or names no column.
    pub fn read_from(&mut self, bytes: &[u8], path: &Path) -> Result<()> {
        let text = String::from_utf8_lossy(bytes);
        let text = text.trim_start_matches('\u{feff}');
        let file: File = toml::from_str(text).map_err(|error| unread(path, text, &error))?;
        for (heading, word) in &file.columns {
            self.add(heading, word).map_err(|error| error.in_file(path))?;
        }
        Ok(())
    }

    fn add(&mut self, heading: &str, word: &str) -> Result<()> {
        let Some(meaning) = Meaning::of(word) else {
            let near = nearest::heading(word)
                .map_or(String::new(), |(near, _)| format!("; the nearest is \"{near}\""));
            return Err(Error::input(format!("\"{word}\" is no column of field records"))
                .because(format!("the column \"{heading}\" is said to mean it{near}"))
                .hint("name one of the list in docs/reading-records.md, such as photos, or keep"));
        };
        self.stated.push(Stated {
            heading: heading.to_owned(),
            meaning,
            used: AtomicBool::new(false),
        });
        Ok(())
    }

    /// The column that a heading is said to mean.
    pub(super) fn stated(&self, heading: &str) -> Option<Column> {
        match self.find(heading, "")?.meaning {
            Meaning::Column(column) => Some(column),
            Meaning::Own => None,
        }
    }

    fn find(&self, heading: &str, name: &str) -> Option<&Stated> {
        let whole = |stated: &&Stated| {
            let own = stated.heading.trim();
            own == heading.trim() || !name.is_empty() && own == name
        };
        let alike = |stated: &&Stated| {
            let bare = bare(&stated.heading);
            !bare.is_empty() && bare == headings::bare(heading)
        };
        // the last one counts
        let mut stated = self.stated.iter().rev();
        stated.clone().find(whole).or_else(|| stated.find(alike))
    }

    /// The mapping for a table with these headings.
    pub(super) fn of_table(&self, headings: &[String]) -> Mapping<'_> {
        let key = key(headings);
        Mapping { columns: self, remembered: self.remembered.get(&key), key }
    }

    /// Headings that were stated and are in no table.
    #[must_use]
    pub fn unused(&self) -> Vec<String> {
        let unused = self.stated.iter().filter(|stated| !stated.used.load(Ordering::Relaxed));
        unused.map(|stated| stated.heading.clone()).collect()
    }

    /// What a store is to remember: earlier mappings, and those stated now that tables have.
    #[must_use]
    pub fn to_remember(&self) -> Option<Remembered> {
        let applied = self.applied.lock().unwrap_or_else(PoisonError::into_inner);
        if applied.is_empty() {
            return None;
        }
        let mut all = self.remembered.clone();
        for (key, mapping) in &*applied {
            all.entry(key.clone()).or_default().extend(mapping.clone());
        }
        Some(all)
    }
}

/// A file of mappings that cannot be read, with the line as it is to be.
fn unread(path: &Path, text: &str, error: &toml::de::Error) -> Error {
    let start = error.span().map(|span| span.start).filter(|start| text.is_char_boundary(*start));
    let line = start.and_then(|start| text.get(..start)).map(|before| before.lines().count());
    let written = start.and_then(|start| {
        let begin = text[..start].rfind('\n').map_or(0, |place| place + 1);
        text[begin..].lines().next()
    });
    let refused = Error::input(format!("{} cannot be read", path.display())).in_file(path);
    let refused = match written.and_then(quoted) {
        Some(mended) => refused
            .because(format!(
                "\"{}\" lacks quotation marks around the heading or its meaning",
                shortened(written.unwrap_or_default().trim()).replace('"', "'")
            ))
            .hint(format!("write it as {mended}")),
        None => refused
            .because(error.message().to_owned())
            .hint("write a section [columns] and below it lines such as \"Fotos\" = \"photos\""),
    };
    match line {
        Some(line) => refused.at_line(line.max(1) as u64),
        None => refused,
    }
}

/// A line `Fotos = photos` with the quotation marks that it lacks.
fn quoted(line: &str) -> Option<String> {
    let (heading, word) = line.trim().rsplit_once('=')?;
    let is_whole = |text: &str| text.len() > 1 && text.starts_with('"') && text.ends_with('"');
    let (heading, word) = (heading.trim(), word.trim());
    let bare = |text: &str| text.trim_matches(['"', '\'']).trim().to_owned();
    let (plain, meaning) = (bare(heading), bare(word));
    let lacks = !is_whole(heading) || !is_whole(word);
    let may_be =
        !plain.is_empty() && !plain.starts_with(['[', '#']) && Meaning::of(&meaning).is_some();
    (lacks && may_be && !plain.contains('"')).then(|| format!("\"{plain}\" = \"{meaning}\""))
}

/// The headings of a table as one key, whatever their order.
fn key(headings: &[String]) -> String {
    let mut all: Vec<String> = headings.iter().map(|heading| bare(heading)).collect();
    all.retain(|heading| !heading.is_empty());
    all.sort_unstable();
    blake3::hash(all.join("\n").as_bytes()).to_hex()[..32].to_owned()
}

/// The mapping for one table.
pub(super) struct Mapping<'c> {
    columns: &'c Columns,
    remembered: Option<&'c BTreeMap<String, String>>,
    key: String,
}

impl Mapping<'_> {
    /// What is stated or remembered of a heading; `name` is its name where it is blank or repeated.
    pub(super) fn of(&self, heading: &str, name: &str) -> Option<Meaning> {
        if let Some(stated) = self.columns.find(heading, name) {
            stated.used.store(true, Ordering::Relaxed);
            let mut applied = self.columns.applied.lock().unwrap_or_else(PoisonError::into_inner);
            let word = stated.meaning.word().to_owned();
            applied.entry(self.key.clone()).or_default().insert(name.to_owned(), word);
            return Some(stated.meaning);
        }
        Meaning::of(self.remembered?.get(name)?)
    }

    /// The columns that are read as stated, now or in an earlier import, for a note.
    pub(super) fn in_words(&self, names: &[String]) -> Vec<String> {
        let stated = |name: &String| match self.of(name, name)? {
            Meaning::Own => None,
            meaning @ Meaning::Column(_) => Some(format!("\"{name}\" as {}", meaning.word())),
        };
        names.iter().filter_map(stated).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn columns(mappings: &[&str]) -> Columns {
        let mut columns = Columns::default();
        for mapping in mappings {
            columns.state(mapping).unwrap();
        }
        columns
    }

    #[test]
    fn the_line_of_a_fault_is_found_behind_a_mark_and_wide_letters() {
        let mut columns = Columns::default();
        for filling in ["", "#", "##", "###"] {
            let text = format!("\u{feff}{filling}\n\"\u{20ac}\u{20ac}\" x\n");
            let refused = columns.read_from(text.as_bytes(), Path::new("c.toml")).unwrap_err();
            assert!(refused.to_string().contains("(line 2)"), "{refused}");
        }
    }

    #[test]
    fn a_line_without_quotation_marks_is_shown_with_them() {
        for line in [
            "Fotos = photos",
            "\"Fotos\" = photos",
            "Bilder am Ort = \"photos\"",
            "F\u{f8}to = photos",
            "Fotos = 'photos",
        ] {
            let text = format!("[columns]\n{line}\n");
            let refused =
                Columns::default().read_from(text.as_bytes(), Path::new("c.toml")).unwrap_err();
            let hint = refused.advice().unwrap_or_default();
            assert!(
                hint.starts_with("write it as \"") && hint.ends_with("\" = \"photos\""),
                "{line}: {refused}"
            );
            assert_eq!(refused.where_line(), Some(2), "{line}");
        }
        let other = Columns::default().read_from(b"[columns\n", Path::new("c.toml")).unwrap_err();
        assert!(other.advice().unwrap_or_default().contains("a section [columns]"), "{other}");
    }

    #[test]
    fn a_mapping_is_of_a_word_or_a_heading_of_any_language() {
        let own = columns(&["Bilder am Ort = photos", "Wo=Fundort", "a=b=dwc:eventDate", "X=keep"]);
        assert_eq!(own.stated("bilder AM ort"), Some(Column::Photos));
        assert_eq!(own.stated("Wo"), Some(Column::Place));
        assert_eq!(own.stated("a=b"), Some(Column::Date));
        assert_eq!(own.stated("X"), None);
        assert_eq!(own.unused().len(), 4);
        let refused = |mapping: &str| Columns::default().state(mapping).unwrap_err().to_string();
        assert!(refused("Fotos").contains("cannot be read"));
        assert!(refused("A=fotoz").contains("the nearest is \"Fotos\""), "{}", refused("A=fotoz"));
    }

    #[test]
    fn a_mapping_is_remembered_for_tables_with_the_same_headings() {
        let headings =
            |names: &[&str]| names.iter().map(|name| (*name).to_owned()).collect::<Vec<_>>();
        let table = headings(&["Nr", "Was", "Wer"]);
        let first = columns(&["Was=name"]);
        assert_eq!(first.of_table(&table).of("Was", "Was"), Some(Meaning::Column(Column::Name)));
        let later = Columns::remembering(first.to_remember().unwrap());
        let same = later.of_table(&headings(&["Wer", "Was", "Nr"]));
        assert_eq!(same.of("Was", "Was"), Some(Meaning::Column(Column::Name)));
        assert_eq!(same.in_words(&table), ["\"Was\" as name"]);
        assert_eq!(later.of_table(&table[..2]).of("Was", "Was"), None);
        assert_eq!(later.to_remember(), None);
    }
}
