//! Reads an ASCII grid of elevations: a header of named values, then rows from the north. Read
//! whole at first use, since text has no random access. Layer: `earth`.

use std::io::{BufRead, BufReader, Read};
use std::path::Path;

use super::{Lattice, MOST_POSTS, Window, unusable};
use crate::error::{Error, Result, open_regular};

/// Lines of the header at the most: columns, rows, corner (2), cell size (1 or 2), void.
const MOST_HEADER_LINES: usize = 7;
/// A line of a header is never longer.
const LONGEST_HEADER_LINE: u64 = 256;

#[derive(Debug)]
pub(super) struct Ascii {
    header_lines: usize,
    columns: usize,
    rows: usize,
    void: f64,
}

#[derive(Default)]
struct Header {
    columns: Option<f64>,
    rows: Option<f64>,
    left: Option<f64>,
    bottom: Option<f64>,
    by_centre: bool,
    width: Option<f64>,
    height: Option<f64>,
    void: Option<f64>,
}

/// Whether a file begins like one.
pub(super) fn looks_like(start: &[u8]) -> bool {
    let word: Vec<u8> = start
        .iter()
        .skip_while(|byte| byte.is_ascii_whitespace())
        .take(5)
        .map(u8::to_ascii_lowercase)
        .collect();
    word == b"ncols" || word == b"nrows"
}

impl Ascii {
    /// Reads the header. Without a stated system its corner must be in degrees: nothing in the file says what else it
    /// could be.
    pub(super) fn open(path: &Path, has_system: bool) -> Result<(Self, Lattice)> {
        let file = open_regular(path).map_err(|source| Error::file("read", path, &source))?;
        let (header, header_lines) = read_header(path, &mut BufReader::new(file))?;
        let lack = |name: &str| unusable(path, format!("its header has no usable {name}"));
        let (columns, rows) = (
            count(header.columns).ok_or_else(|| lack("ncols"))?,
            count(header.rows).ok_or_else(|| lack("nrows"))?,
        );
        let width = header.width.ok_or_else(|| lack("cellsize"))?;
        let height = header.height.unwrap_or(width);
        let half = if header.by_centre { 0.0 } else { 0.5 };
        let left = header.left.ok_or_else(|| lack("xllcorner"))? + half * width;
        let bottom = header.bottom.ok_or_else(|| lack("yllcorner"))? + half * height;
        let lattice = Lattice {
            system: None,
            columns,
            rows,
            left,
            top: bottom + height * (rows - 1) as f64,
            step_right: width,
            step_down: height,
        };
        if !has_system && (lattice.top.abs() > 90.0 || left.abs() > 360.0) {
            return Err(unusable(path, format!("its corner {left} {bottom} is not in degrees"))
                .hint(
                    "an ASCII grid does not name its reference system: put it before the path, \
                 as EPSG:28355=dem.asc",
                ));
        }
        let void = header.void.unwrap_or(-9_999.0);
        Ok((Self { header_lines, columns, rows, void }, lattice))
    }

    /// Reads the text from its beginning, keeping the heights of the window.
    pub(super) fn window(&self, path: &Path, window: Window) -> Result<Vec<f32>> {
        let file = open_regular(path).map_err(|source| Error::file("read", path, &source))?;
        let mut text = String::new();
        let mut reader = BufReader::new(file);
        for _ in 0..self.header_lines {
            text.clear();
            reader.read_line(&mut text).map_err(|source| Error::file("read", path, &source))?;
        }
        text.clear();
        reader.read_to_string(&mut text).map_err(|source| Error::file("read", path, &source))?;
        let mut heights = Vec::with_capacity(window.posts());
        let mut seen = 0_usize;
        for (index, word) in
            text.split_ascii_whitespace().take(self.columns * self.rows).enumerate()
        {
            seen = index + 1;
            let (row, column) = (index / self.columns, index % self.columns);
            let wanted = (window.row..window.row + window.rows).contains(&row)
                && (window.column..window.column + window.columns).contains(&column);
            if wanted {
                heights.push(self.height(path, word, index)?);
            }
        }
        if heights.len() < window.posts() {
            let expected = self.columns * self.rows;
            return Err(unusable(path, format!("it ends after {seen} of {expected} heights")));
        }
        Ok(heights)
    }

    #[allow(clippy::cast_possible_truncation, reason = "heights need no more than 32 bits")]
    fn height(&self, path: &Path, word: &str, index: usize) -> Result<f32> {
        let height: f64 = word.parse().map_err(|_| {
            unusable(path, format!("height {} of it, {word:?}, is not a number", index + 1))
        })?;
        Ok(if height == self.void { f32::NAN } else { height as f32 })
    }
}

fn read_header(path: &Path, reader: &mut impl BufRead) -> Result<(Header, usize)> {
    let mut header = Header::default();
    for lines in 0..=MOST_HEADER_LINES {
        let mut line = String::new();
        Read::by_ref(reader)
            .take(LONGEST_HEADER_LINE)
            .read_line(&mut line)
            .map_err(|source| Error::file("read", path, &source))?;
        let mut words = line.split_ascii_whitespace();
        let (Some(name), value) = (words.next(), words.next()) else { return Ok((header, lines)) };
        if !name.starts_with(|c: char| c.is_ascii_alphabetic()) || name.eq_ignore_ascii_case("nan")
        {
            return Ok((header, lines));
        }
        let value = value.and_then(|value| value.parse::<f64>().ok());
        match name.to_ascii_lowercase().as_str() {
            "ncols" => header.columns = value,
            "nrows" => header.rows = value,
            "xllcorner" => header.left = value,
            "yllcorner" => header.bottom = value,
            "xllcenter" | "xllcentre" => (header.left, header.by_centre) = (value, true),
            "yllcenter" | "yllcentre" => (header.bottom, header.by_centre) = (value, true),
            "cellsize" | "dx" => header.width = value,
            "dy" => header.height = value,
            "nodata_value" | "nodata" => header.void = value,
            other => {
                return Err(unusable(path, format!("its header has an unknown line {other:?}")));
            }
        }
    }
    Ok((header, MOST_HEADER_LINES))
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "checked just before")]
fn count(value: Option<f64>) -> Option<usize> {
    let value = value?;
    (value.fract() == 0.0 && value >= 2.0 && value <= MOST_POSTS as f64).then_some(value as usize)
}
