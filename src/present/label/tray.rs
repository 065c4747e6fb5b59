//! Draws the small labels for the drying tray and for the box. Layer: `present`.

use super::{Cut, code, content};
use crate::model::KeptFind;
use crate::present::fonts::{self, Face};
use crate::present::markup::Elements;
use crate::present::paragraph::Paragraph;
use crate::present::style;
use crate::present::svg::{self, Letters, Point};

const MARGIN: f64 = 7.0;

/// Number, name, substrate and host, collector and date, with the code.
pub(super) fn label(find: &KeptFind, (wide, high): (f64, f64)) -> Cut {
    let code = 46.0;
    let mut drawn = number(find, wide - 2.0 * MARGIN, 15.0);
    let record = &find.record;
    let grown = [record.substrate.as_deref(), record.host.as_deref(), record.place.as_deref()];
    let grown: Vec<&str> = grown.into_iter().flatten().collect();
    let narrow = wide - 2.0 * MARGIN - code;
    let collected = format!(
        "{}, {}",
        content::date(find),
        content::collector(find).unwrap_or("collector unknown")
    );
    let all = [
        (content::name(find), wide - 2.0 * MARGIN),
        (Paragraph::plain(&collected), narrow),
        (Paragraph::plain(&grown.join(", ")), narrow),
        (Paragraph::captioned("smell", field(find, &crate::model::Field::Smell)), narrow),
    ];
    let (size, paragraphs) = fitted(&all, high - 2.0 * MARGIN - 16.0);
    let mut foot = MARGIN + 18.0 + size;
    for (text, widest) in paragraphs {
        for line in text.lines(size, *widest) {
            drawn.push(line.draw(Point::new(MARGIN, foot), size));
            foot += 1.25 * size;
        }
    }
    let corner = Point::new(wide - MARGIN - code + 3.0, high - MARGIN - code + 3.0);
    drawn.extend(code::draw(find.id, corner, code));
    Cut { drawn }
}

/// The largest size at which the paragraphs fit; the last ones are omitted where even the smallest is too
/// large: the packet label has them.
fn fitted(all: &[(Paragraph, f64)], room: f64) -> (f64, &[(Paragraph, f64)]) {
    for count in (1..=all.len()).rev() {
        for size in [8.0, 7.5, 7.0, 6.5, 6.0, 5.5] {
            let lines: usize =
                all[..count].iter().map(|(text, widest)| text.lines(size, *widest).len()).sum();
            if lines as f64 * 1.25 * size <= room {
                return (size, &all[..count]);
            }
        }
    }
    (4.0, &all[..1])
}

fn field<'a>(find: &'a KeptFind, key: &crate::model::Field) -> &'a str {
    find.record.fields.get(key).map_or("", String::as_str)
}

/// Number and date, with the code.
pub(super) fn tag(find: &KeptFind, (wide, high): (f64, f64)) -> Cut {
    let code = high - 4.0;
    let room = wide - MARGIN - code - 4.0;
    let mut drawn = number(find, room, 15.0);
    let small = Letters::new(7.0);
    drawn.push(svg::text(Point::new(MARGIN, MARGIN + 26.0), &content::date(find), small));
    let collector = content::collector(find).unwrap_or_default();
    let wide_enough = fonts::width(collector, Face::Regular, 7.0);
    let size = if wide_enough > room { 7.0 * room / wide_enough } else { 7.0 };
    let soft = Letters::new(size).colour(style::SOFT_INK);
    drawn.push(svg::text(Point::new(MARGIN, MARGIN + 36.0), collector, soft));
    drawn.extend(code::draw(find.id, Point::new(wide - code - 2.0, 2.0), code));
    Cut { drawn }
}

/// The number as large as fits.
fn number(find: &KeptFind, room: f64, largest: f64) -> Elements {
    let words = content::number(find);
    let wide = fonts::width(&words, Face::Bold, largest);
    let size = if wide > room { largest * room / wide } else { largest };
    let bold = Letters::new(size).face(Face::Bold);
    let mut drawn = Elements::default();
    drawn.push(svg::text(Point::new(MARGIN, MARGIN + 12.0), &words, bold));
    drawn
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;
    use crate::present::label::Size;

    #[test]
    fn tray_label_omits_paragraphs_that_do_not_fit() {
        let mut find = fixture::kept_find("AQ-0041");
        let drawn = |find: &KeptFind| label(find, Size::Tray.points()).drawn.to_string();
        assert!(drawn(&find).contains("of radish"));
        find.record.substrate = Some("very long words about the wood ".repeat(30));
        let long = drawn(&find);
        assert!(!long.contains("very long words") && !long.contains("of radish"));
        assert!(long.contains("interrupta") && long.contains("2 May 2026"));
    }
}
