//! An adversary that keeps every output, parses it independently and combines the disclosed
//! regions.

use std::collections::HashMap;
use std::fs;
use std::io::{Cursor, Read};
use std::path::Path;

use parquet::file::reader::{FileReader, SerializedFileReader};
use parquet::record::Field;
use serde_json::Value;

use super::world::{Truth, ending};

/// Metres in a degree of latitude.
const DEGREE: f64 = 111_200.0;

#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Level {
    Low,
    Medium,
    High,
    Extreme,
}

impl Level {
    pub(crate) const ALL: [Self; 4] = [Self::Low, Self::Medium, Self::High, Self::Extreme];

    pub(crate) fn word(self) -> &'static str {
        match self {
            Self::Low => "low",
            Self::Medium => "medium",
            Self::High => "high",
            Self::Extreme => "extreme",
        }
    }

    /// The documented minimum side of a cell, metres.
    fn side(self) -> f64 {
        match self {
            Self::Low => 100.0,
            Self::Medium => 1_000.0,
            Self::High => 10_000.0,
            Self::Extreme => f64::INFINITY,
        }
    }

    fn step(self) -> f64 {
        match self {
            Self::Low => 0.001,
            Self::Medium => 0.01,
            Self::High | Self::Extreme => 0.1,
        }
    }
}

/// A row of an output: whose it is by its number, where, and the step that it states.
#[derive(Debug)]
struct Claim {
    number: Option<String>,
    latitude: f64,
    longitude: f64,
    step: Option<f64>,
}

/// South, north, west, east.
type Box4 = [f64; 4];

#[derive(Default)]
pub(crate) struct Adversary {
    /// For each find the common part of all cells that were ever published of it, and the finest
    /// level at which was in force; `None` where it was once published exactly.
    known: HashMap<usize, Option<(Box4, Level)>>,
    /// The middles that were published of each find, with their levels.
    middles: HashMap<usize, Vec<(Level, f64, f64)>>,
}

impl Adversary {
    /// The protection of a find has ended: it may be published at any precision.
    pub(crate) fn forget(&mut self, find: usize) {
        self.known.insert(find, None);
    }

    pub(crate) fn reads(
        &mut self,
        path: &Path,
        finds: &[Truth],
        promised: &[Option<Level>],
        output: &str,
    ) {
        let bytes = fs::read(path).unwrap();
        let (claims, words) = read(path, &bytes);
        for (index, truth) in finds.iter().enumerate() {
            if let Some(level) = promised[index] {
                Self::looks_for_figures(truth, level, &words, output);
                looks_for_neighbours(truth, &claims, finds, output);
            }
            for claim in claims.iter().filter(|c| c.number.as_deref() == Some(&truth.number)) {
                self.puts_together(index, truth, promised[index], claim, output);
            }
        }
    }

    /// The digits of the true coordinates, and text written about the place.
    fn looks_for_figures(truth: &Truth, level: Level, words: &str, output: &str) {
        // five decimals are a metre; disclosed neighbours are checked separately
        let figures = [truth.latitude, truth.longitude].map(|d| format!("{:.5}", d.abs()));
        let both = figures.iter().all(|figure| words.contains(figure.as_str()));
        assert!(!both, "{output}: the coordinates of {}, {level:?}, are in it", truth.number);
        assert!(
            !words.contains(&truth.written),
            "{output}: \"{}\" of {}, {level:?}, is in it",
            truth.written,
            truth.number
        );
        for secret in ["by the tall stump", "Secret Gully"] {
            let reported = format!("{secret} {}", truth.number);
            let followed = |end: Option<char>| end.is_none_or(|c| !c.is_ascii_digit());
            let there = words
                .match_indices(&reported)
                .any(|(at, _)| followed(words[at + reported.len()..].chars().next()));
            assert!(!there, "{output}: \"{reported}\" is in it");
        }
    }

