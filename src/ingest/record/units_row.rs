//! Recognises a row of units below the headings: `dd.mm.yyyy`, `hh:mm`, `m`, `ft`, `°`. It belongs to the headings,
//! and its units count for their columns. Layer: `ingest`.

use super::column::Column;
use super::columns::Columns;
use super::filled;
use super::headings::{self, column};
use super::length::Unit;
use super::shortened;
use super::table::Row;
use crate::error::Error;

/// Units and systems other than lengths, in small letters.
const UNITS: &str = "\u{b0} \u{2032} \u{2033} ' \" deg degree degrees grad dezimalgrad dd dms \u{b0}n \u{b0}s \u{b0}e \
    \u{b0}w \u{b0}o \u{b0}c c cm mm \u{b5}m \u{3bc}m um g kg % wgs84 utm etrs89 epsg:4326 m\u{b2} m2 cm2 cm\u{b2} \
    grados degr\u{e9}s gradi graus graden grader astetta stopnie stupn\u{11b} hpa mbar km/h m/s";
/// Words beside the format of a time.
const TIMES: &str =
    "h hr hrs uhr local lokal lokalzeit ortszeit utc ut gmt mez mesz cet cest 24h min";
/// Words for a count or the kind of value that a column takes, which a row of units may hold besides.
const KINDS: &str = "# n nr no n\u{b0} n\u{ba} stk st\u{fc}ck stuks pcs szt ks kpl st text string freitext texte texto \
    testo tekst teksti integer number zahl ja/nein yes/no y/n j/n oui/non si/no s\u{ed}/no ja/nej tak/nie ano/ne latein \
    latin";
/// The longest cell of such a row, characters.
const LONGEST: usize = 24;

/// What a cell of a row of units says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Cell {
    /// A length: metres, feet.
    Length,
    /// Another unit.
    Unit,
    /// The format of a date or a time.
    Format,
    /// A count or a kind of value, which alone makes no row of units.
    Kind,
}

impl Cell {
    fn of(text: &str) -> Option<Self> {
        let text = inner(text).to_lowercase();
        if text.is_empty() || text.chars().count() > LONGEST {
            return None;
        }
        let is_of = |list: &str| list.split_whitespace().any(|word| word == text);
        if is_of(UNITS) || text == "decimal degrees" || text == "wgs 84" || text == "\u{b0} c" {
            Some(Self::Unit)
        } else if Unit::of(&text).is_some() {
            Some(Self::Length)
        } else if is_format(&text) || is_of(TIMES) {
            Some(Self::Format)
        } else {
            is_of(KINDS).then_some(Self::Kind)
        }
    }

    /// Whether a column can have this unit. Names, numbers and texts have none.
    fn fits(self, column: Option<Column>) -> bool {
        let Some(column) = column else { return true };
        match self {
            Self::Kind => true,
            Self::Format => matches!(
                column,
                Column::Date
                    | Column::Datum
                    | Column::Time
                    | Column::Year
                    | Column::Month
                    | Column::Day
                    | Column::DateIdentified
            ),
            Self::Length => matches!(
                column,
                Column::Elevation
                    | Column::Highest
                    | Column::Uncertainty
                    | Column::Easting
                    | Column::Northing
                    | Column::Latitude
                    | Column::Longitude
                    | Column::Quantity
            ),
            Self::Unit => matches!(
                column,
                Column::Coordinates
                    | Column::Latitude
                    | Column::Longitude
                    | Column::Easting
                    | Column::Northing
                    | Column::Zone
                    | Column::Datum
                    | Column::Uncertainty
                    | Column::Quantity
                    | Column::SporePrint
            ),
        }
    }
}

/// A text without brackets around it and a full stop behind it.
fn inner(text: &str) -> &str {
    let text = text.trim();
    let text = text.strip_prefix(['(', '[', '{']).unwrap_or(text);
    text.strip_suffix([')', ']', '}']).unwrap_or(text).trim().trim_end_matches('.')
}

/// `dd.mm.yyyy`, `tt.mm.jjjj`, `hh:mm`, `yyyymmdd`: groups of one repeated letter.
fn is_format(text: &str) -> bool {
    let groups: Vec<&str> =
        text.split([' ', '.', '-', '/', ':']).filter(|group| !group.is_empty()).collect();
    let is_group = |group: &&str| {
        let first = group.chars().next();
        first.is_some_and(char::is_alphabetic) && group.chars().all(|c| Some(c) == first)
    };
    let letters: usize = groups.iter().map(|group| group.chars().count()).sum();
    let whole = ["yyyymmdd", "jjjjmmtt", "aaaammjj", "hhmm", "hhmmss"].contains(&text);
    let long = groups.iter().any(|group| group.chars().count() >= 2);
    whole
        || groups.len() >= 2
            && groups.len() <= 6
            && letters >= 3
            && long
            && groups.iter().all(is_group)
}

