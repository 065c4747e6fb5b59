//! Notes records that are dated in the future: a slip of the pen that moves a find to another season. Layer:
//! `join`.

use jiff::civil::Date;

use crate::error::Error;
use crate::model::{Day, Find, RecordNote};

/// Adds a note to each outing with records later than `today`, the latest date that it is anywhere.
pub fn note_future_dates(days: &mut [Day], today: Date) {
    for day in days {
        let dated = |find: &&Find| find.record.date.is_some_and(|date| date > today);
        let late: Vec<&Find> = day.finds.iter().filter(dated).collect();
        let Some(first) = late.first() else { continue };
        let Some(date) = first.record.date else { continue };
        let note = Error::from(RecordNote::DatedInFuture { records: late.len(), date, today })
            .in_sheet(first.record.sheet_name())
            .at_line(first.record.line);
        let source = day.sources.get(first.source);
        day.remarks.push(match source {
            Some(source) => note.in_file(&source.path),
            None => note,
        });
    }
}
