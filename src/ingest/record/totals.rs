//! Recognises rows that sum up a table: "Total 10", "Anzahl Funde | 10", "Gesamt: 10 Arten", or a quantity alone. A
//! total has no date, time, position, photograph and waypoint of its own, and no text beside its words. Layer:
//! `ingest`.

use std::collections::HashSet;
use std::sync::LazyLock;

use super::column::Column;
use super::headings::bare;
use super::layout::Layout;
use super::table::Row;
use super::{date, filled, months, shortened, time};
use crate::error::Error;

/// Words for a total in the languages in which headings are known, without accents.
const TOTALS: &str = "total totals totale totaal totalt totali totales totais totalen totalsumme sum sums sumas summe \
    summa summan summary subtotal subtotals subtotale subtotaal sousttotal zwischensumme delsumma delsum valisumma \
    mezisoucet gesamt gesamtsumme gesamtzahl gesamtanzahl artenzahl artenanzahl fundzahl fundanzahl artantal artsantal lajimaara insgesamt zusammen somme sommes ensemble suma soma \
    somma somme som samen tezamen ialt tilsammen sammenlagt sammanlagt samlet yhteensa kaikkiaan razem ogolem \
    lacznie soucet celkem dohromady uhrnem yht lajeja ubertrag keskiarvo mittelwert durchschnitt moyenne promedio srednia prumer \
    genomsnitt gjennomsnit gennemsnit gemiddelde";
/// Words for how many.
const COUNTS: &str = "number count anzahl zahl nombre nb numero cantidad recuento quantidade contagem quantita conteggio \
    aantal antal antall maara lukumaara lkm liczba ilosc pocet nr no n";
/// What is counted.
const COUNTED: &str = "species spp taxon taxa find finds record records collections specimens entries rows fungi \
    art arten pilzart pilzarten fund funde pilze pilzfunde belege exemplare aufsammlungen datensatze eintrage sippen \
    espece especes recolte recoltes taxons champignons specimens echantillons individus observations \
    especie especies hallazgo hallazgos registro registros ejemplares muestras setas hongos \
    achado achados registo registos exemplares coletas colheitas amostras cogumelos fungos \
    specie ritrovamento ritrovamenti raccolte reperti esemplari campioni funghi \
    soort soorten vondst vondsten exemplaren paddenstoelen waarnemingen collecties taxa \
    arter svampe svampar eksemplarer funn sopp fynd exemplar observationer observasjoner kollekter \
    laji lajia lajit lajien orte fundorte loyto loytoa loydot loytoja loytojen naytetta naytteita naytteiden sienta sienia \
    gatunek gatunki gatunkow znaleziska znalezisk okazow okazy zbiorow grzyby grzybow stanowisk \
    druh druhy druhu nalez nalezy nalezu sbery sberu polozek polozky hub houby";
/// Words between these.
const JOINING: &str = "of all the de des d du der die den det aller von alle del della dei delle di do da dos das van \
    af av i in en em au a au grand general generale generalne algemeen different verschiedene differentes todas \
    todos tutti tutte and und et y e og och ja vsech vsechny wszystkich wszystkie kaikki pa sous sub";

/// What a cell says of a total.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Saying {
    /// A total, or the number of what is counted: `Total 10`, `Anzahl Funde`.
    Total,
    /// Things that are counted: `10 species`.
    Counted,
}

/// Whether a row is a total.
pub(super) fn is_total(layout: &Layout, row: &Row) -> bool {
    let filled_cells = || row.cells.iter().filter_map(|cell| filled(cell));
    if !filled_cells().all(|cell| is_number(cell) || saying(cell).is_some()) {
        return false;
    }
    // `Summe Oktober` beside the last of October
    let of_month =
        filled_cells().any(|cell| has_month(cell) && saying(cell) == Some(Saying::Total));
    if has_own_place_or_time(layout, row, of_month) {
        return false;
    }
    let says = |column, wanted| layout.cells(row, column).any(|cell| saying(cell) == Some(wanted));
    let of_place = layout.place(Column::Place) == Some(0);
    let first = row.cells.first().filter(|_| !of_place).and_then(|cell| saying(cell));
    let named = first == Some(Saying::Total)
        || [Column::Number, Column::Name, Column::Date, Column::Time]
            .into_iter()
            .any(|column| says(column, Saying::Total));
    let alone = filled_cells().count() == 1;
    named
        || of_month
        || says(Column::Place, Saying::Total) && is_empty_beside_a_place(layout, row)
        || alone && says(Column::Name, Saying::Counted)
        || alone && (first == Some(Saying::Counted) || is_quantity(layout, row))
}

