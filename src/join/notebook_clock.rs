//! Detects a notebook whose times are all off by the same amount: kept in UTC, in winter time, by a watch of
//! another zone. The evidence is whether notes fall at stops, within the track, and at the times of the
//! photographs of their finds. Layer: `join`.

mod course;
mod watch;

use crate::model::{NotebookNote, UnlocatedReason};
use crate::units::Seconds;

use super::day::{Scene, SetCamera, reading};
use super::moment::median;
pub(crate) use course::{Course as NoteCourse, Habit};
pub(crate) use watch::{Watch, prior as watch_prior};

/// Fewer notes give no information.
const FEWEST: usize = 4;
/// More notes than this add no information.
const ENOUGH: usize = 80;
/// Notes nearer to each other than this are of one stop, seconds.
const ONE_STOP: f64 = 75.0;
/// What a log likelihood is worth: people are less regular than the model.
const WORTH: f64 = 0.7;
/// The probability that a notebook is kept in UTC, an hour off, and off by any other half hour (common
/// practice).
const IN_UTC: f64 = 0.03;
const AN_HOUR: f64 = 0.01;
const ANY_OTHER: f64 = 0.000_3;
/// The same for an offset that photographs show.
const PICTURED: f64 = 0.003;
/// Written times place finds only where correct ones are at least so probable (project choice: an hour's walk is
/// kilometres).
const ACCEPTED: f64 = 0.9;
/// Below this probability of correct times the offset is stated as a fact.
const BEYOND_DOUBT: f64 = 0.05;
/// Outings longer than this are not examined, seconds.
const LONGEST: f64 = 43_200.0;
/// The largest offset, half hours.
const MOST: i32 = 24;
/// How long after a photograph its note is written, give or take, seconds.
const HABIT: f64 = 240.0;
/// The share of notes that do not belong to their photographs.
const STRAY: f64 = 0.1;

/// A notebook that is off as a whole.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct NotebookOffset {
    /// Written times less true times; the most probable.
    pub(crate) ahead: Seconds,
    /// The probability of this offset.
    probability: f64,
    /// The probability that the times are correct.
    correct: f64,
    notes: usize,
    in_utc: bool,
    /// The offset of the zone from UTC, seconds.
    zone: f64,
    /// Whether times of the track state no zone.
    zone_assumed: bool,
}

/// The written times of a day: when, and half of the step; and how far those of finds with photographs
/// are ahead of these.
struct Notes {
    times: Vec<(f64, f64)>,
    ahead: Vec<f64>,
}

/// The clock of a day's notebook.
pub(crate) struct NotebookClock {
    /// Where its times are off as a whole beyond reasonable doubt; then they place no find.
    pub(crate) offset: Option<NotebookOffset>,
    /// How far its watch is off, in minutes.
    pub(crate) watch: Watch,
}

impl NotebookClock {
    pub(crate) fn of(scene: &Scene, cameras: &[SetCamera]) -> Self {
        Self::examined(scene, cameras).unwrap_or(Self { offset: None, watch: Watch::correct() })
    }

    fn examined(scene: &Scene, cameras: &[SetCamera]) -> Option<Self> {
        let (start, end) = scene.span?;
        let seconds = |instant| scene.estimated_track.origin.seconds(instant);
        let span = (seconds(start), seconds(end));
        let notes = Notes::of(scene, cameras, f64::midpoint(span.0, span.1));
        let course = NoteCourse::of(&scene.estimated_track.activities)?;
        let zone = f64::from(scene.gathered.zone.zone.to_offset(start).seconds());
        // an outing of days has times of every hour
        let whole = span.1 - span.0 <= LONGEST && notes.times.len() >= FEWEST;
        let offset = if whole { notes.offset(&course, zone) } else { None };
        let zone_assumed = scene.gathered.zone_assumed;
        let offset = offset.map(|offset| NotebookOffset { zone_assumed, ..offset });
        let watch = notes.watch(&course).unwrap_or_else(Watch::correct);
        Some(Self { offset, watch })
    }

    /// What is reported once for all times.
    pub(crate) fn report(&self) -> Option<NotebookNote> {
        match &self.offset {
            Some(offset) => Some(offset.report()),
            None => self.watch.report(),
        }
    }
}

