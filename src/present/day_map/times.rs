//! Chooses the times that are written along the track of the day map. Layer: `present`.

use jiff::Timestamp;

use crate::model::Day;
use crate::present::map::MapSheet;
use crate::present::map::names::Wish;
use crate::present::summary::words;
use crate::present::svg::Point;
use crate::units::{LatLon, Seconds};

/// Start, end and round times on the map, without those whose mark is taken.
pub(super) fn of(day: &Day, sheet: &MapSheet, taken: impl Fn(Point) -> bool) -> Vec<Wish> {
    ends(day)
        .into_iter()
        .chain(hours(day))
        .map(|(at, words)| Wish { mark: sheet.at(at), reach: 1.8, words })
        .filter(|wish| sheet.frame.holds(wish.mark) && !taken(wish.mark))
        .collect()
}

/// The first and the last time of the track.
fn ends(day: &Day) -> Vec<(LatLon, String)> {
    let zone = &day.outing.zone.zone;
    let (Some(first), Some(last)) = (day.track.first(), day.track.last()) else {
        return Vec::new();
    };
    [(first, "start"), (last, "end")]
        .map(|(point, word)| (point.at, format!("{word} {}", words::clock(point.time, zone))))
        .to_vec()
}

/// Round local times along the track, at most twelve.
fn hours(day: &Day) -> impl Iterator<Item = (LatLon, String)> {
    let zone = day.outing.zone.zone.clone();
    let step = match (day.track.first(), day.track.last()) {
        (Some(first), Some(last)) => {
            let span = Seconds::between(first.time, last.time).0;
            [900.0, 1_800.0, 3_600.0, 7_200.0, 14_400.0]
                .into_iter()
                .find(|step| span / step <= 9.0)
                .unwrap_or(43_200.0)
        }
        _ => 3_600.0,
    };
    let slot = move |instant: Timestamp| {
        let local = instant.to_zoned_datetime(zone.clone());
        let seconds = f64::from(local.hour()) * 3_600.0
            + f64::from(local.minute()) * 60.0
            + f64::from(local.second());
        (seconds / step).floor()
    };
    let zone = day.outing.zone.zone.clone();
    day.track.windows(2).filter_map(move |pair| {
        let round = slot(pair[0].time) != slot(pair[1].time) && !pair[0].gap_after;
        round.then(|| (pair[1].at, words::clock(pair[1].time, &zone)))
    })
}
