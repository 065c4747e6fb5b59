//! The photographs of a camera between two long rests, and the outing that they lie nearest to.
//! Layer: `join`.

use std::collections::BTreeMap;

use crate::model::Photo;
use crate::units::{ClockOffset, Seconds, Timestamp};

use super::draft::Draft;
use super::group::Group;
use super::piece::{PAUSE, Span};

/// A camera's clock is wrong by no more than this on the right date, seconds.
const CLOCK_REACH: f64 = 14.0 * 3_600.0;

/// The photographs of each camera, parted where it rests for hours and where folders tell parties
/// apart, whose cameras may be of one model; those without a time apart.
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
    let mut sessions: Vec<Vec<Photo>> = Vec::new();
    for (_, mut photos) in cameras {
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

/// The instant of a picture whose camera is right: by the offset that it claims, else in a zone.
pub(super) fn by_local_zone(photo: &Photo, zone: Option<&jiff::tz::TimeZone>) -> Option<Timestamp> {
    let reading = ClockOffset::as_if_utc(photo.taken?);
    let ahead = match (photo.offset, zone) {
        (Some(offset), _) => f64::from(offset.seconds()),
        (None, Some(zone)) => f64::from(zone.to_offset(reading).seconds()),
        (None, None) => 0.0,
    };
    Some(Seconds(-ahead).after(reading))
}

/// The outing with a track that a session of photographs lies nearest to. Where there is one only,
/// a camera on the wrong date belongs to it as well.
pub(super) fn nearest_outing(session: &[Photo], outings: &[Draft]) -> Option<usize> {
    let tracked: Vec<usize> = (0..outings.len()).filter(|&o| outings[o].span.is_some()).collect();
    let mut best: Option<(f64, usize)> = None;
    for &outing in &tracked {
        let Some(span) = together(outings, outing) else { continue };
        let zone = outings[outing].local_zone();
        let ends = (session.first()?, session.last()?);
        let (start, end) =
            (by_local_zone(ends.0, zone.as_ref())?, by_local_zone(ends.1, zone.as_ref())?);
        let taken = Span { start, end };
        let outside = Seconds::between(taken.end, span.start)
            .0
            .max(Seconds::between(span.end, taken.start).0);
        let apart = taken.apart(&span);
        if outside < CLOCK_REACH && best.is_none_or(|(least, _)| apart < least) {
            best = Some((apart, outing));
        }
    }
    let lone = || {
        let first = *tracked.first()?;
        let alone = tracked.iter().all(|&other| outings[other].group == outings[first].group);
        (alone && session.len() >= 3).then_some(first)
    };
    best.map(|(_, outing)| outing).or_else(lone)
}

/// The span of all parties that were out together with one.
fn together(outings: &[Draft], outing: usize) -> Option<Span> {
    let group = outings[outing].group;
    outings.iter().filter(|other| other.group == group).filter_map(|o| o.span).reduce(Span::with)
}
