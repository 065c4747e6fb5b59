//! Tests that input data cannot send control characters to the terminal, and that invalid arguments are
//! input errors.

use std::fs;

use crate::run::{Desk, samples};

const HOSTILE: &str = "x\u{1b}[31m\u{9b}2J\u{7}\u{202e}y\u{85}\u{7f}";

/// A day whose files, names and notes contain control characters.
fn hostile_day() -> Desk {
    let desk = Desk::new();
    let points: Vec<String> = (0..40)
            .map(|n| {
                format!(
                    "<trkpt lat=\"-42.61{n:03}\" lon=\"146.09\"><time>2026-05-02T00:{n:02}:00Z</time></trkpt>"
                )
            })
            .collect();
    let points = points.concat();
    let gpx = format!(
        "<?xml version=\"1.0\"?><gpx version=\"1.1\" creator=\"c\u{202e}\u{9b}31m\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><name>n\u{9b}31m\u{202e}</name><trkseg>{points}</trkseg></trk></gpx>"
    );
    let record = |number: &str| {
        format!(
            "\"{number}{HOSTILE}\",2026-05-02,10:10,\"Mycena {HOSTILE}\",\"by {HOSTILE}\",\"note {HOSTILE}\r\nerror: two\",\"{HOSTILE}\",\"place {HOSTILE}\"\n"
        )
    };
    let notes = format!(
        "number,date,time,name,collector,notes,photos,place\n{}{}{}",
        record("A-1"),
        record("A-2"),
        record("A-2")
    );
    desk.file("day/t\u{1b}[31m\u{202e}\nerror: three.gpx", gpx)
        .file("day/n\u{1b}]0;title\u{7}.csv", notes)
        .file("day/p\u{9b}31m.jpg", b"\xff\xd8\xff\xe1\x10\x00Exif\0\0MM\0*")
        .file("day/other\u{1b}[2J.dat", b"\x01\0\x02")
        .file("day/bad\u{1b}[2J.gpx", "<html>");
    desk
}

fn shown_on_a_terminal(desk: &Desk, arguments: &[&str]) -> Option<i32> {
    let output = desk.run(arguments);
    for (what, bytes) in [("results", &output.stdout), ("notes", &output.stderr)] {
        let text = String::from_utf8_lossy(bytes).replace("\r\n", "\n");
        let steers = |c: &char| {
            let turns = matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
            turns || (c.is_control() && *c != '\n')
        };
        if let Some(c) = text.chars().find(steers) {
            panic!("{arguments:?} sends {c:?} among its {what}: {text:?}");
        }
        // line ends of notes are kept inside CSV quotes and XML elements
        let of_data = ["csv", "gpx", "kml"].iter().any(|form| arguments.contains(form));
        for spoof in ["error: two", "error: three"] {
            let spoofs = text.lines().any(|line| line.starts_with(spoof));
            assert!(of_data || !spoofs, "{arguments:?}: {text}");
        }
    }
    output.status.code()
}

#[test]
fn control_characters_are_escaped() {
    let desk = hostile_day();
    let zone = ["--zone", "Australia/Hobart"];
    shown_on_a_terminal(&desk, &[&["check", "day"][..], &zone].concat());
    shown_on_a_terminal(&desk, &[&["check", "day", "--json"][..], &zone].concat());
    let imported = shown_on_a_terminal(&desk, &[&["import", "day"][..], &zone].concat());
    assert_eq!(imported, Some(1));
    for arguments in [
        &["finds"][..],
        &["finds", "--format", "csv"],
        &["finds", "--format", "geojson"],
        &["finds", "--format", "gpx"],
        &["finds", "--format", "kml"],
        &["sites"],
        &["sites", "--format", "json"],
        &["sites", "--format", "geojson"],
        &["visits"],
        &["visits", "--format", "json"],
        &["effort", "--by", "day"],
        &["season", "--taxon", "Mycena"],
        &["detection"],
        &["detection", "--taxon", "Mycena"],
        &["density"],
        &["next", "--date", "2027-05-02"],
        &["next", "--date", "2027-05-02", "--format", "json"],
        &["labels", "--out", "l.pdf"],
        &["labels", "--out", "l.pdf", "--number", HOSTILE],
        &["sheet", "--day", "2026-05-02", "--out", "d.html"],
        &["sheet", "--season", "2026", "--out", "y.html"],
        &["stamp"],
        &["export", "--format", "csv", "--out", "f.csv"],
        &["deposit", "--title", HOSTILE, "--licence", "cc0", "--out", "d.zip"],
        &["places"],
        &["places", "--json"],
        &["trailhead", "add", HOSTILE, "-42.6 146.1"],
        &["trailhead", "list"],
        &["trailhead", "remove", "no\u{1b}[31m"],
        &["wayout", "--from", "-42.61 146.1", "--at", "2026-05-02T12:00+10:00"],
        &["wayout", "--from", "-42.61 146.1", "--at", "2026-05-02T12:00+10:00", "--json"],
        &["sites", "name", "1", HOSTILE],
        &["sites"],
        &["verify"],
        // the error repeats the input
        &["finds", "--from", HOSTILE],
        &["finds", "--near", HOSTILE, "--within", "3"],
        &["finds", "--store", HOSTILE],
        &["finds", "--taxon", HOSTILE],
        &["labels", "--out", "no\u{1b}[31m/l.pdf"],
        &["check", HOSTILE],
        &["check", "day", "--camera-clock", HOSTILE],
        &["check", "day", "--zone", HOSTILE],
        &["check", "day", "--figure", HOSTILE],
        &["visits", "--site", HOSTILE],
        &[HOSTILE],
        &["finds", HOSTILE],
        &["season", "--taxon", HOSTILE],
        &["demo", "--into", "day"],
    ] {
        let status = shown_on_a_terminal(&desk, arguments);
        assert!(matches!(status, Some(0..=2)), "{arguments:?}: {status:?}");
    }
    // files and JSON contain the original text
    let finds = desk.run(&["finds", "--format", "geojson"]);
    let finds: serde_json::Value = serde_json::from_slice(&finds.stdout).unwrap();
    let name = finds["features"][0]["properties"]["recordNumber"].as_str().unwrap();
    assert!(name.starts_with("A-1x\u{1b}[31m"), "{name:?}");
}

