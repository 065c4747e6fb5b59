//! Detects numbers that are used again on another day of an import, and numbers missing on one day that are
//! present on another. Layer: `join`.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;

use crate::model::{Find, Outing, Record, RecordNote};

use super::super::day::Scene;

/// A series: its letters and figures in lower case, and who counts in it.
type Series = (String, Option<String>);

/// Numbers by series, with the dates on which they are used.
#[derive(Clone, Debug, Default)]
pub(crate) struct Numbers(BTreeMap<Series, BTreeMap<u64, BTreeSet<Date>>>);

impl Numbers {
    /// The numbers of records, each with the date of its outing where it has none.
    pub(crate) fn of<'a>(
        records: impl Iterator<Item = (&'a Record, Option<&'a str>, Date)>,
    ) -> Self {
        let mut numbers = Self::default();
        for (record, collector, date) in records {
            let Some((series, ordinal)) = key(record, collector) else { continue };
            let date = record.date.unwrap_or(date);
            let used = numbers.0.entry(series).or_default();
            used.entry(ordinal).or_default().insert(date);
        }
        numbers
    }

    /// The numbers of a series between two, whoever counts.
    pub(super) fn within(&self, name: &str, first: u64, last: u64) -> Vec<u64> {
        let bare = bare(name);
        let all = self.0.iter().filter(|((series, _), _)| *series == bare);
        all.flat_map(|(_, used)| used.range(first..=last).map(|(number, _)| *number)).collect()
    }

    /// Numbers of an outing that are used on an earlier day of the import, whose date is known: one report for each day.
    pub(super) fn used_before(&self, scene: &Scene, finds: &[Find]) -> Vec<RecordNote> {
        let mut again: BTreeMap<Date, (BTreeSet<Date>, Vec<String>)> = BTreeMap::new();
        for find in finds {
            let Some((series, ordinal)) = key(&find.record, scene.collector) else { continue };
            let date = find.record.date.unwrap_or(scene.date);
            let used = self.0.get(&series).and_then(|used| used.get(&ordinal));
            let before = used.and_then(|dates| dates.range(..date).next_back());
            let Some(before) = before.filter(|before| **before != Outing::UNDATED) else {
                continue;
            };
            let (dates, numbers) = again.entry(*before).or_default();
            dates.insert(date);
            numbers.extend(find.record.number.as_ref().map(ToString::to_string));
        }
        again
            .into_iter()
            .map(|(before, (dates, numbers))| RecordNote::NumbersUsedBefore {
                numbers,
                dates: dates.into_iter().collect(),
                before,
            })
            .collect()
    }
}

fn key(record: &Record, collector: Option<&str>) -> Option<(Series, u64)> {
    let number = record.number.as_ref()?;
    let who = record.collector.as_deref().or(collector).map(str::to_lowercase);
    Some(((bare(number.series()), who), number.ordinal()?))
}

fn bare(series: &str) -> String {
    series.chars().filter(|c| c.is_alphanumeric()).flat_map(char::to_lowercase).collect()
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::model::RecordNumber;

    fn record(number: &str, day: i8) -> Record {
        Record {
            number: Some(RecordNumber(number.into())),
            date: Some(date(2026, 5, day)),
            ..Record::default()
        }
    }

    #[test]
    fn numbers_of_another_day_are_known() {
        let records = [record("K-1", 2), record("K-3", 2), record("k 2", 3), record("L-2", 3)];
        let all = records.iter().map(|record| (record, Some("Ada"), date(2026, 5, 2)));
        let numbers = Numbers::of(all);
        assert_eq!(numbers.within("K-", 1, 3), [1, 2, 3]);
        assert_eq!(numbers.within("M", 1, 3), Vec::<u64>::new());
    }
}
