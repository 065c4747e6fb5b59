//! Renders SVG drawings to PNG with the embedded fonts, and fonts of the machine for letters that these
//! lack. Drawings refer to nothing outside themselves. Layer: `present`.

use std::panic::{AssertUnwindSafe, catch_unwind};

use resvg::{tiny_skia, usvg};

use super::fonts;
pub use super::pdf::{pages, pdf};
use crate::error::{Error, Result};

/// The largest side of an image in pixels: an A0 sheet at 300 dots per inch is 14,043.
const LARGEST: f32 = 16_384.0;

/// A drawing as a PNG image.
///
/// Letters that the embedded font lacks are drawn with a font of the machine, if it has one; Latin, Greek and
/// Cyrillic look the same everywhere.
///
/// # Units
/// `dots_per_inch`: 150 for a screen, 300 for print.
///
/// # Errors
/// When the text is not SVG, or a side of the image would exceed 16,384 pixels.
///
/// # Examples
/// ```
/// use trug::present::render;
///
/// let drawing = r#"<svg xmlns="http://www.w3.org/2000/svg" width="72" height="36"><circle r="9"/></svg>"#;
/// let image = render::png(drawing, 144.0)?;
/// assert!(image.starts_with(b"\x89PNG"));
/// assert!(render::png("no drawing", 144.0).is_err());
/// # Ok::<(), trug::error::Error>(())
/// ```
pub fn png(svg: &str, dots_per_inch: f32) -> Result<Vec<u8>> {
    let tree = tree(svg)?;
    let scale = dots_per_inch / 72.0;
    let size = tree.size();
    let (wide, high) = ((size.width() * scale).round(), (size.height() * scale).round());
    if !(1.0..=LARGEST).contains(&wide) || !(1.0..=LARGEST).contains(&high) {
        return Err(Error::input("the image was not rendered")
            .because(format!("it would be {wide} by {high} pixels; the limits are 1 and {LARGEST}"))
            .hint("choose a lower resolution"));
    }
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "checked just above"
    )]
    let mut dots = tiny_skia::Pixmap::new(wide as u32, high as u32)
        .ok_or_else(|| Error::program("not enough memory for an image"))?;
    dots.fill(tiny_skia::Color::WHITE);
    resvg::render(&tree, tiny_skia::Transform::from_scale(scale, scale), &mut dots.as_mut());
    dots.encode_png()
        .map(|png| signed(&png))
        .map_err(|error| Error::program("an image was not encoded").because(error.to_string()))
}

/// The image with a `Software` chunk after its header, which identifies files written by trug.
///
/// # References
/// PNG (third edition, W3C 2025), 11.3.3.1: the keyword Software.
fn signed(png: &[u8]) -> Vec<u8> {
    const HEADER: usize = 8 + 12 + 13;
    const CHUNK: &[u8] = concat!("tEXtSoftware\0trug ", env!("CARGO_PKG_VERSION")).as_bytes();
    let mut sum = flate2::Crc::new();
    sum.update(CHUNK);
    let length = u32::try_from(CHUNK.len() - 4).unwrap_or(0);
    let (head, rest) = png.split_at_checked(HEADER).unwrap_or((png, &[]));
    [head, &length.to_be_bytes(), CHUNK, &sum.sum().to_be_bytes(), rest].concat()
}

pub(super) fn tree(svg: &str) -> Result<usvg::Tree> {
    let options = usvg::Options {
        // one unit is a point
        dpi: 72.0,
        font_family: fonts::FAMILY.to_owned(),
        fontdb: fonts::database_for(svg),
        font_resolver: usvg::FontResolver {
            select_fallback: Box::new(|letter, used, _| {
                fonts::face_of(letter).filter(|face| !used.contains(face))
            }),
            ..usvg::FontResolver::default()
        },
        image_href_resolver: usvg::ImageHrefResolver {
            resolve_data: Box::new(|_, _, _| None),
            resolve_string: Box::new(|_, _| None),
        },
        ..usvg::Options::default()
    };
    // the markup is ASCII, so that only text is changed
    let read = || usvg::Tree::from_str(&fonts::replaced(svg), &options);
    catch_unwind(AssertUnwindSafe(read))
        .map_err(|_| {
            Error::program("a drawing cannot be read")
                .because("the letters of a font of this machine cannot be joined")
                .hint("write its text in Latin letters, or install another font")
        })?
        .map_err(|error| Error::program("a drawing cannot be read").because(error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::present::fonts::Face;
    use crate::present::style::{FIND, INK};
    use crate::present::svg::{self, Frame, Letters, Point};

    fn sample() -> String {
        svg::drawing(144.0, 72.0, "sample")
            .with(svg::rectangle(Frame::new(0.0, 0.0, 72.0, 72.0)).filled(FIND))
            .with(svg::text(Point::new(80.0, 40.0), "Kühner", Letters::new(12.0).colour(INK)))
            .to_string()
    }

    #[test]
    fn image_has_the_size_of_its_page() {
        let png = png(&sample(), 144.0).unwrap();
        let map = tiny_skia::Pixmap::decode_png(&png).unwrap();
        assert_eq!((map.width(), map.height()), (288, 144));
        let left = map.pixel(40, 70).unwrap();
        assert_eq!((left.red(), left.green(), left.blue()), (0xd5, 0x5e, 0x00));
        let dark = (160..288).flat_map(|x| (40..90).map(move |y| (x, y)));
        let inked = dark.filter(|(x, y)| map.pixel(*x, *y).unwrap().red() < 80).count();
        assert!(inked > 100, "the letters leave ink: {inked}");
    }

    #[test]
    fn missing_glyph_prints_a_replacement() {
        let drawn = |words: &str| {
            let text = svg::text(Point::new(2.0, 15.0), words, Letters::new(12.0));
            png(&svg::drawing(40.0, 20.0, "x").with(text).to_string(), 72.0).unwrap()
        };
        // a code point that is not assigned, which no font has
        assert_ne!(drawn("\u{378}"), drawn(""), "nothing is printed");
        assert_eq!(drawn("\u{378}"), drawn("\u{fffd}"));
        assert_ne!(drawn("\u{3a9}"), drawn("\u{fffd}"), "Greek is there");
        for face in [Face::Regular, Face::Bold, Face::Italic] {
            assert!(fonts::width("\u{378}", face, 10.0) > 5.0);
        }
    }

    #[test]
    fn oversized_image_is_refused() {
        assert!(png(&sample(), 1e6).is_err());
        assert!(png("<svg", 72.0).is_err());
    }
}
