//! Tests the analyses of several years on the sample days: sites, visits, effort, season, density, next.

use std::fmt::Write as _;
use std::fs;

use serde_json::Value;

use crate::run::{Desk, samples};

fn desk() -> Desk {
    let desk = Desk::new();
    for day in ["earlier-years/2025", "2026-04-18-wren-gully", "2026-05-02-thimble-spur"] {
        let folder = samples().join(day);
        desk.run(&["import", &folder.to_string_lossy(), "--store", "a.gpkg"]);
    }
    desk
}

fn json(desk: &Desk, arguments: &[&str]) -> Value {
    let mut all = arguments.to_vec();
    all.extend(["--store", "a.gpkg"]);
    serde_json::from_slice(&desk.run(&all).stdout).unwrap()
}

#[test]
fn sites_keep_numbers_names_and_merges_after_imports() {
    let desk = desk();
    let first = json(&desk, &["sites", "--format", "json"]);
    let sites = first.as_array().unwrap();
    assert!(sites.len() > 10, "{} sites", sites.len());
    for site in sites {
        assert!(site["decimalLatitude"].as_f64().unwrap() < -42.0);
        assert!(site["coordinateUncertaintyInMeters"].as_f64().unwrap() > 0.0);
        let numbers = site["recordNumbers"].as_array().unwrap();
        assert_eq!(site["finds"].as_u64().unwrap(), numbers.len() as u64, "{site}");
        let count = |key: &str| site[key].as_u64().unwrap();
        let (with_find, searched) = (count("visits_with_find"), count("visits_searched"));
        assert!(with_find + count("visits_in_passing") >= 1, "{site}");
        assert!(with_find <= searched && searched <= count("visits"), "{site}");
        let rate = (searched > 0).then(|| with_find as f64 / searched as f64);
        assert!(
            rate.zip(site["success_rate"].as_f64()).is_none_or(|(a, b)| (a - b).abs() < 1e-3)
                && rate.is_some() == site["success_rate"].is_f64(),
            "{site}"
        );
    }
    desk.run(&["sites", "name", "3", "old log", "--store", "a.gpkg"]);
    desk.run(&["sites", "join", "1", "2", "--store", "a.gpkg"]);
    let night = samples().join("2026-05-23-night-walk");
    desk.run(&["import", &night.to_string_lossy(), "--store", "a.gpkg"]);
    let second = json(&desk, &["sites", "--format", "json"]);
    let finds = |all: &Value, number: u64| {
        let site = all.as_array().unwrap().iter().find(|s| s["site"] == number).cloned();
        site.map_or(Value::Null, |site| site["recordNumbers"].clone())
    };
    let named = second.as_array().unwrap().iter().find(|s| s["name"] == "old log").unwrap();
    assert_eq!(named["site"], 3);
    let joined = [finds(&second, 1), finds(&second, 2)];
    assert_eq!(joined.iter().filter(|finds| finds.is_null()).count(), 1, "{joined:?}");
    // a new find may bridge two sites: they are merged under one number
    let (mut bridged, mut kept, mut all) = (0, 0, 0);
    for site in sites.iter().filter(|site| site["site"].as_u64().unwrap() > 2) {
        let now = finds(&second, site["site"].as_u64().unwrap());
        let before = site["recordNumbers"].as_array().unwrap();
        all += before.len();
        match now.as_array() {
            Some(now) => kept += before.iter().filter(|find| now.contains(find)).count(),
            None => bridged += 1,
        }
    }
    assert!(bridged <= 2, "{bridged} sites taken in by others");
    assert!(10 * kept >= 9 * all, "{kept} of {all} finds keep their site");
}

