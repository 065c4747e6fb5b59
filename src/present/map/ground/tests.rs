//! Tests that a ground is drawn within its bounds, below everything else, and that its words collide
//! with nothing. Layer: `present`.

use super::*;
use crate::earth::local::Plane;
use crate::model::BaseShape;
use crate::present::svg::{Frame, Point};

const FRAME: Frame = Frame::new(16.0, 30.0, 480.0, 380.0);

fn sheet(at: LatLon, radius: f64) -> MapSheet {
    MapSheet::fit(&[(at, Metres(radius))], FRAME, 20.0, FRAME.high).unwrap()
}

/// Hills of some hundred metres about the middle of a sheet.
fn hills(sheet: &MapSheet, rough: f64) -> HeightGrid {
    let area = sheet.area();
    let step = area.half_wide.0 / 60.0;
    let (columns, rows) = (125, 125);
    let first = -62.0 * step;
    let height = |index: usize| {
        let (x, y) = ((index % columns) as f64 - 62.0, (index / columns) as f64 - 62.0);
        400.0
            + 3.0 * x
            + rough
                * ((x * 0.11).sin() * (y * 0.13).cos() + (x * 1.9).sin() * (y * 2.3).sin() * 0.2)
    };
    HeightGrid {
        columns,
        rows,
        step: Metres(step),
        west: first,
        south: first,
        heights: (0..columns * rows).map(height).collect(),
        spacing: Metres(step),
    }
}

fn line(sheet: &MapSheet, points: &[(f64, f64)]) -> BaseShape {
    let plane = Plane::about(sheet.middle());
    let unit = sheet.area().half_wide.0;
    BaseShape::Line(points.iter().map(|(x, y)| plane.from_plane(x * unit, y * unit)).collect())
}

fn ground(sheet: &MapSheet) -> MapGround {
    let plane = Plane::about(sheet.middle());
    let unit = sheet.area().half_wide.0;
    let at = |x: f64, y: f64| plane.from_plane(x * unit, y * unit);
    let feature = |class, name: &str, shape| BaseFeature { class, name: Some(name.into()), shape };
    let pond = vec![at(0.3, 0.3), at(0.6, 0.3), at(0.6, 0.6), at(0.3, 0.6), at(0.3, 0.3)];
    MapGround {
        heights: Some(hills(sheet, 60.0)),
        features: vec![
            feature(BaseClass::Stream, "Tallow Creek", line(sheet, &[(-3.0, 0.1), (3.0, -0.2)])),
            feature(BaseClass::Road, "Mill Road", line(sheet, &[(-0.9, -3.0), (-0.7, 3.0)])),
            feature(BaseClass::Path, "Ridge path", line(sheet, &[(-0.6, 0.7), (0.9, 0.65)])),
            feature(BaseClass::Water, "Mirror Tarn", BaseShape::Area(vec![pond])),
            feature(BaseClass::Parking, "Gate", BaseShape::Point(at(-0.7, -0.5))),
            feature(BaseClass::Summit, "The Anvil", BaseShape::Point(at(0.1, -0.6))),
        ],
        walked: vec![vec![at(-0.9, -0.6), at(0.9, -0.5)]],
        around: Vec::new(),
    }
}

#[test]
fn every_class_is_drawn_and_named() {
    let sheet = sheet(LatLon::new(-42.6, 146.1).unwrap(), 400.0);
    let drawn = draw(&ground(&sheet), &sheet);
    let words = drawn.words(&sheet, &mut Obstacles::default()).to_string();
    for name in ["Tallow Creek", "Mill Road", "Ridge path", "Mirror Tarn", "Gate", "The Anvil"] {
        assert!(words.contains(name), "{name}");
    }
    assert!(
        drawn.kinds.contains(&GroundKind::Contour) && drawn.kinds.contains(&GroundKind::Walked)
    );
    assert!(drawn.relief_words().unwrap().starts_with("contours every "));
    let picture = drawn.group().to_string();
    assert!(picture.contains("shading") && picture.contains("contours"));
    assert!(!picture.contains("NaN"));
}

