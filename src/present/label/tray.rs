//! The small labels: for the drying tray and for the box. Layer: `present`.

use super::{Cut, code, content};
use crate::model::KeptFind;
use crate::present::fonts::{self, Face};
use crate::present::markup::Elements;
use crate::present::paragraph::Paragraph;
use crate::present::style;
use crate::present::svg::{self, Letters, Point};

const MARGIN: f64 = 7.0;

/// Number, name, what it grew on, collector and date, with the code.
pub(super) fn label(find: &KeptFind, (wide, high): (f64, f64)) -> Cut {
    let code = 46.0;
    let mut drawn = number(find, wide - 2.0 * MARGIN, 15.0);
    let record = &find.record;
    let grown = [record.substrate.as_deref(), record.host.as_deref(), record.place.as_deref()];
    let grown: Vec<&str> = grown.into_iter().flatten().collect();
    let paragraphs = [
        (content::name(find), wide - 2.0 * MARGIN),
        (Paragraph::plain(&grown.join(", ")), wide - 2.0 * MARGIN - code),
        (
            Paragraph::captioned("smell", field(find, &crate::model::Field::Smell)),
            wide - 2.0 * MARGIN - code,
        ),
        (
            Paragraph::plain(&format!(
                "{}, {}",
                content::date(find),
                content::collector(find).unwrap_or("collector not known")
            )),
            wide - 2.0 * MARGIN - code,
        ),
    ];
    let room = high - 2.0 * MARGIN - 16.0;
    let size = [8.0, 7.5, 7.0, 6.5, 6.0, 5.5, 5.0, 4.5, 4.0]
        .into_iter()
        .find(|size| {
            let lines: usize =
                paragraphs.iter().map(|(text, widest)| text.lines(*size, *widest).len()).sum();
            lines as f64 * 1.25 * size <= room
        })
        .unwrap_or(4.0);
    let mut foot = MARGIN + 18.0 + size;
    for (text, widest) in &paragraphs {
        for line in text.lines(size, *widest) {
            drawn.push(line.draw(Point::new(MARGIN, foot), size));
            foot += 1.25 * size;
        }
    }
    let corner = Point::new(wide - MARGIN - code + 3.0, high - MARGIN - code + 3.0);
    drawn.extend(code::draw(find.id, corner, code));
    Cut { drawn }
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

/// The number as large as its place allows.
fn number(find: &KeptFind, room: f64, largest: f64) -> Elements {
    let words = content::number(find);
    let wide = fonts::width(&words, Face::Bold, largest);
    let size = if wide > room { largest * room / wide } else { largest };
    let bold = Letters::new(size).face(Face::Bold);
    let mut drawn = Elements::default();
    drawn.push(svg::text(Point::new(MARGIN, MARGIN + 12.0), &words, bold));
    drawn
}
