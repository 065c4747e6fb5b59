//! Parses lengths: `412 m`, `1,350 ft`, `ca 400-420 m a.s.l.`. Decimal and thousands marks are
//! decided by the whole column, the unit by the cell, then by the heading, then by most cells. Refuses
//! other texts, and ambiguous ones with both readings. Layer: `ingest`.

use super::about;
use crate::model::{DigitMark, ElevationManner, ElevationReading, ElevationUnit};
use crate::units::Metres;

/// The international foot, exact by definition (1959).
const FOOT: f64 = 0.3048;
/// No elevation and no useful uncertainty is more, metres.
const MOST: f64 = 9_000.0;
/// The longest run of digits and marks of a length.
const LONGEST: usize = 14;

/// A unit of length.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Unit {
    Metre,
    Foot,
    Kilometre,
}

impl Unit {
    fn metres(self) -> f64 {
        match self {
            Self::Metre => 1.0,
            Self::Foot => FOOT,
            Self::Kilometre => 1000.0,
        }
    }

    fn symbol(self) -> &'static str {
        match self {
            Self::Metre => "m",
            Self::Foot => "ft",
            Self::Kilometre => "km",
        }
    }

    /// The unit that a word means, in the larger European languages.
    pub(super) fn of(word: &str) -> Option<Self> {
        let bare: String = word.chars().filter(|c| !c.is_whitespace() && *c != '.').collect();
        let bare = bare.to_lowercase();
        let above_sea = [
            "asl",
            "abovesealevel",
            "amsl",
            "\u{fc}m",
            "\u{fc}dm",
            "\u{fc}nn",
            "\u{fc}nhn",
            "abovesea",
            "nadmorem",
            "nadmo\u{159}em",
            "nadmorzem",
            "nadpoziomemmorza",
            "\u{f6}verhavet",
            "overhavet",
            "overhavetsoverflade",
            "au-dessusdelamer",
            "sopraillivellodelmare",
            "sullivellodelmare",
            "sobreelniveldelmar",
            "acimadon\u{ed}veldomar",
            "bovenzeeniveau",
            "\u{fc}bermeer",
            "\u{fc}berdemmeer",
            "py",
            "mpy",
            "npm",
            "nm",
            "snm",
            "slm",
            "oh",
            "\u{f6}h",
            "nap",
        ];
        let word = above_sea
            .into_iter()
            .find_map(|end| bare.strip_suffix(end).filter(|unit| *unit == "m" || end.len() > 2))
            .unwrap_or(&bare);
        Some(match word {
            "m" | "metre" | "metres" | "meter" | "meters" | "m\u{e8}tre" | "m\u{e8}tres"
            | "metro" | "metros" | "metri" | "metr\u{f3}w" | "metr\u{16f}" | "metri\u{e4}" => {
                Self::Metre
            }
            "ft" | "feet" | "foot" | "'" | "\u{2032}" | "\u{2019}" | "fuss" | "fu\u{df}"
            | "pied" | "pieds" | "pies" | "p\u{e9}s" | "piedi" | "voet" => Self::Foot,
            "km" => Self::Kilometre,
            _ => return None,
        })
    }
}

/// The quantity of a column; they differ in the precision of large values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Quantity {
    Elevation,
    Uncertainty,
}

/// The meaning of a mark between digits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Role {
    Decimal,
    Thousands,
}

const MARKS: [char; 2] = ['.', ','];

/// The evidence of one column for its unit and marks.
#[derive(Clone, Copy, Debug)]
pub(super) struct Habit {
    unit: Option<Unit>,
    /// Whether the heading names the unit.
    in_heading: bool,
    /// Whether cells without a unit may be in feet.
    feet: bool,
    quantity: Quantity,
    /// The meaning of point and comma where a number alone is ambiguous.
    roles: [Option<Role>; 2],
}

/// Why a cell gives no length.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Refusal {
    NoLength,
    /// Two readings: with the mark before decimals, and before thousands.
    Open(String, String),
}

