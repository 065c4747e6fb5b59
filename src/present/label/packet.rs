//! Draws the packet label: everything about one find, with the code of its record. Layer: `present`.

use super::content::{Entry, Sheet};
use super::layout::Layout;
use super::{Cut, bars, code, content};
use crate::model::KeptFind;
use crate::present::fonts::{self, Face};
use crate::present::markup::Elements;
use crate::present::paragraph::{Line, Paragraph};
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Anchor, Letters, Point, Stroke};

/// Distance from the cut to the text, points.
const MARGIN: f64 = 9.0;
/// The side of the code, points.
const CODE: f64 = 52.0;
/// Font sizes to try, largest first. At the last one the text continues on another label.
const SIZES: [f64; 6] = [9.0, 8.5, 8.0, 7.5, 7.0, 6.5];
/// The smallest type, points.
const SMALLEST: f64 = 6.0;
/// Height of a line of the heading, points.
const HEADING: f64 = 10.0;

/// One label of a find: where it goes and what it looks like.
#[derive(Clone, Copy)]
pub(super) struct Packet<'a> {
    pub(super) find: &'a KeptFind,
    pub(super) layout: &'a Layout,
    /// The duplicate's number and the count of duplicates; `None` for the specimen's own label.
    pub(super) duplicate: Option<(u32, u32)>,
    pub(super) size: (f64, f64),
}

