//! Detects a notebook whose times are all off by the same amount: kept in UTC, in winter time, by a watch of
//! another zone. The evidence is whether notes fall at stops, within the track, and at the times of the
//! photographs of their finds. Layer: `join`.

use crate::error::Error;
use crate::units::Seconds;

use super::day::{Scene, SetCamera, reading};
use super::moment::median;
use super::written;

/// Fewer notes give no information.
const FEWEST: usize = 4;
/// More notes than this add no information.
const ENOUGH: usize = 80;
/// Notes nearer to each other than this are of one stop, seconds.
const ONE_STOP: f64 = 75.0;
/// The share of notes at stops or right after (common practice).
const AT_STOPS: f64 = 0.85;
/// The weight of a note beyond the track, as a share of one at any time of it.
const BEYOND: f64 = 0.1;
/// What a log likelihood is worth: people are less regular than the model.
const WORTH: f64 = 0.7;
/// The probability that a notebook is kept in UTC, an hour off, and off by any other half hour (common
/// practice).
const IN_UTC: f64 = 0.03;
const AN_HOUR: f64 = 0.01;
const ANY_OTHER: f64 = 0.000_3;
/// The same for each two minutes of a watch that is up to half an hour off.
const BY_MINUTES: f64 = 0.000_5;
/// The same for an offset that photographs show.
const PICTURED: f64 = 0.003;
/// How far a correct time may be the right one for the notebook to be accepted.
const ACCEPTED: f64 = 0.05;
/// The same where all times are within the track: then only the stops speak, and people also write while
/// they walk.
const ACCEPTED_WITHIN: f64 = 0.005;
/// Outings longer than this are not examined, seconds.
const LONGEST: f64 = 43_200.0;
/// Times further beyond the track than this leave it, seconds, and the share of them that makes a notebook
/// doubtful.
const BEYOND_BY: f64 = 300.0;
const BEYOND_SHARE: f64 = 0.2;
/// Photographs further from the times of their finds than this, on the median, make it doubtful, seconds.
const PICTURED_BY: f64 = 600.0;
/// The largest offset, half hours.
const MOST: i32 = 24;
/// A watch is further off by so much, and how often, seconds.
const WATCH: [(f64, f64); 5] =
    [(0.0, 0.6), (-45.0, 0.13), (45.0, 0.13), (-110.0, 0.07), (110.0, 0.07)];
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
}

/// The written times of a day: when, and half of the step; and how far those of finds with photographs
/// are ahead of these.
struct Notes {
    times: Vec<(f64, f64)>,
    ahead: Vec<f64>,
}

/// The offset of the day's notebook, where it is not correct beyond reasonable doubt.
pub(crate) fn of(scene: &Scene, cameras: &[SetCamera]) -> Option<NotebookOffset> {
    let (start, end) = scene.span?;
    let seconds = |instant| scene.estimated_track.origin.seconds(instant);
    // an outing of days has times of every hour
    if seconds(end) - seconds(start) > LONGEST {
        return None;
    }
    let notes = Notes::of(scene, cameras, f64::midpoint(seconds(start), seconds(end)));
    if notes.times.len() < FEWEST {
        return None;
    }
    let zone = f64::from(scene.gathered.zone.zone.to_offset(start).seconds());
    let course = Course::of(scene)?;
    let mut all = offsets(zone);
    if let Some(middle) = median(&mut notes.ahead.clone()).filter(|ahead| ahead.abs() > PICTURED_BY)
    {
        all.push((60.0 * (middle / 60.0).round(), PICTURED));
    } else {
        // notes a quarter of an hour beyond the track do not show a wrong watch: the track may have ended
        all.retain(|(ahead, _)| *ahead == 0.0 || ahead.abs() >= 1_800.0);
    }
    let logs: Vec<f64> = all
        .iter()
        .map(|&(ahead, prior): &(f64, f64)| prior.ln() + WORTH * notes.log(&course, ahead))
        .collect();
    let top = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let total: f64 = logs.iter().map(|log| (log - top).exp()).sum();
    let probability = |k: usize| (logs[k] - top).exp() / total;
    let best = (0..logs.len()).max_by(|&a, &b| logs[a].total_cmp(&logs[b]))?;
    let offset = NotebookOffset {
        ahead: Seconds(all[best].0),
        probability: probability(best),
        correct: probability(0),
        notes: notes.times.len(),
        in_utc: (all[best].0 + zone).abs() < 1.0,
        zone,
    };
    let accepted =
        if notes.doubtful((seconds(start), seconds(end))) { ACCEPTED } else { ACCEPTED_WITHIN };
    (offset.correct < accepted && all[best].0.abs() > 1.0).then_some(offset)
}

