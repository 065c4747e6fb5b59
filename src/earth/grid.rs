//! Converts positions to UTM and MGRS references on WGS 84 and computes grid convergence, with the
//! exceptions of Norway and Svalbard and the polar grid. `datum` converts other national grids.
//! Layer: `earth`.
//!
//! UTM and MGRS name positions in metres and are what most field maps print. Both depend on the datum: here it is
//! WGS 84; a reference read off an older map belongs to another datum and can be off by hundreds of metres
//! ([`super::datum::to_wgs84`] takes `GDA94 / MGA zone 55` and the like).
//!
//! An MGRS reference names a square, not a point: ten digits name a square of 1 m, six digits one of 100 m.
//! [`MgrsSquare`] keeps its corner, its centre and its side, and the uncertainty of the centre is
//! [`MgrsSquare::half_diagonal`].

use std::fmt;

use geoconvert::{Mgrs, UtmUps};

use crate::error::{Error, Result};
use crate::units::{Degrees, GridConvergence, LatLon, Metres};

const TILE: f64 = 100_000.0;
/// Letters without I and O, as both grids use them.
const LETTERS: [u8; 24] = *b"ABCDEFGHJKLMNPQRSTUVWXYZ";
/// Columns of the polar grid left out of it also D, E, M, N, V and W.
const POLAR_COLUMNS: [u8; 18] = *b"ABCFGHJKLPQRSTUXYZ";

/// A position on the Universal Transverse Mercator grid, or near the poles on the Universal Polar
/// Stereographic one.
///
/// Always a position that exists: [`Utm::new`] checks it. Kept in the zone in which it was written, which need not be
/// the zone of [`utm`]: maps extend past the border of theirs.
///
/// # Examples
/// ```
/// use trug::earth::grid::Utm;
/// let written = Utm::new(55, false, 447_562.0, 5_250_230.0)?;
/// assert_eq!(written.to_latlon().to_string(), "42.89874 S 146.35771 E");
/// assert!(Utm::new(61, false, 447_562.0, 5_250_230.0).is_err());
/// # Ok::<(), trug::error::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Utm {
    zone: u8,
    north: bool,
    easting: f64,
    northing: f64,
}

/// A square of the Military Grid Reference System.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MgrsSquare {
    /// The south-west corner: the point that the digits name.
    pub corner: LatLon,
    /// The centre: the best point estimate.
    pub centre: LatLon,
    /// The length of a side.
    pub side: Metres,
}

impl MgrsSquare {
    /// From the centre to a corner: the largest distance within the square.
    ///
    /// 71 m for a square of 100 m: the uncertainty of the centre by the published table.
    ///
    /// # References
    /// Zermoglio et al., Georeferencing Quick Reference Guide: uncertainty of grid references by their digits; held by
    /// `tests/reference`.
    #[must_use]
    pub fn half_diagonal(&self) -> Metres {
        self.side * std::f64::consts::FRAC_1_SQRT_2
    }
}

impl Utm {
    /// The position with these coordinates; zone 0 is the polar grid.
    ///
    /// # Units
    /// Metres, false easting and northing included.
    ///
    /// # Errors
    /// When the zone does not exist or the coordinates lie outside it.
    pub fn new(zone: u8, north: bool, easting: f64, northing: f64) -> Result<Self> {
        UtmUps::create(i32::from(zone), north, easting, northing).map_err(|reason| {
            let half = if north { "north" } else { "south" };
            Error::input(format!("no such UTM position: zone {zone} {half} {easting} {northing}"))
                .because(reason.to_string())
                .hint(
                    "a UTM easting has six digits, a northing up to seven, zones run from 1 to 60",
                )
        })?;
        Ok(Self { zone, north, easting, northing })
    }

    /// 1 to 60; 0 on the polar grid.
    #[must_use]
    pub fn zone(self) -> u8 {
        self.zone
    }

    /// Whether north of the equator.
    #[must_use]
    pub fn is_north(self) -> bool {
        self.north
    }

    /// Metres, false easting included.
    #[must_use]
    pub fn easting(self) -> Metres {
        Metres(self.easting)
    }

    /// Metres, false northing included.
    #[must_use]
    pub fn northing(self) -> Metres {
        Metres(self.northing)
    }

    /// To a tenth of a millimetre: a place on a grid line does not fall below it by the last bit of its figures.
    fn without_noise(self) -> Self {
        let rounded = |metres: f64| (metres * 1e4).round() / 1e4;
        Self { easting: rounded(self.easting), northing: rounded(self.northing), ..self }
    }

    /// The position on WGS 84.
    ///
    /// The inverse of [`utm`].
    #[must_use]
    pub fn to_latlon(self) -> LatLon {
        UtmUps::create(i32::from(self.zone), self.north, self.easting, self.northing)
            .map(|grid| grid.to_latlon())
            .map_or_else(
                |_| LatLon::clamped(0.0, 0.0),
                |at| LatLon::clamped(at.latitude(), at.longitude()),
            )
    }
}

