//! Tests that no option value is ignored: blank, reversed, without effect, or of nothing in the store.

use std::fs;

use crate::run::{Desk, samples};

fn desk() -> Desk {
    let desk = Desk::new();
    desk.run(&["import", &samples().join("2026-04-18-wren-gully").to_string_lossy()]);
    desk
}

#[test]
fn blank_and_reversed_values_are_refused() {
    let desk = desk();
    let deposit = ["deposit", "--licence", "cc0", "--out", "d.zip", "--title"];
    for (arguments, why) in [
        (&["finds", "--taxon", ""][..], "--taxon is blank"),
        (&["finds", "--taxon", " \t"], "--taxon is blank"),
        (&["labels", "--out", "l.pdf", "--taxon", ""], "--taxon is blank"),
        (&["labels", "--out", "l.pdf", "--number", " "], "--number is blank"),
        (&["export", "--format", "csv", "--out", "x.csv", "--taxon", ""], "--taxon is blank"),
        (&[&deposit[..], &[""]].concat(), "--title is blank"),
        (
            &[&deposit[..], &["T", "--creator", "A", "--creator", " "]].concat(),
            "--creator is blank",
        ),
        (&["season", "--taxon", ""], "--taxon is blank"),
        (&["detection", "--site", ""], "--site is blank"),
        (&["density", "--taxon", "  "], "--taxon is blank"),
        (&["next", "--date", "2027-05-08", "--taxon", ""], "--taxon is blank"),
        (
            &["places", "quiet", "--taxon", "Mycena", "--level", "low", "--reason", ""],
            "--reason is blank",
        ),
        (&["check", ".", "--collector", ""], "--collector is blank"),
        (
            &["wayout", "--from", "-42.6 146.1", "--to", "-42.61 146.1", "--since", ""],
            "--since is blank",
        ),
        (&["stamp", "--from", "2026-06-01", "--to", "2026-05-01"], "exchange the two dates"),
        (&["labels", "--out", "l.pdf", "--from", "2026-06-01", "--to", "2026-05-01"], "exchange"),
        (
            &[&deposit[..], &["T", "--from", "2026-06-01", "--to", "2026-05-01"]].concat(),
            "exchange",
        ),
        (
            &[
                "export",
                "--format",
                "csv",
                "--out",
                "x",
                "--from",
                "2026-06-01",
                "--to",
                "2026-05-01",
            ],
            "exchange",
        ),
    ] {
        let reported = desk.reported(arguments);
        assert!(reported.starts_with("exit status: 2\n"), "{arguments:?}: {reported}");
        assert!(reported.contains(why), "{arguments:?}: {reported}");
    }
    for name in ["l.pdf", "x.csv", "x", "d.zip"] {
        assert!(!desk.path(name).exists(), "{name}");
    }
}

#[test]
fn options_without_effect_are_refused() {
    let desk = desk();
    let day = samples().join("2026-04-18-wren-gully");
    let day = day.to_string_lossy();
    let plan = ["wayout", "--plan", "2026-05-30", "--to", "-42.6110 146.1010"];
    for (arguments, why) in [
        (&["stamp", "--from", "2030-01-01"][..], "no outing of that period"),
        (&["stamp", "--to", "1990-01-01", "--copies", "copies"], "no outing of that period"),
        (&["density", "--elevation", "S43E146.hgt"], "needs --figure"),
        (&["density", "--measure", "effort"], "needs --figure or --grid"),
        (&["density", "--overwrite"], "--overwrite would have no effect"),
        (&["effort", "--cell", "50"], "needs --by cell"),
        (&["effort", "--overwrite"], "needs --figure"),
        (&["season", "--json", "--figure", "z.svg"], "needs --taxon"),
        (&["check", &day, "--overwrite"], "needs --figure"),
        (
            &["wayout", "--from", "-42.62 146.09", "--to", "-42.61 146.1", "--overwrite"],
            "--card or --gpx",
        ),
        (&[&plan[..], &["--at", "15:20"]].concat(), "needs the farthest point"),
        (&[&plan[..], &["--line", "tracks"]].concat(), "needs the farthest point"),
        (&[&plan[..], &["--gpx", "w.gpx"]].concat(), "cannot be used with"),
    ] {
        let reported = desk.reported(arguments);
        assert!(reported.starts_with("exit status: 2\n"), "{arguments:?}: {reported}");
        assert!(reported.contains(why), "{arguments:?}: {reported}");
    }
    assert!(!desk.path("copies").exists() && !desk.path("z.svg").exists());
    let unknown = desk.reported(&["finds", "--taxon", "Mycenna"]);
    assert!(unknown.starts_with("exit status: 1\n"), "{unknown}");
}