/// A length, or a range of them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Range {
    pub(super) low: Metres,
    pub(super) high: Metres,
}

impl Range {
    fn of(first: f64, second: f64, unit: Unit) -> Self {
        // a tenth of a millimetre: conversions leave no digits that nobody wrote
        let metres = |value: f64| Metres((value * unit.metres() * 1e4).round() / 1e4);
        Self { low: metres(first.min(second)), high: metres(first.max(second)) }
    }
}

/// A number as written, before thousands and decimals are separated.
#[derive(Clone, Debug, PartialEq)]
struct Number {
    negative: bool,
    /// Figures, points and commas.
    text: String,
    /// Whether spaces or apostrophes separated its thousands.
    parted: bool,
}

/// A parsed cell.
struct Cell {
    first: Number,
    second: Option<Number>,
    unit: Option<Unit>,
}

impl Habit {
    /// Learns from all cells of a column. `feet`: whether a cell without a unit may be in feet where neither the
    /// heading nor most cells name one; beside cells in feet it always may.
    pub(super) fn of<'c>(
        cells: impl Iterator<Item = &'c str> + Clone,
        unit: Option<Unit>,
        quantity: Quantity,
        feet: bool,
    ) -> Self {
        let in_heading = unit.is_some();
        let of_cells = UnitsOfCells::of(cells.clone());
        let unit = unit.or_else(|| of_cells.of_most());
        let feet = unit.is_none() && (feet || of_cells.feet > 0 && quantity == Quantity::Elevation);
        let mut habit = Self { unit, in_heading, feet, quantity, roles: [None, None] };
        let (mut decimal, mut thousands, mut hundreds) = ([false; 2], [false; 2], false);
        for cell in cells.filter_map(taken_apart) {
            let unit = habit.unit_of(&cell);
            for number in std::iter::once(&cell.first).chain(&cell.second) {
                hundreds |= number.text.len() == 3 && !number.text.contains(MARKS);
                for (place, mark) in MARKS.into_iter().enumerate() {
                    match number.shows(mark, unit, quantity) {
                        Some(Role::Decimal) => decimal[place] = true,
                        Some(Role::Thousands) => thousands[place] = true,
                        None => {}
                    }
                }
            }
        }
        for place in 0..2 {
            let other = 1 - place;
            habit.roles[place] = match (decimal[place], thousands[place]) {
                (true, false) => Some(Role::Decimal),
                (false, true) => Some(Role::Thousands),
                (true, true) => None,
                // where one mark separates decimals, the other separates thousands
                (false, false) => match (decimal[other], thousands[other]) {
                    (true, false) => Some(Role::Thousands),
                    (false, true) => Some(Role::Decimal),
                    // 980 beside 1.120: whole metres
                    _ => hundreds.then_some(Role::Thousands),
                },
            };
        }
        habit
    }

    fn unit_of(self, cell: &Cell) -> Unit {
        cell.unit.or(self.unit).unwrap_or(Unit::Metre)
    }

    /// Reads a length or a range of lengths.
    pub(super) fn read(self, cell: &str) -> Result<Range, Refusal> {
        let cell = taken_apart(cell).ok_or(Refusal::NoLength)?;
        self.range(&cell, self.unit_of(&cell))
    }

    fn range(self, cell: &Cell, unit: Unit) -> Result<Range, Refusal> {
        let first = self.value(&cell.first, unit)?;
        let second = cell.second.as_ref().map_or(Ok(first), |number| self.value(number, unit))?;
        Ok(Range::of(first, second, unit))
    }

    /// Every way to read a length whose unit or marks the table leaves open; one where it leaves nothing open.
    pub(super) fn readings(self, cell: &str) -> Result<Vec<ElevationReading>, Refusal> {
        let cell = taken_apart(cell).ok_or(Refusal::NoLength)?;
        let units: &[(Unit, Option<ElevationUnit>)] = if self.feet && cell.unit.is_none() {
            &[(Unit::Metre, Some(ElevationUnit::Metre)), (Unit::Foot, Some(ElevationUnit::Foot))]
        } else {
            &[(self.unit_of(&cell), None)]
        };
        let marks = [(Role::Decimal, DigitMark::Decimals), (Role::Thousands, DigitMark::Thousands)];
        let mut readings = Vec::new();
        for &(unit, assumed) in units {
            let mut add = |range: Range, mark| {
                let manner = ElevationManner { unit: assumed, mark };
                readings.push(ElevationReading { manner, low: range.low, high: range.high });
            };
            match self.range(&cell, unit) {
                Ok(range) => add(range, None),
                Err(Refusal::NoLength) => return Err(Refusal::NoLength),
                Err(open @ Refusal::Open(..)) => {
                    for (role, mark) in marks {
                        let decided = Self { roles: [Some(role); 2], ..self };
                        match decided.range(&cell, unit) {
                            Ok(range) => add(range, Some(mark)),
                            // it cannot be read in one of the two ways
                            Err(_) => return Err(open),
                        }
                    }
                }
            }
        }
        Ok(readings)
    }

    /// The unit of the heading, where a text has none of its own.
    pub(super) fn unit_of_heading(self, cell: &str) -> Option<&'static str> {
        let unit = self.unit.filter(|_| self.in_heading)?;
        taken_apart(cell).filter(|cell| cell.unit.is_none())?;
        Some(unit.symbol())
    }

    fn value(self, number: &Number, unit: Unit) -> Result<f64, Refusal> {
        let mut decimal = None;
        for (place, mark) in MARKS.into_iter().enumerate() {
            if !number.text.contains(mark) {
                continue;
            }
            match number.shows(mark, unit, self.quantity).or(self.roles[place]) {
                Some(Role::Decimal) => decimal = Some(mark),
                Some(Role::Thousands) => {}
                None => {
                    let shown = |decimal| {
                        let value = number.read(decimal).unwrap_or_default();
                        format!("{value} {}", unit.symbol())
                    };
                    return Err(Refusal::Open(shown(Some(mark)), shown(None)));
                }
            }
        }
        number.read(decimal).ok_or(Refusal::NoLength)
    }
}

