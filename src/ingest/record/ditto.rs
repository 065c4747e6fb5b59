//! Reads ditto marks in columns of places, hosts, people and taxa: they stand for the text above. What was written is
//! kept beside it. Layer: `ingest`.

use std::collections::HashMap;

use compact_str::CompactString;

use super::column::Column;
use super::filled;
use super::layout::{Layout, Slot};
use super::table::Row;
use crate::error::Error;
use crate::model::Field;

/// Marks, without dashes, points and spaces around them.
const SIGNS: [&str; 19] = [
    "\"",
    "''",
    "\u{201c}",
    "\u{201d}",
    "\u{201e}",
    "\u{201f}",
    "\u{2033}",
    "\u{3003}",
    "\u{ab}",
    "\u{bb}",
    ",,",
    "``",
    "\u{b4}\u{b4}",
    "\u{2018}\u{2018}",
    "\u{2019}\u{2019}",
    "\u{2032}\u{2032}",
    "\"\"",
    "\u{201e}\u{201c}",
    "\u{201e}\u{201d}",
];
/// Words that are ditto marks wherever they stand alone, also in a column of taxa.
const SURE: &str = "ditto dito dto dtto idem \u{ed}dem d:o";
/// Words that are ditto marks in columns of dates, places, plants and people.
const WORDS: &[&str] = &[
    "do",
    "id",
    "ib",
    "ibid",
    "ib\u{ed}d",
    "ibidem",
    "as above",
    "see above",
    "same as above",
    "same as before",
    "same as previous",
    "same place",
    "the same",
    "ebd",
    "ebda",
    "ebenda",
    "ebenso",
    "desgl",
    "dgl",
    "jw",
    "j.w",
    "j. w",
    "w.o",
    "w. o",
    "wie oben",
    "wie vor",
    "wie zuvor",
    "s.o",
    "s. o",
    "siehe oben",
    "comme ci-dessus",
    "ci-dessus",
    "voir ci-dessus",
    "comme plus haut",
    "m\u{ea}me lieu",
    "como arriba",
    "igual que arriba",
    "lo mismo",
    "como acima",
    "o mesmo",
    "come sopra",
    "c.s",
    "c. s",
    "zelfde",
    "als boven",
    "zie boven",
    "som ovenfor",
    "som ovenst\u{e5}ende",
    "som over",
    "se over",
    "som ovan",
    "se ovan",
    "samma som ovan",
    "kuten yll\u{e4}",
    "sama kuin yll\u{e4}",
    "ks. yll\u{e4}",
    "jak wy\u{17c}ej",
    "to samo",
    "tam\u{17c}e",
    "jako v\u{fd}\u{161}e",
    "viz v\u{fd}\u{161}e",
    "tot\u{e9}\u{17e}",
    "tamt\u{e9}\u{17e}",
];
/// Words that may be the name of a place or a person as well: they are ditto marks in small letters.
const NAMES: [&str; 6] = ["same", "sama", "samma", "samme", "samo", "stesso"];
/// The longest mark, bytes.
const LONGEST: usize = 32;

/// What a cell is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Mark {
    Sure,
    Word,
    /// A word in capitals that may also be a name.
    Doubtful,
}

impl Mark {
    fn of(cell: &str) -> Option<Self> {
        if cell.len() > LONGEST {
            return None;
        }
        let is_dash = |c: char| "-_\u{2013}\u{2014}\u{2012}\u{2011}".contains(c);
        let text =
            cell.trim_matches(|c: char| is_dash(c) || c.is_whitespace() || ".:;".contains(c));
        if SIGNS.contains(&text) {
            return Some(Self::Sure);
        }
        if cell.starts_with(is_dash) != cell.ends_with(is_dash) || text.is_empty() {
            return None;
        }
        let small = text.to_lowercase();
        let small = small.split_whitespace().collect::<Vec<_>>().join(" ");
        // `ID` is a state, and `J.W.` and `DO` are people
        let letters = text.chars().filter(|c| c.is_alphabetic()).count();
        let capitals = text.chars().filter(|c| c.is_uppercase()).count();
        let of_sentence =
            capitals == 1 && letters > 1 && cell.ends_with('.') && !text.contains('.');
        let is_word = letters > 3 || capitals == 0 || of_sentence;
        if NAMES.contains(&small.as_str()) {
            return Some(if capitals == 0 { Self::Word } else { Self::Doubtful });
        }
        if !is_word {
            return None;
        }
        if SURE.split(' ').any(|word| word == small) {
            return Some(Self::Sure);
        }
        WORDS.contains(&small.as_str()).then_some(Self::Word)
    }
}

/// Whether a cell of a column of dates is a ditto mark.
pub(super) fn is_of_date(cell: &str) -> bool {
    Mark::of(cell).is_some()
}

