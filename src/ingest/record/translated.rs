//! Headings in German, French, Spanish, Italian, Portuguese, Polish, Dutch and the Scandinavian
//! languages (from memory), as `bare` leaves them. `Höhe` alone may be that of a tree; its unit or its
//! cells decide. Layer: `ingest`.

use super::headings::Column;

const WORDS: &[(Column, &str)] = &[
    (Column::Number, "nummer numero fundnummer belegnummer numer numeroderecolte"),
    (Column::Date, "fecha data dato funddatum datedecolte dataraccolta"),
    (Column::Time, "uhrzeit zeit heure hora ora godzina tijd tid klokkeslaet klockslag"),
    (
        Column::Place,
        "ort fundort lieu localite lugar localidad luogo localita localidade miejsce plaats \
         vindplaats plats fyndplats sted findested",
    ),
    (
        Column::Name,
        "art pilzart wissenschaftlichername espece nomscientifique especie nombrecientifico specie \
         nomescientifico gatunek soort",
    ),
    (Column::Host, "baum baumart wirt wirtsbaum hote arbre arbol albero arvore drzewo boom"),
    (Column::Substrate, "substrat sustrato substrato podloze substraat"),
    (Column::Habitat, "lebensraum biotop siedlisko"),
    (
        Column::Collector,
        "sammler sammlerin recolteur recolector colector raccoglitore coletor zbieracz verzamelaar",
    ),
    (
        Column::Photos,
        "foto fotos bild bilder fotografie photographies imagenes immagini imagens zdjecia",
    ),
    (Column::Waypoint, "wegpunkt wegpunkte"),
    (Column::Coordinates, "koordinaten coordonnees coordenadas wspolrzedne"),
    (Column::Latitude, "breitengrad breite geographischebreite latitud latitudine szerokosc"),
    (Column::Longitude, "langengrad lange geographischelange longitud longitudine dlugosc"),
    (Column::Measured, "koordinatengemessen gemessenekoordinaten positiongemessen"),
    (
        Column::Elevation,
        "meereshohe seehohe hohenlage hohenmeter hoheum hoheudm hoheunn hoheunhn hoheuberdemmeer \
     altitud altitudine quota wysokoscnpm mnpm moh hoydemoh",
    ),
    (Column::Quantity, "anzahl cantidad quantita ilosc aantal"),
    (Column::Smell, "geruch odeur olor odore"),
    (Column::Taste, "geschmack gout sabor sapore"),
    (
        Column::Notes,
        "bemerkung bemerkungen notizen anmerkungen remarque remarques notas observaciones \
         observacoes osservazioni uwagi opmerkingen anteckningar",
    ),
];

/// What a heading in another language than English means.
pub(super) fn column(bare: &str) -> Option<Column> {
    WORDS
        .iter()
        .find(|(_, words)| words.split_whitespace().any(|word| word == bare))
        .map(|(column, _)| *column)
}

#[cfg(test)]
mod tests {
    use super::super::headings;
    use super::*;

    #[test]
    fn headings_of_other_languages_are_known() {
        for (heading, expected) in [
            ("Uhrzeit", Column::Time),
            ("Fundort", Column::Place),
            ("Geographische L\u{e4}nge", Column::Longitude),
            ("num\u{e9}ro", Column::Number),
            ("Esp\u{e8}ce", Column::Name),
            ("\u{e1}rbol", Column::Host),
            ("zdj\u{119}cia", Column::Photos),
            ("Koordinaten gemessen", Column::Measured),
        ] {
            assert_eq!(headings::column(heading), Some(expected), "{heading}");
        }
        for heading in ["H\u{f6}he (m)", "H\u{f6}he \u{fc}. NN", "Seeh\u{f6}he", "Hoogte [m]"] {
            assert_eq!(headings::column(heading), Some(Column::Elevation), "{heading}");
        }
        assert_eq!(headings::column("H\u{f6}he"), None);
        assert_eq!(headings::column("H\u{f6}he (cm)"), None);
    }

    #[test]
    fn no_word_stands_twice() {
        let mut words: Vec<&str> =
            WORDS.iter().flat_map(|(_, words)| words.split_whitespace()).collect();
        let count = words.len();
        words.sort_unstable();
        words.dedup();
        assert_eq!(words.len(), count);
        let guide = include_str!("../../../docs/reading-records.md");
        for (column, words) in WORDS {
            for word in words.split_whitespace() {
                assert_eq!(headings::column(word), Some(*column), "{word}");
                assert!(guide.contains(word), "{word}");
            }
        }
    }
}