#[test]
fn visits_without_a_find_are_listed() {
    let desk = desk();
    let visits = json(&desk, &["visits", "--format", "json"]);
    let visits = visits.as_array().unwrap();
    let without_find = |v: &&Value| v["finds"] == 0 && v["searched_s"].as_f64().unwrap() > 0.0;
    assert!(visits.iter().filter(without_find).count() > 5);
    assert!(visits.iter().any(|v| v["finds"].as_u64().unwrap() > 0));
    for visit in visits {
        let numbers = visit["recordNumbers"].as_array().unwrap();
        assert_eq!(visit["finds"].as_u64().unwrap(), numbers.len() as u64, "{visit}");
    }
    assert!(visits.iter().all(|v| v["start"].as_str() <= v["end"].as_str()));
    let one = json(&desk, &["visits", "--site", "1", "--format", "json"]);
    assert!(one.as_array().unwrap().iter().all(|visit| visit["site"] == 1));
}

#[test]
fn effort_totals_do_not_depend_on_grouping() {
    let desk = desk();
    let total = |by: &str| {
        let reported = json(&desk, &["effort", "--by", by, "--format", "json"]);
        let lines = reported["lines"].as_array().unwrap();
        (
            lines.iter().map(|line| line["searched_s"].as_f64().unwrap()).sum::<f64>(),
            reported["total"].clone(),
        )
    };
    let (days, whole) = total("day");
    assert!((days - whole["searched_s"].as_f64().unwrap()).abs() < 20.0);
    for by in ["week", "cell", "elevation"] {
        assert!((total(by).0 / days - 1.0).abs() < 0.02, "{by}");
    }
    assert!(whole["searched_ha"].as_f64().unwrap() > 0.1);
}

#[test]
fn season_requires_enough_finds() {
    let desk = desk();
    let reported = json(&desk, &["season", "--taxon", "Cortinarius", "--json"]);
    for name in ["peak_day_of_year", "peak_low95", "peak_high95", "median", "searched_hours"] {
        assert!(reported[name].as_f64().unwrap() > 0.0, "{name}");
    }
    for (taxon, why) in [
        ("Ramaria", "not enough data to estimate the season of Ramaria"),
        ("Amanita", "no find in the store is named Amanita"),
    ] {
        let refused = desk.run(&["season", "--taxon", taxon, "--store", "a.gpkg"]);
        assert_eq!(refused.status.code(), Some(2));
        let words = String::from_utf8_lossy(&refused.stderr).into_owned();
        assert!(words.contains(why), "{words}");
    }
}

#[test]
fn a_density_is_drawn_and_written() {
    let desk = desk();
    let made = desk.run(&[
        "density",
        "--store",
        "a.gpkg",
        "--cells",
        "64",
        "--figure",
        "d.svg",
        "--grid",
        "d.tif",
        "--contours",
        "d.geojson",
    ]);
    assert!(made.status.success(), "{}", String::from_utf8_lossy(&made.stderr));
    assert!(fs::read_to_string(desk.path("d.svg")).unwrap().contains("not searched"));
    assert!(fs::read(desk.path("d.tif")).unwrap().starts_with(b"II"));
    let contours: Value =
        serde_json::from_slice(&fs::read(desk.path("d.geojson")).unwrap()).unwrap();
    assert_eq!(contours["features"].as_array().unwrap().len(), 2);
}

#[test]
fn json_of_a_start_in_the_dark_has_no_times_and_the_reason() {
    let desk = desk();
    let asked = ["next", "--date", "2027-05-08", "--hours", "2", "--start", "23:00"];
    let reported = json(&desk, &[&asked[..], &["--format", "json"]].concat());
    let round = &reported["round"];
    assert_eq!(round["sites"].as_array().unwrap().len(), 0, "{round}");
    for time in ["start", "turn_back_by", "back", "back_by"] {
        assert!(round[time].is_null(), "{time}: {round}");
    }
    let why = round["none_because"].as_str().unwrap();
    assert!(why.starts_with("No round is planned: no daylight left on 2027-05-08"), "{why}");
    let text = desk.reported(&[&asked[..], &["--store", "a.gpkg"]].concat());
    assert!(text.contains(why), "{text}");
    let possible =
        json(&desk, &["next", "--date", "2027-05-08", "--hours", "2", "--format", "json"]);
    assert!(possible["round"]["none_because"].is_null(), "{possible}");
}