/// Whether a column takes words as marks; `None` where it takes no marks.
fn takes_words(column: Column) -> Option<bool> {
    match column {
        Column::Place
        | Column::Country
        | Column::State
        | Column::County
        | Column::Municipality
        | Column::Substrate
        | Column::Host
        | Column::Habitat
        | Column::Collector
        | Column::IdentifiedBy => Some(true),
        Column::Name
        | Column::Genus
        | Column::Epithet
        | Column::Author
        | Column::Container
        | Column::Datum
        | Column::Zone => Some(false),
        _ => None,
    }
}

/// Whether a word in capitals may be a name in this column.
fn has_names(column: Column) -> bool {
    !matches!(column, Column::Substrate | Column::Host | Column::Habitat)
}

/// What the marks of a table were, by the line of their row: fields with the text as written.
pub(super) type Written = HashMap<u64, Vec<(Field, String)>>;

/// The marks of a table, with what there is to report.
#[derive(Default)]
pub(super) struct Marks {
    pub(super) written: Written,
    pub(super) notes: Vec<Error>,
    /// Marks without a text above them.
    pub(super) set_aside: Vec<Error>,
}

/// Writes the text above into the cells that are ditto marks.
pub(super) fn resolved(rows: &mut [Row], layout: &Layout, in_sheet: bool) -> Marks {
    let mut marks = Marks::default();
    for (place, slot) in layout.slots().iter().enumerate() {
        if let Slot::Known(column) = slot
            && let Some(words) = takes_words(*column)
        {
            marks.of_column(rows, *column, place, words, in_sheet);
        }
    }
    marks
}

