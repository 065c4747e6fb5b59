//! Source: `data/srtm_cut.csv`, posts of a published SRTM tile.

use std::fs;

use trug::earth::elevation::{Bounds, Relief};
use trug::units::{LatLon, Metres};

use super::{number, rows};

const SIDE: usize = 1_201;

#[test]
fn posts_of_a_published_tile_are_met_exactly() {
    let mut tile = vec![0_u8; SIDE * SIDE * 2];
    let mut posts = Vec::new();
    for line in rows("srtm_cut.csv") {
        let (row, first) = (number(&line, 0) as usize, number(&line, 1) as usize);
        for (along, height) in line[2].split(' ').enumerate() {
            let height: i16 = height.parse().unwrap();
            let index = 2 * (row * SIDE + first + along);
            tile[index..index + 2].copy_from_slice(&height.to_be_bytes());
            posts.push((row, first + along, f64::from(height)));
        }
    }
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("N57E011.hgt");
    fs::write(&path, tile).unwrap();
    let spot = LatLon::new(57.7, 11.9).unwrap();
    let bounds = Bounds::about(&[spot], Metres(3_000.0)).unwrap();
    let ground = Relief::open(&[path]).unwrap().read(&bounds).unwrap();
    assert!((ground.height(spot).unwrap().0.0 - 12.0).abs() < 1e-6);
    assert_eq!(posts.len(), 31 * 31);
    for (row, column, height) in posts {
        let post = LatLon::clamped(58.0 - row as f64 / 1_200.0, 11.0 + column as f64 / 1_200.0);
        let found = ground.height(post).unwrap().0.0;
        assert!((found - height).abs() < 1e-6, "{row} {column}: {found} {height}");
    }
}
