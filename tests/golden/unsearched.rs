//! Tests that `trug next --unsearched` offers areas of the elevations where a taxon grows, and says why none is offered.

use std::fmt::Write as _;

use crate::run::Desk;

const HEAD: &str = r#"<?xml version="1.0"?>
<gpx version="1.1" creator="hand" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
"#;

/// Metres of a degree of latitude, and of longitude in Tasmania.
const NORTH: f64 = 111_100.0;
const EAST: f64 = 82_060.0;

/// A repeatable share of 1, without a pattern in neighbouring numbers.
fn share(number: u32) -> f64 {
    let mixed = (number ^ (number >> 16)).wrapping_mul(0x7feb_352d);
    let mixed = (mixed ^ (mixed >> 15)).wrapping_mul(0x846c_a68b);
    f64::from((mixed ^ (mixed >> 16)) >> 8) / f64::from(1_u32 << 24)
}

/// Ground that rises to the east by a tenth of the way, from 300 m at 146.00 E.
fn slope() -> String {
    let mut text =
        "ncols 140\nnrows 90\nxllcenter 145.995\nyllcenter -42.635\ncellsize 0.0005\n".to_owned();
    let row: Vec<String> = (0..140)
        .map(|column| format!("{:.1}", 300.0 + 0.1 * EAST * (f64::from(column) * 0.0005 - 0.005)))
        .collect();
    for _ in 0..90 {
        writeln!(text, "{}", row.join(" ")).unwrap();
    }
    text
}

/// Forty-eight outings of ninety minutes in six autumns, slowly to the east. Russula plana grows from 480 to 560 m, Lepista
/// nuda everywhere. Nobody goes north of 42.61 S.
fn hill() -> Desk {
    let desk = Desk::new();
    desk.file("slope.asc", slope());
    let mut book = "Number,Date,Time,Name\n".to_owned();
    let mut finds = 0;
    for outing in 0..48_u32 {
        let date = format!("{}-05-{:02}", 2021 + outing / 8, 2 + 3 * (outing % 8));
        let (begin, south) = (2_400.0 * share(900_000 + outing), 1_200.0 * share(800_000 + outing));
        let mut points = String::new();
        for minute in 0..=90_u32 {
            let east = begin + 21.0 * f64::from(minute);
            let south = south + 15.0 * f64::from(minute % 4);
            writeln!(
                points,
                "<trkpt lat=\"{:.6}\" lon=\"{:.6}\"><time>{date}T{:02}:{:02}:00Z</time></trkpt>",
                -42.61 - south / NORTH,
                146.0 + east / EAST,
                minute / 60,
                minute % 60
            )
            .unwrap();
            let drawn = share(1_000 * outing + minute);
            let russula = if (1_800.0..2_600.0).contains(&east) { 0.16 } else { 0.01 };
            for (name, rate) in [("Russula plana", russula), ("Lepista nuda", 0.04)] {
                let own = if name.starts_with('R') { drawn } else { 1.0 - drawn };
                if own < rate {
                    finds += 1;
                    let (hour, minute) = (10 + minute / 60, minute % 60);
                    writeln!(book, "H-{finds},{date},{hour}:{minute:02},{name}").unwrap();
                }
            }
        }
        desk.file(&format!("d/{date}/walk.gpx"), format!("{HEAD}{points}</trkseg></trk></gpx>\n"));
    }
    desk.file("d/notebook.csv", book);
    desk.run(&["import", "d", "--store", "a.gpkg", "--elevation", "slope.asc"]);
    desk
}

const NEXT: [&str; 6] = ["next", "--store", "a.gpkg", "--date", "2027-05-10", "--unsearched"];

fn unsearched(desk: &Desk, more: &[&str]) -> serde_json::Value {
    let output = desk.run(&[&NEXT[..], more, &["--format", "json"]].concat());
    let report: serde_json::Value = serde_json::from_slice(&output.stdout)
        .unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&output.stderr)));
    report["unsearched"].clone()
}

#[test]
fn areas_of_a_belt_of_elevation_are_offered_where_nobody_searched() {
    let desk = hill();
    let start = ["--from", "-42.6100 146.0270", "--within", "3"];
    let russula = unsearched(&desk, &[&start[..], &["--taxon", "Russula plana"]].concat());
    assert_eq!(russula["code"], "unsearched-offered", "{russula}");
    let areas = russula["areas"].as_array().unwrap();
    assert!(!areas.is_empty());
    for area in areas {
        let number = |name: &str| area[name].as_f64().unwrap();
        assert!((470.0..570.0).contains(&number("elevation_m")), "{area}");
        assert!(number("relative_rate_low95") > 1.0 && number("relative_rate") > 1.5, "{area}");
        assert!(number("nearest_search_m") >= 200.0 && number("nearest_path_m") <= 500.0, "{area}");
        assert!(number("distance_m") <= 3_000.0 && number("slope_deg") < 10.0, "{area}");
        assert!(area["support"]["outings"].as_u64().unwrap() >= 6, "{area}");
    }
    let text = desk.reported(&[&NEXT[..], &start, &["--taxon", "Russula plana"]].concat());
    for part in
        ["Unsearched areas for Russula plana, extrapolated by elevation", "Positions are exact"]
    {
        assert!(text.contains(part), "{text}");
    }
    // the same ground says nothing of a taxon that grows everywhere
    let lepista = unsearched(&desk, &[&start[..], &["--taxon", "Lepista nuda"]].concat());
    assert_eq!(lepista["code"], "unsearched-not-predictive", "{lepista}");
    assert!(lepista["areas"].as_array().unwrap().is_empty());
}

#[test]
fn what_cannot_be_asked_is_refused_and_missing_tiles_are_named() {
    let desk = Desk::new();
    let point = |step: u32| {
        let (minute, second) = (step / 3, 20 * (step % 3));
        let north = -42.61 + f64::from(step) * 4e-5;
        format!(
            "<trkpt lat=\"{north:.6}\" lon=\"146.09\"><time>2026-05-02T00:{minute:02}:{second:02}Z</time></trkpt>"
        )
    };
    let points: String = (0..90).map(point).collect();
    desk.file("d/walk.gpx", format!("{HEAD}{points}</trkseg></trk></gpx>")).file(
        "d/notes.csv",
        "Number,Date,Time,Name,Coordinates,Position final,Uncertainty\n\
             A-1,2026-05-02,10:10,Mycena,\"-42.60880, 146.09000\",yes,4 m\n",
    );
    desk.run(&["import", "d", "--store", "a.gpkg"]);
    assert_eq!(unsearched(&desk, &[])["code"], "unsearched-no-tiles");
    for (more, said) in [
        (&["--aim", "new"][..], "does not go with --aim new"),
        (&["--within", "80"], "is no distance"),
        (&["--within", "0"], "is no distance"),
    ] {
        let text = desk.reported(&[&NEXT[..], more].concat());
        assert!(text.contains("exit status: 2") && text.contains(said), "{text}");
    }
    let alone = ["next", "--store", "a.gpkg", "--date", "2027-05-10", "--within", "3"];
    assert!(desk.reported(&alone).contains("--unsearched"));
}
