//! Reads a GeoTIFF of elevations: one band, georeferenced by its tags, in any system of the EPSG
//! register. Only the strips or tiles needed are decompressed. Layer: `earth`.

use std::fs::File;
use std::io::BufReader;
use std::path::Path;

use tiff::decoder::{Decoder, DecodingResult, Limits};
use tiff::tags::Tag;

use super::{Lattice, Window, unusable};
use crate::error::{Error, Result, open_regular};

/// `GTModelTypeGeoKey`, `GTRasterTypeGeoKey`, `GeographicTypeGeoKey` and `ProjectedCSTypeGeoKey`.
const MODEL: u16 = 1_024;
const RASTER: u16 = 1_025;
const GEOGRAPHIC: u16 = 2_048;
const PROJECTED: u16 = 3_072;

/// The largest strip or tile, bytes; a file in one strip of 4,000 by 4,000 heights of four bytes.
const LARGEST_PART: usize = 64 << 20;

#[derive(Debug)]
pub(super) struct GeoTiff {
    void: Option<f64>,
}

type Reader = Decoder<BufReader<File>>;

impl GeoTiff {
    /// Reads the tags. Where posts stand in their cells follows from the raster type: in the centre unless the file
    /// says that its values are points.
    pub(super) fn open(path: &Path) -> Result<(Self, Lattice)> {
        let mut file = decoder(path)?;
        let (columns, rows) =
            file.dimensions().map_err(|reason| unusable(path, reason.to_string()))?;
        let keys = file.get_tag_u16_vec(Tag::GeoKeyDirectoryTag).unwrap_or_default();
        let (left, top, step_right, step_down) = placing(path, &mut file)?;
        // by default a value applies to the area of its cell: its post is at the centre
        let half = if key(&keys, RASTER) == Some(2) { 0.0 } else { 0.5 };
        let lattice = Lattice {
            system: system(path, &keys)?,
            columns: usize::try_from(columns).unwrap_or(0),
            rows: usize::try_from(rows).unwrap_or(0),
            left: left + half * step_right,
            top: top - half * step_down,
            step_right,
            step_down,
        };
        let void = file
            .get_tag_ascii_string(Tag::GdalNodata)
            .ok()
            .and_then(|text| text.trim_matches(['\0', ' ']).parse().ok());
        Ok((Self { void }, lattice))
    }

    /// Decompresses the strips or tiles that meet the window, each once; of several bands the first counts.
    pub(super) fn window(&self, path: &Path, window: Window) -> Result<Vec<f32>> {
        let mut file = decoder(path)?;
        let failed = |reason: tiff::TiffError| unusable(path, reason.to_string());
        let (width, height) = file.dimensions().map_err(failed)?;
        let (across, down) = file.chunk_dimensions();
        let [width, height, across, down] =
            [width, height, across, down].map(|n| usize::try_from(n).unwrap_or(1).max(1));
        let per_row = width.div_ceil(across);
        let mut heights = vec![f32::NAN; window.posts()];
        for chunk_row in window.row / down..=(window.row + window.rows - 1) / down {
            for chunk_column in
                window.column / across..=(window.column + window.columns - 1) / across
            {
                let index = u32::try_from(chunk_row * per_row + chunk_column)
                    .map_err(|_| unusable(path, "it has too many parts"))?;
                let part = file.read_chunk(index).map_err(failed)?;
                let count = count(&part)
                    .ok_or_else(|| unusable(path, "its values are not plain numbers"))?;
                let chunk = Window {
                    column: chunk_column * across,
                    row: chunk_row * down,
                    columns: across.min(width - chunk_column * across),
                    rows: down.min(height - chunk_row * down),
                };
                self.copy((&part, count), chunk, window, &mut heights);
            }
        }
        Ok(heights)
    }

    /// The common posts of a part of the file and the window.
    #[allow(clippy::cast_possible_truncation, reason = "heights need no more than 32 bits")]
    fn copy(
        &self,
        (part, count): (&DecodingResult, usize),
        chunk: Window,
        window: Window,
        heights: &mut [f32],
    ) {
        // several bands: the first is the height
        let bands = (count / chunk.posts().max(1)).max(1);
        let first = chunk.column.max(window.column);
        let last = (chunk.column + chunk.columns).min(window.column + window.columns);
        let rows =
            chunk.row.max(window.row)..(chunk.row + chunk.rows).min(window.row + window.rows);
        for row in rows {
            for column in first..last {
                let from = ((row - chunk.row) * chunk.columns + column - chunk.column) * bands;
                let to = (row - window.row) * window.columns + column - window.column;
                if let (Some(value), Some(height)) = (number(part, from), heights.get_mut(to))
                    && self.void != Some(value)
                {
                    *height = value as f32;
                }
            }
        }
    }
}