impl fmt::Display for Utm {
    /// `zone 55 south 447562 E 5250230 N`: no band letter, since S is also the letter of a band.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let half = if self.north { "north" } else { "south" };
        let grid = if self.zone == 0 { "polar".to_owned() } else { format!("zone {}", self.zone) };
        f.pad(&format!("{grid} {half} {:.0} E {:.0} N", self.easting, self.northing))
    }
}

/// The UTM position; poleward of 84 north and 80 south the polar one.
///
/// # Accuracy
/// 1 mm and the zone exact against pyproj.
///
/// # Examples
/// ```
/// use trug::{earth::grid, units::LatLon};
/// let bergen = grid::utm(LatLon::new(60.4, 5.3)?);
/// assert_eq!(bergen.to_string(), "zone 32 north 296192 E 6701684 N");
/// # Ok::<(), trug::units::OffTheGlobe>(())
/// ```
///
/// # References
/// `NGA.SIG.0012_2.0.0_UTMUPS`, 2014; Karney 2011, Transverse Mercator with an accuracy of a few
/// nanometers, J. Geodesy 85, 475-485, doi:10.1007/s00190-011-0445-3.
#[must_use]
pub fn utm(place: LatLon) -> Utm {
    // geoconvert counts the date line as 180 west
    let longitude = if place.longitude() >= 180.0 { -180.0 } else { place.longitude() };
    let grid =
        geoconvert::LatLon::create(place.latitude(), longitude).map(|at| UtmUps::from_latlon(&at));
    let Ok(grid) = grid else {
        return Utm { zone: 31, north: true, easting: 166_021.443, northing: 0.0 };
    };
    Utm {
        zone: u8::try_from(grid.zone()).unwrap_or(0),
        north: grid.is_north(),
        easting: grid.easting(),
        northing: grid.northing(),
    }
}

/// The MGRS reference of the square with this side that holds the place: 1, 10, 100, 1,000 or
/// 10,000 m (the next finer one for a side between).
///
/// Without spaces. The digits are cut off, as the standard says, so that the square holds the place. Poleward of 84
/// north and 80 south the reference is of the polar grid and has no zone number.
///
/// # Examples
/// ```
/// use trug::{earth::grid, units::{LatLon, Metres}};
/// let reference = grid::mgrs(LatLon::new(78.22, 15.63)?, Metres(1.0));
/// assert_eq!(reference, "33XWG1435782999");
/// # Ok::<(), trug::units::OffTheGlobe>(())
/// ```
#[must_use]
pub fn mgrs(place: LatLon, side: Metres) -> String {
    let figures = match side.0 {
        side if side >= 10_000.0 => 1,
        side if side >= 1_000.0 => 2,
        side if side >= 100.0 => 3,
        side if side >= 10.0 => 4,
        _ => 5,
    };
    let grid = utm(place);
    let grid = grid.without_noise();
    let letters = if grid.zone == 0 { polar_square(grid) } else { square(grid, place.latitude()) };
    let unit = 10_f64.powi(5 - figures);
    let width = usize::try_from(figures).unwrap_or(5);
    let part = |metres: f64| (metres.rem_euclid(TILE) / unit).floor();
    format!("{letters}{:0width$}{:0width$}", part(grid.easting), part(grid.northing))
}

/// The letter at an index that wraps around.
fn letter(letters: &[u8], index: f64) -> char {
    let count = letters.len() as f64;
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "in 0..count")]
    let index = index.rem_euclid(count) as usize;
    char::from(letters.get(index).copied().unwrap_or(b'A'))
}

/// Zone, band, column and row, by the lettering of NGA.SIG.0012.
fn square(grid: Utm, latitude: f64) -> String {
    let zone = f64::from(grid.zone);
    let band = ((latitude + 80.0) / 8.0).floor().clamp(0.0, 19.0) + 2.0;
    let column = ((zone - 1.0).rem_euclid(3.0)) * 8.0 + (grid.easting / TILE).floor() - 1.0;
    let row = (grid.northing / TILE).floor() + if grid.zone.is_multiple_of(2) { 5.0 } else { 0.0 };
    format!(
        "{:02}{}{}{}",
        grid.zone,
        letter(&LETTERS, band),
        letter(&LETTERS, column),
        letter(&LETTERS[..20], row)
    )
}

