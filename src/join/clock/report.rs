//! Converts an offset posterior to the reported camera clock and to the weighted offsets for computation.
//! Layer: `join`.

use crate::model::{CameraClock, ClockEvidence, ClockMethod, ClockPeak};
use crate::units::Seconds;

use super::kept::Kept;
use super::{
    DirectEvidence, Evidence, Nodes, Observation, ObservationSource, Posterior, prior, weigh,
};

/// What the user said about a camera, in seconds ahead of UTC.
#[derive(Clone, Debug)]
pub(crate) enum Setting {
    /// No setting: estimate it.
    Auto,
    /// The camera is correct.
    Right,
    /// How far it is ahead.
    Stated(f64),
    /// By a photograph of a clock.
    ClockPhotograph(f64, String),
}

/// A clock whose interval is wider than this is not used, seconds: the uncertainty is not about the minute but
/// about which of several offsets it is.
const WIDEST: f64 = 600.0;

/// A clock as it is reported, and the weighted offsets from UTC as they are used.
pub(crate) struct Reported {
    pub(crate) clock: CameraClock,
    pub(crate) nodes: Nodes,
    pub(crate) weighed: Weighed,
}

/// What a clock was weighed from, for weighing it again when other days have been used.
pub(crate) struct Weighed {
    pub(crate) said: DirectEvidence,
    /// Nothing where somebody said how far it is ahead.
    kept: Option<Kept>,
}

impl Weighed {
    /// The clock with one more observation.
    pub(crate) fn knowing(
        &mut self,
        blank: CameraClock,
        observation: Observation,
    ) -> Option<(CameraClock, Nodes)> {
        let posterior = self.kept.as_ref()?.with(&observation);
        self.said.observations.push(observation);
        Some(reported(blank, &self.said, &posterior))
    }
}

/// Sets a clock of which nothing is known yet.
pub(crate) fn report(blank: CameraClock, evidence: Evidence, setting: &Setting) -> Reported {
    let said = &evidence.said;
    let (clock, nodes) = match setting {
        Setting::Stated(offset) => {
            known(blank, said, *offset, 1.0, ClockMethod::Stated, ClockEvidence::Stated)
        }
        Setting::Right => {
            let offset = said.claimed.unwrap_or(said.zone);
            known(blank, said, offset, 2.0, ClockMethod::Trusted, ClockEvidence::TakenAsRight)
        }
        Setting::ClockPhotograph(offset, photo) => {
            let shown = ClockEvidence::ShownClock { photograph: photo.clone() };
            known(blank, said, *offset, 1.0, ClockMethod::ClockPhotograph, shown)
        }
        Setting::Auto if evidence.readings.is_empty() => {
            (CameraClock { basis: ClockEvidence::NoTimes.into(), ..blank }, Nodes::new())
        }
        Setting::Auto => {
            let posterior = weigh(&evidence);
            let (clock, nodes) = reported(blank, said, &posterior);
            let kept = Some(Kept::of(&posterior));
            return Reported { clock, nodes, weighed: Weighed { said: evidence.said, kept } };
        }
    };
    Reported { clock, nodes, weighed: Weighed { said: evidence.said, kept: None } }
}

/// An offset that somebody or something said outright, within `half` seconds.
fn known(
    blank: CameraClock,
    said: &DirectEvidence,
    offset: f64,
    half: f64,
    method: ClockMethod,
    basis: ClockEvidence,
) -> (CameraClock, Nodes) {
    let ahead = offset - said.zone;
    let clock = CameraClock {
        method,
        interval95: Some((Seconds(ahead - half), Seconds(ahead + half))),
        basis: basis.into(),
        ..split(blank, said, ahead)
    };
    (clock, vec![(offset, 1.0)])
}

fn split(blank: CameraClock, said: &DirectEvidence, ahead: f64) -> CameraClock {
    let zone_part = prior::zone_part(ahead, said.zone, said.claimed.filter(|c| c.is_finite()));
    CameraClock {
        ahead: Some(Seconds(ahead)),
        zone_part: Some(Seconds(zone_part)),
        error_part: Some(Seconds(ahead - zone_part)),
        ..blank
    }
}