#[test]
fn longitudes_beyond_180_are_asked_about() {
    let desk = desk();
    for arguments in [
        &["trailhead", "add", "X", "-42.6 200"][..],
        &["wayout", "--from", "-42.6189,200", "--to", "-42.611 146.101"],
        &["finds", "--near", "-42.6 200", "--within", "50"],
    ] {
        let reported = desk.reported(arguments);
        assert!(reported.starts_with("exit status: 2\n"), "{arguments:?}: {reported}");
        assert!(reported.contains("beyond 180") && reported.contains("160 W"), "{reported}");
    }
}

#[test]
fn empty_files_do_not_become_stores() {
    let desk = desk();
    desk.file("notes.txt", "");
    let day = samples().join("2026-04-18-wren-gully");
    let day = day.to_string_lossy();
    let reported = desk.reported(&["import", &day, "--store", "notes.txt"]);
    assert!(reported.starts_with("exit status: 2\n"), "{reported}");
    assert!(reported.contains("it is an empty file"), "{reported}");
    assert_eq!(fs::read(desk.path("notes.txt")).unwrap(), b"");
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink("nowhere", desk.path("link.gpkg")).unwrap();
        let reported = desk.reported(&["import", &day, "--store", "link.gpkg"]);
        assert!(reported.contains("link.gpkg is a broken link"), "{reported}");
        assert!(!desk.path("nowhere").exists());
    }
    // what a creation leaves that was killed
    desk.file("new.gpkg", "");
    let imported = desk.run(&["import", &day, "--store", "new.gpkg"]).status.code();
    assert!(matches!(imported, Some(0 | 1)), "{imported:?}");
}

#[test]
fn gpx_of_another_namespace_is_named() {
    let desk = Desk::new();
    desk.file(
        "walk.gpx",
        "<gpx xmlns=\"http://example.org/other\"><trk><trkseg>\
         <trkpt lat=\"1\" lon=\"2\"/></trkseg></trk></gpx>",
    );
    let reported = desk.reported(&["check", "walk.gpx"]);
    assert!(reported.starts_with("exit status: 1\n"), "{reported}");
    assert!(reported.contains("namespace \"http://example.org/other\""), "{reported}");
    assert!(!reported.contains("truncated"), "{reported}");
}

/// The parser's own messages repeat the input; its control characters are shown, not dropped.
#[test]
fn parser_messages_show_control_characters() {
    let desk = Desk::new();
    for arguments in [
        &["finds", "--from", "x\u{1b}[31m\u{7}y"][..],
        &["x\u{1b}[31m\u{7}y"],
        &["finds", "x\u{1b}[31m\u{7}y"],
    ] {
        let reported = desk.reported(arguments);
        assert!(reported.starts_with("exit status: 2\n"), "{reported}");
        assert!(!reported.contains(['\u{1b}', '\u{7}']), "{reported:?}");
        assert!(reported.contains("x\\u001b[31m\\u0007y"), "{reported:?}");
    }
}

