//! A simulated collector with notebooks and a store, and the true positions.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;

use super::adversary::{Adversary, Level};
use super::writing;

/// Metres in a degree of latitude, near enough to put finds at their places.
const DEGREE: f64 = 111_200.0;
/// Where finds are: metres north and east; the first two are one site only where the extent is
/// large.
const PLACES: [(f64, f64); 6] = [
    (0.0, 0.0),
    (18.0, 0.0),
    (700.0, 900.0),
    (700.0, 920.0),
    (2_500.0, 300.0),
    (9_000.0, 15_000.0),
];
const TAXA: [&str; 4] =
    ["Hygrocybe graminicolor", "Mycena nargan", "Hericium coralloides", "Galerina hypnorum"];

/// The truth of a find.
pub(crate) struct Truth {
    pub(crate) outing: usize,
    pub(crate) number: String,
    pub(crate) taxon: &'static str,
    pub(crate) latitude: f64,
    pub(crate) longitude: f64,
    /// Its position as the collector wrote it into a text.
    pub(crate) written: String,
}

struct Rule {
    arguments: [String; 2],
    level: Level,
    /// The finds that it was meant for.
    finds: Vec<usize>,
}

pub(crate) struct World {
    folder: tempfile::TempDir,
    origin: (f64, f64),
    pub(crate) finds: Vec<Truth>,
    outings: usize,
    numbers: usize,
    rules: Vec<Rule>,
    adversary: Adversary,
    outputs: usize,
}

impl World {
    pub(crate) fn new(latitude: f64) -> Self {
        Self {
            folder: tempfile::tempdir().unwrap(),
            origin: (latitude, 146.096_49),
            finds: Vec::new(),
            outings: 0,
            numbers: 0,
            rules: Vec::new(),
            adversary: Adversary::default(),
            outputs: 0,
        }
    }

    fn run(&self, arguments: &[&str]) -> Output {
        Command::new(env!("CARGO_BIN_EXE_trug"))
            .args(arguments)
            .current_dir(self.folder.path())
            .env("TRUG_STORE", self.folder.path().join("s.gpkg"))
            .env("XDG_CACHE_HOME", std::env::temp_dir().join("trug-privacy-cache"))
            .output()
            .unwrap()
    }

    fn must(&self, arguments: &[&str]) -> String {
        let output = self.run(arguments);
        assert!(
            matches!(output.status.code(), Some(0 | 1)),
            "{arguments:?}: {}",
            String::from_utf8_lossy(&output.stderr)
        );
        String::from_utf8(output.stdout).unwrap()
    }

    pub(crate) fn outing(&mut self, finds: &[(usize, usize)]) {
        let outing = self.outings;
        self.outings += 1;
        for (place, taxon) in finds {
            let (north, east) = PLACES[place % PLACES.len()];
            // finds of one place lie a metre or two apart
            let (north, east) =
                (north + (self.numbers % 3) as f64, east + (self.numbers % 2) as f64);
            let latitude = self.origin.0 + north / DEGREE;
            let longitude = self.origin.1 + east / (DEGREE * self.origin.0.to_radians().cos());
            self.finds.push(Truth {
                outing,
                number: format!("AQ-{:04}", self.numbers),
                taxon: TAXA[taxon % TAXA.len()],
                latitude,
                longitude,
                written: writing::position(latitude, longitude, self.numbers),
            });
            self.numbers += 1;
        }
        self.bring_in(outing);
    }

    /// Writes the notebook of an outing and imports it.
    fn bring_in(&self, outing: usize) {
        let folder = self.folder.path().join(format!("day-{outing}"));
        fs::create_dir_all(&folder).unwrap();
        let mut notes = String::from(
            "Number,Collector,Date,Name,Coordinates,Datum,Place,Notes,Habitat,Substrate\n",
        );
        let own = self.finds.iter().enumerate().filter(|(_, find)| find.outing == outing);
        for (index, find) in own {
            // the texts of a find say where it was, and where another was
            let other = &self.finds[(index + 1) % self.finds.len()].written;
            let name = writing::name(find.taxon, index);
            let date = format!("2026-{:02}-{:02}", 4 + outing / 28, 1 + outing % 28);
            let _ = std::fmt::Write::write_fmt(
                &mut notes,
                format_args!(
                    "{},Ada Quillfeather,{date},{name},\"{:.6}, {:.6}\",WGS84,Secret Gully {},by the tall stump {},\"wet gully, {}\",\"log as at {other}\"\n",
                    find.number,
                    find.latitude,
                    find.longitude,
                    find.number,
                    find.number,
                    find.written,
                ),
            );
        }
        fs::write(folder.join("notebook.csv"), notes).unwrap();
        self.must(&["import", folder.to_str().unwrap()]);
    }

    pub(crate) fn renumber(&mut self, find: usize) {
        let find = find % self.finds.len();
        self.finds[find].number = format!("AQ-{:04}", self.numbers + 5_000);
        self.numbers += 1;
        self.bring_in(self.finds[find].outing);
    }

    pub(crate) fn shift(&mut self, find: usize) {
        let find = find % self.finds.len();
        self.finds[find].latitude += 2.0 / DEGREE;
        self.bring_in(self.finds[find].outing);
    }

