//! Commands that write, killed at any moment or with no space left: the store and every output file
//! are as before or as after the command.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use tempfile::TempDir;
use trug::store::{FindQuery, Store};

const STORE: &str = "kept.gpkg";
/// How often each command is killed.
const KILLS: u32 = 6;
/// The largest file that a command may write, in blocks of 512 bytes.
const ROOM: [u32; 6] = [0, 1, 8, 48, 400, 900];

/// A command that writes, with its arguments.
struct Case {
    name: &'static str,
    words: &'static [&'static str],
}

const CASES: [Case; 10] = [
    Case { name: "import", words: &["import", "first", "second", "--store", "new.gpkg"] },
    Case { name: "another day", words: &["import", "third", "--store", STORE] },
    Case { name: "corrected", words: &["import", "corrected", "--store", STORE] },
    Case {
        name: "amend",
        words: &["amend", "AQ-0042", "--taxon", "Laccaria", "--reason", "x", "--store", STORE],
    },
    Case { name: "remove", words: &["remove", "--day", "2026-04-18", "--store", STORE] },
    Case { name: "sites join", words: &["sites", "join", "2", "3", "--store", STORE] },
    Case { name: "site name", words: &["sites", "name", "1", "Old log", "--store", STORE] },
    Case {
        name: "trailhead",
        words: &["trailhead", "add", "Gate", "42.6 S 146.1 E", "--store", STORE],
    },
    Case {
        name: "export",
        words: &["export", "--format", "geojson", "--out", "finds.json", "--store", STORE],
    },
    Case {
        name: "export of several files",
        words: &[
            "export",
            "--format",
            "geoparquet",
            "--by-year",
            "--out",
            "years",
            "--store",
            STORE,
        ],
    },
];

/// A folder with the files of two days and a store that holds the first.
struct Basket(TempDir);

impl Basket {
    fn new() -> Self {
        let basket = Self(tempfile::tempdir().unwrap());
        let sample =
            Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-tracks/2026-04-18-wren-gully");
        let notes = fs::read_to_string(sample.join("notebook.csv")).unwrap();
        for (folder, notes) in [
            ("first", notes.clone()),
            ("corrected", notes.replacen("Galerina hypnorum", "Galerina patagonica", 1)),
        ] {
            fs::create_dir(basket.path(folder)).unwrap();
            fs::copy(sample.join("wren-gully.gpx"), basket.path(folder).join("walk.gpx")).unwrap();
            fs::write(basket.path(folder).join("notebook.csv"), notes).unwrap();
        }
        for (folder, year) in [("second", 2025), ("third", 2024)] {
            fs::create_dir(basket.path(folder)).unwrap();
            let earlier = format!(
                "number,collector,date,coordinates,name\n\
                 BK-{year},Bram Kestrel,{year}-05-03,42.61 S 146.09 E,Mycena interrupta\n"
            );
            fs::write(basket.path(folder).join("earlier.csv"), earlier).unwrap();
        }
        for words in [
            ["import", "first", "--store", STORE],
            ["import", "second", "--store", STORE],
            ["sites", "--store", STORE, "--quiet"],
        ] {
            let done = basket.run(&words).output().unwrap();
            assert!(done.status.code().is_some_and(|code| code < 2), "{}", reported(&done));
        }
        basket
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// The same files in another folder.
    fn copied(&self) -> Self {
        self.copied_to(tempfile::tempdir().unwrap())
    }

    fn copied_to(&self, folder: TempDir) -> Self {
        let copy = Self(folder);
        for (name, bytes) in files(self.0.path()) {
            let path = copy.path(&name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, bytes).unwrap();
        }
        copy
    }

    fn run(&self, words: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_trug"));
        command.args(words);
        self.set(&mut command);
        command
    }

    fn set(&self, command: &mut Command) {
        command
            .current_dir(self.0.path())
            .env_remove("TRUG_STORE")
            .env("NO_COLOR", "1")
            .env("XDG_CACHE_HOME", std::env::temp_dir().join("trug-tests-cache"))
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped());
    }

