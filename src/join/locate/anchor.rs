//! Converts one anchor of a find into a distribution of its position, with the parts of its uncertainty.
//! Layer: `join`.

use crate::earth::local::Plane;
use crate::model::{AnchorBasis, AnchorKind, PartKind, PhotoGps, RadiusPart, Waypoint};
use crate::units::{LatLon, Metres, Radius95};

use super::super::receiver::Estimate;
use super::circle::{Circle, middle, radius_about, simplified, variances};
use super::position_posterior::{PositionPosterior, TrackModel, position_posterior};

/// A position whose accuracy was not recorded, metres (Darwin Core, coordinateUncertaintyInMeters).
pub(super) const GPS_UNRECORDED: f64 = 30.0;
/// A device's own "accuracy" holds about half; 95 % of a circular normal lies within this many times
/// it (Chapman & Wieczorek 2020: twice at least).
const HALF_TO_95: f64 = 2.08;

/// How far the fixes that a receiver averages for a waypoint err as those of the track beside them: a
/// correlation. They are mostly the same fixes.
const SAME_FIXES: f64 = 0.97;

/// An anchor before combination, on the day's plane.
#[derive(Clone, Debug)]
pub(crate) struct Draft {
    pub(crate) kind: AnchorKind,
    /// The distribution; weights add up to one.
    pub(crate) circles: Vec<Circle>,
    /// Bounds that add linearly, metres.
    pub(crate) bounded: f64,
    /// The correlation of its error with that of the day's receiver.
    pub(crate) shared: f64,
    pub(crate) parts: Vec<RadiusPart>,
    /// Its instant, seconds since the day's origin.
    pub(crate) when: Option<f64>,
    pub(crate) basis: AnchorBasis,
}

impl Draft {
    /// The point of the anchor.
    pub(crate) fn point(&self) -> (f64, f64) {
        middle(&self.circles)
    }

    /// The random variance per axis.
    pub(crate) fn variance(&self) -> f64 {
        let (within, between) = variances(&self.circles);
        within + between
    }

    /// The same of a place from which the collector has gone so far since.
    pub(crate) fn since_moved(mut self, distance: Metres) -> Self {
        self.circles.iter_mut().for_each(|circle| circle.variance += distance.0.powi(2));
        let size = Metres(Radius95::PER_SIGMA * distance.0);
        self.parts.push(RadiusPart { kind: PartKind::Interpolation, size });
        self
    }

    /// The 95 % radius about a point, bounds added.
    pub(crate) fn radius_about(&self, point: (f64, f64)) -> f64 {
        radius_about(point, &self.circles, 0.95) + self.bounded
    }
}

/// When something was done, as weighted intervals on one place: from, to, weight.
pub(crate) type Moments = Vec<(f64, f64, f64)>;

/// The sizes of the parts of a distribution from the track.
struct Shares {
    receiver: f64,
    interpolation: f64,
    time: f64,
}

/// An anchor that is a time on the track: photographs, or what was written. `time_part` is what
/// makes the time uncertain. `None` where the track has no information on that time.
pub(crate) fn from_times(
    track_model: TrackModel,
    kind: AnchorKind,
    moments: &Moments,
    time_part: PartKind,
    stand_off: Metres,
    basis: AnchorBasis,
) -> Option<Draft> {
    // notes are written at stops nearly as often as photographs are taken at stops
    let stationary = if kind == AnchorKind::PhotoTime { 0.93 } else { 0.85 };
    let mut all: Vec<Circle> = Vec::new();
    let mut middles = Vec::new();
    let (mut within_sum, mut between_sum, mut total) = (0.0, 0.0, 0.0);
    for &(from, to, weight) in moments {
        let PositionPosterior { circles, travelled } =
            position_posterior(track_model, from, to, stationary);
        if circles.is_empty() {
            continue;
        }
        let (within, between) = variances(&circles);
        let (east, north) = middle(&circles);
        middles.push(Circle { weight, east, north, variance: within + between });
        within_sum += weight * (within - travelled).max(0.0);
        between_sum += weight * (between + travelled.min(within));
        total += weight;
        all.extend(circles.iter().map(|c| Circle { weight: weight * c.weight, ..*c }));
    }
    // part of the time may lie outside the track, but less than half of it
    let asked: f64 = moments.iter().map(|moment| moment.2).sum();
    if total < 0.5 * asked || all.is_empty() {
        return None;
    }
    let stand_off_variance = (stand_off.0 / Radius95::PER_SIGMA).powi(2);
    let circles = doubted(&simplified(&all), track_model.receiver, stand_off_variance);
    let shares = Shares {
        receiver: within_sum / total
            + track_model.receiver.lasting
            + track_model.receiver.disagreement,
        interpolation: between_sum / total,
        time: variances(&middles).1,
    };
    let when = moments.iter().map(|m| m.2 * f64::midpoint(m.0, m.1)).sum::<f64>() / asked;
    Some(Draft {
        kind,
        circles,
        bounded: 0.0,
        shared: 0.9,
        parts: parts_of(&shares, time_part, stand_off),
        when: Some(when),
        basis,
    })
}

