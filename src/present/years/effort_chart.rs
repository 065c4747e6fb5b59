//! Draws search effort as bars: time out and, within it, time searched. Layer: `present`.

use super::effort::EffortLine;
use crate::error::{Error, Result};
use crate::present::chart::{self, Axis, Panel, WIDE};
use crate::present::fonts::{self, Face};
use crate::present::markup::Elements;
use crate::present::style::{self, line, size};
use crate::present::svg::{self, Frame, Letters, Point, Stroke};

/// The height of one row, and the least at which its words stay apart.
const ROW: f64 = 15.0;
const LEAST_ROW: f64 = 9.0;
/// The height of all rows on a page of A4.
const ROWS: f64 = 257.0 * svg::POINTS_PER_MILLIMETRE - 90.0;
/// The room for the numbers beside the bars.
const NUMBERS: f64 = 74.0;
/// The widest heading of a row before it is cut.
const HEADING: f64 = 150.0;

/// An SVG with a bar for each line: time out and time searched.
///
/// # Errors
/// When there is no line to draw.
pub fn figure(heading: &str, lines: &[EffortLine]) -> Result<String> {
    if lines.is_empty() {
        return Err(Error::input("there is no effort to draw")
            .because("no outing in the store has a track")
            .hint("import a day with a GPX track first"));
    }
    let row = ROW.min(ROWS / lines.len() as f64).max(LEAST_ROW);
    let longest = lines.iter().map(|line| hours(line.time_s)).fold(0.1, f64::max);
    let heading_of =
        |line: &EffortLine| fonts::shortened(&line.of, Face::Regular, size::SMALL, HEADING);
    let up = Axis::categories(lines.iter().map(heading_of));
    let left = 20.0 + up.longest().max(24.0);
    let words = sentence(lines);
    let mut drawn = Elements::default();
    let foot = chart::head(14.0, &title(heading), &words, &mut drawn);
    drawn.push(key(foot + 5.0));
    let panel = Panel {
        frame: Frame::new(left, foot + 15.0, WIDE - left - NUMBERS, row * lines.len() as f64),
        across: Axis::new(0.0, 1.04 * longest, 6, "hours"),
        up,
    };
    drawn.push(panel.axes());
    drawn.push(bars(lines, &panel));
    Ok(chart::page(panel.frame.bottom() + 28.0, "Effort", &words, &drawn))
}

fn hours(seconds: f64) -> f64 {
    seconds / 3_600.0
}

fn title(heading: &str) -> String {
    match heading {
        "month" | "year" => format!("Hours out and hours searched by {heading}"),
        _ => "Hours out and hours searched".to_owned(),
    }
}

fn sentence(lines: &[EffortLine]) -> String {
    let out: f64 = lines.iter().map(|line| hours(line.time_s)).sum();
    let searched: f64 = lines.iter().map(|line| hours(line.searched_s)).sum();
    format!("{searched:.1} weighted hours of search in {out:.1} h out")
}

fn key(y: f64) -> Elements {
    let mut drawn = Elements::default();
    let letters = Letters::new(size::SMALL);
    let edge = Stroke::new(style::SOFT_INK, line::HAIR);
    for (x, words, searched) in
        [(14.0, "hours out", false), (76.0, "weighted search, with the area in hectares", true)]
    {
        let (high, colour) = if searched { (4.0, style::SEARCH) } else { (8.0, style::FAINT) };
        let bar = Frame::new(x, y - high / 2.0, 14.0, high);
        drawn.push(svg::rectangle(bar).filled(colour).stroked(edge));
        drawn.push(svg::text(Point::new(x + 18.0, y + 2.4), words, letters));
    }
    drawn
}

/// The first line is at the top.
fn bars(lines: &[EffortLine], panel: &Panel) -> Elements {
    let mut drawn = Elements::default();
    let edge = Stroke::new(style::SOFT_INK, line::HAIR);
    let left = panel.frame.corner.x;
    let thin = panel.frame.high / (ROW * lines.len() as f64);
    for (place, line) in lines.iter().enumerate() {
        let y = panel.row(place);
        let letters = Letters::new(size::SMALL);
        for (seconds, high, colour) in
            [(line.time_s, 10.0 * thin, style::FAINT), (line.searched_s, 5.0 * thin, style::SEARCH)]
        {
            let wide = panel.at(hours(seconds), 0.0).x - left;
            let bar = Frame::new(left, y - high / 2.0, wide.max(0.0), high);
            drawn.push(svg::rectangle(bar).filled(colour).stroked(edge));
        }
        let result = format!("{:.1} h, {:.2} ha", hours(line.searched_s), line.searched_ha);
        let at = Point::new(panel.frame.right() + 5.0, y + 2.4);
        drawn.push(svg::text(at, &result, letters.colour(style::SOFT_INK)));
    }
    drawn
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(of: &str, hours: f64) -> EffortLine {
        EffortLine {
            of: of.to_owned(),
            outings: 1,
            time_s: hours * 3600.0,
            searched_s: hours * 1800.0,
            at_finds_s: 0.0,
            rests_s: 0.0,
            on_paths_s: 0.0,
            length_m: 900.0,
            searched_length_m: 300.0,
            searched_ha: 0.3,
        }
    }

    #[test]
    fn bars_have_headings_figures_and_a_sentence() {
        let svg = figure("week of", &[line("2026-04-13", 2.0), line("2026-04-27", 3.0)]).unwrap();
        assert!(svg.contains("2026-04-13") && svg.contains("2026-04-27"), "{svg}");
        assert!(svg.contains("2.5 weighted hours of search in 5.0 h out"), "{svg}");
        assert!(svg.contains("1.5 h, 0.30 ha"), "{svg}");
        let months = figure("month", &[line("2026-04", 2.0)]).unwrap();
        assert!(months.contains("hours searched by month"), "{months}");
        assert!(crate::present::render::png(&svg, 96.0).is_ok());
    }

    #[test]
    fn long_headings_are_cut_and_nothing_is_not_a_number() {
        let long = figure("site", &[line(&"Hollow ".repeat(40), 0.0)]).unwrap();
        assert!(long.contains('\u{2026}') && !long.contains("NaN"), "{long}");
    }

    #[test]
    fn many_rows_fit_a_page() {
        let lines: Vec<EffortLine> = (0..70).map(|n| line(&format!("week {n}"), 2.0)).collect();
        let drawn = figure("week of", &lines).unwrap();
        let (_, rest) = drawn.split_once(" height=\"").unwrap();
        let high: f64 = rest[..rest.find("mm").unwrap()].parse().unwrap();
        assert!(high <= 257.0, "{high}");
    }

    #[test]
    fn empty_effort_is_an_error() {
        assert!(figure("week of", &[]).is_err());
    }
}
