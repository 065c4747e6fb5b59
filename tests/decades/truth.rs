//! The truth of a simulated decade: when taxa fruit, how a collector moves, what is noticed.

/// How a collector searches.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Style {
    /// Line by line, slowly, with short stops.
    Systematic,
    /// An easy walk without a stop.
    Strolling,
    /// Fast from spot to spot, stopping only at finds.
    SpotToSpot,
}

pub const STYLES: [Style; 3] = [Style::Systematic, Style::Strolling, Style::SpotToSpot];

/// When a taxon fruits.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Taxon {
    /// The best day of the year; none for a taxon that fruits evenly.
    pub peak: Option<f64>,
    /// Its spread, days.
    pub spread: f64,
    /// Fruitings noticed per hour of an easy walk on its best day.
    pub best: f64,
}

pub const TAXA: [Taxon; 3] = [
    Taxon { peak: Some(285.0), spread: 12.0, best: 6.0 },
    Taxon { peak: Some(264.0), spread: 20.0, best: 2.0 },
    Taxon { peak: None, spread: 0.0, best: 1.0 },
];

impl Taxon {
    /// Fruitings per hour of an easy walk on a day of the year.
    pub fn rate(&self, day: f64) -> f64 {
        let away = |peak: f64| ((day - peak) / self.spread).powi(2);
        self.best * self.peak.map_or(1.0, |peak| (-0.5 * away(peak)).exp())
    }

    /// The day by which a share of the rate has passed, between two days.
    pub fn reached(&self, share: f64, from: f64, until: f64) -> f64 {
        let steps = 20_000;
        let day = |step: i32| from + (until - from) * (f64::from(step) + 0.5) / f64::from(steps);
        let total: f64 = (0..steps).map(|step| self.rate(day(step))).sum();
        let mut sum = 0.0;
        (0..steps)
            .map(day)
            .find(|day| {
                sum += self.rate(*day);
                sum >= share * total
            })
            .unwrap_or(until)
    }
}

/// How much is noticed per hour at a speed, 1 at an easy walk: what is noticed of what is passed falls
/// with speed as 1 - exp(-v0 / v), with v0 = 0.7 m/s.
pub fn noticed(speed: f64) -> f64 {
    let passed = |speed: f64| speed * (1.0 - (-0.7 / speed).exp());
    passed(speed) / passed(0.8)
}
