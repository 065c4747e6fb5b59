//! Decides by the cells of columns what headings mean that alone can mean two things: `N` beside `E` may be the number
//! or the north, `Name` beside `Art` a person or the taxon. Layer: `ingest`.

use super::column::Column;
use super::filled;
use super::headings::bare;
use super::table::{Row, Table};

/// Headings that may be of a person or a thing as well, without accents.
const GENERAL: &str =
    "name names nom nombre nome naam navn namn nimi nazwa nazwisko jmeno jmenonalezce";
/// Letters of the east and the west.
const SIDES: [&str; 3] = ["e", "o", "w"];
/// The rank of a general heading beside a specific one.
const LATER: usize = 96;

/// The columns of `N` and of `E`, `O` or `W`, where their cells are decimal degrees.
pub(super) fn degrees(table: &Table) -> Option<(usize, usize)> {
    let place = |wanted: &[&str]| {
        let is_wanted = |heading: &String| wanted.contains(&bare(heading).as_str());
        table.headings.iter().position(is_wanted)
    };
    let (north, side) = (place(&["n"])?, place(&SIDES)?);
    (are_degrees(table, north, 90.0) && are_degrees(table, side, 180.0)).then_some((north, side))
}

fn are_degrees(table: &Table, place: usize, most: f64) -> bool {
    let mut cells = cells(table, place).peekable();
    let is_degree = |cell: &str| {
        let number = cell
            .trim_end_matches(|c: char| c.is_alphabetic() || matches!(c, '\u{b0}' | ' '))
            .replace(',', ".");
        let decimals = number.split_once('.').map_or(0, |(_, decimals)| decimals.len());
        decimals >= 2 && number.parse::<f64>().is_ok_and(|value| value.abs() <= most)
    };
    cells.peek().is_some() && cells.all(is_degree)
}

fn cells(table: &Table, place: usize) -> impl Iterator<Item = &str> {
    table.rows.iter().filter_map(move |row: &Row| filled(row.cells.get(place)?))
}

/// Writes the letter of its heading behind each number of degrees.
pub(super) fn with_letters(table: &mut Table) {
    let Some((north, side)) = degrees(table) else { return };
    for place in [north, side] {
        let letter = table.headings[place].trim().trim_end_matches('.').to_uppercase();
        for row in &mut table.rows {
            let Some(cell) = row.cells.get_mut(place).filter(|cell| filled(cell).is_some()) else {
                continue;
            };
            let signed = cell.trim().starts_with(['-', '\u{2212}']);
            if !signed && cell.trim().ends_with(|c: char| c.is_ascii_digit()) {
                *cell = format!("{} {letter}", cell.trim()).into();
            }
        }
    }
}

/// Ranks a general heading of names behind a specific one, unless more of its cells have the form of a taxon.
pub(super) fn names_ranked(ranks: &mut [Option<(Column, usize)>], stated: &[bool], table: &Table) {
    let of_names = |(index, rank): (usize, &Option<(Column, usize)>)| {
        rank.is_some_and(|(column, _)| column == Column::Name).then_some(index)
    };
    let all: Vec<usize> = ranks.iter().enumerate().filter_map(of_names).collect();
    let (general, specific): (Vec<usize>, Vec<usize>) =
        all.into_iter().partition(|index| !stated[*index] && is_general(&table.headings[*index]));
    let count = |index: &usize| cells(table, *index).filter(|cell| is_taxon(cell)).count();
    let Some(most) = specific.iter().map(count).max() else { return };
    let is_filled = specific.iter().any(|index| cells(table, *index).next().is_some());
    for index in general {
        if is_filled && count(&index) <= most {
            ranks[index] = Some((Column::Name, LATER));
        }
    }
}

/// Whether a heading may also be of a person or a thing.
pub(super) fn is_general(heading: &str) -> bool {
    let bare = bare(heading);
    GENERAL.split(' ').any(|own| own == bare)
}

/// Whether a text has the form of a taxon: `Mycena pura`, `Russula sp.`
pub(super) fn is_taxon(text: &str) -> bool {
    let mut words = text.split_whitespace();
    let (Some(genus), Some(second)) = (words.next(), words.next()) else { return false };
    let letters = |word: &str| word.chars().all(|c| c.is_alphabetic() || c == '-');
    let is_genus =
        genus.starts_with(char::is_uppercase) && genus.chars().count() > 2 && letters(genus);
    let short = ["cf.", "aff.", "sp.", "spec.", "agg."].contains(&second);
    let is_epithet =
        second.starts_with(char::is_lowercase) && second.chars().count() > 2 && letters(second);
    is_genus && (short || is_epithet)
}

#[cfg(test)]
mod tests {
    use super::super::tests::{file, messages};

    #[test]
    fn a_north_beside_an_east_is_a_latitude() {
        for (east, number) in [("E", "10,6123"), ("O", "10,6123"), ("E", "10.6123")] {
            let read = file(&format!(
                "Datum;Art;Ort;N;{east}\n3.10.2025;Mycena pura;Tal;51,7512;{number}\n3.10.2025;Mycena rosea;Tal;51,7513;{number}\n"
            ));
            let at = read.records[0].coordinates.as_ref().unwrap().readings[0].at;
            assert!(
                (at.latitude() - 51.7512).abs() < 1e-9 && (at.longitude() - 10.6123).abs() < 1e-9
            );
            assert_eq!(read.records[0].number, None);
            assert_eq!(messages(&read.set_aside), [""; 0]);
        }
        let west = file("Fecha;Especie;N;W\n3.10.2025;Mycena pura;41.7512;8.6123\n");
        let at = west.records[0].coordinates.as_ref().unwrap().readings[0].at;
        assert!((at.longitude() + 8.6123).abs() < 1e-9);
        // numbers of finds
        let read = file("N;Datum;Art;E\n12;3.10.2025;Mycena pura;3\n13;3.10.2025;Mycena pura;4\n");
        assert_eq!(read.records[0].number.as_ref().unwrap().0, "12");
    }

    #[test]
    fn a_specific_heading_of_names_counts_before_a_general_one() {
        for (headings, one, other) in [
            ("Nr.;Datum;Name;Art", "K. M\u{fc}ller", "Mycena pura"),
            ("N\u{b0};Date;Nom;Esp\u{e8}ce", "P. Dupr\u{e9}", "Mycena pura"),
            ("Nr.;Data;Nazwa;Gatunek", "Jan Nowak", "Mycena pura"),
        ] {
            let read = file(&format!(
                "{headings}\n1;3.10.2025;{one};{other}\n2;3.10.2025;{one};{other}\n"
            ));
            assert_eq!(read.records[0].name.as_deref(), Some("Mycena pura"), "{headings}");
            let notes = messages(&read.remarks).join("\n");
            assert!(notes.contains("columns mean name"), "{notes}");
        }
        // the name is the taxon, beside a word for it
        let read = file(
            "Nr.;Datum;Name;Art\n1;3.10.2025;Mycena pura;Pilz\n2;3.10.2025;Mycena rosea;Pilz\n",
        );
        assert_eq!(read.records[0].name.as_deref(), Some("Mycena pura"));
        let alone = file("Nr.;Datum;Name\n1;3.10.2025;Rettichhelmling\n");
        assert_eq!(alone.records[0].name.as_deref(), Some("Rettichhelmling"));
    }
}
