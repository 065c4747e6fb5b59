//! Runs one target on many cases: deterministic by seed, panics caught, failing inputs reduced.

use std::cell::RefCell;
use std::panic;
use std::sync::Once;
use std::time::{Duration, Instant};

use crate::mutate;
use crate::rng::Rng;

/// A reader, or the whole program, on the bytes of one case. It panics where an invariant fails.
#[derive(Clone, Copy)]
pub(crate) struct Target {
    /// As it is named on the command line and in the folder of the corpus.
    pub(crate) name: &'static str,
    /// Inputs to begin from.
    pub(crate) seeds: fn() -> Vec<Vec<u8>>,
    /// Words of its format.
    pub(crate) words: &'static [&'static str],
    /// Reads, and checks what must hold.
    pub(crate) check: fn(&[u8]),
    /// Cases in a continuous integration run.
    pub(crate) cases: u64,
}

/// An input that a target fails on.
pub(crate) struct Failure {
    pub(crate) case: u64,
    pub(crate) message: String,
    pub(crate) input: Vec<u8>,
}

/// The result of a run.
#[derive(Default)]
pub(crate) struct Run {
    pub(crate) failures: Vec<Failure>,
    /// The case that took longest.
    pub(crate) slowest: (Duration, u64),
}

thread_local! {
    static MESSAGE: RefCell<String> = const { RefCell::new(String::new()) };
}

/// Keeps the message of a panic instead of printing it.
fn listen() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        panic::set_hook(Box::new(|what| {
            MESSAGE.with(|message| *message.borrow_mut() = what.to_string());
        }));
    });
}

/// Why a target fails on an input; `None` where it does not.
pub(crate) fn fails(target: &Target, input: &[u8]) -> Option<String> {
    listen();
    let check = || (target.check)(input);
    let held = panic::catch_unwind(check).is_ok();
    (!held).then(|| MESSAGE.with(std::cell::RefCell::take))
}

/// Runs some of the cases of a seed.
pub(crate) fn run(target: &Target, seed: u64, cases: impl Iterator<Item = u64>) -> Run {
    let seeds = with_corpus(target);
    let mut run = Run::default();
    for case in cases {
        let input = mutate::case(&mut Rng::of(seed, case), &seeds, target.words);
        let started = Instant::now();
        if let Some(message) = fails(target, &input) {
            run.failures.push(Failure { case, message, input });
        }
        run.slowest = run.slowest.max((started.elapsed(), case));
    }
    run
}

/// The seeds and the kept inputs.
fn with_corpus(target: &Target) -> Vec<Vec<u8>> {
    let kept = corpus(target).into_iter().map(|(_, bytes)| bytes);
    (target.seeds)().into_iter().chain(kept).collect()
}

/// Inputs on which a target failed once and inputs that reach rare branches, with their names.
pub(crate) fn corpus(target: &Target) -> Vec<(String, Vec<u8>)> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/fuzz/corpus/");
    let Ok(files) = std::fs::read_dir(format!("{folder}{}", target.name)) else {
        return Vec::new();
    };
    let mut kept: Vec<(String, Vec<u8>)> = files
        .map(|file| file.unwrap().path())
        .map(|path| (path.display().to_string(), std::fs::read(&path).unwrap()))
        .collect();
    kept.sort();
    kept
}

/// A shorter input that still fails: pieces are taken out as long as it does, ever smaller ones.
pub(crate) fn minimised(target: &Target, input: &[u8]) -> Vec<u8> {
    const MOST_TRIES: usize = 4_000;
    let mut least = input.to_vec();
    let mut piece = least.len().div_ceil(2);
    let mut tries = 0;
    while piece > 0 {
        let mut at = 0;
        while at < least.len() && tries < MOST_TRIES {
            let mut shorter = least.clone();
            shorter.drain(at..(at + piece).min(least.len()));
            tries += 1;
            if fails(target, &shorter).is_some() { least = shorter } else { at += piece }
        }
        piece = if piece == 1 { 0 } else { piece.div_ceil(2) };
    }
    least
}
