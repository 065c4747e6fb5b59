//! Generates what maps stand on: an elevation tile and a base map of the invented reserve.

use std::f64::consts::TAU;
use std::fmt::Write;
use std::fs;
use std::io;
use std::path::Path;

use serde_json::{Value, json};

use crate::ground::{CAR_PARK, PlanePoint};

/// Steps of the tile in degrees of longitude and latitude: 25 and 28 m.
const STEPS: (f64, f64) = (0.000_3, 0.000_25);
/// The tile in metres east and north of the car park: west, east, south, north.
const EXTENT: (f64, f64, f64, f64) = (-800.0, 1_800.0, -1_000.0, 1_400.0);

pub(crate) fn write(into: &Path) -> io::Result<()> {
    fs::create_dir_all(into)?;
    fs::write(into.join("terrain.asc"), tile())?;
    fs::write(into.join("base.geojson"), format!("{:#}\n", base()))
}

/// The ground of the walks with the roughness that a receiver does not feel: 2 m.
fn height(at: PlanePoint) -> f64 {
    let wave = |long: f64, turn: f64, shift: f64| {
        let along = at.east * turn.cos() + at.north * turn.sin();
        (TAU * along / long + shift).sin()
    };
    let rough = 0.9 * wave(190.0, 0.4, 0.3) * wave(260.0, 2.0, 1.1)
        + 0.3 * wave(120.0, 1.2, 2.0) * wave(140.0, 2.7, 0.4)
        + 1.6 * wave(330.0, 0.9, 1.9);
    at.height() + rough + 0.000_03 * (at.north - 300.0).powi(2)
}

fn tile() -> String {
    let corner = PlanePoint::new(EXTENT.0, EXTENT.2).degrees();
    let far = PlanePoint::new(EXTENT.1, EXTENT.3).degrees();
    let (columns, rows) = (
        ((far.1 - corner.1) / STEPS.0).round() as usize,
        ((far.0 - corner.0) / STEPS.1).round() as usize,
    );
    // metres of a degree, from two places of the plane
    let east = PlanePoint::new(1_000.0, 0.0).degrees().1 - CAR_PARK.1;
    let north = PlanePoint::new(0.0, 1_000.0).degrees().0 - CAR_PARK.0;
    let mut text = format!(
        "ncols {columns}\nnrows {rows}\nxllcenter {:.6}\nyllcenter {:.6}\ndx {}\ndy {}\nNODATA_value -9999\n",
        corner.1, corner.0, STEPS.0, STEPS.1
    );
    for row in (0..rows).rev() {
        for column in 0..columns {
            let at = PlanePoint::new(
                EXTENT.0 + column as f64 * STEPS.0 * 1_000.0 / east,
                EXTENT.2 + row as f64 * STEPS.1 * 1_000.0 / north,
            );
            let space = if column == 0 { "" } else { " " };
            let _ = write!(text, "{space}{:.1}", height(at));
        }
        text.push('\n');
    }
    text
}

fn position(east: f64, north: f64) -> Value {
    let (latitude, longitude) = PlanePoint::new(east, north).degrees();
    json!([rounded(longitude), rounded(latitude)])
}

/// Six decimals of a degree are a decimetre.
fn rounded(degrees: f64) -> f64 {
    (degrees * 1e6).round() / 1e6
}

fn positions(points: &[(f64, f64)]) -> Vec<Value> {
    points.iter().map(|(east, north)| position(*east, *north)).collect()
}

fn feature(key: &str, value: &str, name: &str, shape: &str, coordinates: &Value) -> Value {
    json!({
        "type": "Feature",
        "properties": { key: value, "name": name },
        "geometry": { "type": shape, "coordinates": coordinates },
    })
}

fn line(key: &str, value: &str, name: &str, points: &[(f64, f64)]) -> Value {
    feature(key, value, name, "LineString", &Value::Array(positions(points)))
}

fn place(key: &str, value: &str, name: &str, (east, north): (f64, f64)) -> Value {
    feature(key, value, name, "Point", &position(east, north))
}

