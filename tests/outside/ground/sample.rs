//! Prints the heights, the hill shading and the contours that trug computes of an elevation tile, as JSON,
//! for the comparison with GDAL.
//!
//! `cargo run --example ground_sample -- TILE LATITUDE LONGITUDE HALF_METRES STEP INTERVAL`

use std::error::Error;
use std::path::PathBuf;

use serde_json::json;
use trug::earth::contours::contours;
use trug::earth::elevation::Relief;
use trug::earth::height_grid::{GroundArea, HeightGrid};
use trug::earth::hillshade::{NORTH_WEST, hillshade};
use trug::earth::local::Plane;
use trug::units::{LatLon, Metres};

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [tile, latitude, longitude, half, step, interval] = words.as_slice() else {
        return Err("expected TILE LATITUDE LONGITUDE HALF_METRES STEP INTERVAL".into());
    };
    let middle = LatLon::new(latitude.parse()?, longitude.parse()?)?;
    let half = Metres(half.parse()?);
    let area =
        GroundArea { middle, half_wide: half, half_high: half, finest: Metres(step.parse()?) };
    let relief = Relief::open(&[PathBuf::from(tile)])?;
    let grid = HeightGrid::read(&relief, &area)?.ok_or("no height within the area")?;
    let plane = Plane::about(middle);
    let place = |x: f64, y: f64| {
        let at = plane.from_plane(x, y);
        json!([at.latitude(), at.longitude()])
    };
    let nodes: Vec<_> = (0..grid.heights.len())
        .map(|i| place(grid.x(i % grid.columns), grid.y(i / grid.columns)))
        .collect();
    let lines: Vec<_> = contours(&grid, Metres(interval.parse()?))
        .iter()
        .map(|contour| {
            let line: Vec<_> = contour.line.iter().map(|(x, y)| place(*x, *y)).collect();
            json!({ "height": contour.height.0, "line": line })
        })
        .collect();
    // JSON has no number for a void
    let known = |values: &[f64]| -> Vec<Option<f64>> {
        values.iter().map(|value| (!value.is_nan()).then_some(*value)).collect()
    };
    let shade = known(&hillshade(&grid, NORTH_WEST));
    let printed = json!({
        "nodes": nodes, "heights": known(&grid.heights), "shade": shade, "step": grid.step.0,
        "contours": lines,
    });
    #[allow(clippy::print_stdout, reason = "what it is for")]
    {
        println!("{printed}");
    }
    Ok(())
}
