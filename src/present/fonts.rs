//! Provides the embedded fonts and measures text. Noto Sans in regular, bold and italic is part of the
//! program (SIL Open Font License 1.1, `fonts/OFL.txt`), so that every machine prints the same; fonts
//! of the machine are never used. Layer: `present`.

use std::sync::{Arc, LazyLock};

use resvg::usvg::fontdb;
use ttf_parser::Face as Table;

/// The name of the embedded family.
pub const FAMILY: &str = "Noto Sans";

pub(super) const REGULAR: &[u8] = include_bytes!("fonts/NotoSans-Regular.ttf");
pub(super) const BOLD: &[u8] = include_bytes!("fonts/NotoSans-Bold.ttf");
const ITALIC: &[u8] = include_bytes!("fonts/NotoSans-Italic.ttf");

/// A font face.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Face {
    /// Upright.
    #[default]
    Regular,
    /// Bold.
    Bold,
    /// Italic: names of genera and species.
    Italic,
}

impl Face {
    fn table(self) -> Option<&'static Table<'static>> {
        static TABLES: LazyLock<[Option<Table<'static>>; 3]> =
            LazyLock::new(|| [REGULAR, BOLD, ITALIC].map(|bytes| Table::parse(bytes, 0).ok()));
        TABLES[self as usize].as_ref()
    }
}

/// The three faces, for drawing.
pub(super) fn database() -> Arc<fontdb::Database> {
    static FONTS: LazyLock<Arc<fontdb::Database>> = LazyLock::new(|| {
        let mut fonts = fontdb::Database::new();
        for bytes in [REGULAR, BOLD, ITALIC] {
            fonts.load_font_data(bytes.to_vec());
        }
        fonts.set_sans_serif_family(FAMILY);
        fonts.set_serif_family(FAMILY);
        fonts.set_monospace_family(FAMILY);
        Arc::new(fonts)
    });
    Arc::clone(&FONTS)
}

/// Printed instead of a letter that the fonts do not have; otherwise nothing would be printed.
const MISSING: char = '\u{fffd}';

/// The text with [`MISSING`] for each letter that the embedded family does not have.
#[must_use]
pub(super) fn replaced(text: &str) -> std::borrow::Cow<'_, str> {
    let missing = |letter: char| !letter.is_ascii() && seen(letter) && !draws(letter);
    if text.is_ascii() || !text.contains(missing) {
        return text.into();
    }
    text.chars().map(|letter| if missing(letter) { MISSING } else { letter }).collect()
}

/// Whether a character is visible: direction marks, joiners and variation selectors are not.
#[must_use]
pub fn seen(letter: char) -> bool {
    !letter.is_control()
        && !matches!(letter, '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2060}'..='\u{206f}'
            | '\u{fe00}'..='\u{fe0f}' | '\u{feff}' | '\u{e0000}'..='\u{e0fff}')
}

/// Whether the embedded family has this letter. Letters of scripts other than Latin, Greek and Cyrillic
/// print as a replacement character.
#[must_use]
pub fn draws(letter: char) -> bool {
    Face::Regular.table().is_some_and(|table| table.glyph_index(letter).is_some())
}

/// The width of a line of text. Kerning is ignored, which makes the
/// result up to 3 % too wide, never much too narrow.
///
/// # Units
/// Those of `size`: points for a size in points.
#[must_use]
pub fn width(text: &str, face: Face, size: f64) -> f64 {
    let Some(table) = face.table() else { return 0.6 * size * text.chars().count() as f64 };
    let instead = table.glyph_index(MISSING).and_then(|glyph| table.glyph_hor_advance(glyph));
    let missing = instead.map_or(f64::from(table.units_per_em()), f64::from);
    let units: f64 = text
        .chars()
        .map(|letter| {
            table
                .glyph_index(letter)
                .and_then(|glyph| table.glyph_hor_advance(glyph))
                .map_or(missing, f64::from)
        })
        .sum();
    units / f64::from(table.units_per_em()) * size
}

/// The text in lines no wider than this. Breaks at spaces, after hyphens and slashes; a word that is
/// too long for a line is broken, so that nothing is truncated.
#[must_use]
pub fn lines(text: &str, face: Face, size: f64, widest: f64) -> Vec<String> {
    let mut lines = Vec::new();
    for paragraph in text.lines() {
        let mut line = String::new();
        for word in words(paragraph) {
            if width(line.trim_end(), face, size) + width(word.trim_end(), face, size) <= widest
                && width(&format!("{line}{}", word.trim_end()), face, size) <= widest
            {
                line.push_str(word);
                continue;
            }
            if !line.trim().is_empty() {
                lines.push(line.trim_end().to_owned());
            }
            line = broken(word, face, size, widest, &mut lines);
        }
        if !line.trim().is_empty() {
            lines.push(line.trim_end().to_owned());
        }
    }
    lines
}

/// Pieces that end where a line may end, the space after them included.
fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split_inclusive([' ', '\t', '-', '/'])
}

/// Breaks a word that is too long into full lines and returns the rest.
fn broken(word: &str, face: Face, size: f64, widest: f64, lines: &mut Vec<String>) -> String {
    let mut rest = String::new();
    for letter in word.chars() {
        rest.push(letter);
        if width(rest.trim_end(), face, size) > widest && rest.chars().count() > 1 {
            rest.pop();
            lines.push(std::mem::take(&mut rest));
            rest.push(letter);
        }
    }
    rest
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn embedded_fonts_are_three_faces_of_one_family() {
        let fonts = database();
        assert_eq!(fonts.len(), 3);
        assert!(fonts.faces().all(|face| face.families[0].0 == FAMILY));
        for face in [Face::Regular, Face::Bold, Face::Italic] {
            assert!(face.table().is_some());
        }
    }

    #[test]
    fn line_breaking_keeps_all_letters_and_the_width() {
        let text = "Ascocoryne sarcoides (Jacq.) J.W. Groves & D.E. Wilson on a very-long-hyphenated/word \
                    and Donaudampfschifffahrtselektrizitätenhauptbetriebswerk";
        for widest in [12.0, 40.0, 90.0, 300.0] {
            let lines = lines(text, Face::Regular, 8.0, widest);
            let bare = |text: &str| text.replace(' ', "");
            assert_eq!(bare(&lines.concat()), bare(text));
            for line in &lines {
                let wide = width(line, Face::Regular, 8.0);
                assert!(wide <= widest || line.chars().count() == 1, "{line}: {wide} > {widest}");
            }
        }
    }

    #[test]
    fn font_has_the_letters_of_authors_and_places() {
        let table = Face::Regular.table().unwrap();
        for letter in "ÅÄÖßéèêëñçøåžšłőűğıÞðΑΩабвЯʻʼ°±×–—“”‘’…½µ".chars()
        {
            assert!(table.glyph_index(letter).is_some(), "{letter}");
        }
    }
}
