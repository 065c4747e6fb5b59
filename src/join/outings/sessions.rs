//! Divides the photographs of a camera into sessions at long breaks, and assigns each to the nearest
//! outing. Layer: `join`.

use std::collections::{BTreeMap, HashMap};

use crate::model::Photo;
use crate::units::{ClockOffset, Seconds, Timestamp};

use super::draft::Draft;
use super::group::Group;
use super::piece::{PAUSE, Span};
use super::series;

/// A camera's clock is wrong by no more than this on the right date, seconds.
const CLOCK_REACH: f64 = 14.0 * 3_600.0;

/// The photographs of each camera, divided at breaks of hours and where folders or series of names separate
/// parties, whose cameras may be of one model; those without a time apart.
pub(super) fn sessions(
    photos: Vec<Photo>,
    groups: &[Group],
    untimed: &mut Vec<Photo>,
) -> Vec<Vec<Photo>> {
    let mut cameras: BTreeMap<_, Vec<Photo>> = BTreeMap::new();
    for photo in photos {
        if photo.taken.is_some() {
            let party = |group: &Group| group.by_folder(&photo.source.path);
            let parties: Vec<Option<usize>> = groups.iter().map(party).collect();
            cameras.entry((photo.camera.clone(), parties)).or_default().push(photo);
        } else {
            untimed.push(photo);
        }
    }
    let several = !groups.is_empty();
    let cameras = cameras
        .into_values()
        .flat_map(|photos| if several { series::of_each_camera(photos) } else { vec![photos] });
    let mut sessions: Vec<Vec<Photo>> = Vec::new();
    for mut photos in cameras {
        photos.sort_by_key(|photo| (photo.taken, photo.name()));
        let mut last: Option<Timestamp> = None;
        for photo in photos {
            let time = photo.taken.map(ClockOffset::as_if_utc);
            let rest = match (last, time) {
                (Some(last), Some(time)) => Seconds::between(last, time).0 > PAUSE,
                _ => true,
            };
            last = time;
            match sessions.last_mut() {
                Some(session) if !rest => session.push(photo),
                _ => sessions.push(vec![photo]),
            }
        }
    }
    sessions
}

/// The outings with a track, with the data needed for every session.
pub(super) struct Tracked {
    /// In their order: the outing, the span of all parties out with it, its zone.
    all: Vec<(usize, Span, Option<jiff::tz::TimeZone>)>,
    /// The first outing where there is one only, or parties of one time.
    lone: Option<usize>,
}

impl Tracked {
    pub(super) fn of(outings: &[Draft]) -> Self {
        let mut together: HashMap<usize, Span> = HashMap::new();
        let spans = || outings.iter().enumerate().filter_map(|(o, out)| Some((o, out, out.span?)));
        for (_, outing, span) in spans() {
            let whole = together.entry(outing.group).or_insert(span);
            *whole = whole.with(span);
        }
        let first = spans().next().map(|(index, ..)| index);
        let placed = |(index, outing, span): (usize, &Draft, Span)| {
            let whole = together.get(&outing.group).copied().unwrap_or(span);
            (index, whole, outing.local_zone())
        };
        Self { all: spans().map(placed).collect(), lone: first.filter(|_| together.len() == 1) }
    }

    /// The outing nearest to a session of photographs. Where there is one only, a camera on
    /// the wrong date belongs to it as well.
    pub(super) fn nearest(&self, session: &[Photo]) -> Option<usize> {
        let (first, last) = (session.first()?, session.last()?);
        let mut best: Option<(f64, usize)> = None;
        for (outing, span, zone) in &self.all {
            let taken = Span {
                start: by_local_zone(first, zone.as_ref())?,
                end: by_local_zone(last, zone.as_ref())?,
            };
            let outside = Seconds::between(taken.end, span.start)
                .0
                .max(Seconds::between(span.end, taken.start).0);
            let apart = taken.apart(span);
            if outside < CLOCK_REACH && best.is_none_or(|(least, _)| apart < least) {
                best = Some((apart, *outing));
            }
        }
        let lone = || self.lone.filter(|_| session.len() >= 3);
        best.map(|(_, outing)| outing).or_else(lone)
    }
}

/// When a photograph was taken, in the zone that it names or else in this one.
pub(super) fn by_local_zone(photo: &Photo, zone: Option<&jiff::tz::TimeZone>) -> Option<Timestamp> {
    let reading = ClockOffset::as_if_utc(photo.taken?);
    let ahead = match (photo.offset, zone) {
        (Some(offset), _) => f64::from(offset.seconds()),
        (None, Some(zone)) => f64::from(zone.to_offset(reading).seconds()),
        (None, None) => 0.0,
    };
    Some(Seconds(-ahead).after(reading))
}
