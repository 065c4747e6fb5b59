//! Draws search effort as bars: time out and, within it, time searched. Uses `plotters` with the
//! embedded font. Layer: `present`.

use std::ops::Range;
use std::sync::LazyLock;

use plotters::coord::Shift;
use plotters::prelude::*;
use plotters::style::{FontStyle, register_font};

use super::effort::EffortLine;
use crate::error::{Error, Result};
use crate::present::fonts;
use crate::present::style::{self, Colour};

/// The drawing's width, points of the screen.
const WIDE: u32 = 760;
/// The height of one bar with its space.
const BAR: u32 = 22;
/// Title, axis and its name.
const AROUND: u32 = 96;

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
    ready_font();
    let bars = u32::try_from(lines.len()).unwrap_or(u32::MAX / BAR / 2);
    let mut svg = String::new();
    {
        let area =
            SVGBackend::with_string(&mut svg, (WIDE, AROUND + bars * BAR)).into_drawing_area();
        draw(&area, heading, lines).and_then(|()| area.present().map_err(Into::into)).map_err(
            |why| Error::program("the bars of effort cannot be drawn").because(why.to_string()),
        )?;
    }
    // the class that identifies drawings written by trug
    Ok(svg.replacen("<svg ", "<svg class=\"trug\" ", 1))
}

type Drawn = std::result::Result<(), Box<dyn std::error::Error>>;

fn draw(area: &DrawingArea<SVGBackend<'_>, Shift>, heading: &str, lines: &[EffortLine]) -> Drawn {
    area.fill(&colour(style::PAPER))?;
    let longest = lines.iter().map(|line| line.time_s / 3600.0).fold(0.1, f64::max);
    let number = i32::try_from(lines.len())?;
    let title = match heading {
        "month" | "year" => format!("Hours out (grey) and hours searched (blue) by {heading}"),
        _ => "Hours out (grey) and hours searched (blue)".to_owned(),
    };
    let words = |size: f64, of: Colour| (fonts::FAMILY, size).into_font().color(&colour(of));
    let mut chart = ChartBuilder::on(area)
        .caption(title, words(17.0, style::INK))
        .margin(10)
        .x_label_area_size(42)
        .y_label_area_size(128)
        .build_cartesian_2d(0.0..longest * 1.12, (0..number).into_segmented())?;
    chart
        .configure_mesh()
        .disable_y_mesh()
        .light_line_style(TRANSPARENT)
        .bold_line_style(colour(style::FAINT))
        .axis_style(colour(style::SOFT_INK))
        .x_desc("hours")
        .y_desc(heading)
        .y_labels(lines.len())
        .y_label_formatter(&|at| named(lines, at))
        .label_style(words(12.0, style::INK))
        .axis_desc_style(words(12.0, style::SOFT_INK))
        .draw()?;
    let rows = || (0..number).zip(lines.iter().rev());
    chart.draw_series(rows().map(|(row, line)| bar(row, line.time_s, style::FAINT, 3)))?;
    chart.draw_series(rows().map(|(row, line)| bar(row, line.searched_s, style::SEARCH, 6)))?;
    chart.draw_series(rows().map(|(row, line)| {
        let end = (line.time_s / 3600.0, SegmentValue::CenterOf(row));
        let result = format!("{:.1} h, {:.2} ha", line.searched_s / 3600.0, line.searched_ha);
        EmptyElement::at(end) + Text::new(result, (6, -6), words(11.0, style::SOFT_INK))
    }))?;
    Ok(())
}

/// The first line is at the top.
fn named(lines: &[EffortLine], at: &SegmentValue<i32>) -> String {
    let (SegmentValue::CenterOf(row) | SegmentValue::Exact(row)) = at else {
        return String::new();
    };
    let index = usize::try_from(*row).ok().and_then(|row| lines.len().checked_sub(row + 1));
    index.and_then(|index| lines.get(index)).map_or_else(String::new, |line| line.of.clone())
}

fn bar(row: i32, seconds: f64, of: Colour, margin: u32) -> Rectangle<(f64, SegmentValue<i32>)> {
    let ends: Range<f64> = 0.0..seconds / 3600.0;
    let mut bar = Rectangle::new(
        [(ends.start, SegmentValue::Exact(row)), (ends.end, SegmentValue::Exact(row + 1))],
        colour(of).filled(),
    );
    bar.set_margin(margin, margin, 0, 0);
    bar
}

fn colour(of: Colour) -> RGBColor {
    let part = |at: usize| of.0.get(at..at + 2).and_then(|hex| u8::from_str_radix(hex, 16).ok());
    RGBColor(part(1).unwrap_or(0), part(3).unwrap_or(0), part(5).unwrap_or(0))
}

/// `plotters` measures text with the fonts that it was given, never with those of the machine.
fn ready_font() {
    static GIVEN: LazyLock<()> = LazyLock::new(|| {
        for (cut, bytes) in [(FontStyle::Normal, fonts::REGULAR), (FontStyle::Bold, fonts::BOLD)] {
            // A font that cannot be read would fail its own test.
            let _ = register_font(fonts::FAMILY, cut, bytes);
        }
    });
    LazyLock::force(&GIVEN);
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
    fn bars_have_labels_and_figures_in_the_embedded_font() {
        let svg = figure("week of", &[line("2026-04-13", 2.0), line("2026-04-27", 3.0)]).unwrap();
        assert!(svg.contains("2026-04-13") && svg.contains("2026-04-27"), "{svg}");
        let months = figure("month", &[line("2026-04", 2.0)]).unwrap();
        assert!(months.contains("searched (blue) by month"), "{months}");
        assert!(svg.contains("1.5 h, 0.30 ha"), "{svg}");
        assert!(svg.contains(fonts::FAMILY));
        assert!(crate::present::render::png(&svg, 96.0).is_ok());
    }

    #[test]
    fn empty_effort_is_an_error() {
        assert!(figure("week of", &[]).is_err());
    }
}
