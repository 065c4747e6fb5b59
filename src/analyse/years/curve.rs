//! Reads onset, peak, end and amount off the curve of one year. Layer: `analyse`.

use crate::analyse::season::rate::{KNOTS, basis};
use crate::analyse::statistics::quantile;

/// How far from the middle of the season slopes and curvatures continue, standard deviations.
const FAR: f64 = 2.5;
/// The share of the rate of all years before the first and after the last day that is compared, before
/// [`MARGIN`] is added.
const BEYOND: f64 = 0.005;
/// What is added to the season of all years on either side, so that a year can be early or late, standard
/// deviations (project choice).
const MARGIN: f64 = 1.5;

/// Days from the cut, the basis, and the place within the season.
type Day = (f64, [(usize, f64); 4], f64);

/// The searched days of the year, in the order of the season.
#[derive(Clone, Debug)]
pub(super) struct Days {
    list: Vec<Day>,
    scale: Scale,
}

/// Where the middle of the season is, and its standard deviation, days from the cut.
#[derive(Clone, Copy, Debug)]
pub(super) struct Scale {
    pub(super) cut: f64,
    pub(super) middle: f64,
    pub(super) spread: f64,
}

impl Scale {
    /// The place within the season of a share of the year.
    pub(super) fn place(self, phase: f64) -> f64 {
        let along = (phase - self.cut).rem_euclid(1.0) * 365.0;
        ((along - self.middle) / self.spread).clamp(-FAR, FAR)
    }
}

/// Dates in days from the cut, and the sum of rates.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Marks {
    pub(super) onset: f64,
    pub(super) median: f64,
    pub(super) peak: f64,
    /// Whether the rate is highest on the first or last day that is compared: then there is no peak.
    pub(super) at_edge: bool,
    pub(super) end: f64,
    pub(super) total: f64,
}

impl Marks {
    /// The typical of several years: the median of dates and amounts, which one year far from the others hardly
    /// moves; the peak is that of the curve of the median deviation.
    pub(super) fn typical(of_years: &[Self], of_median: Self) -> Self {
        let middle = |pick: fn(&Self) -> f64| median(of_years.iter().map(pick));
        Self {
            onset: middle(|marks| marks.onset),
            median: middle(|marks| marks.median),
            end: middle(|marks| marks.end),
            total: middle(|marks| marks.total.ln()).exp(),
            ..of_median
        }
    }
}

/// The median; 0 of none.
pub(super) fn median(values: impl Iterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = values.collect();
    sorted.sort_unstable_by(f64::total_cmp);
    quantile(&sorted, 0.5).unwrap_or(0.0)
}

/// A deviation from the season of all years.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Deviation {
    pub(super) level: f64,
    pub(super) slope: f64,
    pub(super) bend: f64,
}

/// The columns of a deviation at a place within the season.
pub(super) fn terms(place: f64) -> [f64; 3] {
    [1.0, place, place * place - 1.0]
}

impl Days {
    pub(super) fn new(searched: &[bool; 365], cut: f64) -> Self {
        let scale = Scale { cut, middle: 182.5, spread: 60.0 };
        let mut list: Vec<Day> = (0..365)
            .filter(|day| searched[*day])
            .map(|day| {
                let phase = (day as f64 + 0.5) / 365.0;
                ((phase - cut).rem_euclid(1.0) * 365.0, basis(phase, KNOTS), scale.place(phase))
            })
            .collect();
        list.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
        Self { list, scale }
    }

    /// With the scale of the season that these coefficients give, and only the days of that season: far
    /// from it the curve of a year is that of all years times what its middle says, and knows nothing.
    pub(super) fn scaled(mut self, coefficients: &[f64]) -> Self {
        let marks = self.marks(coefficients, Deviation::default());
        let rates = self.rates(coefficients, Deviation::default());
        let (first, last) = (self.reached(&rates, BEYOND), self.reached(&rates, 1.0 - BEYOND));
        // the deciles of a normal distribution are 2.563 standard deviations apart
        let spread = ((marks.end - marks.onset) / 2.563).max(3.0);
        self.scale = Scale { middle: marks.median, spread, ..self.scale };
        let scale = self.scale;
        let margin = MARGIN * spread;
        self.list.retain(|(along, ..)| (first - margin..=last + margin).contains(along));
        for (along, _, place) in &mut self.list {
            *place = ((*along - scale.middle) / scale.spread).clamp(-FAR, FAR);
        }
        self
    }

    /// Whether an interval of a date is all of the days that are compared.
    pub(super) fn is_all(&self, low: f64, high: f64) -> bool {
        match (self.list.first(), self.list.last()) {
            (Some(first), Some(last)) => low <= first.0 + 1.0 && high >= last.0 - 1.0,
            _ => true,
        }
    }

    pub(super) fn scale(&self) -> Scale {
        self.scale
    }

    /// The rate of each day.
    fn rates(&self, coefficients: &[f64], deviation: Deviation) -> Vec<f64> {
        let Deviation { level, slope, bend } = deviation;
        self.list
            .iter()
            .map(|(_, row, place)| {
                let season: f64 = row.iter().map(|(k, value)| value * coefficients[*k]).sum();
                let [one, tilt, curve] = terms(*place);
                (season + level * one + slope * tilt + bend * curve).clamp(-60.0, 60.0).exp()
            })
            .collect()
    }

    /// The day by which a share of the rate has passed.
    fn reached(&self, rates: &[f64], share: f64) -> f64 {
        let mut left = share * rates.iter().sum::<f64>();
        let place = rates.iter().position(|rate| {
            left -= rate;
            left <= 0.0
        });
        place.map_or(0.0, |place| self.list[place].0 + 0.5 + left / rates[place])
    }

    pub(super) fn marks(&self, coefficients: &[f64], deviation: Deviation) -> Marks {
        let rates = self.rates(coefficients, deviation);
        let top = (0..rates.len()).max_by(|a, b| rates[*a].total_cmp(&rates[*b]));
        Marks {
            onset: self.reached(&rates, 0.1),
            median: self.reached(&rates, 0.5),
            end: self.reached(&rates, 0.9),
            peak: top.map_or(0.0, |top| self.list[top].0 + beside(&rates, top)),
            at_edge: top.is_none_or(|top| top == 0 || top + 1 == rates.len()),
            total: rates.iter().sum(),
        }
    }
}

/// How far the top of the parabola through a day and its neighbours is from that day.
fn beside(rates: &[f64], top: usize) -> f64 {
    if top == 0 || top + 1 >= rates.len() {
        return 0.0;
    }
    let [left, middle, right] = [rates[top - 1], rates[top], rates[top + 1]].map(f64::ln);
    let bend = left - 2.0 * middle + right;
    if bend < 0.0 { (0.5 * (left - right) / bend).clamp(-0.5, 0.5) } else { 0.0 }
}
