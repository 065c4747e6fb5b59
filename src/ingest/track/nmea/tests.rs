//! Tests of NMEA logs: dates, midnight, several constellations, damage.

use std::path::Path;

use super::{looks_like_nmea, read_from};
use crate::model::TrackFile;

/// A sentence with its checksum.
fn sentence(body: &str) -> String {
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}\r\n")
}

fn rmc(clock: &str, date: &str) -> String {
    sentence(&format!("GPRMC,{clock},A,4216.500,S,14615.000,E,0.5,54.7,{date},,,A"))
}

fn gga(talker: &str, clock: &str, quality: u8) -> String {
    sentence(&format!(
        "{talker}GGA,{clock},4216.500,S,14615.000,E,{quality},09,1.1,401.5,M,-3.2,M,,"
    ))
}

fn parse(text: impl AsRef<[u8]>) -> TrackFile {
    read_from(text.as_ref(), Path::new("day/ridge.log")).unwrap()
}

fn times(file: &TrackFile) -> Vec<String> {
    let shown = |fix: &crate::model::Fix| fix.time.map_or("-".into(), |time| time.to_string());
    file.fixes().map(shown).collect()
}

fn messages(file: &TrackFile) -> Vec<String> {
    let all = file.set_aside.iter().chain(&file.remarks);
    all.map(|e| format!("{}: {}", e.where_line().unwrap_or(0), e.what().replace("ridge.log: ", "")))
        .collect()
}

#[test]
fn sentences_of_one_instant_are_one_fix() {
    let text = [rmc("010000.00", "020526"), gga("GP", "010000.00", 1), rmc("010001.50", "020526")];
    let file = parse(text.concat());
    assert_eq!(times(&file), ["2026-05-02T01:00:00Z", "2026-05-02T01:00:01.5Z"]);
    let fix = file.fixes().next().unwrap();
    assert_eq!((fix.at.latitude(), fix.at.longitude()), (-42.275, 146.25));
    assert_eq!((fix.satellites, fix.hdop, fix.line), (Some(9), Some(1.1), 1));
    assert_eq!(fix.height.unwrap().0.0, 401.5);
    assert!(messages(&file).is_empty(), "{:?}", messages(&file));
}

#[test]
fn midnight_passes_before_the_next_date() {
    let text = [
        gga("GP", "235957", 1),
        rmc("235958", "020526"),
        gga("GP", "235959", 1),
        gga("GP", "000000", 1),
        rmc("000001", "030526"),
    ];
    let expected = [
        "2026-05-02T23:59:57Z",
        "2026-05-02T23:59:58Z",
        "2026-05-02T23:59:59Z",
        "2026-05-03T00:00:00Z",
        "2026-05-03T00:00:01Z",
    ];
    assert_eq!(times(&parse(text.concat())), expected);
    // the only date comes after midnight
    let late = [&text[0], &text[2], &text[3], &text[4]].map(String::as_str).concat();
    assert_eq!(times(&parse(late)), [expected[0], expected[2], expected[3], expected[4]]);
}

#[test]
fn a_date_may_come_from_a_sentence_of_its_own() {
    let zda = sentence("GPZDA,010000.00,02,05,2026,00,00");
    let text = [gga("GN", "005959", 1), zda, gga("GN", "010000.00", 1)].concat();
    assert_eq!(times(&parse(text)), ["2026-05-02T00:59:59Z", "2026-05-02T01:00:00Z"]);
    let undated = parse([gga("GP", "005959", 1), gga("GP", "010000", 1)].concat());
    assert_eq!(times(&undated), ["-", "-"]);
    assert_eq!(messages(&undated), ["1: 2 times of day were ignored"]);
    assert!(undated.set_aside[0].why().unwrap().ends_with("00:59:59"));
}

#[test]
fn several_constellations_are_one_receiver() {
    let gn = sentence("GNRMC,010000,A,4216.600,S,14615.000,E,0.5,54.7,020526,,,A,V");
    let text = [gga("GP", "010000", 1), gga("GL", "010000", 0), gga("GA", "010000", 1), gn];
    let file = parse(text.concat());
    assert_eq!(times(&file), ["2026-05-02T01:00:00Z"]);
    assert_eq!(file.fixes().next().unwrap().at.latitude(), -42.276_666_666_666_664);
}

