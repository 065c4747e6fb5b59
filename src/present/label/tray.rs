//! Draws the small labels for the drying tray and for the box. Layer: `present`.

use super::content::{Entry, Sheet};
use super::layout::{Content, Layout};
use super::{Cut, bars, code, content, placing};
use crate::model::KeptFind;
use crate::present::fonts::{self, Face};
use crate::present::markup::Elements;
use crate::present::paragraph::{Line, Paragraph};
use crate::present::style;
use crate::present::svg::{self, Letters, Point};

const MARGIN: f64 = 7.0;

/// The smallest type, points.
const SMALLEST: f64 = 6.0;

/// The side of the code on a tray label, points.
const CODE: f64 = 46.0;

/// The number and what the layout states, without one name, date, collector, substrate, host and smell; with the
/// code. A name too long for one label continues on another.
pub(super) fn labels(find: &KeptFind, layout: &Layout, (wide, high): (f64, f64)) -> Vec<Cut> {
    let full = wide - 2.0 * MARGIN;
    let narrow = if layout.code.square() { full - CODE } else { full };
    let foot = Point::new(MARGIN, high - MARGIN - bars::HEIGHT + 2.0);
    let bars = content::bar_words(find)
        .filter(|_| layout.code.bars())
        .and_then(|words| bars::draw(&words, foot, narrow));
    let all = paragraphs(find, layout, full, narrow);
    let (head, last) = number(find, layout, full, 15.0);
    let moved = (last - MARGIN - 12.0).max(0.0);
    let room = high - 2.0 * MARGIN - 16.0 - moved - if bars.is_some() { bars::HEIGHT } else { 0.0 };
    let (size, paragraphs) = fitted(&all, room);
    let lines: Vec<Line> =
        paragraphs.iter().flat_map(|(text, widest)| text.lines(size, *widest)).collect();
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "between 1 and some tens"
    )]
    let each = (room / (1.25 * size)).floor().max(1.0) as usize;
    lines
        .chunks(each)
        .map(|lines| {
            let mut drawn = head.clone();
            for (place, line) in lines.iter().enumerate() {
                let foot = MARGIN + 18.0 + moved + size + 1.25 * size * place as f64;
                drawn.push(line.draw(Point::new(MARGIN, foot), size));
            }
            if layout.code.square() {
                let corner = Point::new(wide - MARGIN - CODE + 3.0, high - MARGIN - CODE + 3.0);
                drawn.extend(code::draw(find.id, corner, CODE));
            }
            drawn.extend(bars.clone());
            Cut { drawn }
        })
        .collect()
}

/// The name, then the heading and the lines of a layout of the user's own, or those of a tray; each with the width
/// that it may take.
fn paragraphs(find: &KeptFind, layout: &Layout, full: f64, narrow: f64) -> Vec<(Paragraph, f64)> {
    let mut all = vec![(content::name(find, layout), full)];
    if !layout.heading.is_empty() {
        all.push((Paragraph::plain(&layout.heading.join(", ")), narrow));
    }
    if layout.lines != Content::ALL {
        let entries = content::entries(find, layout, Sheet::Specimen).into_iter();
        let one = |entry: Entry| {
            let caption = Paragraph::default();
            caption.then(&entry.caption, Face::Regular, style::SOFT_INK).and(&entry.words)
        };
        all.extend(entries.map(|entry| (one(entry), narrow)));
        return all;
    }
    let collector = content::bound_collector(find).unwrap_or_default();
    let collected = [content::date(find, layout), collector].join(", ");
    let record = &find.record;
    let grown = [record.substrate.as_deref(), record.host.as_deref(), record.place.as_deref()];
    let grown: Vec<&str> = grown.into_iter().flatten().collect();
    all.push((Paragraph::plain(collected.trim_end_matches(", ")), narrow));
    all.push((Paragraph::plain(&grown.join(", ")), narrow));
    all.extend(placing::smell(&find.record, layout.language).map(|smell| (smell, narrow)));
    all
}

/// The largest size at which the paragraphs fit; the last ones are omitted where even the smallest is too
/// large: the packet label has them. The name is never omitted; alone and too long, it is set narrow
/// enough to pass the code.
fn fitted(all: &[(Paragraph, f64)], room: f64) -> (f64, Vec<(Paragraph, f64)>) {
    for count in (1..=all.len()).rev() {
        for size in [8.0, 7.5, 7.0, 6.5, SMALLEST] {
            let lines: usize =
                all[..count].iter().map(|(text, widest)| text.lines(size, *widest).len()).sum();
            if lines as f64 * 1.25 * size <= room {
                return (size, all[..count].to_vec());
            }
        }
    }
    let narrow = all.iter().map(|(_, widest)| *widest).fold(f64::INFINITY, f64::min);
    (SMALLEST, all.iter().take(1).map(|(name, _)| (name.clone(), narrow)).collect())
}

/// Number, date and collector, with the code. What does not fit beside it in two lines is omitted.
pub(super) fn tag(find: &KeptFind, layout: &Layout, (wide, high): (f64, f64)) -> Cut {
    let code = if layout.code.square() { high - 4.0 } else { 0.0 };
    let room = wide - MARGIN - code - 4.0;
    let (mut drawn, last) = number(find, layout, room, 15.0);
    let lowest = high - 4.0;
    let mut foot = (last + 9.0).max(MARGIN + 25.0);
    let date = Paragraph::plain(&content::date(find, layout));
    let collector = content::bound_collector(find).unwrap_or_default();
    let collector = Paragraph::default().then(&collector, Face::Regular, style::SOFT_INK);
    for (words, size) in [(date, 7.0), (collector, SMALLEST)] {
        let lines = words.lines(size, room);
        let step = size + 1.5;
        if lines.len() > 2 || foot + step * (lines.len() as f64 - 1.0) > lowest {
            continue;
        }
        for line in &lines {
            drawn.push(line.draw(Point::new(MARGIN, foot), size));
            foot += step;
        }
    }
    if layout.code.square() {
        drawn.extend(code::draw(find.id, Point::new(wide - code - 2.0, 2.0), code));
    }
    Cut { drawn }
}

