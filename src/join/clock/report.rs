//! What to say of a camera's clock, and what to compute with. Layer: `join`.

use crate::model::{Camera, CameraClock, ClockMethod, ClockPeak};
use crate::units::Seconds;

use super::{Evidence, Nodes, Posterior, prior, weigh};

/// What the user said about a camera, in seconds ahead of UTC.
#[derive(Clone, Debug)]
pub(crate) enum Setting {
    /// Nothing: find out.
    Auto,
    /// The camera is right.
    Right,
    /// How far it is ahead.
    Stated(f64),
    /// By a photograph of a clock.
    ClockPhotograph(f64, String),
}

/// A best value with less probability than this is declined.
const SURE: f64 = 0.85;
/// So is one whose interval is wider than this, seconds.
const WIDEST: f64 = 600.0;

/// The clock as it is told, and the weighted offsets from UTC as they are used.
pub(crate) fn report(
    camera: &Camera,
    evidence: &Evidence,
    setting: &Setting,
) -> (CameraClock, Nodes) {
    let blank = CameraClock {
        camera: camera.clone(),
        photos: evidence.readings.len(),
        method: ClockMethod::Declined,
        ahead: None,
        interval95: None,
        zone_part: None,
        error_part: None,
        drift_per_day: None,
        rivals: Vec::new(),
        profile: Vec::new(),
        basis: String::new(),
    };
    match setting {
        Setting::Stated(offset) => {
            known(blank, evidence, *offset, 1.0, ClockMethod::Stated, "what was stated".into())
        }
        Setting::Right => {
            let offset = evidence.claimed.unwrap_or(evidence.zone);
            known(blank, evidence, offset, 2.0, ClockMethod::Trusted, "being taken as right".into())
        }
        Setting::ClockPhotograph(offset, photo) => {
            let basis = format!("{photo} shows a clock");
            known(blank, evidence, *offset, 1.0, ClockMethod::ClockPhotograph, basis)
        }
        Setting::Auto => weighed(blank, evidence),
    }
}

/// An offset that somebody or something said outright, within `half` seconds.
fn known(
    blank: CameraClock,
    evidence: &Evidence,
    offset: f64,
    half: f64,
    method: ClockMethod,
    basis: String,
) -> (CameraClock, Nodes) {
    let ahead = offset - evidence.zone;
    let clock = CameraClock {
        method,
        interval95: Some((Seconds(ahead - half), Seconds(ahead + half))),
        basis,
        ..split(blank, evidence, ahead)
    };
    (clock, vec![(offset, 1.0)])
}

fn split(blank: CameraClock, evidence: &Evidence, ahead: f64) -> CameraClock {
    let zone_part =
        prior::zone_part(ahead, evidence.zone, evidence.claimed.filter(|c| c.is_finite()));
    CameraClock {
        ahead: Some(Seconds(ahead)),
        zone_part: Some(Seconds(zone_part)),
        error_part: Some(Seconds(ahead - zone_part)),
        ..blank
    }
}

fn weighed(blank: CameraClock, evidence: &Evidence) -> (CameraClock, Nodes) {
    if evidence.readings.is_empty() {
        return (CameraClock { basis: no_times(), ..blank }, Nodes::new());
    }
    let posterior = weigh(evidence);
    let (low, high) = posterior.interval95();
    let best = posterior.best();
    let mass = posterior.peaks.first().map_or(0.0, |peak| peak.1);
    let local = |offset: f64| Seconds(offset - evidence.zone);
    let rivals = posterior
        .peaks
        .iter()
        .skip(1)
        .filter(|peak| peak.1 > 1e-3)
        .map(|&(offset, probability)| ClockPeak { ahead: local(offset), probability })
        .collect();
    let clock = CameraClock {
        interval95: Some((local(low), local(high))),
        rivals,
        profile: posterior.profile().into_iter().map(|(o, log)| (local(o), log)).collect(),
        ..blank
    };
    let sure = mass >= SURE && high - low <= WIDEST;
    let clock = if sure {
        // GPS times that everything else contradicts did not tell
        let by_gps = evidence.gps.count > 0 && evidence.gps.allow(best);
        let gps_times = if by_gps { evidence.gps.count } else { 0 };
        let method = if by_gps { ClockMethod::GpsTime } else { ClockMethod::Day };
        CameraClock {
            method,
            basis: rests_on(evidence, &posterior, gps_times),
            ..split(clock, evidence, best - evidence.zone)
        }
    } else {
        CameraClock { basis: declined(evidence, &posterior, mass, high - low), ..clock }
    };
    (clock, posterior.nodes())
}

fn no_times() -> String {
    "none of its photographs has a time".into()
}

fn rests_on(evidence: &Evidence, posterior: &Posterior, gps_times: usize) -> String {
    let mut parts = vec![format!("{} groups of pictures against the stands", posterior.groups)];
    if gps_times > 0 {
        parts.insert(0, format!("{gps_times} GPS times in its photographs"));
    }
    let hints: usize = evidence.hints.iter().map(|hint| hint.count).sum();
    if hints > 0 {
        parts.push(format!("{hints} written times and waypoints"));
    }
    parts.join(", ")
}

fn declined(evidence: &Evidence, posterior: &Posterior, mass: f64, width: f64) -> String {
    let groups = posterior.groups;
    let seen = if evidence.gaits.seconds.len() < 2 {
        "there is no track with times to hold its pictures against".to_owned()
    } else if mass < SURE {
        format!(
            "{groups} groups of pictures fit several offsets; the best has {:.0} % of the probability",
            100.0 * mass
        )
    } else {
        format!("{groups} groups of pictures leave {} open", Seconds(width))
    };
    format!("{seen}; a photograph of a clock, or one time written beside a photograph, settles it")
}
