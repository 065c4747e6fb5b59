//! Writes what plotters draws for the axes of a chart, lines and text, as SVG elements in colours of the palette
//! and in the fonts that are embedded. Layer: `present`.

use std::convert::Infallible;

use plotters_backend::text_anchor::{HPos, VPos};
use plotters_backend::{
    BackendColor, BackendCoord, BackendStyle, BackendTextStyle, DrawingBackend, DrawingErrorKind,
    FontStyle, FontTransform,
};

use crate::present::fonts::{self, Face};
use crate::present::markup::Elements;
use crate::present::style::Colour;
use crate::present::svg::{self, Anchor, Frame, Letters, Point, Stroke, short};

/// plotters counts in whole pixels; the resolution of a drawing is a hundredth of a point.
pub(super) const UNITS: f64 = 100.0;

/// A part of a drawing that plotters draws on.
pub(super) struct Canvas<'a> {
    frame: Frame,
    drawn: &'a mut Elements,
}

type Drawn = Result<(), DrawingErrorKind<Infallible>>;

impl<'a> Canvas<'a> {
    pub(super) fn new(frame: Frame, drawn: &'a mut Elements) -> Self {
        Self { frame, drawn }
    }

    fn point(&self, (x, y): BackendCoord) -> Point {
        self.frame.corner.plus(f64::from(x) / UNITS, f64::from(y) / UNITS)
    }
}

impl DrawingBackend for Canvas<'_> {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        (units(self.frame.wide).unsigned_abs(), units(self.frame.high).unsigned_abs())
    }

    fn ensure_prepared(&mut self) -> Drawn {
        Ok(())
    }

    fn present(&mut self) -> Drawn {
        Ok(())
    }

    fn draw_pixel(&mut self, at: BackendCoord, colour: BackendColor) -> Drawn {
        let dot = svg::rectangle(Frame { corner: self.point(at), wide: 0.01, high: 0.01 });
        self.drawn.push(dot.washed(Colour::of(colour.rgb), colour.alpha));
        Ok(())
    }

    fn draw_line<S: BackendStyle>(&mut self, a: BackendCoord, b: BackendCoord, style: &S) -> Drawn {
        self.draw_path([a, b], style)
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(
        &mut self,
        path: I,
        style: &S,
    ) -> Drawn {
        let BackendColor { alpha, rgb } = style.color();
        if alpha > 0.0 {
            let points: Vec<Point> = path.into_iter().map(|at| self.point(at)).collect();
            let stroke = Stroke::new(Colour::of(rgb), f64::from(style.stroke_width()) / UNITS);
            self.drawn.push(match points.as_slice() {
                [from, to] => svg::line(*from, *to, stroke),
                _ => svg::polyline(&points, stroke),
            });
        }
        Ok(())
    }

    fn draw_text<T: BackendTextStyle>(&mut self, text: &str, style: &T, at: BackendCoord) -> Drawn {
        if text.is_empty() {
            return Ok(());
        }
        let size = style.size() / UNITS;
        // from the place to the baseline
        let down = match style.anchor().v_pos {
            VPos::Top => size,
            VPos::Center => 0.35 * size,
            VPos::Bottom => -0.25 * size,
        };
        let at = self.point(at);
        let (at, turn) = match style.transform() {
            FontTransform::None => (at.plus(0.0, down), None),
            FontTransform::Rotate90 => (at.plus(-down, 0.0), Some(90)),
            FontTransform::Rotate180 => (at.plus(0.0, -down), Some(180)),
            FontTransform::Rotate270 => (at.plus(down, 0.0), Some(-90)),
        };
        let turn = turn.map(|by| format!("rotate({by} {} {})", short(at.x), short(at.y)));
        let anchor = match style.anchor().h_pos {
            HPos::Left => Anchor::Start,
            HPos::Center => Anchor::Middle,
            HPos::Right => Anchor::End,
        };
        let letters = Letters::new(size).anchor(anchor).colour(Colour::of(style.color().rgb));
        let words = match style.style() {
            FontStyle::Italic => svg::name(at, text, letters),
            _ => svg::text(at, text, letters),
        };
        self.drawn.push(words.set_some("transform", turn));
        Ok(())
    }

    fn estimate_text_size<T: BackendTextStyle>(
        &self,
        text: &str,
        style: &T,
    ) -> Result<(u32, u32), DrawingErrorKind<Infallible>> {
        let wide = fonts::width(text, Face::Regular, style.size() / UNITS);
        Ok((units(wide).unsigned_abs(), units(style.size() / UNITS).unsigned_abs()))
    }
}

/// Hundredths of a point; what is beyond the range of plotters is held at its end.
#[allow(clippy::cast_possible_truncation, reason = "the cast saturates")]
pub(super) fn units(points: f64) -> i32 {
    (points * UNITS).round() as i32
}

#[cfg(test)]
mod tests {
    use plotters::element::PathElement;
    use plotters::prelude::IntoDrawingArea;
    use plotters::style::{Color, IntoFont, RGBColor, ShapeStyle};

    use super::*;
    use crate::present::style;

    #[test]
    fn lines_and_words_have_places_in_points_and_colours_of_the_palette() {
        let mut drawn = Elements::default();
        let (red, green, blue) = style::FIND.rgb();
        let find = RGBColor(red, green, blue);
        let area = Canvas::new(Frame::new(10.0, 20.0, 100.0, 50.0), &mut drawn).into_drawing_area();
        area.draw(&PathElement::new(
            [(0, 0), (150, 250)],
            ShapeStyle::from(find).stroke_width(110),
        ))
        .unwrap();
        area.draw(&PathElement::new([(0, 0), (900, 900)], find.mix(0.0))).unwrap();
        let words = ("Noto Sans", 680.0).into_font().color(&find);
        area.draw_text("m < 3 & more", &words, (100, 100)).unwrap();
        drop(area);
        let drawn = drawn.to_string();
        assert!(drawn.contains("x2=\"11.5\"") && drawn.contains("stroke-width=\"1.1\""), "{drawn}");
        assert_eq!(drawn.matches("<line").count(), 1, "what is transparent is not drawn: {drawn}");
        assert!(drawn.contains("fill=\"#d55e00\">m &lt; 3 &amp; more</text>"), "{drawn}");
        assert!(drawn.contains("font-size=\"6.8\"") && drawn.contains("x=\"11\""), "{drawn}");
    }
}