    /// Runs a command with so much room for each file; `None` where this system has no such limit.
    fn run_with_room(&self, blocks: u32, words: &[&str]) -> Option<Output> {
        let script = format!("trap '' XFSZ && ulimit -f {blocks} && exec \"$0\" \"$@\"");
        let mut command = Command::new("sh");
        command.arg("-c").arg(script).arg(env!("CARGO_BIN_EXE_trug")).args(words);
        self.set(&mut command);
        let output = command.output().ok()?;
        (output.status.code() != Some(127)).then_some(output)
    }

    /// The content of the stores and of the other files.
    fn state(&self) -> BTreeMap<String, String> {
        let mut state = BTreeMap::new();
        for name in [STORE, "new.gpkg"] {
            let path = self.path(name);
            if path.exists() {
                let contents = Store::create_or_open(&path).map(|store| said(&store)).unwrap();
                // an empty file is not a store
                if !contents.is_empty() {
                    state.insert(name.to_owned(), contents);
                }
            }
        }
        for (name, bytes) in files(self.0.path()) {
            let is_store = name.contains(".gpkg");
            if !is_store && !name.ends_with(".unfinished") {
                state.insert(name, blake3::hash(&bytes).to_string());
            }
        }
        state
    }
}

/// All files below a folder, by their names from there.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut folders = vec![folder.to_owned()];
    while let Some(next) = folders.pop() {
        for entry in fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                folders.push(path);
            } else {
                let name = path.strip_prefix(folder).unwrap().to_string_lossy().into_owned();
                found.insert(name, fs::read(path).unwrap());
            }
        }
    }
    found
}

/// What a store holds; empty for an empty one.
fn said(store: &Store) -> String {
    store.verify().unwrap();
    let finds = store.finds(&FindQuery::default()).unwrap();
    let mut lines: Vec<String> = finds
        .iter()
        .map(|find| format!("{:?} {:?} {:?}", find.id, find.record.name, find.place.is_some()))
        .collect();
    for outing in store.outings().unwrap() {
        lines.push(format!(
            "{} {} {}",
            outing.id,
            outing.finds,
            store.track(outing.id).unwrap().len()
        ));
    }
    lines.extend(
        store.sites().unwrap().iter().map(|s| format!("{:?} {:?} {:?}", s.id, s.name, s.finds)),
    );
    lines.extend(store.trailheads().unwrap().iter().map(|place| place.name.clone()));
    lines.join("\n")
}

fn reported(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}

/// Before and after a command, and how long it takes.
fn both(
    basket: &Basket,
    case: &Case,
) -> (BTreeMap<String, String>, BTreeMap<String, String>, Duration) {
    let copy = basket.copied();
    let before = copy.state();
    let started = Instant::now();
    let done = copy.run(case.words).output().unwrap();
    let spent = started.elapsed();
    assert!(done.status.code().is_some_and(|code| code < 2), "{}: {}", case.name, reported(&done));
    let after = copy.state();
    assert_ne!(before, after, "{} writes nothing", case.name);
    (before, after, spent)
}

/// Which files of a state are neither as before nor as after.
fn torn<'s>(
    now: &'s BTreeMap<String, String>,
    before: &BTreeMap<String, String>,
    after: &BTreeMap<String, String>,
) -> Vec<&'s String> {
    let names = now.keys().chain(before.keys()).chain(after.keys());
    let torn = names
        .filter(|name| now.get(*name) != before.get(*name) && now.get(*name) != after.get(*name));
    let mut torn: Vec<_> =
        torn.filter_map(|name| now.get_key_value(name)).map(|(name, _)| name).collect();
    torn.dedup();
    torn
}

#[test]
fn a_command_that_is_killed_leaves_everything_as_before_or_as_after_it() {
    let basket = Basket::new();
    let mut at_work = 0;
    for case in &CASES {
        let (before, after, spent) = both(&basket, case);
        for number in 0..KILLS {
            let copy = basket.copied();
            let mut child = copy.run(case.words).spawn().unwrap();
            thread::sleep(spent * number / KILLS);
            at_work += u32::from(child.try_wait().unwrap().is_none());
            let _ = child.kill();
            child.wait().unwrap();
            let now = copy.state();
            assert_eq!(torn(&now, &before, &after), [""; 0], "{}, kill {number}", case.name);
            // whatever command comes next completes the moves of several files, or none was made
            copy.run(&["completions", "bash"]).output().unwrap();
            let now = copy.state();
            let whole = now == before || now == after;
            assert!(whole || !case.name.starts_with("export"), "{}, kill {number}", case.name);
            for (name, bytes) in files(basket.0.path()) {
                let is_input =
                    ["first", "second", "third", "corrected"].iter().any(|f| name.starts_with(f));
                assert!(!is_input || fs::read(copy.path(&name)).unwrap() == bytes, "{name}");
            }
        }
    }
    assert!(at_work > KILLS, "only {at_work} commands were killed at work");
}

