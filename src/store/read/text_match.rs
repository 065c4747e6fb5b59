//! Compares words of a query with words of a find, whatever their case, accents and spacing. Layer:
//! `store`.

use crate::model::Record;

/// A text for comparison: small letters without accents, single spaces.
pub(super) fn folded(text: &str) -> String {
    let mut folded = String::with_capacity(text.len());
    for word in text.split_whitespace() {
        if !folded.is_empty() {
            folded.push(' ');
        }
        word.chars().flat_map(char::to_lowercase).for_each(|c| push_plain(&mut folded, c));
    }
    folded
}

/// The letter without its accent, for the letters of European languages.
fn push_plain(text: &mut String, letter: char) {
    let plain = match letter {
        'à'..='å' | 'ā' | 'ă' | 'ą' => "a",
        'æ' => "ae",
        'ç' | 'ć' | 'č' => "c",
        'ď' | 'đ' | 'ð' => "d",
        'è'..='ë' | 'ē' | 'ė' | 'ę' | 'ě' => "e",
        'ğ' => "g",
        'ì'..='ï' | 'ī' | 'į' => "i",
        'ł' | 'ľ' => "l",
        'ñ' | 'ń' | 'ň' => "n",
        'ò'..='ö' | 'ø' | 'ō' | 'ő' => "o",
        'œ' => "oe",
        'ř' => "r",
        'ś' | 'š' | 'ş' => "s",
        'ß' => "ss",
        'ť' | 'þ' => "t",
        'ù'..='ü' | 'ū' | 'ů' | 'ű' => "u",
        'ý' | 'ÿ' => "y",
        'ź' | 'ż' | 'ž' => "z",
        '\u{300}'..='\u{36f}' => "",
        other => return text.push(other),
    };
    text.push_str(plain);
}

/// Whether a cell contains the words that are asked for, if any are.
pub(super) fn contains(cell: Option<&str>, asked: Option<&String>) -> bool {
    asked.is_none_or(|asked| cell.is_some_and(|cell| folded(cell).contains(&folded(asked))))
}

/// Whether notes, characters, habitat or any other text of a record contains the words.
pub(super) fn in_notes(record: &Record, asked: Option<&String>) -> bool {
    let Some(asked) = asked else { return true };
    let asked = folded(asked);
    let habitat = record.habitat.iter().map(String::as_str);
    let fields = record.fields.values().map(String::as_str);
    habitat.chain(fields).any(|text| folded(text).contains(&asked))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn case_accents_and_spacing_do_not_matter() {
        assert_eq!(folded("  Buche,\tÄSTE "), "buche, aste");
        assert_eq!(folded("Große Bäume"), folded("grosse BAUME"));
        assert_eq!(folded("e\u{301}te\u{301}"), "ete");
        assert!(contains(Some("Blåbærskog"), Some(&"blabaer".to_owned())));
        assert!(!contains(None, Some(&"x".to_owned())));
        assert!(contains(None, None));
    }
}