/// Whether a row only says when the list was printed: `Printed 18.10.2026`.
pub(super) fn is_print_date(row: &Row) -> bool {
    const WORDS: &str = "printed created exported updated status stand gedruckt ausdruck ausgedruckt erstellt druckdatum \
        imprime edite etat impreso impresso stampato stampa afgedrukt udskrevet utskrevet utskrift utskriven tulostettu \
        wydrukowano wydruk vytisteno tisk";
    let mut cells = row.cells.iter().filter_map(|cell| filled(cell));
    let (Some(text), None) = (cells.next(), cells.next()) else { return false };
    let Some(at) = text.find(|c: char| c.is_ascii_digit()).filter(|_| text.len() <= 80) else {
        return false;
    };
    let first = text[..at].split_whitespace().next().map(bare).unwrap_or_default();
    date::read(&text[at..]).is_some() && WORDS.split_whitespace().any(|word| word == first)
}

/// Whether only a quantity is filled in.
fn is_quantity(layout: &Layout, row: &Row) -> bool {
    layout.cells(row, Column::Quantity).any(is_number)
}

/// A place may be called Total: a find there has a number, a waypoint or a photograph.
fn is_empty_beside_a_place(layout: &Layout, row: &Row) -> bool {
    let of_finds = [Column::Number, Column::Waypoint, Column::Photos, Column::Time];
    of_finds.into_iter().all(|column| layout.cells(row, column).next().is_none())
}

/// Whether a row has what only a find has; a whole number may be a count in any column.
fn has_own_place_or_time(layout: &Layout, row: &Row, of_month: bool) -> bool {
    let is_count = |cell: &str| cell.bytes().all(|byte| byte.is_ascii_digit());
    let own =
        |column| layout.cells(row, column).any(|cell| !is_count(cell) && saying(cell).is_none());
    let both = |one, other| {
        layout.cells(row, one).next().is_some() && layout.cells(row, other).next().is_some()
    };
    !of_month && layout.cells(row, Column::Date).any(|cell| date::read(cell).is_some())
        || layout.cells(row, Column::Time).any(|cell| !is_count(cell) && time::read(cell).is_some())
        || [Column::Waypoint, Column::Photos, Column::Coordinates].into_iter().any(own)
        || both(Column::Latitude, Column::Longitude)
        || both(Column::Easting, Column::Northing)
}

fn has_month(cell: &str) -> bool {
    let mut words = cell.split(|c: char| !c.is_alphabetic());
    words.any(|word| word.chars().count() > 2 && months::number(word).is_some())
}

/// Whether a row says that nothing was found, as `keine Pilze gefunden`, and has no number, photograph or position.
pub(super) fn is_nothing(layout: &Layout, row: &Row) -> bool {
    const NOT: &str = "no not none nothing keine kein keinen nichts ohne rien aucun aucune nada ningun ninguna nessun nessuno \
        nessuna niente nenhum nenhuma geen niets ingen intet inga inget ei mitaan brak nic zadne zadnych zadny";
    const FOUND: &str = "found gefunden funde fund trouve trouves encontrado encontrados encontrada encontrato trovato trovati \
        gevonden fundet funnet hittades hittat loytynyt loydetty znaleziono nalezeno";
    let is_of = |list: &str, word: &String| list.split_whitespace().any(|own| own == word);
    let says = |cell: &str| {
        let words: Vec<String> = cell
            .split(|c: char| !c.is_alphanumeric())
            .map(bare)
            .filter(|word| !word.is_empty())
            .collect();
        let found = |word: &String| is_of(FOUND, word) || KNOWN.counted.contains(word.as_str());
        (2..=5).contains(&words.len()) && is_of(NOT, &words[0]) && words[1..].iter().any(found)
    };
    let own =
        [Column::Number, Column::Photos, Column::Waypoint, Column::Coordinates, Column::Latitude];
    layout.cells(row, Column::Name).any(says)
        && own.into_iter().all(|column| layout.cells(row, column).next().is_none())
}

