// A walker in the page: a receiver with a lasting and a changing error, jumps and gaps, a compass that is read
// with an error, and feet that follow the bearing and distance that the page shows, and nothing else. The
// functions run inside the page.
"use strict";

// Before the page's own program: a clock and a receiver that the walk sets.
exports.prepared = () => {
  self.walk = { now: 0, callbacks: [] };
  Date.now = () => self.walk.now * 1000;
  const receiver = {
    watchPosition: (found) => { self.walk.callbacks.push(found); return self.walk.callbacks.length; },
    clearWatch: () => {}, getCurrentPosition: () => {},
  };
  Object.defineProperty(navigator, "geolocation", { get: () => receiver, configurable: true });
};

// Walks some steps from a state and returns the new one.
exports.walked = (state) => {
  const METRES = 111195, TURN = Math.PI / 180;
  let seed = state.seed;
  const uniform = () => { seed = (seed * 1664525 + 1013904223) % 4294967296; return seed / 4294967296; };
  const normal = () => Math.sqrt(-2 * Math.log(1 - uniform() * 0.999999)) * Math.cos(2 * Math.PI * uniform());
  const wide = () => METRES * Math.cos(state.at[0] * TURN);
  const text = (id) => document.getElementById(id).textContent;
  const hidden = (id) => document.getElementById(id).hidden;
  const apart = (a, b) => Math.hypot((a[0] - b[0]) * METRES, (a[1] - b[1]) * wide());
  const inside = (ring, at) => ring.reduce((odd, a, index) => {
    const b = ring[(index + 1) % ring.length];
    const cuts = (a[1] > at[1]) !== (b[1] > at[1]) && (b[0] - a[0]) * (at[1] - a[1]) / (b[1] - a[1]) + a[0] > at[0];
    return cuts ? !odd : odd;
  }, false);
  const sigma = state.radius / 2.4477, lasting = Math.exp(-state.step / 120);
  const fix = () => {
    state.error = state.error.map((one) => one * lasting + normal() * sigma * 0.8 * Math.sqrt(1 - lasting * lasting));
    let off = state.error.map((one) => one + normal() * sigma * 0.6);
    if (uniform() < 0.01) { off = [normal() * 150, normal() * 150]; state.jumps += 1; }
    const coords = {
      latitude: state.at[0] + off[0] / METRES, longitude: state.at[1] + off[1] / wide(),
      accuracy: sigma * 1.51 * (0.8 + 0.45 * uniform()),
    };
    const before = performance.now();
    for (const call of self.walk.callbacks) call({ coords, timestamp: state.now * 1000 });
    state.answers.push(Math.round(performance.now() - before));
    const shown = /within (\d+) m/.exec(text("here"));
    if (shown) {
      state.stated += 1;
      const read = /^(-?[\d.]+) (-?[\d.]+) within/.exec(text("here"));
      if (apart(state.at, [Number(read[1]), Number(read[2])]) <= Number(shown[1])) state.held += 1;
    }
  };
  for (let count = 0; count < state.steps && !state.ended; count += 1) {
    state.now += state.step;
    self.walk.now = state.now;
    state.gap = state.gap > 0 ? state.gap - state.step : uniform() < 0.005 ? 60 + 90 * uniform() : 0;
    if (state.gap <= 0) fix();
    const there = state.goals.some((goal) => apart(state.at, goal) <= Math.max(40, Number((/within (\d+) m/.exec(text("here")) || [0, 0])[1])));
    const says = hidden("result") ? text("notice") : text("leg-title");
    if (/look for it|Look for it/.test(says)) {
      if (there) { state.ended = "reached"; break; }
      state.wrong += 1;
    }
    state.withheld = /^No bearing/.test(says) ? (state.withheld || 0) + state.step : 0;
    if (state.withheld > 600) { state.ended = "reported that no bearing is safe"; break; }
    const bearing = hidden("result") ? null : /^(\d{3})/.exec(text("leg-magnetic"));
    const far = hidden("result") ? null : /^([\d.]+) (m|km)/.exec(text("leg-distance"));
    if (bearing && far) {
      const metres = Number(far[1]) * (far[2] === "km" ? 1000 : 1);
      const length = Math.min(state.speed * state.step, Math.max(metres, 3));
      const turn = (Number(bearing[1]) + state.east + normal() * 3) * TURN;
      state.at = [state.at[0] + Math.cos(turn) * length / METRES, state.at[1] + Math.sin(turn) * length / wide()];
      state.length += length;
      if (/DO NOT|do not follow/i.test(text("verdict"))) state.refused += 1;
    } else state.standing += 1;
    if (state.closed.some((ring) => inside(ring, state.at))) { state.ended = "in a closed area"; state.says = says; }
    if (count % 8 === 0) state.trail.push(state.at.map((one) => Number(one.toFixed(6))));
    if (state.now - state.began > state.most) state.ended = "not reached in time";
  }
  state.seed = seed;
  state.last = [text("here"), hidden("result") ? text("notice") : `${text("leg-title")} ${text("leg-magnetic")} ${text("leg-distance")}`, text("notice")];
  return state;
};
