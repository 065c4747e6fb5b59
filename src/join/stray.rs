//! Sets aside fixes whose times lie apart from all others of their file: a single date of 1970, of last
//! year or of yesterday, or a few fixes at start-up with a clock's default date. This precedes the grouping
//! into outings, so that one wrong time cannot date an outing. Layer: `join`.

use std::ops::RangeInclusive;

use jiff::civil::Date;

use crate::error::Error;
use crate::model::{SourceFile, TrackTimesNote, UnusedTimes};
use crate::units::{Seconds, TimeZone, Timestamp};

use super::outings::{PAUSE, Piece};

/// Hand-held satellite receivers came on the market in 1989 (from memory); an earlier time is the
/// start of a count.
const FIRST_YEAR: i16 = 1989;
/// Dates to which clocks fall back that lie later than that: the start of the second run of GPS weeks
/// (IS-GPS-200) and of the century, each a day either way.
const FALLBACKS: [Date; 2] = [jiff::civil::date(1999, 8, 22), jiff::civil::date(2000, 1, 1)];
/// Fewer fixes far off in time, if they last less than [`BRIEF`], are no walk.
const FEW: usize = 10;
/// Seconds.
const BRIEF: f64 = 900.0;
/// And they are at most one in so many of the fixes that they are compared with.
const SHARE: usize = 4;
/// Lone fixes within so many seconds of each other are of one day, however sparse.
const ONE_DAY: f64 = 86_400.0;

/// The pieces of all files after setting strays aside.
pub(super) struct Parted {
    /// Pieces with usable times.
    pub(super) pieces: Vec<Piece>,
    /// The fixes set aside, one piece for each run that held some.
    pub(super) strays: Vec<Piece>,
    pub(super) notes: Vec<Error>,
}

/// Fixes of one file that follow each other in time.
struct Cluster {
    start: Timestamp,
    end: Timestamp,
    count: usize,
}

impl Cluster {
    fn lasts(&self) -> f64 {
        Seconds::between(self.start, self.end).0
    }

    fn is_impossible(&self) -> bool {
        utc_date(self.end).year() < FIRST_YEAR
    }

    fn is_fallback(&self) -> bool {
        let near = |date: &Date| {
            let days = |time| date.until(utc_date(time)).map_or(i32::MAX, |span| span.get_days());
            days(self.start).abs() <= 1 && days(self.end).abs() <= 1
        };
        FALLBACKS.iter().any(near)
    }

    /// Whether these fixes are too few and too brief to be a walk beside this many others.
    fn is_stray(&self, main: usize) -> bool {
        let few = self.count * SHARE <= main;
        let brief = self.count < FEW && self.lasts() < BRIEF;
        self.is_impossible() || self.count == 1 || (few && (brief || self.is_fallback()))
    }

    fn holds(&self, time: Timestamp) -> bool {
        (self.start..=self.end).contains(&time)
    }
}

/// The validity of the times of a file.
enum Worth {
    /// All of them are plausible.
    All,
    /// All but those of these clusters.
    AllBut(Vec<Cluster>),
    /// None, for this reason.
    Nothing(UnusedTimes),
}

/// Sets strays aside, file by file; a file none of whose times can be used becomes one without times.
pub(super) fn set_aside(mut pieces: Vec<Piece>, files: &[SourceFile]) -> Parted {
    let (mut strays, mut notes) = (Vec::new(), Vec::new());
    // the pieces of a file follow each other
    for own in pieces.chunk_by_mut(|a, b| a.file == b.file) {
        let Some(file) = own.first().and_then(|piece| files.get(piece.file)) else { continue };
        match worth(own) {
            Worth::All => {}
            Worth::AllBut(clusters) => {
                let taken = taken(own, &clusters);
                notes.push(reported(file, own, &taken));
                strays.extend(taken);
            }
            Worth::Nothing(reason) => {
                for fix in own.iter_mut().flat_map(|piece| &mut piece.fixes) {
                    fix.time = None;
                }
                notes.push(unreported(file, reason));
            }
        }
    }
    pieces.retain(|piece| !piece.fixes.is_empty());
    Parted { pieces, strays, notes }
}

