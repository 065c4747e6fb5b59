//! Finds fonts of this machine for letters that the embedded family lacks, and measures text set in them. Only
//! faces that are upright, of normal weight and width, made of outlines and free to be embedded are used.
//! Layer: `present`.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use resvg::usvg::fontdb::{self, Database, ID};
use ttf_parser::{Face as Table, Permissions};

use super::{BOLD, FAMILY, ITALIC, REGULAR};

/// Families that are tried first, since they draw most scripts alike (common practice); then all others.
const FIRST: [&str; 2] = ["Noto Sans", "DejaVu Sans"];

/// A face of this machine.
#[derive(Clone, Debug, PartialEq)]
pub(in crate::present) struct Found {
    pub(in crate::present) face: ID,
    /// Its family.
    pub(in crate::present) family: Arc<str>,
}

struct Machine {
    database: Arc<Database>,
    /// Usable faces, the preferred ones first.
    faces: Vec<Found>,
    letters: Mutex<HashMap<char, Option<Found>>>,
    /// The characters of Latin that a face was asked for.
    others: Mutex<HashMap<(ID, char), bool>>,
}

/// Loaded when a letter is first missing in the embedded family.
static MACHINE: LazyLock<Machine> = LazyLock::new(|| {
    let mut database = Database::new();
    database.load_system_fonts();
    // the embedded family is drawn as embedded, also where another version of it is installed
    let same: Vec<ID> =
        database.faces().filter(|face| family(face) == Some(FAMILY)).map(|face| face.id).collect();
    for face in same {
        database.remove_face(face);
    }
    let mut faces: Vec<Found> = database
        .faces()
        .filter(|face| is_plain(face))
        .filter_map(|face| Some(Found { face: face.id, family: family(face)?.into() }))
        .collect();
    let rank = |family: &str| {
        FIRST.iter().position(|first| family.starts_with(first)).unwrap_or(FIRST.len())
    };
    faces.sort_by(|a, b| (rank(&a.family), &a.family).cmp(&(rank(&b.family), &b.family)));
    for bytes in [REGULAR, BOLD, ITALIC] {
        database.load_font_data(bytes.to_vec());
    }
    super::set_families(&mut database);
    let database = Arc::new(database);
    Machine { database, faces, letters: Mutex::default(), others: Mutex::default() }
});

fn family(face: &fontdb::FaceInfo) -> Option<&str> {
    let english = |(_, language): &&(String, fontdb::Language)| {
        *language == fontdb::Language::English_UnitedStates
    };
    let named = face.families.iter().find(english).or_else(|| face.families.first());
    named.map(|(name, _)| name.as_str())
}

fn is_plain(face: &fontdb::FaceInfo) -> bool {
    face.style == fontdb::Style::Normal
        && face.weight == fontdb::Weight::NORMAL
        && face.stretch == fontdb::Stretch::Normal
}

/// The embedded faces and all of this machine, for drawing.
pub(super) fn database() -> Arc<Database> {
    Arc::clone(&MACHINE.database)
}

/// The first face that has the letter.
pub(in crate::present) fn face_with(letter: char) -> Option<Found> {
    let mut letters = MACHINE.letters.lock().unwrap_or_else(PoisonError::into_inner);
    letters.entry(letter).or_insert_with(|| MACHINE.search(letter)).clone()
}

/// Whether a face has this character, too: a space or a mark between its letters.
pub(super) fn has(face: ID, letter: char) -> bool {
    let mut others = MACHINE.others.lock().unwrap_or_else(PoisonError::into_inner);
    *others.entry((face, letter)).or_insert_with(|| MACHINE.draws(face, letter))
}

/// The width of a text in a face, its letters joined and placed as they are drawn, in units of the size.
pub(super) fn width(face: ID, text: &str) -> f64 {
    let width = MACHINE.database.with_face_data(face, |data, index| {
        let face = rustybuzz::Face::from_slice(data, index)?;
        let mut buffer = rustybuzz::UnicodeBuffer::new();
        buffer.push_str(text);
        buffer.guess_segment_properties();
        let shaped = rustybuzz::shape(&face, &[], buffer);
        let units: i32 = shaped.glyph_positions().iter().map(|glyph| glyph.x_advance).sum();
        Some(f64::from(units) / f64::from(face.units_per_em()))
    });
    width.flatten().unwrap_or_else(|| text.chars().count() as f64)
}

/// Blocks of scripts whose signs change their order and stack. The reader of drawings sets such signs one over the
/// other.
const NOT_SET: [(std::ops::RangeInclusive<char>, &str); 16] = [
    ('\u{900}'..='\u{97f}', "Devanagari"),
    ('\u{980}'..='\u{9ff}', "Bengali"),
    ('\u{a00}'..='\u{a7f}', "Gurmukhi"),
    ('\u{a80}'..='\u{aff}', "Gujarati"),
    ('\u{b00}'..='\u{b7f}', "Odia"),
    ('\u{b80}'..='\u{bff}', "Tamil"),
    ('\u{c00}'..='\u{c7f}', "Telugu"),
    ('\u{c80}'..='\u{cff}', "Kannada"),
    ('\u{d00}'..='\u{d7f}', "Malayalam"),
    ('\u{d80}'..='\u{dff}', "Sinhala"),
    ('\u{f00}'..='\u{fff}', "Tibetan"),
    ('\u{1000}'..='\u{109f}', "Burmese"),
    ('\u{1780}'..='\u{17ff}', "Khmer"),
    ('\u{19e0}'..='\u{19ff}', "Khmer"),
    ('\u{a8e0}'..='\u{a8ff}', "Devanagari"),
    ('\u{aa60}'..='\u{aa7f}', "Burmese"),
];

/// The script of a letter, where no font helps: its signs are not set.
pub(in crate::present) fn script_not_set(letter: char) -> Option<&'static str> {
    NOT_SET.iter().find(|(block, _)| block.contains(&letter)).map(|(_, script)| *script)
}

impl Machine {
    fn search(&self, letter: char) -> Option<Found> {
        if script_not_set(letter).is_some() {
            return None;
        }
        self.faces.iter().find(|found| self.draws(found.face, letter)).cloned()
    }

    /// Whether a face draws a letter and may be embedded.
    fn draws(&self, face: ID, letter: char) -> bool {
        let draws = self.database.with_face_data(face, |data, index| {
            let table = Table::parse(data, index).ok()?;
            let outlines = table.tables().glyf.is_some() || table.tables().cff.is_some();
            let embeddable = table.permissions() != Some(Permissions::Restricted)
                && table.is_subsetting_allowed();
            Some(outlines && embeddable && table.glyph_index(letter).is_some())
        });
        draws.flatten().unwrap_or(false)
    }
}
