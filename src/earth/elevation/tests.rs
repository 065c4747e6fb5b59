//! Tests that tiles of every format return the elevations written into them, including voids, edges
//! and damaged files. Layer: `earth`.

#![allow(clippy::cast_possible_truncation, reason = "heights of tests are small")]

use std::fs;

use tiff::encoder::{TiffEncoder, colortype};

use super::*;
use crate::earth::datum;

/// A height that is a plane in degrees, so that bilinear interpolation is exact.
fn plane(place: LatLon) -> f64 {
    1_000.0 + 300.0 * (place.latitude() - 57.0) - 200.0 * (place.longitude() - 11.0)
}

fn place(latitude: f64, longitude: f64) -> LatLon {
    LatLon::new(latitude, longitude).unwrap()
}

/// An `.hgt` tile of 3 seconds of arc whose metres are given by row and column.
fn hgt(folder: &Path, name: &str, height: impl Fn(usize, usize) -> i16) -> PathBuf {
    let mut bytes = Vec::new();
    for row in 0..1_201 {
        for column in 0..1_201 {
            bytes.extend(height(row, column).to_be_bytes());
        }
    }
    let path = folder.join(name);
    fs::write(&path, bytes).unwrap();
    path
}

fn ground(paths: &[PathBuf], at: LatLon, margin: f64) -> Ground {
    let bounds = Bounds::about(&[at], Metres(margin)).unwrap();
    Relief::open(paths).unwrap().read(&bounds).unwrap()
}

fn height(ground: &Ground, at: LatLon) -> Option<f64> {
    ground.height(at).map(|height| height.0.0)
}

#[test]
fn a_tile_is_exact_at_its_posts_and_straight_between() {
    let folder = tempfile::tempdir().unwrap();
    let tile =
        hgt(folder.path(), "N57E011.hgt", |row, column| i16::try_from(2 * row + column).unwrap());
    let at = |row: f64, column: f64| place(58.0 - row / 1_200.0, 11.0 + column / 1_200.0);
    let ground = ground(&[tile], at(600.0, 600.0), 3_000.0);
    assert!((height(&ground, at(600.0, 600.0)).unwrap() - 1_800.0).abs() < 1e-6);
    assert!((height(&ground, at(600.25, 600.5)).unwrap() - 1_801.0).abs() < 1e-6);
    assert_eq!(height(&ground, place(56.9, 11.5)), None);
    assert_eq!(height(&ground, at(100.0, 100.0)), None, "outside of what was read");
}

#[test]
fn void_has_no_height_and_no_weight() {
    let folder = tempfile::tempdir().unwrap();
    let tile =
        hgt(
            folder.path(),
            "S43E146.hgt",
            |row, column| {
                if (row, column) == (600, 600) { -32_768 } else { 100 }
            },
        );
    let at = |row: f64, column: f64| place(-42.0 - row / 1_200.0, 146.0 + column / 1_200.0);
    let ground = ground(&[tile], at(600.0, 600.0), 1_000.0);
    assert_eq!(height(&ground, at(600.0, 600.0)), None);
    assert_eq!(height(&ground, at(600.4, 600.4)), None);
    assert_eq!(height(&ground, at(600.6, 600.6)), Some(100.0));
}

#[test]
fn tiles_are_joined_across_their_edge_and_across_the_date_line() {
    let folder = tempfile::tempdir().unwrap();
    let tiles = [
        hgt(folder.path(), "S17E179.hgt", |_, column| i16::try_from(column).unwrap()),
        hgt(folder.path(), "S17W180.hgt", |_, column| 1_200 - i16::try_from(column).unwrap()),
    ];
    let edge = place(-16.5, 180.0);
    let ground = ground(&tiles, edge, 2_000.0);
    assert_eq!(height(&ground, edge), Some(1_200.0));
    assert!((height(&ground, place(-16.5, 179.99)).unwrap() - 1_188.0).abs() < 1e-6);
    assert!((height(&ground, place(-16.5, -179.99)).unwrap() - 1_188.0).abs() < 1e-6);
}

