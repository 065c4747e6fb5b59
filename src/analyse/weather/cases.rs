//! Joins outings with the weather before them, and builds the models that are compared. Layer: `analyse`.

use std::collections::BTreeMap;

use jiff::ToSpan;
use jiff::civil::Date;

use super::anomaly::Anomalies;
use super::lags::{COEFFICIENTS, LONGEST, columns};
use super::local::Local;
use crate::analyse::penalised::{Observation, Penalty, Problem};
use crate::analyse::season::rate::{KNOTS, basis};
use crate::analyse::season::{Stint, beginning, phase, season_year};

/// The share of the days before an outing whose weather must be known.
pub(super) const KNOWN: f64 = 0.9;

/// Rain acts by the logarithm of 1 + mm: the second ten millimetres soak less than the first (project
/// choice).
#[must_use]
pub fn rain_scale(mm: f64) -> f64 {
    mm.max(0.0).ln_1p()
}

/// What the model of one area knows of its weather.
#[derive(Clone, Debug)]
pub(super) struct AreaWeather {
    pub(super) rain: Anomalies,
    pub(super) warmth: Anomalies,
}

impl AreaWeather {
    pub(super) fn of(local: &Local) -> Self {
        let rain = local.days.iter().map(|day| day.rain.map(rain_scale)).collect();
        let warmth = local.days.iter().map(|day| day.mean).collect();
        Self { rain: Anomalies::of(local.first, rain), warmth: Anomalies::of(local.first, warmth) }
    }

    pub(super) fn series(&self, block: Block) -> &Anomalies {
        match block {
            Block::Rain => &self.rain,
            Block::Warmth => &self.warmth,
        }
    }
}

/// One of the two series that act over days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Block {
    Rain,
    Warmth,
}

pub(super) const BLOCKS: [Block; 2] = [Block::Rain, Block::Warmth];

/// An outing with the weather before it.
#[derive(Clone, Debug)]
pub(super) struct Case {
    pub(super) date: Date,
    pub(super) area: usize,
    /// Which of the years.
    pub(super) year: usize,
    pub(super) hours: f64,
    pub(super) finds: f64,
    /// The lag columns of rain and of warmth.
    pub(super) lagged: [[f64; COEFFICIENTS]; 2],
}

/// Outings with enough weather, and those without.
#[derive(Clone, Debug)]
pub(super) struct Cases {
    pub(super) list: Vec<Case>,
    /// The seasons, in order.
    pub(super) years: Vec<i32>,
    /// Searched outings whose weather is not known well enough.
    pub(super) without: usize,
    /// How many of these lack rain, and how many temperature.
    pub(super) without_series: [usize; 2],
}

impl Cases {
    /// `area_of` gives the area of each outing.
    pub(super) fn of(
        stints: &[Stint],
        area_of: impl Fn(usize) -> Option<usize>,
        areas: &[AreaWeather],
    ) -> Self {
        let cut = beginning(stints);
        let mut outings: BTreeMap<usize, (Date, f64, f64)> = BTreeMap::new();
        for stint in stints {
            let outing = outings.entry(stint.outing).or_insert((stint.date, 0.0, 0.0));
            outing.1 += if stint.hours.is_finite() { stint.hours.max(0.0) } else { 0.0 };
            outing.2 += f64::from(stint.finds);
        }
        let mut list = Vec::new();
        let mut without = 0;
        let mut without_series = [0; 2];
        for (outing, (date, hours, finds)) in outings.into_iter().filter(|(_, of)| of.1 > 0.0) {
            let area = area_of(outing);
            let known = BLOCKS.map(|block| lagged(area.map(|area| &areas[area])?, block, date));
            let (Some(area), [Some(rain), Some(warmth)]) = (area, known) else {
                without += 1;
                for (count, known) in without_series.iter_mut().zip(&known) {
                    *count += usize::from(known.is_none());
                }
                continue;
            };
            let lagged = [rain, warmth];
            let season = season_year(date, cut);
            list.push((season, Case { date, area, year: 0, hours, finds, lagged }));
        }
        let mut years: Vec<i32> = list.iter().map(|(season, _)| *season).collect();
        years.sort_unstable();
        years.dedup();
        let place = |season: i32| years.binary_search(&season).unwrap_or(0);
        let list =
            list.into_iter().map(|(season, case)| Case { year: place(season), ..case }).collect();
        Self { list, years, without, without_series }
    }