#[test]
fn rough_ground_is_simplified_to_a_bounded_size() {
    for (radius, rough) in [(400.0, 5.0), (400.0, 4_000.0), (30_000.0, 900.0)] {
        let sheet = sheet(LatLon::new(47.0, 11.0).unwrap(), radius);
        let ground = MapGround { heights: Some(hills(&sheet, rough)), ..MapGround::default() };
        let size = draw(&ground, &sheet).group().to_string().len();
        assert!(size < 330_000, "{rough}: {size}");
    }
}

#[test]
fn words_cover_no_mark_and_no_other_words() {
    let places = [(-42.6, 146.1), (-17.0, 180.0), (89.5, 0.0), (0.0, 0.0)];
    for ((latitude, longitude), radius) in
        places.into_iter().flat_map(|place| [5.0, 400.0, 30_000.0].map(|radius| (place, radius)))
    {
        let sheet = sheet(LatLon::new(latitude, longitude).unwrap(), radius);
        let mut obstacles = Obstacles::default();
        // finds and their numbers stand all over the map
        let mut taken = Vec::new();
        for index in 0..60 {
            let (x, y) = (f64::from(index % 10), f64::from(index / 10));
            let at = FRAME.corner.plus(20.0 + 47.0 * x, 25.0 + 60.0 * y);
            obstacles.mark(at, 3.4);
            let label = Frame::new(at.x + 5.0, at.y - 3.0, 26.0, 6.8);
            obstacles.block(label);
            taken.push(label);
            taken.push(Frame::new(at.x - 3.4, at.y - 3.4, 6.8, 6.8));
        }
        let drawn = draw(&ground(&sheet), &sheet);
        let placed = drawn.labels.placed(sheet.frame, &mut obstacles);
        assert!(placed.len() > 3, "{latitude} {radius}: {}", placed.len());
        let mut collisions = 0;
        for (index, label) in placed.iter().enumerate() {
            let others = placed[index + 1..].iter().flat_map(|other| &other.covers);
            for square in &label.covers {
                let corner = Point::new(square.right(), square.bottom());
                assert!(sheet.frame.holds(square.corner) && sheet.frame.holds(corner));
                collisions += taken.iter().filter(|taken| taken.meets(*square)).count();
                collisions += others.clone().filter(|other| other.meets(*square)).count();
            }
        }
        assert_eq!(collisions, 0, "{latitude} {longitude} {radius}");
    }
}

#[test]
fn nothing_known_draws_nothing() {
    let sheet = sheet(LatLon::new(47.0, 11.0).unwrap(), 100.0);
    let drawn = draw(&MapGround::default(), &sheet);
    assert!(drawn.drawn.is_empty() && drawn.kinds.is_empty() && MapGround::default().is_empty());
}

#[test]
fn legend_lists_only_what_is_seen_within_the_frame() {
    let sheet = sheet(LatLon::new(-42.6, 146.1).unwrap(), 400.0);
    let plane = Plane::about(sheet.middle());
    let unit = sheet.area().half_wide.0;
    let at = |x: f64, y: f64| plane.from_plane(x * unit, y * unit);
    let feature = |class, shape| BaseFeature { class, name: Some("Reserve".into()), shape };
    let around = vec![at(-9.0, -9.0), at(9.0, -9.0), at(9.0, 9.0), at(-9.0, 9.0), at(-9.0, -9.0)];
    // half of the width of a line along the frame, just outside
    let edge = plane.to_plane(sheet.place(Point::new(FRAME.right() + 0.3, FRAME.corner.y))).0;
    let beside = [-9.0, 9.0].map(|y| plane.from_plane(edge, y * unit)).to_vec();
    let ground = MapGround {
        features: vec![
            feature(BaseClass::Boundary, BaseShape::Area(vec![around])),
            feature(BaseClass::Stream, BaseShape::Line(beside)),
            feature(BaseClass::Path, line(&sheet, &[(-3.0, 0.1), (3.0, -0.2)])),
        ],
        ..MapGround::default()
    };
    assert_eq!(draw(&ground, &sheet).kinds, [GroundKind::Base(BaseClass::Path)]);
}
