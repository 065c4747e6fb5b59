//! Reads lines and areas for `trug wayout` from GPX tracks and routes or from GeoJSON. Layer:
//! `commands`.

use std::path::Path;

use geojson::{GeoJson, Geometry, GeometryValue, Position};

use crate::earth::geodesic;
use crate::error::{Error, Result, read_regular};
use crate::ingest::track;
use crate::units::LatLon;
use crate::wayout::across::Area;

/// The lines of a file: tracks and routes of a GPX file; lines and outlines of GeoJSON.
///
/// # Errors
/// When the file cannot be read, is neither GPX nor GeoJSON, or contains no line.
pub fn lines(path: &Path) -> Result<Vec<Vec<LatLon>>> {
    Ok(shapes(path)?.into_iter().flatten().collect())
}

/// The areas of a file: polygons of GeoJSON with their holes; tracks and routes of a GPX file, and
/// lines, as outlines where they close, else as barriers without an interior.
///
/// # Errors
/// As [`lines`].
pub fn areas(path: &Path) -> Result<Vec<Area>> {
    Ok(shapes(path)?.into_iter().map(walled).collect())
}

/// A single open line, traversed to its end and back: it has no interior.
fn walled(area: Area) -> Area {
    match area.as_slice() {
        [line] if !closes(line) => {
            vec![line.iter().chain(line.iter().rev().skip(1)).copied().collect()]
        }
        _ => area,
    }
}

/// A line counts as closed where its ends are nearer to each other than a tenth of its length.
fn closes(line: &[LatLon]) -> bool {
    let off = |ends: (&LatLon, &LatLon)| geodesic::distance(*ends.0, *ends.1).0;
    let length: f64 = line.windows(2).map(|ends| off((&ends[0], &ends[1]))).sum();
    line.first().zip(line.last()).is_some_and(|ends| line.len() > 3 && off(ends) < length / 10.0)
}

/// Outline and holes of each polygon, each other line by itself.
fn shapes(path: &Path) -> Result<Vec<Area>> {
    let text = read_regular(path).map_err(|source| Error::file("read", path, &source))?;
    let shapes = if text.iter().find(|byte| !byte.is_ascii_whitespace()) == Some(&b'{') {
        of_geojson(path, &String::from_utf8_lossy(&text))?
    } else {
        of_track(path)?.into_iter().map(|line| vec![line]).collect()
    };
    if shapes.is_empty() {
        return Err(Error::input(format!("{} contains no line", path.display()))
            .because("it has no track, route, line or polygon with two or more points")
            .hint("give GPX tracks or routes, or GeoJSON lines or polygons")
            .in_file(path));
    }
    Ok(shapes)
}

fn of_track(path: &Path) -> Result<Vec<Vec<LatLon>>> {
    let file = track::read(path)?;
    let tracks = file
        .tracks
        .iter()
        .flat_map(|track| &track.segments)
        .map(|segment| segment.fixes.iter().map(|fix| fix.at).collect());
    let routes =
        file.routes.iter().map(|route| route.points.iter().map(|point| point.fix.at).collect());
    Ok(tracks.chain(routes).filter(|line: &Vec<LatLon>| line.len() > 1).collect())
}

fn of_geojson(path: &Path, text: &str) -> Result<Vec<Area>> {
    let refuse = |why: String| {
        Error::input(format!("{} is not usable GeoJSON", path.display()))
            .because(why)
            .hint("RFC 7946: longitude first, on WGS 84")
            .in_file(path)
    };
    let mut shapes = Vec::new();
    let mut add = |geometry: &Geometry| gather(geometry, &mut shapes);
    match text.parse::<GeoJson>().map_err(|error| refuse(error.to_string()))? {
        GeoJson::Geometry(geometry) => add(&geometry),
        GeoJson::Feature(feature) => feature.geometry.iter().for_each(&mut add),
        GeoJson::FeatureCollection(all) => {
            all.features.iter().filter_map(|feature| feature.geometry.as_ref()).for_each(&mut add);
        }
    }
    let place = |point: &Position| match point.as_slice() {
        [longitude, latitude, ..] => {
            LatLon::new(*latitude, *longitude).map_err(|off| refuse(off.to_string()))
        }
        _ => Err(refuse("a point has fewer than two numbers".to_owned())),
    };
    let mut areas = Vec::new();
    for shape in shapes {
        let rings = shape
            .iter()
            .filter(|ring| ring.len() > 1)
            .map(|ring| ring.iter().map(place).collect())
            .collect::<Result<Area>>()?;
        if !rings.is_empty() {
            areas.push(rings);
        }
    }
    Ok(areas)
}

/// Lines each by itself, polygons with all their rings.
fn gather(geometry: &Geometry, shapes: &mut Vec<Vec<Vec<Position>>>) {
    match &geometry.value {
        GeometryValue::LineString { coordinates } => shapes.push(vec![coordinates.clone()]),
        GeometryValue::MultiLineString { coordinates } => {
            shapes.extend(coordinates.iter().map(|line| vec![line.clone()]));
        }
        GeometryValue::Polygon { coordinates } => shapes.push(coordinates.clone()),
        GeometryValue::MultiPolygon { coordinates } => shapes.extend(coordinates.clone()),
        GeometryValue::GeometryCollection { geometries } => {
            for geometry in geometries {
                gather(geometry, shapes);
            }
        }
        _ => {}
    }
}
