//! Decides where the year stands in dates such as `26-11-01`, whose year has two digits: by what the whole column shows.
//! Layer: `ingest`.

use jiff::civil::Date;

/// What one date says of the place of the year.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Short {
    /// The first and the last number, where each may be the year.
    numbers: Option<[u8; 2]>,
    year_first: Option<Date>,
    points: bool,
    /// Whether it shows the place, and which.
    shows_first: Option<bool>,
    /// The year of four digits.
    year: Option<i16>,
}

impl Short {
    /// That of a date whose year is certain.
    pub(super) fn whole(date: Date) -> Self {
        Self { year: Some(date.year()), ..Self::default() }
    }

    /// That of three numbers, of which these are the first and the last, with its dates with the year last and first.
    pub(super) fn of(
        [first, last]: [&str; 2],
        mark: char,
        year_last: Option<Date>,
        year_first: Option<Date>,
    ) -> Self {
        let year = year_last.filter(|_| last.len() == 4).map(Date::year);
        let shows_first = match (year_last, year_first) {
            (None, Some(_)) => Some(true),
            (Some(_), None) if last.len() == 2 => Some(false),
            _ => None,
        };
        let both = year_first.filter(|_| year_last.is_some() && last.len() == 2);
        let numbers = both.and_then(|_| Some([first.parse().ok()?, last.parse().ok()?]));
        Self { numbers, year_first: both, points: mark == '.', shows_first, year }
    }

    /// Its date with the year first, where the year may stand first or last.
    pub(super) fn year_first(self) -> Option<Date> {
        self.year_first
    }

    /// Whether points stand between its numbers.
    pub(super) fn has_points(self) -> bool {
        self.points
    }
}

/// What all dates of a column show.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Years {
    /// The first and the last numbers of dates, as bits.
    numbers: [u128; 2],
    /// The lines of the first dates that show the year first and last.
    pub(super) shown_first: Option<u64>,
    pub(super) shown_last: Option<u64>,
    /// The first and the last year of four digits.
    whole: Option<(i16, i16)>,
}

impl Years {
    pub(super) fn learn(&mut self, date: Short, line: u64) {
        match date.shows_first {
            Some(true) => self.shown_first = self.shown_first.or(Some(line)),
            Some(false) => self.shown_last = self.shown_last.or(Some(line)),
            None => {}
        }
        for (bits, number) in self.numbers.iter_mut().zip(date.numbers.into_iter().flatten()) {
            *bits |= 1 << (number % 100);
        }
        if let Some(year) = date.year {
            let (first, last) = self.whole.unwrap_or((year, year));
            self.whole = Some((first.min(year), last.max(year)));
        }
    }

    /// Whether the year stands first; `None` where nothing decides.
    pub(super) fn first(self) -> Option<bool> {
        match (self.shown_first, self.shown_last) {
            (Some(_), None) => Some(true),
            (None, Some(_)) => Some(false),
            (Some(_), Some(_)) => None,
            (None, None) => self.by_whole_years().or_else(|| self.by_counts()),
        }
    }

    /// By the years of four digits: only one of the places gives years within one of them.
    fn by_whole_years(self) -> Option<bool> {
        let (first, last) = self.whole?;
        let fits = |bits: u128| years(bits).all(|year| (first - 1..=last + 1).contains(&year));
        match self.numbers.map(fits) {
            [true, false] => Some(true),
            [false, true] => Some(false),
            _ => None,
        }
    }

    /// A notebook is of few years and of many days. Two days decide where the year is later than the other reading,
    /// otherwise three do (common practice).
    fn by_counts(self) -> Option<bool> {
        let [first, last] = self.numbers;
        let decides = |of_years: u128, of_days: u128| {
            let (few, many) = (of_years.count_ones(), of_days.count_ones());
            let later = years(of_years).min() > years(of_days).max();
            few > 0 && many >= 2 * few && (later || many >= 3 * few)
        };
        match (decides(first, last), decides(last, first)) {
            (true, false) => Some(true),
            (false, true) => Some(false),
            _ => None,
        }
    }
}

/// The years of two digits, of the nearest century.
fn years(bits: u128) -> impl Iterator<Item = i16> {
    let year = |number: i16| if number < 70 { 2000 + number } else { 1900 + number };
    (0_i16..100).filter(move |number| bits >> number & 1 == 1).map(year)
}
