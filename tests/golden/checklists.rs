//! Tests `trug checklist`: names that it knows, synonyms, homonyms, misspellings, and each refusal.

use insta::assert_snapshot;

use crate::run::Desk;

const NOTEBOOK: &str = "Number,Date,Place,Substrate,Name\n\
    1,2026-05-03,Fern gully,soil,Laccaria laccata\n\
    2,2026-05-03,Fern gully,soil,Clitocybe laccata (Scop.) P. Kumm.\n\
    3,2026-05-03,Fern gully,soil,Lacaria lacata\n\
    4,2026-05-03,Fern gully,soil,Agaricus comatus\n\
    5,2026-05-03,Fern gully,soil,Mycena cf. pura\n\
    6,2026-05-03,Fern gully,soil,Agaricus orphanus\n\
    7,2026-05-03,Fern gully,soil,small brown one\n";

const CHECKLIST: &str = "taxonID\tscientificName\tscientificNameAuthorship\ttaxonRank\ttaxonomicStatus\tacceptedNameUsageID\tparentNameUsageID\tkingdom\n\
    1\tHydnangiaceae\tG\u{e4}um. & C.W. Dodge\tfamily\taccepted\t\t\tFungi\n\
    2\tLaccaria laccata\t(Scop.) Cooke\tspecies\taccepted\t\t1\tFungi\n\
    3\tClitocybe laccata\t(Scop.) P. Kumm.\tspecies\tsynonym\t4\t\tFungi\n\
    4\tAgaricus laccatus\tScop.\tspecies\tsynonym\t2\t\tFungi\n\
    5\tCoprinus comatus\t(O.F. M\u{fc}ll.) Pers.\tspecies\taccepted\t\t\tFungi\n\
    6\tAgaricus comatus\tO.F. M\u{fc}ll.\tspecies\tsynonym\t5\t\tFungi\n\
    7\tAgaricus comatus\tFr. ex Example\tspecies\tsynonym\t2\t\tFungi\n\
    8\tMycena\t(Pers.) Roussel\tgenus\taccepted\t\t\tFungi\n\
    9\tAgaricus orphanus\tX\tspecies\tsynonym\t10\t\tFungi\n\
    10\tAgaricus circularis\tX\tspecies\tsynonym\t9\t\tFungi\n\
    11\tAgaricus lost\tX\tspecies\tsynonym\t99\t\tFungi\n";

fn desk() -> Desk {
    let desk = Desk::new();
    desk.file("day/notebook.csv", NOTEBOOK);
    desk.file("list.tsv", CHECKLIST);
    desk
}

#[test]
fn a_checklist_given_with_an_import() {
    let desk = desk();
    let import = ["import", "day", "--zone", "UTC", "--store", "a.gpkg", "--checklist", "list.tsv"];
    assert_snapshot!(desk.reported(&import));
    assert_snapshot!(desk.reported(&["finds", "--store", "a.gpkg"]));
    // a taxon is found by its synonyms too
    assert_snapshot!(desk.reported(&[
        "finds",
        "--store",
        "a.gpkg",
        "--taxon",
        "Agaricus laccatus"
    ]));
    assert_snapshot!(desk.reported(&["checklist", "--store", "a.gpkg"]));
}

#[test]
fn a_checklist_that_is_missing_leaves_no_store() {
    let desk = desk();
    let import = ["import", "day", "--zone", "UTC", "--store", "a.gpkg", "--checklist", "none.tsv"];
    let said = desk.reported(&import);
    assert!(said.contains("none.tsv"), "{said}");
    assert!(!desk.path("a.gpkg").exists());
    let said = desk.reported(&["checklist", "none.tsv", "--store", "a.gpkg"]);
    assert!(said.contains("none.tsv"), "{said}");
    assert!(!desk.path("a.gpkg").exists());
}

#[test]
fn lists_report_names_that_the_checklist_does_not_have() {
    let desk = desk();
    let import = ["import", "day", "--zone", "UTC", "--store", "a.gpkg", "--checklist", "list.tsv"];
    desk.reported(&import);
    let listed = desk.reported(&["lists", "--store", "a.gpkg"]);
    let expected = "1 species is not in the checklist and counted as written: Lacaria lacata (1 find; \
                    nearest: Laccaria laccata).";
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words(&listed).contains(&words(expected)), "{listed}");
}