fn photographs(desk: &Desk) -> Vec<String> {
    let day = samples().join("2026-05-02-thimble-spur");
    for entry in fs::read_dir(day).unwrap() {
        let entry = entry.unwrap();
        desk.file(
            &format!("day/{}", entry.file_name().to_string_lossy()),
            fs::read(entry.path()).unwrap(),
        );
    }
    let imported = desk.run(&["import", "day"]).status.code();
    assert!(matches!(imported, Some(0 | 1)), "{imported:?}");
    listed(desk, "day", "xmp")
}

fn listed(desk: &Desk, folder: &str, end: &str) -> Vec<String> {
    let names = fs::read_dir(desk.path(folder)).into_iter().flatten();
    let mut names: Vec<String> =
        names.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.retain(|name| name.to_lowercase().ends_with(end));
    names.sort();
    names
}

#[test]
fn stamps_are_written_all_or_none() {
    let desk = Desk::new();
    assert!(photographs(&desk).is_empty());
    desk.file("day/P2050.xmp", "<x:xmpmeta x:xmptk=\"Another 7\"/>");
    let reported = desk.reported(&["stamp"]);
    assert!(reported.starts_with("exit status: 2\n"), "{reported}");
    assert!(reported.contains("P2050.xmp: another program wrote it"), "{reported}");
    assert_eq!(listed(&desk, "day", "xmp"), ["P2050.xmp"]);
    let reported = desk.reported(&["stamp", "--keep-existing"]);
    assert!(reported.starts_with("exit status: 1\n"), "{reported}");
    assert!(listed(&desk, "day", "xmp").len() > 20, "{reported}");
    let kept = fs::read_to_string(desk.path("day/P2050.xmp")).unwrap();
    assert!(kept.contains("Another 7"));
    desk.file("copies/P2050.jpg", "mine");
    let reported = desk.reported(&["stamp", "--copies", "copies"]);
    assert!(reported.starts_with("exit status: 2\n"), "{reported}");
    assert_eq!(listed(&desk, "copies", "jpg"), ["P2050.jpg"]);
    assert_eq!(listed(&desk, "copies", ""), ["P2050.jpg"], "no temporary file remains");
}

#[test]
fn one_of_several_numbers_that_no_find_has_is_reported() {
    let desk = desk();
    let numbers = ["--number", "AQ-9999", "--number", "AQ-0041"];
    for command in [&["finds"][..], &["export", "--format", "csv", "--out", "f.csv"]] {
        let reported = desk.reported(&[command, &numbers].concat());
        assert!(reported.starts_with("exit status: 1\n"), "{reported}");
        assert!(reported.contains("no find in the store has the number AQ-9999"), "{reported}");
    }
}

/// A find that an output withheld still decides about its outing after it was withdrawn.
#[test]
fn an_outing_keeps_its_level_when_its_sensitive_find_is_withdrawn() {
    let desk = desk();
    desk.run(&["places", "quiet", "--taxon", "Hericium coralloides", "--level", "extreme"]);
    let exported = |name: &str| {
        let out = ["--format", "csv", "--coordinates", "exact-unless-sensitive", "--out", name];
        desk.reported(&[&["export"][..], &out].concat())
    };
    desk.reported(&["export", "--format", "csv", "--taxon", "Hericium", "--out", "one.csv"]);
    let withdrawn = desk.reported(&["amend", "AQ-0053", "--withdraw", "--reason", "lost"]);
    assert!(withdrawn.starts_with("exit status: 0\n"), "{withdrawn}");
    let kept = exported("kept.csv");
    assert!(kept.contains("15 generalised (extreme)") && !kept.contains("exact."), "{kept}");
    desk.reported(&["places", "open", "--find", "AQ-0053"]);
    let others = exported("others.csv");
    assert!(others.contains("15 generalised (extreme)"), "its mates were published so: {others}");
    let released = desk.reported(&["places", "open", "--find", "AQ-0053", "--with-outing"]);
    assert!(released.contains("released"), "{released}");
    assert!(exported("all.csv").contains("15 exact"));
}