/// How far a notebook may be ahead, with the probability; the first is none but for its watch.
fn offsets(zone: f64) -> Vec<(f64, f64)> {
    let mut all = vec![(0.0, 1.0)];
    for half_hours in -MOST..=MOST {
        let ahead = 1_800.0 * f64::from(half_hours);
        let prior = match half_hours {
            0 => continue,
            _ if (ahead + zone).abs() < 1.0 => IN_UTC,
            -2 | 2 => AN_HOUR,
            _ => ANY_OTHER,
        };
        all.push((ahead, prior));
    }
    if zone.abs() > 1.0 && zone % 1_800.0 != 0.0 {
        all.push((-zone, IN_UTC));
    }
    all
}

impl NotebookOffset {
    /// Why a written time is not used.
    pub(crate) fn reason(&self) -> UnlocatedReason {
        UnlocatedReason::WrittenTimesOff { ahead: self.ahead, sure: self.is_sure() }
    }

    /// Whether correct times are out of the question.
    fn is_sure(&self) -> bool {
        self.correct < BEYOND_DOUBT
    }

    /// The one finding on all of them.
    pub(crate) fn report(&self) -> NotebookNote {
        NotebookNote::NotebookOff {
            ahead: self.ahead,
            sure: self.is_sure(),
            probability: self.probability,
            probability_correct: self.correct,
            written_times: self.notes,
            in_utc: self.in_utc,
            zone_offset: Seconds(self.zone),
            track_zone_assumed: self.zone_assumed,
        }
    }
}

impl Notes {
    fn of(scene: &Scene, cameras: &[SetCamera], middle: f64) -> Self {
        // a wrong date is another matter, reported elsewhere
        let of_the_day =
            |time: f64, about: f64| time - 86_400.0 * ((time - about) / 86_400.0).round();
        let mut notes = Self { times: Vec::new(), ahead: Vec::new() };
        for (filed, claimed) in scene.gathered.records.iter().zip(&scene.claims.photos) {
            // a time with its own offset is no time of the notebook's zone
            if filed.record.time_offset().is_some() {
                continue;
            }
            let Some(read) = scene.written(filed) else {
                continue;
            };
            let time = scene.estimated_track.origin.seconds(read.instant);
            let time = of_the_day(time, middle);
            notes.times.push((time, read.step.0));
            let pictured = claimed.iter().find_map(|photo| {
                let camera = cameras.iter().find(|camera| camera.photos.contains(photo))?;
                Some(reading(scene, *photo)? - camera.offset()?)
            });
            notes.ahead.extend(pictured.map(|pictured| of_the_day(time, pictured) - pictured));
        }
        notes.times.sort_by(|a, b| a.0.total_cmp(&b.0));
        notes.times.dedup_by(|later, kept| later.0 - kept.0 < ONE_STOP);
        notes.times.truncate(ENOUGH);
        notes.ahead.truncate(ENOUGH);
        notes
    }

    /// The most probable offset of the notebook, where it is not correct beyond reasonable doubt.
    fn offset(&self, course: &NoteCourse, zone: f64) -> Option<NotebookOffset> {
        let mut all = offsets(zone);
        let pictured = median(&mut self.ahead.clone());
        if let Some(middle) = pictured.filter(|ahead| ahead.abs() > watch::REACH) {
            all.push((60.0 * (middle / 60.0).round(), PICTURED));
        }
        let watch = watch::prior();
        let log = |&(ahead, prior): &(f64, f64)| {
            let further = |&(further, log): &(f64, f64)| log + self.log(course, ahead + further);
            prior.ln() + watch.iter().map(further).fold(f64::NEG_INFINITY, sum_of_logs)
        };
        let logs: Vec<f64> = all.iter().map(log).collect();
        let total = logs.iter().copied().fold(f64::NEG_INFINITY, sum_of_logs);
        let probability = |k: usize| (logs[k] - total).exp();
        let best = (1..logs.len()).max_by(|&a, &b| logs[a].total_cmp(&logs[b]))?;
        let offset = NotebookOffset {
            ahead: Seconds(all[best].0),
            probability: probability(best),
            correct: probability(0),
            notes: self.times.len(),
            in_utc: (all[best].0 + zone).abs() < 1.0,
            zone,
            zone_assumed: false,
        };
        (offset.correct < ACCEPTED).then_some(offset)
    }

    /// The posterior of the watch, of times to the minute: a time to the second is of a device.
    fn watch(mut self, course: &NoteCourse) -> Option<Watch> {
        self.times.retain(|note| note.1 > 1.0);
        let notes = self.times.len();
        (notes > 0).then(|| Watch::of(notes, |ahead| self.log(course, ahead)))
    }

