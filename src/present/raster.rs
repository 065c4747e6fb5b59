//! Writes a grid of numbers as GeoTIFF or ASCII grid on the equal-area plane. Layer: `present`.
//!
//! # References
//! OGC 19-008r4, GeoTIFF Standard 1.1, 7.4 to 7.5 and annex B (a projection of the user's own:
//! Lambert azimuthal equal-area on WGS 84).

use std::fmt::Write;
use std::io::Cursor;

use tiff::encoder::{TiffEncoder, colortype::Gray32Float};
use tiff::tags::Tag;

use crate::analyse::density::kernel::Grid;
use crate::earth::equal_area::EqualArea;
use crate::error::{Error, Result};

/// The no-data value.
///
/// Ground that nobody searched has it: not searched is not the same as no finds.
pub const NOTHING: f32 = -9999.0;

/// The grid as GeoTIFF with one band of this name and unit; NaN becomes [`NOTHING`].
///
/// The plane is the equal-area one of the density map, stated in the file as a projection of the user's own, so
/// that a GIS places it without a question.
///
/// # Errors
/// When the grid is too large for a TIFF.
#[allow(clippy::cast_possible_truncation, reason = "four figures are enough for a density")]
pub fn geotiff(
    values: &[f64],
    grid: &Grid,
    plane: &EqualArea,
    (name, unit): (&str, &str),
) -> Result<Vec<u8>> {
    let mut pixels = Vec::with_capacity(values.len());
    for row in (0..grid.rows).rev() {
        let line = &values[row * grid.columns..][..grid.columns];
        pixels
            .extend(line.iter().map(|value| if value.is_nan() { NOTHING } else { *value as f32 }));
    }
    write(&pixels, grid, plane, &described(name, unit))
        .map_err(|error| Error::program("a GeoTIFF cannot be made").because(error.to_string()))
}

/// Where GDAL keeps names and units of bands.
const GDAL_METADATA: u16 = 42_112;

/// The name and the unit of the band, as GDAL writes them.
fn described(name: &str, unit: &str) -> String {
    let item = |kind: &str, role: &str, text: &str| {
        let text = text.replace('&', "&amp;").replace('<', "&lt;");
        format!("<Item name=\"{kind}\" sample=\"0\" role=\"{role}\">{text}</Item>")
    };
    let (name, unit) =
        (item("DESCRIPTION", "description", name), item("UNITTYPE", "unittype", unit));
    format!("<GDALMetadata>{name}{unit}</GDALMetadata>")
}

fn write(
    pixels: &[f32],
    grid: &Grid,
    plane: &EqualArea,
    described: &str,
) -> tiff::TiffResult<Vec<u8>> {
    let mut bytes = Cursor::new(Vec::new());
    let mut encoder = TiffEncoder::new(&mut bytes)?;
    let size = |count: usize| u32::try_from(count).unwrap_or(u32::MAX);
    let mut image = encoder.new_image::<Gray32Float>(size(grid.columns), size(grid.rows))?;
    let north = grid.south + grid.cell * grid.rows as f64;
    let middle = plane.middle();
    let tags = image.encoder();
    tags.write_tag(Tag::ModelPixelScaleTag, &[grid.cell, grid.cell, 0.0][..])?;
    tags.write_tag(Tag::ModelTiepointTag, &[0.0, 0.0, 0.0, grid.west, north, 0.0][..])?;
    tags.write_tag(Tag::GeoKeyDirectoryTag, &keys()[..])?;
    tags.write_tag(
        Tag::GeoDoubleParamsTag,
        &[middle.longitude(), middle.latitude(), 0.0, 0.0][..],
    )?;
    tags.write_tag(Tag::GeoAsciiParamsTag, "trug equal-area plane|WGS 84|")?;
    tags.write_tag(Tag::Unknown(GDAL_METADATA), described)?;
    tags.write_tag(Tag::GdalNodata, "-9999")?;
    image.write_data(pixels)?;
    Ok(bytes.into_inner())
}

