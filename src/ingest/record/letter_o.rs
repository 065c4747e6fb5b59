//! Decides what the letter O means in the coordinates of a table: east in German, west in French, Spanish, Portuguese
//! and Italian. The language of the headings decides; otherwise both readings stay. Layer: `ingest`.

use super::column::Column;
use super::layout::Layout;
use super::table::Table;
use super::translated;
use crate::error::Error;
use crate::ingest::position::LetterO;

/// Languages in which O is the beginning of "east".
const EAST: [&str; 5] = ["German", "Dutch", "Danish", "Norwegian", "Swedish"];
/// Languages in which O is the beginning of "west".
const WEST: [&str; 4] = ["French", "Spanish", "Portuguese", "Italian"];

/// What the letter O means in this table, with a note where that is decided.
pub(super) fn of(table: &Table, layout: &Layout) -> (LetterO, Option<Error>) {
    let columns = [Column::Coordinates, Column::Longitude, Column::Latitude];
    let mut rows = table.rows.iter();
    let has_letter = rows
        .any(|row| columns.into_iter().any(|column| layout.cells(row, column).any(has_letter_o)));
    if !has_letter {
        return (LetterO::Open, None);
    }
    let letter = by_language(&table.headings);
    let side = match letter {
        LetterO::Open => return (letter, None),
        LetterO::East => "east",
        LetterO::West => "west",
    };
    let note = Error::input(format!("the letter O in coordinates was read as {side}"));
    let why = format!("the headings are in a language in which it means {side}");
    (letter, Some(note.because(why).hint("write E or W where it is another side")))
}

/// Whether the letter stands alone.
fn has_letter_o(cell: &str) -> bool {
    cell.split(|c: char| !c.is_alphabetic()).any(|word| matches!(word, "O" | "o"))
}

fn by_language(headings: &[String]) -> LetterO {
    let known = translated::languages(headings);
    let most = |languages: &[&str]| {
        let own = known.iter().filter(|(language, _)| languages.contains(language));
        own.map(|(_, count)| *count).max().unwrap_or(0)
    };
    let others = known.iter().filter(|(own, _)| !EAST.contains(own) && !WEST.contains(own));
    let others = others.map(|(_, count)| *count).max().unwrap_or(0);
    let (east, west) = (most(&EAST), most(&WEST));
    if east > west.max(others) || east > west && east == others {
        LetterO::East
    } else if west > east.max(others) || west > east && west == others {
        LetterO::West
    } else {
        LetterO::Open
    }
}

#[cfg(test)]
mod tests {
    use super::super::tests::{file, messages};

    /// The positions of the readings of the first record, and how many slips it has.
    fn read(text: &str) -> (Vec<String>, usize) {
        let read = file(text);
        let is_said = messages(&read.remarks).iter().any(|note| note.contains("the letter O"));
        let coordinates = read.records[0].coordinates.clone().unwrap();
        let all = coordinates.readings.iter().map(|reading| reading.at.to_string());
        assert_eq!(is_said, coordinates.readings.len() == 1, "{text}");
        (all.collect(), coordinates.slips.len())
    }

    #[test]
    fn the_language_of_the_headings_decides() {
        let german = "Nr.;Datum;Uhrzeit;Fundort;Koordinaten";
        let spanish = "N\u{ba};Fecha;Hora;Localidad;Coordenadas";
        let english = "number;date;time;place;coordinates";
        let row = ";2026-05-03;9:15;x;47\u{b0} 30' 0\" N 11\u{b0} 20' 30\" O\n";
        let east = "47.50000 N 11.34167 E".to_owned();
        let west = "47.50000 N 11.34167 W".to_owned();
        for (headings, more, expected) in [
            (german, "", vec![&east]),
            (spanish, "", vec![&west]),
            ("Num\u{e9}ro;Date;Heure;Lieu;Coordonn\u{e9}es", "", vec![&west]),
            ("Numero;Data;Ora;Localit\u{e0};Coordinate", "", vec![&west]),
            ("Nr.;Datum;Tijd;Vindplaats;Co\u{f6}rdinaten", "", vec![&east]),
            (english, "", vec![&east, &west]),
            (english, "2;2026-05-03;9:20;y;47\u{b0} 30' N 0\u{b0} 20' W\n", vec![&east, &west]),
            (german, "2;2026-05-03;9:20;y;47\u{b0} 30' N 0\u{b0} 20' E\n", vec![&east]),
        ] {
            let (readings, slips) = read(&format!("{headings}\n1{row}{more}"));
            assert_eq!(readings.iter().collect::<Vec<_>>(), expected, "{headings} {more}");
            assert_eq!(slips, 2 - expected.len(), "{headings}");
        }
    }

    #[test]
    fn the_letter_of_a_column_of_longitudes_is_decided_as_well() {
        let (readings, slips) =
            read("Nr.;Datum;Art;Breite;L\u{e4}nge\n1;2026-05-03;a;47,5 N;11,25 O\n");
        assert_eq!((readings, slips), (vec!["47.50000 N 11.25000 E".to_owned()], 1));
    }
}
