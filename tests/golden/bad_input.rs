//! Tests messages for invalid input files, and that the valid parts of a damaged file are kept.

use insta::assert_snapshot;

use crate::run::Desk;

const HEAD: &str = r#"<?xml version="1.0"?>
<gpx version="1.1" creator="hand" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>
"#;

const TAIL: &str = "</trkseg></trk></gpx>\n";

fn point(second: usize, inside: &str) -> String {
    let (minute, left) = (second / 60, second % 60);
    format!(
        "<trkpt lat=\"-42.61{second:03}\" lon=\"146.09\"><time>2026-05-02T00:{minute:02}:{left:02}Z</time>{inside}</trkpt>\n"
    )
}

fn good_points(number: usize) -> String {
    (0..number).map(|index| point(index * 10, "")).collect()
}

fn track(extra: &str) -> String {
    format!("{HEAD}{}{extra}{TAIL}", good_points(30))
}

/// The output of `check` on a folder with this one track, from the files section on.
fn checked(name: &str, content: impl AsRef<[u8]>) -> String {
    let desk = Desk::new();
    desk.file(&format!("day/{name}"), content);
    desk.reported(&["check", "day"])
}

#[test]
fn a_latitude_of_91() {
    let bad = "<trkpt lat=\"91\" lon=\"146.09\"><time>2026-05-02T00:06:00Z</time></trkpt>\n";
    assert_snapshot!(checked("a.gpx", track(bad)));
}

#[test]
fn a_decimal_comma() {
    let bad = "<trkpt lat=\"-42,61\" lon=\"146,09\"><time>2026-05-02T00:06:00Z</time></trkpt>\n";
    assert_snapshot!(checked("a.gpx", track(bad)));
}

#[test]
fn a_month_13() {
    let bad = "<trkpt lat=\"-42.61\" lon=\"146.09\"><time>2026-13-02T00:06:00Z</time></trkpt>\n";
    assert_snapshot!(checked("a.gpx", track(bad)));
}

#[test]
fn unknown_gpx_element_is_ignored() {
    assert_snapshot!(checked("a.gpx", track(&point(310, "<mood>wet</mood>"))));
}

#[test]
fn a_file_cut_short() {
    let whole = track("");
    assert_snapshot!(checked("a.gpx", &whole[..whole.len() - 60]));
}

#[test]
fn an_entity_bomb() {
    let bomb = "<?xml version=\"1.0\"?><!DOCTYPE gpx [<!ENTITY a \"spore\"><!ENTITY b \"&a;&a;&a;&a;\">]>\n";
    let body = track(&point(310, "<name>&b;</name>"));
    assert_snapshot!(checked("a.gpx", format!("{bomb}{}", body.split_once('\n').unwrap().1)));
}

#[test]
fn file_with_gpx_name_that_is_not_gpx() {
    assert_snapshot!(checked("a.gpx", "<html><body>not found</body></html>"));
}

#[test]
fn an_empty_folder() {
    let desk = Desk::new();
    desk.file("day/.keep", "");
    assert_snapshot!(desk.reported(&["import", "day"]));
    assert!(!desk.path("trug.gpkg").exists(), "nothing may be written");
}

#[test]
fn path_that_does_not_exist() {
    let desk = Desk::new();
    assert_snapshot!(desk.reported(&["import", "no-such-day"]));
    assert!(!desk.path("trug.gpkg").exists(), "nothing may be written");
}

#[test]
fn a_photograph_cut_short() {
    let desk = Desk::new();
    desk.file("day/a.gpx", track(""))
        .file("day/P1001.jpg", b"\xff\xd8\xff\xe1\x10\x00Exif\0\0MM\0*");
    assert_snapshot!(desk.reported(&["check", "day"]));
}

#[test]
fn a_table_without_headings() {
    let desk = Desk::new();
    desk.file("day/a.gpx", track(""))
        .file("day/notes.csv", "AQ-1,2026-05-02,10:01\nAQ-2,2026-05-02,10:02\n");
    assert_snapshot!(desk.reported(&["check", "day"]));
}

#[test]
fn swapped_and_ambiguous_coordinates() {
    let desk = Desk::new();
    let records = "number,date,time,coordinates,host,substrate\n\
        AQ-1,2026-05-02,10:02,\"146.09 -42.61\",beech,soil\n\
        AQ-2,2026-05-02,10:03,\"42.61 146.09\",beech,soil\n\
        AQ-3,2026-05-02,10:04,\"somewhere wet\",beech,soil\n";
    desk.file("day/a.gpx", track("")).file("day/notes.csv", records);
    let reported = desk.reported(&["check", "day", "--zone", "Australia/Hobart"]);
    let (status, rest) = reported.split_once('\n').unwrap();
    assert_snapshot!(format!("{status}\n{}", rest.split_once("Conflicts\n").unwrap().1));
}

#[test]
fn find_without_any_evidence() {
    let desk = Desk::new();
    let records = "number,date,host,substrate\nAQ-1,2026-05-02,beech,soil\n";
    desk.file("day/a.gpx", track("")).file("day/notes.csv", records);
    assert_snapshot!(desk.reported(&["check", "day", "--zone", "Australia/Hobart"]));
}

#[test]
fn invalid_zone_and_camera_clock() {
    let desk = Desk::new();
    desk.file("day/a.gpx", track(""));
    assert_snapshot!(desk.reported(&["check", "day", "--zone", "Nowhere/Else"]));
    assert_snapshot!(desk.reported(&["check", "day", "--camera-clock", "an hour"]));
    assert_snapshot!(desk.reported(&[
        "check",
        "day",
        "--camera-clock",
        "P1.jpg=2026-05-02T09:14:30"
    ]));
}

#[test]
fn file_that_is_not_a_store() {
    let desk = Desk::new();
    desk.file("day/a.gpx", track(""))
        .file("notes.txt", "not a store at all, just some words about the weather");
    assert_snapshot!(desk.reported(&["import", "day", "--store", "notes.txt"]));
    assert_eq!(
        std::fs::read_to_string(desk.path("notes.txt")).unwrap(),
        "not a store at all, just some words about the weather"
    );
    assert_snapshot!(desk.reported(&["finds", "--store", "no-such.gpkg"]));
    assert_snapshot!(desk.reported(&["import", "day", "--store", "no/such/folder.gpkg"]));
}

#[test]
fn invalid_search_options() {
    let desk = Desk::new();
    desk.file("day/a.gpx", track(""));
    desk.run(&["import", "day"]);
    assert_snapshot!(desk.reported(&["finds", "--from", "2026-06-01", "--to", "2026-05-01"]));
    assert_snapshot!(desk.reported(&["finds", "--near", "somewhere", "--within", "100"]));
    assert_snapshot!(desk.reported(&["finds", "--near", "-42.6 146.1"]));
    assert_snapshot!(desk.reported(&["finds", "--near", "-42.6 146.1", "--within=-3"]));
}
