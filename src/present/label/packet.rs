//! Draws the packet label: everything about one find, with the code of its record. Layer: `present`.

use super::content::Entry;
use super::{Cut, code, content};
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

/// The label of a find, in as many parts as its text needs.
pub(super) fn cuts(find: &KeptFind, (wide, high): (f64, f64)) -> Vec<Cut> {
    let (size, pages) = fitted(find, wide, high);
    let count = pages.len();
    pages
        .into_iter()
        .enumerate()
        .map(|(page, lines)| {
            let mut drawn = head(find, wide, (page, count));
            let mut foot = first_foot(find, wide, page, size);
            for row in lines {
                drawn.push(row.draw(foot, size));
                foot += leading(size);
            }
            drawn.push(tail(find, wide, high));
            Cut { drawn }
        })
        .collect()
}

fn leading(size: f64) -> f64 {
    1.28 * size
}

/// The largest size at which all lines fit on one label, else the smallest and several labels.
fn fitted(find: &KeptFind, wide: f64, high: f64) -> (f64, Vec<Vec<Row>>) {
    let mut smallest = Vec::new();
    for size in SIZES {
        smallest = split(find, size, wide, high);
        if smallest.len() <= 1 {
            return (size, smallest);
        }
    }
    (SIZES[SIZES.len() - 1], smallest)
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
            let soft = Letters::new(size - 0.6).colour(style::SOFT_INK);
            drawn.push(svg::text(Point::new(MARGIN, foot), caption, soft));
        }
        drawn.push(self.line.draw(Point::new(self.left, foot), size));
        drawn
    }
}

/// The rows of an entry, none wider than `widest`. Captions have a column of their own; one that is too
/// long for it is put into the text.
fn rows(entry: &Entry, size: f64, widest: f64) -> Vec<Row> {
    let column = 5.9 * size;
    let fits = fonts::width(&entry.caption, Face::Regular, size) <= column;
    let (words, left) = if fits {
        (entry.words.clone(), MARGIN + column)
    } else {
        let caption = Paragraph::default().then(&entry.caption, Face::Regular, style::SOFT_INK);
        (caption.then(&entry.words.text(), Face::Regular, style::INK), MARGIN)
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

/// Rows by page. Rows beside the code are shorter.
fn split(find: &KeptFind, size: f64, wide: f64, high: f64) -> Vec<Vec<Row>> {
    let mut pages: Vec<Vec<Row>> = vec![Vec::new()];
    let mut foot = first_foot(find, wide, 0, size);
    let last = high - MARGIN - 9.5;
    let beside_code = high - MARGIN - CODE + 3.0;
    for entry in content::entries(find) {
        let full = wide - 2.0 * MARGIN;
        let mut rest = rows(&entry, size, full);
        // the whole entry is set narrow if any of its lines would reach the code
        if foot + leading(size) * (rest.len() as f64 - 1.0) > beside_code {
            rest = rows(&entry, size, full - CODE - 4.0);
        }
        for row in rest {
            if foot > last {
                pages.push(Vec::new());
                foot = first_foot(find, wide, 1, size);
            }
            let page = pages.len() - 1;
            pages[page].push(row);
            foot += leading(size);
        }
    }
    pages
}

/// The baseline of the first line of text, below the name.
fn first_foot(find: &KeptFind, wide: f64, page: usize, size: f64) -> f64 {
    let name = name_lines(find, wide, page).len();
    MARGIN + 17.0 + 13.5 * name as f64 + 4.0 + size
}

fn name_lines(find: &KeptFind, wide: f64, page: usize) -> Vec<Line> {
    let name = if page == 0 { content::name(find) } else { Paragraph::plain("continued") };
    name.lines(size::TITLE - 2.0, wide - 2.0 * MARGIN)
}

/// Number and name, with a rule below.
fn head(find: &KeptFind, wide: f64, (page, count): (usize, usize)) -> Elements {
    let mut drawn = Elements::default();
    let number = content::number(find);
    let room = wide - 2.0 * MARGIN - 80.0;
    let widest = fonts::width(&number, Face::Bold, 14.0);
    let size = (14.0 * room / widest).min(14.0);
    let bold = Letters::new(size).face(Face::Bold);
    drawn.push(svg::text(Point::new(MARGIN, MARGIN + 11.0), &number, bold));
    let right = Letters::new(8.0).anchor(Anchor::End);
    let mut words = content::date(find);
    if count > 1 {
        words = format!("{} of {count}", page + 1);
    }
    drawn.push(svg::text(Point::new(wide - MARGIN, MARGIN + 11.0), &words, right));
    let rule = MARGIN + 16.0;
    let fine = Stroke::new(style::INK, line::FINE);
    drawn.push(svg::line(Point::new(MARGIN, rule), Point::new(wide - MARGIN, rule), fine));
    for (place, line) in name_lines(find, wide, page).iter().enumerate() {
        let foot = MARGIN + 28.0 + 13.5 * place as f64;
        drawn.push(line.draw(Point::new(MARGIN, foot), size::TITLE - 2.0));
    }
    drawn
}

/// Code and provenance.
fn tail(find: &KeptFind, wide: f64, high: f64) -> Elements {
    let mut drawn = Elements::default();
    let corner = Point::new(wide - MARGIN - CODE + 3.0, high - MARGIN - CODE + 3.0);
    drawn.extend(code::draw(find.id, corner, CODE));
    let soft = Letters::new(5.7).colour(style::SOFT_INK);
    drawn.push(svg::text(Point::new(MARGIN, high - MARGIN), &content::provenance(find), soft));
    drawn
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;
    use crate::present::label::Size;

    fn words(cuts: &[Cut]) -> String {
        cuts.iter().map(|cut| cut.drawn.to_string()).collect()
    }

    #[test]
    fn ordinary_find_fits_one_label() {
        let find = fixture::kept_find("AQ-0041");
        let (size, pages) = fitted(&find, Size::Packet.points().0, Size::Packet.points().1);
        assert_eq!(pages.len(), 1);
        assert!(size >= 7.0, "{size}");
    }

    #[test]
    fn long_note_continues_on_a_second_label() {
        let mut find = fixture::kept_find("AQ-0041");
        let note: Vec<String> = (0..400).map(|word| format!("word{word}")).collect();
        find.record.fields.insert(crate::model::Field::Notes, note.join(" "));
        let cuts = cuts(&find, Size::Packet.points());
        assert!(cuts.len() > 1);
        let drawn = words(&cuts);
        for word in &note {
            assert!(drawn.contains(word.as_str()), "{word}");
        }
        assert!(drawn.contains("2 of"));
    }

    #[test]
    fn lines_stay_above_the_lower_margin() {
        let find = fixture::kept_find("AQ-0041");
        let (wide, high) = Size::Packet.points();
        for size in SIZES {
            for rows in split(&find, size, wide, high) {
                let foot =
                    first_foot(&find, wide, 0, size) + leading(size) * (rows.len() as f64 - 1.0);
                assert!(foot <= high - MARGIN - 8.0, "{size}: {foot}");
                assert!(rows.iter().all(|row| row.left + row.line.wide() <= wide - MARGIN));
            }
        }
    }
}
