//! Collects values of weather and sets aside what cannot be used: flagged, presumed, implausible,
//! contradictory. Layer: `ingest`.

use std::collections::BTreeMap;

use jiff::civil::Date;

use crate::error::Error;
use crate::model::{StationValues, WeatherElement, WeatherNote, WeatherValue};

/// The most rain of one day, mm: 1,825 mm fell in 24 hours at Foc-Foc, La Réunion, in January 1966
/// (World Meteorological Organization, archive of extremes; from memory).
const MOST_RAIN: f64 = 1_825.0;
/// The range of temperatures of the air, degrees Celsius: the extremes are -89.2 and 56.7 (World
/// Meteorological Organization; from memory).
const TEMPERATURES: std::ops::RangeInclusive<f64> = -90.0..=57.0;
/// The most lying snow, mm: 11.8 m (from memory), rounded up.
const MOST_SNOW: f64 = 12_000.0;
/// Below this span of the middle 98 % of a year's highest temperatures the unit is doubted, K.
const NARROW: f64 = 4.0;
/// Days with a highest temperature for that check.
const ENOUGH: usize = 300;

/// The share of values that may be implausible in the true units (project choice).
pub(super) const ODD: f64 = 0.01;
/// So many impossible values are no slips of a short table any more (project choice).
const SLIPS: usize = 5;

/// Values that do not fit the unit in which they are read.
pub(super) struct Misfit {
    element: WeatherElement,
    impossible: usize,
    values: usize,
    line: u64,
    value: f64,
}

impl Misfit {
    /// The refusal: what remains of a column in a wrong unit looks like weather and is none.
    pub(super) fn refusal(&self, stated: &str, hint: &str) -> Error {
        let (name, unit) = match &self.element {
            WeatherElement::Maximum => ("maximum temperature", "\u{b0}C"),
            WeatherElement::Minimum => ("minimum temperature", "\u{b0}C"),
            WeatherElement::Mean => ("mean temperature", "\u{b0}C"),
            WeatherElement::Rain => ("rain", "mm"),
            WeatherElement::Snowfall => ("snowfall", "mm"),
            WeatherElement::SnowDepth => ("snow depth", "mm"),
            WeatherElement::Other(name) => (&**name, ""),
        };
        Error::input(format!("the values of {name} do not fit {stated}"))
            .because(format!(
                "{} of {} are impossible, the first is {:.1} {unit} on line {}; the others would be wrong as well",
                self.impossible, self.values, self.value, self.line
            ))
            .hint(hint)
    }
}

/// What a file says of one day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Reading {
    /// A value in the unit of the element.
    Value(f64),
    /// Rain too little to be measured.
    Trace,
    /// None.
    Missing,
    /// One that failed a check.
    Flagged(char),
    /// Zero that was not measured.
    PresumedZero,
}

/// A reading with the line on which it stands.
struct Entry {
    date: Date,
    element: WeatherElement,
    value: Option<f64>,
    line: u64,
}

/// All readings of one file.
#[derive(Default)]
pub(super) struct Collector {
    series: BTreeMap<String, Vec<Entry>>,
    flagged: BTreeMap<char, usize>,
    traces: usize,
    presumed: usize,
    unreadable: Option<(usize, u64, String)>,
}

impl Collector {
    /// Adds a reading. A trace of rain is 0 mm; a flagged value and a zero that nobody measured are gaps, and counted.
    pub(super) fn add(
        &mut self,
        station: &str,
        date: Date,
        element: &WeatherElement,
        reading: Reading,
        line: u64,
    ) {
        let value = match reading {
            Reading::Value(value) if value.is_finite() => Some(value),
            Reading::Trace => {
                self.traces += 1;
                Some(0.0)
            }
            Reading::Flagged(flag) => {
                *self.flagged.entry(flag).or_default() += 1;
                None
            }
            Reading::PresumedZero => {
                self.presumed += 1;
                None
            }
            Reading::Value(_) | Reading::Missing => None,
        };
        if !self.series.contains_key(station) {
            self.series.insert(station.to_owned(), Vec::new());
        }
        if let Some(series) = self.series.get_mut(station) {
            series.push(Entry { date, element: element.clone(), value, line });
        }
    }

    /// The element with the most values that cannot occur in these units, where they are more than one value in a
    /// hundred and more than a few slips.
    pub(super) fn misfit(&self) -> Option<Misfit> {
        let mut by_element: BTreeMap<&WeatherElement, Misfit> = BTreeMap::new();
        for entry in self.series.values().flatten() {
            let Some(value) = entry.value else { continue };
            let own = by_element.entry(&entry.element).or_insert_with(|| Misfit {
                element: entry.element.clone(),
                impossible: 0,
                values: 0,
                line: entry.line,
                value,
            });
            own.values += 1;
            if !plausible(&entry.element, value) {
                if own.impossible == 0 {
                    (own.line, own.value) = (entry.line, value);
                }
                own.impossible += 1;
            }
        }
        let wrong = by_element.into_values().filter(|own| {
            own.impossible >= SLIPS && own.impossible as f64 > ODD * own.values as f64
        });
        wrong.max_by_key(|own| own.impossible)
    }

    /// A line, or a cell of it, that cannot be read.
    pub(super) fn unreadable(&mut self, line: u64, why: impl FnOnce() -> String) {
        match &mut self.unreadable {
            Some((lines, ..)) => *lines += 1,
            none => *none = Some((1, line, why())),
        }
    }