#[test]
fn round_fits_the_given_hours() {
    let desk = desk();
    let reported =
        json(&desk, &["next", "--date", "2027-05-08", "--hours", "2", "--format", "json"]);
    let round = &reported["round"];
    assert!(round["duration_s"].as_f64().unwrap() <= 7_200.0);
    assert!(!round["sites"].as_array().unwrap().is_empty());
    for time in ["start", "turn_back_by", "back"] {
        let text = round[time].as_str().unwrap();
        assert_eq!(text.len(), "2027-05-08T00:00:00Z".len(), "{time}: {text}");
    }
    let chances: Vec<f64> = reported["sites"]
        .as_array()
        .unwrap()
        .iter()
        .map(|s| s["chance"].as_f64().unwrap())
        .collect();
    assert!(chances.is_sorted_by(|a, b| a >= b));
}

#[test]
fn round_is_planned_in_daylight() {
    let desk = desk();
    let round = |start: &str| {
        let date = ["next", "--date", "2027-05-08", "--hours", "2", "--format", "json", "--start"];
        json(&desk, &[&date[..], &[start]].concat())["round"].take()
    };
    // sunrise is at 07:12 in Tasmania on that day, civil dusk at 17:39, to within minutes
    let early = round("03:00");
    let start = early["start"].as_str().unwrap();
    assert!(
        start.starts_with("2027-05-07T21:0") || start.starts_with("2027-05-07T21:1"),
        "{early}"
    );
    assert!(early["remark"].as_str().unwrap().contains("(daylight) instead of 03:00"), "{early}");
    let late = round("19:00");
    assert!(late["sites"].as_array().unwrap().is_empty(), "{late}");
    assert!(late["none_because"].as_str().unwrap().contains("no daylight left"), "{late}");
    assert!(late["start"].is_null() && late["back"].is_null(), "{late}");
}

/// Terrain that rises to the east, as an ASCII grid in degrees around the sample days.
fn ground() -> String {
    let mut text = "ncols 30\nnrows 30\nxllcorner 146.08\nyllcorner -42.63\ncellsize 0.001\nNODATA_value -9999\n"
        .to_owned();
    for row in 0..30 {
        let heights: Vec<String> =
            (0..30).map(|column| (300 + 9 * column + 40 * (row % 5)).to_string()).collect();
        text.push_str(&heights.join(" "));
        text.push('\n');
    }
    text
}

#[test]
fn densities_over_ground_and_against_all_finds() {
    let desk = desk();
    desk.file("ground.asc", ground());
    let map = ["density", "--taxon", "Cortinarius", "--cells", "64", "--store", "a.gpkg"];
    let with = |more: &[&str]| desk.reported(&[&map[..], more].concat());
    insta::assert_snapshot!(with(&["--elevation", "ground.asc", "--figure", "ground.svg"]));
    let drawn = fs::read_to_string(desk.path("ground.svg")).unwrap();
    assert!(drawn.contains("hill shading, light from the north-west"));
    insta::assert_snapshot!(with(&[
        "--against",
        "all",
        "--figure",
        "risk.svg",
        "--grid",
        "risk.asc"
    ]));
    let drawn = fs::read_to_string(desk.path("risk.svg")).unwrap();
    assert!(drawn.contains("1: as on the whole map"));
    let grid = fs::read_to_string(desk.path("risk.asc")).unwrap();
    let values = grid.lines().skip(6).flat_map(str::split_whitespace);
    let known: Vec<f64> =
        values.map(|value| value.parse().unwrap()).filter(|value| *value >= 0.0).collect();
    assert!(known.iter().any(|risk| *risk > 1.2) && known.iter().any(|risk| *risk < 0.8));
    insta::assert_snapshot!(desk.reported(&["density", "--against", "all", "--store", "a.gpkg"]));
}

