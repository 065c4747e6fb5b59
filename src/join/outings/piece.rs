//! Runs of fixes before it is known to which outing they belong: parted at long silences, with the
//! span of their times. It judges no fix. Layer: `join`.

use crate::model::Fix;
use crate::units::{Seconds, Timestamp};

/// So long without a fix ends an outing, seconds.
pub(super) const PAUSE: f64 = 5.0 * 3_600.0;
/// Fewer fixes far off in time are a step of the clock, not another outing.
const LEAST_PIECE: usize = 10;

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
    /// The span of its times but for a few strays.
    pub(super) fn span(&self) -> Option<Span> {
        let mut times: Vec<Timestamp> = self.fixes.iter().filter_map(|fix| fix.time).collect();
        times.sort_unstable();
        let stray = if times.len() >= LEAST_PIECE { times.len() / 20 } else { 0 };
        Some(Span { start: *times.get(stray)?, end: *times.get(times.len() - 1 - stray)? })
    }

    /// Parted where the file falls silent for hours, if both sides amount to something.
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
        pieces
    }
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
