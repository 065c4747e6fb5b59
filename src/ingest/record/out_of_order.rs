//! Reports a date out of order among numbers in order: `3` of 14 October between `2` and `4` of 4 October. Layer: `ingest`.

use crate::error::Error;
use crate::model::Record;

/// Notes on records whose number follows the one above and precedes the one below, which are of one date, and whose own
/// date is another.
pub(super) fn reported(records: &[Record]) -> Vec<Error> {
    records.windows(3).filter_map(|three| of_three(&three[0], &three[1], &three[2])).collect()
}

fn of_three(before: &Record, own: &Record, behind: &Record) -> Option<Error> {
    let numbers = [before, own, behind].map(|record| record.number.as_ref());
    let [Some(first), Some(number), Some(last)] = numbers else { return None };
    let ordinal = number.ordinal()?;
    let in_order = first.ordinal()?.checked_add(1) == Some(ordinal)
        && ordinal.checked_add(1) == last.ordinal()
        && first.series() == number.series()
        && number.series() == last.series();
    let (date, around) = (own.date?, before.date?);
    (in_order && behind.date == Some(around) && date != around).then(|| {
        Error::input(format!("find {number} is dated {date}, between finds of {around}"))
            .because("the numbers before and after it are of one day")
            .hint("check the date")
            .at_line(own.line)
    })
}

#[cfg(test)]
mod tests {
    use super::super::tests::{file, messages};

    #[test]
    fn a_date_between_numbers_of_another_date_is_reported() {
        let notes = |dates: [&str; 4]| {
            let rows: Vec<String> = dates
                .iter()
                .enumerate()
                .map(|(at, date)| format!("{};{date};Mycena", at + 1))
                .collect();
            messages(&file(&format!("number;date;name\n{}\n", rows.join("\n"))).remarks).join("\n")
        };
        let said = notes(["4.10.2025", "4.10.2025", "14.10.2025", "4.10.2025"]);
        assert!(
            said.contains(
                "find 3 is dated 2025-10-14, between finds of 2025-10-04 (notes.csv, line 4)"
            ),
            "{said}"
        );
        assert!(
            !notes(["4.10.2025", "4.10.2025", "14.10.2025", "14.10.2025"])
                .contains("between finds")
        );
    }
}
