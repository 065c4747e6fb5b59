//! Decides which occurrence of a local time is meant in the hour that a change of clocks repeats: records are mostly
//! written in the order of time, by line or by number, so that a time earlier than the one before it is of the second
//! occurrence. What this leaves open stays open. Layer: `join`.

use std::collections::BTreeMap;

use crate::units::Timestamp;

use super::outings::Filed;
use super::written::{self, Occurrence, Read};

/// Notes of one stop may be out of order by so much, seconds (common practice).
const SLACK: f64 = 120.0;
/// More times of that hour than this are not compared.
const MOST: usize = 120;

/// A written time: its occurrences, of which the second is absent where it is clear.
#[derive(Clone, Copy, Debug)]
struct Timed {
    record: usize,
    ordinal: Option<u64>,
    first: f64,
    second: Option<f64>,
}

/// Decides for each record; `read` gives the instant of a record's time if a given occurrence is meant.
pub(super) fn decide(
    records: &[Filed],
    read: impl Fn(&Filed, Occurrence) -> Option<Read>,
) -> Vec<Occurrence> {
    let mut decided = vec![Occurrence::Clear; records.len()];
    let mut books: BTreeMap<(usize, Option<&str>), Vec<Timed>> = BTreeMap::new();
    for (record, filed) in records.iter().enumerate() {
        let Some(open) = read(filed, Occurrence::Open) else { continue };
        let seconds = |instant: Timestamp| instant.as_duration().as_secs_f64();
        let book = books.entry((filed.source, filed.record.collector.as_deref())).or_default();
        book.push(Timed {
            record,
            ordinal: filed.record.number.as_ref().and_then(crate::model::RecordNumber::ordinal),
            first: seconds(open.instant),
            second: open.other.map(seconds),
        });
    }
    for book in books.into_values().filter(|book| book.iter().any(|t| t.second.is_some())) {
        for (timed, occurrence) in book.iter().zip(of_book(&book)) {
            decided[timed.record] = occurrence;
        }
    }
    decided
}

/// By the order of lines and by that of numbers; open where these contradict each other.
fn of_book(book: &[Timed]) -> Vec<Occurrence> {
    let lines: Vec<usize> = (0..book.len()).collect();
    let mut numbers = lines.clone();
    let numbered = book.iter().all(|timed| timed.ordinal.is_some());
    numbers.sort_by_key(|&k| book[k].ordinal);
    let orders = [Some(lines), numbered.then_some(numbers)].into_iter().flatten();
    let mut found = orders.filter_map(|order| in_order(book, &order));
    let open = |timed: &Timed| match timed.second {
        Some(_) => Occurrence::Open,
        None => Occurrence::Clear,
    };
    let Some(first) = found.next() else { return book.iter().map(open).collect() };
    let other = found.next().unwrap_or_else(|| first.clone());
    let both = first.into_iter().zip(other);
    both.map(|(a, b)| if a == b { a } else { Occurrence::Open }).collect()
}

/// What all ways have in common to read the times of that hour as running forward in this order: the first occurrence
/// up to one of them, the second from there on. `None` where they run forward in no way.
fn in_order(book: &[Timed], order: &[usize]) -> Option<Vec<Occurrence>> {
    let repeated: Vec<usize> =
        order.iter().copied().filter(|&k| book[k].second.is_some()).collect();
    if repeated.len() > MOST {
        return None;
    }
    let forward = |from: &usize| {
        let mut latest = f64::NEG_INFINITY;
        let mut passed = 0;
        order.iter().all(|&k| {
            let time = match book[k].second {
                Some(second) => {
                    passed += 1;
                    if passed > *from { second } else { book[k].first }
                }
                None => book[k].first,
            };
            let follows = time >= latest - SLACK;
            latest = latest.max(time);
            follows
        })
    };
    let ways: Vec<usize> = (0..=repeated.len()).filter(forward).collect();
    let (fewest, most) = (*ways.first()?, *ways.last()?);
    let mut decided = vec![Occurrence::Clear; book.len()];
    for (place, &k) in repeated.iter().enumerate() {
        decided[k] = if place < fewest {
            Occurrence::First
        } else if place >= most {
            Occurrence::Second
        } else {
            Occurrence::Open
        };
    }
    Some(decided)
}

/// Notes in [`Filed::occurrence`] which occurrence each time is of.
pub(super) fn note(
    records: &mut [Filed],
    date: jiff::civil::Date,
    zone: &crate::units::TimeZone,
    span: Option<(Timestamp, Timestamp)>,
) {
    let read = |filed: &Filed, occurrence| {
        written::instant_of((&filed.record, occurrence), date, zone, span)
    };
    let decided = decide(records, read);
    for (filed, occurrence) in records.iter_mut().zip(decided) {
        filed.occurrence = occurrence;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use Occurrence::{Clear, First, Open, Second};

    /// Minutes after midnight on a night whose third hour comes twice.
    fn book(minutes: &[u32], ordinals: Option<&[u64]>) -> Vec<Timed> {
        let timed = |(record, &minute): (usize, &u32)| {
            let first = 60.0 * f64::from(minute);
            let twice = (120..180).contains(&minute);
            let later = if minute >= 180 { 3_600.0 } else { 0.0 };
            let ordinal = ordinals.map(|ordinals| ordinals[record]);
            let second = twice.then_some(first + 3_600.0);
            Timed { record, ordinal, first: first + later, second }
        };
        minutes.iter().enumerate().map(timed).collect()
    }

    #[test]
    fn a_time_before_the_one_above_it_is_of_the_second_occurrence() {
        let of = |minutes: &[u32]| of_book(&book(minutes, None));
        assert_eq!(
            of(&[110, 130, 160, 125, 150, 190]),
            [Clear, First, First, Second, Second, Clear]
        );
        // nothing shows when the hour began again
        assert_eq!(of(&[110, 130, 160, 190]), [Clear, Open, Open, Clear]);
        assert_eq!(of(&[130, 160, 159]), [Open; 3]);
        // a list by another order
        assert_eq!(of(&[190, 130, 110, 160, 125]), [Clear, Open, Clear, Open, Open]);
    }

    #[test]
    fn numbers_show_the_order_of_a_list_that_is_sorted_otherwise() {
        let minutes = [190, 130, 110, 125, 160];
        let of = |ordinals: &[u64]| of_book(&book(&minutes, Some(ordinals)));
        assert_eq!(of(&[5, 2, 1, 4, 3]), [Clear, First, Clear, Second, First]);
        assert_eq!(of(&[1, 2, 3, 4, 5]), [Clear, Open, Clear, Open, Open]);
        // lines and numbers that run forward, each in another way
        let both = of_book(&book(&[130, 160, 125], Some(&[3, 1, 2])));
        assert_eq!(both, [Open, First, Second]);
    }
}
