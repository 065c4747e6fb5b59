//! Looks up elevations in tiles (`.hgt`, GeoTIFF, ASCII grid), several combined, read only where
//! needed. A void is a missing value, never zero; the sea is not filled in. Layer: `earth`.
//!
//! | format | recognised by | reference system |
//! |---|---|---|
//! | SRTM `.hgt` | size, and the name (`S43E146.hgt`) | WGS 84 |
//! | GeoTIFF, uncompressed, deflate or LZW | its first bytes | its tags, or a code before the path |
//! | ASCII grid | `ncols` or `nrows` at its beginning | degrees, or a code before the path |
//!
//! [`Relief::open`] reads headers only; [`Relief::read`] takes the window that is asked for into memory as [`Ground`],
//! which then answers any number of questions. Where tiles overlap the finest one with a height at the place answers.
//!
//! Heights outside of -600 to 9,000 m count as voids. An area takes at most 800 MB; a tile of a small file at most
//! twice the file and 200 MB, against files that unpack to far more than they are.

mod about;
mod ascii;
mod geotiff;
mod hgt;
mod patch;

use std::io::Read;
use std::path::{Path, PathBuf};

use self::patch::Patch;
use super::height_grid::GroundArea;
use crate::error::{Error, Result, open_regular};
use crate::units::{Degrees, LatLon, Metres, SeaLevelHeight};

/// The most posts for one area: 800 MB.
const MOST_POSTS: usize = 200_000_000;
/// The posts that are read of a file of any size; 200 MB.
const POSTS_OF_ANY_FILE: u64 = 50_000_000;

/// Elevation tiles, opened but not read.
///
/// Opening many tiles costs little: each keeps its path and the position of its posts. Files are opened again when they
/// are read, and must not change in between.
///
/// # Examples
/// ```no_run
/// use trug::earth::elevation::{Bounds, Relief};
/// use trug::units::{LatLon, Metres};
///
/// let hut = LatLon::new(-42.88, 146.12)?;
/// let relief = Relief::open(&["S43E146.hgt".into(), "EPSG:28355=ridge.asc".into()])?;
/// let bounds = Bounds::about(&[hut], Metres(500.0)).ok_or("no place")?;
/// if let Some(height) = relief.read(&bounds)?.height(hut) {
///     println!("{} above the sea", height.0);
/// }
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Default)]
pub struct Relief {
    tiles: Vec<Tile>,
}

/// One tile: positions of its posts and how to read them.
#[derive(Debug)]
struct Tile {
    path: PathBuf,
    source: Source,
    lattice: Lattice,
}

/// Posts in rows from the top, in degrees of WGS 84 or in another system.
#[derive(Clone, Debug, PartialEq)]
struct Lattice {
    /// `None` is WGS 84.
    system: Option<String>,
    columns: usize,
    rows: usize,
    /// Of the first post: longitude or easting.
    left: f64,
    /// Of the first post: latitude or northing.
    top: f64,
    step_right: f64,
    step_down: f64,
}

#[derive(Debug)]
enum Source {
    Hgt(hgt::Hgt),
    GeoTiff(geotiff::GeoTiff),
    Ascii(ascii::Ascii),
}

/// A part of a tile: first column and row, and how many of them.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Window {
    column: usize,
    row: usize,
    columns: usize,
    rows: usize,
}

impl Window {
    fn posts(self) -> usize {
        self.columns.saturating_mul(self.rows)
    }
}

/// A piece of the globe between two latitudes and two longitudes; may lie across 180 degrees.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bounds {
    south: f64,
    north: f64,
    west: f64,
    width: f64,
}

