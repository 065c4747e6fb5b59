//! Recognises the names of months and weekdays, in full, in the genitive and abbreviated, in
//! European languages, ignoring accents. Words with other meanings are excluded.
//! Layer: `ingest`.

/// For each month its names without accents: English, German, French, Spanish, Portuguese, Italian,
/// Dutch, Danish, Norwegian, Swedish, Finnish, Polish, Czech, Romanian, Slovak, Slovene, Croatian,
/// Catalan, Hungarian, Turkish, Russian, Ukrainian, Bulgarian, Greek, Lithuanian, Latvian (from memory).
const MONTHS: [&str; 12] = [
    "january jan januar jaenner janner janvier janv enero ene janeiro gennaio gen januari tammikuu \
     tammikuuta tammi styczen stycznia sty leden ledna led ianuarie januara januarja sijecanj \
     sijecnja gener ocak января январь янв січень січня януари ιανουαριος ιανουαριου \
     sausis sausio saus janvaris janvari",
    "february feb februar feber fevrier fevr fev febrero fevereiro febbraio febr februari helmikuu \
     helmikuuta helmi luty lutego lut unor unora uno februarie februara februarja veljaca veljace \
     febrer subat февраль февраля фев лютии лютого февруари φεβρουαριος φεβρουαριου \
     vasaris vasario vas februaris",
    "march mar marz maerz mrz mars marzo marco maart mrt marts maaliskuu maaliskuuta maalis marzec \
     marca brezen brezna bre martie ozujak ozujka marec mart marcius март марта мар березень \
     березня μαρτιος μαρτιου \
     kovas kovo",
    "april apr avril avr abril abr aprile huhtikuu huhtikuuta huhti kwiecien kwietnia kwi duben \
     dubna dub aprilie aprila travanj travnja nisan aprilis апрель апреля апр квітень квітня април \
     απριλιος απριλιου \
     balandis balandzio bal",
    "may mai mayo maio maggio mag mei maj toukokuu toukokuuta touko maja kveten kvetna kve maiului \
     svibanj svibnja maig mayis majus маи мая травень травня μαιος μαιου \
     geguze geguzes geg maijs maija",
    "june jun juni juin junio junho giugno giu kesakuu kesakuuta kesa czerwiec czerwca cze cerven \
     cervna iunie juna junija lipanj lipnja juny haziran junius июнь июня июн червень червня юни \
     ιουνιος ιουνιου \
     birzelis birzelio bir junijs",
    "july jul juli juillet juil julio julho luglio lug heinakuu heinakuuta heina lipiec lipca lip \
     cervenec cervence iulie jula julija srpanj srpnja juliol temmuz julius июль июля июл липень \
     липня юли ιουλιος ιουλιου \
     liepa liepos lie julijs",
    "august aug aout agosto ago augusti augustus elokuu elokuuta elo sierpien sierpnia sie srpen \
     srpna srp augusta avgust avgusta kolovoz kolovoza agost agustos augusztus август августа авг \
     серпень серпня αυγουστος αυγουστου \
     rugpjutis rugpjucio rgp augusts",
    "september sep sept septembre septiembre setiembre setembro set settembre sett syyskuu \
     syyskuuta syys wrzesien wrzesnia wrz zari zar septembrie septembra rujan rujna setembre eylul \
     szeptember szept сентябрь сентября сен сент вересень вересня септември σεπτεμβριος σεπτεμβριου \
     rugsejis rugsejo rgs septembris septembri",
    "october oct oktober okt octobre octubre outubro out ottobre ott lokakuu lokakuuta loka \
     pazdziernik pazdziernika paz rijen rijna rij octombrie oktobra oktobar ekim октябрь октября \
     окт жовтень жовтня октомври οκτωβριος οκτωβριου \
     spalis spalio spa oktobris oktobri",
    "november nov novembre noviembre novembro marraskuu marraskuuta marras listopad listopada lis \
     noiembrie novembra studeni studenoga studenog kasim ноябрь ноября ноя листопад листопада \
     ноември νοεμβριος νοεμβριου \
     lapkritis lapkricio lap novembris novembri",
    "december dec dezember dez decembre diciembre dic dezembro dicembre desember des joulukuu \
     joulukuuta joulu grudzien grudnia gru prosinec prosince pro decembrie decembra prosinac \
     prosinca desembre aralik декабрь декабря дек грудень грудня декември δεκεμβριος δεκεμβριου \
     gruodis gruodzio grd decembris decembri",
];