#[test]
fn a_season_that_reaches_the_edge_of_the_search() {
    let desk = Desk::new();
    let autumns = samples().join("earlier-years");
    desk.run(&["import", &autumns.to_string_lossy(), "--store", "a.gpkg"]);
    insta::assert_snapshot!(desk.reported(&["season", "--taxon", "Galerina", "--store", "a.gpkg"]));
    let reported = json(&desk, &["season", "--taxon", "Galerina", "--json"]);
    // its true peak is day 129: the interval is open to the early side and must not end before it
    assert_eq!(reported["peak_open"], "early");
    assert!(
        reported["peak_low95"].is_null() && reported["peak_high95"].as_f64().unwrap() >= 129.0,
        "{reported}"
    );
    assert!(reported["searched_from"].as_f64().unwrap() > 90.0);
    desk.run(&["season", "--taxon", "Galerina", "--figure", "s.svg", "--store", "a.gpkg"]);
    let drawn = fs::read_to_string(desk.path("s.svg")).unwrap();
    assert!(drawn.contains("search begins"), "the figure says where the search begins");
}

#[test]
fn a_round_without_end_is_asked_about() {
    let desk = desk();
    for (hours, why) in [
        ("0", "is no time for a round"),
        ("25", "is no time for a round"),
        ("1e9", "is no time for a round"),
        ("NaN", "it is not a finite number"),
        ("1e400", "it is too large a number to compute with"),
    ] {
        let date = ["next", "--store", "a.gpkg", "--date", "2027-05-08", "--hours", hours];
        let reported = desk.reported(&date);
        assert!(reported.starts_with("exit status: 2\n"), "{hours}: {reported}");
        assert!(reported.contains(why), "{hours}: {reported}");
    }
}

#[test]
fn probabilities_without_data_are_not_reported() {
    let desk = desk();
    insta::assert_snapshot!(desk.reported(&[
        "detection",
        "--taxon",
        "Hygrocybe",
        "--store",
        "a.gpkg"
    ]));
    insta::assert_snapshot!(desk.reported(&[
        "detection",
        "--taxon",
        "Leotia",
        "--store",
        "a.gpkg"
    ]));
    let winter = ["next", "--date", "2027-11-20", "--taxon", "Leotia"];
    let reported = json(&desk, &[&winter[..], &["--format", "json"]].concat());
    assert!(reported["sites"].as_array().unwrap().iter().all(|site| site["determined"] == false));
    let words = desk.reported(&[&winter[..], &["--store", "a.gpkg"]].concat());
    assert!(
        words.contains("not determined") && words.contains("Not enough data for a probability"),
        "{words}"
    );
}

/// A density surface that spreads over little searched ground is no leak.
#[test]
fn a_season_page_is_written_at_each_level_of_exactness() {
    let desk = Desk::new();
    desk.run(&["import", &samples().join("earlier-years/2025").to_string_lossy()]);
    for level in ["generalised", "exact-unless-sensitive", "exact-throughout"] {
        let page = ["sheet", "--season", "2025", "--coordinates", level, "--out", "year.html"];
        let reported = desk.reported(&page);
        assert!(reported.starts_with("exit status: 0\n"), "{level}: {reported}");
    }
}

#[test]
fn a_new_species_is_rarer_than_a_find() {
    let desk = desk();
    let date = ["next", "--date", "2027-05-08"];
    let of = |more: &[&str]| json(&desk, &[&date[..], &["--format", "json"], more].concat());
    let (found, new) = (of(&[]), of(&["--aim", "new"]));
    assert_eq!((&found["aim"], &new["aim"]), (&"find".into(), &"new".into()));
    assert_eq!(new["weather"]["state"], "not-for-new");
    let expected = |of: &Value| -> f64 {
        let sites = of["sites"].as_array().unwrap().iter();
        sites.map(|own| own["chance"].as_f64().unwrap()).sum()
    };
    assert!(expected(&new) < 0.7 * expected(&found), "{} {}", expected(&new), expected(&found));
    let words = desk.reported(&[&date[..], &["--aim", "new", "--store", "a.gpkg"]].concat());
    assert!(words.contains("new to the list") && words.contains("Good 1953"), "{words}");
}

