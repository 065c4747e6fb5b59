//! The notes on elevations that were open. Layer: `join`.

use crate::error::Error;
use crate::model::{
    ElevationManner, ElevationNote, ElevationReason, ElevationUnit, OpenElevation, OpenElevations,
    OtherElevation, Record,
};
use crate::units::Metres;

use super::column::Column;
use super::under;

/// The note on an assumption that was made; `None` where the usual one agrees with the heights.
pub(super) fn decided(
    column: &Column,
    manner: ElevationManner,
    elevations: usize,
) -> Option<ElevationNote> {
    let own = column.median_distance(manner);
    let usual = manner.mark.is_none() && manner.unit == Some(ElevationUnit::Metre);
    if usual && own.is_some() {
        return None;
    }
    let reason = match own {
        Some(own) => ElevationReason::HeightsAgree {
            median: Metres(own),
            others: others(column, manner),
            of_ground: column.of_ground(),
        },
        None if usual && !column.feet_usual() => ElevationReason::UsualAtPlace,
        None => ElevationReason::OnlyPossible,
    };
    Some(ElevationNote::ElevationsRead { elevations, manner, reason })
}

fn others(column: &Column, manner: ElevationManner) -> Vec<OtherElevation> {
    let others = column.manners().into_iter().filter(|other| *other != manner);
    others
        .filter_map(|manner| {
            let median = Metres(column.median_distance(manner)?);
            Some(OtherElevation { manner, median })
        })
        .collect()
}

/// The refusal of a column.
pub(super) fn undecided(
    column: &Column,
    reason: OpenElevations,
    record: &Record,
    rows: usize,
) -> Error {
    let reading = |manner| {
        let reading = under(&record.elevation_readings, manner)?;
        Some(OpenElevation { manner, low: reading.low, high: reading.high })
    };
    let note = ElevationNote::ElevationsOpen {
        written: record.written_elevation().unwrap_or_default(),
        rows,
        readings: column.manners().into_iter().filter_map(reading).collect(),
        reason,
        of_ground: column.of_ground(),
    };
    Error::from(note).at_line(record.line)
}
