//! The days of the week that a word may name, in the languages of the headings: a short word such as `so` is a Saturday
//! in one and a Sunday in another. Layer: `ingest`.

use jiff::civil::{Date, Weekday};

use super::headings::bare;

/// For each day from Monday on its names without accents (from memory).
const NAMES: [&str; 7] = [
    "monday mon montag mo lundi lun lunes lunedi segunda seg maandag ma mandag man mandagen maanantai maanantaina \
     poniedzialek pon pn pondeli po",
    "tuesday tue tues dienstag di mardi mar martes martedi terca ter dinsdag tirsdag tirs tir tisdag tis tisdagen ti \
     tiistai tiistaina wtorek wt utery ut",
    "wednesday wed mittwoch mi mercredi mer miercoles mie mercoledi quarta qua woensdag wo onsdag ons onsdagen ke \
     keskiviikko keskiviikkona sroda sr streda st",
    "thursday thu thur thurs donnerstag do jeudi jeu jueves jue giovedi gio quinta qui donderdag torsdag tors tor \
     torsdagen to torstai torstaina czwartek czw cz ctvrtek ct",
    "friday fri freitag fr vendredi ven viernes vie venerdi sexta sex vrijdag vr fredag fre fredagen pe perjantai \
     perjantaina piatek pt patek pa",
    "saturday sat samstag sonnabend sa samedi sam sabado sab sabato zaterdag za lordag lor lordagen la lauantai \
     lauantaina sobota sob so",
    "sunday sun sonntag so dimanche dim domingo dom domenica zondag zo sondag son sondagen su sunnuntai sunnuntaina \
     niedziela niedz nd nedele ne",
];
const DAYS: [Weekday; 7] = [
    Weekday::Monday,
    Weekday::Tuesday,
    Weekday::Wednesday,
    Weekday::Thursday,
    Weekday::Friday,
    Weekday::Saturday,
    Weekday::Sunday,
];

/// The days that a word may name.
pub(super) fn of(word: &str) -> Vec<Weekday> {
    let word = bare(word);
    let is_of = |names: &&str| !word.is_empty() && names.split_whitespace().any(|own| own == word);
    NAMES.iter().zip(DAYS).filter(|(names, _)| is_of(names)).map(|(_, day)| day).collect()
}

/// Whether a text before a date begins with days of the week of which that date is none.
pub(super) fn contradict(text: &str, date: Date) -> bool {
    let first = text.trim_start().split(|c: char| !c.is_alphabetic()).next().unwrap_or_default();
    // an article such as `la` is no day
    if first.len() < 3 && !first.starts_with(char::is_uppercase) {
        return false;
    }
    let named = of(first);
    !named.is_empty() && !named.contains(&date.weekday())
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::civil::date;

    #[test]
    fn a_day_of_the_week_that_is_not_the_date_contradicts_it() {
        let saturday = date(2025, 10, 4);
        for text in
            ["Sa. 4.10.2025", "Samstag, 4.", "s\u{e1}bado", "so 4.", "4.10.2025", "Oktober 4"]
        {
            assert!(!contradict(text, saturday), "{text}");
        }
        for text in ["So. 4.10.2025 ", "Sonntag"] {
            assert_eq!(contradict(text, saturday), !text.starts_with("So."), "{text}");
        }
        assert!(contradict("Mo 4.10.2025", saturday) && contradict("dimanche", saturday));
    }
}
