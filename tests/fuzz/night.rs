//! Runs mutated inputs through readers and through the whole program, as many as wanted:
//!
//! `cargo run --release --example fuzz -- TARGET [--cases N] [--seed S] [--threads T]`
//!
//! TARGET is one of those in `targets.rs`, or `all`. A failing input is made small and written into
//! `tests/fuzz/corpus/TARGET`, which every later run and every test reads. Exit status 1 where
//! something failed.

#![allow(clippy::unwrap_used)]

mod harness;
mod mutate;
mod pipeline;
mod readers;
mod rng;
mod targets;

use std::env;
use std::fs;
use std::io::{Write as _, stdout};
use std::process::ExitCode;
use std::thread;
use std::time::Instant;

use harness::{Run, Target};
use targets::TARGETS;

struct Options {
    target: String,
    /// For each target; else a hundred times those of continuous integration.
    cases: Option<u64>,
    seed: u64,
    threads: u64,
}

fn main() -> ExitCode {
    let Some(options) = options() else {
        let names: Vec<&str> = TARGETS.iter().map(|target| target.name).collect();
        let _ = writeln!(
            stdout(),
            "usage: fuzz TARGET [--cases N] [--seed S] [--threads T]\nTARGET: all, {}",
            names.join(", ")
        );
        return ExitCode::from(2);
    };
    let wanted = |target: &&Target| options.target == "all" || options.target == target.name;
    let failed = TARGETS.iter().filter(wanted).filter(|target| fails(target, &options)).count();
    if failed == 0 { ExitCode::SUCCESS } else { ExitCode::FAILURE }
}

fn options() -> Option<Options> {
    let mut words = env::args().skip(1);
    let mut options = Options { target: words.next()?, cases: None, seed: 1, threads: 2 };
    while let Some(word) = words.next() {
        let number = words.next()?.replace('_', "").parse().ok()?;
        match word.as_str() {
            "--cases" => options.cases = Some(number),
            "--seed" => options.seed = number,
            "--threads" => options.threads = number.max(1),
            _ => return None,
        }
    }
    let known = options.target == "all" || TARGETS.iter().any(|t| t.name == options.target);
    known.then_some(options)
}

/// Runs a target, reports the result and saves failing inputs.
fn fails(target: &Target, options: &Options) -> bool {
    let started = Instant::now();
    let count = options.cases.unwrap_or(100 * target.cases);
    let runs: Vec<Run> = thread::scope(|scope| {
        let begin = |thread: u64| {
            let every = usize::try_from(options.threads).unwrap();
            let cases = (thread..count).step_by(every);
            scope.spawn(move || harness::run(target, options.seed, cases))
        };
        let threads: Vec<_> = (0..options.threads).map(begin).collect();
        threads.into_iter().map(|thread| thread.join().unwrap()).collect()
    });
    let seconds = started.elapsed().as_secs_f64();
    let slowest = runs.iter().map(|run| run.slowest).max().unwrap_or_default();
    let failures: Vec<_> = runs.iter().flat_map(|run| &run.failures).collect();
    let _ = writeln!(
        stdout(),
        "{:10} {:>9} cases {:>8.0} a second, slowest {:.3} s (case {}), {} failures",
        target.name,
        count,
        f64::from(u32::try_from(count).unwrap_or(u32::MAX)) / seconds,
        slowest.0.as_secs_f64(),
        slowest.1,
        failures.len()
    );
    let mut messages: Vec<&str> = Vec::new();
    for failure in &failures {
        // the same line of the source is the same fault
        let message = failure.message.lines().next().unwrap_or_default();
        if messages.contains(&message) || messages.len() >= 20 {
            continue;
        }
        messages.push(message);
        let input = harness::minimised(target, &failure.input);
        let folder = format!("{}/tests/fuzz/corpus/{}", env!("CARGO_MANIFEST_DIR"), target.name);
        let path = format!("{folder}/{}-{}", options.seed, failure.case);
        fs::create_dir_all(&folder).and_then(|()| fs::write(&path, input)).unwrap();
        let _ = writeln!(stdout(), "  case {}: {}\n    {path}", failure.case, failure.message);
    }
    !failures.is_empty()
}