#[test]
fn invalid_arguments_are_input_errors() {
    let desk = Desk::new();
    let day = samples().join("2026-04-18-wren-gully");
    let day = day.to_string_lossy();
    desk.run(&["import", &day]);
    desk.file("latin.geojson", b"{\"type\":\"\xe9\xff\"}")
        .file("latin.asc", b"ncols 2\xff\nnrows \xe9\n");
    fs::create_dir(desk.path("folder")).unwrap();
    for arguments in [
        &["finds", "--store", "folder"][..],
        &["import", &day, "--store", "folder"],
        &["finds", "--store", "trug.gpkg/inside"],
        &["import", &day, "--store", "trug.gpkg/inside"],
        &["check", "trug.gpkg/inside"],
        &["labels", "--out", "folder"],
        &["labels", "--out", "trug.gpkg/l.pdf"],
        &["stamp", "--into", "trug.gpkg"],
        &["stamp", "--copies", "trug.gpkg/inside"],
        &["export", "--format", "geoparquet", "--by-year", "--out", "trug.gpkg/inside"],
        &["wayout", "--track", "folder", "--to", "-42.6 146.1"],
        &["wayout", "--from", "-42.61 146.1", "--to", "-42.6 146.1", "--avoid", "folder"],
        &["wayout", "--from", "-42.61 146.1", "--to", "-42.6 146.1", "--avoid", "latin.geojson"],
        &["wayout", "--from", "-42.61 146.1", "--to", "-42.6 146.1", "--elevation", "latin.asc"],
        &["wayout", "--from", "-42.61 146.1", "--to", "-42.6 146.1", "--within", "1e300"],
        &["density", "--bandwidth", "1e300"],
        &["density", "--bandwidth", "nan"],
        &["density", "--bandwidth", "-5"],
        &["sites", "--within", "1e300", "--coarsest", "inf"],
        &["effort", "--cell", "nan"],
        &["next", "--date", "2027-05-08", "--hours", "1e300"],
        &["next", "--date", "2027-05-08", "--hours", "nan"],
        &["next", "--date", "2027-05-08", "--hours", "2", "--stay", "inf"],
        &["check", &day, "--stand-off", "nan"],
        &["check", &day, "--camera-clock", "+999999999:00:00"],
        &["check", &day, "--camera-clock", "-999999999:00:00"],
        &["finds", "--near", "-42.6S 146.1E", "--within", "inf"],
        &["labels", "--slips", "AQ-1", "--count", "99999999999", "--out", "s.pdf"],
        &["sheet", "--season", "99999", "--out", "s.html"],
    ] {
        let reported = desk.reported(arguments);
        assert!(reported.starts_with("exit status: 2\n"), "{arguments:?}: {reported}");
    }
    // large but valid numbers are accepted or refused, never an unexpected error
    for arguments in [
        &["labels", "--slips", "AQ-18446744073709551615", "--count", "3", "--out", "s.pdf"][..],
        &["next", "--date", "9999-12-31", "--hours", "2"],
        &["next", "--date", "0001-01-01"],
        &["next", "--date", "-009999-01-01"],
        &["wayout", "--plan", "9999-12-31", "--to", "-42.6 146.1"],
        &["wayout", "--from", "-42.61 146.1", "--to", "-42.6 146.1", "--at", "9999-12-31T23:59Z"],
        &["check", &day, "--camera-clock", "+876000:00:00"],
        &["check", &day, "--zone", "+25:59"],
        &["effort", "--cell", "1e300"],
        &["sites", "--within", "1e300"],
        &["sites", "--within", "1e308"],
        &["finds", "--near", "-42.6 146.1", "--within", "1e308"],
        &[
            "wayout",
            "--plan",
            "2026-05-16",
            "--to",
            "-42.6 146.1",
            "--from",
            "-42.61 146.1",
            "--within",
            "1e308",
        ],
    ] {
        let status = desk.run(arguments).status.code();
        assert!(matches!(status, Some(0..=2)), "{arguments:?}: {status:?}");
    }
}

