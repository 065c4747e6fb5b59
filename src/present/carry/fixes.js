// Averages the positions of a receiver. A device states a radius of 68 %; 95 % is 1.62 times as much for a
// circular error. Averaging steadies the bearing, but errors of fixes a second apart are nearly the same: the
// radius is never smaller than what the receiver states. One fix alone may be far off: a position is sure after
// three that agree.
const fixes = (() => {
  const TO_95 = Math.sqrt(Math.log(0.05) / Math.log(0.32)), PER_SIGMA = Math.sqrt(-2 * Math.log(0.05));
  const LEAST = 5, GATE = 5, DOUBT = 3, PATIENCE = 4, GAP = 20, SURE = 3, ACCELERATION = 0.25, FASTEST = 3;
  // seconds: between the delays of fixes of a receiver, and the most that a fix is usually late
  const STEADY = 3, DELAY = 30;

  // A filter of position and velocity on a plane.
  const filter = (plane) => {
    let state = null, refused = 0;
    const started = (point, sigma, time) => ({
      time, at: point, speed: [0, 0], p: sigma * sigma, q: 0, v: 1, stated: [sigma], fixes: 1, agreed: 1,
    });
    // { at, radius, time, fixes, note } after another fix of { at, accuracy, time }
    const add = (fix) => {
      const radius = Math.max(fix.accuracy * TO_95, LEAST), sigma = radius / PER_SIGMA;
      const point = plane.to(fix.at);
      let note = "";
      if (!state || fix.time - state.time > GAP) {
        if (state) note = "gap";
        state = started(point, sigma, fix.time);
      } else if (fix.time > state.time) {
        const step = fix.time - state.time, noise = ACCELERATION ** 2;
        const p = state.p + 2 * step * state.q + step * step * state.v + noise * step ** 4 / 4;
        const v = Math.min(state.v + noise * step * step, 1);
        // the speed of a walker is limited; the covariance must fit the limited variance, or variances turn negative
        const q = Math.min(state.q + step * state.v + noise * step ** 3 / 2, 0.99 * Math.sqrt(p * v));
        const ahead = state.at.map((one, axis) => one + state.speed[axis] * step);
        const off = point.map((one, axis) => one - ahead[axis]), size = Math.hypot(...off);
        const usual = Math.sqrt(p + sigma * sigma), far = size > GATE * usual;
        if (far && state.agreed >= SURE && refused < PATIENCE) {
          refused += 1;
          return { ...stated(), note: "jump" };
        }
        // of two or three that do not agree, any may be the wrong one
        if (refused >= PATIENCE || (far && state.agreed < SURE)) note = "moved";
        if (note) state = started(point, sigma, fix.time);
        else {
          const gain = p / (p + sigma * sigma), turn = q / (p + sigma * sigma);
          const speed = state.speed.map((one, axis) => one + turn * off[axis]), most = Math.hypot(...speed);
          state = {
            time: fix.time, fixes: state.fixes + 1, agreed: size > DOUBT * usual ? 1 : state.agreed + 1,
            stated: [...state.stated.slice(-14), sigma],
            at: ahead.map((one, axis) => one + gain * off[axis]),
            speed: most > FASTEST ? speed.map((one) => one * FASTEST / most) : speed,
            p: (1 - gain) * p, q: (1 - gain) * q, v: v - turn * q,
          };
        }
        refused = 0;
      }
      return { ...stated(), note };
    };
    const stated = () => {
      const sorted = [...state.stated].sort((a, b) => a - b), usual = sorted[sorted.length >> 1];
      const sigma = Math.max(Math.sqrt(state.p), usual);
      return { at: plane.from(state.at), radius: Math.max(sigma * PER_SIGMA, LEAST), time: state.time, fixes: state.fixes, agreed: state.agreed, sure: state.agreed >= SURE, speed: Math.hypot(...state.speed) };
    };
    return { add };
  };

  // The radius of a fix that is some seconds old: after two minutes 0.3 m more for each second, as at the desk.
  const aged = (radius, age) => Math.hypot(radius, Math.max(age - 120, 0) * 0.3);

  // The clock of the page: that of the telephone, unless fixes keep stating another time. Fixes that were held back
  // while the page slept come all at once, each with another delay, and change nothing. `read` gives the seconds of
  // the telephone.
  const clock = (read) => {
    let off = 0, seen = [];
    const observed = (time) => {
      const at = read();
      seen = [...seen.slice(1 - SURE), { at, off: time - at }];
      const offs = seen.map((one) => one.off).sort((a, b) => a - b);
      if (seen.length < SURE || offs[SURE - 1] - offs[0] > STEADY || at - seen[0].at < 1) return;
      off = Math.abs(offs[1]) > DELAY ? offs[1] : 0;
    };
    return { now: () => read() + off, observed, off: () => off };
  };

  return { filter, aged, clock, TO_95, SURE };
})();