#[test]
fn synonyms_count_as_one_species_in_lists_and_hosts() {
    let desk = desk();
    let listed = |file: &str| {
        let listed = desk.run(&["lists", "--format", "csv", "--store", file]).stdout;
        String::from_utf8(listed).unwrap()
    };
    desk.reported(&["import", "day", "--zone", "UTC", "--store", "plain.gpkg"]);
    let plain = listed("plain.gpkg");
    assert!(plain.contains("Clitocybe laccata") && plain.contains("Laccaria laccata"), "{plain}");
    let with = ["--checklist", "list.tsv"];
    desk.reported(&[&["import", "day", "--zone", "UTC", "--store", "a.gpkg"], &with[..]].concat());
    let accepted = listed("a.gpkg");
    assert!(!accepted.contains("Clitocybe") && accepted.contains("Laccaria laccata"), "{accepted}");
    // an ambiguous and a doubtful name stay as written
    assert!(accepted.contains("Agaricus comatus"), "{accepted}");
    assert_eq!(plain.lines().count(), accepted.lines().count() + 1, "{plain}\n{accepted}");
    let hosts = |taxon| {
        let by = ["hosts", "--by", "substrate", "--json", "--store", "a.gpkg", "--taxon", taxon];
        let hosts = desk.run(&by);
        assert_eq!(hosts.status.code(), Some(0), "{}", String::from_utf8_lossy(&hosts.stderr));
        hosts.stdout
    };
    assert_eq!(hosts("Agaricus laccatus"), hosts("Laccaria laccata"));
}

#[test]
fn a_checklist_is_replaced_and_removed() {
    let desk = desk();
    desk.reported(&["import", "day", "--zone", "UTC", "--store", "a.gpkg"]);
    assert_snapshot!(desk.reported(&["checklist", "--store", "a.gpkg"]));
    let listed = desk.run(&["checklist", "list.tsv", "--store", "a.gpkg", "--json"]).stdout;
    let listed: serde_json::Value = serde_json::from_slice(&listed).unwrap();
    assert_eq!(listed["checklist"]["names"], 11);
    let statuses = listed["names"].as_array().unwrap().iter();
    let statuses: Vec<&str> =
        statuses.filter_map(|name| name["check"]["status"].as_str()).collect();
    assert_eq!(statuses, ["ambiguous", "open", "synonym", "unknown", "accepted", "accepted"]);
    desk.file("few.csv", "taxonID,scientificName\n1,Laccaria laccata (Scop.) Cooke\n");
    assert_snapshot!(desk.reported(&["checklist", "few.csv", "--store", "a.gpkg"]));
    // one that cannot be read leaves the earlier one
    desk.file("bad.csv", "name,author\nLaccaria laccata,(Scop.) Cooke\n");
    assert_snapshot!(desk.reported(&["checklist", "bad.csv", "--store", "a.gpkg"]));
    let kept = desk.reported(&["checklist", "--store", "a.gpkg"]);
    assert!(kept.contains("Checklist: few.csv, 1 name"), "{kept}");
    assert_snapshot!(desk.reported(&["checklist", "--remove", "--store", "a.gpkg"]));
}

#[test]
fn a_checklist_among_the_files_of_a_day() {
    let desk = desk();
    assert_snapshot!(desk.reported(&["check", "list.tsv", "--zone", "UTC"]));
    desk.file("day/list.tsv", CHECKLIST);
    let checked = desk.reported(&["check", "day", "--zone", "UTC"]);
    assert!(checked.contains("list.tsv"), "{checked}");
    assert!(!checked.contains("Coprinus"), "{checked}");
}

#[test]
fn a_rule_for_an_accepted_name_covers_finds_named_by_a_synonym() {
    let desk = Desk::new();
    desk.file(
        "day/notebook.csv",
        NOTEBOOK.replace("1,2026-05-03,Fern gully,soil,Laccaria laccata\n", ""),
    );
    desk.file("list.tsv", CHECKLIST);
    let import = ["import", "day", "--zone", "UTC", "--store", "a.gpkg", "--checklist", "list.tsv"];
    desk.reported(&import);
    let rule = |taxon| {
        desk.reported(&[
            "places", "quiet", "--store", "a.gpkg", "--level", "high", "--taxon", taxon,
        ])
    };
    let made = rule("Laccaria laccata");
    assert!(
        made.starts_with("exit status: 0") && made.contains("sensitive: Laccaria laccata"),
        "{made}"
    );
    let listed = desk.reported(&["places", "--store", "a.gpkg"]);
    assert!(!listed.contains("matches no find"), "{listed}");
    // a rule for a synonym covers no find that has the accepted name
    let refused = rule("Agaricus laccatus");
    assert!(refused.contains("a synonym of Laccaria laccata"), "{refused}");
}