    fn puts_together(
        &mut self,
        index: usize,
        truth: &Truth,
        promised: Option<Level>,
        claim: &Claim,
        output: &str,
    ) {
        let Some(longitude_step) = claim.step else {
            assert!(
                promised.is_none(),
                "{output}: {} is exact, promised {promised:?}",
                truth.number
            );
            self.known.insert(index, None);
            return;
        };
        let Some(level) = stated(claim.latitude, longitude_step) else {
            panic!("{output}: {claim:?} of {} is on no grid", truth.number);
        };
        if let Some(promised) = promised {
            assert!(promised < Level::Extreme, "{output}: {} has coordinates", truth.number);
            assert!(
                level >= promised,
                "{output}: {} at {} is {level:?}, promised {promised:?}",
                truth.number,
                claim.latitude
            );
        }
        // a cell that contains a published finer one adds no information, though its edge may cut
        // it
        let middles = self.middles.entry(index).or_default();
        let follows = middles.iter().any(|(finer, latitude, longitude)| {
            let rounded = |degrees: f64, step: f64| (degrees / step).round() * step;
            *finer < level
                && (rounded(*latitude, level.step()) - claim.latitude).abs() < 1e-9
                && (rounded(*longitude, longitude_step) - claim.longitude).abs() < 1e-9
        });
        middles.push((level, claim.latitude, claim.longitude));
        if follows {
            return;
        }
        let half = (level.step() / 2.0, longitude_step / 2.0);
        let cell = [
            claim.latitude - half.0,
            claim.latitude + half.0,
            claim.longitude - half.1,
            claim.longitude + half.1,
        ];
        assert!(
            narrowest(&cell) >= level.side(),
            "{output}: the cell of {} measures {:.0} m, promised {level:?}",
            truth.number,
            narrowest(&cell)
        );
        let before = self.known.get(&index).copied();
        let (common, finest) = match before {
            // once published exactly, or released: nothing is left to protect
            Some(None) => return,
            None => (cell, level),
            Some(Some((known, finest))) => {
                let common = [
                    known[0].max(cell[0]),
                    known[1].min(cell[1]),
                    known[2].max(cell[2]),
                    known[3].min(cell[3]),
                ];
                (common, finest.min(level))
            }
        };
        assert!(
            common[0] >= common[1] || narrowest(&common) >= finest.side() * 0.99,
            "{output}: all outputs together locate {} to {:.0} m, promised {finest:?}: {common:?}",
            truth.number,
            narrowest(&common)
        );
        self.known.insert(index, Some((common, finest)));
    }
}

/// The level whose grid, as it is documented, has this latitude and this step in longitude.
fn stated(latitude: f64, longitude_step: f64) -> Option<Level> {
    [Level::Low, Level::Medium, Level::High].into_iter().find(|level| {
        let documented = documented_step(*level, latitude);
        is_on(latitude, level.step()) && (documented / longitude_step - 1.0).abs() < 1e-6
    })
}

fn is_on(degrees: f64, step: f64) -> bool {
    let lines = degrees / step;
    (lines - lines.round()).abs() < 1e-6
}

/// "The least of 1, 2, 5, 10, 20, 50 ... times the step in latitude with which no cell of the row
/// is narrower than the level allows."
fn documented_step(level: Level, latitude: f64) -> f64 {
    let poleward = (latitude.abs() + level.step() / 2.0).to_radians();
    let many = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0].map(|many| many * level.step());
    let wide_enough = |step: &f64| step * 111_319.49 * poleward.cos() >= level.side();
    many.into_iter().find(wide_enough).unwrap_or(f64::NAN)
}

fn narrowest(cell: &Box4) -> f64 {
    let poleward = cell[0].abs().max(cell[1].abs()).min(90.0).to_radians();
    // the ellipsoid is up to half a per cent away from the sphere
    1.006 * DEGREE * (cell[1] - cell[0]).min((cell[3] - cell[2]) * poleward.cos())
}

/// An exact position of whatever lies within a few metres of a sensitive find.
fn looks_for_neighbours(truth: &Truth, claims: &[Claim], finds: &[Truth], output: &str) {
    for claim in claims.iter().filter(|claim| claim.step.is_none()) {
        let north = (claim.latitude - truth.latitude) * DEGREE;
        let east = (claim.longitude - truth.longitude) * DEGREE * truth.latitude.to_radians().cos();
        let of = finds.iter().find(|find| Some(&find.number) == claim.number.as_ref());
        assert!(
            north.hypot(east) > 8.0,
            "{output}: {:?} ({:?}) lies {:.1} m from the sensitive {}",
            claim.number,
            of.map(|find| find.taxon),
            north.hypot(east),
            truth.number
        );
    }
}

/// The positions of an output, and all its text.
fn read(path: &Path, bytes: &[u8]) -> (Vec<Claim>, String) {
    let words = String::from_utf8_lossy(bytes).into_owned();
    match ending(path) {
        "geojson" => (geojson(&words), words),
        "csv" => (csv(bytes), words),
        "kml" => (kml(&words), words),
        "gpx" => (gpx(&words), words),
        "parquet" => parquet(path),
        "zip" => archive(bytes),
        "html" => (Vec::new(), words),
        other => panic!("no reader for {other}"),
    }
}

