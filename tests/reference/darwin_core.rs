//! Checks that every exported column is a current term. Source: the list of terms in
//! `data/darwin_core_terms.csv`, whose header names its own source.

use std::collections::HashSet;
use std::fs;

use trug::present::darwin_core::{self, TERMS};

fn published() -> HashSet<String> {
    let list = fs::read_to_string("tests/reference/data/darwin_core_terms.csv").unwrap();
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(list.as_bytes());
    reader.records().map(|row| row.unwrap()[1].to_owned()).collect()
}

#[test]
fn every_column_of_a_find_is_a_term() {
    let published = published();
    assert!(published.len() > 300, "only {} terms were read", published.len());
    let unknown: Vec<&str> = TERMS.into_iter().filter(|term| !published.contains(*term)).collect();
    assert!(unknown.is_empty(), "no terms: {unknown:?}");
    let distinct: HashSet<&str> = TERMS.into_iter().collect();
    assert_eq!(distinct.len(), TERMS.len());
}

/// Darwin Core quick reference guide, `occurrenceStatus`: recommended values before and since
/// 2026-05-26.
#[test]
fn the_words_for_found_and_not_found_are_the_recommended_ones() {
    use darwin_core::StatusWords::{Detected, Present};
    assert_eq!((Detected.found(), Detected.not_found()), ("detected", "notDetected"));
    assert_eq!((Present.found(), Present.not_found()), ("present", "absent"));
}

#[test]
fn every_column_that_counts_as_a_term_is_one() {
    use trug::model::term::{DUBLIN_CORE, RECORDED};
    let list = fs::read_to_string("tests/reference/data/darwin_core_terms.csv").unwrap();
    let mut reader = csv::ReaderBuilder::new().comment(Some(b'#')).from_reader(list.as_bytes());
    let addresses: HashSet<String> = reader.records().map(|row| row.unwrap()[2].into()).collect();
    let unknown: Vec<String> = RECORDED
        .into_iter()
        .map(|term| {
            let of_dublin_core = DUBLIN_CORE.contains(&term);
            let vocabulary = if of_dublin_core { "purl.org/dc" } else { "rs.tdwg.org/dwc" };
            format!("http://{vocabulary}/terms/{term}")
        })
        .filter(|address| !addresses.contains(address))
        .collect();
    assert!(unknown.is_empty(), "no terms: {unknown:?}");
}
