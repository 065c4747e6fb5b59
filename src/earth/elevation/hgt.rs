//! Reads an SRTM `.hgt` tile: rows of big-endian 16-bit metres from the north. The size gives the
//! spacing, the name gives the south-west corner, -32768 is a void. Layer: `earth`.

use std::io::{Read, Seek, SeekFrom};
use std::path::Path;

use super::{Lattice, Window, unusable};
use crate::error::{Error, Result, open_regular};

/// Posts on a side: at 3, 2 and 1 seconds of arc.
const SIDES: [usize; 3] = [1_201, 1_801, 3_601];
const VOID: i16 = -32_768;

#[derive(Debug)]
pub(super) struct Hgt {
    side: usize,
}

/// Whether a file has the ending of a tile, or exactly the size of one.
pub(super) fn looks_like(path: &Path) -> bool {
    let ending = path.extension().is_some_and(|end| end.eq_ignore_ascii_case("hgt"));
    let sized = |bytes: u64| SIDES.into_iter().any(|side| (side * side * 2) as u64 == bytes);
    let length = path.metadata().map_or(0, |found| found.len());
    length > 0 && (ending || sized(length))
}

impl Hgt {
    /// Size and name decide everything: the file has no header.
    pub(super) fn open(path: &Path) -> Result<(Self, Lattice)> {
        let bytes = path.metadata().map_err(|source| Error::file("read", path, &source))?.len();
        let side =
            SIDES.into_iter().find(|side| (side * side * 2) as u64 == bytes).ok_or_else(|| {
                unusable(
                    path,
                    format!("it has {bytes} bytes, an .hgt tile has 2884802, 6487202 or 25934402"),
                )
            })?;
        let (south, west) = corner(path).ok_or_else(|| {
            unusable(path, "its name does not state its corner, as N57E011.hgt or S43E146.hgt does")
        })?;
        let step = 1.0 / (side - 1) as f64;
        let lattice = Lattice {
            system: None,
            columns: side,
            rows: side,
            left: west,
            top: south + 1.0,
            step_right: step,
            step_down: step,
        };
        Ok((Self { side }, lattice))
    }

    /// Reads the rows of a window, no more; voids become NaN.
    pub(super) fn window(&self, path: &Path, window: Window) -> Result<Vec<f32>> {
        let failed = |source: std::io::Error| Error::file("read", path, &source);
        let mut file = open_regular(path).map_err(failed)?;
        let mut heights = Vec::with_capacity(window.posts());
        let mut row = vec![0_u8; window.columns * 2];
        for down in window.row..window.row + window.rows {
            let start = (down * self.side + window.column) * 2;
            file.seek(SeekFrom::Start(start as u64)).map_err(failed)?;
            file.read_exact(&mut row).map_err(failed)?;
            heights.extend(row.as_chunks::<2>().0.iter().map(|pair| {
                match i16::from_be_bytes(*pair) {
                    VOID => f32::NAN,
                    metres => f32::from(metres),
                }
            }));
        }
        Ok(heights)
    }
}

/// South-west corner in whole degrees from `N57E011`.
fn corner(path: &Path) -> Option<(f64, f64)> {
    let name = path.file_stem()?.to_str()?.to_ascii_uppercase();
    let (half, rest) = (name.get(..1)?, name.get(1..)?);
    let (degrees_north, rest) = (rest.get(..2)?.parse::<u8>().ok()?, rest.get(2..)?);
    let (side, degrees_east) = (rest.get(..1)?, rest.get(1..4)?.parse::<u8>().ok()?);
    let north = match half {
        "N" => 1.0,
        "S" => -1.0,
        _ => return None,
    };
    let east = match side {
        "E" => 1.0,
        "W" => -1.0,
        _ => return None,
    };
    let on_the_globe = degrees_north <= 90 && degrees_east <= 180;
    on_the_globe.then(|| (f64::from(degrees_north) * north, f64::from(degrees_east) * east))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_name_tells_the_corner() {
        assert_eq!(corner(Path::new("x/N57E011.hgt")), Some((57.0, 11.0)));
        assert_eq!(corner(Path::new("s43w146.SRTMGL1.hgt")), Some((-43.0, -146.0)));
        for name in
            ["", "N57", "X57E011.hgt", "N57E1.hgt", "N99E011.hgt", "N57E200.hgt", "\u{e9}57E011"]
        {
            assert_eq!(corner(Path::new(name)), None, "{name}");
        }
    }
}
