//! Weighs the readings of one column of elevations. Layer: `join`.

use crate::model::{
    DigitMark, ElevationDistance, ElevationDoubt, ElevationManner, ElevationNote, ElevationReading,
    ElevationUnit, Record,
};

use super::under;

/// The probability from which on a reading is used (project choice).
const ENOUGH: f64 = 0.99;
/// The probability of feet where metres are usual, and where both are written (common practice, rough).
const FEET: (f64, f64) = (0.003, 0.5);
/// Elevations outside are not credible of a find, metres: the lowest dry land, and the highest vegetation
/// (common practice).
const CREDIBLE: std::ops::RangeInclusive<f64> = -430.0..=5_500.0;
/// The probability of a column with an elevation that is not credible.
const INCREDIBLE: f64 = 1e-4;
/// The error of a written elevation, of the ground below a find and of a smoothed track, metres: standard
/// deviation (common practice: contours, altimeters).
const ERROR: f64 = 25.0;
/// Of 100 elevations, those that are wrong in any amount, and the range of these, metres.
const WRONG: (f64, f64) = (0.05, 4_000.0);
/// Heights of receivers are above the sea or above the ellipsoid: the offset of all of one table, metres, and
/// its probability. The geoid lies within 107 m of the ellipsoid (EGM2008, Pavlis et al. 2012).
const OFFSETS: [(f64, f64); 9] = [
    (0.0, 0.6),
    (-100.0, 0.05),
    (-60.0, 0.05),
    (-30.0, 0.05),
    (-15.0, 0.05),
    (15.0, 0.05),
    (30.0, 0.05),
    (60.0, 0.05),
    (100.0, 0.05),
];
/// A reading whose median distance from the heights is more does not agree with them, metres.
const AGREES: f64 = 150.0;

/// What is known of the height at a find, metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Height {
    /// Of the ground, above the sea.
    Ground(f64),
    /// Of the track at the find.
    Track(f64),
    /// The lowest and the highest of the track.
    Somewhere(f64, f64),
}

impl Height {
    /// How far an elevation lies above the height, with the receiver's offset.
    fn below(self, elevation: f64, offset: f64) -> f64 {
        match self {
            Self::Ground(height) => elevation - height,
            Self::Track(height) => elevation + offset - height,
            Self::Somewhere(low, high) => {
                let own = elevation + offset;
                own - own.clamp(low.min(high), high.max(low))
            }
        }
    }
}

/// One elevation of the column.
#[derive(Clone, Debug)]
pub(super) struct Written {
    pub(super) readings: Vec<ElevationReading>,
    pub(super) height: Option<Height>,
}

/// The elevations of one column.
#[derive(Debug)]
pub(super) struct Column {
    written: Vec<Written>,
    /// Whether feet are usual at the place.
    feet_usual: bool,
}

impl Column {
    pub(super) fn of(written: Vec<Written>, feet_usual: bool) -> Self {
        Self { written, feet_usual }
    }

    /// Every combination of what the table leaves open.
    fn manners(&self) -> Vec<ElevationManner> {
        let all = || self.written.iter().flat_map(|one| &one.readings).map(|one| one.manner);
        let units: Vec<Option<ElevationUnit>> = if all().any(|manner| manner.unit.is_some()) {
            vec![Some(ElevationUnit::Metre), Some(ElevationUnit::Foot)]
        } else {
            vec![None]
        };
        let marks: Vec<Option<DigitMark>> = if all().any(|manner| manner.mark.is_some()) {
            vec![Some(DigitMark::Decimals), Some(DigitMark::Thousands)]
        } else {
            vec![None]
        };
        let both = |unit: &Option<ElevationUnit>| {
            let unit = *unit;
            marks.clone().into_iter().map(move |mark| ElevationManner { unit, mark })
        };
        units.iter().flat_map(both).collect()
    }