#[test]
fn an_ascii_grid_is_read_by_corner_and_by_centre() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.asc");
    let rows = "1 2 3\n4 5 -9999\n";
    fs::write(
        &path,
        format!("ncols 3\nnrows 2\nxllcorner 10.5\nyllcorner 49.5\ncellsize 1\n{rows}"),
    )
    .unwrap();
    let at = place(50.0, 11.0);
    let by_corner = ground(std::slice::from_ref(&path), at, 200_000.0);
    assert_eq!(height(&by_corner, at), Some(4.0));
    assert_eq!(height(&by_corner, place(51.0, 13.0)), Some(3.0));
    assert_eq!(height(&by_corner, place(50.0, 13.0)), None);
    fs::write(
        &path,
        format!("NCOLS 3\r\nNROWS 2\r\nXLLCENTER 11\r\nYLLCENTER 50\r\nDX 1\r\nDY 1\r\nNODATA_value 4\r\n{rows}"),
    )
    .unwrap();
    let by_centre = ground(&[path], at, 200_000.0);
    assert_eq!(height(&by_centre, at), None);
    assert_eq!(height(&by_centre, place(51.0, 12.0)), Some(2.0));
}

/// A GeoTIFF of floats with the tags that place it.
fn geotiff(path: &Path, side: u32, place: (f64, f64, f64), keys: &[u16], values: &[f32]) {
    let mut file = TiffEncoder::new(fs::File::create(path).unwrap()).unwrap();
    let mut image = file.new_image::<colortype::Gray32Float>(side, side).unwrap();
    image.rows_per_strip(7).unwrap();
    let directory = image.encoder();
    directory.write_tag(tiff::tags::Tag::ModelPixelScaleTag, &[place.2, place.2, 0.0][..]).unwrap();
    let tie = [0.0, 0.0, 0.0, place.0, place.1, 0.0];
    directory.write_tag(tiff::tags::Tag::ModelTiepointTag, &tie[..]).unwrap();
    directory.write_tag(tiff::tags::Tag::GeoKeyDirectoryTag, keys).unwrap();
    directory.write_tag(tiff::tags::Tag::GdalNodata, "-99").unwrap();
    image.write_data(values).unwrap();
}

#[test]
fn a_geotiff_in_degrees_and_one_on_a_national_grid_agree() {
    let folder = tempfile::tempdir().unwrap();
    let degrees = folder.path().join("degrees.tif");
    let centre = place(57.2, 11.2);
    let step = 0.000_5;
    let (left, top) = (centre.longitude() - 50.0 * step, centre.latitude() + 50.0 * step);
    let values: Vec<f32> = (0..101 * 101)
        .map(|i| {
            plane(place(top - f64::from(i / 101) * step, left + f64::from(i % 101) * step)) as f32
        })
        .collect();
    let keys = [1, 1, 0, 3, 1024, 0, 1, 2, 1025, 0, 1, 2, 2048, 0, 1, 4326];
    geotiff(&degrees, 101, (left, top, step), &keys, &values);

    let utm = folder.path().join("utm.tif");
    let (x, y) = datum::from_wgs84("EPSG:32632", centre).unwrap();
    let values: Vec<f32> = (0..101 * 101)
        .map(|i| {
            let (east, north) =
                (x - 1_500.0 + f64::from(i % 101) * 30.0, y + 1_500.0 - f64::from(i / 101) * 30.0);
            plane(datum::to_wgs84("EPSG:32632", east, north).unwrap().0) as f32
        })
        .collect();
    // a value for the area of its cell: the corner is half a cell farther out
    let keys = [1, 1, 0, 3, 1024, 0, 1, 1, 1025, 0, 1, 1, 3072, 0, 1, 32632];
    geotiff(&utm, 101, (x - 1_515.0, y + 1_515.0, 30.0), &keys, &values);

    for path in [degrees, utm] {
        let ground = ground(std::slice::from_ref(&path), centre, 1_200.0);
        for (north, east) in [(0.0, 0.0), (0.005, 0.006), (-0.008, 0.011), (0.0071, -0.0133)] {
            let at = place(centre.latitude() + north, centre.longitude() + east);
            let off = height(&ground, at).unwrap() - plane(at);
            assert!(off.abs() < 0.002, "{} {at} {off}", path.display());
        }
    }
}