fn worth(pieces: &[Piece]) -> Worth {
    let times = || pieces.iter().flat_map(|piece| &piece.fixes).filter_map(|fix| fix.time);
    let Some(first) = times().next() else { return Worth::All };
    let mut last = first;
    let together = times().all(|time| {
        let step = Seconds::between(last, time).0.abs();
        last = time;
        step <= PAUSE
    });
    if together && utc_date(first).year() >= FIRST_YEAR {
        return Worth::All;
    }
    let clusters = clusters(times().collect());
    let possible = || clusters.iter().filter(|cluster| !cluster.is_impossible());
    let Some(main) = possible().map(|cluster| cluster.count).max() else {
        let first = clusters.first().map(|cluster| cluster.start);
        return Worth::Nothing(UnusedTimes::Impossible { first });
    };
    let span = possible().map(|cluster| cluster.start).min().zip(possible().map(|c| c.end).max());
    let one_day = span.is_some_and(|(start, end)| Seconds::between(start, end).0 <= ONE_DAY);
    let lone = main == 1;
    if lone && possible().count() > 1 && !one_day {
        return Worth::Nothing(UnusedTimes::Scattered { times: possible().count(), span });
    }
    let is_stray = |cluster: &Cluster| {
        if lone { cluster.is_impossible() } else { cluster.is_stray(main) }
    };
    let strays: Vec<Cluster> = clusters.into_iter().filter(is_stray).collect();
    if strays.is_empty() { Worth::All } else { Worth::AllBut(strays) }
}

fn clusters(mut times: Vec<Timestamp>) -> Vec<Cluster> {
    times.sort_unstable();
    let together = times.chunk_by(|a, b| Seconds::between(*a, *b).0 <= PAUSE);
    together
        .filter_map(|own| {
            Some(Cluster { start: *own.first()?, end: *own.last()?, count: own.len() })
        })
        .collect()
}

/// Removes the fixes of these clusters from the pieces.
fn taken(pieces: &mut [Piece], clusters: &[Cluster]) -> Vec<Piece> {
    let is_stray = |time: Timestamp| {
        let place = clusters.partition_point(|cluster| cluster.end < time);
        clusters.get(place).is_some_and(|cluster| cluster.holds(time))
    };
    let take = |piece: &mut Piece| {
        let fixes = std::mem::take(&mut piece.fixes);
        let (strays, kept): (Vec<_>, Vec<_>) =
            fixes.into_iter().partition(|fix| fix.time.is_some_and(is_stray));
        piece.fixes = kept;
        Piece { file: piece.file, fixes: strays }
    };
    pieces.iter_mut().map(take).filter(|piece| !piece.fixes.is_empty()).collect()
}

/// The note on the stray fixes of one file.
fn reported(file: &SourceFile, kept: &[Piece], strays: &[Piece]) -> Error {
    let count = |pieces: &[Piece]| pieces.iter().map(|piece| piece.fixes.len()).sum::<usize>();
    let (aside, rest) = (count(strays), count(kept));
    let mut dates: Vec<Date> = times(strays).map(utc_date).collect();
    dates.sort_unstable();
    dates.dedup();
    let note = TrackTimesNote::StrayTimes {
        file_name: file.name(),
        fixes: aside,
        dates,
        others: rest,
        span: span(times(kept)).map(RangeInclusive::into_inner),
    };
    Error::from(note).in_file(&file.path)
}

fn unreported(file: &SourceFile, reason: UnusedTimes) -> Error {
    let note = TrackTimesNote::TimesNotUsed { file_name: file.name(), reason };
    Error::from(note).in_file(&file.path)
}

fn times(pieces: &[Piece]) -> impl Iterator<Item = Timestamp> {
    pieces.iter().flat_map(|piece| &piece.fixes).filter_map(|fix| fix.time)
}

fn span(times: impl Iterator<Item = Timestamp>) -> Option<RangeInclusive<Timestamp>> {
    times.fold(None, |span: Option<RangeInclusive<Timestamp>>, time| {
        Some(match span {
            Some(span) => time.min(*span.start())..=time.max(*span.end()),
            None => time..=time,
        })
    })
}

fn utc_date(time: Timestamp) -> Date {
    time.to_zoned_datetime(TimeZone::UTC).date()
}

#[cfg(test)]
mod tests;
