//! Implements one step of the Kalman filter over position, velocity and receiver error. The two axes have
//! equal and independent statistics, so they share one covariance. Layer: `join`.
//!
//! The state of an axis is (position, velocity, receiver error); a fix shows position plus error
//! plus a little white noise. Velocity and error are Ornstein-Uhlenbeck processes.

/// Movement model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Motion {
    /// Standard deviation of the velocity per axis, metres a second.
    pub(crate) speed: f64,
    /// How long a velocity lasts, seconds.
    pub(crate) persistence: f64,
    /// Wandering without a heading, metres per root second and axis.
    pub(crate) sway: f64,
}

/// Receiver error model.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Receiver {
    /// Standard deviation of the lasting error per axis, metres.
    pub(crate) sigma: f64,
    /// Its correlation time, seconds.
    pub(crate) tau: f64,
    /// Standard deviation of the error that is new at each fix, metres.
    pub(crate) white: f64,
}

/// A symmetric 3 x 3 matrix: the upper triangle, row by row.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Sym3 {
    pub(crate) xx: f64,
    pub(crate) xv: f64,
    pub(crate) xe: f64,
    pub(crate) vv: f64,
    pub(crate) ve: f64,
    pub(crate) ee: f64,
}

impl Sym3 {
    /// The product with a vector.
    pub(crate) fn times(&self, u: [f64; 3]) -> [f64; 3] {
        [
            self.xx * u[0] + self.xv * u[1] + self.xe * u[2],
            self.xv * u[0] + self.vv * u[1] + self.ve * u[2],
            self.xe * u[0] + self.ve * u[1] + self.ee * u[2],
        ]
    }
}

/// The state estimate at one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Belief {
    /// Position, velocity and error eastward.
    pub(crate) east: [f64; 3],
    /// The same northward.
    pub(crate) north: [f64; 3],
    /// Covariance of each axis.
    pub(crate) cov: Sym3,
}

/// The transition over one interval: what multiplies the state and what is added to its covariance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Transition {
    /// Metres travelled per metre a second of velocity at the start.
    pub(crate) reach: f64,
    /// What remains of a velocity.
    pub(crate) keep_velocity: f64,
    /// What remains of an error.
    pub(crate) keep_error: f64,
    /// Added covariance.
    pub(crate) noise: Sym3,
}

/// The innovation of a fix.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Innovation {
    /// Eastward innovation, metres.
    pub(crate) east: f64,
    /// Northward innovation, metres.
    pub(crate) north: f64,
    /// The expected variance of either.
    pub(crate) variance: f64,
}

impl Innovation {
    /// The square of the surprise in units of its expected variance: chi-square with two degrees of
    /// freedom where all is well.
    pub(crate) fn chi_square(&self) -> f64 {
        (self.east * self.east + self.north * self.north) / self.variance
    }

    /// The log density of the fix, both axes, without the constant.
    pub(crate) fn log_density(&self) -> f64 {
        -self.variance.ln() - 0.5 * self.chi_square()
    }
}

impl Transition {
    /// Over `dt` seconds. The integrals of the Ornstein-Uhlenbeck velocity are exact.
    ///
    /// # References
    /// Johnson et al. 2008, Continuous-time correlated random walk model for animal telemetry data,
    /// Ecology 89:1208-1215, appendix A (doi 10.1890/07-1032.1): the same integrals.
    pub(crate) fn over(dt: f64, motion: &Motion, receiver: &Receiver) -> Self {
        let tau = motion.persistence;
        let keep_velocity = (-dt / tau).exp();
        let keep_error = (-dt / receiver.tau).exp();
        let lost = 1.0 - keep_velocity;
        let speed2 = motion.speed * motion.speed;
        // the series where the closed form would cancel
        let ratio = dt / tau;
        let path = if ratio < 1e-2 {
            2.0 / 3.0 * ratio.powi(3) * (1.0 - 0.75 * ratio)
        } else {
            2.0 * ratio - 2.0 * lost - lost * lost
        };
        Self {
            reach: tau * lost,
            keep_velocity,
            keep_error,
            noise: Sym3 {
                xx: speed2 * tau * tau * path + motion.sway * motion.sway * dt,
                xv: speed2 * tau * lost * lost,
                vv: speed2 * (1.0 - keep_velocity * keep_velocity),
                ee: receiver.sigma * receiver.sigma * (1.0 - keep_error * keep_error),
                ..Sym3::default()
            },
        }
    }
}

impl Belief {
    /// The prior around a first fix: the position within `spread` metres.
    pub(crate) fn first(at: (f64, f64), spread: f64, motion: &Motion, receiver: &Receiver) -> Self {
        Self {
            east: [at.0, 0.0, 0.0],
            north: [at.1, 0.0, 0.0],
            cov: Sym3 {
                xx: spread * spread,
                vv: motion.speed * motion.speed,
                ee: receiver.sigma * receiver.sigma,
                ..Sym3::default()
            },
        }
    }

    /// After the interval, before the next fix.
    pub(crate) fn predicted(&self, step: &Transition) -> Self {
        let carry = |s: [f64; 3]| {
            [s[0] + step.reach * s[1], step.keep_velocity * s[1], step.keep_error * s[2]]
        };
        let (p, g, a, b) = (&self.cov, step.reach, step.keep_velocity, step.keep_error);
        let moved = p.xv + g * p.vv;
        Self {
            east: carry(self.east),
            north: carry(self.north),
            cov: Sym3 {
                xx: p.xx + g * (p.xv + moved) + step.noise.xx,
                xv: a * moved + step.noise.xv,
                xe: b * (p.xe + g * p.ve),
                vv: a * a * p.vv + step.noise.vv,
                ve: a * b * p.ve,
                ee: b * b * p.ee + step.noise.ee,
            },
        }
    }

    /// The gain vector before division: covariance of the state with what a fix shows.
    pub(crate) fn shown(&self) -> [f64; 3] {
        let p = &self.cov;
        [p.xx + p.xe, p.xv + p.ve, p.xe + p.ee]
    }

    /// The innovation of a fix with this white variance.
    pub(crate) fn innovation(&self, at: (f64, f64), white2: f64) -> Innovation {
        let p = &self.cov;
        Innovation {
            east: at.0 - self.east[0] - self.east[2],
            north: at.1 - self.north[0] - self.north[2],
            variance: p.xx + 2.0 * p.xe + p.ee + white2,
        }
    }

    /// After a fix.
    pub(crate) fn updated(&self, seen: &Innovation) -> Self {
        let h = self.shown();
        let gain = h.map(|part| part / seen.variance);
        let learn =
            |s: [f64; 3], nu: f64| [s[0] + gain[0] * nu, s[1] + gain[1] * nu, s[2] + gain[2] * nu];
        let p = &self.cov;
        Self {
            east: learn(self.east, seen.east),
            north: learn(self.north, seen.north),
            cov: Sym3 {
                xx: p.xx - gain[0] * h[0],
                xv: p.xv - gain[0] * h[1],
                xe: p.xe - gain[0] * h[2],
                vv: p.vv - gain[1] * h[1],
                ve: p.ve - gain[1] * h[2],
                ee: p.ee - gain[2] * h[2],
            },
        }
    }
}
