//! Draws labels for packets, drying trays and boxes, and numbered field slips, on sheets with cut
//! marks. Text is never truncated: it shrinks to a readable size, then continues on a second label; on
//! small labels the last paragraphs are omitted. Layer: `present`.
//!
//! Labels hold exact positions and stay with the specimen. The QR code holds the permanent identifier of the
//! record, so that a label still refers to it after its number was corrected. `docs/labels.md` lists the content;
//! checks read every word and code back from the rendered pages (`tests/outside/labels.py`).

mod bars;
mod code;
mod content;
mod language;
mod layout;
mod packet;
mod placing;
mod sheet;
mod slip;
mod tray;
mod types;

pub use language::Language;
pub use layout::{CodeKind, Content, Layout};
pub use sheet::Paper;

use super::svg::POINTS_PER_MILLIMETRE;
use crate::model::{KeptFind, RecordNumber};

/// The purpose of a label.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Size {
    /// On the packet in the herbarium: everything, 93 by 84 mm.
    Packet,
    /// On the drying tray or the box: number, name, date, 62 by 42 mm.
    Tray,
    /// In the box with the specimen: number and code, 46 by 21 mm.
    Tag,
}

/// One label to cut out, drawn from its upper left corner.
#[derive(Clone, Debug)]
struct Cut {
    drawn: super::markup::Elements,
}

impl Size {
    /// Width and height in points.
    fn points(self) -> (f64, f64) {
        let (wide, high) = match self {
            Self::Packet => (93.0, 84.0),
            Self::Tray => (62.0, 42.0),
            Self::Tag => (46.0, 21.0),
        };
        (wide * POINTS_PER_MILLIMETRE, high * POINTS_PER_MILLIMETRE)
    }
}

/// How finds are printed.
///
/// Type is set as large as fits, from 9 down to 6.5 points on packet labels, and never below 6.
#[derive(Clone, Debug)]
pub struct Print<'a> {
    /// The purpose.
    pub size: Size,
    /// The paper.
    pub paper: Paper,
    /// What is stated, in which language.
    pub layout: &'a Layout,
    /// Labels of each find: one for the specimen, the others for its duplicates.
    pub copies: u32,
    /// Labels that the first sheet has no longer, because it was used before.
    pub used: usize,
    /// In the margin of each sheet.
    pub note: &'a str,
}

impl Print<'_> {
    /// The number of labels on a sheet.
    #[must_use]
    pub fn labels_per_sheet(&self) -> usize {
        sheet::capacity(self.size.points(), self.paper)
    }

    /// Labels of these finds by number, as SVG drawings of whole sheets.
    ///
    /// In the order of series and number; finds without a number come last. One drawing is one sheet of paper, for
    /// [`render::pages`](super::render::pages).
    ///
    /// # Examples
    /// ```no_run
    /// use trug::present::label::{Layout, Paper, Print, Size};
    /// use trug::present::render;
    /// use trug::store::{FindQuery, Store};
    ///
    /// let store = Store::open("my.gpkg".as_ref())?;
    /// let layout = Layout::default();
    /// let print = Print {
    ///     size: Size::Packet,
    ///     paper: Paper::A4,
    ///     layout: &layout,
    ///     copies: 1,
    ///     used: 0,
    ///     note: "",
    /// };
    /// let sheets = print.sheets(&store.finds(&FindQuery::default())?);
    /// std::fs::write("labels.pdf", render::pages(&sheets, "Labels")?)?;
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn sheets(&self, finds: &[KeptFind]) -> Vec<String> {
        let mut order: Vec<&KeptFind> =
            finds.iter().filter(|find| find.withdrawn.is_none()).collect();
        order.sort_by_key(|find| sort_key(find));
        let cuts: Vec<Cut> = order
            .into_iter()
            .flat_map(|find| (0..self.copies.max(1)).map(move |copy| (find, copy)))
            .flat_map(|(find, copy)| self.cuts(find, copy))
            .collect();
        let margins = sheet::Margins { title: "Labels", note: self.note, used: self.used };
        sheet::lay(&cuts, self.size.points(), self.paper, &margins)
    }

    fn cuts(&self, find: &KeptFind, copy: u32) -> Vec<Cut> {
        let size = self.size.points();
        match self.size {
            Size::Packet => {
                let duplicate = (copy > 0).then(|| (copy, self.copies.saturating_sub(1)));
                packet::Packet { find, layout: self.layout, duplicate, size }.cuts()
            }
            Size::Tray => tray::labels(find, self.layout, size),
            Size::Tag => vec![tray::tag(find, self.layout, size)],
        }
    }
}

