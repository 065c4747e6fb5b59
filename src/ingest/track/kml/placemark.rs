//! Collects what one placemark says, and turns it into tracks, routes and waypoints. Layer: `ingest`.

use crate::ingest::track::collected::{Collected, bare};
use crate::ingest::track::fault::{Fault, Tally};
use crate::model::{Fix, Waypoint};
use crate::units::{Seconds, Timestamp};

/// A line with one time at each end is a piece of a track up to this length: what lies between is
/// less than eighty metres of walking (common practice for receivers that write one line a minute).
const SHORT: Seconds = Seconds(60.0);

/// A name that all points of a placemark share is not longer, bytes.
const LONGEST_SHARED: usize = 200;

/// A placemark between its tags.
#[derive(Debug, Default)]
pub(super) struct Placemark {
    pub(super) line: u64,
    pub(super) name: Option<String>,
    pub(super) description: Option<String>,
    /// The time of its `TimeStamp`.
    pub(super) stamp: Option<Timestamp>,
    pub(super) begin: Option<Timestamp>,
    pub(super) end: Option<Timestamp>,
    /// A time among its extended data.
    pub(super) extra: Option<Timestamp>,
    /// Times outside a track and a stamp.
    pub(super) whens: Vec<Option<Timestamp>>,
    pub(super) points: Vec<Fix>,
    pub(super) lines: Vec<Vec<Fix>>,
    pub(super) tracks: Vec<TimedTrack>,
}

/// The times and positions of a `Track`, in their order.
#[derive(Debug, Default)]
pub(super) struct TimedTrack {
    pub(super) line: u64,
    pub(super) whens: Vec<Option<Timestamp>>,
    /// `None` for a position that cannot be read: its time is lost with it.
    pub(super) coords: Vec<Option<Fix>>,
    /// Whether the altitudes are above the ground.
    pub(super) above_ground: bool,
    /// Whether the file has more points than are kept: those after the first one that is not are left out.
    pub(super) full: bool,
}

impl TimedTrack {
    /// Its fixes. Without as many times as positions no time has a certain position, except where the
    /// file ends within the track, so that the last ones are missing.
    fn fixes(self, cut: bool, tally: &mut Tally) -> Vec<Fix> {
        let (times, places) = (self.whens.len(), self.coords.len());
        let matched = times == places || ((cut || self.full) && times > 0);
        if !matched && times > 0 {
            let counts = format!("{times} times, {places} points");
            tally.add(Fault::TimesUnmatched, &counts, || self.line);
        }
        let mut whens = if matched { self.whens } else { Vec::new() }.into_iter();
        let mut fixes = Vec::with_capacity(places);
        for coord in self.coords {
            let time = whens.next().flatten();
            let Some(mut fix) = coord else { continue };
            fix.time = time;
            if self.above_ground {
                fix.height = None;
            }
            fixes.push(fix);
        }
        fixes
    }
}

impl Placemark {
    /// Adds everything to the content of the file.
    pub(super) fn file(mut self, cut: bool, into: &mut Collected, tally: &mut Tally) {
        let tracks = std::mem::take(&mut self.tracks);
        let parts = tracks.into_iter().map(|track| track.fixes(cut, tally)).collect();
        into.line(self.name.as_deref(), parts);
        self.time_lines(tally);
        let lines = std::mem::take(&mut self.lines);
        into.line(self.name.as_deref(), lines);
        let time = self.stamp.or(self.begin).or(self.extra);
        let mut description = self.description;
        for fix in self.points {
            let fix = Fix { time, ..fix };
            // a long text of many points is kept once
            let name = self.name.clone();
            into.points.push(Waypoint { name, description: description.take(), ..bare(fix) });
            self.name = self.name.filter(|name| name.len() <= LONGEST_SHARED);
        }
    }

    /// Gives the points of its line their times, where it has as many, or the two of its ends.
    fn time_lines(&mut self, tally: &mut Tally) {
        let [line] = self.lines.as_mut_slice() else { return };
        if !self.whens.is_empty() {
            if self.whens.len() == line.len() {
                line.iter_mut().zip(&self.whens).for_each(|(fix, time)| fix.time = *time);
            } else {
                let counts = format!("{} times, {} points", self.whens.len(), line.len());
                tally.add(Fault::TimesUnmatched, &counts, || self.line);
            }
            return;
        }
        let (Some(begin), Some(end)) = (self.begin, self.end) else { return };
        let lasted = Seconds::between(begin, end);
        if line.len() < 2 {
            return;
        }
        if !(0.0..=SHORT.0).contains(&lasted.0) {
            tally.add(Fault::LineWithSpan, &format!("{begin} to {end}"), || self.line);
            return;
        }
        let last = line.len() - 1;
        line[0].time = Some(begin);
        line[last].time = Some(end);
        let mut place = 0..;
        line.retain(|_| place.next().is_some_and(|place| place == 0 || place == last));
    }
}
