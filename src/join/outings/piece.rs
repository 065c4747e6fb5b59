//! Divides runs of fixes at long gaps and computes the span of their times, before they are assigned to
//! outings. It judges no fix. Layer: `join`.

use crate::model::Fix;
use crate::units::{Seconds, Timestamp};

/// The gap that ends an outing, seconds.
pub(crate) const PAUSE: f64 = 5.0 * 3_600.0;
/// Fewer fixes far off in time are a step of the clock, not another outing.
const LEAST_PIECE: usize = 10;
/// A step of the clock holds at most one in so many of the fixes about it.
const STEP_SHARE: usize = 4;
/// Where a clock steps, the times of its file are out by so much at most, seconds.
const SEAM: f64 = 600.0;

/// A run of fixes before it is known to which outing it belongs.
#[derive(Clone, Debug)]
pub(crate) struct Piece {
    pub(crate) file: usize,
    pub(crate) fixes: Vec<Fix>,
}

/// The span of a track.
#[derive(Clone, Copy, Debug)]
pub(super) struct Span {
    pub(super) start: Timestamp,
    pub(super) end: Timestamp,
}

impl Piece {
    /// The span of its times without a few strays and clock steps of hours.
    pub(super) fn span(&self) -> Option<Span> {
        let mut times: Vec<Timestamp> = self.fixes.iter().filter_map(|fix| fix.time).collect();
        times.sort_unstable();
        let together = times.chunk_by(|a, b| Seconds::between(*a, *b).0 <= PAUSE);
        let times = together.max_by_key(|together| together.len())?;
        let stray = if times.len() >= LEAST_PIECE { times.len() / 20 } else { 0 };
        Some(Span { start: *times.get(stray)?, end: *times.get(times.len() - 1 - stray)? })
    }

    /// Divided at gaps of hours, if both sides have enough fixes. A few fixes
    /// hours off between others that go on as if they were not there are a step of the clock.
    pub(super) fn parted(self) -> Vec<Self> {
        let mut pieces: Vec<Self> = Vec::new();
        let mut now: Vec<Fix> = Vec::new();
        let mut last: Option<Timestamp> = None;
        for fix in self.fixes {
            let pause = match (last, fix.time) {
                (Some(last), Some(time)) => Seconds::between(last, time).0.abs() > PAUSE,
                _ => false,
            };
            if pause && now.len() >= LEAST_PIECE {
                pieces.push(Self { file: self.file, fixes: std::mem::take(&mut now) });
            }
            last = fix.time.or(last);
            now.push(fix);
        }
        match pieces.last_mut() {
            Some(before) if now.len() < LEAST_PIECE => before.fixes.append(&mut now),
            _ => pieces.push(Self { file: self.file, fixes: now }),
        }
        rejoined(pieces)
    }

    fn first_time(&self) -> Option<Timestamp> {
        self.fixes.iter().find_map(|fix| fix.time)
    }

    fn last_time(&self) -> Option<Timestamp> {
        self.fixes.iter().rev().find_map(|fix| fix.time)
    }

    /// Whether a file goes on from here to another piece as if nothing lay between them but this
    /// one, which is far shorter than both together.
    fn goes_on(&self, between: &Self, after: &Self) -> bool {
        let seam = match (self.last_time(), after.first_time()) {
            (Some(end), Some(start)) => Seconds::between(end, start).0,
            _ => return false,
        };
        let few = between.fixes.len() * STEP_SHARE <= self.fixes.len() + after.fixes.len();
        let recorded = between.first_time().zip(between.last_time());
        let lasting = recorded.map_or(0.0, |(start, end)| Seconds::between(start, end).0);
        // the fixes between took time that is missing between the others
        few && (0.0..=lasting + SEAM).contains(&seam) && lasting <= seam + SEAM
    }
}

/// The pieces of one run of a file, with steps of the clock put back between what they interrupt.
fn rejoined(pieces: Vec<Piece>) -> Vec<Piece> {
    let mut joined: Vec<Piece> = Vec::new();
    let mut pieces = pieces.into_iter().peekable();
    while let Some(mut piece) = pieces.next() {
        match (joined.last_mut(), pieces.peek()) {
            (Some(before), Some(after)) if before.goes_on(&piece, after) => {
                before.fixes.append(&mut piece.fixes);
                before.fixes.extend(pieces.next().into_iter().flat_map(|after| after.fixes));
            }
            _ => joined.push(piece),
        }
    }
    joined
}

impl Span {
    pub(super) fn near(&self, time: Timestamp) -> bool {
        Seconds::between(time, self.start).0 < PAUSE && Seconds::between(self.end, time).0 < PAUSE
    }

    /// Seconds between the middles.
    pub(super) fn apart(&self, other: &Self) -> f64 {
        let middle = |s: &Self| Seconds(Seconds::between(s.start, s.end).0 / 2.0).after(s.start);
        Seconds::between(middle(self), middle(other)).0.abs()
    }

    /// From the earlier start to the later end.
    pub(super) fn with(self, other: Self) -> Self {
        Self { start: self.start.min(other.start), end: self.end.max(other.end) }
    }

    /// Seconds that both have.
    pub(super) fn shared(&self, other: &Self) -> f64 {
        Seconds::between(self.start.max(other.start), self.end.min(other.end)).0.max(0.0)
    }
}

/// In order of time, parted where nothing is recorded for hours.
pub(super) fn in_clusters(mut pieces: Vec<(Span, Piece)>) -> Vec<Vec<(Span, Piece)>> {
    pieces.sort_by_key(|(span, _)| span.start);
    let mut clusters: Vec<Vec<(Span, Piece)>> = Vec::new();
    let mut end: Option<Timestamp> = None;
    for (span, piece) in pieces {
        let on = end.is_some_and(|end| Seconds::between(end, span.start).0 <= PAUSE);
        end = Some(if on { end.map_or(span.end, |end| end.max(span.end)) } else { span.end });
        match clusters.last_mut() {
            Some(cluster) if on => cluster.push((span, piece)),
            _ => clusters.push(vec![(span, piece)]),
        }
    }
    clusters
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::LatLon;

    /// Fixes each 5 s, at the second that is said of each.
    fn piece(count: u32, second: impl Fn(f64) -> f64) -> Piece {
        let start: Timestamp = "2026-05-12T00:00:00Z".parse().unwrap();
        let fix = |k: u32| {
            let time = Seconds(second(f64::from(k) * 5.0)).after(start);
            Fix::bare(LatLon::clamped(-42.6, 146.1), Some(time))
        };
        Piece { file: 0, fixes: (0..count).map(fix).collect() }
    }

    #[test]
    fn few_fixes_of_another_date_within_a_walk_are_no_outing() {
        for off in [86_400.0, -86_400.0, 7.0 * 86_400.0] {
            let stepped = |t: f64| if (1_250.0..1_350.0).contains(&t) { t + off } else { t };
            let pieces = piece(500, stepped).parted();
            assert_eq!(pieces.len(), 1, "{off}");
            let span = pieces[0].span().unwrap();
            assert!(Seconds::between(span.start, span.end).0 <= 2_500.0, "{off}");
        }
    }

    #[test]
    fn another_day_after_a_walk_is_an_outing() {
        let next = |t: f64| if t >= 2_000.0 { t + 86_400.0 } else { t };
        assert_eq!(piece(500, next).parted().len(), 2);
        let days = |t: f64| t + (t / 1_000.0).floor() * 86_400.0;
        assert_eq!(piece(600, days).parted().len(), 3);
    }
}
