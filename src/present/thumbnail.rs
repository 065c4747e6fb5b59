//! Scales a photograph to a JPEG of a few kilobytes, upright. Takes bytes and returns bytes. Layer:
//! `present`.

use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageReader, Limits};

use crate::error::{Error, Result};

/// The longest side, pixels.
const LONGEST: u32 = 360;
/// The quality of the JPEG, 1 to 100.
const QUALITY: u8 = 68;
/// The memory limit for decoding, bytes.
const MEMORY: u64 = 1 << 30;

/// A small JPEG of a JPEG or PNG photograph.
///
/// # Errors
/// When the bytes are not a readable image, or need more than a gigabyte.
pub fn small(photograph: &[u8]) -> Result<Vec<u8>> {
    let failed = |error: image::ImageError| {
        Error::input("the photograph cannot be scaled")
            .because(error.to_string())
            .hint("it is listed without an image; JPEG and PNG can be shown")
    };
    let mut reader = ImageReader::new(Cursor::new(photograph))
        .with_guessed_format()
        .map_err(|error| failed(error.into()))?;
    let mut limits = Limits::default();
    limits.max_alloc = Some(MEMORY);
    reader.limits(limits);
    let mut decoder = reader.into_decoder().map_err(failed)?;
    let turned = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let picture = DynamicImage::from_decoder(decoder).map_err(failed)?;
    let mut small = if picture.width().max(picture.height()) > LONGEST {
        picture.thumbnail(LONGEST, LONGEST)
    } else {
        picture
    };
    small.apply_orientation(turned);
    let mut jpeg = Vec::new();
    JpegEncoder::new_with_quality(&mut jpeg, QUALITY)
        .encode_image(&small.to_rgb8())
        .map_err(failed)?;
    Ok(jpeg)
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::RgbImage;

    fn jpeg(wide: u32, high: u32) -> Vec<u8> {
        let mut bytes = Vec::new();
        let picture =
            RgbImage::from_fn(wide, high, |x, _| image::Rgb([x.to_le_bytes()[0], 90, 60]));
        JpegEncoder::new(&mut bytes).encode_image(&picture).unwrap();
        bytes
    }

    #[test]
    fn thumbnail_keeps_the_aspect_ratio() {
        let small = small(&jpeg(1_600, 1_200)).unwrap();
        let picture = image::load_from_memory(&small).unwrap();
        assert_eq!((picture.width(), picture.height()), (360, 270));
        assert!(small.len() < 40_000, "{}", small.len());
    }

    #[test]
    fn small_image_is_not_enlarged() {
        let picture = image::load_from_memory(&small(&jpeg(40, 30)).unwrap()).unwrap();
        assert_eq!((picture.width(), picture.height()), (40, 30));
    }

    #[test]
    fn invalid_image_is_refused() {
        assert!(small(b"").is_err());
        assert!(small(b"<svg onload=alert(1)>").is_err());
        let whole = jpeg(400, 300);
        let _ = small(&whole[..whole.len() / 3]);
    }
}
