//! Parses two angles of a written position. Decimal degrees, degrees with decimal minutes, degrees
//! with minutes and seconds, with or without marks, packed (`4230S`) or not. Refuses sixty minutes
//! and three angles. Layer: `ingest`.

use super::words::{Axis, Number, Side, Word};

/// One angle as it was written.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Angle {
    /// Degrees without a sign.
    pub(super) size: f64,
    /// The value of one unit in the last digit, degrees.
    pub(super) step: f64,
    /// A written sign: true for minus.
    pub(super) minus: Option<bool>,
    /// The possible hemispheres of the letter; empty without one.
    pub(super) sides: Vec<Side>,
    /// Its axis by label or column.
    pub(super) label: Option<Axis>,
    pub(super) form: Form,
    /// `42.30` for 42 degrees 30 minutes, where that is possible: a slip.
    pub(super) minutes_behind_point: Option<f64>,
}

/// How an angle was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Form {
    Degrees,
    Minutes,
    Seconds,
}

impl Form {
    pub(super) fn words(self) -> &'static str {
        match self {
            Self::Degrees => "decimal degrees",
            Self::Minutes => "degrees and minutes",
            Self::Seconds => "degrees, minutes and seconds",
        }
    }
}

/// The parts that belong to one angle.
#[derive(Clone, Debug, Default)]
struct Group {
    numbers: Vec<(Number, Option<usize>)>,
    sides: Vec<Side>,
    label: Option<Axis>,
}

/// The two angles of a position.
///
/// Which of them is the latitude is not decided here; letters and labels are passed on.
pub(super) fn pair(words: &[Word]) -> Result<[Angle; 2], String> {
    let groups = grouped(words);
    let groups = if groups.len() == 2 { groups } else { halved(groups)? };
    let mut angles = groups.iter().map(angle);
    match (angles.next(), angles.next()) {
        (Some(first), Some(second)) => Ok([first?, second?]),
        _ => Err("it does not have two angles".into()),
    }
}

/// One angle alone, as in a column of latitudes.
pub(super) fn single(words: &[Word]) -> Result<Angle, String> {
    match grouped(words).as_slice() {
        [group] => angle(group),
        [] => Err("there is no number".into()),
        groups => Err(format!("there are {} numbers where one angle is expected", groups.len())),
    }
}

/// Splits the parts where a break, a letter, a label, a sign or a second degree mark says so.
fn grouped(words: &[Word]) -> Vec<Group> {
    let letters_lead = words
        .iter()
        .find(|word| matches!(word, Word::Sides(_) | Word::Number(_)))
        .is_some_and(|word| matches!(word, Word::Sides(_)));
    // with three or more commas the end of the first angle is ambiguous
    let breaks = words.iter().filter(|word| **word == Word::Break).count();
    let mut groups = vec![Group::default()];
    let mut closed = false;
    for (index, word) in words.iter().enumerate() {
        let opens = match word {
            Word::Number(number) => {
                let current = groups.last().map_or(0, |group| group.numbers.len());
                let marked = words.get(index + 1) == Some(&Word::DegreeMark);
                current > 0 && (closed || number.minus.is_some() || marked)
            }
            Word::Label(_) => groups.last().is_some_and(|group| !group.numbers.is_empty()),
            Word::Sides(_) => {
                letters_lead && groups.last().is_some_and(|group| !group.numbers.is_empty())
            }
            _ => false,
        };
        if opens {
            groups.push(Group::default());
        }
        let Some(group) = groups.last_mut() else { continue };
        match word {
            Word::Number(number) => {
                group.numbers.push((*number, None));
                closed = false;
            }
            Word::DegreeMark | Word::MinuteMark | Word::SecondMark => {
                if let Some((_, mark)) = group.numbers.last_mut() {
                    *mark = Some(rank(word));
                }
            }
            Word::Sides(sides) => {
                group.sides.extend_from_slice(sides);
                closed = !letters_lead;
            }
            Word::Label(axis) => group.label = Some(*axis),
            Word::Break => closed |= breaks == 1,
        }
    }
    groups.retain(|group| !group.numbers.is_empty());
    groups
}