#[test]
fn positions_that_are_not_measured_are_no_fixes() {
    let warning = rmc("010000", "020526").replace(",A,42", ",V,42");
    let body = warning.trim_start_matches('$').split('*').next().unwrap().to_owned();
    let text =
        [sentence(&body), gga("GP", "010000", 1), gga("GP", "010001", 6), gga("GP", "010002", 0)];
    let file = parse(text.concat());
    assert_eq!(file.fixes().count(), 0);
    assert_eq!(messages(&file), ["1: 3 sentences say that the receiver had no fix"]);
    let empty = parse([sentence("GPRMC,,V,,,,,,,,,,N"), sentence("GPGGA,,,,,,,,,,,,,,")].concat());
    assert_eq!(messages(&empty).len(), 1, "{:?}", messages(&empty));
}

#[test]
fn damage_is_counted_and_loses_only_its_sentence() {
    let good = rmc("010000", "020526");
    let text = [
        good.clone(),
        rmc("010001", "020526").replace("4216", "4217"),
        rmc("010002", "020526").replace('*', "*G"),
        format!("{}{}", &good[..20], rmc("010003", "020526")),
        sentence("GPRMC,010004,A,4275.000,S,14615.000,E,0.5,54.7,020526,,,A"),
        sentence("GPRMC,010005,A,9216.500,S,14615.000,E,0.5,54.7,020526,,,A"),
        sentence("GPGSV,3,1,11,03,03,111,00,04,15,270,00,06,01,010,00,13,06,292,00"),
        "\u{0}\u{fffd}noise\r\n".to_owned(),
        rmc("010006", "020526").trim_end()[..40].to_owned(),
    ];
    let file = parse(text.concat());
    assert_eq!(times(&file), ["2026-05-02T01:00:00Z", "2026-05-02T01:00:03Z"]);
    let messages = messages(&file);
    assert_eq!(
        messages,
        [
            "6: 1 point with an impossible latitude or longitude was skipped",
            "2: 2 lines whose checksums do not fit were skipped",
            "4: 3 damaged sentences were skipped"
        ]
    );
}

#[test]
fn a_log_whose_checksums_are_all_wrong_is_known_and_its_lines_are_counted() {
    let lines = ["010000", "010001", "010002"].map(|clock| rmc(clock, "020526"));
    let text = lines.concat().replace("4216", "4217");
    assert!(looks_like_nmea(text.as_bytes()));
    let file = parse(&text);
    assert_eq!((file.fixes().count(), file.checksums_wrong), (0, 3));
    assert_eq!(messages(&file), ["1: 3 lines whose checksums do not fit were skipped"]);
    let why = file.set_aside[0].why().unwrap();
    assert!(why.contains("the two digits behind * are not the checksum"), "{why}");
}

#[test]
fn a_logger_may_write_before_the_sentence_and_leave_checksums_out() {
    let text = format!("1777683600123 {}", rmc("010000", "020526"));
    assert_eq!(parse(&text).fixes().count(), 1);
    let bare = "$GPRMC,010000,A,4216.500,S,14615.000,E,0.5,54.7,020526,,,A\n\
                $GPRMC,010001,A,4216.500,S,14615.000,E,0.5,54.7,020526,,,A\n";
    let file = parse(bare);
    assert_eq!(file.fixes().count(), 2);
    assert_eq!(messages(&file), ["1: 2 sentences without a checksum were read"]);
    assert!(looks_like_nmea(bare.as_bytes()) && looks_like_nmea(text.as_bytes()));
}

#[test]
fn other_files_are_no_logs() {
    for other in ["number,price\n1,$4,50\n2,$5,60\n", "", "$GPRMC", "$$$$$,,,,,", "<gpx/>"] {
        assert!(!looks_like_nmea(other.as_bytes()), "{other}");
        assert_eq!(parse(other).fixes().count(), 0);
    }
    let long = "$".repeat(1_000_000);
    assert_eq!(parse(long).fixes().count(), 0);
}