/// Whether a row below these headings holds units and nothing else.
pub(super) fn is_units(headings: &[String], row: &Row, columns: &Columns) -> bool {
    let (mut units, mut kinds) = (0, 0);
    for (place, text) in row.cells.iter().enumerate() {
        let Some(text) = filled(text) else { continue };
        let heading = headings.get(place).map_or("", String::as_str);
        let meant = columns.stated(heading).or_else(|| column(heading));
        match Cell::of(text).filter(|cell| !heading.trim().is_empty() && cell.fits(meant)) {
            Some(Cell::Kind) => kinds += 1,
            Some(_) => units += 1,
            None => return false,
        }
    }
    units > 0 && units >= kinds
}

/// The headings with the units of their columns, and what the note on the row says.
pub(super) fn joined(headings: &mut [String], row: &Row) -> Error {
    let mut used = Vec::new();
    for (heading, text) in headings.iter_mut().zip(&row.cells) {
        let Some(text) = filled(text) else { continue };
        let says = Cell::of(text);
        let is_kept = match column(heading) {
            Some(Column::Elevation | Column::Highest | Column::Uncertainty) => {
                says == Some(Cell::Length) && headings::unit(heading).is_none()
            }
            Some(_) => false,
            None => matches!(says, Some(Cell::Length | Cell::Unit)) && !heading.contains('('),
        };
        if is_kept {
            used.push(format!("\"{}\" for \"{}\"", inner(text), shortened(heading.trim())));
            *heading = format!("{} ({})", heading.trim(), inner(text));
        }
    }
    let said: Vec<String> = row
        .cells
        .iter()
        .filter_map(|cell| filled(cell))
        .map(|cell| format!("\"{}\"", shortened(cell)))
        .collect();
    let used = match used.len() {
        0 => "none of them changes how a column is read".to_owned(),
        _ => format!("used: {}", used.join(", ")),
    };
    Error::input("the row below the headings holds units and is no find")
        .because(format!("it says {}; {used}", said.join(", ")))
        .at_line(row.line)
}

#[cfg(test)]
mod tests {
    use super::super::tests::{file, messages};
    use crate::units::Metres;

    #[test]
    fn a_row_of_units_is_no_find_and_its_units_count() {
        for (head, units, find, metres) in [
            (
                "Nr.;Datum;Uhrzeit;Art;H\u{f6}he;Breite",
                ";tt.mm.jjjj;hh:mm;;m;\u{b0}",
                "7;3.5.2026;9:15;Mycena;310;",
                310.0,
            ),
            (
                "number;date;time;name;elevation",
                ";dd/mm/yyyy;hh:mm;;[ft]",
                "7;2026-05-03;9:15;a;1000",
                304.8,
            ),
            (
                "N\u{b0};Date;Heure;Esp\u{e8}ce;Altitude",
                "n\u{b0};jj/mm/aaaa;hh:mm;texte;(m)",
                "7;2026-05-03;9:15;a;310",
                310.0,
            ),
            ("number;date;name;elevation", ";;;ft", "7;2026-05-03;a;1000", 304.8),
            (
                "number;date;name;elevation",
                "#;yyyy-mm-dd;text;m a.s.l.",
                "7;2026-05-03;a;310",
                310.0,
            ),
        ] {
            let read = file(&format!("{head}\n{units}\n{find}\n"));
            let [record] = &read.records[..] else { panic!("{units}: {:?}", read.records) };
            assert_eq!(record.elevation, Some(Metres(metres)), "{units}");
            let notes = messages(&read.remarks);
            assert!(
                notes.iter().any(|note| note.contains("holds units") && note.contains("line 2)")),
                "{notes:?}"
            );
            assert_eq!(messages(&read.set_aside), [""; 0], "{units}");
        }
    }

    #[test]
    fn the_unit_of_an_unknown_column_is_part_of_its_heading() {
        let read = file("number;date;name;Temp.\n;yyyy-mm-dd;;\u{b0}C\n7;2026-05-03;a;12\n");
        assert_eq!(read.records[0].other("Temp. (\u{b0}C)"), Some("12"));
    }

    #[test]
    fn finds_are_no_rows_of_units() {
        for find in ["m;;;", ";;n;", "a;;Mycena;m", ";;m;m", "TH;;;", "#;;text;", "n;;x;", ";;;310"]
        {
            let read =
                file(&format!("number;date;name;elevation\n{find}\n1;2026-05-03;Mycena;310\n"));
            assert_eq!(read.records.len(), 2, "{find}");
        }
    }
}