#[test]
fn hours_kilometres_and_hectares_agree_about_the_season() {
    let desk = Desk::new();
    let autumns = samples().join("earlier-years");
    desk.run(&["import", &autumns.to_string_lossy(), "--store", "a.gpkg"]);
    let of = |per| json(&desk, &["season", "--taxon", "Russula", "--per", per, "--json"]);
    let [hour, km, hectare] = ["hour", "km", "hectare"].map(of);
    assert!(hectare["searched_ha"].as_f64().unwrap() > 1.0, "{hectare}");
    for other in [&km, &hectare] {
        let median = other["median"].as_f64().unwrap();
        let ends = ["median_low95", "median_high95"].map(|end| hour[end].as_f64().unwrap());
        assert!(ends[0] <= median && median <= ends[1], "{median} {ends:?}");
    }
}

/// Two people side by side on six days, with their own tracks and notebooks; Bo finds nothing on the last three.
fn party() -> Desk {
    let desk = Desk::new();
    let mut books = [String::new(), String::new()];
    for day in 1..=6 {
        for (person, name) in ["Ilse Fennwick", "Bo Harlan"].into_iter().enumerate() {
            let mut points = String::new();
            for step in 0..180 {
                let (minute, second) = (step / 3, 20 * (step % 3));
                let east = 9.12 + f64::from(step) * 1e-4;
                let north = 47.31 + 3e-5 * person as f64;
                writeln!(
                    points,
                    "<trkpt lat=\"{north:.6}\" lon=\"{east:.6}\"><time>2021-09-{day:02}T08:{minute:02}:{second:02}Z\
                     </time></trkpt>"
                )
                .unwrap();
            }
            let folder = name.split(' ').next().unwrap();
            desk.file(
                &format!("d/{folder}/{day}.gpx"),
                format!("<gpx version=\"1.1\"><trk><trkseg>{points}</trkseg></trk></gpx>"),
            );
            if person == 0 || day <= 3 {
                for minute in [15, 30, 45] {
                    writeln!(
                        books[person],
                        "{folder}-{day}{minute},{name},2021-09-{day:02},10:{minute},Russula plana,\"47.31000, {:.5}\",yes,4 m",
                        9.12 + 3e-4 * f64::from(minute)
                    )
                    .unwrap();
                }
            }
        }
    }
    for (book, folder) in books.iter().zip(["Ilse", "Bo"]) {
        let heading = "Number,Collector,Date,Time,Name,Coordinates,Position final,Uncertainty\n";
        desk.file(&format!("d/{folder}/notebook.csv"), format!("{heading}{book}"));
    }
    desk.run(&["import", "d", "--store", "a.gpkg"]);
    desk
}

#[test]
fn hours_of_companions_count_without_finds_and_a_party_is_one_unit() {
    let desk = party();
    let effort = json(&desk, &["effort", "--by", "day", "--format", "json"]);
    let days = effort["lines"].as_array().unwrap();
    assert_eq!(days.len(), 6);
    for day in days {
        assert_eq!(
            (&day["outings"], day["time_s"].as_f64().unwrap() > 7_000.0),
            (&2.into(), true),
            "{day}"
        );
    }
    assert!(effort.get("effort_notes").is_none(), "{effort}");
    let season = json(&desk, &["season", "--taxon", "Russula plana", "--json"]);
    assert_eq!((&season["outings"], &season["finds"]), (&6.into(), &27.into()));
    let note = &season["effort_notes"][0];
    assert_eq!(note["code"], "walked-together");
    assert_eq!((&note["outings"], &note["units"]), (&12.into(), &6.into()));
    let lists = json(&desk, &["lists", "--format", "json"]);
    assert_eq!(lists["list"]["outings"].as_u64().or(lists["outings"].as_u64()), Some(6), "{lists}");
}