impl Number {
    /// The meaning of a mark in this number, where the number alone decides it.
    fn shows(&self, mark: char, unit: Unit, quantity: Quantity) -> Option<Role> {
        let last = self.text.rfind(mark)?;
        let other = self.text.rfind(MARKS.into_iter().find(|other| *other != mark)?);
        if let Some(other) = other {
            return Some(if last > other { Role::Decimal } else { Role::Thousands });
        }
        if self.text.matches(mark).count() > 1 {
            return Some(Role::Thousands);
        }
        let (before, behind) = (&self.text[..last], &self.text[last + 1..]);
        let thousands = behind.len() == 3 && (1..=3).contains(&before.len());
        if !thousands || before.starts_with('0') || self.parted {
            return Some(Role::Decimal);
        }
        if self.read(None).is_some_and(|value| value * unit.metres() > MOST) {
            return Some(Role::Decimal);
        }
        match quantity {
            Quantity::Uncertainty if !behind.ends_with("00") => Some(Role::Decimal),
            // thousandths of a foot are not written
            Quantity::Elevation if unit == Unit::Foot && mark == ',' => Some(Role::Thousands),
            _ => None,
        }
    }

    /// The value with this mark before the decimals, the others between thousands.
    fn read(&self, decimal: Option<char>) -> Option<f64> {
        let (whole, behind) = match decimal {
            Some(mark) => self.text.split_once(mark)?,
            None => (self.text.as_str(), ""),
        };
        let mut groups = whole.split(MARKS);
        let first = groups.next().unwrap_or_default();
        let in_threes = groups.all(|group| group.len() == 3);
        let grouped = whole.contains(MARKS);
        if !in_threes || (grouped && !(1..=3).contains(&first.len())) || behind.contains(MARKS) {
            return None;
        }
        let figures: String = whole.chars().filter(char::is_ascii_digit).collect();
        let size: f64 = format!("{figures}.{behind}0").parse().ok()?;
        Some(if self.negative { -size } else { size })
    }
}

