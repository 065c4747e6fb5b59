//! Tests species lists and hosts on the sample days.

use std::fmt::Write;
use std::fs;

use serde_json::Value;

use crate::run::{Desk, samples};

fn desk() -> Desk {
    let desk = Desk::new();
    let autumns = samples().join("earlier-years");
    desk.run(&["import", &autumns.to_string_lossy(), "--store", "a.gpkg"]);
    desk
}

fn json(desk: &Desk, arguments: &[&str]) -> Value {
    let mut all = arguments.to_vec();
    all.extend(["--store", "a.gpkg"]);
    let output = desk.run(&all);
    serde_json::from_slice(&output.stdout).unwrap()
}

#[test]
fn lists_of_all_and_by_group() {
    let desk = desk();
    let of = |more: &[&str]| desk.reported(&[&["lists", "--store", "a.gpkg"], more].concat());
    insta::assert_snapshot!(of(&["--figure", "species.svg"]));
    insta::assert_snapshot!(of(&["--by", "place", "--shared"]));
    insta::assert_snapshot!(of(&["--by", "year", "--taxon", "Cortinarius"]));
    let drawn = fs::read_to_string(desk.path("species.svg")).unwrap();
    assert!(drawn.contains("hours searched, in the mean") && drawn.contains("at least"), "{drawn}");
    // each species is new to the list in one group, whatever the groups are
    let whole = json(&desk, &["lists", "--format", "json"]);
    let count = whole["list"]["species_count"].as_u64().unwrap();
    for by in ["place", "site", "year", "outing"] {
        let grouped = json(&desk, &["lists", "--by", by, "--format", "json"]);
        let groups = grouped["groups"].as_array().unwrap();
        let species = groups.iter().flat_map(|group| group["species"].as_array().unwrap());
        let new = species.filter(|line| line["new_to_the_list"] == true).count();
        assert_eq!(new as u64, count, "{by}");
        let finds: u64 = groups.iter().map(|group| group["finds"].as_u64().unwrap()).sum();
        assert_eq!(finds, whole["list"]["finds"].as_u64().unwrap(), "{by}");
    }
    let table = of(&["--by", "outing", "--format", "csv"]);
    assert!(table.contains("outing,scientificName,finds,outings,first"), "{table}");
    assert_eq!(table.matches(",yes,").count() as u64, count);
}

#[test]
fn doubtful_names_are_counted_apart() {
    let desk = Desk::new();
    let mut notebook = "Number,Date,Name,Host\n".to_owned();
    for (number, name) in [
        "Mycena pura (Pers.) P. Kumm.",
        "mycena pura",
        "Mycena cf. pura",
        "Mycena sp. 2",
        "Russula",
        "little brown one",
        "",
        "Laccaria laccata s.l.",
    ]
    .iter()
    .enumerate()
    {
        writeln!(notebook, "A-{},2026-05-02,\"{name}\",Q. robur", number + 1).unwrap();
    }
    desk.file("day/notes.csv", notebook);
    desk.run(&["import", "day", "--store", "a.gpkg"]);
    insta::assert_snapshot!(desk.reported(&["lists", "--store", "a.gpkg"]));
    insta::assert_snapshot!(desk.reported(&["lists", "--site", "1", "--store", "a.gpkg"]));
    insta::assert_snapshot!(desk.reported(&["hosts", "--taxon", "Mycena", "--store", "a.gpkg"]));
}

#[test]
fn hosts_substrates_and_habitats() {
    let desk = desk();
    let of = |more: &[&str]| desk.reported(&[&["hosts", "--store", "a.gpkg"], more].concat());
    insta::assert_snapshot!(of(&["--taxon", "Cortinarius", "--figure", "hosts.svg"]));
    insta::assert_snapshot!(of(&["--taxon", "Cortinarius", "--by", "habitat"]));
    insta::assert_snapshot!(of(&[]));
    assert!(
        fs::read_to_string(desk.path("hosts.svg")).unwrap().contains("Nothofagus cunninghamii")
    );
    let reported = json(&desk, &["hosts", "--taxon", "Galerina", "--by", "substrate", "--json"]);
    assert!(reported["associations"][0]["share"]["value"].as_f64().unwrap() > 0.9, "{reported}");
    let refused = of(&["--taxon", "Mycena", "--host", "Acacia"]);
    assert!(refused.starts_with("exit status: 2") && refused.contains("leaves nothing to compare"));
}
