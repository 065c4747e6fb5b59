//! Resolves dates such as `1/11/2026`. If no other date of the file decides the order of day and month, the
//! order is used that gives days with a track, provided only one does; or days with photographs if there is
//! no track. Otherwise the language of the headings counts where it puts the day first, and else the dates remain open;
//! either is reported once. Layer: `join`.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;

use crate::error::Error;
use crate::model::{OpenReadingNote, Record};

use super::draft::Draft;
use super::pool::Pool;

/// Dates the records whose date was read in two ways.
pub(super) fn decide(pool: &mut Pool, outings: &[Draft]) {
    let mut open: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (place, (file, record)) in pool.records.iter().enumerate() {
        if record.date_readings.is_some() {
            open.entry(*file).or_default().push(place);
        }
    }
    if open.is_empty() {
        return;
    }
    let photographed: BTreeSet<Date> =
        pool.photos.iter().filter_map(|photo| Some(photo.taken?.date())).collect();
    let tracked = outings.iter().any(|outing| outing.span.is_some());
    let of_a_day = |date: Date| {
        if tracked {
            outings.iter().any(|outing| outing.span.is_some() && outing.covers(date))
        } else {
            photographed.contains(&date)
        }
    };
    for (file, places) in open {
        // the day first, the month first: the order of the readings of a record
        let fitting: Vec<(usize, Date)> = [0, 1]
            .into_iter()
            .flat_map(|order| places.iter().map(move |&place| (place, order)))
            .filter_map(|(place, order)| Some((order, pool.records[place].1.date_readings?[order])))
            .filter(|(_, date)| of_a_day(*date))
            .collect();
        let orders: BTreeSet<usize> = fitting.iter().map(|(order, _)| *order).collect();
        let path = pool.files[file].path.clone();
        match (orders.len(), fitting.first()) {
            (1, Some(&(order, date))) => {
                for &place in &places {
                    let record = &mut pool.records[place].1;
                    record.date = record.date_readings.map(|readings| readings[order]);
                }
                pool.remarks.push(decided(places.len(), order, date, tracked).in_file(path));
            }
            (fits, _) if pool.records[places[0]].1.date.is_some() => {
                let record = &pool.records[places[0]].1;
                pool.remarks.extend(
                    by_language(record, places.len(), fits > 1).map(|note| note.in_file(path)),
                );
            }
            (fits, _) => {
                let record = &pool.records[places[0]].1;
                pool.set_aside.push(undecided(record, places.len(), fits > 1).in_file(path));
            }
        }
    }
}

fn decided(dates: usize, order: usize, date: Date, tracked: bool) -> Error {
    OpenReadingNote::DateOrder { dates, day_first: order == 0, date, tracked }.into()
}

fn by_language(record: &Record, dates: usize, both: bool) -> Option<Error> {
    let date = record.date?;
    let note = Error::from(OpenReadingNote::LanguageDateOrder { dates, date, both });
    Some(note.at_line(record.line).in_sheet(record.sheet_name()))
}

fn undecided(record: &Record, rows: usize, both: bool) -> Error {
    let written = record.other(Record::UNREAD_DATE).unwrap_or_default().to_owned();
    let [day_first, month_first] = record.date_readings.unwrap_or_default();
    let note = OpenReadingNote::DateOrderOpen { written, rows, day_first, month_first, both };
    Error::from(note).at_line(record.line).in_sheet(record.sheet_name())
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::model::{FileKind, Intake, RecordFile, SourceFile};

    fn dated(readings: [Date; 2], by_language: bool, days: &[Date]) -> (Option<Date>, Pool) {
        let path = std::path::PathBuf::from("d/notes.csv");
        let source = SourceFile { path, kind: FileKind::Records, bytes: 1, hash: "n".into() };
        let date = by_language.then_some(readings[0]);
        let record = Record { date, date_readings: Some(readings), line: 2, ..Record::default() };
        let records = RecordFile {
            source,
            records: vec![record.clone(), record],
            set_aside: Vec::new(),
            remarks: Vec::new(),
        };
        let mut pool = Pool::of(Intake { records: vec![records], ..Intake::default() });
        let outing = |day: &Date| {
            let noon = crate::units::ClockOffset::as_if_utc(day.at(12, 0, 0, 0));
            let span = super::super::piece::Span { start: noon, end: noon };
            Draft { span: Some(span), ..Draft::default() }
        };
        let outings: Vec<Draft> = days.iter().map(outing).collect();
        decide(&mut pool, &outings);
        (pool.records[0].1.date, pool)
    }

    #[test]
    fn the_day_of_the_track_decides_where_one_order_fits() {
        let readings = [date(2026, 11, 1), date(2026, 1, 11)];
        for (days, expected) in [
            (vec![date(2026, 11, 1)], Some(date(2026, 11, 1))),
            (vec![date(2026, 1, 11), date(2026, 3, 3)], Some(date(2026, 1, 11))),
            (vec![date(2026, 11, 1), date(2026, 1, 11)], None),
            (vec![date(2026, 5, 5)], None),
            (Vec::new(), None),
        ] {
            let (read, pool) = dated(readings, false, &days);
            assert_eq!(read, expected, "{days:?}");
            let reported = (pool.remarks.len(), pool.set_aside.len());
            assert_eq!(reported, if expected.is_some() { (1, 0) } else { (0, 1) }, "{days:?}");
            // the language of the headings counts where no track decides
            let (read, pool) = dated(readings, true, &days);
            assert_eq!(read, Some(expected.unwrap_or(readings[0])), "{days:?}");
            assert_eq!((pool.remarks.len(), pool.set_aside.len()), (1, 0), "{days:?}");
        }
    }
}
