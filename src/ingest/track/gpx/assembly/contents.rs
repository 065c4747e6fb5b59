//! Collects tracks, routes and waypoints while a file is read. Layer: `ingest`.

use super::super::element::{Field, PointKind};
use super::super::point::OpenPoint;
use crate::ingest::track::room::Room;
use crate::model::{Route, Segment, Track, Waypoint};

/// Fixes between two checks of the reserved memory.
const STRIDE: u64 = 4096;

/// Fixes for which memory is reserved at once: the length of a file can be false.
const MOST_RESERVED: usize = 1_000_000;

/// Which track and which run of fixes is being filled.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum InTrack {
    #[default]
    None,
    Track,
    Segment,
}

/// The tracks, routes and waypoints of one file.
#[derive(Debug, Default)]
pub(super) struct Contents {
    pub(super) tracks: Vec<Track>,
    pub(super) routes: Vec<Route>,
    pub(super) waypoints: Vec<Waypoint>,
    /// The length of the file, where known: for estimating the memory of the fixes.
    expected: Option<u64>,
    fixes: u64,
    in_track: InTrack,
    route_open: bool,
    room: Room,
}

impl Contents {
    /// Nothing yet, of a file of this length.
    pub(super) fn expecting(expected: Option<u64>) -> Self {
        Self { expected, ..Self::default() }
    }

    /// Whether a value of this kind, outside any point, belongs to the open track or route.
    pub(super) fn takes(&self, field: Field) -> bool {
        match self.in_track {
            InTrack::Segment => false,
            InTrack::Track => matches!(field, Field::Name | Field::Description),
            InTrack::None => self.route_open && field == Field::Name,
        }
    }

    /// Names or describes the open track or route.
    pub(super) fn name(&mut self, field: Field, text: String) {
        if self.in_track == InTrack::None {
            if let Some(route) = self.routes.last_mut() {
                route.name = Some(text);
            }
        } else if let Some(track) = self.tracks.last_mut() {
            match field {
                Field::Name => track.name = Some(text),
                _ => track.description = Some(text),
            }
        }
    }

    pub(super) fn open_track(&mut self) {
        self.close_track();
        self.tracks.push(Track::default());
        self.in_track = InTrack::Track;
    }

    pub(super) fn open_segment(&mut self) {
        self.close_segment();
        if self.in_track == InTrack::None {
            self.open_track();
        }
        if let Some(track) = self.tracks.last_mut() {
            track.segments.push(Segment::default());
            self.in_track = InTrack::Segment;
        }
    }

    /// Frees the unused memory of a finished segment and drops an empty one.
    pub(super) fn close_segment(&mut self) {
        if self.in_track != InTrack::Segment {
            return;
        }
        self.in_track = InTrack::Track;
        let Some(track) = self.tracks.last_mut() else { return };
        if let Some(segment) = track.segments.last_mut() {
            segment.fixes.shrink_to_fit();
            if segment.fixes.is_empty() {
                track.segments.pop();
            }
        }
    }

    pub(super) fn close_track(&mut self) {
        self.close_segment();
        self.in_track = InTrack::None;
        let empty = self.tracks.last().is_some_and(|track| track.segments.is_empty());
        if empty && !Room::takes_lines(self.tracks.len()) {
            self.tracks.pop();
        }
    }

    pub(super) fn open_route(&mut self) {
        self.routes.push(Route::default());
        self.route_open = true;
    }

    pub(super) fn close_route(&mut self) {
        self.route_open = false;
        let empty = self.routes.last().is_some_and(|route| route.points.is_empty());
        if empty && !Room::takes_lines(self.routes.len()) {
            self.routes.pop();
        }
    }

    /// Takes a finished point; one outside any track or route begins one. `false` where the file has too many.
    pub(super) fn add(&mut self, point: OpenPoint, read: u64) -> bool {
        let takes = match (point.kind, &point.fix) {
            (_, None) => return true,
            (PointKind::Track, _) => self.room.takes_point(read),
            (PointKind::Route | PointKind::Waypoint, _) => self.room.takes_named(read),
        };
        if takes {
            self.put(point, read);
        }
        takes
    }

    fn put(&mut self, point: OpenPoint, read: u64) {
        match (point.kind, point.fix) {
            (_, None) => {}
            (PointKind::Track, Some(fix)) => {
                if self.in_track != InTrack::Segment {
                    self.open_segment();
                }
                self.make_room(read);
                self.fixes += 1;
                let segment = self.tracks.last_mut().and_then(|track| track.segments.last_mut());
                if let Some(segment) = segment {
                    segment.fixes.push(fix);
                }
            }
            (PointKind::Route, _) => {
                if !self.route_open {
                    self.open_route();
                }
                if let Some(route) = self.routes.last_mut() {
                    route.points.extend(point.into_waypoint());
                }
            }
            (PointKind::Waypoint, _) => self.waypoints.extend(point.into_waypoint()),
        }
    }

    /// Reserves memory for the rest of the file instead of doubling.
    fn make_room(&mut self, read: u64) {
        let Some(expected) = self.expected.filter(|_| self.fixes.is_multiple_of(STRIDE)) else {
            return;
        };
        let segment = self.tracks.last_mut().and_then(|track| track.segments.last_mut());
        let stride = usize::try_from(STRIDE).unwrap_or(usize::MAX);
        let Some(segment) = segment.filter(|segment| segment.fixes.len() >= stride) else { return };
        if segment.fixes.capacity() - segment.fixes.len() > stride {
            return;
        }
        let left = expected.saturating_sub(read) as f64 / read.max(1) as f64;
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "not negative")]
        let coming = (left * self.fixes as f64 * 1.02) as usize;
        let kept =
            usize::try_from(Room::most(expected).saturating_sub(self.fixes)).unwrap_or(usize::MAX);
        segment.fixes.reserve_exact(coming.min(MOST_RESERVED).min(kept) + stride + 1);
    }
}
