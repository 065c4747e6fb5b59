//! Takes apart what people write of collector and determiner: `leg. A. Heron, det. B. Finch 2026`.
//! Layer: `ingest`.

use super::date;

/// Collector, determiner and date of determination in one text.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct People {
    pub(super) collector: Option<String>,
    pub(super) determiner: Option<String>,
    pub(super) determined: Option<String>,
}

/// The people in a cell of a collector.
pub(super) fn of_collector(cell: &str) -> People {
    let (leg, det) = (after(cell, "leg"), after(cell, "det"));
    match (leg, det) {
        (Some((_, name)), None) => People { collector: Some(name.to_owned()), ..People::default() },
        (Some((first, _)), Some((second, name))) if first < second => {
            // "leg. & det. A. Heron" or "leg. A. Heron, det. B. Finch"
            let between = cell[first..second].trim_start_matches(|c: char| c.is_alphabetic());
            let between = between.trim_matches([' ', '.', ',', ';', '/', '&', '+', ':']);
            let between = ["et", "and", "und", "e", "y"]
                .iter()
                .fold(between, |text, word| if text == *word { "" } else { text });
            let (determiner, determined) = dated(name);
            let collector =
                if between.is_empty() { determiner.clone() } else { between.to_owned() };
            People { collector: Some(collector), determiner: Some(determiner), determined }
        }
        _ => People { collector: Some(cell.to_owned()), ..People::default() },
    }
}

/// The person in a cell of a determiner, and the date behind the name.
pub(super) fn of_determiner(cell: &str) -> (String, Option<String>) {
    dated(after(cell, "det").filter(|(place, _)| *place == 0).map_or(cell, |(_, name)| name))
}

/// Where a word such as `leg.` stands, and what stands behind it.
fn after<'c>(cell: &'c str, word: &str) -> Option<(usize, &'c str)> {
    let lower = cell.to_ascii_lowercase();
    let mut places = lower.match_indices(word).map(|(place, _)| place);
    places.find_map(|place| {
        let begins = !cell[..place].ends_with(char::is_alphanumeric);
        let rest = cell[place + word.len()..].strip_prefix(['.', ':'])?;
        begins.then(|| (place, rest.trim_start_matches(['.', ':', ' '])))
    })
}

/// A name without the year or date behind it.
fn dated(name: &str) -> (String, Option<String>) {
    let whole = (name.trim().to_owned(), None);
    let Some(digit) = name.find(|c: char| c.is_ascii_digit()) else { return whole };
    let (before, behind) = name.split_at(digit);
    let behind = behind.trim().trim_end_matches([')', ']', '.']);
    let before = before.trim_end_matches([' ', ',', '(', '[', ';', '-', ':']);
    let year = behind.len() == 4 && matches!(behind.parse(), Ok(1750..=2200));
    let day = || date::read(behind).is_some_and(|cell| cell.rest.is_empty());
    if before.is_empty() || !(year || day()) {
        return whole;
    }
    (before.to_owned(), Some(behind.to_owned()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn taken_apart(cell: &str) -> [Option<String>; 3] {
        let People { collector, determiner, determined } = of_collector(cell);
        [collector, determiner, determined]
    }

    #[test]
    fn collector_and_determiner_in_one_cell() {
        let some = |text: &str| Some(text.to_owned());
        for (cell, expected) in [
            ("A. Heron", [some("A. Heron"), None, None]),
            ("leg. A. Heron", [some("A. Heron"), None, None]),
            (
                "leg. A. Heron, det. B. Finch 2026",
                [some("A. Heron"), some("B. Finch"), some("2026")],
            ),
            ("leg. & det. A. Heron", [some("A. Heron"), some("A. Heron"), None]),
            ("Leg./Det. A. Heron", [some("A. Heron"), some("A. Heron"), None]),
            ("Colleger", [some("Colleger"), None, None]),
            ("det. B. Finch", [some("det. B. Finch"), None, None]),
        ] {
            assert_eq!(taken_apart(cell), expected, "{cell}");
        }
    }

    #[test]
    fn the_date_behind_a_determiner() {
        let read = |cell: &str| {
            let (name, date) = of_determiner(cell);
            format!("{name}|{}", date.unwrap_or_default())
        };
        assert_eq!(read("det. B. Finch (2026)"), "B. Finch|2026");
        assert_eq!(read("B. Finch, 3 May 2026"), "B. Finch|3 May 2026");
        assert_eq!(read("B. Finch 2"), "B. Finch 2|");
        assert_eq!(read("2026"), "2026|");
    }
}
