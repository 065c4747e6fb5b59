//! Scales a photograph to a JPEG of a few kilobytes, upright. Takes bytes and returns bytes. Layer:
//! `present`.
//!
//! Only pixels are taken over: no header, comment or preview of the photograph reaches a page.

use std::io::Cursor;

use image::metadata::Orientation;
use image::{DynamicImage, ImageDecoder, ImageReader, Limits};
use jpeg_encoder::{ColorType, Encoder, SamplingFactor};

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
    let picture = upright(photograph).map_err(|error| not_scaled(&error))?;
    encoded(&scaled(picture, LONGEST), QUALITY)
}

/// The longest sides that are tried, pixels.
const SIDES: [u32; 12] = [800, 640, 512, 420, 360, 280, 220, 180, 160, 128, 112, 96];
/// The qualities that are tried at each of them.
const QUALITIES: [u8; 2] = [66, 48];
/// The qualities that are tried at the last of them.
const LAST_QUALITIES: [u8; 3] = [40, 32, 24];

/// The largest JPEG of a photograph that takes no more than so many bytes, down to 96 pixels on the
/// longer side. Nothing of the file but its pixels is kept.
///
/// A photograph in another form than JPEG or PNG is shown by the JPEG that its camera put into the file.
/// Where the photograph itself can be read, that preview is not used: it shows what a crop or a
/// retouching has removed.
///
/// # Errors
/// When there is no readable image, or it needs more than a gigabyte.
pub fn within(photograph: &[u8], bytes: usize) -> Result<Vec<u8>> {
    let mut picture = match upright(photograph) {
        Ok(picture) => picture,
        Err(error) => embedded(photograph).ok_or_else(|| not_scaled(&error))?,
    };
    let mut last = Vec::new();
    for side in SIDES {
        picture = scaled(picture, side);
        for quality in QUALITIES {
            last = encoded(&picture, quality)?;
            if last.len() <= bytes {
                return Ok(last);
            }
        }
    }
    for quality in LAST_QUALITIES {
        last = encoded(&picture, quality)?;
        if last.len() <= bytes {
            break;
        }
    }
    Ok(last)
}

fn not_scaled(error: &dyn std::error::Error) -> Error {
    Error::input("the photograph cannot be scaled")
        .because(error.to_string())
        .hint("it is listed without an image; JPEG, PNG and files with a JPEG preview can be shown")
}

fn upright(photograph: &[u8]) -> image::ImageResult<DynamicImage> {
    let mut reader = ImageReader::new(Cursor::new(photograph)).with_guessed_format()?;
    let mut limits = Limits::default();
    limits.max_alloc = Some(MEMORY);
    reader.limits(limits);
    let mut decoder = reader.into_decoder()?;
    let turned = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let mut picture = DynamicImage::from_decoder(decoder)?;
    // turned once it is small, except where it is small already
    if picture.width().max(picture.height()) > SIDES[0] {
        picture = picture.thumbnail(SIDES[0], SIDES[0]);
    }
    picture.apply_orientation(turned);
    Ok(picture)
}

fn scaled(picture: DynamicImage, longest: u32) -> DynamicImage {
    if picture.width().max(picture.height()) > longest {
        picture.thumbnail(longest, longest)
    } else {
        picture
    }
}

/// Colour at half the resolution and Huffman tables of the picture itself: a third fewer bytes at these sizes, of
/// which the tables of the standard take 420.
fn encoded(picture: &DynamicImage, quality: u8) -> Result<Vec<u8>> {
    let pixels = picture.to_rgb8();
    let side = |side: u32| u16::try_from(side).unwrap_or(u16::MAX);
    let mut jpeg = Vec::new();
    let mut encoder = Encoder::new(&mut jpeg, quality);
    encoder.set_sampling_factor(SamplingFactor::R_4_2_0);
    encoder.set_optimized_huffman_tables(true);
    encoder
        .encode(pixels.as_raw(), side(pixels.width()), side(pixels.height()), ColorType::Rgb)
        .map_err(|error| not_scaled(&error))?;
    Ok(jpeg)
}

/// The largest JPEG within another file that can be read, of the first ones in it.
fn embedded(file: &[u8]) -> Option<DynamicImage> {
    /// More than any camera writes; others are chance.
    const MOST: usize = 24;
    let starts = file.windows(3).enumerate().filter(|(_, bytes)| *bytes == [0xff, 0xd8, 0xff]);
    let pictures = starts.take(MOST).filter_map(|(at, _)| upright(&file[at..]).ok());
    pictures.max_by_key(|picture| picture.width() * picture.height())
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::RgbImage;
    use image::codecs::jpeg::JpegEncoder;

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

    /// Noise of one pixel, the hardest to compress.
    fn noisy(wide: u32, high: u32) -> Vec<u8> {
        let mut bytes = Vec::new();
        let mut state = 7_u32;
        let picture = RgbImage::from_fn(wide, high, |_, _| {
            state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            image::Rgb(state.to_be_bytes()[..3].try_into().unwrap())
        });
        JpegEncoder::new(&mut bytes).encode_image(&picture).unwrap();
        bytes
    }

    #[test]
    fn image_is_as_large_as_its_bytes_allow() {
        let size = |bytes: &[u8]| {
            let picture = image::load_from_memory(bytes).unwrap();
            picture.width().max(picture.height())
        };
        let photograph = noisy(900, 600);
        let mut before = 0;
        for most in [6_000, 20_000, 60_000] {
            let small = within(&photograph, most).unwrap();
            assert!(small.len() <= most, "{} of {most}", small.len());
            assert!(size(&small) > before, "{most}");
            before = size(&small);
        }
        assert_eq!(size(&within(&photograph, 1).unwrap()), 96);
    }

    #[test]
    fn nothing_but_pixels_is_kept() {
        let plain = jpeg(600, 400);
        let secret = b"Exif\0\0 146.09600 E 42.61500 S serial 0A3377";
        let mut marked = plain[..2].to_vec();
        for marker in [0xe1, 0xed, 0xfe] {
            marked.extend([0xff, marker]);
            marked.extend(u16::try_from(secret.len() + 2).unwrap().to_be_bytes());
            marked.extend(secret);
        }
        marked.extend(&plain[2..]);
        assert!(image::load_from_memory(&marked).is_ok());
        for made in [within(&marked, 20_000).unwrap(), small(&marked).unwrap()] {
            assert!(!made.windows(6).any(|bytes| bytes == b"serial" || bytes == b"Exif\0\0"));
            let mut at = 2;
            while made[at + 1] != 0xda {
                assert!(!matches!(made[at + 1], 0xe1..=0xef | 0xfe), "a segment of metadata");
                at += 2 + usize::from(u16::from_be_bytes([made[at + 2], made[at + 3]]));
            }
        }
    }

    #[test]
    fn preview_stands_for_a_form_that_cannot_be_read_and_for_no_other() {
        let raw =
            [b"II*\0 raw sensor data ".as_slice(), &jpeg(160, 120), &[0; 40], &jpeg(640, 480)]
                .concat();
        let shown = image::load_from_memory(&within(&raw, 60_000).unwrap()).unwrap();
        assert_eq!((shown.width(), shown.height()), (640, 480));
        let cropped = [&jpeg(300, 300)[..], &jpeg(640, 480)].concat();
        let shown = image::load_from_memory(&within(&cropped, 60_000).unwrap()).unwrap();
        assert_eq!((shown.width(), shown.height()), (300, 300));
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