impl Packet<'_> {
    /// The label in as many parts as its text needs.
    pub(super) fn cuts(self) -> Vec<Cut> {
        let (size, pages) = self.fitted();
        let count = pages.len();
        pages
            .into_iter()
            .enumerate()
            .map(|(page, lines)| {
                let mut drawn = self.head(page, count);
                let mut foot = self.first_foot(page, size);
                for row in lines {
                    drawn.push(row.draw(foot, size));
                    foot += leading(size);
                }
                drawn.push(self.tail());
                Cut { drawn }
            })
            .collect()
    }

    /// The largest size at which all lines fit on one label, else the smallest and several labels.
    fn fitted(&self) -> (f64, Vec<Vec<Row>>) {
        let mut smallest = Vec::new();
        for size in SIZES {
            smallest = self.split(size);
            if smallest.len() <= 1 {
                return (size, smallest);
            }
        }
        (SIZES[SIZES.len() - 1], smallest)
    }

    /// Rows by page. Rows beside the code are shorter.
    fn split(&self, size: f64) -> Vec<Vec<Row>> {
        let (wide, high) = self.size;
        let mut pages: Vec<Vec<Row>> = vec![Vec::new()];
        let mut foot = self.first_foot(0, size);
        let last = high - MARGIN - 2.0 - self.tail_height();
        let beside_code = high - MARGIN - CODE + 3.0;
        let code = if self.layout.code.square() { CODE + 4.0 } else { 0.0 };
        let sheet = if self.duplicate.is_some() { Sheet::Duplicate } else { Sheet::Specimen };
        let entries = content::entries(self.find, self.layout, sheet);
        let column = column(&entries, size);
        for entry in entries {
            let full = wide - 2.0 * MARGIN;
            let mut rest = rows(&entry, (size, column), full);
            // the whole entry is set narrow if any of its lines would reach the code
            if foot + leading(size) * (rest.len() as f64 - 1.0) > beside_code {
                rest = rows(&entry, (size, column), full - code);
            }
            for row in rest {
                if foot > last {
                    pages.push(Vec::new());
                    foot = self.first_foot(1, size);
                }
                let page = pages.len() - 1;
                pages[page].push(row);
                foot += leading(size);
            }
        }
        pages
    }

    /// The baseline of the first line of text, below the name.
    fn first_foot(&self, page: usize, size: f64) -> f64 {
        let name = self.name_lines(page).len();
        self.top() + self.moved() + 17.0 + 13.5 * name as f64 + 4.0 + size
    }

    /// The number's size, the lines of one that is too long for a line, and the room of either.
    fn number(&self) -> (f64, Vec<Line>) {
        let number = content::number(self.find, self.layout);
        let room = self.size.0 - 2.0 * MARGIN - 80.0;
        let size = 14.0 * room / fonts::width(&number, Face::Bold, 14.0);
        if size >= SMALLEST {
            return (size.min(14.0), Vec::new());
        }
        let paragraph = Paragraph::default().then(&number, Face::Bold, style::INK);
        (SMALLEST, paragraph.lines(SMALLEST, room))
    }

    /// How far a number of several lines moves what is below it.
    fn moved(&self) -> f64 {
        (7.0 * self.number().1.len() as f64 - 13.0).max(0.0)
    }

    /// Where the number begins, below the heading.
    fn top(&self) -> f64 {
        MARGIN + HEADING * self.heading_lines().len() as f64
    }

    fn heading_lines(&self) -> Vec<Line> {
        let room = self.size.0 - 2.0 * MARGIN;
        let lines =
            self.layout.heading.iter().map(|words| {
                Paragraph::default().then(words, Face::Bold, style::INK).lines(8.0, room)
            });
        // a heading never takes more than half of the label
        lines.flatten().take(8).collect()
    }

    fn name_lines(&self, page: usize) -> Vec<Line> {
        let name = if page == 0 {
            content::name(self.find, self.layout)
        } else {
            Paragraph::plain(self.layout.language.phrases().continued)
        };
        name.lines(size::TITLE - 2.0, self.size.0 - 2.0 * MARGIN)
    }

    /// Heading, number and name, with a rule below the number.
    fn head(&self, page: usize, count: usize) -> Elements {
        let wide = self.size.0;
        let top = self.top();
        let mut drawn = Elements::default();
        for (place, line) in self.heading_lines().iter().enumerate() {
            let left = (wide - line.wide()) / 2.0;
            let foot = MARGIN + HEADING * place as f64 + 5.0;
            drawn.push(line.draw(Point::new(left, foot), 8.0));
        }
        let (size, lines) = self.number();
        if lines.is_empty() {
            let number = content::number(self.find, self.layout);
            let bold = Letters::new(size).face(Face::Bold);
            drawn.push(svg::text(Point::new(MARGIN, top + 11.0), &number, bold));
        }
        for (place, line) in lines.iter().enumerate() {
            let foot = top + 5.0 + 7.0 * place as f64;
            drawn.push(line.draw(Point::new(MARGIN, foot), size));
        }
        let right = Letters::new(8.0).anchor(Anchor::End);
        let words = self.corner_words(page, count);
        drawn.push(svg::text(Point::new(wide - MARGIN, top + 11.0), &words, right));
        let top = top + self.moved();
        let rule = top + 16.0;
        let fine = Stroke::new(style::INK, line::FINE);
        drawn.push(svg::line(Point::new(MARGIN, rule), Point::new(wide - MARGIN, rule), fine));
        for (place, line) in self.name_lines(page).iter().enumerate() {
            let foot = top + 28.0 + 13.5 * place as f64;
            drawn.push(line.draw(Point::new(MARGIN, foot), size::TITLE - 2.0));
        }
        drawn
    }

    /// Which duplicate, and which part of a label in several parts.
    fn corner_words(&self, page: usize, count: usize) -> String {
        let phrases = self.layout.language.phrases();
        let duplicate = self.duplicate.map(|(number, count)| {
            format!("{} {number} {} {count}", phrases.duplicate, phrases.of)
        });
        let part = (count > 1).then(|| format!("{} {} {count}", page + 1, phrases.of));
        duplicate.into_iter().chain(part).collect::<Vec<_>>().join(", ")
    }

    /// What the bar code says.
    fn bar_words(&self) -> Option<String> {
        content::bar_words(self.find).filter(|_| self.layout.code.bars())
    }

    fn provenance(&self) -> Vec<Line> {
        let code = if self.layout.code.square() { CODE } else { 0.0 };
        let words = content::provenance(self.find);
        Paragraph::default()
            .then(&words, Face::Regular, style::SOFT_INK)
            .lines(SMALLEST, self.size.0 - 2.0 * MARGIN - code)
    }

    /// What provenance and bar code take at the foot.
    fn tail_height(&self) -> f64 {
        let bars = if self.bar_words().is_some() { bars::HEIGHT + 2.0 } else { 0.0 };
        7.5 * self.provenance().len() as f64 + bars
    }

    /// Codes and provenance.
    fn tail(&self) -> Elements {
        let (wide, high) = self.size;
        let mut drawn = Elements::default();
        if self.layout.code.square() {
            let corner = Point::new(wide - MARGIN - CODE + 3.0, high - MARGIN - CODE + 3.0);
            drawn.extend(code::draw(self.find.id, corner, CODE));
        }
        let lines = self.provenance();
        let first = high - MARGIN - 7.5 * (lines.len() as f64 - 1.0);
        for (place, line) in lines.iter().enumerate() {
            drawn.push(line.draw(Point::new(MARGIN, first + 7.5 * place as f64), SMALLEST));
        }
        if let Some(words) = self.bar_words() {
            let corner = Point::new(MARGIN, first - 7.5 - bars::HEIGHT + 1.0);
            let code = if self.layout.code.square() { CODE } else { 0.0 };
            drawn.extend(bars::draw(&words, corner, wide - 2.0 * MARGIN - code));
        }
        drawn
    }
}

fn leading(size: f64) -> f64 {
    1.28 * size
}

/// A line of the label with its caption.
struct Row {
    caption: Option<String>,
    left: f64,
    line: Line,
}

impl Row {
    fn draw(&self, foot: f64, size: f64) -> Elements {
        let mut drawn = Elements::default();
        if let Some(caption) = &self.caption {
            let soft = Letters::new((size - 0.6).max(SMALLEST)).colour(style::SOFT_INK);
            drawn.push(svg::text(Point::new(MARGIN, foot), caption, soft));
        }
        drawn.push(self.line.draw(Point::new(self.left, foot), size));
        drawn
    }
}

