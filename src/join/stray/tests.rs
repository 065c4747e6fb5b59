//! Tests which isolated times are set aside, and which few fixes are a walk.

use super::*;
use crate::model::{FileKind, Fix};
use crate::units::LatLon;

const START: &str = "2026-05-12T00:00:00Z";

fn at(text: &str) -> Timestamp {
    text.parse().unwrap()
}

/// A walk of so many fixes, one each 5 s, in segments of so many.
fn walk(count: u32, segment: usize) -> Vec<Piece> {
    let fix = |k: u32| {
        let time = Seconds(f64::from(k) * 5.0).after(at(START));
        Fix::bare(LatLon::clamped(-42.6, 146.1), Some(time))
    };
    let fixes: Vec<Fix> = (0..count).map(fix).collect();
    fixes.chunks(segment).map(|fixes| Piece { file: 0, fixes: fixes.to_vec() }).collect()
}

fn parted(pieces: Vec<Piece>) -> Parted {
    let path = std::path::PathBuf::from("d/walk.gpx");
    let file = SourceFile { path, kind: FileKind::Gpx, bytes: 1, hash: "walk".into() };
    set_aside(pieces, &[file])
}

fn count(pieces: &[Piece]) -> usize {
    pieces.iter().map(|piece| piece.fixes.len()).sum()
}

fn said(parted: &Parted) -> String {
    parted.notes.iter().map(ToString::to_string).collect()
}

#[test]
fn single_outlying_date_is_set_aside_at_any_position() {
    let dates = [
        "1970-01-01T00:00:00Z",
        "1980-01-06T00:00:03Z",
        "1999-08-22T00:00:00Z",
        "2025-05-12T01:00:00Z",
        "2026-05-11T01:00:00Z",
        "2106-02-07T06:28:15Z",
    ];
    for date in dates {
        for place in [0, 1_500, 2_999] {
            for origin in [false, true] {
                let mut pieces = walk(3_000, 3_000);
                let fix = &mut pieces[0].fixes[place];
                fix.time = Some(at(date));
                if origin {
                    fix.at = LatLon::clamped(0.0, 0.0);
                }
                let parted = parted(pieces);
                assert_eq!(count(&parted.pieces), 2_999, "{date} {place}");
                assert_eq!(count(&parted.strays), 1, "{date} {place}");
                let said = said(&parted);
                assert!(said.contains(&date[..10]), "{said}");
                assert!(said.contains("the other 2999 run from 2026-05-12 00:00 UTC"), "{said}");
            }
        }
    }
}

#[test]
fn strays_of_several_dates_and_segments_of_their_own_are_set_aside() {
    let mut pieces = walk(900, 300);
    let stray = |date: &str| Fix::bare(LatLon::clamped(0.0, 0.0), Some(at(date)));
    pieces.insert(0, Piece { file: 0, fixes: vec![stray("1980-01-06T00:00:00Z")] });
    pieces[2].fixes.insert(7, stray("2024-02-29T12:00:00Z"));
    pieces[2].fixes.push(stray("1970-01-01T00:00:00Z"));
    let parted = parted(pieces);
    assert_eq!((parted.pieces.len(), count(&parted.pieces), count(&parted.strays)), (3, 900, 3));
    let said = said(&parted);
    assert!(said.contains("3 fixes of walk.gpx are timed far from the others"), "{said}");
    assert!(said.contains("1970-01-01, 1980-01-06, 2024-02-29"), "{said}");
}

#[test]
fn a_group_at_start_up_is_set_aside() {
    for (date, size) in
        [("1980-01-06T00:00:00Z", 5), ("1980-01-06T00:00:00Z", 80), ("2000-01-01T00:00:00Z", 80)]
    {
        let mut pieces = walk(600, 600);
        for (second, fix) in pieces[0].fixes.iter_mut().take(size).enumerate() {
            fix.time = Some(Seconds(second as f64).after(at(date)));
        }
        let parted = parted(pieces);
        assert_eq!((count(&parted.pieces), count(&parted.strays)), (600 - size, size), "{date}");
    }
}