#[cfg(unix)]
#[test]
fn a_command_without_room_to_write_leaves_everything_as_it_was_and_says_why() {
    let basket = Basket::new();
    let mut refused = 0;
    for case in &CASES {
        let (before, after, _) = both(&basket, case);
        for room in ROOM {
            let copy = basket.copied();
            let Some(output) = copy.run_with_room(room, case.words) else {
                let _ = std::io::Write::write_all(
                    &mut std::io::stderr(),
                    b"skipped: the shell cannot limit the size of files\n",
                );
                return;
            };
            let (status, reported) = (output.status.code(), reported(&output));
            let what = format!("{} with {room} blocks: {status:?} {reported}", case.name);
            let now = copy.state();
            if status.is_some_and(|status| status < 2) {
                assert_eq!(now, after, "{what}");
                continue;
            }
            refused += 1;
            assert!(matches!(status, Some(2 | 3)), "{what}");
            for part in ["error: ", "because: ", "hint: "] {
                assert!(reported.contains(part), "{what}");
            }
            assert!(!reported.contains("fault of trug"), "{what}");
            assert_eq!(now, before, "{what}");
            let litter =
                files(copy.0.path()).into_keys().find(|name| name.ends_with(".unfinished"));
            assert_eq!(litter, None, "{what}");
        }
    }
    assert!(refused > 12, "only {refused} commands ran out of room");
}

/// A disk of its own, which only the superuser can have; it goes with the test.
#[cfg(target_os = "linux")]
struct Disk(TempDir);

#[cfg(target_os = "linux")]
impl Disk {
    fn new() -> Option<Self> {
        let disk = Self(tempfile::tempdir().unwrap());
        let mount = ["-t", "tmpfs", "-o", "size=48m", "tmpfs"];
        let done = Command::new("mount").args(mount).arg(disk.0.path()).output().ok()?;
        done.status.success().then_some(disk)
    }

    /// Leaves so much room, KiB.
    fn fill(&self, room: u64) -> PathBuf {
        let filler = self.0.path().join("filler");
        let mut file = fs::File::create(&filler).unwrap();
        while std::io::Write::write_all(&mut file, &[0; 4096]).is_ok() {}
        let full = file.metadata().unwrap().len();
        file.set_len(full.saturating_sub(room * 1024)).unwrap();
        filler
    }
}

#[cfg(target_os = "linux")]
impl Drop for Disk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.0.path()).output();
    }
}

#[cfg(target_os = "linux")]
#[test]
fn a_command_on_a_full_disk_leaves_everything_as_it_was_and_says_why() {
    let basket = Basket::new();
    let Some(disk) = Disk::new() else {
        let _ = std::io::Write::write_all(
            &mut std::io::stderr(),
            b"skipped: no disk of its own can be mounted\n",
        );
        return;
    };
    let mut refused = 0;
    for case in &CASES {
        let (before, after, _) = both(&basket, case);
        for room in [0, 4, 32, 300, 1_500] {
            let copy = basket.copied_to(tempfile::tempdir_in(disk.0.path()).unwrap());
            let filler = disk.fill(room);
            let output = copy.run(case.words).output().unwrap();
            fs::remove_file(filler).unwrap();
            let (status, reported) = (output.status.code(), reported(&output));
            let what = format!("{} with {room} KiB: {status:?} {reported}", case.name);
            let now = copy.state();
            if status.is_some_and(|status| status < 2) {
                assert_eq!(now, after, "{what}");
                continue;
            }
            refused += 1;
            assert!(matches!(status, Some(2 | 3)), "{what}");
            for part in ["error: ", "because: ", "hint: "] {
                assert!(reported.contains(part), "{what}");
            }
            assert_eq!(now, before, "{what}");
        }
    }
    assert!(refused > 12, "only {refused} commands found the disk full");
}