fn geojson(text: &str) -> Vec<Claim> {
    let whole: Value = serde_json::from_str(text).unwrap();
    let mut claims = Vec::new();
    for feature in whole["features"].as_array().unwrap() {
        let properties = &feature["properties"];
        let number = properties["recordNumber"].as_str().map(str::to_owned);
        let step = properties["coordinatePrecision"].as_f64();
        let at = &feature["geometry"]["coordinates"];
        if let (Some(longitude), Some(latitude)) = (at[0].as_f64(), at[1].as_f64()) {
            claims.push(Claim { number, latitude, longitude, step });
        }
    }
    claims
}

fn csv(bytes: &[u8]) -> Vec<Claim> {
    let mut reader = csv::Reader::from_reader(bytes);
    let headings = reader.headers().unwrap().clone();
    let mut claims = Vec::new();
    for row in reader.records() {
        let row = row.unwrap();
        let cell = |name: &str| {
            let place = headings.iter().position(|heading| heading == name)?;
            row.get(place).filter(|cell| !cell.is_empty())
        };
        let number = |name: &str| cell(name).map(|cell| cell.parse().unwrap());
        if let (Some(latitude), Some(longitude)) =
            (number("decimalLatitude"), number("decimalLongitude"))
        {
            claims.push(Claim {
                number: cell("recordNumber").map(str::to_owned),
                latitude,
                longitude,
                step: number("coordinatePrecision"),
            });
        }
    }
    claims
}

/// The text of the first element of this name.
fn between<'a>(text: &'a str, open: &str, close: &str) -> Option<&'a str> {
    let from = text.find(open)? + open.len();
    let rest = &text[from..];
    Some(rest[..rest.find(close)?].trim())
}

fn kml(text: &str) -> Vec<Claim> {
    let mut claims = Vec::new();
    for mark in text.split("<Placemark").skip(1) {
        let datum = |name: &str| {
            let (_, rest) = mark.split_once(&format!("<Data name=\"{name}\">"))?;
            between(rest, "<value>", "</value>")
        };
        let Some(point) = between(mark, "<Point>", "</Point>") else { continue };
        let Some(at) = between(point, "<coordinates>", "</coordinates>") else { continue };
        let numbers: Vec<f64> = at.split(',').map(|n| n.parse().unwrap()).collect();
        claims.push(Claim {
            number: datum("recordNumber").map(str::to_owned),
            latitude: numbers[1],
            longitude: numbers[0],
            step: datum("coordinatePrecision").map(|step| step.parse().unwrap()),
        });
    }
    claims
}

fn gpx(text: &str) -> Vec<Claim> {
    let mut claims = Vec::new();
    for point in text.split("<wpt ").skip(1) {
        let number = |name: &str| -> f64 {
            between(point, &format!("{name}=\""), "\"").unwrap().parse().unwrap()
        };
        let (latitude, longitude) = (number("lat"), number("lon"));
        // GPX states no step: the coarsest grid on which it lies
        let on_grid = |level: &Level| {
            let step = documented_step(*level, latitude);
            (is_on(latitude, level.step()) && is_on(longitude, step)).then_some(step)
        };
        let step = [Level::High, Level::Medium, Level::Low].iter().find_map(on_grid);
        claims.push(Claim {
            number: between(point, "<name>", "</name>").map(str::to_owned),
            latitude,
            longitude,
            step,
        });
    }
    claims
}

fn parquet(path: &Path) -> (Vec<Claim>, String) {
    let reader = SerializedFileReader::new(fs::File::open(path).unwrap()).unwrap();
    let (mut claims, mut words) = (Vec::new(), String::new());
    for row in reader.get_row_iter(None).unwrap() {
        let row = row.unwrap();
        words.push_str(&row.to_string());
        let field = |name: &str| row.get_column_iter().find(|(n, _)| *n == name).unwrap().1;
        let number = |name: &str| match field(name) {
            Field::Double(number) => Some(*number),
            _ => None,
        };
        let Field::Bytes(point) = field("geometry") else { continue };
        let coordinate =
            |from: usize| f64::from_le_bytes(point.data()[from..from + 8].try_into().unwrap());
        claims.push(Claim {
            number: match field("recordNumber") {
                Field::Str(text) => Some(text.clone()),
                _ => None,
            },
            latitude: coordinate(13),
            longitude: coordinate(5),
            step: number("coordinatePrecision"),
        });
    }
    (claims, words)
}

fn archive(bytes: &[u8]) -> (Vec<Claim>, String) {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).unwrap();
    let (mut claims, mut words) = (Vec::new(), String::new());
    for index in 0..archive.len() {
        let mut file = archive.by_index(index).unwrap();
        let name = file.name().unwrap().into_owned();
        let mut content = Vec::new();
        file.read_to_end(&mut content).unwrap();
        words.push_str(&String::from_utf8_lossy(&content));
        if name == "occurrence.csv" {
            claims.extend(csv(&content));
        }
    }
    (claims, words)
}