#[test]
fn endless_input_is_not_repeated() {
    let desk = hostile_day();
    desk.run(&["import", "day", "--zone", "Australia/Hobart"]);
    let (word, words) = ("9".repeat(100_000), "-42.6 146.1 ".repeat(8_000));
    for endless in [word.as_str(), words.as_str()] {
        for arguments in [
            &["wayout", "--from", endless][..],
            &["wayout", "--from", "-42.61 146.1", "--to", endless],
            &["wayout", "--from", "-42.61 146.1", "--to", "-42.6 146.1", "--at", endless],
            &["wayout", "--from", "-42.61 146.1", "--to", "-42.6 146.1", "--within", endless],
            &["wayout", "--plan", "2026-05-16", "--to", endless],
            &["finds", "--near", endless, "--within", "3"],
            &["finds", "--from", endless],
            &["season", "--taxon", endless],
            &["sites", "name", endless, "x"],
            &["trailhead", "add", "Gate", endless],
            &["check", "day", "--zone", endless],
            &["check", "day", "--camera-clock", endless],
            &["labels", "--number", endless, "--out", "l.pdf"],
            &["places", "quiet", "--taxon", endless, "--level", "high"],
            &["places", "quiet", "--find", endless, "--level", "high"],
            &["carry", "--safe", endless, "--out", "c.html"],
            &[endless],
        ] {
            let output = desk.run(arguments);
            let text = String::from_utf8_lossy(&output.stderr);
            let length = text.chars().count();
            assert!(length < 6_000, "{:?}: {length} characters", &arguments[..arguments.len() - 1]);
        }
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_file_that_cannot_be_read_back_is_an_input_error() {
    let desk = hostile_day();
    desk.run(&["import", "day", "--zone", "Australia/Hobart"]);
    for more in [&["--out", "/proc/self/mem"][..], &["--out", "/proc/self/mem", "--overwrite"]] {
        let reported = desk.reported(&[&["export", "--format", "csv"][..], more].concat());
        assert!(reported.starts_with("exit status: 2\n"), "{reported}");
    }
}

#[test]
fn documents_do_not_hold_characters_that_steer_their_reader() {
    let desk = hostile_day();
    desk.run(&["import", "day", "--zone", "Australia/Hobart"]);
    desk.run(&["trailhead", "add", HOSTILE, "-42.6120 146.0900"]);
    desk.run(&["sites"]);
    desk.run(&["sites", "name", "1", HOSTILE]);
    let at = ["--at", "2026-05-02T12:00+10:00"];
    for (name, arguments) in [
        (
            "f.kml",
            &["export", "--format", "kml", "--coordinates", "exact-throughout", "--ways"][..],
        ),
        ("f.gpx", &["export", "--format", "gpx", "--coordinates", "exact-throughout", "--ways"]),
        ("c.html", &["carry", "--date", "2026-05-02", "--zone", "Australia/Hobart"]),
        ("l.svg", &["labels"]),
        ("d.html", &["sheet", "--day", "2026-05-02"]),
        ("y.html", &["sheet", "--season", "2026"]),
    ] {
        let reported = desk.reported(&[arguments, &["--out", name]].concat());
        assert!(!reported.starts_with("exit status: 2"), "{name}: {reported}");
        let Ok(text) = fs::read_to_string(desk.path(name)) else { continue };
        let steers = |c: &char| {
            let turns = matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}');
            turns || (c.is_control() && !matches!(c, '\n' | '\t' | '\r'))
        };
        let found = text.chars().find(steers);
        let near = found.and_then(|c| text.find(c)).map(|at| {
            text[..at].chars().rev().take(60).collect::<String>().chars().rev().collect::<String>()
        });
        assert_eq!(found, None, "{name}: behind {near:?}");
    }
    let card = [&["wayout", "--from", "-42.6100 146.0900", "--card", "w.svg"][..], &at].concat();
    desk.reported(&card);
    let card = fs::read_to_string(desk.path("w.svg")).unwrap();
    assert!(!card.contains(['\u{202e}', '\u{9b}']));
}
