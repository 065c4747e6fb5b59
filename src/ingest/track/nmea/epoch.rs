//! Puts the sentences of one instant together to one fix. Layer: `ingest`.

use std::path::Path;

use jiff::civil::Date;

use super::super::collected::Collected;
use super::super::fault::{Fault, Tally};
use super::super::room::Room;
use super::dates::{Dates, instant};
use super::sentence::{Candidate, Stated, Unusable, parse};
use crate::model::{FileKind, Fix, TrackFile};
use crate::units::{GpsHeight, Metres};

/// A log being read.
#[derive(Debug, Default)]
pub(super) struct Log {
    tally: Tally,
    fixes: Vec<Fix>,
    dates: Dates,
    epoch: Option<Epoch>,
    /// Whether any sentence had a checksum.
    checked: bool,
    /// The first sentence without a fix.
    no_fix: Option<(String, u64, u64)>,
    room: Room,
    /// Bytes of all sentences so far.
    read: u64,
}

/// The sentences of one time of day.
#[derive(Debug)]
struct Epoch {
    clock: i64,
    date: Option<Date>,
    fix: Option<Fix>,
    /// Whether a sentence says that the position is not measured.
    refused: bool,
    /// Whether its position combines all constellations.
    combined: bool,
}

impl Log {
    pub(super) fn new() -> Self {
        Self::default()
    }

    /// A sentence on this line.
    pub(super) fn take(&mut self, candidate: &Candidate, line: u64) {
        let (Candidate::Sound { text, .. } | Candidate::Damaged { text, .. }) = candidate;
        self.read += text.len() as u64;
        let text = match candidate {
            Candidate::Damaged { text, .. } => {
                return self.tally.add(Fault::ChecksumWrong, text, || line);
            }
            Candidate::Sound { known: false, .. } => return,
            Candidate::Sound { text, checked: false, .. } => {
                if self.checked {
                    // in a log with checksums the end of this one is lost
                    return self
                        .damaged(text.rsplit_once('*').map_or(text, |(body, _)| body), line);
                }
                self.tally.add(Fault::ChecksumMissing, text, || line);
                text
            }
            Candidate::Sound { text, .. } => {
                self.checked = true;
                text
            }
        };
        match parse(text) {
            Ok(stated) => self.state(&stated, text, line),
            Err(Unusable::Damaged) => self.damaged(text, line),
            Err(Unusable::OffTheGlobe) => self.tally.add(Fault::OffTheGlobe, text, || line),
        }
    }

    fn damaged(&mut self, text: &str, line: u64) {
        self.tally.add(Fault::SentenceDamaged, text, || line);
    }

    fn state(&mut self, stated: &Stated, text: &str, line: u64) {
        if stated.no_fix {
            let first = self.no_fix.get_or_insert_with(|| (text.to_owned(), line, 0));
            first.2 += 1;
        }
        let Some(clock) = stated.clock else { return };
        if self.epoch.as_ref().is_none_or(|epoch| epoch.clock != clock) {
            self.close();
            let (date, fix) = (None, None);
            self.epoch = Some(Epoch { clock, date, fix, refused: false, combined: false });
        }
        if let Some(epoch) = &mut self.epoch {
            epoch.add(stated, line);
        }
    }

    /// Ends the open instant.
    fn close(&mut self) {
        let Some(epoch) = self.epoch.take() else { return };
        if let Some(date) = epoch.date {
            self.dates.state(date, epoch.clock, &mut self.fixes);
        }
        let Some(mut fix) = epoch.fix.filter(|_| !epoch.refused) else { return };
        if !self.room.takes_point(self.read) {
            return self.tally.add(Fault::NoRoom, "a position", || u64::from(fix.line));
        }
        fix.time = match epoch.date {
            Some(date) => instant(date, epoch.clock),
            None => self.dates.follow(epoch.clock),
        };
        if fix.time.is_none() {
            self.dates.wait(self.fixes.len(), epoch.clock);
        }
        self.fixes.push(fix);
    }

    /// The end of the log.
    pub(super) fn finish(mut self, path: &Path, source: (String, u64)) -> TrackFile {
        self.close();
        if let Some((count, place, clock)) = self.dates.undated() {
            let line = self.fixes.get(place).map_or(0, |fix| u64::from(fix.line));
            let seconds = clock / 1_000_000_000;
            let (hours, minutes) = (seconds / 3600, seconds / 60 % 60);
            let shown = format!("{hours:02}:{minutes:02}:{:02}", seconds % 60);
            self.tally.add_many(Fault::DateUnknown, count, &shown, || line);
        }
        if let Some((text, line, count)) = self.no_fix.filter(|_| self.fixes.is_empty()) {
            self.tally.add_many(Fault::NoFix, count, &text, || line);
        }
        self.fixes.shrink_to_fit();
        let mut collected = Collected::default();
        collected.track(self.fixes);
        collected.into_file(path, FileKind::Nmea, source, self.tally)
    }
}

impl Epoch {
    fn add(&mut self, stated: &Stated, line: u64) {
        self.refused |= stated.no_fix && stated.decides;
        self.date = self.date.or(stated.date);
        let Some(at) = stated.at else { return };
        let line = u32::try_from(line).unwrap_or(u32::MAX);
        let fix = self.fix.get_or_insert_with(|| Fix { line, ..Fix::bare(at, None) });
        if stated.combined && !self.combined {
            fix.at = at;
            self.combined = true;
        }
        let height = stated.height.map(|height| GpsHeight(Metres(f64::from(height))));
        fix.height = fix.height.or(height);
        fix.hdop = fix.hdop.or(stated.hdop);
        fix.satellites = fix.satellites.or(stated.satellites);
        fix.kind = fix.kind.or(stated.kind);
    }
}