/// Numbers that one collector used for several finds, each with its finds in the order of their dates.
/// A collector's number identifies a specimen only where it is used once.
#[must_use]
pub fn repeated_numbers(finds: &[KeptFind]) -> Vec<Vec<&KeptFind>> {
    let mut groups: std::collections::BTreeMap<(String, Option<u64>, String), Vec<&KeptFind>> =
        std::collections::BTreeMap::new();
    for find in finds.iter().filter(|find| find.withdrawn.is_none()) {
        let Some(number) = &find.record.number else { continue };
        let collector = content::collector(find).unwrap_or_default().to_lowercase();
        let key = (number.series().to_lowercase(), number.ordinal(), collector);
        groups.entry(key).or_default().push(find);
    }
    let mut repeated: Vec<Vec<&KeptFind>> =
        groups.into_values().filter(|group| group.len() > 1).collect();
    for group in &mut repeated {
        group.sort_by_key(|find| (find.date, find.id));
    }
    repeated
}

/// Finds whose type status does not say what their duplicates are: the labels of these do not state it.
#[must_use]
pub fn open_type_status<'f>(finds: &'f [KeptFind], layout: &Layout) -> Vec<(&'f KeptFind, String)> {
    if !layout.lines.contains(&Content::TypeStatus) {
        return Vec::new();
    }
    let open = |find: &'f KeptFind| {
        let status = content::type_status(find)?;
        types::of_duplicate(&status).is_none().then_some((find, status))
    };
    finds.iter().filter_map(open).collect()
}

/// Field slips with these numbers: one half to be photographed beside the find, one
/// to stay with it.
///
/// # Examples
/// ```
/// use trug::model::RecordNumber;
/// use trug::present::label::{self, Paper};
///
/// let numbers = [RecordNumber("TH-0017".into()), RecordNumber("TH-0018".into())];
/// let sheets = label::slips(&numbers, Paper::A4);
/// assert_eq!(sheets.len(), 1);
/// assert!(sheets[0].starts_with("<svg") && sheets[0].contains("TH-0018"));
/// ```
#[must_use]
pub fn slips(numbers: &[RecordNumber], paper: Paper) -> Vec<String> {
    let size = (93.0 * POINTS_PER_MILLIMETRE, 63.0 * POINTS_PER_MILLIMETRE);
    let cuts: Vec<Cut> = numbers.iter().map(|number| slip::cut(number, size)).collect();
    let margins = sheet::Margins { title: "Slips", note: "", used: 0 };
    sheet::lay(&cuts, size, paper, &margins)
}

/// The families of this machine that draw letters which the embedded font does not have.
#[must_use]
pub fn families_of_machine(finds: &[KeptFind], layout: &Layout) -> Vec<String> {
    let words: Vec<String> = finds.iter().map(|find| content::all_words(find, layout)).collect();
    super::fonts::families_of_machine(&words.join("\n"))
}

/// Letters for which a replacement character is printed.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Unprinted {
    /// Those that neither the embedded font nor a font of this machine has.
    pub without_a_font: Vec<char>,
    /// The scripts whose signs are not set, whatever fonts there are.
    pub scripts: Vec<&'static str>,
    /// The numbers of the finds whose labels have either.
    pub numbers: Vec<String>,
}

/// What of the labels cannot be printed.
#[must_use]
pub fn unprinted(finds: &[KeptFind], layout: &Layout) -> Unprinted {
    let mut all = Unprinted::default();
    for find in finds {
        let words = content::all_words(find, layout);
        let missing = words.chars().filter(|letter| {
            !letter.is_whitespace() && super::fonts::seen(*letter) && !super::fonts::draws(*letter)
        });
        let mut any = false;
        for letter in missing {
            any = true;
            match super::fonts::script_not_set(letter) {
                Some(script) => all.scripts.push(script),
                None => all.without_a_font.push(letter),
            }
        }
        if any {
            all.numbers.push(content::number(find, layout));
        }
    }
    all.without_a_font.sort_unstable();
    all.without_a_font.dedup();
    all.scripts.sort_unstable();
    all.scripts.dedup();
    all
}