fn reported(
    blank: CameraClock,
    said: &DirectEvidence,
    posterior: &Posterior,
) -> (CameraClock, Nodes) {
    let (low, high) = posterior.interval95();
    let best = posterior.best();
    let mass = posterior.peaks.first().map_or(0.0, |peak| peak.1);
    let local = |offset: f64| Seconds(offset - said.zone);
    let alternatives = posterior
        .alternatives()
        .map(|&(offset, probability)| ClockPeak { ahead: local(offset), probability })
        .collect();
    let clock = CameraClock {
        interval95: Some((local(low), local(high))),
        other_days: observed(said, ObservationSource::OtherDays),
        alternatives,
        profile: posterior.profile().into_iter().map(|(o, log)| (local(o), log)).collect(),
        ..blank
    };
    let clock = if high - low <= WIDEST {
        // GPS times that conflict with everything else were not decisive
        let by_gps = said.gps.count > 0 && said.gps.allow(best);
        let gps_times = if by_gps { said.gps.count } else { 0 };
        let method = if by_gps { ClockMethod::GpsTime } else { ClockMethod::Day };
        CameraClock {
            method,
            basis: rests_on(said, posterior, gps_times).into(),
            ..split(clock, said, best - said.zone)
        }
    } else {
        CameraClock { basis: declined(said, posterior, mass, high - low).into(), ..clock }
    };
    (clock, posterior.nodes())
}

fn rests_on(said: &DirectEvidence, posterior: &Posterior, gps_times: usize) -> ClockEvidence {
    ClockEvidence::Estimated {
        gps_times,
        // without a track there are no stops
        groups: said.tracked.then_some(posterior.groups),
        written: observed(said, ObservationSource::Notebook),
        other_camera: observed(said, ObservationSource::OtherCamera),
        other_days: observed(said, ObservationSource::OtherDays),
    }
}

/// How much was used from a kind of evidence.
fn observed(said: &DirectEvidence, source: ObservationSource) -> usize {
    said.observations
        .iter()
        .filter(|observation| observation.source == source)
        .map(|observation| observation.count)
        .sum()
}

fn declined(said: &DirectEvidence, posterior: &Posterior, best: f64, width: f64) -> ClockEvidence {
    let groups = posterior.groups;
    if !said.tracked {
        ClockEvidence::NoTrack
    } else if posterior.peaks.len() > 1 {
        ClockEvidence::SeveralOffsets { groups, best }
    } else {
        ClockEvidence::WideInterval { groups, width: Seconds(width) }
    }
}

#[cfg(test)]
mod tests {
    use super::super::grid::Grid;
    use super::super::{GpsTimes, Posterior};
    use crate::model::Camera;

    use super::*;

    #[test]
    fn without_a_track_the_basis_has_no_stops() {
        let posterior = Posterior::of(Grid { from: 0.0, count: 3 }, vec![0.0, 1.0, 0.0], 19);
        let observation = Observation {
            source: ObservationSource::OtherDays,
            offset: 1.0,
            scale: 1.0,
            count: 2,
            idle: 0.1,
        };
        let mut said = DirectEvidence {
            zone: 0.0,
            claimed: None,
            observations: vec![observation],
            gps: GpsTimes::default(),
            tracked: false,
        };
        let groups = |said: &DirectEvidence| match rests_on(said, &posterior, 0) {
            ClockEvidence::Estimated { groups, other_days, .. } => (groups, other_days),
            other => panic!("{other:?}"),
        };
        assert_eq!(groups(&said), (None, 2));
        let blank = CameraClock::unknown(Camera::default(), 1);
        assert_eq!(reported(blank, &said, &posterior).0.other_days, 2);
        said.tracked = true;
        assert_eq!(groups(&said), (Some(19), 2));
    }
}
