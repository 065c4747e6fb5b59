//! Defines the conditions of simulated days.

/// One condition.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Condition {
    pub(crate) name: &'static str,
    /// Seconds between fixes.
    pub(crate) interval: f64,
    /// Error per axis, metres; it lasts 90 to 150 s, another time each day.
    pub(crate) sigma: f64,
    /// Which kind of receiver.
    pub(crate) receiver: Kind,
    /// Jumps in a day.
    pub(crate) jumps: u32,
    /// Gaps of some minutes in a day.
    pub(crate) gaps: u32,
    /// How far the camera is ahead of the local time, seconds.
    pub(crate) ahead: f64,
    /// Whether its photographs carry the offset of the local zone.
    pub(crate) tag: bool,
    /// Whether the notebook has times to the minute.
    pub(crate) notes: bool,
    /// How many stops with finds.
    pub(crate) finds: u32,
    pub(crate) latitude: f64,
    pub(crate) longitude: f64,
}

/// Kinds of receivers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Kind {
    /// One correlated error, as the estimator supposes.
    Plain,
    /// Two correlated errors whose size and memory change with the canopy, heavy tails, bursts.
    Changing,
    /// The same, and the device smooths its output.
    Smoothing,
    /// One correlated error, and the device holds its position while its owner stands.
    Holding,
    /// The error jumps within a second or two and then stays until the next jump; as large and as
    /// lasting in the mean as the plain one.
    Kicks,
    /// One correlated error, and heavy-tailed scatter at every fix.
    HeavyTails,
    /// One correlated error whose steps are mostly small and occasionally very large.
    HeavySteps,
    /// One error that lasts some minutes and one that lasts half a minute.
    TwoScales,
    /// One correlated error whose size wanders from quarter hour to quarter hour.
    Volatile,
}

pub(crate) const BASE: Condition = Condition {
    name: "",
    interval: 5.0,
    sigma: 7.0,
    receiver: Kind::Plain,
    jumps: 4,
    gaps: 1,
    ahead: 0.0,
    tag: false,
    notes: true,
    finds: 20,
    latitude: -42.0,
    longitude: 146.3,
};

/// All that the report tells of.
pub(crate) const ALL: &[Condition] = &[
    Condition { name: "1 s, 4 m", interval: 1.0, sigma: 4.0, ahead: 37.0, ..BASE },
    Condition { name: "1 s, 7 m", interval: 1.0, ahead: 3_720.0, notes: false, ..BASE },
    Condition { name: "1 s, 10 m", interval: 1.0, sigma: 10.0, ahead: -95.0, tag: true, ..BASE },
    Condition {
        name: "5 s, 4 m, 60 N",
        sigma: 4.0,
        ahead: -3_541.0,
        notes: false,
        latitude: 60.2,
        longitude: 24.9,
        ..BASE
    },
    Condition { name: "5 s, 7 m, 180 E", ahead: 14.0, latitude: -16.7, longitude: 179.999, ..BASE },
    Condition { name: "5 s, 10 m", sigma: 10.0, ahead: 7_262.0, tag: true, notes: false, ..BASE },
    Condition { name: "10 s, 6 m", interval: 10.0, sigma: 6.0, ahead: -12.0, ..BASE },
    Condition {
        name: "10 s, 8 m, jumps",
        interval: 10.0,
        sigma: 8.0,
        jumps: 15,
        ahead: 130.0,
        notes: false,
        ..BASE
    },
    Condition { name: "60 s, 5 m", interval: 60.0, sigma: 5.0, ahead: 64.0, ..BASE },
    Condition {
        name: "60 s, 8 m",
        interval: 60.0,
        sigma: 8.0,
        ahead: 3_600.0,
        notes: false,
        ..BASE
    },
    Condition {
        name: "1 s, changing",
        interval: 1.0,
        sigma: 6.0,
        receiver: Kind::Changing,
        ahead: -7_300.0,
        notes: false,
        ..BASE
    },
    Condition {
        name: "5 s, changing, gaps",
        sigma: 8.0,
        receiver: Kind::Changing,
        gaps: 4,
        jumps: 10,
        ahead: 45.0,
        ..BASE
    },
    Condition {
        name: "1 s, smoothing",
        interval: 1.0,
        sigma: 7.0,
        receiver: Kind::Smoothing,
        ahead: 3_655.0,
        notes: false,
        ..BASE
    },
    Condition {
        name: "1 s, holding",
        interval: 1.0,
        sigma: 6.0,
        receiver: Kind::Holding,
        ahead: 72.0,
        ..BASE
    },
    Condition {
        name: "10 s, smoothing",
        interval: 10.0,
        sigma: 7.0,
        receiver: Kind::Smoothing,
        ahead: 25.0,
        ..BASE
    },
    Condition {
        name: "1 s, kicks",
        interval: 1.0,
        sigma: 6.0,
        receiver: Kind::Kicks,
        ahead: 64.0,
        ..BASE
    },
    Condition { name: "5 s, kicks", sigma: 8.0, receiver: Kind::Kicks, ahead: -31.0, ..BASE },
    Condition {
        name: "1 s, heavy tails",
        interval: 1.0,
        sigma: 6.0,
        receiver: Kind::HeavyTails,
        ahead: 3_590.0,
        ..BASE
    },
    Condition {
        name: "10 s, two scales",
        interval: 10.0,
        receiver: Kind::TwoScales,
        ahead: 21.0,
        ..BASE
    },
    Condition {
        name: "5 s, volatile",
        sigma: 6.0,
        receiver: Kind::Volatile,
        gaps: 3,
        ahead: 7.0,
        ..BASE
    },
    Condition { name: "5 s, heavy steps", receiver: Kind::HeavySteps, ahead: 18.0, ..BASE },
];