fn ring(key: &str, value: &str, name: &str, points: &[(f64, f64)]) -> Value {
    let mut closed = positions(points);
    closed.extend(closed.first().cloned());
    feature(key, value, name, "Polygon", &json!([closed]))
}

/// The creek of the valley, as the heights have it.
fn creek() -> Vec<(f64, f64)> {
    (-40..=90)
        .map(|step| {
            let east = 20.0 * f64::from(step);
            let bend = 5.0 * (east / 37.0).sin();
            (east, 120.0 + 90.0 * (east / 420.0).sin() + bend)
        })
        .collect()
}

fn tarn() -> Vec<(f64, f64)> {
    (0..18)
        .map(|step| {
            let turn = TAU * f64::from(step) / 18.0;
            let reach = 44.0 + 9.0 * (3.0 * turn).sin();
            (1_150.0 + 1.5 * reach * turn.cos(), 560.0 + reach * turn.sin())
        })
        .collect()
}

fn base() -> Value {
    let road = [
        (-800.0, -420.0),
        (-560.0, -260.0),
        (-330.0, -150.0),
        (-160.0, -40.0),
        (-20.0, -8.0),
        (-60.0, 110.0),
        (-190.0, 260.0),
        (-240.0, 470.0),
        (-210.0, 760.0),
        (-320.0, 1_050.0),
        (-420.0, 1_400.0),
    ];
    let tramway = [
        (0.0, 0.0),
        (60.0, -30.0),
        (150.0, 2.0),
        (230.0, 32.0),
        (310.0, 30.0),
        (390.0, 42.0),
        (470.0, 46.0),
        (560.0, 56.0),
        (650.0, 92.0),
        (740.0, 128.0),
        (820.0, 168.0),
        (880.0, 225.0),
        (960.0, 250.0),
        (1_120.0, 236.0),
        (1_340.0, 262.0),
        (1_800.0, 190.0),
    ];
    let gully = [
        (0.0, 0.0),
        (60.0, 44.0),
        (120.0, 92.0),
        (190.0, 160.0),
        (250.0, 196.0),
        (330.0, 190.0),
        (420.0, 210.0),
        (500.0, 232.0),
        (560.0, 290.0),
        (620.0, 350.0),
        (690.0, 396.0),
        (780.0, 424.0),
        (850.0, 390.0),
        (880.0, 320.0),
        (880.0, 225.0),
    ];
    let rill = [
        (760.0, 720.0),
        (720.0, 620.0),
        (668.0, 540.0),
        (610.0, 450.0),
        (560.0, 380.0),
        (520.0, 300.0),
        (470.0, 214.0),
    ];
    let outlet =
        [(1_150.0, 520.0), (1_130.0, 450.0), (1_080.0, 380.0), (1_030.0, 300.0), (985.0, 186.0)];
    let reserve = [
        (-120.0, -260.0),
        (640.0, -330.0),
        (1_420.0, -160.0),
        (1_510.0, 520.0),
        (1_240.0, 900.0),
        (420.0, 980.0),
        (-80.0, 640.0),
    ];
    let features = vec![
        ring("boundary", "protected_area", "Wren Gully Reserve", &reserve),
        ring("natural", "water", "Mirror Tarn", &tarn()),
        line("waterway", "stream", "Wren Creek", &creek()),
        line("waterway", "stream", "Lantern Rill", &rill),
        line("waterway", "stream", "Tarn Outlet", &outlet),
        line("highway", "tertiary", "Nettlewick Road", &road),
        line("highway", "path", "Old Tramway", &tramway),
        line("highway", "footway", "Gully Path", &gully),
        place("amenity", "parking", "Car park", (-4.0, 2.0)),
        place("natural", "peak", "The Thimble", (770.0, 560.0)),
        place("place", "locality", "Lantern Flat", (150.0, -70.0)),
        place("place", "locality", "Moss Terrace", (520.0, 420.0)),
        place("place", "locality", "Saddle", (925.0, 205.0)),
    ];
    json!({ "type": "FeatureCollection", "features": features })
}