impl Marks {
    fn of_column(
        &mut self,
        rows: &mut [Row],
        column: Column,
        place: usize,
        words: bool,
        in_sheet: bool,
    ) {
        let here = |error: Error, line: u64| {
            let error = error.at_line(line);
            if in_sheet { error.at_column(place) } else { error }
        };
        let word = column.word();
        let (mut above, mut count, mut first) = (None::<CompactString>, 0_usize, None);
        for row in rows {
            let line = row.line;
            let Some(cell) = row.cells.get_mut(place).filter(|cell| filled(cell).is_some()) else {
                above = None;
                continue;
            };
            let mark = Mark::of(cell.trim()).filter(|mark| words || *mark == Mark::Sure);
            match mark {
                Some(Mark::Doubtful) if has_names(column) => {
                    if above.as_ref().is_some_and(|above| above != cell) {
                        let note =
                            Error::input(format!("the {word} \"{}\" is kept as text", cell.trim()))
                                .because("it may be a name or a ditto mark")
                                .hint("write a ditto mark as \" or ditto");
                        self.notes.push(here(note, line));
                    }
                    above = Some(cell.clone());
                }
                None => above = Some(cell.clone()),
                Some(_) => {
                    let field = Field::Other(format!("{word} as written"));
                    let written = self.written.entry(line).or_default();
                    written.push((field, cell.trim().to_owned()));
                    if let Some(text) = &above {
                        cell.clone_from(text);
                        count += 1;
                        first.get_or_insert(line);
                    } else {
                        let error =
                            Error::input(format!("the {word} \"{}\" cannot be read", cell.trim()))
                                .because("it is a ditto mark, and there is no text above it")
                                .hint(format!("write the {word}"));
                        self.set_aside.push(here(error, line));
                        cell.clear();
                    }
                }
            }
        }
        if let Some(first) = first {
            let rows = if count == 1 { "1 row".to_owned() } else { format!("{count} rows") };
            let note = Error::input(format!("the {word} of {rows} was taken from the row above"));
            self.notes.push(here(note.because("their own is a ditto mark"), first));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{file, messages};
    use super::*;

    #[test]
    fn marks_and_words_stand_for_the_text_above() {
        for mark in [
            "''",
            "\u{201e}",
            "\u{3003}",
            "-\"-",
            "\u{2014}\"\u{2014}",
            "- \" -",
            "-''-",
            "dto.",
            "ditto",
            "Ditto",
            "do.",
            "Do.",
            "id.",
            "Idem",
            "idem.",
            "ebd.",
            "ebenda",
            "jw.",
            "j.w.",
            "same",
            "same as above",
            "Same as above",
            "wie oben",
            "Wie oben",
            "s.o.",
            "ibid.",
            "dito",
            "samma",
            "samme",
            "sama",
            "jako v\u{fd}\u{161}e",
            "c.s.",
            "come sopra",
            "comme ci-dessus",
            "som ovan",
            "\"",
        ] {
            let cell = if mark.contains('"') {
                format!("\"{}\"", mark.replace('"', "\"\""))
            } else {
                mark.to_owned()
            };
            let read = file(&format!(
                "number;date;place;host;substrate;habitat;collector;name\n1;2026-05-03;Brook;Alnus;wood;fen;A. Heron;Mycena\n\
                 2;{cell};{cell};{cell};{cell};{cell};{cell};Russula\n"
            ));
            let record = &read.records[1];
            assert_eq!(record.date, read.records[0].date, "{mark}");
            let texts = [
                &record.place,
                &record.host,
                &record.substrate,
                &record.habitat,
                &record.collector,
            ];
            let texts: Vec<&str> = texts.into_iter().filter_map(|text| text.as_deref()).collect();
            assert_eq!(texts, ["Brook", "Alnus", "wood", "fen", "A. Heron"], "{mark}");
            assert_eq!(record.other("place as written"), Some(mark));
            assert_eq!(messages(&read.set_aside), [""; 0], "{mark}");
        }
    }

    #[test]
    fn a_sure_mark_stands_for_the_taxon_above_and_a_word_does_not() {
        for (cell, name) in [
            ("\"\"\"\"", "Mycena pura"),
            ("ditto", "Mycena pura"),
            ("idem", "Mycena pura"),
            ("same", "same"),
            ("as above", "as above"),
        ] {
            let read =
                file(&format!("number;date;name\n1;2026-05-03;Mycena pura\n2;2026-05-03;{cell}\n"));
            assert_eq!(read.records[1].name.as_deref(), Some(name), "{cell}");
        }
        let read = file(
            "number;date;genus;epithet\n1;2026-05-03;Mycena;pura\n2;2026-05-03;\u{201e};rosea\n",
        );
        assert_eq!(read.records[1].name.as_deref(), Some("Mycena rosea"));
    }

    #[test]
    fn a_mark_without_a_text_above_is_reported_and_no_text() {
        let read = file(
            "number;date;place;host\n1;2026-05-03;ditto;Alnus\n2;2026-05-03;Brook;\n3;2026-05-03;;\n4;2026-05-03;ditto;-\n",
        );
        assert_eq!(read.records[0].place, None);
        assert_eq!(read.records[0].other("place as written"), Some("ditto"));
        assert_eq!(read.records[3].place, None);
        let said = messages(&read.set_aside);
        assert_eq!(said.len(), 2, "{said:?}");
        assert!(said[0].contains("no text above it") && said[0].contains("line 2"), "{said:?}");
    }

    #[test]
    fn names_that_look_like_marks_and_notes_are_kept() {
        let read = file(
            "number;date;place;state;collector;host;notes\n1;2026-05-03;Brook;WA;A. Heron;Alnus;\"\"\"\"\n\
             2;2026-05-03;Same;ID;J.W.;Do you know;ditto\n3;2026-05-03;Same Hill;CS;Sama;same (dead);idem\n",
        );
        let second = &read.records[1];
        assert_eq!(second.place.as_deref(), Some("Same"));
        assert_eq!(second.collector.as_deref(), Some("J.W."));
        assert_eq!(second.other("stateProvince"), Some("ID"));
        assert_eq!(second.host.as_deref(), Some("Do you know"));
        assert_eq!(second.fields[&Field::Notes], "ditto");
        assert_eq!(read.records[0].fields[&Field::Notes], "\"");
        let third = &read.records[2];
        assert_eq!(third.host.as_deref(), Some("same (dead)"));
        assert_eq!(third.collector.as_deref(), Some("Sama"));
        let notes = messages(&read.remarks);
        assert!(notes.iter().any(|note| note.contains("\"Same\" is kept as text")), "{notes:?}");
    }

    #[test]
    fn a_quotation_mark_alone_in_a_text_is_a_mark() {
        for rows in
            ["2;\";\";Russula;\n", "2;\";\";\"a; b\";x\n", "2;2026-05-03;\";Russula;30\" wide\n"]
        {
            let read = file(&format!(
                "number;date;place;name;notes\n1;2026-05-03;Brook;Mycena;\n{rows}3;2026-05-03;Fen;a;b\n"
            ));
            let record = &read.records[1];
            assert_eq!(
                (record.date, record.place.as_deref()),
                (read.records[0].date, Some("Brook")),
                "{rows}"
            );
            assert_eq!(read.records.len(), 3);
        }
        let last = file(
            "number;date;place\n1;2026-05-03;Brook\n2;2026-05-03;\"\n3;2026-05-03;\"\n4;2026-05-03;Fen\n",
        );
        let places: Vec<_> = last.records.iter().filter_map(|own| own.place.as_deref()).collect();
        assert_eq!(places, ["Brook", "Brook", "Brook", "Fen"]);
        // delimiters and lines between quotation marks are text
        let read = file(
            "number;date;notes\n1;2026-05-03;\"a;\"\n2;2026-05-03;\"b\n\";\"\nc\"\n3;2026-05-03;\"x;\"\"y\"\"\"\n",
        );
        let notes: Vec<&str> =
            read.records.iter().map(|own| own.fields[&Field::Notes].as_str()).collect();
        assert_eq!((notes[0], notes[notes.len() - 1]), ("a;", "x;\"y\""));
    }
}
