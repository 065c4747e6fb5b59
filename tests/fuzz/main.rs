//! Mutated inputs for every reader and for the whole program: nothing panics, no input is lost. A
//! fixed small number of cases here; `cargo run --release --example fuzz -- all` runs an extended
//! test.

#![allow(clippy::unwrap_used)]

mod harness;
mod mutate;
mod pipeline;
mod readers;
mod rng;
mod targets;

use harness::{Target, corpus, fails, run};
use targets::TARGETS;

/// The seed of continuous integration runs.
const SEED: u64 = 20_260_503;

fn named(name: &str) -> &'static Target {
    TARGETS.iter().find(|target| target.name == name).unwrap()
}

#[allow(clippy::print_stdout, reason = "the harness hides the messages of panics")]
fn holds(name: &str) {
    let target = named(name);
    let run = run(target, SEED, 0..target.cases);
    let first = run.failures.first();
    let reported = first.map(|failure| {
        format!("case {}: {}\n{}", failure.case, failure.message, failure.input.escape_ascii())
    });
    if let Some(words) = &reported {
        println!("{words}");
    }
    assert!(
        reported.is_none(),
        "{} failures, {}",
        run.failures.len(),
        reported.unwrap_or_default()
    );
}

/// One test for each target, so that they run side by side.
macro_rules! targets {
    ($($name:ident),+) => {
        $(#[test]
        fn $name() {
            holds(stringify!($name));
        })+

        #[test]
        fn every_target_has_a_test() {
            let mut tested = vec![$(stringify!($name)),+];
            let mut all: Vec<&str> = TARGETS.iter().map(|target| target.name).collect();
            tested.sort_unstable();
            all.sort_unstable();
            assert_eq!(tested, all);
        }
    };
}

targets!(
    gpx, kml, geojson, nmea, photo, records, workbook, archive, columns, layout, front, position,
    elevation, lines, map, store, day
);

#[test]
fn kept_inputs_pass() {
    for target in TARGETS {
        let kept = corpus(target);
        assert!(kept.len() > 2, "{} has no corpus", target.name);
        for (name, input) in kept {
            assert_eq!(fails(target, &input), None, "{name}");
        }
    }
}

#[test]
fn a_run_repeats_and_a_failure_is_caught_and_made_small() {
    let picky = Target {
        name: "picky",
        seeds: || vec![b"abc 1 def 22 ghi 333".to_vec()],
        words: &["Z"],
        check: |input| assert!(!input.contains(&b'Z'), "a Z"),
        cases: 0,
    };
    let (one, other) = (run(&picky, 7, 0..200), run(&picky, 7, 0..200));
    let cases = |run: &harness::Run| -> Vec<(u64, Vec<u8>)> {
        run.failures.iter().map(|failure| (failure.case, failure.input.clone())).collect()
    };
    assert!(!one.failures.is_empty() && one.failures.len() < 200);
    assert_eq!(cases(&one), cases(&other));
    assert!(one.failures[0].message.contains("a Z"));
    assert_eq!(harness::minimised(&picky, &one.failures[0].input), b"Z");
}