fn rank(mark: &Word) -> usize {
    match mark {
        Word::MinuteMark => 1,
        Word::SecondMark => 2,
        _ => 0,
    }
}

/// Without a separator both angles have the same number of parts.
fn halved(groups: Vec<Group>) -> Result<Vec<Group>, String> {
    let count: usize = groups.iter().map(|group| group.numbers.len()).sum();
    if groups.iter().any(|group| !group.sides.is_empty() || group.label.is_some()) {
        return Err(format!("there are {} angles where two are expected", groups.len()));
    }
    if count == 0 || count % 2 == 1 || count > 6 {
        return Err(match count {
            0 => "there is no number".into(),
            1 => "there is one number where two are expected".into(),
            _ => format!("{count} numbers do not form two angles"),
        });
    }
    let numbers: Vec<_> = groups.into_iter().flat_map(|group| group.numbers).collect();
    Ok(numbers
        .chunks(count / 2)
        .map(|half| Group { numbers: half.to_vec(), ..Group::default() })
        .collect())
}

fn angle(group: &Group) -> Result<Angle, String> {
    let parts = match group.numbers.as_slice() {
        [(number, None)] if number.whole_figures >= 4 && !group.sides.is_empty() => {
            unpacked(*number)?
        }
        numbers => placed(numbers)?,
    };
    let (degrees, minutes, seconds) = (parts[0], parts[1], parts[2]);
    let last = parts.iter().rposition(Option::is_some).unwrap_or(0);
    for (part, name) in [(minutes, "minutes"), (seconds, "seconds")] {
        if let Some(number) = part
            && number.size >= 60.0
        {
            return Err(format!("it has {} {name}", number.size));
        }
    }
    if parts[..last].iter().flatten().any(|number| number.decimals > 0) {
        return Err("only the last part of an angle can have decimals".into());
    }
    let size = |part: Option<Number>| part.map_or(0.0, |number| number.size);
    let decimals = parts[last].map_or(0, |number| number.decimals);
    Ok(Angle {
        size: size(degrees) + size(minutes) / 60.0 + size(seconds) / 3600.0,
        step: 10_f64.powi(-decimals) / [1.0, 60.0, 3600.0][last],
        minus: group.numbers.first().and_then(|(number, _)| number.minus),
        sides: group.sides.clone(),
        label: group.label,
        form: [Form::Degrees, Form::Minutes, Form::Seconds][last],
        minutes_behind_point: degrees.filter(|_| last == 0).and_then(behind_point),
    })
}

/// Degrees, minutes and seconds by their marks, otherwise by their order.
fn placed(numbers: &[(Number, Option<usize>)]) -> Result<[Option<Number>; 3], String> {
    let mut parts = [None; 3];
    let mut next = 0;
    for (number, mark) in numbers {
        let place = mark.unwrap_or(next);
        if place < next || place > 2 {
            return Err("its degree, minute and second marks are out of order".into());
        }
        parts[place] = Some(*number);
        next = place + 1;
    }
    if parts[0].is_none() { Err("it has no degrees".into()) } else { Ok(parts) }
}

/// `4230` and `14615.5` are degrees and minutes, `423036` and `1461500` have seconds as well.
fn unpacked(number: Number) -> Result<[Option<Number>; 3], String> {
    if !(4..=7).contains(&number.whole_figures) {
        return Err(format!("{} is not an angle", number.size));
    }
    let whole = number.size.trunc();
    let part = |size: f64, decimals: i32| Some(Number { size, decimals, ..number });
    let fraction = number.size - whole;
    Ok(if number.whole_figures <= 5 {
        [part((whole / 100.0).trunc(), 0), part(whole % 100.0 + fraction, number.decimals), None]
    } else {
        [
            part((whole / 10_000.0).trunc(), 0),
            part((whole / 100.0).trunc() % 100.0, 0),
            part(whole % 100.0 + fraction, number.decimals),
        ]
    })
}

/// The angle of `42.30` if its decimals are minutes.
fn behind_point(number: Number) -> Option<f64> {
    let minutes = (number.size.fract() * 100.0).round();
    (number.decimals == 2 && minutes < 60.0).then(|| number.size.trunc() + minutes / 60.0)
}
