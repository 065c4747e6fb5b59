//! Findings about the records of a day, their numbers and photographs. Layer: `model`.

use jiff::civil::Date;
use serde::Serialize;

use super::FindReference;

/// A finding about records.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case", tag = "code")]
#[non_exhaustive]
pub enum RecordNote {
    /// Numbers of a series are missing.
    NumbersMissing {
        /// Which.
        numbers: Vec<NumberRange>,
    },
    /// A single number is far from the others of its series.
    NumberFarFromOthers {
        /// The number.
        number: String,
        /// The others.
        others: NumberRange,
    },
    /// Numbers are used on an earlier day of the import.
    NumbersUsedBefore {
        /// The numbers.
        numbers: Vec<String>,
        /// The dates of the finds.
        dates: Vec<Date>,
        /// The earlier day.
        before: Date,
    },
    /// Records are dated in the future.
    DatedInFuture {
        /// How many.
        records: usize,
        /// The date.
        date: Date,
        /// The latest date that it is anywhere.
        today: Date,
    },
    /// Host and substrate are missing.
    HostAndSubstrateMissing {
        /// The finds.
        finds: Vec<FindReference>,
    },
    /// Numbers of finds are missing.
    NumberMissing {
        /// The finds.
        finds: Vec<FindReference>,
    },
    /// Records without a date have that of their outing, though others of their file have dates.
    DateOfOuting {
        /// The finds.
        finds: Vec<FindReference>,
        /// The date.
        date: Date,
    },
    /// None of the photographs that the records name was found.
    NoNamedPhotographs {
        /// How many they name.
        named: usize,
    },
    /// Photographs that a record names were not found.
    PhotographsMissing {
        /// The find.
        find: FindReference,
        /// Their names.
        photographs: Vec<String>,
    },
    /// Photographs are named by no record.
    PhotographsNotNamed {
        /// Their names.
        photographs: Vec<String>,
        /// The number of photographs in all.
        of: usize,
        /// The number of records.
        records: usize,
    },
}

/// Numbers of one series that follow each other.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NumberRange {
    /// The series: what stands before the figures.
    pub series: String,
    /// The first number.
    pub first: u64,
    /// The last one.
    pub last: u64,
}
