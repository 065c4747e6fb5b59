//! Reads a day that is an argument of a command: `2026-10-02`, or `2.10.2026` and `2 Oct 2026`, which mean one day only.
//! Layer: `commands`.

use jiff::civil::Date;

use crate::ingest::record::listing;

/// The day, or why it is none.
pub(super) fn read(text: &str) -> Result<Date, String> {
    if let Ok(date) = text.parse() {
        return Ok(date);
    }
    match listing::days(text)[..] {
        [date] => Ok(date),
        [] => Err("it is not a date; write it like 2026-10-02 or 2.10.2026".to_owned()),
        [first, ref others @ ..] => {
            let others: Vec<String> = others.iter().map(Date::to_string).collect();
            Err(format!("it may be {first} or {}; write it like {first}", others.join(" or ")))
        }
    }
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::read;

    #[test]
    fn a_day_is_read_where_it_means_one_day_only() {
        for text in ["2026-10-02", "2.10.2026", "02.10.2026", "2 Oct 2026", "2. Oktober 2026"] {
            assert_eq!(read(text), Ok(date(2026, 10, 2)), "{text}");
        }
        for (text, said) in [
            ("2/10/2026", "2026-10-02 or 2026-02-10"),
            ("26-11-01", "2001-11-26 or 2026-11-01"),
            ("yesterday", "like 2026-10-02"),
            ("31.2.2026", "not a date"),
        ] {
            assert!(read(text).unwrap_err().contains(said), "{text}");
        }
    }
}