impl Bounds {
    /// The bounds about these places with a margin on all sides; `None` without a place.
    ///
    /// The smallest box that holds them, the shorter way round the globe, with the margin added on each side (in
    /// longitude by the parallel nearest to a pole, so that it is never too narrow).
    ///
    /// # Examples
    /// ```
    /// use trug::earth::elevation::Bounds;
    /// use trug::units::{LatLon, Metres};
    ///
    /// let across = [LatLon::new(-17.0, 179.9)?, LatLon::new(-17.1, -179.9)?];
    /// let (south, north, west, width) = Bounds::about(&across, Metres(0.0)).ok_or("no place")?.sides();
    /// assert_eq!((south, north, west), (-17.1, -17.0, 179.9));
    /// assert!((width - 0.2).abs() < 1e-9);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn about(places: &[LatLon], margin: Metres) -> Option<Self> {
        let first = places.first()?;
        let (mut south, mut north) = (first.latitude(), first.latitude());
        let (mut left, mut right) = (0.0_f64, 0.0_f64);
        for place in places {
            south = south.min(place.latitude());
            north = north.max(place.latitude());
            let east = Degrees(place.longitude() - first.longitude()).shortest_turn().0;
            left = left.min(east);
            right = right.max(east);
        }
        let up = margin.0.max(0.0) / 110_574.0;
        (south, north) = ((south - up).max(-90.0), (north + up).min(90.0));
        let narrowest = south.abs().max(north.abs()).to_radians().cos().max(1e-3);
        let aside = up / narrowest;
        Some(Self {
            south,
            north,
            west: first.longitude() + left - aside,
            width: (right - left + 2.0 * aside).min(360.0),
        })
    }

    /// Its southern, northern and western side, and its width eastward, all in degrees. The western side may
    /// lie beyond 180 degrees.
    #[must_use]
    pub fn sides(&self) -> (f64, f64, f64, f64) {
        (self.south, self.north, self.west, self.width)
    }

    /// The place at a share of the way from the western to the eastern edge and from the southern
    /// to the northern.
    fn at(&self, eastward: f64, northward: f64) -> LatLon {
        LatLon::clamped(
            self.south + (self.north - self.south) * northward,
            self.west + self.width * eastward,
        )
    }

    /// The shares of a place: the inverse of `at`.
    fn share(&self, place: LatLon) -> (f64, f64) {
        let middle = self.west + self.width / 2.0;
        let east = Degrees(place.longitude() - middle).shortest_turn().0 + self.width / 2.0;
        (
            east / self.width.max(f64::MIN_POSITIVE),
            (place.latitude() - self.south) / (self.north - self.south).max(f64::MIN_POSITIVE),
        )
    }
}

impl Relief {
    /// Opens tiles; a path may be led by the code of its system where the file does not say it:
    /// `EPSG:28355=dem.asc`.
    ///
    /// The content decides what a file is, not its ending; only an `.hgt` tile needs its name, since nothing in it says
    /// where it lies. Where a file exists whose name has the form `CODE=path` it is taken as that file.
    ///
    /// # Errors
    /// When a file is no elevation tile that trug reads; the first one is reported.
    pub fn open(paths: &[PathBuf]) -> Result<Self> {
        paths.iter().map(|path| Tile::open(path)).collect::<Result<_>>().map(|tiles| Self { tiles })
    }

    /// The ground distance between posts of the finest tile at this place; `None` without a tile.
    #[must_use]
    pub fn spacing(&self, at: LatLon) -> Option<Metres> {
        self.tiles.iter().map(|tile| tile.lattice.spacing(at)).reduce(Metres::min)
    }

    /// The ground distance between posts of the finest tile that covers a part of an area; `None`
    /// without one.
    #[must_use]
    pub fn spacing_within(&self, area: &GroundArea) -> Option<Metres> {
        let bounds = area.bounds(Metres(0.0))?;
        let covers = |tile: &&Tile| Patch::meets(tile, &bounds);
        self.tiles
            .iter()
            .filter(covers)
            .map(|tile| tile.lattice.spacing(area.middle))
            .reduce(Metres::min)
    }

    /// Reads the elevations within the bounds.
    ///
    /// A tile in another reference system is reached through a net of 33 by 33 converted positions, bilinear between
    /// them: within a few centimetres over 30 km.
    ///
    /// # Errors
    /// When a tile cannot be read, or the bounds would take more than 800 MB.
    pub fn read(&self, bounds: &Bounds) -> Result<Ground> {
        let mut patches = Vec::new();
        for tile in &self.tiles {
            patches.extend(Patch::read(tile, bounds)?);
        }
        patches.sort_by(|a, b| a.fineness().total_cmp(&b.fineness()));
        Ok(Ground { patches })
    }
}

/// Elevations in memory.
///
/// Holds 32-bit heights: four bytes for each post of each tile within the bounds.
#[derive(Debug)]
pub struct Ground {
    /// The finest first.
    patches: Vec<Patch>,
}

impl Ground {
    /// The height at a place, bilinear between the four posts around it; `None` where no tile lies,
    /// at a void, and outside of what was read.
    ///
    /// # Accuracy
    /// Exact at the posts. The accuracy of the tile itself is that of its source: for SRTM 16 m at
    /// the 90 % level (Farr et al. 2007, The Shuttle Radar Topography Mission,
    /// doi:10.1029/2005RG000183), and it includes canopy height.
    ///
    /// # Examples
    /// A grid of two by two posts, a hundredth of a degree apart:
    ///
    /// ```
    /// use trug::earth::elevation::{Bounds, Relief};
    /// use trug::units::{LatLon, Metres};
    ///
    /// let folder = tempfile::tempdir()?;
    /// let path = folder.path().join("ridge.asc");
    /// std::fs::write(
    ///     &path,
    ///     "ncols 2\nnrows 2\nxllcenter 146.10\nyllcenter -42.62\ncellsize 0.01\n400 420\n440 460\n",
    /// )?;
    /// let middle = LatLon::new(-42.615, 146.105)?;
    /// let bounds = Bounds::about(&[middle], Metres(10.0)).ok_or("no place")?;
    /// let ground = Relief::open(&[path])?.read(&bounds)?;
    /// let height = ground.height(middle).ok_or("no height")?;
    /// assert!((height.0.0 - 430.0).abs() < 1e-6);
    /// assert!(ground.height(LatLon::new(-42.70, 146.20)?).is_none());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn height(&self, place: LatLon) -> Option<SeaLevelHeight> {
        self.found(place).map(|(height, _)| SeaLevelHeight(Metres(height)))
    }

    /// The height in metres and the finest patch that has one.
    fn found(&self, place: LatLon) -> Option<(f64, &Patch)> {
        self.patches.iter().find_map(|patch| Some((patch.height(place)?, patch)))
    }

    /// Whether no tile lies here at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.patches.is_empty()
    }
}