/// How many cells of a column name a unit.
#[derive(Default)]
struct UnitsOfCells {
    bare: usize,
    metres: usize,
    feet: usize,
    kilometres: usize,
}

impl UnitsOfCells {
    fn of<'c>(cells: impl Iterator<Item = &'c str>) -> Self {
        let mut counts = Self::default();
        for cell in cells.filter_map(taken_apart) {
            match cell.unit {
                None => counts.bare += 1,
                Some(Unit::Metre) => counts.metres += 1,
                Some(Unit::Foot) => counts.feet += 1,
                Some(Unit::Kilometre) => counts.kilometres += 1,
            }
        }
        counts
    }

    /// The unit that more than half of the cells name, and no cell another one.
    fn of_most(&self) -> Option<Unit> {
        let of_one =
            |unit, own: usize, others: usize| (own > self.bare && others == 0).then_some(unit);
        of_one(Unit::Metre, self.metres, self.feet + self.kilometres)
            .or_else(|| of_one(Unit::Foot, self.feet, self.metres + self.kilometres))
            .or_else(|| of_one(Unit::Kilometre, self.kilometres, self.metres + self.feet))
    }
}

fn taken_apart(cell: &str) -> Option<Cell> {
    let text = cell.trim().to_lowercase();
    let (text, _) = about::without(&text);
    // German, where a time with the word is exact
    let text = text.strip_prefix("um ").unwrap_or(text);
    let (first, rest) = number(text)?;
    let Some((behind_first, next)) = to_next(rest) else {
        return Some(Cell { first, second: None, unit: unit_behind(rest).ok()? });
    };
    let first_unit = unit_behind(behind_first).ok()?;
    let (second, rest) = number(next)?;
    let unit = unit_behind(rest).ok()?;
    // `420 m - 450 m`, not `420 m - 450 ft`
    let agree = first_unit.is_none_or(|first| unit.is_none_or(|unit| unit == first));
    agree.then(|| Cell { first, second: Some(second), unit: unit.or(first_unit) })
}

/// What stands before and behind the mark of a range.
fn to_next(rest: &str) -> Option<(&str, &str)> {
    const WORDS: [&str; 5] = [" to ", " bis ", " a ", " \u{e0} ", " til "];
    const MARKS: [&str; 5] = ["-", "\u{2013}", "\u{2014}", "\u{2212}", "/"];
    let parted = |mark: &&str| {
        let at = rest.find(mark)?;
        Some((&rest[..at], rest[at + mark.len()..].trim_start()))
    };
    let (before, behind) = WORDS.iter().chain(&MARKS).find_map(parted)?;
    let number = behind.strip_prefix(['-', '\u{2212}']).unwrap_or(behind);
    number.starts_with(|c: char| c.is_ascii_digit()).then_some((before, behind))
}

/// The unit behind a number, if there is one; an error where something else stands there.
fn unit_behind(rest: &str) -> Result<Option<Unit>, Refusal> {
    let (rest, _) = about::without(rest);
    if rest.trim().is_empty() {
        return Ok(None);
    }
    Unit::of(rest).map(Some).ok_or(Refusal::NoLength)
}