/// The number as large as fits, a very long one in several lines at the smallest size; and the baseline of the
/// last one.
fn number(find: &KeptFind, layout: &Layout, room: f64, largest: f64) -> (Elements, f64) {
    let words = content::number(find, layout);
    let natural = fonts::width(&words, Face::Bold, largest);
    let size = (largest * room / natural).min(largest);
    let mut drawn = Elements::default();
    if size >= SMALLEST {
        let bold = Letters::new(size).face(Face::Bold);
        drawn.push(svg::text(Point::new(MARGIN, MARGIN + 12.0), &words, bold));
        return (drawn, MARGIN + 12.0);
    }
    let lines = Paragraph::default().then(&words, Face::Bold, style::INK).lines(SMALLEST, room);
    let foot = |place: usize| MARGIN + 5.0 + 7.0 * place as f64;
    for (place, line) in lines.iter().enumerate() {
        drawn.push(line.draw(Point::new(MARGIN, foot(place)), SMALLEST));
    }
    (drawn, foot(lines.len().saturating_sub(1)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fixture;
    use crate::present::label::Size;

    fn drawn(find: &KeptFind) -> Vec<String> {
        let cuts = labels(find, &Layout::default(), Size::Tray.points());
        cuts.iter().map(|cut| cut.drawn.to_string()).collect()
    }

    #[test]
    fn tray_label_omits_paragraphs_that_do_not_fit() {
        let mut find = fixture::kept_find("AQ-0041");
        assert!(drawn(&find)[0].contains("of radish"));
        let mut odourless = find.clone();
        odourless.record.fields.remove(&crate::model::Field::Smell);
        assert!(!drawn(&odourless)[0].contains("smell"), "no caption without a text");
        find.record.substrate = Some("very long words about the wood ".repeat(30));
        let long = drawn(&find).concat();
        assert!(!long.contains("very long words") && !long.contains("of radish"));
        assert!(long.contains("interrupta") && long.contains("2 May 2026"));
    }

    #[test]
    fn a_layout_of_the_user_decides_lines_and_code() {
        let find = fixture::kept_find("AQ-0041");
        let of = |toml: &str| {
            let layout = Layout::from_toml(toml).unwrap();
            let cuts = labels(&find, &layout, Size::Tray.points());
            cuts.iter().map(|cut| cut.drawn.to_string()).collect::<String>()
        };
        let own = of("heading = ['Nordquell']\nlines = ['host']\ncode = 'none'\nlanguage = 'de'");
        assert!(own.contains("Nordquell") && own.contains("Wirt"), "{own}");
        assert!(!own.contains("of radish") && !own.contains("URN:UUID"), "{own}");
        let bars = of("code = 'code-128'");
        assert!(bars.contains("of radish") && bars.matches("AQ-0041").count() == 2, "{bars}");
    }

    #[test]
    fn no_line_of_a_tag_reaches_the_code() {
        let mut find = fixture::kept_find("AQ-0041");
        find.date = jiff::civil::date(2026, 9, 12);
        for language in ["en", "de", "fr", "es", "la"] {
            let layout = Layout::from_toml(&format!("language = '{language}'")).unwrap();
            let (wide, high) = Size::Tag.points();
            let room = wide - MARGIN - (high - 4.0) - 4.0;
            let date = content::date(&find, &layout);
            let lines = Paragraph::plain(&date).lines(7.0, room);
            assert!(lines.iter().all(|line| line.wide() <= room), "{language}");
            let drawn = tag(&find, &layout, (wide, high)).drawn.to_string();
            let words: Vec<&str> = date.split(' ').collect();
            assert!(words.iter().all(|word| drawn.contains(word)), "{language}: {drawn}");
            let is_whole = drawn.contains(&format!(">{date}<"));
            assert_eq!(is_whole, lines.len() == 1, "{language}");
        }
    }

    #[test]
    fn date_stands_below_a_number_of_several_lines() {
        let number = "DONAUDAMPFSCHIFFFAHRTSGESELLSCHAFTSKAPITÄN-00000000000000000042";
        let find = fixture::kept_find(number);
        let (_, last) = super::number(&find, &Layout::default(), 60.0, 15.0);
        assert!(last > MARGIN + 25.0);
        let drawn = tag(&find, &Layout::default(), Size::Tag.points()).drawn.to_string();
        let feet: Vec<f64> = drawn
            .split(" y=\"")
            .skip(1)
            .filter_map(|rest| rest.split('"').next()?.parse().ok())
            .collect();
        assert!(feet.contains(&(last + 9.0)), "{feet:?} {last}");
    }

    #[test]
    fn no_text_is_smaller_than_six_points_or_cut() {
        let mut find = fixture::kept_find("AQ-0041");
        let name: Vec<String> = (0..200).map(|word| format!("epithet{word}")).collect();
        find.record.name = Some(format!("Mycena {}", name.join(" ")));
        let long = drawn(&find);
        assert!(long.len() > 1);
        let all = long.concat();
        assert!(name.iter().all(|word| all.contains(word.as_str())));
    }
}
