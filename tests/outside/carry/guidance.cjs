// How the page leads in places made for it: `guidance.cjs PAGE.html`, a page with elevations. An inlet between closed
// areas, one edge, a way around a gap, mapped paths, a strip narrower than the radius, walking to and fro, a wrong clock, the last steps across ground.
"use strict";
const assert = require("node:assert");
const { modules } = require("./modules.cjs");

const m = modules(process.argv[2]), MIDDLE = m.data.centre, plane = m.earth.plane(MIDDLE);
const areas = (rings) => rings.map((ring) => [ring.map((point) => plane.from(point))]);
// A world without paths and ground: closed rings and one safe place, in metres east and north of the middle.
const world = (rings, goal) => ({
  data: { ...m.data, safe: [{ name: "Gate", at: plane.from(goal) }] }, plane, closed: m.closed.prepared(areas(rings), plane), allowed: null,
  net: null, base: [], land: null, height: null, fields: new Map(), often: [], lacking: "",
});
const NOW = m.data.light.find(([light]) => light === 2)[1] + 3600;
const fixed = (point, radius, time, more) => ({ at: plane.from(point), radius, time, live: true, sure: true, agreed: 3, fixes: 9, note: "", speed: 1, ...more });
const asked = (now) => ({ now, fresh: true, track: () => [], only: null });
const led = (where, point, radius) => {
  const state = m.lead.begin(where);
  m.lead.place(state, fixed(point, radius, NOW));
  return m.lead.update(state, asked(NOW));
};
const towards = (leg, [east, north]) => Math.cos((leg.bearing - Math.atan2(east, north) * 180 / Math.PI) * Math.PI / 180);

const inlet = (half) => [[[-200, -50], [-half, -50], [-half, 150], [-200, 150]], [[half, -50], [200, -50], [200, 150], [half, 150]], [[-200, -120], [200, -120], [200, -50], [-200, -50]]];

const narrow = () => {
  const tight = world(inlet(15), [0, 800]), wide = world(inlet(70), [0, 800]);
  assert.strictEqual(led(tight, [0, 20], 30).says, "narrow", "30 m between walls 30 m apart");
  for (const [where, radius] of [[tight, 5], [wide, 30]]) {
    const seen = led(where, [0, 20], radius);
    assert.ok(seen.says === "leg" && towards(seen.leg, [0, 1]) > 0.9, `${radius} m: ${seen.says}`);
  }
  // withheld until the position is better or elsewhere, not because it wavers
  const state = m.lead.begin(tight);
  for (let step = 0; step < 12; step += 1) {
    m.lead.place(state, fixed([step % 2 ? 0 : 4, 20], 30, NOW + 5 * step));
    assert.strictEqual(m.lead.update(state, asked(NOW + 5 * step)).says, "narrow");
  }
  m.lead.place(state, fixed([0, 300], 30, NOW + 60));
  assert.strictEqual(m.lead.update(state, asked(NOW + 60)).says, "leg");
};

const edges = () => {
  const wall = [[[-500, -200], [500, -200], [500, 0], [-500, 0]]];
  for (const off of [4, 12, 25]) {
    const seen = led(world(wall, [300, 60]), [0, off], 30);
    assert.ok(seen.says === "leg" && towards(seen.leg, [0, -1]) < 0.05, `${off} m from an edge: ${seen.says}`);
  }
  // the safe place lies on the other side of a strip, or the walker already does
  const strip = [[[-900, 0], [900, 0], [900, 25], [-900, 25]]];
  assert.strictEqual(led(world(strip, [0, 300]), [0, 12], 30).says, "narrow");
};

// Before a gap that the position is too uncertain for, another way is taken: the known path leads through the gap, open
// ground on this side to another safe place.
const roundabout = () => {
  const banks = [[[-900, 0], [-20, 0], [-20, 25], [-900, 25]], [[20, 0], [900, 0], [900, 25], [20, 25]]];
  const where = world(banks, [0, 300]);
  where.data.safe.push({ name: "South", at: plane.from([-900, -400]) });
  where.allowed = (from, to) => !m.closed.crosses(where.closed, plane.to(from), plane.to(to));
  const path = Array.from({ length: 45 }, (_, step) => ({ at: plane.from([0, -140 + 10 * step]), radius: 8, gap: false }));
  where.net = m.paths.joined(m.paths.ofTrack(path), where.allowed);
  // steps of five seconds by what is shown, with positions that are right and of so many metres
  const walked = (radius) => {
    const state = m.lead.begin(where), ends = [];
    let point = [0, -60], seen = null;
    for (let step = 0; step < 900 && !(seen && (seen.says === "within" || (seen.leg && seen.leg.state === "there"))); step += 1) {
      const now = NOW + 5 * step;
      m.lead.place(state, fixed(point, radius, now));
      seen = m.lead.update(state, asked(now));
      ends.push(state.led && state.led.way.goal);
      const turn = seen.says === "leg" ? seen.leg.bearing * Math.PI / 180 : null;
      if (turn !== null) point = [point[0] + 5 * Math.sin(turn), point[1] + 5 * Math.cos(turn)];
      assert.ok(!where.closed.some((area) => m.closed.inside(area, point)), `in a closed area at ${point}`);
    }
    return { point, ends, seen };
  };
  const good = walked(6), poor = walked(30);
  assert.ok(good.point[1] > 250 && good.ends.every((goal) => goal === 0), `a good position leads through the gap: ${good.point}`);
  assert.ok(poor.point[1] < -300 && poor.ends.at(-1) === 1, `a poor one leads to the other place: ${poor.point} ${poor.seen.says}`);
};