fn parts_of(shares: &Shares, time_part: PartKind, stand_off: Metres) -> Vec<RadiusPart> {
    let random = |kind, variance: f64| RadiusPart {
        kind,
        size: Metres(Radius95::PER_SIGMA * variance.max(0.0).sqrt()),
    };
    let parts = [
        random(PartKind::Receiver, shares.receiver),
        random(PartKind::Interpolation, shares.interpolation),
        random(time_part, shares.time),
        RadiusPart { kind: PartKind::StandOff, size: stand_off },
    ];
    parts.into_iter().filter(|part| part.size.0 >= 0.05).collect()
}

/// The posterior predictive distribution: each component for each plausible size of the receiver's error, with
/// the persistent part and the stand-off. The other variance of a component (interpolation between two
/// fixes) has one size.
fn doubted(circles: &[Circle], receiver: &Estimate, stand_off: f64) -> Vec<Circle> {
    let sizes = receiver.sizes();
    let fluctuating = receiver.one_fix() - receiver.lasting;
    circles
        .iter()
        .flat_map(|circle| {
            sizes.iter().map(|size| {
                let others = (circle.variance - fluctuating).max(0.0);
                let own = (circle.variance - others) * size.scale;
                Circle {
                    weight: circle.weight * size.weight,
                    variance: others + own + size.lasting + stand_off,
                    ..*circle
                }
            })
        })
        .collect()
}

/// A waypoint of the find's number.
pub(crate) fn from_waypoint(
    waypoint: &Waypoint,
    plane: &Plane,
    receiver: &Estimate,
    has_track: bool,
    when: Option<f64>,
    stand_off: Metres,
) -> Draft {
    let one_fix = if has_track {
        receiver.receiver.sigma.powi(2) + receiver.receiver.white.powi(2)
    } else {
        (GPS_UNRECORDED / Radius95::PER_SIGMA).powi(2)
    };
    let averaged = f64::from(waypoint.averaged.unwrap_or(1).max(1));
    let variance = one_fix * mean_of_correlated(averaged, receiver.receiver.tau);
    let basis = AnchorBasis::Waypoint { name: waypoint.name.clone(), averaged: waypoint.averaged };
    let draft = single(
        Single {
            kind: AnchorKind::Waypoint,
            at: waypoint.fix.at,
            variance,
            shared: if has_track { SAME_FIXES } else { 0.0 },
            stand_off,
            when,
            basis,
        },
        plane,
    );
    if !has_track {
        return draft;
    }
    let circles = draft.circles.iter().map(|circle| Circle { variance, ..*circle });
    let stand_off = (stand_off.0 / Radius95::PER_SIGMA).powi(2);
    Draft { circles: doubted(&circles.collect::<Vec<_>>(), receiver, stand_off), ..draft }
}

/// The variance of the mean of fixes a second apart whose error lasts `tau` seconds, in units of the
/// variance of one.
///
/// # References
/// The variance of the time average of an exponentially correlated process, for instance Papoulis
/// 1965, Probability, Random Variables and Stochastic Processes (from memory).
pub(super) fn mean_of_correlated(seconds: f64, tau: f64) -> f64 {
    let ratio = seconds / tau;
    if seconds <= 1.0 || ratio < 1e-3 {
        return 1.0;
    }
    2.0 / ratio * (1.0 - (1.0 - (-ratio).exp()) / ratio)
}

/// The 95 % radius of the position that a photograph carries, metres.
pub(crate) fn stated_radius(gps: &PhotoGps) -> f64 {
    gps.error.map_or(GPS_UNRECORDED, |error| (HALF_TO_95 * error.0).max(5.0))
}

/// The position that a photograph carries.
pub(crate) fn from_photo_position(
    gps: &PhotoGps,
    at: LatLon,
    plane: &Plane,
    when: Option<f64>,
    stand_off: Metres,
    photograph: String,
) -> Draft {
    let radius = stated_radius(gps);
    let basis = AnchorBasis::PhotoPosition { photograph, stated_error: gps.error };
    single(
        Single {
            kind: AnchorKind::PhotoPosition,
            at,
            variance: (radius / Radius95::PER_SIGMA).powi(2),
            shared: 0.3,
            stand_off,
            when,
            basis,
        },
        plane,
    )
}

/// An anchor with a single component.
pub(super) struct Single {
    pub(super) kind: AnchorKind,
    pub(super) at: LatLon,
    pub(super) variance: f64,
    pub(super) shared: f64,
    pub(super) stand_off: Metres,
    pub(super) when: Option<f64>,
    pub(super) basis: AnchorBasis,
}

pub(super) fn single(anchor: Single, plane: &Plane) -> Draft {
    let (east, north) = plane.to_plane(anchor.at);
    let stand_off = (anchor.stand_off.0 / Radius95::PER_SIGMA).powi(2);
    let variance = anchor.variance + stand_off;
    let receiver = Metres(Radius95::PER_SIGMA * anchor.variance.sqrt());
    let mut parts = vec![RadiusPart { kind: PartKind::Receiver, size: receiver }];
    if anchor.stand_off.0 > 0.0 {
        parts.push(RadiusPart { kind: PartKind::StandOff, size: anchor.stand_off });
    }
    parts.retain(|part| part.size.0 >= 0.05);
    Draft {
        kind: anchor.kind,
        circles: vec![Circle { weight: 1.0, east, north, variance }],
        bounded: 0.0,
        shared: anchor.shared,
        parts,
        when: anchor.when,
        basis: anchor.basis,
    }
}