fn polar_square(grid: Utm) -> String {
    let (column, row) = ((grid.easting / TILE).floor(), (grid.northing / TILE).floor());
    let east = column >= 20.0;
    let band = match (grid.north, east) {
        (false, false) => 'A',
        (false, true) => 'B',
        (true, false) => 'Y',
        (true, true) => 'Z',
    };
    // both grids count columns outward from the pole, at 2,000 km: A to the east, Z to the west
    let column = letter(&POLAR_COLUMNS, column - 20.0);
    let first = if grid.north { 13.0 } else { 8.0 };
    format!("{band}{column}{}", letter(&LETTERS, row - first))
}

/// The square of an MGRS reference, spaces allowed, 0 to 5 digits each way.
///
/// Any case; spaces anywhere. The number of digits gives the side: none 100 km, ten 1 m. What the side hides is not
/// known to the writer either, so use the centre with half the diagonal as its bound.
///
/// # Errors
/// When it is not a reference, with the reason.
///
/// # Examples
/// ```
/// use trug::earth::grid;
/// let square = grid::from_mgrs("31N AA 660 000")?;
/// assert_eq!(square.side.0, 100.0);
/// # Ok::<(), trug::error::Error>(())
/// ```
pub fn from_mgrs(reference: &str) -> Result<MgrsSquare> {
    let refuse = |why: String| {
        Error::input(format!("{reference:?} is not an MGRS reference")).because(why).hint(
            "write it like 55GEN 47562 50230: zone, band, two letters, as many digits east \
             as north",
        )
    };
    let bare: String =
        reference.chars().filter(|c| !c.is_whitespace()).flat_map(char::to_uppercase).collect();
    let figures = figures_of(&bare).map_err(refuse)?;
    let grid = Mgrs::parse_str(&bare).map_err(|reason| refuse(reason.to_string()))?;
    let side = 10_f64.powi(5 - figures);
    let zone = u8::try_from(grid.zone()).unwrap_or(0);
    let at = |off: f64| {
        Utm::new(zone, grid.is_north(), grid.easting() + off, grid.northing() + off)
            .map(Utm::to_latlon)
    };
    Ok(MgrsSquare { corner: at(-side / 2.0)?, centre: at(0.0)?, side: Metres(side) })
}

/// The number of digits each way, if it has the form of a reference.
fn figures_of(bare: &str) -> std::result::Result<i32, String> {
    let zone = bare.bytes().take_while(u8::is_ascii_digit).count();
    let rest = bare.get(zone..).unwrap_or_default();
    let letters = rest.bytes().take_while(u8::is_ascii_uppercase).count();
    let figures = rest.get(letters..).unwrap_or_default();
    if zone > 2 || letters != 3 {
        return Err("up to two digits and three letters come first".to_owned());
    }
    if !figures.bytes().all(|byte| byte.is_ascii_digit()) {
        return Err(format!("{figures:?} are not digits"));
    }
    if figures.len() % 2 == 1 || figures.len() > 10 {
        return Err(format!(
            "it has {} digits after the letters; 0, 2, 4, 6, 8 or 10 are possible",
            figures.len()
        ));
    }
    Ok(i32::try_from(figures.len() / 2).unwrap_or(5))
}

/// The angle from true to grid north of the place's own UTM zone (or polar grid), east positive.
///
/// Zero on the central meridian of the zone.
///
/// # Accuracy
/// 1e-6 degree against PROJ in the zone; at a pole itself true north has no meaning and the value
/// is that of the longitude given.
///
/// # Examples
/// ```
/// use trug::{earth::grid, units::{Degrees, LatLon, TrueBearing}};
/// // two degrees east of the central meridian of zone 55, in the south
/// let convergence = grid::convergence(LatLon::new(-42.9, 149.0)?);
/// assert_eq!(convergence.0.to_string(), "-1.4°");
/// assert_eq!(convergence.to_grid(TrueBearing::new(Degrees(90.0))).to_string(), "091°G");
/// # Ok::<(), trug::units::OffTheGlobe>(())
/// ```
///
/// # References
/// Karney 2011, equations 23 to 25 (third-flattening series); Snyder 1987, USGS Professional Paper
/// 1395, chapter 21, for the polar grid.
#[must_use]
pub fn convergence(place: LatLon) -> GridConvergence {
    let grid = utm(place);
    if grid.zone == 0 {
        let half = if grid.north { place.longitude() } else { -place.longitude() };
        return GridConvergence(Degrees(half).shortest_turn());
    }
    let meridian = f64::from(grid.zone) * 6.0 - 183.0;
    let eastward = Degrees(place.longitude() - meridian).shortest_turn().radians();
    GridConvergence(Degrees::from_radians(transverse_convergence(place.latitude(), eastward)))
}

/// Third flattening of WGS 84.
const FLATTENING3: f64 = 0.001_679_220_386_383_704_7;
/// Eccentricity of WGS 84.
const ECCENTRICITY: f64 = 0.081_819_190_842_621_5;