    /// The model with these blocks.
    pub(super) fn problem(&self, blocks: &[Block]) -> Problem {
        let layout = Layout { blocks: blocks.to_vec(), years: self.years.len() };
        let observations = self.list.iter().map(|case| layout.observation(case)).collect();
        Problem { observations, columns: layout.columns(), penalties: layout.penalties() }
    }
}

/// The lag columns of one series before an outing; none where too little is known.
fn lagged(weather: &AreaWeather, block: Block, date: Date) -> Option<[f64; COEFFICIENTS]> {
    let need = KNOWN * (LONGEST + 1) as f64;
    let (before, known) = weather.series(block).before(date, LONGEST + 1);
    (known as f64 >= need).then(|| columns(&before))
}

/// Which columns belong to what: the season, the blocks, the years.
#[derive(Clone, Debug)]
pub(super) struct Layout {
    pub(super) blocks: Vec<Block>,
    pub(super) years: usize,
}

impl Layout {
    fn columns(&self) -> usize {
        KNOTS + COEFFICIENTS * self.blocks.len() + self.years
    }

    /// The first column of a block.
    pub(super) fn first(&self, block: Block) -> Option<usize> {
        let place = self.blocks.iter().position(|own| *own == block)?;
        Some(KNOTS + COEFFICIENTS * place)
    }

    fn penalties(&self) -> Vec<Penalty> {
        let mut penalties = vec![Penalty::bends(0, KNOTS, true)];
        for place in 0..self.blocks.len() {
            let first = KNOTS + COEFFICIENTS * place;
            penalties.push(Penalty::bends(first, COEFFICIENTS, false).kept());
            penalties.push(Penalty::lines(first, COEFFICIENTS).kept());
        }
        let years = KNOTS + COEFFICIENTS * self.blocks.len();
        penalties.push(Penalty::ridge(years, self.years).kept());
        penalties
    }

    fn observation(&self, case: &Case) -> Observation {
        let mut row: Vec<(usize, f64)> = basis(phase(case.date), KNOTS).to_vec();
        for (place, block) in self.blocks.iter().enumerate() {
            let first = KNOTS + COEFFICIENTS * place;
            let lagged = &case.lagged[usize::from(*block == Block::Warmth)];
            row.extend(lagged.iter().enumerate().map(|(k, value)| (first + k, *value)));
        }
        row.push((KNOTS + COEFFICIENTS * self.blocks.len() + case.year, 1.0));
        Observation { row, offset: case.hours.ln(), count: case.finds }
    }
}

/// The same day so many years later; 29 February becomes the 28th.
pub(super) fn moved(date: Date, years: i32) -> Option<Date> {
    date.checked_add(years.years()).ok()
}

#[cfg(test)]
mod tests {
    use jiff::civil::date;

    use super::*;
    use crate::analyse::weather::local::LocalDay;

    #[test]
    fn outings_without_temperature_are_counted_as_that() {
        let day = LocalDay { rain: Some(1.0), ..LocalDay::default() };
        let local =
            Local { first: Some(date(2024, 1, 1)), days: vec![day; 366], ..Local::default() };
        let stint = |outing, date| Stint { outing, date, elevation: None, hours: 1.0, finds: 1 };
        let stints =
            [stint(0, date(2024, 6, 1)), stint(1, date(2024, 9, 1)), stint(2, date(2023, 9, 1))];
        let cases = Cases::of(&stints, |_| Some(0), &[AreaWeather::of(&local)]);
        assert_eq!((cases.list.len(), cases.without), (0, 3));
        assert_eq!(cases.without_series, [1, 3]);
    }
}