fn is_number(cell: &str) -> bool {
    !cell.contains(char::is_alphabetic)
}

/// What a cell says of a total; `None` where it has any other word.
fn saying(cell: &str) -> Option<Saying> {
    // such a text has a few words
    if cell.len() > 80 || is_number(cell) {
        return None;
    }
    if cell.trim() == "\u{3a3}" {
        return Some(Saying::Total);
    }
    let known = &*KNOWN;
    let words = cell.split(|c: char| !c.is_alphanumeric()).map(bare);
    let words: Vec<String> = words.filter(|word| !word.is_empty()).collect();
    let number = |word: &String| word.bytes().all(|byte| byte.is_ascii_digit());
    // Danish and Norwegian: `i alt`
    let rest =
        if words.starts_with(&["i".into(), "alt".into()]) { &words[2..] } else { &words[..] };
    let is_month = |word: &String| word.len() > 2 && months::number(word).is_some();
    if !rest.iter().all(|word| number(word) || known.has(word) || is_month(word)) {
        return None;
    }
    let place = |list: &HashSet<&str>| words.iter().position(|word| list.contains(word.as_str()));
    let (count, counted) = (place(&known.counts), place(&known.counted));
    // `Fund Nr. 10` is the number of a find
    let counts = count.is_some() && counted.is_some() && count < counted;
    if rest.len() < words.len() || place(&known.totals).is_some() || counts {
        return Some(Saying::Total);
    }
    // and so is `Fund 10`
    let colon = cell.contains([':', '=']) && words.last().is_some_and(number);
    let of_number = words.first().is_some_and(number) || colon;
    (counted.is_some() && of_number).then_some(Saying::Counted)
}

fn is_date(cell: &str) -> bool {
    date::read(cell).is_some()
}

/// The words by what they mean.
struct Known {
    totals: HashSet<&'static str>,
    counts: HashSet<&'static str>,
    counted: HashSet<&'static str>,
    joining: HashSet<&'static str>,
}

impl Known {
    fn has(&self, word: &str) -> bool {
        [&self.totals, &self.counts, &self.counted, &self.joining]
            .into_iter()
            .any(|list| list.contains(word))
    }
}

static KNOWN: LazyLock<Known> = LazyLock::new(|| {
    let set = |list: &'static str| list.split_whitespace().collect();
    Known { totals: set(TOTALS), counts: set(COUNTS), counted: set(COUNTED), joining: set(JOINING) }
});

/// The note on a row that was skipped.
pub(super) fn reported(row: &Row) -> Error {
    let cells = || row.cells.iter().filter_map(|cell| filled(cell));
    if is_print_date(row) {
        let text = shortened(cells().next().unwrap_or_default());
        return Error::input("a row with one text was skipped")
            .because(format!("it says \"{text}\" and nothing else"))
            .at_line(row.line);
    }
    let nothing = |cell: &&str| saying(cell).is_none() && !is_number(cell) && !is_date(cell);
    if let Some(text) = cells().rfind(nothing) {
        return Error::input("a row without a find was skipped")
            .because(format!("it says \"{}\"", shortened(text)))
            .hint("to report a visit without a find, import its track")
            .at_line(row.line);
    }
    let why = match cells().find(|cell| saying(cell).is_some()) {
        Some(cell) => format!("it says \"{}\" and has otherwise only numbers", shortened(cell)),
        None => format!("it holds only the quantity {}", cells().next().unwrap_or_default()),
    };
    Error::input("a row of totals was skipped").because(why).at_line(row.line)
}

#[cfg(test)]
mod tests {
    use super::super::tests::{file, messages};

    /// The lines of the records that are kept, and the notes.
    fn kept(rows: &[&str]) -> (Vec<u64>, Vec<String>) {
        let head = "number;date;time;place;name;photos;quantity;latitude;longitude";
        let read =
            file(&format!("{head}\n1;2026-05-03;9:15;Brook;Mycena;;3;;\n{}\n", rows.join("\n")));
        (read.records.iter().skip(1).map(|record| record.line).collect(), messages(&read.remarks))
    }