/// The convergence of a transverse Mercator grid, radians.
fn transverse_convergence(latitude: f64, eastward: f64) -> f64 {
    let tangent = latitude.to_radians().tan();
    if !tangent.is_finite() {
        return eastward * latitude.signum();
    }
    let secant = tangent.hypot(1.0);
    let sigma = (ECCENTRICITY * (ECCENTRICITY * tangent / secant).atanh()).sinh();
    let conformal = tangent * sigma.hypot(1.0) - sigma * secant;
    let (xi, eta) = (
        conformal.atan2(eastward.cos()),
        (eastward.sin() / conformal.hypot(eastward.cos())).asinh(),
    );
    let n = FLATTENING3;
    let series = [
        n / 2.0 - 2.0 / 3.0 * n.powi(2) + 5.0 / 16.0 * n.powi(3),
        13.0 / 48.0 * n.powi(2) - 3.0 / 5.0 * n.powi(3),
        61.0 / 240.0 * n.powi(3),
    ];
    let (mut p, mut q) = (1.0, 0.0);
    for (term, order) in series.into_iter().zip([2.0_f64, 4.0, 6.0]) {
        p += order * term * (order * xi).cos() * (order * eta).cosh();
        q += order * term * (order * xi).sin() * (order * eta).sinh();
    }
    let sphere = (conformal / conformal.hypot(1.0) * eastward.tan()).atan();
    sphere + q.atan2(p)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_on_lines_of_the_grid_are_not_floored_below_them() {
        for (zone, north) in [(55, false), (32, true), (1, true), (60, false)] {
            for line in 0..200 {
                let (east, north_of) = (320_000 + 1_300 * line, 5_250_000 + 2_100 * line);
                let place = Utm::new(zone, north, f64::from(east), f64::from(north_of))
                    .unwrap()
                    .to_latlon();
                let reference = mgrs(place, Metres(100.0));
                let figures = format!("{:03}{:03}", east % 100_000 / 100, north_of % 100_000 / 100);
                assert!(reference.ends_with(&figures), "{reference} {figures}");
            }
        }
    }
    use crate::earth::geodesic;

    /// A lattice over the globe with the borders of bands and zones on it.
    fn everywhere() -> impl Iterator<Item = LatLon> {
        (-180..=180).flat_map(|latitude| {
            (-120..=120).map(move |longitude| {
                LatLon::clamped(f64::from(latitude) * 0.5, f64::from(longitude) * 1.5)
            })
        })
    }

    #[test]
    fn every_reference_leads_back_to_its_place() {
        for place in everywhere() {
            for side in [1.0, 100.0] {
                let reference = mgrs(place, Metres(side));
                let square = from_mgrs(&reference).unwrap();
                let off = geodesic::distance(place, square.centre);
                assert!(off.0 <= square.half_diagonal().0 * 1.01, "{place} {reference} {off}");
            }
        }
    }

    #[test]
    fn our_letters_are_those_of_geoconvert() {
        for place in everywhere().filter(|place| place.longitude() < 180.0) {
            // on the border of two bands itself geoconvert estimates the latitude and may miss
            let place = LatLon::clamped(place.latitude() + 1e-6, place.longitude());
            let other = geoconvert::LatLon::create(place.latitude(), place.longitude()).unwrap();
            assert_eq!(mgrs(place, Metres(1.0)), other.to_mgrs(5).to_string(), "{place}");
        }
    }

    #[test]
    fn invalid_reference_is_refused() {
        for text in [
            "",
            "55",
            "55G",
            "55GEN1",
            "61GEN4756250230",
            "999999999999GEN",
            "55IEN11",
            "55GEN 1x 22",
            "\u{e9}55GEN11",
            "55GEN123456123456",
            "AAA",
            "GEN",
            "55GENN",
            "00GEN11",
            "32VZZ1111",
        ] {
            let error = from_mgrs(text).unwrap_err();
            assert!(error.why().is_some() && error.advice().is_some(), "{text}: {error}");
        }
    }

    #[test]
    fn figures_outside_of_the_grid_are_refused() {
        assert!(Utm::new(61, true, 500_000.0, 0.0).is_err());
        assert!(Utm::new(55, false, 5_250_000.0, 500_000.0).is_err());
        assert!(Utm::new(55, false, f64::NAN, 500_000.0).is_err());
    }

    #[test]
    fn grid_north_turns_with_the_distance_from_the_middle_of_the_zone() {
        let at = |latitude, longitude| convergence(LatLon::new(latitude, longitude).unwrap()).0.0;
        assert_eq!(at(-42.0, 147.0), 0.0);
        assert!(at(-42.0, 146.0) > 0.0 && at(42.0, 146.0) < 0.0);
        assert!(at(-90.0, 20.0).is_finite() && at(90.0, 20.0).is_finite());
    }
}
