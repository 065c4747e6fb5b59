//! Tests of density maps as drawn. Layer: `present`.

#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "colours")]

use jiff::civil::date;

use super::surface::classes;
use super::*;
use crate::analyse::density::kernel::Grid;
use crate::analyse::density::track::{PlaneFind, SearchedRun};
use crate::earth::equal_area::EqualArea;
use crate::present::style;

fn sheet(count: u32) -> Sheet {
    let plane = EqualArea::about(LatLon::clamped(-42.0, 146.0));
    let grid = Grid { west: -300.0, south: -300.0, cell: 10.0, columns: 60, rows: 60 };
    let bandwidth =
        Bandwidth { origin: Origin::Stated, metres: 30.0, before_floor: 30.0, floor: 5.0 };
    let points = vec![(-200.0, 0.0), (200.0, 0.0)];
    let ways = [SearchedRun { outing: 0, points, weight: 1.0 }];
    // all at one place except one far away
    let finds: Vec<PlaneFind> = (0..count)
        .map(|i| PlaneFind {
            x: if i == 0 { -150.0 } else { 100.0 },
            y: 0.0,
            outing: 0,
            radius: 5.0,
        })
        .collect();
    let at = finds.iter().map(|m| plane.from_plane(m.x, m.y)).collect();
    let map = DensityMap::of(plane, grid, bandwidth, &finds, &ways);
    Sheet { heading: "2026".to_owned(), map, finds: at }
}

fn area(count: u32) -> Area {
    let last = Some(date(2026, 5, 16));
    Area { number: 1, name: "-42.000, 146.000".to_owned(), last, sheets: vec![sheet(count)] }
}

#[test]
fn finds_are_never_in_the_not_found_class() {
    let sheet = sheet(200);
    let values = Measure::PerKm.values(&sheet.map);
    let step = class_step(values.iter().copied().filter(|v| !v.is_nan()).fold(0.0, f64::max));
    let classes = classes(&sheet, Measure::PerKm, step);
    let of = |x: f64, y: f64| classes[sheet.map.grid.index(x, y).unwrap()];
    let value = values[sheet.map.grid.index(-150.0, 0.0).unwrap()];
    assert!(value < 0.1 * step, "{value} of {step}");
    assert_eq!((of(-150.0, 0.0), of(0.0, 0.0), of(100.0, 0.0)), (Some(1), Some(0), Some(6)));
    assert_eq!(of(0.0, 250.0), None);
}

#[test]
fn few_finds_are_points_without_a_surface() {
    let few = figure("Mycena", &[area(3)], Measure::PerKm, (&[], &[]));
    assert!(few.contains("points only") && !few.contains(CLASSES[5].0), "{few}");
    assert!(!few.contains("nothing found") && summary(&sheet(3)).contains("too few finds"));
    let many = figure("Mycena", &[area(8)], Measure::PerKm, (&[], &[]));
    assert!(many.contains(CLASSES[5].0) && !many.contains("points only"));
}

#[test]
fn the_highest_value_is_in_the_topmost_class() {
    for most in [0.03, 0.9, 1.0, 17.8, 25.0, 30.1, 512.0] {
        let step = class_step(most);
        assert!((5.0..=7.0).contains(&(most / step)), "{most}: {step}");
    }
    assert_eq!(class_step(f64::NAN), 1.0);
}

#[test]
fn every_class_of_the_map_is_in_the_legend_and_no_other() {
    for (measure, map) in [
        (Measure::PerKm, sheet(40).map),
        (Measure::Effort, sheet(40).map),
        (Measure::Relative, {
            let map = sheet(40).map;
            map.clone().against(&[crate::analyse::density::kernel::Mass {
                x: 0.0,
                y: 0.0,
                weight: 1.0,
            }])
        }),
    ] {
        let area = Area {
            number: 1,
            name: String::new(),
            last: None,
            sheets: vec![Sheet { map, ..sheet(40) }],
        };
        let values = classes(&area.sheets[0], measure, 1.0);
        let ends = surface::classes_of(std::slice::from_ref(&area), measure, 1.0);
        let found = || values.iter().flatten();
        assert_eq!((found().min(), found().max()), (Some(&ends.0), Some(&ends.1)));
        let legend = legend::classes(crate::present::svg::Point::new(0.0, 0.0), measure, 1.0, ends)
            .to_string();
        for (class, colour) in measure.colours().iter().enumerate() {
            let swatch = format!("fill=\"{}\" stroke", colour.0);
            let has = (ends.0..=ends.1).contains(&class);
            assert_eq!(legend.contains(&swatch), has, "{measure:?} {colour} {legend}");
        }
        assert!(values.iter().flatten().all(|class| *class < measure.colours().len()));
        assert!(!figure("T", &[area], measure, (&[], &[])).is_empty());
    }
}

#[test]
fn limits_of_classes_differ_however_small_they_are() {
    for step in [0.000_012, 0.002, 0.004, 0.025, 0.15, 1.2, 25.0, 800.0] {
        let words: Vec<String> = (1..7).map(|class| Measure::words(step, class)).collect();
        for (class, words) in words.iter().enumerate() {
            let value: f64 = words.parse().unwrap();
            let exact = if class == 0 { 0.1 * step } else { step * class as f64 };
            assert!((value / exact - 1.0).abs() < 1e-9, "{step} {words}");
        }
    }
    assert_eq!(Measure::words(0.004, 3), "0.008");
    assert_eq!(Measure::words(20.0, 1), "2");
}