#[test]
fn a_void_of_a_geotiff_is_a_void() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("void.tif");
    let mut values = vec![5.0_f32; 100];
    values[55] = -99.0;
    values[11] = f32::NAN;
    geotiff(&path, 10, (11.0, 57.0, 0.1), &[1, 1, 0, 1, 1025, 0, 1, 2], &values);
    let ground = ground(&[path], place(56.5, 11.5), 100_000.0);
    assert_eq!(height(&ground, place(56.5, 11.5)), None);
    assert_eq!(height(&ground, place(56.9, 11.1)), None);
    assert_eq!(height(&ground, place(56.5, 11.3)), Some(5.0));
}

#[test]
fn files_that_are_no_tiles_are_refused_with_the_reason() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        fs::write(&path, bytes).unwrap();
        path
    };
    for path in [
        write("empty.hgt", b""),
        write("N57E011.hgt", b"short"),
        write("a.asc", b"ncols 3\nnrows x\n"),
        write(
            "b.asc",
            b"ncols 3\nnrows 2\nxllcorner 500000\nyllcorner 5200000\ncellsize 25\n1 2 3 4 5 6",
        ),
        write("c.asc", b"ncols 99999999\nnrows 99999999\nxllcorner 0\nyllcorner 0\ncellsize -1\n"),
        write("d.tif", b"II*\0\x08\0\0\0\xff\xff"),
        write("e.txt", &[b'x'; 4_000]),
        folder.path().join("missing.hgt"),
    ] {
        let error = Relief::open(std::slice::from_ref(&path)).unwrap_err();
        assert!(error.why().is_some() && error.advice().is_some(), "{error}");
    }
    let cut =
        write("f.asc", b"ncols 3\nnrows 2\nxllcorner 10\nyllcorner 50\ncellsize 1\n1 2 3\n4 x 6");
    let bounds = Bounds::about(&[place(51.0, 11.0)], Metres(200_000.0)).unwrap();
    assert!(Relief::open(&[cut]).unwrap().read(&bounds).is_err());
}

#[test]
fn a_system_may_lead_the_path() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("g.asc");
    fs::write(&path, "ncols 3\nnrows 3\nxllcenter 500000\nyllcenter 5250000\ncellsize 1000\n1 2 3\n4 5 6\n7 8 9\n").unwrap();
    let led = PathBuf::from(format!("EPSG:28355={}", path.display()));
    let (at, _) = datum::to_wgs84("EPSG:28355", 501_000.0, 5_251_000.0).unwrap();
    assert!((height(&ground(&[led], at, 500.0), at).unwrap() - 5.0).abs() < 0.01);
}

#[test]
fn elevation_of_an_uncertain_position_is_as_wide_as_the_ground_and_the_model_are() {
    let folder = tempfile::tempdir().unwrap();
    // a slope of 1 m of height to a row of 92.8 m
    let tile = hgt(folder.path(), "N57E011.hgt", |row, _| i16::try_from(row).unwrap());
    let at = place(57.5, 11.5);
    let radius = |metres| crate::units::Radius95::new(Metres(metres)).unwrap();
    let ground = ground(std::slice::from_ref(&tile), at, 1_500.0);
    let exact = ground.about(at, radius(5.0)).unwrap();
    assert!((exact.elevation.0 - 600.0).abs() < 1e-6 && exact.tile == "N57E011.hgt", "{exact:?}");
    assert!((exact.within.0 - 19.0).abs() < 0.1, "{exact:?}");
    // 928 m of distance along the slope are 10 m of height
    let vague = ground.about(at, radius(928.0)).unwrap();
    assert!((vague.within.0 - 19_f64.hypot(10.0)).abs() < 0.1, "{vague:?}");
    assert_eq!(ground.about(place(59.0, 11.5), radius(5.0)), None);
}