/// Days of the week, and other words allowed before a date.
const BEFORE: &str = "monday mon tuesday tue tues wednesday wed thursday thu thur thurs friday fri \
    saturday sat sunday sun montag mo dienstag di mittwoch mi donnerstag do freitag fr samstag \
    sonnabend sa sonntag so lundi mardi mercredi jeudi vendredi samedi dimanche lunes martes miercoles \
    jueves viernes sabado domingo segunda terca quarta quinta sexta feira lunedi martedi mercoledi \
    giovedi venerdi sabato domenica maandag dinsdag woensdag donderdag vrijdag zaterdag zondag mandag \
    tirsdag onsdag torsdag fredag lordag sondag tisdag maanantai tiistai keskiviikko torstai perjantai \
    lauantai sunnuntai maanantaina tiistaina keskiviikkona torstaina perjantaina lauantaina sunnuntaina \
    poniedzialek wtorek sroda czwartek piatek sobota niedziela pondeli utery streda ctvrtek patek \
    nedele pirmadienis antradienis treciadienis ketvirtadienis penktadienis sestadienis sekmadienis \
    pirmdiena otrdiena tresdiena ceturtdiena piektdiena sestdiena svetdiena ma \
    di wo do vr za zo man tir tirs ons tor tors fre lor son tis lun mer jeu ven sam dim gio gioved mie jue vie sab dom \
    seg ter qua qui sex ti ke to pe su pon pn wt sr czw cz pt sob niedz nd ne po ut st ct pa le el il la am den der dne \
    dia";

/// The number of the month that a word names.
pub(super) fn number(word: &str) -> Option<usize> {
    let word = bare(word);
    MONTHS.iter().position(|names| names.split(' ').any(|name| name == word)).map(|index| index + 1)
}

/// Whether a word may stand before a date.
pub(super) fn stops_before(word: &str) -> bool {
    let word = bare(word);
    !word.is_empty() && BEFORE.split_whitespace().any(|known| known == word)
}

/// Whether a word only joins day, month and year.
pub(super) fn joins(word: &str) -> bool {
    matches!(bare(word).as_str(), "d" | "de" | "del" | "di" | "do" | "of" | "van" | "m" | "gada")
}

/// In lower case without accents.
fn bare(word: &str) -> String {
    word.chars().flat_map(char::to_lowercase).map(plain).collect()
}

fn plain(c: char) -> char {
    match c {
        '\u{e0}'..='\u{e5}' | '\u{101}' | '\u{103}' | '\u{105}' => 'a',
        '\u{e7}' | '\u{107}' | '\u{10d}' => 'c',
        '\u{10f}' => 'd',
        '\u{e8}'..='\u{eb}' | '\u{113}' | '\u{117}' | '\u{119}' | '\u{11b}' => 'e',
        '\u{11f}' => 'g',
        '\u{ec}'..='\u{ef}' | '\u{12b}' | '\u{12f}' | '\u{131}' => 'i',
        '\u{13c}' | '\u{142}' => 'l',
        '\u{f1}' | '\u{144}' | '\u{146}' | '\u{148}' => 'n',
        '\u{f2}'..='\u{f6}' | '\u{f8}' | '\u{151}' => 'o',
        '\u{159}' => 'r',
        '\u{15b}' | '\u{15f}' | '\u{161}' | '\u{219}' => 's',
        '\u{165}' => 't',
        '\u{f9}'..='\u{fc}' | '\u{16b}' | '\u{16f}' | '\u{171}' | '\u{173}' => 'u',
        '\u{fd}' => 'y',
        '\u{17a}' | '\u{17c}' | '\u{17e}' => 'z',
        // Greek and Cyrillic letters with their marks
        'ά' => 'α',
        'έ' => 'ε',
        'ή' => 'η',
        'ί' | 'ϊ' => 'ι',
        'ό' => 'ο',
        'ύ' => 'υ',
        'ώ' => 'ω',
        'й' => 'и',
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_name_means_two_months() {
        let mut names: Vec<&str> = MONTHS.iter().flat_map(|names| names.split(' ')).collect();
        let count = names.len();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), count);
        assert!(names.iter().all(|name| bare(name) == **name));
        assert!(BEFORE.split_whitespace().all(|word| number(word).is_none()));
    }
}