#[test]
fn neutral_is_the_middle_of_the_diverging_classes() {
    assert_eq!(Measure::Relative.class(1.0, 9.0), Some(3));
    assert_eq!(Measure::Relative.class(0.1, 9.0), Some(0));
    assert_eq!(Measure::Relative.class(5.0, 9.0), Some(6));
    // what is twice as much is as far from neutral as what is half as much
    assert_eq!(Measure::Relative.class(2.1, 1.0), Some(5));
    assert_eq!(Measure::Relative.class(0.48, 1.0), Some(1));
}

#[test]
fn study_areas_are_panels_of_their_own_with_names() {
    let second = Area { number: 2, name: "Lower gate".to_owned(), ..area(20) };
    let drawn = figure("Mycena", &[area(30), second], Measure::PerKm, (&[], &[]));
    assert!(drawn.contains("1 -42.000, 146.000: 30 finds") && drawn.contains("2 Lower gate"));
    assert!(drawn.contains("at print size"));
    // by the magnetic model of that day and place: 14.4 degrees
    assert!(drawn.contains("north 14\u{b0} E"));
    assert!(drawn.contains("density-3") && drawn.contains("searched km per hectare"), "{drawn}");
}

/// A colour over another at this opacity.
fn over(top: Colour, below: Colour, opacity: f64) -> Colour {
    let (a, b) = (top.rgb(), below.rgb());
    let mix = |a: u8, b: u8| (opacity * f64::from(a) + (1.0 - opacity) * f64::from(b)).round();
    let mixed = format!(
        "#{:02x}{:02x}{:02x}",
        mix(a.0, b.0) as u8,
        mix(a.1, b.1) as u8,
        mix(a.2, b.2) as u8
    );
    Colour(Box::leak(mixed.into_boxed_str()))
}

/// Every colour that a map can have under a mark: each class, faded or not, in light and in shade.
fn grounds_of(measure: Measure) -> Vec<Colour> {
    let mut all = vec![style::PAPER];
    for class in measure.colours() {
        for (_, opacity) in surface::FADES {
            let faded = over(class, style::PAPER, opacity);
            all.extend((0..=6).map(|dark| over(style::INK, faded, 0.06 * f64::from(dark))));
        }
    }
    all
}

#[test]
fn finds_isopleths_and_words_are_seen_on_every_class() {
    let ratio = style::contrast::contrast;
    for measure in [Measure::PerKm, Measure::Finds, Measure::Error, Measure::Relative] {
        for ground in grounds_of(measure) {
            // either the ink or its white casing stands out from what is below
            let seen = ratio(style::INK, ground).max(ratio(style::PAPER, ground));
            assert!(seen >= 3.0, "{measure:?} {ground}: {seen:.2}");
        }
    }
    assert!(ratio(style::INK, style::PAPER) >= 4.5);
    let drawn = figure("Mycena", &[area(40)], Measure::PerKm, (&[], &[]));
    let panel =
        drawn.split("url(#density-0)").nth(1).unwrap().split("url(#density-1)").next().unwrap();
    let dot = format!("fill=\"{}\" stroke=\"{}\" stroke-width=\"0.6\"/>", style::INK, style::PAPER);
    // one circle for each find: the season sheet reads them back
    assert_eq!((panel.matches("<circle").count(), panel.matches(&dot).count()), (40, 40));
    let outlines = |colour: Colour, width: &str| {
        panel.matches(&format!("stroke=\"{colour}\" stroke-width=\"{width}\"")).count()
    };
    let lines = outlines(style::INK, "1.1") + outlines(style::INK, "0.6");
    assert!(lines > 0 && outlines(style::PAPER, "3.3") >= lines, "isopleths have casings");
}

#[test]
fn no_words_are_smaller_than_six_points_and_the_finding_is_described() {
    for measure in [Measure::PerKm, Measure::Effort] {
        let drawn = figure("Mycena", &[area(40)], measure, (&[], &[]));
        for part in drawn.split("font-size=\"").skip(1) {
            let size: f64 = part[..part.find('"').unwrap()].parse().unwrap();
            assert!(size >= 6.0, "{size}");
        }
        assert!(drawn.contains("<desc>-42.000, 146.000, 2026: ") && drawn.contains("40 finds"));
    }
}

#[test]
fn isopleths_keep_to_the_searched_ground() {
    let sheet = sheet(40);
    let map = &sheet.map;
    for share in [0.5, 0.95] {
        let level = crate::analyse::density::isopleth::level(&map.finds, share).unwrap();
        let rings = crate::analyse::density::isopleth::outlines(&map.finds, &map.grid, level);
        let points: Vec<(f64, f64)> = rings.into_iter().flatten().flatten().collect();
        assert!(points.len() > 8);
        for (x, y) in points {
            // searched are cells with middles within 15 m of the line from -200 to 200
            let aside = y.abs().max(x.abs() - 200.0);
            assert!(aside <= 20.0, "{share}: {x} {y}");
        }
        // what is drawn does not follow the edge
        let rings = crate::analyse::density::isopleth::outlines(&map.finds, &map.grid, level);
        let whole: usize = rings.iter().flatten().map(Vec::len).sum();
        let drawn: usize = surface::inner_parts(map, rings).iter().map(Vec::len).sum();
        assert!(drawn > 0 && drawn < whole, "{share}: {drawn} of {whole}");
    }
}
