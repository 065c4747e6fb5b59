//! Joins the numbers of several finds at one place into one label. Layer: `present`.

use super::layers::number;
use crate::model::Find;

/// The most runs of numbers in a label; more go to the list below the map.
const NAMED: usize = 4;

/// The most letters in a label; a longer number goes to the list.
const LONGEST: usize = 36;

/// `AB 0009–0011, 0014, CD 2`: consecutive numbers as ranges, each series named once.
pub(super) fn joined(finds: &[&Find]) -> String {
    written(finds).0
}

/// The same in order of series and number.
pub(super) fn sorted(finds: &[&Find]) -> String {
    let mut order: Vec<(String, String, &Find)> = finds
        .iter()
        .map(|find| {
            let (series, ordinal) = parts(find);
            let ordinal = ordinal.trim_start_matches('0').to_owned();
            (series, ordinal, *find)
        })
        .collect();
    order.sort_by(|a, b| (&a.0, a.1.len(), &a.1).cmp(&(&b.0, b.1.len(), &b.1)));
    joined(&order.into_iter().map(|(_, _, find)| find).collect::<Vec<_>>())
}

/// The same where it is short enough for a label on a map.
pub(super) fn label(finds: &[&Find]) -> Option<String> {
    let (words, runs) = written(finds);
    (runs <= NAMED && words.chars().count() <= LONGEST).then_some(words)
}

fn written(finds: &[&Find]) -> (String, usize) {
    let names: Vec<(String, String)> = finds.iter().map(|find| parts(find)).collect();
    let follows = |a: &(String, String), b: &(String, String)| {
        let next = a.1.parse::<u64>().ok().and_then(|ordinal| ordinal.checked_add(1));
        a.0 == b.0 && next.is_some() && next == b.1.parse().ok()
    };
    let mut text = String::new();
    let mut series: Option<&str> = None;
    let runs: Vec<_> = names.chunk_by(follows).collect();
    for run in &runs {
        let [first, .., last] = run else {
            let Some(only) = run.first() else { continue };
            add(&mut text, &mut series, &only.0, &only.1);
            continue;
        };
        let sign = if run.len() == 2 { ", " } else { "\u{2013}" };
        add(&mut text, &mut series, &first.0, &format!("{}{sign}{}", first.1, last.1));
    }
    (text, runs.len())
}

fn add<'a>(text: &mut String, last: &mut Option<&'a str>, series: &'a str, ordinals: &str) {
    if !text.is_empty() {
        text.push_str(", ");
    }
    if *last != Some(series) || ordinals.is_empty() {
        text.push_str(series);
        *last = Some(series);
    }
    text.push_str(ordinals);
}

/// The series of a find's number and the figures at its end, as they were written.
fn parts(find: &Find) -> (String, String) {
    let whole = number(find);
    let series = whole.trim_end_matches(|letter: char| letter.is_ascii_digit()).len();
    let (series, ordinal) = whole.split_at(series);
    (series.to_owned(), ordinal.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::RecordNumber;
    use crate::present::fixture;

    fn named(numbers: &[&str]) -> String {
        let find = fixture::day().finds.remove(0);
        let finds: Vec<Find> = numbers
            .iter()
            .map(|number| {
                let mut find = find.clone();
                find.record.number = Some(RecordNumber((*number).to_owned()));
                find
            })
            .collect();
        joined(&finds.iter().collect::<Vec<_>>())
    }

    #[test]
    fn many_runs_and_long_numbers_are_no_label() {
        let find = fixture::day().finds.remove(0);
        let label_of = |numbers: &[&str]| {
            let finds: Vec<Find> = numbers
                .iter()
                .map(|number| {
                    let mut find = find.clone();
                    find.record.number = Some(RecordNumber((*number).to_owned()));
                    find
                })
                .collect();
            label(&finds.iter().collect::<Vec<_>>())
        };
        assert_eq!(label_of(&["1", "3", "5", "7"]).as_deref(), Some("1, 3, 5, 7"));
        assert_eq!(label_of(&["1", "3", "5", "7", "9"]), None);
        assert_eq!(label_of(&["a number as long as a sentence of a notebook"]), None);
    }

    #[test]
    fn consecutive_numbers_are_joined_to_ranges() {
        assert_eq!(named(&["AB 0009"]), "AB 0009");
        assert_eq!(named(&["AB 0009", "AB 0010"]), "AB 0009, 0010");
        assert_eq!(named(&["AB 0009", "AB 0010", "AB 0011"]), "AB 0009\u{2013}0011");
        assert_eq!(named(&["AB 0009", "AB 0012", "CD-2"]), "AB 0009, 0012, CD-2");
        assert_eq!(named(&["1", "3", "5", "7", "9", "11"]), "1, 3, 5, 7, 9, 11");
        assert_eq!(named(&["heath", "heath"]), "heath, heath");
        assert_eq!(named(&["99999999999999999999", "18446744073709551615"]).len(), 42);
    }
}
