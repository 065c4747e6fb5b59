// Walks back by the page's modules without a browser, many in a second: `modelled.cjs FOLDER OPTIONS.json`. The
// walker and the receiver are those of walker.cjs; the figures are rounded as the page shows them. Prints the
// number of walks, how each kind ended, what straight lines would meet, and the walks that did not reach a safe place.
// With `pinched` they begin where closed land lies within so many metres on two opposite sides.
"use strict";
const fs = require("node:fs");
const path = require("node:path");
const { modules } = require("./modules.cjs");

const [folder, options] = process.argv.slice(2);
const { count, seed, closed: rings, goals, start, east, now: began, most, pinched = 0 } = JSON.parse(fs.readFileSync(options, "utf8"));
const m = modules(path.join(folder, "index.html"));
const WITHHELD = { narrow: "reported that no bearing is safe", barred: "reported that no way is known", stalled: "reported that the bearings lead nowhere" };
const METRES = 111195, TURN = Math.PI / 180, STEP = 5;

const inside = (ring, at) => ring.reduce((odd, a, index) => {
  const b = ring[(index + 1) % ring.length];
  return (a[1] > at[1]) !== (b[1] > at[1]) && (b[0] - a[0]) * (at[1] - a[1]) / (b[1] - a[1]) + a[0] > at[0] ? !odd : odd;
}, false);
// mulberry32
const generator = (state) => () => {
  state = (state + 0x6d2b79f5) | 0;
  let mixed = Math.imul(state ^ (state >>> 15), 1 | state);
  mixed = (mixed + Math.imul(mixed ^ (mixed >>> 7), 61 | mixed)) ^ mixed;
  return ((mixed ^ (mixed >>> 14)) >>> 0) / 4294967296;
};
const rounded = (length, radius) => { const step = 10 ** Math.floor(Math.log10(Math.max(radius, 1))); return Math.round(length / step) * step; };

// The page without its screen: the filter, the way, the next leg.
const page = (world) => {
  const filter = m.fixes.filter(world.plane), state = m.lead.begin(world);
  const update = (now, fresh) => ({ ...m.lead.update(state, { now, fresh, track: () => [], only: null }), place: state.fixed.at });
  return {
    fix: (one, now) => { m.lead.place(state, { ...filter.add(one), live: true }); return update(now, true); },
    tick: (now) => (state.fixed ? update(now, false) : null),
  };
};

// Whether closed land lies on two opposite sides within so many metres.
const between = (world, at, off) => {
  const from = world.plane.to(at), end = (turn, side) => [from[0] + side * off * Math.sin(turn), from[1] + side * off * Math.cos(turn)];
  return [0, 1, 2, 3].some((turn) => [1, -1].every((side) => m.closed.crosses(world.closed, from, end(turn * Math.PI / 4, side))));
};

const walk = (world, number) => {
  const uniform = generator(seed * 100003 + number), any = (low, high) => low + (high - low) * uniform();
  const normal = () => Math.sqrt(-2 * Math.log(1 - uniform())) * Math.cos(2 * Math.PI * uniform());
  let at;
  do at = [any(start[0], start[2]), any(start[1], start[3])]; while (rings.some((ring) => inside(ring, at)) || (pinched && !between(world, at, pinched)));
  const from = at, radius = any(pinched ? 12 : 5, 30), sigma = radius / 2.4477, lasting = Math.exp(-STEP / 120), shown = page(world);
  const wide = () => METRES * Math.cos(at[0] * TURN);
  const apart = (a, b) => Math.hypot((a[0] - b[0]) * METRES, (a[1] - b[1]) * wide());
  let error = [0, 0], gap = 0, withheld = 0, now = began, length = 0, seen = null;
  const trail = [];
  for (;;) {
    now += STEP;
    gap = gap > 0 ? gap - STEP : uniform() < 0.005 ? any(60, 150) : 0;
    if (gap <= 0) {
      error = error.map((one) => one * lasting + normal() * sigma * 0.8 * Math.sqrt(1 - lasting * lasting));
      let off = error.map((one) => one + normal() * sigma * 0.6);
      if (uniform() < 0.01) off = [normal() * 150, normal() * 150];
      const accuracy = sigma * 1.51 * any(0.8, 1.25);
      seen = shown.fix({ at: [at[0] + off[0] / METRES, at[1] + off[1] / wide()], accuracy, time: now }, now);
    } else seen = shown.tick(now);
    if (seen && (seen.says === "within" || (seen.says === "leg" && seen.leg.state === "there")) && goals.some((goal) => apart(at, goal) <= Math.max(40, seen.radius))) return { ended: "reached", from, length, seconds: now - began, radius };
    withheld = seen && WITHHELD[seen.says] ? withheld + STEP : 0;
    if (withheld > 600) return { ended: WITHHELD[seen.says], from, at, length, seconds: now - began, radius, number };
    if (seen && seen.says === "leg" && seen.leg.range < 180) {
      const metres = Math.max(rounded(seen.leg.distance, seen.radius), 3), walked = Math.min(STEP, metres);
      const turn = (Math.round(seen.leg.magnetic) + east + normal() * 3) * TURN;
      at = [at[0] + Math.cos(turn) * walked / METRES, at[1] + Math.sin(turn) * walked / wide()];
      length += walked;
    }
    trail.push([...at.map((one) => Number(one.toFixed(6))), seen && seen.leg ? [seen.leg.state, Math.round(seen.leg.distance), Math.round(seen.leg.bearing), seen.place, Math.round(seen.radius)] : null]);
    if (rings.some((ring) => inside(ring, at))) return { ended: "in a closed area", from, at, length, seconds: now - began, radius, number, trail: trail.slice(-40) };
    if (now - began > most) return { ended: "not reached in time", from, at, length, seconds: now - began, radius, number, trail: trail.slice(-40) };
  }
};

(async () => {
  const world = await m.load.world(m.data), ends = {}, bad = [];
  // of the walks that arrive, by whether a closed area bars the straight line: their number, seconds, straight metres
  const arrived = { free: [0, 0, 0], barred: [0, 0, 0] };
  let baseline = 0;
  for (let number = 0; number < count; number += 1) {
    const one = walk(world, number), begin = world.plane.to(one.from);
    const near = goals.map((goal) => world.plane.to(goal)).sort((a, b) => Math.hypot(a[0] - begin[0], a[1] - begin[1]) - Math.hypot(b[0] - begin[0], b[1] - begin[1]))[0];
    const barred = m.closed.crosses(world.closed, begin, near);
    if (barred) baseline += 1;
    ends[one.ended] = (ends[one.ended] || 0) + 1;
    if (one.ended !== "reached") bad.push(one);
    else [1, one.seconds, Math.hypot(near[0] - begin[0], near[1] - begin[1])].forEach((value, part) => { arrived[barred ? "barred" : "free"][part] += value; });
  }
  process.stdout.write(JSON.stringify({ walks: count, ends, baseline, arrived, bad }));
})().catch((error) => { console.error(error); process.exit(1); });
