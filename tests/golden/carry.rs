//! Runs `trug carry`.

use std::fs;

use crate::run::{Desk, samples};

const CARRY: [&str; 9] = [
    "carry",
    "--safe",
    "Camp=-42.6110 146.1010",
    "--date",
    "2026-05-16",
    "--reach",
    "2",
    "--area",
    "Camp",
];

/// What the program reports, without the size of the page.
fn reported(desk: &Desk, arguments: &[&str]) -> String {
    let text = desk.reported(arguments);
    match text.split_once(" KB\n") {
        Some((before, after)) => {
            let before = before.trim_end_matches(|letter: char| letter.is_ascii_digit());
            format!("{before}[size] KB\n{after}")
        }
        None => text,
    }
}

fn with<'a>(more: &[&'a str]) -> Vec<&'a str> {
    CARRY.iter().chain(more).copied().collect()
}

#[test]
fn one_file_and_a_folder() {
    let desk = Desk::new();
    insta::assert_snapshot!(reported(&desk, &with(&["--out", "page.html"])));
    insta::assert_snapshot!(reported(&desk, &with(&["--out", "page"])));
    for name in ["index.html", "worker.js", "manifest.webmanifest", "icon.svg"] {
        assert!(desk.path("page").join(name).is_file(), "{name}");
    }
}

#[test]
fn known_paths_and_sites_of_the_store() {
    let desk = Desk::new();
    let day = samples().join("2026-05-16-old-tramway");
    desk.run(&["import", day.to_str().unwrap()]);
    desk.run(&["trailhead", "add", "Sawmill gate", "-42.6110 146.1010"]);
    let page = |more: &[&str]| {
        let arguments: Vec<&str> = ["carry", "--out", "page.html", "--date", "2026-05-16"]
            .iter()
            .chain(more)
            .copied()
            .collect();
        let reported = reported(&desk, &arguments);
        (reported, fs::read_to_string(desk.path("page.html")).unwrap())
    };
    let (reported, page_of_all) = page(&["--sites", "all"]);
    insta::assert_snapshot!(reported);
    assert!(page_of_all.contains("Mycena interrupta"));
    desk.run(&["places", "quiet", "--taxon", "Mycena interrupta", "--level", "high"]);
    let (_, careful) = page(&["--sites", "all"]);
    assert!(!careful.contains("Mycena interrupta"));
    let points = |page: &str| {
        let data = page.split("id=\"data\">").nth(1).unwrap().split("</script>").next().unwrap();
        let data: serde_json::Value = serde_json::from_str(data).unwrap();
        data["track"].as_array().unwrap().len()
    };
    assert!(points(&page_of_all) > 100);
    assert_eq!(points(&careful), 0, "the own track of an outing with sensitive finds");
    assert!(page_of_all.contains("\"paths\":\"") && careful.contains("\"paths\":null"));
    fs::write(desk.path("words.txt"), "seven lanterns on the flat\n").unwrap();
    let (reported, sealed) = page(&["--sites", "all", "--passphrase", "words.txt"]);
    insta::assert_snapshot!(reported);
    assert!(!sealed.contains("Mycena interrupta") && sealed.contains("\"iterations\":600000"));
}

#[test]
fn what_is_left_out_for_a_sensitive_find_is_its_whole_cell() {
    let desk = Desk::new();
    let day = samples().join("2026-05-16-old-tramway");
    desk.run(&["import", day.to_str().unwrap()]);
    desk.run(&["trailhead", "add", "Sawmill gate", "-42.6110 146.1010"]);
    let page = ["carry", "--out", "page.html", "--date", "2026-05-30", "--sites", "all"];
    let pieces = || {
        let text = reported(&desk, &page);
        let (before, _) = text.split_once(" pieces of known path").unwrap();
        before.rsplit(' ').next().unwrap().parse::<usize>().unwrap()
    };
    let all = pieces();
    desk.run(&["places", "quiet", "--taxon", "Mycena interrupta", "--level", "low"]);
    let without_cells = pieces();
    assert!(0 < without_cells && without_cells < all, "{without_cells} of {all}");
    desk.run(&["places", "quiet", "--taxon", "Mycena interrupta", "--level", "extreme"]);
    assert!(reported(&desk, &page).contains(" 0 pieces of known path"));
    let round = [&page[..], &["--hours", "4"]].concat();
    assert!(reported(&desk, &round).contains("The round on the page leaves out"));
}

#[test]
fn paths_that_other_outings_walked_stay_in_the_cell_of_a_sensitive_find() {
    let desk = Desk::new();
    let day = samples().join("2026-05-16-old-tramway");
    let points: String = (0..60)
        .map(|step| {
            let (east, minute, second) = (f64::from(step) * 0.000_2, step / 2, step % 2 * 30);
            format!(
                "<trkpt lat=\"-42.611\" lon=\"{:.6}\"><time>2026-05-23T01:{minute:02}:{second:02}Z</time></trkpt>",
                146.101 + east
            )
        })
        .collect();
    desk.file(
        "other/walk.gpx",
        format!("<gpx version=\"1.1\" creator=\"hand\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg>{points}</trkseg></trk></gpx>"),
    );
    desk.run(&["import", day.to_str().unwrap()]);
    desk.run(&["import", "other"]);
    desk.run(&["trailhead", "add", "Sawmill gate", "-42.6110 146.1010"]);
    desk.run(&["places", "quiet", "--taxon", "Mycena interrupta", "--level", "high"]);
    let page = ["carry", "--out", "page.html", "--date", "2026-05-30", "--sites", "all"];
    let text = reported(&desk, &page);
    let (before, _) = text.split_once(" pieces of known path").unwrap();
    let pieces: usize = before.rsplit(' ').next().unwrap().parse().unwrap();
    assert!((15..80).contains(&pieces), "{text}");
    assert!(text.contains("that only outings to such finds walked are left out"), "{text}");
}

#[test]
fn what_is_refused() {
    let desk = Desk::new();
    let far = ["carry", "--out", "p.html", "--safe", "Camp=-42.6 146.1", "--zone", "EST"];
    let refused = reported(&desk, &far);
    assert!(
        refused.starts_with("exit status: 2") && refused.contains("is not the zone of the place"),
        "{refused}"
    );
    insta::assert_snapshot!(reported(&desk, &["carry", "--out", "page.html"]));
    insta::assert_snapshot!(reported(&desk, &with(&["--out", "page.html", "--sites", "round"])));
    insta::assert_snapshot!(reported(
        &desk,
        &["carry", "--out", "p.html", "--safe", "-42.6 146.1"]
    ));
    insta::assert_snapshot!(reported(
        &desk,
        &["carry", "--out", "p.html", "--safe", "Camp=-42.6 146.1", "--area", "-41.6 146.1"]
    ));
    insta::assert_snapshot!(reported(
        &desk,
        &["carry", "--out", "p.html", "--safe", "Camp=-42.6 146.1", "--date", "2031-05-16"]
    ));
    insta::assert_snapshot!(reported(
        &desk,
        &["carry", "--out", "p.html", "--safe", "Camp=85.0 20.0"]
    ));
    insta::assert_snapshot!(reported(
        &desk,
        &["carry", "--out", "p.html", "--safe", "Camp=-42.6 146.1", "--reach", "20"]
    ));
    fs::write(desk.path("short.txt"), "short\n").unwrap();
    insta::assert_snapshot!(reported(
        &desk,
        &with(&["--out", "p.html", "--passphrase", "short.txt"])
    ));
}
