//! Provides the embedded fonts and measures text. Noto Sans in regular, bold and italic is part of the
//! program (SIL Open Font License 1.1, `fonts/OFL.txt`), so that every machine prints the same. Fonts of the
//! machine draw only letters that it lacks. Layer: `present`.

mod machine;

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
        set_families(&mut fonts);
        Arc::new(fonts)
    });
    Arc::clone(&FONTS)
}

fn set_families(fonts: &mut fontdb::Database) {
    fonts.set_sans_serif_family(FAMILY);
    fonts.set_serif_family(FAMILY);
    fonts.set_monospace_family(FAMILY);
}

/// The fonts for a drawing: those of the machine only where it has letters that the embedded family lacks.
pub(super) fn database_for(drawing: &str) -> Arc<fontdb::Database> {
    if is_all_embedded(drawing) { database() } else { machine::database() }
}

/// The face that draws a letter which others lack, for the reader of drawings.
pub(super) fn face_of(letter: char) -> Option<fontdb::ID> {
    machine::face_with(letter).map(|found| found.face)
}

/// A piece of a text that one family draws.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Piece<'t> {
    /// A face of the machine; `None` for the embedded family.
    found: Option<machine::Found>,
    /// The text.
    pub(super) text: &'t str,
}

impl Piece<'_> {
    /// The family of the machine that draws it.
    pub(super) fn family(&self) -> Option<&str> {
        self.found.as_ref().map(|found| &*found.family)
    }

    /// Its width, in the units of `size`.
    pub(super) fn width(&self, face: Face, size: f64) -> f64 {
        match &self.found {
            Some(found) => machine::width(found.face, self.text) * size,
            None => embedded_width(self.text, face, size),
        }
    }
}

/// Whether a letter is of a script that runs from right to left: the blocks of Hebrew, Arabic and their neighbours.
fn runs_from_right(letter: char) -> bool {
    matches!(letter, '\u{590}'..='\u{8ff}' | '\u{fb1d}'..='\u{fdff}' | '\u{fe70}'..='\u{fefc}')
}

/// The text in pieces of one family each. Spaces and marks between letters from right to left are drawn by their
/// font, so that their words stay in their order.
pub(super) fn pieces(text: &str) -> Vec<Piece<'_>> {
    let mut pieces: Vec<Piece<'_>> = Vec::new();
    // where the piece begins, its face, and where its last letter ends
    let (mut begin, mut current, mut end) = (0, None::<machine::Found>, 0);
    let mut from_right = false;
    for (at, letter) in text.char_indices() {
        // what is not seen joins or separates the letters beside it
        if !letter.is_ascii() && !seen(letter) {
            end = at + letter.len_utf8();
            continue;
        }
        let neutral = from_right && letter.is_ascii() && !letter.is_ascii_alphanumeric();
        let held = current.as_ref().filter(|found| neutral && machine::has(found.face, letter));
        if held.is_some() {
            continue;
        }
        let own = if letter.is_ascii() || is_embedded(letter) {
            None
        } else {
            machine::face_with(letter)
        };
        if own != current {
            // spaces at the end belong to what follows
            let cut = if current.is_some() { end } else { at };
            if cut > begin {
                pieces.push(Piece { found: current, text: &text[begin..cut] });
                begin = cut;
            }
            if own.is_some() && at > begin {
                pieces.push(Piece { found: None, text: &text[begin..at] });
                begin = at;
            }
            current = own;
        }
        from_right = runs_from_right(letter);
        end = at + letter.len_utf8();
    }
    let cut = if current.is_some() { end } else { text.len() };
    if cut > begin || text.is_empty() {
        pieces.push(Piece { found: current, text: &text[begin..cut] });
    }
    if cut < text.len() {
        pieces.push(Piece { found: None, text: &text[cut..] });
    }
    pieces
}

/// Whether all of a text is drawn by the embedded family, or by no font.
pub(super) fn is_all_embedded(text: &str) -> bool {
    text.is_ascii() || !text.chars().any(|letter| seen(letter) && !is_embedded(letter))
}

/// Printed instead of a letter that the fonts do not have; otherwise nothing would be printed.
const MISSING: char = '\u{fffd}';

/// The text with [`MISSING`] for each letter that no font has.
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

/// The script of a letter whose signs are not set, whatever fonts the machine has.
#[must_use]
pub fn script_not_set(letter: char) -> Option<&'static str> {
    machine::script_not_set(letter)
}

/// Whether the embedded family, which covers Latin, Greek and Cyrillic, or a font of this machine has this
/// letter. Others print as a replacement character.
#[must_use]
pub fn draws(letter: char) -> bool {
    is_embedded(letter) || machine::face_with(letter).is_some()
}

fn is_embedded(letter: char) -> bool {
    Face::Regular.table().is_some_and(|table| table.glyph_index(letter).is_some())
}

/// The families of this machine that draw letters of a text.
#[must_use]
pub fn families_of_machine(text: &str) -> Vec<String> {
    let pieces = pieces(text);
    let mut families: Vec<String> =
        pieces.iter().filter_map(Piece::family).map(str::to_owned).collect();
    families.sort_unstable();
    families.dedup();
    families
}

/// The width of a line of text. Kerning of the embedded family is ignored, which makes the
/// result up to 3 % too wide, never much too narrow.
///
/// # Units
/// Those of `size`: points for a size in points.
#[must_use]
pub fn width(text: &str, face: Face, size: f64) -> f64 {
    if is_all_embedded(text) {
        return embedded_width(text, face, size);
    }
    pieces(text).iter().map(|piece| piece.width(face, size)).sum()
}

fn embedded_width(text: &str, face: Face, size: f64) -> f64 {
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

/// The text with its end replaced by an ellipsis where it is wider than this.
#[must_use]
pub fn shortened(text: &str, face: Face, size: f64, widest: f64) -> String {
    if width(text, face, size) <= widest {
        return text.to_owned();
    }
    let mut kept = text.to_owned();
    while !kept.is_empty() && width(&kept, face, size) + width("\u{2026}", face, size) > widest {
        kept.pop();
    }
    format!("{}\u{2026}", kept.trim_end())
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
    fn pieces_keep_all_of_a_text() {
        for text in [
            "",
            "Mycena",
            "\u{68ee}\u{306e}\u{4e2d} by the creek",
            "a \u{645}\u{644}\u{627} \u{628}\u{627}\u{644} b",
            "\u{5d0} \u{5d1}, ",
            "\u{378}\u{378} \u{200d}x\u{200d}",
            "\u{935}\u{928}\u{200d}\u{93e} (\u{e01}) 12",
        ] {
            let pieces = pieces(text);
            let all: String = pieces.iter().map(|piece| piece.text).collect();
            assert_eq!(all, text);
            assert!(pieces.iter().all(|piece| piece.width(Face::Regular, 8.0) >= 0.0));
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
