// Runs the page's own modules over cases of the library and prints the largest differences as JSON.
"use strict";
const fs = require("node:fs");
const path = require("node:path");
const { modules } = require("./modules.cjs");

const folder = process.argv[2];
const worst = {};
const note = (name, value, where) => {
  const one = worst[name] || (worst[name] = { count: 0, values: [], largest: -1 });
  one.count += 1;
  one.values.push(value);
  if (value > one.largest) Object.assign(one, { largest: value, where });
};
const turn = (a, b) => Math.abs(((a - b) % 360 + 540) % 360 - 180);
const KINDS = { direct: "direct", "known-paths": "known", "mapped-paths": "mapped", terrain: "terrain", retrace: "retrace" };
// Metres and seconds: near a goal the ways of page and library differ by the spacing of their grids, some tens of
// metres, of which a share of a shorter way says nothing.
const SHORT = 300;
const share = (got, wanted) => (got - wanted) / Math.max(wanted, SHORT);
const RANK = { "do-not-set-out": 2, tight: 1, comfortable: 0 };

const area = async ({ page, cases }) => {
  const m = modules(path.join(folder, page));
  const world = await m.load.world(m.data);
  world.own = m.data.track.map(([latitude, longitude, time, radius, gap]) => ({ at: [latitude, longitude], time, radius, gap: gap === 1 }));
  if (world.lacking) throw new Error(world.lacking);
  const clock = (instant) => m.light.clock(instant, m.data.offsets).time;
  for (const one of cases) {
    const where = `${page} ${one.from} at ${one.now}`;
    const [distance, bearing] = m.earth.leg(one.from, one.to);
    note("distance_m", Math.abs(distance - one.distance_m), where);
    note("bearing_deg", turn(bearing, one.bearing_deg), where);
    note("declination_deg", turn(m.wayout.declination(world, one.from), one.declination_deg), where);
    const plane = m.earth.plane(m.data.centre), back = plane.from(plane.to(one.from));
    note("plane_m", m.earth.short(back, one.from), where);
    note("mgrs_different", m.grid.mgrs(one.from, 10) === one.mgrs ? 0 : 1, `${where} ${m.grid.mgrs(one.from, 10)} ${one.mgrs}`);
    const utm = m.grid.toUtm(one.from), read = m.grid.fromUtm(utm);
    note("utm_m", Math.hypot(utm.easting - one.utm[1], utm.northing - one.utm[2]) + (utm.zone === one.utm[0] ? 0 : 1e6), where);
    note("utm_back_m", m.earth.short(read, one.from), where);
    const square = m.position.read(one.mgrs);
    note("mgrs_read_m", square.at ? m.earth.short(square.at, one.from) : 1e6, where);
    // the light of the page is that of the darkest place of the area: never later than at the place itself
    const day = m.light.about(m.data.light, one.now), verdict = m.light.verdict(one.now, one.walk_s, day);
    const dark = day.darkFrom(one.now), set = day.changes(one.now, 86400).find((change) => change.before === 2);
    if (dark !== null && one.dark_from !== null && Math.abs(dark - one.dark_from) < 43200) {
      note("dark_earlier_s", one.dark_from - dark, where);
      note("dark_later_s", dark - one.dark_from, where);
    }
    if (set && one.sunset !== null && Math.abs(set.at - one.sunset) < 43200) note("sunset_s", Math.abs(set.at - one.sunset), where);
    note("verdict_milder", RANK[verdict.advice] < RANK[one.advice] ? 1 : 0, `${where} walk ${one.walk_s}: ${verdict.advice}, ${one.advice}`);
    note("verdict_different", verdict.advice === one.advice ? 0 : 1, where);
    if (one.answer) answer(m, world, one, where, clock);
  }
};

const answer = (m, world, one, where, clock) => {
  const got = m.wayout.answer(world, { at: one.from, radius: one.radius_m, now: one.now, track: world.own });
  if (!got.ways) { note("answer_missing", 1, where); return; }
  note("answer_missing", 0, where);
  note("goal_different", got.goal.name === one.answer.goal ? 0 : 1, `${where} ${got.goal.name} ${one.answer.goal}`);
  const text = m.message.compose(got, clock);
  note("message_too_long", m.message.fits(text) ? 0 : 1, text);
  if (got.goal.name !== one.answer.goal) return;
  note("first_way_different", got.ways[0].kind === KINDS[one.answer.ways[0].kind] ? 0 : 1, `${where} ${got.ways.map((way) => [way.kind, way.seconds])} ${JSON.stringify(one.answer.ways)}`);
  for (const wanted of one.answer.ways) {
    const kind = KINDS[wanted.kind], way = got.ways.find((other) => other.kind === kind);
    note(`${kind}_missing`, way ? 0 : 1, where);
    if (!way) continue;
    note(`${kind}_distance_share`, Math.abs(share(way.distance, wanted.distance_m)), `${where} ${way.distance} ${wanted.distance_m}`);
    note(`${kind}_time_share`, Math.abs(share(way.seconds, wanted.careful_s)), `${where} ${way.seconds} ${wanted.careful_s}`);
    note(`${kind}_quicker_share`, -share(way.seconds, wanted.careful_s), where);
  }
};

(async () => {
  for (const one of JSON.parse(fs.readFileSync(path.join(folder, "cases.json"), "utf8"))) await area(one);
  for (const one of Object.values(worst)) {
    one.values.sort((a, b) => a - b);
    one.mean = one.values.reduce((sum, value) => sum + value, 0) / one.count;
    one.p99 = one.values[Math.floor(0.99 * (one.count - 1))];
    delete one.values;
  }
  console.log(JSON.stringify(worst, null, 1));
})().catch((error) => { console.error(error); process.exit(1); });