    pub(crate) fn again(&mut self, outing: usize) {
        self.bring_in(outing % self.outings);
    }

    pub(crate) fn extent(&mut self, metres: usize) {
        self.must(&["sites", "--extent", &metres.to_string()]);
    }

    /// The numbers of the sites with the numbers of their finds.
    fn sites(&self) -> Vec<(String, Vec<String>)> {
        let text = self.must(&["sites", "--format", "json"]);
        let sites: Value = serde_json::from_str(&text).unwrap();
        let numbers = |site: &Value| {
            let finds = site["recordNumbers"].as_array().unwrap();
            finds.iter().map(|find| find.as_str().unwrap().to_owned()).collect()
        };
        let sites = sites.as_array().unwrap().iter();
        sites.map(|site| (site["site"].to_string(), numbers(site))).collect()
    }

    pub(crate) fn join(&mut self, one: usize, other: usize) {
        let sites = self.sites();
        let (one, other) = (&sites[one % sites.len()].0, &sites[other % sites.len()].0);
        // the same site twice is refused, which is irrelevant here
        self.run(&["sites", "join", one, other]);
    }

    pub(crate) fn name(&mut self, site: usize) {
        let sites = self.sites();
        let site = &sites[site % sites.len()].0;
        self.run(&["sites", "name", site, &format!("dell {site}")]);
    }

    pub(crate) fn protect(&mut self, what: usize, which: usize, level: usize) {
        let level = Level::ALL[level % Level::ALL.len()];
        let (flag, name, finds): (&str, String, Vec<usize>) = match what % 3 {
            0 => {
                let taxon = self.finds[which % self.finds.len()].taxon;
                let of = |find: &usize| self.finds[*find].taxon == taxon;
                ("--taxon", taxon.to_owned(), (0..self.finds.len()).filter(of).collect())
            }
            1 => {
                let sites = self.sites();
                let (site, numbers) = &sites[which % sites.len()];
                let of = |find: &usize| numbers.contains(&self.finds[*find].number);
                ("--site", site.clone(), (0..self.finds.len()).filter(of).collect())
            }
            _ => {
                let find = which % self.finds.len();
                ("--find", self.finds[find].number.clone(), vec![find])
            }
        };
        self.must(&["places", "quiet", flag, &name, "--level", level.word()]);
        let arguments = [flag.to_owned(), name];
        self.rules.retain(|rule| rule.arguments != arguments);
        self.rules.push(Rule { arguments, level, finds });
    }

    /// The user releases these finds: their protection ends, also for the adversary.
    pub(crate) fn open(&mut self, rule: usize) {
        if self.rules.is_empty() {
            return;
        }
        let rule = self.rules.remove(rule % self.rules.len());
        let mut name = rule.arguments[1].clone();
        if rule.arguments[0] == "--find" {
            name.clone_from(&self.finds[rule.finds[0]].number);
        }
        self.run(&["places", "open", &rule.arguments[0], &name]);
        rule.finds.iter().for_each(|find| self.adversary.forget(*find));
    }

    /// The protection level of each find.
    fn promised(&self) -> Vec<Option<Level>> {
        let of = |find: usize| {
            let rules = self.rules.iter().filter(|rule| {
                let named =
                    rule.arguments[0] == "--taxon" && self.finds[find].taxon == rule.arguments[1];
                named || rule.finds.contains(&find)
            });
            rules.map(|rule| rule.level).max()
        };
        (0..self.finds.len()).map(of).collect()
    }

    fn output(&mut self, arguments: &[&str], name: &str) {
        self.outputs += 1;
        let file = format!("out-{}-{name}", self.outputs);
        let mut all = arguments.to_vec();
        all.extend(["--out", &file]);
        self.must(&all);
        let promised = self.promised();
        let path = self.folder.path().join(&file);
        self.adversary.reads(&path, &self.finds, &promised, &format!("{arguments:?}"));
    }

    pub(crate) fn export(&mut self, form: usize, exact: bool, ways: bool) {
        let (form, ending) = [
            ("geojson", "geojson"),
            ("csv", "csv"),
            ("kml", "kml"),
            ("gpx", "gpx"),
            ("geoparquet", "parquet"),
        ][form % 5];
        let mut arguments = vec!["export", "--format", form, "--coordinates", care(exact)];
        if ways && !matches!(form, "csv" | "geoparquet") {
            arguments.push("--ways");
        }
        self.output(&arguments, &format!("finds.{ending}"));
    }

    pub(crate) fn deposit(&mut self, exact: bool) {
        let arguments =
            ["deposit", "--title", "Finds", "--licence", "cc0", "--coordinates", care(exact)];
        self.output(&arguments, "finds.zip");
    }

    pub(crate) fn page(&mut self, exact: bool) {
        self.output(&["sheet", "--season", "2026", "--coordinates", care(exact)], "year.html");
    }
}

fn care(exact: bool) -> &'static str {
    if exact { "exact-unless-sensitive" } else { "generalised" }
}

/// The end of a file's name.
pub(crate) fn ending(path: &Path) -> &str {
    path.extension().and_then(|end| end.to_str()).unwrap_or_default()
}
