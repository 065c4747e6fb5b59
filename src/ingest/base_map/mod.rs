//! Reads the user's own base maps: GeoJSON, GPX, KML and GeoPackage layers, with streams, water, roads,
//! paths, boundaries and names classed by open keys. Never reads from the network. Layer: `ingest`.

mod class;
mod collected;
mod geojson;
mod geopackage;
mod gpx;
mod kml;
mod wkb;

#[cfg(test)]
mod tests;

use std::io::Read;
use std::path::Path;

use self::collected::Collected;
use crate::error::{Error, Result, open_regular, read_regular};
use crate::ingest::track;
use crate::model::{BaseMap, FileKind, name_of};

/// The longest text file that is read, bytes.
const LARGEST: u64 = 256 * 1024 * 1024;

/// Reads a base map, known by its content.
///
/// Bad features are counted, good ones are kept; a damaged file gives what precedes the damage.
///
/// # Errors
/// When the file cannot be read, is none of the four forms, is too large, or holds no feature.
///
/// # References
/// RFC 7946 (GeoJSON); GPX 1.1; OGC 07-147r2 (KML 2.2); OGC 12-128r17 (GeoPackage 1.3). The keys are
/// common practice of vector data and listed in `docs/maps.md`.
pub fn read(path: &Path) -> Result<BaseMap> {
    let broken = |fault: &std::io::Error| Error::file("read", path, fault);
    let mut front = Vec::new();
    let file = open_regular(path).map_err(|fault| broken(&fault))?;
    let length = file.metadata().map_or(0, |data| data.len());
    file.take(8 * 1024).read_to_end(&mut front).map_err(|fault| broken(&fault))?;
    let mut collected = Collected::default();
    let hash = if front.starts_with(b"SQLite format 3\0") {
        geopackage::read(path, &mut collected)?;
        hash_of(path)?
    } else {
        if length > LARGEST {
            return Err(too_large(path, length));
        }
        let bytes = read_regular(path).map_err(|fault| broken(&fault))?;
        match track::format(&front).or_else(|| track::format(&bytes)) {
            Some(FileKind::Gpx) => gpx::read(path, &bytes, &mut collected)?,
            Some(FileKind::Kml) => kml::read(&bytes, &mut collected),
            Some(FileKind::GeoJson) => geojson::read(path, &bytes, &mut collected)?,
            _ => return Err(unknown(path)),
        }
        blake3::hash(&bytes).to_hex().to_string()
    };
    if collected.features.is_empty() {
        return Err(empty(path, &collected));
    }
    Ok(collected.into_map(path, hash))
}

fn hash_of(path: &Path) -> Result<String> {
    let broken = |fault: std::io::Error| Error::file("read", path, &fault);
    let mut file = open_regular(path).map_err(broken)?;
    let mut hasher = blake3::Hasher::new();
    std::io::copy(&mut file, &mut hasher).map_err(broken)?;
    Ok(hasher.finalize().to_hex().to_string())
}

fn unknown(path: &Path) -> Error {
    Error::input(format!("{} is not a base map that trug can read", name_of(path)))
        .because("its content is neither GeoJSON, GPX, KML nor a GeoPackage")
        .hint("export it as GeoJSON or as a GeoPackage layer; unpack KMZ first")
        .in_file(path)
}

fn too_large(path: &Path, length: u64) -> Error {
    Error::input(format!("{} is too large for a base map", name_of(path)))
        .because(format!("it has {length} bytes; {LARGEST} are read of a text file"))
        .hint("cut the area out that you visit, or give a GeoPackage")
        .in_file(path)
}

fn empty(path: &Path, collected: &Collected) -> Error {
    let why = match (&collected.damage, collected.without_place) {
        (Some(damage), _) => damage.clone(),
        (None, 0) => "it holds no point, line or area".to_owned(),
        (None, count) => format!("none of its {count} features has a usable geometry"),
    };
    Error::input(format!("{} holds nothing to draw", name_of(path)))
        .because(why)
        .hint("a base map has points, lines or areas in degrees on WGS 84")
        .in_file(path)
}