/// A run of digits and marks; a space or an apostrophe belongs to it before three digits.
fn number(text: &str) -> Option<(Number, &str)> {
    let sign = text.strip_prefix('-').or(text.strip_prefix('\u{2212}'));
    let unsigned = sign.unwrap_or(text);
    let (mut kept, mut parted, mut end) = (String::new(), false, 0);
    for (at, c) in unsigned.char_indices() {
        let behind = &unsigned[at + c.len_utf8()..];
        let figures = behind.bytes().take_while(u8::is_ascii_digit).count();
        let digit_before = kept.ends_with(|c: char| c.is_ascii_digit());
        if c.is_ascii_digit() || (MARKS.contains(&c) && figures > 0) {
            kept.push(c);
        } else if is_parting(c) && digit_before && figures == 3 && !kept.contains(MARKS) {
            parted = true;
        } else {
            break;
        }
        end = at + c.len_utf8();
    }
    let fits = kept.len() <= LONGEST && kept.contains(|c: char| c.is_ascii_digit());
    let number = Number { negative: sign.is_some(), text: kept, parted };
    fits.then(|| (number, unsigned[end..].trim_start_matches(MARKS)))
}

fn is_parting(c: char) -> bool {
    matches!(c, ' ' | '\u{a0}' | '\u{202f}' | '\u{2009}' | '\'' | '\u{2019}')
}

#[cfg(test)]
mod tests {
    use super::*;

    fn column(cells: &[&str], unit: Option<Unit>) -> Vec<Result<f64, Refusal>> {
        let habit = Habit::of(cells.iter().copied(), unit, Quantity::Elevation, false);
        let middle = |range: Range| f64::midpoint(range.low.0, range.high.0);
        cells.iter().map(|cell| habit.read(cell).map(middle)).collect()
    }

    fn metres(cell: &str) -> Result<f64, Refusal> {
        column(&[cell], None).remove(0)
    }

    #[test]
    fn lengths_in_the_ways_they_are_written() {
        for (cell, expected) in [
            ("412", 412.0),
            ("412 m a.s.l.", 412.0),
            ("412 m \u{fc}. M.", 412.0),
            ("412 m n.p.m.", 412.0),
            ("412 msnm", 412.0),
            ("412 mpy", 412.0),
            ("412 m mpy", 412.0),
            ("412 m nad mo\u{159}em", 412.0),
            ("412 m \u{f6}ver havet", 412.0),
            ("412 m \u{fc}ber dem Meer", 412.0),
            ("412,5 m", 412.5),
            ("412.25", 412.25),
            ("1 350 m", 1350.0),
            ("1'350 m", 1350.0),
            ("1\u{202f}350,5", 1350.5),
            ("1.350,5 m", 1350.5),
            ("1,350.5 m", 1350.5),
            ("0.512 km", 512.0),
            ("412.123 m", 412.123),
            ("1,350 ft", 411.48),
            ("1350'", 411.48),
            ("ca 400-420 m", 410.0),
            ("\u{b1}5 m", 5.0),
            ("-3 m", -3.0),
        ] {
            let read = metres(cell).unwrap_or_else(|refusal| panic!("{cell}: {refusal:?}"));
            assert!((read - expected).abs() < 1e-9, "{cell}: {read}");
        }
        for cell in ["", "high", "4 bags", "1.2.3", "400 m 5", "1,35,0.5", "9999999999999999"] {
            assert_eq!(metres(cell), Err(Refusal::NoLength), "{cell}");
        }
    }

    #[test]
    fn the_column_tells_thousands_from_decimals() {
        let read = |cells: &[&str]| -> Vec<f64> {
            column(cells, None).into_iter().map(Result::unwrap).collect()
        };
        assert_eq!(read(&["1.120", "980,5"]), [1120.0, 980.5]);
        assert_eq!(read(&["1.120", "980"]), [1120.0, 980.0]);
        assert_eq!(read(&["1,120", "980.5"]), [1120.0, 980.5]);
        assert_eq!(read(&["1.120", "14.2"]), [1.12, 14.2]);
        assert_eq!(read(&["1.120", "12.345"]), [1.12, 12.345]);
        let open = Err(Refusal::Open("1.12 m".into(), "1120 m".into()));
        assert_eq!(column(&["1.120"], None), std::slice::from_ref(&open));
        // the column is inconsistent
        assert_eq!(column(&["1.120", "14.2", "1.130,5"], None)[0], open);
    }