    /// The log likelihood of a notebook that is so far ahead, weighted.
    fn log(&self, course: &NoteCourse, ahead: f64) -> f64 {
        let stops = course.log(&self.times, ahead);
        let pictured = |own: &f64| {
            let off = (own - ahead) / HABIT;
            ((1.0 - STRAY) * (-0.5 * off * off).exp() + STRAY * 0.05).ln()
        };
        // times beside photographs were used for the camera's clock, too
        WORTH * (stops + 0.5 * self.ahead.iter().map(pictured).sum::<f64>())
    }
}

fn sum_of_logs(a: f64, b: f64) -> f64 {
    let top = a.max(b);
    if top == f64::NEG_INFINITY { top } else { top + ((a - top).exp() + (b - top).exp()).ln() }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Stops of two minutes, nowhere at equal distances.
    fn day() -> (NoteCourse, Vec<f64>) {
        let starts: Vec<f64> =
            (0..14).map(|k| 400.0 + 900.0 * f64::from(k) + f64::from(k * k * 37 % 410)).collect();
        let stopped =
            |second: f64| starts.iter().any(|start| (0.0..120.0).contains(&(second - start)));
        let seconds: Vec<f32> = (0..14_400)
            .map(|second| if stopped(f64::from(second)) { 0.97 } else { 0.02 })
            .collect();
        (NoteCourse::of_seconds(0.0, &seconds), starts)
    }

    /// The offset found of a day of four hours.
    fn found(notes: &Notes, course: &NoteCourse) -> Option<f64> {
        Some(notes.offset(course, 7_200.0)?.ahead.0)
    }

    #[test]
    fn offset_of_a_whole_notebook_is_found_and_a_correct_one_kept() {
        let (course, stops) = day();
        for ahead in [0.0, -7_200.0, 3_600.0, -3_600.0, 7_200.0] {
            let times = stops.iter().map(|stop| (stop + 80.0 + ahead, 60.0)).collect();
            let notes = Notes { times, ahead: Vec::new() };
            let found = found(&notes, &course);
            assert_eq!(found, Some(ahead).filter(|ahead| *ahead != 0.0), "{ahead}");
        }
    }

    #[test]
    fn few_notes_an_hour_early_on_the_way_to_the_first_stop_are_not_used() {
        // an hour's walk, then six stops
        let starts: Vec<f64> = (0..6).map(|k| 3_900.0 + 520.0 * f64::from(k)).collect();
        let stopped =
            |second: f64| starts.iter().any(|start| (0.0..120.0).contains(&(second - start)));
        let seconds: Vec<f32> =
            (0..9_000).map(|second| if stopped(f64::from(second)) { 0.95 } else { 0.02 }).collect();
        let course = NoteCourse::of_seconds(0.0, &seconds);
        let notes = |ahead: f64| {
            let times = starts.iter().map(|stop| (stop + 70.0 + ahead, 60.0)).collect();
            Notes { times, ahead: Vec::new() }
        };
        let early = notes(-3_600.0).offset(&course, 7_200.0).unwrap();
        assert_eq!(early.ahead, Seconds(-3_600.0));
        assert!(matches!(early.report(), NotebookNote::NotebookOff { written_times: 6, .. }));
        assert!(notes(0.0).offset(&course, 7_200.0).is_none());
    }

    #[test]
    fn a_receiver_that_was_switched_off_early_is_no_offset() {
        let (course, stops) = day();
        let mut times: Vec<(f64, f64)> =
            stops.iter().take(9).map(|stop| (stop + 60.0, 60.0)).collect();
        times.extend((0..3).map(|k| (15_600.0 + 700.0 * f64::from(k), 60.0)));
        let notes = Notes { times, ahead: Vec::new() };
        assert_eq!(found(&notes, &course), None);
    }

    #[test]
    fn a_watch_that_is_minutes_off_is_found_by_the_stops() {
        let (course, stops) = day();
        for ahead in [-1_500.0, -700.0, 420.0, 1_260.0, 2_520.0] {
            let times = stops.iter().map(|stop| (stop + 80.0 + ahead, 60.0)).collect();
            let notes = Notes { times, ahead: Vec::new() };
            assert_eq!(found(&notes, &course), None);
            let watch = notes.watch(&course).unwrap();
            let (found, within) = watch.ahead();
            assert!((found.0 - ahead).abs() < 90.0, "{found} of {ahead}");
            assert!(within.0 < 200.0, "{ahead}: {within}");
        }
    }

    #[test]
    fn times_to_the_second_are_of_a_correct_watch() {
        let (course, stops) = day();
        let times = stops.iter().map(|stop| (stop + 980.0, 1.0)).collect();
        assert!(Notes { times, ahead: Vec::new() }.watch(&course).is_none());
    }
}