/// Whether a file that begins with these bytes is an elevation tile, though perhaps a damaged one or one without a
/// known reference system. Nothing in an `.hgt` tile says what it is: its name or its exact size does.
#[must_use]
pub fn looks_like_tile(path: &Path, start: &[u8]) -> bool {
    let tiff = matches!(start, [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..]);
    tiff || ascii::looks_like(start) || hgt::looks_like(path)
}

impl Tile {
    fn open(given: &Path) -> Result<Self> {
        let (system, path) = led_by_system(given);
        let mut file = open_regular(&path).map_err(|source| Error::file("read", &path, &source))?;
        let mut start = Vec::new();
        Read::by_ref(&mut file)
            .take(512)
            .read_to_end(&mut start)
            .map_err(|source| Error::file("read", &path, &source))?;
        let (source, mut lattice) = match start.as_slice() {
            [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => {
                let (source, lattice) = geotiff::GeoTiff::open(&path)?;
                (Source::GeoTiff(source), lattice)
            }
            text if ascii::looks_like(text) => {
                let (source, lattice) = ascii::Ascii::open(&path, system.is_some())?;
                (Source::Ascii(source), lattice)
            }
            _ => {
                let (source, lattice) = hgt::Hgt::open(&path)?;
                (Source::Hgt(source), lattice)
            }
        };
        if system.is_some() {
            lattice.system = system;
        }
        lattice.check(&path)?;
        Ok(Self { path, source, lattice })
    }

    /// The most posts that are read of it at once, against decompression bombs. In bytes, twice the
    /// file and 200 MB.
    fn most_posts(&self) -> usize {
        let bytes = self.path.metadata().map_or(0, |metadata| metadata.len());
        let posts = POSTS_OF_ANY_FILE.saturating_add(bytes / 2);
        usize::try_from(posts).unwrap_or(MOST_POSTS).min(MOST_POSTS)
    }

    /// The heights of a window in rows from the top, voids as NaN.
    fn window(&self, window: Window) -> Result<Vec<f32>> {
        let mut heights = match &self.source {
            Source::Hgt(source) => source.window(&self.path, window),
            Source::GeoTiff(source) => source.window(&self.path, window),
            Source::Ascii(source) => source.window(&self.path, window),
        }?;
        // limits: the shore of the Dead Sea and the highest mountain
        for height in &mut heights {
            if !(-600.0..=9_000.0).contains(height) {
                *height = f32::NAN;
            }
        }
        Ok(heights)
    }
}

impl Lattice {
    fn check(&self, path: &Path) -> Result<()> {
        let sound = self.step_right > 0.0
            && self.step_down > 0.0
            && [self.left, self.top, self.step_right, self.step_down].iter().all(|n| n.is_finite())
            && self.columns > 1
            && self.rows > 1;
        if sound {
            return Ok(());
        }
        Err(unusable(
            path,
            format!(
                "its posts cannot be placed: {} x {} posts from {} {} in steps of {} and {}",
                self.columns, self.rows, self.left, self.top, self.step_right, self.step_down
            ),
        ))
    }

    fn spacing(&self, at: LatLon) -> Metres {
        if self.system.is_some() && self.step_right > 0.1 {
            return Metres(self.step_right.min(self.step_down));
        }
        let across = self.step_right * 111_320.0 * at.latitude().to_radians().cos();
        Metres(across.min(self.step_down * 110_574.0).max(0.5))
    }
}

/// `EPSG:28355=dem.asc` as system and path, unless a file of that very name exists.
pub(crate) fn led_by_system(given: &Path) -> (Option<String>, PathBuf) {
    let split = given.to_str().and_then(|text| text.split_once('='));
    match split {
        Some((system, path)) if !given.exists() => (Some(system.to_owned()), path.into()),
        _ => (None, given.to_owned()),
    }
}

fn unusable(path: &Path, why: impl Into<String>) -> Error {
    let name = path.file_name().unwrap_or(path.as_os_str()).to_string_lossy();
    Error::input(format!("{name} is not an elevation tile that trug can read"))
        .because(why)
        .hint("trug reads SRTM .hgt, GeoTIFF (uncompressed, deflate, LZW) and ASCII grids")
        .in_file(path)
}

#[cfg(test)]
mod tests;
