//! Counts faults and assumptions of a file by kind, with the first line and value of each, so that
//! a file with a million bad points gives one message. Layer: `ingest`.

mod wording;

use std::path::Path;

use self::wording::Wording;
use crate::error::Error;
use crate::model::name_of;

/// The kinds of fault that a file may have, the most serious first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::ingest::track) enum Fault {
    OffTheGlobe,
    NoCoordinates,
    CoordinatesUnreadable,
    PointsHidden,
    CutOff,
    JsonDamaged,
    TooMany,
    NoRoom,
    ChecksumWrong,
    SentenceDamaged,
    TimesUnmatched,
    DateUnknown,
    NeverClosed,
    TagBroken,
    TimeUnreadable,
    HeightUnreadable,
    DilutionUnreadable,
    SatellitesUnreadable,
    FixUnreadable,
    TextTooLong,
    EntityRefused,
    OwnEntities,
    ZoneAssumed,
    DecimalComma,
    UnitDropped,
    ForeignBytes,
    UnknownEncoding,
    EndsMismatched,
    NoRoot,
    PointsAsTrack,
    LineWithSpan,
    LinkNotFollowed,
    ChecksumMissing,
    NoFix,
    FourthNumber,
}

impl Fault {
    const ALL: [Self; 35] = [
        Self::OffTheGlobe,
        Self::NoCoordinates,
        Self::CoordinatesUnreadable,
        Self::PointsHidden,
        Self::CutOff,
        Self::JsonDamaged,
        Self::TooMany,
        Self::NoRoom,
        Self::ChecksumWrong,
        Self::SentenceDamaged,
        Self::TimesUnmatched,
        Self::DateUnknown,
        Self::NeverClosed,
        Self::TagBroken,
        Self::TimeUnreadable,
        Self::HeightUnreadable,
        Self::DilutionUnreadable,
        Self::SatellitesUnreadable,
        Self::FixUnreadable,
        Self::TextTooLong,
        Self::EntityRefused,
        Self::OwnEntities,
        Self::ZoneAssumed,
        Self::DecimalComma,
        Self::UnitDropped,
        Self::ForeignBytes,
        Self::UnknownEncoding,
        Self::EndsMismatched,
        Self::NoRoot,
        Self::PointsAsTrack,
        Self::LineWithSpan,
        Self::LinkNotFollowed,
        Self::ChecksumMissing,
        Self::NoFix,
        Self::FourthNumber,
    ];

    /// Whether the whole point is lost.
    fn loses_point(self) -> bool {
        matches!(
            self,
            Self::OffTheGlobe
                | Self::NoCoordinates
                | Self::CoordinatesUnreadable
                | Self::PointsHidden
        )
    }

    /// Whether nothing is lost: an assumption, reported as a note.
    fn is_remark(self) -> bool {
        matches!(
            self,
            Self::ZoneAssumed
                | Self::DecimalComma
                | Self::UnitDropped
                | Self::ForeignBytes
                | Self::UnknownEncoding
                | Self::EndsMismatched
                | Self::NoRoot
                | Self::PointsAsTrack
                | Self::LineWithSpan
                | Self::LinkNotFollowed
                | Self::ChecksumMissing
                | Self::NoFix
                | Self::FourthNumber
        )
    }
}

#[derive(Clone, Debug)]
struct Count {
    times: u64,
    line: u64,
    example: String,
}

/// All faults of one file.
#[derive(Clone, Debug)]
pub(in crate::ingest::track) struct Tally {
    counts: [Option<Count>; Fault::ALL.len()],
}

impl Default for Tally {
    fn default() -> Self {
        Self { counts: [const { None }; Fault::ALL.len()] }
    }
}

impl Tally {
    /// Counts one; example and line are evaluated only the first time.
    pub(in crate::ingest::track) fn add(
        &mut self,
        fault: Fault,
        example: &str,
        line: impl FnOnce() -> u64,
    ) {
        self.add_many(fault, 1, example, line);
    }