    /// The values of each station, and what was set aside.
    pub(super) fn finished(self) -> (Vec<StationValues>, Vec<WeatherNote>) {
        let mut notes = Vec::new();
        let flags = self.flagged.into_iter();
        notes.extend(
            flags.map(|(flag, values)| WeatherNote::Flagged { flag: flag.to_string(), values }),
        );
        if self.presumed > 0 {
            notes.push(WeatherNote::PresumedZero { values: self.presumed });
        }
        if self.traces > 0 {
            notes.push(WeatherNote::Traces { values: self.traces });
        }
        if let Some((lines, line, why)) = self.unreadable {
            notes.push(WeatherNote::Unreadable { lines, line, why });
        }
        let mut checks = Checks::default();
        let mut all = Vec::new();
        for (code, entries) in self.series {
            let values = checks.checked(entries);
            if let Some(span) = narrow(&values) {
                notes.push(WeatherNote::Narrow { station: code.clone(), span });
            }
            all.push(StationValues { code, values });
        }
        notes.extend(checks.notes());
        (all, notes)
    }
}

/// Counts of what the checks find.
#[derive(Default)]
struct Checks {
    repeated: usize,
    contradictory: Option<(usize, u64)>,
    implausible: BTreeMap<WeatherElement, (usize, u64, f64)>,
    reversed: Option<(usize, Date)>,
}

impl Checks {
    fn checked(&mut self, mut entries: Vec<Entry>) -> Vec<WeatherValue> {
        for entry in &mut entries {
            if let Some(value) = entry.value.filter(|value| !plausible(&entry.element, *value)) {
                let first = (0, entry.line, value);
                self.implausible.entry(entry.element.clone()).or_insert(first).0 += 1;
                entry.value = None;
            }
        }
        entries.sort_by(|a, b| (a.date, &a.element, a.line).cmp(&(b.date, &b.element, b.line)));
        let mut values: Vec<WeatherValue> = Vec::with_capacity(entries.len());
        for same in entries.chunk_by(|a, b| a.date == b.date && a.element == b.element) {
            let value = self.one_of(same);
            values.push(WeatherValue {
                date: same[0].date,
                element: same[0].element.clone(),
                value,
            });
        }
        self.reversed(&mut values);
        values
    }

    /// The value of a day that may be given more than once.
    fn one_of(&mut self, same: &[Entry]) -> Option<f64> {
        let mut given = same.iter().filter_map(|entry| entry.value.map(|v| (v, entry.line)));
        let first = given.next();
        let differs = |(value, _): &(f64, u64)| first.is_some_and(|first| first.0 != *value);
        let rest: Vec<(f64, u64)> = given.collect();
        if let Some((_, line)) = rest.iter().find(|other| differs(other)) {
            self.contradictory.get_or_insert((0, *line)).0 += 1;
            return None;
        }
        self.repeated += rest.len();
        first.map(|(value, _)| value)
    }

    /// Takes both temperatures out where the highest is below the lowest.
    fn reversed(&mut self, values: &mut [WeatherValue]) {
        let mut start = 0;
        while start < values.len() {
            let date = values[start].date;
            let end = start + values[start..].iter().take_while(|v| v.date == date).count();
            let day = &mut values[start..end];
            let of = |day: &[WeatherValue], element| {
                day.iter().find(|v| v.element == element).and_then(|v| v.value)
            };
            let (high, low) = (of(day, WeatherElement::Maximum), of(day, WeatherElement::Minimum));
            if high.zip(low).is_some_and(|(high, low)| high < low) {
                self.reversed.get_or_insert((0, date)).0 += 1;
                day.iter_mut()
                    .filter(|value| value.element.is_temperature())
                    .for_each(|value| value.value = None);
            }
            start = end;
        }
    }

    fn notes(self) -> Vec<WeatherNote> {
        let mut notes = Vec::new();
        if self.repeated > 0 {
            notes.push(WeatherNote::Repeated { values: self.repeated });
        }
        if let Some((values, line)) = self.contradictory {
            notes.push(WeatherNote::Contradictory { values, line });
        }
        for (element, (values, line, value)) in self.implausible {
            notes.push(WeatherNote::Implausible { element, values, line, value });
        }
        if let Some((days, date)) = self.reversed {
            notes.push(WeatherNote::Reversed { days, date });
        }
        notes
    }
}

/// Whether a value can occur.
pub(super) fn plausible(element: &WeatherElement, value: f64) -> bool {
    match element {
        WeatherElement::Rain => (0.0..=MOST_RAIN).contains(&value),
        WeatherElement::Maximum | WeatherElement::Minimum | WeatherElement::Mean => {
            TEMPERATURES.contains(&value)
        }
        WeatherElement::Snowfall => (0.0..=2.0 * MOST_RAIN).contains(&value),
        WeatherElement::SnowDepth => (0.0..=MOST_SNOW).contains(&value),
        WeatherElement::Other(_) => true,
    }
}

/// The span of the middle 98 % of the highest temperatures, where it is doubtful.
fn narrow(values: &[WeatherValue]) -> Option<f64> {
    let mut highest: Vec<f64> = values
        .iter()
        .filter(|value| value.element == WeatherElement::Maximum)
        .filter_map(|value| value.value)
        .collect();
    if highest.len() < ENOUGH {
        return None;
    }
    highest.sort_unstable_by(f64::total_cmp);
    let tail = highest.len() / 100;
    let span = highest[highest.len() - 1 - tail] - highest[tail];
    (span < NARROW).then_some(span)
}