    /// The assumption that is sure enough.
    pub(super) fn decided(&self) -> Result<ElevationManner, ElevationDoubt> {
        let manners = self.manners();
        let logs: Vec<f64> = manners.iter().map(|manner| self.log_probability(*manner)).collect();
        let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let total: f64 = logs.iter().map(|log| (log - most).exp()).sum();
        let best = logs.iter().position(|log| *log >= most).unwrap_or(0);
        let (manner, share) = (manners[best], 1.0 / total);
        match self.median_distance(manner) {
            Some(distance) if distance > AGREES => Err(ElevationDoubt::NoneAgrees),
            _ if share >= ENOUGH => Ok(manner),
            Some(_) => Err(ElevationDoubt::Several),
            None => Err(ElevationDoubt::NothingKnown),
        }
    }

    /// Logarithm of prior and likelihood, up to a constant.
    fn log_probability(&self, manner: ElevationManner) -> f64 {
        let feet = if self.feet_usual { FEET.1 } else { FEET.0 };
        let prior: f64 = match manner.unit {
            Some(ElevationUnit::Foot) => feet,
            Some(ElevationUnit::Metre) => 1.0 - feet,
            None => 1.0,
        };
        let readings = || self.written.iter().filter_map(|one| under(&one.readings, manner));
        let credible = |one: ElevationReading| CREDIBLE.contains(&one.low.0);
        let plausible = if readings().all(credible) { 1.0 } else { INCREDIBLE };
        let of_offset =
            |&(offset, share): &(f64, f64)| share.ln() + self.log_likelihood(manner, offset);
        let logs: Vec<f64> = OFFSETS.iter().map(of_offset).collect();
        let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let likelihood = most + logs.iter().map(|log| (log - most).exp()).sum::<f64>().ln();
        prior.ln() + plausible.ln() + likelihood
    }

    fn log_likelihood(&self, manner: ElevationManner, offset: f64) -> f64 {
        let density = |away: f64| {
            let gauss =
                (-0.5 * (away / ERROR).powi(2)).exp() / (ERROR * std::f64::consts::TAU.sqrt());
            (1.0 - WRONG.0) * gauss + WRONG.0 / WRONG.1
        };
        self.distances(manner, offset).map(|away| density(away).ln()).sum()
    }

    /// How far the elevations lie above the heights.
    fn distances(&self, manner: ElevationManner, offset: f64) -> impl Iterator<Item = f64> {
        self.written.iter().filter_map(move |one| {
            let reading = under(&one.readings, manner)?;
            let middle = f64::midpoint(reading.low.0, reading.high.0);
            Some(one.height?.below(middle, offset))
        })
    }

    /// The median distance of a reading from the heights; `None` without heights.
    fn median_distance(&self, manner: ElevationManner) -> Option<f64> {
        let mut all: Vec<f64> = self.distances(manner, 0.0).map(f64::abs).collect();
        all.sort_by(f64::total_cmp);
        all.get(all.len() / 2).copied()
    }

    /// Whether the heights are those of the ground.
    fn of_ground(&self) -> bool {
        self.written.iter().any(|one| matches!(one.height, Some(Height::Ground(_))))
    }

    /// The finding on an assumption that was made; `None` where the usual one agrees with the heights.
    pub(super) fn note(
        &self,
        assumed: ElevationManner,
        elevations: usize,
    ) -> Option<ElevationNote> {
        let metres = assumed.mark.is_none() && assumed.unit == Some(ElevationUnit::Metre);
        let all = self.manners().into_iter();
        let distances: Vec<ElevationDistance> = all
            .filter_map(|manner| {
                let distance = self.median_distance(manner)?;
                Some(ElevationDistance { manner, distance })
            })
            .collect();
        if metres && !distances.is_empty() {
            return None;
        }
        let usual = metres && !self.feet_usual;
        let of_ground = self.of_ground();
        Some(ElevationNote::ElevationsRead { elevations, assumed, distances, of_ground, usual })
    }

