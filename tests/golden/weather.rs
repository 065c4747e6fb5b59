//! Tests the commands about daily weather: what is read, kept, replaced and refused.

use std::fs;

use crate::run::{Desk, samples};

/// One line of `.dly`: the same value on each of so many days, the rest missing.
fn month(month: &str, element: &str, value: i32, days: usize) -> String {
    let cell = |day| if day < days { format!("{value:>5}  a") } else { "-9999   ".to_owned() };
    let cells: String = (0..31).map(cell).collect();
    format!("XXM00000001{month}{element}{cells}\n")
}

fn desk() -> Desk {
    let desk = Desk::new();
    let day = samples().join("2026-04-18-wren-gully");
    desk.run(&["import", &day.to_string_lossy(), "--store", "a.gpkg"]);
    let march = month("202603", "PRCP", 32, 31) + &month("202603", "TMAX", 181, 31);
    let april = month("202604", "PRCP", 0, 20).replacen("    0  a", "    0 Ga", 1);
    desk.file("XXM00000001.dly", march + &april + &month("202604", "TMIN", -12, 30));
    desk.file(
        "stations.txt",
        "XXM00000001 -42.6000  146.2000  310.0    NETTLEWICK                    \n\
         XXM00000002 -12.0000  131.0000   12.0    ELSEWHERE                     \n",
    );
    desk
}

#[test]
fn weather_is_added_listed_replaced_and_removed() {
    let desk = desk();
    let add = |files: &[&str]| {
        let mut all = vec!["weather", "add", "--store", "a.gpkg"];
        all.extend(files);
        desk.reported(&all)
    };
    // without a position nothing is kept
    insta::assert_snapshot!(add(&["XXM00000001.dly"]));
    insta::assert_snapshot!(add(&["XXM00000001.dly", "stations.txt"]));
    let before = fs::read(desk.path("a.gpkg")).unwrap();
    insta::assert_snapshot!(add(&["XXM00000001.dly"]));
    assert!(before == fs::read(desk.path("a.gpkg")).unwrap(), "the same file changed the store");
    insta::assert_snapshot!(desk.reported(&["weather", "--store", "a.gpkg"]));
    // a corrected file: one value more, one day less
    let text = fs::read_to_string(desk.path("XXM00000001.dly")).unwrap();
    let corrected = text.replacen("   32  a", "  150  a", 1).replacen("   32  a", "-9999   ", 1);
    desk.file("corrected.dly", corrected);
    insta::assert_snapshot!(add(&["corrected.dly"]));
    insta::assert_snapshot!(desk.reported(&["weather", "--json", "--store", "a.gpkg"]));
    desk.file(
        "few.csv",
        "date,station,rain mm\n2026-03-01,XXM00000001,1\n2026-03-09,XXM00000001,1\n",
    );
    insta::assert_snapshot!(add(&["few.csv", "--replace"]));
    insta::assert_snapshot!(desk.reported(&["weather", "remove", "nowhere", "--store", "a.gpkg"]));
    desk.run(&["weather", "remove", "XXM00000001", "--store", "a.gpkg"]);
    insta::assert_snapshot!(desk.reported(&["weather", "--store", "a.gpkg"]));
    let verified = desk.run(&["verify", "--store", "a.gpkg"]);
    assert_eq!(verified.status.code(), Some(0));
}

#[test]
fn weather_that_could_mean_two_things_is_refused() {
    let desk = Desk::new();
    desk.file("a.csv", "date,rain,max temp \u{b0}C\n2026-05-01,3,9\n");
    desk.file("b.csv", "datum;Niederschlag mm;Wind\n2026-05-01;3,5;2\n2026-05-02;x;2\n");
    desk.file("c.csv", "number;name\n1;Mycena\n");
    let add = |arguments: &[&str]| {
        let mut all = vec!["weather", "add", "--store", "a.gpkg"];
        all.extend(arguments);
        desk.reported(&all)
    };
    insta::assert_snapshot!(add(&["a.csv"]));
    insta::assert_snapshot!(add(&["b.csv", "c.csv", "--at", "-42.6 146.2", "--elevation", "310"]));
    insta::assert_snapshot!(add(&["a.csv", "--column", "rain=rain mm", "--at", "-42.6 146.2"]));
}

#[test]
fn a_position_that_contradicts_the_file_and_days_to_come_are_not_taken() {
    let desk = desk();
    let add = |arguments: &[&str]| {
        let mut all = vec!["weather", "add", "--store", "a.gpkg"];
        all.extend(arguments);
        desk.reported(&all)
    };
    desk.file(
        "w.csv",
        "STATION,DATE,LATITUDE,LONGITUDE,ELEVATION,NAME,PRCP\nXXM00000009,2026-03-01,-42.6,146.2,310,N,12\n\
         XXM00000009,2099-03-01,-42.6,146.2,310,N,12\n",
    );
    let far = add(&["w.csv", "--units", "tenths", "--at", "-41.1 146.2"]);
    assert!(
        far.contains("exit status: 2") && far.contains("--at is not where the file places"),
        "{far}"
    );
    // near enough, the file's elevation stays
    let near = add(&["w.csv", "--units", "tenths", "--at", "-42.601 146.2"]);
    assert!(near.contains("exit status: 1"), "{near}");
    assert!(
        near.contains("1 value set aside: the day is in the future, first 2099-03-01"),
        "{near}"
    );
    let listed = desk.reported(&["weather", "--json", "--store", "a.gpkg"]);
    assert!(listed.contains("310"), "{listed}");
}