/// The width of the column of captions: as the widest of them that is not too long.
fn column(entries: &[Entry], size: f64) -> f64 {
    let room = |entry: &Entry| fonts::width(&entry.caption, Face::Regular, size) + 0.4 * size;
    let fitting = entries.iter().map(room).filter(|wide| *wide <= 7.6 * size);
    fitting.fold(5.9 * size, f64::max)
}

/// The rows of an entry, none wider than `widest`. Captions have a column of their own; one that is too
/// long for it is put into the text.
fn rows(entry: &Entry, (size, column): (f64, f64), widest: f64) -> Vec<Row> {
    let fits = fonts::width(&entry.caption, Face::Regular, size) <= column;
    let (words, left) = if fits {
        (entry.words.clone(), MARGIN + column)
    } else {
        let caption = Paragraph::default().then(&entry.caption, Face::Regular, style::SOFT_INK);
        (caption.and(&entry.words), MARGIN)
    };
    let widest = widest - (left - MARGIN);
    let lines = words.lines(size, widest).into_iter().enumerate();
    lines
        .map(|(place, line)| {
            let caption = (fits && place == 0).then(|| entry.caption.clone());
            Row { caption, left, line }
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;
    use crate::present::label::Size;

    fn packet<'a>(find: &'a KeptFind, layout: &'a Layout) -> Packet<'a> {
        Packet { find, layout, duplicate: None, size: Size::Packet.points() }
    }

    fn words(cuts: &[Cut]) -> String {
        cuts.iter().map(|cut| cut.drawn.to_string()).collect()
    }

    #[test]
    fn ordinary_find_fits_one_label() {
        let (find, layout) = (fixture::kept_find("AQ-0041"), Layout::default());
        let (size, pages) = packet(&find, &layout).fitted();
        assert_eq!(pages.len(), 1);
        assert!(size >= 7.0, "{size}");
    }

    #[test]
    fn long_note_continues_on_a_second_label() {
        let mut find = fixture::kept_find("AQ-0041");
        let note: Vec<String> = (0..400).map(|word| format!("word{word}")).collect();
        find.record.fields.insert(crate::model::Field::Notes, note.join(" "));
        let cuts = packet(&find, &Layout::default()).cuts();
        assert!(cuts.len() > 1);
        let drawn = words(&cuts);
        for word in &note {
            assert!(drawn.contains(word.as_str()), "{word}");
        }
        assert!(drawn.contains("2 of"));
    }

    #[test]
    fn date_is_printed_once() {
        let find = fixture::kept_find("AQ-0041");
        let drawn = words(&packet(&find, &Layout::default()).cuts());
        assert_eq!(drawn.matches("2 May 2026").count(), 1);
    }

    #[test]
    fn layout_decides_heading_order_and_language() {
        let find = fixture::kept_find("AQ-0041");
        let layout = Layout::from_toml(
            "heading = ['Fungarium Nordquell']\nlanguage = 'de'\nlines = ['collected', 'host']\ncode = 'both'",
        )
        .unwrap();
        let drawn = words(&packet(&find, &layout).cuts());
        assert!(drawn.contains("Fungarium Nordquell") && drawn.contains("2. Mai 2026"), "{drawn}");
        assert!(!drawn.contains("WGS 84"));
        assert!(drawn.find("gesammelt") < drawn.find("Wirt"));
        assert!(drawn.contains("URN:UUID"));
    }

    #[test]
    fn duplicates_of_a_holotype_are_isotypes() {
        let mut find = fixture::kept_find("AQ-0041");
        let typed = |text: &str| (crate::model::Field::Other("typeStatus".into()), text.into());
        find.record.fields.extend([typed("holotype of Mycena exempla")]);
        find.determinations.clear();
        let layout = Layout::default();
        let of = |duplicate| words(&Packet { duplicate, ..packet(&find, &layout) }.cuts());
        let (specimen, duplicate) = (of(None), of(Some((1, 2))));
        assert!(specimen.contains("holotype of") && !specimen.contains("isotype"), "{specimen}");
        assert!(duplicate.contains("isotype of") && !duplicate.contains("holotype"), "{duplicate}");
    }

    #[test]
    fn lines_stay_above_the_lower_margin() {
        let find = fixture::kept_find("AQ-0041");
        let (wide, high) = Size::Packet.points();
        for code in ["qr", "code-128", "both", "none"] {
            let layout =
                Layout::from_toml(&format!("code = '{code}'\nheading = ['A', 'B']")).unwrap();
            let packet = packet(&find, &layout);
            for size in SIZES {
                for rows in packet.split(size) {
                    let foot =
                        packet.first_foot(0, size) + leading(size) * (rows.len() as f64 - 1.0);
                    assert!(foot <= high - MARGIN - packet.tail_height(), "{size}: {foot}");
                    assert!(rows.iter().all(|row| row.left + row.line.wide() <= wide - MARGIN));
                }
            }
        }
    }
}