    /// The finding on elevations that stay open.
    pub(super) fn doubt(
        &self,
        reason: ElevationDoubt,
        record: &Record,
        rows: usize,
    ) -> ElevationNote {
        ElevationNote::ElevationsOpen {
            written: record.written_elevation().unwrap_or_default(),
            rows,
            readings: record.elevation_readings.clone(),
            reason,
            of_ground: self.of_ground(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Metres;

    /// Elevations without a unit, with the heights where they are.
    fn open(cells: &[(f64, Option<Height>)], feet_usual: bool) -> Column {
        let reading = |value: f64, unit, factor: f64| ElevationReading {
            manner: ElevationManner { unit: Some(unit), mark: None },
            low: Metres(value * factor),
            high: Metres(value * factor),
        };
        let written = cells.iter().map(|&(value, height)| Written {
            readings: vec![
                reading(value, ElevationUnit::Metre, 1.0),
                reading(value, ElevationUnit::Foot, 0.3048),
            ],
            height,
        });
        Column::of(written.collect(), feet_usual)
    }

    fn unit(column: &Column) -> Result<ElevationUnit, ElevationDoubt> {
        column.decided().map(|manner| manner.unit.unwrap())
    }

    #[test]
    fn heights_decide_the_unit() {
        use ElevationUnit::{Foot, Metre};
        let at = |height: f64| Some(Height::Track(height));
        for (cells, usual, expected) in [
            (vec![(3600.0, at(1097.0)), (3550.0, at(1080.0))], false, Ok(Foot)),
            (vec![(3600.0, at(1097.0)), (3550.0, at(1080.0))], true, Ok(Foot)),
            (vec![(1100.0, at(1097.0)), (1080.0, at(1075.0))], true, Ok(Metre)),
            (vec![(1100.0, Some(Height::Somewhere(900.0, 1200.0)))], true, Ok(Metre)),
            (vec![(3600.0, Some(Height::Somewhere(900.0, 1200.0)))], true, Ok(Foot)),
            (vec![(3600.0, Some(Height::Ground(1110.0)))], true, Ok(Foot)),
            // near the sea both agree
            (vec![(20.0, at(20.0)), (35.0, at(30.0))], true, Err(ElevationDoubt::Several)),
            (vec![(20.0, at(20.0)), (35.0, at(30.0))], false, Ok(Metre)),
            (vec![(2000.0, at(20.0)), (2100.0, at(30.0))], true, Err(ElevationDoubt::NoneAgrees)),
            (vec![(2000.0, at(20.0)), (2100.0, at(30.0))], false, Err(ElevationDoubt::NoneAgrees)),
            (vec![(1350.0, None)], true, Err(ElevationDoubt::NothingKnown)),
            (vec![(1350.0, None)], false, Ok(Metre)),
            // not credible in metres
            (vec![(8200.0, None), (9100.0, None)], true, Ok(Foot)),
        ] {
            assert_eq!(unit(&open(&cells, usual)), expected, "{cells:?}, {usual}");
        }
    }

    #[test]
    fn one_wrong_elevation_does_not_decide() {
        let at = |height: f64| Some(Height::Track(height));
        let mut cells: Vec<_> = (0..8).map(|k| (400.0 + f64::from(k), at(402.0))).collect();
        cells.push((1312.0, at(400.0)));
        assert_eq!(unit(&open(&cells, true)), Ok(ElevationUnit::Metre));
    }

    #[test]
    fn marks_are_decided_in_the_same_way() {
        let column = |height: Option<Height>| {
            let reading = |mark, metres| ElevationReading {
                manner: ElevationManner { unit: None, mark: Some(mark) },
                low: Metres(metres),
                high: Metres(metres),
            };
            let readings =
                vec![reading(DigitMark::Decimals, 1.35), reading(DigitMark::Thousands, 1350.0)];
            Column::of(vec![Written { readings, height }; 2], false)
        };
        let mark = |height| column(height).decided().map(|manner| manner.mark.unwrap());
        assert_eq!(mark(Some(Height::Track(1340.0))), Ok(DigitMark::Thousands));
        assert_eq!(mark(Some(Height::Track(12.0))), Ok(DigitMark::Decimals));
        assert_eq!(mark(Some(Height::Track(4000.0))), Err(ElevationDoubt::NoneAgrees));
        assert_eq!(mark(None), Err(ElevationDoubt::NothingKnown));
    }
}