/// Key, where it is held, how many, value or place: the directory of the standard.
fn keys() -> Vec<u16> {
    const DOUBLES: u16 = 34_736;
    const ASCII: u16 = 34_737;
    const OWN: u16 = 32_767;
    let keys: [[u16; 4]; 13] = [
        [1024, 0, 1, 1],
        [1025, 0, 1, 1],
        [1026, ASCII, 22, 0],
        [2048, 0, 1, 4326],
        [2049, ASCII, 7, 22],
        [2054, 0, 1, 9102],
        [3072, 0, 1, OWN],
        [3074, 0, 1, OWN],
        [3075, 0, 1, 10],
        [3076, 0, 1, 9001],
        [3082, DOUBLES, 1, 2],
        [3088, DOUBLES, 1, 0],
        [3089, DOUBLES, 1, 1],
    ];
    let mut directory = vec![1, 1, 0, u16::try_from(keys.len() + 1).unwrap_or(0)];
    directory.extend(keys[..11].iter().flatten());
    directory.extend([3083, DOUBLES, 1, 3]);
    directory.extend(keys[11..].iter().flatten());
    directory
}

/// The grid as an ASCII grid, rows from the north; NaN becomes -9999.
#[must_use]
pub fn ascii(values: &[f64], grid: &Grid) -> String {
    let mut text = format!(
        "ncols {}\nnrows {}\nxllcorner {}\nyllcorner {}\ncellsize {}\nNODATA_value -9999\n",
        grid.columns, grid.rows, grid.west, grid.south, grid.cell
    );
    for row in (0..grid.rows).rev() {
        for (column, value) in values[row * grid.columns..][..grid.columns].iter().enumerate() {
            let gap = if column == 0 { "" } else { " " };
            let _ = if value.is_nan() {
                write!(text, "{gap}-9999")
            } else {
                write!(text, "{gap}{value:.6e}")
            };
        }
        text.push('\n');
    }
    text
}

/// The plane as well-known text, for the `.prj` beside an ASCII grid.
#[must_use]
pub fn well_known_text(plane: &EqualArea) -> String {
    let middle = plane.middle();
    format!(
        "PROJCS[\"trug equal-area plane\",GEOGCS[\"WGS 84\",DATUM[\"WGS_1984\",\
         SPHEROID[\"WGS 84\",6378137,298.257223563]],PRIMEM[\"Greenwich\",0],\
         UNIT[\"degree\",0.0174532925199433]],PROJECTION[\"Lambert_Azimuthal_Equal_Area\"],\
         PARAMETER[\"latitude_of_center\",{}],PARAMETER[\"longitude_of_center\",{}],\
         PARAMETER[\"false_easting\",0],PARAMETER[\"false_northing\",0],UNIT[\"metre\",1]]\n",
        middle.latitude(),
        middle.longitude()
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::LatLon;

    fn grid() -> Grid {
        Grid { west: -10.0, south: 20.0, cell: 5.0, columns: 3, rows: 2 }
    }

    #[test]
    fn rows_begin_in_the_north_and_no_data_is_marked() {
        let text = ascii(&[1.0, 2.0, 3.0, 4.0, f64::NAN, 6.0], &grid());
        let lines: Vec<&str> = text.lines().collect();
        assert_eq!(lines[6], "4.000000e0 -9999 6.000000e0");
        assert_eq!(lines[7], "1.000000e0 2.000000e0 3.000000e0");
    }

    #[test]
    fn geotiff_reads_back_georeferenced() {
        let plane = EqualArea::about(LatLon::clamped(-42.5, 146.25));
        let bytes =
            geotiff(&[1.0, 2.0, 3.0, 4.0, f64::NAN, 6.0], &grid(), &plane, ("finds", "1/km"))
                .unwrap();
        let mut decoder = tiff::decoder::Decoder::new(Cursor::new(bytes)).unwrap();
        assert_eq!(decoder.dimensions().unwrap(), (3, 2));
        let tie = decoder.get_tag_f64_vec(Tag::ModelTiepointTag).unwrap();
        assert_eq!(tie[3..5], [-10.0, 30.0]);
        let said = decoder.get_tag_ascii_string(Tag::Unknown(GDAL_METADATA)).unwrap();
        assert!(said.contains(">finds<") && said.contains(">1/km<"), "{said}");
        let tiff::decoder::DecodingResult::F32(pixels) = decoder.read_image().unwrap() else {
            panic!("not of 32 bits")
        };
        assert_eq!(pixels, [4.0, NOTHING, 6.0, 1.0, 2.0, 3.0]);
        let keys = decoder.get_tag_u16_vec(Tag::GeoKeyDirectoryTag).unwrap();
        assert_eq!(keys.len(), 4 * (usize::from(keys[3]) + 1));
        assert!(keys[4..].chunks(4).map(|key| key[0]).is_sorted());
    }
}