/// How far a notebook may be ahead, with the probability; the first is none.
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
    let minutes = (-14..=14).filter(|step: &i32| step.abs() > 1);
    all.extend(minutes.map(|step| (120.0 * f64::from(step), BY_MINUTES)));
    if zone.abs() > 1.0 && zone % 1_800.0 != 0.0 {
        all.push((-zone, IN_UTC));
    }
    all
}

impl NotebookOffset {
    /// `about 2 h 00 min behind`.
    fn words(&self) -> String {
        let minutes = (self.ahead.0.abs() / 60.0).round();
        let (hours, rest) = ((minutes / 60.0).floor(), minutes % 60.0);
        let size = if hours < 1.0 {
            format!("{rest:.0} min")
        } else {
            format!("{hours:.0} h {rest:02.0} min")
        };
        let side = if self.ahead.0 < 0.0 { "early" } else { "late" };
        format!("{size} {side}")
    }

    /// Why a written time is not used.
    pub(crate) fn reason(&self) -> String {
        format!("the written times of this day are probably {}, so they are not used", self.words())
    }

    /// The one message on all of them.
    pub(crate) fn report(&self) -> Error {
        let zone = self.zone + self.ahead.0;
        let option = if self.in_utc {
            "if the notebook is kept in UTC, use --zone UTC; else correct the written times"
                .to_owned()
        } else if zone.abs() <= 14.0 * 3_600.0 && zone % 900.0 == 0.0 {
            let minutes = (zone.abs() / 60.0).round();
            let sign = if zone < 0.0 { '-' } else { '+' };
            format!(
                "if the notebook is kept in that zone, use --zone {sign}{:02.0}:{:02.0}; else correct the \
                 written times",
                (minutes / 60.0).floor(),
                minutes % 60.0
            )
        } else {
            "correct the written times".to_owned()
        };
        let utc = if self.in_utc { ", as if kept in UTC" } else { "" };
        Error::input(format!("the notebook is about {}{utc}: its times place no find", self.words()))
            .because(format!(
                "{} written times fit the stops and the photographs with this offset (probability {:.0} %), \
                 with correct times the probability is {}",
                self.notes,
                100.0 * self.probability,
                percent(self.correct)
            ))
            .hint(option)
    }
}

fn percent(probability: f64) -> String {
    if probability < 0.001 {
        "below 0.1 %".to_owned()
    } else {
        format!("{:.1} %", 100.0 * probability)
    }
}

impl Notes {
    /// Whether the times leave the track, or the photographs are of other times.
    fn doubtful(&self, (start, end): (f64, f64)) -> bool {
        let beyond = |time: &f64| *time < start - BEYOND_BY || *time > end + BEYOND_BY;
        let count = self.times.iter().filter(|(time, _)| beyond(time)).count();
        let pictured =
            median(&mut self.ahead.clone()).is_some_and(|ahead| ahead.abs() > PICTURED_BY);
        pictured || count as f64 > BEYOND_SHARE * self.times.len() as f64
    }