fn decoder(path: &Path) -> Result<Reader> {
    let file = open_regular(path).map_err(|source| Error::file("read", path, &source))?;
    // a part is decompressed whole: a larger stated size is refused before memory is allocated
    let mut limits = Limits::default();
    limits.decoding_buffer_size = LARGEST_PART;
    limits.intermediate_buffer_size = LARGEST_PART;
    Decoder::new(BufReader::new(file))
        .map(|decoder| decoder.with_limits(limits))
        .map_err(|reason| unusable(path, reason.to_string()))
}

/// Left, top and the two steps, from pixel scale and tie point or from a matrix without rotation.
fn placing(path: &Path, file: &mut Reader) -> Result<(f64, f64, f64, f64)> {
    let scale = file.get_tag_f64_vec(Tag::ModelPixelScaleTag).ok();
    let tie = file.get_tag_f64_vec(Tag::ModelTiepointTag).ok();
    if let (Some([across, down, ..]), Some([column, row, _, x, y, ..])) =
        (scale.as_deref(), tie.as_deref())
    {
        return Ok((x - column * across, y + row * down, *across, *down));
    }
    let matrix = file.get_tag_f64_vec(Tag::ModelTransformationTag).ok();
    if let Some([a, b, _, d, e, f, _, h, ..]) = matrix.as_deref() {
        if *b == 0.0 && *e == 0.0 {
            return Ok((*d, *h, *a, -f));
        }
        return Err(unusable(path, "it is rotated against its grid").hint("resample it north up"));
    }
    Err(unusable(path, "it has no georeference (no pixel scale and tie point)"))
}

fn system(path: &Path, keys: &[u16]) -> Result<Option<String>> {
    let code = match key(keys, MODEL) {
        Some(1) => key(keys, PROJECTED),
        Some(2) | None => key(keys, GEOGRAPHIC),
        Some(other) => {
            return Err(unusable(
                path,
                format!("its model type is {other}, neither projected nor geographic"),
            ));
        }
    };
    match code {
        Some(4_326) => Ok(None),
        Some(32_767) => Err(unusable(path, "its system has no EPSG code")
            .hint("put the code before the path, as EPSG:28355=dem.tif, if you know it")),
        Some(code) => Ok(Some(format!("EPSG:{code}"))),
        None if key(keys, MODEL) == Some(1) => Err(unusable(path, "it does not name its system")),
        None => Ok(None),
    }
}

/// The value of a key that is held in the directory itself: four words an entry, after four of the
/// head.
fn key(keys: &[u16], wanted: u16) -> Option<u16> {
    keys.chunks_exact(4)
        .skip(1)
        .find(|entry| entry[0] == wanted && entry[1] == 0)
        .map(|entry| entry[3])
}

/// The number of values of a part; `None` where they are not plain numbers.
fn count(part: &DecodingResult) -> Option<usize> {
    Some(match part {
        DecodingResult::U8(values) => values.len(),
        DecodingResult::U16(values) => values.len(),
        DecodingResult::U32(values) => values.len(),
        DecodingResult::I8(values) => values.len(),
        DecodingResult::I16(values) => values.len(),
        DecodingResult::I32(values) => values.len(),
        DecodingResult::F32(values) => values.len(),
        DecodingResult::F64(values) => values.len(),
        _ => return None,
    })
}

/// One value of a part.
fn number(part: &DecodingResult, index: usize) -> Option<f64> {
    match part {
        DecodingResult::U8(values) => values.get(index).copied().map(f64::from),
        DecodingResult::U16(values) => values.get(index).copied().map(f64::from),
        DecodingResult::U32(values) => values.get(index).copied().map(f64::from),
        DecodingResult::I8(values) => values.get(index).copied().map(f64::from),
        DecodingResult::I16(values) => values.get(index).copied().map(f64::from),
        DecodingResult::I32(values) => values.get(index).copied().map(f64::from),
        DecodingResult::F32(values) => values.get(index).copied().map(f64::from),
        DecodingResult::F64(values) => values.get(index).copied(),
        _ => None,
    }
}