#[test]
fn the_start_of_a_sensitive_outing_is_no_safe_place_of_a_page() {
    let desk = desk();
    let page = || {
        let safe = ["--safe", "Camp=-42.6170 146.0930", "--area", "-42.6160 146.0950"];
        let asked = ["carry", "--date", "2026-04-25", "--out", "page.html", "--overwrite"];
        let reported = desk.reported(&[&asked[..], &safe].concat());
        (reported, fs::read_to_string(desk.path("page.html")).unwrap_or_default())
    };
    assert!(page().1.contains("start of the track"), "{}", page().0);
    desk.run(&["places", "quiet", "--taxon", "Hericium coralloides", "--level", "low"]);
    let (reported, page) = page();
    assert!(reported.contains("the start of the track is not a safe place"), "{reported}");
    assert!(page.contains("Camp") && !page.contains("start of the track"));
}

#[test]
fn copies_of_photographs_that_become_sensitive_are_named() {
    let desk = Desk::new();
    photographs(&desk);
    let reported = desk.reported(&["stamp", "--copies", "copies"]);
    assert!(reported.starts_with("exit status: 0\n"), "{reported}");
    let copies = listed(&desk, "copies", "jpg").len();
    desk.reported(&["places", "quiet", "--taxon", "Russula persanguinea", "--level", "high"]);
    let reported = desk.reported(&["stamp", "--copies", "copies"]);
    assert!(reported.starts_with("exit status: 1\n"), "{reported}");
    assert_eq!(reported.matches(" withheld now, and ").count(), 1, "{reported}");
    let json = desk.run(&["stamp", "--copies", "copies", "--json"]);
    let json: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    let stale = json["stale_copies"].as_array().unwrap();
    assert!(stale.len() > 1 && stale.iter().all(|one| one["copy"].is_string()), "{json}");
    assert!(reported.contains(&format!("{} photographs are withheld", stale.len())), "{reported}");
    assert_eq!(listed(&desk, "copies", "jpg").len(), copies, "the user removes them");
}

/// Inserts a comment segment behind the first marker of a JPEG.
fn with_comment(jpeg: &[u8], text: &[u8]) -> Vec<u8> {
    let long = u16::try_from(text.len() + 2).unwrap().to_be_bytes();
    [&jpeg[..2], b"\xff\xfe", &long, text, &jpeg[2..]].concat()
}

#[test]
fn copies_with_coordinates_or_a_time_of_day_in_a_text_are_not_written() {
    let desk = Desk::new();
    photographs(&desk);
    let finds = desk.run(&["finds", "--format", "geojson"]);
    let finds: serde_json::Value = serde_json::from_slice(&finds.stdout).unwrap();
    let find = &finds["features"][0]["properties"];
    let photo = find["associatedMedia"].as_str().unwrap().split(['|', ' ', '/']).next_back();
    let photo = photo.unwrap().to_owned();
    let (latitude, longitude) = (&find["decimalLatitude"], &find["decimalLongitude"]);
    let file = desk.path("day").join(&photo);
    let jpeg = fs::read(&file).unwrap();
    let wide: Vec<u8> =
        format!("{latitude}, {longitude}").encode_utf16().flat_map(u16::to_le_bytes).collect();
    let time = &b"Mycena, found at 11:24"[..];
    for comment in [format!("at {latitude} {longitude}").as_bytes(), &wide, time] {
        fs::write(&file, with_comment(&jpeg, comment)).unwrap();
        let reported = desk.reported(&["stamp", "--copies", "copies"]);
        assert!(reported.starts_with("exit status: 1\n"), "{reported}");
        assert!(reported.contains(&format!("{photo} was not copied")), "{reported}");
        let copies = listed(&desk, "copies", "jpg");
        assert!(copies.len() > 20 && !copies.contains(&photo), "{copies:?}");
        fs::remove_dir_all(desk.path("copies")).unwrap();
    }
    fs::write(&file, jpeg).unwrap();
    let reported = desk.reported(&["stamp", "--copies", "copies"]);
    assert!(listed(&desk, "copies", "jpg").contains(&photo), "{reported}");
}