    fn of(scene: &Scene, cameras: &[SetCamera], middle: f64) -> Self {
        // a wrong date is another matter, reported elsewhere
        let of_the_day =
            |time: f64, about: f64| time - 86_400.0 * ((time - about) / 86_400.0).round();
        let zone = &scene.gathered.zone.zone;
        let mut notes = Self { times: Vec::new(), ahead: Vec::new() };
        for (filed, claimed) in scene.gathered.records.iter().zip(&scene.claims.photos) {
            // a time with its own offset is no time of the notebook's zone
            if filed.record.time_offset().is_some() {
                continue;
            }
            let Some(read) = written::instant(&filed.record, scene.date, zone, scene.span) else {
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

    /// The log likelihood of a notebook that is so far ahead.
    fn log(&self, course: &Course, ahead: f64) -> f64 {
        let of_watch = |further: f64| -> f64 {
            self.times.iter().map(|note| course.log(note.0 - ahead - further, note.1)).sum()
        };
        let stops = WATCH
            .iter()
            .map(|&(further, share)| share.ln() + of_watch(further))
            .fold(f64::NEG_INFINITY, sum_of_logs);
        let pictured = |own: &f64| {
            let off = (own - ahead) / HABIT;
            ((1.0 - STRAY) * (-0.5 * off * off).exp() + STRAY * 0.05).ln()
        };
        // times beside photographs were used for the camera's clock, too
        stops + 0.5 * self.ahead.iter().map(pictured).sum::<f64>()
    }
}

fn sum_of_logs(a: f64, b: f64) -> f64 {
    let top = a.max(b);
    if top == f64::NEG_INFINITY { top } else { top + ((a - top).exp() + (b - top).exp()).ln() }
}

/// The probability of being stationary, summed up to each second, and its mean.
struct Course {
    from: f64,
    sums: Vec<f64>,
    usual: f64,
}

impl Course {
    fn of(scene: &Scene) -> Option<Self> {
        let course = &scene.estimated_track.activities.course;
        let seconds = course.seconds();
        let known = seconds.iter().filter(|p| !p.is_nan());
        let (count, sum) =
            known.fold((0_usize, 0.0), |(count, sum), p| (count + 1, sum + f64::from(*p)));
        let usual = (sum / count.max(1) as f64).max(0.02);
        Some(Self::of_seconds(course.from, &seconds, usual)).filter(|_| count > 0)
    }

    fn of_seconds(from: f64, seconds: &[f32], usual: f64) -> Self {
        let mut sums = vec![0.0];
        for p in seconds {
            let p = if p.is_nan() { usual } else { f64::from(*p) };
            sums.push(sums[sums.len() - 1] + p);
        }
        Self { from, sums, usual }
    }

    /// The log ratio of a note at this time to one at any time of the track.
    fn log(&self, time: f64, step: f64) -> f64 {
        /// From the note back to the find, and on, seconds.
        const AROUND: (f64, f64) = (40.0, 20.0);
        let (from, to) = if step <= 1.0 {
            (time - AROUND.0, time + AROUND.1)
        } else {
            (time - step / 2.0 - AROUND.0, time + step)
        };
        let seconds = self.sums.len() as f64 - 1.0;
        let (first, last) = ((from - self.from).floor(), (to - self.from).floor());
        let (inside, until) = (first.clamp(0.0, seconds), last.clamp(0.0, seconds));
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "in range")]
        let sum = self.sums[until as usize] - self.sums[inside as usize];
        let outside = (last - first) - (until - inside);
        let within = (until - inside) / (last - first).max(1.0);
        let mean = (sum + BEYOND * self.usual * outside) / (last - first).max(1.0);
        let floor = (1.0 - AT_STOPS) * (within + BEYOND * (1.0 - within));
        (AT_STOPS * mean / self.usual + floor).ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Stops of two minutes, nowhere at equal distances.
    fn day() -> (Course, Vec<f64>) {
        let starts: Vec<f64> =
            (0..14).map(|k| 400.0 + 900.0 * f64::from(k) + f64::from(k * k * 37 % 410)).collect();
        let stopped =
            |second: f64| starts.iter().any(|start| (0.0..120.0).contains(&(second - start)));
        let seconds: Vec<f32> = (0..14_400)
            .map(|second| if stopped(f64::from(second)) { 0.97 } else { 0.02 })
            .collect();
        let usual = seconds.iter().map(|p| f64::from(*p)).sum::<f64>() / 14_400.0;
        (Course::of_seconds(0.0, &seconds, usual), starts)
    }

    fn best(notes: &Notes, course: &Course, zone: f64) -> (f64, f64) {
        let all = offsets(zone);
        let logs: Vec<f64> = all
            .iter()
            .map(|(ahead, prior)| prior.ln() + WORTH * notes.log(course, *ahead))
            .collect();
        let best = (0..logs.len()).max_by(|&a, &b| logs[a].total_cmp(&logs[b])).unwrap();
        (all[best].0, logs[best] - logs[0])
    }

    #[test]
    fn offset_of_a_whole_notebook_is_found_and_a_correct_one_kept() {
        let (course, stops) = day();
        for ahead in [0.0, -7_200.0, 3_600.0, -3_600.0, 7_200.0] {
            let times = stops.iter().map(|stop| (stop + 80.0 + ahead, 60.0)).collect();
            let notes = Notes { times, ahead: Vec::new() };
            let (found, by) = best(&notes, &course, 7_200.0);
            assert!((found - ahead).abs() < 1.0, "{found} of {ahead}");
            assert!(ahead == 0.0 || by > 3.0, "{ahead}: {by}");
        }
    }

    #[test]
    fn a_receiver_that_was_switched_off_early_is_no_offset() {
        let (course, stops) = day();
        let mut times: Vec<(f64, f64)> =
            stops.iter().take(9).map(|stop| (stop + 60.0, 60.0)).collect();
        times.extend((0..3).map(|k| (15_600.0 + 700.0 * f64::from(k), 60.0)));
        let notes = Notes { times, ahead: Vec::new() };
        assert!(best(&notes, &course, 7_200.0).0.abs() < 1.0);
    }
}