/// Series, then number, then date and identifier; finds without a number last.
fn sort_key(find: &KeptFind) -> (bool, String, u64, jiff::civil::Date, uuid::Uuid) {
    let number = find.record.number.as_ref();
    (
        number.is_none(),
        number.map_or_else(String::new, |number| number.series().to_lowercase()),
        number.and_then(RecordNumber::ordinal).unwrap_or(u64::MAX),
        find.date,
        find.id,
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;
    use crate::present::render;

    #[test]
    fn labels_are_sorted_by_number() {
        let mut finds: Vec<KeptFind> = ["AQ-10", "AQ-9", "", "aq-11"]
            .iter()
            .map(|number| fixture::kept_find(number))
            .collect();
        finds[2].record.number = None;
        finds.sort_by_key(sort_key);
        let numbers: Vec<String> = finds
            .iter()
            .map(|find| find.record.number.as_ref().map_or_else(String::new, |n| n.0.clone()))
            .collect();
        assert_eq!(numbers, ["AQ-9", "AQ-10", "aq-11", ""]);
    }

    #[test]
    fn every_size_on_every_paper_gives_printable_pages() {
        let finds: Vec<KeptFind> =
            (0..40).map(|number| fixture::kept_find(&format!("AQ-{number:04}"))).collect();
        for size in [Size::Packet, Size::Tray, Size::Tag] {
            for paper in [Paper::A4, Paper::Letter] {
                let layout = Layout::default();
                let print =
                    Print { size, paper, layout: &layout, copies: 1, used: 0, note: "a note" };
                let sheets = print.sheets(&finds);
                let shown = finds
                    .iter()
                    .filter(|find| {
                        let number = &find.record.number.as_ref().unwrap().0;
                        sheets.iter().any(|sheet| sheet.contains(number.as_str()))
                    })
                    .count();
                assert_eq!(shown, finds.len(), "{size:?} {paper:?}");
                assert!(render::pages(&sheets[..1], "Labels").is_ok());
            }
        }
    }

    #[test]
    fn missing_glyphs_are_listed() {
        let layout = Layout::default();
        let mut find = fixture::kept_find("AQ-1");
        let none = unprinted(std::slice::from_ref(&find), &layout);
        assert_eq!(none, Unprinted::default());
        // a code point that is not assigned, which no font has; and Khmer, which is not set
        find.record.place = Some("\u{378} by the creek".into());
        find.record.habitat = Some("\u{1796}\u{17d2}\u{179a}\u{17c3}".into());
        let found = unprinted(&[find], &layout);
        assert_eq!((found.without_a_font, found.scripts), (vec!['\u{378}'], vec!["Khmer"]));
        assert_eq!(found.numbers, ["AQ-1"]);
    }

    #[test]
    fn duplicates_are_beside_their_specimen_and_say_so() {
        let finds = [fixture::kept_find("AQ-1"), fixture::kept_find("AQ-2")];
        let layout = Layout::default();
        let print = Print {
            size: Size::Packet,
            paper: Paper::A4,
            layout: &layout,
            copies: 3,
            used: 0,
            note: "",
        };
        let sheets = print.sheets(&finds);
        assert_eq!((sheets.len(), print.labels_per_sheet()), (1, 6));
        let text = sheets.concat();
        assert_eq!(text.matches("duplicate 1 of 2").count(), 2);
        assert_eq!(text.matches("duplicate 2 of 2").count(), 2);
        assert!(text.rfind("AQ-1<") < text.find("AQ-2<"));
    }

    #[test]
    fn number_used_twice_by_one_collector_is_listed() {
        let mut finds: Vec<KeptFind> =
            ["AQ-7", "aq-07", "AQ-8", "AQ-7"].iter().map(|n| fixture::kept_find(n)).collect();
        finds[3].record.collector = Some("Somebody Else".into());
        let repeated = repeated_numbers(&finds);
        assert_eq!(repeated.len(), 1);
        assert_eq!(repeated[0].len(), 2);
    }
}