    /// Counts several at once.
    pub(in crate::ingest::track) fn add_many(
        &mut self,
        fault: Fault,
        times: u64,
        example: &str,
        line: impl FnOnce() -> u64,
    ) {
        match &mut self.counts[fault as usize] {
            Some(count) => count.times += times,
            empty => *empty = Some(Count { times, line: line(), example: shortened(example) }),
        }
    }

    /// Whether there was any of a kind.
    pub(in crate::ingest::track) fn has(&self, fault: Fault) -> bool {
        self.counts[fault as usize].is_some()
    }

    /// How often one kind was counted.
    pub(in crate::ingest::track) fn times(&self, fault: Fault) -> usize {
        let count = self.counts[fault as usize].as_ref();
        count.map_or(0, |count| usize::try_from(count.times).unwrap_or(usize::MAX))
    }

    /// How many points were lost.
    pub(in crate::ingest::track) fn points(&self) -> usize {
        let lost = Fault::ALL.iter().filter(|fault| fault.loses_point());
        let times = lost.filter_map(|&fault| self.counts[fault as usize].as_ref());
        times.map(|count| usize::try_from(count.times).unwrap_or(usize::MAX)).sum()
    }

    /// The faults that lost data.
    pub(in crate::ingest::track) fn set_aside(&self, path: &Path) -> Vec<Error> {
        self.reports(path, false)
    }

    /// The assumptions.
    pub(in crate::ingest::track) fn remarks(&self, path: &Path) -> Vec<Error> {
        self.reports(path, true)
    }

    fn reports(&self, path: &Path, remarks: bool) -> Vec<Error> {
        let wanted = Fault::ALL.iter().filter(|fault| fault.is_remark() == remarks);
        wanted
            .filter_map(|&fault| {
                self.counts[fault as usize].as_ref().map(|count| report(fault, count, path))
            })
            .collect()
    }
}

fn report(fault: Fault, count: &Count, path: &Path) -> Error {
    let Wording { one, many, why, hint } = fault.wording();
    let name = name_of(path);
    let sentence = if count.times == 1 { one } else { many };
    let why =
        if count.example.is_empty() { why.to_owned() } else { format!("{why} {}", count.example) };
    let error = Error::input(format!("{name}: {} {sentence}", count.times))
        .because(why)
        .hint(hint)
        .in_file(path);
    // a form without lines of its own counts features in the example
    if count.line == 0 { error } else { error.at_line(count.line) }
}

/// At most eighty characters on one line, safe to show on a terminal.
pub(in crate::ingest::track) fn shortened(text: &str) -> String {
    let mut words = String::new();
    for character in text.trim().chars().take(80) {
        if character.is_whitespace() {
            words.push(' ');
        } else if character.is_control() {
            words.extend(character.escape_default());
        } else {
            words.push(character);
        }
    }
    if text.trim().chars().nth(80).is_some() {
        words.push('…');
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_kind_has_its_own_place_and_words() {
        for (place, fault) in Fault::ALL.iter().enumerate() {
            assert_eq!(*fault as usize, place);
            let wording = fault.wording();
            assert!(!wording.one.is_empty() && !wording.hint.is_empty());
            assert_ne!(wording.one, wording.many);
        }
    }

    #[test]
    fn a_thousand_faults_of_a_kind_are_one_message() {
        let mut tally = Tally::default();
        for line in 7..1007 {
            tally.add(Fault::OffTheGlobe, "lat=\"91\"\n lon=\"\u{1b}[31m\"", || line);
        }
        let reports = tally.set_aside(Path::new("day/ridge.gpx"));
        assert_eq!(reports.len(), 1);
        assert_eq!(
            reports[0].what(),
            "ridge.gpx: 1000 points with an impossible latitude or \
         longitude were skipped"
        );
        assert_eq!(reports[0].where_line(), Some(7));
        let why = reports[0].why().unwrap();
        assert!(why.ends_with(r#"lat="91"  lon="\u{1b}[31m""#), "{why}");
        assert_eq!(tally.points(), 1000);
        assert!(tally.remarks(Path::new("x")).is_empty());
    }
}