#[test]
fn visits_of_a_party_are_one_and_make_nothing_more_certain() {
    let desk = party();
    desk.run(&["import", "d/Ilse", "--store", "one.gpkg"]);
    let visits = |store: &str| {
        let output = desk.run(&["visits", "--store", store, "--format", "json"]);
        let lines: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
        let lines = lines.as_array().unwrap().clone();
        let mut places: Vec<String> = lines
            .iter()
            .map(|line| format!("{} {}", line["site"], &line["start"].as_str().unwrap()[..10]))
            .collect();
        places.sort_unstable();
        (places.len(), places, lines)
    };
    let (many, places, lines) = visits("a.gpkg");
    let distinct: std::collections::BTreeSet<&String> = places.iter().collect();
    // both walk the same way at the same time: a site has one visit a day
    assert_eq!(many, distinct.len(), "{places:?}");
    assert!(lines.iter().any(|line| line["finds"].as_u64() > Some(1)), "{lines:?}");
    let report = |store: &str| {
        let asked = ["next", "--store", store, "--date", "2022-09-08", "--format", "json"];
        let output = desk.run(&asked);
        serde_json::from_slice::<serde_json::Value>(&output.stdout).unwrap()
    };
    let (both, one) = (report("a.gpkg"), report("one.gpkg"));
    assert_eq!(both["effort_notes"][0]["code"], "walked-together", "{both}");
    let searched = |of: &serde_json::Value| {
        let sites = of["sites"].as_array().unwrap().iter();
        sites.map(|site| site["visits"].as_u64().unwrap()).max()
    };
    assert!(searched(&both) <= searched(&one), "{both} {one}");
}

#[test]
fn beginnings_of_names_dates_and_lengths_are_read_or_refused_with_a_reason() {
    let desk = desk();
    let run = |arguments: &[&str]| {
        let mut all = arguments.to_vec();
        all.extend(["--store", "a.gpkg"]);
        desk.reported(&all)
    };
    let whole = run(&["detection", "--taxon", "Cortinarius", "--json"]);
    let begun = run(&["detection", "--taxon", "Cortinar", "--json"]);
    assert!(
        begun.contains("Cortinar is read as Cortinarius, the only name that begins so"),
        "{begun}"
    );
    let status = |text: &str| text.lines().next().map(ToOwned::to_owned);
    assert_eq!(status(&begun), status(&whole));
    let unlike = run(&["years", "--taxon", "Xyz  q"]);
    assert!(
        unlike.contains("is named Xyz q") && !unlike.contains("names most like it"),
        "{unlike}"
    );
    let none = run(&["season"]);
    assert!(
        none.contains("exit status: 2") && none.contains("--figure FILE.svg for the calendar"),
        "{none}"
    );
    let minutes = run(&["detection", "--minutes", "0"]);
    assert!(minutes.contains("--minutes 0 is not the length of a visit"), "{minutes}");
    let written = run(&["next", "--date", "8.5.2027"]);
    assert_eq!(written, run(&["next", "--date", "2027-05-08"]));
    let month = run(&["next", "--date", "2027-13-01"]);
    assert!(month.contains("write it like 2026-10-02"), "{month}");
    let high = ["next", "--date", "2027-05-08", "--hours", "3", "--least-chance", "100"];
    let round = run(&high);
    assert!(round.contains("below 100 % (--least-chance)"), "{round}");
    let usual = run(&["next", "--date", "2027-05-08", "--hours", "3", "--stay", "5"]);
    assert!(usual.contains("whatever --stay is"), "{usual}");
}

#[test]
fn a_store_without_a_find_says_that_it_knows_no_site() {
    let desk = Desk::new();
    let track = samples().join("2026-04-18-wren-gully");
    let gpx = fs::read_dir(track).unwrap().filter_map(Result::ok).map(|entry| entry.path());
    let gpx = gpx.into_iter().find(|path| path.extension().is_some_and(|e| e == "gpx")).unwrap();
    desk.run(&["import", &gpx.to_string_lossy(), "--store", "a.gpkg"]);
    let text = desk.reported(&["next", "--date", "2027-05-08", "--store", "a.gpkg"]);
    assert!(text.contains("no find with a position"), "{text}");
}