    #[test]
    fn the_unit_of_the_heading_counts_unless_the_cell_has_one() {
        let read = column(&["3600", "3,550", "1100 m"], Some(Unit::Foot));
        let expected = [1097.28, 1082.04, 1100.0];
        for (read, expected) in read.into_iter().zip(expected) {
            assert!((read.unwrap() - expected).abs() < 1e-9);
        }
    }

    #[test]
    fn an_uncertainty_of_three_decimals_is_read() {
        let read = |cell: &str| {
            Habit::of([cell].into_iter(), None, Quantity::Uncertainty, false).read(cell)
        };
        assert_eq!(read("4.288").map(|range| range.high), Ok(Metres(4.288)));
        assert_eq!(read("1.000"), Err(Refusal::Open("1 m".into(), "1000 m".into())));
    }

    #[test]
    fn both_ends_of_a_range_are_kept() {
        let read = |cell: &str| {
            let habit = Habit::of([cell].into_iter(), None, Quantity::Elevation, false);
            habit.read(cell).map(|range| (range.low.0, range.high.0))
        };
        for cell in [
            "420-450 m",
            "420 \u{2013} 450 m",
            "420 m - 450 m",
            "420 to 450 m",
            "450-420 m",
            "ca. 420/450 m",
            "um 420-450",
        ] {
            assert_eq!(read(cell), Ok((420.0, 450.0)), "{cell}");
        }
        assert_eq!(read("-430--420.5 m"), Ok((-430.0, -420.5)));
        assert_eq!(read("1400-1480 ft"), Ok((426.72, 451.104)));
        assert_eq!(read("1350 ft"), Ok((411.48, 411.48)));
        for cell in ["420 m - 450 ft", "420-", "420-high"] {
            assert_eq!(read(cell), Err(Refusal::NoLength), "{cell}");
        }
    }

    #[test]
    fn one_cell_in_feet_leaves_the_others_open_under_any_heading() {
        let habit = |cells: &[&str], unit| {
            Habit::of(cells.iter().copied(), unit, Quantity::Elevation, false)
        };
        let lows = |habit: Habit| -> Vec<f64> {
            habit.readings("712").unwrap().iter().map(|reading| reading.low.0).collect()
        };
        let one = habit(&["712", "2340 ft", "715", "710"], None);
        assert_eq!(lows(one), [712.0, 217.0176]);
        assert_eq!(one.unit_of_heading("712"), None);
        assert_eq!(lows(habit(&["712", "715 m", "710"], None)), [712.0]);
        let most = habit(&["712", "2340 ft", "2346 ft"], None);
        assert_eq!((lows(most), most.unit_of_heading("712")), (vec![217.0176], None));
        let stated = habit(&["712", "2340 ft"], Some(Unit::Metre));
        assert_eq!((lows(stated), stated.unit_of_heading("712")), (vec![712.0], Some("m")));
    }

    #[test]
    fn a_unit_that_no_cell_and_no_heading_names_is_open() {
        let read = |cells: &[&str], cell: &str| {
            let habit = Habit::of(cells.iter().copied(), None, Quantity::Elevation, true);
            let low = |reading: &ElevationReading| reading.low.0;
            habit.readings(cell).unwrap().iter().map(low).collect::<Vec<_>>()
        };
        assert_eq!(read(&["1350", "1400"], "1350"), [1350.0, 411.48]);
        assert_eq!(read(&["1350", "1400 ft"], "1350"), [1350.0, 411.48]);
        assert_eq!(read(&["1350", "1400 ft", "1420 ft"], "1350"), [411.48]);
        assert_eq!(read(&["1350", "1400 ft"], "1400 ft"), [426.72]);
        assert_eq!(read(&["1350", "1400 ft", "400 m"], "1350"), [1350.0, 411.48]);
        assert_eq!(read(&["1.350"], "1.350"), [1.35, 1350.0, 0.4115, 411.48]);
        assert_eq!(read(&["1350"], "412 m"), [412.0]);
    }
}