    #[test]
    fn totals_are_no_finds_in_any_language_and_form() {
        for row in [
            "Total 10",
            "TOTAL species: 10",
            "Sum of finds: 2",
            "Anzahl Funde;10",
            ";;;;10 species",
            ";;;;Gesamt: 10 Arten",
            "Summa;;;;;;12",
            "Totalt;;;;;;12",
            "I alt;;;;;;12",
            "I alt 12 arter",
            "Sou\u{10d}et;;;;;;12",
            "Og\u{f3}\u{142}em;;;;;;12",
            "\u{141}\u{105}cznie;;;;;;12",
            "Soma;;;;;;12",
            "Insgesamt;;;;;;12",
            "Zwischensumme;;;;;;12",
            "Nombre d'esp\u{e8}ces : 8",
            "N\u{fa}mero de especies;8",
            "Numero di specie: 8",
            "Aantal soorten;8",
            "Antal arter: 8",
            "Antall funn;8",
            "Yhteens\u{e4} 8 lajia",
            "Liczba gatunk\u{f3}w: 8",
            "Po\u{10d}et druh\u{16f};8",
            "Grand total;;;;;;30",
            "Sous-total;;;;;;30",
            ";;;;;;30",
            ";;;Total;;;30",
            "Summe;17",
            "Total;;;;;28",
            "Arten: 8",
            "Soma",
        ] {
            let (lines, notes) = kept(&[row]);
            assert!(lines.is_empty(), "{row}");
            assert!(notes.iter().any(|note| note.contains("a row of totals was skipped")), "{row}");
        }
    }

    #[test]
    fn the_day_of_printing_is_no_find() {
        for row in
            [";;;;Printed 18.10.2026", "Stand: 18.10.2026", "Imprim\u{e9} le 18 octobre 2026"]
        {
            let (lines, notes) = kept(&[row]);
            assert!(
                lines.is_empty() && notes.iter().any(|note| note.contains("one text")),
                "{row}"
            );
        }
        assert_eq!(kept(&[";;;;Mycena 18.10.2026"]).0, [3]);
    }

    #[test]
    fn totals_of_a_month_and_rows_without_a_find_are_no_finds() {
        for (row, note) in [
            ("Summe Oktober;2026-05-31;;;;;5", "a row of totals was skipped"),
            ("Insgesamt;;;3 Orte;;;5", "a row of totals was skipped"),
            ("\u{dc}bertrag;;;;;;5", "a row of totals was skipped"),
            ("Yht.;;;;;;4", "a row of totals was skipped"),
            ("Keskiarvo;;;;;;4", "a row of totals was skipped"),
            ("Lajeja;;;;;;1", "a row of totals was skipped"),
            (";2026-05-03;;;keine Pilze gefunden", "it says \"keine Pilze gefunden\""),
            (";2026-05-03;9:30;Brook;nothing found", "it says \"nothing found\""),
            (";2026-05-03;;;aucun champignon trouv\u{e9}", "a row without a find was skipped"),
        ] {
            let (lines, notes) = kept(&[row]);
            assert!(
                lines.is_empty() && notes.iter().any(|own| own.contains(note)),
                "{row}: {notes:?}"
            );
        }
        for row in [
            "2;2026-05-03;;;keine Pilze gefunden",
            ";2026-05-03;;;No name",
            ";2026-05-03;;Mai;Mycena",
        ] {
            assert_eq!(kept(&[row]).0, [3], "{row}");
        }
    }

    #[test]
    fn finds_are_kept_whose_words_begin_like_a_total() {
        for row in [
            "2;;;;Sumac bolete",
            "2;;;Total;;;3",
            "2;;;Total;Mycena",
            ";;9:30;Total",
            "Fund 10",
            "Fund Nr. 10",
            "Find no. 3",
            "No. 3",
            "Total;2026-05-03;;;;;3",
            ";;;Total;;28",
            ";;;Total;;;;47.8;13.5",
            "2",
            ";;;;Mycena 10",
            "2;;;;;;3",
            "Funn 3",
            "Mai;2026-05-03;;;;;3",
        ] {
            let (lines, _) = kept(&[row]);
            assert_eq!(lines, [3], "{row}");
        }
    }
}
