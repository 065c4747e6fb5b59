//! Combines the estimates from the fixes before a time and from those after it: two distributions of one
//! state, with the prior of velocity and receiver error, which both contain, removed once. Layer: `join`.
//!
//! # References
//! Fraser & Potter 1969, The optimum linear smoother as a combination of two optimum linear filters,
//! IEEE Transactions on Automatic Control 14:387-390 (from memory).

use super::super::kalman::{Belief, Receiver, Sym3};
use super::circle::Circle;

/// The combined position and the log likelihood of the agreement of both sides. The belief from
/// after the time looks backward: its velocity has the other sign.
pub(super) fn meet(
    before: &Belief,
    after: &Belief,
    speed: f64,
    receiver: &Receiver,
) -> (f64, Circle) {
    let (left, log_left) = inverse(&before.cov);
    let (mut right, log_right) = inverse(&after.cov);
    right.xv = -right.xv;
    right.ve = -right.ve;
    let mirrored = |s: [f64; 3]| [s[0], -s[1], s[2]];
    let prior_v = 1.0 / (speed * speed);
    let prior_e = 1.0 / (receiver.sigma * receiver.sigma);
    let both = Sym3 {
        xx: left.xx + right.xx,
        xv: left.xv + right.xv,
        xe: left.xe + right.xe,
        vv: left.vv + right.vv - prior_v,
        ve: left.ve + right.ve,
        ee: left.ee + right.ee - prior_e,
    };
    let (cov, log_both) = inverse(&both);
    let mut log = -(log_left + log_right) - log_both - prior_v.ln() - prior_e.ln();
    let mut axis = |a: [f64; 3], b: [f64; 3]| {
        let b = mirrored(b);
        let (ha, hb) = (left.times(a), right.times(b));
        let h = [ha[0] + hb[0], ha[1] + hb[1], ha[2] + hb[2]];
        let mean = cov.times(h);
        log -= 0.5 * (dot(a, ha) + dot(b, hb) - dot(mean, h));
        mean[0]
    };
    let east = axis(before.east, after.east);
    let north = axis(before.north, after.north);
    (log, Circle { weight: 1.0, east, north, variance: cov.xx })
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// The inverse and the log of the determinant.
fn inverse(m: &Sym3) -> (Sym3, f64) {
    let xx = m.vv * m.ee - m.ve * m.ve;
    let xv = m.xe * m.ve - m.xv * m.ee;
    let xe = m.xv * m.ve - m.xe * m.vv;
    let determinant = (m.xx * xx + m.xv * xv + m.xe * xe).max(1e-300);
    let inverse = Sym3 {
        xx: xx / determinant,
        xv: xv / determinant,
        xe: xe / determinant,
        vv: (m.xx * m.ee - m.xe * m.xe) / determinant,
        ve: (m.xe * m.xv - m.xx * m.ve) / determinant,
        ee: (m.xx * m.vv - m.xv * m.xv) / determinant,
    };
    (inverse, determinant.ln())
}
