//! Reads onset, peak, end and amount off the curve of one year. Layer: `analyse`.

use crate::analyse::season::rate::{KNOTS, basis};

/// How far from the middle of the season slopes and curvatures continue, standard deviations.
const FAR: f64 = 2.5;

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
    pub(super) end: f64,
    pub(super) total: f64,
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

    /// With the scale of the season that these coefficients give.
    pub(super) fn scaled(mut self, coefficients: &[f64]) -> Self {
        let marks = self.marks(coefficients, Deviation::default());
        // the deciles of a normal distribution are 2.563 standard deviations apart
        let spread = ((marks.end - marks.onset) / 2.563).max(3.0);
        self.scale = Scale { middle: marks.median, spread, ..self.scale };
        let scale = self.scale;
        for (along, _, place) in &mut self.list {
            *place = ((*along - scale.middle) / scale.spread).clamp(-FAR, FAR);
        }
        self
    }

    pub(super) fn scale(&self) -> Scale {
        self.scale
    }

    pub(super) fn marks(&self, coefficients: &[f64], deviation: Deviation) -> Marks {
        let Deviation { level, slope, bend } = deviation;
        let rates: Vec<f64> = self
            .list
            .iter()
            .map(|(_, row, place)| {
                let season: f64 = row.iter().map(|(k, value)| value * coefficients[*k]).sum();
                let [one, tilt, curve] = terms(*place);
                (season + level * one + slope * tilt + bend * curve).clamp(-60.0, 60.0).exp()
            })
            .collect();
        let total: f64 = rates.iter().sum();
        let reached = |share: f64| {
            let mut left = share * total;
            let place = rates.iter().position(|rate| {
                left -= rate;
                left <= 0.0
            });
            place.map_or(0.0, |place| self.list[place].0 + 0.5 + left / rates[place])
        };
        let top = (0..rates.len()).max_by(|a, b| rates[*a].total_cmp(&rates[*b]));
        Marks {
            onset: reached(0.1),
            median: reached(0.5),
            end: reached(0.9),
            peak: top.map_or(0.0, |top| self.list[top].0 + beside(&rates, top)),
            total,
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
