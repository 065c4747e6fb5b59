//! Joins messages of one cause, which many rows or finds can have, to one message. Layer: `error`.

use std::collections::HashMap;

use super::Error;

/// The most messages of one cause that are reported individually.
const FEW: usize = 3;
/// The rows that a message names beside its own.
const NAMED: usize = 5;

/// The messages in their order; more than a few that differ only in quoted texts, numbers and lines are one,
/// which stands where the first stood. `row` is the word for a line.
///
/// A column with the wrong unit would otherwise give a thousand messages, among which the one of another kind is
/// missed.
pub(crate) fn merged(messages: Vec<Error>, row: &str) -> Vec<Error> {
    let mut groups: HashMap<String, Vec<usize>> = HashMap::new();
    for (place, message) in messages.iter().enumerate() {
        if message.where_line().is_some() {
            groups.entry(cause(message)).or_default().push(place);
        }
    }
    let lines: Vec<Option<u64>> = messages.iter().map(Error::where_line).collect();
    // the places that the first of a group stands for, by its own
    let mut others: HashMap<usize, Vec<u64>> = HashMap::new();
    let mut dropped = vec![false; messages.len()];
    for places in groups.into_values().filter(|places| places.len() > FEW) {
        for &place in &places[1..] {
            dropped[place] = true;
        }
        let rows = places[1..].iter().filter_map(|place| lines[*place]).collect();
        others.insert(places[0], rows);
    }
    let kept = messages.into_iter().enumerate().filter(|(place, _)| !dropped[*place]);
    kept.map(|(place, message)| match others.get(&place) {
        Some(rows) => with_others(message, rows, row),
        None => message,
    })
    .collect()
}

/// What messages of one cause have in common.
fn cause(message: &Error) -> String {
    let mut text = String::new();
    for part in [Some(message.what()), message.why(), message.advice()] {
        let part = part.unwrap_or_default();
        // every second piece stands between quotation marks
        for piece in part.split('"').step_by(2) {
            text.extend(piece.chars().filter(|c| !c.is_ascii_digit()));
            text.push('"');
        }
        text.push('\n');
    }
    text
}

fn with_others(first: Error, others: &[u64], row: &str) -> Error {
    let named: Vec<String> = others.iter().take(NAMED).map(u64::to_string).collect();
    let named = named.join(", ");
    let more = if others.len() > NAMED { ", \u{2026}" } else { "" };
    let why = first.why().map_or(String::new(), |why| format!("{why}; "));
    let count = others.len();
    first.because(format!("{why}the same in {count} other {row}s: {named}{more}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_messages_of_one_cause_are_one() {
        let message = |line: u64| {
            Error::input(format!("the place \"no {line}\" is far"))
                .because(format!("{line} km"))
                .at_line(line)
        };
        let texts = |count: u64| -> Vec<String> {
            let other = Error::input("other").at_line(1);
            let all = (2..2 + count).map(message).chain([other]).collect();
            merged(all, "row").iter().map(ToString::to_string).collect()
        };
        assert_eq!(texts(3).len(), 4);
        let many = texts(9);
        assert_eq!(many.len(), 2, "{many:?}");
        assert!(many[0].contains("the place \"no 2\" is far"), "{}", many[0]);
        assert!(
            many[0].contains("2 km; the same in 8 other rows: 3, 4, 5, 6, 7, \u{2026}"),
            "{}",
            many[0]
        );
    }

    #[test]
    fn different_causes_stay_apart() {
        let all: Vec<Error> = ["a", "b", "c", "d", "e"]
            .iter()
            .map(|word| Error::input(format!("{word} is missing")).at_line(1))
            .collect();
        assert_eq!(merged(all, "line").len(), 5);
    }
}
