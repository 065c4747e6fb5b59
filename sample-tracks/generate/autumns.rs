//! Generates three autumns of one collector with biased effort: most outings in the April holidays,
//! at weekends and after rain, and most near the car park. Fruiting does not depend on effort: each
//! site yields most in the middle of its season, and the far part yields twice as much.

use jiff::civil::{Date, Weekday, date};

use crate::days::{Folder, marks};
use crate::notebook;
use crate::outing::{Outing, Plan};
use crate::receiver::Receiver;
use crate::rng::Rng;
use crate::society::{SITES, TOVE};
use crate::tracks::{self, RECEIVER};

pub(crate) const YEARS: [i16; 3] = [2023, 2024, 2025];

/// Near the car park.
const NEAR: [&[usize]; 3] = [
    &[0, 1, 2, 3, 4, 5, 6, 21, 22, 23, 25],
    &[25, 24, 23, 22, 21, 5, 4, 3, 2, 1],
    &[24, 0, 1, 2, 4, 6, 20, 21, 22, 23],
];
/// Up on the terrace, the spur and the saddle.
const FAR: [&[usize]; 2] =
    [&[7, 26, 9, 8, 10, 11, 27, 12, 13, 14, 15, 16], &[19, 18, 17, 16, 15, 14, 13, 12, 11, 10, 8]];

/// The expected fruitings found by a search of a site in the middle of its season.
pub(crate) fn fruitings(site: usize) -> f64 {
    if is_far(site) { 3.0 } else { 1.5 }
}

/// Whether a site lies in the part that is seldom searched.
pub(crate) fn is_far(site: usize) -> bool {
    matches!(SITES[site].place, "Moss Terrace" | "Thimble Spur" | "Saddle")
}

/// One autumn: a track for each outing and one notebook, with finds marked as waypoints.
pub(crate) fn autumn(year: i16, first_number: usize) -> Folder {
    let mut folder = Folder {
        name: format!("earlier-years/{year}"),
        tracks: Vec::new(),
        shots: Vec::new(),
        form: notebook::field_labels(),
        lines: Vec::new(),
        truths: Vec::new(),
        camera: None,
    };
    let mut rng = Rng::named(&format!("{year} dates"));
    for when in days(year, &mut rng).into_iter().filter(|day| day.out).map(|day| day.date) {
        let far = rng.even() < 0.2;
        let rounds: &[&[usize]] = if far { &FAR } else { &NEAR };
        let round = rounds[rng.between(0.0, rounds.len() as f64) as usize];
        let (track, outing) = outing(when, round.to_vec(), first_number + folder.lines.len());
        folder.tracks.push((format!("{when}.gpx"), track));
        folder.lines.extend(outing.lines);
        folder.truths.extend(outing.truths);
    }
    folder
}

/// A day of autumn: whether it rained, and whether Tove went out.
struct Day {
    date: Date,
    wet: bool,
    out: bool,
}

/// Whether it rained on a day of the three autumns; none on another day.
pub(crate) fn was_wet(date: Date) -> Option<bool> {
    if !YEARS.contains(&date.year()) {
        return None;
    }
    let mut rng = Rng::named(&format!("{} dates", date.year()));
    days(date.year(), &mut rng).iter().find(|day| day.date == date).map(|day| day.wet)
}

/// The days from the end of summer time to the first days of July.
fn days(year: i16, rng: &mut Rng) -> Vec<Day> {
    let mut days = Vec::new();
    let (mut wet, mut rained) = (false, [false; 4]);
    for day in 0..88 {
        let when = date(year, 4, 8) + jiff::Span::new().days(day);
        // weather is autocorrelated
        wet = rng.even() < if wet { 0.6 } else { 0.2 };
        rained.rotate_left(1);
        rained[3] = wet;
        let weekend = matches!(when.weekday(), Weekday::Saturday | Weekday::Sunday);
        let after_rain = rained[..3].iter().any(|rained| *rained) && !wet;
        let holidays = (f64::from(when.day_of_year()) - 112.0) / 7.0;
        let keen = 0.15
            * (1.0 + 4.0 * (-0.5 * holidays * holidays).exp())
            * if weekend { 2.4 } else { 0.6 }
            * if after_rain { 1.7 } else { 0.8 };
        days.push(Day { date: when, wet, out: rng.even() < keen });
    }
    days
}

fn outing(when: Date, sites: Vec<usize>, first_number: usize) -> (String, Outing) {
    let mut outing = Outing::walk(Plan {
        name: Box::leak(format!("{when} earlier").into_boxed_str()),
        collector: TOVE,
        start: when.at(9, 30, 0, 0),
        sites,
        search: (60.0, 130.0),
        fruiting: Some(fruitings),
        first_number,
        night: false,
    });
    let fixes =
        outing.fixes(&Receiver { every: 20, sigma: 6.0, memory: 120.0, ..Receiver::default() });
    let all: Vec<usize> = (0..outing.lines.len()).collect();
    let marks = marks(&mut outing, &fixes, &all);
    for (line, stop) in outing.lines.iter_mut().zip(&outing.way.stops) {
        SITES[stop.site].place.clone_into(&mut line.place);
    }
    let name = when.to_string();
    let track = tracks::gpx_1_1(RECEIVER, &name, &fixes, &marks, |second| outing.instant(second));
    (track, outing)
}
