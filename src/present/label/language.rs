//! Holds the words of a label in English, German, French, Spanish and Latin, and the form of a date in
//! each. The words are those of herbarium labels (common practice). Layer: `present`.

use jiff::civil::Date;
use serde::Deserialize;

use super::layout::Content;
use crate::model::AnchorKind;

/// The language of a label.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
pub enum Language {
    /// English.
    #[default]
    #[serde(rename = "en")]
    English,
    /// German.
    #[serde(rename = "de")]
    German,
    /// French.
    #[serde(rename = "fr")]
    French,
    /// Spanish.
    #[serde(rename = "es")]
    Spanish,
    /// Latin.
    #[serde(rename = "la")]
    Latin,
}

use Language::{English, French, German, Latin, Spanish};

/// The phrases of a label beside its headings.
pub(super) struct Phrases {
    pub(super) no_number: &'static str,
    pub(super) not_determined: &'static str,
    pub(super) not_located: &'static str,
    pub(super) no_data: &'static str,
    pub(super) continued: &'static str,
    pub(super) of: &'static str,
    pub(super) by: &'static str,
    pub(super) from: &'static str,
    pub(super) and: &'static str,
    pub(super) within: &'static str,
    pub(super) at_95: &'static str,
    pub(super) as_written: &'static str,
    pub(super) derived: &'static str,
    pub(super) square_of: &'static str,
    pub(super) duplicate: &'static str,
    pub(super) height_by_gps: &'static str,
    pub(super) by_model: &'static str,
    pub(super) amended: &'static str,
    pub(super) amended_time: &'static str,
}

const ENGLISH: Phrases = Phrases {
    no_number: "no number",
    not_determined: "not determined",
    not_located: "not located",
    no_data: "no data",
    continued: "continued",
    of: "of",
    by: "by",
    from: "from",
    and: "and",
    within: "within",
    at_95: "at 95 %",
    as_written: "as written",
    derived: "derived",
    square_of: "a square of",
    duplicate: "duplicate",
    height_by_gps: "by GPS, above sea level or the ellipsoid",
    by_model: "by the elevation model",
    amended: "amended",
    amended_time: "amended time on the track",
};
const GERMAN: Phrases = Phrases {
    no_number: "ohne Nummer",
    not_determined: "nicht bestimmt",
    not_located: "nicht verortet",
    no_data: "keine Angaben",
    continued: "Fortsetzung",
    of: "von",
    by: "leg.",
    from: "nach",
    and: "und",
    within: "Umkreis",
    at_95: "zu 95 %",
    as_written: "wie notiert",
    derived: "berechnet",
    square_of: "Quadrat von",
    duplicate: "Dublette",
    height_by_gps: "nach GPS, über Meer oder Ellipsoid",
    by_model: "nach dem Höhenmodell",
    amended: "berichtigt",
    amended_time: "berichtigter Zeit im Track",
};
const FRENCH: Phrases = Phrases {
    no_number: "sans numéro",
    not_determined: "non déterminé",
    not_located: "non localisé",
    no_data: "pas de données",
    continued: "suite",
    of: "sur",
    by: "leg.",
    from: "d'après",
    and: "et",
    within: "rayon",
    at_95: "à 95 %",
    as_written: "comme noté",
    derived: "calculé",
    square_of: "carré de",
    duplicate: "double",
    height_by_gps: "au GPS, niveau de la mer ou ellipsoïde",
    by_model: "d'après le modèle numérique d'altitude",
    amended: "corrigé",
    amended_time: "heure corrigée sur la trace",
};
const SPANISH: Phrases = Phrases {
    no_number: "sin número",
    not_determined: "sin determinar",
    not_located: "sin localizar",
    no_data: "sin datos",
    continued: "continuación",
    of: "de",
    by: "leg.",
    from: "según",
    and: "y",
    within: "radio",
    at_95: "al 95 %",
    as_written: "como se anotó",
    derived: "calculado",
    square_of: "cuadrado de",
    duplicate: "duplicado",
    height_by_gps: "por GPS, sobre el mar o el elipsoide",
    by_model: "según el modelo digital de elevación",
    amended: "corregido",
    amended_time: "hora corregida en el track",
};
const LATIN: Phrases = Phrases {
    no_number: "sine numero",
    not_determined: "indet.",
    not_located: "loco ignoto",
    no_data: "sine notis",
    continued: "continuatio",
    of: "ex",
    by: "leg.",
    from: "ex",
    and: "et",
    within: "radius",
    at_95: "(95 %)",
    as_written: "ut scriptum",
    derived: "computatum",
    square_of: "quadratum",
    duplicate: "duplum",
    height_by_gps: "(GPS, supra mare vel ellipsoidem)",
    by_model: "ex exemplari altitudinum",
    amended: "correctum",
    amended_time: "tempore correcto",
};

