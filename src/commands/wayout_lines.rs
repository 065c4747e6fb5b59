//! Lines and areas for `trug wayout`, from GPX tracks and routes or from GeoJSON. Layer: `commands`.

use std::fs;
use std::path::Path;

use geojson::{GeoJson, Geometry, GeometryValue, Position};

use crate::error::{Error, Result};
use crate::ingest::gpx;
use crate::units::LatLon;

/// The lines of a file: tracks and routes of a GPX file; lines and outer rings of GeoJSON.
pub(super) fn read(path: &Path) -> Result<Vec<Vec<LatLon>>> {
    let text = fs::read(path).map_err(|source| Error::file("read", path, &source))?;
    let lines = if text.iter().find(|byte| !byte.is_ascii_whitespace()) == Some(&b'{') {
        of_geojson(path, &String::from_utf8_lossy(&text))?
    } else {
        of_gpx(path)?
    };
    if lines.is_empty() {
        return Err(Error::input(format!("{} holds no line", path.display()))
            .because("it has no track, route, line or polygon of two points or more")
            .hint("give GPX tracks or routes, or GeoJSON lines or polygons")
            .in_file(path));
    }
    Ok(lines)
}

fn of_gpx(path: &Path) -> Result<Vec<Vec<LatLon>>> {
    let file = gpx::read(path)?;
    let tracks = file
        .tracks
        .iter()
        .flat_map(|track| &track.segments)
        .map(|segment| segment.fixes.iter().map(|fix| fix.at).collect());
    let routes =
        file.routes.iter().map(|route| route.points.iter().map(|point| point.fix.at).collect());
    Ok(tracks.chain(routes).filter(|line: &Vec<LatLon>| line.len() > 1).collect())
}

fn of_geojson(path: &Path, text: &str) -> Result<Vec<Vec<LatLon>>> {
    let refuse = |why: String| {
        Error::input(format!("{} is no GeoJSON that can be used", path.display()))
            .because(why)
            .hint("RFC 7946: longitude first, on WGS 84")
            .in_file(path)
    };
    let mut lines = Vec::new();
    let mut add = |geometry: &Geometry| gather(geometry, &mut lines);
    match text.parse::<GeoJson>().map_err(|error| refuse(error.to_string()))? {
        GeoJson::Geometry(geometry) => add(&geometry),
        GeoJson::Feature(feature) => feature.geometry.iter().for_each(&mut add),
        GeoJson::FeatureCollection(all) => {
            all.features.iter().filter_map(|feature| feature.geometry.as_ref()).for_each(&mut add);
        }
    }
    let places = |line: Vec<Position>| {
        line.iter()
            .map(|point| match point.as_slice() {
                [longitude, latitude, ..] => {
                    LatLon::new(*latitude, *longitude).map_err(|off| refuse(off.to_string()))
                }
                _ => Err(refuse("a point has fewer than two numbers".to_owned())),
            })
            .collect::<Result<Vec<LatLon>>>()
    };
    let lines: Vec<Vec<LatLon>> = lines.into_iter().map(places).collect::<Result<_>>()?;
    Ok(lines.into_iter().filter(|line| line.len() > 1).collect())
}

/// Lines, and the outer rings of polygons.
fn gather(geometry: &Geometry, lines: &mut Vec<Vec<Position>>) {
    match &geometry.value {
        GeometryValue::LineString { coordinates } => lines.push(coordinates.clone()),
        GeometryValue::MultiLineString { coordinates } => lines.extend(coordinates.clone()),
        GeometryValue::Polygon { coordinates } => lines.extend(coordinates.first().cloned()),
        GeometryValue::MultiPolygon { coordinates } => {
            lines.extend(coordinates.iter().filter_map(|polygon| polygon.first().cloned()));
        }
        GeometryValue::GeometryCollection { geometries } => {
            for geometry in geometries {
                gather(geometry, lines);
            }
        }
        _ => {}
    }
}
