//! Resolves dates such as `1/11/2026`. If no other date of the file decides the order of day and month, the
//! order is used that gives days with a track, provided only one does; that of the days of the photographs where these
//! give the other one, or if there is no track. Otherwise the language of the headings counts where it puts the day first, and else the dates remain open;
//! either is reported once. Layer: `join`.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;

use crate::error::Error;
use crate::model::{DateOrder, DateReading, OpenReadingNote, Record};

use super::draft::Draft;
use super::pool::Pool;

/// Dates the records whose date was read in several ways.
pub(super) fn decide(pool: &mut Pool, outings: &[Draft]) {
    // those with a year of two digits, which may stand first, are decided by themselves
    let mut open: BTreeMap<(usize, bool), Vec<usize>> = BTreeMap::new();
    for (place, (file, record)) in pool.records.iter().enumerate() {
        if !record.date_readings.is_empty() {
            open.entry((*file, has(record, DateOrder::YearFirst))).or_default().push(place);
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
    for ((file, _), places) in open {
        let readings = || places.iter().flat_map(|place| &pool.records[*place].1.date_readings);
        let of_photographs = fitting(readings(), |date| photographed.contains(&date));
        let of_days = fitting(readings(), of_a_day);
        // a track of the other order is probably of another day, and must not date the records that it is to fit
        let by_photographs = tracked && orders(&of_photographs).len() == 1;
        let fitting = if by_photographs { of_photographs } else { of_days };
        let tracked = tracked && !by_photographs;
        let fits = orders(&fitting).len();
        let path = pool.files[file].path.clone();
        let mut left = places.clone();
        if let (1, Some(found)) = (fits, fitting.first()) {
            left.retain(|place| !has(&pool.records[*place].1, found.order));
            let changed = dated(pool, &places, found.order);
            if changed > 0 {
                pool.remarks.push(decided(changed, *found, tracked).in_file(path.clone()));
            }
        }
        let by_default = |place: &&usize| pool.records[**place].1.date.is_some();
        let of_language = |place: &&usize| has(&pool.records[**place].1, DateOrder::MonthFirst);
        let read: Vec<usize> =
            left.iter().filter(by_default).filter(of_language).copied().collect();
        let unread: Vec<usize> = left.iter().filter(|own| !by_default(own)).copied().collect();
        if let Some(first) = read.first() {
            let record = &pool.records[*first].1;
            let note = by_language(record, read.len(), fits > 1);
            pool.remarks.extend(note.map(|note| note.in_file(path.clone())));
        }
        if let Some(first) = unread.first() {
            let record = &pool.records[*first].1;
            pool.set_aside.push(undecided(record, unread.len(), fits > 1).in_file(path));
        }
    }
}

/// The readings that give such a day.
fn fitting<'a>(
    readings: impl Iterator<Item = &'a DateReading>,
    is_day: impl Fn(Date) -> bool,
) -> Vec<DateReading> {
    readings.filter(|own| is_day(own.date)).copied().collect()
}

fn orders(fitting: &[DateReading]) -> BTreeSet<DateOrder> {
    fitting.iter().map(|own| own.order).collect()
}

fn has(record: &Record, order: DateOrder) -> bool {
    reading(record, order).is_some()
}

fn reading(record: &Record, order: DateOrder) -> Option<Date> {
    record.date_readings.iter().find(|own| own.order == order).map(|own| own.date)
}

/// Dates records in one order; counts those to which it says more than the column.
fn dated(pool: &mut Pool, places: &[usize], order: DateOrder) -> usize {
    let mut changed = 0;
    for &place in places {
        let record = &mut pool.records[place].1;
        let Some(date) = reading(record, order) else { continue };
        let was_open = has(record, DateOrder::MonthFirst) || record.date != Some(date);
        changed += usize::from(was_open);
        record.date = Some(date);
    }
    changed
}

fn decided(dates: usize, found: DateReading, tracked: bool) -> Error {
    OpenReadingNote::DateOrder {
        dates,
        day_first: found.order == DateOrder::DayFirst,
        year_first: found.order == DateOrder::YearFirst,
        date: found.date,
        tracked,
    }
    .into()
}

fn by_language(record: &Record, dates: usize, both: bool) -> Option<Error> {
    let date = record.date?;
    let note = Error::from(OpenReadingNote::LanguageDateOrder { dates, date, both });
    Some(note.at_line(record.line).in_sheet(record.sheet_name()))
}

fn undecided(record: &Record, rows: usize, both: bool) -> Error {
    let note = OpenReadingNote::DateOrderOpen {
        written: record.other(Record::UNREAD_DATE).unwrap_or_default().to_owned(),
        rows,
        day_first: reading(record, DateOrder::DayFirst),
        month_first: reading(record, DateOrder::MonthFirst),
        year_first: reading(record, DateOrder::YearFirst),
        both,
    };
    Error::from(note).at_line(record.line).in_sheet(record.sheet_name())
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::model::{Camera, FileKind, Intake, Photo, PhotoGps, RecordFile, SourceFile};

    fn open(readings: [Date; 2], by_language: bool, days: &[Date]) -> (Option<Date>, Pool) {
        let orders = [DateOrder::DayFirst, DateOrder::MonthFirst];
        of_orders(orders, readings, by_language, days)
    }

    fn photo(date: Date) -> Photo {
        let path = std::path::PathBuf::from(format!("d/{date}.jpg"));
        Photo {
            source: SourceFile { path, kind: FileKind::Photo, bytes: 1, hash: date.to_string() },
            camera: Camera::default(),
            taken: Some(date.at(12, 0, 0, 0)),
            offset: None,
            gps: PhotoGps::default(),
            remarks: Vec::new(),
            damaged: false,
        }
    }

    fn of_orders(
        orders: [DateOrder; 2],
        readings: [Date; 2],
        by_language: bool,
        days: &[Date],
    ) -> (Option<Date>, Pool) {
        with_photographs(orders, readings, by_language, (&[], days))
    }

    fn of_photographed(
        orders: [DateOrder; 2],
        readings: [Date; 2],
        taken: &[Date],
        days: &[Date],
    ) -> Option<Date> {
        with_photographs(orders, readings, false, (taken, days)).0
    }

    fn with_photographs(
        orders: [DateOrder; 2],
        readings: [Date; 2],
        by_language: bool,
        (taken, days): (&[Date], &[Date]),
    ) -> (Option<Date>, Pool) {
        let path = std::path::PathBuf::from("d/notes.csv");
        let source = SourceFile { path, kind: FileKind::Records, bytes: 1, hash: "n".into() };
        let date = by_language.then_some(readings[0]);
        let date_readings: Vec<DateReading> = orders
            .into_iter()
            .zip(readings)
            .map(|(order, date)| DateReading { order, date })
            .collect();
        let record = Record { date, date_readings, line: 2, ..Record::default() };
        let records = RecordFile {
            source,
            records: vec![record.clone(), record],
            set_aside: Vec::new(),
            remarks: Vec::new(),
        };
        let photos = taken.iter().map(|date| photo(*date)).collect();
        let mut pool = Pool::of(Intake { records: vec![records], photos, ..Intake::default() });
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
            let (read, pool) = open(readings, false, &days);
            assert_eq!(read, expected, "{days:?}");
            let reported = (pool.remarks.len(), pool.set_aside.len());
            assert_eq!(reported, if expected.is_some() { (1, 0) } else { (0, 1) }, "{days:?}");
            // the language of the headings counts where no track decides
            let (read, pool) = open(readings, true, &days);
            assert_eq!(read, Some(expected.unwrap_or(readings[0])), "{days:?}");
            assert_eq!((pool.remarks.len(), pool.set_aside.len()), (1, 0), "{days:?}");
        }
    }

    #[test]
    fn photographs_of_one_reading_outweigh_a_track_of_the_other() {
        let readings = [date(2026, 5, 4), date(2026, 4, 5)];
        let orders = [DateOrder::DayFirst, DateOrder::MonthFirst];
        let of = |taken: &[Date]| of_photographed(orders, readings, taken, &[readings[1]]);
        assert_eq!(of(&[]), Some(readings[1]));
        assert_eq!(of(&[readings[1]]), Some(readings[1]));
        assert_eq!(of(&[readings[0]]), Some(readings[0]));
        // photographs of both days tell nothing
        assert_eq!(of(&readings), Some(readings[1]));
    }

    #[test]
    fn the_day_of_the_track_decides_whether_a_year_of_two_digits_stands_first() {
        let readings = [date(2001, 11, 26), date(2026, 11, 1)];
        let orders = [DateOrder::DayFirst, DateOrder::YearFirst];
        let (read, pool) = of_orders(orders, readings, false, &[readings[1]]);
        assert_eq!((read, pool.remarks.len(), pool.set_aside.len()), (Some(readings[1]), 1, 0));
        let (read, pool) = of_orders(orders, readings, false, &[date(2026, 5, 5)]);
        assert_eq!((read, pool.remarks.len(), pool.set_aside.len()), (None, 0, 1));
        let said = pool.set_aside[0].to_string();
        assert!(
            said.contains("2001-11-26 with the day first and 2026-11-01 with the year first"),
            "{said}"
        );
        // the usual order counts without a note where the track says nothing else
        for (days, expected) in [(readings[0], readings[0]), (date(2026, 5, 5), readings[0])] {
            let (read, pool) = of_orders(orders, readings, true, &[days]);
            assert_eq!((read, pool.remarks.len(), pool.set_aside.len()), (Some(expected), 0, 0));
        }
        let (read, pool) = of_orders(orders, readings, true, &[readings[1]]);
        assert_eq!((read, pool.remarks.len()), (Some(readings[1]), 1));
    }
}