impl Language {
    pub(super) fn phrases(self) -> &'static Phrases {
        match self {
            English => &ENGLISH,
            German => &GERMAN,
            French => &FRENCH,
            Spanish => &SPANISH,
            Latin => &LATIN,
        }
    }

    /// The heading of a line.
    pub(super) fn caption(self, content: Content) -> &'static str {
        let all: [&str; 5] = match content {
            Content::Determiner => ["det.", "det.", "dét.", "det.", "det."],
            Content::EarlierNames => {
                ["earlier names", "früher", "noms antérieurs", "nombres anteriores", "olim"]
            }
            Content::TypeStatus => ["type", "Typus", "type", "tipo", "typus"],
            Content::Place => ["place", "Fundort", "localité", "localidad", "loc."],
            Content::Position => ["position", "Lage", "position", "posición", "situs"],
            Content::Grid => ["grid", "Gitternetz", "grille", "cuadrícula", "MGRS"],
            Content::AsWritten => ["as written", "notiert", "noté", "anotado", "ut scriptum"],
            Content::Elevation => ["elevation", "Höhe", "altitude", "altitud", "alt."],
            Content::Habitat => ["habitat", "Biotop", "habitat", "hábitat", "hab."],
            Content::Substrate => ["substrate", "Substrat", "substrat", "sustrato", "substr."],
            Content::Host => ["host", "Wirt", "hôte", "hospedante", "hospes"],
            Content::Characters => ["fresh", "frisch", "frais", "en fresco", "in vivo"],
            Content::Reactions => {
                ["reactions", "Reaktionen", "réactions", "reacciones", "reactiones"]
            }
            Content::SporePrint => ["spore print", "Sporenpulver", "sporée", "esporada", "sporae"],
            Content::Microscopy => {
                ["microscopy", "Mikroskopie", "microscopie", "microscopía", "microsc."]
            }
            Content::Quantity => ["quantity", "Anzahl", "quantité", "cantidad", "numerus"],
            Content::Collected => ["collected", "gesammelt", "récolté", "recolectado", "lecta"],
            Content::Photographs => ["photos", "Fotos", "photos", "fotos", "imagines"],
            Content::Duplicates => ["duplicates", "Dubletten", "doubles", "duplicados", "dupla"],
            Content::Catalogue => ["cat. no.", "Katalog-Nr.", "n° cat.", "n.º cat.", "no. cat."],
            Content::Notes => ["notes", "Notizen", "notes", "notas", "notae"],
            Content::Other => ["other", "weiteres", "autres", "otros", "alia"],
        };
        all[self as usize]
    }

    /// What a position rests on.
    pub(super) fn anchor(self, kind: AnchorKind) -> &'static str {
        let all: [&str; 5] = match kind {
            AnchorKind::Correction => [
                "a corrected position",
                "berichtigter Lage",
                "position corrigée",
                "posición corregida",
                "positione correcta",
            ],
            AnchorKind::Coordinates => [
                "written coordinates",
                "notierten Koordinaten",
                "coordonnées notées",
                "coordenadas anotadas",
                "coordinatis scriptis",
            ],
            AnchorKind::Waypoint => {
                ["waypoint", "Wegpunkt", "point GPS", "punto GPS", "puncto GPS"]
            }
            AnchorKind::PhotoPosition => [
                "photograph GPS positions",
                "GPS-Positionen der Fotos",
                "positions GPS des photos",
                "posiciones GPS de las fotos",
                "imaginibus",
            ],
            AnchorKind::PhotoTime => [
                "photograph times on the track",
                "Aufnahmezeiten im Track",
                "heures des photos sur la trace",
                "horas de las fotos en el track",
                "temporibus imaginum",
            ],
            AnchorKind::WrittenTime => [
                "written time on the track",
                "notierter Zeit im Track",
                "heure notée sur la trace",
                "hora anotada en el track",
                "tempore scripto",
            ],
        };
        all[self as usize]
    }

    /// A date with the month in letters, or in Roman figures in Latin: unambiguous in each.
    pub(super) fn date(self, date: Date) -> String {
        let (day, year) = (date.day(), date.year());
        let month = self.month(date.month());
        match self {
            English | French => format!("{day} {month} {year}"),
            German => format!("{day}. {month} {year}"),
            Spanish => format!("{day} de {month} de {year}"),
            Latin => format!("{day}.{month}.{year}"),
        }
    }

    fn month(self, month: i8) -> &'static str {
        let names: [&str; 12] = match self {
            English => [
                "January",
                "February",
                "March",
                "April",
                "May",
                "June",
                "July",
                "August",
                "September",
                "October",
                "November",
                "December",
            ],
            German => [
                "Januar",
                "Februar",
                "März",
                "April",
                "Mai",
                "Juni",
                "Juli",
                "August",
                "September",
                "Oktober",
                "November",
                "Dezember",
            ],
            French => [
                "janvier",
                "février",
                "mars",
                "avril",
                "mai",
                "juin",
                "juillet",
                "août",
                "septembre",
                "octobre",
                "novembre",
                "décembre",
            ],
            Spanish => [
                "enero",
                "febrero",
                "marzo",
                "abril",
                "mayo",
                "junio",
                "julio",
                "agosto",
                "septiembre",
                "octubre",
                "noviembre",
                "diciembre",
            ],
            Latin => ["I", "II", "III", "IV", "V", "VI", "VII", "VIII", "IX", "X", "XI", "XII"],
        };
        let place = usize::try_from(month - 1).unwrap_or(0).min(11);
        names[place]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn dates_are_in_the_form_of_the_language() {
        let day = date(2026, 5, 2);
        let written = [English, German, French, Spanish, Latin].map(|language| language.date(day));
        assert_eq!(
            written,
            ["2 May 2026", "2. Mai 2026", "2 mai 2026", "2 de mayo de 2026", "2.V.2026"]
        );
        assert_eq!(Latin.date(date(2026, 12, 31)), "31.XII.2026");
    }

    #[test]
    fn every_line_has_a_heading_in_every_language() {
        for language in [English, German, French, Spanish, Latin] {
            assert!(Content::ALL.iter().all(|content| !language.caption(*content).is_empty()));
        }
    }
}