// Paths of base maps are offered where a way needs them, and refused across closed land.
const mappedPaths = () => {
  const line = (corners) => {
    const net = m.paths.ofTrack(corners.map((point) => ({ at: plane.from(point), radius: 5, gap: false })));
    return { ...net, passes: net.passes.map(() => 0) };
  };
  const spaced = (from, to) => Array.from({ length: 101 }, (_, step) => from.map((one, axis) => one + (to[axis] - one) * step / 100));
  const ways = (rings) => {
    const where = world(rings, [0, 1000]);
    where.allowed = rings.length ? (from, to) => !m.closed.crosses(where.closed, plane.to(from), plane.to(to)) : null;
    where.mapped = m.paths.joined(line(spaced([30, -200], [30, 1010])), where.allowed);
    return m.wayout.answer(where, { at: plane.from([0, 0]), radius: 8, now: NOW, track: null, only: null });
  };
  const open = ways([]), way = open.ways.find((one) => one.kind === "mapped");
  assert.ok(way && way.mapped > 900 && way.mapped < 1100 && open.ways[0] === way, `${way && way.mapped} m`);
  const shut = ways([[[-600, 400], [600, 400], [600, 450], [-600, 450]]]);
  assert.ok(!shut.ways.some((one) => one.kind === "mapped") && shut.missing.some((one) => one.kind === "mapped"), "across closed land");
};

const barred = () => {
  const wall = [[[-900, 100], [900, 100], [900, 140], [-900, 140]]], state = m.lead.begin(world(wall, [0, 600]));
  m.lead.place(state, fixed([0, -200], 10, NOW));
  assert.strictEqual(m.lead.update(state, asked(NOW)).says, "barred", "only the straight line, across a closed strip");
  const [way] = state.answer.ways;
  state.chosen = way.kind;
  m.lead.afresh(state);
  assert.strictEqual(m.lead.update(state, asked(NOW)).says, "leg", "chosen by hand");
};

const toAndFro = () => {
  const state = m.lead.begin(world([], [0, 2000]));
  const says = [];
  for (let step = 0; step < 320; step += 1) {
    const now = NOW + 5 * step;
    m.lead.place(state, fixed([20 * Math.sin(step / 4), 0], 10, now));
    says.push(m.lead.update(state, asked(now)).says);
  }
  assert.ok(says.slice(0, 230).every((one) => one === "leg") && says[319] === "stalled", says[319]);
  // elsewhere, and after a choice, bearings are given again
  m.lead.place(state, fixed([200, 0], 10, NOW + 1600));
  assert.strictEqual(m.lead.update(state, asked(NOW + 1600)).says, "leg");
  m.lead.place(state, fixed([0, 0], 10, NOW + 1600));
  m.lead.afresh(state);
  assert.strictEqual(m.lead.update(state, asked(NOW + 1600)).says, "leg");
};

const clocks = () => {
  let telephone = 1000;
  const observed = (offs, step) => {
    const clock = m.fixes.clock(() => telephone);
    for (const off of offs) { clock.observed(telephone + off); telephone += step; }
    return clock.off();
  };
  assert.strictEqual(observed([-3, -4, -3], 1), 0, "fixes some seconds late");
  assert.ok(Math.abs(observed([720, 719, 720], 1) - 720) < 2, "a clock 12 minutes behind");
  assert.ok(Math.abs(observed([-3600, -3601, -3600], 1) + 3600) < 2, "a clock an hour ahead");
  assert.strictEqual(observed([-900, -600, -300], 0), 0, "fixes that were held back while the page slept");
  assert.strictEqual(observed([720, 720], 1), 0, "two fixes");
};

// A way across ground is hardly longer than the straight line where nothing lies between, however near its end is.
const lastSteps = async () => {
  const real = await m.load.world(m.data), goal = real.data.safe[0].at, at = real.plane.to(goal);
  for (const off of [4, 9, 16, 25, 40, 70]) for (let turn = 0; turn < 12; turn += 1) {
    const angle = turn * Math.PI / 6, from = real.plane.from([at[0] + off * Math.sin(angle), at[1] + off * Math.cos(angle)]);
    const found = m.wayout.answer(real, { at: from, radius: 1, now: NOW, track: null, only: 0 });
    const way = found.ways.find((one) => one.kind === "terrain");
    assert.ok(way && way.distance < 1.2 * off + 2, `${off} m away the way has ${way && way.distance} m`);
  }
};

(async () => {
  narrow();
  edges();
  roundabout();
  mappedPaths();
  barred();
  toAndFro();
  clocks();
  await lastSteps();
})().catch((error) => { console.error(error); process.exit(1); });