#[test]
fn a_small_track_keeps_its_two_fixes() {
    for place in 0..3 {
        let mut pieces = walk(3, 3);
        pieces[0].fixes[place].time = Some(at("2025-01-01T00:00:00Z"));
        let parted = parted(pieces);
        assert_eq!((count(&parted.pieces), count(&parted.strays)), (2, 1), "{place}");
    }
}

#[test]
fn two_days_in_one_file_are_both_kept() {
    for (first, second) in [(400, 400), (400, 12), (12, 400), (6, 5)] {
        let mut pieces = walk(first + second, first as usize);
        let next = pieces.iter_mut().skip(1).flat_map(|piece| &mut piece.fixes);
        for fix in next {
            fix.time = fix.time.map(|time| Seconds(86_400.0).after(time));
        }
        let parted = parted(pieces);
        assert_eq!(count(&parted.strays), 0, "{first} {second}");
        assert!(parted.notes.is_empty());
    }
    // eight fixes, one each half hour, are a day of their own
    let mut pieces = walk(400, 400);
    let sparse = |k: u32| {
        let time = Seconds(86_400.0 + f64::from(k) * 1_800.0).after(at(START));
        Fix::bare(LatLon::clamped(-42.6, 146.1), Some(time))
    };
    pieces.push(Piece { file: 0, fixes: (0..8).map(sparse).collect() });
    assert_eq!(count(&parted(pieces).strays), 0);
}

#[test]
fn ordinary_files_are_unchanged() {
    let mut reversed = walk(500, 100);
    reversed.reverse();
    for piece in &mut reversed {
        piece.fixes.reverse();
    }
    let mut new_year = walk(500, 500);
    for (k, fix) in new_year[0].fixes.iter_mut().enumerate() {
        fix.time = Some(Seconds(k as f64 * 5.0).after(at("2025-12-31T23:40:00Z")));
    }
    let mut partly = walk(500, 500);
    partly[0].fixes.iter_mut().step_by(3).for_each(|fix| fix.time = None);
    // three fixes of one day, six hours apart
    let mut sparse = walk(3, 3);
    for (k, fix) in sparse[0].fixes.iter_mut().enumerate() {
        fix.time = Some(Seconds(k as f64 * 21_600.0).after(at(START)));
    }
    for pieces in [Vec::new(), walk(1, 1), reversed, new_year, partly, sparse] {
        let before = pieces.iter().map(|piece| piece.fixes.clone()).collect::<Vec<_>>();
        let parted = parted(pieces);
        let after: Vec<Vec<Fix>> = parted.pieces.into_iter().map(|piece| piece.fixes).collect();
        assert_eq!((after, parted.strays.len(), parted.notes.len()), (before, 0, 0));
    }
}

#[test]
fn impossible_times_make_a_track_without_times() {
    let mut stopwatch = walk(300, 100);
    for (k, fix) in stopwatch.iter_mut().flat_map(|piece| &mut piece.fixes).enumerate() {
        fix.time = Some(Seconds(k as f64).after(at("1970-01-01T00:00:00Z")));
    }
    let mut lone = walk(40, 40);
    for (k, fix) in lone[0].fixes.iter_mut().enumerate() {
        fix.time = Some(Seconds(k as f64 * 3.0e7).after(at("2001-01-01T00:00:00Z")));
    }
    for (pieces, why) in
        [(stopwatch, "they begin at 1970-01-01 00:00 UTC"), (lone, "no two lie within 5 hours")]
    {
        let all = count(&pieces);
        let parted = parted(pieces);
        assert_eq!((count(&parted.pieces), count(&parted.strays)), (all, 0));
        assert!(times(&parted.pieces).next().is_none());
        assert!(said(&parted).contains(why), "{}", said(&parted));
    }
    // of two fixes the one that can be right is
    let mut two = walk(2, 2);
    two[0].fixes[0].time = Some(at("1970-01-01T00:00:00Z"));
    let parted = parted(two);
    assert_eq!((count(&parted.pieces), count(&parted.strays)), (1, 1));
}
