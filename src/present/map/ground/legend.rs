//! Draws what the lines and marks of the ground mean. Layer: `present`.

use super::style::{self, width};
use super::{DrawnGround, GroundKind, features};
use crate::model::BaseClass;
use crate::present::fonts::{self, Face};
use crate::present::markup::{Element, Elements};
use crate::present::style::{self as palette, size};
use crate::present::svg::{self, Letters, Point, Stroke};

/// The width of a sample, points.
const SAMPLE: f64 = 15.0;

/// Draws the kinds of a ground from `top` on within a width and returns the lower edge.
pub fn legend(ground: &DrawnGround, top: f64, wide: f64, drawn: &mut Elements) -> f64 {
    let letters = Letters::new(size::SMALL).colour(palette::SOFT_INK);
    let (mut x, mut y) = (0.0, top);
    for kind in &ground.kinds {
        let words = words(ground, *kind);
        let long = fonts::width(&words, Face::Regular, letters.size);
        let needed = SAMPLE + 5.0 + long + 13.0;
        if x > 0.0 && x + needed - 13.0 > wide {
            x = 0.0;
            y += 12.0;
        }
        drawn.push(sample(*kind, Point::new(x, y)));
        drawn.push(svg::text(
            Point::new(x + SAMPLE + 5.0, y + 0.36 * letters.size),
            &words,
            // readers with another font keep the words in their room
            letters.long(long),
        ));
        x += needed;
    }
    if ground.kinds.is_empty() { top } else { y + 6.0 }
}

/// The words of a kind.
pub(in crate::present) fn words(ground: &DrawnGround, kind: GroundKind) -> String {
    match kind {
        GroundKind::Contour => {
            let lines = ground.relief_words().unwrap_or_default();
            if ground.exaggeration > 1.05 {
                format!("{lines}; shading exaggerated {:.1} times", ground.exaggeration)
            } else {
                lines
            }
        }
        GroundKind::Walked => "track of another day".to_owned(),
        GroundKind::Base(class) => match class {
            BaseClass::Stream => "stream",
            BaseClass::Water => "water",
            BaseClass::Road => "road",
            BaseClass::Path => "path",
            BaseClass::Boundary => "boundary",
            BaseClass::Parking => "car park",
            BaseClass::Summit => "summit",
            BaseClass::Place => "place",
            BaseClass::Other => "other features of the base map",
        }
        .to_owned(),
    }
}

/// The sample of a kind with its left end at the point.
pub(in crate::present) fn sample(kind: GroundKind, at: Point) -> Element {
    let line = |stroke| svg::line(at, at.plus(SAMPLE, 0.0), stroke);
    let centre = at.plus(SAMPLE / 2.0, 0.0);
    match kind {
        GroundKind::Contour => svg::group()
            .with(svg::line(
                at.plus(0.0, -1.4),
                at.plus(SAMPLE, -1.4),
                Stroke::new(style::CONTOUR, width::INDEX),
            ))
            .with(svg::line(
                at.plus(0.0, 1.4),
                at.plus(SAMPLE, 1.4),
                Stroke::new(style::CONTOUR, width::CONTOUR),
            )),
        GroundKind::Walked => line(Stroke::new(style::WALKED, 0.5)),
        GroundKind::Base(BaseClass::Water) => {
            let frame = svg::Frame::new(at.x + 2.0, at.y - 3.0, SAMPLE - 4.0, 6.0);
            let edge = Stroke::new(style::WATER, 0.5);
            svg::rectangle(frame).filled(style::WATER_FILL).stroked(edge)
        }
        GroundKind::Base(class @ (BaseClass::Parking | BaseClass::Summit | BaseClass::Place)) => {
            svg::pin(centre, features::mark(class))
        }
        GroundKind::Base(class) => {
            features::stroked(&svg::path(&[at, at.plus(SAMPLE, 0.0)]), class)
        }
    }
}
